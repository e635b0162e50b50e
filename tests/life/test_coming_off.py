"""Belts that came off as a precaution: others of their look stand for them, by hand and where looks tell all."""

from __future__ import annotations

from math import log

import numpy as np
import pytest

from drivekit.life.coming_off import Runs, weighted_means
from drivekit.life.curve import curve

Life = tuple[int, bool, bool, int, int]


def runs_of(lives: list[Life]) -> tuple[Runs, np.ndarray]:
    """Fold lives (last run, failed, came off, look on every run, group) into runs, and each run's group."""
    rows = [
        (age, belt, group, failed and age == last, off and age == last, -1 if failed and age == last else look)
        for belt, (last, failed, off, look, group) in enumerate(lives)
        for age in range(1, last + 1)
    ]
    age, belt, group, failed, off, look = np.array(rows).T
    return Runs(age, belt, failed.astype(bool), off.astype(bool), look), group


def test_with_one_look_and_age_alone_the_weight_is_one_over_the_chance_of_having_run_on() -> None:
    # one age: no slope can be told but 0; 3 of 10 came off, and half a belt each way: 3.5 of 11
    lives = [(1, False, True, 0, 0)] * 3 + [(2, True, False, 0, 0)] * 7
    runs, _ = runs_of(lives)
    found = runs.weights(np.ones(runs.age.size))
    assert found[runs.age == 1] == pytest.approx(1)
    assert found[runs.age == 2] == pytest.approx(11 / 7.5)


def test_where_nobody_may_be_stood_for_the_curve_s_own_mean_is_left() -> None:
    draw = np.random.default_rng(2)
    lives = [
        (int(a), bool(f), False, -1, 0) for a, f in zip(draw.integers(1, 12, 60), draw.random(60) < 0.6, strict=True)
    ]
    runs, group = runs_of(lives)
    assert runs.means(group, 8)(np.ones(runs.age.size))[0] == pytest.approx(
        curve(runs.age, runs.failed, runs.belt).mean_to(8).estimate
    )


def test_where_worn_belts_come_off_and_would_fail_the_weights_mend_the_mean() -> None:
    draw = np.random.default_rng(6)
    plain, weighted, whole = [], [], []
    for _ in range(30):
        lives, full = [], []
        for _ in range(150):
            worn, age, off = draw.random() < 0.5, 1, False
            fails = int(draw.geometric(0.3 if worn else 0.05))
            full.append(min(fails, 8))
            while age < min(fails, 12) and not (off := bool(worn and draw.random() < 0.25)):
                age += 1
            lives.append((age, not off and age == fails, off, int(worn), 0))
        runs, group = runs_of(lives)
        plain.append(runs.means(group, 8)(np.ones(runs.age.size))[0])
        weighted.append(runs.means(group, 8)(runs.weights(np.ones(runs.age.size)))[0])
        whole.append(np.mean(full))
    # without weights the worn belts are missed: lives look too long
    assert np.mean(plain) - np.mean(whole) > 0.3
    assert abs(np.mean(weighted) - np.mean(whole)) < 0.12


def test_limits_hold_the_estimate_and_the_seed_gives_them_again() -> None:
    draw = np.random.default_rng(9)
    lives = [
        (int(a), bool(u < 0.5), bool(u > 0.8), int(b), int(g))
        for a, u, b, g in zip(
            draw.integers(1, 12, 80), draw.random(80), draw.integers(0, 2, 80), draw.integers(0, 2, 80), strict=True
        )
    ]
    runs, group = runs_of(lives)
    (found,), (again,) = (weighted_means(runs, [group], 6, 0.95, np.random.default_rng(1), draws=100) for _ in range(2))
    told, worth = found.differences[0, 1], found.worth
    assert told == again.differences[0, 1]
    assert told.estimate == pytest.approx(found.means[1] - found.means[0])
    assert told.lower is not None
    assert told.upper is not None
    assert told.estimate is not None
    assert told.lower < told.estimate < told.upper
    # weights that differ are worth fewer belts than there are
    for place in (0, 1):
        assert 1 < worth[place] <= sum(life[4] == place for life in lives)
    assert log(float(runs.weights(np.ones(runs.age.size)).min())) >= 0


def test_where_nothing_failed_every_group_made_all_of_the_runs() -> None:
    lives = [(3, False, True, 0, 0)] * 3 + [(6, False, False, 0, 1)] * 7
    runs, group = runs_of(lives)
    (found,) = weighted_means(runs, [group], 3, 0.95, np.random.default_rng(1), draws=100)
    assert found.means.tolist() == [3, 3]
