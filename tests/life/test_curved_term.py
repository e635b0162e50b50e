"""A measured setting as a line, a parabola and a spline: against R, by brute force, and by its laws."""

from __future__ import annotations

import json
from dataclasses import replace
from math import sqrt
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivekit.life.cox import fit
from drivekit.life.curved_term import FEW_VALUES, GRID, CurvedTerm, curved_term, lowest, natural_spline, stretch
from drivekit.life.riskset import RiskSets
from drivekit.log.season import read_season
from tests.life.plain_cox import REFERENCE, Rows, random_rows

Z2 = 1.959963984540054**2
DATA = Path(__file__).parents[2] / "data"


def found(rows: Rows, column: int = -1, confidence: float = 0.95) -> CurvedTerm:
    told = answer(rows, column, confidence)
    assert isinstance(told, CurvedTerm), told
    return told


def answer(rows: Rows, column: int = -1, confidence: float = 0.95) -> CurvedTerm | str:
    others = np.delete(rows.x, column, axis=1)
    return curved_term(rows.age, rows.failed, others, rows.x[:, column], rows.stratum, confidence=confidence)


def curved(seed: int = 3, belts: int = 120) -> Rows:
    """A season in which the middle of the last setting is kindest."""
    draw = np.random.default_rng(seed)
    rows = []
    for belt in range(belts):
        x, car = float(draw.random() < 0.5), int(draw.integers(2))
        for age in range(1, 12):
            value = draw.normal(8, 1.5)
            failed = draw.random() < 0.06 * np.exp(-0.5 * x + 0.3 * (value - 8.5) ** 2)
            rows.append((age, failed, x, value, car, belt))
            if failed:
                break
    table = np.array(rows, float)
    codes = table[:, 4:].astype(int)
    return Rows(table[:, 0].astype(int), table[:, 1] > 0, table[:, 2:4], codes[:, 0], codes[:, 1])


def of_season(folder: Path) -> Rows:
    """The rows of the hazard fit with tension in kN last."""
    season = read_season(folder)
    before = dict(zip(season.belts["belt"], season.belts["runs_before"], strict=True))
    made: dict[str, float] = {}
    table: list[tuple[Any, ...]] = []
    for run in season.runs.to_dict("records"):
        made[run["belt"]] = age = made.get(run["belt"], before[run["belt"]]) + 1
        failed = run["cause"] in ("tooth-jump", "tooth-loss", "edge-split", "cord-pull") or (
            run["cause"] == "unknown" and run["fate"] == "broke"
        )
        lube, kn = run["edge_lube"], run["tension_n"] / 1000
        if age == age and kn == kn and lube is not None:
            x = (run["idler"] == "toothed", lube == "install", lube == "every-run", kn)
            table.append((int(age), failed, x, run["car"], run["belt"]))
    age, failed, x, car, belt = zip(*table, strict=True)
    codes = [np.unique(values, return_inverse=True)[1] for values in (car, belt)]
    return Rows(np.array(age), np.array(failed), np.array(x, float), *codes)


@pytest.mark.parametrize(("name", "folder"), [("season", REFERENCE / "season"), ("season-one", DATA / "season-one")])
def test_the_three_forms_are_those_of_r(name: str, folder: Path) -> None:
    """R survival: coxph with u and I(u^2); splines::ns with the same knots spans the same space; Fieller's roots."""
    r = json.loads((REFERENCE / "life" / f"bend_{name}.json").read_text(encoding="utf-8"))
    rows = of_season(folder)
    assert rows.age.size == r["rows"], "the log is another than the one R was given: run the script stored beside it"
    ours = found(rows)
    assert ours.reference == pytest.approx(r["median"], abs=1e-12)
    assert ours.loglik_none == pytest.approx(r["loglik"]["none"], abs=1e-9)
    for form in ("linear", "quadratic", "spline"):
        assert ours.forms[form].loglik == pytest.approx(r["loglik"][form], abs=1e-9)
    straight, parabola, spline = ours.forms.values()
    assert [form.test["dof"] for form in ours.forms.values()] == [1, 1, 1]
    assert parabola.test["chi2"] == pytest.approx(r["quadratic"]["chi2"], abs=1e-9)
    assert parabola.test["p"] == pytest.approx(r["quadratic"]["p"], abs=1e-10)
    assert spline.test["chi2"] == pytest.approx(2 * (r["loglik"]["spline"] - r["loglik"]["linear"]), abs=1e-9)
    u = ours.value - r["median"]
    line, (slope, curvature) = r["linear"], r["quadratic"]["coef"]
    np.testing.assert_allclose(straight.log_hr, line["coef"] * u, rtol=0, atol=1e-8)
    np.testing.assert_allclose(straight.upper, line["coef"] * u + sqrt(Z2) * line["se"] * abs(u), rtol=0, atol=1e-8)
    np.testing.assert_allclose(parabola.log_hr, slope * u + curvature * u**2, rtol=0, atol=1e-8)
    (a, b), (_, c) = r["quadratic"]["covariance"]
    reach = np.sqrt(Z2 * (a * u**2 + 2 * b * u**3 + c * u**4))
    np.testing.assert_allclose(parabola.log_hr - parabola.lower, reach, rtol=0, atol=1e-8)
    np.testing.assert_allclose(parabola.upper - parabola.log_hr, reach, rtol=0, atol=1e-8)
    best = r["best"]
    if best["bounded"]:
        three = (ours.best.estimate, ours.best.lower, ours.best.upper)
        assert three == pytest.approx((best["estimate"], best["lower"], best["upper"]), abs=1e-8)
    else:
        assert (ours.best.estimate, ours.best.lower, ours.best.upper) == (None, None, None)
        assert ours.best.reason == "the curve bends too little for these belts to say where it is lowest"


