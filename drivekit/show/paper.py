"""The paper that every figure is drawn on: its sizes and ink, its words at head and foot, and how it is kept.

A figure is one function that puts matplotlib's own artists on the body of the paper. Each artist that says something
carries a `gid`, which becomes its element's id in the SVG; `str(picture)` lists all that is drawn, read off them.
Title, subtitle and note stand around the body; a page, which sets those itself, asks for the body alone. The same
picture gives the same bytes.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Container, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from drivekit.show.words import INVENTED

if TYPE_CHECKING:
    from matplotlib.figure import Figure, SubFigure
    from numpy.typing import NDArray

    Floats = Sequence[float] | NDArray[Any]

__all__ = ["HALO", "INK", "MOST_MARKS", "PALE", "SIZES", "Picture", "Size", "ink", "noted", "said", "width", "wrapped"]

INK, PALE = "#22262B", "#5B626B"

STYLES: tuple[tuple[str, tuple[float, ...], str], ...] = (
    ("#0072B2", (), "solid blue"),
    ("#D55E00", (4.5, 1.6), "dashed orange"),
    ("#009E73", (5.0, 1.4, 1.0, 1.4), "dash-dotted green"),
    ("#CC79A7", (1.2, 1.2), "dotted pink"),
    ("#4A4F57", (8.0, 2.0), "long dashes in grey"),
    ("#0072B2", (2.4, 1.2), "short dashes in blue"),
    ("#D55E00", (7.0, 1.3, 1.0, 1.3, 1.0, 1.3), "dash and two dots in orange"),
    ("#009E73", (1.0, 2.2), "sparse dots in green"),
    ("#CC79A7", (3.2, 1.2, 1.2, 1.2), "long and short dashes in pink"),
)
"""Okabe and Ito's blue, vermillion, green and purple, then grey; each with a line style of its own, and in words."""

HALO = {"facecolor": "white", "edgecolor": "none", "alpha": 0.8, "pad": 0.6}
"""The `bbox` of words that stand among curves; a stroke about the letters would turn text into outlines."""

LEADING = 1.32
DOTS = 150
"""Of a PNG, an inch."""

MOST_MARKS = 2000
"""Of one artist that are elements of an SVG each; more would fill megabytes, and are laid into it as one image."""

GLUE = "\N{NO-BREAK SPACE}"
UNIT = re.compile(r"(?<=\d) (?=(?:%|°C|N|lbf|Hz|mm|rpm)(?!\w))")
"""Between a number and its unit, which no line break parts."""


@dataclass(frozen=True, slots=True)
class Size:
    """What one use of a picture asks for: inches of its paper, points of its type and of its lines."""

    name: str  # its key in `SIZES`
    width: float
    height: float | None  # at least; None: as tall as head, body and foot need
    title: float  # the answer
    text: float  # subtitle, axes and names
    small: float  # note, table and counts
    line: float  # curves
    thin: float  # all that is no curve

    @property
    def gap(self) -> float:
        """The unit of white space: the height of the text, in inches."""
        return self.text / 72

    @property
    def room(self) -> float:
        """Inches that a line of words may take between the edges of the paper."""
        # on a screen letters are set on whole pixels, and a little wider
        return 0.965 * (self.width - 1.2 * self.gap)


SIZES = {
    size.name: size
    for size in (
        Size("screen", 7.2, None, 11, 9, 8, 1.7, 0.6),
        Size("slide", 12.8, 7.2, 19, 15, 14, 2.5, 0.9),
        Size("print", 160 / 25.4, None, 9.5, 8, 7, 1.3, 0.5),
        Size("phone", 3.6, None, 10, 8.5, 8, 1.5, 0.6),
    )
}
"""Screen, slide and print; and the width of a phone, so that a page is read there without zooming."""


def ink(place: int) -> dict[str, Any]:
    """Give the colour and line style of the group at a place in the order of groups, as matplotlib takes them."""
    colour, dashes, _ = STYLES[place % len(STYLES)]
    return {"color": colour, "linestyle": (0, dashes) if dashes else "-"}


@lru_cache(maxsize=1024)
def _advance(letter: str) -> float:
    """Give a letter's advance in ems of the figures' font."""
    from matplotlib.font_manager import FontProperties, findfont, get_font

    font = get_font(findfont(FontProperties(family="DejaVu Sans")))
    font.set_size(1000, 72)
    # of a letter that it has not a square is drawn
    return (
        float(font.load_char(ord(letter)).linearHoriAdvance / 65536 / 1000) if font.get_char_index(ord(letter)) else 1.0
    )


def width(text: str, points: float) -> float:
    """Measure one line of text of so many points, in inches, before anything is drawn."""
    return sum(_advance(letter) for letter in text) * points / 72


