"""What a drawn picture holds, and whether its texts have room."""

from __future__ import annotations

from itertools import combinations

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text
from matplotlib.transforms import Bbox

from app.trials.pictures import Picture


def texts(figure: Figure) -> list[Text]:
    """The texts that are seen."""
    return [text for text in figure.findobj(Text) if isinstance(text, Text) and text.get_text() and text.get_visible()]


def words(picture: Picture, *, narrow: bool = False) -> str:
    """All text of a picture, for looking things up."""
    return " ".join(text.get_text() for text in texts(picture.figure(narrow=narrow)))


def places(picture: Picture, *, narrow: bool = False) -> tuple[Bbox, list[tuple[str, Bbox]]]:
    """The paper, and where each text stands on it [pixels]."""
    figure = picture.figure(narrow=narrow)
    renderer = FigureCanvasAgg(figure).get_renderer()
    found = [(text.get_text(), text.get_window_extent(renderer)) for text in texts(figure) if in_sight(text)]
    return figure.bbox, found


def in_sight(text: Text) -> bool:
    """Whether the axes of a text are shown: those of the picture hide their own ticks."""
    return text.axes is None or text in text.axes.texts


def overlapping(found: list[tuple[str, Bbox]]) -> list[tuple[str, str]]:
    """Pairs of texts that lie on one another."""
    return [
        (one, other)
        for (one, a), (other, b) in combinations(found, 2)
        if min(a.x1, b.x1) - max(a.x0, b.x0) > 0.5 and min(a.y1, b.y1) - max(a.y0, b.y0) > 0.5
    ]
