"""The picture of tension as a curve: the hazard along it, the belts' own tensions, and where belts lasted best.

The curve is the parabola with its band; the line and the spline are drawn thin beside it. A form that a person chose
may stand in the parabola's place.
"""

from __future__ import annotations

import math

from drivekit.show.hazard_words import best_words, kilonewtons, tension_words
from drivekit.show.phrases import Plain, confidence_words, counted
from drivekit.show.picture import Label, Mark, Panel, Picture
from drivekit.show.plane import Bracket, Level, Ribbon, Rug, Trace, in_decades
from drivekit.show.words import INVENTED

__all__ = ["FORMS", "tension_picture"]

FORMS = {"quadratic": "curve", "linear": "line", "spline": "spline"}
"""The forms by their keys in the findings, and as they are named in the picture."""

HIGHEST = 16.0
"""The axis ends here and at its inverse at the most, for at its ends a curve may know next to nothing."""


def tension_picture(findings: Plain, leads: str = "quadratic") -> Picture | None:
    """Draw up what tension does along its range.

    Parameters
    ----------
    findings : mapping
        The findings; of them ``tension_curve``, ``hazard``, ``settings`` and ``log``.
    leads : {"quadratic", "linear", "spline"}
        The form drawn with its band.

    Returns
    -------
    Picture or None
        None when there is no curve, or not that form of it.
    """
    curve = findings["tension_curve"]
    if "reason" in curve or leads not in curve["forms"]:
        return None
    at = [tension / 1000 for tension in curve["tension_n"]]
    low, high = _ends(curve, leads)
    confidence = confidence_words(findings["settings"]["confidence"])
    against = kilonewtons(curve["reference_n"])
    panel = Panel(
        name="",
        x_label="Tension of one span, cold, kN",
        y_label=f"Failures a run, as a multiple of those at {against} kN",
        x_limits=(at[0], at[-1]),
        y_limits=(low, high),
        x_ticks=_whole(at[0], at[-1]),
        y_ticks=in_decades(low, high),
        marks=_marks(findings, leads, at, (low, high)),
        y_log=True,
    )
    hazard = findings["hazard"]
    subtitle = (
        f"Failures a run along tension, other settings alike, against {against} kN, the middle tension "
        f"({counted(len(curve['belts_n']), 'belt')}, {hazard['failed']} failed)."
    )
    thin = [name for form, name in FORMS.items() if form != leads and form in curve["forms"]]
    note = f"Band: {confidence}, point by point. Thin: {' and '.join(thin)}. Strokes at the foot: the belts' tensions."
    if leads == "quadratic" and curve["best_n"]["estimate"] is None:
        best = best_words(findings)
        note += f" {best[0].upper()}{best[1:]}."
    if findings["log"].get("invented"):
        note += f" {INVENTED}"
    return Picture("tension_curve", tension_words(findings), subtitle, note, (panel,))


def _whole(low: float, high: float) -> tuple[float, ...]:
    """Choose whole kilonewtons, or tenths where the range is short."""
    step = next(step for step in (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0) if (high - low) / step <= 12)
    return tuple(round(place * step, 1) for place in range(math.ceil(low / step), math.floor(high / step) + 1))


def _ends(curve: Plain, leads: str) -> tuple[float, float]:
    """Choose the ends of the upright axis: all curves, and the band where most belts ran."""
    values = [value for form in curve["forms"].values() for value in form["log_hr"]]
    belts = sorted(curve["belts_n"])
    inner = belts[len(belts) // 20], belts[-1 - len(belts) // 20]
    form = curve["forms"][leads]
    for tension, lower, upper in zip(curve["tension_n"], form["lower"], form["upper"], strict=True):
        if inner[0] <= tension <= inner[1]:
            values += [lower, upper]
    most = math.log(HIGHEST)
    return (
        math.exp(min(max(min(values), -most), math.log(0.5)) - 0.1),
        math.exp(max(min(max(values), most), math.log(2)) + 0.35),
    )


def _marks(findings: Plain, leads: str, at: list[float], ends: tuple[float, float]) -> tuple[Mark, ...]:
    curve = findings["tension_curve"]
    order = list(FORMS)
    every = range(0, len(at), 2)
    marks: list[Mark] = []
    form = curve["forms"][leads]
    x = tuple(at[place] for place in every)
    lower, upper = (tuple(math.exp(form[side][place]) for place in every) for side in ("lower", "upper"))
    marks.append(Ribbon(f"band:{FORMS[leads]}", order.index(leads), x, lower, upper))
    marks.append(Level("rule:1", 1.0, ""))
    names: list[Mark] = []
    for key, found in curve["forms"].items():
        y = tuple(math.exp(found["log_hr"][place]) for place in every)
        marks.append(Trace(f"curve:{FORMS[key]}", order.index(key), x, y, thin=key != leads))
        inside = [place for place, value in enumerate(y) if ends[0] <= value <= ends[1]]
        names.append(Label(f"label:{FORMS[key]}", x[inside[-1]], y[inside[-1]], FORMS[key]))
    marks.append(Rug("rug:belts", tuple(tension / 1000 for tension in curve["belts_n"])))
    best = curve["best_n"]
    if leads == "quadratic" and best["estimate"] is not None:
        three = [best[name] / 1000 for name in ("estimate", "lower", "upper")]
        said = f"best {three[0]:.1f} kN ({three[1]:.1f} to {three[2]:.1f})"
        marks.append(Bracket("best:tension", three[0], three[1], three[2], said))
    return (*marks, *names)
