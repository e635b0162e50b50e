"""Where a car's belts run even: what counts, what is refused, and what steering hides from a plain line."""

import json
from typing import Any

import numpy as np
import pytest

from drivekit.decide.tracking import tracking

NET = np.array([1.0, -2.0, 2.0, 0.0, -1.0, 3.0, 1.0, 0.0])
DIFFERENCE = np.array([-1.0, 5.0, -4.0, 2.0, 3.0, -3.0, 1.0, 2.5])
BELT = np.array(["a", "a", "b", "b", "b", "c", "c", "c"])
LIFT = np.array([3.0, 3.0, 3.0, 4.0, 3.0, 3.5, 4.0, 3.0])


def test_the_block_has_the_fixed_keys_and_is_plain() -> None:
    block = tracking(NET, DIFFERENCE, BELT, lift_flats=LIFT).block()
    fixed = ["n", "belts", "slope_c_per_flat", "lift_slope_c_per_flat", "belt_sd_c", "noise_sd_c", "lift_now"]
    assert list(block) == [*fixed, "zero_flats", "move"]
    assert (block["n"], block["belts"], block["lift_now"]) == (8, 3, 3.0)
    assert list(block["slope_c_per_flat"]) == ["estimate", "lower", "upper"]
    assert json.loads(json.dumps(block)) == block


def test_blank_runs_leave_and_are_not_counted() -> None:
    blank = np.array([0, 5])
    net = np.insert(NET, blank, [np.nan, 9.0])
    difference = np.insert(DIFFERENCE, blank, [4.0, np.nan])
    more = tracking(net, difference, np.insert(BELT, blank, "z"))
    assert more.block() == tracking(NET, DIFFERENCE, BELT).block()
    assert more.used.sum() == 8


def test_a_run_without_its_lift_leaves_only_where_the_lift_ever_changed() -> None:
    lift = LIFT.copy()
    lift[7] = np.nan
    found = tracking(NET, DIFFERENCE, BELT, lift_flats=lift)
    assert (found.n, found.lift_now) == (7, 4.0)
    held = np.where(np.arange(8) < 7, 3.0, np.nan)
    block = tracking(NET, DIFFERENCE, BELT, lift_flats=held).block()
    assert (block["n"], block["lift_now"]) == (8, None)
    assert block["lift_now_reason"] == "the snout stood at 3 flats on every run"
    without = tracking(NET, DIFFERENCE, BELT).block()
    assert without["lift_slope_c_per_flat"]["reason"] == without["lift_now_reason"]
    assert without["lift_now_reason"] == "the snout's flats are not in the log"
    assert block["slope_c_per_flat"] == without["slope_c_per_flat"]


def test_the_even_point_holds_at_the_lift_of_the_last_run() -> None:
    block = tracking(NET, DIFFERENCE, BELT, lift_flats=LIFT).block()
    longer = tracking(
        np.append(NET, 0.0), np.append(DIFFERENCE, 2.0), np.append(BELT, "c"), lift_flats=np.append(LIFT, 4.0)
    )
    assert longer.lift_now == 4.0
    fit = longer.fit
    assert fit is not None
    a, b, c = fit.coefficients
    assert longer.zero.estimate == pytest.approx(-(a + 4 * c) / b)
    assert block["zero_flats"]["estimate"] != pytest.approx(longer.zero.estimate, abs=0.05)


@pytest.mark.parametrize(
    ("rows", "changed", "reason"),
    [
        (slice(0, 5), {}, "5 runs with edges and flats known, and it takes 6"),
        (slice(0, 0), {}, "0 runs with edges and flats known, and it takes 6"),
        (slice(0, 8), {"belt": np.array(["a"] * 4 + ["b"] * 4)}, "8 runs of 2 belts, and it takes 3 belts"),
        (slice(0, 8), {"net_flats": np.full(8, 2.0)}, "all 8 runs were made at one setting (2)"),
        (
            slice(0, 8),
            {"lift_flats": 5 - NET},
            "idler and snout were only ever turned together, so neither can be told from the other",
        ),
    ],
)
def test_what_cannot_be_told_is_null_with_a_reason(rows: slice, changed: dict[str, Any], reason: str) -> None:
    given = {"net_flats": NET, "difference_c": DIFFERENCE, "belt": BELT, "lift_flats": LIFT} | changed
    found = tracking(**{name: values[rows] for name, values in given.items()})
    block = found.block()
    for name in ("slope_c_per_flat", "zero_flats"):
        assert block[name] == {"estimate": None, "lower": None, "upper": None, "reason": reason}
    for name in ("belt_sd_c", "noise_sd_c"):
        assert (block[name], block[f"{name}_reason"]) == (None, reason)
    assert (block["lift_now"], block["lift_slope_c_per_flat"]["estimate"]) == (None, None)
    assert block["move"] == {"reason": reason}
    assert str(found) == (
        f"What a flat does to the edges' difference cannot be told: {reason}. No move is proposed: {reason}."
    )


