"""What this season says about the next: the size of a test worth making, whether fitters do the same, and even flats.

The runs are those of the run table, as in every other block: a belt whose age is not known has left it.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from drivekit.decide.ages import hazards, mean_over_belts
from drivekit.decide.next_trial import NextSeason, belts_needed, gain_runs, power, schoenfeld_failures, smallest_effect
from drivekit.decide.repeatability import repeatability
from drivekit.decide.tracking import tracking_of
from drivekit.life.cox import fit as cox
from drivekit.life.folds import Estimate, Floats
from drivekit.life.riskset import RiskSets
from drivekit.study.as_json import Block, as_block, parts, plain
from drivekit.study.belt_life import left_unfailed
from drivekit.study.decisions import ALL, DecisionInput
from drivekit.study.failing import ENOUGH
from drivekit.study.hazard_fit import HazardInput, ratio, ratio_beside
from drivekit.study.study_input import StudyInput

__all__ = ["as_planned_block", "next_season", "next_trial_block", "repeatability_block", "tracking_block"]

EFFECT, POWER = 0.5, 0.8
"""What a test is sized for unless a workbook asks for something else: half the failures a run, seen 4 times in 5."""

SEASONS = 2_000
BY = ("fitted_by", "idler_support", "surface")
NEEDED = ("edge_front_c", "edge_rear_c", "idler_flats_front", "idler_flats_rear")
LIFT = ("snout_flats_left", "snout_flats_right")


@as_block
def next_trial_block(
    asked: DecisionInput, effect: float = EFFECT, wanted: float = POWER, level: str = ALL, seasons: int = SEASONS
) -> Block | str:
    """Size next season's test from this season's curve: the belts that show a ratio of hazards so often.

    The reference arm follows the curve of `level`, all belts or those on one idler; `seasons` are simulated at each
    size, and `wanted` is the power.
    """
    if why := asked.unseen(level):
        return why
    season = replace(next_season(asked, level), seasons=seasons)
    drawn = asked.drawn[:, list(asked.curves).index(level)]
    present = int(sum(season.cars))
    needed, curve = belts_needed(season, effect, wanted)
    least = smallest_effect(season, drawn, present, wanted)
    block: Block = {
        "effect": effect,
        "power": wanted,
        "belts": needed,
        "runs": None,
        "smallest_effect": least,
        "schoenfeld_failures": schoenfeld_failures(effect, wanted, season.confidence),
        "seed": season.seed,
        "seasons": seasons,
        "belts_this_season": present,
        "gain_runs": gain_runs(season.hazard, effect),
        "out_of_runs": season.hazard.size,
        "level": level,
        "curve": [parts(each, "belts", "told", "failures", "runs") for each in curve],
    }
    if least.estimate is not None:
        block["smallest_gain_runs"] = gain_runs(season.hazard, least.estimate)
    if needed is None:
        why = "more belts than any season has would not show it"
        return block | {"belts_reason": why, "runs_reason": why}
    at, none = (power(season, needed, ratio) for ratio in (effect, 1.0))
    return block | {"runs": round(at.runs), "told": at.told, "size": none.told}


def next_season(asked: DecisionInput, level: str) -> NextSeason:
    """Describe the season to be simulated: this one's failures and other endings by age, and its belts by car."""
    study, found, last = asked.fit.asked, asked.curves[level], asked.reach[level] or 0
    rows = np.ones(len(study.table), bool) if level == ALL else study.rows(study.comparisons[0])[level]
    outlasted, left = found.at_risk - found.failed_at, left_unfailed(study, rows, found.age)
    share = np.divide(left, outlasted, out=np.zeros(outlasted.size), where=outlasted > 0)
    other = np.zeros(last)
    within = found.age <= last
    other[found.age[within] - 1] = share[within]
    first = np.unique(study.belt, return_index=True)[1]
    belts = np.unique(study.table.coded("car")[1][first], return_counts=True)[1]
    settings, cars = study.settings, belts.tolist()
    return NextSeason(hazards(found, last), other, cars, settings.confidence, settings.seed, executor=asked.executor)


@as_block
def repeatability_block(asked: DecisionInput) -> Block | str:
    """Tell how far tensions differ from fitter to fitter and from run to run, and what a run takes off them."""
    study, table, confidence = asked.fit.asked, asked.fit.asked.table, asked.fit.asked.settings.confidence
    if absent := study.lacks("tension_n", "fitted_by"):
        return absent
    by, tension, car = np.array([name or "" for name in table["fitted_by"]]), table["tension_n"], table.coded("car")[1]
    used = ~np.isnan(tension) & (by != "")
    if not used.any():
        return "no run has both its tension and its fitter written"
    names, fitter = np.unique(by[used], return_inverse=True)
    found = repeatability(tension[used], fitter, car[used], confidence=confidence, generator=asked.generator(2))
    block: Block = {
        "fitters": names.size,
        "runs": used.sum(),
        "between_sd_n": found.between_sd,
        "within_sd_n": found.within_sd,
        "ratio": found.ratio,
        "loss_n": Estimate(reason="no run has its tension after it written"),
        "loss_by": {},
        "by_fitter": {
            name: plain(each) | {"runs": runs}
            for name, each, runs in zip(names.tolist(), found.above, np.bincount(fitter), strict=True)
        },
        "differences_n": {
            f"{names[other]} minus {names[one]}": told for (one, other), told in found.differences.items()
        },
    }
    lost = tension - table["tension_after_n"] if "tension_after_n" in table else np.full(tension.size, np.nan)
    known = ~np.isnan(lost)
    if not known.any():
        return block | {"slack": {"reason": block["loss_n"].reason}}
    rows = {("", ""): np.ones(int(known.sum()), bool)}
    for column in (name for name in BY if name in table):
        values = table[column][known]
        rows |= {(column, level): values == level for level in sorted(set(values) - {None})}
    belt = np.unique(study.belt[known], return_inverse=True)[1]
    means = mean_over_belts(lost[known], belt, rows, confidence=confidence, generator=asked.generator(3))
    block |= {"loss_n": means.pop(("", "")), "slack": _slack(asked.fit, lost)}
    for (column, level), mean in means.items():
        block["loss_by"].setdefault(column, {})[level] = plain(mean) | {"runs": rows[column, level].sum()}
    return block


