"""Pictures of belt life over a belt's age: all belts, by setting, and the same belts once all at each level.

Curves are steps with bands, dots and ticks, their names, and a table of who was at risk. Up to three groups share a
panel; more become small multiples on the same axes. The table stands under the ages that it counts at; a group's name
stands left of its row, or above it where the paper is narrow, and is never cut.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from drivekit.show.axes import Number, banded, framed, inches, plot_height, room_beside, tiled, write_beside
from drivekit.show.paper import INK, PALE, Picture, Size, ink, noted, width, wrapped
from drivekit.show.phrases import Plain, by_run, counted, listed, raised, said_of, spoken, sure, wording
from drivekit.show.words import curves_answer, exploratory_answer, levels_answer

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import SubFigure

__all__ = [
    "X_LABEL",
    "comparison_picture",
    "overall_picture",
    "set_ages",
    "standardised_lives",
    "standardised_picture",
    "table_high",
    "whole_ticks",
    "write_table",
]

PER_PANEL = 3
"""Bands that one panel can carry before they hide each other."""

NUMBERED = 8
"""Ticks of a panel that can carry a number before the numbers hide the curves."""

X_LABEL, Y_LABEL = "Runs on the belt", "Belts not failed, %"

ROW = 1.5
"""Height of a row of the table in heights of its type."""

Group = Mapping[str, tuple[int, Plain]]
"""CURVEs by name, each with its place in the order of groups; a single row of a table goes without its name."""


def comparison_picture(findings: Plain, name: str, *, table: bool = True, oldest: int = 0) -> Picture | None:
    """Draw up the curves of one setting's levels, planned or exploratory; None where there is a reason instead.

    Without the table of who was at risk it is a picture of another name. The axis ends at the oldest belt, or later
    where that is asked for.
    """
    planned = name in findings["headline"]
    block = findings["life"][name] if planned else findings["life"]["more"][name]
    if not (levels := block.get("levels")):
        return None
    said = curves_answer(findings, name) if planned else exploratory_answer(findings, name)
    subtitle = f"Share of belts not failed after each run, by {wording(findings, name).noun} ({_stand_behind(levels)})."
    if name == "tension" and (cuts := findings["settings"].get("tension_cuts_n")):
        subtitle += " Low ends at {}, middle at {}.".format(*(spoken(findings).said(cut, "N") for cut in cuts))
    oldest = max(oldest, *(curve["age"][-1] for curve in levels.values()))
    placed = {level: (place, curve) for place, (level, curve) in enumerate(levels.items())}
    head = findings["headline"][name] if planned else block["headline"]
    # the title of these curves speaks of their own horizon
    plain = head.get("basis") == "standardised" and "reason" not in block["mean_difference"]
    horizon = (findings["settings"] if plain else head).get("horizon_runs") or 0
    drawn = _curves_drawn(placed, oldest, table=table, horizon=horizon)
    note = _note(findings, levels, table, horizon)
    return Picture(name if table else f"{name}_bare", said.title, subtitle, note, *drawn)


def overall_picture(findings: Plain) -> Picture | None:
    """Draw up the curve of all belts together; None when no belt of known age has made a run."""
    curve = findings["life"]["overall"]
    if "age" not in curve:
        return None
    title = f"Of all belts, {by_run(curve, '1 in 10')} and {by_run(curve, 'half')} ({sure(findings)} in brackets)."
    if not curve["failed"]:
        title = f"Of {counted(curve['belts'], 'belt')} none failed in {counted(curve['runs'], 'run')}."
    subtitle = f"Share of belts not failed after each run ({_stand_behind({'all': curve})})."
    drawn = _curves_drawn({"all": (0, curve)}, curve["age"][-1])
    return Picture("overall", title, subtitle, _note(findings, {"all belts": curve}), *drawn)


def _stand_behind(levels: Mapping[str, Plain]) -> str:
    counts = (f"{name}: {counted(curve['belts'], 'belt')}, {curve['failed']} failed" for name, curve in levels.items())
    return "; ".join(counts)


def _note(findings: Plain, levels: Mapping[str, Plain], table: bool = True, horizon: int = 0) -> str:
    """Say how to read the marks, and whatever is unusual in this picture."""
    left = [count for curve in levels.values() for count in said_of(curve)["censored_at"]]
    moved = ", or moved to another setting" if len(levels) > 1 else ""
    least = _numbered_from(map(said_of, levels.values()))
    number = f"; a number where {least} or more share one" if max(left) >= least and len(levels) <= PER_PANEL else ""
    rises = any(later > earlier for curve in levels.values() for earlier, later in pairwise(curve["at_risk"]))
    none = [name for name, curve in levels.items() if not curve["failed"]]
    whole = len(levels) == 1 and all("band" in said_of(curve) for curve in levels.values())
    parts = {
        f"Bands: {sure(findings)}, point by point.": any(map(_banded, levels.values())),
        f"Dotted steps: {sure(findings)} for the whole curve at once.": whole,
        "Dots: failures.": any(any(said_of(curve)["failed_at"]) for curve in levels.values()),
        f"Ticks: belts still running or taken off early{moved}{number}.": any(left),
        f"Triangle: run {horizon}, to which runs are counted.": horizon,
        "Table: belts that made that run (failed so far).": table,
        "Belts that came used, or changed setting, join at their age, so a count can rise.": rises and table,
        f"No belt failed: {listed(none)}; its band says how low its line may yet be.": none,
    }
    starts = {name: said_of(curve).get("from", 1) for name, curve in levels.items()}
    later = "{}: life of a belt that starts run {}, for too few ran before it."
    parts |= {later.format(raised(name), start): start > 1 for name, start in starts.items()}
    return noted(findings, *(text for text, holds in parts.items() if holds))


def standardised_lives(findings: Plain, name: str) -> Plain:
    """Find the lives of the same belts once all at each level of a setting, or the reason why there are none."""
    head = findings["headline"].get(name, {})
    why = {"reason": head.get("reason", "it has no fit")}
    lives: Plain = head.get("lives") or findings["standardised"].get(name) or why
    return lives


def standardised_picture(findings: Plain, name: str, *, oldest: int = 0) -> Picture | None:
    """Draw up the curves of the same belts at each level of one setting; None where there is a reason instead.

    The axis ends at the longest horizon of any setting, or later where that is asked for.
    """
    if not (block := standardised_lives(findings, name)).get("levels"):
        return None
    words = wording(findings, name)
    curves = {level: (list(words.phrases).index(level), curve) for level, curve in block["levels"].items()}
    others = [head.get("lives", {}) for head in findings["headline"].values()] + [*findings["standardised"].values()]
    horizons = [other["horizon_runs"] for other in others if other.get("levels")]
    levels = listed([f"all {words.phrase(level)}" for level in block["levels"]])
    subtitle = (
        f"The same {counted(block['belts'], 'belt')} once {levels}: share not failed after each run, each belt on its "
        "car and with the other settings of its first run."
    )
    bands = f"Bands: {sure(findings)}, point by point." if all(map(_banded, block["levels"].values())) else ""
    limits = f"Limits from {block['replicates']} draws of belts"
    if block["replicates_lost"]:
        limits += f", of which {block['replicates_lost']} had no estimate and were left out"
    if why := next((pair["reason"] for pair in block["mean_difference"].values() if pair.get("reason")), None):
        limits += f"; no limits are given, for {why}"
    title = f"For {words.noun} the same belts once all at each level: no limits can be given, so no answer."
    if findings["headline"].get(name, {}).get("basis") == "standardised":
        title = levels_answer(findings, name).title
    drawn = _curves_drawn(curves, max(oldest, *horizons), table=False)
    return Picture(f"standardised_{name}", title, subtitle, noted(findings, bands, f"{limits}."), *drawn)


def _curves_drawn(
    curves: Group, oldest: int, *, table: bool = True, horizon: int = 0
) -> tuple[Callable[[SubFigure, Size], None], Callable[[Size], float]]:
    """Give how life curves are drawn to the oldest age, and the height that they need, as a `Picture` takes them.

    With the table a group without failures is named as one. A mark stands on the axis at the horizon, if there is one.
    """
    panels = [curves] if len(curves) <= PER_PANEL else [{name: curves[name]} for name in curves]
    alone, many = len(panels) == 1, len(panels)

    def high(size: Size, wide: float) -> float:
        title = 0 if alone else max(len(wrapped(name, wide - 1.2 * size.gap, size.text)) for name in curves)
        below = table_high(panels[0], size) if table else 0.0
        return plot_height(size) * (1 if alone else 0.7) + 1.4 * title * size.gap + below

    def draw(part: SubFigure, size: Size, group: Group) -> None:
        within = group if table else {}
        left = _names_aside(within, size)
        words = _words(group, size, table).values()
        margins = {"left": max(0.0, left - 3.1 * size.gap), "below": table_high(within, size)}
        margins |= {"right": room_beside(words, size) if alone else 0.0}
        axes = framed(part, size, X_LABEL, Y_LABEL, "" if alone else next(iter(group)), **margins)
        set_ages(axes, size, within, oldest)
        axes.set(ylim=(0, 102), yticks=(0, 25, 50, 75, 100) if inches(axes)[1] > 6 * size.gap else (0, 50, 100))
        if horizon:
            gid = f"horizon:{next(iter(group))}"
            axes.plot(horizon, 0, "^", c=INK, ms=2.6 * size.line, clip_on=False, zorder=2.4, gid=gid)
        for name, (place, curve) in group.items():
            _draw(axes, size, name, place, curve, whole=len(curves) == 1)
        write_beside(axes, size, _words(group, size, table), _numbers(group))
        if within:
            write_table(axes, size, within, max(left, 3.1 * size.gap))

    # few side by side where the paper grows, many where it cannot
    return tiled(panels, draw, high, 2 if many <= 4 else 3, many if many <= 5 else -(-many // 2))


def _banded(curve: Plain) -> bool:
    """Whether a curve has limits: a standardised one may have none, one of a CURVE has them at every age."""
    return None not in said_of(curve)["lower"]


def _draw(axes: Axes, size: Size, name: str, place: int, curve: Plain, *, whole: bool) -> None:
    """Draw one group: band, median's line, steps, ticks, dots, and, dotted, limits of the curve as a whole if asked."""
    colour, thin, part = ink(place)["color"], size.thin, said_of(curve)
    age, share = np.array(part["age"]), 100 * np.array(part["survival"], float)
    if _banded(curve):
        limits = (100 * np.array(part[side]) for side in ("lower", "upper"))
        banded(axes, size, f"band:{name}", place, age, *limits, step="post")
    steps = np.append(part.get("from", age[0]) - 1, age), np.append(100.0, share)
    style = {"drawstyle": "steps-post", "linewidth": size.line, "clip_on": False, "zorder": 2.1, **ink(place)}
    axes.plot(*steps, gid=f"curve:{name}", **style)
    # a standardised curve has no median
    if (half := part.get("median", {}).get("estimate")) is not None:
        drop = {"color": colour, "linewidth": 1.2 * thin, "linestyle": (0, (1.5, 2)), "zorder": 1.5}
        axes.plot([half] * 2, (share[part["age"].index(half)], 0), gid=f"median:{name}", **drop)
    tick = {"marker": 3, "ms": 3.2 * size.line, "mew": 1.6 * thin, "zorder": 2.2}
    dot = {"marker": "o", "ms": 2.3 * size.line, "mew": 0.5 * thin, "mec": "white", "zorder": 2.3}
    for kind, key, marker in (("censored", "censored_at", tick), ("failures", "failed_at", dot)):
        if (seen := np.array(part.get(key, [0] * age.size)) > 0).any():
            look = {"linestyle": "none", "color": colour, "clip_on": False, **marker}
            axes.plot(age[seen], share[seen], gid=f"{kind}:{name}", **look)
    hair = {"drawstyle": "steps-post", "lw": 0.8 * thin, "ls": (0, (1, 2.5)), "color": colour, "zorder": 1.4}
    for side, limits in part.get("band", {}).items() if whole else ():
        axes.plot(age, 100 * np.array(limits, float), gid=f"whole:{name}:{side}", **hair)


