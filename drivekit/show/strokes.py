"""How a panel of step curves is drawn: bands, curves, dots, ticks, names, and the table of who was at risk.

Names stand beside their curves in dark ink, nudged apart.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from drivekit.show.ink import INK, PALE, bare_axes, line_style, paper_of
from drivekit.show.layout import Box, Size, clipped, placed, stacked, thinned, width, wrapped
from drivekit.show.picture import Band, Drop, Label, Panel, RiskRow, Spots, Steps, Ticks

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["draw_curves", "left_of_curves", "right_of_curves"]


def left_of_curves(panel: Panel, size: Size) -> float:
    """Give the inches left of the axes: for the percentages, and for the names in the table."""
    names = [min(width(row.name, size.small), 0.2 * size.width) for row in panel.table if row.ink is not None]
    if not names:
        return 3.2 * size.gap
    # edge, line key, name, air, and the half of the first cell that stands left of its tick
    return max(3.2 * size.gap, 0.6 * size.gap + 2.4 * size.gap + max(names) + 0.8 * size.gap + _cell(panel, size) / 2)


def _cell(panel: Panel, size: Size) -> float:
    """Give the inches of the widest cell of the table."""
    cells = (row.cell(int(age)) for row in panel.table for age in panel.x_ticks)
    return max((width(cell, size.small) for cell in cells), default=width("000", size.small))


def right_of_curves(panel: Panel, size: Size, left: float) -> float:
    """Give the inches right of the axes, so that the name of every curve fits on the paper."""
    need = 1.2 * size.gap
    for label in (mark for mark in panel.marks if isinstance(mark, Label)):
        lines = _name_lines(label, size)
        wide = max(width(line, size.text) for line in lines) + 1.3 * size.gap
        short = 1 - (label.x - panel.x_limits[0]) / (panel.x_limits[1] - panel.x_limits[0])
        need = max(need, (wide - (size.width - left) * short) / (1 - short))
    return need


def _name_lines(label: Label, size: Size) -> tuple[str, ...]:
    lines = wrapped(label.text, 0.2 * size.width, size.text)
    return lines if len(lines) <= 3 else (*lines[:2], clipped(" ".join(lines[2:]), 0.2 * size.width, size.text))


@dataclass(frozen=True, slots=True)
class Scale:
    """From runs and percent to inches on paper.

    Parameters
    ----------
    panel : Panel
        Whose axes.
    inches : Box
        Where the axes stand.
    """

    panel: Panel
    inches: Box

    def x(self, age: float) -> float:
        """Place an age."""
        low, high = self.panel.x_limits
        return self.inches.left + (age - low) / (high - low) * self.inches.width

    def y(self, share: float) -> float:
        """Place a percentage."""
        low, high = self.panel.y_limits
        return self.inches.bottom + (share - low) / (high - low) * self.inches.height


def draw_curves(axes: Axes, panel: Panel, size: Size, inches: Box) -> None:
    """Draw a panel of step curves.

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
    scale = Scale(panel, inches)
    ticks = _dress(axes, panel, size, scale)
    for mark in panel.marks:
        match mark:
            case Band():
                colour = line_style(mark.ink)["color"]
                axes.fill_between(
                    mark.x,
                    mark.lower,
                    mark.upper,
                    step="post",
                    gid=mark.gid,
                    facecolor=(colour, 0.13),
                    edgecolor=(colour, 0.45),
                    linewidth=0.6 * size.thin,
                )
            case Drop():
                axes.plot(
                    (mark.x, mark.x),
                    (mark.y, 0),
                    gid=mark.gid,
                    color=line_style(mark.ink)["color"],
                    linewidth=1.2 * size.thin,
                    linestyle=(0, (1.5, 2)),
                )
            case Steps():
                axes.plot(
                    mark.x,
                    mark.y,
                    gid=mark.gid,
                    drawstyle="steps-post",
                    linewidth=size.line,
                    clip_on=False,
                    **line_style(mark.ink),
                )
            case Ticks():
                axes.plot(
                    mark.x,
                    mark.y,
                    gid=mark.gid,
                    linestyle="none",
                    marker=3,
                    markersize=3.2 * size.line,
                    markeredgewidth=1.6 * size.thin,
                    color=line_style(mark.ink)["color"],
                    clip_on=False,
                )
            case Spots():
                axes.plot(
                    mark.x,
                    mark.y,
                    gid=mark.gid,
                    linestyle="none",
                    marker="o",
                    markersize=2.3 * size.line,
                    markerfacecolor=line_style(mark.ink)["color"],
                    markeredgecolor="white",
                    markeredgewidth=0.5 * size.thin,
                    clip_on=False,
                )
    _words(axes, panel, size, scale)
    _table(axes, panel, size, scale, ticks)


