"""From the curves and the hazard fit to decisions: when to change, the odds of each belt, and how many to have.

What `drivekit.decide` is asked is put together here, once for all of them: the curve of all belts and of each idler,
how far each reaches, and the seasons drawn anew, the same for every answer.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from drivekit.decide.ages import hazards, reach, redrawn, shares
from drivekit.decide.change_out import best_by_ratio, change_out, mean_failure, runs_at_risk
from drivekit.decide.meeting import meeting_plan
from drivekit.decide.outlook import AHEAD, LOOKS, Odds, off_looks, outlook
from drivekit.decide.spares import Spares, spares, split_runs
from drivekit.faults import Unusable, nearest
from drivekit.life.beta_product import beta_product
from drivekit.life.cox import standing
from drivekit.life.curve import Curve
from drivekit.life.folds import ENOUGH_AT_RISK, Estimate, Floats, Ints, percentiles
from drivekit.life.separation import CONSTANT, MOVES
from drivekit.study.as_json import Block, as_block, lone, parts, plain
from drivekit.study.belt_life import NO_RUNS
from drivekit.study.hazard_fit import HazardInput
from drivekit.study.study_input import Settings

__all__ = [
    "ALL",
    "FEW_AT_RISK",
    "DecisionInput",
    "change_out_block",
    "described_block",
    "meeting_block",
    "odds_of",
    "outlook_block",
    "spares_block",
]

ALL = "all"
RUNNING = ("kept", "trimmed")
"""Fates of a belt that goes on."""

# A failure costs so many times a planned change: what the best change age is drawn over.
COST_RATIOS = np.array([1.5, 2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 30, 40])
# Above this rounding comes near what is said; up to it as many draws are mixed as keep the count of belts quick.
MOST_SPARE_RUNS, SPARE_CELLS, MOST_DRAWS, FEWEST_DRAWS = 1_000_000, 100_000, 199, 19
# Numbers of belts whose chance to be too few is nearer than this to 0 or 1 are left out.
NEAR_CERTAIN = 1e-4
FEW_AT_RISK = f"at no age were {ENOUGH_AT_RISK} belts at risk"
FIRST_ONLY = f"hardly {ENOUGH_AT_RISK} belts made more than their first run: look at the drive, or at the log"
UNTOLD = "a setting of its last run was left blank or never met on this car, or no belt was seen there at that age"


@dataclass(frozen=True)
class DecisionInput:
    """What every decision stands on: what is asked, with its hazard fit, and the runs of the whole log.

    The executor works out what is drawn at random.
    """

    fit: HazardInput
    runs: int
    executor: Executor | None = None

    @cached_property
    def curves(self) -> dict[str, Curve]:
        """The curve of all belts, and of each idler."""
        return {ALL: self.fit.asked.curve()} | self.fit.asked.curves(self.fit.asked.comparisons[0])

    @cached_property
    def reach(self) -> dict[str, int | None]:
        """The oldest age with at least 5 at risk of each curve."""
        return {level: reach(found) for level, found in self.curves.items()}

    @cached_property
    def drawn(self) -> Floats:
        """Hazards of seasons drawn anew, shape (n_draws, n_curves, oldest age), in the order of the curves."""
        asked, (levels, code) = self.fit.asked, self.fit.asked.idler
        of = asked.table["age"], asked.failed, asked.belt, code, len(levels)
        return redrawn(*of, generator=self.generator(0), executor=self.executor)

    def unseen(self, level: str) -> str:
        """Say why a curve tells nothing of a new belt; empty where it does."""
        if self.reach[level] is None:
            return FEW_AT_RISK
        start = self.curves[level].thin_before
        return f"too few belts were seen before run {start}" if start else ""

    def survival(self, level: str) -> Floats:
        """Give a curve after 0, 1, ... runs as far as it reaches."""
        found = self.curves[level]
        return shares(found, found.survival, self.reach[level] or 0)

    def generator(self, purpose: int) -> np.random.Generator:
        """Make the generator of one purpose from the study's seed."""
        return np.random.default_rng((self.fit.asked.settings.seed, purpose))

    @cached_property
    def last_runs(self) -> dict[str, int]:
        """The row of each belt's last run, of the belts that are still running, in the order first run."""
        table = self.fit.asked.table
        last = np.zeros(self.fit.asked.belt.max(initial=-1) + 1, np.int64)
        last[self.fit.asked.belt] = np.arange(len(table))  # of a belt's rows the last is the one that stays
        running = last[np.isin(table["fate"][last].astype(str), RUNNING)]
        return dict(zip(table["belt"][running], running.tolist(), strict=True))

    @cached_property
    def off(self) -> dict[str, dict[str, str]]:
        """The looks that take a belt off, of each belt still running; a look left blank is the one before."""
        table = self.fit.asked.table
        running = np.isin(self.fit.asked.belt, self.fit.asked.belt[list(self.last_runs.values())])
        looks: dict[str, dict[str, str]] = {belt: {} for belt in self.last_runs}
        for column in {look["column"] for look in LOOKS if "off" in look} & set(table.values):
            rows = running & (table[column] != np.array(None))
            for belt, look in zip(table["belt"][rows], table[column][rows], strict=True):
                looks[belt][column] = look
        return {belt: found for belt, seen in looks.items() if (found := off_looks(seen))}


