"""Shared fixtures: the real knowledge base, a situation to vary, and no network but loopback."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import settings
from pytest_socket import socket_allow_hosts

from app.engine.situation import Situation
from app.services.knowledge_service import knowledge_base
from knowledge.base import KnowledgeBase

# No test touches what the person who runs it keeps; commands that the tests start inherit this.
os.environ["SWARDWRIGHT_DATA"] = os.path.join(tempfile.mkdtemp(prefix="sw-tests-"), "data")
os.environ.pop("SWARDWRIGHT_DATABASE_URL", None)

# No clock: a busy machine or a first import fails no property.
settings.register_profile("unhurried", deadline=None)
settings.load_profile("unhurried")

PLAIN: dict[str, Any] = {
    "date": "2027-05-20",
    "zone": "cool-humid",
    "site_use": "residential-lawn",
    "turf": ["tall-fescue"],
    "turf_condition": {"stand": "established", "green_up": "active", "stress": "none", "mowing_height_in": 3.0},
    "targets": [{"weed": "wild-violet", "stage": "flowering"}],
    "forecast": {"max_temp_f": 72, "max_temp_next_3_days_f": 75, "rain_free_hours": 48, "wind_mph": 5},
}


@pytest.fixture(autouse=True)
def _loopback_alone() -> None:
    # The web and browser tests talk to a server of their own on loopback; nothing goes further.
    socket_allow_hosts(["127.0.0.1", "::1", "localhost"], allow_unix_socket=True)


@pytest.fixture(scope="session")
def base() -> KnowledgeBase:
    """The knowledge base as shipped."""
    return knowledge_base()


def plain(**changes: Any) -> dict[str, Any]:
    """A plain situation as data, with changes at the top level."""
    return {**PLAIN, **changes}


@pytest.fixture
def situation() -> Callable[..., Situation]:
    """Make a plain situation with changes at the top level."""
    return lambda **changes: Situation.model_validate(plain(**changes))
