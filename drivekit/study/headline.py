"""The answer to each question that is put in words: every pair of levels, by the best limits that can be had.

Standardised where that has limits, for it holds the other settings alike; else the difference of the curves. A level in
which hardly anything failed has no usable standard error: there the limits come from beta products, which hold. The
fixed numbers of the findings stay where they are; words, figures and advice take these, and `drivekit.decide.claims`
decides what may be claimed of them.
"""

from __future__ import annotations

from itertools import combinations

from drivekit.decide.claims import FEW_FAILURES, pair_verdicts
from drivekit.study.as_json import Block, entry, estimate
from drivekit.study.belt_life import comparison_block, group_curve
from drivekit.study.comparisons import Comparison
from drivekit.study.study_input import StudyInput

__all__ = ["METHODS", "exploratory_block", "exploratory_headline", "headline_block"]

METHODS = {
    "curves": "difference of the areas under the two survival curves, with Greenwood's variance",
    "beta products": "difference of the areas under the two survival curves, with limits by beta products, for hardly "
    "anything failed in one of them",
    "standardised": "the same belts once all at each level, their other settings held alike; limits by drawing belts",
    "shrunk": "the same belts once all at each level, their other settings held alike, by the penalised fit with the "
    "cars shrunk toward each other; limits by drawing belts within each car",
}
"""What a headline stands on, and how its limits are had."""


def headline_block(
    asked: StudyInput, comparison: Comparison, block: Block, overlap: Block, standardised: Block
) -> Block:
    """Choose the one contrast of a setting that is put in words, its last level against its first.

    Tension has a middle that may be better than both ends, so that it is the middle that is held against the low end.

    Parameters
    ----------
    asked, comparison
        What is asked, and the setting.
    block, overlap : dict
        Its GROUPS block, and how its levels fell over the season and the cars.
    standardised : dict
        Its standardised answer, which is taken where it has limits. Else a reason.
    """
    differences = block.get("mean_difference", block)
    if "reason" in differences:
        return {"reason": differences["reason"]}
    levels = list(block["levels"])
    later = "middle" if "middle" in levels[1:] else levels[-1]
    contrast = f"{later} minus {levels[0]}"
    if standardised.get("mean_difference", {}).get(contrast, {}).get("lower") is not None:
        said = _standardised(block, standardised)
        if "shrunk" in standardised or not comparison.standardised:
            said["lives"] = standardised  # which stand nowhere else
    else:
        said = _curves(asked, comparison, block, contrast)
    return (
        {"comparison": comparison.name, "contrast": contrast, "confidence": asked.settings.confidence}
        | _of_pair(said, contrast)
        | {
            "levels": {
                level: {name: curve[name] for name in ("belts", "failed", "runs")}
                | {"mean": curve["mean_to_horizon"]["estimate"]}
                for level, curve in block["levels"].items()
            },
            "together": {part: overlap[part]["together"] for part in ("time", "car")},
        }
    )


def exploratory_headline(asked: StudyInput, comparison: Comparison, block: Block) -> Block:
    """Choose the contrast of a setting nobody planned to ask about: the pair whose limits are closest."""
    differences = block.get("mean_difference", block)
    if "reason" in differences:
        return {"reason": differences["reason"]}
    known = {pair: found for pair, found in differences.items() if found["lower"] is not None}
    if not known:
        return {"reason": next(found["reason"] for found in differences.values())}
    contrast = min(known, key=lambda pair: float(known[pair]["se"]))
    said = _curves(asked, comparison, block, contrast)
    head = {"comparison": comparison.name, "contrast": contrast, "confidence": asked.settings.confidence}
    return head | _of_pair(said, contrast)


def exploratory_block(asked: StudyInput, comparison: Comparison) -> Block:
    """Hold the levels of a setting against each other that nobody planned to ask about: it hints at the most."""
    block = comparison_block(asked, comparison)
    head = exploratory_headline(asked, comparison, block)
    return block | {"exploratory": True, "headline": head, "claims": {"pairs": pair_verdicts(head)}}


def _of_pair(said: Block, contrast: str) -> Block:
    """Give the numbers of the contrast beside those of all pairs."""
    return (
        {name: said["pairs"][contrast][name] for name in ("estimate", "lower", "upper")}
        | said
        | ({"reason": said["pairs"][contrast]["reason"]} if "reason" in said["pairs"][contrast] else {})
    )


def _standardised(block: Block, found: Block) -> Block:
    horizon = found["horizon_runs"]
    return {
        "basis": "standardised",
        "method": METHODS["shrunk" if "shrunk" in found else "standardised"],
        "horizon_runs": horizon,
        "to_horizon": {
            level: {"failed": _failed_before(block["levels"][level], horizon), "estimate": lives["mean"]}
            for level, lives in found["levels"].items()
        },
        "pairs": dict(found["mean_difference"]),
    }


def _curves(asked: StudyInput, comparison: Comparison, block: Block, contrast: str) -> Block:
    """Take the differences of the curves, by beta products where hardly anything failed in one of the contrast."""
    from drivekit.life.beta_product import beta_product, difference_by, mean_by
    from drivekit.life.curve import difference

    found, horizon, confidence = asked.groups(comparison), asked.horizon, asked.settings.confidence
    assert found is not None  # else there would be no difference to choose
    assert horizon is not None
    curves = {level: group_curve(asked, found[1] == place) for place, level in enumerate(found[0])}
    pair = [block["levels"][level] for level in contrast.split(" minus ")]
    if asked.settings.horizon is None and any(_hidden(curve, horizon) for curve in pair):
        horizon += 1
    few = any(_failed_before(curve, horizon) < FEW_FAILURES for curve in pair)
    means = {
        level: mean_by(curve, beta_product(curve, confidence), horizon) if few else curve.mean_to(horizon)
        for level, curve in curves.items()
    }
    basis = "beta products" if few else "curves"
    return {
        "basis": basis,
        "method": METHODS[basis],
        "horizon_runs": horizon,
        "to_horizon": {
            level: {"failed": _failed_before(block["levels"][level], horizon), **entry(mean, "estimate")}
            for level, mean in means.items()
        },
        "pairs": {
            f"{later} minus {earlier}": estimate(
                difference_by(means[earlier], means[later])
                if few
                else difference(means[earlier], means[later], confidence)
            )
            for earlier, later in combinations(means, 2)
        },
    }


def _failed_before(curve: Block, horizon: int) -> int:
    """Count the failures that a mean to the horizon sees: one on the horizon's own run never enters it."""
    return sum(failed for age, failed in zip(curve["age"], curve["failed_at"], strict=True) if age < horizon)


def _hidden(curve: Block, horizon: int) -> bool:
    """Whether a level failed on the horizon's own run and hardly before: then the count must reach one run further."""
    before, through = (_failed_before(curve, end) for end in (horizon, horizon + 1))
    return before < FEW_FAILURES and through > before
