"""Weibull's law: as a handbook prints it, in whole runs by hand, beside a plain search, and where there is none."""

from __future__ import annotations

from math import exp, log

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize

from drivekit.life.weibull import Lives, fits, given_shape, weibull

HOURS = np.array([54, 187, 216, 240, 244, 335, 361, 373, 375, 386, *[500] * 10], float)


def handbook(*, exact: bool) -> Lives:
    """20 units, 10 failed by 500 hours: NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.1.3."""
    return Lives(np.zeros(20), HOURS, HOURS < 500, exact)


def test_the_handbook_s_example_at_exact_times() -> None:
    found = weibull(handbook(exact=True))
    assert found.scale.estimate == pytest.approx(606.5280, abs=5e-4)
    assert found.shape.estimate == pytest.approx(1.7208, abs=5e-5)
    assert found.loglik == pytest.approx(-75.135, abs=5e-4)
    # its limits are the estimate times and over exp(z se) on the log scale, by the information
    assert found.covariance is not None
    reach = np.exp(1.9599639845 * np.sqrt(np.diag(found.covariance)))
    assert (found.scale.estimate / reach[0], found.scale.estimate * reach[0]) == pytest.approx(
        (405.089, 908.135), abs=5e-4
    )
    assert (found.shape.estimate / reach[1], found.shape.estimate * reach[1]) == pytest.approx(
        (0.971266, 3.048746), abs=5e-7
    )


def test_the_same_hours_taken_as_whole_runs() -> None:
    # by a program of other hands: scale 606.928, shape 1.7148
    found = weibull(handbook(exact=False))
    assert found.scale.estimate == pytest.approx(606.928, abs=5e-4)
    assert found.shape.estimate == pytest.approx(1.7148, abs=5e-5)


def test_four_belts_in_whole_runs_by_hand() -> None:
    # shape 1: S(t) = s^t. A failure on run 2, one on run 1, one left after 3, one that came with 1 left after 2:
    # (s - s^2)(1 - s)(s^3)(s^2 / s) = s^5 (1 - s)^2
    lives = Lives(np.array([0.0, 0, 0, 1]), np.array([2.0, 1, 3, 2]), np.array([True, True, False, False]))
    for share in (0.3, 5 / 7, 0.9):
        height, slope, _ = lives.likelihood(np.array([log(-1 / log(share)), 0.0]))
        assert height == pytest.approx(5 * log(share) + 2 * log(1 - share))
        # along log b the share moves by share * -log(share)
        assert slope[0] == pytest.approx((5 / share - 2 / (1 - share)) * share * -log(share), abs=1e-12)


def plain(lives: Lives, scale: float, shape: float) -> float:
    """Add the log likelihood up belt by belt."""

    def share(t: float) -> float:
        return exp(-((t / scale) ** shape))

    total = 0.0
    for entry, stop, failed in zip(lives.entry, lives.stop, lives.failed, strict=True):
        chance = share(stop - 1) - share(stop) if failed else share(stop)
        total += log(max(chance, 1e-300) / share(entry))
    return total


belts = st.lists(st.tuples(st.integers(0, 3), st.integers(1, 12), st.booleans()), min_size=8, max_size=30)


def of(drawn: list[tuple[int, int, bool]]) -> Lives:
    entry, runs, failed = (np.array(column) for column in zip(*drawn, strict=True))
    return Lives(entry.astype(float), (entry + runs).astype(float), failed.astype(bool))


@given(belts, st.floats(2, 20), st.floats(0.5, 4))
def test_likelihood_and_slopes_are_those_of_a_plain_sum(
    drawn: list[tuple[int, int, bool]], scale: float, shape: float
) -> None:
    lives, at = of(drawn), np.log([scale, shape])
    height, slope, curve = lives.likelihood(at)
    if height > -200:
        assert height == pytest.approx(plain(lives, scale, shape), rel=1e-8)
    for term, step in enumerate(np.eye(2) * 1e-5):
        above, below = lives.likelihood(at + step), lives.likelihood(at - step)
        assert (above[0] - below[0]) / 2e-5 == pytest.approx(slope[term], rel=1e-4, abs=1e-3)
        assert (below[1] - above[1]) / 2e-5 == pytest.approx(curve[term], rel=1e-4, abs=1e-3)


@settings(max_examples=25)
@given(belts)
def test_no_search_without_slopes_gets_higher_and_limits_lie_where_the_likelihood_fell(
    drawn: list[tuple[int, int, bool]],
) -> None:
    lives = of(drawn)
    found = weibull(lives)
    if found.shape.estimate is None or found.scale.estimate is None or found.loglik is None:
        assert found.shape.reason
        return
    near = np.log([found.scale.estimate, found.shape.estimate])
    options = {"xatol": 1e-8, "fatol": 1e-10}
    search = minimize(lambda at: -lives.likelihood(at)[0], near + 0.3, method="Nelder-Mead", options=options)
    assert found.loglik >= -search.fun - 1e-6
    if found.shape.lower is not None:
        held = minimize(
            lambda at: -lives.likelihood(np.array([at[0], log(found.shape.lower)]))[0], near[:1], method="Nelder-Mead"
        )
        assert 2 * (found.loglik + held.fun) == pytest.approx(3.841459, abs=1e-3)


