"""The same belts once all at each level: by hand, against R, against a plain loop over draws, and its refusals."""

from __future__ import annotations

import csv
import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import exp
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from drivekit.life.folds import percentiles
from drivekit.life.standardised import Standardised, standardised
from tests.life.plain_cox import REFERENCE, Rows, plain_fit, random_rows

Setting = tuple[np.ndarray, np.ndarray]
ONE = ((np.array([0]), np.array([[0.0], [1.0]])),)


def found(rows: Rows, settings: Sequence[Setting] = ONE, seed: int = 1, **options: Any) -> tuple[Standardised, ...]:
    told = standardised(
        rows.age, rows.failed, rows.x, rows.stratum, rows.belt, settings,
        **{"confidence": 0.95, "generator": np.random.default_rng(seed), "replicates": 39, **options},
    )  # fmt: skip
    assert not isinstance(told, str), told
    return told


def refused(rows: Rows, **options: Any) -> str:
    told = standardised(
        rows.age, rows.failed, rows.x, rows.stratum, rows.belt, ONE,
        **{"confidence": 0.95, "generator": np.random.default_rng(1), "replicates": 39, **options},
    )  # fmt: skip
    assert isinstance(told, str)
    return told


def twelve() -> Rows:
    """Car 0: belts 0 to 5. Car 1: belts 6 to 11; belts 8 and 10 change their level, 11 comes with one run on it."""
    first = [(belt, 1, 0, belt >= 3) for belt in range(6)] + [(belt, 1, 1, belt >= 9) for belt in range(6, 11)]
    second = [(belt, 2, 0, belt >= 3) for belt in range(1, 6)] + [
        (belt, 2, 1, level) for belt, level in zip(range(6, 12), (0, 0, 1, 1, 0, 1), strict=True)
    ]
    made = np.array(first + second)
    fails = {(0, 1), (6, 2), (8, 2)}
    return Rows(
        age=made[:, 1],
        failed=np.array([(belt, age) in fails for belt, age, *_ in made.tolist()]),
        x=made[:, 3:].astype(float),
        stratum=made[:, 2],
        belt=made[:, 0],
    )


def test_twelve_belts_by_hand() -> None:
    # Sets: car 0 age 1, three at each level, one at 0 fails; car 1 age 2, three at each level, one of each fails.
    # With theta = exp(b) the score is 1 less the chances that those who failed were at level 1.
    theta = Fraction(1, 2)
    first = 3 * theta / (3 + 3 * theta)
    tied = [(3 - share) * theta / ((3 - share) * (1 + theta)) for share in (Fraction(0), Fraction(1, 2))]
    assert (first, *tied) == (Fraction(1, 3),) * 3
    assert 1 - first - sum(tied) == 0
    # Efron's increments of the baseline, at level 0.
    car_0 = 1 / (3 + 3 * theta)
    car_1 = 1 / (3 + 3 * theta) + 1 / ((3 + 3 * theta) - Fraction(1, 2) * (1 + theta))
    assert (car_0, car_1) == (Fraction(2, 9), Fraction(22, 45))
    # Six belts count for car 0, six for car 1; car 1 has no failure at age 1, car 0 none at age 2.
    by_hand = [
        [(exp(-level * car_0) + 1) / 2, (exp(-level * car_0) + exp(-level * car_1)) / 2]
        for level in (Fraction(1), theta)
    ]
    (ours,) = found(twelve())
    assert (ours.horizon, ours.belts, ours.age.tolist()) == (2, 12, [1, 2])
    np.testing.assert_allclose(ours.survival, by_hand, rtol=0, atol=1e-12)
    np.testing.assert_allclose(ours.mean, [1 + curve[0] for curve in by_hand], rtol=0, atol=1e-12)
    assert list(ours.differences) == [(1, 0)]
    pair = ours.differences[1, 0]
    assert pair.estimate == pytest.approx((exp(-Fraction(1, 9)) - exp(-Fraction(2, 9))) / 2, abs=1e-12)


def test_a_belt_counts_under_the_car_and_the_settings_of_its_first_run() -> None:
    rows = random_rows(4, belts=60, terms=2)
    order = np.lexsort((rows.age, rows.belt))
    rows = rows.where(order)
    moved = replace(rows, stratum=np.where((rows.belt % 3 == 0) & (rows.age > 4), 1 - rows.stratum, rows.stratum))
    assert (np.diff(moved.belt) == 0)[np.diff(moved.stratum) != 0].any()
    (ours,) = found(moved)
    np.testing.assert_allclose(
        ours.survival, plain_curves(moved, plain_fit(moved, "efron"), ours.horizon), rtol=0, atol=1e-9
    )


