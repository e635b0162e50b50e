"""The watch over a season, against its laws, a plain twin by brute force, and seasons drawn at random."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from scipy.stats import chi2, poisson

from drivekit.decide.watch import OF_THE_RATES, OF_THE_SUM, WORSE, Rates, earlier_rates, watch

HAZARD = np.clip(0.02 + 0.012 * np.arange(40), 0, 0.6)


def season(hazard: np.ndarray, runs: int, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """Run four cars in turn; a belt that fails, or one in twenty that is taken off, is followed by a new one."""
    on_car, age, failed = [0, 0, 0, 0], np.zeros(runs, np.int64), np.zeros(runs, bool)
    for run in range(runs):
        car = run % 4
        on_car[car] += 1
        age[run], failed[run] = on_car[car], rng.random() < hazard[on_car[car] - 1]
        if failed[run] or rng.random() < 0.05:
            on_car[car] = 0
    return age, failed


def rates(*groups: tuple[int, int, int]) -> Rates:
    """Make an earlier season of groups (last age, runs, failed), its hazard even within each."""
    last, runs, failed = (np.array(column) for column in zip(*groups, strict=True))
    age = np.arange(1, last[-1] + 1)
    return Rates(last, runs, failed, age, (failed / runs)[np.searchsorted(last, age)])


def plain_evidence(earlier: Rates, age: np.ndarray, failed: np.ndarray, *, worse: bool) -> float:
    """Give the evidence after the last run again: the least over many rates thrown into the set at random."""
    rng, error = np.random.default_rng(5), 0.05
    best = -np.log1p(-earlier.failed / earlier.runs)
    tried = best * np.exp(rng.normal(0, 0.5, (200_000, best.size)))

    def log_likelihood(rate: np.ndarray) -> np.ndarray:
        return earlier.failed @ np.log(-np.expm1(-rate)).T - (earlier.runs - earlier.failed) @ rate.T

    expected = (1 - np.exp(-tried)) @ earlier.runs
    total, tail = earlier.failed.sum(), error * OF_THE_SUM
    not_refused = poisson.cdf(total, expected) >= tail if worse else poisson.sf(total - 1, expected) >= tail
    jointly = 2 * (log_likelihood(best) - log_likelihood(tried)) <= chi2.ppf(1 - error * OF_THE_RATES, best.size)
    rate = tried[not_refused & jointly][:, np.searchsorted(earlier.last, age)]
    ratios = WORSE if worse else [1 / ratio for ratio in WORSE]
    chances = [
        np.where(failed, 1 - np.exp(-ratio * rate), np.exp(-ratio * rate)).prod(axis=1) for ratio in (1, *ratios)
    ]
    return float((np.mean(chances[1:], axis=0) / chances[0]).min())


def test_groups_join_ages_until_each_rate_rests_on_failures_of_its_own() -> None:
    age = np.repeat([1, 2, 3, 4, 5, 6], [30, 28, 20, 12, 9, 2])
    failed = np.zeros(age.size, bool)
    for at, many in ((1, 2), (2, 3), (3, 4), (4, 1), (5, 6)):
        failed[np.flatnonzero(age == at)[:many]] = True
    found = earlier_rates(age, failed)
    assert isinstance(found, Rates)
    assert found.last.tolist() == [3, 6]
    assert found.runs.tolist() == [78, 23]
    assert found.failed.tolist() == [9, 7]
    assert found.hazard == pytest.approx([2 / 30, 3 / 28, 4 / 20, 1 / 12, 6 / 9, 0])


def test_four_failures_are_too_few_for_a_rate() -> None:
    age = np.arange(1, 21)
    assert earlier_rates(age, age > 16) == "the earlier season saw 4 failures, and its rates take 5 at least"


def test_what_is_expected_is_the_earlier_share_at_each_age_and_unknown_ages_tell_nothing() -> None:
    earlier = rates((3, 60, 6), (6, 40, 10))
    found = watch(earlier, [1, 2, 9, 4, 5], [False, True, True, False, True])
    assert found.counted.tolist() == [True, True, False, True, True]
    assert found.expected == pytest.approx([0.1, 0.2, 0.2, 0.45, 0.7])
    assert found.observed.tolist() == [0, 1, 1, 1, 2]
    assert found.worse[2] == found.worse[1]
    assert found.alarm == pytest.approx(2 / (0.05 * (1 - 0.1 - 0.4)))


@pytest.mark.parametrize("worse", [True, False])
@pytest.mark.parametrize(
    "groups", [((9, 200, 30),), ((4, 150, 9), (9, 80, 16)), ((3, 120, 6), (6, 90, 9), (9, 60, 12))]
)
def test_evidence_is_the_least_over_the_rates_that_the_earlier_season_does_not_refuse(
    worse: bool, groups: tuple[tuple[int, int, int], ...]
) -> None:
    earlier = rates(*groups)
    rng = np.random.default_rng(2)
    age = rng.integers(1, 10, 120)
    failed = rng.random(120) < (0.45 if worse else 0.03)
    found = watch(earlier, age, failed)
    ours = (found.worse if worse else found.better)[-1]
    assert np.log(ours) == pytest.approx(np.log(plain_evidence(earlier, age, failed, worse=worse)), abs=0.15)


def test_a_bet_is_fair_or_worse_at_every_rate_of_the_set() -> None:
    earlier = rates((2, 100, 10), (4, 60, 12))
    age = np.array([1, 2, 3, 4, 1, 2, 3, 4])
    for scale in (0.9, 1.0, 1.2):
        chance = 1 - np.exp(scale * np.log1p(-(earlier.failed / earlier.runs)[np.searchsorted(earlier.last, age)]))
        mean = np.zeros(2)
        for outcome in product([False, True], repeat=8):
            failed = np.array(outcome)
            found = watch(earlier, age, failed)
            mean += np.where(failed, chance, 1 - chance).prod() * np.array([found.worse[-1], found.better[-1]])
        assert (mean <= 1 + 1e-9).all()


def test_names_of_the_groups_do_not_matter_and_more_failures_speak_louder_for_worse() -> None:
    earlier = rates((5, 200, 20), (12, 100, 20))
    age = np.tile(np.arange(1, 11), 12)
    few, many = (watch(earlier, age, np.arange(age.size) % every == 0) for every in (8, 2))
    assert many.worse[-1] > few.worse[-1]
    assert many.better[-1] < few.better[-1]
    assert many.worse.max() >= many.alarm > few.worse.max()


def test_false_alarms_are_rare_with_the_earlier_season_drawn_anew_each_time() -> None:
    rng, alarms = np.random.default_rng(8), 0
    for _ in range(60):
        earlier = earlier_rates(*season(HAZARD, 300, rng))
        assert isinstance(earlier, Rates)
        found = watch(earlier, *season(HAZARD, 300, rng))
        alarms += bool((np.maximum(found.worse, found.better) >= found.alarm).any())
    # At a rate of 5 % seven or more come up in 3 of 100 such tests.
    assert alarms <= 6


def test_a_hazard_three_times_as_high_is_seen_within_the_season() -> None:
    rng = np.random.default_rng(9)
    seen = []
    for _ in range(10):
        earlier = earlier_rates(*season(HAZARD, 1000, rng))
        assert isinstance(earlier, Rates)
        found = watch(earlier, *season(1 - (1 - HAZARD) ** 3, 1000, rng))
        seen.append(found.worse.max() >= found.alarm > found.better.max())
    assert sum(seen) >= 8
