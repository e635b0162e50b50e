"""The page on tracking: what each car's readings say, from the findings alone."""

from __future__ import annotations

import re
from typing import Any

from drivekit.decide.tracking import tracking_of
from drivekit.show.sections_tracking import STEERING, cars_fits, cars_picture, tracking

BY_HAND = {
    "run": [1, 2, 3, 4, 5, 6],
    "belt": ["A", "A", "B", "B", "C", "C"],
    "net_flats": [1.0, -2.0, None, 2.0, 0.0, -1.0],
    "difference_c": [-1.0, 5.0, 2.0, -4.0, 2.0, 3.0],
}
"""The line of these is worked out on paper beside the fit: -2.2 C a flat, even at .4545 flats."""
BLANK = {name: [None if isinstance(value, float) else value for value in values] for name, values in BY_HAND.items()}


def findings(**cars: dict[str, Any]) -> dict[str, Any]:
    block = {car: tracking_of(readings).block() | {"readings": readings} for car, readings in cars.items()}
    return {"settings": {"confidence": 0.95}, "tracking": block}


def text(html: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", re.sub(r"<svg.*?</svg>", "", html, flags=re.S)).split())


def test_each_car_has_its_picture_its_answer_and_its_move() -> None:
    written = tracking(findings(red=BY_HAND, blue=BY_HAND), {})
    assert written.count("<svg") == 2
    said = text(written)
    even = "runs even at 0.5 net flats (-0.0 to 1.0); one more at the front moves the edges by -2.2 °C."
    assert [f"{car} {even}" in said for car in ("Red", "Blue")] == [True, True]
    assert said.count("Turn 1 flat more at the front (net): the next reading is expected at +1.0 °C") == 2
    assert said.count("With the last reading and the belt held, that cannot be told: ") == 2
    assert said.endswith(STEERING)


def test_identifiers_of_two_cars_never_meet() -> None:
    ids = re.findall(r'id="([^"]*)"', tracking(findings(red=BY_HAND, blue=BY_HAND), {}))
    assert ids
    assert len(ids) == len(set(ids))


def test_a_car_without_readings_is_left_out_and_no_readings_leave_the_part_out() -> None:
    assert list(cars_fits(findings(red=BY_HAND, blue=BLANK))) == ["red"]
    assert "Blue" not in tracking(findings(red=BY_HAND, blue=BLANK), {})
    assert tracking(findings(blue=BLANK), {}) == ""
    absent = {"settings": {"confidence": 0.95}, "tracking": {"reason": "the log has no edge_rear_c column"}}
    assert tracking(absent, {}) == ""


def test_the_confidence_of_the_study_sets_the_limits() -> None:
    usual = findings(red=BY_HAND)
    wide = usual | {"settings": {"confidence": 0.99}}
    widths = [fit.slope.upper - fit.slope.lower for fit in (cars_fits(one)["red"] for one in (usual, wide))]
    assert widths[1] > widths[0]
    assert "limits 99 %" in cars_picture(wide, "red", cars_fits(wide)["red"]).subtitle


def test_what_the_log_calls_a_car_is_escaped() -> None:
    written = tracking(findings(**{"<b>red": BY_HAND}), {})
    assert "<b>" not in written
    assert "&lt;b&gt;red" in written
