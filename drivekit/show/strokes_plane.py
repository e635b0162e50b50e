"""How a panel of two measured axes is drawn: ribbons under lines under dots, rugs at the foot, names beside points."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from drivekit.show.ink import INK, PALE, bare_axes, line_style, paper_of
from drivekit.show.layout import Box, Size, clipped, placed, thinned, width
from drivekit.show.picture import Label, Panel
from drivekit.show.plane import Bracket, Dots, Level, Ribbon, Rug, Trace

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["draw_plane", "sides_of_plane"]


def sides_of_plane(panel: Panel, size: Size) -> tuple[float, float]:
    """Give the inches left and right of the axes: for the numbers of the upright axis, and for level lines' names."""
    numbers = max((width(_said(tick), size.text) for tick in panel.y_ticks), default=0)
    names = max((width(mark.text, size.small) for mark in panel.marks if isinstance(mark, Level)), default=0)
    ends = [mark for mark in panel.marks if isinstance(mark, Label) and mark.x >= panel.x_limits[1]]
    names = max(names, *(width(mark.text, size.small) for mark in ends)) if ends else names
    return max(2.6 * size.gap, numbers + 1.6 * size.gap), names + 1.4 * size.gap


def _said(tick: float) -> str:
    return f"{tick:,.0f}" if abs(tick) >= 1000 else f"{tick:g}"


@dataclass(frozen=True, slots=True)
class Plane:
    """From the units of the axes to inches on paper.

    Parameters
    ----------
    panel : Panel
        Whose axes.
    inches : Box
        Where the axes stand.
    """

    panel: Panel
    inches: Box

    def x(self, value: float) -> float:
        """Place a value of the level axis."""
        return self.inches.left + _share(value, self.panel.x_limits, self.panel.x_log) * self.inches.width

    def y(self, value: float) -> float:
        """Place a value of the upright axis."""
        return self.inches.bottom + _share(value, self.panel.y_limits, self.panel.y_log) * self.inches.height


def _share(value: float, limits: tuple[float, float], log: bool) -> float:
    low, high = limits
    if log:
        low, high, value = math.log(low), math.log(high), math.log(value)
    return (value - low) / (high - low)