def test_the_lowest_point_and_its_limits_by_hand() -> None:
    # Slope -4, curvature 2: lowest at 1. Variances 1/z2 and covariance 0: |4u - 4| <= sqrt(1 + 4 u^2), so that
    # 12 u^2 - 32 u + 15 <= 0 and u lies between (32 -/+ sqrt(1024 - 720)) / 24.
    best = lowest(-4.0, 2.0, np.eye(2) / Z2, 0.95, origin=8.0)
    reach = sqrt(1024 - 720) / 24
    assert best.estimate == pytest.approx(9.0, abs=1e-12)
    assert (best.lower, best.upper) == pytest.approx((8 + 32 / 24 - reach, 8 + 32 / 24 + reach), abs=1e-12)
    assert best.reason is None


@given(
    st.floats(-5, 5), st.floats(0.1, 3), st.floats(0.05, 2), st.floats(0.01, 0.4), st.floats(-0.95, 0.95),
    st.sampled_from([0.8, 0.95, 0.99]),
)  # fmt: skip
def test_limits_are_where_the_slope_can_just_not_be_told_from_zero(
    slope: float, curvature: float, sd_slope: float, share: float, r: float, confidence: float
) -> None:
    sd = share * curvature
    covariance = np.array([[sd_slope**2, r * sd_slope * sd], [r * sd_slope * sd, sd**2]])
    z2 = {0.8: 1.2815515655446004, 0.95: 1.959963984540054, 0.99: 2.5758293035489004}[confidence] ** 2
    best = lowest(slope, curvature, covariance, confidence)

    def excess(u: float) -> float:
        """Squared slope at u over its largest plausible value, less 1: negative inside the limits."""
        along = np.array([1.0, 2 * u])
        return (slope + 2 * curvature * u) ** 2 / (z2 * (along @ covariance @ along)) - 1

    if best.estimate is None:
        # Far out the slope cannot be told from zero either, on one side at least.
        assert min(excess(-1e6), excess(1e6)) <= 1e-4
        return
    assert excess(best.estimate) == pytest.approx(-1, abs=1e-9)
    for end, outward in ((best.lower, -1), (best.upper, 1)):
        assert excess(end) == pytest.approx(0, abs=1e-6)
        step = 1e-3 * (best.upper - best.lower)
        assert excess(end - outward * step) < 0 < excess(end + outward * step)


def test_a_parabola_that_bends_the_other_way_or_too_little_has_no_lowest_point() -> None:
    tight = np.eye(2) * 1e-4
    for curvature in (0.0, -0.5):
        best = lowest(1.0, curvature, tight, 0.95)
        assert (best.estimate, best.lower, best.upper) == (None, None, None)
        assert best.reason == "the curve has no lowest point: it bends the other way"
    assert lowest(1.0, 0.5, np.eye(2), 0.95).reason == (
        "the curve bends too little for these belts to say where it is lowest"
    )


