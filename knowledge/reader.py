"""Strict reading of the fact files: YAML 1.2 scalars, no duplicate keys, every fault reported.

Plain YAML loaders keep the last of two equal keys in silence and turn ``no`` into false. This
one reports both, with the file, the line and how to mend it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

import yaml

_Base: type[Any] = getattr(yaml, "CSafeLoader", yaml.SafeLoader)

_AMBIGUOUS = re.compile(r"^(?:yes|no|on|off|y|n)$", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Problem:
    """One fault in the facts: where it is, what is wrong and how to mend it."""

    file: str
    path: str
    message: str

    def __str__(self) -> str:
        place = f"{self.file}: {self.path}" if self.path else self.file
        return f"{place}: {self.message}"


class KnowledgeError(Exception):
    """The facts cannot be used; `problems` lists every fault found."""

    def __init__(self, problems: list[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in problems))


class _StrictLoader(_Base):  # type: ignore[misc]
    """A safe loader that knows JSON-like scalars only and gathers faults."""

    def __init__(self, stream: str) -> None:
        super().__init__(stream)
        self.faults: list[tuple[int, str]] = []

    def construct_mapping(self, node: Any, deep: bool = False) -> dict[Any, Any]:
        seen: dict[Any, int] = {}
        for key_node, _ in node.value:
            if not isinstance(key_node.value, str):
                self.faults.append((key_node.start_mark.line + 1, "a key must be plain text"))
                continue
            key = key_node.value
            line = key_node.start_mark.line + 1
            if key in seen:
                self.faults.append((line, f"key '{key}' stands twice (first on line {seen[key]}); keep one"))
            seen.setdefault(key, line)
        plain = [pair for pair in node.value if isinstance(pair[0].value, str)]
        return {self.construct_object(key, deep=True): self.construct_object(value, deep=True) for key, value in plain}

    def construct_plain(self, node: Any) -> Any:
        # The C parser gives an empty style for a plain scalar, the Python one gives none.
        if _AMBIGUOUS.match(node.value) and not node.style:
            line = node.start_mark.line + 1
            self.faults.append((line, f"'{node.value}' is ambiguous; write true or false, or put it in quotes"))
        return node.value


# YAML 1.2 core scalars: true/false, null, numbers. Dates and sexagesimals stay text.
_StrictLoader.yaml_implicit_resolvers = {}
_StrictLoader.add_implicit_resolver("tag:yaml.org,2002:bool", re.compile(r"^(?:true|false)$"), list("tf"))
_StrictLoader.add_implicit_resolver("tag:yaml.org,2002:null", re.compile(r"^(?:null|~|)$"), ["n", "~", ""])
_StrictLoader.add_implicit_resolver(
    "tag:yaml.org,2002:int", re.compile(r"^[-+]?(?:0|[1-9][0-9]*)$"), list("-+0123456789")
)
_StrictLoader.add_implicit_resolver(
    "tag:yaml.org,2002:float",
    re.compile(r"^[-+]?(?:[0-9]+\.[0-9]*|\.[0-9]+|[0-9]+(?:\.[0-9]*)?[eE][-+]?[0-9]+)$"),
    list("-+.0123456789"),
)
_StrictLoader.add_constructor("tag:yaml.org,2002:str", _StrictLoader.construct_plain)


def read_text(file: str, text: str) -> tuple[Any, list[Problem]]:
    """Parse one fact file.

    Parameters
    ----------
    file : str
        Name used in the problems.
    text : str
        The file's content.

    Returns
    -------
    tuple
        The tree of dicts, lists and scalars (None when it cannot be read) and the problems.
    """
    loader = _StrictLoader(text)
    try:
        tree = loader.get_single_data()
    except yaml.YAMLError as error:
        mark = getattr(error, "problem_mark", None)
        line = f"line {mark.line + 1}" if mark is not None else ""
        what = getattr(error, "problem", None) or str(error)
        return None, [Problem(file, line, f"not readable as YAML: {what}")]
    finally:
        loader.dispose()
    return tree, [Problem(file, f"line {line}", message) for line, message in loader.faults]
