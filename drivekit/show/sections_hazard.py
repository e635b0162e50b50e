"""Parts of the page that come from the hazard study; each takes findings and pictures and gives HTML, or nothing."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from drivekit.show.embed import drawings
from drivekit.show.hazard_words import (
    FITS,
    agreement_words,
    bends,
    drift_words,
    failures_words,
    influence_words,
    interaction_words,
    risk_words,
    robust_words,
    surprise_words,
    tension_words,
    term_words,
    unrecorded_words,
)
from drivekit.show.phrases import decimal, listed
from drivekit.show.picture import Picture
from drivekit.show.ratios import TENSION, leading, ratio_of, ratio_said, term_name
from drivekit.show.sections import answering
from drivekit.show.spoken import setting
from drivekit.show.tables import bullets, paragraph, part, table

__all__ = ["at_once", "checks_list", "methods_table", "same_belts", "tension"]

Plain = Mapping[str, Any]
Pictures = Mapping[str, Picture]


def at_once(findings: Plain, drawn: Pictures) -> str:
    """Set the forest, what each term says, how it moves with the method, and how the fit sits on its data."""
    hazard = findings["hazard"]
    if "reason" in hazard:
        return paragraph(f"The settings cannot be studied all at once: {hazard['reason']}.")
    parts = [
        paragraph(" ".join(failures_words(hazard))),
        drawings(drawn["forest"]),
        bullets(term_words(findings)),
        part("When the method is another", methods_table(findings)),
        part("How the fit sits on its data", bullets(checks_list(findings))),
    ]
    if strong := unrecorded_words(findings):
        parts.append(part("How strong an unrecorded cause would have to be", bullets(strong)))
    parts.append(paragraph(interaction_words(hazard), "exploratory"))
    return "".join(parts)


def methods_table(findings: Plain) -> str:
    """Set every term's ratio by every method; tension only where it does not bend."""
    rows, hazard = [], findings["hazard"]
    for term in hazard["terms"]:
        if term == TENSION and bends(findings):
            continue
        ratios = [hazard["terms"][term]["hr"]]
        ratios += [ratio_of(term, hazard["sensitivity"][name].get(term, {})).hr for name in FITS]
        rows.append([term_name(hazard, term), *("cannot tell" if r is None else decimal(r, 2) for r in ratios)])
    caption = "Failures a run as a multiple: 1 is no difference, below 1 fewer"
    return table(["", "as it stands", *FITS.values()], rows, caption)


def checks_list(findings: Plain) -> tuple[str, ...]:
    """Say each check in one sentence."""
    hazard = findings["hazard"]
    return (
        drift_words(hazard),
        influence_words(hazard),
        surprise_words(hazard),
        risk_words(hazard),
        agreement_words(hazard, findings["settings"]["confidence"]),
        robust_words(hazard),
    )


def tension(findings: Plain, drawn: Pictures) -> str:
    """Set tension as a curve, and what its straight line says where it does not bend."""
    picture = drawn.get("tension_curve")
    said = paragraph(tension_words(findings))
    if picture is None:
        return said
    beside = answering(findings, drawn, "tension") is picture
    line = ""
    if not bends(findings):
        hazard, confidence = findings["hazard"], findings["settings"]["confidence"]
        line = paragraph(ratio_said(hazard, leading(hazard, TENSION), confidence))
    return said + line + drawings(picture, again=beside)


def same_belts(findings: Plain, drawn: Pictures) -> str:
    """Set the standardised answers: what the same belts would make once all at each level."""
    parts = []
    for name, block in findings["standardised"].items():
        words = setting(name)
        if "reason" in block:
            said = f"No answer with the other settings alike: {block['reason'].rstrip('.')}."
            parts.append(part(words.title, paragraph(said)))
            continue
        picture = drawn[f"standardised_{name}"]
        beside = answering(findings, drawn, name) is picture
        each = listed([f"{decimal(curve['mean'])} {words.phrase(level)}" for level, curve in block["levels"].items()])
        means = paragraph(f"Runs that these belts make out of their first {block['horizon_runs']}: {each}.")
        figure = drawings(picture, again=beside)
        said = "" if beside else paragraph(picture.title)
        parts.append(part(words.title, said, figure, means))
    return "".join(parts)