def _own(panel: Panel) -> str:
    """End the gids of one of several panels."""
    return f":{panel.name}" if panel.name else ""


def _dress(axes: Axes, panel: Panel, size: Size, scale: Scale) -> tuple[float, ...]:
    """Set limits, ticks and axis titles; give the ages that got a number."""
    per_run = scale.inches.width / (panel.x_limits[1] - panel.x_limits[0])
    ticks = thinned(panel.x_ticks, _cell(panel, size) + 0.55 * size.gap, per_run)
    axes.set_xlim(*panel.x_limits)
    axes.set_ylim(*panel.y_limits)
    gap, paper = size.gap, scale.inches
    own, y_ticks = _own(panel), panel.y_ticks
    while len(y_ticks) > 2 and scale.y(y_ticks[1]) - scale.y(y_ticks[0]) < 1.5 * gap:
        y_ticks = y_ticks[::2]
    across, at = [scale.y(share) for share in y_ticks], [scale.x(age) for age in ticks]
    bare_axes(axes, size, paper, across=across, at=at, own=own)
    for age in ticks:
        gid = f"tick:x:{age:g}{own}"
        _ink(axes, scale.x(age), paper.bottom - 0.7 * gap, f"{age:g}", size.text, PALE, gid, ha="center", va="top")
    for share in y_ticks:
        _ink(
            axes,
            paper.left - 0.55 * gap,
            scale.y(share),
            f"{share:g}",
            size.text,
            PALE,
            f"tick:y:{share:g}{own}",
            ha="right",
            va="center",
        )
    _ink(
        axes,
        scale.inches.left - 2.6 * gap,
        scale.inches.bottom + scale.inches.height + 0.55 * gap,
        panel.y_label,
        size.text,
        PALE,
        f"axis:y{own}",
    )
    _ink(
        axes,
        scale.inches.left + scale.inches.width,
        scale.inches.bottom - 1.9 * gap,
        panel.x_label,
        size.text,
        PALE,
        f"axis:x{own}",
        ha="right",
        va="top",
    )
    if panel.name:
        _ink(
            axes,
            scale.inches.left - 2.6 * gap,
            scale.inches.bottom + scale.inches.height + 1.95 * gap,
            clipped(panel.name, scale.inches.width + 2.6 * gap, size.text),
            size.text,
            INK,
            f"label:{panel.name}",
        )
    return ticks


def _ink(axes: Axes, left: float, bottom: float, text: str, points: float, colour: str, gid: str, **more: Any) -> None:
    """Write one line at a place on the paper given in inches."""
    fig = paper_of(axes)
    wide, high = fig.get_size_inches()
    fig.text(left / wide, bottom / high, text, fontsize=points, color=colour, gid=gid, **more)


