"""Cars shrunk toward each other: against a plain search, copies of rows, and where strata give no answer."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import minimize

from drivekit.life.riskset import RiskSets
from drivekit.life.shrunken import VARIANCES, Shrunken, shrunken, shrunken_draws
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


def fitted(rows: Rows) -> Shrunken:
    return shrunken(sets_of(rows), 2, rows.belt) or pytest.fail("no fit")


def test_the_estimate_is_the_top_of_the_penalised_likelihood_by_a_plain_search() -> None:
    rows = with_cars()
    coef, ridge, _ = fitted(rows)

    def lost(at: np.ndarray) -> float:
        loglik, _, information = plain_likelihood(rows, at, "efron")
        return -(loglik + np.linalg.slogdet(information + np.diag(ridge))[1] / 2 - ridge @ at**2 / 2)

    top = minimize(lost, np.zeros(3), method="Nelder-Mead", options={"xatol": 1e-8, "fatol": 1e-12, "maxiter": 4000})
    np.testing.assert_allclose(coef, top.x, atol=1e-5)


def test_cars_that_fail_alike_are_brought_nearer_than_cars_that_do_not() -> None:
    alike, apart = (fitted(with_cars(lift=lift)) for lift in (0.0, 0.4))
    assert 1 / VARIANCES[-1] <= apart.ridge[-1] < alike.ridge[-1] <= 1 / VARIANCES[0]
    assert abs(apart.coef[1] - apart.coef[2]) > abs(alike.coef[1] - alike.coef[2])


def test_a_draw_without_a_belt_of_some_level_is_given_up_at_once() -> None:
    rows = with_cars()
    level = (rows.belt < 6).astype(float)
    rows = rows.changed(x=np.column_stack([level - level.mean(), rows.x]))
    sets, whole = sets_of(rows), fitted(rows)
    weights = np.random.default_rng(1).integers(1, 3, (60, sets.n_units)) * (np.arange(sets.n_units) >= 6)
    coef, settled = shrunken_draws(weights, rows=sets, whole=whole)
    assert not settled.any()
    # what rounding leaves of the information would have led it far away
    np.testing.assert_array_equal(coef, np.tile(whole.coef, (60, 1)))


@pytest.mark.parametrize("draw", range(4))
def test_a_belt_drawn_twice_counts_as_two_belts(draw: int) -> None:
    rows = with_cars()
    sets, whole = sets_of(rows), fitted(rows)
    weight = np.random.default_rng(draw).integers(0, 3, (1, sets.n_units))
    drawn, settled = shrunken_draws(weight, rows=sets, whole=whole)
    assert settled.all()
    copies = rows.where(np.repeat(np.arange(rows.age.size), weight[0][rows.belt]))

    def lost(at: np.ndarray) -> float:
        loglik, _, information = plain_likelihood(copies, at, "efron")
        return -(loglik + np.linalg.slogdet(information + np.diag(whole.ridge))[1] / 2 - whole.ridge @ at**2 / 2)

    top = minimize(lost, whole.coef, method="Nelder-Mead", options={"xatol": 1e-8, "fatol": 1e-12, "maxiter": 4000})
    np.testing.assert_allclose(drawn[0], top.x, atol=2e-3)


def test_every_belt_drawn_once_gives_the_season_again() -> None:
    rows = with_cars()
    sets, whole = sets_of(rows), fitted(rows)
    drawn, settled = shrunken_draws(np.ones((1, sets.n_units), int), rows=sets, whole=whole)
    assert settled.all()
    np.testing.assert_allclose(drawn[0], whole.coef, atol=1e-6)


def test_the_influence_of_a_belt_is_how_far_the_estimates_move_where_it_counts_a_little_more() -> None:
    rows = with_cars(belts=60)
    sets, whole = sets_of(rows), fitted(rows)
    thousand = np.full((2, sets.n_units), 1000)
    thousand[1, 3] += 100  # a tenth of a belt more
    drawn, _ = shrunken_draws(thousand, rows=sets, whole=Shrunken(whole.coef, 1000 * whole.ridge, 0 * whole.influence))
    moved = 10 * (drawn[1] - drawn[0])
    np.testing.assert_allclose(whole.influence[3], moved, rtol=0.1, atol=0.1 * np.abs(whole.influence).max())


def test_a_draw_that_does_not_settle_from_its_guess_begins_from_the_whole_fit() -> None:
    rows = with_cars()
    sets, whole = sets_of(rows), fitted(rows)
    weight = np.random.default_rng(1).integers(0, 3, (3, sets.n_units))
    near, far = (shrunken_draws(weight, rows=sets, whole=whole._replace(influence=each)) for each in (
        whole.influence, np.full_like(whole.influence, 1e6)
    ))  # fmt: skip
    assert far[1].all()
    np.testing.assert_allclose(near[0], far[0], atol=2e-3)


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
