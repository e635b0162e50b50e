"""The answer to each question that is put in words: by the best limits that can be had, and whether it is told.

Every pair of levels is answered by standardised lives where those have limits, for they hold the other settings alike;
else by the difference of the curves. A level in which hardly anything failed has no usable standard error: there the
limits come from beta products, which hold. The fixed numbers of the findings stay where they are; words, figures and
advice take these.

Each planned question has one test, and all are held together. It is the likelihood ratio of the hazard fit, every
setting in it and each car with a hazard of its own: the question's terms against none of them, tension as a parabola
against nothing; by Firth's penalised likelihood where that leads or a term has no end; by the exact log-rank where
there is no fit. Holm's adjustment runs over the questions that could be asked. With few failures such tests tell too
often, so that a claim stands only where the test also tells among the settings dealt anew. What may then be said is for
:mod:`drivekit.decide.claims`.
"""

from __future__ import annotations

from collections.abc import Mapping
from concurrent.futures import Executor
from contextlib import suppress
from typing import Any

import numpy as np

from drivekit.decide.claims import FEW_FAILURES, RARE_BEND, best_verdict, one_doubt, pair_verdicts, ratio_verdict
from drivekit.life.beta_product import beta_product, difference_by, mean_by
from drivekit.life.cox import fit as cox
from drivekit.life.dealt import share_of_deals
from drivekit.life.firth import penalised_gain
from drivekit.life.folds import Bools
from drivekit.life.logrank import holm
from drivekit.life.profile import MANY_FAILURES, ratio_test
from drivekit.life.riskset import RiskSets
from drivekit.life.separation import MOVES
from drivekit.study.as_json import Block, entry, plain
from drivekit.study.belt_life import adjust, comparison_block, mean_differences, overlap_block
from drivekit.study.comparisons import Comparison, pairs
from drivekit.study.hazard_fit import HazardInput, hazard_block, tension_curve_block
from drivekit.study.same_belts import said_lives
from drivekit.study.study_input import StudyInput

__all__ = ["LEAST_SPREAD_N", "answered", "exploratory_block", "exploratory_headline", "headline_block", "questions"]

LEAST_SPREAD_N = 500.0
"""Tensions whose 10th and 90th percentiles lie nearer than this are one tension, in newtons."""

METHODS = {
    "curves": "difference of the areas under the two survival curves, with Greenwood's variance",
    "curves by belt": "difference of the areas under the two survival curves, its error reckoned by belt, for some "
    "belts ran in both",
    "beta products": "difference of the areas under the two survival curves, with limits by beta products, for hardly "
    "anything failed in one of them",
    "standardised": "the same belts once all at each level, their other settings held alike; limits by drawing belts",
    "shrunk": "the same belts once all at each level, their other settings held alike, by the penalised fit with the "
    "cars shrunk toward each other; limits by drawing belts within each car",
}
"""What a headline stands on, and how its limits are had."""


def answered(
    fit: HazardInput,
    executor: Executor | None = None,
    *,
    asking: HazardInput | None = None,
    claims: Block | None = None,
    overlap: Block | None = None,
    over: Bools | None = None,
) -> Block:
    """Answer the planned questions, and say what may be claimed.

    ``life``, ``overlap``, ``hazard``, ``tension_curve``, ``headline`` and ``claims`` as in the findings. The executor
    works out what is drawn at random; `over`, shape (n_runs,), marks the season whose belts are followed. The tests of
    `asking` decide what is told, where that is another fit; where they are known already they are given, as `questions`
    has them, in `claims`, and how the settings fell over season and cars in `overlap`.
    """
    asked, planned = fit.asked, fit.asked.planned
    life = {name: comparison_block(asked, one) for name, one in planned.items()}
    adjust(life.values())
    overlap = overlap or {name: overlap_block(asked, one) for name, one in planned.items()}
    hazard, curve, lives = hazard_block(fit), tension_curve_block(fit), said_lives(fit, executor, over)
    tests, heads, told = claims or questions(asking or fit, life), {}, {}
    for name, one in planned.items():
        heads[name] = headline_block(asked, one, life[name], overlap[name], lives.get(name, {}))
        verdicts = _verdicts(tests[name], heads[name], hazard, curve, one, asked.settings.confidence)
        told[name] = tests[name] | verdicts
    told_of = {"hazard": hazard, "tension_curve": curve, "headline": heads, "claims": told}
    return {"life": life, "overlap": overlap, **told_of}