@as_block
def change_out_block(asked: DecisionInput, settings: Settings | None = None) -> Block:
    """Give what each change age costs a run, for all belts and for each idler, by the study's settings or by others."""
    settings, table = settings or asked.fit.asked.settings, asked.fit.asked.table
    planned, failure, *more = settings.costs
    block: Block = {"cost_planned": planned, "cost_failure": failure, "risk": settings.risk, "levels": {}}
    if more:
        rounds = table["round"][table["round"] != np.array(None)] if "round" in table else np.array([])
        share = float((rounds == "elimination").mean()) if rounds.size else 0.0
        block |= {"cost_elimination": more[0], "elimination_share": share}
        if not rounds.size:
            block["elimination_share_reason"] = "no run has its round written, so every failure costs as in a test"
    costs = {"cost_planned": planned, "cost_failure": mean_failure(block), "confidence": settings.confidence}
    for place, (level, curve) in enumerate(asked.curves.items()):
        last, why = asked.reach[level], asked.unseen(level)
        if last is None:
            block["levels"][level] = {"reason": why}
            continue
        why = why or FIRST_ONLY * (last == 1)
        survival = asked.survival(level)
        found = change_out(survival, asked.drawn[:, place], **costs)
        curves = curve.survival, curve.lower, curve.upper, *beta_product(curve, settings.confidence)
        most, *ends = (runs_at_risk(shares(curve, each, last), settings.risk) for each in curves)
        beyond = "what belts do beyond is not seen" if ends[3] == last else None
        block["levels"][level] = {
            "runs": np.arange(1, survival.size),
            "cost_per_run": found.cost_per_run,
            "best_runs": found.best,
            **parts(found, "not_worse", "within_5_percent"),
            "runs_at_risk": Estimate(most, ends[0], ends[1]),
            # limits that hold with few belts, or no failure
            "runs_at_risk_by_beta": Estimate(most, ends[2], None if beyond else ends[3], reason=beyond),
            "by_cost_ratio": {"ratio": COST_RATIOS, "best_runs": best_by_ratio(survival, COST_RATIOS)},
            **({"reason": why} if why else {}),
        }
    return block


