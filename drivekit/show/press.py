"""From a way of drawing to SVG text and PNG bytes, the same bytes for the same picture.

Each way of drawing is a function that gives a figure; here it is drawn in the house's style and saved without dates.
"""

from __future__ import annotations

from collections.abc import Callable, Container, Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from drivekit.show.ink import INK, PALE
from drivekit.show.layout import SIZES, Size, wrapped

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["headed", "notebook_forms", "png_of", "size_named", "styled", "svg_of"]

STYLE = Path(__file__).with_name("drivekit.mplstyle")
LEADING = 1.32 / 72


@contextmanager
def styled() -> Iterator[None]:
    """Draw in the house's style, and leave matplotlib as it was found."""
    import matplotlib

    with matplotlib.rc_context(_style()):
        yield


@cache
def _style() -> dict[str, Any]:
    """Read the style once, on top of matplotlib's own defaults: reading it anew would double a redraw's fixed cost."""
    from matplotlib import rc_params_from_file

    # How windows are opened is the person's own affair, and no picture of ours opens one.
    return {name: value for name, value in rc_params_from_file(STYLE).items() if not name.startswith("backend")}


def size_named(size: str) -> Size:
    """Look up a size.

    Raises
    ------
    ValueError
        If there is no such size.
    """
    if size not in SIZES:
        raise ValueError(f'"{size}" is no size of a figure; the sizes are {", ".join(SIZES)}')
    return SIZES[size]


def headed(fig: Figure, title: str, subtitle: str, note: str, size: Size) -> tuple[float, float]:
    """Write title and subtitle at the head and the note at the foot; give the inches they take at either end."""
    wide, high = fig.get_size_inches()
    edge = 0.6 * size.gap
    # Hinting on a coarse screen widens a line by a hair over its advances.
    room = 0.985 * (wide - 2 * edge)
    blocks = (
        ("title", wrapped(title, room, size.title), size.title, INK),
        ("subtitle", wrapped(subtitle, room, size.text), size.text, PALE),
    )
    top = high - edge
    for gid, lines, points, colour in blocks:
        for place, line in enumerate(lines):
            fig.text(edge / wide, top / high, line, fontsize=points, color=colour, va="top", gid=f"{gid}:{place}")
            top -= points * LEADING
        top -= 0.3 * size.gap
    lines = wrapped(note, room, size.small)
    foot = edge + len(lines) * size.small * LEADING
    for place, line in enumerate(lines):
        at = foot - place * size.small * LEADING
        fig.text(edge / wide, at / high, line, fontsize=size.small, color=PALE, va="top", gid=f"note:{place}")
    return high - top, foot


def svg_of(draw: Callable[[], Figure], title: str) -> str:
    """Draw as SVG text; text stays text."""
    from io import StringIO

    from matplotlib.backends.backend_svg import FigureCanvasSVG

    out = StringIO()
    with styled():
        FigureCanvasSVG(draw()).print_svg(out, metadata={"Date": None, "Title": title})
    return out.getvalue()


def png_of(draw: Callable[[], Figure], title: str) -> bytes:
    """Draw as PNG bytes."""
    from io import BytesIO

    from matplotlib.backends.backend_agg import FigureCanvasAgg

    out = BytesIO()
    with styled():
        fig = draw()
        fig.set_dpi(150)
        FigureCanvasAgg(fig).print_png(out, metadata={"Software": None, "Title": title})
    return out.getvalue()


def notebook_forms(
    picture: Any, svg: Callable[[Any], str], png: Callable[[Any], bytes], include: Container[str] | None
) -> dict[str, str]:
    """Give the forms in which a notebook shows a picture, those asked for or all.

    A notebook that was opened but not run is not trusted, and shows the PNG where it would not show the SVG; its text
    form is what a comparison of stored outputs reads.
    """
    from base64 import b64encode

    forms: dict[str, Callable[[], str]] = {
        "text/plain": lambda: str(picture),
        "image/svg+xml": lambda: svg(picture),
        "image/png": lambda: b64encode(png(picture)).decode("ascii"),
    }
    return {kind: form() for kind, form in forms.items() if include is None or kind in include}
