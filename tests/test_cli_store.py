"""Backup, restore and the password on the command line, and who may listen beyond this machine."""

from __future__ import annotations

import io
import json
import os
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from app.cli import main
from app.services import accounts
from app.services.shelf import add_product, shelf_products
from app.serving import PASSWORD_VARIABLE
from app.store.opening import BACKUPS, DATABASE_VARIABLE, FILE_NAME, open_store
from tests.services.test_shelf import LABEL

ROOT = Path(__file__).parents[1]
PASSWORD = "a long password"


@pytest.fixture
def data(tmp_path: Path) -> Path:
    """A data folder with one product."""
    folder = tmp_path / "data"
    store = open_store(folder)
    add_product(store, LABEL)
    store.close()
    return folder


def names(folder: Path) -> list[str]:
    store = open_store(folder)
    found = [item.name for item in shelf_products(store)]
    store.close()
    return found


def told_hash(folder: Path) -> str | None:
    store = open_store(folder)
    found = accounts.kept_hash(store)
    store.close()
    return found


def test_a_backup_goes_to_another_folder_and_keeps_aside_what_was_there(
    data: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    archive, other = tmp_path / "march.zip", tmp_path / "other"
    assert main(["backup", str(archive), "--data", str(data)]) == 0
    assert str(archive) in capsys.readouterr().out
    assert main(["restore", str(archive), "--data", str(other)]) == 0
    assert "Restored 1 product" in capsys.readouterr().out
    assert names(other) == names(data) == [LABEL["name"]]
    (aside,) = (other / BACKUPS).iterdir()
    assert main(["restore", str(aside), "--data", str(other)]) == 0
    assert names(other) == []


def test_only_its_owner_reads_a_backup(data: Path, tmp_path: Path) -> None:
    archive = tmp_path / "march.zip"
    main(["backup", str(archive), "--data", str(data)])
    assert archive.stat().st_mode & 0o077 == 0
    assert data.stat().st_mode & 0o077 == 0


def test_standard_input_and_output_serve(data: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    command = [sys.executable, "-m", "app", "backup", "-", "--data", str(data)]
    written = subprocess.run(command, capture_output=True, cwd=ROOT, check=True).stdout
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(written)))
    assert main(["restore", "-", "--data", str(tmp_path / "other")]) == 0
    assert names(tmp_path / "other") == [LABEL["name"]]


@pytest.mark.parametrize(
    ("command", "said"),
    [
        (["backup", "{tmp}/no-such/march.zip"], "cannot be written"),
        (["restore", "{tmp}/not-there.zip"], "cannot be read"),
        (["restore", "{tmp}"], "cannot be read"),
        (["restore", "{tmp}/text.zip"], "damaged or no backup of this program; nothing was changed"),
    ],
)
def test_what_cannot_be_done_is_one_sentence(
    data: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], command: list[str], said: str
) -> None:
    (tmp_path / "text.zip").write_text("no archive")
    asked = [part.format(tmp=tmp_path) for part in command]
    assert main([*asked, "--data", str(data)]) == 2
    error = capsys.readouterr().err
    assert error.startswith("swardwright: backup: ")
    assert said in error
    assert len(error.strip().splitlines()) == 1
    assert names(data) == [LABEL["name"]]
    assert {path.name for path in tmp_path.iterdir()} == {"data", "text.zip"}
    assert not (data / BACKUPS).exists()