@as_block
def outlook_block(asked: DecisionInput, of: Collection[str] | None = None) -> list[Block]:
    """Give the odds of each running belt, or of those named, the worst first; a belt that looks off has none."""
    table, fit = asked.fit.asked.table, asked.fit
    running = {belt: row for belt, row in asked.last_runs.items() if of is None or belt in of}
    belts = [belt for belt in running if belt not in asked.off]
    rows = np.array([running[belt] for belt in belts], np.int64)
    x = np.full((len(table), len(fit.study.names)), np.nan)
    x[fit.study.used] = fit.rows["x"]
    odds = odds_of(fit, table["age"][rows], fit.car[rows], x[rows], asked.generator(1))
    found = []
    for belt, row in running.items():
        block: Block = {name: table[name][row] if name in table else None for name in ("car", "idler", "edge_lube")}
        block |= {"belt": belt, "age": int(table["age"][row]), "confidence": fit.asked.settings.confidence, "next": []}
        found.append(block)
        if belt in asked.off:
            block["off"] = asked.off[belt]
        else:
            block["next"] = _ahead(asked, block, odds, belts.index(belt))
    # a belt that looks off has nothing next, and so comes first; those without odds come last
    return sorted(
        found, key=lambda block: [2.0 if each["survive"] is None else each["survive"] for each in block["next"]]
    )


@as_block
def described_block(asked: DecisionInput, car: str, age: int, settings: Mapping[str, str | float]) -> Block:
    """Give the odds of a belt that a person describes: on a car of the log, with so many runs made.

    `settings` go by the names of the comparisons in the fit: levels, and numbers in the unit of their columns.
    """
    fit, table = asked.fit, asked.fit.asked.table
    value: dict[str, float] = {}
    for one in fit.comparisons:
        chosen = settings.get(one.name)
        for term, level in one.terms.items():
            value[term] = float(chosen == level) if level else float(chosen or np.nan) / one.unit
    x = np.array([[value[name] for name in fit.study.names]])
    home = fit.car[np.flatnonzero(table["car"] == car)[:1]]
    block: Block = {"belt": "this belt", "car": car, "age": age, "idler": settings["idler"]}
    block |= {"edge_lube": settings.get("edge_lube"), "confidence": fit.asked.settings.confidence}
    return block | {"next": _ahead(asked, block, odds_of(fit, np.array([age]), home, x, asked.generator(1)), 0)}


@as_block
def meeting_block(
    asked: DecisionInput,
    belts: Sequence[str],
    qualifying: int = 3,
    eliminations: int = 3,
    change_after: int | None = None,
    level: str = ALL,
) -> Block | str:
    """Set which belt goes on for which round of a meeting.

    All go on one car as it is set up for the meeting, so that belts differ by their age and look alone, and one curve
    serves for all: of all belts, or of those on the idler `level`. Each of `belts`, first the one on the engine, is
    the name of a belt of the log that is still running, or the runs that another one has made. A belt is changed after
    `change_after` runs, unless given as far as belts were seen. A lost elimination ends the meeting. ``all_rounds`` is
    the chance that none is lost to a belt, the plan held, with limits by drawing belts.

    Raises
    ------
    Unusable
        If a belt or the idler is not the log's, or there are more belts or rounds than can be worked out exactly.
    """
    if not len(asked.fit.asked.table):
        return NO_RUNS
    if level not in asked.curves:
        raise Unusable(f'"{level}" is no idler of this log; {nearest(level, list(asked.curves))}')
    if twice := next((belt for belt in belts if belt in asked.last_runs and belts.count(belt) > 1), None):
        raise Unusable(f'"{twice}" is named twice; a belt goes on once, so name each once')
    last, table = asked.reach[level], asked.fit.asked.table
    if last is None:
        return FEW_AT_RISK
    first = asked.curves[level].thin_before or 1
    hand: list[Block] = []
    for place, belt in enumerate(belts, 1):
        if belt in asked.last_runs:
            age, off = int(table["age"][asked.last_runs[belt]]), asked.off.get(belt, {})
            hand.append({"belt": belt, "age": age, "off": off})
        elif belt in table["belt"]:
            raise Unusable(f'"{belt}" is a belt of the log that runs no more')
        elif belt.isdecimal():
            named = f"belt {place}" if f"belt {place}" not in table["belt"] else f"unnamed belt {place}"
            hand.append({"belt": named, "age": int(belt), "off": {}})
        else:
            known = f"a belt of the log that is still running ({', '.join(asked.last_runs)})"
            raise Unusable(f'"{belt}" is neither {known} nor the runs that another one has made')
    going = [belt for belt in hand if not belt["off"]]
    hazard = hazards(asked.curves[level], last)[:change_after]
    ahead = [hazard[belt["age"] :] if belt["age"] + 1 >= first else hazard[:0] for belt in going]
    rounds = [(f"qualifying {n}", False) for n in range(1, qualifying + 1)]
    rounds += [(f"elimination {n}", True) for n in range(1, eliminations + 1)]
    if not any(each.size for each in ahead):
        return f"none of these belts may run: how belts fail is known from run {first} to run {last}"
    mounted = 0 if going and going[0] is hand[0] else None
    try:
        plan = meeting_plan(ahead, [ends for _, ends in rounds], mounted=mounted)
    except ValueError as error:
        raise Unusable(str(error)) from None
    made = {belt["belt"]: belt["age"] for belt in going}
    found: list[Block] = []
    for (each, ends), place_of, share, instead in zip(rounds, plan.belts, plan.survive, plan.instead, strict=True):
        name, after = (None if place is None else going[place]["belt"] for place in (place_of, instead))
        if name is not None:
            made[name] += 1
        told = {"round": each, "ends": ends, "belt": name, "run": made.get(name), "survive": share, "instead": after}
        found.append(told)
    block: Block = {"level": level, "change_after": change_after, "used_to_run": hazard.size, "from_run": first}
    block |= {"belts": hand, "rounds": found, "lost": plan.lost}
    return block | {"all_rounds": _whole(asked, level, [each["run"] for each in found], plan.all_rounds)}