def test_the_horizon_is_the_oldest_age_with_five_at_risk_in_every_car_used() -> None:
    rows = random_rows(4, belts=60, terms=2)
    at_risk = [[((rows.age == age) & (rows.stratum == car)).sum() for car in (0, 1)] for age in range(1, 11)]
    oldest = max(age for age, counts in enumerate(at_risk, start=1) if min(counts) >= 5)
    assert oldest < rows.age.max()
    (ours,) = found(rows)
    assert ours.horizon == oldest
    # A car on which no belt made its first run is not used, however few ran on it later.
    order = np.lexsort((rows.age, rows.belt))
    rows = rows.where(order)
    first = np.unique(rows.belt, return_index=True)[1]
    later = np.setdiff1d(np.flatnonzero(rows.age > oldest), first)
    moved = replace(rows, stratum=np.where(np.isin(np.arange(rows.age.size), later), 7, rows.stratum))
    (other,) = found(moved)
    assert other.horizon == oldest


def test_no_effect_gives_equal_curves() -> None:
    rows = twelve()
    mirror = replace(rows, x=1 - rows.x, stratum=rows.stratum + 2, belt=rows.belt + 12)
    both = Rows(*(np.concatenate([vars(rows)[name], vars(mirror)[name]]) for name in vars(rows)))
    (ours,) = found(both)
    np.testing.assert_allclose(ours.survival[0], ours.survival[1], rtol=0, atol=1e-12)
    assert ours.differences[1, 0].estimate == pytest.approx(0, abs=1e-12)


def test_belts_of_a_car_without_a_failure_count_as_lasting() -> None:
    rows = twelve()
    kept = replace(rows, failed=np.zeros(rows.age.size, bool), stratum=rows.stratum + 2, belt=rows.belt + 12)
    both = Rows(*(np.concatenate([vars(rows)[name], vars(kept)[name]]) for name in vars(rows)))
    (alone,), (ours,) = found(rows), found(both)
    np.testing.assert_allclose(ours.survival, (alone.survival + 1) / 2, rtol=0, atol=1e-12)


@dataclass(frozen=True)
class Log:
    rows: Rows
    settings: tuple[Setting, ...]
    levels: tuple[tuple[str, ...], ...]


def log_of(folder: Path) -> Log:
    """The rows of the hazard fit, by plain loops over the files."""
    with (folder / "belts.csv").open(encoding="utf-8") as lines:
        before = {row["belt"]: row["runs_before"] for row in csv.DictReader(lines)}
    with (folder / "runs.csv").open(encoding="utf-8") as lines:
        runs = sorted((row for row in csv.DictReader(lines) if before[row["belt"]] != "?"), key=lambda r: int(r["run"]))
    made: dict[str, int] = {}
    table = []
    for run in runs:
        made[run["belt"]] = age = made.get(run["belt"], int(before[run["belt"]] or 0)) + 1
        failed = run["cause"] in ("tooth-jump", "tooth-loss", "edge-split", "cord-pull") or (
            run["cause"] == "unknown" and run["fate"] == "broke"
        )
        if run["tension_n"] and run["edge_lube"]:
            lube = run["edge_lube"]
            table.append((age, failed, run["idler"] == "toothed", float(run["tension_n"]) / 1000, lube == "install",
                          lube == "every-run", run["car"], run["belt"]))  # fmt: skip
    age, failed, *x, car, belt = zip(*table, strict=True)
    codes = [np.unique(values, return_inverse=True)[1] for values in (car, belt)]
    rows = Rows(np.array(age), np.array(failed), np.column_stack(x).astype(float), *codes)
    grease = (np.array([2, 3]), np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]))
    return Log(rows, (*ONE, grease), (("smooth", "toothed"), ("none", "install", "every-run")))


