"""How long the same belts would last, once all at each level of a setting, their other settings held alike.

`standardised_block` leaves each car a hazard of its own. Where that gives no limits, as it often does with 40 belts or
a rare car, `said_lives` gives the answer that is put in words all the same: by the penalised fit with the cars shrunk
toward each other, to the last run at which every idler still has 5 belts. It also puts belts at each level of tension,
at the middle tension of that level's runs, through a parabola.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from drivekit.study.as_json import Block, estimate, numbers
from drivekit.study.comparisons import Comparison
from drivekit.study.hazard_fit import HazardInput

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from drivekit.life.standardised import Standardised

__all__ = ["said_lives", "standardised_block"]

SHRUNK = "cars shrunk toward each other"
SHRUNK_DRAWS = 499
"""Each is fitted by itself, so fewer are drawn than of the plain fit."""

UNREACHED = "at no age does every idler in the log still have 5 runs"

# The levels of a setting, the columns that say it, and what these hold at each level.
Put = tuple[list[str], NDArray[np.int64], NDArray[np.float64]]


def standardised_block(
    fit: HazardInput, executor: Executor | None = None, over: NDArray[np.bool_] | None = None
) -> Block:
    """Give, for each setting that is standardised, the life of the same belts once all at each level, or a reason.

    `over`, shape (n_runs,) of the run table, marks the runs whose belts are standardised over; by default all.
    """
    study = fit.study
    asked = [comparison for comparison in fit.comparisons if comparison.standardised]
    if study.reason is not None:
        return {comparison.name: {"reason": study.reason} for comparison in asked}
    kept, names = _kept(fit)
    block: Block = {}
    puts: dict[str, Put] = {}
    for comparison in asked:
        told = [term for term in comparison.terms if study.terms[term].coef is not None]
        block[comparison.name] = {"reason": study.terms[next(iter(comparison.terms))].reason}
        if told:
            levels = [comparison.levels[0], *(comparison.terms[term] for term in told)]
            puts[comparison.name] = levels, *_factor([names.index(term) for term in told])
    over = None if over is None else over[study.used]
    return block | _standardised(
        fit, fit.rows["x"][:, kept], puts, executor, over=over, horizon=fit.asked.settings.horizon
    )


def said_lives(fit: HazardInput, standardised: Block, executor: Executor | None = None) -> Block:
    """Give the lives of each planned setting that are put in words: those of `standardised_block` where limited.

    Parameters
    ----------
    fit : HazardInput
    standardised : dict
        From `standardised_block`.
    executor : concurrent.futures.Executor, optional

    Returns
    -------
    dict
        For each planned setting of the fit its lives, or a reason; shrunken ones are marked ``shrunk``.
    """
    study, asked = fit.study, fit.asked
    planned = [comparison for comparison in fit.comparisons if comparison.planned]
    if study.reason is not None:
        return {comparison.name: {"reason": study.reason} for comparison in planned}
    kept, names = _kept(fit)
    x, found, puts = fit.rows["x"][:, kept], dict(standardised), {}
    for comparison in planned:
        if comparison.number and comparison.number in names:
            along, put = _along(fit, comparison, x, names.index(comparison.number))
            found |= _standardised(fit, along, {comparison.name: put}, executor, horizon=asked.settings.horizon)
            if not _limited(found[comparison.name]):
                found |= _shrunk(fit, along, {comparison.name: put}, executor)
        elif comparison.standardised and not _limited(found[comparison.name]):
            terms = [term for term in comparison.terms if term in names]
            if terms:
                levels = [comparison.levels[0], *(comparison.terms[term] for term in terms)]
                puts[comparison.name] = levels, *_factor([names.index(term) for term in terms])
    return found | (_shrunk(fit, x, puts, executor) if puts else {})


def _kept(fit: HazardInput) -> tuple[list[int], list[str]]:
    """Find the columns that say something of their own: one that others determine says nothing more than they do."""
    from drivekit.life.separation import MOVES

    fitted = fit.study.fitted
    assert fitted is not None  # the study has no reason
    kept = [place for place, reason in enumerate(fitted.reasons) if reason is None or reason == MOVES]
    return kept, [fit.study.names[place] for place in kept]


def _factor(places: Sequence[int]) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Put a setting to its reference and to each of its other levels."""
    return np.array(places), np.vstack([np.zeros(len(places)), np.eye(len(places))])


