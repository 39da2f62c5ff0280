"""The part of the OpenAPI document that tells of the years of kept properties."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from pydantic import BaseModel

from app.services.year_answers import YearTold, YearToPlan

INPUTS: tuple[type[BaseModel], ...] = (YearToPlan,)
OUTPUTS: tuple[type[BaseModel], ...] = (YearTold,)
_PLACES = [
    {"name": "id", "in": "path", "required": True, "schema": {"type": "string"}},
    {"name": "season", "in": "path", "required": True, "schema": {"type": "integer"}},
]


def year_paths(references: dict[str, str], failures: Callable[..., dict[str, Any]]) -> dict[str, Any]:
    """The calls of the years of properties."""

    def content(model: type[BaseModel]) -> dict[str, Any]:
        return {"application/json": {"schema": {"$ref": f"#/components/schemas/{references[model.__name__]}"}}}

    return {
        "/api/v1/years/{id}/{season}": {
            "get": {
                "summary": "The year of a property: the chosen plan, and every version in a line",
                "parameters": _PLACES,
                "responses": {"200": {"description": "answered", "content": content(YearTold)}, **failures(404, 422)},
            },
            "post": {
                "summary": "Plan the year of a property by what is kept of it and what is wished, and keep the plan",
                "parameters": _PLACES,
                "requestBody": {"required": True, "content": content(YearToPlan)},
                "responses": {
                    "201": {"description": "answered", "content": content(YearTold)},
                    **failures(400, 404, 409, 413, 415, 422),
                },
            },
        }
    }
