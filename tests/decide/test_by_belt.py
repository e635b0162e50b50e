"""A line with a constant for each belt: by hand, against R's nlme, and by brute force."""

import csv
import json
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq, minimize_scalar
from scipy.stats import t

from drivekit.decide.by_belt import ByBelt, by_belt

REFERENCE = Path(__file__).parents[1] / "reference" / "tracking"
EXPECTED: dict[str, Any] = json.loads((REFERENCE / "expected.json").read_text())["cars"]


def read(car: str) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    with (REFERENCE / "readings.csv").open(newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["car"] == car]
    columns = np.array([[1.0, float(row["net_flats"]), float(row["lift_flats"])] for row in rows])
    code = np.unique([row["belt"] for row in rows], return_inverse=True)[1]
    return columns, np.array([float(row["difference_c"]) for row in rows]), code


def fitted(columns: np.ndarray, y: np.ndarray, code: np.ndarray) -> ByBelt:
    found = by_belt(columns, y, code)
    assert isinstance(found, ByBelt)
    return found


@pytest.mark.parametrize("car", EXPECTED)
def test_the_estimates_are_those_of_nlme_in_r(car: str) -> None:
    """expected.json: R 4.2.2, nlme 3.1.162, made by make_tracking.R beside it; nlme stops at some 1e-5 of a ratio."""
    told, found = EXPECTED[car], fitted(*read(car))
    names = ("intercept", "slope_c_per_flat", "lift_slope_c_per_flat")
    assert found.coefficients == pytest.approx([told[name] for name in names], abs=1e-5)
    assert found.noise_sd == pytest.approx(told["noise_sd_c"], abs=1e-5)
    # nlme cannot reach a ratio of 0 and stops just above it
    assert found.belt_sd == pytest.approx(told["belt_sd_c"], abs=2e-4 if told["belt_sd_c"] < 1e-3 else 1e-5)


@pytest.mark.parametrize("car", EXPECTED)
def test_the_limits_are_those_of_an_independent_profile(car: str) -> None:
    """expected.json: limits found by a separate program from the fixed meaning of the tracking block."""
    told, found = EXPECTED[car], fitted(*read(car))
    assert found.slope_limits(1, 0.95) == pytest.approx(told["slope_limits"], abs=1e-7)
    assert found.slope_limits(2, 0.95) == pytest.approx(told["lift_slope_limits"], abs=1e-7)
    zero = found.crossing(1, np.array([1.0, 0.0, told["lift_now"]]), 0.95)
    assert zero.estimate == pytest.approx(told["zero_flats"], abs=1e-5)
    assert [zero.lower, zero.upper] == pytest.approx(told["zero_flats_limits"], abs=1e-7)


BALANCED = np.column_stack((np.ones(8), np.tile([-1.0, 1.0], 4)))
CODE = np.repeat(np.arange(4), 2)
# slope -2 within each belt but for +-d: d = .5, -.5, 1, -1; means of the belts 4, 1, -2, -1
Y = np.array([5.5, 2.5, 3.5, -1.5, -1.0, -3.0, 2.0, -4.0])


def test_four_belts_of_two_readings_by_hand() -> None:
    """Each belt has x = -1, 1, so slope and belt means are at right angles and the variance analysis is exact.

    Slopes of the belts: -1.5, -2.5, -1, -3: together -2; left over within: each belt 2 (own - -2)^2 = .5 + .5 + 2 + 2
    = 5 on 8 - 4 - 1 = 3: s^2 = 5/3. Means 4, 1, -2, -1: together .5, 2 x their squares about it = 2 x 21 = 42 on 3:
    14, which is s^2 + 2 belt^2: belt^2 = 37/6.
    """
    found = fitted(BALANCED, Y, CODE)
    assert found.coefficients == pytest.approx([0.5, -2.0])
    assert found.noise_sd**2 == pytest.approx(5 / 3, rel=1e-6)
    assert found.belt_sd**2 == pytest.approx(37 / 6, rel=1e-6)
    # drawn in by 2 x 37/6 / (5/3 + 2 x 37/6) = 37/42
    assert found.offsets == pytest.approx(37 / 42 * np.array([3.5, 0.5, -2.5, -1.5]), rel=1e-6)


def test_the_next_reading_of_a_belt_by_hand() -> None:
    """The covariance matrix of everything, written out: what is not yet known, given what was read."""
    found = fitted(BALANCED, Y, CODE)
    ask = np.array([[1.0, 2.0], [1.0, -1.0]])
    mean, spread = found.expected(ask, 2)
    belt, noise = found.belt_sd**2, found.noise_sd**2
    v = belt * (CODE[:, None] == CODE) + noise * np.eye(8)
    inverse = np.linalg.inv(v)
    info = np.linalg.inv(BALANCED.T @ inverse @ BALANCED)
    with_new = belt * (CODE == 2)
    rest = ask - with_new @ inverse @ BALANCED
    assert mean == pytest.approx(ask @ found.coefficients + with_new @ inverse @ (Y - BALANCED @ found.coefficients))
    assert spread == pytest.approx(belt - with_new @ inverse @ with_new + rest @ info @ rest.T)


