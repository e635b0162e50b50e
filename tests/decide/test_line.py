"""A line, its zero and the next reading: by hand, published, and against statsmodels."""

import json
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from drivekit.decide.line import Estimate, Line, adjusted_slope, line, t_quantile

REFERENCE = Path(__file__).parents[1] / "reference"

X = np.array([1.0, -2.0, 2.0, 0.0, -1.0])
Y = np.array([-1.0, 5.0, -4.0, 2.0, 3.0])


def fitted(x: NDArray[np.float64], y: NDArray[np.float64], confidence: float = 0.95) -> Line:
    one = line(x, y, confidence=confidence)
    assert isinstance(one, Line)
    return one


def test_five_readings_by_hand() -> None:
    # Means 0 and 1; S_xx = 10, S_xy = -22, b = -2.2; residuals -.4 -.2 1 .2 -.6, their squares 1.6, s2 = 1.6 / 3
    one = fitted(X, Y)
    assert (one.x_mean, one.y_mean, one.sxx) == (0.0, 1.0, 10.0)
    assert one.slope == pytest.approx(-2.2, rel=1e-12)
    assert one.spread**2 == pytest.approx(1.6 / 3, rel=1e-12)
    # t(.975, 3) = 3.182446; se = sqrt(.053333) = .2309401; half width .7349545
    assert t_quantile(0.975, 3) == pytest.approx(3.182446, abs=5e-7)
    slope = one.slope_estimate()
    assert (slope.lower, slope.upper) == pytest.approx((-2.9349545, -1.4650455), abs=5e-8)
    # q = 10.127965 x .5333333 = 5.401581; bend = 4.84 - .5401581 = 4.2998419; middle = 2.2 / 4.2998419 = .5116467;
    # constant (1 - 1.0803162) / 4.2998419 = -.0186789; half = sqrt(.2617824 + .0186789) = .5295859
    zero = one.zero()
    assert zero.estimate == pytest.approx(1 / 2.2, rel=1e-12)
    assert (zero.lower, zero.upper) == pytest.approx((-0.0179392, 1.0412326), abs=1e-7)


def test_the_reaction_chamber_of_graybill_and_iyer() -> None:
    known = json.loads((REFERENCE / "calibration_chamber.json").read_text())
    readings = np.array(known["temperature"]) - known["target"]
    zero = fitted(np.array(known["dial"], float), readings, known["confidence"]).zero()
    assert zero.estimate == pytest.approx(known["estimate"], abs=0.05)
    assert zero.lower == pytest.approx(known["lower"], abs=0.005)
    assert zero.upper == pytest.approx(known["upper"], abs=0.005)


@pytest.mark.parametrize("seed", range(6))
def test_statsmodels_gives_the_same_slope_limits_and_next_reading(seed: int) -> None:
    import statsmodels.api as sm
    from scipy.stats import t

    rng = np.random.default_rng(seed)
    x = rng.integers(-4, 7, 14).astype(float)
    y = 3 - 1.4 * x + rng.normal(0, 2, 14)
    one, other = fitted(x, y, 0.9), sm.OLS(y, sm.add_constant(x)).fit()
    slope = one.slope_estimate()
    assert slope.estimate == pytest.approx(other.params[1], rel=1e-10)
    assert (slope.lower, slope.upper) == pytest.approx(tuple(other.conf_int(0.1)[1]), rel=1e-9)
    told = other.get_prediction(np.array([[1.0, 5.0]]))
    assert one.limits_at(5.0) == pytest.approx(tuple(told.conf_int(alpha=0.1)[0]), rel=1e-9)
    spread = told.se_obs[0]
    law = t(other.df_resid, loc=told.predicted_mean[0], scale=spread)
    assert one.chance_within(5.0, 4.0) == pytest.approx(law.cdf(4.0) - law.cdf(-4.0), rel=1e-9)


@pytest.mark.parametrize("seed", range(6))
def test_fieller_is_the_test_inverted_by_brute_force(seed: int) -> None:
    """The limits are where statsmodels' own limits of the mean just reach zero."""
    import statsmodels.api as sm
    from scipy.optimize import brentq

    rng = np.random.default_rng(100 + seed)
    x = rng.integers(-3, 6, 10).astype(float)
    y = 2 + 1.8 * x + rng.normal(0, 1.5, 10)
    other = sm.OLS(y, sm.add_constant(x)).fit()

    def excess(at: float) -> float:
        told = other.get_prediction(np.array([[1.0, at]]))
        return float(abs(told.predicted_mean[0] / told.se_mean[0]) - t_quantile(0.975, 8))

    zero = fitted(x, y).zero()
    assert zero.estimate is not None
    assert zero.lower == pytest.approx(brentq(excess, zero.estimate - 60, zero.estimate, xtol=1e-12), abs=1e-8)
    assert zero.upper == pytest.approx(brentq(excess, zero.estimate, zero.estimate + 60, xtol=1e-12), abs=1e-8)


