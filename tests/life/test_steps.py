"""A fit taken apart: errors clustered by belt and the test of drift with age, by hand, by R's values, by definition."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import chi2

from drivekit.life.cox import CoxFit, fit, likelihood
from drivekit.life.riskset import RiskSets
from drivekit.life.separation import MOVES
from drivekit.life.steps import ONE_AGE, drift, failed_anew, robust, score_residuals, steps
from tests.life.plain_cox import SEVEN, Rows, at_failure_times, random_rows, stored


def fitted_of(rows: Rows, ties: str = "efron") -> CoxFit:
    return fit(RiskSets.of(rows.age, rows.failed, rows.x, rows.stratum), ties)


def seven_at_zero(ties: str):
    fitted = fit(RiskSets.of(SEVEN.age, SEVEN.failed, SEVEN.x, SEVEN.stratum), ties)
    information = likelihood(fitted.rows, ties, fitted.weight, np.zeros(1))[2]
    return replace(fitted, at=np.zeros(1), information=information)


def by_row(fitted) -> np.ndarray:
    residual = np.empty(7)
    residual[fitted.rows.row] = score_residuals(fitted, steps(fitted))[:, 0]
    return residual


def test_score_residuals_of_seven_runs_at_zero_by_hand():
    # Efron at age 2 on car 0: hazards 1/3 and 1/2, means 2/3 and 3/4; a failed run is exposed whole, then half.
    kept = -(1 / 3 * (1 - 2 / 3) + 1 / 2 * (1 - 3 / 4))
    failed_one = ((1 - 2 / 3) + (1 - 3 / 4)) / 2 - (1 / 3 * (1 - 2 / 3) + 1 / 2 * 1 / 2 * (1 - 3 / 4))
    failed_zero = (-2 / 3 - 3 / 4) / 2 - (1 / 3 * (-2 / 3) + 1 / 2 * 1 / 2 * (-3 / 4))
    assert (kept, failed_one, failed_zero) == pytest.approx((-17 / 72, 17 / 144, -43 / 144), abs=1e-15)
    expected = [1 / 4, -43 / 144, -17 / 72, 17 / 144, 1 / 4, -1 / 4, -1 / 4]
    assert by_row(seven_at_zero("efron")) == pytest.approx(expected, abs=1e-14)
    # Breslow: hazard 2/3 in all, mean 2/3, exposed whole
    third = 2 / 3 * 1 / 3
    expected = [1 / 4, -2 / 3 + 2 / 3 * 2 / 3, -third, 1 / 3 - third, 1 / 4, -1 / 4, -1 / 4]
    assert by_row(seven_at_zero("breslow")) == pytest.approx(expected, abs=1e-14)


def test_the_sandwich_of_seven_runs_at_zero_by_hand():
    se, influence = robust(seven_at_zero("efron"), SEVEN.belt)
    # belt c made two runs: -17/72 + 1/4; the information is 131/144
    belts = np.array([17 / 144, -43 / 144, -17 / 72 + 1 / 4, 1 / 4, -1 / 4, -1 / 4]) * 144 / 131
    assert influence[:, 0] == pytest.approx(belts, abs=1e-14)
    assert se[0] == pytest.approx(np.sqrt((belts**2).sum()), abs=1e-14)


@pytest.mark.parametrize("ties", ["efron", "breslow"])
def test_heart_patients_clustered_have_rs_errors(ties):
    from lifelines.datasets import load_stanford_heart_transplants

    frame = load_stanford_heart_transplants()
    expected = stored("stanford_heart_transplants")[f"cox_{ties}_robust_by_id"]
    rows = at_failure_times(
        frame["start"], frame["stop"], frame["event"], frame[list(expected["coef"])], cluster=frame["id"], scale=2
    )
    fitted = fit(RiskSets.of(rows.age, rows.failed, rows.x, rows.stratum), ties)
    assert robust(fitted, rows.belt)[0] == pytest.approx(list(expected["se_robust"].values()), abs=1e-9)


def test_rossi_by_row_has_rs_errors():
    from lifelines.datasets import load_rossi

    frame = load_rossi()
    expected = stored("rossi")["cox_efron_robust_by_row"]
    rows = at_failure_times(np.zeros(len(frame)), frame["week"], frame["arrest"], frame[list(expected["coef"])])
    fitted = fit(RiskSets.of(rows.age, rows.failed, rows.x, rows.stratum))
    assert robust(fitted, rows.belt)[0] == pytest.approx(list(expected["se_robust"].values()), abs=1e-9)


@pytest.mark.parametrize("ties", ["efron", "breslow"])
def test_residuals_sum_to_the_score_anywhere_with_weights(ties):
    rows = random_rows(2)
    weight = np.random.default_rng(2).integers(1, 4, rows.age.size)
    fitted = fit(RiskSets.of(rows.age, rows.failed, rows.x, rows.stratum), ties, weight)
    elsewhere = replace(fitted, at=np.array([0.3, -0.2, 0.1]))
    residual = score_residuals(elsewhere, steps(elsewhere))
    cases = fitted.weight[fitted.rows.unit][fitted.rows.pattern]
    score = likelihood(fitted.rows, ties, fitted.weight, elsewhere.at)[1]
    assert cases @ residual == pytest.approx(score, abs=1e-9)


def test_steps_add_up_to_the_information():
    rows = random_rows(2)
    fitted = fit(RiskSets.of(rows.age, rows.failed, rows.x, rows.stratum))
    parts = steps(fitted)
    assert np.einsum("s,sab->ab", parts.weight, parts.variance) == pytest.approx(fitted.information, abs=1e-9)


def test_a_term_without_an_estimate_has_no_error_and_the_rest_are_those_of_the_limit():
    rows = random_rows(6, belts=70)
    rows = rows.changed(failed=rows.failed & (rows.x[:, 1] == 0))
    keep = rows.where(rows.x[:, 1] == 0)
    whole, _ = robust(fit(RiskSets.of(rows.age, rows.failed, rows.x, rows.stratum)), rows.belt)
    rest, _ = robust(fit(RiskSets.of(keep.age, keep.failed, keep.x[:, [0, 2]], keep.stratum)), keep.belt)
    assert np.isnan(whole[1])
    assert whole[[0, 2]] == pytest.approx(rest, abs=1e-9)


def test_drift_of_seven_runs_by_hand():
    # Breslow's maximum is r = sqrt(1/2); only age 3's set (mean r/(1 + r), failed x 1) differs in age from the others
    r = np.sqrt(0.5)
    late, early = r / (1 + r), [2 * r / (1 + 2 * r)] * 2 + [r / (1 + r)]
    score = 3 * (1 - late) + 2 * (1 - sum(early))
    variances = np.array([m * (1 - m) for m in (late, *early)])
    g = np.array([3, 2, 2, 2])
    left = (g**2 * variances).sum() - (g * variances).sum() ** 2 / variances.sum()
    statistic, p, _ = drift(fitted_of(SEVEN, "breslow"))
    assert statistic[0] == pytest.approx(score**2 / left, abs=1e-10)
    assert p[0] == pytest.approx(chi2.sf(score**2 / left, 1), abs=1e-10)


@pytest.mark.parametrize(
    ("name", "key", "ties"),
    [("leukemia", "ph_test_Rx_logWBC", "efron"), ("leukemia", "ph_test_Rx_logWBC_breslow", "breslow"),
     ("rossi", "ph_test", "efron"), ("stanford_heart_transplants", "ph_test", "efron"), ("larynx", "ph_test", "efron")],
)  # fmt: skip
def test_statistics_are_those_of_cox_zph(name, key, ties):
    from lifelines import datasets

    expected = stored(name)[key]["identity"]
    frame = getattr(datasets, f"load_{name}")()
    time, event = {"leukemia": ("t", "status"), "rossi": ("week", "arrest"), "larynx": ("time", "death")}.get(
        name, ("stop", "event")
    )
    start = frame["start"] if time == "stop" else np.zeros(len(frame))
    rows = at_failure_times(start, frame[time], frame[event], frame[list(expected["chi2"])], scale=10)
    statistics, p, _ = drift(fitted_of(rows, ties))
    assert statistics == pytest.approx(list(expected["chi2"].values()), abs=1e-8)
    assert p == pytest.approx(list(expected["p"].values()), abs=1e-8)


@pytest.mark.parametrize("ties", ["efron", "breslow"])
def test_it_is_the_score_test_of_a_term_that_grows_with_age(ties):
    rows = random_rows(2)
    fitted = fitted_of(rows, ties)
    statistics, _, _ = drift(fitted)
    for term in range(3):
        wider = np.column_stack((rows.x, rows.x[:, term] * rows.age))
        sets = RiskSets.of(rows.age, rows.failed, wider, rows.stratum)
        _, score, information = likelihood(sets, ties, np.ones(sets.n_units), np.append(fitted.coef, 0.0))
        assert statistics[term] == pytest.approx(score @ np.linalg.solve(information, score), abs=1e-8)


def test_shifting_or_stretching_age_changes_nothing():
    rows = random_rows(2)
    assert drift(fitted_of(rows.changed(age=7 * rows.age + 100)))[0] == pytest.approx(
        drift(fitted_of(rows))[0], abs=1e-9
    )


def test_failures_at_one_age_cannot_tell():
    rows = random_rows(2)
    age = np.argmax(np.bincount(rows.age[rows.failed]))
    statistics, _, reasons = drift(fitted_of(rows.changed(x=rows.x[:, 2:], failed=rows.failed & (rows.age == age))))
    assert reasons == (ONE_AGE,)
    assert np.isnan(statistics).all()


def test_drift_of_a_term_without_an_estimate_keeps_its_reason():
    rows = random_rows(6, belts=70)
    rows = rows.changed(failed=rows.failed & (rows.x[:, 1] == 0))
    keep = rows.where(rows.x[:, 1] == 0)
    statistics, _, reasons = drift(fitted_of(rows))
    assert reasons == (None, MOVES, None)
    assert statistics[[0, 2]] == pytest.approx(drift(fitted_of(keep.changed(x=keep.x[:, [0, 2]])))[0], abs=1e-8)


def test_as_many_fail_anew_in_each_set_each_as_likely_as_its_hazard_says():
    rows = random_rows(2)
    fitted = fitted_of(rows)
    sets, generator = fitted.rows, np.random.default_rng(5)
    drawn = np.array([failed_anew(fitted, generator) for _ in range(4000)])
    members = drawn[:, sets.row]
    assert not np.delete(drawn, sets.row, axis=1).any()
    for place, failed in enumerate(sets.n_failed):
        within = sets.member_set == place
        assert (members[:, within].sum(axis=1) == failed).all()
        if failed == 1:
            rate = np.exp(sets.member_x[within] @ fitted.at)
            share = rate / rate.sum()
            assert np.abs(members[:, within].mean(axis=0) - share).max() < 4 * np.sqrt(0.25 / 4000)
    assert (sets.n_failed == 1).any()
    assert (sets.n_failed > 1).any()
