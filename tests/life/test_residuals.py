"""How the fit sits on its data: residuals by hand, sums that must hold, belts left out for real."""

from dataclasses import replace

import numpy as np
import pytest

from drivekit.life import residuals
from drivekit.life.cox import fit, likelihood
from drivekit.life.residuals import by_belt, by_risk, concordance, schoenfeld, without_each
from drivekit.life.riskset import RiskSets
from drivekit.life.steps import robust
from tests.life.plain_cox import SEVEN, Rows, random_rows


def fitted_of(rows: Rows, ties: str = "efron"):
    return fit(RiskSets.of(rows.age, rows.failed, rows.x, rows.stratum, rows.belt), ties)


def seven_at_zero():
    fitted = fitted_of(SEVEN)
    information = likelihood(fitted.rows, "efron", fitted.weight, np.zeros(1))[2]
    return replace(fitted, at=np.zeros(1), coef=np.zeros(1), information=information)


def test_schoenfeld_residuals_of_seven_runs_at_zero_by_hand():
    age, row, scaled = schoenfeld(seven_at_zero())
    # tied failures are compared with the mean of 2/3 and 3/4; 4 failures; information 131/144
    raw = {3: 1 - 17 / 24, 1: -17 / 24, 4: 1 / 2, 6: -1 / 2}
    assert dict(zip(row.tolist(), scaled[:, 0], strict=True)) == pytest.approx(
        {row: 4 * 144 / 131 * value for row, value in raw.items()}, abs=1e-13
    )
    assert sorted(age.tolist()) == [2, 2, 2, 3]


def test_expected_failures_of_seven_runs_at_zero_by_hand():
    found = by_belt(seven_at_zero(), SEVEN.belt)
    # a and b: 1/3 whole and half of 1/2; c: 1/3 + 1/2, then 1/2 at age 3; d 1/2; e and f 1/2
    assert found["expected"] == pytest.approx([7 / 12, 7 / 12, 5 / 6 + 1 / 2, 1 / 2, 1 / 2, 1 / 2], abs=1e-14)
    assert found["seen"].tolist() == [1, 1, 0, 1, 1, 0]
    a = np.sqrt(-2 * (5 / 12 + np.log(7 / 12)))
    assert found["deviance"][[0, 2]] == pytest.approx([a, -np.sqrt(2 * 4 / 3)], abs=1e-14)


@pytest.mark.parametrize("ties", ["efron", "breslow"])
def test_expected_failures_add_up_to_those_seen(ties):
    rows = random_rows(2)
    fitted = fitted_of(rows, ties)
    belts = by_belt(fitted, rows.belt)
    assert belts["expected"].sum() == pytest.approx(belts["seen"].sum(), abs=1e-9)
    thirds, fifths = by_risk(fitted), by_risk(fitted, 5)
    for groups in (thirds, fifths):
        assert groups["expected"].sum() == pytest.approx(rows.failed.sum(), abs=1e-9)
        assert groups["seen"].sum() == rows.failed.sum()
        assert groups["runs"].sum() == fitted.rows.row.size
    assert (thirds["runs"].size, fifths["runs"].size) == (3, 5)
    rate = thirds["expected"] / thirds["runs"]
    assert rate[0] < rate[1] < rate[2]


def test_scaled_residuals_average_to_the_coefficient():
    fitted = fitted_of(random_rows(2))
    assert schoenfeld(fitted)[2].mean(axis=0) == pytest.approx(fitted.coef, abs=1e-9)


def test_without_a_belt_the_answer_is_the_fit_without_its_rows():
    rows = random_rows(2)
    fitted = fitted_of(rows)
    coef, exact = without_each(fitted)
    assert exact.all()
    for belt in np.unique(rows.belt[rows.failed])[:6]:
        rest = rows.where(rows.belt != belt)
        assert coef[belt] == pytest.approx(fitted_of(rest).coef, abs=1e-9)
    never_beside_a_failure = np.setdiff1d(rows.belt, rows.belt[fitted.rows.row])
    assert (coef[never_beside_a_failure] == fitted.coef).all()


