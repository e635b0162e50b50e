"""The survival curve: by hand, against published values, and beside other programs."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from math import exp, log, nan, sqrt
from typing import Any

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.stats import multivariate_normal, norm

from drivekit.life.beta_product import beta_product
from drivekit.life.curve import Curve, curve
from drivekit.life.whole_curve import chain_quantile, whole_curve_confidence

Z = 1.959963984540054  # of a normal table, for 95 %

# Eight belts: runs before the log, last run, failed on it. Unsorted, with ties, three that came used, three unfailed.
LIVES = [(0, 3, 1), (2, 4, 0), (0, 1, 1), (3, 6, 0), (0, 3, 1), (1, 5, 1), (0, 2, 0), (0, 4, 1)]


def rows(lives: list[tuple[int, int, int]]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Age, failed and belt of every run of these lives, shuffled."""
    runs = [
        (age, bool(failed) and age == last, belt)
        for belt, (before, last, failed) in enumerate(lives)
        for age in range(before + 1, last + 1)
    ]
    order = np.random.default_rng(7).permutation(len(runs))
    age, failed, belt = (np.array(column)[order] for column in zip(*runs, strict=True))
    return age, failed, belt


def floats(fractions: list[Fraction]) -> list[float]:
    return [float(value) for value in fractions]


def test_eight_belts_by_hand() -> None:
    found = curve(*rows(LIVES))
    assert (found.belts, found.runs, found.failed) == (8, 22, 5)
    assert found.age.tolist() == [1, 2, 3, 4, 5, 6]
    assert found.at_risk.tolist() == [5, 5, 5, 4, 2, 1]
    assert found.failed_at.tolist() == [1, 0, 2, 1, 1, 0]
    survival = [Fraction(4, 5), Fraction(4, 5), Fraction(12, 25), Fraction(9, 25), Fraction(9, 50), Fraction(9, 50)]
    greenwood = [
        Fraction(1, 20),
        Fraction(1, 20),
        Fraction(1, 20) + Fraction(2, 15),
        Fraction(4, 15),
        Fraction(23, 30),
        Fraction(23, 30),
    ]
    assert found.survival == pytest.approx(floats(survival), abs=1e-15)
    assert found.greenwood == pytest.approx(floats(greenwood), abs=1e-15)
    spread = [exp(Z * sqrt(g) / -log(s)) for g, s in zip(greenwood, survival, strict=True)]
    assert found.lower == pytest.approx([s**e for s, e in zip(floats(survival), spread, strict=True)], abs=1e-14)
    assert found.upper == pytest.approx(
        [s ** (1 / e) for s, e in zip(floats(survival), spread, strict=True)], abs=1e-14
    )
    # Worked out to four places: 20 % to 97 % after run 1, 2 % to 53 % after run 6.
    assert found.lower[0] == pytest.approx(0.2038, abs=5e-5)
    assert found.upper[[0, 5]] == pytest.approx([0.9692, 0.5324], abs=5e-5)
    assert found.from_age is None


def test_median_and_b10_of_eight_belts_are_the_first_ages_at_which_curve_and_limits_get_there() -> None:
    found = curve(*rows(LIVES))
    assert (found.median.estimate, found.median.lower, found.median.upper) == (3, 1, None)
    assert (
        found.median.reason == "too few belts got far enough: the upper limit is not reached by run 6, the oldest seen"
    )
    assert (found.b10.estimate, found.b10.lower, found.b10.upper) == (1, 1, 3)
    assert found.b10.reason is None


def test_limits_widen_with_the_confidence_asked() -> None:
    narrow, wide = curve(*rows(LIVES), confidence=0.8), curve(*rows(LIVES), confidence=0.99)
    assert (wide.lower < narrow.lower).all()
    assert (wide.upper > narrow.upper).all()
    share, z = 0.8, 1.2815515655446004
    assert narrow.lower[0] == pytest.approx(share ** exp(z * sqrt(0.05) / -log(share)), abs=1e-14)