@pytest.mark.parametrize(("name", "folder"), [("season", "season"), ("late", "life/late")])
def test_curves_are_those_that_r_averages_over_belts(name: str, folder: str) -> None:
    """R survival: survfit for each belt's first settings; late entry, idlers swapped, cars changed."""
    r = json.loads((REFERENCE / "life" / f"standardised_{name}.json").read_text(encoding="utf-8"))
    log = log_of(REFERENCE / folder)
    assert (log.rows.age.size, np.unique(log.rows.belt).size) == (r["rows"], r["belts"])
    for ours, setting, levels in zip(
        found(log.rows, log.settings, replicates=9), ("idler", "edge_lube"), log.levels, strict=True
    ):
        theirs = np.array([r[setting][level] for level in levels])
        assert ours.horizon >= r["last_age"]
        np.testing.assert_allclose(ours.survival[:, : r["last_age"]], theirs, rtol=0, atol=1e-12)


def plain_curves(rows: Rows, coef: np.ndarray, horizon: int, weight: np.ndarray | None = None) -> np.ndarray:
    """Mean survival at both levels of the first column, by loops: weights are how often each belt was drawn."""
    weight = np.ones(rows.belt.max() + 1) if weight is None else weight
    of_row = weight[rows.belt]
    hazard = {}
    for car in np.unique(rows.stratum):
        for age in range(1, horizon + 1):
            here = (rows.stratum == car) & (rows.age == age) & (of_row > 0)
            risk = of_row[here] * np.exp(rows.x[here] @ coef)
            fell, cases = rows.failed[here], of_row[here]
            m = int(fell.sum())
            steps = [1 / (risk.sum() - k / m * risk[fell].sum()) for k in range(m)]
            hazard[car, age] = cases[fell].sum() / m * sum(steps) if m else 0.0
    curves = np.zeros((2, horizon))
    for belt in np.unique(rows.belt):
        row = int(np.flatnonzero(rows.belt == belt)[0])
        for level in (0, 1):
            x = rows.x[row].copy()
            x[0] = level
            cumulative = np.cumsum([hazard[rows.stratum[row], age] for age in range(1, horizon + 1)])
            curves[level] += weight[belt] * np.exp(-np.exp(x @ coef) * cumulative)
    return curves / weight.sum()


def test_limits_are_the_order_statistics_of_belts_drawn_and_refitted_by_a_plain_loop() -> None:
    rows = random_rows(4, belts=60, terms=2)
    draws = 19
    (ours,) = found(rows, seed=8, replicates=draws, confidence=0.8)
    assert ours.lost == 0
    generator = np.random.default_rng(8)
    again = []
    for weight in generator.multinomial(60, np.full(60, 1 / 60), size=draws):
        coef = plain_fit(rows, "efron", weight[rows.belt])
        again.append(plain_curves(rows, coef, ours.horizon, weight.astype(float)))
    curves = np.sort(again, axis=0)
    # 19 draws, 10 % in each tail: the 2nd and the 18th of 20 gaps.
    np.testing.assert_allclose(ours.lower, curves[1], rtol=0, atol=1e-8)
    np.testing.assert_allclose(ours.upper, curves[17], rtol=0, atol=1e-8)
    means = np.array([1 + curve[:, :-1].sum(axis=1) for curve in again])
    gaps = np.sort(means[:, 1] - means[:, 0])
    assert ours.differences[1, 0].lower == pytest.approx(gaps[1], abs=1e-7)
    assert ours.differences[1, 0].upper == pytest.approx(gaps[17], abs=1e-7)


def test_of_999_draws_the_95_percent_limits_are_the_25th_and_the_975th() -> None:
    draws = np.random.default_rng(3).permutation(np.arange(1.0, 1000.0))
    assert [float(limit) for limit in percentiles(draws, 0.95)] == pytest.approx([25, 975], abs=1e-9)
    assert [float(limit) for limit in percentiles(draws, 0.9)] == pytest.approx([50, 950], abs=1e-9)


def test_the_same_seed_gives_the_same_digits_on_any_number_of_threads_and_another_seed_others() -> None:
    rows = random_rows(4, belts=60, terms=2)
    (one,), (two,), (other,) = (
        found(rows, seed=2, replicates=200, threads=1),
        found(rows, seed=2, replicates=200, threads=3),
        found(rows, seed=3, replicates=200),
    )
    for name in ("survival", "lower", "upper", "mean"):
        np.testing.assert_array_equal(getattr(one, name), getattr(two, name))
    assert one.differences == two.differences
    np.testing.assert_array_equal(one.survival, other.survival)
    assert one.differences[1, 0].lower != other.differences[1, 0].lower