def _words(axes: Axes, panel: Panel, size: Size, scale: Scale) -> None:
    """Write names, ages at the foot of drops and counts of shared ticks, each clear of the others."""
    gap, paper = size.gap, scale.inches
    lines = _thin_boxes(panel, scale, size)
    labels = [mark for mark in panel.marks if isinstance(mark, Label)]
    names = [_name_lines(label, size) for label in labels]
    line = 1.25 * size.text / 72
    wants = [
        Box(
            scale.x(label.x) + 0.5 * gap,
            scale.y(label.y) - line * len(name) / 2,
            max(width(text, size.text) for text in name) + 0.5 * gap,
            line * len(name),
        )
        for label, name in zip(labels, names, strict=True)
    ]
    found = _beside(wants, lines, paper)
    halo = {"facecolor": "white", "edgecolor": "none", "alpha": 0.75, "pad": 0.6}
    for label, name, box in zip(labels, names, found, strict=True):
        for place, text in enumerate(name):
            at = box.bottom + box.height - (place + 0.5) * line
            _ink(
                axes,
                box.left,
                at,
                text,
                size.text,
                INK,
                label.gid if len(name) == 1 else f"{label.gid}:{place}",
                va="center",
                bbox=halo,
            )
    # drops at one age share one number
    drops = {drop.x: drop for drop in reversed(panel.marks) if isinstance(drop, Drop)}
    feet = [
        (f"{drop.gid}:age", f"{age:g}", scale.x(age) + 0.25 * gap, paper.bottom + 0.3 * gap)
        for age, drop in sorted(drops.items())
    ]
    counts = [
        (
            f"{ticks.gid}:{age:g}",
            str(count),
            scale.x(age) - width(str(count), size.small) - 0.25 * gap,
            scale.y(share) - 1.6 * size.line / 72 - 1.15 * size.small / 72,
        )
        for ticks in panel.marks
        if isinstance(ticks, Ticks)
        for age, share, count in zip(ticks.x, ticks.y, ticks.counts, strict=True)
        if count >= ticks.numbered
    ]
    smalls = feet + counts
    boxes = [Box(left, bottom, width(text, size.small), 1.15 * size.small / 72) for _, text, left, bottom in smalls]
    room = Box(paper.left, paper.bottom, paper.width, paper.height + 0.3 * gap)
    for (gid, text, *_), box in zip(smalls, placed(boxes, found, lines, room), strict=True):
        _ink(axes, box.left, box.bottom + box.height / 2, text, size.small, PALE, gid, va="center")


def _beside(wants: list[Box], lines: list[Box], paper: Box) -> tuple[Box, ...]:
    """Place names beside the ends of their curves: a lone one clear of the curves, those in one column in order."""
    if len(wants) < 2:
        return placed(wants, (), lines, paper)
    start = max(box.left for box in wants)
    column = [place for place, box in enumerate(wants) if box.left + box.width > start]
    found = dict(zip(column, stacked([wants[place] for place in column], paper), strict=True))
    others = [place for place in range(len(wants)) if place not in found]
    free = placed([wants[place] for place in others], list(found.values()), lines, paper)
    found.update(zip(others, free, strict=True))
    return tuple(found[place] for place in range(len(wants)))


def _thin_boxes(panel: Panel, scale: Scale, size: Size) -> list[Box]:
    """Turn every level stretch and every drop of the curves into a thin box that words keep clear of."""
    thick = size.line / 72
    boxes = []
    for curve in (mark for mark in panel.marks if isinstance(mark, Steps)):
        for left, right, share, later in zip(curve.x, curve.x[1:], curve.y, curve.y[1:], strict=False):
            boxes.append(Box(scale.x(left), scale.y(share) - thick, scale.x(right) - scale.x(left), 2 * thick))
            boxes.append(Box(scale.x(right) - thick, scale.y(later), 2 * thick, scale.y(share) - scale.y(later)))
    return boxes


def _table(axes: Axes, panel: Panel, size: Size, scale: Scale, ticks: tuple[float, ...]) -> None:
    """Write under the axes how many belts made each run, and how many had failed by then."""
    from matplotlib.lines import Line2D

    if not panel.table:
        return
    gap, left = size.gap, scale.inches.left
    top = scale.inches.bottom - 3.1 * gap
    fig = paper_of(axes)
    wide, high = fig.get_size_inches()
    start = 0.6 * gap if not panel.name else left - 2.6 * gap
    heading = "At risk (failed so far)"
    _ink(axes, start, top - size.row / 2, heading, size.small, PALE, f"risk{_own(panel)}", va="center")
    for place, row in enumerate(panel.table):
        level = top - (place + 1.5) * size.row
        if row.ink is not None and not panel.name:
            keys = (start / wide, (start + 1.9 * gap) / wide)
            key = Line2D(
                keys,
                (level / high, level / high),
                linewidth=size.line,
                gid=f"key:{row.name}",
                transform=fig.transFigure,
                **line_style(row.ink),
            )
            fig.add_artist(key)
            name = clipped(row.name, left - start - 3.2 * gap - _cell(panel, size) / 2, size.small)
            _ink(axes, start + 2.4 * gap, level, name, size.small, INK, row.gid, va="center")
        _cells(axes, row, size, scale, ticks, level)


def _cells(axes: Axes, row: RiskRow, size: Size, scale: Scale, ticks: tuple[float, ...], level: float) -> None:
    for age in ticks:
        _ink(
            axes,
            scale.x(age),
            level,
            row.cell(int(age)),
            size.small,
            INK,
            f"{row.gid}:{age:g}",
            va="center",
            ha="center",
        )
