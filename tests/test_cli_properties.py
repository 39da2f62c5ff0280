"""`swardwright properties`: list, show, import and export, with exit codes and one sentence."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from app.services import scouting
from app.store.opening import open_store
from tests.services.test_property_import import FILE, NOTES
from tests.test_cli_shelf import run


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "properties.csv"
    path.write_text(FILE, encoding="utf-8")
    return path


def test_a_file_is_previewed_then_imported_then_unchanged(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, file: Path
) -> None:
    data = ("--data", str(tmp_path / "data"))
    code, out, _ = run(capsys, "properties", "import", str(file), *data)
    assert (code, out) == (
        0,
        "2 new, 0 changed, 0 unchanged: nothing is stored yet; --confirm imports the properties\n",
    )
    assert run(capsys, "properties", "list", *data)[1].startswith("No property is found")
    assert "imported" in run(capsys, "properties", "import", str(file), "--confirm", *data)[1]
    code, out, _ = run(capsys, "properties", "list", *data)
    assert [line.split()[0] for line in out.splitlines()] == ["elm-3", "12-mill-lane", "2"]
    told = json.loads(run(capsys, "properties", "list", "--search", "fenn", "--json", *data)[1])
    assert [item["id"] for item in told["properties"]] == ["12-mill-lane"]
    exported = tmp_path / "out.csv"
    assert run(capsys, "properties", "export", str(exported), *data)[0] == 0
    answer = json.loads(run(capsys, "properties", "import", str(exported), "--json", *data)[1])
    assert (answer["unchanged"], answer["new"], answer["changed"], answer["faults"]) == (2, 0, 0, [])


def test_what_changed_is_left_until_it_is_told_to_be_replaced(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, file: Path
) -> None:
    data = ("--data", str(tmp_path / "data"))
    run(capsys, "properties", "import", str(file), "--confirm", *data)
    file.write_text(FILE.replace(",Jo,", ",Di,"), encoding="utf-8")
    code, out, _ = run(capsys, "properties", "import", str(file), "--confirm", *data)
    assert code == 0
    assert "changed: 12 Mill Lane (technician)" in out
    assert "1 left as kept (--replace replaces them)" in out
    assert "1 replaced" in run(capsys, "properties", "import", str(file), "--confirm", "--replace", *data)[1]
    assert "technician: Di" in run(capsys, "properties", "show", "12-mill-lane", *data)[1]


def test_a_property_is_shown_with_what_is_missing_and_its_notes(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, file: Path
) -> None:
    data = ("--data", str(tmp_path / "data"))
    run(capsys, "properties", "import", str(file), "--confirm", *data)
    notes = tmp_path / "notes.csv"
    notes.write_text(NOTES, encoding="utf-8")
    assert "2 new" in run(capsys, "properties", "notes", "import", str(notes), "--confirm", *data)[1]
    code, out, _ = run(capsys, "properties", "show", "elm-3", *data)
    assert code == 0
    assert "Lawn: the use of the turf is not told" in out
    assert "dandelion on Lawn: stage not told, seen 2027-06-02 by Sam" in out
    told = json.loads(run(capsys, "properties", "show", "elm-3", "--json", *data)[1])
    assert [item["path"] for item in told["missing"]] == ["areas.0.site_use"]
    assert told["notes"][0]["note"]["weed"] == "dandelion"
    assert "ground ivy on front" in run(capsys, "properties", "notes", "list", "12-mill-lane", *data)[1]
    exported = tmp_path / "out.csv"
    assert run(capsys, "properties", "notes", "export", str(exported), *data)[0] == 0
    assert "2 unchanged" in run(capsys, "properties", "notes", "import", str(exported), *data)[1]
    store = open_store(tmp_path / "data")
    assert len(scouting.notes_of(store, "12-mill-lane")) == 1
    store.close()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("show", "not-there"), "'not-there' is no property that is kept"),
        (("list", "--page", "x"), "page: 'x' is no page"),
        (("import", "{file}", "--columns", "technician"), "'technician' is no column; write NAME=HEADING"),
        (("import", "{file}", "--columns", "technician=Truck"), "no heading of the file is 'Truck'"),
        (("import", "{file}.not"), "cannot be read"),
        (("import", "{bad}", "--confirm"), "line 3, grass: 'KBX' is no known turf"),
        (("notes", "import", "{file}"), "no column is found for weed"),
        (("export", "{file}/no/such"), "cannot be written"),
    ],
)
def test_bad_input_ends_with_two_and_a_sentence(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, file: Path, words: tuple[str, ...], said: str
) -> None:
    bad = tmp_path / "bad.csv"
    bad.write_text(FILE.replace("KBG", "KBX"), encoding="utf-8")
    told = [word.format(file=file, bad=bad) for word in words]
    code, out, err = run(capsys, "properties", *told, "--data", str(tmp_path / "data"))
    assert code == 2
    assert said in err
    assert len(err.splitlines()) == 1
    assert out == ""
