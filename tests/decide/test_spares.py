"""How many belts to have: by hand, by living the season, by the renewal theorem, and laws."""

from fractions import Fraction
from math import ceil

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from drivekit.decide.spares import Car, Spares, spares, split_runs

HAZARD = np.array([0.05, 0.1, 0.3, 0.5])
hazard_lists = st.lists(st.floats(0, 1), min_size=1, max_size=8)


def lived(rng: np.random.Generator, car: Car, end: int, hazard: NDArray[np.float64]) -> int:
    """Run a car to the end of its season and count the belts put on."""
    put_on, (runs, age) = 0, car
    for _ in range(runs):
        if age is None or age >= end:
            put_on, age = put_on + 1, 0
        age = None if rng.random() < hazard[age] else age + 1
    return put_on


def convolved(car: Car, end: int, hazard: NDArray[np.float64]) -> NDArray[np.float64]:
    """Chance of each number of new belts, one belt after the other: P(T_0 + ... + T_n < runs) over n."""

    def gives(age: int) -> NDArray[np.float64]:
        alive = np.cumprod(np.concatenate([[1.0], 1 - hazard[age:end]]))
        return np.concatenate([[0.0], alive[:-1] * hazard[age:end]]) + alive[-1] * (
            np.arange(end - age + 1) == end - age
        )

    runs, age = car
    made = gives(age) if age is not None and age < end else np.ones(1)
    short = [1.0]
    for _ in range(runs + 1):
        short.append(made[:runs].sum())
        made = np.convolve(made, gives(0))[: runs + 1]
    return -np.diff(short)


def test_three_runs_on_belts_of_two_by_hand() -> None:
    # a new belt gives 1 run with chance 1/4, else 2; the car has none: 2 belts unless all three give 1 run
    found = spares(np.array([[0.25, 0.5]]), [(3, None)], None)
    short = [Fraction(1), Fraction(1), Fraction(1, 16), Fraction(0)]
    assert found.chance == pytest.approx([0, 0, 15 / 16, 1 / 16])
    assert found.chance_short() == pytest.approx([float(share) for share in short])
    assert found.mean == pytest.approx(2 + 1 / 16)
    assert [found.quantile(share) for share in (0.5, 0.9, 0.95)] == [2, 2, 3]
    # with one that has made 1 run: it gives 1 more for sure, then a new one 2 with chance 3/4
    found = spares(np.array([[0.25, 0.5]]), [(3, 1)], None)
    assert found.chance == pytest.approx([0, 3 / 4, 1 / 4])


def test_two_cars_add_up_and_a_belt_at_its_change_age_comes_off_first() -> None:
    hazard = HAZARD[None]
    one, other = (spares(hazard, [car], 3).chance for car in ((5, 2), (4, 3)))
    assert spares(hazard, [(5, 2), (4, 3)], 3).chance == pytest.approx(np.convolve(one, other))
    assert other == pytest.approx(spares(hazard, [(4, None)], 3).chance)


@pytest.mark.parametrize("change_after", [None, 2, 3])
def test_the_season_lived_40_000_times_needs_as_many(change_after: int | None) -> None:
    rng = np.random.default_rng(8)
    cars = [(9, 2), (6, None), (2, 3)]
    counts = [sum(lived(rng, car, change_after or 4, HAZARD) for car in cars) for _ in range(40_000)]
    seen = np.bincount(counts) / len(counts)
    found = spares(HAZARD[None], cars, change_after).chance
    together = min(seen.size, found.size)
    assert seen[:together] == pytest.approx(found[:together], abs=0.01)
    assert found[together:].sum() < 1e-3