def _whole(asked: DecisionInput, level: str, runs: Sequence[int | None], survive: float) -> Block:
    """Give the chance that belts make all of these runs, with limits by drawing belts.

    Below it one failure more is let come where the fewest were at risk, for nothing seen is no promise.
    """
    if None in runs:
        return {"survive": 0.0, "lower": 0.0, "upper": 0.0}
    curve, places = asked.curves[level], np.array(runs, np.int64) - 1
    drawn = np.prod(1 - asked.drawn[:, [*asked.curves].index(level), places], axis=1)
    fewest = int(curve.at_risk[np.isin(curve.age, places + 1)].min())
    one_more = np.exp(-asked.generator(3).standard_exponential(drawn.size) / fewest)
    sure = asked.fit.asked.settings.confidence
    return {"survive": survive, "lower": percentiles(drawn * one_more, sure)[0], "upper": percentiles(drawn, sure)[1]}


def _ahead(asked: DecisionInput, belt: Block, odds: Odds | str, place: int) -> list[Block]:
    """Give a belt's chances for each number of further runs, or why one cannot be had."""
    age, survival, names = belt["age"], asked.survival(belt["idler"]), ("survive", "lower", "upper")

    def after(column: int, runs: int) -> Block:
        told: Block = dict.fromkeys((*names, "plain"))
        if age + runs >= survival.size:
            return told | {"reason": f"fewer than {ENOUGH_AT_RISK} belts on that idler were seen at run {age + runs}"}
        told["plain"] = float(survival[age + runs] / survival[age]) if survival[age] else None
        if isinstance(odds, str):
            return told | {"reason": odds}
        told |= plain({name: getattr(odds, name)[place, column] for name in names})
        if told["survive"] is None:
            blank = np.isnan(odds.survive[place]).all()
            told["reason"] = UNTOLD if blank else f"no belt was seen on this car at some run up to {age + runs}"
        elif told["plain"] is None:
            told["reason"] = f"no belt on that idler outlasted run {age}"
        return told

    return [{"runs": runs} | after(column, runs) for column, runs in enumerate(AHEAD)]


