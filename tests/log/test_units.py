import pytest

from drivekit.log import BELTS, RUNS
from drivekit.log.units import INCH_POUND, twin_name


@pytest.mark.parametrize(
    ("unit", "inch_pound", "metric"),
    [
        ("N", 1.0, 4.4482216152605),
        ("N", 1800.0, 8006.7989074689),
        ("mm", 1.0, 25.4),
        ("mm", 3.0, 76.2),
        ("°C", 32.0, 0.0),
        ("°C", 212.0, 100.0),
        ("°C", -40.0, -40.0),
        ("°C", 68.0, 20.0),
        ("g/m", 1.0, 1488.16394357),
        ("g/m", 0.35, 520.857380249),
    ],
)
def test_one_inch_pound_value_is_one_metric_value(unit, inch_pound, metric) -> None:
    twin = INCH_POUND[unit]
    assert twin.metric(inch_pound) == pytest.approx(metric, rel=1e-11)
    assert twin.inch_pound(twin.metric(inch_pound)) == pytest.approx(inch_pound, rel=1e-14)


def test_every_inch_pound_heading_follows_from_the_metric_one() -> None:
    twins = {column.name: column.twin for column in (*BELTS, *RUNS) if column.twin}
    assert twins == {
        "width_mm": "width_in",
        "pitch_mm": "pitch_in",
        "mass_g_per_m": "mass_lb_per_ft",
        "tension_n": "tension_lbf",
        "span_mm": "span_in",
        "push_n": "push_lbf",
        "push_mm": "push_in",
        "edge_front_c": "edge_front_f",
        "edge_rear_c": "edge_rear_f",
        "tension_after_n": "tension_after_lbf",
    }


def test_a_unit_that_all_share_has_no_twin() -> None:
    assert twin_name("span_hz", "Hz") is None
    assert twin_name("full_load_s", "s") is None
