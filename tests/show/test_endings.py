"""How belts fail: each cause's share is a rising step, and is said with its limits."""

import numpy as np
import pytest

from drivekit.show.endings import causes_picture, limits_of, shares_by


def test_incidences_are_drawn_as_rising_steps_with_their_names_at_the_ends(season, drawn):
    marks = drawn(causes_picture(season))
    for cause, block in season["causes"].items():
        if any(block["incidence"]):
            line = marks[f"curve:{cause}"]
            assert line.get_drawstyle() == "steps-post"
            np.testing.assert_allclose(line.get_xdata(), [block["age"][0] - 1, *block["age"]])
            np.testing.assert_allclose(line.get_ydata(), [0, *(100 * value for value in block["incidence"])])
            assert marks[f"label:{cause}"].get_text().startswith(f"{cause} ")
        else:
            assert f"curve:{cause}" not in marks


def test_the_table_counts_all_belts_at_the_ages_of_the_axis(season, drawn):
    marks, overall = drawn(causes_picture(season)), season["life"]["overall"]
    ages = [int(age) for age in marks["panel"].get_xticks()]
    assert len(ages) > 4
    for age in ages:
        place = overall["age"].index(age)
        failed = sum(overall["failed_at"][: place + 1])
        assert marks[f"risk:all:{age}"].get_text() == f"{overall['at_risk'][place]} ({failed})"


def test_a_cause_never_seen_is_named_but_not_drawn(season):
    picture = causes_picture(season)
    assert "Never seen: unknown." in picture.note
    assert "curve:unknown" not in str(picture)
    assert next(iter(shares_by(season, 12))) == "tooth-jump"


def test_limits_of_a_share_by_hand():
    # F = .25, se = .05, z = 1.959964: reach = .0979982 / (.25 x 1.3862944) = .2827630
    lower, upper = limits_of(0.25, 0.05, 0.95)
    assert lower == pytest.approx(0.25 ** (2.718281828**0.2827630), rel=1e-6)
    assert upper == pytest.approx(0.25 ** (2.718281828**-0.2827630), rel=1e-6)
    assert limits_of(0.0, 0.0, 0.95) is limits_of(1.0, 0.05, 0.95) is limits_of(0.25, None, 0.95) is None


def test_a_share_is_said_with_its_limits(season):
    season["causes"] = {"tooth-jump": {"age": [1, 2], "incidence": [0.25, 0.5], "se": [0.05, 0.1]}}
    assert shares_by(season, 1) == {"tooth-jump": (0.25, "25 % jumped a tooth (16 to 35)")}
    assert shares_by(season, 0) == {"tooth-jump": (0.0, "0 % jumped a tooth")}


def test_without_a_belt_of_known_age_nothing_is_drawn(season):
    season["life"]["overall"] = season["causes"] = {"reason": "no belt of known age has made a run"}
    assert causes_picture(season) is None