def _words(group: Group, size: Size, table: bool) -> dict[str, str]:
    """Give what is written at the ends of curves, by gid: names where several share the panel, who had no failure."""
    words = {}
    for name, (_, curve) in group.items():
        none = table and not any(said_of(curve)["failed_at"])
        if said := [name] * (len(group) > 1) + ["none failed"] * none:
            words[f"curve:{name}"] = "\n".join(wrapped(": ".join(said), 0.26 * size.width, size.text))
    return words


def _numbers(group: Group) -> list[Number]:
    """Give the ages at the feet of the medians' lines, and how many belts share a tick."""
    parts = {name: said_of(curve) for name, (_, curve) in group.items()}
    halves = {name: part.get("median", {}).get("estimate") for name, part in parts.items()}
    # lines at one age share one number
    drops = {age: name for name, age in reversed(halves.items()) if age is not None}
    numbers: list[Number] = [(f"median:{name}:age", f"{age}", (age, 0), (1, 1)) for age, name in sorted(drops.items())]
    least = _numbered_from(parts.values())
    for name, part in parts.items():
        for age, share, many in zip(part["age"], part["survival"], part.get("censored_at", ()), strict=False):
            if many >= least:
                numbers.append((f"censored:{name}:{age}", f"{many}", (age, 100 * share), (-1, -1)))
    return numbers


