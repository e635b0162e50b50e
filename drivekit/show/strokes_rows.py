"""How a panel of intervals is drawn: one row each, its name at the left, its numbers at the right."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from drivekit.show.layout import Box, Size, width, wrapped
from drivekit.show.picture import Interval, Panel, Rule
from drivekit.show.strokes import INK, PALE, bare_axes, line_style, paper_of

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["draw_rows", "left_of_rows", "right_of_rows", "rows_high"]

SHARE = 0.31
"""Part of the width that names, and that numbers, take at most."""


def _rows(panel: Panel) -> tuple[Interval, ...]:
    return tuple(mark for mark in panel.marks if isinstance(mark, Interval))


def _right_lines(row: Interval, size: Size) -> tuple[tuple[str, str], ...]:
    """Give the lines at the right with their colours: the numbers, then what stands behind them."""
    said = wrapped(row.said, SHARE * size.width, size.small)
    counts = wrapped(row.counts, SHARE * size.width, size.small)
    return (*((line, INK) for line in said), *((line, PALE) for line in counts))


def left_of_rows(panel: Panel, size: Size) -> float:
    """Give the inches left of the axes: the widest name."""
    names = [line for row in _rows(panel) for line in wrapped(row.name, SHARE * size.width, size.text)]
    return max(width(line, size.text) for line in names) + 1.6 * size.gap


def right_of_rows(panel: Panel, size: Size) -> float:
    """Give the inches right of the axes: the widest numbers."""
    return max(width(line, size.small) for row in _rows(panel) for line, _ in _right_lines(row, size)) + 1.6 * size.gap


def rows_high(panel: Panel, size: Size) -> float:
    """Give the inches of height that the rows need."""
    return _pitch(panel, size) * len(_rows(panel))


def _pitch(panel: Panel, size: Size) -> float:
    """Give the inches from one row to the next: the tallest row's words, and air."""
    names = (len(wrapped(row.name, SHARE * size.width, size.text)) * size.text for row in _rows(panel))
    right = (len(_right_lines(row, size)) * size.small for row in _rows(panel))
    most = max(*names, *right)
    return 1.3 * most / 72 + 0.9 * size.gap


def draw_rows(axes: Axes, panel: Panel, size: Size, inches: Box) -> None:
    """Draw a panel of intervals.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        To draw on.
    panel : Panel
        What to draw.
    size : Size
        What for.
    inches : Box
        Where the axes stand on the paper.
    """
    rows = _rows(panel)
    fig = paper_of(axes)
    wide, high = fig.get_size_inches()
    axes.set_xlim(*panel.x_limits)
    axes.set_ylim(len(rows) - 0.5, -0.5)
    low, span = panel.x_limits[0], panel.x_limits[1] - panel.x_limits[0]
    widest = max(width(f"{tick:g}", size.text) for tick in panel.x_ticks) + 0.5 * size.gap
    step = (panel.x_ticks[1] - panel.x_ticks[0]) * inches.width / span
    stride = max(1, math.ceil(widest / step))
    ticks = [tick for place, tick in enumerate(panel.x_ticks) if (place - len(panel.x_ticks) // 2) % stride == 0]
    places = {tick: inches.left + (tick - low) / span * inches.width for tick in ticks}
    bare_axes(axes, size, inches, up=list(places.values()), at=list(places.values()))

    def write(left: float, up: float, text: str, points: float, colour: str, gid: str, ha: str = "left") -> None:
        fig.text(left / wide, up / high, text, fontsize=points, color=colour, gid=gid, va="center", ha=ha)

    for tick, place in places.items():
        write(place, inches.bottom - 1.1 * size.gap, f"{tick:g}", size.text, PALE, f"tick:x:{tick:g}", "center")
    middle = inches.left + inches.width / 2
    write(middle, inches.bottom - 2.4 * size.gap, panel.x_label, size.text, PALE, "axis:x", "center")
    for rule in (mark for mark in panel.marks if isinstance(mark, Rule)):
        axes.axvline(rule.x, gid=rule.gid, color=INK, linewidth=1.4 * size.thin)
        at = inches.left + (rule.x - low) / span * inches.width
        up = inches.bottom + inches.height + 0.7 * size.gap
        write(at, up, rule.text, size.small, PALE, f"{rule.gid}:text", "center")
    for row in rows:
        level = inches.bottom + inches.height * (1 - (row.row + 0.5) / len(rows))
        names = wrapped(row.name, SHARE * size.width, size.text)
        for place, line in enumerate(names):
            up = level + (len(names) / 2 - place - 0.5) * 1.3 * size.text / 72
            write(0.6 * size.gap, up, line, size.text, INK, f"{row.gid}:name:{place}")
        right = _right_lines(row, size)
        for place, (line, colour) in enumerate(right):
            up = level + (len(right) / 2 - place - 0.5) * 1.3 * size.small / 72
            write(inches.left + inches.width + size.gap, up, line, size.small, colour, f"{row.gid}:said:{place}")
        _interval(axes, row, size)


def _interval(axes: Axes, row: Interval, size: Size) -> None:
    """Draw the line from limit to limit and the estimate; nothing where it cannot be told."""
    style = line_style(row.ink)
    if row.lower is not None and row.upper is not None:
        axes.plot((row.lower, row.upper), (row.row, row.row), gid=f"{row.gid}:limits", linewidth=size.line, **style)
        axes.plot((row.lower, row.upper), (row.row, row.row), gid=f"{row.gid}:ends", linestyle="none", marker="|",
                  markersize=4 * size.line, markeredgewidth=2 * size.thin, color=style["color"])
    if row.estimate is not None:
        axes.plot((row.estimate,), (row.row,), gid=row.gid, linestyle="none", marker="o", markersize=3.6 * size.line,
                  color=style["color"], markeredgecolor="white", markeredgewidth=size.thin)
