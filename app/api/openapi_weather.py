"""The part of the OpenAPI document that tells of weather."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from pydantic import BaseModel

from app.season.degree_days import DegreeDays
from app.season.windows_output import Windows
from app.services.weather import DegreeDaysRequest, WindowsRequest

INPUTS: tuple[type[BaseModel], ...] = (WindowsRequest, DegreeDaysRequest)
OUTPUTS: tuple[type[BaseModel], ...] = (Windows, DegreeDays)


def weather_paths(references: dict[str, str], failures: Callable[..., dict[str, Any]]) -> dict[str, Any]:
    """The calls of weather."""

    def content(model: type[BaseModel]) -> dict[str, Any]:
        return {"application/json": {"schema": {"$ref": f"#/components/schemas/{references[model.__name__]}"}}}

    def call(summary: str, takes: type[BaseModel], answers: type[BaseModel]) -> dict[str, Any]:
        told = {"200": {"description": "answered", "content": content(answers)}, **failures(400, 413, 415, 422)}
        return {
            "post": {
                "summary": summary,
                "requestBody": {"required": True, "content": content(takes)},
                "responses": told,
            }
        }

    return {
        "/api/v1/windows": call("Which hours of a forecast are open for spraying", WindowsRequest, Windows),
        "/api/v1/degree-days": call("Degree-days of a run of days", DegreeDaysRequest, DegreeDays),
    }