def test_the_life_of_1_in_10_is_the_law_s_own_and_runs_counted_double_double_it() -> None:
    lives = Lives(np.zeros(20), np.tile([3.0, 5, 6, 8, 9], 4), np.tile([True, True, False, True, True], 4), True)
    found, double = weibull(lives), weibull(Lives(lives.entry, 2 * lives.stop, lives.failed, True))
    assert found.scale.estimate is not None
    assert found.shape.estimate is not None
    assert found.b10.estimate == pytest.approx(found.scale.estimate * (-log(0.9)) ** (1 / found.shape.estimate))
    for name in ("scale", "b10"):
        one, two = getattr(found, name), getattr(double, name)
        pairs = (2 * one.estimate, 2 * one.lower, 2 * one.upper)
        assert (two.estimate, two.lower, two.upper) == pytest.approx(pairs, rel=1e-8)
    assert (double.shape.lower, double.shape.upper) == pytest.approx((found.shape.lower, found.shape.upper), rel=1e-8)


def test_the_limits_of_1_in_10_cover_at_40_belts() -> None:
    draw = np.random.default_rng(3)
    truth, held = 10 * (-log(0.9)) ** (1 / 1.8), 0
    for _ in range(60):
        fails, leaves = np.ceil(10 * draw.exponential(size=40) ** (1 / 1.8)), draw.integers(3, 16, 40)
        told = weibull(Lives(np.zeros(40), np.minimum(fails, leaves), fails <= leaves)).b10
        held += (told.lower or 0) <= truth <= (told.upper or np.inf)
    # 95 % of 60 is 57, give or take 1.7
    assert held >= 52


def test_where_the_shape_cannot_be_told_there_is_a_reason() -> None:
    one = Lives(np.zeros(3), np.array([2.0, 3, 4]), np.array([True, False, False]))
    assert weibull(one).b10.reason == "fewer than two belts failed"
    level = Lives(np.zeros(6), np.full(6, 4.0), np.array([True] * 6))
    assert "too much at one age" in str(weibull(level).shape.reason)


def test_a_given_shape_says_what_it_would_imply_with_and_without_failures() -> None:
    # shape 1, 50 runs, no failure: exp(-50 / scale) = .05 at the limit, and 1 in 10 after .105361 of the scale
    none = given_shape(Lives(np.zeros(10), np.full(10, 5.0), np.zeros(10, bool)), 1.0)
    assert none.lower == pytest.approx(50 / -log(0.05) * -log(0.9))
    assert (none.estimate, none.upper) == (None, None)
    # two failures in the middle of their fifth run: 49 runs, 24.5 each; Garwood's limits of 2 are .242 and 7.225
    two = given_shape(Lives(np.zeros(10), np.full(10, 5.0), np.arange(10) < 2), 1.0)
    assert two.estimate == pytest.approx(24.5 * -log(0.9))
    assert (two.lower, two.upper) == pytest.approx((49 / 7.2247 * -log(0.9), 49 / 0.2422 * -log(0.9)), rel=1e-3)


def season_of(law: str, draw: np.random.Generator) -> Lives:
    if law == "Weibull":
        fails = np.ceil(9 * draw.exponential(size=80) ** (1 / 2))
    else:  # a third fails at once, the rest late: no Weibull
        fails = np.where(draw.random(80) < 0.35, draw.integers(1, 3, 80), draw.integers(11, 15, 80))
    leaves = draw.integers(5, 18, 80)
    return Lives(np.zeros(80), np.minimum(fails, leaves).astype(float), fails <= leaves)


def test_the_test_of_fit_lets_the_law_pass_and_finds_another() -> None:
    draw = np.random.default_rng(8)
    chances = {
        law: [
            fits(lives, weibull(lives), np.random.default_rng(1), draws=39)[1]
            for lives in (season_of(law, draw) for _ in range(12))
        ]
        for law in ("Weibull", "another")
    }
    assert sum(p <= 0.05 for p in chances["Weibull"] if p is not None) <= 3
    assert sum(p <= 0.05 for p in chances["another"] if p is not None) >= 11


def test_the_same_seed_gives_the_same_chance_in_processes_too() -> None:
    from concurrent.futures import ThreadPoolExecutor

    lives = season_of("Weibull", np.random.default_rng(5))
    found = weibull(lives)
    here = fits(lives, found, np.random.default_rng(2), draws=45)
    with ThreadPoolExecutor(2) as executor:
        assert fits(lives, found, np.random.default_rng(2), draws=45, executor=executor) == here
    assert fits(lives, found, np.random.default_rng(3), draws=45)[0] == here[0]
