"""Tracking in a workbook: the sign of a tilt, each car's readings, and whole flats to turn."""

from __future__ import annotations

import re
from dataclasses import replace
from math import cos, pi, radians
from pathlib import Path
from typing import Any

import pytest

from drivekit import lab
from drivekit.drive.entry import PHASES, UNSEEN, reading_words
from drivekit.drive.set_up import SetUp
from drivekit.lab.belt_tracking import _pushed, _turns
from drivekit.show.controls import Panel
from drivekit.show.paper import Picture
from drivekit.show.readings import cars_fits
from tests.show.six_logs import changed

DATA = Path(__file__).parents[2] / "data"
TURN = re.compile(r"the (\w+ (?:idler adjuster|jack screw)) \d+ flats? (?:in|out), from (\d+) to (\d+)")


def title(panel: Panel) -> str:
    assert panel.drawing.picture is not None
    return panel.drawing.picture.title


@pytest.fixture(scope="module")
def found() -> SetUp:
    return lab.set_up(str(DATA / "drives" / "toothed-inside.toml"))


@pytest.fixture(scope="module")
def study() -> lab.Study:
    return lab.study(str(DATA / "season-two"))


@pytest.mark.parametrize("drive", ["toothed-inside", "smooth-inside", "idler-outside", "worked-example"])
def test_more_screw_at_one_end_of_the_idler_sends_the_belt_to_the_other(drive: str) -> None:
    """The trade's rule, off the front wants more screw at the front, on every example drive."""
    found = lab.set_up(str(DATA / "drives" / f"{drive}.toml"))
    panel = lab.walk_controls(found)
    assert title(panel).endswith("sends the belt to the rear")
    panel.widgets["End that is turned further in"].value = "rear"
    assert title(panel).endswith("sends the belt to the front")
    first, second = str(lab.walk_words(found)).splitlines()
    assert first.startswith("More screw at the front. The belt walks to the rear")
    assert second.startswith("More screw at the rear. The belt walks to the front")
    assert all(unseen in first for unseen in UNSEEN)


def test_a_pulley_is_pushed_into_the_belt(found: SetUp) -> None:
    for place, load in enumerate(found.states[0].loads):
        push = _pushed(found, place)
        against = -(load.x_n * cos(push) + load.y_n * cos(push - pi / 2)) / load.force_n
        assert against > 0.9, load.pulley
    assert found.layout.slide is not None
    slide = replace(found.layout.slide, direction_rad=found.layout.slide.direction_rad + pi)
    backwards = replace(found, layout=replace(found.layout, slide=slide))
    assert cos(_pushed(backwards, 1) - _pushed(found, 1)) == pytest.approx(1)


def test_the_demo_s_readings_go_the_way_the_sign_says(found: SetUp, study: lab.Study) -> None:
    """More flats at the front send the belt to the rear, so that the rear edge runs hotter: every slope is below 0."""
    assert title(lab.walk_controls(found)).endswith("sends the belt to the rear")
    for fit in cars_fits(study.findings).values():
        assert fit.slope.upper is not None
        assert fit.slope.upper < 0


def test_every_control_of_the_sign_changes_the_drawing(found: SetUp) -> None:
    panel = lab.walk_controls(found)
    controls, shown = panel.widgets, panel.shown
    others = {
        "Pulley": "blower",
        "End that is turned further in": "rear",
        "Direction it leans": "across the slide",
        "That direction turned by, degrees": 40,
        "Wrap of the belt on it, % of the drive's": 150,
    }
    assert set(controls) == set(others)
    for name, value in others.items():
        start = controls[name].value
        controls[name].value = value
        moved = shown.value
        assert "<svg" in moved
        controls[name].value = start
        assert shown.value != moved, name


def test_the_readings_are_those_of_the_findings(study: lab.Study) -> None:
    fits = cars_fits(study.findings)
    assert list(fits) == list(study.findings["tracking"]) == ["amber", "teal", "violet"]
    for car, fit in fits.items():
        block = study.findings["tracking"][car]
        assert fit.block() == {name: value for name, value in block.items() if name != "readings"}
        picture = lab.picture(study, f"tracking_{car}")
        assert isinstance(picture, Picture)
        dots = picture.figure().findobj(lambda artist: artist.get_gid() == "spots:readings")
        assert len(dots[0].get_xydata()) == block["n"]
    panel = lab.readings_controls(study)
    assert not isinstance(panel, lab.Words)
    assert str(panel.drawing.picture) == str(lab.picture(study, "tracking_amber"))
    said = str(lab.readings_words(study)).splitlines()
    assert said[:3] == [f"{car.capitalize()}: {fit}" for car, fit in fits.items()]


def test_the_choice_of_car_draws_that_car(study: lab.Study) -> None:
    panel = lab.readings_controls(study)
    assert not isinstance(panel, lab.Words)
    shown, (car, wanted_c) = panel.shown, panel.widgets.values()
    car.value = "violet"
    assert str(cars_fits(study.findings)["violet"].move) in shown.value.replace("&#x27;", "'")
    wanted_c.value = -3.0
    wanted = cars_fits(study.findings, aim_c=-3.0)["violet"].move
    assert (wanted.idler or 0) > (cars_fits(study.findings)["violet"].move.idler or 0)
    assert str(wanted) in shown.value.replace("&#x27;", "'")
    assert "nearer to -3.0 °C than" in str(wanted)


