"""Words beside curves: names at their ends and numbers at their points, clear of every line and of each other.

A name stands within 6 points of its curve's end, in the order of the ends. Where the curves leave no room there it
goes to the nearest free place, and a thin leader joins it to the end. Places are computed from the widths of the words
before anything is written: all that is drawn already is inked on a raster of one cell a point, and a place costs what
its box would cover there.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from drivekit.show.paper import HALO, INK, PALE, Size, width

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.lines import Line2D

__all__ = ["NEAR", "Name", "Number", "room_beside", "write_beside"]

NEAR = 6.0
"""Points within which a name needs no leader to the end of its curve."""

LINE, TALL = 1.2, 1.05
"""In heights of the type: from line to line of words, and from the top to the bottom of the letters."""

COVERED, CROSSED, MISLED, OVER = 60.0, 4.0, 400.0, 1e5
"""Points that words walk rather than cover a curve, cross it with a leader, stand out of order, cover other words."""

KEPT = 90
"""Places of a name, and of all names together, that are looked at further."""

TICK_DOWN = 3
"""Matplotlib's marker of a short tick below its point."""

Floats = NDArray[np.floating[Any]]


@dataclass(frozen=True, slots=True)
class Name:
    """What is written at the end of a curve.

    Parameters
    ----------
    name : str
        The group: its words get the gid ``label:NAME``, a leader ``leader:NAME``.
    text : str
        The words, with line ends where they are wrapped.
    x, y : float
        Where the curve ends, in the units of the axes.
    colour : str
        Of the leader.
    """

    name: str
    text: str
    x: float
    y: float
    colour: str


@dataclass(frozen=True, slots=True)
class Number:
    """A small number beside a point.

    Parameters
    ----------
    gid : str
        Its own.
    text : str
        The number.
    x, y : float
        The point, in the units of the axes.
    side : tuple of int
        Where it would stand: (1, 1) right of the point and above it, (-1, -1) left and below.
    """

    gid: str
    text: str
    x: float
    y: float
    side: tuple[int, int]


@dataclass(frozen=True, slots=True, eq=False)
class _Sheet:
    """What is drawn on axes; all places are in points from the lower left corner of the paper.

    Parameters
    ----------
    scale : float
        Points a pixel.
    low, high : ndarray of float, shape (2,)
        Corners of where words may stand: the axes, and the paper to their right.
    right : float
        Where the axes end.
    inked : ndarray of bool
        Whether a cell of one point is drawn on.
    summed : ndarray of int
        Cells drawn on below and left of each corner of a cell.
    """

    scale: float
    low: Floats
    high: Floats
    right: float
    inked: NDArray[np.bool_]
    summed: NDArray[np.int64]

    @classmethod
    def of(cls, axes: Axes, lines: Sequence[Line2D]) -> _Sheet:
        """Ink curves, dots and ticks."""
        body = axes.get_figure(root=False)
        root = axes.get_figure(root=True)
        assert body is not None
        assert root is not None  # words are written only on axes that stand on a figure
        scale = 72 / root.dpi
        low, high = np.array(axes.bbox.min), np.array([body.bbox.x1, axes.bbox.y1])
        wide, tall = (int(scale * side) + 2 for side in root.bbox.max)
        inked: NDArray[np.bool_] = np.zeros((wide, tall), np.bool_)
        for line in lines:
            at = _traced(line, scale)
            at = at[((at >= 0) & (at < inked.shape)).all(axis=1)].astype(int)
            inked[at[:, 0], at[:, 1]] = True
        summed = np.zeros((wide + 1, tall + 1), np.int64)
        summed[1:, 1:] = inked.cumsum(axis=0).cumsum(axis=1)
        return cls(scale, scale * low + 0.5, scale * high + (-3, 3), scale * axes.bbox.x1, inked, summed)

    def within(self, boxes: Floats) -> Floats:
        """Keep the boxes on the paper and off what stands under the axes; all, where there is none such."""
        # beside the axes no number of an axis stands, and words may sink by half their height
        floor = self.low[1] - 5 * (boxes[:, 0] > self.right)
        fits = (boxes[:, 0] >= self.low[0]) & (boxes[:, 1] >= floor) & (boxes[:, 2:] <= self.high).all(axis=1)
        return boxes[fits] if fits.any() else boxes

    def covered(self, boxes: Floats) -> Floats:
        """Count the inked cells in each box."""
        left, bottom = (np.clip(np.floor(boxes[:, side]).astype(int), 0, self.inked.shape[side]) for side in (0, 1))
        right, top = (np.clip(np.ceil(boxes[:, side + 2]).astype(int), 0, self.inked.shape[side]) for side in (0, 1))
        s = self.summed
        return np.asarray(s[right, top] - s[left, top] - s[right, bottom] + s[left, bottom], float)

    def crossed(self, leaders: Floats) -> Floats:
        """Count the inked cells along each leader, given as points on it, shape (n, many, 2)."""
        at = np.clip(leaders.astype(int), 0, np.array(self.inked.shape) - 1)
        return np.asarray(self.inked[at[..., 0], at[..., 1]].sum(axis=1), float)