def test_where_the_slopes_span_zero_no_even_setting_is_said_and_no_move_is_proposed() -> None:
    noise = np.array([2.0, -3, -2, -1, 1, 3, -2, 0.5])
    found = tracking(NET, noise, BELT)
    assert found.zero.estimate is not None
    assert (found.zero.lower, found.zero.upper) == (None, None)
    assert found.move.idler is None
    assert "at how many flats belts run even cannot be told: settings however far out are not ruled out" in str(found)


def test_the_sentence_says_slopes_even_point_and_both_spreads() -> None:
    rng = np.random.default_rng(2)
    code = np.repeat(np.arange(8), 6)
    net, lift = rng.integers(-3, 5, 48).astype(float), rng.integers(2, 6, 48).astype(float)
    y = 3 - 1.8 * net - 0.9 * lift + rng.normal(0, 1.5, 8)[code] + rng.normal(0, 1, 48)
    found = tracking(net, y, code.astype(str), lift_flats=lift)
    fit = found.fit
    assert fit is not None
    assert str(found).startswith(
        "Over 48 runs of 8 belts, one net flat more at the front of the idler moves the edges' difference by "
        f"{fit.coefficients[1]:.1f} °C ({found.slope.lower:.1f} to {found.slope.upper:.1f}), one flat more of both "
        f"jack screws by {fit.coefficients[2]:.1f} °C ("
    )
    assert f"with the snout at {lift[-1]:g} flats, belts run even at {found.zero.estimate:z.1f} net flats (" in str(
        found
    )


def steered(rng: np.random.Generator, *, belts: int = 20, runs: int = 6) -> tuple[list[tuple[float, ...]], float]:
    """A season whose crew answers each reading with flats, and the last belt's own constant."""
    net, lift, rows, own = 2.0, 3.0, [], 0.0
    for belt in range(belts):
        own = rng.normal(0, 1.5)
        for _ in range(runs):
            reading = -1.8 * (net - 2.5) - 0.9 * (lift - 3) + own + rng.normal(0, 1.8)
            rows.append((net, reading, belt, lift))
            if abs(reading) > 1.5 and rng.random() < 0.8:
                net = float(np.clip(net + round(np.clip(reading / 1.8, -2, 2)), -6, 8))
            elif abs(reading) > 1.5:
                lift = float(np.clip(lift + np.sign(reading) / 2, 0, 8))
    return rows, own


def test_where_crews_steer_the_limits_hold_the_truth_and_the_move_beats_leaving_it() -> None:
    """Of 300 such seasons slope and even point were held in 96 and 93 %; a plain line holds the slope in 18 %."""
    rng = np.random.default_rng(11)
    held, even, plain, left, moved = 0, 0, 0, 0.0, 0.0
    seasons = 40
    for _ in range(seasons):
        rows, own = steered(rng)
        net, reading, belt, lift = np.array(rows).T
        found = tracking(net, reading, belt, lift_flats=lift)
        slope, zero, move = found.slope, found.zero, found.move
        assert None not in (slope.lower, zero.lower, move.idler)
        held += slope.lower <= -1.8 <= slope.upper  # type: ignore[operator]
        even += zero.lower <= 2.5 - 0.5 * (lift[-1] - 3) <= zero.upper  # type: ignore[operator]
        plain += np.polyfit(net, reading, 1)[0] < -1.5
        at = -1.8 * (net[-1] - 2.5) - 0.9 * (lift[-1] - 3) + own
        to = at - 1.8 * move.idler - 0.9 * move.snout  # type: ignore[operator]
        noise = rng.normal(0, 1.8, 200)
        left, moved = left + np.abs(at + noise).mean(), moved + np.abs(to - noise).mean()
    assert held >= 0.85 * seasons
    assert even >= 0.85 * seasons
    assert plain <= 0.3 * seasons
    assert moved < 0.9 * left


def test_arrays_of_unequal_length_are_a_mistake() -> None:
    with pytest.raises(ValueError, match="same runs"):
        tracking(NET, DIFFERENCE[:-1], BELT)