def test_the_next_turns_start_from_the_last_record_and_come_to_the_move(study: lab.Study) -> None:
    table = study.asked.table
    fits = cars_fits(study.findings)
    for line, (car, fit) in zip(str(lab.next_turns(study)).splitlines(), fits.items(), strict=True):
        move = fit.move
        if not (move.idler or move.snout):
            assert "leave the screws" in line or "no move" in line
            continue
        turns = {which: (int(at), int(to)) for which, at, to in TURN.findall(line)}
        last = table.where(table["car"] == car)
        row = [row for row in range(len(last)) if last["edge_front_c"][row] == last["edge_front_c"][row]][-1]
        columns = {"front idler adjuster": "idler_flats_front", "rear idler adjuster": "idler_flats_rear"}
        columns |= {"left jack screw": "snout_flats_left", "right jack screw": "snout_flats_right"}
        assert all(at == int(last[columns[which]][row]) for which, (at, _) in turns.items())
        by = {which: to - at for which, (at, to) in turns.items()}
        assert by.get("front idler adjuster", 0) - by.get("rear idler adjuster", 0) == move.idler
        assert by.get("left jack screw", 0) == by.get("right jack screw", 0) == move.snout
        assert ("read the tension again" in line) == bool(move.snout)


def test_screws_that_are_not_turned_need_not_be_known_where_they_stand(tmp_path: Path) -> None:
    def unread(row: dict[str, str]) -> dict[str, str]:
        flats = "" if int(row["run"]) > 400 else "6"
        return row | {"snout_flats_left": flats, "snout_flats_right": flats}

    changed(tmp_path / "log", unread)
    said = str(lab.next_turns(lab.study(str(tmp_path / "log"))))
    assert {screw for screw, _, _ in TURN.findall(said)} == {"front idler adjuster", "rear idler adjuster"}
    assert "NaN" not in said


def test_both_knobs_are_said_screw_by_screw(study: lab.Study) -> None:
    fit = cars_fits(study.findings)["amber"]
    row = [place for place, car in enumerate(study.asked.table["car"]) if car == "amber"]
    row = row[int(fit.used.nonzero()[0][-1])]
    names = ("idler_flats_front", "idler_flats_rear", "snout_flats_left", "snout_flats_right")
    front, rear, left, right = (int(study.asked.table[name][row]) for name in names)
    said = _turns(study, "amber", replace(fit, move=replace(fit.move, idler=2, snout=-1)))
    assert said == (
        f"turn the front idler adjuster 1 flat in, from {front} to {front + 1} and the rear idler adjuster 1 flat out, "
        f"from {rear} to {rear - 1} and the left jack screw 1 flat out, from {left} to {left - 1} and the right jack "
        f"screw 1 flat out, from {right} to {right - 1}; then read the tension again, which a jack screw moves too."
    )


def test_a_log_without_edge_temperatures_says_so_everywhere(study: lab.Study) -> None:
    reason = "the log has no edge_front_c column"
    bare = lab.Study(study.season, study.settings, {**study.findings, "tracking": {"reason": reason}})
    answers: list[Any] = [lab.readings_words(bare), lab.readings_controls(bare)]
    for answer in [*answers, lab.next_turns(bare)]:
        assert str(answer) == f"Nothing can be told of tracking: {reason}."


def test_the_reading_guide_has_every_phase_and_every_lean() -> None:
    table = str(lab.reading_guide())
    for phase in PHASES:
        for leans in ("front", "even", "rear"):
            assert reading_words(phase, leans) in table


def test_a_wrap_asked_for_is_the_wrap_that_is_drawn(found: SetUp) -> None:
    own = found.path.arcs[1].wrap_rad
    from drivekit.lab.belt_tracking import _walk

    assert _walk(found, 1, "front").wrap_rad == pytest.approx(-own)
    assert _walk(found, 1, "front", wrap_percent=150).wrap_rad == pytest.approx(-1.5 * own)
    turned = _walk(found, 1, "front", turned_deg=30).lean_rad - _walk(found, 1, "front").lean_rad
    assert turned == pytest.approx(radians(30))


def test_a_log_in_pounds_is_answered_in_fahrenheit_everywhere(study: lab.Study) -> None:
    log = {**study.findings["log"], "units": "inch-pound"}
    pounds = lab.Study(study.season, study.settings, {**study.findings, "log": log})
    panel = lab.readings_controls(pounds)
    assert not isinstance(panel, lab.Words)
    car, aim = panel.widgets.values()
    assert (aim.description[-2:], aim.min, aim.max) == ("°F", -11.0, 11.0)
    aim.value, move = -4.5, cars_fits(study.findings, aim_c=-2.5)[car.value].move
    assert "nearer to -4.5 °F" in panel.shown.value
    assert f"{1.8 * move.expected_c:+.1f} °F in place of" in panel.shown.value
    for said in (lab.readings_words(pounds), lab.next_turns(pounds), panel.drawing.picture, panel.drawing.sentences):
        assert "°C" not in str(said)
    assert "°F" in str(lab.readings_words(pounds))
