"""Amounts in metric and inch-pound units: the factors by hand, and a whole drive said in either."""

import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivekit.drive.clamp import preload
from drivekit.drive.drive_file import layout_from_text, read_drive
from drivekit.drive.idler import three_supports
from drivekit.drive.layout import Spacer
from drivekit.drive.measured import back_from, centre_from
from drivekit.drive.path import Circle, around
from drivekit.drive.screws import thread
from drivekit.drive.set_up import set_up
from drivekit.drive.slack import belt_tensions
from drivekit.drive.span_tension import tension_from_frequency, tension_from_push
from drivekit.drive.stack import best_spacers, tilt
from drivekit.faults import Faulty
from drivekit.show.cards import order_of_work
from drivekit.show.drive_page import belt_path_picture, pulleys_table, spans_table
from drivekit.units import INCH_POUND, SI, Units, refused_in

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
    assert spans_table(found["si"])[1][0][1].split(", ") == spans_table(found["inch-pound"])[1][0][1].split(", ")[::-1]
    for table in (spans_table, pulleys_table):
        turned = [[cell.split(", ")[::-1] for cell in row] for row in table(found["inch-pound"])[1]]
        forces = [[cell.split(", ") for cell in row] for row in table(found["si"])[1]]
        assert [row[3:] for row in turned] == [row[3:] for row in forces]


@pytest.mark.parametrize(
    ("refused", "said"),
    [
        (lambda: proofed(200.0), "147.5 lbf ft can pull a 3/8-24 UNF bolt (dry) with 33,717 lbf, above its proof load"),
        (lambda: back_from(0.00508, 0.00508, 0.0), "A belt 0.200 in thick has no room for 0.200 in of tooth and 0.000"),
        (lambda: centre_from((0, 0, 0), (2.54, 0, 0), 0, (1, 1)), "Free spans of 39.37 in and 39.37 in do not meet"),
        (lambda: tilt(0.0254, 0.0127), "A shim of 1.000 in does not fit under a base of 0.50 in"),
        (lambda: best_spacers([Spacer(1, -0.0254)] * 2, 0.0, 0.1), "Spacer 1 is -1.000 in thick"),
        (lambda: three_supports(1.0, 0.0508, 0.1, 0.0254, 1.0), "2.00 in of overhang does not lie within 1.00 in"),
        (lambda: tension_from_push(1.0, 0.0254, 0.3, stiffness_n=1e6, belt_m=1.0), "Pushing by 1.00 in stretches"),
        (lambda: tension_from_frequency(5.0, 0.254, 0.5, 10.0), "Hz on 10.00 in; check the span"),
        (lambda: belt_tensions(0, 0, 745.699872, 0, 0, 0), "and 1.0 hp was asked of it"),
        (lambda: around([circle(0.0), circle(0.0254)], 1), "their centres are 1.00 in apart and their faces need 7.87"),
    ],
)
def test_what_is_refused_is_said_in_the_units_of_the_file(refused: Callable[[], object], said: str) -> None:
    with pytest.raises(ValueError, match=" ") as refusal:
        refused()
    assert said in refused_in(INCHES, refusal.value)
    assert said not in refused_in(SI, refusal.value)
    assert f"{refused_in(SI, refusal.value)}" == str(refusal.value).rstrip(".")


def proofed(torque_n_m: float) -> object:
    return preload(torque_n_m, thread("3/8-24"), "dry", 830e6)


def circle(x_m: float) -> Circle:
    return Circle(f"at {x_m}", x_m, 0.0, 0.1, 0.1, 1)


def test_a_drive_file_in_pounds_is_refused_in_inches() -> None:
    text = (DRIVES / "idler-outside.toml").read_text()
    changed = {
        "teeth = 126": ("teeth = 300", "belts of 124 to 126 teeth of pitch 0.55 in"),
        "most_in = 4.5": ("most_in = -1", "is not beyond least_in; it is more than 0.00 in"),
        "growth_high_in = 0.033": ("growth_high_in = 0.02", "is below growth_low_in; it is at least 0.028 in"),
        "tooth_tip_mm = 5.0": ("tooth_tip_mm = 15", "it is at most 0.551 in"),
        "back_mm = 2.6": ("thickness_mm = 7", "A belt 0.276 in thick has no room"),
        "y_in = 22": ("y_in = 5", "their centres are 5.00 in apart"),
        "mass_g_per_m = 745": (
            "weighed_lb = 200",
            "gives 34.56 lb/ft, which cannot be; mass of one metre of belt lies",
        ),
    }
    for old, (new, said) in changed.items():
        assert old in text
        with pytest.raises(Faulty) as faulty:
            layout_from_text(text.replace(old, new, 1))
        assert said in str(faulty.value.faults[-1]), new


def test_a_drive_speaks_the_units_of_its_tension_unless_its_file_says_otherwise() -> None:
    text = (DRIVES / "worked-example.toml").read_text()
    pounds = text.replace("set_n = 5000", "set_lbf = 1124")
    assert not layout_from_text(text).spoken.inch_pound
    assert layout_from_text(pounds).spoken.inch_pound
    assert not layout_from_text(pounds.replace("[drive]", '[drive]\nunits = "si"')).spoken.inch_pound
    assert layout_from_text(text.replace("[drive]", '[drive]\nunits = "inch-pound"')).spoken.inch_pound
