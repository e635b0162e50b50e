"""The calculators of a workbook: each starts at the drive's numbers, and every control changes the sentence."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.io import wavfile

from drivekit import lab
from drivekit.drive.drive_file import read_drive
from drivekit.drive.set_up import SetUp, set_up
from drivekit.lab.calculators import CALCULATORS
from drivekit.show.controls import amount
from drivekit.units import Units

DRIVES = Path(__file__).parents[2] / "data" / "drives"


@pytest.fixture(scope="module")
def found() -> SetUp:
    return lab.set_up(str(DRIVES / "toothed-inside.toml"))


@pytest.fixture(scope="module")
def bare(found: SetUp) -> SetUp:
    """A drive whose file says nothing of screws, spacers, stack, manifold and clamp."""
    nothing: dict[str, Any] = {
        **dict.fromkeys(("adjusters", "jack_screws", "manifold", "clamp", "bracket")),
        **dict.fromkeys(("stack", "spacers"), ()),
    }
    return replace(found, layout=replace(found.layout, **nothing), grip=None, stack=None)


def said(found: SetUp, name: str) -> str:
    return "\n".join(lab.calculator(found, name).drawing.sentences)


def other_value(control: Any) -> Any:
    if hasattr(control, "options"):
        return next(value for value in control.options if value != control.value)
    return control.value + 10 * control.step if control.value + 10 * control.step <= control.max else control.min


def test_each_starts_with_what_the_set_up_says_of_the_same_thing(found: SetUp) -> None:
    assert found.stack is not None
    assert found.grip is not None
    assert said(found, "stack") == str(found.stack)
    # the controls stand at the file's own numbers, none rounded
    assert "tension of 8,300 N" in said(found, "span")
    assert "8,300 N (1,866 lbf) at rest, which is the tension to use" in said(found, "push")
    assert str(found.tilt) in said(found, "manifold")
    likely = re.search(r"([\d.]+) times", str(found.grip))
    assert likely is not None
    assert likely[0] in said(found, "clamp")


@pytest.mark.parametrize("name", CALCULATORS)
def test_every_control_changes_the_sentence(found: SetUp, name: str) -> None:
    panel = lab.calculator(found, name)
    shown = panel.shown
    for control in panel.widgets.values():
        start = control.value
        control.value = other_value(control)
        moved = shown.value
        control.value = start
        assert moved != shown.value, control.description


@pytest.mark.parametrize("name", CALCULATORS)
def test_a_drive_file_that_says_nothing_starts_at_usual_numbers(bare: SetUp, name: str) -> None:
    assert said(bare, name)
    assert all(word not in said(bare, name) for word in ("nan", "None"))


@pytest.mark.parametrize("name", CALCULATORS)
@pytest.mark.parametrize("end", ["min", "max"])
def test_the_ends_of_every_control_give_a_sentence(found: SetUp, name: str, end: str) -> None:
    panel = lab.calculator(found, name)
    shown = panel.shown
    for control in panel.widgets.values():
        if hasattr(control, end):
            control.value = getattr(control, end)
            assert re.fullmatch(r"(<p>[A-Za-z0-9].*[.)]</p>)+", shown.value), shown.value
            assert not re.search(r"\bnan\b|\binf\b|None|\.\.", shown.value)


def test_a_torque_above_the_proof_load_is_refused_in_one_sentence(found: SetUp) -> None:
    panel = lab.calculator(found, "clamp")
    panel.widgets["Torque, N m"].value = 140
    shown = panel.shown
    assert re.fullmatch(r"<p>140\.0 N m .* above its proof load of .*; stay at or below .*\.</p>", shown.value)


def test_a_stack_too_long_says_what_it_pries_the_bracket_with(found: SetUp) -> None:
    panel = lab.calculator(found, "stack")
    gap, shown = panel.widgets["Bracket's gap, mm"], panel.shown
    gap.value = gap.value - 0.2
    # 20,000 N/mm over .1 mm
    assert "pries the bracket with 2,000 N" in shown.value


def test_spacers_are_chosen_from_those_on_hand(found: SetUp, bare: SetUp) -> None:
    assert "Spacer 3 at the front and 1 at the rear" in said(found, "spacers")
    assert "fewer than two spacers on hand" in said(bare, "spacers")


def test_a_calculator_there_is_not_is_refused(found: SetUp) -> None:
    with pytest.raises(ValueError, match='there is no calculator "belts"; there are span, push, jack screws'):
        lab.calculator(found, "belts")


def test_a_recording_is_read_into_a_note_and_a_tension(found: SetUp, tmp_path: Path) -> None:
    rate, at = 8000, np.arange(12_000) / 8000
    pluck = sum(np.exp(-3 * at) / k * np.sin(2 * np.pi * 94.3 * k * at) for k in range(1, 6))
    sound = np.concatenate((np.zeros(rate), *[pluck] * 3)) + np.random.default_rng(1).normal(0, 0.02, 44_000)
    place = tmp_path / "plucks.wav"
    wavfile.write(place, rate, (sound / np.abs(sound).max() * 30_000).astype(np.int16))
    note, tension = str(lab.recorded(found, str(place))).splitlines()
    assert note.startswith("3 plucks agree on 94.3 Hz")
    assert tension.startswith("A free span of 559.7 mm at 94.3 Hz has a tension of 8,3")
    stiff = replace(found.layout, belt=replace(found.layout.belt, bending_n_m2=100.0), units="inch-pound")
    told = str(lab.recorded(replace(found, layout=stiff), str(place))).splitlines()
    assert told[1].startswith("94.3 Hz is too low a note: the belt's stiffness alone gives")
    assert "on 22.04 in; check the span" in told[1]
    assert str(lab.recorded(found)).startswith("Engine off and made safe: ")
    assert "cannot be read: No such file" in str(lab.recorded(found, str(tmp_path / "none.wav")))
    place.write_bytes(b"noise")
    assert str(lab.recorded(found, str(place))) == (
        "The recording gives no note: it is no WAV file; save it as one, uncompressed."
    )


@pytest.mark.parametrize("name", ["toothed-inside", "smooth-inside", "idler-outside"])
@pytest.mark.parametrize("units", ["si", "inch-pound"])
def test_what_is_measured_gives_back_the_drive_s_own_numbers_in_its_units(name: str, units: str) -> None:
    layout = replace(read_drive(DRIVES / f"{name}.toml"), units=units)  # type: ignore[arg-type]
    own = set_up(layout)
    told = {calculator: said(own, calculator) for calculator in CALCULATORS}
    idler, spoken = own.layout.pulleys[1], own.layout.spoken
    assert spoken.both(745, "g/m") in told["weigh"]
    assert spoken.length(0.0026) in told["back"]
    assert f"(EA) is {spoken.force(2.1e6)}" in told["stiffness"]
    assert f"x = {spoken.long(idler.x_m)}, y = {spoken.long(idler.y_m)}" in told["idler centre"]
    assert spoken.both(310, "kW") in told["blower power"]
    # .1 mm over 75 mm at 90 mm is .12 mm, and a flat moves .4233 mm
    assert "is 0.28 flats of one adjuster: the front out" in told["square"]
    assert "hangs 10." in told["belt change"] or "hangs 0.40 in" in told["belt change"]
    assert own.jack_flat is not None
    assert f"add {spoken.force(own.jack_flat.tension_n)} to every span" in told["snout"]
    assert f"mean {spoken.force(layout.tension.set_n)}" in told["readings"]


@pytest.mark.parametrize("name", CALCULATORS)
def test_a_drive_in_pounds_and_inches_is_asked_and_answered_in_them(found: SetUp, name: str) -> None:
    pounds = replace(found, layout=replace(found.layout, units="inch-pound"))
    metric = re.compile(r"\d (?:N|mm|N m|kW|g/m|g|kPa)(?![\w/])")
    assert metric.search(re.sub(r"\([^()]*\)", "", said(pounds, name))) is None
    labels = list(lab.calculator(pounds, name).widgets)
    assert not [label for label in labels if re.search(r", (?:N|mm|N m|g|g/m|L|kPa)$", label)]


def test_what_a_calculator_refuses_is_said_in_the_drive_s_units(found: SetUp) -> None:
    pounds = replace(found, layout=replace(found.layout, units="inch-pound"))
    panel = lab.calculator(pounds, "back")
    panel.widgets["Thickness, tip of a tooth to back, in"].value = 0.2
    assert panel.drawing.sentences[0].endswith("thick has no room for 0.236 in of tooth and 0.055 in of land.")


def test_an_amount_stands_on_a_grid_as_fine_in_inches_as_in_millimetres() -> None:
    found = amount(Units(inch_pound=True), "Shim", "mm", 2.2098, 0, 8, 0.05)
    assert (found.label, found.step) == ("Shim, in", 0.001)
    assert found.start == pytest.approx(0.087)
    low, high = found.values
    assert (low, high) == pytest.approx((0.0, 0.314), abs=1e-9)
    assert amount(Units(), "Shim", "mm", 2.21, 0, 8, 0.05).label == "Shim, mm"
