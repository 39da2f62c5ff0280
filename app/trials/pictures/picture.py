"""A picture: its title, its sentence for those who cannot see it, and its bytes."""

from __future__ import annotations

import io
import re
import threading
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib.figure import Figure

# The library's settings belong to the whole process, and a server draws in many threads: one at a time.
_DRAWING = threading.Lock()
_OURS: dict[Any, Any] = {
    "font.family": ["DejaVu Serif", "DejaVu Sans"],
    "text.hinting": "none",
    "svg.fonttype": "path",
    "svg.hashsalt": "sward",
    "path.simplify": False,
}
# Settings of windows and folders, which no picture needs.
_NOT_OF_PICTURES = ("backend", "interactive", "toolbar", "webagg", "savefig.directory", "keymap", "datapath")
# Both name addresses that an image has no need of.
_ADDRESSES = re.compile(rb"<!DOCTYPE[^>]*>\s*|<metadata>.*?</metadata>\s*", re.DOTALL)
# A page that allows no style written into a document shows it all the same where it is told by attributes.
_STYLE = re.compile(rb' style="([^"]*)"')
_RULE = re.compile(rb"<style[^>]*>.*?</style>\s*", re.DOTALL)
_ROOT = b'<svg stroke-linejoin="round" stroke-linecap="butt" '


def _attributes(style: re.Match[bytes]) -> bytes:
    """A style as attributes of the same names."""
    told = [part.split(b":", 1) for part in style[1].split(b";") if part.strip()]
    return b"".join(b' %s="%s"' % (key.strip(), value.strip()) for key, value in told)


@contextmanager
def _settings() -> Iterator[None]:
    """The library's own defaults and ours over them, whatever the machine has set; put back afterwards."""
    import matplotlib

    with _DRAWING, matplotlib.rc_context(), warnings.catch_warnings():
        # A sign that the faces lack is drawn as a box; the rest of the picture is as good as ever.
        warnings.filterwarnings("ignore", message="Glyph .* missing from font")
        defaults: dict[Any, Any] = dict(matplotlib.rcParamsDefault)
        plain = {key: value for key, value in defaults.items() if not key.startswith(_NOT_OF_PICTURES)}
        matplotlib.rcParams.update(plain | _OURS)
        yield


@dataclass(frozen=True)
class Picture:
    """A picture of a trial.

    Attributes
    ----------
    title : str
        What it shows.
    alt : str
        One sentence for a screen reader, from the figures shown.
    draw : callable
        Draws it; called anew for each form, so that a picture keeps no state.
    draw_narrow : callable, optional
        Draws it for a phone: a narrow sheet with letters of the same size. Without it there is the one sheet only.
    """

    title: str
    alt: str
    draw: Callable[[], Figure] = field(repr=False, compare=False)
    draw_narrow: Callable[[], Figure] | None = field(default=None, repr=False, compare=False)

    def figure(self, *, narrow: bool = False) -> Figure:
        """The picture as drawn, before it is made bytes."""
        with _settings():
            return self._drawn(narrow)

    def _drawn(self, narrow: bool) -> Figure:
        return self.draw_narrow() if narrow and self.draw_narrow is not None else self.draw()

    def svg(self, *, narrow: bool = False) -> bytes:
        """SVG with its text as outlines, so that it looks the same everywhere; equal input gives equal bytes."""
        out = io.BytesIO()
        with _settings():
            self._drawn(narrow).savefig(
                out, format="svg", metadata={"Date": None, "Creator": None, "Title": self.title}
            )
        bare = _ADDRESSES.sub(b"", out.getvalue(), count=2)
        return _STYLE.sub(_attributes, _RULE.sub(b"", bare)).replace(b"<svg ", _ROOT, 1)

    def png(self) -> bytes:
        """PNG, 1600 pixels wide; equal input gives equal bytes."""
        out = io.BytesIO()
        with _settings():
            self.draw().savefig(out, format="png", metadata={"Software": None})
        return out.getvalue()
