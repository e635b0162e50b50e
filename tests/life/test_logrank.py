"""The log-rank test, its exact p-value, and Holm's adjustment."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from fractions import Fraction
from itertools import combinations, product
from math import erfc, sqrt

import numpy as np
import pytest

from drivekit.life import logrank as module
from drivekit.life.logrank import LogRank, TooManyOutcomes, holm, logrank, totals

Table = list[tuple[list[int], list[int]]]  # at each age: at risk in each group, failed in each group


def rows(table: Table) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Rows with these counts at ages 1, 2, ..., shuffled."""
    made = [
        (age, place < d, group)
        for age, (at_risk, failed) in enumerate(table, start=1)
        for group, (n, d) in enumerate(zip(at_risk, failed, strict=True))
        for place in range(n)
    ]
    order = np.random.default_rng(3).permutation(len(made))
    age, failed, group = (np.array(column)[order] for column in zip(*made, strict=True))
    return age, failed, group


# Eight belts, smooth then toothed; one had its idler changed after its third run, three came used.
SEASON: Table = [([3, 2], [1, 0]), ([3, 2], [0, 0]), ([3, 2], [1, 1]), ([1, 3], [0, 1]), ([0, 2], [0, 1])]


def test_two_idlers_by_hand() -> None:
    found = logrank(*rows(SEASON), 2)
    expected = Fraction(3, 5) + Fraction(6, 5) + Fraction(1, 4) + 0
    assert expected == Fraction(41, 20)
    assert found.observed.tolist() == [2, 3]
    assert found.expected == pytest.approx([float(expected), float(5 - expected)], abs=1e-15)
    # d (n - d) / (n - 1) times the two shares: 1 of 5, 2 of 5, 1 of 4, 1 of 2 where smooth had none.
    variance = Fraction(6, 25) + 2 * Fraction(3, 4) * Fraction(6, 25) + Fraction(3, 16) + 0
    assert variance == Fraction(63, 80)
    assert found.variance == pytest.approx(float(variance) * np.array([[1, -1], [-1, 1]]), abs=1e-15)
    assert found.chi2 == pytest.approx(float((2 - expected) ** 2 / variance), rel=1e-13)
    assert (found.dof, found.compared, found.reason, found.p_exact_reason) == (1, (0, 1), None, None)
    assert found.p == pytest.approx(erfc(sqrt(1 / 315 / 2)), rel=1e-12)  # twice the normal tail beyond sqrt(1 / 315)


def test_chance_of_every_total_by_hand() -> None:
    # Smooth: 3 of 5 at risk and one failed; 3 of 5 and two failed; 1 of 4 and one failed; none of 2.
    outcomes, probability = totals(np.array([[3, 3, 1, 0], [2, 2, 3, 2]]), np.array([1, 2, 1, 1]))
    first = {0: Fraction(2, 5), 1: Fraction(3, 5)}
    second = {0: Fraction(1, 10), 1: Fraction(6, 10), 2: Fraction(3, 10)}
    third = {0: Fraction(3, 4), 1: Fraction(1, 4)}
    by_hand = dict.fromkeys(range(5), Fraction(0))
    for (i, p), (j, q), (k, r) in product(first.items(), second.items(), third.items()):
        by_hand[i + j + k] += p * q * r
    assert list(by_hand.values()) == [Fraction(x, 200) for x in (6, 47, 87, 51, 9)]
    assert dict(zip(outcomes[:, 0].tolist(), probability.tolist(), strict=True)) == pytest.approx(
        {k: float(p) for k, p in by_hand.items()}, abs=1e-15
    )
    assert (outcomes.sum(axis=1) == 5).all()


