"""The picture of a standardised answer: the same belts once all at each level of a setting, the rest held alike.

All such pictures of one season end at the same age, so that they can be held beside each other.
"""

from __future__ import annotations

from drivekit.show.paper import Picture
from drivekit.show.phrases import Plain, confidence_words, counted, listed, wording
from drivekit.show.step_curves import CurveToDraw, StepCurves
from drivekit.show.words import INVENTED, answer

__all__ = ["standardised_picture"]


def standardised_picture(findings: Plain, name: str) -> Picture | None:
    """Draw up the curves of the same belts at each level of one setting.

    Parameters
    ----------
    findings : mapping
        The findings.
    name : str
        The setting.

    Returns
    -------
    Picture or None
        None when there are no standardised curves: there is a reason instead.
    """
    block = findings.get("standardised", {}).get(name, {})
    if not block.get("levels"):
        return None
    words = wording(findings, name)
    curves = {level: CurveToDraw.of(curve) for level, curve in block["levels"].items()}
    horizons = [other["horizon_runs"] for other in findings["standardised"].values() if other.get("levels")]
    plan = StepCurves(curves, {level: list(words.phrases).index(level) for level in curves}, {}, max(horizons))
    levels = listed([f"all {words.phrase(level)}" for level in block["levels"]])
    subtitle = (
        f"The same {counted(block['belts'], 'belt')} once {levels}: share not failed after each run, each belt on its "
        "car and with the other settings of its first run."
    )
    banded = all(None not in curve["lower"] for curve in block["levels"].values())
    parts = [f"Bands: {confidence_words(findings['settings']['confidence'])}, point by point."] if banded else []
    parts.append(_replicates_words(block))
    if findings["log"].get("invented"):
        parts.append(INVENTED)
    return Picture(f"standardised_{name}", _title(findings, name), subtitle, " ".join(parts), plan.draw, plan.needs)


def _replicates_words(block: Plain) -> str:
    """Say how the limits were drawn, how many draws gave none, and why there are none if so."""
    text = f"Limits from {block['replicates']} draws of belts"
    if block["replicates_lost"]:
        text += f", of which {block['replicates_lost']} had no estimate and were left out"
    why = next((pair["reason"] for pair in block["mean_difference"].values() if pair.get("reason")), None)
    return f"{text}; no limits are given, for {why}." if why else f"{text}."


def _title(findings: Plain, name: str) -> str:
    if findings["headline"].get(name, {}).get("basis") == "standardised":
        return answer(findings, name).title
    noun = wording(findings, name).noun
    return f"For {noun} the same belts once all at each level: no limits can be given, so no answer."
