"""The hazard fit by hand, against published values, against other programs, and by its laws."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivekit.life.cox import fit, fit_many, likelihood
from drivekit.life.riskset import RiskSets
from drivekit.life.separation import CONSTANT, DETERMINED, MOVES, NO_FAILURE
from tests.life.plain_cox import SEVEN, Rows, at_failure_times, plain_fit, plain_likelihood, random_rows, stored


def sets_of(rows: Rows, unit: np.ndarray | None = None) -> RiskSets:
    return RiskSets.of(rows.age, rows.failed, rows.x, rows.stratum, unit)


def at(rows: Rows, coef: float, ties: str) -> tuple[float, float, float]:
    sets = sets_of(rows)
    loglik, score, information = likelihood(sets, ties, np.ones(sets.n_units), np.array([coef]))
    return loglik, score[0], information[0, 0]


def test_seven_runs_at_zero_by_hand():
    # Efron: denominators 3 and 3 - (1 + 1)/2 = 2 at age 2 on car 0, 2 at age 3, 2 on car 1; means 2/3, 3/4, 1/2, 1/2.
    loglik, score, information = at(SEVEN, 0.0, "efron")
    assert loglik == pytest.approx(-np.log(3 * 2 * 2 * 2), abs=1e-14)
    assert score == pytest.approx(2 - (2 / 3 + 3 / 4 + 1 / 2 + 1 / 2), abs=1e-14)
    assert information == pytest.approx(2 / 9 + 3 / 16 + 1 / 4 + 1 / 4, abs=1e-14)
    # Breslow: 3 twice.
    loglik, score, information = at(SEVEN, 0.0, "breslow")
    assert loglik == pytest.approx(-np.log(3 * 3 * 2 * 2), abs=1e-14)
    assert score == pytest.approx(2 - (2 / 3 + 2 / 3 + 1 / 2 + 1 / 2), abs=1e-14)
    assert information == pytest.approx(2 / 9 + 2 / 9 + 1 / 4 + 1 / 4, abs=1e-14)


def test_seven_runs_after_one_step_by_hand():
    # Efron's first Newton step is (-5/12) / (131/144) = -60/131; with r = exp of it, set by set:
    step = -60 / 131
    r = np.exp(step)
    means = np.array([2 * r / (1 + 2 * r), 3 * r / (1 + 3 * r), r / (1 + r), r / (1 + r)])
    denominators = np.array([1 + 2 * r, (1 + 3 * r) / 2, 1 + r, 1 + r])
    loglik, score, information = at(SEVEN, step, "efron")
    assert loglik == pytest.approx(2 * step - np.log(denominators).sum(), abs=1e-14)
    assert score == pytest.approx(2 - means.sum(), abs=1e-14)
    assert information == pytest.approx((means * (1 - means)).sum(), abs=1e-14)


def test_seven_runs_at_the_maximum_solved_on_paper():
    # Breslow: 2 = 4r/(1 + 2r) + 2r/(1 + r) gives 4 r^2 = 2. Efron: 12 r^3 + 5 r^2 - 5 r - 2 = 0.
    breslow, efron = fit(sets_of(SEVEN), "breslow"), fit(sets_of(SEVEN), "efron")
    assert breslow.coef[0] == pytest.approx(-np.log(2) / 2, abs=1e-12)
    roots = np.roots([12, 5, -5, -2])
    assert efron.coef[0] == pytest.approx(np.log(roots[roots > 0][0]), abs=1e-12)
    r = np.sqrt(0.5)
    means = np.array([2 * r / (1 + 2 * r)] * 2 + [r / (1 + r)] * 2)
    assert breslow.se[0] == pytest.approx((means * (1 - means)).sum() ** -0.5, abs=1e-12)
    assert breslow.loglik == pytest.approx(2 * np.log(r) - 2 * np.log(1 + 2 * r) - 2 * np.log(1 + r), abs=1e-12)


def test_six_subjects_of_the_validation_vignette_of_survival():
    # Therneau, "Validation" vignette of R's survival: time 9 1 1 6 6 8, status 1 1 0 1 1 0, x 0 1 1 1 0 0.
    rows = at_failure_times([0] * 6, [9, 1, 1, 6, 6, 8], [1, 1, 0, 1, 1, 0], [[0], [1], [1], [1], [0], [0]])
    assert fit(sets_of(rows), "breslow").coef[0] == pytest.approx(1.4752849148, abs=5e-11)
    assert fit(sets_of(rows), "efron").coef[0] == pytest.approx(1.6768574856, abs=5e-11)


def test_ten_late_entries_of_the_validation_vignette_of_survival():
    rows = at_failure_times(
        [1, 2, 5, 2, 1, 7, 3, 4, 8, 8], [2, 3, 6, 7, 8, 9, 9, 9, 14, 17], [1, 1, 1, 1, 1, 1, 1, 0, 0, 0],
        np.array([[1, 0, 0, 1, 0, 1, 1, 1, 0, 0]]).T,
    )  # fmt: skip
    assert fit(sets_of(rows), "breslow").coef[0] == pytest.approx(-0.0845260807, abs=5e-11)
    assert fit(sets_of(rows), "efron").coef[0] == pytest.approx(-0.0211052096, abs=5e-11)


def open_rows(name: str, columns: list[str], stratum: str | None = None) -> Rows:
    from lifelines import datasets

    frame = getattr(datasets, f"load_{name}")().reset_index()
    start, stop, event = {
        "leukemia": (None, "t", "status"),
        "rossi": (None, "week", "arrest"),
        "stanford_heart_transplants": ("start", "stop", "event"),
        "larynx": (None, "time", "death"),
        "multicenter_aids_cohort_study": ("W", "T", "D"),
    }[name]
    if name == "larynx":
        frame["old"] = (frame["age"] >= 65).astype(int)
    if name == "multicenter_aids_cohort_study":
        frame["late"] = (frame["AIDSY"] > frame["AIDSY"].median()).astype(int)
        frame["year"] = frame["AIDSY"] - 1990
    return at_failure_times(
        np.full(len(frame), -1.0) if start is None else frame[start], frame[stop], frame[event], frame[columns],
        stratum=None if stratum is None else frame[stratum], scale=1000,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("name", "key", "stratum"),
    [
        ("leukemia", "cox_Rx", None),
        ("leukemia", "cox_Rx_logWBC", None),
        ("leukemia", "cox_stratified_by_sex", "sex"),
        ("rossi", "cox", None),
        ("rossi", "cox_stratified_by_wexp", "wexp"),
        ("stanford_heart_transplants", "cox", None),
        ("larynx", "cox", None),
        ("larynx", "cox_stratified_by_old", "old"),
        ("multicenter_aids_cohort_study", "cox_late", None),
        ("multicenter_aids_cohort_study", "cox_year", None),
    ],
)
@pytest.mark.parametrize("ties", ["efron", "breslow"])
def test_coefficients_errors_and_likelihood_are_those_of_r(name, key, stratum, ties):
    expected = stored(name)[key][ties]
    sets = sets_of(open_rows(name, list(expected["coef"]), stratum))
    fitted = fit(sets, ties)
    null = likelihood(sets, ties, np.ones(sets.n_units), np.zeros(sets.n_terms))[0]
    assert fitted.coef == pytest.approx(list(expected["coef"].values()), abs=1e-9)
    assert fitted.se == pytest.approx(list(expected["se_model"].values()), abs=1e-9)
    assert (null, fitted.loglik) == pytest.approx((expected["loglik_null"], expected["loglik"]), abs=1e-8)


def test_lifelines_agrees_on_rows_whose_settings_change():
    from lifelines import CoxTimeVaryingFitter, datasets

    frame = datasets.load_stanford_heart_transplants().drop(columns="year")
    model = CoxTimeVaryingFitter().fit(frame, id_col="id", event_col="event", start_col="start", stop_col="stop")
    mine = fit(sets_of(open_rows("stanford_heart_transplants", ["age", "surgery", "transplant"])))
    assert mine.coef == pytest.approx(model.params_.to_numpy(), abs=1e-7)
    assert mine.se == pytest.approx(model.standard_errors_.to_numpy(), abs=1e-7)


def test_statsmodels_agrees_once_an_entry_at_a_failure_age_is_moved_past_it():
    # PHReg counts an entry equal to a failure's time as at risk; entry + 1e-6 mends it.
    from statsmodels.duration.hazard_regression import PHReg

    rows = random_rows(3)
    for ties in ("efron", "breslow"):
        model = PHReg(
            rows.age, rows.x, status=rows.failed.astype(int), entry=rows.age - 1 + 1e-6, strata=rows.stratum, ties=ties
        ).fit(disp=0)
        assert fit(sets_of(rows), ties).coef == pytest.approx(model.params, abs=1e-5)


@pytest.mark.parametrize("ties", ["efron", "breslow"])
@pytest.mark.parametrize("seed", range(4))
def test_the_plain_twin_gives_the_same_likelihood_everywhere_and_the_same_maximum(seed, ties):
    rows = random_rows(seed, belts=70)
    weight = np.random.default_rng(seed).integers(0, 3, rows.age.size)
    sets = sets_of(rows)
    somewhere = np.array([0.4, -0.7, 0.1])
    for cases in (np.ones(rows.age.size), weight.astype(float)):
        mine = likelihood(sets, ties, cases, somewhere)
        twin = plain_likelihood(rows, somewhere, ties, cases)
        # shifting covariates within a stratum moves each failure's height and its denominator alike
        assert mine[0] == pytest.approx(twin[0], abs=1e-10)
        assert mine[1] == pytest.approx(twin[1], abs=1e-9)
        assert mine[2] == pytest.approx(twin[2], abs=1e-9)
    assert fit(sets, ties, weight).coef == pytest.approx(plain_fit(rows, ties, weight), abs=1e-8)


@given(seed=st.integers(0, 200), ties=st.sampled_from(["efron", "breslow"]))
@settings(deadline=None, max_examples=15)
def test_shifting_doubling_shuffling_and_swapping_the_reference_do_what_they_must(seed, ties):
    rows = random_rows(seed, belts=60)
    plain = fit(sets_of(rows), ties)
    if not plain.free.all():
        return
    shifted = fit(sets_of(rows.changed(x=rows.x + np.array([0, 0, 1e6]))), ties)
    assert shifted.coef == pytest.approx(plain.coef, abs=1e-5)
    doubled = fit(sets_of(rows.changed(x=rows.x * [1, 1, 2])), ties)
    assert doubled.coef == pytest.approx(plain.coef / [1, 1, 2], abs=1e-9)
    assert doubled.loglik == pytest.approx(plain.loglik, abs=1e-9)
    swapped = fit(sets_of(rows.changed(x=np.abs([0, 1, 0] - rows.x) * [1, 1, np.sign(rows.x[0, 2])])), ties)
    assert swapped.coef[1] == pytest.approx(-plain.coef[1], abs=1e-8)
    order = np.random.default_rng(seed).permutation(rows.age.size)
    assert fit(sets_of(rows.where(order)), ties).coef == pytest.approx(plain.coef, abs=1e-9)


def test_a_wild_value_at_an_age_where_nothing_failed_changes_nothing():
    rows = random_rows(5)
    quiet = ~np.isin(rows.age * 10 + rows.stratum, (rows.age * 10 + rows.stratum)[rows.failed])
    assert quiet.any()
    wild = rows.changed(x=np.where(quiet[:, None], 1e9, rows.x))
    assert np.array_equal(fit(sets_of(wild)).coef, fit(sets_of(rows)).coef)


def test_a_weight_of_three_is_three_copies_under_breslow_and_not_under_efron():
    rows = random_rows(7)
    weight = np.random.default_rng(7).choice([1, 3], rows.age.size)
    copies = rows.where(np.repeat(np.arange(rows.age.size), weight))
    breslow = fit(sets_of(rows), "breslow", weight)
    assert breslow.coef == pytest.approx(fit(sets_of(copies), "breslow").coef, abs=1e-9)
    assert breslow.se == pytest.approx(fit(sets_of(copies), "breslow").se, abs=1e-9)
    apart = fit(sets_of(rows), "efron", weight).coef - fit(sets_of(copies), "efron").coef
    assert np.abs(apart).max() > 1e-4


def test_a_weight_of_zero_is_a_row_that_is_not_there():
    rows = random_rows(8)
    weight = np.random.default_rng(8).integers(0, 2, rows.age.size)
    left, cut = fit(sets_of(rows), weight=weight), fit(sets_of(rows.where(weight > 0)))
    assert left.coef == pytest.approx(cut.coef, abs=1e-10)
    assert left.loglik == pytest.approx(cut.loglik, abs=1e-10)


def test_many_weightings_are_the_single_fits_on_any_number_of_threads():
    rows = random_rows(11, belts=80)
    sets = sets_of(rows, rows.belt)
    draw = np.random.default_rng(1)
    weights = draw.multinomial(sets.n_units, np.full(sets.n_units, 1 / sets.n_units), 40)
    (coef, loglik, _), three = fit_many(sets, weights, threads=1), fit_many(sets, weights, threads=3)
    assert np.array_equal(coef, three[0], equal_nan=True)
    assert np.array_equal(loglik, three[1])
    for line in range(5):
        alone = fit(sets, weight=weights[line])
        assert alone.coef == pytest.approx(coef[line], abs=1e-9)
        assert plain_fit(rows, "efron", weights[line][rows.belt]) == pytest.approx(coef[line], abs=1e-8)


def test_a_weighting_without_an_estimate_is_told_as_the_linear_programme_tells_it():
    rows = random_rows(4, belts=22)
    sets = sets_of(rows, rows.belt)
    draw = np.random.default_rng(2)
    weights = draw.multinomial(sets.n_units, np.full(sets.n_units, 1 / sets.n_units), 300)
    coefs, _, statuses = fit_many(sets, weights)
    alone = [fit(sets, weight=line) for line in weights]
    assert 20 < (statuses != 0).sum() < 280
    for status, coef, one in zip(statuses, coefs, alone, strict=True):
        assert (status == 0) == one.free.all()
        assert np.isnan(coef).all() == (status != 0)
        if status == 0:
            assert coef == pytest.approx(one.coef, abs=1e-8)


def test_a_guess_of_where_to_begin_changes_no_status_and_no_estimate():
    rows = random_rows(4, belts=22)
    sets = sets_of(rows, rows.belt)
    draw = np.random.default_rng(2)
    weights = draw.multinomial(sets.n_units, np.full(sets.n_units, 1 / sets.n_units), 300)
    coef, loglik, status = fit_many(sets, weights)
    for size in (0.1, 3.0, 300.0):
        guessed = fit_many(sets, weights, begin=draw.normal(scale=size, size=coef.shape))
        assert guessed[2].tolist() == status.tolist()
        assert guessed[0] == pytest.approx(coef, abs=1e-9, nan_ok=True)
        assert guessed[1][status == 0] == pytest.approx(loglik[status == 0], abs=1e-10)
    with pytest.raises(ValueError, match="one line a weighting"):
        fit_many(sets, weights, begin=coef[:5])


@pytest.mark.parametrize("ties", ["efron", "breslow"])
def test_a_level_without_failures_is_null_and_the_rest_are_those_of_the_limit(ties):
    rows = random_rows(6, belts=70)
    never = rows.x[:, 1] == 1
    rows = rows.changed(failed=rows.failed & ~never)
    fitted = fit(sets_of(rows), ties)
    assert fitted.reasons == (None, MOVES, None)
    without = rows.where(~never)
    limit = fit(RiskSets.of(without.age, without.failed, without.x[:, [0, 2]], without.stratum), ties)
    assert fitted.coef[[0, 2]] == pytest.approx(limit.coef, abs=1e-9)
    assert fitted.se[[0, 2]] == pytest.approx(limit.se, abs=1e-9)
    assert fitted.loglik == pytest.approx(limit.loglik, abs=1e-9)
    far = plain_likelihood(rows, np.array([limit.coef[0], -40.0, limit.coef[1]]), ties)[0]
    assert fitted.loglik == pytest.approx(far, abs=1e-9)
    assert np.isnan([fitted.coef[1], fitted.se[1]]).all()
    assert (fitted.rows.rows, fitted.rows.failed) == (rows.age.size, rows.failed.sum())


def test_with_no_failure_in_a_reference_level_all_its_contrasts_are_null():
    rows = random_rows(9, belts=80)
    level = np.random.default_rng(9).integers(0, 3, rows.age.size)
    x = np.column_stack((level == 1, level == 2, rows.x[:, 2]))
    rows = rows.changed(x=x.astype(float), failed=rows.failed & (level != 0))
    fitted = fit(sets_of(rows))
    assert fitted.reasons == (MOVES, MOVES, None)
    assert fitted.basis.tolist() == [True, False, True]  # the difference of the two levels is still in the fit
    keep = rows.where(level != 0)
    assert fitted.coef[2] == pytest.approx(plain_fit(keep.changed(x=keep.x[:, [0, 2]]), "efron")[1], abs=1e-8)


def test_no_failure_in_a_combination_is_found_though_each_level_failed():
    # x1 and x2 each fail alone; rows with both never do, rows with neither never do: only x1 + x2 - both moves.
    age = np.ones(12, int)
    both = np.array([[1, 0], [0, 1], [1, 1], [0, 0]] * 3, float)
    x = np.column_stack((both, both.prod(axis=1)))
    failed = np.array([1, 1, 0, 0, 0, 0, 0, 0, 1, 0, 0, 0], bool)
    fitted = fit(RiskSets.of(age, failed, x, np.zeros(12, int)))
    assert fitted.reasons == (MOVES, MOVES, MOVES)
    # left in the limit: three of each kind, two and one failed, Efron
    assert fitted.loglik == pytest.approx(_left_in_the_limit(), abs=1e-9)


def _left_in_the_limit() -> float:
    rows = Rows(np.ones(6, int), np.array([1, 1, 0, 0, 1, 0], bool), np.array([[1, 0] * 3]).T.astype(float),
                np.zeros(6, int), np.arange(6))  # fmt: skip
    return plain_likelihood(rows, plain_fit(rows, "efron"), "efron")[0]


def test_a_stratum_without_a_failure_changes_nothing():
    rows = random_rows(12, cars=1)
    extra = rows.changed(stratum=rows.stratum + 5, failed=np.zeros(rows.age.size, bool))
    joined = Rows(*(np.concatenate((getattr(rows, name), getattr(extra, name)))
                    for name in ("age", "failed", "x", "stratum", "belt")))  # fmt: skip
    both, one = fit(sets_of(joined)), fit(sets_of(rows))
    assert both.coef == pytest.approx(one.coef, abs=1e-12)
    assert both.rows.rows == 2 * one.rows.rows


def test_a_constant_term_is_refused_and_the_others_stay():
    rows = random_rows(1)
    x = np.column_stack((np.full(rows.age.size, 3.0), rows.x, rows.stratum))
    fitted = fit(sets_of(rows.changed(x=x)))
    assert fitted.reasons == (CONSTANT, None, None, None, CONSTANT)
    assert fitted.coef[1:4] == pytest.approx(fit(sets_of(rows)).coef, abs=1e-9)


def test_of_two_terms_that_are_one_the_later_is_refused():
    rows = random_rows(1)
    x = np.column_stack((rows.x, 1 - rows.x[:, 0]))
    fitted = fit(sets_of(rows.changed(x=x)))
    assert fitted.reasons == (None, None, None, DETERMINED)
    assert fitted.coef[:3] == pytest.approx(fit(sets_of(rows)).coef, abs=1e-9)


def test_more_terms_than_failures_gives_reasons_and_no_nonsense():
    draw = np.random.default_rng(0)
    x = draw.normal(size=(8, 5))
    failed = np.arange(8) < 2
    fitted = fit(RiskSets.of(np.ones(8, int), failed, x, np.zeros(8, int)))
    assert all(reason == MOVES for reason in fitted.reasons)
    assert np.isnan(fitted.coef).all()
    assert np.isfinite(fitted.loglik)


def test_without_a_failure_every_term_says_so():
    rows = random_rows(2)
    fitted = fit(sets_of(rows.changed(failed=np.zeros(rows.age.size, bool))))
    assert fitted.reasons == (NO_FAILURE,) * 3
    assert fitted.loglik == 0.0


def test_a_callers_mistake_is_named():
    sets = sets_of(random_rows(2))
    with pytest.raises(ValueError, match='ties is "efron" or "breslow", not \'exact\''):
        fit(sets, "exact")
    with pytest.raises(ValueError, match="whole number of 0 or more"):
        fit(sets, weight=np.full(sets.n_units, 0.5))
    with pytest.raises(ValueError, match="whole number of 0 or more"):
        fit(sets, weight=np.full(sets.n_units, -1))
    with pytest.raises(ValueError, match="one for each unit"):
        fit_many(sets, np.ones((2, 3), int))


def test_results_cannot_be_written_to():
    fitted = fit(sets_of(random_rows(2)))
    with pytest.raises(ValueError, match="read-only"):
        fitted.coef[0] = 0.0
