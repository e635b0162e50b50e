"""The idler's bearings: ISO 76 and ISO 281 by hand."""

from __future__ import annotations

from dataclasses import replace
from math import inf, pi
from typing import Any

import pytest

from drivekit.drive.bearing import bearing_check, rated_life
from drivekit.drive.layout import Layout


def test_rated_life_is_iso_281_s(mechanics: dict[str, Any]) -> None:
    # (30 / 5)^3 = 216 million turns; at 1,500 rpm 216e6 / 1,500 / 60 = 2,400 h
    assert rated_life(30e3, 5e3) / 1e6 == pytest.approx(mechanics["bearing"]["million_turns"], rel=1e-12)
    assert rated_life(30e3, 5e3) / 1500 / 60 == pytest.approx(mechanics["bearing"]["hours"], rel=1e-12)
    assert rated_life(30e3, 5e3, kind="roller") == pytest.approx(6 ** (10 / 3) * 1e6, rel=1e-12)


def test_two_bearings_share_the_pull_by_hand(worked: Layout) -> None:
    assert worked.idler is not None
    # 2 x 12,000 N / 6,000 N = 4; life (20,000 / 3,000)^3 million turns; 50 m/s on a radius of .1 m
    found = bearing_check(worked.idler, 0.1, 6000, 50)
    assert found.safety == pytest.approx(4.0, rel=1e-12)
    assert found.idler_rpm == pytest.approx(50 / (2 * pi * 0.1) * 60, rel=1e-12)
    assert found.life_turns == pytest.approx((20 / 3) ** 3 * 1e6, rel=1e-12)
    assert found.life_s == pytest.approx((20 / 3) ** 3 * 1e6 / found.idler_rpm * 60, rel=1e-12)
    assert (found.safe, found.slow_enough) == (True, True)


def test_too_much_pull_and_too_much_speed_are_told(worked: Layout) -> None:
    assert worked.idler is not None
    found = bearing_check(worked.idler, 0.05, 13_000, 50)
    assert (found.safe, found.slow_enough) == (False, False)
    assert str(found).startswith(
        "The idler turns at 9,549 rpm under up to 13,000 N (2,923 lbf); static safety 1.8 is too little (ISO 76; 2 or "
        "more under shocks); that speed is beyond the bearings' limit of 9,000 rpm. (Rated life"
    )


def test_rollers_want_more_safety_and_a_missing_rating_is_no_verdict(worked: Layout) -> None:
    assert worked.idler is not None
    roller = bearing_check(replace(worked.idler, bearing_kind="roller"), 0.1, 10_000, 50)
    assert (roller.safety, roller.safety_wanted, roller.safe) == (pytest.approx(2.4), 3.0, False)
    bare = replace(worked.idler, bearing_static_n=None, bearing_dynamic_n=None, bearing_limit_rpm=None)
    unrated = bearing_check(bare, 0.1, 6000, 50)
    assert (unrated.safe, unrated.slow_enough, unrated.life_s) == (None, None, None)
    assert str(unrated) == "The idler turns at 4,775 rpm under up to 6,000 N (1,349 lbf)."


def test_a_slack_belt_strains_no_bearing(worked: Layout) -> None:
    assert worked.idler is not None
    assert bearing_check(worked.idler, 0.1, 0.0, 50).safety == inf


def test_a_bearing_of_no_kind_is_refused() -> None:
    with pytest.raises(ValueError, match="A bearing is ball or roller, not plain"):
        rated_life(1000, 100, kind="plain")
