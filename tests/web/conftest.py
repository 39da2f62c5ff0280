"""An app with a store of its own, empty or with the invented trials of the demo."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from flask.testing import FlaskClient

from app.services import trials
from app.store.opening import Store, open_in_memory
from app.web import create_app


@pytest.fixture
def store() -> Iterator[Store]:
    opened = open_in_memory()
    yield opened
    opened.close()


@pytest.fixture
def client(store: Store) -> Iterator[FlaskClient]:
    with create_app(allowed_hosts=frozenset({"localhost"}), testing=True, store=store).test_client() as found:
        yield found


@pytest.fixture
def filled(client: FlaskClient, store: Store) -> FlaskClient:
    """With the invented trials of the demo."""
    trials.fill_demo(store)
    return client
