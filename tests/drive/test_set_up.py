"""The whole set-up: what it says, what needs a second look, and that nothing in it is left unsaid."""

from __future__ import annotations

import re
from dataclasses import replace
from html import unescape

import pytest

from drivekit.cautions import CAUTIONS
from drivekit.drive.fitting import fitting_belts, seat
from drivekit.drive.layout import Layout
from drivekit.drive.path import Impossible
from drivekit.drive.set_up import set_up


def test_the_text_carries_every_sentence_and_the_cautions(drive: Layout) -> None:
    found = set_up(drive, (8300,))
    text = str(found)
    # cautions come before the first number
    assert text.startswith(f"Drive: {drive.name} (invented).\n\nCautions\n  {CAUTIONS[0]}")
    for _, sentences in found.sentences():
        for sentence in sentences:
            assert sentence in text
    for sentence in (*found.warnings, *CAUTIONS):
        assert sentence in text
    assert "None" not in text
    assert "nan" not in text


def test_the_html_form_says_the_same_and_escapes_what_the_file_says(worked: Layout) -> None:
    found = set_up(replace(worked, name="<b>"))
    html = found._repr_html_()
    assert "<b>" not in html
    said = [unescape(one) for one in re.findall(r"<(?:strong|h4|p)>([^<]+)<", html)]
    assert said == [line.strip() for line in str(found).splitlines() if line]


def test_the_idler_sits_where_the_belt_fits_at_the_tension_to_set(drive: Layout) -> None:
    found = set_up(drive)
    assert found.seat == seat(drive, fitting_belts(drive, tension_n=drive.tension.set_n))
    assert found.path.length_m == pytest.approx(found.seat.length_m, abs=1e-9)
    assert found.seat in found.belts


def test_a_drive_that_says_little_is_still_computed(worked: Layout) -> None:
    bare = replace(worked, idler=None, adjusters=None, heights=())
    found = set_up(bare)
    assert (found.bend, found.bearing, found.gain, found.jack_flat, found.tilt, found.stack, found.grip) == (None,) * 7
    assert "Idler, screws and shims" not in str(found)


def test_a_drive_without_a_slide_tells_what_its_belt_carries(worked: Layout) -> None:
    crank, idler, blower = worked.at_travel(0.05).pulleys
    fixed = replace(worked, pulleys=(crank, replace(idler, mount="fixed"), blower), slide=None)
    exact = set_up(fixed)
    assert exact.seat is None
    assert exact.warnings == ()
    # 1 mm further out the path is 1.2 mm longer: 1.2 / 1,700 of EA, 721 N more
    longer = set_up(replace(fixed, pulleys=(crank, replace(idler, mount="fixed", x_m=-0.181), blower)))
    assert longer.warnings[0].startswith("With no slide the path of 1709.52 mm")
    assert "stretches a belt of 170 teeth to 5,72" in longer.warnings[0]
    assert "No slide" in str(longer)


def test_a_fixed_drive_stands_as_far_from_its_tension_as_reading_and_tape_are_off(worked: Layout) -> None:
    """10 % of 5,000 N and 2 mm of 1,700 on 1,021,815 N: 1,702 N either way, so 2.83 mm of path, 2.36 of the idler."""
    crank, idler, blower = worked.at_travel(0.05).pulleys

    def at(x_m: float) -> str:
        fixed = replace(worked, pulleys=(crank, replace(idler, mount="fixed", x_m=x_m), blower), slide=None)
        return set_up(fixed).warnings[0]

    assert "not to the tension to set" in at(-0.18233)
    assert "not to the tension to set" in at(-0.17767)
    for x_m in (-0.1824, -0.1776):
        with pytest.raises(
            Impossible, match=r"would carry [36],\d\d\d N \([\d,]+ lbf\), not the 5,000 N set, on a path"
        ):
            at(x_m)


def test_a_belt_that_does_not_fit_is_refused(worked: Layout) -> None:
    with pytest.raises(Impossible, match="a belt of 300 teeth does not fit"):
        set_up(replace(worked, belt=replace(worked.belt, teeth=300)))


