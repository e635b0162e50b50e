"""Which way a belt walks: normal entry, the wrap, the laws they obey, and what practice says."""

import cmath
import math
from pathlib import Path

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from drivekit.drive.drive_file import read_drive
from drivekit.drive.entry import LEANS, PHASES, UNSEEN, leaning, parts_m, reading_words, walk, walk_on
from drivekit.drive.set_up import set_up

DRIVES = sorted((Path(__file__).parents[2] / "data" / "drives").glob("*.toml"))

angles = st.floats(-math.pi, math.pi)
wraps = st.floats(0.2, math.pi)
lengths = st.floats(0.05, 0.6)


def test_a_belt_walks_to_the_edge_it_meets_first() -> None:
    # The belt arrives along +x and is turned a little upward; the front end of the axis leans along +x, away from the
    # arriving belt, so the belt meets the rear edge first.
    assert walk(0.0, 0.0, 0.4, 0.05, 0.3, 0.3).toward == "rear"
    assert walk(math.pi, 0.0, 0.4, 0.05, 0.3, 0.3).toward == "front"


def test_entry_wrap_and_exit_by_hand() -> None:
    # Half wrap, lean along the arriving belt, R = .1, spans .3 and .2: entry -2/3 x .3 = -.2, wrap: the chord stands
    # square to the lean, 0; the belt leaves along -x: exit +1/3 x .2 = +.0667.
    assert parts_m(0.0, 0.0, math.pi, 0.1, 0.3, 0.2) == pytest.approx((-0.2, 0.0, 0.2 / 3), abs=1e-15)
    # Lean along the chord (square to both spans): only the wrap acts, one diameter for a lean of one.
    assert parts_m(math.pi / 2, 0.0, math.pi, 0.1, 0.3, 0.2) == pytest.approx((0.0, -0.2, 0.0), abs=1e-15)
    shares = walk(0.0, 0.0, math.pi, 0.1, 0.3, 0.2)
    assert (shares.entry, shares.wrap, shares.exit) == pytest.approx((-0.75, 0.0, 0.25), abs=1e-12)


def test_a_lean_square_to_both_spans_acts_by_the_wrap_alone() -> None:
    across = walk(math.pi / 2, 0.0, math.pi, 0.1, 0.3, 0.3)
    assert (across.entry, across.exit) == pytest.approx((0.0, 0.0), abs=1e-12)
    assert across.toward == "rear"


@given(angles, angles, wraps, lengths, lengths, lengths)
def test_leaning_the_other_way_walks_the_other_way(
    lean: float, arrives: float, wrap: float, radius: float, before: float, after: float
) -> None:
    one = walk(lean, arrives, wrap, radius, before, after)
    other = walk(lean + math.pi, arrives, wrap, radius, before, after)
    assert {one.toward, other.toward} in ({"front", "rear"}, {"even"})


@given(angles, angles, wraps, lengths, lengths, lengths)
def test_turning_or_scaling_or_mirroring_the_drive_changes_no_sign(
    lean: float, arrives: float, wrap: float, radius: float, before: float, after: float
) -> None:
    parts = parts_m(lean, arrives, wrap, radius, before, after)
    assert parts_m(lean + 0.7, arrives + 0.7, wrap, radius, before, after) == pytest.approx(parts, abs=1e-12)
    assert parts_m(lean, arrives, wrap, 2 * radius, 2 * before, 2 * after) == pytest.approx(
        tuple(2 * part for part in parts), abs=1e-12
    )
    # Seen in a mirror (left for right): every angle in the plane changes its sign, front and rear stay.
    assert parts_m(-lean, -arrives, -wrap, radius, before, after) == pytest.approx(parts, abs=1e-12)


@given(st.lists(st.floats(0.6, 1.0), min_size=3, max_size=7), st.sampled_from([-1, 1]), angles, st.floats(0.001, 0.02))
def test_a_drive_tilted_as_a_whole_walks_nowhere(reach: list[float], way: int, lean: float, radius: float) -> None:
    """Round any closed path the chords and spans must add to nothing, whatever each pulley does alone."""
    count = len(reach)
    corners = [cmath.rect(r, way * 2 * math.pi * i / count) for i, r in enumerate(reach)]
    # Straight runs between the corners, each corner rounded by a small circle that touches both of its runs.
    runs = [after - before for before, after in zip(corners, [*corners[1:], corners[0]], strict=True)]
    turns = [cmath.phase(runs[i] / runs[i - 1]) for i in range(count)]
    assume(min(map(abs, turns)) > 0.01)
    trims = [radius * math.tan(abs(turn) / 2) for turn in turns]
    spans = [abs(runs[i]) - trims[i] - trims[(i + 1) % count] for i in range(count)]
    each = [parts_m(lean, cmath.phase(runs[i - 1]), turns[i], radius, spans[i - 1], spans[i]) for i in range(count)]
    assert min(spans) > 0
    assert max(abs(part) for parts in each for part in parts) > 0.01
    assert sum(part for parts in each for part in parts) == pytest.approx(0.0, abs=1e-9)