@pytest.mark.parametrize(
    ("smooth", "chance"),
    [
        # 2.05 expected: 2 failures are the nearest of all, so every total is at least as far.
        ([1, 1, 0], Fraction(1)),
        # 4 are 1.95 off; only none, 2.05 off, and 4 itself are as far.
        ([1, 2, 1], Fraction(15, 200)),
        ([0, 0, 0], Fraction(6, 200)),
        # 3 are .95 off: all but 2 are as far.
        ([1, 2, 0], Fraction(113, 200)),
    ],
)
def test_the_exact_p_by_hand_is_the_chance_of_totals_at_least_as_far_off(smooth: list[int], chance: Fraction) -> None:
    table = [([n, m - n], [k, d - k]) for (n, m, d), k in zip([(3, 5, 1), (3, 5, 2), (1, 4, 1)], smooth, strict=True)]
    assert logrank(*rows(table), 2).p_exact == pytest.approx(float(chance), abs=1e-14)


def by_enumeration(table: Table) -> float:
    """Exact p by listing every choice of the failed rows at every age, in whole fractions throughout."""
    groups = len(table[0][0])
    ages = [(at_risk, sum(failed)) for at_risk, failed in table]
    expected = [sum(Fraction(d * n[g], sum(n)) for n, d in ages if d) for g in range(groups)]
    variance = [[Fraction(0)] * groups for _ in range(groups)]
    for n, d in ages:
        m = sum(n)
        for g, h in product(range(groups), repeat=2) if m > 1 else ():
            share = Fraction(n[g], m) * ((g == h) - Fraction(n[h], m))
            variance[g][h] += Fraction(d * (m - d), m - 1) * share

    def chi2(failures: Iterable[int]) -> Fraction:
        excess = [k - e for k, e in zip(failures, expected, strict=True)][:-1]
        if groups == 2:
            return excess[0] ** 2 / variance[0][0]
        (a, b), (_, c) = variance[0][:2], variance[1][:2]
        return (c * excess[0] ** 2 - 2 * b * excess[0] * excess[1] + a * excess[1] ** 2) / (a * c - b * b)

    choices = []
    for n, d in ages:
        members = [g for g in range(groups) for _ in range(n[g])]
        picks = combinations(members, d)
        choices.append([[pick.count(g) for g in range(groups)] for pick in picks])
    seen = chi2([sum(failed[g] for _, failed in table) for g in range(groups)])
    every = [chi2(map(sum, zip(*choice, strict=True))) for choice in product(*choices)]
    return sum(value >= seen for value in every) / len(every)


@pytest.mark.parametrize(
    "table",
    [
        SEASON,
        [([2, 2], [2, 0]), ([1, 3], [0, 1]), ([2, 1], [1, 0])],
        [([2, 2, 1], [1, 1, 0]), ([1, 2, 2], [1, 0, 0]), ([1, 1, 2], [0, 1, 1])],
        [([2, 2, 2], [0, 0, 2]), ([2, 2, 0], [1, 1, 0]), ([1, 1, 1], [1, 0, 0])],
        [([1, 1, 1], [0, 0, 1]), ([3, 2, 1], [0, 0, 1]), ([2, 2, 1], [2, 0, 0])],
        [([0, 4, 1], [0, 3, 0]), ([2, 2, 1], [0, 1, 1])],
    ],
)
def test_the_exact_p_is_that_of_listing_every_choice_of_the_failed(table: Table) -> None:
    assert logrank(*rows(table), len(table[0][0])).p_exact == pytest.approx(by_enumeration(table), abs=1e-13)


def test_totals_of_three_two_by_two_tables_give_r_its_exact_p(stored: Callable) -> None:
    """R's mantelhaen.test(exact = TRUE) orders the totals by their probability, not by their chi2."""
    r = stored("exact_tables")
    outcomes, probability = totals(np.array([[4, 3, 4], [14, 12, 8]]), np.array([8, 6, 5]))
    chance = dict(zip(outcomes[:, 0].tolist(), probability.tolist(), strict=True))
    seen = chance[r["sum_first_cell"]]
    assert sum(p for p in chance.values() if p <= seen * (1 + 1e-7)) == pytest.approx(
        r["p_by_probability_order"], rel=1e-12
    )


