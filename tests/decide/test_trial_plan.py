"""Which belt goes on which idler: every block holds every arm once, and chance decides the order."""

from collections import Counter

import pytest

from drivekit.decide.trial_plan import trial_plan

TWO, FOUR = [("smooth", "toothed")], [("smooth", "toothed"), ("none", "install")]


def test_every_block_stays_on_one_car_and_holds_every_arm_once() -> None:
    plan = trial_plan(31, ("amber", "teal"), (30, 10), FOUR, 5)
    assert len(plan) == 32
    assert Counter(one.car for one in plan) == {"amber": 24, "teal": 8}
    for block in range(1, 9):
        within = [one for one in plan if one.block == block]
        assert len({one.car for one in within}) == 1
        assert sorted(one.arm for one in within) == [
            ("smooth", "install"), ("smooth", "none"), ("toothed", "install"), ("toothed", "none"),
        ]  # fmt: skip
    assert [one.place for one in plan if one.car == "teal"] == list(range(1, 9))
    assert len({one.belt for one in plan}) == 32


def test_either_idler_comes_first_about_as_often() -> None:
    first = Counter(one.arm for seed in range(200) for one in trial_plan(10, ("amber",), (1,), TWO, seed)[::2])
    assert first["smooth",] == pytest.approx(500, abs=50)
    assert first.total() == 1000


def test_a_seed_draws_the_same_plan_again_and_another_one_another() -> None:
    one, again, other = (trial_plan(40, ("amber", "teal"), (1, 1), TWO, seed) for seed in (3, 3, 4))
    assert one == again != other


@pytest.mark.parametrize(("belts", "cars", "settings"), [(0, ("amber",), TWO), (4, (), TWO), (4, ("amber",), [("x",)])])
def test_what_makes_no_plan_is_refused(belts: int, cars: tuple[str, ...], settings: list[tuple[str, ...]]) -> None:
    with pytest.raises(ValueError, match="a plan needs belts, a car and at least two arms"):
        trial_plan(belts, cars, (1,) * len(cars), settings, 1)
