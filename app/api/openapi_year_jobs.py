"""The part of the OpenAPI document that tells of planning a branch in one go."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from pydantic import BaseModel

from app.season.year_load import YearLoad
from app.services.year_job_answers import (
    BranchYearListing,
    BranchYearRemoved,
    BranchYearTold,
    BranchYearToStart,
    PlacePage,
    PlansOfPlace,
    PlansToUse,
    PlansUsed,
)
from app.services.year_job_sums import YearOrder, YearSummary

INPUTS: tuple[type[BaseModel], ...] = (BranchYearToStart, PlansToUse)
OUTPUTS: tuple[type[BaseModel], ...] = (
    *(BranchYearListing, BranchYearTold, BranchYearRemoved, YearSummary, YearOrder, YearLoad),
    *(PlacePage, PlansOfPlace, PlansUsed),
)


def _in_path(name: str) -> dict[str, Any]:
    return {"name": name, "in": "path", "required": True, "schema": {"type": "string"}}


_ID = _in_path("id")
_PAGE = {"name": "page", "in": "query", "required": False, "schema": {"type": "integer", "minimum": 1}}


def year_job_paths(references: dict[str, str], failures: Callable[..., dict[str, Any]]) -> dict[str, Any]:
    """The calls of planning a branch in one go."""

    def content(model: type[BaseModel]) -> dict[str, Any]:
        return {"application/json": {"schema": {"$ref": f"#/components/schemas/{references[model.__name__]}"}}}

    def call(
        summary: str,
        answer: type[BaseModel],
        *codes: int,
        takes: dict[str, Any] | None = None,
        made: tuple[str, ...] = ("200",),
        at: tuple[dict[str, Any], ...] = (_ID,),
    ) -> dict[str, Any]:
        answered = {status: {"description": "answered", "content": content(answer)} for status in made}
        told: dict[str, Any] = {"summary": summary, "responses": {**answered, **failures(*codes)}}
        if at:
            told["parameters"] = list(at)
        return {**told, "requestBody": {"required": True, "content": takes}} if takes is not None else told

    written = (400, 413, 415, 422)
    empty = {"application/json": {"schema": {"type": "object", "additionalProperties": False}}}
    path, property_path = "/api/v1/year-jobs/{id}", "/api/v1/year-jobs/{id}/properties/{property}"
    return {
        "/api/v1/year-jobs": {
            "get": call("Plans of the branch, the latest first", BranchYearListing, 422, at=()),
            "post": call(
                "Begin to plan the year of a branch; the same key begins one",
                BranchYearTold,
                *written,
                takes=content(BranchYearToStart),
                made=("200", "201"),
                at=(),
            ),
        },
        path: {
            "get": call("How far it is", BranchYearTold, 404, 422),
            "delete": call("Forget it; nobody may be working on it", BranchYearRemoved, 404, 422),
        },
        f"{path}/cancel": {
            "post": call("Stop after what is being planned", BranchYearTold, 404, *written, takes=empty),
        },
        f"{path}/resume": {
            "post": call("Go on with what waits or failed", BranchYearTold, 404, *written, takes=empty),
        },
        f"{path}/summary": {"get": call("Expected control and gaps over the branch", YearSummary, 404, 422)},
        f"{path}/order": {"get": call("The season's order in whole packs by month", YearOrder, 404, 422)},
        f"{path}/load": {"get": call("Visits, area and minutes by week and technician", YearLoad, 404, 422)},
        f"{path}/properties": {"get": call("A page of its properties", PlacePage, 404, 422, at=(_ID, _PAGE))},
        property_path: {
            "get": call("What was planned for a property", PlansOfPlace, 404, 422, at=(_ID, _in_path("property"))),
        },
        f"{path}/use": {
            "post": call(
                "Take the plan of one property, or of all, over into its year",
                PlansUsed,
                404,
                409,
                *written,
                takes=content(PlansToUse),
            ),
        },
    }
