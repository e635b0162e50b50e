"""How long the same belts would last, once all at each level of a setting, their other settings held alike.

`standardised_block` leaves each car a hazard of its own, to the last run at which every car still has 5 belts.
`said_lives` gives the answer that is put in words: to the last run at which every idler still has them. Where a car
does not reach nearly so far, or where the plain fit gives no limits, as it often does with 40 belts, the penalised fit
with the cars shrunk toward each other takes its place, so that no rare car shortens what is said of all. It also puts
belts at each level of tension, at the middle tension of that level's runs, through a parabola. Of two seasons together
it follows the belts of one, whose cars alone need to reach so far.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from concurrent.futures import Executor
from typing import Any

import numpy as np

from drivekit.life.folds import Bools, Floats, Ints, common_horizon
from drivekit.life.standardised import Standardised, standardised
from drivekit.study.as_json import Block, as_block, parts
from drivekit.study.comparisons import Comparison, pairs
from drivekit.study.hazard_fit import HazardInput

__all__ = ["said_lives", "standardised_block"]

SHRUNK = "cars shrunk toward each other"
SHRUNK_DRAWS = 499
"""Fewer than of the plain fit, whose steps cost less."""

NEARLY = 0.9
"""Of the way to the horizon: a car with 5 belts so far keeps its own hazard, for the last run itself enters no mean."""

UNREACHED = "at no age does every idler in the log still have 5 runs"

# The levels of a setting, the columns that say it, and what these hold at each level.
Put = tuple[list[str], Ints, Floats]


@as_block
def standardised_block(fit: HazardInput, executor: Executor | None = None) -> Block | str:
    """Give, for each setting that is standardised, the life of the same belts once all at each level, or a reason."""
    study, block, puts = fit.study, {}, {}
    if study.reason is not None:
        return study.reason
    names = [study.names[place] for place in fit.kept]
    for one in (one for one in fit.comparisons if one.standardised):
        told = [term for term in one.terms if study.terms[term].coef is not None]
        block[one.name] = {"reason": study.terms[next(iter(one.terms))].reason}
        if told:
            puts[one.name] = _put(one, told, names)
    return block | _standardised(fit, fit.rows["x"][:, fit.kept], puts, executor, horizon=fit.asked.settings.horizon)


@as_block
def said_lives(fit: HazardInput, executor: Executor | None = None, over: Bools | None = None) -> Block | str:
    """Give the lives of each planned setting of the fit that are put in words, or a reason; shrunken are ``shrunk``.

    `over`, shape (n_runs,) of the run table, marks the season whose belts are followed, with cars of its own; by
    default all are.
    """
    study, planned = fit.study, [one for one in fit.comparisons if one.planned]
    if study.reason is not None or fit.asked.horizon is None:
        return study.reason or UNREACHED
    names, x, puts = [study.names[place] for place in fit.kept], fit.rows["x"][:, fit.kept], {}
    season = np.ones(len(x), bool) if over is None else over[study.used]
    found = {one.name: {"reason": study.terms[next(iter(one.terms))].reason} for one in planned}
    for one in planned:
        terms = [term for term in one.terms if term in names]
        if one.number and terms:
            along, put = _along(fit, one, x, names.index(one.number))
            found |= _said(fit, along, {one.name: put}, season, executor)
        elif one.standardised and terms:
            puts[one.name] = _put(one, terms, names)
    return found | _said(fit, x, puts, season, executor)


def _said(fit: HazardInput, x: Floats, puts: Mapping[str, Put], season: Bools, executor: Executor | None) -> Block:
    """Standardise plainly where every car of the season has enough belts nearly to the horizon, else shrunken.

    Shrunken, too, where that has no limits. Another season has a level of its own, about which its cars are shrunk.
    """
    horizon, rows = fit.asked.horizon, fit.rows
    assert horizon is not None  # said_lives has seen to it
    cars = np.unique(rows["stratum"], return_inverse=True)[1]
    followed, car = np.unique(cars[season], return_inverse=True)
    reach = common_horizon(rows["age"][season], car, followed.size)
    thin = reach is None or reach < NEARLY * horizon
    how = {"horizon": horizon, "over": season}
    plain = {} if thin else _standardised(fit, x, puts, executor, **how)
    left = {name: put for name, put in puts.items() if not _limited(plain.get(name, {}))}
    apart = np.column_stack([x, season]) if season.any() and not season.all() else x
    return plain | _shrunk(fit, apart, left, executor, cars=cars, **how)


def _put(comparison: Comparison, terms: Sequence[str], names: Sequence[str]) -> Put:
    """Put a setting to its reference and to the level of each of these terms."""
    levels = [comparison.levels[0], *(comparison.terms[term] for term in terms)]
    places = np.array([names.index(term) for term in terms])
    return levels, places, np.vstack([np.zeros(places.size), np.eye(places.size)])


def _along(fit: HazardInput, comparison: Comparison, x: Floats, place: int) -> tuple[Floats, Put]:
    """Bend a number by one more column, and put it to the middle value of each of its levels."""
    value, middle = x[:, place], np.median(x[:, place])
    at = {level: np.median(value[rows]) for level, rows in fit.met(comparison).items()}
    values = np.array(list(at.values()))
    put = list(at), np.array([place, x.shape[1]]), np.column_stack([values, (values - middle) ** 2])
    return np.column_stack([x, (value - middle) ** 2]), put


def _standardised(fit: HazardInput, x: Floats, puts: Mapping[str, Put], executor: Executor | None, **how: Any) -> Block:
    if not puts:
        return {}
    settings, generator = fit.asked.settings, np.random.default_rng(fit.asked.settings.seed)
    age, failed, stratum, belt = (fit.rows[name] for name in ("age", "failed", "stratum", "belt"))
    given = age, failed, x, stratum, belt, [(columns, values) for _, columns, values in puts.values()]
    found = standardised(*given, confidence=settings.confidence, generator=generator, executor=executor, **how)
    if isinstance(found, str):
        return {name: {"reason": found} for name in puts}
    return {name: _lives(put[0], one) for (name, put), one in zip(puts.items(), found, strict=True)}


def _shrunk(fit: HazardInput, x: Floats, puts: Mapping[str, Put], executor: Executor | None, **how: Any) -> Block:
    """Standardise with the cars shrunk toward each other; a level in which nothing failed has no limits by this."""
    found, failed = _standardised(fit, x, puts, executor, replicates=SHRUNK_DRAWS, **how), fit.rows["failed"]
    for name, lives in found.items():
        if "reason" in lives:
            continue
        lives["shrunk"] = SHRUNK
        comparison = next(one for one in fit.comparisons if one.name == name)
        unfailed = {level for level, at in fit.met(comparison).items() if not failed[at].any()}
        for pair, difference in lives["mean_difference"].items():
            if none := unfailed.intersection(pair.split(" minus ")):
                why = f"no belt failed with {comparison.said} {none.pop()}, so draws of belts would never vary there"
                difference |= {"lower": None, "upper": None, "reason": why}
    return found


def _limited(lives: Block) -> bool:
    """Whether every difference has limits."""
    return "mean_difference" in lives and all(pair["lower"] is not None for pair in lives["mean_difference"].values())


@as_block
def _lives(levels: list[str], found: Standardised) -> Block:
    shares = parts(found, "survival", "lower", "upper", "mean")
    return {
        "levels": {
            level: {"age": found.age} | {name: values[place] for name, values in shares.items()}
            for place, level in enumerate(levels)
        },
        "mean_difference": dict(zip(pairs(levels), found.differences.values(), strict=True)),
        "horizon_runs": found.horizon,
        **parts(found, "belts", "replicates"),
        "replicates_lost": found.lost,
    }
