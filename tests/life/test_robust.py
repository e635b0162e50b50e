"""Errors clustered by belt: residuals by hand, R's values, and what the sum must be."""

from dataclasses import replace

import numpy as np
import pytest

from drivekit.life.cox import fit, likelihood
from drivekit.life.riskset import RiskSets
from drivekit.life.robust import robust
from drivekit.life.steps import score_residuals, steps
from tests.life.plain_cox import SEVEN, at_failure_times, random_rows, stored


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
    found = robust(seven_at_zero("efron"), SEVEN.belt)
    # belt c made two runs: -17/72 + 1/4; the information is 131/144
    belts = np.array([17 / 144, -43 / 144, -17 / 72 + 1 / 4, 1 / 4, -1 / 4, -1 / 4]) * 144 / 131
    assert found.influence[:, 0] == pytest.approx(belts, abs=1e-14)
    assert found.se[0] == pytest.approx(np.sqrt((belts**2).sum()), abs=1e-14)


@pytest.mark.parametrize("ties", ["efron", "breslow"])
def test_heart_patients_clustered_have_rs_errors(ties):
    from lifelines.datasets import load_stanford_heart_transplants

    frame = load_stanford_heart_transplants()
    expected = stored("stanford_heart_transplants")[f"cox_{ties}_robust_by_id"]
    rows = at_failure_times(
        frame["start"], frame["stop"], frame["event"], frame[list(expected["coef"])], cluster=frame["id"], scale=2
    )
    fitted = fit(RiskSets.of(rows.age, rows.failed, rows.x, rows.stratum), ties)
    assert robust(fitted, rows.belt).se == pytest.approx(list(expected["se_robust"].values()), abs=1e-9)


def test_rossi_by_row_has_rs_errors():
    from lifelines.datasets import load_rossi

    frame = load_rossi()
    expected = stored("rossi")["cox_efron_robust_by_row"]
    rows = at_failure_times(np.zeros(len(frame)), frame["week"], frame["arrest"], frame[list(expected["coef"])])
    fitted = fit(RiskSets.of(rows.age, rows.failed, rows.x, rows.stratum))
    assert robust(fitted, rows.belt).se == pytest.approx(list(expected["se_robust"].values()), abs=1e-9)


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
    whole = robust(fit(RiskSets.of(rows.age, rows.failed, rows.x, rows.stratum)), rows.belt)
    rest = robust(fit(RiskSets.of(keep.age, keep.failed, keep.x[:, [0, 2]], keep.stratum)), keep.belt)
    assert np.isnan(whole.se[1])
    assert whole.se[[0, 2]] == pytest.approx(rest.se, abs=1e-9)
