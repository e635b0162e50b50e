"""When to change a belt: by hand, by living the policy, by Barlow and Hunter's equation, and laws."""

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from drivekit.decide.ages import redrawn
from drivekit.decide.change_out import ChangeOut, best_by_ratio, change_out, cost_per_run, runs_at_risk

Floats = NDArray[np.float64]
# 1 in 10, none, a quarter, half and 4 in 5 of those at risk fail on runs 1 to 5
HAZARD = np.array([0.1, 0, 0.25, 0.5, 0.8])
hazard_lists = st.lists(st.floats(0, 1), min_size=1, max_size=12)


def survival_of(hazard: Floats) -> Floats:
    return np.concatenate([[1.0], np.cumprod(1 - hazard)])


def decided(hazard: Floats, planned: float = 1, failure: float = 8) -> ChangeOut:
    survival = survival_of(hazard)
    drawn = np.repeat(hazard[None], 40, axis=0)
    return change_out(survival, drawn, cost_planned=planned, cost_failure=failure, confidence=0.9)


def test_costs_of_five_change_ages_by_hand() -> None:
    # S after 0, 1, ... 5 runs
    survival = [Fraction(1)]
    for hazard in (Fraction(1, 10), Fraction(0), Fraction(1, 4), Fraction(1, 2), Fraction(4, 5)):
        survival.append(survival[-1] * (1 - hazard))
    assert survival[1:] == [
        Fraction(9, 10), Fraction(9, 10), Fraction(27, 40), Fraction(27, 80), Fraction(27, 400),
    ]  # fmt: skip
    # changed after 2 runs: (9/10 + 8/10) over 1 + 9/10 runs; after 3: (27/40 + 8 x 13/40) over 28/10
    by_hand = [Fraction(17, 10), Fraction(17, 19), Fraction(131, 40) / Fraction(14, 5)]
    by_hand += [Fraction(451, 80) / Fraction(139, 40), Fraction(3011, 400) / Fraction(61, 16)]
    found = decided(HAZARD)
    assert found.cost_per_run == pytest.approx([float(cost) for cost in by_hand])
    assert (found.best.estimate, found.best.lower, found.best.upper, found.best.reason) == (2, 2, 2, None)
    assert found.within_5_percent == (2, 2)
    # 1 in 10 has failed after run 1 and after run 2, more after run 3
    assert runs_at_risk(survival_of(HAZARD), 0.1) == 2


def test_a_cost_is_what_the_policy_costs_where_it_is_lived() -> None:
    rng = np.random.default_rng(11)
    for change_after in (1, 2, 4):
        runs, cost = 0, 0
        for _ in range(40_000):
            failed_on = next((age for age in range(1, change_after + 1) if rng.random() < HAZARD[age - 1]), 0)
            runs += failed_on or change_after
            cost += 8 if failed_on else 1
        assert cost / runs == pytest.approx(cost_per_run(survival_of(HAZARD), 1, 8)[change_after - 1], rel=0.02)


@pytest.mark.parametrize(("shape", "ratio"), [(2.0, 5.0), (3.0, 8.0), (1.5, 20.0)])
def test_in_small_steps_the_best_age_solves_the_equation_of_barlow_and_hunter_1960(shape: float, ratio: float) -> None:
    # h(T) (integral of S from 0 to T) - F(T) = c_p / (c_f - c_p), here for a Weibull life of scale 1
    from scipy.integrate import quad
    from scipy.optimize import brentq

    def life(t: float) -> float:
        return float(np.exp(-(t**shape)))

    def excess(t: float) -> float:
        return shape * t ** (shape - 1) * quad(life, 0, t)[0] - (1 - life(t)) - 1 / (ratio - 1)

    steps = 2000
    survival = np.exp(-((np.arange(2 * steps) / steps) ** shape))
    best = best_by_ratio(survival, np.array([ratio]))[0]
    assert best is not None
    assert best / steps == pytest.approx(brentq(excess, 1e-3, 2), abs=3 / steps)


def test_a_cost_that_still_falls_at_the_last_age_gives_no_change_age() -> None:
    found = decided(np.array([0.5, 0.3, 0.1, 0.05]))
    assert (found.best.estimate, found.best.upper) == (None, None)
    assert found.best.reason == "no change age up to 4 pays; beyond is not seen"
    assert runs_at_risk(survival_of(np.array([0.5, 0.3])), 0.1) == 0


def test_of_two_ages_that_cost_the_same_the_earlier_is_best() -> None:
    # S(3) is chosen so that changing after 3 costs just what changing after 2 does
    tied = np.array([1.0, 0.9, 0.9, 0.0, 0.0])
    tied[3] = 1 - (cost_per_run(tied, 1, 8)[1] * 2.8 - 1) / 7
    assert cost_per_run(tied, 1, 8)[1] == pytest.approx(cost_per_run(tied, 1, 8)[2], rel=1e-15)
    assert best_by_ratio(tied, np.array([8.0])) == [2]


def test_an_age_is_told_from_the_best_only_where_drawn_seasons_agree() -> None:
    # half of 40 drawn seasons have no failure on run 3, so that changing after 3 is then the cheaper; half have twice
    # as many
    survival = survival_of(HAZARD)
    drawn = np.repeat(HAZARD[None], 40, axis=0)
    drawn[:, 2] = np.tile([0, 2 * HAZARD[2]], 20)
    found = change_out(survival, drawn, cost_planned=1, cost_failure=8)
    assert found.best.estimate == 2
    assert found.not_worse.tolist() == [False, True, True, False, False]
    assert (found.best.lower, found.best.upper) == (2, 3)


