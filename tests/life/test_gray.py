"""Gray's test: as published, as R has it, as its variance reads when written out, and where it is refused."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivekit.life.curve import incidence
from drivekit.life.gray import gray, whole_lives
from drivekit.life.logrank import logrank

Lives = list[tuple[int, int, int]]


def rows(lives: Lives) -> tuple[np.ndarray, ...]:
    """Age, cause, group and belt of every run of lives (last run, cause or -1, group)."""
    runs = [
        (age, cause if age == last else -1, group, belt)
        for belt, (last, cause, group) in enumerate(lives)
        for age in range(1, last + 1)
    ]
    return tuple(np.array(runs).T)


@pytest.fixture(scope="module")
def transplants() -> tuple[np.ndarray, ...]:
    """Months to relapse (cause 0) or death from the transplant (1); month 0 is run 1."""
    from sksurv.datasets import load_bmt

    disease, outcome = load_bmt()
    months = outcome["ftime"].astype(int) + 1
    return rows(list(zip(months, outcome["status"].astype(int) - 1, disease["dis"].astype(int), strict=True)))


@pytest.mark.parametrize(("of", "name", "published"), [(0, "1", 1.301635), (1, "2", 7.082278)])
def test_scrucca_santucci_and_aversa_on_35_transplants(
    transplants: Any, stored: Callable[[str], Any], of: int, name: str, published: float
) -> None:
    age, cause, group, _ = transplants
    found, r = gray(age, cause, group, 2, of), stored("bmt")["gray"][name]
    assert found.chi2 == pytest.approx(published, abs=5e-7)
    assert (found.chi2, found.dof, found.p) == pytest.approx((r["chi2"], r["df"], r["p"]), rel=1e-11)


def test_by_month_12_the_shares_are_those_printed(transplants: Any) -> None:
    age, cause, *_ = transplants
    found = incidence(age, cause, 2)
    # .204926 stands from month 4 on, .272839 from month 12 on, all 35 together
    assert found.incidence[0][found.age == 5][0] == pytest.approx(0.204926, abs=5e-7)
    assert found.incidence[0][found.age == 13][0] == pytest.approx(0.272839, abs=5e-7)


def in_plain_loops(lives: Lives, n_groups: int, of: int) -> tuple[np.ndarray, np.ndarray]:
    """Score and variance step by step along age, carrying what later ages need instead of looking back from the end."""
    alive, share, left = np.ones(n_groups), np.zeros(n_groups), 1.0
    pull = np.zeros((n_groups, n_groups))
    score, first = np.zeros(n_groups), np.zeros((n_groups, n_groups))
    cross, square = np.zeros((n_groups, n_groups)), np.zeros(n_groups)
    for age in range(1, max(last for last, *_ in lives) + 1):
        n = [sum(last >= age and g == k for last, _, g in lives) for k in range(n_groups)]
        d = [sum(last == age and c == of and g == k for last, c, g in lives) for k in range(n_groups)]
        other = [sum(last == age and c >= 0 and c != of and g == k for last, c, g in lives) for k in range(n_groups)]
        here = [k for k in range(n_groups) if n[k]]
        total = sum(n[k] / alive[k] for k in here)
        adjusted = {k: n[k] * (1 - share[k]) / alive[k] for k in here}
        lost = sum(d)
        move = np.zeros((n_groups, n_groups))
        for i in here:
            score[i] += d[i] - lost * adjusted[i] / sum(adjusted.values())
            for k in here:
                move[i, k] = n[i] / alive[i] * ((i == k) - n[k] / alive[k] / total)
                pull[i, k] += move[i, k] * lost / total / left if left > 0 else 0
        left -= lost / total
        for k in here:
            after = alive[k] * (n[k] - d[k] - other[k]) / n[k]
            ways = []
            if lost:
                part = 1 - left / after if after > 0 else 1.0
                tied = 1 - (lost - 1) / (total * alive[k] - 1) if lost > 1 else 1.0
                ways.append((move[:, k] - part * pull[:, k], part, tied * alive[k] * lost / total / n[k]))
            if other[k] and after > 0:
                part = left / after
                tied = 1 - (other[k] - 1) / (n[k] - 1) if other[k] > 1 else 1.0
                ways.append((-part * pull[:, k], part, tied * alive[k] ** 2 * other[k] / n[k] ** 2))
            for now, then, spread in ways:
                first += np.outer(now, now) * spread
                cross[:, k] += now * then * spread
                square[k] += then**2 * spread
            share[k] += alive[k] * d[k] / n[k]
            alive[k] = after
    return score, first + pull @ cross.T + cross @ pull.T + (pull * square) @ pull.T


lives = st.lists(st.tuples(st.integers(1, 9), st.integers(-1, 2), st.integers(0, 2)), min_size=12, max_size=40)


@given(lives, st.integers(0, 2))
def test_a_plain_walk_along_age_gives_the_same_score_and_variance(drawn: Lives, of: int) -> None:
    age, cause, group, _ = rows(drawn)
    found = gray(age, cause, group, 3, of)
    if found.reason == "no belt failed of it":
        assert not (cause == of).any()
        return
    score, variance = in_plain_loops(drawn, 3, of)
    assert found.score == pytest.approx(score, abs=1e-9)
    assert found.variance == pytest.approx(variance, abs=1e-9)


@given(lives)
def test_swapping_groups_shuffling_runs_and_renaming_causes_change_nothing(drawn: Lives) -> None:
    age, cause, group, _ = rows(drawn)
    found = gray(age, cause, group, 3, 0)
    order = np.random.default_rng(3).permutation(age.size)
    other = gray(age[order], np.array([2, 0, 1, -1])[cause][order], 2 - group[order], 3, 2)
    assert (found.reason is None) == (other.reason is None)
    assert found.score == pytest.approx(other.score[::-1], abs=1e-9)
    if found.chi2 is not None and np.linalg.cond(found.variance[:2, :2]) < 1e6:
        assert found.chi2 == pytest.approx(other.chi2, rel=1e-6, abs=1e-9)


@given(lives)
def test_with_one_cause_alone_the_score_is_the_log_rank_s(drawn: Lives) -> None:
    age, cause, group, _ = rows([(last, min(c, 0), g) for last, c, g in drawn])
    found, test = gray(age, cause, group, 3, 0), logrank(age, cause == 0, group, 3)
    assert found.score == pytest.approx(test.observed - test.expected, abs=1e-9)


def test_groups_of_one_law_are_told_apart_no_more_often_than_they_should() -> None:
    draw = np.random.default_rng(11)
    called = 0
    for _ in range(400):
        last, cause = draw.geometric(0.12, 80), draw.integers(0, 2, 80)
        stop = draw.integers(4, 15, 80)
        some = [(min(a, s), c if a <= s else -1, g) for a, s, c, g in zip(last, stop, cause, [0, 1] * 40, strict=True)]
        age, causes, group, _ = rows(some)
        found = gray(age, causes, group, 2, 0)
        assert found.p is not None
        called += found.p <= 0.05
    # 5 % of 400 is 20, give or take 4.4
    assert 8 <= called <= 33


def test_where_nothing_can_be_told_it_says_so() -> None:
    age, cause, group, _ = rows([(3, 1, 0), (2, -1, 1), (4, 1, 1)])
    assert gray(age, cause, group, 2, 0).reason == "no belt failed of it"
    alone = gray(*rows([(2, 0, 0), (3, 0, 0)])[:3], 1, 0)
    assert alone.chi2 is None
    assert alone.reason is not None


def test_late_belts_gaps_and_changes_are_counted() -> None:
    age, belt, group = np.array([[1, 0, 0], [2, 0, 0], [4, 1, 0], [1, 2, 0], [2, 2, 1], [1, 3, 1], [3, 3, 1]]).T
    assert whole_lives(age, belt, group) == (
        "the test needs belts with every run here and in one group; 2 came with runs on them or have a blank and "
        "1 ran in more than one group"
    )
    assert whole_lives(age[:2], belt[:2], group[:2]) is None
