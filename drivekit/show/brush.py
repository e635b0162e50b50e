"""The brush: a picture as plain data in, a matplotlib figure, an SVG or a PNG out.

One function, four sizes: each is drawn anew with its own type and line widths, none is a scaled copy. Places are
computed by hand from the widths of the words, so nothing depends on a layout engine, and the same picture gives the
same bytes. Nothing is kept from one drawing to the next.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from drivekit.show.ink import INK, PALE
from drivekit.show.layout import Box, Size, wrapped
from drivekit.show.paper import Picture as PaperPicture
from drivekit.show.picture import Panel, Picture
from drivekit.show.press import png_of, size_named, styled, svg_of
from drivekit.show.strokes import draw_curves, left_of_curves, right_of_curves
from drivekit.show.strokes_plane import draw_plane, sides_of_plane
from drivekit.show.strokes_rows import draw_rows, left_of_rows, right_of_rows, rows_high

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["figure", "png", "svg"]


def figure(picture: Picture | PaperPicture, size: str = "screen", *, bare: bool = False) -> Figure:
    """Draw a picture.

    Parameters
    ----------
    picture : Picture
        What is to be drawn.
    size : {"screen", "slide", "print", "phone"}
        What it is drawn for.
    bare : bool
        Leave out title, subtitle and note: a page sets those itself.

    Returns
    -------
    matplotlib.figure.Figure
        Belongs to no window and to no list of open figures.

    Raises
    ------
    ValueError
        If there is no such size.
    """
    if isinstance(picture, PaperPicture):
        return picture.figure(size, bare=bare)
    with styled():
        return _drawn(picture, size_named(size), bare=bare)


def svg(picture: Picture | PaperPicture, size: str = "screen", *, bare: bool = False) -> str:
    """Draw a picture as SVG text; parameters as in `figure`. Text stays text, and equal pictures give equal bytes."""
    return svg_of(lambda: figure(picture, size, bare=bare), picture.title)


def png(picture: Picture | PaperPicture, size: str = "screen") -> bytes:
    """Draw a picture as PNG bytes; parameters as in `figure`."""
    return png_of(lambda: figure(picture, size), picture.title)


@dataclass(frozen=True, slots=True)
class Frames:
    """How panels stand on the paper.

    Parameters
    ----------
    columns, rows : int
        Of panels.
    left, right, top, bottom : float
        Inches about the axes of each panel.
    least : float
        Inches of height that axes have at least.
    """

    columns: int
    rows: int
    left: float
    right: float
    top: float
    bottom: float
    least: float

    @classmethod
    def of(cls, panels: tuple[Panel, ...], size: Size) -> Frames:
        """Plan the panels of a picture."""
        first, gap = panels[0], size.gap
        if first.has_rows:
            columns = 1 if len(panels) == 1 or size.width < 5 else 2
            room = size.width / columns
            left, right = left_of_rows(panels, size, room), right_of_rows(panels, size, room)
            least = max(rows_high(panel, size, room) for panel in panels)
            top = 3.2 * gap if first.name else 1.8 * gap
            bottom = 3.2 * gap if first.x_label else 2.0 * gap
            return cls(columns, -(-len(panels) // columns), left, right, top, bottom, least)
        if first.is_plane:
            columns = _columns(len(panels), size) if len(panels) > 1 else 1
            sides = [sides_of_plane(panel, size) for panel in panels]
            left, right = max(side[0] for side in sides), max(side[1] for side in sides)
            least = size.plot if len(panels) == 1 else 0.6 * size.plot
            top = 3.4 * gap if first.name else 2.0 * gap
            return cls(columns, -(-len(panels) // columns), left, right, top, 3.1 * gap, least)
        table = (len(first.table) + 1) * size.row + 0.4 * gap if first.table else 0.0
        if len(panels) == 1:
            left = left_of_curves(first, size)
            return cls(1, 1, left, right_of_curves(first, size, left), 2.0 * gap, 3.1 * gap + table, size.plot)
        columns = _columns(len(panels), size)
        left = 3.2 * gap
        return cls(columns, -(-len(panels) // columns), left, gap, 3.4 * gap, 3.1 * gap + table, size.plot * 0.45)


def _columns(many: int, size: Size) -> int:
    """Choose how many panels stand side by side: one on a phone, few where the paper grows, many where it cannot."""
    if not size.grows:
        return many if many <= 5 else -(-many // 2)
    return 1 if size.width < 5 else 2 if many <= 4 else 3


def _drawn(picture: Picture, size: Size, *, bare: bool) -> Figure:
    from matplotlib.figure import Figure

    edge = 0.6 * size.gap
    room = 0.965 * (size.width - 2 * edge)  # on a screen letters are set on whole pixels, and a little wider
    title, subtitle, note = (
        ((), (), ())
        if bare
        else (
            wrapped(picture.title, room, size.title),
            wrapped(picture.subtitle, room, size.text),
            wrapped(picture.note, room, size.small),
        )
    )
    head = 0.0 if bare else edge + _high(title, size.title) + 0.3 * size.gap + _high(subtitle, size.text)
    foot = edge if bare else edge + _high(note, size.small) + 0.5 * size.gap
    frames = Frames.of(picture.panels, size)
    fixed = head + foot + frames.rows * (frames.top + frames.bottom)
    follows = bare or picture.panels[0].has_rows
    needed = fixed + frames.rows * frames.least
    height = size.height if not size.grows else needed if follows else max(size.height, needed)
    high = (height - fixed) / frames.rows
    across = size.width / frames.columns - frames.left - frames.right
    fig = Figure(figsize=(size.width, height))
    _write(fig, title, edge, height - edge, size.title, INK, "title")
    _write(fig, subtitle, edge, height - head + _high(subtitle, size.text), size.text, PALE, "subtitle")
    _write(fig, note, edge, foot - 0.5 * size.gap, size.small, PALE, "note")
    for place, panel in enumerate(picture.panels):
        row, column = divmod(place, frames.columns)
        left = column * size.width / frames.columns + frames.left
        bottom = height - head - (row + 1) * (frames.top + high) - row * frames.bottom
        axes = fig.add_axes((left / size.width, bottom / height, across / size.width, high / height))
        axes.set_gid(f"panel:{panel.name}" if panel.name else "panel")
        inches = Box(left, bottom, across, high)
        if panel.has_rows:
            draw_rows(axes, panel, size, inches, size.width / frames.columns)
        elif panel.is_plane:
            draw_plane(axes, panel, size, inches)
        else:
            draw_curves(axes, panel, size, inches)
    return fig


def _high(lines: tuple[str, ...], points: float) -> float:
    return len(lines) * 1.32 * points / 72


def _write(fig: Figure, lines: tuple[str, ...], left: float, top: float, points: float, colour: str, gid: str) -> None:
    """Write lines downward from a place given in inches."""
    wide, high = fig.get_size_inches()
    for place, line in enumerate(lines):
        at = top - place * 1.32 * points / 72
        fig.text(left / wide, at / high, line, fontsize=points, color=colour, va="top", gid=f"{gid}:{place}")
