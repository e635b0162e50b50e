"""Limits by products of beta variables: against binomial limits, draws of the variables, and what they should cover."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import beta

from drivekit.life.beta_product import ages_by, beta_product, difference_by, mean_by
from drivekit.life.curve import Curve, curve
from drivekit.life.folds import Estimate


def runs_of(last: list[int], fails: list[bool], entry: list[int] | None = None) -> Curve:
    """Give the curve of belts by their last runs, whether these were failures, and the runs they came with."""
    begin = entry or [0] * len(last)
    rows = [
        (age, belt, failed and age == end)
        for belt, (start, end, failed) in enumerate(zip(begin, last, fails, strict=True))
        for age in range(start + 1, end + 1)
    ]
    age, belt, failed = (np.array(column) for column in zip(*rows, strict=True))
    return curve(age, failed, belt)


def test_without_censoring_they_are_the_exact_binomial_limits() -> None:
    found = runs_of([1, 2, 2, 4, 5, 6, 6, 8, 9, 9], [True] * 10)
    lower, upper = beta_product(found, 0.95)
    left = found.at_risk - found.failed_at
    seen = left < 10
    np.testing.assert_allclose(upper[seen], beta.ppf(0.975, left[seen] + 1, 10 - left[seen]), atol=1e-9)
    some = seen & (left > 0)
    np.testing.assert_allclose(lower[some], beta.ppf(0.025, left[some], 11 - left[some]), atol=1e-9)
    assert lower[-1] == 0


def test_where_nothing_has_failed_the_lower_limit_is_one_sided_and_exact() -> None:
    lower, upper = beta_product(runs_of([3, 4, 4, 5], [False] * 4), 0.95)
    np.testing.assert_allclose(lower, [0.05 ** (1 / n) for n in (4, 4, 4, 3, 1)], atol=1e-9)
    assert upper.tolist() == [1.0] * 5


def test_quantiles_are_near_those_of_the_product_itself() -> None:
    found = runs_of([1, 2, 3, 3, 4, 5, 6, 6, 7, 8, 8, 8], [True, False, True, True, False, True, True] + [False] * 5)
    generator = np.random.default_rng(1)
    product = np.ones(200_000)
    for n, d in zip(found.at_risk, found.failed_at, strict=True):
        if d:
            product = product * generator.beta(n - d + 1, d, product.size)
    lower, upper = beta_product(found, 0.9)
    y = found.at_risk[-1] - found.failed_at[-1]
    assert upper[-1] == pytest.approx(np.quantile(product, 0.95), abs=0.006)
    assert lower[-1] == pytest.approx(np.quantile(product * generator.beta(y, 1, product.size), 0.05), abs=0.006)


def test_a_thin_start_by_late_entry_keeps_the_lower_limit_low() -> None:
    late = runs_of([2, 6, 6, 6, 6, 6, 6, 6], [False] * 8, [0, 0, 3, 3, 3, 3, 3, 3])
    lower, _ = beta_product(late, 0.95)
    assert lower[-1] == pytest.approx(0.05)  # one belt alone made run 3


@pytest.mark.parametrize("late", [False, True])
def test_they_cover_early_and_late_with_few_belts(late: bool) -> None:
    generator, hazard, inside = np.random.default_rng(2), 0.04, np.zeros(10)
    truth = (1 - hazard) ** np.arange(1, 11)
    for _ in range(400):
        entry = generator.integers(0, 4, 14) if late else np.zeros(14, int)
        entry[:3] = 0
        life = entry + generator.geometric(hazard, 14)
        taken = entry + generator.integers(5, 14, 14)
        found = runs_of(np.minimum(life, taken).tolist(), (life <= taken).tolist(), entry.tolist())
        lower, upper = beta_product(found, 0.95)
        for age, low, high in zip(found.age[:10], lower, upper, strict=False):
            inside[age - 1] += low <= truth[age - 1] <= high
    assert (inside[:8] >= 0.93 * 400).all()


def test_a_mean_lies_within_the_areas_under_the_limits() -> None:
    found = runs_of([15] * 8, [False] * 8)
    mean = mean_by(found, beta_product(found, 0.95), 5)
    assert (mean.estimate, mean.upper) == (5.0, 5.0)
    assert mean.lower == pytest.approx(1 + 4 * 0.05 ** (1 / 8))  # at the worst all that is left unseen fails on run 1


def test_a_difference_takes_the_nearer_limit_of_each_mean() -> None:
    found = difference_by(Estimate(4.0, 3.0, 4.3), Estimate(8.0, 7.6, 9.0))
    assert found.estimate == 4.0
    assert found.lower == pytest.approx(4 - 0.5)  # 0.3 up and 0.4 down
    assert found.upper == pytest.approx(4 + 2**0.5)


def test_a_mean_that_cannot_be_had_keeps_its_reason() -> None:
    short = runs_of([3, 3, 2, 3, 3], [False, True, False, False, False])
    mean = mean_by(short, beta_product(short, 0.95), 9)
    assert (mean.estimate, mean.lower) == (None, None)
    assert difference_by(Estimate(1.0, 0.5, 1.5), mean).reason == mean.reason


def test_ages_are_where_the_limits_pass_the_share() -> None:
    found = runs_of(list(range(1, 21)), [True] * 20)
    limits = beta_product(found, 0.95)
    half, tenth = ages_by(found, limits)
    assert (half.estimate, tenth.estimate) == (10, 2)
    assert half.lower == found.age[limits[0] <= 0.5][0]
    assert tenth.upper == found.age[limits[1] <= 0.9][0]
