"""How curves over a belt's age are drawn: steps with bands, dots and ticks, names, and a table of who was at risk.

Up to three groups share a panel; more become small multiples on the same axes. The table stands under the ages that it
counts at; a group's name stands left of its row, or above it where the paper is narrow, and is never cut.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from drivekit.show.axes import framed, inches, parts, plot_height
from drivekit.show.beside import Number, room_beside, write_beside
from drivekit.show.paper import INK, PALE, Size, ink, width, wrapped
from drivekit.show.phrases import Plain, said_of

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import SubFigure
    from matplotlib.lines import Line2D

__all__ = [
    "PER_PANEL",
    "X_LABEL",
    "Rows",
    "band",
    "curves_drawn",
    "numbered_from",
    "set_ages",
    "shown",
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


Rows = Mapping[str, tuple[int | None, Plain]]
"""The CURVE that each row of a table is taken from, by name, with the place of its group in the order of groups; None:
the row stands for all that is drawn, and needs no name."""


def curves_drawn(
    curves: Mapping[str, tuple[int, Plain]], oldest: int, *, table: bool = True
) -> tuple[Callable[[SubFigure, Size], None], Callable[[Size], float]]:
    """Give how life curves of one or more groups are drawn, and the height that they need.

    Parameters
    ----------
    curves : mapping of str to tuple
        By group, in the order of rows of the table: its place in the order of groups, for colour and line style, and
        its CURVE.
    oldest : int
        The age at which the axes end.
    table : bool
        Whether who was at risk is counted below, and a group without failures is named as one.

    Returns
    -------
    draw, needs : callable
        As a `Picture` takes them.
    """
    panels = [curves] if len(curves) <= PER_PANEL else [{name: curves[name]} for name in curves]
    alone = len(panels) == 1

    def columns(size: Size) -> int:
        """Choose how many panels stand side by side: few where the paper grows, many where it cannot."""
        many = len(panels)
        if size.height is not None:
            return many if many <= 5 else -(-many // 2)
        return 1 if many == 1 or size.width < 5 else 2 if many <= 4 else 3

    def rows(group: Mapping[str, tuple[int, Plain]]) -> Rows:
        named = len(group) > 1
        return {name: (place if named else None, curve) for name, (place, curve) in group.items()} if table else {}

    def needs(size: Size) -> float:
        room = size.width / columns(size) - 1.2 * size.gap
        title = 0 if alone else max(len(wrapped(name, room, size.text)) for name in curves)
        each = plot_height(size) * (1 if alone else 0.7) + 1.4 * title * size.gap + table_high(rows(panels[0]), size)
        return -(-len(panels) // columns(size)) * each

    def draw(body: SubFigure, size: Size) -> None:
        for part, group in zip(parts(body, columns(size), len(panels)), panels, strict=True):
            within = rows(group)
            left = names_aside(within, size)
            words = _words(group, size, table)
            margins = {"left": max(0.0, left - 3.1 * size.gap), "below": table_high(within, size)}
            margins |= {"right": room_beside(words.values(), size) if alone else 0.0}
            axes = framed(part, size, X_LABEL, Y_LABEL, "" if alone else next(iter(group)), **margins)
            set_ages(axes, size, within, oldest)
            axes.set(ylim=(0, 102), yticks=(0, 25, 50, 75, 100) if inches(axes)[1] > 6 * size.gap else (0, 50, 100))
            lines = [line for name, (place, curve) in group.items() for line in _draw(axes, size, name, place, curve)]
            ends = [(name, text, _end(group[name][1]), ink(group[name][0])["color"]) for name, text in words.items()]
            write_beside(axes, size, ends, _numbers(group), lines)
            if within:
                write_table(axes, size, within, max(left, 3.1 * size.gap))

    return draw, needs


def shown(curve: Plain) -> Plain:
    """Give what is drawn of a CURVE: as it is said, else all of it, or the life from `from_age` on with its counts."""
    if "said" in curve or not (later := curve.get("from_age")):
        return said_of(curve)
    counts = {key: curve[key][-len(later["age"]) :] for key in ("failed_at", "censored_at")}
    return {**later, **counts}


def band(curve: Plain) -> tuple[Floats, Floats, Floats] | None:
    """Give ages, lower and upper limits in percent of the band of a curve; None where it has none.

    It ends where a limit first cannot be estimated.
    """
    part = shown(curve)
    age = np.array(part["age"])
    lower, upper = (100 * np.array(part.get(key, [None] * age.size), float) for key in ("lower", "upper"))
    known = np.isfinite(lower) & np.isfinite(upper)
    known &= np.cumsum(~known) == 0
    if not known.any():
        return None
    last = np.flatnonzero(known)[-1]
    # the last pair of limits holds until the next age, as the curve does
    x = np.append(age[: last + 1], age[min(last + 1, age.size - 1)])
    low, high = (side[: last + 1] for side in (lower, upper))
    return x, np.append(low, low[-1]), np.append(high, high[-1])


def _percent(curve: Plain) -> Floats:
    return 100 * np.array(shown(curve)["survival"], float)


def _half(curve: Plain) -> int | None:
    """Give the place of the first age at which at most half have not failed; None for a standardised curve."""
    # S may stand at one half and a rounding error: the same tolerance as the estimate's own
    reached = np.flatnonzero(_percent(curve) <= 50 + 1e-10)
    return int(reached[0]) if reached.size and "failed_at" in curve else None


def _end(curve: Plain) -> tuple[float, float]:
    """Give where its name stands: the age at which it comes down to 0, else its last, and the percent there."""
    share = _percent(curve)
    place = int(np.argmax(share < 1e-7)) if share[-1] < 1e-7 else -1
    return float(shown(curve)["age"][place]), float(share[place])


def _draw(axes: Axes, size: Size, name: str, place: int, curve: Plain) -> list[Line2D]:
    """Draw one group: its band, a line down from the median, the steps, ticks for belts that left, dots for failures.

    Give the lines, which words had better keep clear of.
    """
    colour, thin, part, share = ink(place)["color"], size.thin, shown(curve), _percent(curve)
    age = np.array(part["age"])
    if limits := band(curve):
        fill: dict[str, Any] = {"facecolor": (colour, 0.13), "edgecolor": (colour, 0.45), "linewidth": 0.6 * thin}
        axes.fill_between(*limits, step="post", gid=f"band:{name}", **fill)
    steps = np.append(part.get("from", age[0]) - 1, age), np.append(100.0, share)
    style = {"drawstyle": "steps-post", "linewidth": size.line, "clip_on": False, "zorder": 2.1, **ink(place)}
    lines = axes.plot(*steps, gid=f"curve:{name}", **style)
    if (half := _half(curve)) is not None:
        drop = {"color": colour, "linewidth": 1.2 * thin, "linestyle": (0, (1.5, 2)), "zorder": 1.5}
        lines += axes.plot([age[half]] * 2, (share[half], 0), gid=f"median:{name}", **drop)
    tick = {"marker": 3, "ms": 3.2 * size.line, "mew": 1.6 * thin, "zorder": 2.2}
    dot = {"marker": "o", "ms": 2.3 * size.line, "mew": 0.5 * thin, "mec": "white", "zorder": 2.3}
    for kind, key, marker in (("censored", "censored_at", tick), ("failures", "failed_at", dot)):
        if (seen := np.array(part.get(key, [0] * age.size)) > 0).any():
            look = {"linestyle": "none", "color": colour, "clip_on": False, **marker}
            lines += axes.plot(age[seen], share[seen], gid=f"{kind}:{name}", **look)
    return lines


def _words(group: Mapping[str, tuple[int, Plain]], size: Size, table: bool) -> dict[str, str]:
    """Give what is written at the ends of curves: names where several share the panel, and who had no failure."""
    words = {}
    for name, (_, curve) in group.items():
        none = table and not any(shown(curve)["failed_at"])
        if said := [name] * (len(group) > 1) + ["none failed"] * none:
            words[name] = "\n".join(wrapped(": ".join(said), 0.26 * size.width, size.text))
    return words


def _numbers(group: Mapping[str, tuple[int, Plain]]) -> list[Number]:
    """Give the ages at the feet of the medians' lines, and how many belts share a tick."""
    halves = {name: _half(curve) for name, (_, curve) in reversed([*group.items()])}
    # lines at one age share one number
    drops = {shown(group[name][1])["age"][half]: name for name, half in halves.items() if half is not None}
    numbers: list[Number] = [(f"median:{name}:age", f"{age}", (age, 0), (1, 1)) for age, name in sorted(drops.items())]
    least = numbered_from(curve for _, curve in group.values())
    for name, (_, curve) in group.items():
        part = shown(curve)
        for age, share, many in zip(part["age"], _percent(curve), part.get("censored_at", ()), strict=False):
            if many >= least:
                numbers.append((f"censored:{name}:{age}", f"{many}", (age, share), (-1, -1)))
    return numbers


def numbered_from(curves: Iterable[Plain]) -> int:
    """Give the least number of belts, 3 or more, from which on ticks are numbered, so that few enough are."""
    every = (count for curve in curves for count in shown(curve).get("censored_at", ()))
    counts = sorted((count for count in every if count >= 3), reverse=True)
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