def wrapped(text: str, room: float, points: float) -> list[str]:
    """Break text between words into lines of so many inches; a word wider than that is broken where it must be."""
    lines: list[str] = []
    for whole in UNIT.sub(GLUE, text).split(" "):
        word = whole
        while width(word, points) > room and len(word) > 1:
            fits = next(end for end in range(len(word) - 1, 0, -1) if end == 1 or width(word[:end], points) <= room)
            lines.append(word[:fits])
            word = word[fits:]
        if lines and width(f"{lines[-1]} {word}", points) <= room:
            lines[-1] += f" {word}"
        elif word:
            lines.append(word)
    return [line.replace(GLUE, " ") for line in lines]


def noted(findings: Mapping[str, Any], *sentences: str) -> str:
    """Join the sentences of a note, empty ones left out; of invented data the last one says that they are."""
    return " ".join(filter(None, (*sentences, INVENTED if findings["log"].get("invented") else "")))


@dataclass(frozen=True, slots=True, eq=False)
class Picture:
    """A figure and its words, drawn anew at each size."""

    name: str  # the stem of its file
    title: str  # the answer, in a sentence; also its alternative text
    subtitle: str  # the estimand, and counts of belts and failures
    note: str  # how to read the marks
    draw: Callable[[SubFigure, Size], None]  # puts axes and artists on the body of the paper, between head and foot
    needs: Callable[[Size], float]  # inches of height that the body needs; on a slide what there is more is given too

    def figure(self, size: str | Size = "screen", *, bare: bool = False) -> Figure:
        """Draw it at one of `SIZES`, by its name, or at another size; bare: without title, subtitle and note.

        It belongs to no window and to no list of open figures.

        Raises
        ------
        ValueError
            If there is no such size.
        """
        from matplotlib.figure import Figure

        at = SIZES.get(size) if isinstance(size, str) else size
        if at is None:
            raise ValueError(f'"{size}" is no size of a figure; the sizes are {", ".join(SIZES)}')
        parts = {
            "title": (self.title, at.title, INK),
            "subtitle": (self.subtitle, at.text, PALE),
            "note": (self.note, at.small, PALE),
        }
        lines = {gid: [] if bare else wrapped(text, at.room, points) for gid, (text, points, _) in parts.items()}
        tall = {gid: len(lines[gid]) * LEADING * points / 72 for gid, (_, points, _) in parts.items()}
        head = 0.0 if bare else 0.9 * at.gap + tall["title"] + tall["subtitle"]
        foot = 0.6 * at.gap if bare else 1.1 * at.gap + tall["note"]
        with _styled():
            high = max(at.height or 0.0, head + self.needs(at) + foot)
            fig = Figure(figsize=(at.width, high))
            edge, top = 0.6 * at.gap, high - 0.6 * at.gap
            tops = {"title": top, "subtitle": top - tall["title"] - 0.3 * at.gap, "note": foot - 0.5 * at.gap}
            look: dict[str, Any] = {"va": "top", "linespacing": LEADING}
            for gid, (_, points, colour) in parts.items():
                if text := "\n".join(lines[gid]):
                    fig.text(edge / at.width, tops[gid] / high, text, size=points, color=colour, gid=gid, **look)
            grid = fig.add_gridspec(3, 1, height_ratios=(head + 1e-9, high - head - foot, foot), hspace=0)
            self.draw(fig.add_subfigure(grid[1]), at)
        return fig

    def svg(self, size: str | Size = "screen", *, bare: bool = False) -> str:
        """Draw as SVG text; parameters as in `figure`. Text stays text."""
        from io import StringIO

        import numpy as np
        from matplotlib.backends.backend_svg import FigureCanvasSVG

        out = StringIO()
        with _styled():
            fig = self.figure(size, bare=bare)
            fig.set_dpi(DOTS)
            for line in (line for axes in fig.axes for line in axes.lines):
                line.set_rasterized(line.get_marker() != "None" and np.size(line.get_xdata()) > MOST_MARKS)
            FigureCanvasSVG(fig).print_svg(out, metadata={"Date": None, "Title": self.title})
        return out.getvalue()

    def png(self, size: str = "screen") -> bytes:
        """Draw as PNG bytes; parameters as in `figure`."""
        from matplotlib.backends.backend_agg import FigureCanvasAgg

        with _styled():
            fig = self.figure(size)
            fig.set_dpi(DOTS)
            canvas = FigureCanvasAgg(fig)
            canvas.draw()
        return _png(canvas.buffer_rgba(), self.title)

    def __str__(self) -> str:
        marks = self.figure(bare=True).findobj(lambda artist: bool(artist.get_gid()))
        each = (f"{mark.get_gid()}: {said(mark)}" for mark in marks)
        return "\n".join((self.title, self.subtitle, *each, self.note))

    def _repr_mimebundle_(self, include: Container[str] | None = None, exclude: object = None) -> dict[str, str]:
        """Give the forms in which a notebook shows it: the text form is what a comparison of stored outputs reads.

        A notebook that was opened but not run is not trusted, and shows the PNG where it would not show the SVG.
        """
        from base64 import b64encode

        forms: dict[str, Callable[[], str]] = {
            "text/plain": self.__str__,
            "image/svg+xml": self.svg,
            "image/png": lambda: b64encode(self.png()).decode("ascii"),
        }
        return {kind: form() for kind, form in forms.items() if include is None or kind in include}


