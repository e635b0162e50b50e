"""Axes as every figure has them, and words beside what is drawn, clear of every line and of each other.

The axes, their ticks and their grid are matplotlib's; here is only where they stand on the paper and how they are
dressed. A name stands within 6 points of its curve's end, in the order of the ends. Where the curves leave no room
there it goes to the nearest free place, and a thin leader joins it to the end. Places are computed from the widths of
the words before anything is written: what is drawn already is a set of small boxes, and a place costs what its own box
meets.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from math import ceil
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from drivekit.show.paper import HALO, INK, LEADING, MOST_MARKS, PALE, Size, ink, width, wrapped

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.axis import Axis
    from matplotlib.figure import SubFigure
    from matplotlib.lines import Line2D
    from matplotlib.patches import ConnectionPatch
    from matplotlib.text import Annotation

    from drivekit.show.paper import Floats

__all__ = [
    "Number",
    "apart",
    "arrow",
    "axes_at",
    "banded",
    "framed",
    "inches",
    "log_ticks",
    "number",
    "number_axis",
    "parts",
    "plot_height",
    "room_beside",
    "tiled",
    "words_at",
    "write_beside",
]

Panel = TypeVar("Panel")

Boxes = NDArray[np.floating[Any]]

Number = tuple[str, str, tuple[float, float], tuple[int, int]]
"""A gid, the number, its point, and where it would stand: (1, 1) right of the point and above it."""

MOST_TICKS = 12
"""Round numbers on a logarithmic axis; of more decades some are left out."""

NEAR = 6.0
"""Points within which a name needs no leader to the end of its curve."""

LINE, TALL = 1.2, 1.05
"""In heights of the type: from line to line of words, and from the top to the bottom of the letters."""

COVERED, CROSSED, MISLED, OVER = 60.0, 12.0, 400.0, 1e5
"""Points that words walk rather than cover a curve, cross it with a leader, stand out of order, cover other words."""

KEPT = 60
"""Places of a name, and of all names together, that are looked at further."""


def inches(part: Axes | SubFigure) -> tuple[float, float]:
    """Give width and height of a part of the paper in inches."""
    dpi = part.figure.dpi
    return part.bbox.width / dpi, part.bbox.height / dpi


def parts(body: SubFigure, columns: int, many: int) -> list[SubFigure]:
    """Share the body among so many panels, row by row."""
    rows = -(-many // columns)
    return list(body.subfigures(rows, columns, squeeze=False, wspace=0, hspace=0).flat)[:many]


def tiled(
    panels: Sequence[Panel],
    draw_one: Callable[[SubFigure, Size, Panel], None],
    high: Callable[[Size, float], float],
    most: int = 2,
    on_slide: int = 0,
) -> tuple[Callable[[SubFigure, Size], None], Callable[[Size], float]]:
    """Give how panels are drawn row by row, and the height that they need, as a `Picture` takes them.

    So many stand side by side at most, on a slide others if that is said, and on a phone one; each is so high at its
    width in inches.
    """

    def columns(size: Size) -> int:
        return 1 if size.width < 5 else min(len(panels), on_slide or most if size.height is not None else most)

    def draw(body: SubFigure, size: Size) -> None:
        for part, panel in zip(parts(body, columns(size), len(panels)), panels, strict=True):
            draw_one(part, size, panel)

    return draw, lambda size: -(-len(panels) // columns(size)) * high(size, size.width / columns(size))


def arrow(axes: Axes, start: Floats, tip: Floats, gid: str, *, head: float, **style: Any) -> ConnectionPatch:
    """Draw an arrow between two places in the units of the axes; its head is so many points long."""
    from matplotlib.patches import ConnectionPatch

    shape: dict[str, Any] = {"arrowstyle": "-|>,head_length=1,head_width=0.42", "mutation_scale": head}
    shape |= {"axesA": axes, "axesB": axes, "shrinkA": 0, "shrinkB": 0, "clip_on": False}
    drawn = ConnectionPatch((start[0], start[1]), (tip[0], tip[1]), "data", gid=gid, **(shape | style))
    axes.add_artist(drawn)
    return drawn


def banded(axes: Axes, size: Size, gid: str, place: int, x: Floats, lower: Floats, upper: Floats, **how: Any) -> None:
    """Fill between the limits of the group at a place in the order of groups, so faintly that others show through."""
    colour = ink(place)["color"]
    look: dict[str, Any] = {"facecolor": (colour, 0.13), "edgecolor": (colour, 0.45), "linewidth": 0.6 * size.thin}
    axes.fill_between(x, lower, upper, gid=gid, **look | how)


def words_at(
    axes: Axes, text: str, at: Floats, offset: tuple[float, float], gid: str, points: float, **look: Any
) -> Annotation:
    """Write words of so many points beside a place in the units of the axes: in ink, their middle level with it."""
    style: dict[str, Any] = {"textcoords": "offset points", "va": "center", "color": INK, "size": points, "gid": gid}
    return axes.annotate(text, (at[0], at[1]), offset, **style | look)


def number(value: float) -> str:
    """Write the number of an axis: thousands with a comma, what is below one with its zero."""
    return f"{value:,.0f}" if abs(value) >= 1000 else f"{value:g}".replace("-", "\N{MINUS SIGN}")


def log_ticks(low: float, high: float) -> list[float]:
    """Choose round numbers within the ends of a logarithmic axis, 1 among them where it lies within."""
    from matplotlib.ticker import LogLocator, MaxNLocator

    decades = LogLocator(subs=(1.0,) if high / low > 1000 else (1.0, 2.0, 5.0), numticks=999)
    locator = decades if high / low > 3 else MaxNLocator(6, steps=(1, 2, 5, 10))
    ticks = [float(f"{tick:.6g}") for tick in locator.tick_values(low, high) if low <= tick <= high]
    stride = max(1, -(-len(ticks) // MOST_TICKS))
    return ticks[(ticks.index(1) if 1 in ticks else 0) % stride :: stride]


def number_axis(axis: Axis, ticks: Sequence[float] = (), *, whole: bool = False) -> None:
    """Write numbers at some places of an axis, or at round ones, whole if need be, as many as have room."""
    from matplotlib.ticker import FixedLocator, MaxNLocator

    axis.set_major_locator(FixedLocator(ticks) if ticks else MaxNLocator("auto", steps=(1, 2, 5, 10), integer=whole))
    axis.set_major_formatter(lambda value, _: number(value))
    axis.minorticks_off()


def plot_height(size: Size) -> float:
    """Give the inches of height that one plot in `framed` needs with its words; on a slide the least it can do with."""
    return (2.3 if size.height is None else 1.4) + 5.5 * size.gap


def axes_at(part: SubFigure, size: Size, left: float, right: float, below: float, above: float) -> Axes:
    """Stand axes on a part of the paper, so many inches from its edges, with the lines and numbers of a size."""
    wide, high = inches(part)
    axes = part.add_axes((left / wide, below / high, 1 - (left + right) / wide, 1 - (below + above) / high))
    axes.spines[:].set_linewidth(1.2 * size.thin)
    axes.tick_params(labelsize=size.text, labelcolor=PALE, width=1.2 * size.thin)
    return axes


def framed(
    part: SubFigure,
    size: Size,
    x_label: str,
    y_label: str,
    name: str = "",
    *,
    left: float = 0.0,
    right: float = 0.0,
    below: float = 0.0,
) -> Axes:
    """Stand axes on a part of the paper: level grid, two thin axis lines, their titles in words, numbers as have room.

    The level axis counts something, and bears whole numbers, unless its caller chooses others; its title stands below
    at the right, the upright one's above at the left. A name tells this panel from the others, above them all. Words of
    their own have so many inches beside and under the axes, beyond those of ticks and titles.
    """
    gap = size.gap
    names = wrapped(name, inches(part)[0] - 1.2 * gap, size.text)
    axes = axes_at(part, size, left + 3.7 * gap, right + gap, below + 3.2 * gap, (2.3 + 1.4 * len(names)) * gap)
    axes.set_gid(f"panel:{name}" if name else "panel")
    axes.tick_params(pad=0.4 * size.text)
    axes.tick_params(axis="y", length=0)
    axes.grid(axis="y", linewidth=1.2 * size.thin)
    axes.set_xlabel(x_label, loc="right", size=size.text, color=PALE)
    number_axis(axes.xaxis, whole=True)
    number_axis(axes.yaxis)
    head: dict[str, Any] = {"xycoords": "axes fraction", "va": "baseline", "linespacing": LEADING}
    for text, colour, up, gid in ((y_label, PALE, 0.8, "axis:y"), ("\n".join(names), INK, 2.2, "label")):
        if text:
            own, offset = f"{gid}:{name}" if name else gid, (-3.1 * size.text, up * size.text)
            words_at(axes, text, (0, 1), offset, own, size.text, color=colour, **head)
    return axes


def write_beside(axes: Axes, size: Size, names: Mapping[str, str], numbers: Sequence[Number] = ()) -> None:
    """Write names at the ends of curves and numbers at their points, clear of every line, dot and tick of the axes.

    The axes' limits and place must stay as they are from here on. Names go by the gid of their curve, with line ends
    where they are wrapped, and are kept from top to bottom in the order of the curves' ends; that of a curve not drawn
    is left out. Of ``curve:NAME`` the words get the gid ``label:NAME``, a leader ``leader:NAME``. An earlier number
    moves less.
    """
    lines = {str(line.get_gid()): line for line in axes.lines}
    names = {gid: text for gid, text in names.items() if gid in lines}
    points = [*(_end(axes, lines[gid]) for gid in names), *(at for _, _, at, _ in numbers)]
    ends = _scale(axes) * axes.transData.transform(np.reshape(points, (-1, 2)))
    drawn = _inked(axes.lines, _scale(axes))
    tries = [_places(axes, drawn, text, place, ends[: len(names)], size) for place, text in enumerate(names.values())]
    done = _together(tries, ends[: len(names)])
    for (gid, text), at, end, box in zip(names.items(), points, ends, done, strict=False):
        name = gid.partition(":")[2]
        look: dict[str, Any] = {"bbox": HALO, "linespacing": LINE}
        if _gap(box[None], end)[0] > NEAR:
            side = (np.clip(end, box[:2], box[2:]) - box[:2]) / (box[2:] - box[:2])
            leader = {"arrowstyle": "-", "color": lines[gid].get_color(), "linewidth": 0.8, "shrinkA": 0, "shrinkB": 0}
            look["arrowprops"] = leader | {"relpos": tuple(side)}
        written = _write(axes, text, at, end, box, f"label:{name}", size.text, **look)
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
        _write(axes, text, at, end, done[-1], gid, size.small, color=PALE)


def apart(texts: Sequence[Annotation], curves: Sequence[Artist] = ()) -> None:
    """Move annotations up or down until none covers another, and none a curve where that takes but a short walk.

    They are placed by offsets in points (``textcoords="offset points"``), and stay between the bottom and the top of
    their axes; an earlier one moves less. Curves are lines and outlines, or dots where a line is drawn as those alone.
    """
    done: list[Boxes] = []
    for text in texts:
        axes, scale = text.axes, _scale(text)
        assert axes is not None  # an annotation is placed only while it stands on axes
        box = scale * np.array(text.get_window_extent().extents)
        high = box[3] - box[1]
        boxes = box + np.outer(np.array(sorted(range(-24, 25), key=abs)) * high / 4, (0, 1, 0, 1))
        inside = (boxes[:, 1] >= scale * axes.bbox.y0 - 1) & (boxes[:, 3] <= max(scale * axes.bbox.y1, box[3]) + 1)
        cost = np.abs(boxes[:, 1] - box[1]) + OVER * ~inside
        cost += OVER * _meet(boxes, np.reshape(done, (-1, 4))).any(axis=1)
        cost += 2.5 * high * _meet(boxes, _inked(curves, scale)).any(axis=1)
        done.append(boxes[np.argmin(cost)])
        text.xyann = text.xyann[0], text.xyann[1] + done[-1][1] - box[1]


def room_beside(names: Iterable[str], size: Size) -> float:
    """Give the inches right of axes that names at the ends of curves take, the same for all usual ones."""
    widest = max((width(line, size.text) for text in names for line in text.split("\n")), default=0.0)
    return max(5.5 * size.gap, widest + 0.6 * size.gap) if widest else 0.2 * size.gap


def _end(axes: Axes, line: Line2D) -> tuple[float, float]:
    """Find where a curve ends: its last point within the axes, or where it comes down to 0 and stays there."""
    within = np.array([at for at in np.asarray(line.get_xydata()) if axes.viewLim.contains(*at)])
    above = np.flatnonzero(np.abs(within[:, 1]) >= 1e-7)
    x, y = within[min(above[-1] + 1, len(within) - 1)] if above.size else within[-1]
    return float(x), float(y)


def _places(axes: Axes, drawn: Boxes, text: str, place: int, ends: Boxes, size: Size) -> tuple[Boxes, Boxes, Boxes]:
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


def _together(tries: Sequence[tuple[Boxes, Boxes, Boxes]], ends: Boxes) -> list[Boxes]:
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


def _write(
    axes: Axes, text: str, at: Floats, end: Boxes, box: Boxes, gid: str, points: float, **look: Any
) -> Annotation:
    offset = (box[0] - end[0], (box[1] + box[3]) / 2 - end[1])
    return words_at(axes, text, at, offset, gid, points, annotation_clip=False, **look)


def _scale(artist: Artist) -> float:
    """Give the points of a pixel; all places are in points from the lower left corner of the paper."""
    return 72 / artist.figure.dpi


def _inked(lines: Iterable[Any], scale: float) -> Boxes:
    """Cover curves, outlines, dots and ticks with small boxes: left, bottom, right and top of each."""
    from matplotlib.path import Path

    found = [np.zeros((0, 4))]
    for line in lines:
        dots = getattr(line, "get_linestyle", lambda: "-")() == "None"
        path, move = line.get_path(), line.get_transform()
        for points in [path.vertices] if dots else path.to_polygons(closed_only=False):
            at = scale * move.transform(np.asarray(points)[np.isfinite(points).all(axis=1)])
            if dots and len(at) > MOST_MARKS:  # many then stand on each other
                at = np.unique((2 * at).round(), axis=0) / 2
            reach = line.get_markersize() / 2 if dots else line.get_linewidth() / 2 + 0.3
            if not dots:
                # a level or an upright piece is its own box, a sloping one is cut into short ones
                slope = np.abs(np.diff(at, axis=0)).min(axis=1).max(initial=0)
                at = Path(at).interpolated(max(1, ceil(slope / 3))).vertices
            pairs = (at, at) if dots else (at[:-1], at[1:])
            found.append(np.hstack((np.minimum(*pairs) - reach, np.maximum(*pairs) + reach)))
    return np.vstack(found)


def _within(axes: Axes, boxes: Boxes) -> Boxes:
    """Keep the boxes on the paper and off what stands under the axes; all, where there is none such."""
    corners = axes.bbox.min, (axes.figure.bbox.x1, axes.bbox.y1), axes.bbox.x1
    low, high, right = (_scale(axes) * np.array(corner) for corner in corners)
    # beside the axes no number of an axis stands, and words may sink by half their height
    fits = (boxes[:, 0] >= low[0] + 0.5) & (boxes[:, 1] >= low[1] + 0.5 - 5 * (boxes[:, 0] > right))
    fits &= (boxes[:, 2:] <= np.add(high, (-3, 3))).all(axis=1)
    return boxes[fits] if fits.any() else boxes


def _extent(text: str, points: float) -> tuple[float, float]:
    """Measure words in points: the widest line, and all lines together."""
    lines = text.split("\n")
    return 72 * max(width(line, points) for line in lines) + 1, LINE * points * (len(lines) - 1) + TALL * points


def _boxes(end: Boxes, left: Boxes, up: Boxes, wide: float, high: float) -> Boxes:
    """Give left, bottom, right and top of the boxes at all offsets of their left sides and centres."""
    x, y = (side.ravel() for side in np.meshgrid(end[0] + left, end[1] + up - high / 2))
    return np.column_stack((x, y, x + wide, y + high))


def _gap(boxes: Boxes, point: Boxes) -> Boxes:
    """Give the distance of a point from each box."""
    return np.asarray(np.hypot(*(np.clip(point, boxes[:, :2], boxes[:, 2:]) - point).T), float)


def _meet(boxes: Boxes, others: Boxes) -> NDArray[np.bool_]:
    """Tell which boxes overlap which others, shape (n_boxes, n_others)."""
    left, low, right, high = boxes.T[:, :, None]
    across = (left < others[:, 2]) & (others[:, 0] < right)
    return np.asarray(across & (low < others[:, 3]) & (others[:, 1] < high))