def _slack(fit: HazardInput, lost_n: Floats) -> Block:
    """Ask whether the tension that a run took tells of the belt's next run, the settings of the fit held alike."""
    if fit.study.reason is not None:
        return {"reason": fit.study.reason}
    before = fit.asked.run_before[fit.study.used]
    slack_kn = np.where(before >= 0, lost_n[before], np.nan) / 1000
    told = ~np.isnan(slack_kn)
    failed = fit.rows["failed"][told].sum()
    block: Block = {"runs": told.sum(), "failed": failed, "exploratory": True}
    if failed < 2 * ENOUGH:
        few = Estimate(reason=f"only {failed} belts failed on the run after one whose loss of tension is written")
        return block | {"hr_per_kn": few}
    return block | {"hr_per_kn": ratio_beside(fit, slack_kn, told, "estimate")}


@as_block
def as_planned_block(study: StudyInput) -> Block | str:
    """Analyse a log whose belts were drawn by lot as it was planned: by what was drawn, cars as strata, Efron ties.

    A belt that was moved is still counted where chance had put it; how many ran as drawn on every run is said.
    """
    table = study.table
    fitted = {one.name: one for one in study.comparisons if one.fitted}
    drawn = {name: table[f"trial_{name}"] for name in fitted if f"trial_{name}" in table}
    drawn = {name: values for name, values in drawn.items() if any(value is not None for value in values)}
    if not drawn:
        return "no belt of this log was drawn for a test"
    used = np.all([[value is not None for value in values] for values in drawn.values()], axis=0)
    kept = np.all([values[used] == table[fitted[name].column][used] for name, values in drawn.items()], axis=0)
    belt, failed, values_of = study.belt[used], study.failed[used], {name: of[used] for name, of in drawn.items()}
    block: Block = {"belts": np.unique(belt).size, "moved": np.unique(belt[~kept]).size, "settings": {}}
    columns = {
        (name, level): values == level
        for name, values in values_of.items()
        for level in fitted[name].levels[1:]
        if (values == level).any() and (values != level).any()
    }
    if not columns or not failed.any():
        return "the belts that were drawn and have run tell nothing yet: one side has none, or none failed"
    car = np.unique(table["car"][used].astype(str), return_inverse=True)[1]
    x = np.column_stack([column.astype(np.float64) for column in columns.values()])
    found = cox(RiskSets.of(table["age"][used], failed, x, car, np.unique(belt, return_inverse=True)[1]))
    for place, ((name, level), column) in enumerate(columns.items()):
        counts = {
            side: {"belts": np.unique(belt[of]).size, "failed": failed[of].sum()}
            for side, of in (("drawn", column), ("others", values_of[name] == fitted[name].levels[0]))
        }
        entry = ratio(found, place, study.settings.confidence, "estimate")
        told_apart = entry["p"] is not None and entry["p"] <= 1 - study.settings.confidence
        block["settings"].setdefault(name, {})[level] = counts | {"hr": entry, "told": told_apart}
    return block


@as_block
def tracking_block(asked: StudyInput) -> Block | str:
    """Fit the edges' temperature difference on idler flats and snout lift, car by car; the reason without a column.

    By car, as `drivekit.decide.tracking.Tracking.block` gives it, with its ``readings``, so that whoever holds the
    findings can draw the lines and ask them again: for each run of the car in order, its number, its belt, net flats
    and difference (both front less rear) and, where the log has it, snout lift; null where blank.
    """
    table = asked.table
    if absent := asked.lacks(*NEEDED):
        return absent
    read = {
        "net_flats": table["idler_flats_front"] - table["idler_flats_rear"],
        "difference_c": table["edge_front_c"] - table["edge_rear_c"],
    }
    if all(name in table for name in LIFT):
        read["lift_flats"] = (table[LIFT[0]] + table[LIFT[1]]) / 2
    read = {name: table[name] for name in ("run", "belt")} | read
    block: Block = {}
    for car in sorted(set(table["car"])):
        readings = {name: values[table["car"] == car] for name, values in read.items()}
        block[car] = tracking_of(readings, confidence=asked.settings.confidence).block() | {"readings": readings}
    return block or "no run of a belt of known age"
