"""How intervals are drawn, one a row: its name at the left, the numbers at the right, "no difference" marked.

Several panels share one axis. A limit without end, or beyond the axis, is an arrow at the end of the axis; a row that
cannot be told has its words and no mark.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from drivekit.show.axes import axes_at, cells, number
from drivekit.show.paper import INK, PALE, Size, ink, width, wrapped

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import SubFigure

__all__ = ["Row", "Rows"]

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

    def leaves(self, ends: tuple[float, float]) -> bool:
        """Whether a limit of it is drawn as an arrow on an axis with these ends."""
        inside = (limit is not None and ends[0] <= limit <= ends[1] for limit in (self.lower, self.upper))
        return self.estimate is not None and not all(inside)

    def words(self, size: Size, room: float) -> tuple[list[str], list[str], list[str]]:
        """Break name, numbers and counts into lines, each within its share of so many inches."""
        room *= SHARE
        return (
            wrapped(self.name, room, size.text),
            wrapped(self.said, room, size.small),
            wrapped(self.counts, room, size.small),
        )


@dataclass(frozen=True, slots=True)
class Rows:
    """Panels of rows on one axis.

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
    """

    panels: Mapping[str, Sequence[Row]]
    ends: tuple[float, float]
    ticks: Sequence[float]
    none: float
    x_label: str
    log: bool = False

    def _columns(self, size: Size) -> int:
        return 1 if len(self.panels) == 1 or size.width < 5 else 2

    def _about(self, size: Size) -> tuple[float, float]:
        """Give the inches below and above the rows of a panel."""
        return (3.2 if self.x_label else 2.0) * size.gap, 1.9 * size.gap + (1.4 * size.gap if any(self.panels) else 0)

    def needs(self, size: Size) -> float:
        """Give the inches of height that all panels need: each row as tall as the tallest, and air."""
        columns = self._columns(size)
        words = [row.words(size, size.width / columns) for rows in self.panels.values() for row in rows]
        most = max(max(len(name) * size.text, len((*said, *counts)) * size.small) for name, said, counts in words)
        # a slide gives its rows what height there is more
        air = 0.45 if size.height is None and any(self.panels) else 0.9 if size.height is None else 0.3
        pitch = (1.3 if size.height is None else 1.2) * most / 72 + air * size.gap
        each = max(map(len, self.panels.values())) * pitch + sum(self._about(size))
        return -(-len(self.panels) // columns) * each

    def draw(self, body: SubFigure, size: Size) -> None:
        """Draw all panels."""
        columns = self._columns(size)
        room = size.width / columns
        words = [row.words(size, room) for rows in self.panels.values() for row in rows]
        left = 1.6 * size.gap + WIDER * max(width(line, size.text) for name, _, _ in words for line in name)
        right = 1.6 * size.gap + WIDER * max(
            width(line, size.small) for _, *both in words for lines in both for line in lines
        )
        below, above = self._about(size)
        for cell, (name, rows) in zip(cells(body, columns, len(self.panels)), self.panels.items(), strict=True):
            box = (cell[0] + left, cell[1] + below, cell[2] - left - right, cell[3] - below - above)
            axes = axes_at(body, box)
            axes.set_gid(f"panel:{name}" if name else "panel")
            self._dress(axes, size, len(rows), name, left)
            for at, row in enumerate(rows):
                self._write(axes, size, at, row, left, room)
                if row.estimate is not None:
                    self._interval(axes, size, at, row)

    def _write(self, axes: Axes, size: Size, at: int, row: Row, left: float, room: float) -> None:
        """Write the name of a row at the left, at the right its numbers and below them the counts."""
        name, said, counts = row.words(size, room)
        up = 0.65 * size.small * (len(counts) - len(said)) if counts else 0.0
        beside: dict[str, Any] = {
            "xycoords": axes.get_yaxis_transform(),
            "textcoords": "offset points",
            "linespacing": 1.2,
        }
        for text, x, offset, gid, style in (
            (name, 0, (72 * (0.6 * size.gap - left), 0), "name", {"size": size.text, "color": INK, "va": "center"}),
            (said, 1, (size.text, up), "said", {"color": INK, "va": "bottom" if counts else "center"}),
            (counts, 1, (size.text, up), "counts", {"color": PALE, "va": "top"}),
        ):
            if text:
                words = {"size": size.small, "gid": f"{row.gid}:{gid}", **beside, **style}
                axes.annotate("\n".join(text), (x, at), offset, **words)

    def _dress(self, axes: Axes, size: Size, many: int, name: str, left: float) -> None:
        """Set scale, ticks and grid, and mark no difference."""
        axes.set(xscale="log" if self.log else "linear", xlim=self.ends, ylim=(many - 0.5, -0.5), yticks=())
        ticks, none = list(self.ticks), f"{self.none:g}"
        widest = max(width(number(tick), size.text) for tick in ticks) + 0.5 * size.gap
        root = axes.get_figure(root=True)
        assert root is not None  # axes are drawn on only while they stand on a figure
        across = axes.transData.transform([(tick, 0) for tick in ticks])[:, 0] / root.dpi
        closest = min((later - earlier for earlier, later in pairwise(across)), default=widest)
        stride = max(1, math.ceil(widest / closest))
        kept = ticks[ticks.index(self.none) % stride :: stride]
        axes.set_xticks(kept, [number(tick) for tick in kept], size=size.text, color=PALE)
        axes.minorticks_off()
        axes.tick_params(width=1.2 * size.thin)
        axes.spines[["top", "right", "left"]].set_visible(False)
        axes.spines["bottom"].set_linewidth(1.2 * size.thin)
        axes.grid(axis="x", linewidth=1.2 * size.thin)
        axes.set_axisbelow(True)
        axes.set_xlabel(self.x_label, size=size.text, color=PALE)
        own = f"rule:{none}:{name}" if name else f"rule:{none}"
        axes.axvline(self.none, color=INK, linewidth=1.4 * size.thin, gid=own)
        words: dict[str, Any] = {"textcoords": "offset points"}
        above: dict[str, Any] = {"xycoords": axes.get_xaxis_transform(), "size": size.small, "color": PALE}
        head = (0, 0.4 * size.text)
        axes.annotate("no difference", (self.none, 1), head, ha="center", gid=f"{own}:text", **words, **above)
        if name:
            start = 72 * (0.6 * size.gap - left)
            above = {"xycoords": "axes fraction", "size": size.text, "color": INK}
            axes.annotate(name, (0, 1), (start, 1.7 * size.text), gid=f"label:{name}", **words, **above)

    def _interval(self, axes: Axes, size: Size, at: int, row: Row) -> None:
        """Draw the line from limit to limit and the estimate upon it."""
        style, (low, high) = ink(0), self.ends
        assert row.estimate is not None  # only such rows are drawn
        mark: dict[str, Any] = {"color": style["color"], "linestyle": "none", "clip_on": False}
        if (row.lower, row.upper) != (None, None):
            limits = (
                low if row.lower is None else max(row.lower, low),
                high if row.upper is None else min(row.upper, high),
            )
            axes.plot(limits, (at, at), linewidth=size.line, gid=f"{row.gid}:limits", **style)
            for side, limit, end, arrow in (("lower", row.lower, limits[0], "<"), ("upper", row.upper, limits[1], ">")):
                axes.plot(
                    (end,),
                    (at,),
                    marker="|" if limit == end else arrow,
                    markeredgewidth=2 * size.thin,
                    markersize=(4 if limit == end else 2.6) * size.line,
                    gid=f"{row.gid}:{side}",
                    **mark,
                )
        axes.plot(
            (row.estimate,),
            (at,),
            marker="D" if row.diamond else "o",
            markersize=3.6 * size.line,
            markeredgecolor="white",
            markeredgewidth=size.thin,
            gid=row.gid,
            **mark,
        )
