"""Settings dealt anew among belts: against the tests they should be, and how often they tell where nothing does."""

import numpy as np
import pytest

from drivekit.life import dealt
from drivekit.life.cox import fit, likelihood
from drivekit.life.dealt import share_of_deals
from drivekit.life.logrank import logrank
from drivekit.life.riskset import RiskSets


def season(draws, belts=24, cars=2, columns=2):
    """Lives of belts with settings of their own, none of which says anything of their failures."""
    life = draws.integers(2, 9, belts)
    belt = np.repeat(np.arange(belts), life)
    age = np.concatenate([np.arange(1, runs + 1) for runs in life])
    failed = (age == life[belt]) & (draws.random(belts) < 0.8)[belt]
    tested = draws.normal(size=(belts, columns))[belt]
    rest = np.hstack([(tested[:, :1] + draws.normal(size=(belts, 1))[belt]), draws.normal(size=(age.size, 1))])
    return age, failed, tested, rest, (belt % cars), belt


@pytest.mark.parametrize("columns", [1, 2])
def test_a_deal_is_judged_by_the_score_test_of_the_columns_beside_the_rest(columns):
    age, failed, tested, rest, car, belt = season(np.random.default_rng(3), columns=columns)
    without = fit(RiskSets.of(age, failed, rest, car, belt))
    both = RiskSets.of(age, failed, np.hstack([tested, rest]), car, belt)
    _, score, information = likelihood(both, "efron", np.ones(24), np.concatenate([np.zeros(columns), without.at]))
    expected = score @ np.linalg.solve(information, score)
    (found,) = dealt._score_test(without)(tested.T[:, None, without.rows.row])
    assert found == pytest.approx(expected, rel=1e-9)


def test_of_two_groups_without_ties_the_score_test_is_the_log_rank_test():
    life, group = np.array([2, 3, 5, 7, 11, 13, 17, 19]), np.array([0, 1, 0, 0, 1, 0, 1, 1])
    belt = np.repeat(np.arange(8), life)
    age = np.concatenate([np.arange(1, runs + 1) for runs in life])
    failed = age == life[belt]
    without = fit(RiskSets.of(age, failed, np.zeros((age.size, 0)), np.zeros_like(age), belt))
    (found,) = dealt._score_test(without)(group[belt].astype(float)[None, None, without.rows.row])
    assert found == pytest.approx(logrank(age, failed, group[belt], 2).chi2, rel=1e-12)


def test_what_is_tested_is_dealt_among_belts_of_one_car_by_age(monkeypatch):
    # belts 0 and 1 on one car, 2 and 3 on another; each run's value names its belt and its age
    belt, age = np.array([0, 0, 0, 1, 1, 2, 2, 3]), np.array([1, 2, 3, 2, 3, 1, 2, 4])
    car, met = np.array([0, 0, 0, 0, 0, 7, 7, 7]), []

    def judge(columns):
        met.extend(map(tuple, columns[0].tolist()))
        return np.ones(columns.shape[1])

    monkeypatch.setattr(dealt, "_score_test", lambda without: judge)
    # every row a member: each set has its failure
    without = fit(RiskSets.of(np.arange(8), np.ones(8, bool), np.zeros((8, 0)), np.zeros(8, int)))
    lives = (10.0 * belt + age)[:, None], age, belt, car, np.random.default_rng(1)
    assert share_of_deals(without, *lives, 0.95) == 1  # each is as large as the season's own
    # a belt that ran from age 2 gives the value of its first run before, one that stopped that of its last one after
    assert {one[:5] for one in met} == {(1, 2, 3, 12, 13), (12, 12, 13, 2, 3)}
    assert {one[5:] for one in met} == {(21, 22, 34), (34, 34, 22)}


def test_the_share_of_two_belts_to_a_car_is_that_of_all_ways_to_deal():
    # three cars of two belts; in the season's own the belt that outlives the other is on the new idler each time
    life, idler = np.array([1, 3, 2, 4, 1, 4]), np.array([0, 1, 0, 1, 0, 1])
    belt = np.repeat(np.arange(6), life)
    age = np.concatenate([np.arange(1, runs + 1) for runs in life])
    without = fit(RiskSets.of(age, age == life[belt], np.zeros((age.size, 0)), belt // 2, belt))
    lives = idler[belt].astype(float)[:, None], age, belt, belt // 2, np.random.default_rng(1)
    # as large are it and its mirror of 8 ways: 1 in 4, to three standard errors of 3,999 deals
    assert share_of_deals(without, *lives, 0.95) == pytest.approx(0.25, abs=3 * (0.25 * 0.75 / 3999) ** 0.5)


def test_where_settings_make_no_difference_the_share_is_as_small_as_p_so_often():
    draws, shares = np.random.default_rng(5), []
    for _ in range(300):
        age, failed, tested, rest, car, belt = season(draws)
        without = fit(RiskSets.of(age, failed, rest[:, 1:], car, belt))
        shares.append(share_of_deals(without, tested, age, belt, car, draws, 0.8))
    for level in (0.05, 0.2, 0.5):
        assert np.mean(np.array(shares) <= level) == pytest.approx(level, abs=3 * (level * (1 - level) / 300) ** 0.5)
