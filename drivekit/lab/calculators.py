"""Small calculators for the bench: each a row of controls that starts at the drive's own numbers, and a sentence."""

from __future__ import annotations

from collections.abc import Callable
from math import radians
from pathlib import Path

from drivekit.drive import clamp, screws, span_tension, stack
from drivekit.drive.layout import Bracket, StackPart
from drivekit.drive.recording import heard
from drivekit.drive.screws import INCH_THREADS, METRIC_PITCHES_MM, thread
from drivekit.drive.set_up import SetUp
from drivekit.lab.measuring import MEASURING, Calculator
from drivekit.lab.season_study import Words
from drivekit.show.controls import Control, Drawing, Panel, amount, on_grid
from drivekit.units import refused_in

__all__ = ["CALCULATORS", "calculator", "recorded"]

THREADS = (
    *(f"{size}-{per_inch}" for size, both in INCH_THREADS.items() for per_inch in both),
    *(f"M{size}x{pitch:g}" for size, pitches in METRIC_PITCHES_MM.items() if 5 <= size <= 16 for pitch in pitches[:2]),
)
USUAL_THREAD = "3/8-24"
HOW_TO_RECORD = (
    "Engine off and made safe: lay a telephone near the span, record a second of quiet and then three plucks or more, "
    "two seconds apart, and save it as an uncompressed WAV file; its name goes between the quotes."
)


def recorded(found: SetUp, recording: str = "") -> Words:
    """Say the note of the span that is plucked in a recording, and the tension it means.

    Parameters
    ----------
    found : SetUp
        The drive: its span, the belt's mass and stiffness.
    recording : str
        A WAV file; without one, how to make it.
    """
    if not recording:
        return Words((HOW_TO_RECORD,))
    try:
        note = heard(Path(recording).read_bytes())
    except OSError as trouble:
        return Words((f"{recording} cannot be read: {trouble.strerror}.",))
    if note.frequency_hz is None:
        return Words((str(note),))
    belt, length_m, units = found.layout.belt, found.reading.note.length_m, found.layout.spoken
    try:
        read = span_tension.tension_from_frequency(note.frequency_hz, length_m, belt.mass_kg_per_m, belt.bending_n_m2)
    except ValueError as refusal:
        return Words((str(note), f"{refused_in(units, refusal)}."))
    return Words((str(note), read.said(units)))


def calculator(found: SetUp, name: str) -> Panel:
    """Lay out one of `CALCULATORS`: its controls, at the drive's own numbers, above the sentences that answer them.

    Raises
    ------
    ValueError
        If there is no such calculator.
    """
    if name not in CALCULATORS:
        raise ValueError(f'there is no calculator "{name}"; there are {", ".join(CALCULATORS)}')
    controls, answer = CALCULATORS[name](found)
    return Panel(controls, lambda **chosen: Drawing(None, answer(**chosen)), units=found.layout.spoken)


def _thread(label: str, own: str | None) -> Control:
    """Make a choice of threads; the drive's own leads where the usual list lacks it."""
    start = USUAL_THREAD if own is None else own
    return Control("choice", label, THREADS if start in THREADS else (start, *THREADS), start)


def _span(found: SetUp) -> Calculator:
    note, belt, units = found.reading.note, found.layout.belt, found.layout.spoken

    def answer(hz: float, span: float, mass: float) -> tuple[str, ...]:
        length_m, kg_per_m = units.metric(span, "mm") / 1e3, units.metric(mass, "g/m") / 1e3
        return (span_tension.tension_from_frequency(hz, length_m, kg_per_m, belt.bending_n_m2).said(units),)

    controls = {
        "hz": on_grid("Note, Hz", note.frequency_hz, 20, 250, 0.1),
        "span": amount(units, "Free span", "mm", note.length_m * 1e3, 100, 900, 0.5),
        "mass": amount(units, "Belt", "g/m", belt.mass_kg_per_m * 1e3, 100, 1000, 1),
    }
    return controls, answer


