"""A season beside an earlier one, and beside its own log when that was shorter.

Of two seasons it is said what moved, what differed in the set-ups, what both say together, and what a watch has seen.
Of a log that has grown, how far each answer moved, and how much that is by one rule: the answer of now lies within the
limits that the answer of then had, or out of them. The two share their runs, so no interval for the move is given.
Answers that were asked otherwise (other failures, another horizon, other cuts) are not held against each other.
"""

from __future__ import annotations

from math import log10
from typing import TYPE_CHECKING, Any

from drivekit.show import phrases as say
from drivekit.show.axes import framed, log_ticks, number_axis, parts, plot_height, words_at, write_beside
from drivekit.show.curves import comparison_picture
from drivekit.show.paper import INK, PALE, Picture, Size, ink, noted, width
from drivekit.show.phrases import Plain
from drivekit.show.words import answer, exploratory_answer, sides

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import SubFigure

__all__ = [
    "belts_words",
    "life_words",
    "moved",
    "moved_since",
    "pooled_words",
    "seasons_picture",
    "setups_rows",
    "watch_picture",
    "watch_words",
]

LEAST = 0.01
"""Evidence below this is drawn at it: a lost bet is lost."""

SIDES = {"worse": "more failures", "better": "fewer failures"}

ASKED = {"failures": "the causes that count as failures", "confidence": "the confidence", "costs": "the costs"}
OTHERWISE = "not held against each other"
TURNED: dict[tuple[Any, ...], str] = {
    (False, True): " It is told now and was not.",
    (True, False): " It was told and is not now.",
    (False, False): " It is told neither now nor then.",
}
COUNTS = {"runs": "run", "belts": "belt", "failed": "failure"}


def _as_comparison(findings: Plain) -> Plain:
    """Give findings in which the two seasons stand as one more comparison, so that they are drawn and said as such."""
    return {**findings, "life": {**findings["life"], "more": {"season": findings["against"]["life"]["season"]}}}


def life_words(findings: Plain) -> list[str]:
    """Say how this season's lives differ from the earlier one's, and whether the settings leave a difference over."""
    found, beside = findings["against"], exploratory_answer(_as_comparison(findings), "season")
    said = [f"The earlier log is {say.log_words(found['log'])}", str(beside)]
    hazard = found["hazard"]
    if "reason" in hazard:
        return [*said, f"The settings of both seasons cannot be studied at once: {hazard['reason'].rstrip('.')}."]
    term, both = hazard["season_term"], hazard["interaction"]
    if None in (term["hr"], term["lower"], term["upper"]):
        said.append(f"With the settings alike, one season cannot be told from the other: {term['reason'].rstrip('.')}.")
    else:
        times = "{hr:.2f} times the failures a run ({lower:.2f} to {upper:.2f})".format(**term)
        said.append(f"With settings and cars alike, this season had {times}.")
    if "p" in both:
        by_chance = f"would come up {say.chance(both['p'])} by chance"
        said.append(f"If the idler did the same in both seasons, answers at least that far apart {by_chance}.")
    return said


def pooled_words(findings: Plain) -> list[str]:
    """Say what both seasons together say of each setting, for this season's belts; claims are those of both."""
    if "reason" in (pooled := findings["against"]["pooled"]):
        return [f"The two seasons give no answer together: {pooled['reason'].rstrip('.')}."]
    apart = findings["against"]["hazard"].get("interaction", {}).get("p", 1.0) <= 1 - findings["settings"]["confidence"]
    said = ["On the idler the seasons differ: read each by itself, for both together may be true of neither."] * apart
    told = {name: head for name, head in pooled["headline"].items() if head.get("basis") == "standardised"}
    both = {
        **findings,
        "headline": told,
        "claims": pooled["claims"],
        "life": {name: {"levels": head["levels"]} for name, head in told.items()},
        "hazard": {**findings["hazard"], **{part: pooled[part] for part in ("failed", "terms", "leading")}},
        "tension_curve": pooled["tension_curve"],
    }
    return said + [str(answer(both, name)) for name in told]


def belts_words(findings: Plain) -> list[str]:
    """Say which belts live in both logs, and which names are used again."""
    belts, said = findings["against"]["belts"], []
    if belts["one"]:
        went = say.counted(len(belts["one"]), "belt")
        said.append(f"{went} went on from the earlier log: {say.listed(belts['one'])}.")
    apart, more = belts["apart"][:3], len(belts["apart"]) - 3
    said += [f"{one['belt']} stands in both logs and is taken as two belts: {one['why']}." for one in apart]
    return said + [f"So are {say.counted(more, 'more belt')}."] * (more > 0)