def test_a_damaged_store_is_one_sentence(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (data / FILE_NAME).write_bytes(b"no database" * 1000)
    assert main(["shelf", "list", "--data", str(data)]) == 2
    error = capsys.readouterr().err
    assert "cannot be used as a store: file is not a database" in error
    assert len(error.strip().splitlines()) == 1


def test_a_store_that_others_hold_is_one_sentence(
    data: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    archive = tmp_path / "march.zip"
    assert main(["backup", str(archive), "--data", str(data)]) == 0
    monkeypatch.setattr("app.store.opening._BUSY_MILLISECONDS", 50)
    holding = open_store(data)
    with holding.session() as session:
        session.connection().exec_driver_sql("DELETE FROM product")
        assert main(["shelf", "list", "--data", str(data)]) == 0, "reading waits for nobody"
        assert LABEL["name"] in capsys.readouterr().out
        assert main(["restore", str(archive), "--data", str(data)]) == 1
        session.rollback()
    holding.close()
    error = capsys.readouterr().err
    assert "locked; nothing was stored" in error
    assert len(error.strip().splitlines()) == 1
    assert names(data) == [LABEL["name"]]


def typing(monkeypatch: pytest.MonkeyPatch, *words: str) -> None:
    answers = iter(words)
    monkeypatch.setattr("getpass.getpass", lambda _: next(answers))


def test_a_password_is_kept_changed_and_forgotten(
    data: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    typing(monkeypatch, PASSWORD, PASSWORD, "another long one", "another long one", "first long one", "second long one")
    assert main(["password", "--data", str(data)]) == 0
    first = told_hash(data)
    assert main(["password", "--data", str(data)]) == 0
    second = told_hash(data)
    assert first is not None
    assert second is not None
    assert accounts.epoch_of(first) != accounts.epoch_of(second)
    assert main(["password", "--data", str(data)]) == 2
    assert "the two differ" in capsys.readouterr().err
    assert told_hash(data) == second
    assert main(["password", "--remove", "--data", str(data)]) == 0
    assert told_hash(data) is None
    assert PASSWORD not in capsys.readouterr().out


def test_printing_a_hash_keeps_nothing(
    data: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    typing(monkeypatch, PASSWORD, PASSWORD)
    assert main(["password", "--print", "--data", str(data)]) == 0
    assert capsys.readouterr().out.startswith("scrypt:")
    assert told_hash(data) is None


def test_nobody_listens_beyond_this_machine_without_a_password(
    data: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv(PASSWORD_VARIABLE, raising=False)
    assert main(["serve", "--host", "0.0.0.0", "--data", str(data)]) == 2
    error = capsys.readouterr().err
    assert "no password is set; set one with 'swardwright password'" in error
    assert len(error.strip().splitlines()) == 1


@contextmanager
def serving(*told: str) -> Iterator[int]:
    """The app served by its own process, on some port."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = int(probe.getsockname()[1])
    command = [sys.executable, "-m", "app", "serve", "--port", str(port), *told]
    around = {key: value for key, value in os.environ.items() if key not in (PASSWORD_VARIABLE, DATABASE_VARIABLE)}
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, cwd=ROOT, env=around) as started:
        assert started.stdout is not None
        try:
            assert "answers at" in started.stdout.readline()
            yield port
        finally:
            started.terminate()


def answered(port: int, path: str) -> tuple[int, str]:
    """Status and body of a call."""
    with socket.create_connection(("127.0.0.1", port), timeout=30) as visitor:
        visitor.sendall(f"GET {path} HTTP/1.0\r\nHost: 127.0.0.1:{port}\r\n\r\n".encode())
        data = b""
        while part := visitor.recv(65536):
            data += part
    head, _, body = data.partition(b"\r\n\r\n")
    return int(head.split()[1]), body.decode()


def test_a_kept_password_opens_to_others_and_guards_while_it_runs(data: Path) -> None:
    store = open_store(data)
    accounts.set_password(store, PASSWORD)
    with serving("--host", "0.0.0.0", "--data", str(data)) as port:
        assert answered(port, "/api/v1/shelf")[0] == 401
        # Forgotten while the app runs: it closes and does not open to everybody.
        accounts.remove_password(store)
        assert answered(port, "/api/v1/shelf")[0] == 403
    store.close()


def test_a_password_set_while_the_app_runs_counts_at_once(data: Path) -> None:
    store = open_store(data)
    with serving("--data", str(data)) as port:
        status, body = answered(port, "/api/v1/shelf")
        assert status == 200
        assert [item["id"] for item in json.loads(body)["products"]] == ["trial-broadleaf-4"]
        accounts.set_password(store, PASSWORD)
        assert answered(port, "/api/v1/shelf")[0] == 401
    store.close()


def test_the_demo_leaves_the_usual_folder_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SWARDWRIGHT_DATA", str(tmp_path / "usual"))
    with serving("--demo") as port:
        assert len(json.loads(answered(port, "/api/v1/shelf")[1])["products"]) > 30
    assert not (tmp_path / "usual").exists()
    assert (tmp_path / "usual-demo" / FILE_NAME).exists()