def _numbered_from(parts: Iterable[Plain]) -> int:
    """Give the least number of belts, 3 or more, from which on ticks are numbered, so that few enough are."""
    every = (count for part in parts for count in part.get("censored_at", ()))
    counts = sorted((count for count in every if count >= 3), reverse=True)
    return int(counts[NUMBERED]) + 1 if len(counts) > NUMBERED else 3


def whole_ticks(oldest: int, least: float = 0) -> tuple[int, ...]:
    """Choose the ages that carry a number: the first run, then every 2nd, 5th, 10th, ... so that ten suffice.

    What is written under an age takes at least so many runs; where the first has no room for it, it is left out.
    """
    steps = (part * scale for scale in (1, 10, 100, 1000, 10000) for part in (1, 2, 5))
    step = next(step for step in steps if oldest <= 10 * step and step >= least)
    if step <= 2:
        return tuple(range(1, oldest + 1, step))
    later = tuple(range(step, oldest + 1, step))
    return later if later and step - 1 < least else (1, *later)


def set_ages(axes: Axes, size: Size, rows: Group, oldest: int) -> None:
    """End the level axis after the oldest belt, and number the ages under which the cells of a table have room."""
    axes.set_xlim(0, oldest + 0.3)
    least = (_widest(rows, size) + 0.5 * size.gap) / inches(axes)[0] * (oldest + 0.3)
    axes.set_xticks(whole_ticks(oldest, least))


