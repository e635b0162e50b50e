"""How a panel of intervals is drawn: one row each, its name at the left, its numbers at the right."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

from drivekit.show.ink import INK, PALE, bare_axes, line_style, paper_of
from drivekit.show.layout import Box, Size, width, wrapped
from drivekit.show.picture import Interval, Panel, Rule

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["draw_rows", "left_of_rows", "right_of_rows", "rows_high"]

SHARE = 0.31
"""Part of the width that names, and that numbers, take at most."""


def _rows(panel: Panel) -> tuple[Interval, ...]:
    return tuple(mark for mark in panel.marks if isinstance(mark, Interval))


def _right_lines(row: Interval, size: Size, room: float) -> tuple[tuple[str, str], ...]:
    """Give the lines at the right with their colours: the numbers, then what stands behind them."""
    said = wrapped(row.said, SHARE * room, size.small)
    counts = wrapped(row.counts, SHARE * room, size.small)
    return (*((line, INK) for line in said), *((line, PALE) for line in counts))


def left_of_rows(panels: Sequence[Panel], size: Size, room: float) -> float:
    """Give the inches left of the axes: the widest name of any panel; `room` is the width of one panel's paper."""
    return max(_widest_name(panel, size, room) for panel in panels) + 1.6 * size.gap


def _widest_name(panel: Panel, size: Size, room: float) -> float:
    names = [line for row in _rows(panel) for line in wrapped(row.name, SHARE * room, size.text)]
    return max(width(line, size.text) for line in names)


def right_of_rows(panels: Sequence[Panel], size: Size, room: float) -> float:
    """Give the inches right of the axes: the widest numbers of any panel."""
    lines = (line for panel in panels for row in _rows(panel) for line, _ in _right_lines(row, size, room))
    return max(width(line, size.small) for line in lines) + 1.6 * size.gap


def rows_high(panel: Panel, size: Size, room: float) -> float:
    """Give the inches of height that the rows need."""
    return _pitch(panel, size, room) * len(_rows(panel))


def _pitch(panel: Panel, size: Size, room: float) -> float:
    """Give the inches from one row to the next: the tallest row's words, and air."""
    names = (len(wrapped(row.name, SHARE * room, size.text)) * size.text for row in _rows(panel))
    right = (len(_right_lines(row, size, room)) * size.small for row in _rows(panel))
    most = max(*names, *right)
    return 1.3 * most / 72 + (0.9 if not panel.name else 0.45) * size.gap


def draw_rows(axes: Axes, panel: Panel, size: Size, inches: Box, room: float) -> None:
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
    room : float
        Inches of width of the paper that the panel has, words included.
    """
    rows = _rows(panel)
    fig = paper_of(axes)
    wide, high = fig.get_size_inches()
    if panel.x_log:
        axes.set_xscale("log")
    axes.set_xlim(*panel.x_limits)
    axes.set_ylim(len(rows) - 0.5, -0.5)
    own = f":{panel.name}" if panel.name else ""
    places = _ticks(panel, size, inches)
    bare_axes(axes, size, inches, up=list(places.values()), at=list(places.values()), own=own)

    def write(left: float, up: float, text: str, points: float, colour: str, gid: str, ha: str = "left") -> None:
        fig.text(left / wide, up / high, text, fontsize=points, color=colour, gid=gid, va="center", ha=ha)

    for tick, place in places.items():
        text, gid = f"{tick:g}", f"tick:x:{tick:g}{own}"
        write(place, inches.bottom - 1.1 * size.gap, text, size.text, PALE, gid, "center")
    middle = inches.left + inches.width / 2
    write(middle, inches.bottom - 2.4 * size.gap, panel.x_label, size.text, PALE, f"axis:x{own}", "center")
    for rule in (mark for mark in panel.marks if isinstance(mark, Rule)):
        axes.axvline(rule.x, gid=rule.gid, color=INK, linewidth=1.4 * size.thin)
        at = _across(rule.x, panel, inches)
        up = inches.bottom + inches.height + 0.7 * size.gap
        write(at, up, rule.text, size.small, PALE, f"{rule.gid}:text", "center")
    start = inches.left - _widest_name(panel, size, room) - size.gap
    if panel.name:
        up = inches.bottom + inches.height + 2.2 * size.gap
        write(start, up, panel.name, size.text, INK, f"label:{panel.name}")
    for row in rows:
        level = inches.bottom + inches.height * (1 - (row.row + 0.5) / len(rows))
        names = wrapped(row.name, SHARE * room, size.text)
        for place, line in enumerate(names):
            up = level + (len(names) / 2 - place - 0.5) * 1.3 * size.text / 72
            write(start, up, line, size.text, INK, f"{row.gid}:name:{place}")
        right = _right_lines(row, size, room)
        for place, (line, colour) in enumerate(right):
            up = level + (len(right) / 2 - place - 0.5) * 1.3 * size.small / 72
            write(inches.left + inches.width + size.gap, up, line, size.small, colour, f"{row.gid}:said:{place}")
        _interval(axes, row, size, panel.x_limits)


def _across(value: float, panel: Panel, inches: Box) -> float:
    """Place a value of the level axis on the paper."""
    low, high = panel.x_limits
    if panel.x_log:
        low, high, value = math.log(low), math.log(high), math.log(value)
    return inches.left + (value - low) / (high - low) * inches.width


def _ticks(panel: Panel, size: Size, inches: Box) -> dict[float, float]:
    """Choose the ticks that have room, counted from the middle one or on a logarithmic axis from 1."""
    places = {tick: _across(tick, panel, inches) for tick in panel.x_ticks}
    if len(places) < 2:
        return places
    widest = max(width(f"{tick:g}", size.text) for tick in places) + 0.5 * size.gap
    between = min(later - earlier for earlier, later in pairwise(places.values()))
    stride = max(1, math.ceil(widest / between))
    middle = panel.x_ticks.index(1) if panel.x_log and 1 in panel.x_ticks else len(places) // 2
    return {tick: at for place, (tick, at) in enumerate(places.items()) if (place - middle) % stride == 0}


def _interval(axes: Axes, row: Interval, size: Size, ends: tuple[float, float]) -> None:
    """Draw the line from limit to limit and the estimate; nothing where it cannot be told.

    A limit without end, or beyond the axis, is an arrow at the axis's end.
    """
    style = line_style(row.ink)
    if row.estimate is None:
        return
    if (row.lower, row.upper) != (None, None):
        lower = -math.inf if row.lower is None else row.lower
        upper = math.inf if row.upper is None else row.upper
        line = (max(lower, ends[0]), min(upper, ends[1]))
        axes.plot(line, (row.row, row.row), gid=f"{row.gid}:limits", linewidth=size.line, **style)
        for side, inside, at, arrow in (
            ("lower", lower >= ends[0], line[0], "<"),
            ("upper", upper <= ends[1], line[1], ">"),
        ):
            length = 4 if inside else 2.6
            axes.plot(
                (at,),
                (row.row,),
                gid=f"{row.gid}:{side}",
                linestyle="none",
                marker="|" if inside else arrow,
                markersize=length * size.line,
                markeredgewidth=2 * size.thin,
                color=style["color"],
                clip_on=False,
            )
    if ends[0] <= row.estimate <= ends[1]:
        axes.plot(
            (row.estimate,),
            (row.row,),
            gid=row.gid,
            linestyle="none",
            marker="D" if row.diamond else "o",
            markersize=3.6 * size.line,
            color=style["color"],
            markeredgecolor="white",
            markeredgewidth=size.thin,
            clip_on=False,
        )
