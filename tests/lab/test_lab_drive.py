"""A drive's set-up in a workbook: words and tables from the set-up, and controls that each change what is drawn."""

from __future__ import annotations

import io
import math
from dataclasses import replace
from html import escape
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from pypdf import PdfReader

from drivekit import lab
from drivekit.cautions import CAUTIONS
from drivekit.drive.drive_file import read_drive
from drivekit.drive.path import belt_path
from drivekit.drive.set_up import SetUp
from drivekit.drive.set_up import set_up as computed
from drivekit.faults import Unusable
from drivekit.lab.drive_set_up import as_filed, by_hand, moved, turned
from drivekit.show.drive_page import drive_page

DRIVES = Path(__file__).parents[2] / "data" / "drives"
TOOTHED = DRIVES / "toothed-inside.toml"
SAME: dict[str, Any] = {"set_n": 8300.0, "growth_mm": 0.79, "power": 100.0, "rpm": 7000.0}


@pytest.fixture(scope="module")
def found() -> SetUp:
    return lab.set_up(str(TOOTHED))


@pytest.fixture(scope="module")
def worked() -> SetUp:
    return lab.set_up(str(DRIVES / "worked-example.toml"))


def a_study(judged: str, **run: object) -> Any:
    curve = {"run_n": run, "often_n": [6000.0, 10000.0]}
    return SimpleNamespace(findings={"tension_curve": curve, "claims": {"tension": {"best": judged}}})


def test_the_set_up_is_that_of_the_drive_file(found: SetUp) -> None:
    assert str(found) == str(computed(read_drive(TOOTHED)))


def test_a_file_that_is_not_there_is_one_sentence() -> None:
    with pytest.raises(Unusable, match=r"^There is no drive file nowhere\.toml\.$"):
        lab.set_up("nowhere.toml")


def test_cautions_are_the_project_s_own() -> None:
    assert str(lab.cautions()) == "\n".join(CAUTIONS)


def test_best_tension_of_a_season_stands_beside_the_least_or_says_why_not(found: SetUp) -> None:
    known = a_study("best", estimate=8200.0, lower=7400.0, upper=9100.0)
    beside = lab.set_up(str(TOOTHED), known)
    said = str(lab.best_tension(beside, known))
    assert (
        said
        == f"{found.guide}"[:-1] + ". Belts lasted best near 8,200 N (1,843 lbf) (7,400 to 9,100 N): above that least."
    )
    untold = a_study("too few", estimate=8200.0, lower=6000.0, upper=10000.0)
    assert str(lab.best_tension(lab.set_up(str(TOOTHED), untold), untold)).splitlines() == [
        str(found.guide),
        "Too few belts to tell which tensions are better: none that was often run is told from the best.",
    ]
    absent: Any = SimpleNamespace(
        findings={
            "tension_curve": {"reason": "the log has no tension_n column"},
            "settings": {"confidence": 0.95},
            "claims": {"tension": {"reason": "the log has no tension_n column"}},
        }
    )
    assert str(lab.set_up(str(TOOTHED), absent).guide) == str(found.guide)
    assert "no tension_n column" in str(lab.best_tension(found, absent))


def test_what_needs_a_second_look_is_said_and_else_that_nothing_does(found: SetUp, worked: SetUp) -> None:
    assert str(lab.drive_words(found)).splitlines()[1:] == list(found.warnings)
    assert found.warnings
    calm = replace(found, stack=None)
    assert str(lab.drive_words(calm)).splitlines()[1:] == ["Nothing in it asks for a second look."]
    assert "an invented drive of 3 pulleys and a belt of 130 teeth" in str(lab.drive_words(found))


def test_every_heading_of_the_set_up_can_be_asked_for(found: SetUp) -> None:
    for heading, sentences in found.sentences():
        assert str(lab.drive_said(found, heading)) == "\n".join(sentences)
    with pytest.raises(ValueError, match='nothing under "Speed"; it has Goes slack, Tension, Growth'):
        lab.drive_said(found, "Speed")


