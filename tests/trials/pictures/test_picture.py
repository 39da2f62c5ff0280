"""What every picture keeps: its forms, its bytes, its room, its inks."""

from __future__ import annotations

import io
import re
import subprocess
import sys
import threading
import xml.etree.ElementTree as Tree
from collections import Counter
from pathlib import Path

import matplotlib as mpl
import pytest
from PIL import Image

import app.web
from app.trials.pictures import Picture, bars, course, dose, forest, paper
from tests.trials.pictures import made
from tests.trials.pictures.seen import overlapping, places, texts, words

WHERE = ("white clover", "Larkmere North Tee", 28)
PICTURES = {
    "bars of 2": lambda: bars(made.analysis(2)),
    "bars of 5 with two sets of letters": lambda: bars(made.analysis(5, hsd="ab")),
    "bars of 8, long names, back-transformed": lambda: bars(made.analysis(8, long=True, hsd="abcd", arcsine=True)),
    "bars of 16, long names": lambda: bars(made.analysis(16, long=True)),
    "bars of 40, long names": lambda: bars(made.analysis(40, long=True)),
    "course of 1": lambda: course(made.course(1)),
    "course of 2, long names": lambda: course(made.course(2, long=True)),
    "course of 8": lambda: course(made.course(8), "Randomised complete blocks: all."),
    "course of 16, long names": lambda: course(made.course(16, long=True)),
    "course of 40, long names": lambda: course(made.course(40, long=True)),
    "dose": lambda: dose(made.dose(), *WHERE, alpha=0.05),
    "dose past the rates": lambda: dose(made.dose(wide=True), *WHERE),
    "dose without curve": lambda: dose(made.dose(fitted=False), *WHERE),
    "forest of 2": lambda: forest(made.synthesis(2)),
    "forest of 9, long names": lambda: forest(made.synthesis(9, long=True)),
    "forest of 40": lambda: forest(made.synthesis(40, difference=False)),
}
EACH = pytest.mark.parametrize("name", PICTURES)
FEW = pytest.mark.parametrize("name", ["bars of 5 with two sets of letters", "course of 8", "dose", "forest of 2"])


@EACH
def test_every_text_lies_on_the_paper_and_none_on_another(name: str) -> None:
    sheet, found = places(PICTURES[name]())
    out = [text for text, box in found if box.x0 < 0 or box.y0 < 0 or box.x1 > sheet.x1 or box.y1 > sheet.y1]
    assert len(found) > 8
    assert out == []
    assert overlapping(found) == []


@pytest.mark.parametrize("name", [name for name in PICTURES if not name.startswith("bars")])
def test_a_narrow_picture_has_letters_of_the_same_size_and_room_for_all_of_them(name: str) -> None:
    picture = PICTURES[name]()
    sheet, found = places(picture, narrow=True)
    assert (sheet.width, places(picture)[0].width) == (paper.NARROW, paper.WIDTH)
    out = [text for text, box in found if box.x0 < 0 or box.y0 < 0 or box.x1 > sheet.x1 or box.y1 > sheet.y1]
    assert out == []
    assert overlapping(found) == []
    sizes = {text.get_fontsize() for text in texts(picture.figure(narrow=True))}
    assert min(sizes) == min(text.get_fontsize() for text in texts(picture.figure()))
    # Lines end elsewhere and an axis may have room for fewer dates, but every other figure is told.
    wide, told = (re.findall(r"\d+", words(picture, narrow=narrow)) for narrow in (False, True))
    lost = Counter(wide) - Counter(told)
    assert sum(lost.values()) <= (2 if name.startswith("course") else 0)
    assert lost.keys() <= {"14", "42"}


def test_a_picture_without_a_narrow_drawing_is_the_same_for_all() -> None:
    picture = PICTURES["bars of 2"]()
    assert picture.svg(narrow=True) == picture.svg()


def test_texts_that_overlap_are_found() -> None:
    _, found = places(PICTURES["dose"]())
    assert overlapping([*found, ("laid over", found[0][1])]) == [(found[0][0], "laid over")]


