"""Runs made out of the first h, and how two groups differ in it."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from math import hypot, sqrt

import numpy as np
import pytest

from drivekit.life.curve import Curve, curve, difference
from drivekit.life.folds import Estimate


def counted(at_risk: list[int], failed_at: list[int], ages: list[int] | None = None) -> Curve:
    """Fit a curve with these counts at ages 1, 2, ..., or at these ages."""
    runs = [
        (age, place < d)
        for age, n, d in zip(ages or range(1, len(at_risk) + 1), at_risk, failed_at, strict=True)
        for place in range(n)
    ]
    age, failed = zip(*runs, strict=True)
    return curve(np.array(age), np.array(failed), np.arange(len(runs)))


def test_area_and_its_variance_by_hand() -> None:
    # S is 4/5 after run 1, 12/25 after run 3, 9/25 after run 4 and 9/50 after run 5.
    found = counted([5, 5, 5, 4, 2, 1], [1, 0, 2, 1, 1, 0])
    area = 1 + Fraction(4, 5) + Fraction(4, 5) + Fraction(12, 25) + Fraction(9, 25)
    from_1, from_3, from_4 = area - 1, Fraction(12, 25) + Fraction(9, 25), Fraction(9, 25)
    variance = from_1**2 * Fraction(1, 20) + from_3**2 * Fraction(2, 15) + from_4**2 * Fraction(1, 12)
    assert (area, variance) == (Fraction(86, 25), Fraction(1258, 3125))
    mean = found.mean_to(5)
    assert mean.estimate == pytest.approx(float(area), abs=1e-14)
    assert mean.se == pytest.approx(sqrt(variance), abs=1e-14)
    assert mean.reason is None


def test_a_failure_on_the_horizon_itself_changes_nothing() -> None:
    before, after = counted([5, 5, 5], [1, 0, 0]), counted([5, 5, 5], [1, 0, 4])
    assert before.mean_to(3) == after.mean_to(3)
    assert before.mean_to(1) == Estimate(1.0, se=0.0)


def test_where_all_at_risk_fail_the_area_ends_and_that_age_adds_no_variance() -> None:
    mean = counted([4, 3], [1, 3]).mean_to(10)
    assert mean.estimate == pytest.approx(1.75)
    assert mean.se == pytest.approx(0.75 * sqrt(1 / 12))


def test_survival_stands_still_over_ages_that_nobody_ran_at() -> None:
    # Nobody ran at ages 1, 2 and 4: S is 1, 1, 1/2, 1/2, 1/4 after runs 1 to 5.
    mean = counted([4, 2], [2, 1], [3, 5]).mean_to(6)
    assert mean.estimate == pytest.approx(1 + 1 + 1 + 0.5 + 0.5 + 0.25)
    assert mean.se == pytest.approx(sqrt(1.25**2 * 2 / 8 + 0.25**2 * 1 / 2))


def test_a_group_that_stopped_before_the_horizon_has_no_mean_and_says_why() -> None:
    found = counted([5, 4, 4], [1, 0, 0])
    assert found.mean_to(4).estimate == pytest.approx(1 + 3 * 0.8)  # its oldest run, 3, is 4 - 1
    mean = found.mean_to(5)
    assert (mean.estimate, mean.se) == (None, None)
    assert mean.reason == (
        "no belt here got beyond run 3 and an estimated 80 % outlast it, so the first 5 runs cannot be counted"
    )
    assert counted([2, 2], [0, 2]).mean_to(50).estimate == 2.0


@pytest.mark.parametrize("horizon", [0, -3, 2.5, True])
def test_a_horizon_that_is_no_number_of_runs_is_refused(horizon: float) -> None:
    found = counted([5], [1])
    with pytest.raises(ValueError, match="a horizon is a whole number of runs, 1 or more"):
        found.mean_to(horizon)  # type: ignore[arg-type]


def test_a_difference_is_the_later_level_less_the_earlier_with_the_root_of_summed_squares() -> None:
    found = difference(Estimate(6.0, se=0.3), Estimate(7.9, se=0.4), 0.9)
    z = 1.6448536269514722
    assert found.estimate == pytest.approx(1.9)
    assert found.se == pytest.approx(0.5)
    assert (found.lower, found.upper) == pytest.approx((1.9 - z * 0.5, 1.9 + z * 0.5))
    assert found.reason is None


def test_a_difference_with_a_mean_that_cannot_be_told_gives_its_reason_once() -> None:
    short, long = Estimate(reason="too short"), Estimate(7.9, se=0.4)
    for pair in ((short, long), (long, short), (short, short)):
        assert difference(*pair) == Estimate(reason="too short")


def test_mean_to_23_weeks_of_the_6mp_arm_is_that_of_r(stored: Callable, runs_of: Callable) -> None:
    """Freireich et al., Blood 1963; R: mean 17.909244 and se 1.55319 to week 23, without a factor n / (n - 1)."""
    from lifelines.datasets import load_leukemia

    data, r = load_leukemia(), stored("leukemia")
    part = data[data.Rx == 0]
    weeks = np.arange(1, part.t.max() + 1)
    belt, place = np.nonzero(weeks <= part.t.to_numpy()[:, None])
    failed = (part.t.to_numpy()[belt] == weeks[place]) & (part.status.to_numpy()[belt] == 1)
    arm = curve(weeks[place], failed, belt)
    assert arm.mean_to(23).estimate == pytest.approx(17.909244, abs=5e-7)
    assert arm.mean_to(23).se == pytest.approx(1.55319, abs=5e-6)
    theirs = r["kaplan_meier"]["0"]["rmst"]
    mean = arm.mean_to(theirs["horizon"])
    assert (mean.estimate, mean.se) == pytest.approx((theirs["mean"], theirs["se"]), abs=1e-12)


@pytest.mark.parametrize("name", ["toy_three_groups_entry"])
def test_means_with_late_entry_are_those_of_r(name: str, stored: Callable, runs_of: Callable) -> None:
    r = stored(name)
    start, stop, event = ([row[key] for row in r["rows"]] for key in ("start", "stop", "event"))
    weeks = np.arange(1, max(stop) + 1)
    belt, place = np.nonzero((np.array(start)[:, None] < weeks) & (weeks <= np.array(stop)[:, None]))
    failed = (np.array(stop)[belt] == weeks[place]) & (np.array(event)[belt] == 1)
    theirs = r["kaplan_meier"]["rmst"]
    mean = curve(weeks[place], failed, belt).mean_to(theirs["horizon"])
    assert (mean.estimate, mean.se) == pytest.approx((theirs["mean"], theirs["se"]), abs=1e-12)


def test_mean_of_the_invented_season_is_the_plain_sum_over_its_curve(season: tuple[dict, dict]) -> None:
    table, r = season
    found, theirs = curve(table["age"], table["failed"], table["belt"]), r["life"]["overall"]
    at = dict(
        zip(theirs["age"], zip(theirs["survival"], theirs["at_risk"], theirs["failed_at"], strict=True), strict=True)
    )
    s = [1.0]
    for age in range(1, 12):
        s.append(at[age][0] if age in at else s[-1])
    variance = sum(
        sum(s[t:]) ** 2 * at[t][2] / (at[t][1] * (at[t][1] - at[t][2])) for t in range(1, 12) if t in at and at[t][2]
    )
    assert found.mean_to(12).estimate == pytest.approx(sum(s), abs=1e-12)
    assert found.mean_to(12).se == pytest.approx(sqrt(variance), abs=1e-12)
    both = difference(found.mean_to(12), found.mean_to(12))
    assert both.se == pytest.approx(hypot(sqrt(variance), sqrt(variance)))
