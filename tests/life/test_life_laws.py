"""Laws that hold for any season: curves, comparisons and incidence on lives drawn at random."""

from __future__ import annotations

from math import sqrt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivekit.life.curve import curve, difference, incidence
from drivekit.life.folds import common_horizon
from drivekit.life.logrank import holm, logrank

CAUSES = 3

# Runs before, runs made, cause of its end or -1, the group it began in, and the run after which it changed group.
LIFE = st.tuples(
    st.integers(0, 3), st.integers(1, 6), st.integers(-1, CAUSES - 1), st.integers(0, 2), st.integers(1, 9)
)
LIVES = st.lists(LIFE, min_size=1, max_size=14)
Rows = tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]


def rows(lives: list[tuple[int, int, int, int, int]]) -> Rows:
    """Age, cause, belt and group of every run."""
    runs = [
        (before + k, cause if k == made else -1, belt, (group + (k > change)) % 3)
        for belt, (before, made, cause, group, change) in enumerate(lives)
        for k in range(1, made + 1)
    ]
    age, cause, belt, group = (np.array(column) for column in zip(*runs, strict=True))
    return age, cause, belt, group


def same(one: object, other: object) -> None:
    for name in one.__slots__:
        a, b = getattr(one, name), getattr(other, name)
        if name == "from_age":
            assert (a is None) == (b is None)
            if a is not None:
                same(a, b)
        elif isinstance(a, np.ndarray):
            np.testing.assert_array_equal(a, b)
        else:
            assert a == b, name


@given(LIVES, st.randoms(use_true_random=False))
def test_the_order_of_rows_and_the_names_of_belts_change_nothing(lives: list, chance: object) -> None:
    age, cause, belt, group = rows(lives)
    order = list(range(age.size))
    chance.shuffle(order)
    names = list(range(len(lives)))
    chance.shuffle(names)
    renamed = np.array(names)[belt]
    same(curve(age, cause >= 0, belt), curve(age[order], cause[order] >= 0, renamed[order]))
    same(logrank(age, cause >= 0, group, 3), logrank(age[order], cause[order] >= 0, group[order], 3))
    same(incidence(age, cause, CAUSES), incidence(age[order], cause[order], CAUSES))


@given(LIVES)
def test_a_belt_is_at_risk_from_the_run_after_its_entry_to_its_last_and_never_before(lives: list) -> None:
    age, cause, belt, _ = rows(lives)
    found = curve(age, cause >= 0, belt)
    at_risk = {a: sum(before < a <= before + made for before, made, *_ in lives) for a in range(1, 11)}
    assert dict(zip(found.age.tolist(), found.at_risk.tolist(), strict=True)) == {a: n for a, n in at_risk.items() if n}
    assert found.runs == sum(made for _, made, *_ in lives)
    assert found.failed == sum(cause >= 0 for _, _, cause, *_ in lives)


@given(st.lists(st.integers(1, 9), min_size=1, max_size=40))
def test_without_late_entry_or_belts_still_running_the_curve_is_the_share_still_running(lasts: list[int]) -> None:
    age, cause, belt, _ = rows([(0, last, 0, 0, 9) for last in lasts])
    found = curve(age, cause >= 0, belt)
    share = [np.mean(np.array(lasts) > a) for a in found.age]
    assert found.survival == pytest.approx(share, abs=1e-12)
    variance = np.array([s * (1 - s) / len(lasts) for s in share])
    some = found.survival > 0
    assert (found.survival**2 * found.greenwood)[some] == pytest.approx(variance[some], abs=1e-12)
    assert found.mean_to(50).estimate == pytest.approx(np.mean(lasts))
    assert found.mean_to(50).se == pytest.approx(np.std(lasts) / sqrt(len(lasts)), abs=1e-12)


@given(LIVES)
def test_survival_and_all_incidences_add_to_one(lives: list) -> None:
    age, cause, belt, _ = rows(lives)
    found, whole = incidence(age, cause, CAUSES), curve(age, cause >= 0, belt)
    assert found.age.tolist() == whole.age.tolist()
    assert found.incidence.sum(axis=0) + whole.survival == pytest.approx(1, abs=1e-12)
    assert (np.diff(found.incidence, axis=1) >= 0).all()


@given(LIVES)
def test_causes_taken_together_are_failures_with_greenwoods_variance(lives: list) -> None:
    age, cause, belt, _ = rows(lives)
    one, whole = incidence(age, np.minimum(cause, 0), 1), curve(age, cause >= 0, belt)
    assert one.incidence[0] == pytest.approx(1 - whole.survival, abs=1e-12)
    assert one.incidence[0] == pytest.approx(incidence(age, cause, CAUSES).incidence.sum(axis=0), abs=1e-12)
    some = whole.survival > 0
    greenwood = whole.survival[some] * np.sqrt(whole.greenwood[some])
    assert one.se[0][some] == pytest.approx(greenwood, abs=1e-12)
    assert one.se[0][~some] == pytest.approx(0, abs=1e-12)