def test_with_many_belts_only_those_that_move_the_answer_most_are_fitted_again(monkeypatch):
    rows = random_rows(2, belts=200)
    fitted = fitted_of(rows)
    every, _ = without_each(fitted)
    monkeypatch.setattr(residuals, "MOST_REFITTED", 0)
    monkeypatch.setattr(residuals, "MOST_MOVING", 7)
    found, exact = without_each(fitted)
    _, influence = robust(fitted, rows.belt)
    farthest = np.argsort(-np.max(np.abs(influence) / fitted.se, axis=1))[:7]
    assert np.flatnonzero(exact).tolist() == sorted(farthest)
    assert (found[farthest] == every[farthest]).all()
    assert found[~exact] == pytest.approx((fitted.coef - influence)[~exact], abs=1e-14)
    # what first order leaves out is small beside the error of the estimate
    assert (np.abs(found - every).max(axis=0) < 0.05 * fitted.se).all()


def test_concordance_of_seven_runs_by_hand():
    # the estimate is below 0, so x 0 is the higher risk: a-c tie, b-c won, d-c lost, e-f won
    found, pairs = concordance(fitted_of(SEVEN), SEVEN.belt)
    assert pairs == 4
    assert found.estimate == pytest.approx(2.5 / 4)
    # each belt's won less 5/8 of its pairs: a -1/8, b 3/8, c 1.5 - 15/8, d -5/8, e 3/8, f 3/8, over 4
    pull = np.array([-1, 3, -3, -5, 3, 3]) / 32
    assert found.se == pytest.approx(np.sqrt((pull**2).sum()))
    reach = 1.959963984540054 * found.se / (0.625 * 0.375)
    assert found.lower == pytest.approx(1 / (1 + np.exp(-(np.log(5 / 3) - reach))))
    assert found.upper == pytest.approx(1 / (1 + np.exp(-(np.log(5 / 3) + reach))))


def test_concordance_is_the_share_of_pairs_counted_one_by_one():
    rows = random_rows(2)
    fitted = fitted_of(rows)
    won = pairs = 0.0
    for i in np.flatnonzero(rows.failed):
        for j in np.flatnonzero((rows.age == rows.age[i]) & (rows.stratum == rows.stratum[i]) & ~rows.failed):
            gap = (rows.x[i] - rows.x[j]) @ fitted.coef
            pairs += 1
            won += 0.5 if abs(gap) < 1e-9 else float(gap > 0)
    found, counted = concordance(fitted, rows.belt)
    assert (found.estimate, counted) == (pytest.approx(won / pairs), pairs)
    assert 0 < found.lower < found.estimate < found.upper < 1


def test_rows_that_left_in_the_limit_have_the_lowest_risk():
    rows = random_rows(6, belts=70)
    rows = rows.changed(failed=rows.failed & (rows.x[:, 1] == 0))
    fitted = fitted_of(rows)
    far = replace(fitted, rows=fitted.sets, at=np.array([fitted.at[0], -50.0, fitted.at[2]]))
    (left, some), (walked, every) = concordance(fitted, rows.belt), concordance(far, rows.belt)
    assert (left.estimate, left.se, some) == pytest.approx((walked.estimate, walked.se, every))
    by_one, by_other = by_belt(fitted, rows.belt), by_belt(far, rows.belt)
    assert by_one["expected"] == pytest.approx(by_other["expected"], abs=1e-9)


def test_without_a_pair_there_is_no_concordance():
    fitted = fit(RiskSets.of(np.ones(2, int), np.ones(2, bool), np.array([[0.0], [1.0]]), np.array([0, 1])))
    found, pairs = concordance(fitted, np.arange(2))
    assert (found.estimate, pairs) == (None, 0)
    assert "no failed belt had another beside it" in found.reason