def test_once_all_at_risk_failed_the_curve_is_exactly_zero_and_has_no_limits() -> None:
    found = curve(*rows([(0, 3, 1), (0, 3, 1), (0, 1, 1), (0, 2, 0), (3, 5, 0)]))
    assert found.at_risk.tolist() == [4, 3, 2, 1, 1]
    assert found.survival.tolist() == [0.75, 0.75, 0.0, 0.0, 0.0]
    assert np.isnan(found.greenwood).tolist() == [False, False, True, True, True]
    assert np.isnan(found.lower).tolist() == np.isnan(found.upper).tolist() == [False, False, True, True, True]
    assert (found.median.estimate, found.median.lower, found.median.upper) == (3, 1, None)
    assert found.median.reason == (
        "every belt at risk on run 3 failed, and limits cannot be had from there: the upper one is open"
    )


def test_before_the_first_failure_the_limits_are_one_and_one() -> None:
    found = curve(*rows([(0, 2, 1), (0, 3, 0)]))
    assert (found.survival[0], found.lower[0], found.upper[0]) == (1.0, 1.0, 1.0)


@pytest.mark.parametrize(
    ("lives", "reason"),
    [
        ([(0, 4, 0), (0, 2, 0)], "no belt failed by run 4, the oldest seen"),
        ([(0, 1, 0)], "no belt failed by run 1, the oldest seen"),
        (
            [(0, 2, 1), (0, 4, 0), (0, 4, 0), (0, 4, 0)],
            "by run 4, the oldest seen, an estimated 25 % of belts had failed, not half",
        ),
    ],
)
def test_a_median_that_is_not_reached_says_why(lives: list[tuple[int, int, int]], reason: str) -> None:
    found = curve(*rows(lives))
    assert found.median.estimate is None
    assert found.median.reason is not None
    assert found.median.reason.startswith(reason)


@pytest.mark.parametrize("lives", [[(0, 1, 1)], [(0, 1, 1)] * 6, [(0, 1, 0)], [(0, 3, 1)], [(4, 9, 0)]])
def test_one_belt_or_all_failed_at_once_gives_a_plain_curve_without_a_warning(lives: list) -> None:
    found = curve(*rows(lives))
    assert ((found.survival == 0) | (found.survival == 1)).all()
    assert not np.isnan(found.survival).any()
    assert found.mean_to(1).estimate == 1


def test_a_curve_of_no_runs_is_refused() -> None:
    with pytest.raises(ValueError, match="at least one run"):
        curve(np.array([], int), np.array([], bool), np.array([], int))
    with pytest.raises(ValueError, match="2 ages and 1 belts differ"):
        curve([1, 2], [False, True], [0])
    with pytest.raises(ValueError, match="confidence lies between 0 and 1"):
        curve([1], [True], [0], confidence=1.0)


def test_where_the_first_belts_leave_nobody_life_is_told_from_the_first_age_with_five_at_risk() -> None:
    # The only belt that ran new failed on run 1; the others came with two runs on them.
    found = curve(*rows([(0, 1, 1), (2, 3, 1), (2, 4, 1), (2, 4, 0), (2, 5, 0), (2, 5, 1), (4, 5, 0)]))
    assert found.age.tolist() == [1, 3, 4, 5]
    assert found.at_risk.tolist() == [1, 5, 4, 3]
    assert (found.survival == 0).all()
    assert found.from_age is not None
    assert found.from_age.start == 3
    assert found.from_age.age.tolist() == [3, 4, 5]
    assert found.from_age.survival == pytest.approx(floats([Fraction(4, 5), Fraction(3, 5), Fraction(2, 5)]), abs=1e-15)
    # Greenwood's sums from run 3 on: 1/20, 1/20 + 1/12, 1/20 + 1/12 + 1/6; log(-log S) limits with z = 1.959964.
    for place, (share, total) in enumerate([(0.8, 1 / 20), (0.6, 2 / 15), (0.4, 3 / 10)]):
        reach = 1.959963984540054 * total**0.5 / log(share)
        assert found.from_age.lower[place] == pytest.approx(share ** exp(-reach), abs=1e-12)
        assert found.from_age.upper[place] == pytest.approx(share ** exp(reach), abs=1e-12)


