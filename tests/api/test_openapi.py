"""The OpenAPI document is the one that is committed, and the app does what it says."""

from __future__ import annotations

import schemathesis
from hypothesis import HealthCheck, settings
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from app.api.openapi import FILE, as_text
from app.web import create_app

APPLICATION = create_app(allowed_hosts=frozenset({"localhost"}), testing=True)
schema = schemathesis.openapi.from_wsgi("/api/v1/openapi.json", APPLICATION)


def test_the_committed_document_is_up_to_date() -> None:
    assert FILE.read_text(encoding="utf-8") == as_text()


@schema.parametrize()
@settings(max_examples=6, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)
def test_the_app_keeps_to_its_document(case: schemathesis.Case) -> None:
    # Well-formed input may still name an unknown weed, so refusing it is no fault; a server error,
    # an undocumented status or a body of another shape is.
    case.call_and_validate(
        checks=[not_a_server_error, status_code_conformance, content_type_conformance, response_schema_conformance]
    )
