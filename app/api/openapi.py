"""The OpenAPI document, built from the models; ``python -m app.api.openapi`` rewrites the file."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from pydantic import BaseModel
from pydantic.json_schema import models_json_schema

from app.api import (
    openapi_growth,
    openapi_properties,
    openapi_records,
    openapi_rounds,
    openapi_shelf,
    openapi_trials,
    openapi_weather,
    openapi_year,
    openapi_year_jobs,
    openapi_years,
)
from app.engine.identify import Identification, Seen
from app.engine.matrix import Matrix, MatrixQuestion
from app.engine.output import Expectation, QuickAnswer, Recommendation, WhyNot
from app.engine.sides import SideBySide, SideBySideRequest
from app.engine.situation import ExpectRequest, Situation, WhyNotRequest
from app.mixing.calibration import Calibrated
from app.mixing.output import Mix
from app.mixing.plan import MixPlan
from app.services.mixing import CALIBRATIONS

FILE = Path(__file__).with_name("openapi.json")
API_VERSION = "1"
_REFERENCE = "#/components/schemas/{model}"
_INPUTS: tuple[type[BaseModel], ...] = (
    Situation,
    WhyNotRequest,
    ExpectRequest,
    MatrixQuestion,
    Seen,
    SideBySideRequest,
    MixPlan,
    *CALIBRATIONS.values(),
    *openapi_growth.INPUTS,
    *openapi_shelf.INPUTS,
    *openapi_trials.INPUTS,
    *openapi_weather.INPUTS,
    *openapi_records.INPUTS,
    *openapi_properties.INPUTS,
    *openapi_rounds.INPUTS,
    *openapi_year.INPUTS,
    *openapi_years.INPUTS,
    *openapi_year_jobs.INPUTS,
)
_OUTPUTS: tuple[type[BaseModel], ...] = (
    Recommendation,
    WhyNot,
    Expectation,
    QuickAnswer,
    Matrix,
    Identification,
    SideBySide,
    Mix,
    Calibrated,
    *openapi_growth.OUTPUTS,
    *openapi_shelf.OUTPUTS,
    *openapi_trials.OUTPUTS,
    *openapi_weather.OUTPUTS,
    *openapi_records.OUTPUTS,
    *openapi_properties.OUTPUTS,
    *openapi_rounds.OUTPUTS,
    *openapi_year.OUTPUTS,
    *openapi_years.OUTPUTS,
    *openapi_year_jobs.OUTPUTS,
)


def _failures(*codes: int) -> dict[str, Any]:
    words = {
        400: "refused",
        404: "not known",
        409: "changed meanwhile by somebody else",
        413: "too large",
        415: "not JSON",
        422: "bad input, every field named",
    }
    schema = {"$ref": "#/components/schemas/Error"}
    return {
        str(code): {"description": words[code], "content": {"application/json": {"schema": schema}}} for code in codes
    }


def _ok(schema: dict[str, Any]) -> dict[str, Any]:
    return {"200": {"description": "answered", "content": {"application/json": {"schema": schema}}}}


def _post(summary: str, body: str, answer: str) -> dict[str, Any]:
    content = {"application/json": {"schema": {"$ref": _REFERENCE.format(model=body)}}}
    return {
        "post": {
            "summary": summary,
            "requestBody": {"required": True, "content": content},
            "responses": {**_ok({"$ref": _REFERENCE.format(model=answer)}), **_failures(400, 413, 415, 422)},
        }
    }


def _query(name: str, *, required: bool = False, **schema: Any) -> dict[str, Any]:
    return {"name": name, "in": "query", "required": required, "schema": {"type": "string", **schema}}


def document() -> dict[str, Any]:
    """The document as plain data."""
    wanted: Any = [*((m, "validation") for m in _INPUTS), *((m, "serialization") for m in _OUTPUTS)]
    names, schemas = models_json_schema(wanted, ref_template=_REFERENCE)
    named = {model.__name__: reference["$ref"].rsplit("/", 1)[-1] for (model, _), reference in names.items()}
    components = {**schemas["$defs"], "Error": _error_schema()}
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "Swardwright",
            "version": API_VERSION,
            "description": "Ranks and explains turf herbicide programs. The product label is the law.",
        },
        "servers": [{"url": "/"}],
        "paths": _paths(named),
        "components": {"schemas": components},
    }


def _paths(named: dict[str, str]) -> dict[str, Any]:
    paths = {
        "/api/v1/recommend": _post("Rank programs for a situation", named["Situation"], named["Recommendation"]),
        "/api/v1/why-not": _post("What stands against an active here", named["WhyNotRequest"], named["WhyNot"]),
        "/api/v1/expect": _post("Expected control of a stated program", named["ExpectRequest"], named["Expectation"]),
        "/api/v1/matrix": _post("Every weed against every active", named["MatrixQuestion"], named["Matrix"]),
        "/api/v1/side-by-side": _post(
            "What sets two to four sides apart", named["SideBySideRequest"], named["SideBySide"]
        ),
        "/api/v1/mix": _post("Amounts for a tank, a load or a backpack", named["MixPlan"], named["Mix"]),
        "/api/v1/sprayer-calibration": _calibration_path(named),
        "/api/v1/identify": _post("Weeds that fit what is seen", named["Seen"], named["Identification"]),
        "/api/v1/calibration": {
            "get": {
                "summary": "The engine held against published results",
                "responses": {**_ok({"type": "object"}), **_failures(422)},
            }
        },
        "/api/v1/answer": _answer_path(named["QuickAnswer"]),
        "/api/v1/health": {
            "get": {"summary": "Health and versions", "responses": {**_ok(_health_schema()), **_failures(422)}}
        },
        "/api/v1/openapi.json": {
            "get": {"summary": "This document", "responses": {**_ok({"type": "object"}), **_failures(422)}}
        },
    }
    paths.update(openapi_growth.growth_paths(named, _failures))
    paths.update(openapi_shelf.shelf_paths(named, _failures))
    paths.update(openapi_trials.trial_paths(named, _failures))
    paths.update(openapi_weather.weather_paths(named, _failures))
    paths.update(openapi_records.record_paths(named, _failures))
    paths.update(openapi_properties.property_paths(named, _failures))
    paths.update(openapi_rounds.round_paths(named, _failures))
    paths.update(openapi_year.year_paths(named, _failures))
    paths.update(openapi_years.year_paths(named, _failures))
    paths.update(openapi_year_jobs.year_job_paths(named, _failures))
    for kind in ("weeds", "actives", "turf", "sources"):
        listing = {"type": "object", "required": ["kind", "entries"], "properties": {"entries": {"type": "array"}}}
        paths[f"/api/v1/knowledge/{kind}"] = {
            "get": {"summary": f"Every entry of {kind}", "responses": {**_ok(listing), **_failures(422)}}
        }
        key = {"name": "id", "in": "path", "required": True, "schema": {"type": "string"}}
        entry = {"type": "object", "required": ["id"]}
        paths[f"/api/v1/knowledge/{kind}/{{id}}"] = {
            "get": {
                "summary": f"One entry of {kind} with its sources",
                "parameters": [key],
                "responses": {**_ok(entry), **_failures(404, 422)},
            }
        }
    return paths


def _calibration_path(named: dict[str, str]) -> dict[str, Any]:
    path = _post("Carrier volume from what was measured", named["BoomCalibration"], named["Calibrated"])
    models = [{"$ref": _REFERENCE.format(model=named[model.__name__])} for model in CALIBRATIONS.values()]
    path["post"]["requestBody"]["content"]["application/json"]["schema"] = {"oneOf": models}
    return path


def _answer_path(answer: str) -> dict[str, Any]:
    parameters = [
        _query("weed", required=True, minLength=1),
        *(_query(name) for name in ("turf", "zone", "stage", "site_use")),
        _query("month", pattern="^(|[1-9]|1[0-2])$"),
    ]
    responses = {**_ok({"$ref": _REFERENCE.format(model=answer)}), **_failures(422)}
    return {"get": {"summary": "The quick answer for a weed", "parameters": parameters, "responses": responses}}


def _health_schema() -> dict[str, Any]:
    text = {"type": "string"}
    keys = ("status", "version", "knowledge_version")
    return {"type": "object", "required": list(keys), "properties": dict.fromkeys(keys, text)}


def _error_schema() -> dict[str, Any]:
    text = {"type": "string"}
    field = {"type": "object", "required": ["path", "message"], "properties": {"path": text, "message": text}}
    body = {
        "type": "object",
        "required": ["message", "fields"],
        "properties": {"message": text, "fields": {"type": "array", "items": field}},
    }
    return {"type": "object", "required": ["error"], "properties": {"error": body}}


def as_text() -> str:
    """The document as it is committed."""
    return json.dumps(document(), indent=1, sort_keys=True, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    FILE.write_text(as_text(), encoding="utf-8")