def test_an_age_that_nobody_ran_at_moves_the_start_too() -> None:
    found = curve(*rows([(0, 1, 0)] + [(2, 5, 0)] * 4 + [(2, 4, 1)]))
    assert found.survival[0] == 1
    assert found.from_age is not None
    assert (found.from_age.start, found.from_age.survival.tolist()) == (3, [1.0, 0.8, 0.8])


@pytest.mark.parametrize(
    ("lives", "why"),
    [
        ([(0, 3, 1)] * 5, "all five failed at the very age, not before it"),
        ([(0, 1, 1)] * 5 + [(3, 4, 0)] * 6, "five were at risk from run 1 on, gaps come later"),
        ([(0, 1, 1), (0, 9, 0)] + [(2, 9, 0)] * 5, "few at first, but the curve stays above 0 and misses no age"),
        ([(0, 1, 1), (2, 4, 0), (2, 4, 0)], "never five at risk"),
    ],
)
def test_a_curve_that_can_begin_at_run_one_does(lives: list[tuple[int, int, int]], why: str) -> None:
    assert curve(*rows(lives)).from_age is None, why


def test_nist_median_of_386_hours_is_not_lost_to_the_last_digit() -> None:
    """NIST/SEMATECH e-Handbook of Statistical Methods 8.4.1.3 (apr413): 10 of 20 units failed by 500 hours."""
    hours = [54, 187, 216, 240, 244, 335, 361, 373, 375, 386]
    found = curve(*rows([(0, hour, 1) for hour in hours] + [(0, 500, 0)] * 10))
    assert found.survival[385] == pytest.approx(0.5, abs=1e-15)
    assert found.median.estimate == 386


def test_24_belts_that_fail_one_a_run_have_their_median_at_run_12_though_the_product_is_a_hair_above_half() -> None:
    found = curve(*rows([(0, last, 1) for last in range(1, 25)]))
    assert 0.5 < found.survival[11] < 0.5 + 1e-15
    assert found.median.estimate == 12


def test_nist_product_limit_of_six_failures_among_twenty() -> None:
    """NIST/SEMATECH e-Handbook of Statistical Methods 8.2.1.5 (apr215), S at each failure to six places."""
    # A unit taken off between failures does not enter later products: at risk 20 19 17 16 14 11 at the six failures.
    lives = [(0, k, 1) for k in range(1, 7)] + [(0, 2, 0), (0, 4, 0), (0, 5, 0), (0, 5, 0)] + [(0, 7, 0)] * 10
    found = curve(*rows(lives))
    assert found.at_risk[:6].tolist() == [20, 19, 17, 16, 14, 11]
    assert found.survival[:6] == pytest.approx([0.95, 0.90, 0.847059, 0.794118, 0.737395, 0.670359], abs=5e-7)


def agree(found: Curve, times: np.ndarray, r: dict[str, Any]) -> None:
    """Hold a curve against what R gives; R writes no limit where S is still 1 (ours are 1 and 1)."""
    at = np.searchsorted(times[found.age - 1], r["time"])
    assert found.at_risk[at].tolist() == r["n_risk"]
    assert found.failed_at[at].tolist() == r["n_event"]
    survival = np.array(r["survival"])
    assert found.survival[at] == pytest.approx(survival, abs=1e-12)
    some = survival > 0
    assert np.sqrt(found.greenwood[at][some]) == pytest.approx(np.array(r["se_log_survival"])[some], abs=1e-12)
    for name, limit in (("lower", found.lower), ("upper", found.upper)):
        theirs = [
            1.0 if s == 1 else nan if v is None else v for s, v in zip(survival, r[f"{name}_loglog"], strict=True)
        ]
        assert limit[at] == pytest.approx(theirs, abs=1e-12, nan_ok=True)