def test_settings_asked_together_are_those_asked_alone() -> None:
    rows = random_rows(4, belts=60, terms=3)
    second = (np.array([1]), np.array([[0.0], [1.0]]))
    both = found(rows, (*ONE, second))
    alone = (*found(rows), *found(rows, (second,)))
    for one, other in zip(both, alone, strict=True):
        np.testing.assert_array_equal(one.survival, other.survival)
        np.testing.assert_array_equal(one.lower, other.lower)
        assert one.differences == other.differences


def test_renumbering_belts_moves_no_curve() -> None:
    rows = random_rows(4, belts=60, terms=2)
    names = np.random.default_rng(5).permutation(60)
    (one,), (other,) = found(rows), found(replace(rows, belt=names[rows.belt]))
    np.testing.assert_allclose(one.survival, other.survival, rtol=0, atol=1e-12)


@pytest.mark.parametrize(("shift", "scale"), [(1000.0, 1.0), (0.0, 1000.0), (-8.3, 0.001)])
def test_units_of_another_setting_change_nothing(shift: float, scale: float) -> None:
    rows = random_rows(4, belts=60, terms=2)
    moved = replace(rows, x=np.column_stack([rows.x[:, 0], shift + scale * rows.x[:, 1]]))
    (one,), (other,) = found(rows), found(moved)
    np.testing.assert_allclose(one.survival, other.survival, rtol=0, atol=1e-9)
    np.testing.assert_allclose(one.lower, other.lower, rtol=0, atol=1e-9)


def test_draws_without_an_estimate_are_counted_and_beyond_a_tenth_there_are_no_limits_but_a_reason() -> None:
    log = log_of(REFERENCE / "life" / "late")
    ours, _ = found(log.rows, log.settings, replicates=200)
    assert ours.lost > 20
    assert ours.reason == f"{ours.lost} of 200 draws of belts gave no estimate"
    assert np.isnan(ours.lower).all()
    assert np.isnan(ours.upper).all()
    assert not np.isnan(ours.survival).any()
    pair = ours.differences[1, 0]
    assert (pair.lower, pair.upper, pair.reason) == (None, None, ours.reason)
    assert pair.estimate == pytest.approx(ours.mean[1] - ours.mean[0])


def test_a_tenth_of_the_draws_may_be_lost_and_the_limits_then_rest_on_the_others() -> None:
    rows = random_rows(1, belts=30, terms=2)
    (ours,) = found(rows, replicates=200)
    assert 0 < ours.lost <= 20
    assert ours.reason is None
    assert (ours.lower <= ours.upper).all()
    assert ours.differences[1, 0].lower < ours.differences[1, 0].estimate < ours.differences[1, 0].upper


def test_a_draw_is_lost_exactly_where_its_own_likelihood_has_no_maximum() -> None:
    rows = twelve()
    (ours,) = found(rows, seed=6, replicates=50)
    lost = 0
    for weight in np.random.default_rng(6).multinomial(12, np.full(12, 1 / 12), size=50):
        told = {}
        for car, age in ((0, 1), (1, 2)):
            here = (rows.stratum == car) & (rows.age == age) & (weight[rows.belt] > 0)
            x, fell = rows.x[here, 0], rows.failed[here]
            if fell.any():
                # A set lets b rise if all at level 1 and none at 0 failed beside another; and so downward.
                told[car] = (x[fell].min() < x.max(), x[fell].max() > x.min())
        up, down = (any(side[place] for side in told.values()) for place in (0, 1))
        lost += not (up and down)
    assert ours.lost == lost


def test_a_term_without_an_estimate_is_refused_with_its_reason() -> None:
    rows = twelve()
    smooth = replace(rows, failed=rows.failed & (rows.x[:, 0] == 0))
    assert refused(smooth) == (
        "the hazard fit has no estimate for one of its terms: "
        "the failures all lie on one side of it, so the best estimate is without end"
    )
    assert "nothing failed" in refused(replace(rows, failed=np.zeros(rows.age.size, bool)))
    assert "the same for all belts" in refused(replace(rows, x=np.ones(rows.x.shape)))


def test_too_few_belts_on_a_car_are_refused() -> None:
    rows = twelve()
    few = rows.where(~np.isin(rows.belt, (4, 5)))
    assert refused(few) == "at no age are 5 belts at risk on every car"