def draw_plane(axes: Axes, panel: Panel, size: Size, inches: Box) -> None:
    """Draw a panel of two measured axes.

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
    plane = Plane(panel, inches)
    if panel.x_log:
        axes.set_xscale("log")
    if panel.y_log:
        axes.set_yscale("log")
    axes.set_xlim(*panel.x_limits)
    axes.set_ylim(*panel.y_limits)
    _dress(axes, panel, size, plane)
    for mark in panel.marks:
        match mark:
            case Ribbon():
                colour = line_style(mark.ink)["color"]
                axes.fill_between(
                    mark.x,
                    mark.lower,
                    mark.upper,
                    gid=mark.gid,
                    facecolor=(colour, 0.13),
                    edgecolor=(colour, 0.45),
                    linewidth=0.6 * size.thin,
                )
            case Trace():
                axes.plot(
                    mark.x,
                    mark.y,
                    gid=mark.gid,
                    linewidth=size.line * (0.6 if mark.thin else 1),
                    **line_style(mark.ink),
                )
            case Dots():
                colour = line_style(mark.ink)["color"]
                axes.plot(
                    mark.x,
                    mark.y,
                    gid=mark.gid,
                    linestyle="none",
                    marker="o",
                    markersize=2.5 * size.line,
                    markerfacecolor="white" if mark.hollow else colour,
                    markeredgecolor=colour,
                    markeredgewidth=1.2 * size.thin,
                    clip_on=False,
                )
            case Rug():
                foot = panel.y_limits[0]
                axes.plot(
                    mark.x,
                    (foot,) * len(mark.x),
                    gid=mark.gid,
                    linestyle="none",
                    marker=2,
                    markersize=3.4 * size.line,
                    markeredgewidth=size.thin,
                    color=INK,
                    clip_on=False,
                )
            case Level():
                axes.axhline(mark.y, gid=mark.gid, color=PALE, linewidth=1.2 * size.thin, zorder=0)
                _ink(
                    axes,
                    inches.left + inches.width + 0.5 * size.gap,
                    plane.y(mark.y),
                    mark.text,
                    size.small,
                    PALE,
                    f"{mark.gid}:text",
                    va="center",
                )
    _words(axes, panel, size, plane)


def _ink(
    axes: Axes, left: float, up: float, text: str, points: float, colour: str, gid: str, *, ha: str = "left", va: str
) -> None:
    fig = paper_of(axes)
    wide, high = fig.get_size_inches()
    fig.text(left / wide, up / high, text, fontsize=points, color=colour, gid=gid, ha=ha, va=va)


def _dress(axes: Axes, panel: Panel, size: Size, plane: Plane) -> None:
    """Draw grid and axes, and write ticks and axis titles."""
    gap, paper = size.gap, plane.inches
    own = f":{panel.name}" if panel.name else ""
    widest = max((width(_said(tick), size.text) for tick in panel.x_ticks), default=0)
    x_ticks = panel.x_ticks
    if not panel.x_log and len(x_ticks) > 1:
        per_unit = paper.width / (panel.x_limits[1] - panel.x_limits[0])
        x_ticks = thinned(x_ticks, widest + 0.6 * gap, per_unit)
    y_ticks = panel.y_ticks
    while len(y_ticks) > 2 and plane.y(y_ticks[1]) - plane.y(y_ticks[0]) < 1.5 * gap:
        kept = y_ticks.index(1) % 2 if panel.y_log and 1 in y_ticks else 0
        y_ticks = y_ticks[kept::2]
    bare_axes(axes, size, paper, across=[plane.y(y) for y in y_ticks], at=[plane.x(x) for x in x_ticks], own=own)
    for tick in x_ticks:
        _ink(
            axes,
            plane.x(tick),
            paper.bottom - 0.7 * gap,
            _said(tick),
            size.text,
            PALE,
            f"tick:x:{tick:g}{own}",
            ha="center",
            va="top",
        )
    for tick in y_ticks:
        _ink(
            axes,
            paper.left - 0.55 * gap,
            plane.y(tick),
            _said(tick),
            size.text,
            PALE,
            f"tick:y:{tick:g}{own}",
            ha="right",
            va="center",
        )
    start = paper.left - sides_of_plane(panel, size)[0] + 0.6 * gap
    top = paper.bottom + paper.height
    _ink(axes, start, top + 0.55 * gap, panel.y_label, size.text, PALE, f"axis:y{own}", va="bottom")
    _ink(
        axes,
        paper.left + paper.width,
        paper.bottom - 1.9 * gap,
        panel.x_label,
        size.text,
        PALE,
        f"axis:x{own}",
        ha="right",
        va="top",
    )
    if panel.name:
        room = paper.left + paper.width - start
        _ink(
            axes,
            start,
            top + 1.95 * gap,
            clipped(panel.name, room, size.text),
            size.text,
            INK,
            f"label:{panel.name}",
            va="bottom",
        )


def _words(axes: Axes, panel: Panel, size: Size, plane: Plane) -> None:
    """Write the bracket's words and the names of points, each clear of the others and of the dots."""
    gap, paper = size.gap, plane.inches
    line = 1.2 * size.small / 72
    found: list[Box] = []
    for mark in (mark for mark in panel.marks if isinstance(mark, Bracket)):
        level = paper.bottom + paper.height - 0.8 * gap
        share = (level - paper.bottom) / paper.height
        y = _at(share, panel)
        axes.plot(
            (mark.lower, mark.upper),
            (y, y),
            gid=mark.gid,
            marker="|",
            markersize=3.4 * size.line,
            color=INK,
            linewidth=1.6 * size.thin,
        )
        axes.plot(
            (mark.x,),
            (y,),
            gid=f"{mark.gid}:estimate",
            linestyle="none",
            marker="D",
            markersize=2.8 * size.line,
            color=INK,
            markeredgecolor="white",
            markeredgewidth=size.thin,
        )
        wide = width(mark.text, size.small)
        left = min(max(plane.x(mark.x) - wide / 2, paper.left + 0.3 * gap), paper.left + paper.width - wide)
        found.append(Box(left, level - 0.7 * gap - line, wide, line))
        _ink(axes, left, level - 0.7 * gap, mark.text, size.small, INK, f"{mark.gid}:text", va="top")
    around = 0.5 * 2.5 * size.line / 72
    dots = [
        Box(plane.x(x) - around, plane.y(y) - around, 2 * around, 2 * around)
        for mark in panel.marks
        if isinstance(mark, Dots)
        for x, y in zip(mark.x, mark.y, strict=True)
    ]
    labels = [mark for mark in panel.marks if isinstance(mark, Label)]
    wants = []
    for label in labels:
        wide = width(label.text, size.small)
        left = plane.x(label.x) + 0.45 * gap
        if label.x < panel.x_limits[1] and left + wide > paper.left + paper.width:
            left = plane.x(label.x) - 0.45 * gap - wide
        wants.append(Box(left, plane.y(label.y) - line / 2, wide, line))
    for label, box in zip(labels, placed(wants, found, dots, paper), strict=True):
        _ink(axes, box.left, box.bottom + box.height / 2, label.text, size.small, INK, label.gid, va="center")


def _at(share: float, panel: Panel) -> float:
    """Give the value at a share of the upright axis."""
    low, high = panel.y_limits
    return math.exp(math.log(low) + share * math.log(high / low)) if panel.y_log else low + share * (high - low)