def headline_block(
    asked: StudyInput, comparison: Comparison, block: Block, overlap: Block, standardised: Block
) -> Block:
    """Choose the one contrast of a setting that is put in words, its last level against its first.

    Tension has a middle that may be better than both ends, so that it is the middle that is held against the low end.
    Given are the GROUPS block of the setting, how its levels fell over the season and the cars, and its standardised
    answer, which is taken where it has limits.
    """
    differences = block.get("mean_difference", block)
    if "reason" in differences:
        return {"reason": differences["reason"]}
    levels = list(block["levels"])
    later = "middle" if "middle" in levels[1:] else levels[-1]
    contrast = f"{later} minus {levels[0]}"
    held = standardised.get("mean_difference", {}).get(contrast, {}).get("lower") is not None
    said = _standardised(block, standardised) if held else _curves(asked, comparison, block, contrast)
    told = {
        level: {name: curve[name] for name in ("belts", "failed", "runs")}
        | {"mean": curve["mean_to_horizon"]["estimate"]}
        for level, curve in block["levels"].items()
    }
    together = {part: overlap[part]["together"] for part in ("time", "car")}
    return _headed(asked, comparison, contrast, said) | {"levels": told, "together": together}


def exploratory_headline(asked: StudyInput, comparison: Comparison, block: Block) -> Block:
    """Choose the contrast of a setting nobody planned to ask about: the pair whose limits are closest."""
    differences = block.get("mean_difference", block)
    if "reason" in differences:
        return {"reason": differences["reason"]}
    known = {pair: found for pair, found in differences.items() if found["lower"] is not None}
    if not known:
        return {"reason": next(found["reason"] for found in differences.values())}
    contrast = min(known, key=lambda pair: float(known[pair]["se"]))
    return _headed(asked, comparison, contrast, _curves(asked, comparison, block, contrast))


def exploratory_block(asked: StudyInput, comparison: Comparison) -> Block:
    """Hold the levels of a setting against each other that nobody planned to ask about: it hints at the most."""
    block = comparison_block(asked, comparison)
    head = exploratory_headline(asked, comparison, block)
    return block | {"exploratory": True, "headline": head, "claims": {"pairs": pair_verdicts(head)}}


def _headed(asked: StudyInput, comparison: Comparison, contrast: str, said: Block) -> Block:
    """Give the numbers of the contrast beside those of all pairs."""
    head, pair = {"comparison": comparison.name, "contrast": contrast}, dict(said["pairs"][contrast])
    why = {"reason": pair.pop("reason")} if "reason" in pair else {}
    return head | {"confidence": asked.settings.confidence} | pair | said | why


def _standardised(block: Block, found: Block) -> Block:
    method, means = "shrunk" if "shrunk" in found else "standardised", found["levels"]
    told = _to(found["horizon_runs"], block, {level: {"estimate": lives["mean"]} for level, lives in means.items()})
    return {
        "basis": "standardised",
        "method": METHODS[method],
        **told,
        "pairs": found["mean_difference"],
        "lives": found,
    }


def _curves(asked: StudyInput, comparison: Comparison, block: Block, contrast: str) -> Block:
    """Take the differences of the curves, by beta products where hardly anything failed in one of the contrast."""
    horizon, curves = asked.horizon, asked.curves(comparison)
    assert horizon is not None  # else there would be no difference to choose
    pair = [block["levels"][level] for level in contrast.split(" minus ")]
    if asked.settings.horizon is None and any(_hidden(curve, horizon) for curve in pair):
        horizon += 1
    if any(_failed_before(curve, horizon) < FEW_FAILURES for curve in pair):
        basis = method = "beta products"
        limits = {level: beta_product(curve, asked.settings.confidence) for level, curve in curves.items()}
        means = {level: mean_by(curve, limits[level], horizon) for level, curve in curves.items()}
        told = {pair: difference_by(means[one], means[other]) for pair, (one, other) in pairs(means).items()}
    else:
        basis = "curves"
        means = {level: curve.mean_to(horizon) for level, curve in curves.items()}
        both = mean_differences(asked, comparison, curves, horizon)
        told = {pair: by_belt or found for pair, (found, by_belt) in both.items()}
        method = "curves by belt" if any(by_belt for _, by_belt in both.values()) else basis
    to_horizon = _to(horizon, block, {level: entry(mean, "estimate") for level, mean in means.items()})
    return {"basis": basis, "method": METHODS[method], **to_horizon, "pairs": plain(told)}


