"""The order of work of a drive's set-up, with the numbers its computation gives: the steps of the set-up card."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from drivekit.drive.amounts import POUND_N, force_words, length_words
from drivekit.drive.threads import FLATS_IN_A_TURN
from drivekit.show.cards import Step, set_up_card

if TYPE_CHECKING:
    from drivekit.decide.tracking import Tracking
    from drivekit.drive.set_up import SetUp

__all__ = ["ESTIMATES", "PHASE_GUIDE", "card_for", "order_of_work"]

ESTIMATES = "Blue numbers are computed from the drive file: estimates. The makers' limits and the rule book decide."
PHASE_GUIDE = (
    "Reading the edges: at idle the belt leans to the rear, winding down to the front, under load it should run even.",
    "Off the front under load: more jack screw at the front; off the rear: more at the rear (common practice).",
)


def card_for(set_up: SetUp, cautions: Sequence[str], tracking: Tracking | None = None) -> bytes:
    """Draw the set-up card of a drive as a PDF of one page; an invented drive is called so.

    Parameters
    ----------
    set_up : SetUp
        The computed set-up of the drive.
    cautions : sequence of str
        They stand first.
    tracking : Tracking, optional
        What the car's own readings say of its idler flats.
    """
    name = f"{set_up.layout.name} (invented example)" if set_up.layout.invented else set_up.layout.name
    return set_up_card(name, order_of_work(set_up, tracking), cautions, note=ESTIMATES)


def order_of_work(set_up: SetUp, tracking: Tracking | None = None) -> tuple[Step, ...]:
    """List the work of a set-up in its order; a step whose number the drive file does not give stands without one.

    Parameters
    ----------
    set_up : SetUp
        The computed set-up of the drive.
    tracking : Tracking, optional
        What the car's own readings say of its idler flats.
    """
    return (
        Step(
            "Zero the screws",
            "Back every screw off, bring each to first touch by hand: that is zero. Count flats (sixths of a turn) "
            "from there; never leave a screw short of touch.",
            _jack_words(set_up),
            ("snout left, flats", "snout right, flats"),
        ),
        Step(
            "Idler in, marked side out",
            "Slide the stack into the bracket by hand. It must go in without spreading the bracket.",
            _stack_words(set_up),
            ("marked side out", "play, mm"),
        ),
        Step(
            "Tension the belt",
            "Cold, belt at rest, same tooth at the mark. Read three times.",
            _tension_words(set_up),
            ("1st, N or Hz", "2nd", "3rd"),
        ),
        Step(
            "Square the idler to neutral",
            "Straight screw first, then the other to touch; both alike is neutral.",
            _neutral_words(set_up, tracking),
            ("idler front, flats", "idler rear, flats"),
        ),
        Step(
            "Turn by hand",
            "Plugs out. Two turns of the belt forward; watch both edges on every pulley.",
            boxes=("walks: front, even, rear",),
        ),
        Step("Recheck the tension", "Same span, same tooth. Set again if it moved.", boxes=("tension, N or Hz",)),
        Step("Lock nuts", "Hold the screw, tighten the nut: no flat may move.", _clamp_words(set_up), ("torque",)),
        Step("Grease the edges", "Never, when fitted, or before every run: as planned.", boxes=("kind", "how often")),
        Step(
            "Warm up",
            "Guards and restraint on, everybody clear. At idle it leans to the rear, winding down to the front; under "
            "load it should run even.",
            boxes=("idle leans", "winding down leans"),
        ),
        Step(
            "Edge temperatures",
            "Right after, engine off and made safe again: both edges at the same place.",
            _even_words(tracking),
            ("front, °C", "rear, °C"),
        ),
        Step(
            "Inspection",
            "Teeth, cord, edges, surface, shade. A belt whose look says off comes off.",
            boxes=("teeth", "cord", "edges", "shade"),
        ),
        Step("Guards and restraint", "Refitted as the rule book says.", boxes=("refitted, by",)),
    )


def _jack_words(set_up: SetUp) -> str:
    jack = set_up.jack_flat
    flat = "" if jack is None else f"One flat lifts the snout at its screw by {length_words(jack.height_m)}."
    shim = "" if set_up.tilt is None else f"Manifold: {_lower(str(set_up.tilt))}"
    return " ".join(part for part in (flat, shim) if part)


def _stack_words(set_up: SetUp) -> str:
    stack = set_up.stack
    if stack is None:
        return ""
    low, high = (edge * 1e3 for edge in stack.worst_m)
    wanted = f"shim {length_words(stack.shim_m)}" if stack.shim_m else f"cut {length_words(stack.cut_m)}"
    after = f"; for no play {wanted}" if stack.shim_m or stack.cut_m else ""
    return f"Clearance {stack.clearance_m * 1e3:+.3f} mm ({low:+.3f} to {high:+.3f}): it {stack.verdict}{after}."


def _tension_words(set_up: SetUp) -> str:
    note, push = set_up.reading.note, set_up.reading.push
    gain = "" if set_up.gain is None else f" One flat of every adjuster: {force_words(set_up.gain.per_flat_n)}."
    return (
        f"Set {force_words(set_up.layout.tension.set_n)} a span: {note.frequency_hz:.1f} Hz on a span of "
        f"{note.length_m * 1e3:.0f} mm, or {push.deflection_m * 1e3:.1f} mm under {force_words(push.force_n)}.{gain}"
    )


def _neutral_words(set_up: SetUp, tracking: Tracking | None) -> str:
    travel = ""
    if set_up.gain is not None:
        flat_m = set_up.gain.travel_per_turn_m / FLATS_IN_A_TURN
        travel = f"One flat moves its end of the idler by {length_words(flat_m)}."
    if tracking is None or tracking.move.flats is None:
        return travel
    return f"{travel} From the record: {_lower(str(tracking.move))}".strip()


def _even_words(tracking: Tracking | None) -> str:
    if tracking is None or tracking.zero.lower is None:
        return ""
    return f"This car has run even at {tracking.zero.words('net flats')}, front less rear."


def _clamp_words(set_up: SetUp) -> str:
    if set_up.grip is None:
        return set_up.grip_refused
    grip = set_up.grip
    torque = grip.preload.torque_n_m
    holds = f"it holds {grip.factor.likely:.1f} times ({grip.factor.least:.1f} at its least) what makes the idler slip"
    return f"Clamp {torque:.0f} N m ({torque / POUND_N / 0.3048:.0f} lbf ft), threads {grip.preload.state}: {holds}."


def _lower(sentence: str) -> str:
    return f"{sentence[:1].lower()}{sentence[1:]}"
