"""A season beside an earlier one: what moved, what differed in the set-ups, both together, and the watch."""

from __future__ import annotations

from math import log10
from typing import TYPE_CHECKING, Any

from drivekit.show.axes import framed, log_ticks, number_axis, parts, plot_height
from drivekit.show.beside import write_beside
from drivekit.show.curves import comparison_picture
from drivekit.show.paper import INK, PALE, Picture, Size, ink, noted, width
from drivekit.show.phrases import Plain, chance, counted, decimal, listed, log_words, percent
from drivekit.show.words import exploratory_answer, levels_answer

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import SubFigure

__all__ = [
    "belts_words",
    "life_words",
    "pooled_words",
    "seasons_picture",
    "setups_rows",
    "watch_picture",
    "watch_words",
]

BET = "Evidence, on a scale that starts at 1"
LEAST = 0.01
"""Evidence below this is drawn at it: a lost bet is lost."""

SIDES = {"worse": "more failures", "better": "fewer failures"}


def _as_comparison(findings: Plain) -> Plain:
    """Give findings in which the two seasons stand as one more comparison, so that they are drawn and said as such."""
    return {**findings, "life": {**findings["life"], "more": {"season": findings["against"]["life"]["season"]}}}


def life_words(findings: Plain) -> list[str]:
    """Say how this season's lives differ from the earlier one's, and whether the settings leave a difference over."""
    found = findings["against"]
    said = [
        f"The earlier log is {log_words({**found['log'], 'invented': False})}",
        str(exploratory_answer(_as_comparison(findings), "season")),
    ]
    hazard = found["hazard"]
    if "reason" in hazard:
        return [*said, f"The settings of both seasons cannot be studied at once: {hazard['reason'].rstrip('.')}."]
    term, both = hazard["season_term"], hazard["interaction"]
    if term["hr"] is None or term["lower"] is None or term["upper"] is None:
        said.append(f"With the settings alike, one season cannot be told from the other: {term['reason'].rstrip('.')}.")
    else:
        low, high = (f"{ratio:.2f}" for ratio in (term["lower"], term["upper"]))
        times = f"{term['hr']:.2f} times the failures a run ({low} to {high})"
        said.append(f"With settings and cars alike, this season had {times}.")
    if "p" in both:
        said.append(
            "If the idler did the same in both seasons, answers at least that far apart would come up "
            f"{chance(both['p'])} by chance."
        )
    return said


def pooled_words(findings: Plain) -> list[str]:
    """Say what both seasons together say of each setting, for this season's belts; claims are those of both."""
    pooled = findings["against"]["pooled"]
    if "reason" in pooled:
        return [f"The two seasons give no answer together: {pooled['reason'].rstrip('.')}."]
    told = {name: head for name, head in pooled["headline"].items() if head.get("basis") == "standardised"}
    both = {
        **findings,
        "headline": told,
        "claims": pooled["claims"],
        "life": {name: {"levels": head["levels"]} for name, head in told.items()},
        "hazard": {**findings["hazard"], **{part: pooled[part] for part in ("terms", "leading")}},
    }
    return [str(levels_answer(both, name)) for name in told]


def belts_words(findings: Plain) -> list[str]:
    """Say which belts live in both logs, and which names are used again."""
    belts, said = findings["against"]["belts"], []
    if belts["one"]:
        said.append(f"{counted(len(belts['one']), 'belt')} went on from the earlier log: {listed(belts['one'])}.")
    said += [f"{one['belt']} stands in both logs and is taken as two belts: {one['why']}." for one in belts["apart"]]
    return said


def setups_rows(findings: Plain) -> list[list[str]]:
    """Give the runs of each season by setting: what, level, earlier, later, as shares of the runs that say."""
    rows = []
    for column, seasons in findings["against"]["setups"].items():
        if column == "tension_n":
            told = [
                f"{part['median']:,.0f} N ({part['p10']:,.0f} to {part['p90']:,.0f})" if part["runs"] else "not written"
                for part in seasons.values()
            ]
            rows.append(["tension, middle run (8 in 10 runs)", *told])
            continue
        for level in dict.fromkeys(level for part in seasons.values() for level in part):
            totals = [sum(part.values()) for part in seasons.values()]
            shares = [
                f"{percent(part.get(level, 0) / total)} of {total}" if total else "not written"
                for part, total in zip(seasons.values(), totals, strict=True)
            ]
            rows.append([f"{column.replace('_', ' ')}: {level}", *shares])
    return rows


