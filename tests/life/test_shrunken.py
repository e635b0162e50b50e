"""Cars shrunk toward each other: against a plain search, copies of rows, and where strata give no answer."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import minimize

from drivekit.life.riskset import RiskSets
from drivekit.life.shrunken import NEAR, VARIANCES, shrunken, shrunken_draws
from drivekit.life.standardised import standardised
from tests.life.plain_cox import Rows, plain_likelihood, random_rows


def with_cars(seed: int = 4, belts: int = 40, lift: float = 0.0) -> Rows:
    """Give rows in one stratum whose last two columns mark their cars; `lift` of the rows of car 1 fail beside."""
    rows = random_rows(seed, belts)
    more = np.random.default_rng(seed).random(rows.age.size) < lift * (rows.stratum == 1)
    cars = (rows.stratum[:, None] == np.arange(2)).astype(float)
    x = np.column_stack([rows.x[:, 0], cars])
    return rows.changed(x=x - x.mean(axis=0), stratum=np.zeros_like(rows.stratum), failed=rows.failed | more)


def sets_of(rows: Rows) -> RiskSets:
    return RiskSets.of(rows.age, rows.failed, rows.x, rows.stratum, rows.belt)


def test_the_estimate_is_the_top_of_the_penalised_likelihood_by_a_plain_search() -> None:
    rows = with_cars()
    found = shrunken(sets_of(rows), 2)
    assert found is not None
    coef, ridge = found

    def lost(at: np.ndarray) -> float:
        loglik, _, information = plain_likelihood(rows, at, "efron")
        return -(loglik + np.linalg.slogdet(information + np.diag(ridge))[1] / 2 - ridge @ at**2 / 2)

    top = minimize(lost, np.zeros(3), method="Nelder-Mead", options={"xatol": 1e-8, "fatol": 1e-12, "maxiter": 4000})
    np.testing.assert_allclose(coef, top.x, atol=1e-5)


def test_cars_that_fail_alike_are_brought_nearer_than_cars_that_do_not() -> None:
    alike, apart = (shrunken(sets_of(with_cars(lift=lift)), 2) for lift in (0.0, 0.4))
    assert alike is not None
    assert apart is not None
    assert 1 / VARIANCES[-1] <= apart[1][-1] < alike[1][-1] <= 1 / VARIANCES[0]
    assert abs(apart[0][1] - apart[0][2]) > abs(alike[0][1] - alike[0][2])


def test_a_belt_drawn_twice_counts_as_two_belts() -> None:
    rows = with_cars()
    sets = sets_of(rows)
    coef, ridge = shrunken(sets, 2) or pytest.fail("no fit")
    weight = np.random.default_rng(1).integers(0, 3, (1, sets.n_units))
    drawn, settled = shrunken_draws(weight, rows=sets, begin=coef, ridge=ridge)
    assert settled.all()
    copies = rows.where(np.repeat(np.arange(rows.age.size), weight[0][rows.belt]))

    def lost(at: np.ndarray) -> float:
        loglik, _, information = plain_likelihood(copies, at, "efron")
        return -(loglik + np.linalg.slogdet(information + np.diag(ridge))[1] / 2 - ridge @ at**2 / 2)

    top = minimize(lost, coef, method="Nelder-Mead", options={"xatol": 1e-8, "fatol": 1e-12, "maxiter": 4000})
    np.testing.assert_allclose(drawn[0], top.x, atol=30 * NEAR)


def test_every_belt_drawn_once_gives_the_season_again() -> None:
    sets = sets_of(with_cars())
    coef, ridge = shrunken(sets, 2) or pytest.fail("no fit")
    drawn, settled = shrunken_draws(np.ones((1, sets.n_units), int), rows=sets, begin=coef, ridge=ridge)
    assert settled.all()
    np.testing.assert_allclose(drawn[0], coef, atol=NEAR)


def test_eight_failures_on_forty_belts_have_an_answer_with_limits_where_free_strata_have_none() -> None:
    rows = random_rows(7, belts=40, cars=4)
    fell = np.flatnonzero(rows.failed)
    failed = np.zeros_like(rows.failed)
    failed[np.random.default_rng(2).choice(fell, 8, replace=False)] = True
    asked = [(np.array([0]), np.array([[0.0], [1.0]]))]
    given = rows.age, failed, rows.x, rows.stratum, rows.belt, asked

    def answered(**how: object) -> object:
        return standardised(*given, confidence=0.95, generator=np.random.default_rng(1), replicates=199, **how)

    plain, shrunk = answered(), answered(cars=rows.stratum, horizon=8)
    assert isinstance(plain, str) or plain[0].reason is not None
    assert not isinstance(shrunk, str)
    difference = shrunk[0].differences[1, 0]
    assert difference.lower is not None
    assert difference.upper is not None
    assert difference.lower < difference.estimate < difference.upper
    assert shrunk[0].horizon == 8


def test_a_horizon_beyond_every_belt_of_a_car_is_refused() -> None:
    rows = random_rows(7)
    asked = [(np.array([0]), np.array([[0.0], [1.0]]))]
    told = standardised(
        rows.age, rows.failed, rows.x, rows.stratum, rows.belt, asked,
        confidence=0.95, generator=np.random.default_rng(1), replicates=39, horizon=99,
    )  # fmt: skip
    assert isinstance(told, str)
    assert "to count the first 99 runs" in told