def _push(found: SetUp) -> Calculator:
    pushed, belt, units = found.reading.push, found.layout.belt, found.layout.spoken
    stretch = {"stiffness_n": belt.stiffness_n, "belt_m": belt.length_m}

    def answer(push: float, sag: float, span: float) -> tuple[str, ...]:
        read = units.metric(push, "N"), units.metric(sag, "mm") / 1e3, units.metric(span, "mm") / 1e3
        return (span_tension.tension_from_push(*read, **stretch).said(units),)

    controls = {
        "push": amount(units, "Push", "N", pushed.force_n, 20, 1500, 1),
        "sag": amount(units, "Deflection", "mm", pushed.deflection_m * 1e3, 1, 40, 0.05),
        "span": amount(units, "Free span", "mm", pushed.span_m * 1e3, 100, 900, 0.5),
    }
    return controls, answer


def _jack_screws(found: SetUp) -> Calculator:
    own, units = found.layout.jack_screws, found.layout.spoken
    apart_mm = 150.0 if own is None or own.spacing_m is None else own.spacing_m * 1e3

    def answer(screw: str, left: int, right: int, apart: float) -> tuple[str, ...]:
        turned, apart_m = thread(screw), units.metric(apart, "mm") / 1e3
        return turned.said(units), screws.lift_and_tilt(turned, (left, right), apart_m).said(units)

    controls = {
        "screw": _thread("Thread", None if own is None else own.thread),
        "left": Control("whole", "Left screw, flats from touch", (0, 24), 4),
        "right": Control("whole", "Right screw, flats from touch", (0, 24), 5),
        "apart": amount(units, "Screws apart", "mm", apart_mm, 50, 400, 1),
    }
    return controls, answer


def _next_move(found: SetUp) -> Calculator:
    names = ("left", "right")

    def answer(left: int, right: int, to_left: int, to_right: int, straight: str) -> tuple[str, ...]:
        return (str(screws.next_move((left, right), (to_left, to_right), names=names, straight=straight)),)

    controls = {
        "left": Control("whole", "Left screw stands at, flats", (0, 24), 4),
        "right": Control("whole", "Right screw stands at, flats", (0, 24), 4),
        "to_left": Control("whole", "Left screw wanted at, flats", (0, 24), 3),
        "to_right": Control("whole", "Right screw wanted at, flats", (0, 24), 5),
        "straight": Control("choice", "Screw that stands straight under the load", names, "left"),
    }
    return controls, answer


def _spacers(found: SetUp) -> Calculator:
    own, units = found.layout.adjusters, found.layout.spoken
    apart_mm = 90.0 if own is None or own.spacing_m is None else own.spacing_m * 1e3
    on_hand = found.layout.spacers

    def answer(front: float, rear: float, apart: float, wanted_deg: float = 0.0) -> tuple[str, ...]:
        front_m, rear_m, apart_m = (units.metric(one, "mm") / 1e3 for one in (front, rear, apart))
        cocked = stack.cocking(front_m, rear_m, apart_m).said(units)
        said = f"These two: {cocked}" if cocked.startswith("the") else cocked
        if len(on_hand) < 2:
            return said, "The drive file lists fewer than two spacers on hand, so no pair can be chosen."
        best = stack.best_spacers(on_hand, radians(wanted_deg), apart_m).said(units)
        return said, f"Nearest to what is wanted, of those on hand: {best}"

    controls = {
        "front": amount(units, "Front spacer", "mm", 3.1, 0, 10, 0.01),
        "rear": amount(units, "Rear spacer", "mm", 3.0, 0, 10, 0.01),
        "apart": amount(units, "Adjusters apart", "mm", apart_mm, 30, 300, 1),
    }
    if len(on_hand) > 1:
        controls["wanted_deg"] = Control("number", "Cocking wanted, degrees", (-0.5, 0.5), 0.1, 0.01)
    return controls, answer


def _manifold(found: SetUp) -> Calculator:
    own, units = found.layout.manifold, found.layout.spoken
    base_mm, shim_mm = (300.0, 1.0) if own is None else (own.base_m * 1e3, own.shim_m * 1e3)

    def answer(base: float, shim: float, wanted_deg: float) -> tuple[str, ...]:
        base_m, shim_m = units.metric(base, "mm") / 1e3, units.metric(shim, "mm") / 1e3
        wanted = stack.shim(radians(wanted_deg), base_m).said(units)
        return stack.tilt(shim_m, base_m).said(units), f"For what is wanted: {wanted}"

    controls = {
        "base": amount(units, "Base", "mm", base_mm, 150, 500, 0.5),
        "shim": amount(units, "Shim", "mm", shim_mm, 0, 8, 0.05),
        "wanted_deg": Control("number", "Tilt wanted, degrees", (0.0, 2.0), 0.2, 0.01),
    }
    return controls, answer


