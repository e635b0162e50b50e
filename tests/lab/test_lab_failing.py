"""Workbook 04's own calls: causes under controls, and the inspection card."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from drivekit import lab


def test_causes_are_drawn_by_the_setting_and_the_failures_chosen(studied: Any) -> None:
    drawing = lab.causes_drawing(studied, "edge grease", ("tooth-jump", "edge-split"))
    assert drawing.picture is not None
    assert "curve:none:edge-split" in str(drawing.picture)
    assert "tooth-loss" not in str(drawing.picture)
    assert any("split at an edge" in said for said in drawing.sentences)


def test_the_card_holds_a_row_for_each_thing_seen_or_says_that_none_was(studied: Any) -> None:
    assert str(lab.inspection_card(studied)) == "The log says of no belt that failed how it looked."
    signs = {
        "break_look": {"ragged": {"failed": 3, "causes": {"tooth-loss": {"count": 3, "lower": 0.4, "upper": 1.0}}}}
    }
    seen = replace(studied, findings={**studied.findings, "signs": signs})
    assert "break: ragged | 3 | 3 lost teeth (40 to 100" in str(lab.inspection_card(seen))


def test_each_part_of_workbook_04_is_said(studied: Any) -> None:
    for what in ("causes by idler", "law", "incidents", "taken off early"):
        assert all(sentence.endswith(".") for sentence in lab.said(studied, what))