def test_freireich_6mp_arm_by_weeks(stored: Callable, runs_of: Callable) -> None:
    """Freireich et al., Blood 1963; Kleinbaum and Klein, Survival Analysis, give S, its errors and medians 23 and 8."""
    from lifelines.datasets import load_leukemia

    data, r = load_leukemia(), stored("leukemia")
    arms = {}
    for arm in (0, 1):
        part = data[data.Rx == arm]
        life = [(0, int(t), int(s)) for t, s in zip(part.t, part.status, strict=True)]
        arms[arm] = curve(*rows(life))
        agree(arms[arm], np.arange(1, 40), r["kaplan_meier"][str(arm)])
    printed = {6: 0.857143, 7: 0.806723, 10: 0.752941, 13: 0.690196, 16: 0.627451, 22: 0.537815, 23: 0.448179}
    weeks = np.array(list(printed))
    assert arms[0].survival[weeks - 1] == pytest.approx(list(printed.values()), abs=5e-7)
    se = arms[0].survival * np.sqrt(arms[0].greenwood)
    assert se[[5, 22]] == pytest.approx([0.0763604, 0.1345915], abs=5e-8)
    assert [arms[arm].median.estimate for arm in (0, 1)] == [23, 8]


def test_larynx_and_its_age_scale_with_late_entry_agree_with_r(stored: Callable, runs_of: Callable) -> None:
    from lifelines.datasets import load_larynx

    data, r = load_larynx(), stored("larynx")
    stage = data.Stage_II + 2 * data.Stage_III + 3 * data.Stage_IV
    by_time = runs_of(0 * data.time, data.time, data.death, stage)
    for level in range(4):
        part = by_time.where(by_time.group == level)
        agree(curve(part.age, part.failed, part.belt), part.times, r["kaplan_meier_by_stage"][str(level + 1)])
    by_age = runs_of(data.age, (data.age + data.time).round(6), data.death)
    agree(curve(by_age.age, by_age.failed, by_age.belt), by_age.times, r["age_scale"]["kaplan_meier"])


def test_psychiatric_patients_and_the_aids_cohort_with_late_entry_agree_with_r(
    stored: Callable, runs_of: Callable
) -> None:
    from lifelines.datasets import load_multicenter_aids_cohort_study, load_psychiatric_patients

    data, r = load_psychiatric_patients(), stored("psychiatric_patients")
    runs = runs_of(data.Age, data.Age + data["T"], data.C, (data.sex == 1).astype(int))
    agree(curve(runs.age, runs.failed, runs.belt), runs.times, r["kaplan_meier"])
    for level in (0, 1):
        part = runs.where(runs.group == level)
        agree(curve(part.age, part.failed, part.belt), part.times, r["kaplan_meier_by_male"][str(level)])
    data, r = load_multicenter_aids_cohort_study(), stored("aids_cohort")
    runs = runs_of(data.W, data["T"], data.D, data.AIDSY.gt(r["median_AIDSY"]).astype(int))
    for level in (0, 1):
        part = runs.where(runs.group == level)
        agree(curve(part.age, part.failed, part.belt), part.times, r["kaplan_meier_by_late"][str(level)])


@pytest.mark.parametrize("name", ["toy_three_groups_entry", "late_entry_ten"])
def test_made_up_rows_with_late_entry_agree_with_r(name: str, stored: Callable, runs_of: Callable) -> None:
    r = stored(name)
    runs = runs_of(*([row[key] for row in r["rows"]] for key in ("start", "stop", "event")))
    found = curve(runs.age, runs.failed, runs.belt)
    theirs = r["kaplan_meier"]
    if name == "late_entry_ten":
        theirs = theirs | {"n_risk": theirs["at_risk"], "n_event": theirs["failed"]}
        theirs["se_log_survival"] = theirs["greenwood_se_of_log_survival"]
    agree(found, runs.times, theirs)


