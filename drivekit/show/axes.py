"""Axes as every figure has them: where panels stand on the paper, level grid and thin axis lines, ticks with room.

The axes, their ticks and their grid are matplotlib's; here is only where they stand and how they are dressed.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from drivekit.show.paper import INK, LEADING, PALE, Size, ink, wrapped

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.axis import Axis
    from matplotlib.figure import SubFigure
    from matplotlib.patches import ConnectionPatch
    from matplotlib.text import Annotation
    from numpy.typing import NDArray

    Floats = Sequence[float] | NDArray[Any]

__all__ = [
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
    "words_at",
]


def inches(part: Axes | SubFigure) -> tuple[float, float]:
    """Give width and height of a part of the paper in inches."""
    root = part.get_figure(root=True)
    assert root is not None  # nothing is drawn off the paper
    return part.bbox.width / root.dpi, part.bbox.height / root.dpi


def parts(body: SubFigure, columns: int, many: int) -> list[SubFigure]:
    """Share the body among so many panels, row by row."""
    rows = -(-many // columns)
    return list(body.subfigures(rows, columns, squeeze=False, wspace=0, hspace=0).flat)[:many]


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

    decades = LogLocator(subs=(1.0,) if high / low > 1000 else (1.0, 2.0, 5.0))
    locator = decades if high / low > 3 else MaxNLocator(6, steps=(1, 2, 5, 10))
    return [float(f"{tick:.6g}") for tick in locator.tick_values(low, high) if low <= tick <= high]


def number_axis(axis: Axis, ticks: Sequence[float] = (), *, whole: bool = False) -> None:
    """Write numbers at some places of an axis, or at round ones, whole if need be, as many as have room."""
    from matplotlib.ticker import FixedLocator, MaxNLocator

    axis.set_major_locator(FixedLocator(ticks) if ticks else MaxNLocator("auto", steps=(1, 2, 5, 10), integer=whole))
    axis.set_major_formatter(lambda value, _: number(value))
    axis.minorticks_off()


def plot_height(size: Size) -> float:
    """Give the inches of height that one plot in `framed` needs with its words; on a slide the least it can do with."""
    return (2.3 if size.height is None else 1.4) + 5.5 * size.gap


def axes_at(part: SubFigure, left: float, right: float, below: float, above: float) -> Axes:
    """Stand axes on a part of the paper, so many inches from its edges."""
    wide, high = inches(part)
    return part.add_axes((left / wide, below / high, 1 - (left + right) / wide, 1 - (below + above) / high))


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

    The level axis counts something, and bears whole numbers, unless its caller chooses others.

    Parameters
    ----------
    part : SubFigure
        What the axes have to themselves, with all their words.
    size : Size
        What for.
    x_label, y_label : str
        Titles of the axes: below at the right, above at the left.
    name : str
        What tells this panel from the others, above them all; broken where it is too wide.
    left, right, below : float
        Inches beside and under the axes for words of their own, beyond those of ticks and titles.
    """
    gap = size.gap
    names = wrapped(name, inches(part)[0] - 1.2 * gap, size.text)
    axes = axes_at(part, left + 3.7 * gap, right + gap, below + 3.2 * gap, (2.3 + 1.4 * len(names)) * gap)
    axes.set_gid(f"panel:{name}" if name else "panel")
    axes.spines[["top", "right"]].set_visible(False)
    axes.spines[["bottom", "left"]].set_linewidth(1.2 * size.thin)
    axes.tick_params(labelsize=size.text, labelcolor=PALE, width=1.2 * size.thin, pad=0.4 * size.text)
    axes.tick_params(axis="y", length=0)
    axes.grid(axis="y", linewidth=1.2 * size.thin)
    axes.set_axisbelow(True)
    axes.set_xlabel(x_label, loc="right", size=size.text, color=PALE)
    number_axis(axes.xaxis, whole=True)
    number_axis(axes.yaxis)
    head: dict[str, Any] = {"xycoords": "axes fraction", "va": "baseline", "linespacing": LEADING}
    for text, colour, up, gid in ((y_label, PALE, 0.8, "axis:y"), ("\n".join(names), INK, 2.2, "label")):
        if text:
            own, offset = f"{gid}:{name}" if name else gid, (-3.1 * size.text, up * size.text)
            words_at(axes, text, (0, 1), offset, own, size.text, color=colour, **head)
    return axes