def test_an_age_is_told_to_be_worse_by_the_largest_of_all_differences() -> None:
    generator = np.random.default_rng(3)
    hazard = np.array([0.02, 0.05, 0.1, 0.2, 0.3, 0.3])
    survival = survival_of(hazard)
    drawn = generator.beta(30 * hazard, 30 * (1 - hazard), size=(999, 6))
    found = change_out(survival, drawn, cost_planned=1, cost_failure=8, confidence=0.9)
    cost = cost_per_run(survival, 1, 8)
    again = np.array([cost_per_run(survival_of(one), 1, 8) for one in drawn])
    spread = (again - cost).std(axis=0)
    for age in range(6):
        seen = max((cost[age] - cost[other]) / spread[other] for other in range(6))
        less = [
            max((cost[age] - cost[other] - draw[age] + draw[other]) / spread[other] for other in range(6))
            for draw in again
        ]
        assert found.not_worse[age] == (seen <= np.quantile(less, 0.9))
    assert 1 < found.not_worse.sum() < 6


def test_an_age_whose_cost_no_draw_moves_and_a_failure_that_costs_no_more_hide_nothing() -> None:
    generator, age = np.random.default_rng(2), np.arange(1, 14)
    hazard = np.where(age > 1, 0.003 * age**2, 0.0)  # nobody was seen on run 1
    drawn = np.column_stack([np.zeros(999), generator.beta(200 * hazard[1:], 200 * (1 - hazard[1:]), size=(999, 12))])
    found = change_out(survival_of(hazard), drawn, cost_planned=1, cost_failure=8)
    assert found.best.estimate == 4
    assert not found.not_worse[8:].any()
    alike = change_out(survival_of(hazard), drawn, cost_planned=1, cost_failure=1)
    assert alike.not_worse.tolist() == [False] * 12 + [True]


@pytest.mark.parametrize("rate", [0.003, 0.02])
def test_the_true_best_age_is_hardly_ever_told_to_be_worse(rate: float) -> None:
    # 40 belts whose hazard grows with age; 1 run in 10 is the last for another reason. Of 200 seasons at most 5 % and
    # two Monte Carlo errors may tell the true best to be worse; beside the cheapest alone it was up to half of them.
    generator, worse = np.random.default_rng(8), 0
    age = np.arange(1, 16)
    true = cost_per_run(survival_of(-np.expm1(-rate * age)), 1, 8)
    for _ in range(200):
        failed = generator.random((40, 15)) < -np.expm1(-rate * age)
        ends = failed | (generator.random((40, 15)) < 0.1)
        made = np.cumsum(ends, axis=1) - ends == 0
        belt, place = np.nonzero(made)
        last = int(np.flatnonzero(made.sum(axis=0) >= 5)[-1]) + 1
        fell = failed[belt, place]
        share = np.bincount(place, fell, 15)[:last] / made.sum(axis=0)[:last]
        drawn = redrawn(age[place], fell, belt, np.full(belt.size, -1), 0, generator=generator)[:, 0]
        found = change_out(survival_of(share), drawn, cost_planned=1, cost_failure=8)
        worse += not found.not_worse[np.argmin(true[:last])]
    assert worse <= 200 * (0.05 + 2 * (0.05 * 0.95 / 200) ** 0.5)


def test_a_limit_that_does_not_exist_leaves_no_run_at_that_risk() -> None:
    survival = survival_of(HAZARD)
    gone = np.where(np.arange(6) > 0, np.nan, survival)
    assert (runs_at_risk(gone, 0.5), runs_at_risk(survival, 0.5)) == (0, 3)


@given(hazard_lists, st.floats(0.1, 50))
def test_where_a_failure_costs_no_more_than_a_change_cost_never_rises(hazards: list[float], cost: float) -> None:
    costs = cost_per_run(survival_of(np.array(hazards)), cost, cost)
    assert np.all(np.diff(costs) <= 1e-12)


@given(st.floats(0.001, 0.9), st.integers(2, 30), st.floats(1.01, 100))
def test_where_age_is_worthless_no_change_age_pays(hazard: float, last: int, ratio: float) -> None:
    survival = survival_of(np.full(last, hazard))
    costs = cost_per_run(survival, 1, ratio)
    assert np.all(np.diff(costs) <= 1e-12 * costs[:-1])
    if costs[-2] - costs[-1] > 1e-9:
        assert best_by_ratio(survival, np.array([ratio])) == [None]


@given(hazard_lists, st.floats(1.5, 40), st.floats(1.5, 40))
def test_the_dearer_a_failure_the_earlier_the_change(hazards: list[float], one: float, other: float) -> None:
    survival = survival_of(np.array(hazards))
    low, high = sorted((one, other))
    earlier, later = (
        hazards and (best_by_ratio(survival, np.array([ratio]))[0] or len(hazards)) for ratio in (high, low)
    )
    assert earlier <= later


@pytest.mark.parametrize(("asked", "said"), [
    ({"planned": 0}, "costs are numbers above 0, not 0 and 8"),
    ({"failure": np.nan}, "costs are numbers above 0, not 1 and nan"),
    ({"hazard": np.zeros(0)}, "a change age needs at least one run with enough belts at risk"),
])  # fmt: skip
def test_what_cannot_be_used_is_refused(asked: dict[str, float], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        decided(**({"hazard": HAZARD} | asked))
