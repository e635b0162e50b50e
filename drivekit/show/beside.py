"""Words beside curves: names at their ends and numbers at their points, clear of every line and of each other.

A name stands within 6 points of its curve's end, in the order of the ends. Where the curves leave no room there it
goes to the nearest free place, and a thin leader joins it to the end. Places are computed from the widths of the words
before anything is written: what is drawn already is a set of small boxes, and a place costs what its own box meets.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import ceil
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from drivekit.show.paper import HALO, INK, PALE, Size, width

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.text import Annotation

__all__ = ["Name", "Number", "apart", "room_beside", "write_beside"]

Floats = NDArray[np.floating[Any]]

Name = tuple[str, str, tuple[float, float], str]
"""A group, its words (with line ends where they are wrapped), where its curve ends, and the colour of a leader: the
words get the gid ``label:NAME``, the leader ``leader:NAME``."""

Number = tuple[str, str, tuple[float, float], tuple[int, int]]
"""A gid, the number, its point, and where it would stand: (1, 1) right of the point and above it."""

NEAR = 6.0
"""Points within which a name needs no leader to the end of its curve."""

LINE, TALL = 1.2, 1.05
"""In heights of the type: from line to line of words, and from the top to the bottom of the letters."""

COVERED, CROSSED, MISLED, OVER = 60.0, 12.0, 400.0, 1e5
"""Points that words walk rather than cover a curve, cross it with a leader, stand out of order, cover other words."""

KEPT = 60
"""Places of a name, and of all names together, that are looked at further."""


def write_beside(
    axes: Axes, size: Size, names: Sequence[Name], numbers: Sequence[Number], lines: Sequence[Artist]
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
    points = [at for _, _, at, _ in names] + [at for _, _, at, _ in numbers]
    ends = _scale(axes) * axes.transData.transform(np.reshape(points, (-1, 2)))
    drawn = _inked(lines, _scale(axes))
    tries = [_places(axes, drawn, text, place, ends[: len(names)], size) for place, (_, text, _, _) in enumerate(names)]
    done = _together(tries, ends[: len(names)])
    for (name, text, at, colour), end, box in zip(names, ends, done, strict=False):
        look: dict[str, Any] = {"gid": f"label:{name}", "color": INK, "bbox": HALO, "linespacing": LINE}
        if _gap(box[None], end)[0] > NEAR:
            side = (np.clip(end, box[:2], box[2:]) - box[:2]) / (box[2:] - box[:2])
            leader = {"arrowstyle": "-", "color": colour, "linewidth": 0.8, "shrinkA": 0, "shrinkB": 0}
            look["arrowprops"] = leader | {"relpos": tuple(side)}
        written = _write(axes, text, at, end, box, size=size.text, **look)
        if written.arrow_patch is not None:
            written.arrow_patch.set_gid(f"leader:{name}")
    for (gid, text, at, side_of), end in zip(numbers, ends[len(names) :], strict=True):
        wide, high = _extent(text, size.small)
        wanted = np.multiply(side_of, (wide / 2 + 2.5, high / 2 + 2.5))
        left = wanted[0] - wide / 2 + np.arange(-16, 17) * 1.5
        boxes = _within(axes, _boxes(end, left, wanted[1] + np.arange(-20, 21) * 1.5, wide, high))
        cost = np.hypot(*((boxes[:, :2] + boxes[:, 2:]) / 2 - end - wanted).T) + 2 * _gap(boxes, end)
        cost += COVERED * np.minimum(_meet(boxes, drawn).sum(axis=1), 5)
        cost += OVER * _meet(boxes, np.reshape(done, (-1, 4))).sum(axis=1)
        done.append(boxes[np.argmin(cost)])
        _write(axes, text, at, end, done[-1], size=size.small, gid=gid, color=PALE)


def apart(texts: Sequence[Annotation], curves: Sequence[Artist] = ()) -> None:
    """Move annotations up or down until none covers another, and none a curve where that takes but a short walk.

    Parameters
    ----------
    texts : sequence of Annotation
        Placed by offsets in points (``textcoords="offset points"``); an earlier one moves less. Each stays between
        the bottom and the top of its axes.
    curves : sequence of Line2D or Patch
        What the words had better not cover: lines and outlines, or dots where a line is drawn as those alone.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    done: list[Floats] = []
    for text in texts:
        root, axes = text.get_figure(root=True), text.axes
        assert root is not None
        assert axes is not None  # an annotation is placed only while it stands on axes of a figure
        scale = _scale(axes)
        box = scale * np.array(text.get_window_extent(FigureCanvasAgg(root).get_renderer()).extents)
        high = box[3] - box[1]
        boxes = box + np.outer(np.array(sorted(range(-24, 25), key=abs)) * high / 4, (0, 1, 0, 1))
        inside = (boxes[:, 1] >= scale * axes.bbox.y0 - 1) & (boxes[:, 3] <= max(scale * axes.bbox.y1, box[3]) + 1)
        cost = (
            np.abs(boxes[:, 1] - box[1]) + OVER * ~inside + OVER * _meet(boxes, np.reshape(done, (-1, 4))).any(axis=1)
        )
        cost += 2.5 * high * _meet(boxes, _inked(curves, scale)).any(axis=1)
        done.append(boxes[np.argmin(cost)])
        text.xyann = text.xyann[0], text.xyann[1] + done[-1][1] - box[1]