@pytest.mark.parametrize("name", ["no_entry", "with_entry"])
def test_the_exact_p_is_not_that_of_dealing_the_belts_anew(name: str, stored: Callable, runs_of: Callable) -> None:
    r = stored("permutation_logrank")[name]
    runs = runs_of(*([row[key] for row in r["rows"]] for key in ("start", "stop", "event", "g")))
    found = logrank(runs.age, runs.failed, runs.group, 2)
    assert found.chi2 == pytest.approx(r["observed"]["chi2"], rel=1e-12)
    assert found.observed[1] - found.expected[1] == pytest.approx(r["observed"]["U_group_1"], abs=1e-13)
    ages = np.unique(runs.age[runs.failed])
    table = [
        (
            [int(np.sum((runs.age == age) & (runs.group == g))) for g in (0, 1)],
            [int(np.sum((runs.age == age) & (runs.group == g) & runs.failed)) for g in (0, 1)],
        )
        for age in ages
    ]
    assert found.p_exact == pytest.approx(by_enumeration(table), abs=1e-13)
    assert found.p_exact != pytest.approx(r["p_two_sided_by_chi2"], rel=0.01)


@pytest.mark.parametrize(("groups", "span"), [(2, 60), (3, 60), (4, 60), (5, 30)])
def test_a_season_of_failures_in_up_to_five_groups_is_listed_and_its_chances_add_to_one(groups: int, span: int) -> None:
    age = np.arange(12)
    failed = np.diff(np.round(span * np.linspace(0, 1, 13) ** 0.7)).astype(int)
    at_risk = np.array([(66 - 4 * age + group) // groups for group in range(groups)])
    outcomes, probability = totals(at_risk, failed)
    assert failed.sum() == span
    assert probability.sum() == pytest.approx(1, abs=1e-12)
    mean, variance = (
        probability @ outcomes,
        np.cov(outcomes.T, aweights=probability, ddof=0),
    )
    n, share = at_risk.sum(axis=0), at_risk / at_risk.sum(axis=0)
    assert mean == pytest.approx(share @ failed, rel=1e-11)
    spread = failed * (n - failed) / (n - 1)
    assert variance == pytest.approx(np.diag(share @ spread) - (share * spread) @ share.T, abs=1e-9)


def test_five_thousand_failures_in_two_groups_are_exact() -> None:
    ages = np.arange(20)
    at_risk = np.array([4000 - 190 * ages, 4200 - 200 * ages])
    outcomes, probability = totals(at_risk, np.full(20, 250))
    assert probability.sum() == pytest.approx(1, abs=1e-12)
    assert probability @ outcomes[:, 0] == pytest.approx(
        float(np.sum(250 * at_risk[0] / at_risk.sum(axis=0))), rel=1e-12
    )


@pytest.mark.parametrize(
    ("at_risk", "failed"),
    [
        (np.full((5, 20), 30), np.full(20, 5)),
        (np.full((3, 20), 400), np.full(20, 40)),
        (np.array([[50_000], [50_000]]), np.array([50_000])),
    ],
)
def test_more_outcomes_than_can_be_listed_are_refused_at_once(at_risk: np.ndarray, failed: np.ndarray) -> None:
    with pytest.raises(TooManyOutcomes, match=r"to be listed|to list"):
        totals(at_risk, failed)


@pytest.mark.parametrize("limit", ["MOST_PAIRS", "MOST_CELLS", "MOST_DIGITS"])
def test_without_an_exact_p_the_test_stands_and_says_so(monkeypatch: pytest.MonkeyPatch, limit: str) -> None:
    full = logrank(*rows(SEASON), 2)
    monkeypatch.setattr(module, limit, 3)
    found = logrank(*rows(SEASON), 2)
    assert (found.chi2, found.dof, found.p, found.p_exact, found.reason) == (full.chi2, 1, full.p, None, None)
    assert found.p_exact_reason is not None
    assert "list" in found.p_exact_reason


def test_a_tie_within_rounding_counts_as_large() -> None:
    # Two groups alike at every age: a total as far off on the other side must count, whatever its last digits.
    table: Table = [([7, 7], [3, 0]), ([6, 6], [1, 0]), ([3, 3], [1, 0])]
    _, probability = totals(np.array([[7, 6, 3], [7, 6, 3]]), np.array([3, 1, 1]))
    ends = probability[[0, -1]]
    assert ends[0] == pytest.approx(ends[1], rel=1e-12)
    assert logrank(*rows(table), 2).p_exact == pytest.approx(2 * ends[0], rel=1e-12)


def test_a_group_never_at_risk_when_a_belt_failed_leaves_and_takes_its_degree_of_freedom() -> None:
    two = logrank(*rows(SEASON), 2)
    three = [([n[0], 0, n[1]], [d[0], 0, d[1]]) for n, d in SEASON]
    three[1] = ([3, 4, 2], [0, 0, 0])  # it ran at an age at which nobody failed
    found = logrank(*rows(three), 3)
    assert found.compared == (0, 2)
    assert (found.chi2, found.dof, found.p, found.p_exact) == pytest.approx((two.chi2, 1, two.p, two.p_exact))


def nothing_of(found: LogRank) -> bool:
    return found.chi2 is found.dof is found.p is found.p_exact is found.p_exact_reason is None


@pytest.mark.parametrize(
    ("table", "reason"),
    [
        ([([3, 2], [0, 0]), ([1, 1], [0, 0])], "no belt failed"),
        (
            [([3, 0], [1, 0]), ([1, 2], [0, 0])],
            "fewer than two groups had a belt at risk at an age at which one failed",
        ),
        (
            [([3, 0], [1, 0]), ([0, 2], [0, 1])],
            "some groups never had a belt at risk beside the others at an age at which some but not all failed",
        ),
        (
            [([3, 2], [3, 2])],
            "some groups never had a belt at risk beside the others at an age at which some but not all failed",
        ),
        (
            [([3, 2, 0], [1, 0, 0]), ([0, 0, 4], [0, 0, 1])],
            "some groups never had a belt at risk beside the others at an age at which some but not all failed",
        ),
    ],
)
def test_groups_that_cannot_be_compared_say_why(table: Table, reason: str) -> None:
    found = logrank(*rows(table), len(table[0][0]))
    assert nothing_of(found)
    assert found.reason == reason


def test_groups_linked_only_through_others_can_be_compared() -> None:
    # The first and the last group never ran at the same age; each met the middle ones.
    chain: Table = [([3, 2, 0, 0], [1, 0, 0, 0]), ([0, 3, 2, 0], [0, 1, 0, 0]), ([0, 0, 2, 4], [0, 0, 0, 1])]
    for order in ([0, 1, 2, 3], [3, 1, 0, 2], [2, 0, 3, 1]):
        found = logrank(*rows([([n[g] for g in order], [d[g] for g in order]) for n, d in chain]), 4)
        assert (found.dof, found.reason) == (3, None)
        assert np.linalg.matrix_rank(found.variance) == 3


def test_no_runs_at_all_is_no_comparison() -> None:
    assert logrank(np.array([], int), np.array([], bool), np.array([], int), 2).reason == "no belt failed"


def test_freireich_log_rank_is_16_79(stored: Callable, runs_of: Callable) -> None:
    """Freireich et al., Blood 1963; Kleinbaum and Klein, Survival Analysis, give chi2 16.79; R 16.79294099."""
    from lifelines.datasets import load_leukemia

    data, r = load_leukemia(), stored("leukemia")["logrank"]
    runs = runs_of(0 * data.t, data.t, data.status, data.Rx)
    found = logrank(runs.age, runs.failed, runs.group, 2)
    assert found.chi2 == pytest.approx(16.79294099, abs=5e-9)
    assert (found.chi2, found.dof, found.p) == pytest.approx((r["chi2"], r["df"], r["p"]), rel=1e-11)
    assert found.expected == pytest.approx(r["expected"], abs=1e-12)
    assert found.variance == pytest.approx(np.array(r["variance"]), abs=1e-12)


def test_log_ranks_with_four_groups_and_with_late_entry_agree_with_r(stored: Callable, runs_of: Callable) -> None:
    from lifelines.datasets import load_larynx, load_multicenter_aids_cohort_study, load_psychiatric_patients

    larynx, r = load_larynx(), stored("larynx")
    stage = larynx.Stage_II + 2 * larynx.Stage_III + 3 * larynx.Stage_IV
    cases = [
        (runs_of(0 * larynx.time, larynx.time, larynx.death, stage), r["logrank"]),
        (runs_of(larynx.age, (larynx.age + larynx.time).round(6), larynx.death, stage), r["age_scale"]["logrank"]),
    ]
    men = load_psychiatric_patients()
    runs = runs_of(men.Age, men.Age + men["T"], men.C, men.sex.eq(1).astype(int))
    cases.append((runs, stored("psychiatric_patients")["logrank"]))
    aids, r = load_multicenter_aids_cohort_study(), stored("aids_cohort")
    cases.append((runs_of(aids.W, aids["T"], aids.D, aids.AIDSY.gt(r["median_AIDSY"]).astype(int)), r["logrank"]))
    toy = stored("toy_three_groups_entry")
    runs = runs_of(*([row[key] for row in toy["rows"]] for key in ("start", "stop", "event", "g")))
    cases.append((runs, toy["logrank"]))
    for runs, theirs in cases:
        found = logrank(runs.age, runs.failed, runs.group, len(theirs["groups"]))
        assert (found.chi2, found.dof, found.p) == pytest.approx((theirs["chi2"], theirs["df"], theirs["p"]), rel=1e-10)
        assert found.observed.tolist() == theirs["observed"]
        assert found.variance == pytest.approx(np.array(theirs["variance"]), abs=1e-12)


def test_late_entry_ten_of_the_validation_vignette_step_by_step(stored: Callable, runs_of: Callable) -> None:
    r = stored("late_entry_ten")
    runs = runs_of(*([row[key] for row in r["rows"]] for key in ("start", "stop", "event", "x")))
    found = logrank(runs.age, runs.failed, runs.group, 2)
    steps = r["logrank"]["steps"]
    assert found.expected[0] == pytest.approx(sum(step["expected"][0] for step in steps), abs=1e-14)
    assert found.variance[0, 0] == pytest.approx(sum(step["variance_first"] for step in steps), abs=1e-14)
    assert found.chi2 == pytest.approx(0.0122840691, abs=5e-11)


def test_the_three_comparisons_of_the_invented_season_agree_with_r(season: tuple[dict, dict]) -> None:
    table, r = season
    cuts = r["tension_cuts_n"]
    tension = np.array([-1 if v == "" else sum(float(v) > cut for cut in cuts) for v in table["tension_n"]])
    coded = {"tension": (tension, 3)}
    for name in ("idler", "edge_lube"):
        levels = list(r["life"][name]["levels"])
        coded[name] = (np.array([levels.index(v) if v else -1 for v in table[name]]), len(levels))
    for name, (group, levels) in coded.items():
        theirs, known = r["life"][name]["logrank"], group >= 0
        found = logrank(table["age"][known], table["failed"][known], group[known], levels)
        assert (found.chi2, found.dof, found.p) == pytest.approx(
            (theirs["chi2"], theirs["dof"], theirs["p"]), rel=1e-10
        )
        assert 0 < found.p_exact < 1


def test_lifelines_log_rank_agrees_where_nobody_enters_late(runs_of: Callable) -> None:
    from lifelines.datasets import load_waltons
    from lifelines.statistics import multivariate_logrank_test

    data = load_waltons()
    group = data.group.eq("control").astype(int)
    runs = runs_of(0 * data["T"], data["T"], data.E, group)
    theirs = multivariate_logrank_test(data["T"], group, data.E)
    found = logrank(runs.age, runs.failed, runs.group, 2)
    assert found.chi2 == pytest.approx(theirs.test_statistic, rel=1e-10)


def test_holm_by_hand_leaves_out_what_cannot_be_had() -> None:
    assert holm([0.01, None, 0.04, 0.03]) == pytest.approx([0.03, None, 0.06, 0.06])
    assert holm([0.5, 0.9]) == [1.0, 1.0]
    assert holm([0.02]) == [0.02]
    assert holm([None, None]) == [None, None]
    assert holm([]) == []
    assert holm([0.02, 0.02, 0.02]) == pytest.approx([0.06, 0.06, 0.06])