def setups_rows(findings: Plain) -> list[list[str]]:
    """Give the runs of each season by setting: what, level, earlier, later, as shares of the runs that say."""
    rows, units = [], say.spoken(findings)
    for column, seasons in findings["against"]["setups"].items():
        if column == "tension_n":
            rows.append(["tension, middle run (8 in 10 runs)"])
            for part in seasons.values():
                ends = [units.number(part[end], "N") for end in ("p10", "p90")] if part["runs"] else []
                rows[-1].append(f"{units.said(part['median'], 'N')} ({' to '.join(ends)})" if ends else "not written")
            continue
        for level in dict.fromkeys(level for part in seasons.values() for level in part):
            totals = [sum(part.values()) for part in seasons.values()]
            shares = [
                f"{say.percent(part.get(level, 0) / total)} of {total}" if total else "not written"
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
    if "reason" in (watch := findings["watch"]):
        return [f"There is no watch over this season: {watch['reason'].rstrip('.')}."]
    seen = f"{say.counted(watch['observed'], 'belt')} failed where {watch['reference_log']} leads to expect"
    said = [f"{seen} {say.decimal(watch['expected'])} at the ages they had."]
    for side, more in SIDES.items():
        if (run := watch[f"alarm_{side}_run"]) is not None:
            told = f"From run {run} on it is told: {more} than {watch['reference_log']} leads to expect."
            said.append(f"{told} Why is not said by it: look at what was changed.")
    if len(said) == 1:
        most = max(max(watch[side], default=0.0) for side in SIDES)
        said.append(
            f"Neither more nor fewer is told: the evidence reached {most:.2g}, and {watch['alarm']:.0f} is asked, so "
            "that a season like the earlier one is called different in at most "
            f"{say.percent(1 - findings['settings']['confidence'])} of seasons, however often one looks."
        )
    if left := watch["runs_left_out"]:
        said.append(f"{say.counted(left, 'run')} at ages that the earlier season never saw tell nothing.")
    return said


def watch_picture(findings: Plain) -> Picture | None:
    """Draw failures seen and expected run by run, and beneath them the evidence on both sides; None without a watch."""
    watch = findings.get("watch", {"reason": ""})
    if "reason" in watch:
        return None
    season, alarm = range(1, len(watch["run"]) + 1), watch["alarm"]
    counts = {"seen": watch["observed_by_run"], "expected": watch["expected_by_run"]}
    bets = {name: [max(value, LEAST) for value in watch[side]] for side, name in SIDES.items()}
    most = max(3 * alarm, *map(max, bets.values()))
    subtitle = (
        f"Failures in {say.counted(len(watch['run']), 'run')}, seen and expected from {watch['reference_log']} at the "
        "same ages; beneath, what a bet on more, or on fewer, would have made of 1."
    )
    note = "The bet takes the worst case of what the earlier season leaves open; below 0.01 it is drawn there."

    def panel(part: SubFigure, size: Size, title: str, curves: Mapping[str, Sequence[float]], first: int) -> Axes:
        """Draw curves over the runs of the season, their names at their ends."""
        room = max(width(name, size.text) for name in (*counts, *SIDES.values())) + size.gap
        axes = framed(part, size, "Runs of the season", title, right=room)
        axes.set_xlim(0, len(season) + 1)
        for place, (name, values) in enumerate(curves.items(), first):
            axes.step(season, values, where="post", linewidth=size.line, gid=f"curve:{name}", **ink(place))
        return axes

    def draw(body: SubFigure, size: Size) -> None:
        upper, lower = parts(body, 1, 2)
        above = panel(upper, size, "Failures so far", counts, 0)
        above.set_ylim(0, 1.05 * max(map(max, counts.values())) + 1)
        number_axis(above.yaxis, whole=True)
        below = panel(lower, size, "Evidence, on a scale that starts at 1", bets, 2)
        below.set(yscale="log", ylim=(LEAST, most))
        number_axis(below.yaxis, [tick for tick in log_ticks(LEAST, most) if log10(tick).is_integer()])
        below.axhline(alarm, color=INK, linewidth=1.2 * size.thin, gid="rule:alarm")
        look: dict[str, Any] = {"xycoords": below.get_yaxis_transform(), "color": PALE, "va": "baseline"}
        words_at(below, f"told above {alarm:.0f}", (0, alarm), (2, 2), "rule:alarm:text", size.small, **look)
        for axes, curves in ((above, counts), (below, bets)):
            write_beside(axes, size, {f"curve:{name}": name for name in curves})

    said = watch_words(findings)
    told = said[1] if any(watch[f"alarm_{side}_run"] is not None for side in SIDES) else said[0]
    return Picture("watch", told, subtitle, noted(findings, note), draw, lambda size: 2 * plot_height(size) - 0.6)


def moved_since(findings: Plain) -> dict[str, str]:
    """Say what moved since the findings that travel as ``since``; nothing where none do."""
    return moved(findings["since"], findings) if "since" in findings else {}


def moved(old: Plain, new: Plain) -> dict[str, str]:
    """Say which answers moved, and by how much, from the findings of the shorter log, as they were written, to the new.

    There is a sentence for each planned question by its name, and for ``log``, ``median`` and ``change_out``.
    """
    said = {"log": _log(old, new)}
    then, now = old["settings"], new["settings"]
    if changed := [words for name, words in ASKED.items() if name in then and then[name] != now[name]]:
        otherwise = f"Asked otherwise then, the answers are {OTHERWISE}: {say.listed(changed)} differ."
        return said | {"settings": otherwise}
    said |= {name: _question(old, new, name) for name in new["headline"]}
    for name, what, *path in (
        ("median", "The run by which half of all belts had failed:", "life", "overall", "median"),
        ("change_out", "The change that costs least, of all belts:", "change_out", "levels", "all", "best_runs"),
    ):
        was, now = (_found(findings, *path) for findings in (old, new))
        said[name] = _held(what, was, now, say.reached, lambda by: say.counted(round(by), "run"))
    return said


def _log(old: Plain, new: Plain) -> str:
    """Say by how much the log has grown, or that it is not that log grown longer."""
    was, now = old["log"], new["log"]
    if was["sha256"] == now["sha256"]:
        return "The log is the same as in the study before."
    then = say.listed([say.counted(was[name], noun) for name, noun in COUNTS.items()])
    if not _grown(old, new):
        return f"The log is not that of the study before grown longer (then {then}): other runs move answers as well."
    more = [say.counted(now[name] - was[name], noun) for name, noun in COUNTS.items() if now[name] > was[name]]
    return f"Since the study before, of {then}, the log has grown by {say.listed(more) or 'no run'}."


def _grown(old: Plain, new: Plain) -> bool:
    """Tell whether as many belts and failures as then, or more, stand at every age."""
    was, now = (_found(findings, "life", "overall") for findings in (old, new))
    if not was.get("age"):
        return bool(now.get("age"))
    counts = dict(zip(now.get("age", ()), zip(now["at_risk"], now["failed_at"], strict=True), strict=True))
    then = zip(was["age"], was["at_risk"], was["failed_at"], strict=True)
    return all(counts.get(age, (0, 0)) >= (at_risk, 0) and counts[age][1] >= failed for age, at_risk, failed in then)


def _question(old: Plain, new: Plain, name: str) -> str:
    """Say how far the answer to a question moved, and whether it is told now and was not, or the other way about."""
    words, was, now = say.wording(new, name), _found(old, "headline", name), new["headline"][name]
    if "contrast" not in now:
        return f"{words.title}: {now['reason'].rstrip('.')}."
    later, earlier = sides(now["contrast"])
    what = f"{words.title}, belts {words.phrase(later)} against those {words.brief(earlier)}:"
    cuts = [findings["settings"].get("tension_cuts_n") for findings in (old, new)] if name == "tension" else [0, 0]
    if cuts[0] != cuts[1] or any(was.get(key) != now.get(key) for key in ("contrast", "horizon_runs", "basis")):
        then = f"{_difference(was)}, asked otherwise and {OTHERWISE}" if "contrast" in was else "not answered"
        return f"{what} {_difference(now)}; in the study before, {then}."
    told = tuple(_found(findings, "claims", name).get("claimed") for findings in (old, new))
    return _held(what, was, now, _difference, say.decimal) + TURNED.get(told, "")


def _held(what: str, was: Plain, now: Plain, said: Callable[[Plain], str], size: Callable[[float], str]) -> str:
    """Hold an estimate against what it was, and against the limits it had."""
    told = [one.get("estimate") is not None for one in (was, now)]
    each = [said(one) if known else "none yet" for one, known in zip((was, now), told, strict=True)]
    sentence = f"{what} {each[1]}; in the study before, {each[0]}"
    if not all(told):
        return f"{sentence}."
    by, low, high = size(abs(now["estimate"] - was["estimate"])), was.get("lower"), was.get("upper")
    if float(by.split()[0]) == 0:
        return f"{sentence}: it has not moved."
    within = (low is None or low <= now["estimate"]) and (high is None or now["estimate"] <= high)
    return f"{sentence}: moved by {by}, {'within' if within else 'out of'} the limits it had."


def _difference(head: Plain) -> str:
    if head.get("estimate") is None:
        return "cannot be told"
    limits = "limits cannot be told" if head.get("lower") is None else say.spread(head["lower"], head["upper"])
    sign = "fewer" if head["estimate"] < 0 else "more"
    return f"{say.decimal(abs(head['estimate']))} {sign} of the {say.runs(head['horizon_runs'])} ({limits})"


def _found(findings: Plain, *path: str) -> dict[str, Any]:
    """Find a block; empty where an older drivekit did not give it."""
    found: Any = findings
    for name in path:
        found = found.get(name, {})
    return dict(found)
