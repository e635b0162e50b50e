"""Risk sets: who stood beside whom, by hand and by counting."""

from itertools import pairwise

import numpy as np
import pytest

from drivekit.life.cox import fit, likelihood
from drivekit.life.firth import firth
from drivekit.life.profile import profile
from drivekit.life.riskset import RiskSets
from tests.life.plain_cox import SEVEN, random_rows


def test_seven_runs_make_three_sets_with_the_failures_first():
    sets = RiskSets.of(SEVEN.age, SEVEN.failed, SEVEN.x, SEVEN.stratum)
    assert sets.stratum.tolist() == [0, 0, 1]
    assert sets.age.tolist() == [2, 3, 2]
    assert sets.first.tolist() == [0, 3, 5, 7]
    assert sets.n_failed.tolist() == [2, 1, 1]
    assert [set(sets.row[a:b]) for a, b in ((0, 2), (2, 3), (3, 4), (4, 5), (5, 6), (6, 7))] == [
        {1, 3}, {2}, {4}, {0}, {6}, {5}
    ]  # fmt: skip
    assert sets.member_failed.tolist() == [True, True, False, True, False, True, False]
    assert sets.member_set.tolist() == [0, 0, 0, 1, 1, 2, 2]
    # car 0 has x 1, 1, 1, 0, 0 (mean 3/5), car 1 has 0, 1
    assert np.sort(sets.member_x[:5, 0]) == pytest.approx([-0.6, -0.6, 0.4, 0.4, 0.4])
    assert np.sort(sets.member_x[5:, 0]) == pytest.approx([-0.5, 0.5])


def test_a_set_in_which_nothing_failed_is_left_out_but_its_rows_are_counted():
    sets = RiskSets.of(np.array([1, 1, 2]), np.array([False, False, True]), np.zeros((3, 1)), np.zeros(3, int))
    assert (sets.rows, sets.failed, sets.n_sets) == (3, 1, 1)
    assert sets.row.tolist() == [2]


def test_runs_of_a_belt_with_the_same_settings_share_a_line():
    rows = random_rows(3)
    sets = RiskSets.of(rows.age, rows.failed, rows.x, rows.stratum, rows.belt)
    lines = {(rows.belt[r], rows.stratum[r], *rows.x[r]) for r in sets.row}
    assert sets.x.shape[0] == len(lines) < sets.row.size
    assert np.array_equal(sets.unit[sets.pattern], rows.belt[sets.row])
    shift = sets.member_x - rows.x[sets.row]
    for stratum in np.unique(rows.stratum):
        here = shift[sets.stratum[sets.member_set] == stratum]
        assert np.ptp(here, axis=0) == pytest.approx(np.zeros(3), abs=1e-12)


def test_moments_are_one_the_covariates_and_their_products():
    rows = random_rows(3)
    sets = RiskSets.of(rows.age, rows.failed, rows.x, rows.stratum)
    a, b, c = sets.x.T
    assert np.array_equal(
        sets.moments, np.column_stack((np.ones_like(a), a, b, c, a * a, b * a, b * b, c * a, c * b, c * c))
    )


def test_leaving_members_out_drops_a_set_that_loses_its_failures():
    sets = RiskSets.of(SEVEN.age, SEVEN.failed, SEVEN.x, SEVEN.stratum)
    left = sets.keeping(~np.isin(sets.row, [1, 4]))
    assert left.age.tolist() == [2, 2]
    assert left.n_failed.tolist() == [1, 1]
    assert sorted(left.row) == [2, 3, 5, 6]
    assert (left.rows, left.failed) == (7, 4)


def test_spread_is_taken_off_the_mean_of_each_set():
    sets = RiskSets.of(SEVEN.age, SEVEN.failed, SEVEN.x, SEVEN.stratum)
    assert np.add.reduceat(sets.spread(), sets.first[:-1], axis=0) == pytest.approx(np.zeros((3, 1)), abs=1e-15)
    assert np.abs(sets.spread()[-2:, 0]) == pytest.approx([0.5, 0.5])


def test_no_rows_make_no_sets():
    empty = np.zeros(0, int)
    sets = RiskSets.of(empty, empty.astype(bool), np.zeros((0, 2)), empty)
    assert (sets.rows, sets.n_sets, sets.n_units, sets.n_terms) == (0, 0, 0, 2)
    assert sets.spread().shape == (0, 2)


def test_a_callers_mistake_is_named():
    one = np.ones(2, int)
    with pytest.raises(ValueError, match="must describe the same rows"):
        RiskSets.of(one, np.ones(3, bool), np.ones((2, 1)), one)
    with pytest.raises(ValueError, match="finite number"):
        RiskSets.of(one, np.ones(2, bool), np.array([[1.0], [np.nan]]), one)
    with pytest.raises(ValueError, match="code of 0 or more"):
        RiskSets.of(one, np.ones(2, bool), np.ones((2, 1)), one, np.array([0, -1]))