def write_beside(
    axes: Axes, size: Size, names: Sequence[Name], numbers: Sequence[Number], lines: Sequence[Line2D]
) -> None:
    """Write names at the ends of curves and numbers at their points.

    Parameters
    ----------
    axes : Axes
        Where they are; its limits and place must stay as they are from here on.
    size : Size
        What for.
    names : sequence of Name
        Kept from top to bottom in the order of their ends.
    numbers : sequence of Number
        An earlier one moves less.
    lines : sequence of Line2D
        Curves, dots and ticks that words keep clear of.
    """
    sheet = _Sheet.of(axes, lines)
    points = [(name.x, name.y) for name in names] + [(number.x, number.y) for number in numbers]
    ends = sheet.scale * axes.transData.transform(points).reshape(-1, 2)
    boxes = _named(sheet, [name.text for name in names], ends[: len(names)], size.text)
    for name, end, box in zip(names, ends, boxes, strict=False):
        text = axes.annotate(name.text, (name.x, name.y), **_offset(end, box), size=size.text, **_look(name, end, box))
        if text.arrow_patch is not None:
            text.arrow_patch.set_gid(f"leader:{name.name}")
    for number, end in zip(numbers, ends[len(names) :], strict=True):
        box = _numbered(sheet, number, end, size.small, boxes)
        boxes.append(box)
        look: dict[str, Any] = {"gid": number.gid, "color": PALE, "size": size.small}
        axes.annotate(number.text, (number.x, number.y), **_offset(end, box), **look)


def room_beside(names: Iterable[str], size: Size) -> float:
    """Give the inches right of axes that names at the ends of curves take, the same for all usual ones."""
    widest = max((width(line, size.text) for text in names for line in text.split("\n")), default=0.0)
    return max(5.5 * size.gap, widest + 0.6 * size.gap) if widest else 0.2 * size.gap


def _offset(end: Floats, box: Floats) -> dict[str, Any]:
    """Say to matplotlib where a box stands from the point that it speaks of."""
    offset = (box[0] - end[0], (box[1] + box[3]) / 2 - end[1])
    return {"xytext": offset, "textcoords": "offset points", "va": "center", "annotation_clip": False}


def _look(name: Name, end: Floats, box: Floats) -> dict[str, Any]:
    """Give a name its halo, and a leader where it stands further off than it may without one."""
    look: dict[str, Any] = {"gid": f"label:{name.name}", "color": INK, "bbox": HALO, "linespacing": LINE}
    if _gap(box[None], end)[0] > NEAR:
        from_side = (np.clip(end, box[:2], box[2:]) - box[:2]) / (box[2:] - box[:2])
        leader = {"arrowstyle": "-", "color": name.colour, "linewidth": 0.8, "shrinkA": 0, "shrinkB": 0}
        look["arrowprops"] = leader | {"relpos": tuple(from_side)}
    return look


