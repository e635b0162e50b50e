"""Workbook 04: causes by another setting or other failures, and the inspection card."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

from drivekit.lab.season_study import Study, Table, own_drawing
from drivekit.show.controls import Drawing, Panel
from drivekit.show.endings import causes_by_picture
from drivekit.show.failing import by_setting_words
from drivekit.show.markup import table
from drivekit.show.sheet import inspection_rows
from drivekit.study.failing import causes_by_block

__all__ = ["causes_controls", "causes_drawing", "inspection_card"]


def causes_drawing(study: Study, said: str, failures: tuple[str, ...]) -> Drawing:
    """Draw and say how often belts fail of each cause, by a setting named by its label, where these causes count."""
    comparison = study.recorded[said]
    asked = replace(study.asked, settings=replace(study.settings, failures=tuple(failures)))
    findings = study.findings | {"causes_by": {comparison.name: causes_by_block(asked, comparison)}}
    return Drawing(causes_by_picture(findings, comparison.name), tuple(by_setting_words(findings, comparison.name)))


def causes_controls(study: Study) -> Panel:
    """Lay out a choice of setting and of the failures that count; picture and answer follow."""
    controls = {name: study.controls[name] for name in ("said", "failures")}
    return Panel(controls, partial(causes_drawing, study), own_drawing(study, "causes_by", "causes by idler"))


def inspection_card(study: Study) -> Table:
    """Set each look beside what becomes of the belt and what was behind it, as on the card that a study writes."""
    rows = [(row.part, row.label, row.hint, row.number) for row in inspection_rows(study.findings)]
    return Table(table(("the belt is", "seen", "mind", "this log's belts that failed"), rows))
