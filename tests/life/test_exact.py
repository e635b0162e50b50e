"""Exact ties: every choice written out, stored results, laws and refusals."""

from itertools import combinations

import numpy as np
import pytest

from drivekit.life import exact as module
from drivekit.life.cox import fit
from drivekit.life.exact import exact, exact_likelihood
from drivekit.life.riskset import RiskSets
from drivekit.life.separation import CONSTANT, DETERMINED, MOVES, NO_FAILURE
from tests.life.plain_cox import SEVEN, Rows, at_failure_times, random_rows, stored


def sets_of(rows: Rows) -> RiskSets:
    return RiskSets.of(rows.age, rows.failed, rows.x, rows.stratum)


def by_choices(rows: Rows, coef: np.ndarray) -> tuple[float, np.ndarray, np.ndarray]:
    """Likelihood, score and information from every choice of the failed, one by one."""
    loglik, score, information = 0.0, np.zeros(coef.size), np.zeros((coef.size, coef.size))
    for stratum, age in {(s, a) for s, a, f in zip(rows.stratum, rows.age, rows.failed, strict=True) if f}:
        here = np.flatnonzero((rows.stratum == stratum) & (rows.age == age))
        sums = np.array([rows.x[list(some)].sum(axis=0) for some in combinations(here, rows.failed[here].sum())])
        chance = np.exp(sums @ coef)
        mean = chance @ sums / chance.sum()
        seen = rows.x[here[rows.failed[here]]].sum(axis=0)
        loglik += seen @ coef - np.log(chance.sum())
        score += seen - mean
        information += (chance * (sums - mean).T) @ (sums - mean) / chance.sum()
    return loglik, score, information


def test_seven_runs_by_hand_and_at_the_maximum_solved_on_paper():
    # pairs of x (1, 0, 1): 1 + 0, 1 + 1, 0 + 1, so e_2 = 2 r + r^2; the likelihood is r/(2 r + r^2) r/(1 + r) 1/(1 + r)
    loglik, score, information = exact_likelihood(sets_of(SEVEN), np.zeros(1))
    assert loglik == pytest.approx(-np.log(3 * 2 * 2), abs=1e-12)
    assert score[0] == pytest.approx(2 - (4 / 3 + 1 / 2 + 1 / 2), abs=1e-12)
    assert information[0, 0] == pytest.approx(2 / 9 + 1 / 4 + 1 / 4, abs=1e-12)
    # log r - log(2 + r) - 2 log(1 + r): 1 - r/(2 + r) - 2 r/(1 + r) = 0 is r^2 + r - 1 = 0
    r = (np.sqrt(5) - 1) / 2
    assert exact(sets_of(SEVEN)).coef[0] == pytest.approx(np.log(r), abs=1e-10)


@pytest.mark.parametrize("seed", range(3))
def test_the_recursion_is_the_sum_over_every_choice(seed):
    rows = random_rows(seed, belts=35, cars=1)
    for coef in (np.zeros(3), np.array([0.5, -1.0, 0.3])):
        mine, twin = exact_likelihood(sets_of(rows), coef), by_choices(rows, coef)
        assert mine[0] == pytest.approx(twin[0], abs=1e-9)
        assert mine[1] == pytest.approx(twin[1], abs=1e-8)
        assert mine[2] == pytest.approx(twin[2], abs=1e-8)


def test_a_large_set_neither_overflows_nor_loses_its_digits():
    # 2,000 at risk, 700 failed, one 0/1 term: the choices are hypergeometric at coefficient 0
    n, ones, deaths = 2000, 800, 700
    x = (np.arange(n) < ones).astype(float)[:, None]
    failed = np.zeros(n, bool)
    failed[200 : 200 + deaths] = True
    _, score, information = exact_likelihood(RiskSets.of(np.ones(n, int), failed, x, np.zeros(n, int)), np.zeros(1))
    share = ones / n
    assert score[0] == pytest.approx(600 - deaths * share, abs=1e-8)
    assert information[0, 0] == pytest.approx(deaths * share * (1 - share) * (n - deaths) / (n - 1), rel=1e-10)