def test_a_spline_is_a_cubic_between_its_knots_and_straight_beyond_them() -> None:
    knots = np.array([2.0, 5.0, 9.0])
    # By hand at 6: (4^3 - 1^3 (9 - 2)/(9 - 5)) / 7^2; at 9 the third cube is still 0; below 2 it is 0.
    by_hand = [0, 0, (64 - 7 / 4) / 49, (343 - 64 * 7 / 4) / 49, (512 - 125 * 7 / 4 + 1 * 3 / 4) / 49]
    np.testing.assert_allclose(natural_spline(np.array([-3.0, 2, 6, 9, 10]), knots), by_hand, rtol=0, atol=1e-12)
    beyond = natural_spline(np.array([9.0, 11.0, 13.0, 40.0]), knots)
    slopes = np.diff(beyond) / [2, 2, 27]
    np.testing.assert_allclose(slopes, slopes[0], rtol=1e-12)
    h = 1e-4
    for knot in knots:
        at = natural_spline(knot + h * np.arange(-2, 3), knots)
        first_before, first_after = (at[2] - at[1]) / h, (at[3] - at[2]) / h
        assert first_before == pytest.approx(first_after, abs=1e-3)
        second_before, second_after = (at[2] - 2 * at[1] + at[0]) / h**2, (at[4] - 2 * at[3] + at[2]) / h**2
        assert second_before == pytest.approx(second_after, abs=1e-3)


def test_a_spline_has_no_bend_at_its_outer_knots() -> None:
    knots = np.array([2.0, 5.0, 9.0])
    h = 1e-3
    for knot, inward in ((2.0, 1), (9.0, -1)):
        at = natural_spline(knot + inward * h * np.arange(3), knots)
        assert (at[2] - 2 * at[1] + at[0]) / h**2 == pytest.approx(0, abs=1e-2)


def test_every_form_is_zero_at_the_reference_and_spans_what_was_met() -> None:
    rows = curved()
    ours = found(rows)
    assert ours.value.size == GRID
    assert (ours.value[0], ours.value[-1]) == (rows.x[:, 1].min(), rows.x[:, 1].max())
    assert ours.reference == np.median(rows.x[:, 1])
    for form in ours.forms.values():
        for values in (form.log_hr, form.lower, form.upper):
            assert np.interp(ours.reference, ours.value, values) == pytest.approx(0, abs=0.02)
        assert (form.lower <= form.log_hr).all()
        assert (form.log_hr <= form.upper).all()


def test_the_true_curve_is_found_and_lies_within_its_limits() -> None:
    ours = found(curved(belts=400))
    assert ours.forms["quadratic"].test["p"] < 1e-6
    assert ours.forms["spline"].test["p"] < 1e-6
    assert ours.best.lower < 8.5 < ours.best.upper
    assert ours.best.upper - ours.best.lower < 1


@settings(deadline=None, max_examples=10)
@given(st.sampled_from([1000.0, 0.2248, 1e-3]), st.floats(-20, 20))
def test_another_unit_or_zero_point_of_the_setting_changes_only_its_scale(scale: float, shift: float) -> None:
    rows = curved()
    ours = found(rows)
    moved = found(replace(rows, x=np.column_stack([rows.x[:, 0], scale * (rows.x[:, 1] + shift)])))
    for form in ("linear", "quadratic", "spline"):
        one, other = ours.forms[form], moved.forms[form]
        assert one.loglik == pytest.approx(other.loglik, abs=1e-7)
        np.testing.assert_allclose(one.log_hr, other.log_hr, rtol=0, atol=1e-5)
        np.testing.assert_allclose(one.upper, other.upper, rtol=0, atol=1e-5)
    three = [scale * (value + shift) for value in (ours.best.estimate, ours.best.lower, ours.best.upper)]
    assert [moved.best.estimate, moved.best.lower, moved.best.upper] == pytest.approx(three, rel=1e-5, abs=1e-4)


def test_a_wider_confidence_widens_bands_and_limits_alone() -> None:
    narrow, wide = found(curved(), confidence=0.8), found(curved(), confidence=0.99)
    assert narrow.best.estimate == wide.best.estimate
    assert wide.best.lower < narrow.best.lower < narrow.best.upper < wide.best.upper
    np.testing.assert_array_equal(narrow.forms["quadratic"].log_hr, wide.forms["quadratic"].log_hr)
    assert wide.forms["quadratic"].upper[0] > narrow.forms["quadratic"].upper[0]