def test_fieller_covers_as_often_as_it_says() -> None:
    rng = np.random.default_rng(8)
    x = np.array([-3.0, -1, 0, 1, 2, 4, 5, 5])
    covered = []
    for _ in range(4000):
        zero = fitted(x, 2.0 - 1.0 * x + rng.normal(0, 2, 8), 0.9).zero()
        # No limits means that no setting is ruled out far away; those near the truth are not ruled out either, mostly.
        covered.append(zero.lower is None or zero.upper is None or zero.lower <= 2.0 <= zero.upper)
    assert np.mean(covered) == pytest.approx(0.9, abs=0.03)


small = st.integers(-40, 40).map(lambda tenth: tenth / 10)


@settings(deadline=None)
@given(st.lists(small, min_size=5, max_size=12), st.floats(-20, 20), st.floats(0.2, 5))
def test_moving_and_stretching_the_settings_moves_and_stretches_the_zero(
    scatter: list[float], shift: float, stretch: float
) -> None:
    x = 4 * np.arange(len(scatter), dtype=float)
    y = np.array(scatter) - 2 * x + 7
    here, there = fitted(x, y).zero(), fitted(stretch * x + shift, y).zero()
    for one, other in zip(
        (here.estimate, here.lower, here.upper), (there.estimate, there.lower, there.upper), strict=True
    ):
        assert one is not None
        assert other == pytest.approx(stretch * one + shift, rel=1e-5, abs=1e-5)


@settings(deadline=None)
@given(st.lists(st.tuples(small, small), min_size=4, max_size=12))
def test_the_zero_is_told_exactly_when_the_slope_leaves_zero_out(pairs: list[tuple[float, float]]) -> None:
    x, y = np.array(pairs).T
    assume(np.unique(x).size > 1)
    one = fitted(x, y)
    slope, zero = one.slope_estimate(), one.zero()
    assert slope.lower is not None
    assert slope.upper is not None
    assume(min(abs(slope.lower), abs(slope.upper)) > 1e-9)
    spans = slope.lower < 0 < slope.upper
    assert [told is None for told in (zero.estimate, zero.lower, zero.upper)] == [spans] * 3
    if zero.lower is not None and zero.upper is not None and zero.estimate is not None:
        assert zero.lower - 1e-9 <= zero.estimate <= zero.upper + 1e-9


def test_readings_on_a_line_leave_no_doubt() -> None:
    one = fitted(np.array([0.0, 1, 2, 3]), np.array([3.0, 2, 1, 0]))
    assert one.spread == 0.0
    assert one.zero() == Estimate(3.0, 3.0, 3.0)
    assert one.chance_within(2.0, 2.0) == 1.0
    assert one.chance_within(0.0, 2.0) == 0.0


def test_a_line_that_cannot_be_had_says_why() -> None:
    assert line(np.array([1.0, 2, 3]), np.array([1.0, 2, 3])) == "3 runs with both known, and it takes 4"
    assert line(np.full(6, 2.0), np.arange(6.0)) == "all 6 runs were made at one setting (2)"
    level = fitted(np.array([-1.0, 1, -1, 1]), np.array([1.0, 1, 3, 3])).zero()
    assert level == Estimate(None, None, None, "the line is level, so it crosses zero nowhere")
    assert level.block() == {"estimate": None, "lower": None, "upper": None, "reason": level.reason}


def test_what_cannot_be_a_line_is_refused() -> None:
    with pytest.raises(ValueError, match="as many settings as readings, all of them numbers"):
        line(np.array([1.0, 2, 3, math.nan]), np.arange(4.0))
    with pytest.raises(ValueError, match="A confidence of 95 is none; give one between 0 and 1"):
        line(np.arange(4.0), np.arange(4.0), confidence=95)


@pytest.mark.parametrize("seed", range(4))
def test_statsmodels_gives_the_same_slope_with_other_terms_held(seed: int) -> None:
    import statsmodels.api as sm

    rng = np.random.default_rng(seed)
    x = rng.integers(0, 8, 20).astype(float)
    last = rng.normal(0, 3, 20)
    belts = (np.arange(20)[:, None] // 5 == np.arange(4)).astype(float)
    y = 1 - 0.8 * x + 0.4 * last + belts @ np.array([0.0, 2, -1, 3]) + rng.normal(0, 1, 20)
    others = np.column_stack([last, belts])
    mine = adjusted_slope(x, y, others)
    other = sm.OLS(y, np.column_stack([x, others])).fit()
    assert mine.estimate == pytest.approx(other.params[0], rel=1e-9)
    assert (mine.lower, mine.upper) == pytest.approx(tuple(other.conf_int()[0]), rel=1e-8)


def test_a_slope_that_the_other_terms_determine_or_exhaust_cannot_be_told() -> None:
    x = np.array([1.0, 1, 2, 2, 3, 3])
    belts = (x[:, None] == [1, 2, 3]).astype(float)
    assert adjusted_slope(x, np.arange(6.0), belts).reason == "the other terms determine the setting"
    few = adjusted_slope(
        np.arange(5.0) ** 2, np.arange(5.0), np.column_stack([np.ones(5), np.arange(5.0), [1.0, 0, 0, 1, 0]])
    )
    assert few.reason == "5 runs leave 1 degrees of freedom beside 4 terms, and it takes 2"