@given(LIVES, st.sampled_from([0.8, 0.95, 0.999]))
def test_the_curve_only_falls_and_lies_between_its_limits(lives: list, confidence: float) -> None:
    age, cause, belt, _ = rows(lives)
    found = curve(age, cause >= 0, belt, confidence=confidence)
    assert (np.diff(np.concatenate([[1], found.survival])) <= 0).all()
    some = found.survival > 0
    assert (np.isnan(found.lower) == ~some).all()
    assert (np.isnan(found.upper) == ~some).all()
    assert (found.lower[some] <= found.survival[some] + 1e-15).all()
    assert (found.survival[some] <= found.upper[some] + 1e-15).all()
    for first in (found.median, found.b10):
        assert (first.reason is None) == (None not in (first.estimate, first.lower, first.upper))


@given(LIVES, st.integers(1, 12))
def test_one_run_more_of_horizon_adds_the_share_that_begins_it(lives: list, horizon: int) -> None:
    age, cause, belt, _ = rows(lives)
    found = curve(age, cause >= 0, belt)
    short, long = found.mean_to(horizon), found.mean_to(horizon + 1)
    if long.estimate is None:
        assert long.reason
        return
    before = found.survival[found.age <= horizon]
    assert long.estimate - short.estimate == pytest.approx(before[-1] if before.size else 1, abs=1e-12)
    assert short.estimate <= horizon
    assert difference(short, short).estimate == 0


@given(LIVES)
def test_two_copies_of_every_belt_leave_the_curve_and_halve_its_variance(lives: list) -> None:
    once, twice = (curve(age, cause >= 0, belt) for age, cause, belt, _ in (rows(lives), rows(lives * 2)))
    assert twice.belts == 2 * once.belts
    np.testing.assert_array_equal(once.survival, twice.survival)
    assert twice.greenwood == pytest.approx(once.greenwood / 2, abs=1e-12, nan_ok=True)


@settings(max_examples=60)
@given(LIVES, st.permutations(range(3)))
def test_the_names_of_groups_change_nothing(lives: list, names: list[int]) -> None:
    age, cause, _, group = rows(lives)
    one, other = logrank(age, cause >= 0, group, 3), logrank(age, cause >= 0, np.array(names)[group], 3)
    assert (one.reason, one.dof) == (other.reason, other.dof)
    assert other.observed[names].tolist() == one.observed.tolist()
    if one.reason is None:
        assert (one.chi2, one.p) == pytest.approx((other.chi2, other.p), abs=1e-9)
        assert one.p_exact == pytest.approx(other.p_exact, abs=1e-12)
        assert 0 < one.p_exact <= 1


@given(LIVES, st.integers(0, 2))
def test_a_run_at_an_age_at_which_none_failed_changes_no_curve_and_no_comparison(lives: list, stray: int) -> None:
    age, cause, belt, group = rows(lives)
    quiet = next(a for a in range(1, 12) if not ((age == a) & (cause >= 0)).any())
    more = [
        np.append(column, value) for column, value in ((age, quiet), (cause, -1), (belt, len(lives)), (group, stray))
    ]
    one, other = curve(age, cause >= 0, belt), curve(more[0], more[1] >= 0, more[2])
    at = np.isin(other.age, one.age)
    np.testing.assert_array_equal(other.survival[at], one.survival)
    same(logrank(age, cause >= 0, group, 3), logrank(more[0], more[1] >= 0, more[3], 3))


@given(st.lists(st.none() | st.floats(0, 1), max_size=8))
def test_holms_adjustment_keeps_order_never_lowers_and_rejects_what_stepping_down_rejects(ps: list) -> None:
    adjusted = holm(ps)
    known = [(p, q) for p, q in zip(ps, adjusted, strict=True) if p is not None]
    assert [q is None for q in adjusted] == [p is None for p in ps]
    assert all(p <= q <= 1 for p, q in known)
    assert [q for _, q in sorted(known)] == sorted(q for _, q in known)
    for level in (0.01, 0.05, 0.2):
        left = sorted(p for p, _ in known)
        rejected = 0
        while rejected < len(left) and left[rejected] * (len(left) - rejected) <= level:
            rejected += 1
        assert sum(q <= level for _, q in known) == rejected


@given(LIVES)
def test_at_the_common_horizon_every_group_has_five_runs_and_at_no_later_age(lives: list) -> None:
    age, _, _, group = rows(lives * 3)
    horizon = common_horizon(age, group, 3)
    enough = [a for a in range(1, 12) if all(((age == a) & (group == g)).sum() >= 5 for g in range(3))]
    assert horizon == (enough[-1] if enough else None)