def test_a_curve_lowest_beyond_the_last_value_says_so() -> None:
    # The parabola turns at 5.5, but nobody went beyond 4: it is seen to bend, not to turn.
    draw = np.random.default_rng(1)
    n = 6000
    value = draw.uniform(0, 4, n)
    failed = draw.random(n) < 0.5 * np.exp(0.15 * (value - 5.5) ** 2 - 5)
    rows = Rows(np.ones(n, int), failed, np.column_stack([draw.random(n) < 0.5, value]).astype(float),
                np.zeros(n, int), np.arange(n))  # fmt: skip
    best = found(rows).best
    assert (best.estimate, best.reason) == (None, "the curve is lowest outside the values met")


def test_a_constant_setting_and_one_of_two_values_are_refused_in_a_sentence() -> None:
    rows = curved()
    constant = replace(rows, x=np.column_stack([rows.x[:, 0], np.full(rows.age.size, 8.0)]))
    assert answer(constant) == (
        "it was the same for all belts that stood beside a failed one at the same age on the same car"
    )
    two = replace(rows, x=np.column_stack([rows.x[:, 0], np.where(rows.x[:, 1] > 8, 9.0, 7.0)]))
    assert answer(two) == FEW_VALUES


def test_a_setting_whose_failures_all_lie_on_one_side_is_refused() -> None:
    rows = curved()
    one_side = replace(rows, x=np.column_stack([rows.x[:, 0], np.where(rows.failed, 20.0, rows.x[:, 1])]))
    assert answer(one_side) == "the failures all lie on one side of it, so the best estimate is without end"


def test_another_setting_without_a_failure_does_not_stop_the_curve() -> None:
    rows = curved()
    never = replace(rows, failed=rows.failed & (rows.x[:, 0] == 0))
    ours = found(never)
    # In the limit the rows of the level that never failed leave the fit.
    left = never.where(never.x[:, 0] == 0)
    alone = answer(left.changed(x=left.x[:, 1:]))
    assert isinstance(alone, CurvedTerm)
    assert ours.loglik_none == pytest.approx(alone.loglik_none, abs=1e-8)
    assert ours.forms["quadratic"].test["chi2"] == pytest.approx(alone.forms["quadratic"].test["chi2"], abs=1e-8)
    assert ours.best.estimate == pytest.approx(alone.best.estimate, abs=1e-6)


def test_too_few_failures_to_tell_three_knots_apart_give_no_spline() -> None:
    rows = curved()
    most = rows.failed & (np.cumsum(rows.failed) % 10 < 8)
    ours = found(replace(rows, x=np.column_stack([rows.x[:, 0], np.where(most, 8.0, rows.x[:, 1])])))
    assert "spline" not in ours.forms
    assert ours.forms["quadratic"].loglik >= ours.forms["linear"].loglik


def test_any_basis_of_the_same_space_gives_the_same_spline() -> None:
    rows = random_rows(4, belts=90, terms=2)
    value = rows.x[:, 1]
    ours = found(rows)
    knots = np.quantile(value[rows.failed], [0.1, 0.5, 0.9])
    u = natural_spline(value, knots)
    mixed = np.column_stack([value + 3 * u, 2 * value - u, rows.x[:, 0]])
    assert fit(RiskSets.of(rows.age, rows.failed, mixed, rows.stratum)).loglik == pytest.approx(
        ours.forms["spline"].loglik, abs=1e-8
    )


def test_the_stretch_around_the_lowest_point_is_what_is_not_told_from_it_by_hand() -> None:
    # 2 u^2 - 4 u stands 2 (u - 1)^2 above its lowest; the error of that is |u - 1| |(1, u + 1)|, with variances 1/4:
    # told where 2 |u - 1| > sqrt(1 + (u + 1)^2) / 2 at z = 1, so from u = 1.79 on and up to u = 0.31.
    at, low, high = stretch(-4.0, 2.0, np.eye(2) / 4, 1.0, (0.0, 4.0))
    step = 4 / (GRID - 1)
    assert at == pytest.approx(1.0, abs=step / 2)
    for end, side in ((low, -1), (high, 1)):
        assert 2 * abs(end - 1) <= np.hypot(1, end + 1) / 2
        beyond = end + side * step
        assert 2 * abs(beyond - 1) > np.hypot(1, beyond + 1) / 2


def test_a_line_is_lowest_at_the_end_that_was_run() -> None:
    at, low, high = stretch(-3.0, 0.0, np.diag([0.01, 0.0001]), 1.96, (-1.0, 2.0))
    assert (at, high) == (2.0, 2.0)
    assert low > 1.5