def _to(horizon: int, block: Block, means: Mapping[str, Block]) -> Block:
    """Give the mean of each level to a horizon, and the failures that it rests on."""
    failed = {level: {"failed": _failed_before(block["levels"][level], horizon)} for level in means}
    return {"horizon_runs": horizon, "to_horizon": {level: failed[level] | mean for level, mean in means.items()}}


def _failed_before(curve: Block, horizon: int) -> int:
    """Count the failures that a mean to the horizon sees: one on the horizon's own run never enters it."""
    return sum(failed for age, failed in zip(curve["age"], curve["failed_at"], strict=True) if age < horizon)


def _hidden(curve: Block, horizon: int) -> bool:
    """Whether a level failed on the horizon's own run and hardly before: then the count must reach one run further."""
    before, through = (_failed_before(curve, end) for end in (horizon, horizon + 1))
    return before < FEW_FAILURES and through > before


def questions(fit: HazardInput, life: Mapping[str, Block]) -> Block:
    """Test each planned question once, and adjust for there being several.

    By the hazard fit of the study, and the GROUPS block of each planned comparison. For each question ``test``,
    ``chi2``, ``dof``, ``p``, ``p_holm`` and ``told``; ``p_small``, p as it is with so few belts where p by itself would
    tell, and ``claimed``, whether both tell; or why it cannot be asked.
    """
    found = {name: _question(fit, one, life[name]) for name, one in fit.asked.planned.items()}
    tests = [test for test in found.values() if "reason" not in test]
    most = 1 - fit.asked.settings.confidence
    each = (holm([test[p] for test in tests]) for p in ("p", "p_small"))
    for test, adjusted, small in zip(tests, *each, strict=True):
        told = adjusted is not None and adjusted <= most
        test |= {"p_holm": adjusted, "told": told, "claimed": told and small is not None and small <= most}
    return found


def _question(fit: HazardInput, comparison: Comparison, block: Block) -> Block:
    """Ask one question of the hazard fit, else of its log-rank test."""
    study = fit.study
    if "reason" in (differing := block.get("logrank", block)) and len(block.get("levels", ())) < 2:
        return {"reason": differing["reason"]}
    if comparison.number and (reason := _nearly_one(fit, comparison)):
        return {"reason": reason}
    fitted = study.fitted
    own = [term for term in comparison.terms if term in study.names]
    if fitted is None or not own:
        return _by_logrank(block)
    tested = [place for place in fit.kept if study.names[place] in own]
    if not tested:
        return {"reason": study.terms[own[0]].reason}
    rows = fit.rows
    columns, rest = rows["x"][:, tested], rows["x"][:, [place for place in fit.kept if place not in tested]]
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
    rows, settings = fit.rows, fit.asked.settings
    both, few = np.hstack([tested, rest]), rows["failed"].sum() < MANY_FAILURES
    built = RiskSets.of if few else RiskSets.alike  # where failures are few the settings may be dealt anew, row by row
    together = built(rows["age"], rows["failed"], both, rows["stratum"], rows["belt"])
    try:
        full, without, found = cox(together), cox(together.carrying(rest)), np.nan
    except (ArithmeticError, np.linalg.LinAlgError):
        return {}
    if penalised:
        with suppress(ArithmeticError, np.linalg.LinAlgError):
            found = penalised_gain(together, np.arange(together.n_terms) < tested.shape[1])
    if np.isnan(found):
        penalised, found = False, full.loglik - without.loglik
    if np.isnan(found):
        return {}
    dof = sum(reason in (None, MOVES) for reason in full.reasons[: tested.shape[1]])
    test = ratio_test(2 * found, dof)
    small = test["p"]
    if few and small <= 1 - settings.confidence:
        lives = rows["age"], rows["belt"], rows["stratum"], np.random.default_rng(settings.seed)
        small = max(small, share_of_deals(without, tested, *lives, settings.confidence))
    return {"test": f"{'penalised ' * penalised}likelihood ratio", **test, "p_small": small}


def _by_logrank(block: Block) -> Block:
    test = block["logrank"]
    if "reason" in test:
        return {"reason": test["reason"]}
    exact, told = test["p_exact"] is not None, {name: test[name] for name in ("chi2", "dof")}
    p = test["p_exact"] if exact else test["p"]
    return {"test": "exact log-rank" if exact else "log-rank", **told, "p": p, "p_small": p}


def _verdicts(
    claim: Block, head: Block, hazard: Block, curve: Block, comparison: Comparison, confidence: float
) -> Block:
    """Judge every pair of levels and every ratio of one planned question, and the best place along a number."""
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