def likelihood(columns: np.ndarray, y: np.ndarray, code: np.ndarray) -> float:
    """Log likelihood at its highest over all variances: dense matrices, one ratio after the other."""

    def at(log_ratio: float) -> float:
        v = np.exp(log_ratio) * (code[:, None] == code) + np.eye(len(y))
        inverse = np.linalg.inv(v)
        left = y - columns @ np.linalg.solve(columns.T @ inverse @ columns, columns.T @ inverse @ y)
        return float(len(y) * np.log(left @ inverse @ left / len(y)) + np.linalg.slogdet(v)[1]) / 2

    grid = np.linspace(-12, 8, 81)
    best = min(range(81), key=lambda place: at(grid[place]))
    cell = grid[max(best - 1, 0)], grid[min(best + 1, 80)]
    return -float(minimize_scalar(at, bounds=cell, method="bounded", options={"xatol": 1e-9}).fun)


def test_the_limits_are_where_the_likelihood_of_dense_matrices_has_fallen_that_far() -> None:
    rng = np.random.default_rng(7)
    code = np.repeat(np.arange(5), 4)
    x, w = rng.integers(-3, 4, 20).astype(float), rng.integers(2, 5, 20).astype(float)
    columns = np.column_stack((np.ones(20), x, w))
    y = 1 - 2 * x - w + rng.normal(0, 1.5, 5)[code] + rng.normal(0, 1, 20)
    found, top = fitted(columns, y, code), likelihood(columns, y, code)

    def ends(held: Any, middle: float, dof: int) -> list[float]:
        cut = 20 * np.log1p(t.ppf(0.975, dof) ** 2 / 17) / 2
        steps = (-3.0, 3.0)
        return [brentq(lambda v: top - held(v) - cut, middle, middle + step, xtol=1e-9) for step in steps]

    slope = ends(lambda v: likelihood(columns[:, [0, 2]], y - v * x, code), float(found.coefficients[1]), 17)
    assert found.slope_limits(1, 0.95) == pytest.approx(slope, abs=1e-6)
    # a + 3 c + b v = 0: a = -3 c - b v, so the columns are x - v and w - 3
    zero = found.crossing(1, np.array([1.0, 0.0, 3.0]), 0.95)
    assert zero.estimate is not None
    crossing = ends(lambda v: likelihood(np.column_stack((x - v, w - 3)), y, code), zero.estimate, 4)
    assert [zero.lower, zero.upper] == pytest.approx(crossing, abs=1e-6)


def test_more_confidence_is_wider_limits() -> None:
    found = fitted(*read("amber"))
    limits = [found.slope_limits(1, confidence) for confidence in (0.8, 0.95, 0.99)]
    assert all(wide[0] < narrow[0] and narrow[1] < wide[1] for narrow, wide in pairwise(limits))


def test_a_line_that_may_be_level_crosses_zero_anywhere() -> None:
    columns, _, code = read("teal")
    found = fitted(columns, np.random.default_rng(1).normal(3, 2, len(code)), code)
    zero = found.crossing(1, np.array([1.0, 0.0, 3.0]), 0.95)
    assert (zero.lower, zero.upper) == (None, None)
    assert zero.reason == "settings however far out are not ruled out"


def test_readings_without_any_scatter_are_refused() -> None:
    for y in (3 - 2 * BALANCED[:, 1] + CODE, np.full(8, 1.5), np.zeros(8)):
        assert "to the last digit" in str(by_belt(BALANCED, y, CODE))


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 1000), st.floats(-20, 20), st.floats(0.1, 50), st.floats(-5, 5))
def test_order_names_zero_points_and_units_change_nothing_else(
    seed: int, shift: float, scale: float, moved: float
) -> None:
    rng = np.random.default_rng(seed)
    columns, y, code = read("violet")
    order, names = rng.permutation(len(y)), rng.permutation(code.max() + 1)
    base = fitted(columns, y, code)
    other = fitted((columns + np.array([0, moved, 0]))[order], (scale * y)[order], names[code][order])
    assert other.slope_limits(1, 0.95) == pytest.approx(scale * np.array(base.slope_limits(1, 0.95)), rel=1e-6)
    assert other.noise_sd == pytest.approx(scale * base.noise_sd, rel=1e-6)
    zero, same = base.crossing(1, columns[-1], 0.95), other.crossing(1, columns[-1], 0.95)
    assert [same.lower, same.upper] == pytest.approx([zero.lower + moved, zero.upper + moved], abs=1e-6)  # type: ignore[operator]
    raised = fitted(columns, y + shift, code)
    assert raised.coefficients[0] == pytest.approx(base.coefficients[0] + shift, abs=1e-6)


def test_limits_from_very_many_belts_lie_two_standard_errors_from_the_slope() -> None:
    draw = np.random.default_rng(1)
    belt = np.repeat(np.arange(200_000), 2)
    x = draw.normal(size=belt.size)
    y = 1.0 - 2.0 * x + 0.992 * draw.normal(size=200_000)[belt] + draw.normal(size=belt.size)
    found = by_belt(np.column_stack((np.ones(x.size), x)), y, belt)
    assert not isinstance(found, str)
    slope, (lower, upper) = found.coefficients[1], found.slope_limits(1, 0.95)
    # two readings of a belt, each of variance 2 and correlated by a half, are worth 4/3 of one of variance 1; that
    # spread of belts stands midway between two places of the grid of ratios
    assert upper - slope == pytest.approx(1.96 * np.sqrt(1 / (4 / 3 * 200_000)), rel=0.02)
    assert slope - lower == pytest.approx(upper - slope, rel=0.02)