def test_tables_of_the_workbook_are_those_of_the_page(found: SetUp) -> None:
    page = drive_page(found)
    assert lab.spans(found).html in page
    assert lab.pulleys(found).html in page


def test_the_order_of_work_holds_every_step_and_its_number(found: SetUp) -> None:
    said = str(lab.order_of_work(found))
    assert "4. Belt on, tension | Never levered over a rim. Cold, at rest, same tooth at the mark" in said
    assert "8,300 N (1,866 lbf) a span: 94.3 Hz as a string" in said
    assert said.count("\n") >= 12


def test_both_cards_are_written_for_both_papers(found: SetUp, tmp_path: Path) -> None:
    said = lab.cards(found, str(tmp_path / "cards"))
    assert str(said) == (
        "set-up-card.pdf, set-up-card-letter.pdf, record-card.pdf and record-card-letter.pdf are written to "
        f"{tmp_path / 'cards'}."
    )
    pages = {file.name: PdfReader(io.BytesIO(file.read_bytes())).pages for file in (tmp_path / "cards").iterdir()}
    assert {name: (len(of), round(of[0].mediabox.height)) for name, of in pages.items()} == {
        "set-up-card.pdf": (1, 842),
        "set-up-card-letter.pdf": (1, 792),
        "record-card.pdf": (2, 842),
        "record-card-letter.pdf": (2, 792),
    }


def test_a_control_moved_and_put_back_changes_nothing(found: SetUp) -> None:
    panel = lab.drive_controls(found)
    shown = panel.shown
    for control in panel.widgets.values():
        start = control.value
        control.value = control.min + control.step if hasattr(control, "step") else control.options[-1]
        moved_to = shown.value
        control.value = start
        assert shown.value != moved_to, control.description
        assert escape(str(found.guide)) in shown.value, control.description
        assert escape(str(found.margin)) in shown.value, control.description


def test_growth_moved_moves_its_range_and_the_answer(found: SetUp) -> None:
    layout = as_filed(found)
    more = computed(moved(layout, **{**SAME, "growth_mm": found.growth.engine_m[1] * 1e3 + 0.1}))
    assert more.growth.engine_m == pytest.approx([one + 1e-4 for one in found.growth.engine_m])


def test_nothing_moved_is_the_drive_of_the_file(found: SetUp) -> None:
    filed, layout = as_filed(found), read_drive(TOOTHED)
    assert filed.pulleys[1].x_m == pytest.approx(layout.pulleys[1].x_m, abs=1e-12)
    assert filed.slide is not None
    assert layout.slide is not None
    assert filed.slide.most_m == pytest.approx(layout.slide.most_m, abs=1e-12)
    again = computed(moved(layout, **{**SAME, "growth_mm": found.growth.engine_m[1] * 1e3}))
    assert again.states == found.states
    assert str(again.slack) == str(found.slack)


@pytest.mark.parametrize(
    ("change", "what"),
    [
        ({"set_n": 9300.0}, lambda one: one.states[2].tensions.slack_n - 2489),
        ({"growth_mm": 1.29}, lambda one: one.growth.tension_n[1]),
        ({"power": 150.0}, lambda one: one.states[2].tensions.effective_n),
        ({"rpm": 7500.0}, lambda one: one.states[2].tensions.speed_m_per_s),
        ({"teeth": 128}, lambda one: one.seat.travel_m),
        ({"face": "smooth"}, lambda one: one.path.arcs[1].teeth_in_mesh),
    ],
)
def test_each_control_moves_its_own_number(change: dict[str, Any], what: Any) -> None:
    layout = read_drive(TOOTHED)
    one, other = computed(moved(layout, **SAME)), computed(moved(layout, **SAME | change))
    assert what(one) != what(other)


def test_half_as_much_power_again_pulls_half_as_much_again() -> None:
    layout = read_drive(TOOTHED)
    one, other = (computed(moved(layout, **SAME | {"power": power})).states[2] for power in (100.0, 150.0))
    assert other.tensions.effective_n == pytest.approx(1.5 * one.tensions.effective_n)