@pytest.mark.parametrize(
    ("name", "key", "time", "event"),
    [
        ("leukemia", "cox_Rx_logWBC", "t", "status"),
        ("rossi", "cox", "week", "arrest"),
        ("larynx", "cox", "time", "death"),
    ],
)
def test_estimates_are_those_of_r(name, key, time, event):
    from lifelines import datasets

    expected = stored(name)[key]["exact"]
    frame = getattr(datasets, f"load_{name}")()
    rows = at_failure_times(np.zeros(len(frame)), frame[time], frame[event], frame[list(expected["coef"])], scale=1000)
    found = exact(sets_of(rows))
    assert found.coef == pytest.approx(list(expected["coef"].values()), abs=1e-8)
    assert found.se == pytest.approx(list(expected["se_model"].values()), abs=1e-8)
    assert found.loglik == pytest.approx(expected["loglik"], abs=1e-8)


def test_late_entries_have_the_published_estimate():
    rows = at_failure_times(
        [1, 2, 5, 2, 1, 7, 3, 4, 8, 8], [2, 3, 6, 7, 8, 9, 9, 9, 14, 17], [1, 1, 1, 1, 1, 1, 1, 0, 0, 0],
        np.array([[1, 0, 0, 1, 0, 1, 1, 1, 0, 0]]).T,
    )  # fmt: skip
    assert exact(sets_of(rows)).coef[0] == pytest.approx(-0.09162917, abs=5e-9)


def test_without_ties_it_is_the_plain_fit():
    rows = random_rows(3)
    first = np.zeros(rows.age.size, bool)
    key = rows.age * 10 + rows.stratum
    first[[np.flatnonzero((key == k) & rows.failed)[0] for k in np.unique(key[rows.failed])]] = True
    sets = sets_of(rows.changed(failed=first))
    assert exact(sets).coef == pytest.approx(fit(sets).coef, abs=1e-8)


def test_a_level_without_failures_is_null_and_the_rest_are_those_without_it():
    rows = random_rows(6, belts=70)
    rows = rows.changed(failed=rows.failed & (rows.x[:, 1] == 0))
    keep = rows.where(rows.x[:, 1] == 0)
    found, rest = exact(sets_of(rows)), exact(sets_of(keep.changed(x=keep.x[:, [0, 2]])))
    assert found.reasons == (None, MOVES, None)
    assert found.coef[[0, 2]] == pytest.approx(rest.coef, abs=1e-9)
    assert found.se[[0, 2]] == pytest.approx(rest.se, abs=1e-9)
    assert found.loglik == pytest.approx(rest.loglik, abs=1e-9)


def test_failures_of_one_set_need_not_be_level_for_the_term_to_run_off():
    # the two failures have x 2 and 1, all others 0: Efron has a maximum here, the exact likelihood has none
    x = np.array([[2.0], [1.0], [0.0], [0.0]])
    sets = RiskSets.of(np.ones(4, int), np.array([1, 1, 0, 0], bool), x, np.zeros(4, int))
    assert fit(sets).reasons == (None,)
    assert exact(sets).reasons == (MOVES,)
    assert exact(sets).loglik == pytest.approx(0.0, abs=1e-12)
    assert exact_likelihood(sets, np.array([30.0]))[0] == pytest.approx(0.0, abs=1e-12)


def test_a_set_in_which_all_failed_says_nothing():
    all_failed = RiskSets.of(np.ones(3, int), np.ones(3, bool), np.array([[0.0], [1.0], [2.0]]), np.zeros(3, int))
    assert exact(all_failed).reasons == (NO_FAILURE,)


def test_terms_that_cannot_be_told_have_their_reasons():
    rows = random_rows(1)
    x = np.column_stack((rows.x, np.ones(rows.age.size), 1 - rows.x[:, 0]))
    found = exact(sets_of(rows.changed(x=x)))
    assert found.reasons == (None, None, None, CONSTANT, DETERMINED)
    assert found.coef[:3] == pytest.approx(exact(sets_of(rows)).coef, abs=1e-9)


def test_too_much_work_is_refused_in_words(monkeypatch):
    monkeypatch.setattr(module, "_MOST_WORK", 10)
    assert exact(sets_of(random_rows(1))).reasons == (module.TOO_LARGE,) * 3
