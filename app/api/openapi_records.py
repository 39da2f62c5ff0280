"""The part of the OpenAPI document that tells of application records."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from pydantic import BaseModel

from app.services.record_shapes import (
    DueListing,
    FollowUpChange,
    FollowUpKept,
    FollowUpNew,
    FollowUpRemoved,
    RecordChange,
    RecordListing,
    RecordNew,
    RecordReading,
    RecordVoid,
)

INPUTS: tuple[type[BaseModel], ...] = (RecordNew, RecordChange, RecordVoid, FollowUpNew, FollowUpChange)
OUTPUTS: tuple[type[BaseModel], ...] = (RecordListing, RecordReading, FollowUpKept, FollowUpRemoved, DueListing)
_KEY = {"name": "id", "in": "path", "required": True, "schema": {"type": "string"}}
_OWN = {"name": "follow_up", "in": "path", "required": True, "schema": {"type": "string"}}
_VERSION = {"name": "version", "in": "query", "required": True, "schema": {"type": "integer", "minimum": 1}}
_DAY = {"type": "string", "format": "date"}
_PAGE = {"name": "page", "in": "query", "required": False, "schema": {"type": "integer", "minimum": 1, "default": 1}}
_LOG = [
    *({"name": name, "in": "query", "required": False, "schema": _DAY} for name in ("from", "to")),
    *(
        {"name": name, "in": "query", "required": False, "schema": {"type": "string"}}
        for name in ("property", "technician", "round")
    ),
    {"name": "unfinished", "in": "query", "required": False, "schema": {"type": "boolean", "default": False}},
]
_WRITTEN = (400, 413, 415, 422)


def record_paths(references: dict[str, str], failures: Callable[..., dict[str, Any]]) -> dict[str, Any]:
    """The calls of application records."""

    def content(model: type[BaseModel]) -> dict[str, Any]:
        return {"application/json": {"schema": {"$ref": f"#/components/schemas/{references[model.__name__]}"}}}

    def call(
        summary: str, model: type[BaseModel], *codes: int, takes: type[BaseModel] | None = None, **more: Any
    ) -> dict[str, Any]:
        status = str(more.pop("status", 200))
        answer = {status: {"description": "answered", "content": content(model)}}
        told = {"summary": summary, "responses": {**answer, **failures(*codes)}, **more}
        return {**told, "requestBody": {"required": True, "content": content(takes)}} if takes is not None else told

    meanwhile = "409 tells what somebody else stored meanwhile"
    add = call(
        "Keep a record, once however often it is sent; gaps are told, not refused",
        RecordReading,
        *(409, *_WRITTEN),
        status=201,
        takes=RecordNew,
    )
    add["responses"]["200"] = {"description": "kept before", "content": content(RecordReading)}
    csv = {"200": {"description": "the file", "content": {"text/csv": {"schema": {"type": "string"}}}}}
    own = "/api/v1/records/{id}/follow-ups"
    return {
        "/api/v1/records": {
            "get": call("The log, the latest day first", RecordListing, 422, parameters=[*_LOG, _PAGE]),
            "post": add,
        },
        "/api/v1/records/export.csv": {
            "get": {
                "summary": "The log as a file, one row a product",
                "parameters": [*_LOG],
                "responses": {**csv, **failures(422)},
            }
        },
        "/api/v1/records/due": {
            "get": call(
                "What is due to be rated or sprayed again",
                DueListing,
                422,
                parameters=[{"name": "on", "in": "query", "required": False, "schema": _DAY}],
            )
        },
        "/api/v1/records/{id}": {
            "get": call("One record with its history and ratings", RecordReading, 404, 422, parameters=[_KEY]),
            "put": call(
                f"Change a record; {meanwhile}",
                RecordReading,
                *(404, 409, *_WRITTEN),
                takes=RecordChange,
                parameters=[_KEY],
            ),
        },
        "/api/v1/records/{id}/void": {
            "post": call(
                f"Say of a record that it does not count, and why; {meanwhile}",
                RecordReading,
                *(404, 409, *_WRITTEN),
                takes=RecordVoid,
                parameters=[_KEY],
            )
        },
        own: {
            "post": call(
                "Keep what was seen after an application, in the house's evidence too",
                FollowUpKept,
                *(404, 409, *_WRITTEN),
                status=201,
                takes=FollowUpNew,
                parameters=[_KEY],
            )
        },
        f"{own}/{{follow_up}}": {
            "put": call(
                f"Change what was seen; {meanwhile}",
                FollowUpKept,
                *(404, 409, *_WRITTEN),
                takes=FollowUpChange,
                parameters=[_KEY, _OWN],
            ),
            "delete": call(
                f"Forget what was seen; {meanwhile}",
                FollowUpRemoved,
                *(400, 404, 409, 422),
                parameters=[_KEY, _OWN, _VERSION],
            ),
        },
    }
