"""The picture of a standardised answer: the same belts once all at each level of a setting, the rest held alike."""

from __future__ import annotations

from drivekit.show.curves import X_LABEL, Y_LABEL, whole_ticks
from drivekit.show.phrases import Plain, confidence_words, counted, listed, wording
from drivekit.show.picture import Band, Label, Mark, Panel, Picture, Steps
from drivekit.show.words import INVENTED, answer

__all__ = ["alike_picture", "replicates_words"]


def alike_picture(findings: Plain, name: str) -> Picture | None:
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
    words, horizon = wording(findings, name), block["horizon_runs"]
    panel = Panel(
        name="",
        x_label=X_LABEL,
        y_label=Y_LABEL,
        x_limits=(0, horizon + 0.3),
        y_limits=(0, 102),
        x_ticks=whole_ticks(horizon),
        y_ticks=(0, 25, 50, 75, 100),
        marks=_marks(block, list(words.phrases)),
    )
    levels = listed([f"all {words.phrase(level)}" for level in block["levels"]])
    subtitle = (
        f"The same {counted(block['belts'], 'belt')} once {levels}: share not failed after each run, each belt on its "
        "car and with the other settings of its first run."
    )
    banded = all(None not in curve["lower"] for curve in block["levels"].values())
    parts = [f"Bands: {confidence_words(findings['settings']['confidence'])}, point by point."] if banded else []
    parts.append(replicates_words(block))
    if findings["log"].get("invented"):
        parts.append(INVENTED)
    return Picture(f"standardised_{name}", _title(findings, name), subtitle, " ".join(parts), (panel,))


def replicates_words(block: Plain) -> str:
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


def _marks(block: Plain, order: list[str]) -> tuple[Mark, ...]:
    """Give bands under curves under names; a band ends where a limit cannot be had."""
    bands: list[Mark] = []
    curves: list[Mark] = []
    for level, curve in block["levels"].items():
        ink = order.index(level)
        share = [100 * value for value in curve["survival"]]
        curves.append(Steps(f"curve:{level}", ink, (0, *curve["age"]), (100.0, *share)))
        limits = [
            (age, 100 * low, 100 * up)
            for age, low, up in zip(curve["age"], curve["lower"], curve["upper"], strict=True)
            if low is not None and up is not None
        ]
        if limits:
            ages, lower, upper = zip(*limits, strict=True)
            bands.append(Band(f"band:{level}", ink, (0, *ages), (100.0, *lower), (100.0, *upper)))
    names = [
        Label(f"label:{level}", curve["age"][-1], 100 * curve["survival"][-1], level)
        for level, curve in block["levels"].items()
    ]
    return (*bands, *curves, *names)
