"""Pictures of how belts end: each belt's life, what share each cause has ended by each run, and Weibull's law.

A life is one line a belt between its name and what ended it, from the run at which the log first sees it to its last;
its colour and style say the level of one setting, so that a change on a living belt is seen as a change of line. The
shares are Aalen-Johansen incidences: causes compete, so they and the share that has not failed add to 100 %. Limits at
the horizon are put on the log(-log) scale, where they stay between 0 and 1.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from drivekit.show.axes import axes_at, banded, framed, number_axis, parts, plot_height, tiled, words_at, write_beside
from drivekit.show.curves import X_LABEL, set_ages, table_high, whole_ticks, write_table
from drivekit.show.failing import EXPLORED, causes_met, ended_words, said_at, share_words, weibull_words
from drivekit.show.paper import INK, PALE, STYLES, Picture, Size, ink, noted, width
from drivekit.show.phrases import Plain, counted, listed, percent, said_of, sure, wording

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import SubFigure

__all__ = ["MOST", "Life", "causes_by_picture", "causes_picture", "lives_picture", "shares_by", "weibull_picture"]

MOST = 120
"""Lines that one picture can carry and still be told apart."""

ROWS, ROWS_ON_A_SLIDE = 36, 15
"""Lives in one column, before another one is begun where there is room."""

UNKNOWN = "not written"

Life = tuple[str, Sequence[tuple[int, int, int]], bool, str]
"""One belt: its name, its stretches in order of age, whether it failed on its last run, and the cause that it ended by,
empty where it did not. A stretch is the runs that it made one after the other under one level: the place of the level,
-1 where it is not known, which has a line of its own, and the ages in runs before the first and after the last."""


def shares_by(findings: Plain, age: int) -> dict[str, tuple[float, str]]:
    """Read off what share of belts each cause had ended by a run, and say it with its limits, the largest first.

    All that count as failures are there, those never seen included; beyond the oldest belt no last value is carried on.
    """
    shares = {}
    for cause, part in findings["causes"].items():
        before = [share for at, share in zip(part["age"], part["incidence"], strict=True) if at <= age]
        shares[cause] = before[-1] if before else 0.0, share_words(part, age, ended_words(cause))
    return dict(sorted(shares.items(), key=lambda each: -each[1][0]))


def causes_picture(findings: Plain) -> Picture | None:
    """Draw up the incidences of all causes that count as failures; None where no belt of known age failed."""
    overall = findings["life"]["overall"]
    if not overall.get("failed"):
        return None
    oldest = overall["age"][-1]
    by = min(findings["settings"].get("horizon_runs") or oldest, oldest)
    shares = shares_by(findings, by)
    blocks, order = findings["causes"], list(findings["causes"])
    seen = [cause for cause in shares if any(blocks[cause]["incidence"])]
    never = [cause for cause in shares if cause not in seen]
    said = [phrase for share, phrase in shares.values() if share > 0]
    title = f"By run {by}" + (f", {listed(said)} ({sure(findings)} in brackets)." if said else " no belt had failed.")
    belts = f"{counted(overall['belts'], 'belt')}, {overall['failed']} failed"
    subtitle = f"Share of belts that each cause has ended by each run, the causes competing. {belts}."
    table = "Table: belts that made that run (failed so far, of any cause)."
    note = noted(findings, table, f"Never seen: {listed(never)}." if never else "")
    rows = {"all": (0, overall)}

    def draw(body: SubFigure, size: Size) -> None:
        words = {f"curve:{cause}": f"{cause} {percent(blocks[cause]['incidence'][-1])}" for cause in seen}
        right, below = _room(words.values(), size), table_high(rows, size)
        axes = framed(body, size, X_LABEL, "Belts ended by that cause, %", right=right, below=below)
        axes.set_ylim(0, _top(blocks[cause]["incidence"][-1] for cause in seen))
        set_ages(axes, size, rows, oldest)
        for cause in seen:
            _risen(axes, size, cause, order.index(cause), blocks[cause], clip_on=False)
        write_beside(axes, size, words)
        write_table(axes, size, rows, 3.1 * size.gap)

    return Picture("causes", title, subtitle, note, draw, lambda size: plot_height(size) + table_high(rows, size))


def _room(names: Iterable[str], size: Size) -> float:
    """Give the inches that names at the ends of curves take."""
    return max((width(name, size.text) for name in names), default=0.0) + 0.6 * size.gap


def _top(shares: Iterable[float]) -> float:
    """Choose the end of the axis in percent, a round number over all shares."""
    most = 100 * max(shares)
    return 1.02 * next(limit for limit in (10, 20, 40, 60, 80, 100) if most <= limit + 1e-9)


def _risen(axes: Axes, size: Size, gid: str, place: int, part: Plain, **look: Any) -> None:
    """Draw an incidence as steps up from 0."""
    steps = (part["age"][0] - 1, *part["age"]), (0.0, *(100 * share for share in part["incidence"]))
    look |= {"drawstyle": "steps-post", "linewidth": size.line, "gid": f"curve:{gid}"}
    axes.plot(*steps, **look, **ink(place))


def causes_by_picture(findings: Plain, name: str = "idler") -> Picture | None:
    """Draw up each cause's share by run at each level of a setting, a panel a cause; None where there is none."""
    block = findings.get("causes_by", {}).get(name, {})
    if not block.get("levels") or not (met := causes_met(findings, name)):
        return None
    levels, run, words = block["levels"], said_at(findings, name), wording(findings, name)
    most = max(met, key=lambda cause: max(causes[cause]["incidence"][-1] for causes in levels.values()))
    shares = listed([f"{share_words(causes[most], run)} {words.phrase(level)}" for level, causes in levels.items()])
    title = f"By run {run}, {shares} {ended_words(most)} ({sure(findings)} in brackets)."
    subtitle = f"Share of belts that each cause has ended by each run, by {words.noun}, the causes competing."
    note = noted(findings, f"Bands: {sure(findings)}, point by point. No curve: no belt failed of it there.", EXPLORED)
    oldest = max(next(iter(causes.values()))["age"][-1] for causes in levels.values())
    end = _top(v or 0 for causes in levels.values() for p in causes.values() for v in p["incidence"] + p["upper"])

    def draw(panel: SubFigure, size: Size, cause: str) -> None:
        axes = framed(panel, size, X_LABEL, "Belts ended, %", cause, right=_room(levels, size))
        axes.set(xlim=(0, oldest + 0.3), ylim=(0, end))
        axes.set_xticks(whole_ticks(oldest, 2 * size.gap * oldest / 2.0))
        for place, (level, causes) in enumerate(levels.items()):
            part, gid = causes[cause], f"{level}:{cause}"
            if any(part["incidence"]):
                lower, upper = ([100 * (value or 0) for value in part[side]] for side in ("lower", "upper"))
                if any(known := [value is not None for value in part["upper"]]):
                    banded(axes, size, f"band:{gid}", place, part["age"], lower, upper, where=known, step="post")
                _risen(axes, size, gid, place, part)
        write_beside(axes, size, {f"curve:{level}:{cause}": level for level in levels})

    drawn = tiled(met, draw, lambda size, _: 0.8 * plot_height(size) + 1.4 * size.gap, on_slide=-(-len(met) // 2))
    return Picture("causes_by", title, subtitle, note, *drawn)


def weibull_picture(findings: Plain) -> Picture | None:
    """Draw the law on axes on which it is a straight line, with the curve and its band; None where there is none."""
    block, curve = findings.get("weibull", {}), said_of(findings["life"]["overall"])
    if block.get("loglik") is None or "age" not in curve:
        return None
    title, _, fit, *_ = weibull_words(findings)
    counts = f"{counted(block['belts'], 'belt')}, {block['failed']} failed"
    subtitle = f"Share of belts failed after each run, on Weibull's axes ({counts}). {fit}"
    note = noted(findings, f"Straight: the law. Dots: the curve; its band is {sure(findings)}, point by point.")
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
        axes.plot(ages, heights, linewidth=size.line, gid="line:law", **ink(0))
        if x:
            axes.plot(x, y, gid="spots:curve", **spots)
        write_beside(axes, size, {"line:law": "law", "spots:curve": "curve"})

    return Picture("weibull", title, subtitle, note, draw, plot_height)


def _height(survival: float) -> float:
    """Put a share still running on the axis on which Weibull's law is straight: log(-log S)."""
    return math.log(-math.log(survival))


def lives_picture(lives: Sequence[Life], levels: Sequence[str], setting: str, *, invented: str = "") -> Picture:
    """Draw up the lives of belts, in the order in which they were first fitted; of more than `MOST` the last are drawn.

    The levels, named in order, are those of a setting, which is named in words. `invented` is the sentence that says
    that the data are invented; empty where they are not.

    Raises
    ------
    ValueError
        If there is no belt to draw.
    """
    if not lives:
        raise ValueError("no belt of known age has made a run")
    drawn = lives[-MOST:]
    failed = sum(fell for _, _, fell, _ in drawn)
    under = [{level for level, *_ in stretches} for _, stretches, _, _ in drawn]
    inks = (*levels, UNKNOWN) if any(-1 in levels for levels in under) else levels
    said = "; ".join(f"{STYLES[place % len(STYLES)][2]}: {level}" for place, level in enumerate(inks))
    subtitle = f"{'One line a belt, the first fitted at the top. ' * (len(drawn) > 1)}Line by {setting}: {said}."
    if len(lives) > len(drawn):
        subtitle += f" Of {counted(len(lives), 'belt')} the last {len(drawn)} are drawn."
    changed = sum(len(levels - {-1}) > 1 for levels in under)
    rest = len(drawn) - failed
    others = "1 is still running or was" if rest == 1 else f"{rest} are still running or were"
    ended = f"Of {counted(len(drawn), 'belt')}, {failed} failed and {others} taken off early"
    title = f"{ended}; on {changed} the {setting} was changed in mid-life."
    if len(drawn) == 1:
        belt, stretches, _, cause = drawn[0]
        title = f"{belt} got to run {stretches[-1][2]}{f': {cause}' if cause else ' so far'}."
    note = f"A dot, and why: failed. Why, without a dot: taken off. Neither: not ended. {invented}".rstrip()
    oldest = max(stretches[-1][2] for _, stretches, _, _ in drawn)

    def laid(size: Size) -> tuple[int, int, float, float]:
        """Give the columns, the lives in each, and the inches left and right of their lines."""
        left = min(max(width(name, size.small) for name, *_ in drawn), 0.4 * size.width) + size.gap
        words = [(width(cause, size.small) + 1.2 * size.gap, life[-1][2] / oldest) for _, life, _, cause in drawn]
        room = left + 3.2 * size.gap + max(word * share for word, share in words)
        wanted = -(-len(drawn) // (ROWS if size.height is None else ROWS_ON_A_SLIDE))
        columns = max(1, min(wanted, int(size.width / room)))
        lines = size.width / columns - left
        named = size.text / 72 + width("runs", size.text) + 0.3 * size.gap
        right = max(named, *((word - (1 - share) * lines) / share for word, share in words))
        return columns, -(-len(drawn) // columns), left, right

    def draw(body: SubFigure, size: Size) -> None:
        columns, rows, left, right = laid(size)
        for at, part in enumerate(parts(body, columns, columns)):
            column = drawn[at * rows : (at + 1) * rows]
            axes = axes_at(part, size, left, right, 2 * size.gap, 0.5 * size.gap)
            axes.set_gid(f"panel:{at + 1}")
            axes.spines["left"].set_visible(False)
            axes.tick_params(axis="y", labelsize=size.small, labelcolor=INK, length=0)
            under = {"xycoords": "axes fraction", "color": PALE}
            words_at(axes, "runs", (1, 0), (size.text, -0.95 * size.text), f"axis:{at + 1}", size.text, **under)
            axes.set(xlim=(0, oldest), ylim=(0.4, rows + 0.6))
            number_axis(axes.xaxis, whole=True)
            axes.set_yticks(range(rows, rows - len(column), -1), [_cut(name, left, size) for name, *_ in column])
            for y, (belt, stretches, _, cause) in zip(range(rows, 0, -1), column, strict=False):
                for number, (level, start, end) in enumerate(stretches, 1):
                    style = ink(level if level >= 0 else len(inks) - 1)
                    style |= {"linewidth": size.line, "clip_on": False, "gid": f"life:{belt}:{number}"}
                    axes.plot((start, end), (y, y), **style)
                if cause:
                    words_at(axes, cause, (end, y), (0.6 * size.text, 0), f"cause:{belt}", size.small)
            each = zip(range(rows, 0, -1), column, strict=False)
            fell = [(life[-1][2], y) for y, (_, life, failed, _) in each if failed]
            look: dict[str, Any] = {"color": ink(len(inks))["color"], "mec": "white", "mew": 0.5 * size.thin}
            dots = np.reshape(fell, (-1, 2)).T
            axes.plot(*dots, "o", ms=2.3 * size.line, clip_on=False, gid=f"failures:{at + 1}", **look)

    def needs(size: Size) -> float:
        return 2.5 * size.gap + (1.2 if size.height is None else 1.1) * size.small / 72 * max(laid(size)[1], 4)

    return Picture("lives", title, subtitle, note, draw, needs)


def _cut(name: str, left: float, size: Size) -> str:
    """Cut a name that is wider than the room left of the lines."""
    while width(name, size.small) > left - 0.9 * size.gap:
        name = name[:-1]
    return name
