"""Paper, inks and sheet shared by all pictures. Lengths are pixels of a sheet 1600 wide, or 720 for a phone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.text import Text

# The tokens of the style sheet of the pages; a test holds the two together.
PAPER, INK, INK_2, LINE = "#f7f3e8", "#1d2a1f", "#48543f", "#c9c2ad"
MOSS, OCHRE, CLAY, BAR = "#3d5a2a", "#9a5b00", "#96361d", "#8ea377"

WIDTH, LEAST_HEIGHT, MARGIN = 1600.0, 900.0, 64.0
# Half of it fills a phone, so that letters of the same size can be read there.
NARROW, NARROW_MARGIN = 720.0, 28.0
TITLE, UNDER, LABEL, SMALL = 40.0, 25.0, 24.0, 20.0
LEADING = 1.28
# Beyond this a picture can no longer be read; what is left out is said.
MOST_DRAWN = 40
_DPI = 100

Across = Literal["left", "center", "right"]


def plain(text: str) -> str:
    """A name on one line, without characters that have no shape."""
    return " ".join("".join(letter if letter.isprintable() else " " for letter in text).split())


def opened(text: str) -> str:
    """A text with its first letter large."""
    return text[:1].upper() + text[1:]


def points(size: float) -> float:
    """A size in pixels as points."""
    return size * 72 / _DPI


@lru_cache(maxsize=8192)
def width_of(text: str, size: float = LABEL, bold: bool = False) -> float:
    """How wide a line of text runs."""
    from matplotlib.backends.backend_agg import RendererAgg
    from matplotlib.font_manager import FontProperties

    face = FontProperties(size=points(size), weight="bold" if bold else "normal")
    renderer = RendererAgg(1, 1, _DPI)  # type: ignore[no-untyped-call]
    wide, _, _ = renderer.get_text_width_height_descent(text, face, ismath=False)  # type: ignore[no-untyped-call]
    return float(wide)


def wrapped(text: str, width: float, size: float = LABEL, bold: bool = False) -> tuple[str, ...]:
    """A text in lines no wider than told; a word that is too long by itself is broken, a figure never from its sign."""
    lines: list[str] = []
    line = ""
    for word in plain(text).replace(" %", "\u00a0%").split(" "):
        longer = f"{line} {word}" if line else word
        if width_of(longer, size, bold) <= width:
            line = longer
            continue
        if line:
            lines.append(line)
        line = word
        while width_of(line, size, bold) > width:
            fits = next(count for count in range(len(line) - 1, 0, -1) if _fits(line[:count], width, size, bold))
            lines.append(line[:fits])
            line = line[fits:]
    return (*lines, line)


def _fits(text: str, width: float, size: float, bold: bool) -> bool:
    return len(text) == 1 or width_of(text, size, bold) <= width


def tall(lines: Sequence[str], size: float = LABEL) -> float:
    """How tall some lines stand."""
    return len(lines) * size * LEADING


def margin_of(width: float) -> float:
    """What stays free at the sides of a sheet."""
    return MARGIN if width > NARROW else NARROW_MARGIN


@dataclass(frozen=True)
class Sheet:
    """A sheet with its head and foot written; the picture goes between `top` and `top + height`."""

    figure: Figure
    top: float
    height: float
    total: float
    width: float = WIDTH

    @property
    def margin(self) -> float:
        """What stays free at the sides."""
        return margin_of(self.width)

    def axes(self, left: float, top: float, width: float, height: float) -> Axes:
        """Bare axes at a place of the sheet, measured from its upper left corner."""
        place = (left / self.width, 1 - (top + height) / self.total, width / self.width, height / self.total)
        axes = self.figure.add_axes(place)
        axes.set_axis_off()
        return axes


def say(
    axes: Axes,
    x: float,
    y: float,
    text: str,
    *,
    size: float = LABEL,
    ink: str = INK,
    bold: bool = False,
    across: Across = "left",
    row: float = 0.0,
    upward: bool = False,
) -> Text:
    """A line of text at a point of the axes, taken as written: no sign in a name is read as a formula.

    Parameters
    ----------
    row : float
        How many lines below the point the middle of the text stands: a half hangs it from the point.
    upward : bool
        Whether it runs upward, centered on the point.
    """
    from matplotlib.transforms import ScaledTranslation

    # From one base line whatever the letters, so that texts of a row stand level.
    down = 0.0 if upward else size * (0.36 + LEADING * row) / _DPI
    return axes.text(
        x,
        y,
        plain(text),
        transform=axes.transData + ScaledTranslation(0, -down, axes.figure.dpi_scale_trans),
        fontsize=points(size),
        color=ink,
        fontweight="bold" if bold else "normal",
        ha=across,
        va="center" if upward else "baseline",
        rotation="vertical" if upward else "horizontal",
        bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 1.0},
        parse_math=False,
        zorder=5,
    )


def stacked(
    axes: Axes,
    x: float,
    y: float,
    lines: Sequence[str],
    *,
    size: float = LABEL,
    across: Across = "left",
    ink: str = INK,
) -> None:
    """Lines of text, the whole centered at a point."""
    for index, line in enumerate(lines):
        say(axes, x, y, line, size=size, ink=ink, across=across, row=index - (len(lines) - 1) / 2)


def sheet(title: str, under: Sequence[str], foot: Sequence[str], body: float, width: float = WIDTH) -> Sheet:
    """A sheet with a title, what the picture rests on, and how it is read.

    Parameters
    ----------
    under, foot : sequence of str
        Parts of the line under the title; sentences at the foot. Empty ones are left out.
    body : float
        Height that the picture needs; it gets more where a wide sheet would be flatter than a slide.
    width : float
        How wide the sheet is: `WIDTH`, or `NARROW` for a phone.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    margin = margin_of(width)
    room = width - 2 * margin
    head = wrapped(opened(plain(title)), room, TITLE, bold=True)
    lines = wrapped(" · ".join(plain(part).rstrip(".") for part in under if part), room, UNDER)
    notes = wrapped(" ".join(plain(part) for part in foot if part), room, SMALL)
    top = MARGIN * 0.75 + tall(head, TITLE) + 8 + tall(lines, UNDER) + 32
    below = tall(notes, SMALL) + 32 + MARGIN * 0.6
    height = max(body, LEAST_HEIGHT - top - below) if width > NARROW else body
    total = float(round(top + height + below))
    figure = Figure(figsize=(width / _DPI, total / _DPI), dpi=_DPI, facecolor=PAPER)
    FigureCanvasAgg(figure)
    made = Sheet(figure, top, height, total, width)
    page = made.axes(0, 0, width, total)
    page.set_xlim(0, width)
    page.set_ylim(total, 0)
    y = MARGIN * 0.75
    for line in head:
        say(page, margin, y, line, size=TITLE, bold=True, row=0.5)
        y += TITLE * LEADING
    y += 8
    for line in lines:
        say(page, margin, y, line, size=UNDER, ink=INK_2, row=0.5)
        y += UNDER * LEADING
    y = top + height + 32
    page.plot([margin, margin + 96], [y - 14, y - 14], color=OCHRE, linewidth=2.5, solid_capstyle="butt")
    for line in notes:
        say(page, margin, y, line, size=SMALL, ink=INK_2, row=0.5)
        y += SMALL * LEADING
    return made
