"""Where the idler sits for a belt, which belts fit, and two pulleys' distance."""

from __future__ import annotations

from dataclasses import replace
from math import pi, sqrt

import pytest

from drivekit.drive.fitting import centre_distance, fit, fitting_belts, two_pulley_length
from drivekit.drive.layout import Layout
from drivekit.drive.path import Impossible, belt_path


def test_the_idler_s_travel_by_hand(worked: Layout) -> None:
    # three equal pulleys: path = two sides + 480 mm + 200 mm x pi, sides from (0, 0) and (0, 480) to (-130 - s, 240).
    # 170 teeth of 10 mm without tension: sides (1700 - 480 - 628.3185307) / 2 = 295.8407346 mm,
    # 130 + s = sqrt(295.8407346^2 - 240^2) = 172.976...
    side = (1.7 - 0.48 - 0.2 * pi) / 2
    by_hand = sqrt(side**2 - 0.24**2) - 0.13
    found = fit(worked)
    assert found.travel_m == pytest.approx(by_hand, abs=1e-12)
    assert found.left_m == pytest.approx(0.1 - by_hand, abs=1e-12)
    assert found.back_m == pytest.approx(by_hand, abs=1e-12)
    # d path / d travel = 2 x (130 + s) / side
    assert found.per_travel == pytest.approx(2 * (by_hand + 0.13) / side, rel=1e-10)


@pytest.mark.parametrize("tension_n", [0.0, 2500.0, 12000.0])
def test_at_the_travel_found_the_path_is_the_belt_to_1e_9(drive: Layout, tension_n: float) -> None:
    for found in fitting_belts(drive, tension_n=tension_n):
        stretched = found.teeth * drive.belt.pitch_m * (1 + tension_n / drive.belt.stiffness_n)
        assert found.length_m == stretched
        assert belt_path(drive.at_travel(found.travel_m)).length_m == pytest.approx(stretched, abs=1e-9)
        assert drive.slide is not None
        assert drive.slide.least_m <= found.travel_m <= drive.slide.most_m


def test_belts_that_fit_are_all_whole_teeth_and_one_more_or_less_does_not(drive: Layout) -> None:
    belts = [found.teeth for found in fitting_belts(drive)]
    assert belts == list(range(belts[0], belts[-1] + 1))
    for teeth in (belts[0] - 1, belts[-1] + 1):
        with pytest.raises(
            Impossible, match=f"a belt of {teeth} teeth does not fit: the slide takes belts of {belts[0]} "
        ):
            fit(drive, teeth=teeth)


def test_more_tension_wants_more_travel(drive: Layout) -> None:
    assert fit(drive, tension_n=9000).travel_m > fit(drive, tension_n=1000).travel_m


def test_a_belt_too_long_is_refused_with_the_pulley_and_the_belts_that_fit(worked: Layout) -> None:
    with pytest.raises(Impossible) as refused:
        fit(worked, teeth=200)
    assert (
        str(refused.value)
        == "a belt of 200 teeth does not fit: the slide takes belts of 166 to 177 teeth of pitch 10 mm"
    )
    assert refused.value.pulley == "idler"


def test_a_slide_whose_near_end_lets_go_of_the_idler_is_used_as_far_as_it_touches(worked: Layout) -> None:
    # moved in to x = +20 mm the idler does not touch the belt at all
    assert worked.slide is not None
    longer = replace(worked, slide=replace(worked.slide, least_m=-0.15))
    assert [found.teeth for found in fitting_belts(longer)][-1] == [found.teeth for found in fitting_belts(worked)][-1]
    # the path begins where the idler just touches: two pulleys, 2 x 480 + 200 pi = 1588.3 mm, so 159 teeth
    assert fitting_belts(longer)[0].teeth == 159


def test_a_slide_that_never_touches_the_belt_is_refused_with_the_reason(worked: Layout) -> None:
    assert worked.slide is not None
    crank, idler, blower = worked.pulleys
    small = replace(worked, pulleys=(crank, replace(idler, pitch_diameter_m=0.1), blower))
    within = replace(small, slide=replace(worked.slide, least_m=-0.14, most_m=-0.12))
    with pytest.raises(Impossible, match="the belt does not touch idler"):
        fit(within)


def test_a_drive_without_a_slide_has_no_travel_to_find(worked: Layout) -> None:
    with pytest.raises(Impossible, match="worked example has no idler on a slide"):
        fit(replace(worked, slide=None))


def test_distance_of_two_pulleys_gives_back_the_length(mechanics: dict) -> None:
    for case in mechanics["two_pulleys"]["values"]:
        length = two_pulley_length(case["distance"], case["first"], case["second"])
        assert length == pytest.approx(case["length"], abs=case["tolerance"])
        distance = centre_distance(length, case["first"], case["second"])
        assert distance == pytest.approx(case["distance"], rel=1e-9)


def test_two_pulleys_within_each_other_and_belts_too_short_are_refused() -> None:
    with pytest.raises(
        ValueError, match=r"centres 10.0 mm apart leave one pulley within the other; .* more than 40.0 mm"
    ):
        two_pulley_length(0.01, 0.1, 0.02)
    with pytest.raises(ValueError, match=r"a belt of 100.0 mm is too short for pulleys of 100.0 and 20.0 mm"):
        centre_distance(0.1, 0.1, 0.02)


def test_a_fit_says_itself(worked: Layout) -> None:
    assert str(fit(worked, tension_n=5000)) == (
        "A belt of 170 teeth seats the idler at 50.00 mm of travel; 50.0 mm are left to tighten and 50.0 mm to slacken."
    )
