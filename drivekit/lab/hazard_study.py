"""Workbook 03: the controls under which the hazard, and tension as a curve, are fitted anew; the table of methods."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

from drivekit.lab.season_study import Study, Table, Words, own_drawing, refused
from drivekit.show import hazard_words
from drivekit.show.controls import Control, Drawing, Panel
from drivekit.show.forest import forest_picture
from drivekit.show.hazard_pictures import CURVES, tension_picture
from drivekit.show.markup import table
from drivekit.study.calibration import calibration_rows
from drivekit.study.hazard_fit import FORMS, HazardInput, hazard_block, tension_curve_block

__all__ = [
    "calibration_table",
    "chosen_drawing",
    "hazard_controls",
    "methods_table",
    "tension_controls",
    "tension_drawing",
]

EACH_CAR, ALL_ALIKE = "within each car", "over all cars"


def calibration_table() -> Table:
    """Set how often the intervals held and a claim was wrong, of 100 seasons each, drawn from a known truth."""
    return Table(table(*calibration_rows()))


def methods_table(study: Study) -> Table | Words:
    """Set every term's ratio by every method."""
    return refused(study.findings) or Table(table(*hazard_words.methods_table(study.findings)))


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


def chosen_drawing(
    study: Study, settings: tuple[str, ...], cars: str, failures: tuple[str, ...], form: str = "line"
) -> Drawing:
    """Fit and draw what was chosen.

    Settings go by their labels ("belt tension"), cars by `EACH_CAR` or `ALL_ALIKE`, failures by their causes, and
    tension enters in one of `FORMS`.
    """
    block = hazard_block(_fit(study, settings, cars, failures, form))
    if "reason" in block:
        raise ValueError(str(block["reason"]))
    findings = study.findings | {"hazard": block, "tension_curve": {}, "claims": {}}
    said = (*hazard_words.failures_words(block), *hazard_words.term_words(findings))
    return Drawing(forest_picture(findings), said)


def tension_drawing(
    study: Study, form: str, settings: tuple[str, ...], cars: str, failures: tuple[str, ...]
) -> Drawing:
    """Fit tension as a curve beside the other settings that were chosen, and draw it in a form of `CURVES`."""
    fit = _fit(study, (*settings, _fitted(study)["tension"]), cars, failures)
    curve = tension_curve_block(fit)
    if "reason" in curve:
        raise ValueError(str(curve["reason"]))
    findings = study.findings | {"hazard": {"failed": fit.study.failed}, "tension_curve": curve, "claims": {}}
    key = next(key for key, said in CURVES.items() if said == form)
    if key not in curve["forms"]:
        raise ValueError("too few failures tell the knots of a spline apart")
    return Drawing(tension_picture(findings, key), (hazard_words.tension_words(findings),))


def hazard_controls(study: Study) -> Panel:
    """Lay controls under which the hazard is fitted anew: settings in the model, cars, failures, form of tension."""
    labels = _fitted(study)
    settings, tension = tuple(labels.values()), labels.get("tension")
    controls = {
        "settings": Control("several", "Settings in the model", settings, settings),
        "form": Control("choice", "Tension enters as", FORMS, only=("settings", tension)),
        **_common(study),
    }
    return Panel(controls, partial(chosen_drawing, study), own_drawing(study, "forest", "terms"))


def tension_controls(study: Study) -> Panel | Words:
    """Lay controls under which the curve of tension is fitted anew; the reason where the log has no tension."""
    labels = _fitted(study)
    if "tension" not in labels:
        return Words(("The log does not record belt tension.",))
    others = tuple(said for name, said in labels.items() if name != "tension")
    controls = {
        "form": Control("choice", "Shape drawn with its limits", tuple(CURVES.values())),
        "settings": Control("several", "Other settings in the model", others, others),
        **_common(study),
    }
    return Panel(controls, partial(tension_drawing, study), own_drawing(study, "tension_curve", "tension"))


def _fitted(study: Study) -> dict[str, str]:
    """Give the settings of the hazard fit whose column the log has, label by name."""
    return {one.name: said for said, one in study.recorded.items() if one.fitted}


def _common(study: Study) -> dict[str, Control]:
    return {
        "cars": Control("choice", "Belts are compared", (EACH_CAR, ALL_ALIKE)),
        "failures": study.controls["failures"],
    }
