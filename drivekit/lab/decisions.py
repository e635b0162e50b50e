"""Workbooks 05 and 08: decisions made anew under controls, odds scored on another season, a meeting, a plan."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from drivekit.decide.next_trial import PlannedBelt, ratio_of_gain, trial_plan
from drivekit.decide.spares import split_runs
from drivekit.faults import Unusable, shown, writing
from drivekit.folder import write_files
from drivekit.lab.season_study import Study, Table, Words, drawing, refused, said
from drivekit.log.season import read_season
from drivekit.show import decision_words
from drivekit.show.controls import Control, Drawing, Panel
from drivekit.show.decisions import trial_picture
from drivekit.show.sheet import MOST_PLANNED, PLAN_RULES
from drivekit.show.sheet import meeting_card as meeting_card_of
from drivekit.study.decisions import ALL, change_out_block, described_block, meeting_block, spares_block
from drivekit.study.next_season import next_season, next_trial_block
from drivekit.study.two_seasons import scored_block

__all__ = [
    "belt_controls",
    "belts_taken",
    "change_controls",
    "meeting_card",
    "meeting_controls",
    "meeting_table",
    "plan_table",
    "scored_odds",
    "spares_controls",
    "trial_controls",
]

N_PER_KN = 1000
SEASONS = 500
"""Simulated at each size under a control, where an answer is wanted at once."""
ALL_BELTS = "all belts"


def change_controls(study: Study) -> Panel:
    """Lay controls for what a failure costs and how many may fail before belts are changed."""
    planned, failure = study.settings.costs[:2]
    controls = {
        "failure": Control("number", "A failure costs so many planned changes", (1.0, 40.0), failure / planned, 0.5),
        "risk": Control("number", "Share of belts that may fail before", (0.01, 0.5), study.settings.risk, 0.01),
    }

    def redraw(failure: float, risk: float) -> Drawing:
        settings = replace(study.settings, costs=(1.0, failure), risk=risk)
        return drawing(study, "change_out", "change", change_out=change_out_block(study.decided, settings))

    return Panel(controls, redraw, drawing(study, "change_out", "change"))


def belt_controls(study: Study) -> Panel | Words:
    """Lay controls that describe a belt: its car, its age and its settings; the reason where none has odds."""
    if (why := refused(study.findings)) is not None:
        return why
    controls = {
        "car": Control("choice", "Car", tuple(study.cars)),
        "age": Control("whole", "Runs it has made", (0, int(study.asked.table["age"].max())), 3),
    }
    for one in (one for one in study.recorded.values() if one.fitted):
        if one.number:
            low, middle, high = np.nanquantile(study.asked.table[one.column], [0, 0.5, 1]) / N_PER_KN
            ends = float(np.floor(low)), float(np.ceil(high))
            controls[one.name] = Control("number", "Tension, kN", ends, round(float(middle), 1))
        elif (found := study.asked.groups(one)) is not None:
            controls[one.name] = Control("choice", one.title, found[0])

    def redraw(car: str, age: int, tension: float = np.nan, **settings: str) -> Drawing:
        described = described_block(study.decided, car, age, {"tension": tension * N_PER_KN, **settings})
        return drawing(study, "outlook", "outlook", outlook=[described])

    return Panel(controls, redraw)


def spares_controls(study: Study) -> Panel | Words:
    """Lay controls for the runs ahead and the change age; 0: run as far as belts were seen."""
    block = study.findings["spares"]
    if "reason" in block:
        return said(study, "spares")
    last = study.decided.reach[ALL]
    controls = {
        "runs": Control("whole", "Runs ahead", (1, 2 * block["runs"]), block["runs"]),
        "change_after": Control("whole", "Changed after, runs (0: never)", (0, last), block["policy_runs"] or 0),
    }

    def redraw(runs: int, change_after: int) -> Drawing:
        best = {"estimate": change_after or None, "reason": "belts are run as far as they were seen"}
        told = {"levels": {ALL: {"best_runs": best, "not_worse": [False]}}}
        asked = study.decided, told, replace(study.settings, runs=runs)
        return drawing(study, "spares", "spares", spares=spares_block(*asked))

    return Panel(controls, redraw, drawing(study, "spares", "spares"))


def meeting_table(study: Study, belts: Sequence[str | int], **rounds: Any) -> Table | Words:
    """Set which belt goes on for which round; parameters as in `drivekit.study.decisions.meeting_block`."""
    block = meeting_block(study.decided, [str(belt) for belt in belts], **rounds)
    words = decision_words.meeting_words(block)
    if "reason" in block:
        return Words(words)
    head = ("round", "belt to run", "it makes the round", "if it fails, next")
    return Table((head, decision_words.meeting_rows(block), " ".join(words)))


def meeting_card(study: Study, belts: Sequence[str | int], file: str | Path, **rounds: Any) -> Words:
    """Write the same as a card to print, one page, into a PDF file, and say it; only that where there is no plan.

    Parameters are as in `meeting_table`.

    Raises
    ------
    Unusable
        If the file is no .pdf, or cannot be written.
    """
    block, place = meeting_block(study.decided, [str(belt) for belt in belts], **rounds), Path(file)
    if place.suffix.lower() != ".pdf":
        raise Unusable(f"{shown(str(file), None)} is no place for a card; name a file that ends in .pdf")
    words = decision_words.meeting_words(block)
    if "reason" in block:
        return Words(words)
    name = f"{study.season.name} (invented)" if study.season.invented else study.season.name
    with writing(place):
        write_files(place.parent, {place.name: meeting_card_of(block, name)})
    rows = (": ".join(filter(None, row[:3])) for row in decision_words.meeting_rows(block))
    return Words((*words, *rows, f"The card to print is {file}."))


def meeting_controls(study: Study) -> Panel:
    """Lay controls for the ages of three belts on hand, the rounds ahead, the change age and whose curve it is."""
    oldest = int(study.asked.table["age"].max())
    controls = {
        f"age_{place}": Control("whole", f"Runs on belt {place}", (0, oldest), min(start, oldest))
        for place, start in ((1, 2), (2, 4), (3, 7))
    }
    controls |= {
        "qualifying": Control("whole", "Qualifying rounds ahead", (0, 4), 3),
        "eliminations": Control("whole", "Elimination rounds ahead", (1, 4), 3),
        "change_after": Control("whole", "Changed after, runs (0: never)", (0, oldest), 0),
        "level": Control("choice", "Chances are of", tuple(_curves_of(study))),
    }

    def redraw(qualifying: int, eliminations: int, change_after: int, level: str, **ages: int) -> Drawing:
        rounds = {"qualifying": qualifying, "eliminations": eliminations, "level": _curves_of(study)[level]}
        found = meeting_table(study, [*ages.values()], change_after=change_after or None, **rounds)
        return Drawing(None, tuple(repr(found).splitlines()))

    return Panel(controls, redraw)


def _curves_of(study: Study) -> dict[str, str]:
    """Give the curves that a decision may follow, by how they are called: of all belts, or of those on one idler."""
    return {ALL_BELTS if level == ALL else level: level for level in (ALL, *study.asked.idler[0])}


def scored_odds(study: Study, earlier: str) -> Words:
    """Score the odds of an earlier season's hazard study and curves on the runs of this one.

    An earlier log, read by the same map of headings, that is not there, or is invented where this one is not, is not
    used.
    """
    before = read_season(earlier, study.columns) if earlier and Path(earlier).exists() else None
    if before is None or before.invented != study.season.invented:
        return Words(("Odds are scored with an earlier season's log: name it in the first cell.",))
    scored = scored_block(replace(study, season=before).asked, study.asked)
    against = {"log": {"name": before.name}, "odds": scored}
    return Words(decision_words.scored_words(study.findings | {"against": against}))


def trial_controls(study: Study) -> Panel | Words:
    """Lay controls for what is to be seen, a ratio or runs gained, how often, and whose curve the reference follows."""
    block, asked = study.findings["next_trial"], study.decided
    if "reason" in block:
        return Words(decision_words.trial_words(study.findings))
    curves, by_multiple = _curves_of(study), "Failures a run with the other idler, as a multiple"
    controls = {
        "effect": Control("number", by_multiple, (0.2, 0.9), 0.5, 0.05, only=("gain", 0.0)),
        "gain": Control(
            "number", "or mean runs gained (0: by the multiple)", (0.0, block["out_of_runs"] / 2), 0.0, 0.1
        ),
        "power": Control("choice", "Share of tests that are to see it", (0.8, 0.9)),
        "curve": Control("choice", "Belts on the first idler fail like", tuple(curves)),
    }

    def redraw(effect: float, gain: float, power: float, curve: str) -> Drawing:
        level = curves[curve]
        if gain and asked.reach[level] is not None:
            hazard = next_season(asked, level).hazard
            ratio = ratio_of_gain(hazard, gain)
            if ratio is None:
                return Drawing(None, (f"No belt gains {gain:.1f} of its first {hazard.size} runs, however few fail.",))
            effect = ratio
        findings = study.findings | {"next_trial": next_trial_block(asked, effect, power, level, SEASONS)}
        return Drawing(trial_picture(findings), decision_words.trial_words(findings))

    return Panel(controls, redraw, drawing(study, "next_trial", "trial"))


def belts_taken(study: Study) -> int | None:
    """Give how many belts a season's next test takes; None where no number of them would do."""
    taken: int | None = next_trial_block(study.decided).get("belts")
    return taken


