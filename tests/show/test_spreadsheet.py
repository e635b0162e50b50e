"""The findings as a spreadsheet, read back with the library people read spreadsheets with."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook

from drivekit.show.spreadsheet import spreadsheet
from tests.show.six_logs import demo_findings

DATA = Path(__file__).parents[2] / "data"


@pytest.fixture(scope="module")
def findings() -> dict[str, Any]:
    return demo_findings("season-two")


def rows(content: bytes, name: str) -> list[tuple[Any, ...]]:
    return list(load_workbook(io.BytesIO(content))[name].iter_rows(min_row=2, values_only=True))


def test_every_curve_stands_in_it_with_its_limits(findings: dict[str, Any]) -> None:
    found = rows(spreadsheet(findings), "curves")
    for setting, level, curve in (
        ("all belts", "all belts", findings["life"]["overall"]),
        ("idler", "toothed", findings["life"]["idler"]["levels"]["toothed"]),
        ("belt compound", "urethane", findings["life"]["more"]["compound"]["levels"]["urethane"]),
    ):
        mine = [row[2:] for row in found if row[:2] == (setting, level)]
        columns = ("age", "at_risk", "failed_at", "survival", "lower", "upper")
        for row, wanted in zip(mine, zip(*(curve[column] for column in columns), strict=True), strict=True):
            assert row == pytest.approx(wanted, abs=1e-14)


def test_every_cell_of_a_sheet_stands_under_a_heading(findings: dict[str, Any]) -> None:
    for sheet in load_workbook(io.BytesIO(spreadsheet(findings))):
        assert all(cell.value for cell in sheet[1])


def test_every_term_difference_and_cause_stands_in_it(findings: dict[str, Any]) -> None:
    content = spreadsheet(findings)
    hazard = findings["hazard"]["terms"]
    ratios = {row[0]: row[4] for row in rows(content, "hazard")}
    assert ratios == pytest.approx({name: term["hr"] for name, term in hazard.items()})
    idler = findings["life"]["idler"]["mean_difference"]["toothed minus smooth"]
    found = next(row for row in rows(content, "differences") if row[0] == "idler")
    assert found == (
        "idler",
        "toothed minus smooth",
        *(pytest.approx(idler[part]) for part in ("estimate", "se", "lower", "upper")),
        None,
    )
    assert len(rows(content, "causes")) == sum(len(cause["age"]) for cause in findings["causes"].values())
    head = findings["headline"]["idler"]
    answer = [head[part] for part in ("contrast", "horizon_runs", "estimate", "lower", "upper")]
    assert rows(content, "answers")[0][1:6] == pytest.approx(answer)


@pytest.mark.parametrize("sign", "=+-@")
def test_a_word_that_begins_like_a_formula_stays_a_word(findings: dict[str, Any], sign: str) -> None:
    typed = f"{sign}1+1"
    content = spreadsheet({**findings, "log": {**findings["log"], "name": typed, "invented": False}})
    cell = load_workbook(io.BytesIO(content))["about"]["B2"]
    assert (cell.value, cell.data_type) == (typed, "s")


def test_findings_that_could_not_be_had_say_why(findings: dict[str, Any]) -> None:
    none = {
        **findings,
        "hazard": {"reason": "no failure"},
        "life": {**findings["life"], "idler": {"reason": "one level"}},
    }
    content = spreadsheet(none)
    assert rows(content, "hazard")[0][-1] == "no failure"
    assert ("idler", None, None, None, None, None, "one level") in rows(content, "differences")


def test_the_same_findings_give_the_same_bytes(findings: dict[str, Any]) -> None:
    assert spreadsheet(findings) == spreadsheet(findings)
