"""The idler's seat, the belts that fit, what a turn of the adjusters and the engine's growth add to the tension."""

from __future__ import annotations

from dataclasses import replace
from math import ceil, pi, sqrt
from typing import Any

import pytest

from drivekit.drive.fitting import Seat, adjuster_gain, belt_change, fitting_belts, growth, seat
from drivekit.drive.layout import EXPANSION_PER_C, Height, Layout
from drivekit.drive.path import Impossible, belt_path
from drivekit.units import INCH_M


def seated(layout: Layout, teeth: int | None = None, tension_n: float = 0.0) -> Seat:
    wanted = layout.belt.teeth if teeth is None else teeth
    layout = replace(layout, belt=replace(layout.belt, teeth=wanted))
    return seat(layout, fitting_belts(layout, tension_n=tension_n))


def test_the_idler_s_travel_by_hand(worked: Layout) -> None:
    # three equal pulleys: path = two sides + 480 mm + 200 mm x pi, sides from (0, 0) and (0, 480) to (-130 - s, 240).
    # 170 teeth of 10 mm without tension: sides (1700 - 480 - 628.3185307) / 2 = 295.8407346 mm,
    # 130 + s = sqrt(295.8407346^2 - 240^2) = 172.976...
    side = (1.7 - 0.48 - 0.2 * pi) / 2
    by_hand = sqrt(side**2 - 0.24**2) - 0.13
    found = seated(worked)
    assert found.travel_m == pytest.approx(by_hand, abs=1e-12)
    assert found.left_m == pytest.approx(0.1 - by_hand, abs=1e-12)
    assert found.back_m == pytest.approx(by_hand, abs=1e-12)


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
            seated(drive, teeth=teeth)


def test_more_tension_wants_more_travel(drive: Layout) -> None:
    assert seated(drive, tension_n=9000).travel_m > seated(drive, tension_n=1000).travel_m


