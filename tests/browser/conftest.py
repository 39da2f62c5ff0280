"""The app on loopback and a Chromium that drives it."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, sync_playwright

from app.store.opening import open_store
from tests.browser.served import serving

PICTURES = Path(__file__).with_name("pictures")


@pytest.fixture(scope="session")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Address of the running app, over a store on disk, as in use."""
    store = open_store(tmp_path_factory.mktemp("kept"))
    with serving(store, demo=True) as where:
        yield where
    store.close()


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Chromium: the one named, a system one, or Playwright's own."""
    told = os.environ.get("SWARDWRIGHT_CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=told, args=["--no-sandbox"])
        yield chromium
        chromium.close()
