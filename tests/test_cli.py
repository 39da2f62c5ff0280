"""The command line: exit codes, one sentence for bad input, one JSON document for programs."""

from __future__ import annotations

import gc
import json
import os
import socket
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from app.cli import build_parser, main
from app.engine.output import as_json
from app.services.advice import recommend
from app.serving import PASSWORD_VARIABLE, allowed_hosts
from app.web import create_app
from tests.conftest import plain

ROOT = Path(__file__).resolve().parent.parent


def _written(tmp_path: Path, data: Any) -> str:
    path = tmp_path / "input.json"
    path.write_text(data if isinstance(data, str) else json.dumps(data), encoding="utf-8")
    return str(path)


def test_recommend_prints_the_same_document_as_the_service(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["recommend", _written(tmp_path, plain()), "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == as_json(recommend(plain()))


def test_the_command_line_and_the_api_print_equal_documents(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    program = {
        "applications": [{"actives": [{"active": "triclopyr", "rate": {"value": 1.0, "unit": "lb ae/acre"}}]}],
    }
    stated = {"situation": plain(), "program": program, "days_after": 28}
    asked = {"situation": plain(), "actives": ["atrazine"]}
    # The command, what its file holds, and what the call of the same name takes.
    cases: list[tuple[list[str], Any, Any]] = [
        (["recommend"], plain(), plain()),
        (["why-not", "--active", "atrazine"], plain(), asked),
        (["expect"], stated, stated),
    ]
    client = create_app(allowed_hosts=frozenset({"localhost"}), testing=True).test_client()
    for arguments, held, body in cases:
        assert main([*arguments, _written(tmp_path, held), "--json"]) == 0
        answered = client.post(f"/api/v1/{arguments[0]}", json=body)
        assert answered.status_code == 200
        assert json.loads(capsys.readouterr().out) == answered.get_json()
    assert main(["answer", "wild violet", "--month", "5", "--turf", "tall-fescue", "--json"]) == 0
    answered = client.get("/api/v1/answer?weed=wild%20violet&month=5&turf=tall-fescue")
    assert json.loads(capsys.readouterr().out) == answered.get_json()


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (
            ["answer", "creeping charlie", "--month", "10"],
            ["Understood as ground ivy", "triclopyr", "Turned down", "label is the law"],
        ),
        (["answer", "wild voilet", "--turf", "tall-fescue", "--month", "5"], ["wild violet", "likely", "% control"]),
        (["recommend", "demo_data/crabgrass-tillered.json"], ["quinclorac", "score"]),
        (["why-not", "demo_data/wild-violet-summer.json", "--active", "dicamba"], ["not here", "[stop]"]),
        (["why-not", "demo_data/wild-violet-summer.json", "--active", "triclopyr"], ["ranks 1"]),
        (["expect", "demo_data/wild-violet-program.json"], ["Expected control 28 days", "wild violet"]),
        (["knowledge", "coverage"], ["weeds", "published"]),
        (["knowledge", "check"], ["No problem found"]),
        (["knowledge", "show", "actives", "triclopyr"], ["triclopyr-tea", "sources"]),
    ],
)
def test_text_for_people(arguments: list[str], words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(arguments) == 0
    text = capsys.readouterr().out
    for word in words:
        assert word in text
    if arguments[0] != "knowledge":
        assert max(len(line) for line in text.splitlines()) <= 80


@pytest.mark.parametrize(
    ("data", "said"),
    [
        ("{", "not JSON at line 1"),
        ('{"a": 1, "a": 2}', "a: stands twice"),
        ('{"date": NaN}', "NaN is no JSON number"),
        ("[]", "must be a JSON object"),
        (plain(turf=["tal-fescue"]), "tall-fescue"),
        (plain(targets=[]), "targets: must name at least 1"),
        (plain(colour="green"), "colour: is not a known key"),
        (plain(targets=[{"weed": "wild-violet", "cover_pct": float("inf")}]), "Infinity is no JSON number"),
        (plain(date="2027-02-30"), "date: '2027-02-30' is no day of the calendar"),
        (plain(date="1850-01-01"), "the year must lie between 2000 and 2100"),
        (plain(carrier={"value": -5, "unit": "gal/acre"}), "carrier.value"),
        (plain(carrier={"value": 5, "unit": "bucket"}), "unit 'bucket' is not known"),
        (plain(carrier={"value": 5, "unit": "lb/acre"}), "does not belong here"),
        ("x" * (1024 * 1024 + 1), "larger than 1024 KiB"),
        ("[" * 100_000, "nested too deep"),
    ],
)
def test_bad_input_is_one_sentence_and_exit_code_2(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], data: Any, said: str
) -> None:
    assert main(["recommend", _written(tmp_path, data)]) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert said in printed.err
    assert len(printed.err.strip().splitlines()) == 1


@pytest.mark.parametrize(
    "arguments",
    [
        ["recommend", "nowhere.json"],
        ["answer", "zzzzzz"],
        ["answer", "dandelion", "--turf", "lawn"],
        ["answer", "dandelion", "--month", "13"],
        ["answer", "dandelion", "--stage", "heading"],
        ["knowledge", "show", "weeds", "dandelio"],
        ["knowledge", "show", "gossip", "x"],
        ["why-not", "demo_data/wild-violet-summer.json", "--active", "dicambra"],
        ["serve", "--host", "0.0.0.0"],
        ["serve", "--port", "0"],
        ["serve", "--data", "pyproject.toml"],
        ["answer", ""],
        ["answer", "dandelion\udcff"],
    ],
)
def test_what_cannot_be_done_exits_2(
    arguments: list[str], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("SWARDWRIGHT_PASSWORD_HASH", raising=False)
    assert main(arguments) == 2
    assert capsys.readouterr().err.startswith("swardwright: ")


def test_the_program_runs_by_itself_and_reads_standard_input() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "app", "recommend", "-", "--json", "--top", "1"],
        input=json.dumps(plain()),
        capture_output=True,
        text=True,
        cwd=ROOT,
        check=True,
    )
    assert len(json.loads(done.stdout)["ranked"]) == 1
    assert done.stderr == ""


