"""How curves over a belt's age are drawn: steps with bands, dots and ticks, names, and a table of who was at risk.

Up to three groups share a panel; more become small multiples on the same axes. The table stands under the ages that it
counts at; a group's name stands left of its row, or above it where the paper is narrow, and is never cut.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from drivekit.show.axes import framed, inches, parts, plot_height
from drivekit.show.beside import Number, room_beside, write_beside
from drivekit.show.paper import INK, PALE, Size, ink, width, wrapped
from drivekit.show.phrases import Plain

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import SubFigure
    from matplotlib.lines import Line2D

__all__ = [
    "PER_PANEL",
    "X_LABEL",
    "CurveToDraw",
    "Rows",
    "StepCurves",
    "names_aside",
    "numbered_from",
    "set_ages",
    "table_high",
    "whole_ticks",
    "write_table",
]

Floats = NDArray[np.floating[Any]]

PER_PANEL = 3
"""Bands that one panel can carry before they hide each other."""

NUMBERED = 8
"""Ticks of a panel that can carry a number before the numbers hide the curves."""

X_LABEL, Y_LABEL = "Runs on the belt", "Belts not failed, %"

ROW = 1.5
"""Height of a row of the table in heights of its type."""


@dataclass(frozen=True, slots=True, eq=False)
class CurveToDraw:
    """The part of a life curve that is drawn.

    Parameters
    ----------
    start : int
        Age at which the curve stands at 100 %.
    age : ndarray of int
        Ages after that, in order.
    share, lower, upper : ndarray of float
        Percent of belts at those ages; a limit is not a number where no band is drawn.
    failed_at, censored_at : ndarray of int
        Belts that failed at those ages, and belts whose last run in the group was at that age without failing.
    half : int or None
        Place of the first age at which at most half of the belts have not failed.
    """

    start: int
    age: NDArray[np.int64]
    share: Floats
    lower: Floats
    upper: Floats
    failed_at: NDArray[np.int64]
    censored_at: NDArray[np.int64]
    half: int | None

    @classmethod
    def of(cls, curve: Plain) -> CurveToDraw:
        """Take what is drawn from a CURVE: all of it, or the life from `from_age` on.

        A curve without `failed_at`, as a standardised one is, has its band from its first age, and no marks on it.
        """
        shown = curve.get("from_age") or curve
        many = len(shown["age"])
        share, lower, upper = (
            100 * np.array(shown.get(key, [None] * many), float) for key in ("survival", "lower", "upper")
        )
        failed_at, censored_at = (np.array(curve.get(key, [0] * many))[-many:] for key in ("failed_at", "censored_at"))
        known = np.isfinite(lower) & np.isfinite(upper)
        half = None
        if "failed_at" in curve:
            # S may stand at one half and a rounding error: the same tolerance as the estimate's own
            half = next((place for place, percent in enumerate(share) if percent <= 50 + 1e-10), None)
            # the band begins with the first failure and ends where a limit first cannot be estimated
            begun = failed_at.cumsum() > 0
            known &= begun & (np.cumsum(begun & ~known) == 0)
        start = shown.get("from", shown["age"][0]) - 1
        lower, upper = (np.where(known, side, np.nan) for side in (lower, upper))
        return cls(start, np.array(shown["age"]), share, lower, upper, failed_at, censored_at, half)

    @property
    def banded(self) -> bool:
        """Whether it has limits to draw."""
        return bool(np.isfinite(self.lower).any())

    @property
    def end(self) -> tuple[float, float]:
        """Where its name stands: the age at which it comes down to 0, else its last, and the percent there."""
        place = int(np.argmax(self.share < 1e-7)) if self.share[-1] < 1e-7 else -1
        return float(self.age[place]), float(self.share[place])

    def draw(self, axes: Axes, size: Size, name: str, place: int) -> list[Line2D]:
        """Draw it: the band, a line down from the median, the steps, ticks for belts that left, dots for failures.

        Parameters
        ----------
        axes : Axes
            Where.
        size : Size
            What for.
        name : str
            The group: artists have the gids ``band:NAME``, ``median:NAME``, ``curve:NAME``, ``censored:NAME`` and
            ``failures:NAME``.
        place : int
            Of the group in the order of groups: colour and line style.

        Returns
        -------
        list of Line2D
            What words had better keep clear of.
        """
        colour, thin = ink(place)["color"], size.thin
        if self.banded:
            first, last = np.flatnonzero(np.isfinite(self.lower))[[0, -1]]
            # the last pair of limits holds until the next age, as the curve does
            x = np.append(self.age[first : last + 1], self.age[min(last + 1, self.age.size - 1)])
            low, high = (np.append(side[first : last + 1], side[last]) for side in (self.lower, self.upper))
            fill: dict[str, Any] = {"facecolor": (colour, 0.13), "edgecolor": (colour, 0.45), "linewidth": 0.6 * thin}
            axes.fill_between(x, low, high, step="post", gid=f"band:{name}", **fill)
        steps = np.append(self.start, self.age), np.append(100.0, self.share)
        style = {"drawstyle": "steps-post", "linewidth": size.line, "clip_on": False, "zorder": 2.1, **ink(place)}
        lines = axes.plot(*steps, gid=f"curve:{name}", **style)
        if self.half is not None:
            drop = {"color": colour, "linewidth": 1.2 * thin, "linestyle": (0, (1.5, 2)), "zorder": 1.5}
            lines += axes.plot([self.age[self.half]] * 2, (self.share[self.half], 0), gid=f"median:{name}", **drop)
        tick = {"marker": 3, "markersize": 3.2 * size.line, "markeredgewidth": 1.6 * thin, "zorder": 2.2}
        dot = {"marker": "o", "markersize": 2.3 * size.line, "markeredgewidth": 0.5 * thin, "zorder": 2.3}
        for many, kind, marker in (
            (self.censored_at, "censored", tick),
            (self.failed_at, "failures", dot | {"markeredgecolor": "white"}),
        ):
            if (seen := many > 0).any():
                look = {"linestyle": "none", "color": colour, "clip_on": False, **marker}
                lines += axes.plot(self.age[seen], self.share[seen], gid=f"{kind}:{name}", **look)
        return lines


def numbered_from(curves: Iterable[CurveToDraw]) -> int:
    """Give the least number of belts, 3 or more, from which on ticks are numbered, so that few enough are."""
    counts = sorted((count for curve in curves for count in curve.censored_at if count >= 3), reverse=True)
    return int(counts[NUMBERED]) + 1 if len(counts) > NUMBERED else 3


def whole_ticks(oldest: int, least: float = 0) -> tuple[int, ...]:
    """Choose the ages that carry a number: the first run, then every 2nd, 5th, 10th, ... so that ten suffice.

    Parameters
    ----------
    oldest : int
        The last age.
    least : float
        Runs that what is written under an age takes; the first run is left out where there is no room for it.
    """
    steps = (part * scale for scale in (1, 10, 100, 1000, 10000) for part in (1, 2, 5))
    step = next(step for step in steps if oldest <= 10 * step and step >= least)
    if step <= 2:
        return tuple(range(1, oldest + 1, step))
    later = tuple(range(step, oldest + 1, step))
    return later if later and step - 1 < least else (1, *later)


Rows = Mapping[str, tuple[int | None, Plain]]
"""The CURVE that each row of a table is taken from, by name, with the place of its group in the order of groups; None:
the row stands for all that is drawn, and needs no name."""


def set_ages(axes: Axes, size: Size, rows: Rows, oldest: int) -> None:
    """End the level axis after the oldest belt, and number the ages under which the cells of a table have room."""
    axes.set_xlim(0, oldest + 0.3)
    least = (_widest(rows, size) + 0.5 * size.gap) / inches(axes)[0] * (oldest + 0.3)
    axes.set_xticks(whole_ticks(oldest, least))


def names_aside(rows: Rows, size: Size) -> float:
    """Give the inches left of the axes that line keys and names of a table take; 0: they stand above their cells."""
    widest = max((width(name, size.small) for name, (place, _) in rows.items() if place is not None), default=0.0)
    room = 3.8 * size.gap + widest + _widest(rows, size) / 2
    return room if widest > 0 and room < 0.22 * size.width else 0.0


def table_high(rows: Rows, size: Size) -> float:
    """Give the inches of height that a table takes."""
    lines = 1 + sum(1 + len(_above(name, rows, size)) for name in rows)
    return 0.4 * size.gap + lines * ROW * size.small / 72 if rows else 0.0


def write_table(axes: Axes, size: Size, rows: Rows, left: float) -> None:
    """Write under the ages how many belts made each run, and in brackets how many had failed by then.

    Parameters
    ----------
    axes : Axes
        Its ticks are the ages; cells have the gids ``risk:NAME:AGE``.
    size : Size
        What for.
    rows : mapping of str to tuple
        As `Rows`.
    left : float
        Inches from the left end of the table to the axes.
    """
    from matplotlib.lines import Line2D
    from matplotlib.transforms import ScaledTranslation, blended_transform_factory

    root = axes.get_figure(root=True)
    assert root is not None  # a table is written only under axes that stand on a figure
    inside: Any = axes.transAxes  # affine, which its type does not say
    corner = root.dpi_scale_trans + ScaledTranslation(0, 0, inside)
    under = blended_transform_factory(axes.transData, corner)
    small: dict[str, Any] = {"size": size.small, "va": "center", "color": INK}
    row = ROW * size.small / 72
    at = -3.1 * size.gap - row / 2
    # the only row of a panel needs no name, and its heading bears its gid
    heading = "risk" if len(rows) > 1 else f"risk:{next(iter(rows))}"
    axes.text(-left, at, "At risk (failed so far)", transform=corner, gid=heading, **small | {"color": PALE})
    for name, (place, curve) in rows.items():
        at -= row
        if place is not None:
            key = {"transform": corner, "linewidth": size.line, "clip_on": False, **ink(place)}
            axes.add_artist(Line2D((-left, 1.9 * size.gap - left), (at, at), gid=f"key:{name}", **key))
            above = _above(name, rows, size)
            for part, line in enumerate(above or [name]):
                gid = None if part else f"risk:{name}"
                axes.text(2.4 * size.gap - left, at, line, transform=corner, gid=gid, **small)
                at -= row if above else 0
        for age in axes.get_xticks():
            cell = {"transform": under, "ha": "center", "gid": f"risk:{name}:{age:g}", **small}
            axes.text(age, at, _cell(curve, age), **cell)


def _above(name: str, rows: Rows, size: Size) -> list[str]:
    """Give the lines in which a name stands above its cells: none where it stands beside them, or is not needed."""
    if rows[name][0] is None or names_aside(rows, size):
        return []
    return wrapped(name, size.room - 2.4 * size.gap, size.small)


def _cell(curve: Plain, age: float) -> str:
    """Write at risk, and in brackets failed so far."""
    at_risk = dict(zip(curve["age"], curve["at_risk"], strict=True)).get(age, 0)
    failed = sum(many for at, many in zip(curve["age"], curve["failed_at"], strict=True) if at <= age)
    return f"{at_risk} ({failed})"


def _widest(rows: Rows, size: Size) -> float:
    """Give the inches of the widest cell of a table."""
    cells_of = (f"{max(curve['at_risk'])} ({sum(curve['failed_at'])})" for _, curve in rows.values())
    return max((width(cell, size.small) for cell in cells_of), default=width("00", size.text))


@dataclass(frozen=True, slots=True, eq=False)
class StepCurves:
    """Life curves of one or more groups, ready to be drawn at any size.

    Parameters
    ----------
    curves : mapping of str to CurveToDraw
        By group, in the order of rows of the table.
    places : mapping of str to int
        Place of each group in the order of groups: colour and line style.
    table : mapping of str to mapping
        The CURVE that each row of the table is taken from; empty: no table.
    oldest : int
        The age at which the axes end.
    """

    curves: Mapping[str, CurveToDraw]
    places: Mapping[str, int]
    table: Mapping[str, Plain]
    oldest: int

    @property
    def panels(self) -> list[list[str]]:
        """The groups that share a panel."""
        names = list(self.curves)
        return [names] if len(names) <= PER_PANEL else [[name] for name in names]

    def needs(self, size: Size) -> float:
        """Give the inches of height that all panels want."""
        down = -(-len(self.panels) // self._columns(size))
        alone = len(self.panels) == 1
        title = 0 if alone else max(len(wrapped(name, self._room(size), size.text)) for name in self.curves)
        table = table_high(self._rows(self.panels[0]), size)
        return down * (plot_height(size) * (1 if alone else 0.7) + 1.4 * title * size.gap + table)

    def draw(self, body: SubFigure, size: Size) -> None:
        """Draw all panels."""
        alone = len(self.panels) == 1
        for group, part in zip(self.panels, parts(body, self._columns(size), len(self.panels)), strict=True):
            rows = self._rows(group)
            left = names_aside(rows, size)
            words = self._words(group, size)
            axes = framed(
                part,
                size,
                x_label=X_LABEL,
                y_label=Y_LABEL,
                name="" if alone else group[0],
                left=max(0.0, left - 3.1 * size.gap),
                right=room_beside(words.values(), size) if alone else 0.0,
                below=table_high(rows, size),
            )
            set_ages(axes, size, rows, self.oldest)
            high = inches(axes)[1]
            axes.set(ylim=(0, 102), yticks=(0, 25, 50, 75, 100) if high > 6 * size.gap else (0, 50, 100))
            lines = [line for name in group for line in self.curves[name].draw(axes, size, name, self.places[name])]
            ends = [
                (name, text, self.curves[name].end, ink(self.places[name])["color"]) for name, text in words.items()
            ]
            write_beside(axes, size, ends, self._numbers(group), lines)
            if rows:
                write_table(axes, size, rows, max(left, 3.1 * size.gap))

    def _columns(self, size: Size) -> int:
        """Choose how many panels stand side by side: few where the paper grows, many where it cannot."""
        many = len(self.panels)
        if size.height is not None:
            return many if many <= 5 else -(-many // 2)
        return 1 if many == 1 or size.width < 5 else 2 if many <= 4 else 3

    def _room(self, size: Size) -> float:
        """Give the inches that the name of a panel may take."""
        return size.width / self._columns(size) - 1.2 * size.gap

    def _rows(self, group: Sequence[str]) -> Rows:
        alone = len(group) == 1
        return {name: (None if alone else self.places[name], self.table[name]) for name in group if name in self.table}

    def _words(self, group: Sequence[str], size: Size) -> dict[str, str]:
        """Give what is written at the ends of curves: names where several share the panel, and who had no failure."""
        words = {}
        for name in group:
            none = not self.table or self.curves[name].failed_at.any()
            said = [name] * (len(group) > 1) + ["none failed"] * (not none)
            if said:
                words[name] = "\n".join(wrapped(": ".join(said), 0.26 * size.width, size.text))
        return words

    def _numbers(self, group: Sequence[str]) -> list[Number]:
        """Give the ages at the feet of the medians' lines, and how many belts share a tick."""
        # lines at one age share one number
        drops = {
            int(curve.age[curve.half]): name
            for name, curve in reversed([(name, self.curves[name]) for name in group])
            if curve.half is not None
        }
        numbers: list[Number] = [
            (f"median:{name}:age", f"{age}", (age, 0), (1, 1)) for age, name in sorted(drops.items())
        ]
        least = numbered_from(self.curves[name] for name in group)
        for name in group:
            curve = self.curves[name]
            for age, share, many in zip(curve.age, curve.share, curve.censored_at, strict=True):
                if many >= least:
                    numbers.append((f"censored:{name}:{age}", f"{many}", (age, share), (-1, -1)))
        return numbers
