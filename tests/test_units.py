"""Amounts in metric and inch-pound units: the factors by hand, and a whole drive said in either."""

import re
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivekit.drive.drive_file import layout_from_text, read_drive
from drivekit.drive.set_up import set_up
from drivekit.show.belt_path import belt_path_picture
from drivekit.show.cards import order_of_work
from drivekit.show.drive_page import pulleys_table, spans_table
from drivekit.units import INCH_POUND, SI, Units

DRIVES = Path(__file__).parent.parent / "data" / "drives"
INCHES = Units(inch_pound=True)


@pytest.mark.parametrize(
    ("unit", "inch_pound", "metric"),
    [
        ("mm", 0.087, 2.2098),
        ("N", 1870, 8318.174420785),  # 1,870 x .45359237 x 9.80665
        ("°C", 212, 100),
        ("N m", 30, 40.674538449),  # 30 x 4.4482216 x .3048
        ("g/m", 0.5, 744.082),  # half a pound of 453.59237 g on .3048 m
        ("N/mm", 1000, 175.1268),
        ("kW", 1, 0.745699872),  # 550 foot-pounds a second
        ("MPa", 120, 827.370875),
        ("m/s", 100, 30.48),
    ],
)
def test_an_inch_pound_amount_is_its_metric_one(unit: str, inch_pound: float, metric: float) -> None:
    assert INCH_POUND[unit].metric(inch_pound) == pytest.approx(metric, rel=1e-6)
    assert INCH_POUND[unit].inch_pound(metric) == pytest.approx(inch_pound, rel=1e-6)


def test_amounts_are_said_to_the_digits_that_matter() -> None:
    assert (INCHES.long(2.2098e-3, 2), SI.long(2.2098e-3, 2)) == ("0.087 in", "2.21 mm")
    assert INCHES.force(8318.17) == "1,870 lbf (8,318 N)"
    assert SI.force(8318.17) == "8,318 N (1,870 lbf)"
    assert INCHES.length(1.76389e-4) == "0.0069 in (0.176 mm)"
    assert INCHES.range(-50e-3, 350e-3, "mm", 3, "+") == "-0.0020 to +0.0138 in"


def test_how_much_warmer_takes_no_freezing_point_along() -> None:
    assert (INCHES.warmer(10, "+"), SI.warmer(10)) == ("+18.0 °F", "10.0 °C")
    assert INCHES.apart(2.0, "°C") == pytest.approx(3.6)
    assert INCHES.apart(25.4, "mm") == pytest.approx(1)


@given(st.sampled_from(sorted(INCH_POUND)), st.floats(-1e4, 1e4))
def test_there_and_back_is_the_same(unit: str, metric: float) -> None:
    assert INCH_POUND[unit].metric(INCHES.value(metric, unit)) == pytest.approx(metric, rel=1e-12, abs=1e-9)


@pytest.mark.parametrize("name", ["toothed-inside", "smooth-inside", "idler-outside", "worked-example"])
def test_a_drive_in_pounds_and_inches_is_answered_in_them(name: str) -> None:
    layout = read_drive(DRIVES / f"{name}.toml")
    found = {units: set_up(replace(layout, units=units)) for units in ("si", "inch-pound")}
    metric = re.compile(r"[\d.] (?:N|mm|N m|kW|MPa|m/s|°C)(?![\w/])")
    said = str(found["inch-pound"]) + belt_path_picture(found["inch-pound"]).title
    for step in order_of_work(found["inch-pound"]):
        said += "\n".join((step.label, step.hint, step.number, *step.boxes))
    # a metric amount stands in brackets, beside its twin
    assert metric.search(re.sub(r"\([^()]*\)", "", said)) is None
    assert metric.search(str(found["si"])) is not None
    for table in (spans_table, pulleys_table):
        for heading in table(found["inch-pound"])[0]:
            assert "mm" not in heading
        turned = [[cell.split(", ")[::-1] for cell in row] for row in table(found["inch-pound"])[1]]
        forces = [[cell.split(", ") for cell in row] for row in table(found["si"])[1]]
        assert [row[3:] for row in turned] == [row[3:] for row in forces]


def test_a_drive_speaks_the_units_of_its_tension_unless_its_file_says_otherwise() -> None:
    text = (DRIVES / "worked-example.toml").read_text()
    pounds = text.replace("set_n = 5000", "set_lbf = 1124")
    assert not layout_from_text(text).spoken.inch_pound
    assert layout_from_text(pounds).spoken.inch_pound
    assert not layout_from_text(pounds.replace("[drive]", '[drive]\nunits = "si"')).spoken.inch_pound
    assert layout_from_text(text.replace("[drive]", '[drive]\nunits = "inch-pound"')).spoken.inch_pound
