"""The pictures of belt life: step curves with bands, what failed and what ran on, and who was at risk.

A curve starts at 100 % at the youngest entry and stops at the oldest belt. Where the findings hold `from_age` (too few
belts at the first ages) that curve is drawn: the life of a belt that starts that run. A band runs from the first
failure to where a limit can no longer be estimated. A standardised picture has the same belts once all at each level of
a setting, the rest held alike; all those of one season end at the same age, so that they can be held beside each other.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise

from drivekit.show.paper import Picture, noted
from drivekit.show.phrases import Plain, confidence_words, counted, half, listed, one_in_ten, wording
from drivekit.show.step_curves import PER_PANEL, band, curves_drawn, numbered_from, shown
from drivekit.show.words import curves_answer, exploratory_answer, levels_answer

__all__ = ["comparison_picture", "overall_picture", "standardised_picture"]


def comparison_picture(findings: Plain, name: str, *, table: bool = True) -> Picture | None:
    """Draw up the curves of one setting's levels.

    Parameters
    ----------
    findings : mapping
        The findings.
    name : str
        The setting, planned or exploratory.
    table : bool
        Whether who was at risk is counted under the curves; without, it is a picture of another name.

    Returns
    -------
    Picture or None
        None when the block has no levels: there is a reason instead.
    """
    planned = name in findings["headline"]
    block = findings["life"][name] if planned else findings["life"]["more"][name]
    if not block.get("levels"):
        return None
    said = curves_answer(findings, name) if planned else exploratory_answer(findings, name)
    levels = block["levels"]
    subtitle = f"Share of belts not failed after each run, by {wording(findings, name).noun} ({_stand_behind(levels)})."
    if name == "tension":
        subtitle += _cuts(findings)
    oldest = max(curve["age"][-1] for curve in levels.values())
    placed = {level: (place, curve) for place, (level, curve) in enumerate(levels.items())}
    drawn = curves_drawn(placed, oldest, table=table)
    return Picture(name if table else f"{name}_bare", said.title, subtitle, _note(findings, levels, table), *drawn)


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
    return Picture(
        "overall",
        title,
        subtitle,
        _note(findings, {"all belts": curve}),
        *curves_drawn({"all": (0, curve)}, curve["age"][-1]),
    )


def _stand_behind(levels: Mapping[str, Plain]) -> str:
    counts = (f"{name}: {counted(curve['belts'], 'belt')}, {curve['failed']} failed" for name, curve in levels.items())
    return "; ".join(counts)


def _cuts(findings: Plain) -> str:
    cuts = findings["settings"].get("tension_cuts_n")
    return f" Low ends at {cuts[0]:,.0f} N, middle at {cuts[1]:,.0f} N." if cuts else ""


def _note(findings: Plain, levels: Mapping[str, Plain], table: bool = True) -> str:
    """Say how to read the marks, and whatever is unusual in this picture."""
    left = [count for curve in levels.values() for count in shown(curve)["censored_at"]]
    moved = ", or moved to another setting" if len(levels) > 1 else ""
    least = numbered_from(levels.values())
    number = f"; a number where {least} or more share one" if max(left) >= least and len(levels) <= PER_PANEL else ""
    rises = any(later > earlier for curve in levels.values() for earlier, later in pairwise(curve["at_risk"]))
    none = [name for name, curve in levels.items() if not curve["failed"]]
    parts = {
        f"Bands: {confidence_words(findings['settings']['confidence'])}, point by point.": any(
            map(band, levels.values())
        ),
        "Dots: failures.": any(any(shown(curve)["failed_at"]) for curve in levels.values()),
        f"Ticks: belts still running or taken off early{moved}{number}.": any(left),
        "Table: belts that made that run (failed so far).": table,
        "Belts that came used, or changed setting, join at their age, so a count can rise.": rises and table,
        f"No belt failed: {listed(none)}; its band says how low its line may yet be.": none,
    }
    later = [_later(name, said) for name, curve in levels.items() if (said := shown(curve)).get("from", 1) > 1]
    return noted(findings, *(text for text, holds in parts.items() if holds), *later)


def _later(name: str, later: Plain) -> str:
    """Say that a curve is the life of a belt that starts a later run."""
    bare = "" if "lower" in later else ", and it has no band"
    text = f"{name}: life of a belt that starts run {later['from']}, for too few ran before it{bare}."
    return f"{text[:1].upper()}{text[1:]}"


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
    block = findings["headline"].get(name, {}).get("lives") or findings.get("standardised", {}).get(name, {})
    if not block.get("levels"):
        return None
    words = wording(findings, name)
    curves = {level: (list(words.phrases).index(level), curve) for level, curve in block["levels"].items()}
    others = [head.get("lives", {}) for head in findings["headline"].values()] + [*findings["standardised"].values()]
    horizons = [other["horizon_runs"] for other in others if other.get("levels")]
    levels = listed([f"all {words.phrase(level)}" for level in block["levels"]])
    subtitle = (
        f"The same {counted(block['belts'], 'belt')} once {levels}: share not failed after each run, each belt on its "
        "car and with the other settings of its first run."
    )
    banded = all(None not in curve["lower"] for curve in block["levels"].values())
    bands = f"Bands: {confidence_words(findings['settings']['confidence'])}, point by point." if banded else ""
    note = noted(findings, bands, _replicates_words(block))
    drawn = curves_drawn(curves, max(horizons), table=False)
    return Picture(f"standardised_{name}", _title(findings, name), subtitle, note, *drawn)


def _replicates_words(block: Plain) -> str:
    """Say how the limits were drawn, how many draws gave none, and why there are none if so."""
    text = f"Limits from {block['replicates']} draws of belts"
    if block["replicates_lost"]:
        text += f", of which {block['replicates_lost']} had no estimate and were left out"
    why = next((pair["reason"] for pair in block["mean_difference"].values() if pair.get("reason")), None)
    return f"{text}; no limits are given, for {why}." if why else f"{text}."


def _title(findings: Plain, name: str) -> str:
    if findings["headline"].get(name, {}).get("basis") == "standardised":
        return levels_answer(findings, name).title
    noun = wording(findings, name).noun
    return f"For {noun} the same belts once all at each level: no limits can be given, so no answer."
