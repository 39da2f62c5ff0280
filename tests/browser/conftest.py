"""The app on loopback and a Chromium that drives it."""

from __future__ import annotations

import os
import shutil
import socket
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, sync_playwright
from waitress.server import create_server

from app.web import create_app

PICTURES = Path(__file__).with_name("pictures")


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@pytest.fixture(scope="session")
def address() -> Iterator[str]:
    """Address of the running app."""
    port = _free_port()
    application = create_app(allowed_hosts=frozenset({f"127.0.0.1:{port}"}), demo=True)
    server = create_server(application, host="127.0.0.1", port=port, threads=4)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{port}"
    server.close()


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Chromium: the one named, a system one, or Playwright's own."""
    told = os.environ.get("SWARDWRIGHT_CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=told, args=["--no-sandbox"])
        yield chromium
        chromium.close()
