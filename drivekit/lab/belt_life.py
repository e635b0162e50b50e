"""Workbook 00 and 02: the tests behind the answers, and the controls under which curves and answers are drawn anew."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from drivekit.lab.season_study import ALL_CARS, Study, Table, answer_picture, sentence
from drivekit.show.controls import Control, Drawing, Panel
from drivekit.show.curves import comparison_picture
from drivekit.show.markup import table
from drivekit.show.paper import Picture
from drivekit.study.comparisons import Comparison
from drivekit.study.findings import one_comparison
from drivekit.study.study_input import Settings, StudyInput

__all__ = ["comparison_drawing", "curves_controls", "question_controls", "tests_table"]

N_PER_KN = 1000
FOOTING = (
    "These are the curves of the runs chosen here; the answer of workbook 00 holds car and other settings alike and "
    "asks all runs, over a horizon of its own, so its number is another."
)
CONFIDENCES = (0.8, 0.9, 0.95, 0.99)


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
        block = life[comparison.name] if comparison.planned else life["more"][comparison.name]
        test = block.get("logrank", block)
        if "reason" in test:
            rows.append((comparison.said, test["reason"], "", "", "", ""))
            continue
        chances = (test["p"], test["p_holm"], test["p_exact"])
        said = ("" if chance is None else f"{chance:.3f}" for chance in chances)
        rows.append((comparison.said, f"{test['chi2']:.2f}", str(test["dof"]), *said))
    head = ("setting", "log-rank statistic", "degrees of freedom", "chance", "after Holm", "chance, exact")
    return Table(
        table(
            head,
            rows,
            "How often chance alone would part the curves at least so far, cars and other settings as they fell",
        )
    )


def comparison_drawing(study: Study, comparison: Comparison, car: str, settings: Settings) -> Drawing:
    """Draw and answer one comparison under other settings, on one car's runs or those of `ALL_CARS`."""
    name, asked = comparison.name, study.runs_of_car(car, settings)
    same = car == ALL_CARS and _choices(asked) == _choices(study.asked)
    # under its own choices the study has asked already, and its claims hold
    findings = study.findings if same else one_comparison(study.season, asked, comparison)
    said = sentence(findings, name, curves=same)
    return Drawing(comparison_picture(findings, name), (said, *((FOOTING,) if comparison.planned else ())))


def _choices(asked: StudyInput) -> tuple[Any, ...]:
    """Give what was chosen or followed from the log, to tell whether two inputs ask the same."""
    settings = asked.settings
    return asked.horizon, asked.tension_cuts, tuple(settings.failures), settings.confidence


def curves_controls(study: Study) -> Panel:
    """Lay controls under which the comparison is drawn and answered anew at each move."""
    asked = study.asked
    settings, table, cuts_n = asked.settings, asked.table, asked.tension_cuts
    shown = study.recorded
    tension = next((said for said, one in shown.items() if one.column == "tension_n"), None)
    oldest = max(int(table["age"].max(initial=1)), asked.horizon or 1)
    confidences = tuple(sorted({*CONFIDENCES, settings.confidence}))
    controls = {
        **study.controls,
        "horizon": Control("whole", "Horizon, runs", (1, oldest), asked.horizon or 1),
        "confidence": Control("choice", "Confidence", confidences, settings.confidence),
    }
    start_kn = None if cuts_n is None else (cuts_n[0] / N_PER_KN, cuts_n[1] / N_PER_KN)
    if start_kn is not None and start_kn[0] < start_kn[1] and "tension_n" in table:
        met_kn = np.append(table["tension_n"][~np.isnan(table["tension_n"])] / N_PER_KN, start_kn)
        ends_kn = float(np.floor(met_kn.min())), float(np.ceil(met_kn.max()))
        controls["cuts_kn"] = Control("range", "Tension cuts, kN", ends_kn, start_kn, only=("said", tension))

    def redraw(said: str, car: str, *, cuts_kn: tuple[float, float] | None = None, **chosen: Any) -> Drawing:
        cuts = settings.tension_cuts
        if cuts_kn is not None:
            # Cuts left alone stay the very numbers they were: a run on a cut must not change sides by rounding.
            cuts = cuts_n if cuts_kn == start_kn else (cuts_kn[0] * N_PER_KN, cuts_kn[1] * N_PER_KN)
        return comparison_drawing(study, shown[said], car, replace(settings, tension_cuts=cuts, **chosen))

    return Panel(controls, redraw)