def _stack(found: SetUp) -> Calculator:
    bracket, units = found.layout.bracket, found.layout.spoken
    gap_mm = 96.0 if bracket is None else bracket.gap_m * 1e3
    lengths = {place: sum(part.length_m * 1e3 for part in found.layout.stack if part.place == place) for place in
               ("front", "idler", "rear")}  # fmt: skip
    if not lengths["idler"]:
        lengths = {"front": 8.0, "idler": gap_mm - 16.0, "rear": 8.0}
    tolerance = max((part.tolerance_m * 1e3 for part in found.layout.stack), default=0.05)
    wanted_mm = 0.2 if found.stack is None else found.stack.wanted_m * 1e3

    def answer(gap: float, front: float, idler: float, rear: float, tolerance: float, wanted: float) -> tuple[str, ...]:
        sizes = {"front": front, "idler": idler, "rear": rear, "off": tolerance, "gap": gap, "wanted": wanted}
        metres = {name: units.metric(size, "mm") / 1e3 for name, size in sizes.items()}
        parts = [
            StackPart(name=place, length_m=metres[place], tolerance_m=metres["off"], place=place)  # type: ignore[arg-type]
            for place in lengths
        ]
        own = 0.0 if bracket is None else bracket.gap_tolerance_m
        fitted = stack.stack_fit(Bracket(metres["gap"], own, metres["wanted"]), parts)
        if fitted.clearance_m >= 0 or bracket is None or bracket.stiffness_n_per_m is None:
            return (fitted.said(units),)
        return fitted.said(units), stack.pried(-fitted.clearance_m, bracket.stiffness_n_per_m, units)

    controls = {
        "gap": amount(units, "Bracket's gap", "mm", gap_mm, gap_mm - 2, gap_mm + 2, 0.01),
        **{
            place: amount(units, f"Parts at the {place}", "mm", mm, max(mm - 2, 0.1), mm + 2, 0.01)
            for place, mm in lengths.items()
        },
        "tolerance": amount(units, "Tolerance of each part", "mm", tolerance, 0, 0.3, 0.01),
        "wanted": amount(units, "Clearance wanted", "mm", wanted_mm, 0, 1, 0.01),
    }
    return controls, answer


def _clamp(found: SetUp) -> Calculator:
    own, units = found.layout.clamp, found.layout.spoken
    slip_n = 5000.0 if found.grip is None else found.grip.slip_n
    states = tuple(clamp.NUT_FACTORS)
    proof_mpa = 830.0 if own is None else own.proof_pa / 1e6

    def answer(
        screw: str, torque: float, state: str, bolts: int, faces: int, friction: float, slip: float
    ) -> tuple[str, ...]:
        bolt = clamp.preload(units.metric(torque, "N m"), thread(screw), state, proof_mpa * 1e6)
        slip_n = units.metric(slip, "N")
        return (clamp.grip(bolt, slip_n, bolts=bolts, faces=faces, friction=friction).said(units),)

    controls = {
        "screw": _thread("Bolts", None if own is None else own.thread),
        "torque": amount(units, "Torque", "N m", 40.0 if own is None else own.torque_n_m, 5, 150, 0.5),
        "state": Control("choice", "State of the threads", states, "dry" if own is None else own.state),
        "bolts": Control("whole", "Bolts", (1, 12), 4 if own is None else own.bolts),
        "faces": Control("whole", "Pairs of faces", (1, 8), 2 if own is None else own.faces),
        "friction": on_grid("Friction of the faces", 0.12 if own is None else own.friction, 0.05, 0.4, 0.01),
        "slip": amount(units, "Force that makes it slip", "N", slip_n, 100, 20000, 10),
    }
    return controls, answer


CALCULATORS: dict[str, Callable[[SetUp], Calculator]] = {
    "span": _span,
    "push": _push,
    "jack screws": _jack_screws,
    "next move": _next_move,
    "spacers": _spacers,
    "manifold": _manifold,
    "stack": _stack,
    "clamp": _clamp,
    **MEASURING,
}
"""By name; each starts at the drive's own numbers, or at usual ones where its file gives none."""