def _named(sheet: _Sheet, texts: Sequence[str], ends: Floats, points: float) -> list[Floats]:
    """Choose a box for each name, all together: the cheapest sum found by a search that keeps many at every name."""
    tries = [_places(sheet, text, end, ends, points) for text, end in zip(texts, ends, strict=True)]
    kept, totals = np.zeros((1, 0), int), np.zeros(1)
    for place, (boxes, leaders, own) in enumerate(tries):
        costs = totals[:, None] + own
        for other, (there, joined, _) in enumerate(tries[:place]):
            clash = _clash(boxes, leaders, there, joined, ends[place][1] - ends[other][1])
            costs += clash[kept[:, other]]
        best = np.argsort(costs, axis=None, kind="stable")[:KEPT]
        kept = np.column_stack((kept[best // own.size], best % own.size))
        totals = costs.ravel()[best]
    return [boxes[chosen] for (boxes, _, _), chosen in zip(tries, kept[0], strict=True)]


def _clash(boxes: Floats, leaders: Floats, there: Floats, joined: Floats, above: float) -> Floats:
    """Say what each place of a name costs beside each of another: a row for each of the other's places.

    Parameters
    ----------
    boxes, leaders : ndarray of float
        Places of the one, and points along its leaders.
    there, joined : ndarray of float
        Those of the other.
    above : float
        Points by which the end of the one's curve is higher than that of the other's.
    """
    rises = (boxes[:, 1] + boxes[:, 3])[None] - (there[:, 1] + there[:, 3])[:, None]
    cost = OVER * _meet(boxes[None], there[:, None]) + MISLED * ((rises * above < 0) & (abs(above) > 0.5))
    cost += MISLED * _inside(leaders[None], there[:, None, None]).any(axis=-1)
    return np.asarray(cost + MISLED * _inside(joined[:, None], boxes[None, :, None]).any(axis=-1), float)


def _places(sheet: _Sheet, text: str, end: Floats, ends: Floats, points: float) -> tuple[Floats, Floats, Floats]:
    """Give the boxes where a name may stand, points along the leader to each, and what each costs by itself."""
    wide, high = _extent(text, points)
    right = 5 + np.append(0.0, np.arange(7, 100, 7))
    left = np.concatenate((right, -wide - right, [-wide / 2]))
    up = np.arange(-60, 61) * high / 4 / (1 + text.count("\n"))
    boxes = _boxes(end, left, up, wide, high)
    boxes = sheet.within(boxes)
    gap = _gap(boxes, end)
    near = np.clip(end, boxes[:, :2], boxes[:, 2:])
    leaders = end + np.linspace(0.0, 1, 16)[None, :, None] * (near - end)[:, None]
    cost = np.where(gap <= NEAR, 0.2 * gap, 12 + 1.3 * gap) + 3 * (boxes[:, 0] < end[0])
    cost += 0.02 * np.abs(boxes[:, 1] + boxes[:, 3] - 2 * end[1])
    # a level leader looks like a step of a curve
    cost += COVERED * (gap > NEAR) * (np.abs(near[:, 1] - end[1]) < 3)
    cost += COVERED * np.minimum(sheet.covered(boxes), 5) + CROSSED * (gap > NEAR) * sheet.crossed(leaders[:, 3:])
    for other in ends:
        # beside another curve's end it would be read as that one's name, leader or not
        cost += COVERED * (_gap(boxes, other) < np.minimum(gap, 1.2 * NEAR) - 1e-9)
    cheap = np.argsort(cost, kind="stable")[:KEPT]
    return boxes[cheap], leaders[cheap], cost[cheap]


def _numbered(sheet: _Sheet, number: Number, end: Floats, points: float, done: Sequence[Floats]) -> Floats:
    """Choose the box of a number: the nearest to its side of its point that is clear of lines and words."""
    wide, high = _extent(number.text, points)
    across, up = number.side
    left = (2.5 if across > 0 else -wide - 2.5) + np.arange(-16, 17) * 1.5
    boxes = _boxes(end, left, up * (high / 2 + 2.5) + np.arange(-20, 21) * 1.5, wide, high)
    boxes = sheet.within(boxes)
    wanted = end + np.multiply(number.side, (wide / 2 + 2.5, high / 2 + 2.5))
    cost = np.hypot(*((boxes[:, :2] + boxes[:, 2:]) / 2 - wanted).T) + 2 * _gap(boxes, end)
    cost += COVERED * np.minimum(sheet.covered(boxes), 5)
    for box in done:
        cost += OVER * _meet(boxes, box)
    return np.asarray(boxes[np.argmin(cost)], float)


def _extent(text: str, points: float) -> tuple[float, float]:
    """Measure words in points: the widest line, and all lines together."""
    lines = text.split("\n")
    return 72 * max(width(line, points) for line in lines) + 1, LINE * points * (len(lines) - 1) + TALL * points


def _boxes(end: Floats, left: Floats, up: Floats, wide: float, high: float) -> Floats:
    """Give left, bottom, right and top of the boxes at all offsets of their left sides and centres."""
    x, y = (side.ravel() for side in np.meshgrid(end[0] + left, end[1] + up - high / 2))
    return np.column_stack((x, y, x + wide, y + high))


def _gap(boxes: Floats, point: Floats) -> Floats:
    """Give the distance of a point from each box."""
    near = np.clip(point, boxes[:, :2], boxes[:, 2:])
    return np.asarray(np.hypot(*(near - point).T), float)


def _meet(boxes: Floats, box: Floats) -> NDArray[np.bool_]:
    """Tell which boxes overlap one."""
    apart = (boxes[..., :2] >= box[..., 2:] + 1) | (boxes[..., 2:] <= box[..., :2] - 1)
    return np.asarray(~apart.any(axis=-1))


def _inside(points: Floats, box: Floats) -> NDArray[np.bool_]:
    """Tell which points are within a box, or each within its own."""
    return np.asarray(((points > box[..., :2]) & (points < box[..., 2:])).all(axis=-1))


def _traced(line: Line2D, scale: float) -> Floats:
    """Give points along a line and over its markers, close enough that no cell between them is missed."""
    at = np.asarray(line.get_xydata(), float)
    if line.get_drawstyle() == "steps-post":
        at = np.column_stack((np.repeat(at[:, 0], 2)[1:], np.repeat(at[:, 1], 2)[:-1]))
    at = scale * line.get_transform().transform(at[np.isfinite(at).all(axis=1)])
    reach = line.get_markersize() * np.linspace(-0.5, 0.5, 9)
    if line.get_marker() == TICK_DOWN:
        return _about(at, np.column_stack((0 * reach, reach - reach.max())))
    if line.get_linestyle() == "None":
        return _about(at, np.array([(x, y) for x in reach for y in reach]))
    along = np.append(0.0, np.hypot(*np.diff(at, axis=0).T).cumsum())
    every = np.arange(0, along[-1] + 0.5, 0.5)
    middle = np.column_stack([np.interp(every, along, at[:, side]) for side in (0, 1)])
    thick = max(line.get_linewidth() / 2, 0.5) + 0.5
    return _about(middle, np.array([(x, y) for x in (-thick, 0, thick) for y in (-thick, 0, thick)]))


def _about(points: Floats, offsets: Floats) -> Floats:
    """Give each point moved by each offset."""
    return np.asarray((points[:, None] + offsets).reshape(-1, 2), float)
