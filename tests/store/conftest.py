"""Stores to test on: SQLite, and a PostgreSQL that the tests start themselves."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import tempfile
import time
import uuid
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import create_engine

from app.store.opening import Store, open_store

ENGINES = ("sqlite", "postgresql")
_UNPRIVILEGED = ("postgres", "nobody")


def _program(name: str) -> str | None:
    """A program of PostgreSQL, in the path or where Debian puts it."""
    found = shutil.which(name)
    if found is not None:
        return found
    versions = sorted(Path("/usr/lib/postgresql").glob(f"*/bin/{name}"), reverse=True)
    return str(versions[0]) if versions else None


def _user() -> dict[str, str]:
    """PostgreSQL refuses to run as root; then it runs as somebody who may do nothing else."""
    if not hasattr(os, "geteuid") or os.geteuid() != 0:
        return {}
    import pwd

    for name in _UNPRIVILEGED:
        try:
            pwd.getpwnam(name)
        except KeyError:
            continue
        return {"user": name}
    pytest.skip("PostgreSQL does not run as root and there is nobody else here, so SQLite alone is tested")


@pytest.fixture(scope="session")
def postgresql() -> Iterator[str]:
    """Address of a PostgreSQL server of these tests' own, reached by a socket in a folder of its own."""
    initdb, server = _program("initdb"), _program("postgres")
    if initdb is None or server is None:
        pytest.skip("the programs of PostgreSQL (initdb, postgres) are not installed here, so SQLite alone is tested")
    folder = Path(tempfile.mkdtemp(prefix="sw-pg-"))
    who = _user()
    if who:
        shutil.chown(folder, who["user"])
    data = folder / "data"
    run = {"cwd": folder, "stdout": subprocess.DEVNULL, "stderr": subprocess.PIPE, **who}
    subprocess.run(
        [initdb, "-D", str(data), "-U", "tests", "-A", "trust", "-E", "UTF8", "--no-sync"], check=True, **run
    )  # type: ignore[call-overload]
    options = ["-c", "fsync=off", "-c", "listen_addresses=", "-c", f"unix_socket_directories={folder}"]
    running = subprocess.Popen(
        [server, "-D", str(data), *options], cwd=folder, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, **who
    )
    try:
        _wait_for(data, running)
        yield f"postgresql+psycopg://tests@/postgres?host={folder}"
    finally:
        # The quick way down, which does not wait for a connection that a failed test left open.
        running.send_signal(signal.SIGINT)
        running.wait(timeout=20)
        shutil.rmtree(folder, ignore_errors=True)


def _wait_for(data: Path, running: subprocess.Popen[bytes]) -> None:
    """Until the server says in its own file that it is ready."""
    for _ in range(400):
        assert running.poll() is None, "PostgreSQL ended before it was ready"
        told = data / "postmaster.pid"
        if told.exists() and told.read_text(encoding="utf-8").rstrip().endswith("ready"):
            return
        time.sleep(0.05)
    raise AssertionError("PostgreSQL was not ready after twenty seconds")


@pytest.fixture(params=ENGINES)
def address(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """Address of an empty database, on each engine."""
    if request.param == "sqlite":
        yield f"sqlite:///{tmp_path / 'store.sqlite'}"
        return
    server = request.getfixturevalue("postgresql")
    name = f"t{uuid.uuid4().hex}"
    engine = create_engine(server, isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.exec_driver_sql(f"CREATE DATABASE {name}")
    yield server.replace("/postgres?", f"/{name}?")
    with engine.connect() as connection:
        connection.exec_driver_sql(f"DROP DATABASE {name} WITH (FORCE)")
    engine.dispose()


@pytest.fixture
def store(address: str, tmp_path: Path) -> Iterator[Store]:
    """An empty store, on each engine."""
    opened = open_store(tmp_path / "data", address)
    yield opened
    opened.close()
