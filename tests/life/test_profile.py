"""Profile limits and ratio tests against their definition, a second program's search and a case on paper."""

import numpy as np
import pytest
from scipy.optimize import brentq, minimize_scalar
from scipy.stats import chi2

from drivekit.life.cox import fit
from drivekit.life.profile import profile, ratio_test, tries
from drivekit.life.riskset import RiskSets
from tests.life.plain_cox import SEVEN, plain_likelihood, random_rows


def test_limits_of_seven_runs_solve_their_own_equation():
    fitted = fit(RiskSets.of(SEVEN.age, SEVEN.failed, SEVEN.x, SEVEN.stratum), "breslow")
    found = profile(fitted, 0)

    def drop(b: float) -> float:
        # loglik = 2 b - 2 log(1 + 2 r) - 2 log(1 + r), largest at r^2 = 1/2
        value = 2 * b - 2 * np.log(1 + 2 * np.exp(b)) - 2 * np.log(1 + np.exp(b))
        best = np.log(0.5) - 2 * np.log(1 + np.sqrt(2)) - 2 * np.log(1 + np.sqrt(0.5))
        return 2 * (best - value) - 3.841458820694124

    assert found.lower == pytest.approx(brentq(drop, -10, -0.4, xtol=1e-13), abs=1e-9)
    assert found.upper == pytest.approx(brentq(drop, -0.3, 10, xtol=1e-13), abs=1e-9)
    assert found.chi2 == pytest.approx(drop(0.0) + 3.841458820694124, abs=1e-10)
    assert found.p == pytest.approx(chi2.sf(found.chi2, 1), rel=1e-12)


@pytest.mark.parametrize("ties", ["efron", "breslow"])
@pytest.mark.parametrize("confidence", [0.8, 0.95])
def test_at_each_limit_the_other_terms_fitted_again_the_likelihood_has_fallen_by_the_quantile(ties, confidence):
    rows = random_rows(2)
    rows = rows.changed(x=rows.x[:, :2])
    fitted = fit(RiskSets.of(rows.age, rows.failed, rows.x, rows.stratum), ties)
    for term in range(2):
        found = profile(fitted, term, confidence)
        assert found.lower < fitted.coef[term] < found.upper
        for limit in (found.lower, found.upper, 0.0):

            def fall(other: float, limit: float = limit, term: int = term) -> float:
                coef = np.array([other, other])
                coef[term] = limit
                return -plain_likelihood(rows, coef, ties)[0]

            best = minimize_scalar(fall, bracket=(-1.0, 1.0), tol=1e-12)
            expected = chi2.ppf(confidence, 1) if limit else found.chi2
            assert 2 * (fitted.loglik + best.fun) == pytest.approx(expected, abs=1e-7)


def test_wider_confidence_gives_wider_limits():
    rows = random_rows(2)
    fitted = fit(RiskSets.of(rows.age, rows.failed, rows.x, rows.stratum))
    narrow, wide = profile(fitted, 0, 0.5), profile(fitted, 0, 0.999)
    assert wide.lower < narrow.lower < narrow.upper < wide.upper


def test_beside_a_term_that_runs_off_limits_are_those_of_the_rest_alone():
    rows = random_rows(6, belts=70)
    never = rows.x[:, 1] == 1
    rows = rows.changed(failed=rows.failed & ~never)
    left = rows.where(~never)
    whole = fit(RiskSets.of(rows.age, rows.failed, rows.x, rows.stratum))
    rest = fit(RiskSets.of(left.age, left.failed, left.x[:, [0, 2]], left.stratum))
    assert profile(whole, 2).lower == pytest.approx(profile(rest, 1).lower, abs=1e-9)
    assert profile(whole, 2).p == pytest.approx(profile(rest, 1).p, abs=1e-9)
    with pytest.raises(ValueError, match="term 1 has no estimate: the failures all lie on one side"):
        profile(whole, 1)


def test_confidence_must_be_a_share():
    rows = random_rows(2)
    fitted = fit(RiskSets.of(rows.age, rows.failed, rows.x, rows.stratum))
    with pytest.raises(ValueError, match="between 0 and 1, not 95"):
        profile(fitted, 0, 95)


def test_a_gain_that_rounding_made_negative_counts_as_none() -> None:
    assert ratio_test(-1e-13, 1) == ratio_test(0.0, 1)
    assert ratio_test(0.0, 1)["p"] == 1
    assert ratio_test(1.959963984540054**2, 1)["p"] == pytest.approx(0.05, abs=1e-12)
    assert ratio_test(5.991464547107979, 2)["p"] == pytest.approx(0.05, abs=1e-12)


@pytest.mark.parametrize(("confidence", "often"), [(0.8, 49), (0.95, 199), (0.99, 999), (1 - 1e-9, 9_999)])
def test_chance_is_tried_more_often_where_more_is_asked(confidence, often):
    assert tries(confidence) == often


def test_limits_of_very_many_rows_are_searched_less_finely_and_are_the_same_to_what_is_said(monkeypatch):
    rows = random_rows(2)
    sets = RiskSets.of(rows.age, rows.failed, rows.x, rows.stratum)
    fine = profile(fit(sets), 0)
    for module in ("cox", "profile"):
        monkeypatch.setattr(f"drivekit.life.{module}.MANY_ROWS", 1)
    found = profile(fit(sets), 0)
    for side in ("lower", "upper", "p"):
        assert getattr(found, side) == pytest.approx(getattr(fine, side), abs=1e-6)
    assert found.lower != fine.lower
