"""The part of the OpenAPI document that tells of the growth of weeds."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from pydantic import BaseModel

from app.season.ageing import Aged
from app.season.emergence import EmergenceForecast
from app.services.growth import EmergenceRequest, StageOnRequest

INPUTS: tuple[type[BaseModel], ...] = (StageOnRequest, EmergenceRequest)
OUTPUTS: tuple[type[BaseModel], ...] = (Aged, EmergenceForecast)


def growth_paths(references: dict[str, str], failures: Callable[..., dict[str, Any]]) -> dict[str, Any]:
    """The calls of the growth of weeds."""

    def content(model: type[BaseModel]) -> dict[str, Any]:
        return {"application/json": {"schema": {"$ref": f"#/components/schemas/{references[model.__name__]}"}}}

    def call(summary: str, takes: type[BaseModel], answers: type[BaseModel]) -> dict[str, Any]:
        return {
            "post": {
                "summary": summary,
                "requestBody": {"required": True, "content": content(takes)},
                "responses": {
                    "200": {"description": "answered", "content": content(answers)},
                    **failures(400, 413, 415, 422),
                },
            }
        }

    return {
        "/api/v1/stage-on": call("The stage to expect of a weed that was scouted earlier", StageOnRequest, Aged),
        "/api/v1/emergence": call("When seedlings come up, by daily temperatures", EmergenceRequest, EmergenceForecast),
    }