def room_beside(names: Iterable[str], size: Size) -> float:
    """Give the inches right of axes that names at the ends of curves take, the same for all usual ones."""
    widest = max((width(line, size.text) for text in names for line in text.split("\n")), default=0.0)
    return max(5.5 * size.gap, widest + 0.6 * size.gap) if widest else 0.2 * size.gap


def _places(
    axes: Axes, drawn: Floats, text: str, place: int, ends: Floats, size: Size
) -> tuple[Floats, Floats, Floats]:
    """Give the boxes where a name may stand, points along the leader to each, and what each costs by itself."""
    wide, high = _extent(text, size.text)
    end, right = ends[place], 5 + np.append(0.0, np.arange(7, 100, 7))
    up = np.arange(-60, 61) * high / 4 / (1 + text.count("\n"))
    boxes = _within(axes, _boxes(end, np.concatenate((right, -wide - right, [-wide / 2])), up, wide, high))
    gap, near = _gap(boxes, end), np.clip(end, boxes[:, :2], boxes[:, 2:])
    leaders = end + np.linspace(0.2, 1, 13)[None, :, None] * (near - end)[:, None]
    cost = np.where(gap <= NEAR, 0.2 * gap, 12 + 1.3 * gap) + 3 * (boxes[:, 0] < end[0])
    cost += 0.02 * np.abs(boxes[:, 1] + boxes[:, 3] - 2 * end[1])
    # a level leader looks like a step of a curve
    cost += COVERED * (gap > NEAR) * (np.abs(near[:, 1] - end[1]) < 3)
    for other in ends:
        # beside another curve's end it would be read as that one's name, leader or not
        cost += COVERED * (_gap(boxes, other) < np.minimum(gap, 1.2 * NEAR) - 1e-9)
    # what costs most to find out is asked of the cheapest places alone
    cheap = np.argsort(cost, kind="stable")[: 12 * KEPT]
    boxes, leaders, gap, cost = boxes[cheap], leaders[cheap], gap[cheap], cost[cheap]
    cost += COVERED * np.minimum(_meet(boxes, drawn).sum(axis=1), 5)
    cheap = np.argsort(cost, kind="stable")[: 2 * KEPT]
    boxes, leaders, gap, cost = boxes[cheap], leaders[cheap], gap[cheap], cost[cheap]
    along = np.concatenate((leaders, leaders), axis=2).reshape(-1, 4)
    crossed = _meet(along, drawn).any(axis=1).reshape(leaders.shape[:2]).sum(axis=1)
    cost += CROSSED * (gap > NEAR) * crossed
    cheap = np.argsort(cost, kind="stable")[:KEPT]
    return boxes[cheap], leaders[cheap], cost[cheap]


