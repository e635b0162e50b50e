"""Two seasons side by side: what moved, what differed in the set-ups, one answer from both, and the watch.

The earlier season is studied under the later one's settings, horizon and tension cuts. In the pooled fit every car of
every season keeps a hazard of its own; the lives that are put in words are those of the later season's belts, to the
run that its idlers reach. A belt that goes on living from one log into the next is one belt.
"""

from __future__ import annotations

from collections.abc import Mapping
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from drivekit.decide.outlook import scored
from drivekit.decide.watch import LEAST_FAILURES, OF_THE_RATES, OF_THE_SUM, earlier_rates, watch
from drivekit.log.season import RunTable, Season, run_table
from drivekit.study import belt_life
from drivekit.study.as_json import Block, as_block, lone, parts
from drivekit.study.claims import answered, exploratory_block
from drivekit.study.comparisons import Comparison
from drivekit.study.decisions import odds_of
from drivekit.study.hazard_fit import HazardInput, hazard_block
from drivekit.study.study_input import StudyInput

__all__ = ["SEASON", "Seasons", "against_block", "scored_block", "watch_block"]

EARLIER, LATER = "earlier", "later"
SETTINGS = ("idler", "idler_support", "edge_lube", "surface", "car", "fitted_by", "round")
"""Run columns whose words are counted in both seasons."""

SEASON = Comparison(
    name="season",
    column="season",
    title="The season",
    question="Did belts last as long as the season before?",
    said="season",
    noun="the season",
    held="season",
    phrases={EARLIER: "of the earlier season", LATER: "of this season"},
    fitted=True,
)


@dataclass(frozen=True)
class Seasons:
    """A season and an earlier one, asked alike: horizon and tension cuts are the later one's in each.

    The runs of `both` have a column ``season``; `belts` says what became of names that stand in both logs, and `name`
    is that of the earlier log.
    """

    later: StudyInput
    earlier: StudyInput
    both: StudyInput
    belts: Block
    name: str

    @classmethod
    def of(cls, asked: StudyInput, season: Season, earlier: Season) -> Seasons:
        """Put an earlier season beside the one that is asked about."""
        settings, thirds_n = replace(asked.settings, horizon=asked.horizon), asked.tension_cuts
        before, belts = run_table(earlier), _belts(season, earlier)
        continued = set(belts["one"])
        # the earlier season's belts get names of their own, but for those that go on living
        names = [belt if belt in continued else f"{EARLIER}\n{belt}" for belt in before["belt"]]
        renamed = RunTable(dict(before.values) | {"belt": np.array(names, object)})
        together, comparisons = _together({EARLIER: renamed, LATER: asked.table}), (*asked.comparisons, SEASON)
        both = StudyInput(together, settings, comparisons, thirds_n)
        return cls(asked, StudyInput(before, settings, asked.comparisons, thirds_n), both, belts, earlier.name)

    @cached_property
    def pooled(self) -> HazardInput:
        """The fit to both seasons together, each car of each with a hazard of its own."""
        table = self.both.table
        cars = np.char.add(np.char.add(table["season"].astype(str), "\n"), table["car"].astype(str))
        values = dict(table.values) | {"car": cars.astype(object)}
        return HazardInput(replace(self.both, table=RunTable(values), comparisons=self.later.comparisons))


def against_block(seasons: Seasons, claims: Block, executor: Executor | None = None) -> Block:
    """Give what moved between the seasons and the answer of both together; `claims` are the tests by the fit to both.

    ``belts``, ``life`` (the earlier season's curves, and a GROUPS block of the two seasons), ``hazard`` (a term for the
    season beside the others, and whether the idler does otherwise in one), ``setups``, ``pooled``, and ``odds`` (how
    good the earlier season's odds were on this one's runs).
    """
    earlier, idler = seasons.earlier, seasons.later.comparisons[0]
    return {
        "belts": seasons.belts,
        "life": {
            "overall": belt_life.overall_block(earlier),
            idler.name: belt_life.comparison_block(earlier, idler),
            SEASON.name: exploratory_block(seasons.both, SEASON),
        },
        "hazard": _season_term(seasons),
        "setups": _setups(seasons),
        "pooled": _pooled(seasons, claims, executor),
        "odds": scored_block(earlier, seasons.later),
    }


