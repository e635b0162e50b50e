"""Workbooks 00 and 02 to 04: the tables behind the answers, and a season drawn and answered anew under controls."""

from __future__ import annotations

from functools import partial
from typing import Any

import numpy as np

from drivekit.lab.season_study import ALL_CARS, Study, Table, Words, answer_picture, drawing, refused, sentence
from drivekit.show import hazard_words
from drivekit.show.controls import Control, Drawing, Panel
from drivekit.show.curves import comparison_picture
from drivekit.show.endings import causes_by_picture
from drivekit.show.failing import by_setting_words
from drivekit.show.hazard_pictures import CURVES, tension_picture
from drivekit.show.paper import Picture
from drivekit.show.sheet import inspection_rows
from drivekit.study.as_json import Block
from drivekit.study.calibration import ANSWERS, calibration_rows
from drivekit.study.comparisons import Comparison
from drivekit.study.failing import causes_by_block
from drivekit.study.findings import one_comparison
from drivekit.study.hazard_fit import FORMS, HazardInput, hazard_block, tension_curve_block

__all__ = [
    "calibration_table",
    "causes_controls",
    "curves_controls",
    "hazard_controls",
    "inspection_card",
    "methods_table",
    "question_controls",
    "tension_controls",
    "tests_table",
]

N_PER_KN = 1000
FOOTING = (
    "These are the curves of the runs chosen here; the answer of workbook 00 holds car and other settings alike and "
    "asks all runs, over a horizon of its own, so its number is another."
)
CONFIDENCES = (0.8, 0.9, 0.95, 0.99)
EACH_CAR, ALL_ALIKE = "within each car", "over all cars"
CARS = {"cars": Control("choice", "Belts are compared", (EACH_CAR, ALL_ALIKE))}


def question_controls(study: Study) -> Panel:
    """Lay out a choice of question; its picture and answer follow."""
    asked = {comparison.question: comparison.name for comparison in study.recorded.values()}

    def redraw(question: str) -> Drawing:
        drawn = answer_picture(study, asked[question])
        return Drawing(drawn if isinstance(drawn, Picture) else None, (sentence(study.findings, asked[question]),))

    return Panel({"question": Control("choice", "Question", tuple(asked))}, redraw)


def tests_table(study: Study) -> Table:
    """Set the tests behind the planned comparisons: statistic, and chances as computed, adjusted and exact."""
    rows: list[tuple[str, ...]] = []
    life = study.findings["life"]
    for comparison in study.comparisons:
        block = (life | life["more"])[comparison.name]
        test = block.get("logrank", block)
        if "reason" in test:
            rows.append((comparison.said, test["reason"], "", "", "", ""))
            continue
        chances = ("" if test[name] is None else f"{test[name]:.3f}" for name in ("p", "p_holm", "p_exact"))
        rows.append((comparison.said, f"{test['chi2']:.2f}", str(test["dof"]), *chances))
    head = ("setting", "log-rank statistic", "degrees of freedom", "chance", "after Holm", "chance, exact")
    caption = "How often chance alone would part the curves at least so far, cars and other settings as they fell"
    return Table((head, rows, caption))


def comparison_drawing(study: Study, comparison: Comparison, car: str = ALL_CARS, **settings: Any) -> Drawing:
    """Draw and answer one comparison under other settings, on one car's runs or those of `ALL_CARS`."""
    name, asked = comparison.name, study.asking(car, **settings)
    chosen, own = (
        (one.horizon, one.tension_cuts, tuple(one.settings.failures), one.settings.confidence)
        for one in (asked, study.asked)
    )
    same = car == ALL_CARS and chosen == own
    # under its own choices the study has asked already, and its claims hold
    findings = study.findings if same else one_comparison(study.season, asked, comparison)
    said = sentence(findings, name, curves=same)
    return Drawing(comparison_picture(findings, name), (said, *((FOOTING,) if comparison.planned else ())))


