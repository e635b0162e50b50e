"""Directions without end: found where there is one, by the linear programme and by walking along them."""

import numpy as np
import pytest

from drivekit.life.cox import fit, fit_many
from drivekit.life.riskset import RiskSets
from drivekit.life.separation import determined, in_null_space, level_gap, limit, rising, untold
from tests.life.plain_cox import Rows, plain_likelihood, random_rows


def sets_of(rows: Rows) -> RiskSets:
    return RiskSets.of(rows.age, rows.failed, rows.x, rows.stratum)


def test_two_rows_rise_along_their_difference():
    assert rising(np.array([[2.0]]), np.zeros((0, 1))) == pytest.approx([1.0])
    assert rising(np.array([[2.0], [-1.0]]), np.zeros((0, 1))) is None
    assert rising(np.array([[2.0]]), np.array([[1.0]])) is None
    assert rising(np.zeros((0, 1)), np.zeros((0, 1))) is None


def test_a_direction_may_need_two_terms_at_once():
    gaps = np.array([[1.0, -2.0], [-1.0, 3.0]])
    direction = rising(gaps, np.zeros((0, 2)))
    assert (gaps @ direction >= 0).all()
    assert np.abs(direction).max() == pytest.approx(1.0)


def test_where_the_likelihood_has_a_maximum_nothing_moves():
    left, moves, basis = limit(sets_of(random_rows(2)), np.ones(3, bool))
    assert not moves.any()
    assert basis.all()
    assert left.row.size == sets_of(random_rows(2)).row.size


def test_a_term_at_its_highest_for_every_failure_moves_alone():
    rows = random_rows(6, belts=200)
    rows = rows.changed(x=np.column_stack((rows.x, rows.failed)))
    left, moves, basis = limit(sets_of(rows), np.ones(4, bool))
    assert moves.tolist() == [False, False, False, True]
    assert basis.tolist() == [True, True, True, False]
    assert np.array_equal(np.sort(left.row), np.flatnonzero(rows.failed))


def test_along_the_way_found_the_likelihood_rises_to_the_limit_and_never_above_it():
    rows = random_rows(6, belts=70)
    rows = rows.changed(failed=rows.failed & (rows.x[:, 1] == 0))
    left, _, _ = limit(sets_of(rows), np.ones(3, bool))
    kept = Rows(*(part[left.row] for part in (rows.age, rows.failed, rows.x, rows.stratum, rows.belt)))
    end = plain_likelihood(kept, np.zeros(3), "efron")[0]
    heights = [plain_likelihood(rows, np.array([0.0, -t, 0.0]), "efron")[0] for t in (0, 1, 3, 9, 40)]
    assert np.diff(heights).min() > 0
    assert heights[-1] == pytest.approx(end, abs=1e-12)
    assert max(heights) <= end + 1e-12


def test_two_ways_one_behind_the_other_are_both_followed():
    # the first term separates all but the rows at x1 = 1; among those the second does
    x = np.array([[1.0, 1.0], [1.0, 0.0], [0.0, 5.0], [0.0, -5.0]])
    sets = RiskSets.of(np.ones(4, int), np.array([1, 0, 0, 0], bool), x, np.zeros(4, int))
    left, moves, _ = limit(sets, np.ones(2, bool))
    assert moves.tolist() == [True, True]
    assert left.row.tolist() == [0]


def test_a_level_with_failures_everywhere_but_one_is_not_taken_for_separated_by_rounding():
    rows = random_rows(2)
    nearly = rows.failed.astype(float)
    nearly[np.flatnonzero(~rows.failed & np.isin(rows.age, rows.age[rows.failed]))[0]] = 1 + 1e-4
    _, moves, _ = limit(
        sets_of(rows.changed(x=np.column_stack((nearly, rows.stratum * 0 + rows.x[:, 0])))), np.ones(2, bool)
    )
    assert not moves.any()


def test_dependent_columns_are_found_in_order():
    a, b = np.random.default_rng(1).normal(size=(2, 20))
    columns = np.column_stack((a, b, 2 * a - 3 * b, np.zeros(20), a + 1e-3 * b))
    size = np.linalg.norm(columns, axis=0)
    assert determined(columns, size).tolist() == [False, False, True, True, True]
    assert in_null_space(columns[:, :3], size[:3]).tolist() == [True, True, True]
    assert in_null_space(np.column_stack((a, b, 2 * b)), size[:3]).tolist() == [False, True, True]


def test_what_never_differs_and_what_others_determine_have_different_reasons():
    rows = random_rows(3)
    x = np.column_stack((rows.x[:, 0], np.full(rows.age.size, 7.0), 2 - 3 * rows.x[:, 0]))
    alone, reasons = untold(sets_of(rows.changed(x=x)))
    assert alone.tolist() == [False, True, True]
    assert reasons[0] is None
    assert "the same for all belts" in reasons[1]
    assert "determine it" in reasons[2]


def test_only_gaps_within_rounding_are_level():
    assert level_gap(np.array([0.0, 1e-9, -1e-9, 1e-5, -1.0])).tolist() == [True, True, True, False, False]


def test_a_hazard_thousands_of_times_smaller_is_still_an_estimate():
    # 5,000 of 10,000 failed with x 0 and one of 10,000 with x 1, Breslow: r = (1/10,000) / (5,000/10,000)
    x = np.repeat([0.0, 1.0], 10_000)[:, None]
    failed = np.zeros(20_000, bool)
    failed[:5000], failed[-1] = True, True
    sets = RiskSets.of(np.ones(20_000, int), failed, x, np.zeros(20_000, int))
    assert fit(sets, "breslow").coef[0] == pytest.approx(np.log(1 / 5000), abs=1e-9)
    assert fit_many(sets, np.ones((1, 20_000), int), "breslow")[2].tolist() == [0]
