"""The test of drift with age: by hand, R's values, the test's own definition, and refusals."""

import numpy as np
import pytest
from scipy.stats import chi2

from drivekit.life.cox import fit, likelihood
from drivekit.life.proportionality import ONE_AGE, drift
from drivekit.life.riskset import RiskSets
from drivekit.life.separation import MOVES
from tests.life.plain_cox import SEVEN, Rows, at_failure_times, random_rows, stored


def fitted_of(rows: Rows, ties: str = "efron"):
    return fit(RiskSets.of(rows.age, rows.failed, rows.x, rows.stratum), ties)


def test_seven_runs_by_hand():
    # Breslow's maximum is r = sqrt(1/2); only age 3's set (mean r/(1 + r), failed x 1) differs in age from the others
    r = np.sqrt(0.5)
    late, early = r / (1 + r), [2 * r / (1 + 2 * r)] * 2 + [r / (1 + r)]
    score = 3 * (1 - late) + 2 * (1 - sum(early))
    variances = np.array([m * (1 - m) for m in (late, *early)])
    g = np.array([3, 2, 2, 2])
    left = (g**2 * variances).sum() - (g * variances).sum() ** 2 / variances.sum()
    found = drift(fitted_of(SEVEN, "breslow"))
    assert found.chi2[0] == pytest.approx(score**2 / left, abs=1e-10)
    assert found.p[0] == pytest.approx(chi2.sf(score**2 / left, 1), abs=1e-10)


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
    found = drift(fitted_of(rows, ties))
    assert found.chi2 == pytest.approx(list(expected["chi2"].values()), abs=1e-8)
    assert found.p == pytest.approx(list(expected["p"].values()), abs=1e-8)


@pytest.mark.parametrize("ties", ["efron", "breslow"])
def test_it_is_the_score_test_of_a_term_that_grows_with_age(ties):
    rows = random_rows(2)
    fitted = fitted_of(rows, ties)
    found = drift(fitted)
    for term in range(3):
        wider = np.column_stack((rows.x, rows.x[:, term] * rows.age))
        sets = RiskSets.of(rows.age, rows.failed, wider, rows.stratum)
        _, score, information = likelihood(sets, ties, np.ones(sets.n_units), np.append(fitted.coef, 0.0))
        assert found.chi2[term] == pytest.approx(score @ np.linalg.solve(information, score), abs=1e-8)


def test_shifting_or_stretching_age_changes_nothing():
    rows = random_rows(2)
    assert drift(fitted_of(rows.changed(age=7 * rows.age + 100))).chi2 == pytest.approx(
        drift(fitted_of(rows)).chi2, abs=1e-9
    )


def test_failures_at_one_age_cannot_tell():
    rows = random_rows(2)
    age = np.argmax(np.bincount(rows.age[rows.failed]))
    found = drift(fitted_of(rows.changed(x=rows.x[:, 2:], failed=rows.failed & (rows.age == age))))
    assert found.reasons == (ONE_AGE,)
    assert np.isnan(found.chi2).all()


def test_a_term_without_an_estimate_keeps_its_reason():
    rows = random_rows(6, belts=70)
    rows = rows.changed(failed=rows.failed & (rows.x[:, 1] == 0))
    keep = rows.where(rows.x[:, 1] == 0)
    found = drift(fitted_of(rows))
    assert found.reasons == (None, MOVES, None)
    assert found.chi2[[0, 2]] == pytest.approx(drift(fitted_of(keep.changed(x=keep.x[:, [0, 2]]))).chi2, abs=1e-8)