@as_block
def scored_block(first: StudyInput, now: StudyInput) -> Block | str:
    """Score the odds of an earlier season's hazard study, one run ahead, on the runs that a later one then made.

    Both seasons are asked alike.
    """
    if not len(first.table) or not len(now.table):
        return "one of the seasons has no run of a belt of known age"
    cars = sorted(set(first.table["car"]))
    fit = HazardInput(first, by_car=set(now.table["car"]) <= set(cars))
    later = HazardInput(now, by_car=fit.by_car)
    used, x = later.study.used, later.rows["x"]
    if fit.study.names != later.study.names:
        return "the earlier season's hazard study has no odds for the settings of this one"
    home = np.array([cars.index(car) for car in now.table["car"][used]]) if fit.by_car else np.zeros(len(x), np.int64)
    generator, sure = np.random.default_rng(now.settings.seed), now.settings.confidence
    odds = odds_of(fit, now.table["age"][used] - 1, home, x, generator, ahead=(1,))
    if isinstance(odds, str):
        return f"of the earlier season {odds}"
    survive = odds.survive[:, 0]
    known = ~np.isnan(survive)
    belts, belt = np.unique(now.belt[used][known], return_inverse=True)
    if belts.size < 3:
        return "fewer than 3 belts of this season made a run at an age that the earlier one knew on that car"
    failed, rate = now.failed[used][known], float(first.failed.mean())
    found = scored(1 - survive[known], failed, belt, rate, confidence=sure, generator=generator)
    thirds = [dict(zip(("runs", "foretold", "failed"), third, strict=True)) for third in found.thirds]
    block: Block = {"runs": failed.size, "failed": failed.sum(), **parts(found, "brier", "base_brier")}
    return block | {"made": len(now.table), "gain": found.gain, "thirds": thirds}


@as_block
def watch_block(seasons: Seasons) -> Block | str:
    """Hold this season's runs, in the order made, against what the earlier one leads to expect."""
    earlier, later = seasons.earlier, seasons.later
    if not len(earlier.table) or not len(later.table):
        return belt_life.NO_RUNS
    rates = earlier_rates(earlier.table["age"], earlier.failed)
    if isinstance(rates, str):
        return rates
    found = watch(rates, later.table["age"], later.failed, confidence=later.settings.confidence)
    runs, error = later.table["run"], 1 - later.settings.confidence
    block: Block = {
        "reference_log": seasons.name,
        "expected": found.expected[-1],
        "observed": found.observed[-1],
        "run": runs,
        "expected_by_run": found.expected,
        "observed_by_run": found.observed,
        **parts(found, "worse", "better", "alarm"),
        "runs_left_out": (~found.counted).sum(),
        "error": {"rates": error * OF_THE_RATES, "sum_each_side": error * OF_THE_SUM, "bet_each_side": 1 / found.alarm},
        "groups": parts(rates, "last", "runs", "failed"),
        "least_failures": LEAST_FAILURES,
    }
    for side in ("worse", "better"):
        first = next(iter(runs[getattr(found, side) >= found.alarm]), None)
        block |= lone(f"alarm_{side}_run", first, "the evidence never came so far")
    return block


