"""Pictures of how belts end: each belt's life, what share each cause has ended by each run, and Weibull's law.

A life is one line a belt, from the run at which the log first sees it to its last; its colour and style say the level
of one setting, so that a change on a living belt is seen as a change of line. The shares are Aalen-Johansen incidences:
causes compete, so they and the share that has not failed add to 100 %. Limits at the horizon are put on the log(-log)
scale, where they stay between 0 and 1.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from statistics import NormalDist
from typing import TYPE_CHECKING, Any

import numpy as np

from drivekit.show.axes import apart, banded, framed, number_axis, parts, plot_height, words_at, write_beside
from drivekit.show.curves import X_LABEL, set_ages, table_high, whole_ticks, write_table
from drivekit.show.failing import EXPLORED, causes_met, ended_words, said_at, share_words, weibull_words
from drivekit.show.paper import HALO, Picture, Size, ink, noted, width
from drivekit.show.phrases import Plain, confidence_words, counted, listed, percent, said_of, wording

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import SubFigure
    from matplotlib.lines import Line2D

__all__ = [
    "MOST",
    "STYLES_SAID",
    "Life",
    "causes_by_picture",
    "causes_picture",
    "limits_of",
    "lives_picture",
    "shares_by",
    "weibull_picture",
]

MOST = 120
"""Lines that one picture can carry and still be told apart."""

STYLES_SAID = (
    "solid",
    "dashed",
    "dash-dotted",
    "dotted",
    "long dashes",
    "short dashes",
    "dash and two dots",
    "sparse dots",
    "long and short dashes",
)
"""The line styles of `drivekit.show.paper.STYLES` in words, in its order."""

UNKNOWN = "not written"

Life = tuple[str, Sequence[tuple[int, int, int]], bool]
"""One belt: its name, its stretches in order of age, and whether it failed on its last run. A stretch is the runs that
it made one after the other under one level: the place of the level, -1 where it is not known, which has a line of its
own, and the ages in runs before the first and after the last of them."""


def limits_of(share: float, se: float | None, confidence: float) -> tuple[float, float] | None:
    """Put limits about an incidence from its standard error.

    Parameters
    ----------
    share, se : float
        The incidence and its standard error.
    confidence : float
        Of the limits.

    Returns
    -------
    tuple of two floats or None
        None where the share is 0 or 1, or has no standard error.

    References
    ----------
    Kalbfleisch and Prentice, *The Statistical Analysis of Failure Time Data*, 2nd ed. (2002), section 1.4: limits for a
    share on the log(-log) scale, here with the incidence's own standard error.
    """
    if not 0 < share < 1 or not se:
        return None
    reach = NormalDist().inv_cdf(0.5 + confidence / 2) * se / abs(share * math.log(share))
    return share ** math.exp(reach), share ** math.exp(-reach)


def shares_by(findings: Plain, age: int) -> dict[str, tuple[float, str]]:
    """Read off what share of belts each cause had ended by a run, and say it with its limits, the largest first.

    All that count as failures are there, those never seen included; beyond the oldest belt no last value is carried on.
    """
    shares = {}
    for cause, block in findings["causes"].items():
        place = max((place for place, at in enumerate(block["age"]) if at <= age), default=None)
        share, se = (0.0, None) if place is None else (block["incidence"][place], block["se"][place])
        limits = limits_of(share, se, findings["settings"]["confidence"])
        between = " to ".join(percent(limit).removesuffix(" %") for limit in limits or ())
        said = f"{percent(share)} {ended_words(cause)}"
        shares[cause] = share, f"{said} ({between})" if between else said
    return dict(sorted(shares.items(), key=lambda each: -each[1][0]))


def causes_picture(findings: Plain) -> Picture | None:
    """Draw up the incidences of all causes that count as failures; None when no belt of known age has made a run."""
    overall = findings["life"]["overall"]
    if "age" not in overall:
        return None
    oldest = overall["age"][-1]
    by = min(findings["settings"].get("horizon_runs") or oldest, oldest)
    shares = shares_by(findings, by)
    blocks, order = findings["causes"], list(findings["causes"])
    seen = [cause for cause in shares if any(blocks[cause]["incidence"])]
    never = [cause for cause in shares if cause not in seen]
    said = [phrase for share, phrase in shares.values() if share > 0]
    confidence = confidence_words(findings["settings"]["confidence"])
    title = f"By run {by}, {listed(said)} ({confidence} in brackets)." if said else f"By run {by} no belt had failed."
    belts = f"{counted(overall['belts'], 'belt')}, {overall['failed']} failed"
    subtitle = f"Share of belts that each cause has ended by each run, the causes competing. {belts}."
    table = "Table: belts that made that run (failed so far, of any cause)."
    note = noted(findings, table, f"Never seen: {listed(never)}." if never else "")
    rows = {"all": (None, overall)}

    def draw(body: SubFigure, size: Size) -> None:
        words = {cause: f"{cause} {percent(blocks[cause]['incidence'][-1])}" for cause in seen}
        right, below = _room(words.values(), size), table_high(rows, size)
        axes = framed(body, size, X_LABEL, "Belts ended by that cause, %", right=right, below=below)
        axes.set_ylim(0, _top((blocks[cause]["incidence"][-1] for cause in seen), 0.1))
        set_ages(axes, size, rows, oldest)
        lines = {cause: _risen(axes, size, cause, order.index(cause), blocks[cause], clip_on=False) for cause in seen}
        write_beside(axes, size, {line: words[cause] for cause, line in lines.items()})
        write_table(axes, size, rows, 3.1 * size.gap)

    return Picture("causes", title, subtitle, note, draw, lambda size: plot_height(size) + table_high(rows, size))


def _room(names: Iterable[str], size: Size) -> float:
    """Give the inches that names at the ends of curves take."""
    return max((width(name, size.text) for name in names), default=0.0) + 0.6 * size.gap


def _top(shares: Iterable[float], none: float) -> float:
    """Choose the end of the axis in percent, a round number over all shares; `none` stands for them where none is."""
    most = 100 * max(shares, default=none)
    return 1.02 * next(limit for limit in (10, 20, 40, 60, 80, 100) if most <= limit + 1e-9)


def _risen(axes: Axes, size: Size, gid: str, place: int, part: Plain, **look: Any) -> Line2D:
    """Draw an incidence as steps up from 0."""
    steps = (part["age"][0] - 1, *part["age"]), (0.0, *(100 * share for share in part["incidence"]))
    look |= {"drawstyle": "steps-post", "linewidth": size.line, "gid": f"curve:{gid}"}
    return axes.plot(*steps, **look, **ink(place))[0]


def causes_by_picture(findings: Plain, name: str = "idler") -> Picture | None:
    """Draw up each cause's share by run at each level of a setting, a panel a cause; None where there is none."""
    block = findings.get("causes_by", {}).get(name, {})
    if not block.get("levels") or not (met := causes_met(findings, name)):
        return None
    levels, run, words = block["levels"], said_at(findings, name), wording(findings, name)
    most = max(met, key=lambda cause: max(causes[cause]["incidence"][-1] for causes in levels.values()))
    shares = listed([f"{share_words(causes[most], run)} {words.phrase(level)}" for level, causes in levels.items()])
    confidence = confidence_words(findings["settings"]["confidence"])
    title = f"By run {run}, {shares} {ended_words(most)} ({confidence} in brackets)."
    subtitle = f"Share of belts that each cause has ended by each run, by {words.noun}, the causes competing."
    note = noted(findings, f"Bands: {confidence}, point by point. No curve: no belt failed of it there.", EXPLORED)
    oldest = max(next(iter(causes.values()))["age"][-1] for causes in levels.values())
    end = _top((v or 0 for causes in levels.values() for p in causes.values() for v in p["incidence"] + p["upper"]), 0)

    def columns(size: Size) -> int:
        return 1 if len(met) == 1 or size.width < 5 else 2 if size.height is None else -(-len(met) // 2)

    def draw(body: SubFigure, size: Size) -> None:
        for panel, cause in zip(parts(body, columns(size), len(met)), met, strict=True):
            axes = framed(panel, size, X_LABEL, "Belts ended, %", cause, right=_room(levels, size))
            axes.set(xlim=(0, oldest + 0.3), ylim=(0, end))
            axes.set_xticks(whole_ticks(oldest, 2 * size.gap * oldest / 2.0))
            names = {}
            for place, (level, causes) in enumerate(levels.items()):
                part, gid = causes[cause], f"{level}:{cause}"
                if any(part["incidence"]):
                    lower, upper = ([100 * (value or 0) for value in part[side]] for side in ("lower", "upper"))
                    if any(known := [value is not None for value in part["upper"]]):
                        banded(axes, size, f"band:{gid}", place, part["age"], lower, upper, where=known, step="post")
                    names[_risen(axes, size, gid, place, part)] = level
            write_beside(axes, size, names)

    def needs(size: Size) -> float:
        return -(-len(met) // columns(size)) * (0.8 * plot_height(size) + 1.4 * size.gap)

    return Picture("causes_by", title, subtitle, note, draw, needs)


def weibull_picture(findings: Plain) -> Picture | None:
    """Draw the law on axes on which it is a straight line, with the curve and its band; None where there is none."""
    block, curve = findings.get("weibull", {}), said_of(findings["life"]["overall"])
    if block.get("loglik") is None or "age" not in curve:
        return None
    title, *_, fit = weibull_words(findings)
    counts = f"{counted(block['belts'], 'belt')}, {block['failed']} failed"
    subtitle = f"Share of belts failed after each run, on Weibull's axes ({counts}). {fit}"
    confidence = confidence_words(findings["settings"]["confidence"])
    note = noted(findings, f"Straight: the law. Dots: the curve; its band is {confidence}, point by point.")
    shape, scale = block["shape"]["estimate"], block["scale"]["estimate"]
    points = [
        (age, *(_height(share) for share in three))
        for age, *three in zip(curve["age"], curve["survival"], curve["lower"], curve["upper"], strict=True)
        if all(share is not None and 0 < share < 1 for share in three)
    ]

    def draw(body: SubFigure, size: Size) -> None:
        axes = framed(body, size, f"{X_LABEL} (logarithmic)", "Belts failed, %", right=_room(["curve"], size))
        oldest = curve["age"][-1]
        ages = (min(0.9, curve["age"][0]), oldest)
        heights = [shape * math.log(age / scale) for age in ages]
        x, y, upper, lower = ([point[place] for point in points] for place in range(4))
        low, high = min([heights[0], *y]) - 0.6, max([heights[1], *y]) + 0.5
        axes.set(xscale="log", xlim=(ages[0], oldest * 1.02), ylim=(low, high))
        shares = (0.001, 0.01, 0.05, 0.1, 0.2, 0.5, 0.8, 0.95, 0.99)
        ticks = {_height(1 - share): f"{100 * share:g}" for share in shares if low < _height(1 - share) < high}
        axes.set_yticks([*ticks], [*ticks.values()])
        number_axis(axes.xaxis, [age for age in (1, 2, 3, 5, 7, 10, 15, 20, 30, 50) if age <= oldest])
        if x:
            banded(axes, size, "band:curve", 1, x, lower, upper)
        spots = {"linestyle": "none", "marker": "o", "ms": 2.6 * size.line, "color": ink(1)["color"]}
        lines = axes.plot(ages, heights, linewidth=size.line, gid="line:law", **ink(0))
        lines += axes.plot(x, y, gid="spots:curve", **spots) if x else []
        write_beside(axes, size, dict(zip(lines, ("law", "curve"), strict=False)))

    return Picture("weibull", title, subtitle, note, draw, plot_height)


def _height(survival: float) -> float:
    """Put a share still running on the axis on which Weibull's law is straight: log(-log S)."""
    return math.log(-math.log(survival))


def lives_picture(lives: Sequence[Life], levels: Sequence[str], setting: str, *, invented: str = "") -> Picture:
    """Draw up the lives of belts.

    Parameters
    ----------
    lives : sequence of Life
        In the order in which the belts were first fitted; of more than `MOST` the last are drawn.
    levels : sequence of str
        Names of the levels, in order.
    setting : str
        What the levels are levels of, in words.
    invented : str
        The sentence that says that the data are invented; empty where they are not.

    Raises
    ------
    ValueError
        If there is no belt to draw.
    """
    if not lives:
        raise ValueError("no belt of known age has made a run")
    drawn = lives[-MOST:]
    failed = sum(fell for *_, fell in drawn)
    under = [{level for level, *_ in stretches} for _, stretches, _ in drawn]
    unknown = any(-1 in levels for levels in under)
    inks = (*levels, UNKNOWN) if unknown else levels
    said = "; ".join(f"{STYLES_SAID[place % len(STYLES_SAID)]}: {level}" for place, level in enumerate(inks))
    subtitle = f"One line a belt, the first fitted at the top. Line by {setting}: {said}."
    if len(lives) > len(drawn):
        subtitle += f" Of {counted(len(lives), 'belt')} the last {len(drawn)} are drawn."
    changed = sum(len(levels - {-1}) > 1 for levels in under)
    rest = len(drawn) - failed
    others = "1 is still running or was" if rest == 1 else f"{rest} are still running or were"
    ended = f"Of {counted(len(drawn), 'belt')}, {failed} failed and {others} taken off early"
    title = f"{ended}; on {changed} the {setting} was changed in mid-life."
    note = f"Dots: failures. A line without one: still running or taken off early. {invented}".rstrip()

    def draw(body: SubFigure, size: Size) -> None:
        from matplotlib.lines import Line2D

        right = max((width(level, size.small) for level in inks), default=0.0) + 0.4 * size.gap
        axes = framed(body, size, "Runs on the belt", "Belts, as first fitted", right=right)
        ends = [(life[1][-1][2], y) for y, life in zip(range(len(drawn), 0, -1), drawn, strict=True)]
        axes.set(xlim=(0, max(ends)[0] + 0.3), ylim=(0, len(drawn) + 1), yticks=())
        lines: list[Line2D] = []
        for (belt, stretches, _), (_, y) in zip(drawn, ends, strict=True):
            for number, (level, start, end) in enumerate(stretches, 1):
                style = ink(level if level >= 0 else len(inks) - 1)
                gid = f"life:{belt}:{number}"
                lines.append(Line2D((start, end), (y, y), linewidth=size.line, clip_on=False, gid=gid, **style))
                axes.add_artist(lines[-1])
        dots_at = np.reshape([end for end, (*_, fell) in zip(ends, drawn, strict=True) if fell], (-1, 2))
        look: dict[str, Any] = {"color": ink(len(inks))["color"], "mec": "white", "mew": 0.5 * size.thin}
        dots = axes.plot(*dots_at.T, "o", ms=2.3 * size.line, clip_on=False, gid="failures:belts", **look)
        names = []
        for place, name in enumerate(inks):
            if last := [end for end, life in zip(ends, drawn, strict=True) if life[1][-1][0] == place]:
                longest, aside = max(last, key=lambda end: end[0]), (0.6 * size.text, 0)
                names.append(words_at(axes, name, longest, aside, f"label:{name}", size.small, bbox=HALO))
        apart(names, [*dots, *lines])

    def needs(size: Size) -> float:
        return max(plot_height(size), 5.5 * size.gap + 1.25 * size.line / 72 * len(drawn))

    return Picture("lives", title, subtitle, note, draw, needs)