@given(angles, st.sampled_from([-1, 1]), wraps, lengths, lengths, st.floats(0.6, 3.0))
def test_practice_more_screw_at_the_front_brings_a_belt_back_from_the_front(
    arrives: float, way: int, wrap: float, radius: float, after: float, ratio: float
) -> None:
    """A screw that pushes its pulley squarely into the belt, span before over half the span after: toward the rear."""
    turn = way * wrap
    into_belt = arrives + turn / 2 + (math.pi / 2 if way < 0 else -math.pi / 2)
    entering, leaving = (
        complex(math.cos(arrives), math.sin(arrives)),
        complex(math.cos(arrives + turn), math.sin(arrives + turn)),
    )
    pull = leaving - entering
    # The belt's pull on the pulley, T (u_out - u_in), points against the push of the screw.
    assert math.cos(into_belt) * pull.real + math.sin(into_belt) * pull.imag < 0
    # What is left of entry against exit must be more than the fifth that counts as cancelled.
    assume(2 * ratio - 1 > 0.21 * (2 * ratio + 1))
    moved = walk(leaning(into_belt), arrives, turn, radius, ratio * after, after)
    assert moved.toward == "rear"
    assert "the idler's adjusters, more at the front" in reading_words("load", "front")


def test_the_two_ways_an_idler_leans_stand_square_to_each_other() -> None:
    assert leaning(0.3) == 0.3
    assert leaning(0.3, LEANS[1]) == pytest.approx(0.3 + math.pi / 2)
    with pytest.raises(ValueError, match='"sideways" is no way to lean; write along the slide or across the slide'):
        leaning(0.3, "sideways")  # type: ignore[arg-type]


def test_parts_that_cancel_give_no_sign() -> None:
    # Half wrap, span before half the span after: 2/3 x .1 against 1/3 x .2
    even = walk(0.0, 0.0, math.pi, 0.1, 0.1, 0.2)
    assert even.toward == "even"
    assert str(even).startswith("This tilt gives the belt no clear way to walk")


def test_a_walk_is_said_as_a_sign_with_what_it_cannot_see() -> None:
    said = str(walk(0.0, 0.0, math.pi, 0.1, 0.3, 0.2))
    assert said == (
        "The belt walks to the rear: on balance it meets the rear edge of the pulley first. Sign only; not seen: "
        "the twist of the belt's cord, which makes a belt walk by itself and changes with the belt; "
        "the lead of the teeth, on the belt and on the pulleys, which screws it sideways."
    )
    assert len(UNSEEN) == 2


def test_the_phases_lean_as_practice_has_them() -> None:
    expected = {phase: side for phase, (_, side) in PHASES.items()}
    assert expected == {"idle": "rear", "load": "even", "winding down": "front"}
    for phase, side in expected.items():
        assert "as it should" in reading_words(phase, side)


def test_each_screw_is_named_by_its_place_and_only_the_lean_under_load_asks_for_one() -> None:
    assert reading_words("load", "front") == (
        "Under load it leans to the front, but it should run even. The snout is too low: both jack screws in; or the "
        "idler's adjusters, more at the front (common practice, no source)."
    )
    assert "The snout is too high: both jack screws out; or the idler's adjusters, more at the rear" in reading_words(
        "load", "rear"
    )
    assert reading_words("idle", "front") == (
        "At idle it leans to the front, but it should lean to the rear. "
        "By itself that asks for no screw: what counts is how it runs under load."
    )
    assert "screw" not in reading_words("load", "even")


def test_what_cannot_be_is_refused_in_one_sentence() -> None:
    with pytest.raises(ValueError, match='"coasting" is no phase of a run; one of idle, load, winding down'):
        reading_words("coasting", "even")
    with pytest.raises(ValueError, match='"left" is no way a belt leans; write front, rear or even'):
        reading_words("load", "left")  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="A wrap of 0 degrees is none"):
        walk(0, 0, 0, 0.1, 0.1, 0.1)
    with pytest.raises(ValueError, match="The span before the pulley must be more than 0"):
        walk(0, 0, 1, 0.1, 0, 0.1)


@pytest.mark.parametrize("drive", DRIVES, ids=lambda path: path.stem)
def test_an_example_drive_turned_as_a_whole_walks_nowhere(drive: Path) -> None:
    path = set_up(read_drive(drive)).path
    for lean in (0.0, 1.0, 2.5):
        total = 0.0
        for place, arc in enumerate(path.arcs):
            before, after = path.spans[place - 1], path.spans[place]
            turned = arc.turn * arc.wrap_rad
            total += sum(parts_m(lean, before.heading_rad, turned, arc.radius_m, before.length_m, after.length_m))
        assert total == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize("drive", DRIVES, ids=lambda path: path.stem)
def test_on_every_example_drive_more_screw_at_the_idler_s_front_sends_the_belt_to_the_rear(drive: Path) -> None:
    whole = set_up(read_drive(drive))
    idler, slide = whole.layout.sliding, whole.layout.slide
    assert idler is not None
    assert slide is not None
    tightens = whole.path.length_per_move(idler, slide.direction_rad) > 0
    into_belt = slide.direction_rad + (0.0 if tightens else math.pi)
    assert walk_on(whole.path, idler, leaning(into_belt)).toward == "rear"


@pytest.mark.parametrize("drive", DRIVES, ids=lambda path: path.stem)
def test_on_no_example_drive_does_the_lift_of_the_blower_follow_from_normal_entry(drive: Path) -> None:
    """Entry and exit nearly cancel there, the span before the blower being some half of the span after it."""
    whole = set_up(read_drive(drive))
    blower = whole.layout.place("blower")
    lifted = walk_on(whole.path, blower, math.pi / 2)
    assert lifted.toward == "even"
    assert abs(lifted.entry + lifted.exit) < 0.1
    assert whole.path.spans[blower - 1].length_m / whole.path.spans[blower].length_m == pytest.approx(0.5, abs=0.13)
