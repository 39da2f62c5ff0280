"""The part of the OpenAPI document that tells of trials."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from pydantic import BaseModel

from app.services.lawn_rating import LawnRatingInput
from app.services.trial_shapes import (
    TrialAnalyseRequest,
    TrialChange,
    TrialImportAnswer,
    TrialImportRequest,
    TrialKept,
    TrialListing,
    TrialRemoved,
)
from app.trials.output import Synthesis, TrialAnswer, TrialReport

INPUTS: tuple[type[BaseModel], ...] = (TrialAnalyseRequest, TrialImportRequest, TrialChange, LawnRatingInput)
OUTPUTS: tuple[type[BaseModel], ...] = (
    TrialAnswer,
    TrialImportAnswer,
    TrialListing,
    TrialKept,
    TrialRemoved,
    TrialReport,
    Synthesis,
)
_SLUG = {"name": "id", "in": "path", "required": True, "schema": {"type": "string"}}
_VERSION = {"name": "version", "in": "query", "required": True, "schema": {"type": "integer", "minimum": 1}}
_ALPHA = {
    "name": "alpha",
    "in": "query",
    "required": False,
    "schema": {"type": "number", "exclusiveMinimum": 0.0001, "exclusiveMaximum": 0.5, "default": 0.05},
}
_NAME = {"type": "string", "minLength": 1}
_SYNTHESIS = [
    *({"name": name, "in": "query", "required": True, "schema": _NAME} for name in ("weed", "treatment")),
    {"name": "against", "in": "query", "required": False, "schema": _NAME},
    {"name": "days_after", "in": "query", "schema": {"type": "integer", "minimum": 1, "maximum": 730, "default": 28}},
    _ALPHA,
]
_WRITTEN = (400, 413, 415, 422)


def trial_paths(references: dict[str, str], failures: Callable[..., dict[str, Any]]) -> dict[str, Any]:
    """The calls of trials."""

    def content(model: type[BaseModel]) -> dict[str, Any]:
        return {"application/json": {"schema": {"$ref": f"#/components/schemas/{references[model.__name__]}"}}}

    def call(
        summary: str,
        model: type[BaseModel],
        *codes: int,
        status: int = 200,
        takes: type[BaseModel] | None = None,
        **more: Any,
    ) -> dict[str, Any]:
        answer = {str(status): {"description": "answered", "content": content(model)}}
        told = {"summary": summary, "responses": {**answer, **failures(*codes)}, **more}
        return {**told, "requestBody": {"required": True, "content": content(takes)}} if takes is not None else told

    meanwhile = "409 tells what somebody else stored meanwhile"
    return {
        "/api/v1/trials": {"get": call("Every kept trial", TrialListing, 422)},
        "/api/v1/trials/analyse": {
            "post": call(
                "Analyse a file of plots; nothing is stored", TrialAnswer, *_WRITTEN, takes=TrialAnalyseRequest
            )
        },
        "/api/v1/trials/import": {
            "post": call(
                "Preview a file of plots, or import it where that is confirmed",
                TrialImportAnswer,
                *(409, *_WRITTEN),
                takes=TrialImportRequest,
            )
        },
        "/api/v1/trials/ratings": {
            "post": call(
                "Keep a follow-up rating of a treated lawn",
                TrialKept,
                *(409, *_WRITTEN),
                status=201,
                takes=LawnRatingInput,
            )
        },
        "/api/v1/trials/synthesis": {
            "get": call(
                "What several kept trials say of a treatment, or of two against each other",
                Synthesis,
                422,
                parameters=_SYNTHESIS,
            )
        },
        "/api/v1/trials/{id}": {
            "get": call("One trial", TrialKept, 404, 422, parameters=[_SLUG]),
            "put": call(
                f"Change a trial; {meanwhile}",
                TrialKept,
                *(404, 409, *_WRITTEN),
                takes=TrialChange,
                parameters=[_SLUG],
            ),
            "delete": call(
                f"Remove a trial; {meanwhile}", TrialRemoved, *(400, 404, 409, 422), parameters=[_SLUG, _VERSION]
            ),
        },
        "/api/v1/trials/{id}/report": {
            "get": call("The analysis of a trial", TrialReport, 404, 422, parameters=[_SLUG, _ALPHA])
        },
    }
