"""Chance and fate in the invented seasons: draws follow their laws, and a belt fails by the shares written down."""

from collections import Counter
from math import exp

import numpy as np
import pytest

from drivekit.log.demo_truth import TRUTH, Dice, after_run

QUIET = {"tension_n": TRUTH.best_n, "lube": "install", "off_c": 0.0, "off_side": 0, "trouble": "none"}


def fates(number=4_000, seed=3, hazard=0.2, **change):
    dice = Dice(seed)
    return [after_run(dice, TRUTH, hazard=hazard, **(QUIET | change)) for _ in range(number)]


def share(cells, column, word):
    return sum(row.get(column) == word for row in cells) / len(cells)


def test_uniform_numbers_are_those_of_the_generator_each_once():
    dice, generator = Dice(11), np.random.Generator(np.random.PCG64(11))
    drawn = sorted(dice.uniform() for _ in range(2 * 4096))
    assert drawn == sorted(generator.random(2 * 4096).tolist())


def test_draws_follow_their_laws():
    dice = Dice(5)
    normal = np.array([dice.normal(10.0, 2.0) for _ in range(20_000)])
    assert normal.mean() == pytest.approx(10, abs=0.06)
    assert normal.std() == pytest.approx(2, abs=0.05)
    assert np.mean(normal < 10 - 1.96 * 2) == pytest.approx(0.025, abs=0.005)
    whole = Counter(dice.whole(-1, 2) for _ in range(8_000))
    assert set(whole) == {-1, 0, 1, 2}
    assert all(count == pytest.approx(2_000, abs=160) for count in whole.values())
    words = Counter(dice.one_of(("rare", "often"), (1, 3)) for _ in range(8_000))
    assert words["often"] == pytest.approx(6_000, abs=160)
    assert sum(dice.chance(0.1) for _ in range(8_000)) == pytest.approx(800, abs=110)
    first = Counter(dice.shuffled(["a", "a", "b"])[0] for _ in range(3_000))
    assert first["a"] == pytest.approx(2_000, abs=110)
    assert sorted(dice.shuffled(["a", "a", "b"])) == ["a", "a", "b"]


def test_a_belt_fails_with_chance_one_less_exp_of_minus_the_hazard():
    ways = ("tooth-jump", "tooth-loss", "edge-split", "cord-pull")
    for hazard in (0.05, 0.2, 1.0):
        failed = sum(row.get("cause") in ways for row in fates(hazard=hazard)) / 4_000
        assert failed == pytest.approx(1 - exp(-hazard), abs=0.025)


def test_the_ways_to_fail_have_the_shares_written_down():
    # At the best tension, greased at install, running true: jump .4, tooth loss .6, split .5 x 1, cord .35; sum 1.85.
    calm = fates(hazard=40.0)
    for way, weight in (("tooth-jump", 0.4), ("tooth-loss", 0.6), ("edge-split", 0.5), ("cord-pull", 0.35)):
        assert share(calm, "cause", way) == pytest.approx(weight / 1.85, abs=0.03)
    # Ungreased and 5 C off: split .5 x 1.6 x 1.5 = 1.2; sum 2.55.
    dry = fates(hazard=40.0, lube="none", off_c=-5.0)
    assert share(dry, "cause", "edge-split") == pytest.approx(1.2 / 2.55, abs=0.03)
    # At 5.3 kN, 3 kN below the best and slack: jump .4 exp(2.7) x 3 = 17.86; .6 exp(-.9) + .5 + .35 exp(-2.1) = .787.
    slack = fates(hazard=40.0, tension_n=5300.0)
    assert share(slack, "cause", "tooth-jump") == pytest.approx(17.86 / 18.64, abs=0.02)


def test_a_belt_that_looks_worn_is_taken_off_more_often_and_a_worn_look_follows_the_hazard():
    fresh, old = fates(hazard=0.02), fates(hazard=0.6)
    # share worn = 1 / (1 + exp(-(1.2 log h + 1))): .024 at .02, .596 at .6
    kept = [[row for row in cells if row.get("fate") == "kept" and row.get("teeth_look")] for cells in (fresh, old)]
    assert share(kept[0], "teeth_look", "worn") < 0.05
    assert share(kept[1], "teeth_look", "worn") > 0.45
    assert share(fresh, "cause", "precaution") < 0.02 < 0.05 < share(old, "cause", "precaution")


def test_oil_metal_and_backfire_end_belts_that_have_not_failed():
    assert share(fates(hazard=1e-6, trouble="none"), "cause", "contaminated") < 0.02
    assert share(fates(hazard=1e-6, trouble="oil-down"), "cause", "contaminated") == pytest.approx(0.8 * 0.35, abs=0.03)
    assert share(fates(hazard=1e-6, trouble="backfire"), "cause", "engine-trouble") == pytest.approx(0.35, abs=0.03)


def test_the_shade_tells_the_way_the_belt_ran_once_it_ran_so_twice():
    shades = {side: {row["shade"] for row in fates(number=20, off_side=side)} for side in (-3, -2, -1, 0, 1, 2)}
    assert shades == {-3: {"rear-dark"}, -2: {"rear-dark"}, -1: {"even"}, 0: {"even"}, 1: {"even"}, 2: {"front-dark"}}