def test_another_face_keeps_the_path_of_the_idler() -> None:
    layout = read_drive(TOOTHED)
    toothed, smooth = (computed(moved(layout, **SAME, face=face)) for face in ("toothed", "smooth"))
    assert smooth.path.length_m == pytest.approx(toothed.path.length_m, rel=1e-12)
    assert smooth.duty.tip_pressure_pa is not None
    assert toothed.duty.tip_pressure_pa is None


def test_a_turn_of_the_adjusters_gains_what_the_set_up_says(found: SetUp) -> None:
    assert found.gain is not None
    assert found.seat is not None
    a_little = turned(found, 0.01)
    gained = a_little.layout.tension.set_n - found.layout.tension.set_n
    assert gained == pytest.approx(0.01 * found.gain.per_turn_n, rel=0.01)
    assert a_little.seat is not None
    assert a_little.seat.travel_m == pytest.approx(found.seat.travel_m + 0.01 * found.gain.travel_per_turn_m, abs=1e-9)
    assert turned(found, 0.0).layout.tension.set_n == pytest.approx(8300, abs=0.01)


def test_adjusters_backed_off_too_far_leave_the_belt_loose(found: SetUp) -> None:
    with pytest.raises(
        ValueError, match=r"^The belt hangs loose there: its path is \d\.\d\d mm shorter than the belt$"
    ):
        turned(found, -2.9)


def test_controls_start_at_the_drive_and_each_move_draws_anew(found: SetUp) -> None:
    panel = lab.drive_controls(found)
    controls, shown = panel.widgets, panel.shown
    assert controls["Static tension, N"].value == 8300
    assert controls["Teeth of the belt"].value == 130
    controls["Static tension, N"].value = 5000
    assert "<svg" in shown.value
    assert "At full load the belt is slack: a tooth can jump." in shown.value
    slack = shown.value
    controls["Idler"].value = "smooth"
    assert shown.value != slack


def test_an_outside_idler_has_no_other_face_to_try() -> None:
    outside = lab.set_up(str(DRIVES / "idler-outside.toml"))
    assert "Idler" not in lab.drive_controls(outside).widgets


def test_a_refused_move_is_one_sentence_in_place_of_the_drawing(found: SetUp) -> None:
    panel = lab.adjuster_controls(found)
    assert not isinstance(panel, lab.Words)
    (control,) = panel.widgets.values()
    control.value = control.min
    assert panel.shown.value.startswith("<p>The belt hangs loose there:")
    control.value = 1.0
    assert "<svg" in panel.shown.value


def test_a_drive_without_adjusters_says_so(found: SetUp) -> None:
    assert str(lab.adjuster_controls(replace(found, gain=None))) == (
        "This drive has no adjusters on a slide to be turned."
    )


def test_every_result_of_the_worked_example_is_its_sum_on_paper(worked: SetUp) -> None:
    for what, total, value, _ in by_hand(worked):
        python = total.replace(" x ", " * ").replace("^", "**")
        given = eval(python, {"__builtins__": {}}, {"pi": math.pi, "sqrt": math.sqrt, "asin": math.asin})
        assert value == pytest.approx(given, rel=2e-6), what
    table = str(lab.worked_example())
    assert all(f"{what} | {total} | " in table for what, total, _, _ in by_hand(worked))


def test_the_path_picture_is_that_of_the_set_up(found: SetUp) -> None:
    assert f"path {belt_path(found.layout).length_m * 1e3:.1f} mm" in lab.belt_path_picture(found).subtitle


def test_a_fixed_drive_is_not_moved_to_a_tension_its_path_does_not_give(worked: SetUp) -> None:
    pulleys = tuple(replace(one, mount="fixed") for one in worked.layout.pulleys)
    fixed = computed(replace(worked.layout, pulleys=pulleys, slide=None, adjusters=None))
    panel = lab.drive_controls(fixed)
    start = panel.shown.value
    panel.widgets["Static tension, N"].value = 7500.0
    assert (
        "would carry 5,000 N (1,124 lbf), not the 7,500 N set, on a path of 1708.32 mm." in panel.drawing.sentences[0]
    )
    panel.widgets["Static tension, N"].value = 5000.0
    assert panel.shown.value == start