def _png(pixels: Any, title: str) -> bytes:
    """Pack pixels, shape (high, wide, 4), as PNG (W3C, third edition, 2025), with the title in it."""
    import struct
    import zlib

    import numpy as np

    high, wide, _ = pixels.shape
    # wide plain areas pack smaller without the line filters that Pillow puts before its compression, and in a third of
    # the time; the paper is never seen through, so that three channels are enough
    lines = np.zeros((high, 1 + 3 * wide), np.uint8)  # each begins with the number of its filter: 0, none
    lines[:, 1:].reshape(high, wide, 3)[:] = np.asarray(pixels)[..., :3]
    dots_a_metre = round(DOTS / 0.0254)
    chunks = (
        (b"IHDR", struct.pack(">2I5B", wide, high, 8, 2, 0, 0, 0)),
        (b"iTXt", b"Title\0\0\0\0\0" + title.encode()),
        (b"pHYs", struct.pack(">2IB", dots_a_metre, dots_a_metre, 1)),
        (b"IDAT", zlib.compress(lines.tobytes(), 3)),
        (b"IEND", b""),
    )
    packed = (
        struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data)) for kind, data in chunks
    )
    return b"\x89PNG\r\n\x1a\n" + b"".join(packed)


@contextmanager
def _styled() -> Iterator[None]:
    """Draw in the house's style, and leave matplotlib as it was found; within itself it does nothing."""
    import warnings

    import matplotlib

    if matplotlib.rcParams["svg.hashsalt"] == "drivekit":
        yield
        return
    with matplotlib.rc_context(_style()), warnings.catch_warnings():
        warnings.filterwarnings("ignore", "Glyph .* missing from")  # a page has its reader's fonts
        yield


@cache
def _style() -> dict[str, Any]:
    """Read the style once, on top of matplotlib's own defaults: reading it anew would double a redraw's fixed cost."""
    from matplotlib import rc_params_from_file

    style = rc_params_from_file(Path(__file__).with_name("drivekit.mplstyle"))
    # How windows are opened is the person's own affair, and no picture of ours opens one.
    return {name: value for name, value in style.items() if not name.startswith("backend")}


def said(artist: Any) -> str:
    """Say what one artist draws: the words of a text, else its points in the units of its axes."""
    if hasattr(artist, "get_text"):
        return " ".join(str(artist.get_text()).split("\n"))
    if hasattr(artist, "get_xlabel"):
        (left, right), (low, high) = artist.get_xlim(), artist.get_ylim()
        across = f"{artist.get_xlabel()} {left:g} to {right:g}".strip()
        return f"{across}; {f'{artist.get_ylabel()} {low:g} to {high:g}'.strip()}"
    if hasattr(artist, "get_radius") or hasattr(artist, "theta1"):
        (x, y), across = artist.get_center(), artist.get_width()
        turns = [round(getattr(artist, name), 1) + 0.0 for name in ("theta1", "theta2") if hasattr(artist, name)]
        part = ", {:g} to {:g} degrees".format(*turns) if turns else ""
        return f"{x:g} {y:.4g} radius {across / 2:g}{part}"
    if hasattr(artist, "get_xydata"):
        points: Iterable[Sequence[float]] = artist.get_xydata()
    elif hasattr(artist, "xy1"):
        points = (artist.xy1, artist.xy2)
    elif hasattr(artist, "get_patch_transform"):
        points = artist.get_patch_transform().transform(artist.get_path().vertices)
    else:
        points = [point for path in artist.get_paths() for point in path.vertices]
    # what is 0 but for its last digits is 0 on every machine; a gap in a line is none
    each = [f"{round(x, 9) + 0.0:g} {round(y, 9) + 0.0:.4g}".replace("nan", "none") for x, y in points]
    return ", ".join(point for place, point in enumerate(each) if not place or point != each[place - 1])