def _along(
    fit: HazardInput, comparison: Comparison, x: NDArray[np.float64], place: int
) -> tuple[NDArray[np.float64], Put]:
    """Bend a number by one more column, and put it to the middle value of each of its levels."""
    value, middle = x[:, place], np.median(x[:, place])
    at = {level: np.median(value[rows]) for level, rows in _rows(fit, comparison).items()}
    values = np.array(list(at.values()))
    put = list(at), np.array([place, x.shape[1]]), np.column_stack([values, (values - middle) ** 2])
    return np.column_stack([x, (value - middle) ** 2]), put


def _rows(fit: HazardInput, comparison: Comparison) -> dict[str, NDArray[np.bool_]]:
    """Mark the rows of the fit made at each level; a level without any is left out."""
    grouped = fit.asked.groups(comparison)
    assert grouped is not None  # it is in the fit
    levels, code = grouped
    marked = {level: code[fit.study.used] == place for place, level in enumerate(levels)}
    return {level: rows for level, rows in marked.items() if rows.any()}


def _standardised(
    fit: HazardInput, x: NDArray[np.float64], puts: Mapping[str, Put], executor: Executor | None, **how: Any
) -> Block:
    from drivekit.life.standardised import standardised

    if not puts:
        return {}
    rows, settings = fit.rows, fit.asked.settings
    found = standardised(
        rows["age"],
        rows["failed"],
        x,
        rows["stratum"],
        rows["belt"],
        [(columns, values) for _, columns, values in puts.values()],
        confidence=settings.confidence,
        generator=np.random.default_rng(settings.seed),
        executor=executor,
        **how,
    )
    if isinstance(found, str):
        return {name: {"reason": found} for name in puts}
    return {name: _lives(put[0], one) for (name, put), one in zip(puts.items(), found, strict=True)}


def _shrunk(fit: HazardInput, x: NDArray[np.float64], puts: Mapping[str, Put], executor: Executor | None) -> Block:
    """Standardise with the cars shrunk toward each other; a level in which nothing failed has no limits by this."""
    horizon, rows = fit.asked.horizon, fit.rows
    if horizon is None:
        return {name: {"reason": UNREACHED} for name in puts}
    cars = np.unique(rows["stratum"], return_inverse=True)[1]
    found = _standardised(fit, x, puts, executor, horizon=horizon, cars=cars, replicates=SHRUNK_DRAWS)
    for name, lives in found.items():
        if "reason" in lives:
            continue
        lives["shrunk"] = SHRUNK
        comparison = next(one for one in fit.comparisons if one.name == name)
        unfailed = {level for level, at in _rows(fit, comparison).items() if not rows["failed"][at].any()}
        for pair, difference in lives["mean_difference"].items():
            if none := unfailed.intersection(pair.split(" minus ")):
                why = f"no belt failed with {comparison.said} {none.pop()}, so draws of belts would never vary there"
                difference |= {"lower": None, "upper": None, "reason": why}
    return found


def _limited(lives: Block) -> bool:
    """Whether every difference has limits."""
    return "mean_difference" in lives and all(pair["lower"] is not None for pair in lives["mean_difference"].values())


def _lives(levels: list[str], found: Standardised) -> Block:
    shares = zip(levels, found.survival, found.lower, found.upper, found.mean, strict=True)
    return {
        "levels": {
            level: {
                "age": numbers(found.age),
                "survival": numbers(survival),
                "lower": numbers(lower),
                "upper": numbers(upper),
                "mean": float(mean),
            }
            for level, survival, lower, upper, mean in shares
        },
        "mean_difference": {
            f"{levels[later]} minus {levels[earlier]}": estimate(difference)
            for (later, earlier), difference in found.differences.items()
        },
        "horizon_runs": found.horizon,
        "belts": found.belts,
        "replicates": found.replicates,
        "replicates_lost": found.lost,
    }
