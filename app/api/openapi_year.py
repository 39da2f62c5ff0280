"""The part of the OpenAPI document that tells of a planned year."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from pydantic import BaseModel

from app.season.year import YearAsked
from app.season.year_output import YearPlan, YearScenarios
from app.services.year_prices import PricedYear, YearToPrice

INPUTS: tuple[type[BaseModel], ...] = (YearAsked, YearToPrice)
OUTPUTS: tuple[type[BaseModel], ...] = (YearPlan, YearScenarios, PricedYear)


def year_paths(references: dict[str, str], failures: Callable[..., dict[str, Any]]) -> dict[str, Any]:
    """The calls of a planned year."""

    def content(model: type[BaseModel]) -> dict[str, Any]:
        return {"application/json": {"schema": {"$ref": f"#/components/schemas/{references[model.__name__]}"}}}

    def call(summary: str, answers: type[BaseModel], asks: type[BaseModel] = YearAsked) -> dict[str, Any]:
        told = {"200": {"description": "answered", "content": content(answers)}, **failures(400, 413, 415, 422)}
        body = {"required": True, "content": content(asks)}
        return {"post": {"summary": summary, "requestBody": body, "responses": told}}

    return {
        "/api/v1/year": call("The best program of a year for one property; nothing is stored", YearPlan),
        "/api/v1/year/scenarios": call(
            "The same, and what its plan does in a late spring, in a drought, and where a visit falls out",
            YearScenarios,
        ),
        "/api/v1/year/price": call("The same with its price by visit; nothing is stored", PricedYear, YearToPrice),
    }
