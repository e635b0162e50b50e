"""The hazard study for a workbook: forest, tension, standardised lives, checks, and controls that fit anew."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from drivekit.lab.study import Study, Table, Words, recorded
from drivekit.log.columns import CAUSES
from drivekit.show import hazard_words
from drivekit.show.checks import drift_picture, influence_picture, risk_picture, surprise_picture
from drivekit.show.controls import Control, Drawing, panel
from drivekit.show.curves import comparison_picture
from drivekit.show.forest import forest_picture, methods_picture
from drivekit.show.markup import table
from drivekit.show.paper import Picture
from drivekit.show.standardised import standardised_picture
from drivekit.show.tension_curve import CURVES, tension_picture
from drivekit.show.words import answer
from drivekit.study.as_json import Block
from drivekit.study.fit_answers import tension_curve_block
from drivekit.study.hazard_fit import FORMS, HazardInput, hazard_block

if TYPE_CHECKING:
    from ipywidgets import VBox

__all__ = [
    "alike",
    "check",
    "checks",
    "chosen_drawing",
    "forest",
    "hazard_controls",
    "interactions",
    "methods",
    "methods_table",
    "tension_controls",
    "tension_curve",
    "tension_drawing",
    "tension_words",
    "terms",
    "unrecorded",
]

EACH_CAR, ALL_ALIKE = "each car by itself", "all cars together"

CHECKS = {
    "drift": drift_picture,
    "surprise": surprise_picture,
    "influence": influence_picture,
    "risk": risk_picture,
}


def _refused(study: Study) -> Words | None:
    """Say why there is no hazard study, if there is none."""
    hazard = study.findings["hazard"]
    return Words((f"The settings cannot be studied all at once: {hazard['reason']}.",)) if "reason" in hazard else None


def _or_words(picture: Picture | None, otherwise: Words) -> Picture | Words:
    return otherwise if picture is None else picture


def forest(study: Study) -> Picture | Words:
    """Draw the hazard ratio of every term, or say why there is none."""
    return _refused(study) or _or_words(forest_picture(study.findings), Words(()))


def terms(study: Study) -> Words:
    """Say how many failures stand behind the terms, and each term in a sentence."""
    refused = _refused(study)
    if refused is not None:
        return refused
    return Words((*hazard_words.failures_words(study.findings["hazard"]), *hazard_words.term_words(study.findings)))


def methods(study: Study) -> Picture | Words:
    """Draw every term by every method."""
    nothing = Words(("No term has an answer by any method.",))
    return _refused(study) or _or_words(methods_picture(study.findings), nothing)


def methods_table(study: Study) -> Table | Words:
    """Set every term's ratio by every method."""
    return _refused(study) or Table(table(*hazard_words.methods_table(study.findings)))


def tension_curve(study: Study) -> Picture | Words:
    """Draw tension as a curve, or say why it cannot be drawn."""
    return _or_words(tension_picture(study.findings), tension_words(study))


def tension_words(study: Study) -> Words:
    """Say what the curve of tension tells, and of the line where it does not bend."""
    findings = study.findings
    return Words(tuple(filter(None, (hazard_words.tension_words(findings), hazard_words.tension_line_words(findings)))))


def alike(study: Study, name: str) -> Picture | Words:
    """Draw the picture of an answer: the same belts at each level, tension's curve where it bends, else plain curves.

    Parameters
    ----------
    study : Study
        The season, studied.
    name : str
        A planned setting: ``"idler"``, ``"tension"`` or ``"edge_lube"``.
    """
    findings = study.findings
    picture: Any = None
    if name == "tension" and hazard_words.tension_is_curved(findings):
        picture = tension_picture(findings)
    elif findings["headline"][name].get("basis") == "standardised":
        picture = standardised_picture(findings, name)
    picture = picture or comparison_picture(findings, name)
    return _or_words(picture, Words((str(answer(findings, name)),)))


def check(study: Study, name: str) -> Picture | Words:
    """Draw one check of the fit.

    Parameters
    ----------
    study : Study
        The season, studied.
    name : {"drift", "surprise", "influence", "risk"}
        What is checked.

    Raises
    ------
    ValueError
        If there is no such check.
    """
    if name not in CHECKS:
        raise ValueError(f'"{name}" is no check of the fit; the checks are {", ".join(CHECKS)}')
    nothing = Words(("This check cannot be drawn: no term has an estimate for it.",))
    return _refused(study) or _or_words(CHECKS[name](study.findings), nothing)


def checks(study: Study) -> Words:
    """Say each check in one sentence."""
    return _refused(study) or Words(hazard_words.checks_words(study.findings))


