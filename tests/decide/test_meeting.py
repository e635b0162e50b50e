"""Which belt goes on for which round: by hand, against every order of belts, and by living meetings."""

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivekit.decide.meeting import MeetingPlan, meeting_plan

ELIMINATION, QUALIFYING = True, False
belts_on_hand = st.lists(
    st.lists(st.sampled_from([0.0, 0.05, 0.1, 0.3, 0.7]), min_size=1, max_size=4), min_size=1, max_size=3
)


def plan_of(belts: list[list[float]], rounds: list[bool], mounted: int | None = None) -> MeetingPlan:
    return meeting_plan([np.array(each) for each in belts], rounds, mounted=mounted)


def test_two_belts_and_three_eliminations_by_hand() -> None:
    # the new belt: .1, .2, .4; the used one: .15, .5. Best: new, new, used: .9 x .8 x .85
    found = plan_of([[0.1, 0.2, 0.4], [0.15, 0.5]], [ELIMINATION] * 3)
    assert found.all_rounds == pytest.approx(0.9 * 0.8 * 0.85)
    assert found.lost == pytest.approx(1 - 0.9 * 0.8 * 0.85)
    assert sorted(belt for belt in found.belts if belt is not None) == [0, 0, 1]


def test_a_lost_qualifying_run_is_followed_by_the_belt_that_is_left() -> None:
    # qualifying then an elimination; belt 0 fails .2 then .3, belt 1 .25 then .9. Belt 0 first, belt 1 then:
    # lost .2 (1 + .25) + .8 x .25 = .45. Belt 1 first, belt 0 then: .25 (1 + .2) + .75 x .2 = .45; keeping belt 0:
    # .2 (1 + .25) + .8 x .3 = .49. A tie, so that changes decide: one belt on, then another, either way.
    found = plan_of([[0.2, 0.3], [0.25, 0.9]], [QUALIFYING, ELIMINATION])
    assert found.lost == pytest.approx(0.45)
    assert set(found.belts) == {0, 1}
    # whichever went first: if it fails the other goes on, and after a lost elimination none
    assert found.instead == (found.belts[1], None)


def test_of_plans_as_good_the_one_with_fewest_belt_changes_is_taken() -> None:
    same = [[0.1] * 4, [0.1] * 4]
    assert plan_of(same, [ELIMINATION] * 4).belts == (0, 0, 0, 0)
    assert plan_of(same, [ELIMINATION] * 4, mounted=1).belts == (1, 1, 1, 1)


def test_a_belt_is_not_mounted_beyond_what_is_known_of_it() -> None:
    found = plan_of([[0.0], [0.6, 0.6]], [QUALIFYING] * 3 + [ELIMINATION])
    assert found.belts.count(0) == 1
    assert found.belts[-1] is None or found.survive[-1] > 0
    assert plan_of([], [ELIMINATION, ELIMINATION]) == MeetingPlan((None, None), (0.0, 0.0), (None, None), 0.0, 1.0)


@settings(deadline=None)
@given(belts_on_hand, st.integers(1, 4))
def test_in_eliminations_no_order_of_belts_does_better(belts: list[list[float]], many: int) -> None:
    best = 0.0
    for order in product(range(len(belts)), repeat=many):
        made, chance = [0] * len(belts), 1.0
        for belt in order:
            chance *= 1 - belts[belt][made[belt]] if made[belt] < len(belts[belt]) else 0
            made[belt] += 1
        best = max(best, chance)
    found = plan_of(belts, [ELIMINATION] * many)
    assert found.lost == pytest.approx(1 - best)
    assert found.all_rounds == pytest.approx(best)


def every_policy(belts: list[list[float]], rounds: list[bool], made: tuple[int | None, ...]) -> list[float]:
    """Rounds lost under every policy there is, one number each."""
    if not rounds:
        return [0.0]
    losses = []
    for belt, runs in enumerate(made):
        if runs is None or runs >= len(belts[belt]):
            continue
        won = every_policy(belts, rounds[1:], (*made[:belt], runs + 1, *made[belt + 1 :]))
        gone = [0.0] if rounds[0] else every_policy(belts, rounds[1:], (*made[:belt], None, *made[belt + 1 :]))
        fails = belts[belt][runs]
        losses += [fails * (1 + after) + (1 - fails) * later for after, later in product(gone, won)]
    if not losses:
        return [1.0] if rounds[0] else [1 + later for later in every_policy(belts, rounds[1:], made)]
    return losses


@settings(deadline=None, max_examples=40)
@given(belts_on_hand.filter(lambda belts: len(belts) < 3), st.lists(st.booleans(), min_size=1, max_size=3))
def test_no_policy_at_all_loses_fewer_rounds(belts: list[list[float]], ends: list[bool]) -> None:
    least = min(every_policy(belts, ends, (0,) * len(belts)))
    assert plan_of(belts, ends).lost == pytest.approx(least)


def test_the_plan_of_a_whole_meeting_is_found_at_once() -> None:
    rising = [list(np.linspace(0.02, 0.5, 10) + shift) for shift in (0, 0.01, 0.03, 0.05, 0.1)]
    found = plan_of(rising, [QUALIFYING] * 4 + [ELIMINATION] * 4)
    assert len(found.belts) == 8
    assert 0 < found.all_rounds < 1


@pytest.mark.parametrize(("belts", "rounds"), [(1, 0), (1, 9), (6, 3)])
def test_more_than_can_be_worked_out_exactly_is_refused(belts: int, rounds: int) -> None:
    with pytest.raises(ValueError, match="a plan takes 1 to 8 rounds and up to 5 belts"):
        plan_of([[0.1]] * belts, [ELIMINATION] * rounds)