def test_a_belt_too_long_is_refused_with_the_pulley_and_the_belts_that_fit(worked: Layout) -> None:
    with pytest.raises(Impossible) as refused:
        seated(worked, teeth=200)
    assert (
        str(refused.value)
        == "a belt of 200 teeth does not fit: the slide takes belts of 166 to 177 teeth of pitch 10.0 mm"
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
        seated(within)


def test_a_drive_without_a_slide_has_no_travel_to_find(worked: Layout) -> None:
    with pytest.raises(Impossible, match="worked example has no idler on a slide"):
        seated(replace(worked, slide=None))


def test_a_fit_says_itself(worked: Layout) -> None:
    assert str(seated(worked, tension_n=5000)) == (
        "A belt of 170 teeth seats the idler at 50.00 mm of travel; 50.0 mm are left to tighten and 50.0 mm to slacken."
    )


def test_an_engine_of_24_inches_grows_about_30_thousandths(mechanics: dict[str, Any]) -> None:
    part = Height("all", 24 * INCH_M, 55.0, material="aluminium-6061")
    assert part.growth_m / INCH_M == pytest.approx(mechanics["growth"]["inches"], abs=5e-4)


def test_growth_by_hand(worked: Layout) -> None:
    # 20e-6 x 500 mm x 100 C = 1 mm: blower at 481 mm, idler's upper side sqrt(180^2 + 241^2)
    seated = worked.at_travel(0.05)
    found = growth(seated)
    longer = sqrt(0.18**2 + 0.241**2) - 0.3 + 0.001
    assert found.computed_m == pytest.approx(0.001, rel=1e-12)
    assert found.engine_m == pytest.approx((0.0008, 0.001, 0.0012), rel=1e-12)
    assert found.path_m == pytest.approx(longer, abs=1e-14)
    assert found.tension_n[1] == pytest.approx(1021815.0642456 * longer / 1.7, rel=1e-9)
    assert found.belt_m == 0


def test_the_belt_s_own_growth_takes_tension_away(worked: Layout) -> None:
    warm = replace(worked, belt=replace(worked.belt, expansion_per_c=10e-6, warmer_c=50.0))
    # 10e-6 x 50 of strain x EA
    lost = growth(worked).tension_n[1] - growth(warm).tension_n[1]
    assert lost == pytest.approx(1021815.0642456 * 5e-4, rel=1e-9)
    assert growth(warm).belt_m == pytest.approx(1.7 * 5e-4, rel=1e-12)


def test_a_measured_range_rules_and_the_computed_growth_is_held_within_it(worked: Layout) -> None:
    measured = replace(worked, tension=replace(worked.tension, growth_low_m=0.0002, growth_high_m=0.0005))
    assert growth(measured).engine_m == (0.0002, 0.0005, 0.0005)
    unmeasured = replace(worked, tension=replace(worked.tension, growth_low_m=None, growth_high_m=None))
    assert growth(unmeasured).engine_m == pytest.approx((0.001, 0.001, 0.001))
    least_only = replace(worked, tension=replace(worked.tension, growth_low_m=0.002, growth_high_m=None))
    assert growth(least_only).engine_m == (0.002, 0.002, 0.002)


def test_a_cold_engine_adds_nothing(worked: Layout) -> None:
    cold = replace(worked, heights=(), tension=replace(worked.tension, growth_low_m=None, growth_high_m=None))
    assert growth(cold).tension_n == (0, 0, 0)


def test_small_growth_is_the_closed_form_of_the_blower_s_lift(drive: Layout) -> None:
    seated = drive.at_travel(0.06)
    blower = seated.place("blower")
    tiny = 1e-6
    longer = belt_path(seated.grown(tiny)).length_m - belt_path(seated).length_m
    assert longer / tiny == pytest.approx(belt_path(seated).length_per_move(blower, pi / 2), rel=1e-5)


def test_an_idler_bolted_to_the_blower_case_is_lifted_with_its_share(worked: Layout) -> None:
    crank, idler, blower = worked.pulleys
    carried = replace(worked, pulleys=(crank, replace(idler, growth_share=0.5), blower))
    assert carried.grown(0.001).pulleys[1].y_m == pytest.approx(0.2405, rel=1e-12)
    assert worked.grown(0.001).pulleys[1].y_m == 0.24


def test_expansion_is_callister_s() -> None:
    assert {name: round(value * 1e6, 1) for name, value in EXPANSION_PER_C.items()} == {
        "aluminium-6061": 23.6,
        "steel-1020": 11.7,
        "steel-a36": 11.7,
        "steel-4140": 12.3,
        "steel-4340": 12.3,
    }


def test_growth_says_itself(worked: Layout) -> None:
    assert str(growth(worked.at_travel(0.05))) == (
        "Hot, the engine grows 1.000 mm (0.0394 in) between crank and blower and the belt's path 1.80 mm, the belt "
        "itself 0.00 mm: that adds 1,082 N (243 lbf) (866 to 1,299 N) to every span."
    )


def test_a_turn_of_the_adjusters_by_hand(worked: Layout) -> None:
    # M12x1.75, one hand: 1.75 mm a turn; d path / d travel = 2 x .6 = 1.2 on the 3-4-5 triangle
    gain = adjuster_gain(worked.at_travel(0.05))
    assert gain.travel_per_turn_m == pytest.approx(0.00175, rel=1e-14)
    assert gain.path_per_travel == pytest.approx(1.2, rel=1e-12)
    by_hand = 1021815.0642456 * 1.2 * 0.00175 / 1.7
    assert gain.per_turn_n == pytest.approx(by_hand, rel=1e-12)
    assert gain.per_flat_n == pytest.approx(by_hand / 6, rel=1e-12)


def test_left_and_right_hand_ends_double_what_a_turn_gains(worked: Layout) -> None:
    assert worked.adjusters is not None
    doubled = replace(worked, adjusters=replace(worked.adjusters, ends="left-right"))
    assert adjuster_gain(doubled).per_turn_n == pytest.approx(2 * adjuster_gain(worked).per_turn_n, rel=1e-14)


def test_a_flat_gained_is_the_flat_by_which_the_path_grew(drive: Layout) -> None:
    there = drive.at_travel(seated(drive, tension_n=5000).travel_m)
    gain = adjuster_gain(there)
    flat = gain.travel_per_turn_m / 6
    # half a flat either way, so that the path's own bend drops out
    longer = belt_path(there.at_travel(flat / 2)).length_m - belt_path(there.at_travel(-flat / 2)).length_m
    assert gain.per_flat_n == pytest.approx(drive.belt.stiffness_n * longer / drive.belt.length_m, rel=1e-5)


def test_without_adjusters_nothing_can_be_told(worked: Layout) -> None:
    with pytest.raises(ValueError, match="worked example has no adjusters on a slide"):
        adjuster_gain(replace(worked, adjusters=None))


def test_the_gain_says_itself(worked: Layout) -> None:
    assert str(adjuster_gain(worked.at_travel(0.05))) == (
        "A turn of every adjuster moves the idler 1.750 mm and gains 1,262 N (284 lbf); a flat gains 210 N (47 lbf)."
    )


def test_a_belt_change_by_hand(worked: Layout) -> None:
    there = worked.at_travel(seat(worked, fitting_belts(worked, tension_n=5000)).travel_m)
    # seated at 50 mm; spans of sqrt(180^2 + 240^2) each; loose by 20 mm: the path must lose 8.319 + 20 mm of 1,708.3,
    # so each of two spans stands at 285.84 mm, the idler at sqrt(285.84^2 - 240^2) = 155.26 mm: 24.74 mm back
    span = 300 - (1080 + 200 * pi - 1680) / 2
    flats = ceil((180 - (span**2 - 240**2) ** 0.5) / (1.75 / 6))
    change = belt_change(there, 0.020)
    assert change.flats == flats == 85
    # the last flat is turned to its end
    assert 0.020 <= change.loose_m < 0.020 + 1.2 * 1.75e-3 / 6
    assert "back every adjuster off 85 flats (14.2 turns): the belt then hangs 20.1 mm loose" in str(change)
    with pytest.raises(ValueError, match=r"The slide ends before the belt hangs 90.0 mm loose: at most 4\d"):
        belt_change(there, 0.090)
