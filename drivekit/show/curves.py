"""The pictures of belt life: step curves with bands, what failed and what ran on, and who was at risk.

A curve starts at 100 % at the youngest entry and stops at the oldest belt. Where the findings hold `from_age` (too few
belts at the first ages) that curve is drawn: the life of a belt that starts that run. A band runs from the first
failure to where a limit can no longer be estimated. Up to three levels share a panel; more become small multiples on
the same axes.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from drivekit.show.paper import Picture, Size
from drivekit.show.phrases import Plain, confidence_words, counted, half, listed, one_in_ten, wording
from drivekit.show.step_curves import PER_PANEL, CurveToDraw, StepCurves, numbered_from
from drivekit.show.words import INVENTED, Answer, curves_answer, exploratory_answer

if TYPE_CHECKING:
    from matplotlib.figure import SubFigure

__all__ = ["comparison_picture", "overall_picture"]


def comparison_picture(findings: Plain, name: str) -> Picture | None:
    """Draw up the curves of one setting's levels.

    Parameters
    ----------
    findings : mapping
        The findings.
    name : str
        The setting, planned or exploratory.

    Returns
    -------
    Picture or None
        None when the block has no levels: there is a reason instead.
    """
    planned = name in findings["headline"]
    block = findings["life"][name] if planned else findings["life"]["more"][name]
    if not block.get("levels"):
        return None
    said: Answer = curves_answer(findings, name) if planned else exploratory_answer(findings, name)
    levels = block["levels"]
    subtitle = f"Share of belts not failed after each run, by {wording(findings, name).noun} ({_stand_behind(levels)})."
    if name == "tension":
        subtitle += _cuts(findings)
    return Picture(name, said.title, subtitle, _note(findings, levels), *_drawn(levels))


def overall_picture(findings: Plain) -> Picture | None:
    """Draw up the curve of all belts together; None when no belt of known age has made a run."""
    curve = findings["life"]["overall"]
    if "age" not in curve:
        return None
    confidence = confidence_words(findings["settings"]["confidence"])
    title = f"Of all belts, {one_in_ten(curve)} and {half(curve)} ({confidence} in brackets)."
    if not curve["failed"]:
        title = f"Of {counted(curve['belts'], 'belt')} none failed in {counted(curve['runs'], 'run')}."
    subtitle = f"Share of belts not failed after each run ({_stand_behind({'all': curve})})."
    return Picture("overall", title, subtitle, _note(findings, {"all belts": curve}), *_drawn({"all": curve}))


def _drawn(levels: Mapping[str, Plain]) -> tuple[Callable[[SubFigure, Size], None], Callable[[Size], float]]:
    """Give how a picture of these CURVEs is drawn, and the height that it needs."""
    places = {name: place for place, name in enumerate(levels)}
    oldest = max(curve["age"][-1] for curve in levels.values())
    plan = StepCurves({name: CurveToDraw.of(curve) for name, curve in levels.items()}, places, levels, oldest)
    return plan.draw, plan.needs


def _stand_behind(levels: Mapping[str, Plain]) -> str:
    counts = (f"{name}: {counted(curve['belts'], 'belt')}, {curve['failed']} failed" for name, curve in levels.items())
    return "; ".join(counts)


def _cuts(findings: Plain) -> str:
    cuts = findings["settings"].get("tension_cuts_n")
    return f" Low ends at {cuts[0]:,.0f} N, middle at {cuts[1]:,.0f} N." if cuts else ""


def _note(findings: Plain, levels: Mapping[str, Plain]) -> str:
    """Say how to read the marks, and whatever is unusual in this picture."""
    drawn = [CurveToDraw.of(curve) for curve in levels.values()]
    parts = []
    if any(curve.banded for curve in drawn):
        parts.append(f"Bands: {confidence_words(findings['settings']['confidence'])}, point by point.")
    if any(curve.failed_at.any() for curve in drawn):
        parts.append("Dots: failures.")
    if any(curve.censored_at.any() for curve in drawn):
        moved = ", or moved to another setting" if len(levels) > 1 else ""
        numbered = numbered_from(drawn)
        many = any((curve.censored_at >= numbered).any() for curve in drawn)
        number = f"; a number where {numbered} or more share one" if many and len(drawn) <= PER_PANEL else ""
        parts.append(f"Ticks: belts still running or taken off early{moved}{number}.")
    parts.append("Table: belts that made that run (failed so far).")
    if any(_rises(curve) for curve in levels.values()):
        parts.append("Belts that came used, or changed setting, join at their age, so a count can rise.")
    if none := [name for name, curve in levels.items() if not curve["failed"]]:
        parts.append(f"No belt failed: {listed(none)}; its line is flat and has no band.")
    for name, curve in levels.items():
        if later := curve.get("from_age"):
            band = "" if "lower" in later else ", and it has no band"
            text = f"{name}: life of a belt that starts run {later['from']}, for too few ran before it{band}."
            parts.append(text[:1].upper() + text[1:])
    if findings["log"].get("invented"):
        parts.append(INVENTED)
    return " ".join(parts)


def _rises(curve: Plain) -> bool:
    return any(later > earlier for earlier, later in zip(curve["at_risk"], curve["at_risk"][1:], strict=False))
