"""Axes as every figure has them: where panels stand on the paper, level grid and thin axis lines, ticks with room.

The axes, their ticks and their grid are matplotlib's; here is only where they stand and how they are dressed.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from drivekit.show.paper import INK, LEADING, PALE, Size, width, wrapped

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.axis import Axis
    from matplotlib.figure import SubFigure
    from matplotlib.patches import ConnectionPatch
    from numpy.typing import NDArray

    Floats = Sequence[float] | NDArray[Any]

__all__ = [
    "arrow",
    "axes_at",
    "cells",
    "framed",
    "inches",
    "log_ticks",
    "number",
    "number_axis",
    "plot_height",
]


def inches(part: Axes | SubFigure) -> tuple[float, float]:
    """Give width and height of a part of the paper in inches."""
    root = part.get_figure(root=True)
    assert root is not None  # nothing is drawn off the paper
    return part.bbox.width / root.dpi, part.bbox.height / root.dpi


def arrow(axes: Axes, start: Floats, tip: Floats, gid: str, *, head: float, **style: Any) -> ConnectionPatch:
    """Draw an arrow between two places in the units of the axes; its head is so many points long."""
    from matplotlib.patches import ConnectionPatch

    shape: dict[str, Any] = {"arrowstyle": "-|>,head_length=1,head_width=0.42", "mutation_scale": head}
    shape |= {"axesA": axes, "axesB": axes, "shrinkA": 0, "shrinkB": 0, "clip_on": False}
    drawn = ConnectionPatch((start[0], start[1]), (tip[0], tip[1]), "data", gid=gid, **(shape | style))
    axes.add_artist(drawn)
    return drawn


def number(value: float) -> str:
    """Write the number of an axis: thousands with a comma, what is below one with its zero."""
    return f"{value:,.0f}" if abs(value) >= 1000 else f"{value:g}".replace("-", "\N{MINUS SIGN}")


def log_ticks(low: float, high: float) -> list[float]:
    """Choose round numbers within the ends of a logarithmic axis, 1 among them where it lies within."""
    from matplotlib.ticker import LogLocator, MaxNLocator

    decades = LogLocator(subs=(1.0,) if high / low > 1000 else (1.0, 2.0, 5.0))
    locator = decades if high / low > 3 else MaxNLocator(6, steps=(1, 2, 5, 10))
    return [float(f"{tick:.6g}") for tick in locator.tick_values(low, high) if low <= tick <= high]


def cells(body: SubFigure, columns: int, many: int) -> list[tuple[float, float, float, float]]:
    """Share the body among panels, row by row: left, bottom, width and height of each in inches."""
    wide, high = inches(body)
    rows = -(-many // columns)
    across, up = wide / columns, high / rows
    return [
        (column * across, high - (row + 1) * up, across, up)
        for row, column in (divmod(place, columns) for place in range(many))
    ]


def number_axis(axis: Axis, size: Size, ticks: Sequence[float] = (), *, whole: bool = False) -> None:
    """Write numbers at some places of an axis and nowhere else; by themselves round ones, as many as have room.

    Parameters
    ----------
    axis : Axis
        Of axes with their limits set.
    size : Size
        What for.
    ticks : sequence of float
        Where; needed for a logarithmic axis, see `log_ticks`.
    whole : bool
        Whether only whole numbers make sense.
    """
    from matplotlib.axis import XAxis
    from matplotlib.ticker import MaxNLocator

    level = isinstance(axis, XAxis)
    (low, high), along = axis.get_view_interval(), inches(axis.axes)[0 if level else 1]
    for many in () if ticks else range(12, 0, -1):
        places = MaxNLocator(many, steps=(1, 2, 5, 10), integer=whole).tick_values(low, high)
        ticks = [float(f"{place:.6g}") for place in places if low <= place <= high]
        wide = max((width(number(tick), size.text) for tick in ticks), default=0.0) if level else size.gap
        if along * (places[1] - places[0]) / (high - low) >= wide + 0.6 * size.gap:
            break
    axis.set_ticks(ticks, [number(tick) for tick in ticks])
    axis.minorticks_off()


def plot_height(size: Size) -> float:
    """Give the inches of height that one plot in `framed` needs with its words; on a slide the least it can do with."""
    return (2.3 if size.height is None else 1.4) + 5.5 * size.gap


def axes_at(body: SubFigure, box: tuple[float, float, float, float]) -> Axes:
    """Stand axes on the body at left, bottom, width and height in inches."""
    wide, high = inches(body)
    return body.add_axes((box[0] / wide, box[1] / high, box[2] / wide, box[3] / high))


def framed(
    body: SubFigure,
    size: Size,
    cell: tuple[float, float, float, float],
    *,
    x_label: str,
    y_label: str,
    name: str = "",
    left: float = 0.0,
    right: float = 0.0,
    below: float = 0.0,
) -> Axes:
    """Stand axes in a part of the body: level grid, two thin axis lines, their titles in words.

    Parameters
    ----------
    body : SubFigure
        Where.
    size : Size
        What for.
    cell : tuple of four floats
        Left, bottom, width and height in inches of the part that the axes have with all their words, as by `cells`.
    x_label, y_label : str
        Titles of the axes: below at the right, above at the left.
    name : str
        What tells this panel from the others, above them all; broken where it is too wide.
    left, right, below : float
        Inches beside and under the axes for words of their own, beyond those of ticks and titles.
    """
    gap, names = size.gap, wrapped(name, cell[2] - 1.2 * size.gap, size.text)
    start, bottom = left + 3.7 * gap, below + 3.2 * gap
    above = 2.3 * gap + 1.4 * gap * len(names)
    wide, high = cell[2] - start - right - gap, cell[3] - bottom - above
    axes = axes_at(body, (cell[0] + start, cell[1] + bottom, wide, high))
    axes.set_gid(f"panel:{name}" if name else "panel")
    axes.spines[["top", "right"]].set_visible(False)
    axes.spines[["bottom", "left"]].set_linewidth(1.2 * size.thin)
    axes.tick_params(labelsize=size.text, labelcolor=PALE, width=1.2 * size.thin, pad=0.4 * size.text)
    axes.tick_params(axis="y", length=0)
    axes.grid(axis="y", linewidth=1.2 * size.thin)
    axes.set_axisbelow(True)
    axes.set_xlabel(x_label, loc="right", size=size.text, color=PALE)
    for text, colour, up, gid in ((y_label, PALE, 0.8, "axis:y"), ("\n".join(names), INK, 2.2, "label")):
        if text:
            axes.annotate(
                text,
                (0, 1),
                (-3.1 * size.text, up * size.text),
                xycoords="axes fraction",
                textcoords="offset points",
                size=size.text,
                color=colour,
                linespacing=LEADING,
                gid=f"{gid}:{name}" if name else gid,
            )
    return axes
