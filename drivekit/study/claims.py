"""Whether the planned questions are told: one test for each, held together, and the verdicts that rest on them.

The test is the likelihood ratio of the hazard fit, every setting in it and each car with a hazard of its own: the
question's terms against none of them, tension as a parabola against nothing; by Firth's penalised likelihood where that
leads or a term has no end; by the exact log-rank where there is no fit. Holm's adjustment runs over the questions that
could be asked. With few failures such tests tell too often, so that a claim stands only where the test tells after a
small-sample correction, too. What may then be said is for :mod:`drivekit.decide.claims`.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import Any

import numpy as np

from drivekit.decide.claims import FEW_FAILURES, RARE_BEND, best_verdict, one_doubt, pair_verdicts, ratio_verdict
from drivekit.study.as_json import Block
from drivekit.study.comparisons import Comparison
from drivekit.study.hazard_fit import HazardInput

__all__ = ["LEAST_SPREAD_N", "questions", "verdicts"]

LEAST_SPREAD_N = 500.0
"""Tensions whose 10th and 90th percentiles lie nearer than this are one tension, in newtons."""

MANY_FAILURES = 500
"""With so many failures a test needs no correction for their being few."""


def questions(fit: HazardInput, life: Mapping[str, Block]) -> Block:
    """Test each planned question once, and adjust for there being several.

    Parameters
    ----------
    fit : HazardInput
        The hazard fit of the study.
    life : mapping of str to dict
        The GROUPS block of each planned comparison.

    Returns
    -------
    dict
        For each question ``test``, ``chi2``, ``dof``, ``p``, ``p_holm`` and ``told``; ``p_small``, p as it is with so
        few belts where p by itself would tell, and ``claimed``, whether both tell; or why it cannot be asked.
    """
    from drivekit.life.logrank import holm

    planned = [one for one in fit.asked.comparisons if one.planned]
    found = {one.name: _question(fit, one, life[one.name]) for one in planned}
    tests = [test for test in found.values() if "reason" not in test]
    most = 1 - fit.asked.settings.confidence
    each = (holm([test[p] for test in tests]) for p in ("p", "p_small"))
    for test, adjusted, small in zip(tests, *each, strict=True):
        told = adjusted is not None and adjusted <= most
        test |= {"p_holm": adjusted, "told": told, "claimed": told and small is not None and small <= most}
    return found


def _question(fit: HazardInput, comparison: Comparison, block: Block) -> Block:
    """Ask one question of the hazard fit, else of its log-rank test."""
    from drivekit.life.separation import MOVES

    study = fit.study
    if "reason" in (differing := block.get("logrank", block)) and len(block.get("levels", ())) < 2:
        return {"reason": differing["reason"]}
    if comparison.number and (reason := _nearly_one(fit, comparison)):
        return {"reason": reason}
    fitted = study.fitted
    own = [term for term in comparison.terms if term in study.names]
    if fitted is None or not own:
        return _by_logrank(block)
    kept = [place for place, reason in enumerate(fitted.reasons) if reason in (None, MOVES)]
    tested = [place for place in kept if study.names[place] in own]
    if not tested:
        return {"reason": study.terms[own[0]].reason}
    rows = fit.rows
    columns, rest = rows["x"][:, tested], rows["x"][:, [place for place in kept if place not in tested]]
    if comparison.number:
        bent = columns - np.median(columns)
        columns = np.hstack([bent, bent**2])
    endless = any(fitted.reasons[place] == MOVES for place in tested)
    return _by_likelihood(fit, columns, rest, penalised=study.firth_leads or endless) or _by_logrank(block)


def _nearly_one(fit: HazardInput, comparison: Comparison) -> str:
    """Say that a number was nearly the same on all runs, if so."""
    value = fit.asked.table[comparison.column]
    low, high = np.quantile(value[~np.isnan(value)], [0.1, 0.9])
    if high - low >= LEAST_SPREAD_N:
        return ""
    return f"{comparison.noun} was nearly the same on all runs: 8 in 10 lay between {low:,.0f} and {high:,.0f} N"


def _by_likelihood(fit: HazardInput, tested: Any, rest: Any, *, penalised: bool) -> Block:
    """Compare the fit with and without the columns tested; empty where neither likelihood settles."""
    from drivekit.life.cox import fit as cox
    from drivekit.life.firth import penalised_gain
    from drivekit.life.profile import ratio_test, small_sample
    from drivekit.life.riskset import RiskSets
    from drivekit.life.separation import MOVES

    rows, settings = fit.rows, fit.asked.settings

    def sets(x: Any) -> RiskSets:
        return RiskSets.of(rows["age"], rows["failed"], x, rows["stratum"], rows["belt"])

    def gain(columns: Any, *, penalised: bool) -> float:
        together = sets(np.hstack([columns, rest]))
        try:
            if penalised:
                return penalised_gain(together, np.arange(together.n_terms) < columns.shape[1])
            return cox(together).loglik - without
        except (ArithmeticError, np.linalg.LinAlgError):
            return np.nan

    try:
        reasons = cox(sets(np.hstack([tested, rest]))).reasons[: tested.shape[1]]
        without = cox(sets(rest)).loglik
    except (ArithmeticError, np.linalg.LinAlgError):
        return {}
    found = gain(tested, penalised=penalised)
    if penalised and np.isnan(found):
        penalised, found = False, gain(tested, penalised=False)
    if np.isnan(found):
        return {}
    dof = sum(reason in (None, MOVES) for reason in reasons)
    test = ratio_test(2 * found, dof)
    small = test["p"]
    if small <= 1 - settings.confidence and rows["failed"].sum() < MANY_FAILURES:
        lives = rows["age"], rows["belt"], rows["stratum"], np.random.default_rng(settings.seed)
        small = small_sample(test["chi2"], dof, partial(gain, penalised=penalised), tested, *lives)
    return {"test": f"{'penalised ' * penalised}likelihood ratio", **test, "p_small": small}


def _by_logrank(block: Block) -> Block:
    test = block["logrank"]
    if "reason" in test:
        return {"reason": test["reason"]}
    exact = test["p_exact"] is not None
    return {
        "test": "exact log-rank" if exact else "log-rank",
        "chi2": test["chi2"],
        "dof": test["dof"],
        "p": (p := test["p_exact"] if exact else test["p"]),
        "p_small": p,
    }


def verdicts(
    claim: Block, head: Block, hazard: Block, curve: Block, comparison: Comparison, confidence: float
) -> Block:
    """Judge every pair of levels and every ratio of one planned question, and the best place along a number.

    Parameters
    ----------
    claim, head : dict
        Its test from `questions`, and its headline.
    hazard, curve : dict
        The hazard block, and that of tension along its range.
    comparison : Comparison
    confidence : float

    Returns
    -------
    dict
        ``pairs`` and ``terms``, a verdict for each by its name, and ``best`` for a number; empty where the question
        cannot be asked.
    """
    if "reason" in claim:
        return {}
    told, hint = claim["claimed"], claim["p"] <= 1 - confidence
    levels = hazard.get("levels", {}).get(comparison.name, {})
    found: Block = {"pairs": (pairs := pair_verdicts(head, told=told, hint=hint)), "terms": (terms := {})}
    if comparison.number:
        found["best"] = best_verdict(curve, told=told, hint=hint)
    for term, ratio in hazard.get("leading", {}).items():
        if term not in comparison.terms:
            continue
        level, hr = comparison.terms[term], ratio["hr"]
        sure = told and found.get("best", "best") == "best"  # along a number a direction is told with its best place
        judged = ratio_verdict(ratio, told=sure, failed=_failed(levels, level))
        pair = f"{level} minus {next(iter(levels), level)}"
        # a number that bends is spoken of as a curve, its line's ratio not at all
        if found.get("best") == "hint" and hr and (curve["linear_vs_quadratic"]["p"] or 0.0) >= RARE_BEND:
            judged = one_doubt(f"hint {'longer' if hr < 1 else 'shorter'}", judged, hr)[1]
        elif pair in pairs:
            pairs[pair], judged = one_doubt(pairs[pair], judged, hr)
        terms[term] = judged
    return found


def _failed(levels: Block, level: str) -> int:
    """Count the failures of the thinner side of a term: its level or the reference; those of a number are not split."""
    sides = [levels[one]["failed"] for one in {level, next(iter(levels), level)} if one in levels]
    return min(sides, default=FEW_FAILURES)
