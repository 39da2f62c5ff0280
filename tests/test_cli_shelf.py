"""`swardwright shelf`: list, show, import and export, with exit codes and one sentence."""

from __future__ import annotations

import io
import json
import sys
from pathlib import Path

import pytest

from app.cli import main
from app.services import shelf
from app.store.opening import open_store
from tests.services.test_shelf_csv import CELLS, HEADINGS, sheet


def run(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    """Exit code, standard output and standard error."""
    code = main(list(words))
    told = capsys.readouterr()
    return code, told.out, told.err


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "products.csv"
    path.write_text(sheet(CELLS, {**CELLS, "name": "Trial Broadleaf 5", "stock": "3 gal"}), encoding="utf-8")
    return path


def test_a_file_is_previewed_then_imported_then_unchanged(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, file: Path
) -> None:
    data = ("--data", str(tmp_path / "data"))
    assert run(capsys, "shelf", "list", *data)[1].startswith("The shelf is empty")
    code, out, _ = run(capsys, "shelf", "import", str(file), *data)
    assert code == 0
    assert "2 new, 0 changed, 0 unchanged: nothing is stored yet" in out
    assert run(capsys, "shelf", "list", *data)[1].startswith("The shelf is empty")
    assert "imported" in run(capsys, "shelf", "import", str(file), "--confirm", *data)[1]
    code, out, _ = run(capsys, "shelf", "list", *data)
    assert [line.split()[0] for line in out.splitlines()] == ["trial-broadleaf-4", "trial-broadleaf-5"]
    assert "3 gal" in out
    exported = tmp_path / "out.csv"
    assert run(capsys, "shelf", "export", str(exported), *data)[0] == 0
    answer = json.loads(run(capsys, "shelf", "import", str(exported), "--json", *data)[1])
    assert (answer["unchanged"], answer["new"], answer["changed"], answer["bad"]) == (2, 0, 0, 0)


def test_a_product_is_shown_with_what_it_brings(capsys: pytest.CaptureFixture[str], tmp_path: Path, file: Path) -> None:
    data = ("--data", str(tmp_path / "data"))
    run(capsys, "shelf", "import", str(file), "--confirm", *data)
    code, out, _ = run(capsys, "shelf", "show", "trial-broadleaf-4", *data)
    assert code == 0
    # 1.1 fl oz/1000 ft2 is 47.916 fl oz/acre; at 2.5 lb ae/gal (128 fl oz) 0.936 lb ae/acre.
    assert "2-4-d 0.936 to 1.28 lb ae/acre" in out
    told = json.loads(run(capsys, "shelf", "show", "trial-broadleaf-4", "--json", *data)[1])
    assert told["product"]["name"] == "Trial Broadleaf 4"
    code, out, err = run(capsys, "shelf", "show", "trial-broadleef-4", *data)
    assert (code, out) == (2, "")
    assert "nearest: trial-broadleaf-4" in err


def test_bad_rows_end_with_two_and_store_nothing(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    data = ("--data", str(tmp_path / "data"))
    bad = tmp_path / "bad.csv"
    bad.write_text(sheet(CELLS, {**CELLS, "name": "Bad", "packs": "0 gal"}), encoding="utf-8")
    code, out, _ = run(capsys, "shelf", "import", str(bad), *data)
    assert code == 0
    assert "line 3, Bad: packs: part 1: the size of a pack must be more than zero" in out
    code, out, err = run(capsys, "shelf", "import", str(bad), "--confirm", *data)
    assert (code, out) == (2, "")
    assert len(err.splitlines()) == 1
    store = open_store(tmp_path / "data")
    assert shelf.shelf_products(store) == ()
    store.close()
    code, out, _ = run(capsys, "shelf", "import", str(bad), "--confirm", "--leave-out-bad", *data)
    assert code == 0
    assert "1 that cannot be used and were left out" in out


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (sheet(CELLS).encode("utf-16"), "UTF-16"),
        (sheet({**CELLS, "notes": "Grün"}).encode("latin-1"), "not UTF-8"),
        ((",".join(HEADINGS) + "\n" + "x\n" * 50_000).encode(), "more than 10,000 rows"),
    ],
)
def test_a_file_that_cannot_be_used_ends_with_two(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, data: bytes, words: str
) -> None:
    path = tmp_path / "file.csv"
    path.write_bytes(data)
    code, out, err = run(capsys, "shelf", "import", str(path), "--confirm", "--data", str(tmp_path / "data"))
    assert (code, out) == (2, "")
    assert words in err
    assert len(err.splitlines()) == 1


def test_files_that_are_not_there_end_with_two(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    data = ("--data", str(tmp_path / "data"))
    assert "cannot be read" in run(capsys, "shelf", "import", str(tmp_path / "none.csv"), *data)[2]
    assert "cannot be written" in run(capsys, "shelf", "export", str(tmp_path / "no" / "x.csv"), *data)[2]


def test_standard_input_and_output_serve(
    capsysbinary: pytest.CaptureFixture[bytes], tmp_path: Path, file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    data = ("--data", str(tmp_path / "data"))
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(file.read_bytes())))
    assert main(["shelf", "import", "-", "--confirm", *data]) == 0
    capsysbinary.readouterr()
    assert main(["shelf", "export", *data]) == 0
    assert capsysbinary.readouterr().out.decode("utf-8-sig").startswith("id,name,kind")
