"""Workbook 04's own calls: causes under controls, and the inspection card."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from drivekit import lab


def test_causes_are_drawn_by_the_setting_and_the_failures_chosen(studied: Any, control: Any) -> None:
    box = lab.causes_controls(studied)
    control(box, "Setting compared").value = "edge grease"
    control(box, "Failures that count").value = ("tooth-jump", "edge-split")
    drawing = box.drawing
    assert drawing.picture is not None
    assert "curve:none:edge-split" in str(drawing.picture)
    assert "tooth-loss" not in str(drawing.picture)
    assert any("split at an edge" in said for said in drawing.sentences)


def test_the_card_holds_a_row_for_each_look_with_what_becomes_of_the_belt_and_what_was_behind_it(studied: Any) -> None:
    ragged = {"ragged": {"failed": 3, "causes": {"tooth-loss": {"count": 3, "lower": 0.4, "upper": 1.0}}}}
    seen = replace(studied, findings={**studied.findings, "signs": {**studied.findings["signs"], "break_look": ragged}})
    said = str(lab.inspection_card(seen))
    assert "Broken | Break: ragged | 3 failed so: 3 lost teeth (40 to 100\N{NO-BREAK SPACE}%)." in said
    assert "Off at once, and given no odds | Surface: oiled | An oiled belt is not cleaned and run. | The log" in said


def test_each_part_of_workbook_04_is_said(studied: Any) -> None:
    for what in ("causes by idler", "law", "incidents", "taken off early"):
        assert all(sentence.endswith(".") for sentence in lab.said(studied, what))