@settings(deadline=None)
@given(
    hazard_lists.filter(lambda hazard: len(hazard) > 1), st.integers(1, 150), st.one_of(st.none(), st.integers(0, 6)),
    st.integers(1, 8),
)  # fmt: skip
def test_belts_added_one_by_one_give_the_same_chances(
    hazard: list[float], runs: int, age: int | None, change_after: int
) -> None:
    car, other = (runs, age), (runs // 2, None)
    end = min(len(hazard), change_after)
    expected = np.convolve(*(convolved(each, end, np.array(hazard)) for each in (car, other)))
    found = spares(np.array([hazard]), [car, other], change_after).chance
    assert found == pytest.approx(expected[: found.size], abs=1e-11)
    assert expected[found.size :].sum() < 1e-11


def test_a_hundred_thousand_runs_have_the_spread_of_the_renewal_theorem() -> None:
    # Feller, chapter XIII: the number has mean near runs / m and variance near runs x variance / m^3, and is normal
    survival = np.concatenate([[1.0], np.cumprod(1 - HAZARD)[:-1]])
    mean = survival.sum()
    variance = (survival * (2 * np.arange(4) + 1)).sum() - mean**2
    found = spares(HAZARD[None], [(100_000, None)], None)
    assert found.mean == pytest.approx(100_000 / mean, abs=1)
    spread = np.sqrt(100_000 * variance / mean**3)
    assert found.quantile(0.975) - found.quantile(0.025) == pytest.approx(2 * 1.959964 * spread, abs=2)
    assert found.chance.sum() == pytest.approx(1)


def test_in_the_long_run_each_new_belt_makes_its_mean_life() -> None:
    # the elementary renewal theorem: belts a run tend to 1 over S(0) + S(1) + ... + S(N - 1)
    for change_after in (2, 3, None):
        survival = np.concatenate([[1.0], np.cumprod(1 - HAZARD)])
        life = survival[: change_after or HAZARD.size].sum()
        few, many = (spares(HAZARD[None], [(runs, None)], change_after).mean for runs in (300, 600))
        assert (many - few) / 300 == pytest.approx(1 / life, rel=1e-6)


def test_seasons_that_differ_are_mixed() -> None:
    drawn = np.array([[0.0, 0.0, 0.0], [1.0, 1.0, 1.0]])
    assert spares(drawn, [(3, None)], None).chance == pytest.approx([0, 0.5, 0, 0.5])


def test_runs_are_split_as_the_log_has_them() -> None:
    assert split_runs(10, [1, 1, 1]) == [4, 3, 3]
    assert split_runs(7, [60, 30, 10]) == [4, 2, 1]
    assert split_runs(0, [3, 4]) == [0, 0]


@given(hazard_lists, st.integers(1, 25), st.one_of(st.none(), st.integers(0, 6)))
def test_belts_are_never_fewer_than_the_runs_over_the_oldest_age(
    hazard: list[float], runs: int, age: int | None
) -> None:
    found: Spares = spares(np.array([hazard]), [(runs, age)], None)
    left = 0 if age is None else max(0, len(hazard) - age)
    fewest = ceil(max(0, runs - left) / len(hazard))
    assert found.chance[:fewest].sum() == pytest.approx(0, abs=1e-12)
    assert found.chance.sum() == pytest.approx(1)
    assert found.chance.size - 1 <= runs


@given(hazard_lists, st.integers(1, 20))
def test_more_runs_never_need_fewer_belts(hazard: list[float], runs: int) -> None:
    less, more = (spares(np.array([hazard]), [(many, None)], None).mean for many in (runs, runs + 1))
    assert less <= more + 1e-12


@pytest.mark.parametrize(("hazard", "car", "change_after", "said"), [
    (HAZARD[:0], (3, 1), None, "where no age has enough belts at risk"),
    (HAZARD, (3, 1), 0, "after 1 run or more, not after 0"),
    (HAZARD, (3, -1), None, "runs and ages are whole numbers, 0 or more"),
])  # fmt: skip
def test_what_makes_no_sense_is_refused(
    hazard: NDArray[np.float64], car: Car, change_after: int | None, said: str
) -> None:
    with pytest.raises(ValueError, match=said):
        spares(hazard[None], [car], change_after)