def _together(tries: Sequence[tuple[Floats, Floats, Floats]], ends: Floats) -> list[Floats]:
    """Choose a box for each name, all together: the cheapest sum found by a search that keeps many at every name."""
    kept, totals = np.zeros((1, 0), int), np.zeros(1)
    for place, (boxes, leaders, own) in enumerate(tries):
        costs = totals[:, None] + own
        for other, (there, joined, _) in enumerate(tries[:place]):
            above = ends[place][1] - ends[other][1]
            rises = (boxes[:, 1] + boxes[:, 3])[None] - (there[:, 1] + there[:, 3])[:, None]
            clash = OVER * _meet(there, boxes) + MISLED * ((rises * above < 0) & (abs(above) > 0.5))
            for points, words, flip in ((leaders, there, True), (joined, boxes, False)):
                through = _meet(np.concatenate((points, points), axis=2).reshape(-1, 4), words)
                met = through.reshape(*points.shape[:2], -1).any(axis=1)
                clash += MISLED * (met.T if flip else met)
            costs += clash[kept[:, other]]
        best = np.argsort(costs, axis=None, kind="stable")[:KEPT]
        kept = np.column_stack((kept[best // own.size], best % own.size))
        totals = costs.ravel()[best]
    return [boxes[chosen] for (boxes, _, _), chosen in zip(tries, kept[0], strict=True)]


def _write(axes: Axes, text: str, at: tuple[float, float], end: Floats, box: Floats, **look: Any) -> Annotation:
    offset = (box[0] - end[0], (box[1] + box[3]) / 2 - end[1])
    return axes.annotate(text, at, offset, textcoords="offset points", va="center", annotation_clip=False, **look)


def _scale(axes: Artist) -> float:
    """Give the points of a pixel; all places are in points from the lower left corner of the paper."""
    root = axes.get_figure(root=True)
    assert root is not None  # words are written only on axes that stand on a figure
    return float(72 / root.dpi)


def _inked(lines: Iterable[Any], scale: float) -> Floats:
    """Cover curves, outlines, dots and ticks with small boxes: left, bottom, right and top of each."""
    from matplotlib.path import Path

    found = [np.zeros((0, 4))]
    for line in lines:
        dots = getattr(line, "get_linestyle", lambda: "-")() == "None"
        path, move = line.get_path(), line.get_transform()
        for points in [path.vertices] if dots else path.to_polygons(closed_only=False):
            at = scale * move.transform(np.asarray(points)[np.isfinite(points).all(axis=1)])
            reach = line.get_markersize() / 2 if dots else line.get_linewidth() / 2 + 0.3
            if not dots:
                # a level or an upright piece is its own box, a sloping one is cut into short ones
                slope = np.abs(np.diff(at, axis=0)).min(axis=1).max(initial=0)
                at = Path(at).interpolated(max(1, ceil(slope / 3))).vertices
            pairs = (at, at) if dots else (at[:-1], at[1:])
            found.append(np.hstack((np.minimum(*pairs) - reach, np.maximum(*pairs) + reach)))
    return np.vstack(found)


def _within(axes: Axes, boxes: Floats) -> Floats:
    """Keep the boxes on the paper and off what stands under the axes; all, where there is none such."""
    body = axes.get_figure(root=False)
    assert body is not None  # as for `_scale`
    low, high, right = (
        _scale(axes) * np.array(side) for side in (axes.bbox.min, (body.bbox.x1, axes.bbox.y1), axes.bbox.x1)
    )
    # beside the axes no number of an axis stands, and words may sink by half their height
    fits = (boxes[:, 0] >= low[0] + 0.5) & (boxes[:, 1] >= low[1] + 0.5 - 5 * (boxes[:, 0] > right))
    fits &= (boxes[:, 2:] <= np.add(high, (-3, 3))).all(axis=1)
    return boxes[fits] if fits.any() else boxes


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
    return np.asarray(np.hypot(*(np.clip(point, boxes[:, :2], boxes[:, 2:]) - point).T), float)


def _meet(boxes: Floats, others: Floats) -> NDArray[np.bool_]:
    """Tell which boxes overlap which others, shape (n_boxes, n_others)."""
    left, low, right, high = boxes.T[:, :, None]
    across = (left < others[:, 2]) & (others[:, 0] < right)
    return np.asarray(across & (low < others[:, 3]) & (others[:, 1] < high))
