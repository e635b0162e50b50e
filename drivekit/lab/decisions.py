"""Workbooks 05 and 08: decisions made anew under controls, odds scored on another season, a meeting, a plan."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from drivekit.decide.next_trial import PlannedBelt, ratio_of_gain, trial_plan
from drivekit.decide.spares import split_runs
from drivekit.faults import Unusable, shown, writing
from drivekit.lab.season_study import Study, Table, Words, drawing, refused
from drivekit.log.season import Season, read_season, run_table
from drivekit.show import decision_words
from drivekit.show.controls import Control, Drawing, Panel
from drivekit.show.decisions import trial_picture
from drivekit.show.folder import write_files
from drivekit.show.markup import table
from drivekit.show.sheet import MOST_PLANNED, PLAN_RULES
from drivekit.show.sheet import meeting_card as meeting_card_of
from drivekit.study.decisions import ALL, DecisionInput, change_out_block, described_block, meeting_block, spares_block
from drivekit.study.hazard_fit import HazardInput
from drivekit.study.next_season import next_season, next_trial_block
from drivekit.study.study_input import StudyInput
from drivekit.study.two_seasons import scored_block

__all__ = [
    "belt_controls",
    "change_controls",
    "change_drawing",
    "drawn_plan",
    "meeting_card",
    "meeting_controls",
    "meeting_table",
    "odds_drawing",
    "plan_table",
    "scored_odds",
    "spares_controls",
    "spares_drawing",
    "trial_controls",
    "trial_drawing",
]

N_PER_KN = 1000
SEASONS = 500
"""Simulated at each size under a control, where an answer is wanted at once."""
ALL_BELTS = "all belts"


def change_drawing(study: Study, failure: float, risk: float) -> Drawing:
    """Draw and say when to change where a failure costs so many planned changes and so many may fail before."""
    settings = replace(study.settings, costs=(1.0, failure), risk=risk)
    return drawing(study, "change_out", "change", change_out=change_out_block(study.decided, settings))


def change_controls(study: Study) -> Panel:
    """Lay controls for what a failure costs and how many may fail before belts are changed."""
    planned, failure = study.settings.costs[:2]
    controls = {
        "failure": Control("number", "A failure costs so many planned changes", (1.0, 40.0), failure / planned, 0.5),
        "risk": Control("number", "Share of belts that may fail before", (0.01, 0.5), study.settings.risk, 0.01),
    }
    return Panel(controls, partial(change_drawing, study), drawing(study, "change_out", "change"))


def odds_drawing(study: Study, car: str, age: int, **settings: Any) -> Drawing:
    """Draw and say the odds of a belt that is described by its car, its age and its settings."""
    return drawing(study, "outlook", "outlook", outlook=[described_block(study.decided, car, age, settings)])


def belt_controls(study: Study) -> Panel | Words:
    """Lay controls that describe a belt: its car, its age and its settings; the reason where none has odds."""
    if (why := refused(study.findings)) is not None:
        return why
    recorded = [one for one in study.recorded.values() if one.fitted]
    controls = {
        "car": Control("choice", "Car", tuple(study.cars)),
        "age": Control("whole", "Runs it has made", (0, int(study.asked.table["age"].max())), 3),
    }
    for one in recorded:
        found = study.asked.groups(one)
        if one.number:
            known = study.asked.table[one.column]
            low, middle, high = np.nanquantile(known, [0, 0.5, 1]) / N_PER_KN
            ends = float(np.floor(low)), float(np.ceil(high))
            controls[one.name] = Control("number", "Tension, kN", ends, round(float(middle), 1))
        elif found is not None:
            controls[one.name] = Control("choice", one.title, found[0])

    def redraw(car: str, age: int, tension: float = np.nan, **settings: Any) -> Drawing:
        return odds_drawing(study, car, age, tension=tension * N_PER_KN, **settings)

    return Panel(controls, redraw)


def spares_drawing(study: Study, runs: int, change_after: int) -> Drawing:
    """Draw and say the belts that so many runs need, changed after so many; 0: run as far as belts were seen."""
    best = {"estimate": change_after or None, "reason": "belts are run as far as they were seen"}
    block = spares_block(study.decided, {"levels": {ALL: {"best_runs": best}}}, replace(study.settings, runs=runs))
    return drawing(study, "spares", "spares", spares=block)


def spares_controls(study: Study) -> Panel | Words:
    """Lay controls for the runs ahead and the change age."""
    block = study.findings["spares"]
    if "reason" in block:
        return Words(decision_words.spares_words(study.findings))
    last = study.decided.reach[ALL]
    controls = {
        "runs": Control("whole", "Runs ahead", (1, 2 * block["runs"]), block["runs"]),
        "change_after": Control("whole", "Changed after, runs (0: never)", (0, last), block["policy_runs"] or 0),
    }
    return Panel(controls, partial(spares_drawing, study), drawing(study, "spares", "spares"))


def meeting_table(study: Study, belts: Sequence[str | int], **rounds: Any) -> Table | Words:
    """Set which belt goes on for which round; parameters as in `drivekit.study.decisions.meeting_block`."""
    block = meeting_block(study.decided, [str(belt) for belt in belts], **rounds)
    said = decision_words.meeting_words(block)
    if "reason" in block:
        return Words(said)
    head = ("round", "belt to run", "it makes the round", "if it fails, next")
    return Table(table(head, decision_words.meeting_rows(block), " ".join(said)))


def meeting_card(study: Study, belts: Sequence[str | int], file: str, **rounds: Any) -> Words:
    """Write the same as a card to print, one page, into a PDF file; parameters as in `meeting_table`."""
    block = meeting_block(study.decided, [str(belt) for belt in belts], **rounds)
    return Words(write_meeting(block, study.season, Path(file)))


def write_meeting(block: dict[str, Any], season: Season, file: Path) -> tuple[str, ...]:
    """Write the card of a meeting that was planned by a season, and give the words on it; none where there is no plan.

    Raises
    ------
    Unusable
        If the file is no .pdf, or cannot be written.
    """
    if file.suffix.lower() != ".pdf":
        raise Unusable(f"{shown(str(file), None)} is no place for a card; name a file that ends in .pdf")
    said = decision_words.meeting_words(block)
    if "reason" in block:
        return said
    name = f"{season.name} (invented)" if season.invented else season.name
    with writing(file):
        write_files(file.parent, {file.name: meeting_card_of(block, name)})
    rows = (": ".join(filter(None, row[:3])) for row in decision_words.meeting_rows(block))
    return *said, *rows, f"The card to print is {file}."


def meeting_controls(study: Study) -> Panel:
    """Lay controls for the ages of three belts on hand, the rounds ahead, the change age and whose curve it is."""
    oldest = int(study.asked.table["age"].max())
    starts = dict(zip("abc", (2, 4, 7), strict=True))
    controls = {
        name: Control("whole", f"Runs on belt {place}", (0, oldest), min(start, oldest))
        for place, (name, start) in enumerate(starts.items(), 1)
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
    lacking = Words(("Odds are scored with an earlier season's log: name it in the first cell.",))
    if not earlier or not Path(earlier).exists():
        return lacking
    before = read_season(earlier, study.columns)
    if before.invented != study.season.invented:
        return lacking
    first = StudyInput(run_table(before), study.settings, study.comparisons)
    against = {"log": {"name": before.name}, "odds": scored_block(first, study.asked)}
    return Words(decision_words.scored_words(study.findings | {"against": against}))


def trial_drawing(study: Study, effect: float, power: float, curve: str, gain: float = 0.0) -> Drawing:
    """Draw and say the size of a test that is to see a ratio of failures a run so often, the reference by a curve.

    With a `gain` it is to see so many runs gained out of those that were seen, whatever the ratio.
    """
    asked, level = study.decided, _curves_of(study)[curve]
    if gain and asked.reach[level] is not None:
        hazard = next_season(asked, level).hazard
        ratio = ratio_of_gain(hazard, gain)
        if ratio is None:
            return Drawing(None, (f"No belt gains {gain:.1f} of its first {hazard.size} runs, however few fail.",))
        effect = ratio
    findings = study.findings | {"next_trial": next_trial_block(asked, effect, power, level, SEASONS)}
    return Drawing(trial_picture(findings), decision_words.trial_words(findings))


def trial_controls(study: Study) -> Panel | Words:
    """Lay controls for what is to be seen, how often, and whose curve the reference follows."""
    block = study.findings["next_trial"]
    if "reason" in block:
        return Words(decision_words.trial_words(study.findings))
    most, by_multiple = block["out_of_runs"] / 2, "Failures a run with the other idler, as a multiple"
    controls = {
        "effect": Control("number", by_multiple, (0.2, 0.9), 0.5, 0.05, only=("gain", 0.0)),
        "gain": Control("number", "or mean runs gained (0: by the multiple)", (0.0, most), 0.0, 0.1),
        "power": Control("choice", "Share of tests that are to see it", (0.8, 0.9)),
        "curve": Control("choice", "Belts on the first idler fail like", tuple(_curves_of(study))),
    }
    return Panel(controls, partial(trial_drawing, study), drawing(study, "next_trial", "trial"))


def drawn_plan(asked: StudyInput, runs: int, most: int, *, grease: bool = False) -> tuple[PlannedBelt, ...]:
    """Draw next season's plan from a season's runs, `runs` in all.

    As many belts as the test takes, but no more than one and a half times this season's, in at most so many lines;
    each car gets blocks as its meetings took new belts this season, each meeting whole ones. With grease there are two
    times two arms.
    """
    block = next_trial_block(DecisionInput(HazardInput(asked), runs))
    arms = [("smooth", "toothed"), *([("none", "install")] if grease else [])]
    first = np.unique(asked.belt, return_index=True)[1]
    car, meeting = (asked.table[name][first].astype(str) for name in ("car", "meeting"))
    taken: dict[str, int] = {}
    for (of_car, _), belts in sorted(Counter(zip(car.tolist(), meeting.tolist(), strict=True)).items()):
        taken[of_car] = taken.get(of_car, 0) + -(-belts // 2 ** len(arms))
    wanted = min(block.get("belts") or len(first), -(-3 * len(first) // 2))
    blocks = min(-(-wanted * sum(taken.values()) // len(first)), most // 2 ** len(arms))
    return trial_plan(dict(zip(taken, split_runs(blocks, [*taken.values()]), strict=True)), arms, asked.settings.seed)


def plan_table(study: Study, *, grease: bool = False) -> Table:
    """Set next season's plan in a table: car by car, the idler of one new belt after the other."""
    plan = drawn_plan(study.asked, len(study.season.runs), MOST_PLANNED, grease=grease)
    rows = [(one.belt, one.car, one.line, *one.arm) for one in plan]
    head = ("belt", "car", "line", "idler", *(("grease",) if grease else ()))
    caption = f"Drawn with seed {study.settings.seed}; a belt stays on its idler for life. {PLAN_RULES[1]}"
    return Table(table(head, rows, caption))
