"""Exact ties and the grouped binomial model: by hand, stored R results, statsmodels, what leaves the fit, the climb."""

from itertools import combinations

import numpy as np
import pytest

from drivekit.life import whole_runs
from drivekit.life.cox import fit
from drivekit.life.riskset import RiskSets
from drivekit.life.separation import CONSTANT, DETERMINED, MOVES, NO_FAILURE, Estimates
from drivekit.life.whole_runs import exact, exact_likelihood, grouped, top
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
    monkeypatch.setattr(whole_runs, "MOST_WORK", 10)
    assert exact(sets_of(random_rows(1))).reasons == (whole_runs.TOO_LARGE,) * 3


def grouped_fit(rows: Rows) -> Estimates:
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


@pytest.mark.parametrize(
    ("name", "key", "time", "event"),
    [("leukemia", "cloglog_Rx", "t", "status"), ("leukemia", "cloglog_Rx_logWBC", "t", "status"),
     ("rossi", "cloglog", "week", "arrest"), ("larynx", "cloglog", "time", "death")],
)  # fmt: skip
def test_grouped_estimates_are_those_of_r(name, key, time, event):
    from lifelines import datasets

    expected = stored(name)[key]
    frame = getattr(datasets, f"load_{name}")()
    rows = at_failure_times(np.zeros(len(frame)), frame[time], frame[event], frame[list(expected["coef"])], scale=1000)
    found = grouped_fit(rows)
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
    found = grouped_fit(rows)
    assert found.coef == pytest.approx(model.params[-3:], abs=1e-6)
    assert found.se == pytest.approx(model.bse[-3:], abs=1e-6)


def test_a_car_without_failures_and_an_age_where_all_failed_leave():
    rows = random_rows(3, belts=60, cars=3)
    quiet = rows.changed(failed=rows.failed & (rows.stratum != 1))
    assert grouped_fit(quiet).coef == pytest.approx(grouped_fit(quiet.where(quiet.stratum != 1)).coef, abs=1e-8)
    assert grouped_fit(quiet).se == pytest.approx(grouped_fit(quiet.where(quiet.stratum != 1)).se, abs=1e-8)
    late = Rows(np.array([50, 50]), np.ones(2, bool), rows.x[:2], rows.stratum[:2], rows.belt[:2])
    joined = Rows(
        *(np.concatenate((getattr(rows, n), getattr(late, n))) for n in ("age", "failed", "x", "stratum", "belt"))
    )
    assert grouped_fit(joined).coef == pytest.approx(grouped_fit(rows).coef, abs=1e-8)
    assert grouped_fit(joined).loglik == pytest.approx(grouped_fit(rows).loglik, abs=1e-8)
    assert grouped_fit(joined).reasons == (None, None, None)


def test_grouped_a_level_without_failures_is_null_and_the_rest_are_those_without_it():
    rows = random_rows(6, belts=70)
    rows = rows.changed(failed=rows.failed & (rows.x[:, 1] == 0))
    keep = rows.where(rows.x[:, 1] == 0)
    rest = grouped_fit(keep.changed(x=keep.x[:, [0, 2]]))
    assert grouped_fit(rows).reasons == (None, MOVES, None)
    assert grouped_fit(rows).coef[[0, 2]] == pytest.approx(rest.coef, abs=1e-8)
    assert grouped_fit(rows).se[[0, 2]] == pytest.approx(rest.se, abs=1e-8)


def test_a_term_that_cannot_be_told_has_its_reason():
    rows = random_rows(1)
    x = np.column_stack((rows.x, np.full(rows.age.size, 4.0), rows.stratum))
    found = grouped_fit(rows.changed(x=x))
    assert found.reasons == (None, None, None, whole_runs.CONSTANT, whole_runs.DETERMINED)
    assert found.coef[:3] == pytest.approx(grouped_fit(rows).coef, abs=1e-8)


def test_without_a_failure_there_is_no_estimate():
    rows = random_rows(1)
    assert grouped_fit(rows.changed(failed=np.zeros(rows.age.size, bool))).reasons == (NO_FAILURE,) * 3


def test_it_climbs_to_the_logit_of_a_share_with_its_information():
    def coin(at):
        p = 1 / (1 + np.exp(-at[0]))
        return float(3 * np.log(p) + np.log(1 - p)), np.array([3 - 4 * p]), np.array([[4 * p * (1 - p)]])

    at, loglik, information = top(coin, np.array([0.0]))
    assert at[0] == pytest.approx(np.log(3), abs=1e-12)
    assert information[0, 0] == pytest.approx(3 / 4, abs=1e-12)
    assert loglik == pytest.approx(3 * np.log(3 / 4) + np.log(1 / 4), abs=1e-12)
    # a start so far off that a whole step overshoots is halved back
    assert top(coin, np.array([6.0]))[0][0] == pytest.approx(np.log(3), abs=1e-10)


def test_a_rise_without_end_is_given_up():
    def always(at):
        p = 1 / (1 + np.exp(-at[0]))
        return float(np.log(p)), np.array([1 - p]), np.array([[p * (1 - p)]])

    assert top(always, np.array([0.0])) is None


def test_a_flat_direction_has_no_single_maximum():
    def ridge(at):
        gap = at[0] + at[1] - 1
        return -(gap**2), np.full(2, -2 * gap), np.full((2, 2), 2.0)

    assert top(ridge, np.zeros(2)) is None