@FEW
def test_svg_is_sound_and_refers_to_nothing_outside(name: str) -> None:
    picture = PICTURES[name]()
    tree = Tree.fromstring(picture.svg())
    assert tree.tag == "{http://www.w3.org/2000/svg}svg"
    assert tree.findtext("{http://www.w3.org/2000/svg}title") == picture.title
    inside = [value for item in tree.iter() for key, value in item.attrib.items() if key.endswith("href")]
    assert inside
    assert all(value.startswith("#") for value in inside)
    written = "".join(value for item in tree.iter() for value in item.attrib.values())
    assert "http" not in written
    assert "url(" not in written.replace("url(#", "")
    assert tree.find(".//{http://www.w3.org/2000/svg}text") is None, "text must be outlines"
    assert b"DOCTYPE" not in picture.svg()
    # The pages allow no style written into a document, so none may be needed.
    assert all("style" not in item.attrib and not item.tag.endswith("}style") for item in tree.iter())
    assert any(item.get("fill") == paper.PAPER for item in tree.iter())


@FEW
def test_png_is_1600_wide_and_names_no_program_or_date(name: str) -> None:
    with Image.open(io.BytesIO(PICTURES[name]().png())) as image:
        assert image.format == "PNG"
        assert image.width == 1600
        assert image.height >= 900
        assert set(image.info) <= {"dpi"}


@FEW
def test_equal_input_gives_equal_bytes(name: str) -> None:
    first, second = PICTURES[name](), PICTURES[name]()
    assert first == second
    assert first.svg() == second.svg()
    assert first.png() == second.png()


def test_settings_of_the_machine_neither_show_nor_change() -> None:
    plain = PICTURES["dose"]().png()
    with mpl.rc_context({"lines.linewidth": 9.0, "font.size": 30.0, "axes.facecolor": "red", "svg.fonttype": "none"}):
        before = dict(mpl.rcParams)
        assert PICTURES["dose"]().png() == plain
        assert dict(mpl.rcParams) == before


def test_threads_draw_as_one_does() -> None:
    alone = PICTURES["forest of 2"]().svg()
    found: list[bytes] = []
    threads = [threading.Thread(target=lambda: found.append(PICTURES["forest of 2"]().svg())) for _ in range(3)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert found == [alone] * 3


def test_importing_pictures_loads_no_drawing_library() -> None:
    code = "import sys, app.trials.pictures; print(sorted({'matplotlib', 'numpy', 'scipy'} & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_drawing_never_loads_the_stateful_interface() -> None:
    code = (
        "import sys\nfrom app.trials.pictures import dose\nfrom tests.trials.pictures import made\n"
        "dose(made.dose(), 'white clover', 'x', 28).png()\nprint('matplotlib.pyplot' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


def _luminance(ink: str) -> float:
    parts = [int(ink[start : start + 2], 16) / 255 for start in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


@pytest.mark.parametrize("ink", [paper.INK, paper.INK_2, paper.MOSS, paper.OCHRE, paper.CLAY])
def test_inks_stand_out_from_the_paper(ink: str) -> None:
    # Formula and bound of the web's accessibility guidelines (AA, small text); from memory.
    assert (_luminance(paper.PAPER) + 0.05) / (_luminance(ink) + 0.05) >= 4.5


def test_inks_are_those_of_the_pages() -> None:
    sheet = Path(app.web.__file__).with_name("static").joinpath("sward.css").read_text(encoding="utf-8")
    light = sheet[: sheet.index("@media")]
    tokens = {"paper": paper.PAPER, "ink": paper.INK, "ink-2": paper.INK_2, "line": paper.LINE, "bar": paper.BAR}
    tokens |= {"moss": paper.MOSS, "ochre": paper.OCHRE, "clay": paper.CLAY}
    for token, ink in tokens.items():
        assert f"--{token}: {ink};" in light


ODD = "50 % $x_1$ -- <b>&amp; \\frac _^ \u2028 \u0007 " + "w" * 80


@pytest.mark.parametrize(
    "picture",
    [
        lambda: bars(made.analysis(2).model_copy(update={"trial": ODD, "weed_name": ODD})),
        lambda: dose(made.dose(), ODD, ODD, 28),
        lambda: forest(made.synthesis(2).model_copy(update={"question": ODD})),
        lambda: course(made.course(2).model_copy(update={"trial": ODD})),
    ],
)
def test_signs_in_names_are_drawn_as_written(picture: object) -> None:
    assert callable(picture)
    drawn = picture()
    assert isinstance(drawn, Picture)
    Tree.fromstring(drawn.svg())
    assert "$x_1$ -- <b>&amp; \\frac" in words(drawn)
    sheet, found = places(drawn)
    assert all(box.x0 >= 0 and box.x1 <= sheet.x1 for _, box in found)


def test_letters_without_a_shape_in_the_face_do_not_fail() -> None:
    picture = bars(made.analysis(2).model_copy(update={"trial": "芝生 試験"}))
    assert "芝生" in picture.alt
    Tree.fromstring(picture.svg())
    assert picture.png()