def drawn_plan(
    study: Study, takes: int | None, most: int = MOST_PLANNED, *, grease: bool = False
) -> tuple[PlannedBelt, ...]:
    """Draw next season's plan from a season's runs.

    As many belts as the test takes, which `belts_taken` tells, but no more than one and a half times this season's, in
    at most so many lines; each car gets blocks as its meetings took new belts this season, each meeting whole ones.
    With grease there are two times two arms.
    """
    asked, arms = study.asked, [("smooth", "toothed"), *([("none", "install")] if grease else [])]
    first = np.unique(asked.belt, return_index=True)[1]
    meetings = "meeting" if "meeting" in asked.table else "day"
    car, meeting = (asked.table[name][first].astype(str) for name in ("car", meetings))
    taken = Counter[str]()
    for (of_car, _), belts in sorted(Counter(zip(car.tolist(), meeting.tolist(), strict=True)).items()):
        taken[of_car] += -(-belts // 2 ** len(arms))
    wanted = min(takes or len(first), -(-3 * len(first) // 2))
    blocks = min(-(-wanted * sum(taken.values()) // len(first)), most // 2 ** len(arms))
    return trial_plan(dict(zip(taken, split_runs(blocks, [*taken.values()]), strict=True)), arms, asked.settings.seed)


def plan_table(study: Study, *, grease: bool = False) -> Table:
    """Set next season's plan in a table: car by car, the idler of one new belt after the other."""
    takes = belts_taken(study)
    rows = [(one.belt, one.car, one.line, *one.arm) for one in drawn_plan(study, takes, grease=grease)]
    head = ("belt", "car", "line", "idler", *(("grease",) if grease else ()))
    of = f", {len(rows)} belts of the {takes} that the test takes" if takes and takes > len(rows) else ""
    caption = f"Drawn with seed {study.settings.seed}{of}; a belt stays on its idler for life. {PLAN_RULES[1]}"
    return Table((head, rows, caption))
