"""The snout: what a flat of its jack screws does, its pull, its sag; and a throttle that is snapped open."""

from __future__ import annotations

from dataclasses import replace
from math import atan, pi, radians

import pytest

from drivekit.drive.layout import JackScrews, Layout, Manifold, Snout
from drivekit.drive.path import belt_path
from drivekit.drive.set_up import set_up
from drivekit.drive.snout import snout_flat, snout_words
from drivekit.units import SI, Units

FLAT_M = 25.4e-3 / 24 / 6


def test_a_flat_of_both_jack_screws_by_hand(worked: Layout) -> None:
    layout = replace(
        worked.at_travel(0.05), jack_screws=JackScrews("3/8-24", reach_m=0.4), manifold=Manifold(0.3, 0.0012)
    )
    found = snout_flat(layout, belt_path(layout))
    assert found is not None
    assert found.lift_m == pytest.approx(FLAT_M)
    # the blower's spans head (.6, .8) in and (0, -1) out: 1.8 of path for each lift
    assert found.tension_n == pytest.approx(1021815.06 * 1.8 * FLAT_M / 1.7, rel=1e-6)
    assert found.tilt_rad == pytest.approx(atan(FLAT_M / 0.4))
    # .0012 / .3 = .004 of slope x 400 mm = 1.6 mm: 9.07 flats of .1764 mm
    assert found.flats_for_shim == pytest.approx(1.6e-3 / FLAT_M, rel=1e-4)
    assert "read the tension again after any of their turns" in str(found)
    assert snout_flat(replace(layout, jack_screws=None), belt_path(layout)) is None


def test_flats_of_both_jack_screws_to_nose_angle_and_tension(worked: Layout) -> None:
    layout = replace(worked.at_travel(0.05), jack_screws=JackScrews("3/8-24", reach_m=0.4))
    found = snout_flat(layout, belt_path(layout))
    assert found is not None
    # 3 x 190.85 N; atan(3 x .17639 / 400) = .0758 degrees
    assert found.turned(3, SI) == (
        "3 flats in, both jack screws lift the snout 0.529 mm (0.0208 in), tilt the nose 0.076 degrees and add "
        "573 N (129 lbf) to every span: read the tension again."
    )
    assert "1 flat out, both jack screws lower the snout 0.0069 in (0.176 mm)" in found.turned(-1, Units(True))
    assert "take 43 lbf (191 N) off every span" in found.turned(-1, Units(True))


def test_a_flat_of_the_snout_moves_the_tension_of_the_examples(toothed: Layout, outside: Layout) -> None:
    # checked by a separate program: 376 to 408 N
    gains = [set_up(layout).jack_flat for layout in (toothed, outside)]
    assert [round(gain.tension_n) for gain in gains if gain is not None] == [376, 408]


def test_the_pull_is_said_with_why_it_is_less_at_speed_and_no_other_number(worked: Layout) -> None:
    found = set_up(worked)
    assert found.snout.startswith("The belt pulls the blower's snout with 9,487 N (2,133 lbf) at rest, ")
    # growth gives the example 1,082 N and the speed takes 1,000 N: hot it is pulled harder than at rest
    assert "do not give it would be more but for that: turning itself takes 1,000 N (225 lbf) of each" in found.snout
    cold = set_up(replace(found.layout, heights=(), tension=replace(found.layout.tension, growth_low_m=None)))
    assert "On centres that do not give it is less at speed: turning itself takes" in cold.snout
    assert found.snout.endswith("a dial on it tells by how much.")


def test_sag_follows_from_a_stiffness_or_from_a_dial_under_a_known_pull(worked: Layout) -> None:
    found = set_up(worked)
    stiff, dial = Snout(stiffness_n_per_m=20e6), Snout(dial_m=0.5e-3, dial_pull_n=10_000.0)
    said = [snout_words(replace(found.layout, snout=one), found.states) for one in (stiff, dial)]
    assert said[0] == said[1]
    # 9,486.8 N / 20 N a micron
    assert "By the stiffness given it sags 0.474 mm (0.0187 in) at rest" in said[0]
    assert Snout(dial_m=0.5e-3).sag_per_n is None


def test_a_snapped_throttle_by_hand(worked: Layout) -> None:
    snapped = replace(
        worked,
        engine=replace(worked.engine, snap_rpm_per_s=6000.0),
        blower=replace(worked.blower, inertia_kg_m2=0.1),
    )
    found = set_up(snapped)
    assert found.snap is not None
    # crank and blower turn alike: 6,000 rpm a second are 200 pi rad/s^2; x .1 kg m2 / .1 m = 628.3 N
    pull = 200 * pi
    assert found.snap.pull_n == pytest.approx(pull, rel=1e-9)
    full = found.states[2].tensions
    assert found.snap.opened_n == pytest.approx(full.slack_n - 0.427209 * pull, abs=0.01)
    assert found.snap.shut_n == pytest.approx(full.mean_n - full.own_n - (1 - 0.427209) * pull, abs=0.01)
    assert "keeps 3,105 N" in str(found.snap)
    harder = replace(snapped, engine=replace(snapped.engine, snap_rpm_per_s=100_000.0))
    assert "the slack side then goes slack" in str(set_up(harder).snap)
    assert "A throttle snapped open at full load makes the belt slack." in set_up(harder).warnings
    assert set_up(worked).snap is None


def test_the_idler_s_lean_is_said_in_flats_and_by_the_edge(toothed: Layout) -> None:
    single = replace(toothed, idler=replace(toothed.idler, support="single"))  # type: ignore[type-var]
    bend = set_up(single).bend
    assert bend is not None
    assert bend.toward == "front"
    # a flat of 1/2-20 with two hands is .4233 mm; 90 mm between the adjusters
    assert bend.flats == pytest.approx(0.09 * bend.slope_rad / (25.4e-3 / 20 / 6 * 2), rel=1e-6)
    assert bend.slope_rad < radians(0.2)


def test_the_rotors_are_sped_up_as_often_as_the_blower_turns_faster_than_the_crank(toothed: Layout) -> None:
    """48 teeth on the crank against 40: 9,000 rpm a second of the crank are 10,800 of the blower."""
    found = set_up(toothed)
    assert found.snap is not None
    assert found.snap.pull_n == pytest.approx(0.045 * 10_800 * 2 * pi / 60 / (40 * 0.014 / 2 / pi), rel=1e-9)


def test_the_edges_paths_differ_by_what_the_lean_pushes_one_against_the_pull(worked: Layout) -> None:
    found = set_up(worked)
    assert found.bend is not None
    # against the pull the 3-4-5 triangle gives 1.2 of path for each length, over 50 mm of width
    assert found.bend.edge_m == pytest.approx(1.2 * 0.05 * found.bend.slope_rad, rel=1e-6)
