"""The part of the OpenAPI document that tells of the shelf."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from pydantic import BaseModel

from app.engine.product import Product
from app.services.shelf_answers import (
    Removed,
    ShelfChange,
    ShelfImportAnswer,
    ShelfImportRequest,
    ShelfListing,
    ShelfProduct,
)

INPUTS: tuple[type[BaseModel], ...] = (Product, ShelfChange, ShelfImportRequest)
OUTPUTS: tuple[type[BaseModel], ...] = (ShelfListing, ShelfProduct, ShelfImportAnswer, Removed)
_SLUG = {"name": "id", "in": "path", "required": True, "schema": {"type": "string"}}


def shelf_paths(references: dict[str, str], failures: Callable[..., dict[str, Any]]) -> dict[str, Any]:
    """The calls of the shelf."""

    def content(model: type[BaseModel]) -> dict[str, Any]:
        return {"application/json": {"schema": {"$ref": f"#/components/schemas/{references[model.__name__]}"}}}

    def answered(model: type[BaseModel], status: str = "200") -> dict[str, Any]:
        return {status: {"description": "answered", "content": content(model)}}

    def call(
        summary: str, answer: dict[str, Any], *codes: int, takes: type[BaseModel] | None = None, **more: Any
    ) -> dict[str, Any]:
        told = {"summary": summary, "responses": {**answer, **failures(*codes)}, **more}
        return {**told, "requestBody": {"required": True, "content": content(takes)}} if takes is not None else told

    version = {"name": "version", "in": "query", "required": True, "schema": {"type": "integer", "minimum": 1}}
    written = (400, 413, 415, 422)
    file = {"200": {"description": "the file", "content": {"text/csv": {"schema": {"type": "string"}}}}}
    return {
        "/api/v1/shelf": {
            "get": call("Everything on the shelf", answered(ShelfListing), 422),
            "post": call("Put a product on the shelf", answered(ShelfProduct, "201"), *written, takes=Product),
        },
        "/api/v1/shelf/{id}": {
            "get": call("One product of the shelf", answered(ShelfProduct), 404, 422, parameters=[_SLUG]),
            "put": call(
                "Change a product; 409 tells what somebody else stored meanwhile",
                answered(ShelfProduct),
                *(404, 409, *written),
                takes=ShelfChange,
                parameters=[_SLUG],
            ),
            "delete": call(
                "Take a product off the shelf; 409 tells what somebody else stored meanwhile",
                answered(Removed),
                *(400, 404, 409, 422),
                parameters=[_SLUG, version],
            ),
        },
        "/api/v1/shelf/import": {
            "post": call(
                "Preview a file, or import it where that is confirmed",
                answered(ShelfImportAnswer),
                *(409, *written),
                takes=ShelfImportRequest,
            )
        },
        "/api/v1/shelf/export.csv": {"get": call("The shelf as a file", file, 422)},
    }