def odds_of(
    fit: HazardInput, age: Ints, car: Ints, x: Floats, generator: np.random.Generator, ahead: Sequence[int] = AHEAD
) -> Odds | str:
    """Ask a hazard fit for the odds of some belts, nan where one has a blank; the reason where it has no answer.

    A setting that was the same for all beside each failure says nothing of a belt that has it as all on its car had.
    Of each belt are given the runs it made, the code of its car as the fit's rows have it, and its settings in all
    columns of the fit, `x` of shape (n_belts, n_terms); `ahead` are the runs to be made. The generator draws belts, for
    the limits. Where Firth's fit leads, or a level without failures has no other ratio, the ratios are Firth's.
    """
    fitted, firth = fit.study.fitted, fit.study.sensitivity.get("firth", "")
    if fitted is None:
        return str(fit.study.reason)
    coef, information = fitted.at, fitted.information
    told, reasons = fitted.free, fitted.reasons
    if not isinstance(firth, str) and (fit.study.firth_leads or MOVES in reasons):
        coef = np.array([firth[name].coef or 0.0 for name in fit.study.names])
        told = np.array([firth[name].coef is not None for name in fit.study.names])
        reasons = tuple(None if known else why for known, why in zip(told, reasons, strict=True))
        information = standing(fitted.sets, coef).information
    if lacking := next((reason for reason in reasons if reason not in (None, CONSTANT)), None):
        return f"the hazard fit has no estimate for one of its settings: {lacking}"
    x = x.copy()
    for home in np.unique(car):
        here = fit.rows["x"][fit.rows["stratum"] == home]
        met = [here.min(axis=0), here.max(axis=0)] if len(here) else []
        strange = [(x != end)[:, ~told].any(axis=1) for end in met]
        x[(car == home) & np.any(strange, axis=0)] = np.nan
    rows = {**fit.rows, "x": fit.rows["x"][:, told]}
    covariance, sure = np.linalg.inv(information[np.ix_(told, told)]), fit.asked.settings.confidence
    known = coef[told], np.asarray(covariance), age, car, x[:, told]
    return outlook(rows, *known, ahead=ahead, confidence=sure, generator=generator)


@as_block
def spares_block(asked: DecisionInput, change: Block, settings: Settings | None = None) -> Block | str:
    """Count the belts needed for so many more runs, under the best change age of all belts if one is told.

    `change` is what each change age costs; `settings` may ask for other runs than the study's.
    """
    table = asked.fit.asked.table
    runs, last = (settings or asked.fit.asked.settings).runs or asked.runs, asked.reach[ALL] or 0
    if why := asked.unseen(ALL):
        return why
    if runs > MOST_SPARE_RUNS:
        return f"belts are counted exactly for up to {MOST_SPARE_RUNS:,} runs; ask for fewer with --runs"
    names, home = table.coded("car")
    last_of_car = [int(np.flatnonzero(home == place)[-1]) for place in range(len(names))]
    going = {row: belt for belt, row in asked.last_runs.items() if belt not in asked.off}
    cars: dict[str, Block] = {}
    for car, row, of_car in zip(names, last_of_car, split_runs(runs, np.bincount(home).tolist()), strict=True):
        belt = going.get(row)
        cars[car] = {"runs": of_car, "belt": belt, "age": None if belt is None else int(table["age"][row])}
    best, alike = (change["levels"][ALL][name] for name in ("best_runs", "not_worse"))
    policy = None if alike[-1] else best["estimate"]
    ahead = [(car["runs"], car["age"]) for car in cars.values()]
    draws = int(np.clip(SPARE_CELLS // runs, FEWEST_DRAWS, MOST_DRAWS))
    found = spares(asked.drawn[:draws, 0, :last], ahead, policy)
    certain = spares(hazards(asked.curves[ALL], last)[None], ahead, policy)

    def counted(belts: Spares) -> Block:
        return {"mean": belts.mean, "quantiles": {str(share): belts.quantile(share) for share in (0.5, 0.9, 0.95)}}

    short = found.chance_short()
    telling = (short <= 1 - NEAR_CERTAIN) & (np.insert(short[:-1], 0, 1.0) > NEAR_CERTAIN)
    return {
        "runs": runs,
        **lone("policy_runs", policy, best.get("reason") or f"running on to run {last} is not told to cost more"),
        **counted(found),
        "chance_short": {str(count): short[count] for count in np.flatnonzero(telling)},
        "curve_as_certain": counted(certain),
        "used_to_run": min(policy or last, last),
        "cars": cars,
    }