def test_every_curve_of_the_invented_season_agrees_with_r(season: tuple[dict, dict]) -> None:
    table, r = season
    whole = np.ones(table["age"].size, bool)
    cuts = r["tension_cuts_n"]
    tension = np.array([None if v == "" else sum(float(v) > cut for cut in cuts) for v in table["tension_n"]])
    groups = {"overall": [(r["life"]["overall"], whole)]}
    for name, values in (("idler", table["idler"]), ("edge_lube", table["edge_lube"])):
        groups[name] = [(theirs, values == level) for level, theirs in r["life"][name]["levels"].items()]
    levels = ["low", "middle", "high"]
    groups["tension"] = [(r["life"]["tension"]["levels"][level], tension == k) for k, level in enumerate(levels)]
    assert sum(len(group) for group in groups.values()) == 9
    for theirs, mask in (pair for group in groups.values() for pair in group):
        found = curve(table["age"][mask], table["failed"][mask], table["belt"][mask])
        assert found.age.tolist() == theirs["age"]
        assert found.at_risk.tolist() == theirs["at_risk"]
        assert found.failed_at.tolist() == theirs["failed_at"]
        assert found.survival == pytest.approx(theirs["survival"], abs=1e-12)
        for limit in ("lower", "upper"):
            expected = [
                1.0 if s == 1 else nan if v is None else v
                for s, v in zip(theirs["survival"], theirs[limit], strict=True)
            ]
            assert getattr(found, limit) == pytest.approx(expected, abs=1e-12, nan_ok=True)


@pytest.mark.parametrize(("low", "high"), [(0.1, 0.9), (0.25, 0.75), (0.05, 0.95)])
def test_the_critical_value_of_a_band_nears_nairs_as_ages_lie_closer(low: float, high: float) -> None:
    # Nair, Technometrics 1984: 4 phi(c) / c + phi(c) (c - 1 / c) L = 1 - confidence, L the log of the ratio of
    # variances at the two ends, for a curve that falls without steps (from memory)
    length = np.log(high * (1 - low) / (low * (1 - high)))

    def beyond(c: float) -> float:
        return float(norm.pdf(c) * (4 / c + (c - 1 / c) * length) - 0.05)

    wanted = brentq(beyond, 2, 5)
    few, many = (chain_quantile(np.full(n, np.exp(-length / 2 / n)), 0.95) for n in (160, 640))
    assert few < many < wanted
    assert 2 * many - few == pytest.approx(wanted, abs=0.01)  # what is short falls as the root of the step


def test_the_critical_value_of_two_ages_is_that_of_two_normal_variables() -> None:
    c = chain_quantile(np.array([0.6]), 0.9)
    both = multivariate_normal(cov=[[1, 0.6], [0.6, 1]])
    inside = both.cdf([c, c]) - 2 * both.cdf([-c, c]) + both.cdf([-c, -c])
    assert inside == pytest.approx(0.9, abs=1e-6)
    assert chain_quantile(np.zeros(0), 0.95) == pytest.approx(norm.ppf(0.975))


def test_limits_of_the_whole_curve_ask_for_more_than_those_of_one_age() -> None:
    ages = np.repeat(np.arange(1, 7), [12, 12, 10, 7, 4, 1])
    failed = np.concatenate([np.arange(n) < d for n, d in zip([12, 12, 10, 7, 4, 1], [0, 2, 3, 3, 2, 1], strict=True)])
    found = curve(ages, failed, np.zeros(ages.size, int))
    assert 0.95 < whole_curve_confidence(found) < 1 - 0.05 / 5  # five ages, and they go together
    assert whole_curve_confidence(found, 0.9) < whole_curve_confidence(found)
    assert whole_curve_confidence(curve([1, 2], [False, False], [0, 0])) == pytest.approx(0.95)


@pytest.mark.parametrize("belts", [40, 80])
def test_limits_of_the_whole_curve_hold_at_all_ages_together(belts: int) -> None:
    generator = np.random.default_rng(3)
    truth = np.exp(-((np.arange(40) / 10) ** 2.2))
    held = []
    for _ in range(200):
        fails = np.searchsorted(-truth, -generator.random(belts))
        ends = np.minimum(fails, generator.geometric(0.08, belts))
        belt = np.repeat(np.arange(belts), ends)
        age = np.concatenate([np.arange(1, end + 1) for end in ends])
        found = curve(age, (age == fails[belt]), belt)
        lower, upper = beta_product(found, whole_curve_confidence(found))
        at = truth[found.age]
        held.append(bool(((lower <= at) & (at <= upper)).all()))
    assert np.mean(held) >= 0.95 - 2 * np.sqrt(0.95 * 0.05 / 200)
