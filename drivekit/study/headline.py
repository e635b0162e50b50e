"""The one answer to each planned question that is put in words."""

from __future__ import annotations

from drivekit.study.as_json import Plain
from drivekit.study.comparisons import Comparison
from drivekit.study.study_input import StudyInput

__all__ = ["headline_block"]

METHODS = {
    "curves": "difference of the areas under the two survival curves, with Greenwood's variance",
    "standardised": "the same belts once all at each level, their other settings held alike; limits by drawing belts",
}


def headline_block(
    asked: StudyInput, comparison: Comparison, block: Plain, overlap: Plain, standardised: Plain
) -> Plain:
    """Choose the one contrast of a setting that is put in words, its last level against its first.

    Tension has a middle that may be better than both ends, so that it is the middle that is held against the low end.

    Parameters
    ----------
    asked : StudyInput
        What is asked.
    comparison : Comparison
        The setting.
    block : dict
        Its GROUPS block.
    overlap : dict
        How its levels fell over the season and the cars.
    standardised : dict
        Its standardised answer, which is taken where it has limits: it holds the other settings alike. Else a reason.

    Returns
    -------
    dict
        The contrast with its limits, and the belts behind each level; or the reason why there is none.
    """
    differences = block.get("mean_difference", block)
    if "reason" in differences:
        return {"reason": differences["reason"]}
    levels = list(block["levels"])
    later = "middle" if "middle" in levels[1:] else levels[-1]
    contrast = f"{later} minus {levels[0]}"
    found, basis, horizon = differences[contrast], "curves", asked.horizon
    alike = standardised.get("mean_difference", {}).get(contrast, {})
    if alike.get("lower") is not None:
        found, basis, horizon = alike, "standardised", standardised["horizon_runs"]
    head: Plain = {
        "comparison": comparison.name,
        "contrast": contrast,
        "horizon_runs": horizon,
        "confidence": asked.settings.confidence,
        **{name: found[name] for name in ("estimate", "lower", "upper")},
        "basis": basis,
        "method": METHODS[basis],
        "levels": {
            level: {name: block["levels"][level][name] for name in ("belts", "failed", "runs")}
            | {"mean": block["levels"][level]["mean_to_horizon"]["estimate"]}
            for level in levels
        },
        "together": {part: overlap[part]["together"] for part in ("time", "car")},
    }
    return head if "reason" not in found else head | {"reason": found["reason"]}