def _names_aside(rows: Group, size: Size) -> float:
    """Give the inches left of the axes that line keys and names of a table take; 0: they stand above their cells."""
    room = 3.8 * size.gap + max((width(name, size.small) for name in rows), default=0.0) + _widest(rows, size) / 2
    return room if len(rows) > 1 and room < 0.22 * size.width else 0.0


def table_high(rows: Group, size: Size) -> float:
    """Give the inches of height that a table takes."""
    lines = 1 + sum(1 + len(_above(name, rows, size)) for name in rows)
    return 0.4 * size.gap + lines * ROW * size.small / 72 if rows else 0.0


def write_table(axes: Axes, size: Size, rows: Group, left: float) -> None:
    """Write under the ages how many belts made each run, and in brackets how many had failed by then.

    The ticks of the axes are the ages, and the table begins `left` inches before them. Cells have the gids
    ``risk:NAME:AGE``.
    """
    from matplotlib.lines import Line2D
    from matplotlib.transforms import ScaledTranslation, blended_transform_factory

    inside: Any = axes.transAxes  # affine, which its type does not say
    corner = axes.figure.dpi_scale_trans + ScaledTranslation(0, 0, inside)
    under = blended_transform_factory(axes.transData, corner)
    small: dict[str, Any] = {"size": size.small, "va": "center", "color": INK}
    row = ROW * size.small / 72
    at = -3.1 * size.gap - row / 2
    # the only row of a panel needs no name, and its heading bears its gid
    heading = "risk" if len(rows) > 1 else f"risk:{next(iter(rows))}"
    axes.text(-left, at, "At risk (failed so far)", transform=corner, gid=heading, **small | {"color": PALE})
    for name, (place, curve) in rows.items():
        at -= row
        if len(rows) > 1:
            key = {"transform": corner, "linewidth": size.line, "clip_on": False, **ink(place)}
            axes.add_artist(Line2D((-left, 1.9 * size.gap - left), (at, at), gid=f"key:{name}", **key))
            above = _above(name, rows, size)
            for part, line in enumerate(above or [name]):
                gid = None if part else f"risk:{name}"
                axes.text(2.4 * size.gap - left, at, line, transform=corner, gid=gid, **small)
                at -= row if above else 0
        at_risk = dict(zip(curve["age"], curve["at_risk"], strict=True))
        for age in axes.get_xticks():
            failed = sum(many for then, many in zip(curve["age"], curve["failed_at"], strict=True) if then <= age)
            cell = {"transform": under, "ha": "center", "gid": f"risk:{name}:{age:g}", **small}
            axes.text(age, at, f"{at_risk.get(age, 0)} ({failed})", **cell)


def _above(name: str, rows: Group, size: Size) -> list[str]:
    """Give the lines in which a name stands above its cells: none where it stands beside them, or is not needed."""
    if len(rows) == 1 or _names_aside(rows, size):
        return []
    return wrapped(name, size.room - 2.4 * size.gap, size.small)


def _widest(rows: Group, size: Size) -> float:
    """Give the inches of the widest cell of a table."""
    cells_of = (f"{max(curve['at_risk'])} ({sum(curve['failed_at'])})" for _, curve in rows.values())
    return max((width(cell, size.small) for cell in cells_of), default=width("00", size.text))