def test_a_set_of_risk_sets_cannot_be_written_to():
    sets = RiskSets.of(SEVEN.age, SEVEN.failed, SEVEN.x, SEVEN.stratum)
    with pytest.raises(ValueError, match="read-only"):
        sets.x[0] = 1.0


def test_a_belt_kept_in_every_younger_set_joins_a_running_total_once():
    # belts 0 and 1 stand from age 1 to 3 (0 fails at 3), belt 2 comes at age 2, belt 3 changes its setting at age 2
    age = np.array([1, 2, 3, 1, 2, 3, 2, 3, 1, 2, 1, 2])
    belt = np.array([0, 0, 0, 1, 1, 1, 2, 2, 3, 3, 4, 5])
    x = np.array([0, 0, 0, 1, 1, 1, 5, 5, 7, 8, 3, 4], float)[:, None]
    failed = np.isin(np.arange(12), [2, 10, 11])
    sets = RiskSets.of(age, failed, x, np.zeros(12, int), belt)

    def belts(patterns: np.ndarray, starts: np.ndarray) -> list[list[int]]:
        return [sorted(sets.unit[patterns[a:b]]) for a, b in pairwise(starts)]

    assert belts(sets.shared, sets.shared_from) == [[], [0], [1]]
    assert belts(sets.own, sets.own_from) == [[3], [2, 3], [2]]
    assert sets.oldest.tolist() == [False, False, True]
    alone = RiskSets.of(age, failed, x, np.zeros(12, int))
    assert alone.shared.size == 0
    assert np.diff(alone.own_from).tolist() == [3, 4, 2]


def test_the_same_sets_carry_other_covariates_as_if_they_had_been_built_with_them():
    rows = random_rows(3)
    sets = RiskSets.of(rows.age, rows.failed, rows.x[:, :1], rows.stratum, rows.belt)
    other = rows.x * (rows.age[:, None] > 2)
    carrying, built = sets.carrying(other), RiskSets.of(rows.age, rows.failed, other, rows.stratum, rows.belt)
    for name in RiskSets.__dataclass_fields__:
        assert np.array_equal(getattr(carrying, name), getattr(built, name)), name


@pytest.mark.parametrize("ties", ["efron", "breslow"])
@pytest.mark.parametrize("seed", [1, 2])
def test_runs_that_nothing_tells_apart_stand_as_one_and_the_likelihoods_are_those_run_by_run(seed, ties, monkeypatch):
    rows = random_rows(seed, belts=120)
    x = np.round(rows.x)  # tensions to the whole thousand, so that many runs are alike
    each = RiskSets.of(rows.age, rows.failed, x, rows.stratum, rows.belt)
    assert RiskSets.alike(rows.age, rows.failed, x, rows.stratum, rows.belt).row.tolist() == each.row.tolist()
    monkeypatch.setattr("drivekit.life.riskset.MANY_ROWS", 1)
    gathered = RiskSets.alike(rows.age, rows.failed, x, rows.stratum, rows.belt)
    assert gathered.row.size < 0.8 * each.row.size
    assert gathered.often.max() > 1
    assert (gathered.often * gathered.member_failed).sum() == each.n_failed.sum() == each.member_failed.sum()
    assert (gathered.rows, gathered.failed) == (each.rows, each.failed)
    assert gathered.often.sum() == each.row.size
    for one, other in ((gathered, each), (gathered.carrying(x[:, :2]), each.carrying(x[:, :2]))):
        at = np.full(one.n_terms, 0.2)
        found, right = (likelihood(sets, ties, np.ones(sets.n_units), at) for sets in (one, other))
        for mine, theirs in zip(found, right, strict=True):
            assert mine == pytest.approx(theirs, rel=1e-11, abs=1e-11)
        plain, whole = fit(one, ties), fit(other, ties)
        assert plain.coef == pytest.approx(whole.coef, abs=1e-9)
        assert plain.se == pytest.approx(whole.se, abs=1e-9)
        assert profile(plain, 0).upper == pytest.approx(profile(whole, 0).upper, abs=1e-9)
        penalised, of_each = firth(one, ties), firth(other, ties)
        for name in ("coef", "se", "lower", "upper", "loglik"):
            assert getattr(penalised, name) == pytest.approx(getattr(of_each, name), abs=1e-8)


def test_gathered_runs_can_be_left_out_again():
    rows = random_rows(4)
    kept = rows.age > 2
    some = np.arange(rows.age.size) % 3
    sets = RiskSets.of(rows.age, rows.failed, rows.x, rows.stratum, often=some + 1)
    left = sets.keeping(kept[sets.row])
    assert left.often.tolist() == (some + 1)[left.row].tolist()