def unrecorded(study: Study) -> Words:
    """Say how strong an unrecorded cause would have to be."""
    nothing = ("No ratio is told that an unrecorded cause could explain away.",)
    return _refused(study) or Words(hazard_words.unrecorded_words(study.findings) or nothing)


def interactions(study: Study) -> Words:
    """Say what was looked at without a plan."""
    return _refused(study) or Words((hazard_words.interaction_words(study.findings),))


def _fit(
    study: Study, settings: tuple[str, ...], cars: str, failures: tuple[str, ...], form: str = "line"
) -> HazardInput:
    """Ask of the season's runs under what was chosen, settings by their labels.

    Raises
    ------
    ValueError
        If no setting or no failure was chosen; the message is one plain sentence.
    """
    if not settings:
        raise ValueError("no setting is in the model; choose at least one")
    asked = replace(study.asked, settings=replace(study.settings, failures=tuple(failures)))
    names = tuple(one.name for one in asked.comparisons if one.said in settings)
    return HazardInput(asked, names, cars == EACH_CAR, form)


def _part(study: Study, block: Block, curve: Block) -> Block:
    """Give the part of the findings that a picture of the fit is made from."""
    return {
        **{name: study.findings[name] for name in ("comparisons", "log", "settings")},
        "hazard": block,
        "tension_curve": curve,
    }


def chosen_drawing(
    study: Study, settings: tuple[str, ...], cars: str, failures: tuple[str, ...], form: str = "line"
) -> Drawing:
    """Fit and draw what was chosen.

    Parameters
    ----------
    study : Study
        The season.
    settings : tuple of str
        Settings by their labels: "belt tension".
    cars : str
        `EACH_CAR` or `ALL_ALIKE`.
    failures : tuple of str
        Causes that count as the belt's failure.
    form : {"line", "parabola", "spline"}
        How tension enters.
    """
    block = hazard_block(_fit(study, settings, cars, failures, form))
    if "reason" in block:
        raise ValueError(str(block["reason"]))
    findings = _part(study, block, {})
    said = (*hazard_words.failures_words(block), *hazard_words.term_words(findings))
    return Drawing(forest_picture(findings), said)


def hazard_controls(study: Study) -> VBox:
    """Lay controls under which the hazard is fitted anew: settings in the model, cars, failures, form of tension."""
    labels = tuple(_fitted(study).values())
    controls = {
        "settings": Control("several", "Settings in the model", labels, labels),
        "form": Control("choice", "Tension enters as", FORMS),
        **_common(study),
    }

    def redraw(**chosen: Any) -> Drawing:
        return chosen_drawing(study, **chosen)

    return panel(controls, redraw)


def _fitted(study: Study) -> dict[str, str]:
    """Give the settings of the hazard fit whose column the log has, label by name."""
    return {one.name: said for said, one in recorded(study).items() if one.fitted}


def _common(study: Study) -> dict[str, Control]:
    return {
        "cars": Control("choice", "Hazard of its own", (EACH_CAR, ALL_ALIKE)),
        "failures": Control("several", "Failures that count", CAUSES, study.settings.failures),
    }


def tension_drawing(
    study: Study, form: str, settings: tuple[str, ...], cars: str, failures: tuple[str, ...]
) -> Drawing:
    """Fit tension as a curve beside what was chosen, and draw it.

    Parameters
    ----------
    study : Study
        The season.
    form : str
        As the picture names it: curve, line or spline.
    settings : tuple of str
        Other settings kept in the model.
    cars, failures
        As in `chosen_drawing`.
    """
    fit = _fit(study, (*settings, _fitted(study)["tension"]), cars, failures)
    curve = tension_curve_block(fit)
    if "reason" in curve:
        raise ValueError(str(curve["reason"]))
    findings = _part(study, {"failed": fit.study.failed}, curve)
    key = next(key for key, said in CURVES.items() if said == form)
    if key not in curve["forms"]:
        raise ValueError("too few failures tell the knots of a spline apart")
    return Drawing(tension_picture(findings, key), (hazard_words.tension_words(findings),))


def tension_controls(study: Study) -> VBox | Words:
    """Lay controls under which the curve of tension is fitted anew; the reason where the log has no tension."""
    labels = _fitted(study)
    if "tension" not in labels:
        return Words(("The log does not record belt tension.",))
    others = tuple(said for name, said in labels.items() if name != "tension")
    controls = {
        "form": Control("choice", "Form with the band", tuple(CURVES.values())),
        "settings": Control("several", "Other settings kept", others, others),
        **_common(study),
    }

    def redraw(**chosen: Any) -> Drawing:
        return tension_drawing(study, **chosen)

    return panel(controls, redraw)