@pytest.mark.parametrize(
    ("x_m", "said"),
    [
        # 2 sqrt(.17^2 + .24^2) + .48 + .2 pi = 1,696.5 mm: under the belt's 1,700
        (-0.17, r"a belt of 170 teeth, 1700.00 mm long, hangs loose on a path of 1696.5\d mm"),
        # 2 sqrt(.2^2 + .24^2) + ... = 1,733.1 mm: 33.1 of 1,700 on 1,021,815 N
        (-0.2, r"would carry 19,9\d\d N \(4,4\d\d lbf\), not the 5,000 N set, on a path of 1733.1\d mm"),
    ],
)
def test_a_belt_that_does_not_fit_fixed_centres_is_refused(worked: Layout, x_m: float, said: str) -> None:
    crank, idler, blower = worked.pulleys
    belt = replace(worked.belt, tension_limit_n=15_000.0)
    fixed = replace(worked, belt=belt, pulleys=(crank, replace(idler, mount="fixed", x_m=x_m), blower), slide=None)
    with pytest.raises(Impossible, match=said):
        set_up(fixed)


def changed(layout: Layout, section: str, **values: object) -> Layout:
    return replace(layout, **{section: replace(getattr(layout, section), **values)})  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("section", "values", "said"),
    [
        ("tension", {"set_n": 1500.0}, "At full load the belt is slack: a tooth can jump."),
        ("tension", {"set_n": 2000.0}, "the belt can go slack at full load."),
        ("tension", {"margin_n": 2700.0}, "is under the 2,700 N (607 lbf) wanted."),
        ("belt", {"tension_limit_n": 7000.0}, "the most that the belt maker's limit leaves."),
        (
            "belt",
            {"diameter_limit_m": 0.25},
            "The belt bends around crank with 200.0 mm of pitch diameter, under its maker's",
        ),
        ("idler", {"bearing_static_n": 5000.0}, "static safety of 1.4; 2 is wanted."),
        ("idler", {"bearing_limit_rpm": 4000.0}, "The idler turns at 4,775 rpm, beyond its bearings' 4,000 rpm."),
        ("slide", {"most_m": 0.052}, "Only 2.0 mm of the slide are left to tighten as the belt settles."),
    ],
)
def test_what_needs_a_second_look_is_said(worked: Layout, section: str, values: dict[str, float], said: str) -> None:
    assert set_up(worked).warnings == ()
    assert [warning for warning in set_up(changed(worked, section, **values)).warnings if said in warning]


def test_few_teeth_in_mesh_are_said(worked: Layout) -> None:
    crank, idler, blower = worked.pulleys
    small = replace(blower, pitch_diameter_m=0.04)
    slow = replace(worked.engine, crank_rpm=1500.0, idle_rpm=300.0)
    found = set_up(replace(worked, pulleys=(crank, idler, small), engine=slow, belt=replace(worked.belt, teeth=150)))
    assert [
        warning for warning in found.warnings if "teeth mesh on blower; six is common practice (no source)" in warning
    ]


def test_clamp_and_stack_are_looked_at(toothed: Layout) -> None:
    assert "The idler's stack may bind in its bracket." in set_up(toothed).warnings
    over = set_up(changed(toothed, "clamp", torque_n_m=120.0))
    assert over.grip is None
    assert over.grip_refused in over.warnings
    assert "above its proof load" in over.grip_refused
    weak = set_up(changed(toothed, "clamp", torque_n_m=5.0))
    assert "The clamp does not hold the idler at the least grip its bolts may have." in weak.warnings


def test_the_span_named_in_the_file_is_the_one_that_is_read(toothed: Layout) -> None:
    assert set_up(toothed).reading.span.leaves == "blower"
    named = set_up(changed(toothed, "tension", span_m=0.34))
    assert (named.reading.span.leaves, named.reading.span.meets) == ("idler", "blower")
    assert named.reading.note.length_m == 0.34
