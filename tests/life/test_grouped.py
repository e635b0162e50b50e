"""The grouped binomial model: closed forms, stored R results, statsmodels, and what leaves the fit."""

import numpy as np
import pytest

from drivekit.life.grouped import CONSTANT, DETERMINED, grouped
from drivekit.life.separation import MOVES, NO_FAILURE
from tests.life.plain_cox import Rows, at_failure_times, random_rows, stored


def fit(rows: Rows):
    return grouped(rows.age, rows.failed, rows.x, rows.stratum)


def test_one_age_and_two_groups_by_hand():
    # 2 of 4 against 1 of 5 failed: the difference of log(-log(1 - share))
    failed = np.array([1, 1, 0, 0, 1, 0, 0, 0, 0], bool)
    x = np.array([[1.0]] * 4 + [[0.0]] * 5)
    found = grouped(np.ones(9, int), failed, x, np.zeros(9, int))
    cloglog = [np.log(-np.log(1 - share)) for share in (0.5, 0.2)]
    assert found.coef[0] == pytest.approx(cloglog[0] - cloglog[1], abs=1e-10)
    # delta method: var of log(-log q) is p / (n q log(q)^2)
    variance = [p / (n * (1 - p) * np.log(1 - p) ** 2) for p, n in ((0.5, 4), (0.2, 5))]
    assert found.se[0] == pytest.approx(np.sqrt(sum(variance)), abs=1e-10)
    assert found.loglik == pytest.approx(4 * np.log(0.5) + np.log(0.2) + 4 * np.log(0.8), abs=1e-10)
    assert found.rows == 9


@pytest.mark.parametrize(
    ("name", "key", "time", "event"),
    [("leukemia", "cloglog_Rx", "t", "status"), ("leukemia", "cloglog_Rx_logWBC", "t", "status"),
     ("rossi", "cloglog", "week", "arrest"), ("larynx", "cloglog", "time", "death")],
)  # fmt: skip
def test_estimates_are_those_of_r(name, key, time, event):
    from lifelines import datasets

    expected = stored(name)[key]
    frame = getattr(datasets, f"load_{name}")()
    rows = at_failure_times(np.zeros(len(frame)), frame[time], frame[event], frame[list(expected["coef"])], scale=1000)
    found = fit(rows)
    assert found.rows == expected["person_period_rows"]
    assert found.coef == pytest.approx(list(expected["coef"].values()), abs=1e-6)
    assert found.se == pytest.approx(list(expected["se"].values()), abs=1e-6)
    assert found.loglik == pytest.approx(expected["loglik"], abs=1e-7)


def test_statsmodels_agrees_with_cars_as_a_factor():
    import statsmodels.api as sm

    rows = random_rows(3, belts=60, cars=3)
    here = np.isin(rows.age, rows.age[rows.failed])
    ages = rows.age[here][:, None] == np.unique(rows.age[here])
    cars = rows.stratum[here][:, None] == np.unique(rows.stratum)[1:]
    design = np.column_stack((ages, cars, rows.x[here])).astype(float)
    family = sm.families.Binomial(link=sm.families.links.CLogLog())
    model = sm.GLM(rows.failed[here].astype(float), design, family=family).fit(tol=1e-14, maxiter=200)
    found = fit(rows)
    assert found.coef == pytest.approx(model.params[-3:], abs=1e-6)
    assert found.se == pytest.approx(model.bse[-3:], abs=1e-6)


def test_a_car_without_failures_and_an_age_where_all_failed_leave():
    rows = random_rows(3, belts=60, cars=3)
    quiet = rows.changed(failed=rows.failed & (rows.stratum != 1))
    assert fit(quiet).coef == pytest.approx(fit(quiet.where(quiet.stratum != 1)).coef, abs=1e-8)
    assert fit(quiet).se == pytest.approx(fit(quiet.where(quiet.stratum != 1)).se, abs=1e-8)
    late = Rows(np.array([50, 50]), np.ones(2, bool), rows.x[:2], rows.stratum[:2], rows.belt[:2])
    joined = Rows(
        *(np.concatenate((getattr(rows, n), getattr(late, n))) for n in ("age", "failed", "x", "stratum", "belt"))
    )
    assert fit(joined).coef == pytest.approx(fit(rows).coef, abs=1e-8)
    assert fit(joined).loglik == pytest.approx(fit(rows).loglik, abs=1e-8)
    assert fit(joined).reasons == (None, None, None)


def test_a_level_without_failures_is_null_and_the_rest_are_those_without_it():
    rows = random_rows(6, belts=70)
    rows = rows.changed(failed=rows.failed & (rows.x[:, 1] == 0))
    keep = rows.where(rows.x[:, 1] == 0)
    rest = fit(keep.changed(x=keep.x[:, [0, 2]]))
    assert fit(rows).reasons == (None, MOVES, None)
    assert fit(rows).coef[[0, 2]] == pytest.approx(rest.coef, abs=1e-8)
    assert fit(rows).se[[0, 2]] == pytest.approx(rest.se, abs=1e-8)


def test_a_term_that_cannot_be_told_has_its_reason():
    rows = random_rows(1)
    x = np.column_stack((rows.x, np.full(rows.age.size, 4.0), rows.stratum))
    found = fit(rows.changed(x=x))
    assert found.reasons == (None, None, None, CONSTANT, DETERMINED)
    assert found.coef[:3] == pytest.approx(fit(rows).coef, abs=1e-8)


def test_without_a_failure_there_is_no_estimate():
    rows = random_rows(1)
    assert fit(rows.changed(failed=np.zeros(rows.age.size, bool))).reasons == (NO_FAILURE,) * 3
