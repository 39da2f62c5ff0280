"""The part of the OpenAPI document that tells of properties, customers and scouting notes."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from pydantic import BaseModel

from app.season.property import Customer, Property, SeenWeed
from app.services.property_answers import (
    CustomerChange,
    CustomerListing,
    CustomerTold,
    NoteChange,
    NoteListing,
    NoteTold,
    PropertyChange,
    PropertyListing,
    PropertyOne,
    PropertyRemoved,
)

INPUTS: tuple[type[BaseModel], ...] = (Property, PropertyChange, Customer, CustomerChange, SeenWeed, NoteChange)
OUTPUTS: tuple[type[BaseModel], ...] = (
    PropertyListing,
    PropertyOne,
    PropertyRemoved,
    CustomerListing,
    CustomerTold,
    NoteListing,
    NoteTold,
)
_ID = {"name": "id", "in": "path", "required": True, "schema": {"type": "string"}}
_KEY = {"name": "key", "in": "path", "required": True, "schema": {"type": "string"}}
_VERSION = {"name": "version", "in": "query", "required": True, "schema": {"type": "integer", "minimum": 1}}
_PAGE = {"name": "page", "in": "query", "schema": {"type": "integer", "minimum": 1}}


def _query(name: str) -> dict[str, Any]:
    return {"name": name, "in": "query", "schema": {"type": "string"}}


def property_paths(references: dict[str, str], failures: Callable[..., dict[str, Any]]) -> dict[str, Any]:
    """The calls of properties, customers and notes."""

    def content(model: type[BaseModel]) -> dict[str, Any]:
        return {"application/json": {"schema": {"$ref": f"#/components/schemas/{references[model.__name__]}"}}}

    def call(
        summary: str,
        answer: type[BaseModel],
        *codes: int,
        takes: type[BaseModel] | None = None,
        made: bool = False,
        at: tuple[dict[str, Any], ...] = (),
    ) -> dict[str, Any]:
        status = "201" if made else "200"
        told: dict[str, Any] = {
            "summary": summary,
            "responses": {status: {"description": "answered", "content": content(answer)}, **failures(*codes)},
        }
        if at:
            told["parameters"] = list(at)
        return {**told, "requestBody": {"required": True, "content": content(takes)}} if takes is not None else told

    written = (400, 413, 415, 422)
    changed = (404, 409, *written)
    searched = (_query("search"), _PAGE)
    return {
        "/api/v1/properties": {
            "get": call(
                "Properties by name, fifty a page; every word of a search stands in the name, the address, the "
                "customer or the technician",
                PropertyListing,
                422,
                at=(*searched, _query("technician"), _query("customer")),
            ),
            "post": call("Keep a property", PropertyOne, *written, takes=Property, made=True),
        },
        "/api/v1/properties/{id}": {
            "get": call("One property and what is missing before it is planned", PropertyOne, 404, 422, at=(_ID,)),
            "put": call(
                "Change a property; 409 tells what somebody else stored meanwhile",
                PropertyOne,
                *changed,
                takes=PropertyChange,
                at=(_ID,),
            ),
            "delete": call(
                "Remove a property with its notes; refused where application records name it",
                PropertyRemoved,
                *(400, 404, 409, 422),
                at=(_ID, _VERSION),
            ),
        },
        "/api/v1/properties/{id}/notes": {
            "get": call("The scouting notes of a property, the latest first", NoteListing, 404, 422, at=(_ID,)),
            "post": call(
                "Keep a scouting note; weed and area by id or name",
                NoteTold,
                *(404, *written),
                takes=SeenWeed,
                made=True,
                at=(_ID,),
            ),
        },
        "/api/v1/properties/{id}/notes/{key}": {
            "put": call("Change or close a scouting note", NoteTold, *changed, takes=NoteChange, at=(_ID, _KEY))
        },
        "/api/v1/customers": {
            "get": call("Customers by name, fifty a page", CustomerListing, 422, at=searched),
            "post": call("Keep a customer", CustomerTold, *written, takes=Customer, made=True),
        },
        "/api/v1/customers/{id}": {
            "get": call("One customer with their properties", CustomerTold, 404, 422, at=(_ID,)),
            "put": call(
                "Change a customer; 409 tells what somebody else stored meanwhile",
                CustomerTold,
                *changed,
                takes=CustomerChange,
                at=(_ID,),
            ),
            "delete": call(
                "Remove a customer; refused while a property belongs to them",
                PropertyRemoved,
                *(400, 404, 409, 422),
                at=(_ID, _VERSION),
            ),
        },
    }