def _belts(season: Season, earlier: Season) -> Block:
    """Find the belts that go on living: the same name, alive at the end, and the runs before that fit."""
    had, brings = _runs_before(earlier), _runs_before(season)
    made = earlier.runs["belt"].value_counts()
    last = earlier.runs.groupby("belt", sort=False)["fate"].last()
    one, apart = [], []
    for belt in (belt for belt in brings if belt in had):
        ran, before = had[belt] + int(made.get(belt, 0)), brings[belt]
        if last.get(belt) in ("retired", "broke"):
            why = "it ended in the earlier season"
        elif np.isnan(ran) or np.isnan(before):
            why = "its runs before one of the logs are not known"
        elif before != ran:
            why = f"it had {ran:g} runs at the end of the earlier log and brings {before:g}"
        else:
            one.append(belt)
            continue
        apart.append({"belt": belt, "why": why})
    return {"one": one, "apart": apart}


def _runs_before(season: Season) -> dict[str, float]:
    belts = season.belts
    before = belts["runs_before"] if "runs_before" in belts else np.zeros(len(belts))
    return dict(zip(belts["belt"], map(float, before), strict=True))


def _together(tables: Mapping[str, RunTable]) -> RunTable:
    """Put run tables after one another; a column that one lacks is blank in its runs."""
    names = dict.fromkeys(name for table in tables.values() for name in table.columns)
    blank = {"f": np.nan, "O": None, "M": np.datetime64("NaT")}
    values: dict[str, NDArray[Any]] = {}
    for name in names:
        kind = next(table[name].dtype for table in tables.values() if name in table)
        values[name] = np.concatenate([
            table[name] if name in table else np.full(len(table), blank[kind.kind], kind) for table in tables.values()
        ])  # fmt: skip
    season = [np.full(len(table), name, object) for name, table in tables.items()]
    return RunTable(values | {"season": np.concatenate(season)})


def _season_term(seasons: Seasons) -> Block:
    """Fit the season as one more setting, on the cars that ran in both."""
    found = hazard_block(HazardInput(seasons.both))
    if "reason" in found:
        return found
    term = found["terms"][f"{SEASON.name}[{LATER}]"]
    together = found["interactions"][f"{seasons.later.comparisons[0].name} x {SEASON.name}"]
    return {"season_term": term, "interaction": together, "rows": found["rows"], "failed": found["failed"]}


@as_block
def _setups(seasons: Seasons) -> Block:
    """Count the runs of each season by their settings, and say where its tensions lay."""
    tables = {EARLIER: seasons.earlier.table, LATER: seasons.later.table}
    block: Block = {}
    for column in SETTINGS:
        words = {name: table[column].tolist() for name, table in tables.items() if column in table}
        met = sorted(set().union(*words.values()) - {None})
        block[column] = {name: {word: words[name].count(word) for word in met if name in words} for name in tables}
    block["tension_n"] = {}
    for name, table in tables.items():
        known = table["tension_n"][~np.isnan(table["tension_n"])] if "tension_n" in table else np.empty(0)
        tenths = np.quantile(known, [0.1, 0.5, 0.9]) if known.size else [None] * 3
        block["tension_n"][name] = {"runs": known.size} | dict(zip(("p10", "median", "p90"), tenths, strict=True))
    return block


@as_block
def _pooled(seasons: Seasons, claims: Block, executor: Executor | None) -> Block | str:
    """Answer each question by the fit to both seasons, for the later season's belts."""
    overlap: Block = {}
    for name, one in seasons.later.planned.items():
        # within a season: from one to the other the strata tell them apart
        falls = [belt_life.overlap_block(season, one) for season in (seasons.earlier, seasons.later)]
        parted = {part: [fall.get(part, {}).get("together") for fall in falls] for part in ("time", "car")}
        overlap[name] = {part: {"together": any(each)} for part, each in parted.items()}
    over = seasons.both.table["season"] == LATER
    found = answered(seasons.pooled, executor, claims=claims, overlap=overlap, over=over)
    hazard = found["hazard"]
    if "reason" in hazard:
        return str(hazard["reason"])
    told = {name: hazard[name] for name in ("rows", "rows_lost", "failed", "loglik", "terms", "leading")}
    return told | {name: found[name] for name in ("headline", "claims", "tension_curve")}
