"""Firth's penalty: closed forms, stored results, another program, and refusals."""

import numpy as np
import pytest
from scipy.stats import chi2

from drivekit.life.cox import likelihood
from drivekit.life.firth import firth, penalised_gain
from drivekit.life.riskset import RiskSets
from drivekit.life.separation import CONSTANT, DETERMINED, NO_FAILURE
from tests.life.plain_cox import Rows, at_failure_times, plain_likelihood, random_rows, stored


def sets_of(rows: Rows) -> RiskSets:
    return RiskSets.of(rows.age, rows.failed, rows.x, rows.stratum)


def agrees(sets: RiskSets, ties: str, expected) -> None:
    found = firth(sets, ties)
    assert found.coef == pytest.approx(list(expected["coef"].values()), abs=3e-8)
    assert found.se == pytest.approx(list(expected["se_from_information_of_plain_loglik"].values()), abs=3e-8)
    assert found.lower == pytest.approx(list(expected["profile_lower"].values()), abs=3e-7)
    assert found.upper == pytest.approx(list(expected["profile_upper"].values()), abs=3e-7)
    plain = likelihood(sets, ties, np.ones(sets.n_units), found.coef)[0]
    assert plain == pytest.approx(expected["loglik_at_estimate"], abs=1e-7)
    assert found.loglik == pytest.approx(expected["penalised_loglik"], abs=1e-10)


def test_two_rows_and_one_failure_give_log_three():
    # l + log(I)/2 with p = r/(1 + r): log p + log(p (1 - p))/2 is largest at p = 3/4.
    sets = RiskSets.of(np.ones(2, int), np.array([True, False]), np.array([[1.0], [0.0]]), np.zeros(2, int))
    found = firth(sets)
    assert found.coef[0] == pytest.approx(np.log(3), abs=1e-9)
    assert found.se[0] == pytest.approx((3 / 16) ** -0.5, abs=1e-8)
    assert found.loglik == pytest.approx(np.log(3 / 4) + np.log(3 / 16) / 2, abs=1e-14)
    # the profile falls by 1.92 where p^3 (1 - p) does by its exponential squared
    for limit in (found.lower[0], found.upper[0]):
        p = 1 / (1 + np.exp(-limit))
        assert 2 * (found.loglik - np.log(p) - np.log(p * (1 - p)) / 2) == pytest.approx(3.841458820694124, abs=1e-7)


@pytest.mark.parametrize("ties", ["efron", "breslow"])
@pytest.mark.parametrize(("case", "columns"), [("one_term", ["x"]), ("two_terms", ["x", "z"])])
def test_separated_rows_have_the_stored_estimate(case, columns, ties):
    rows = stored("separated")[case]["rows"]
    made = at_failure_times(
        [0] * 8,
        [row["stop"] for row in rows],
        [row["event"] for row in rows],
        [[row[c] for c in columns] for row in rows],
    )
    agrees(sets_of(made), ties, stored("separated")[case]["firth"][ties])


@pytest.mark.parametrize("ties", ["efron", "breslow"])
def test_leukemia_has_the_stored_estimates_with_one_term_and_two(ties):
    from lifelines.datasets import load_leukemia

    frame = load_leukemia()
    for columns, key in ((["Rx"], "firth_Rx"), (["Rx", "logWBC"], "firth_Rx_logWBC")):
        rows = at_failure_times(np.zeros(len(frame)), frame["t"], frame["status"], frame[columns])
        agrees(sets_of(rows), ties, stored("leukemia")[key][ties])


@pytest.mark.parametrize("ties", ["efron", "breslow"])
def test_heart_larynx_and_aids_cohort_have_the_stored_estimates(ties):
    from lifelines import datasets

    heart = datasets.load_stanford_heart_transplants()
    rows = at_failure_times(
        heart["start"], heart["stop"], heart["event"], heart[["age", "surgery", "transplant"]], scale=2
    )
    agrees(sets_of(rows), ties, stored("stanford_heart_transplants")["firth"][ties])
    larynx = datasets.load_larynx()
    rows = at_failure_times(
        np.zeros(90), larynx["time"], larynx["death"], larynx[["age", "Stage_II", "Stage_III", "Stage_IV"]], scale=10
    )
    agrees(sets_of(rows), ties, stored("larynx")["firth"][ties])
    aids = datasets.load_multicenter_aids_cohort_study()
    late = (aids["AIDSY"] > aids["AIDSY"].median()).to_numpy(int)[:, None]
    rows = at_failure_times(aids["W"], aids["T"], aids["D"], late, scale=1000)
    agrees(sets_of(rows), ties, stored("multicenter_aids_cohort_study")["firth_late"][ties])


def test_firthmodels_agrees_under_breslow_with_its_ratio_test():
    from firthmodels import FirthCoxPH
    from lifelines.datasets import load_leukemia

    frame = load_leukemia()
    outcome = np.array(
        list(zip(frame["status"] == 1, frame["t"], strict=True)), dtype=[("event", bool), ("time", float)]
    )
    model = FirthCoxPH("numpy", gtol=1e-8, xtol=1e-8).fit(frame[["Rx", "logWBC"]].to_numpy(float), outcome)
    model.lrt()
    rows = at_failure_times(np.zeros(len(frame)), frame["t"], frame["status"], frame[["Rx", "logWBC"]])
    found = firth(sets_of(rows), "breslow")
    assert found.coef == pytest.approx(model.coef_, abs=1e-7)
    assert found.p == pytest.approx(model.lrt_pvalues_, abs=1e-7)


