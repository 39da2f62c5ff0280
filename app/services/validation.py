"""Turning what a face received into the engine's input, every fault said in one plain sentence."""

from __future__ import annotations

from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from app.engine.errors import FieldFault, InputError
from app.engine.measures import FieldError
from app.engine.understood import nearest

Model = TypeVar("Model", bound=BaseModel)


def validated(model: type[Model], payload: Any) -> Model:
    """The payload as a model.

    Raises
    ------
    InputError
        With one fault for each field that cannot be used.
    """
    if not isinstance(payload, dict):
        raise InputError([FieldFault("", "the input must be a JSON object")])
    try:
        return model.model_validate(payload)
    except ValidationError as error:
        raise InputError(_faults(error, model)) from error


def _faults(error: ValidationError, model: type[BaseModel]) -> list[FieldFault]:
    found: dict[str, FieldFault] = {}
    for item in error.errors(include_url=False):
        cause = item.get("ctx", {}).get("error")
        inner = cause.field.split(".") if isinstance(cause, FieldError) else []
        path = ".".join(str(part) for part in (*item["loc"], *inner) if not _is_branch(part))
        fault = FieldFault(path, _sentence(item, model))
        found.setdefault(fault.path, fault)
    # A list or union that failed because of something inside it is no fault of its own.
    inside = tuple(fault.path for fault in found.values())
    return [f for f in found.values() if not any(path.startswith(f"{f.path}.") for path in inside if f.path)]


def _is_branch(part: Any) -> bool:
    """Names that pydantic gives to the branches of a union are no part of the path."""
    return isinstance(part, str) and (part.startswith(("literal[", "tuple[", "function-")) or part == "is-instance")


def _sentence(item: Any, model: type[BaseModel]) -> str:
    kind, context = item["type"], item.get("ctx", {})
    if kind == "extra_forbidden":
        key = str(item["loc"][-1])
        known = _known_keys(model, item["loc"][:-1])
        near = f"; nearest: {', '.join(nearest(key, known))}" if known else ""
        return f"is not a known key{near}"
    if kind == "string_pattern_mismatch":
        return f"{_shown(item['input'])} is not an id; ids are lower-case words joined by hyphens"
    if kind == "missing":
        return "is required"
    if kind == "value_error":
        return str(item["msg"]).removeprefix("Value error, ")
    if kind == "literal_error":
        return f"{_shown(item['input'])} is not one of {context['expected']}"
    if kind == "too_short":
        return f"must name at least {context['min_length']}"
    if kind == "too_long":
        return f"must name at most {context['max_length']}"
    if kind in ("greater_than", "greater_than_equal", "less_than", "less_than_equal"):
        return f"{_shown(item['input'])} is out of range; {str(item['msg']).replace('Input should', 'it must')}"
    return f"{str(item['msg']).replace('Input should', 'must')}, not {_shown(item['input'])}"


def _shown(value: Any) -> str:
    text = repr(value)
    return text if len(text) <= 40 else f"{text[:37]}..."


def _known_keys(model: type[BaseModel], path: tuple[Any, ...]) -> list[str]:
    """Keys of the model at a path inside another; empty where it cannot be told."""
    current: Any = model
    for part in path:
        if isinstance(part, int) or _is_branch(part):
            continue
        fields = getattr(current, "model_fields", {})
        if part not in fields:
            return []
        current = _model_in(fields[part].annotation)
    return sorted(field.alias or name for name, field in getattr(current, "model_fields", {}).items())


def _model_in(annotation: Any) -> Any:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    for part in getattr(annotation, "__args__", ()):
        found = _model_in(part)
        if found is not None:
            return found
    return None


def version_told(text: str | None, what: str) -> int:
    """The version of a thing that an address names.

    Raises
    ------
    InputError
        When it is missing or no number.
    """
    if text is None or not (text.isascii() and text.isdecimal()) or len(text) > 9:
        raise InputError([FieldFault("version", f"is required: the version at which you saw the {what}")])
    return int(text)
