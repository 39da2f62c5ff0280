"""The part of the OpenAPI document that tells of rounds."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from pydantic import BaseModel

from app.season.load_output import LoadSheet
from app.season.round import Round
from app.services.round_answers import (
    ForecastListing,
    ForecastToKeep,
    ForecastTold,
    RecordMade,
    RoundChange,
    RoundListing,
    RoundPlanning,
    RoundRemoved,
    RoundTold,
    StopDone,
)

INPUTS: tuple[type[BaseModel], ...] = (Round, RoundChange, RoundPlanning, StopDone, ForecastToKeep)
OUTPUTS: tuple[type[BaseModel], ...] = (
    *(RoundListing, RoundTold, RoundRemoved, RecordMade, LoadSheet),
    *(ForecastListing, ForecastTold),
)
_ID = {"name": "id", "in": "path", "required": True, "schema": {"type": "string"}}
_VERSION = {"name": "version", "in": "query", "required": True, "schema": {"type": "integer", "minimum": 1}}


def round_paths(references: dict[str, str], failures: Callable[..., dict[str, Any]]) -> dict[str, Any]:
    """The calls of rounds."""

    def content(model: type[BaseModel]) -> dict[str, Any]:
        return {"application/json": {"schema": {"$ref": f"#/components/schemas/{references[model.__name__]}"}}}

    def call(
        summary: str,
        answer: type[BaseModel],
        *codes: int,
        takes: type[BaseModel] | None = None,
        made: tuple[str, ...] = ("200",),
        at: tuple[dict[str, Any], ...] = (),
    ) -> dict[str, Any]:
        answered = {status: {"description": "answered", "content": content(answer)} for status in made}
        told: dict[str, Any] = {"summary": summary, "responses": {**answered, **failures(*codes)}}
        if at:
            told["parameters"] = list(at)
        return {**told, "requestBody": {"required": True, "content": content(takes)}} if takes is not None else told

    written = (400, 413, 415, 422)
    changed = (404, 409, *written)
    return {
        "/api/v1/rounds": {
            "get": call("Rounds, the latest day first", RoundListing, 422),
            "post": call("Keep a round; it is not planned by this", RoundTold, *written, takes=Round, made=("201",)),
        },
        "/api/v1/rounds/{id}": {
            "get": call("One round with its plan", RoundTold, 404, 422, at=(_ID,)),
            "put": call(
                "Change a round; what its plan rests on takes the plan with it",
                RoundTold,
                *changed,
                takes=RoundChange,
                at=(_ID,),
            ),
            "delete": call("Remove a round without records", RoundRemoved, 404, 409, 422, at=(_ID, _VERSION)),
        },
        "/api/v1/rounds/{id}/plan": {
            "post": call(
                "Find the fewest mixes that serve the day, what sharing them costs, and who waits",
                RoundTold,
                *changed,
                takes=RoundPlanning,
                at=(_ID,),
            )
        },
        "/api/v1/rounds/{id}/done": {
            "post": call(
                "Turn a stop that was sprayed into an application record; the same stop twice keeps one",
                RecordMade,
                *changed,
                takes=StopDone,
                made=("200", "201"),
                at=(_ID,),
            )
        },
        "/api/v1/forecasts": {
            "get": call("Forecasts that are kept, by name", ForecastListing, 422),
            "post": call("Keep a forecast", ForecastTold, *written, takes=ForecastToKeep, made=("201",)),
        },
        "/api/v1/forecasts/{id}": {
            "delete": call("Forget a forecast", RoundRemoved, 404, 409, 422, at=(_ID, _VERSION)),
        },
        "/api/v1/rounds/{id}/sheet": {"get": call("The load sheet of a round", LoadSheet, 404, 422, at=(_ID,))},
    }