@pytest.mark.parametrize("ties", ["efron", "breslow"])
def test_the_estimate_is_the_top_of_the_plain_twins_penalised_likelihood(ties):
    rows = random_rows(6, belts=70)
    rows = rows.changed(failed=rows.failed & (rows.x[:, 1] == 0))
    found = firth(sets_of(rows), ties)

    def penalised(coef: np.ndarray) -> float:
        loglik, _, information = plain_likelihood(rows, coef, ties)
        return loglik + np.linalg.slogdet(information)[1] / 2

    assert found.loglik == pytest.approx(penalised(found.coef), abs=1e-9)
    for term in range(3):
        for side in (-0.01, 0.01):
            shift = np.zeros(3)
            shift[term] = side
            assert penalised(found.coef + shift) < found.loglik
    assert found.lower[1] < found.coef[1] < found.upper[1]
    assert found.coef[1] < -1


def test_a_term_that_cannot_be_told_has_its_reason_and_leaves_the_others_alone():
    rows = random_rows(1)
    x = np.column_stack((rows.x[:, 0], np.full(rows.age.size, 2.0), rows.x[:, 2], 1 - rows.x[:, 0]))
    found = firth(sets_of(rows.changed(x=x)))
    assert found.reasons == (None, CONSTANT, None, DETERMINED)
    alone = firth(sets_of(rows.changed(x=rows.x[:, [0, 2]])))
    assert found.coef[[0, 2]] == pytest.approx(alone.coef, abs=1e-8)
    assert np.isnan(found.coef[[1, 3]]).all()


def test_without_a_failure_there_is_no_estimate():
    rows = random_rows(1)
    found = firth(sets_of(rows.changed(failed=np.zeros(rows.age.size, bool))))
    assert found.reasons == (NO_FAILURE,) * 3
    assert np.isnan(found.coef).all()


# Tiny logs that once broke the limits: far from the estimate the information vanishes unless other terms move along.
FEW_RUNS = {
    "three runs of one age and three of another": (
        [3, 3, 3, 5, 5, 5],
        [1, 0, 0, 1, 1, 0],
        [[5.482, 0, 0], [11.425, 1, 0], [7.196, 0, 1], [7.583, 0, 0], [10.671, 0, 1], [10.261, 0, 1]],
    ),
    "two runs of one age and three of another": (
        [2, 2, 5, 5, 5],
        [1, 0, 1, 0, 0],
        [[0, 6.051, 1], [0, 11.421, 0], [1, 9.539, 1], [0, 7.227, 0], [0, 7.816, 0]],
    ),
}


@pytest.mark.parametrize("name", FEW_RUNS)
def test_limits_are_found_where_the_information_vanishes_on_the_way(name):
    from scipy.optimize import minimize

    age, failed, x = (np.array(column) for column in FEW_RUNS[name])
    rows = Rows(age, failed == 1, x.astype(float), np.zeros(age.size, int), np.arange(age.size))
    found = firth(sets_of(rows))
    assert found.reasons == (None, None, None)

    def fallen(coef: np.ndarray) -> float:
        loglik, _, information = plain_likelihood(rows, coef, "efron")
        sign, logdet = np.linalg.slogdet(information)
        return found.loglik - loglik - logdet / 2 if sign > 0 else np.inf

    assert fallen(found.coef) == pytest.approx(0, abs=1e-8)
    covariance = np.linalg.inv(plain_likelihood(rows, found.coef, "efron")[2])
    for term in range(3):
        for limit in (found.lower[term], found.upper[term]):
            others = np.delete(np.arange(3), term)
            start = found.coef + (limit - found.coef[term]) * covariance[term] / covariance[term, term]

            def with_others(values: np.ndarray, limit=limit, term=term, others=others) -> float:
                coef = np.empty(3)
                coef[term], coef[others] = limit, values
                return fallen(coef)

            least = minimize(with_others, start[others], method="Nelder-Mead", options={"xatol": 1e-8, "fatol": 1e-10})
            assert 2 * least.fun == pytest.approx(3.841458820694124, abs=1e-5)


def test_holding_one_term_at_0_costs_what_its_ratio_test_says():
    rows = random_rows(3)
    sets = sets_of(rows)
    p = firth(sets).p
    for term in range(3):
        assert chi2.sf(2 * penalised_gain(sets, np.arange(3) == term), 1) == pytest.approx(p[term], abs=1e-8)


def test_holding_terms_together_costs_what_the_two_maxima_differ_by():
    # one failure, b = 0: log(1/2) + log(1/4)/2, against log(3/4) + log(3/16)/2 at the top
    sets = RiskSets.of(np.ones(2, int), np.array([True, False]), np.array([[1.0], [0.0]]), np.zeros(2, int))
    by_hand = np.log(3 / 4) + np.log(3 / 16) / 2 - np.log(1 / 2) - np.log(1 / 4) / 2
    assert penalised_gain(sets, np.array([True])) == pytest.approx(by_hand, abs=1e-9)
