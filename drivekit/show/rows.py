"""How intervals are drawn, one a row: its name at the left, the numbers at the right, "no difference" marked.

Several panels share one axis. A limit without end, or beyond the axis, is an arrow at the end of the axis; a row that
cannot be told has its words and no mark.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain, pairwise
from typing import TYPE_CHECKING, Any

from drivekit.show.axes import axes_at, number, number_axis, parts
from drivekit.show.paper import INK, PALE, Size, ink, width, wrapped

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import SubFigure

__all__ = ["Row", "rows_drawn"]

SHARE = 0.31
"""Part of the width that names, and that numbers, take at most."""

WIDER = 1.036
"""On a screen letters are set on whole pixels, and a little wider than the font has them."""


@dataclass(frozen=True, slots=True)
class Row:
    """An estimate with its limits, or the reason why there is none.

    Parameters
    ----------
    gid : str
        ``interval:`` and what is compared.
    name, said, counts : str
        What is compared, at the left; the numbers or the reason, and what stands behind them, at the right.
    estimate, lower, upper : float or None
        In the unit of the axis; an estimate is None where it cannot be told, one limit where it has no end.
    diamond : bool
        Drawn with another mark: the estimate comes from another method than the rest.
    """

    gid: str
    name: str
    said: str
    counts: str = ""
    estimate: float | None = None
    lower: float | None = None
    upper: float | None = None
    diamond: bool = False


def rows_drawn(
    panels: Mapping[str, Sequence[Row]],
    ends: tuple[float, float],
    ticks: Sequence[float],
    none: float,
    x_label: str = "",
    *,
    log: bool = False,
) -> tuple[Callable[[SubFigure, Size], None], Callable[[Size], float]]:
    """Give how panels of rows on one axis are drawn, and the height that they need.

    Parameters
    ----------
    panels : mapping of str to sequence of Row
        By what stands above each panel; one that stands alone has no name.
    ends : tuple of two floats
        Of the axis.
    ticks : sequence of float
        Where numbers may stand, `none` among them; those without room are left out, counted from `none`.
    none : float
        The value that is no difference: 0, or 1 on a logarithmic axis.
    x_label : str
        The title of the axis; empty where the picture's words say it for all panels.
    log : bool
        Whether the axis is logarithmic.

    Returns
    -------
    draw, needs : callable
        As a `Picture` takes them.
    """
    rows = [row for each in panels.values() for row in each]

    def columns(size: Size) -> int:
        return 1 if len(panels) == 1 or size.width < 5 else 2

    def words(size: Size) -> dict[str, tuple[list[str], list[str], list[str]]]:
        """Break name, numbers and counts of each row into lines."""
        room = SHARE * size.width / columns(size)
        return {
            row.gid: (
                wrapped(row.name, room, size.text),
                wrapped(row.said, room, size.small),
                wrapped(row.counts, room, size.small),
            )
            for row in rows
        }

    def about(size: Size) -> tuple[float, float]:
        """Give the inches below and above the rows of a panel."""
        return (3.2 if x_label else 2.0) * size.gap, (3.3 if any(panels) else 1.9) * size.gap

    def needs(size: Size) -> float:
        """Make each row as tall as the tallest, and give it air; a slide gives what height there is more."""
        most = max(
            max(len(name) * size.text, len(said + counts) * size.small) for name, said, counts in words(size).values()
        )
        leading, air = (1.2, 0.3) if size.height is not None else (1.3, 0.45 if any(panels) else 0.9)
        each = max(map(len, panels.values())) * (leading * most / 72 + air * size.gap) + sum(about(size))
        return -(-len(panels) // columns(size)) * each

    def draw(body: SubFigure, size: Size) -> None:
        said = words(size)
        names = chain.from_iterable(name for name, _, _ in said.values())
        numbers = chain.from_iterable(numbers + counts for _, numbers, counts in said.values())
        left = 1.6 * size.gap + WIDER * max(width(line, size.text) for line in names)
        right = 1.6 * size.gap + WIDER * max(width(line, size.small) for line in numbers)
        for part, (name, each) in zip(parts(body, columns(size), len(panels)), panels.items(), strict=True):
            axes = axes_at(part, left, right, *about(size))
            axes.set(xscale="log" if log else "linear", xlim=ends, ylim=(len(each) - 0.5, -0.5), yticks=())
            axes.set_gid(f"panel:{name}" if name else "panel")
            _dress(axes, size, ticks, none, x_label)
            own, start = f"rule:{none:g}:{name}".rstrip(":"), 72 * (0.6 * size.gap - left)
            axes.axvline(none, color=INK, linewidth=1.4 * size.thin, gid=own)
            above: dict[str, Any] = {"xycoords": axes.get_xaxis_transform(), "textcoords": "offset points"}
            centred: dict[str, Any] = {"ha": "center", "size": size.small, "color": PALE, **above}
            axes.annotate("no difference", (none, 1), (0, 0.4 * size.text), gid=f"{own}:text", **centred)
            if name:
                heading = {"xycoords": "axes fraction", "size": size.text, "color": INK, "gid": f"label:{name}"}
                axes.annotate(name, (0, 1), (start, 1.7 * size.text), **above | heading)
            for at, row in enumerate(each):
                _write(axes, size, at, row.gid, said[row.gid], start)
                _interval(axes, size, at, row, ends)

    return draw, needs


def _dress(axes: Axes, size: Size, ticks: Sequence[float], none: float, x_label: str) -> None:
    """Write numbers at the ticks that have room, and leave of the frame the axis and the upright grid."""
    widest = max(width(number(tick), size.text) for tick in ticks) + 0.5 * size.gap
    places = axes.transData.transform([(tick, 0) for tick in ticks])[:, 0] / axes.figure.dpi
    closest = min((later - earlier for earlier, later in pairwise(places)), default=widest)
    stride = max(1, math.ceil(widest / closest))
    number_axis(axes.xaxis, ticks[ticks.index(none) % stride :: stride])
    axes.tick_params(labelsize=size.text, labelcolor=PALE, width=1.2 * size.thin)
    axes.spines[["top", "right", "left"]].set_visible(False)
    axes.spines["bottom"].set_linewidth(1.2 * size.thin)
    axes.grid(axis="x", linewidth=1.2 * size.thin)
    axes.set_axisbelow(True)
    axes.set_xlabel(x_label, size=size.text, color=PALE)


def _write(
    axes: Axes, size: Size, at: int, gid: str, words: tuple[list[str], list[str], list[str]], start: float
) -> None:
    """Write the name of a row at the left, at the right its numbers and below them the counts."""
    name, said, counts = words
    up = 0.65 * size.small * (len(counts) - len(said)) if counts else 0.0
    beside: dict[str, Any] = {"xycoords": axes.get_yaxis_transform(), "textcoords": "offset points", "linespacing": 1.2}
    for part, text, x, offset, points, colour, va in (
        ("name", name, 0, (start, 0), size.text, INK, "center"),
        ("said", said, 1, (size.text, up), size.small, INK, "bottom" if counts else "center"),
        ("counts", counts, 1, (size.text, up), size.small, PALE, "top"),
    ):
        if text:
            look = {"size": points, "color": colour, "va": va, "gid": f"{gid}:{part}", **beside}
            axes.annotate("\n".join(text), (x, at), offset, **look)


def _interval(axes: Axes, size: Size, at: int, row: Row, ends: tuple[float, float]) -> None:
    """Draw the line from limit to limit, bars or arrows at its ends, and the estimate upon it, if there is one."""
    if row.estimate is None:
        return
    style, (low, high) = ink(0), ends
    mark: dict[str, Any] = {"color": style["color"], "linestyle": "none", "clip_on": False}
    if (row.lower, row.upper) != (None, None):
        limits = low if row.lower is None else max(row.lower, low), high if row.upper is None else min(row.upper, high)
        axes.plot(limits, (at, at), linewidth=size.line, gid=f"{row.gid}:limits", **style)
        for side, limit, end, arrow in (("lower", row.lower, limits[0], "<"), ("upper", row.upper, limits[1], ">")):
            form, big = ("|", 4) if limit == end else (arrow, 2.6)
            axes.plot(end, at, marker=form, ms=big * size.line, mew=2 * size.thin, gid=f"{row.gid}:{side}", **mark)
    mark |= {"ms": 3.6 * size.line, "mec": "white", "mew": size.thin, "marker": "D" if row.diamond else "o"}
    axes.plot(row.estimate, at, gid=row.gid, **mark)