def test_equal_input_gives_equal_bytes_in_another_process(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = _written(tmp_path, plain())
    assert main(["recommend", path, "--json"]) == 0
    here = capsys.readouterr().out
    command = [sys.executable, "-m", "app", "recommend", path, "--json"]
    there = subprocess.run(
        command,
        capture_output=True,
        text=True,
        cwd=ROOT,
        check=True,
        env={"PYTHONHASHSEED": "7", "HOME": str(tmp_path)},
    )
    assert there.stdout == here


def test_top_does_not_hide_options_of_another_shape(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["recommend", _written(tmp_path, plain(options="all")), "--top", "3"]) == 2
    assert "options" in capsys.readouterr().err


@pytest.mark.parametrize(
    "arguments",
    [
        [],
        ["guess"],
        ["recommend"],
        ["recommend", "x.json", "--top", "many"],
        ["why-not", "x.json"],
        ["answer", "dandelion", "--month", "may"],
        ["knowledge"],
        ["serve", "--port", "eighty"],
    ],
)
def test_a_command_that_cannot_be_read_is_one_sentence_and_exit_code_2(
    arguments: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as stopped:
        main(arguments)
    printed = capsys.readouterr()
    assert stopped.value.code == 2
    assert printed.out == ""
    assert len(printed.err.strip().splitlines()) == 1
    assert "--help" in printed.err


@pytest.mark.parametrize(
    "command", [[], ["serve"], ["recommend"], ["why-not"], ["expect"], ["answer"], ["knowledge"], ["password"]]
)
def test_help_teaches_with_examples(command: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stopped:
        build_parser().parse_args([*command, "--help"])
    text = capsys.readouterr().out
    assert stopped.value.code == 0
    assert "examples:" in text
    assert f"swardwright {' '.join(command)}".strip() in text


def test_version_is_printed(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stopped:
        main(["--version"])
    assert stopped.value.code == 0
    assert capsys.readouterr().out.startswith("swardwright ")


def test_a_quick_answer_loads_no_web_server_no_database_and_no_unit_library(tmp_path: Path) -> None:
    code = (
        "import sys; from app.cli import main; main(['answer', 'dandelion', '--json']); "
        "unasked = {'flask', 'sqlalchemy', 'alembic', 'waitress', 'jinja2', 'pint'} & set(sys.modules); "
        "print(sorted(unasked), file=sys.stderr)"
    )
    # Nothing was ever kept in this folder, and asking keeps nothing there.
    told = {**os.environ, "SWARDWRIGHT_DATA": str(tmp_path / "none")}
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT, check=True, env=told)
    assert done.stderr.strip() == "[]"
    assert list(tmp_path.iterdir()) == []


def test_garbage_is_collected_again_after_a_command() -> None:
    assert main(["answer", "zzzzzz"]) == 2
    assert gc.isenabled()


def test_a_reader_that_closes_early_is_no_fault() -> None:
    command = [sys.executable, "-m", "app", "answer", "dandelion"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=ROOT) as started:
        assert started.stdout is not None
        assert started.stderr is not None
        started.stdout.close()
        assert started.stderr.read() == b""
        assert started.wait(timeout=60) == 0


@pytest.mark.parametrize("wanted", [["--json"], []])
def test_a_terminal_of_few_letters_still_gets_the_answer(tmp_path: Path, wanted: list[str]) -> None:
    rule = {"kind": "ban-active", "active": "dicamba", "note": "Gemeinde Übersee"}
    done = subprocess.run(
        [sys.executable, "-m", "app", "recommend", _written(tmp_path, plain(local_rules=[rule])), *wanted],
        capture_output=True,
        cwd=ROOT,
        check=True,
        env={**os.environ, "PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"},
    )
    if wanted:
        assert json.loads(done.stdout.decode("utf-8"))["situation"]["local_rules"][0]["note"] == "Gemeinde Übersee"
    else:
        assert "Gemeinde \\xdcbersee" in done.stdout.decode("ascii")


def _without_password() -> dict[str, str]:
    return {key: value for key, value in os.environ.items() if key != PASSWORD_VARIABLE}


def test_a_port_in_use_is_one_sentence() -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        command = [sys.executable, "-m", "app", "serve", "--port", str(port)]
        done = subprocess.run(command, capture_output=True, text=True, cwd=ROOT, env=_without_password(), check=False)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.startswith(f"swardwright: --port: 127.0.0.1:{port} cannot be listened on")
    assert len(done.stderr.strip().splitlines()) == 1


def test_a_hash_spoilt_by_the_shell_is_refused(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(PASSWORD_VARIABLE, "scrypt:32768:8:1")
    assert main(["serve", "--host", "0.0.0.0"]) == 2
    assert "holds no hash" in capsys.readouterr().err


def test_an_address_that_is_none_is_refused(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def unknown(*_: object, **__: object) -> None:
        raise socket.gaierror(-2, "Name or service not known")

    monkeypatch.setenv(PASSWORD_VARIABLE, "scrypt:32768:8:1$salt$hash")
    monkeypatch.setattr(socket, "getaddrinfo", unknown)
    assert main(["serve", "--host", "no-such-host.invalid"]) == 2
    assert "'no-such-host.invalid' is no address of this machine" in capsys.readouterr().err


def test_hosts_that_are_answered(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(socket, "gethostname", lambda: "shed")
    monkeypatch.setattr(socket, "getaddrinfo", lambda *_, **__: [(0, 0, 0, "", ("192.0.2.7", 0))])
    assert allowed_hosts("127.0.0.1", 8137) == {"127.0.0.1:8137", "localhost:8137", "[::1]:8137"}
    assert allowed_hosts("192.0.2.7", 80) == {"192.0.2.7:80", "192.0.2.7", "shed:80", "shed"}
    assert {"shed:9000", "192.0.2.7:9000", "localhost:9000"} <= allowed_hosts("0.0.0.0", 9000)
    assert "[2001:db8::1]:9000" in allowed_hosts("2001:db8::1", 9000)


@pytest.mark.parametrize(
    ("typed", "code", "said"),
    [
        (("long enough now", "long enough now"), 0, ""),
        (("short", "short"), 2, "10 to 200 characters"),
        (("long enough now", "long enough then"), 2, "the two differ"),
        ((), 2, "was not typed"),
    ],
)
def test_a_password_is_asked_twice(
    typed: tuple[str, ...],
    code: int,
    said: str,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    answers = iter(typed)

    def ask(_: str) -> str:
        try:
            return next(answers)
        except StopIteration as error:
            raise EOFError from error

    monkeypatch.setattr("getpass.getpass", ask)
    assert main(["password", "--print"]) == code
    printed = capsys.readouterr()
    assert said in printed.err
    assert printed.out.count("$") == (2 if code == 0 else 0)


def test_the_demo_serves_says_so_and_refuses_a_huge_body_unread() -> None:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    command = [sys.executable, "-m", "app", "serve", "--demo", "--port", str(port)]
    host = f"Host: 127.0.0.1:{port}\r\n"
    huge = f"POST /api/v1/recommend HTTP/1.0\r\n{host}Content-Length: 20000000\r\n\r\n"
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, cwd=ROOT, env=_without_password()) as started:
        assert started.stdout is not None
        try:
            line = started.stdout.readline()
            first = _answer_to(port, f"GET /api/v1/health HTTP/1.0\r\n{host}\r\n")
            shelf = _answer_to(port, f"GET /api/v1/shelf/larkmere-amine HTTP/1.0\r\n{host}\r\n")
            refused = _answer_to(port, huge)
        finally:
            started.terminate()
    assert f"http://127.0.0.1:{port}/" in line
    assert "example question filled in" in line
    assert first == shelf == b"HTTP/1.0 200"
    assert refused == b"HTTP/1.0 413"


def _answer_to(port: int, request: str) -> bytes:
    with socket.create_connection(("127.0.0.1", port), timeout=30) as visitor:
        visitor.sendall(request.encode())
        return visitor.recv(12)


def test_calibrate_prints_its_figures_and_one_document(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["knowledge", "calibrate", "--worst", "2"]) == 0
    text = capsys.readouterr().out
    assert "inside the band" in text
    assert "worst misses" in text
    assert main(["knowledge", "calibrate", "--json", "--worst", "0"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["results"] > 100
    assert document["worst"] == []
    assert main(["knowledge", "calibrate", "--worst", "-1"]) == 2
    assert "worst" in capsys.readouterr().err


def test_matrix_prints_lists_and_one_document(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["knowledge", "matrix", "--turf", "tall-fescue", "--month", "5"]) == 0
    assert "not allowed here" in capsys.readouterr().out
    assert main(["knowledge", "matrix", "--turf", "tall-fescue", "--month", "5", "--before-emergence", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["purpose"] == "before-emergence"
    assert main(["knowledge", "matrix", "--turf", "astroturf"]) == 2
    assert "turf" in capsys.readouterr().err
    assert main(["knowledge", "matrix", "--turf", "tall-fescue", "--month", "0"]) == 2
    assert "month" in capsys.readouterr().err


def test_identify_narrows_and_names_what_is_wrong(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["identify", "--seen", "leaf-form=three-leaflets", "--json"]) == 0
    assert any(c["weed"] == "white-clover" for c in json.loads(capsys.readouterr().out)["possible"])
    assert main(["identify", "--month", "7", "--zone", "cool-humid"]) == 0
    assert "weeds fit" in capsys.readouterr().out
    for wrong in (["--seen", "habit"], ["--seen", "habit=mat", "--seen", "habit=mat"], ["--month", "13"]):
        assert main(["identify", *wrong]) == 2
        assert capsys.readouterr().err