def curves_controls(study: Study) -> Panel:
    """Lay controls under which the comparison is drawn and answered anew at each move."""
    asked = study.asked
    settings, table, cuts_n = asked.settings, asked.table, asked.tension_cuts
    shown = study.recorded
    tension = next((said for said, one in shown.items() if one.column == "tension_n"), None)
    oldest = max(int(table["age"].max(initial=1)), asked.horizon or 1)
    confidences = tuple(sorted({*CONFIDENCES, settings.confidence}))
    controls = {
        **study.controls("said", "car", "failures"),
        "horizon": Control("whole", "Horizon, runs", (1, oldest), asked.horizon or 1),
        "confidence": Control("choice", "Confidence", confidences, settings.confidence),
    }
    start_kn = tuple(cut_n / N_PER_KN for cut_n in cuts_n or ())
    if len(set(start_kn)) == 2 and "tension_n" in table:
        met_kn = np.append(table["tension_n"][~np.isnan(table["tension_n"])] / N_PER_KN, start_kn)
        ends_kn = float(np.floor(met_kn.min())), float(np.ceil(met_kn.max()))
        controls["cuts_kn"] = Control("range", "Tension cuts, kN", ends_kn, start_kn, only=("said", tension))

    def redraw(said: str, car: str, *, cuts_kn: tuple[float, ...] = (), **chosen: Any) -> Drawing:
        if cuts_kn:
            # Cuts left alone stay the very numbers they were: a run on a cut must not change sides by rounding.
            moved = tuple(cut_kn * N_PER_KN for cut_kn in cuts_kn)
            chosen["tension_cuts"] = cuts_n if cuts_kn == start_kn else moved
        return comparison_drawing(study, shown[said], car, **chosen)

    return Panel(controls, redraw)


def calibration_table(of: str = ANSWERS) -> Table:
    """Set how often the answers held, or the decisions, of 100 seasons each, drawn from a known truth."""
    return Table(calibration_rows(of))


def methods_table(study: Study) -> Table | Words:
    """Set every term's ratio by every method."""
    return refused(study.findings) or Table(hazard_words.methods_table(study.findings))


def _fit(
    study: Study, settings: tuple[str, ...], cars: str, failures: tuple[str, ...], form: str = "line"
) -> HazardInput:
    """Ask of the season's runs under what was chosen, settings by their labels."""
    if not settings:
        raise ValueError("no setting is in the model; choose at least one")
    names = tuple(one.name for one in study.comparisons if one.said in settings)
    return HazardInput(study.asking(failures=failures), names, cars == EACH_CAR, form)


def tension_drawing(
    study: Study, form: str, settings: tuple[str, ...], cars: str, failures: tuple[str, ...]
) -> Drawing:
    """Fit tension as a curve beside the other settings that were chosen, and draw it in a form of `CURVES`."""
    fit = _fit(study, (*settings, _fitted(study)["tension"]), cars, failures)
    curve = _had(tension_curve_block(fit))
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
        **CARS,
        **study.controls("failures"),
    }

    def redraw(settings: tuple[str, ...], form: str, cars: str, failures: tuple[str, ...]) -> Drawing:
        block = _had(hazard_block(_fit(study, settings, cars, failures, form)))
        return drawing(study, "forest", "terms", hazard=block, tension_curve={}, claims={})

    return Panel(controls, redraw, drawing(study, "forest", "terms"))


def tension_controls(study: Study) -> Panel | Words:
    """Lay controls under which the curve of tension is fitted anew; the reason where the log has no tension."""
    labels = _fitted(study)
    if "tension" not in labels:
        return Words(("The log does not record belt tension.",))
    others = tuple(said for name, said in labels.items() if name != "tension")
    controls = {
        "form": Control("choice", "Shape drawn with its limits", tuple(CURVES.values())),
        "settings": Control("several", "Other settings in the model", others, others),
        **CARS,
        **study.controls("failures"),
    }
    return Panel(controls, partial(tension_drawing, study), drawing(study, "tension_curve", "tension"))


def _fitted(study: Study) -> dict[str, str]:
    """Give the settings of the hazard fit whose column the log has, label by name."""
    return {one.name: said for said, one in study.recorded.items() if one.fitted}


def _had(block: Block) -> Block:
    """Give a block, or refuse with the reason why there is none."""
    if "reason" in block:
        raise ValueError(str(block["reason"]))
    return block


def causes_controls(study: Study) -> Panel:
    """Lay out a choice of setting and of the failures that count; how often belts fail of each cause follows."""

    def redraw(said: str, failures: tuple[str, ...]) -> Drawing:
        comparison = study.recorded[said]
        block = causes_by_block(study.asking(failures=failures), comparison)
        findings = study.findings | {"causes_by": {comparison.name: block}}
        return Drawing(causes_by_picture(findings, comparison.name), tuple(by_setting_words(findings, comparison.name)))

    return Panel(study.controls("said", "failures"), redraw, drawing(study, "causes_by", "causes by idler"))


def inspection_card(study: Study) -> Table:
    """Set each look beside what becomes of the belt and what was behind it, as on the card that a study writes."""
    rows = [(row.part, row.label, row.hint, row.number) for row in inspection_rows(study.findings)]
    return Table((("the belt is", "seen", "mind", "this log's belts that failed"), rows))