def seasons_picture(findings: Plain) -> Picture | None:
    """Draw the lives of both seasons in one panel; None without an earlier season or where one has no run."""
    if "against" not in findings:
        return None
    return comparison_picture(_as_comparison(findings), "season")


def watch_words(findings: Plain) -> list[str]:
    """Say what the watch has seen, and how loudly."""
    watch = findings["watch"]
    if "reason" in watch:
        return [f"There is no watch over this season: {watch['reason'].rstrip('.')}."]
    seen = f"{counted(watch['observed'], 'belt')} failed where {watch['reference_log']} leads to expect"
    said = [f"{seen} {decimal(watch['expected'])} at the ages they had."]
    for side, more in SIDES.items():
        if (run := watch[f"alarm_{side}_run"]) is not None:
            said.append(
                f"From run {run} on it is told: {more} than {watch['reference_log']} leads to expect. Why is not said "
                "by it: look at what was changed."
            )
    if len(said) == 1:
        most = max(max(watch[side], default=0.0) for side in SIDES)
        said.append(
            f"Neither more nor fewer is told: the evidence reached {most:.2g}, and {watch['alarm']:.0f} is asked, so "
            "that a season like the earlier one is called different in at most "
            f"{percent(1 - findings['settings']['confidence'])} of seasons, however often one looks."
        )
    if left := watch["runs_left_out"]:
        said.append(f"{counted(left, 'run')} at ages that the earlier season never saw tell nothing.")
    return said


def watch_picture(findings: Plain) -> Picture | None:
    """Draw failures seen and expected run by run, and beneath them the evidence on both sides; None without a watch."""
    watch = findings.get("watch", {"reason": ""})
    if "reason" in watch:
        return None
    runs, alarm = range(1, len(watch["run"]) + 1), watch["alarm"]
    counts = {"seen": watch["observed_by_run"], "expected": watch["expected_by_run"]}
    bets = {name: [max(value, LEAST) for value in watch[side]] for side, name in SIDES.items()}
    most = max(3 * alarm, *map(max, bets.values()))
    subtitle = (
        f"Failures in {counted(len(watch['run']), 'run')}, seen and expected from {watch['reference_log']} at the same "
        "ages; beneath, what a bet on more, or on fewer, would have made of 1."
    )
    note = noted(
        findings, "The bet takes the worst case of what the earlier season leaves open; below 0.01 it is drawn there."
    )

    def panel(part: SubFigure, size: Size, title: str, curves: Mapping[str, Sequence[float]], first: int) -> Axes:
        """Draw curves over the runs of the season, their names at their ends."""
        room = max(width(name, size.text) for name in (*counts, *SIDES.values())) + size.gap
        axes = framed(part, size, "Runs of the season", title, right=room)
        axes.set_xlim(0, len(runs) + 1)
        number_axis(axes.xaxis, whole=True)
        for place, (name, values) in enumerate(curves.items(), first):
            axes.step(runs, values, where="post", linewidth=size.line, gid=f"curve:{name}", **ink(place))
        return axes

    def draw(body: SubFigure, size: Size) -> None:
        upper, lower = parts(body, 1, 2)
        above = panel(upper, size, "Failures so far", counts, 0)
        above.set_ylim(0, 1.05 * max(map(max, counts.values())) + 1)
        number_axis(above.yaxis, whole=True)
        below = panel(lower, size, BET, bets, 2)
        below.set(yscale="log", ylim=(LEAST, most))
        number_axis(below.yaxis, [tick for tick in log_ticks(LEAST, most) if log10(tick).is_integer()])
        below.axhline(alarm, color=INK, linewidth=1.2 * size.thin, gid="rule:alarm")
        words: dict[str, Any] = {"textcoords": "offset points", "size": size.small, "color": PALE}
        where = below.get_yaxis_transform()
        below.annotate(f"told above {alarm:.0f}", (0, alarm), (2, 2), xycoords=where, gid="rule:alarm:text", **words)
        for axes, curves, first in ((above, counts, 0), (below, bets, 2)):
            ends = [
                (name, name, (float(len(runs)), values[-1]), ink(place)["color"])
                for place, (name, values) in enumerate(curves.items(), first)
            ]
            write_beside(axes, size, ends, (), axes.lines)

    said = watch_words(findings)
    told = said[1] if any(watch[f"alarm_{side}_run"] is not None for side in SIDES) else said[0]
    return Picture("watch", told, subtitle, note, draw, lambda size: 2 * plot_height(size) - 0.6)
