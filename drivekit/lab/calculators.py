"""Small calculators for the bench: each a row of controls that starts at the drive's own numbers, and a sentence."""

from __future__ import annotations

from collections.abc import Callable
from math import radians
from pathlib import Path
from typing import TYPE_CHECKING

from drivekit.drive import clamp, screws, span_tension, stack
from drivekit.drive.layout import Bracket, StackPart
from drivekit.drive.recording import heard
from drivekit.drive.screws import INCH_THREADS, METRIC_PITCHES_MM, thread
from drivekit.drive.set_up import SetUp
from drivekit.lab.measuring import MEASURING, Calculator
from drivekit.lab.season_study import Words
from drivekit.show.controls import Control, Drawing, on_grid, panel
from drivekit.units import INCH_M

if TYPE_CHECKING:
    from ipywidgets import VBox

__all__ = ["CALCULATORS", "calculated", "calculator", "recorded"]

THREADS = (
    *(f"{size}-{per_inch}" for size, both in INCH_THREADS.items() for per_inch in both),
    *(f"M{size}x{pitch:g}" for size, pitches in METRIC_PITCHES_MM.items() if 5 <= size <= 16 for pitch in pitches[:2]),
)
USUAL_THREAD = "3/8-24"
HOW_TO_RECORD = (
    "Engine off and made safe: lay a telephone near the span, record a second of quiet and then three plucks or more, "
    "two seconds apart, and save it as an uncompressed WAV file; its name goes between the quotes."
)


def calculated(found: SetUp, name: str) -> Words:
    """Answer one of `CALCULATORS` with the drive's own numbers."""
    controls, answer = _made(found, name)
    try:
        return Words(answer(**{key: control.start for key, control in controls.items()}))
    except ValueError as refused:
        return Words((str(refused),))


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
    belt, length_m = found.layout.belt, found.reading.note.length_m
    read = span_tension.tension_from_frequency(note.frequency_hz, length_m, belt.mass_kg_per_m, belt.bending_n_m2)
    return Words((str(note), str(read)))


def calculator(found: SetUp, name: str) -> VBox:
    """Lay out a calculator's controls above the sentences that answer them; parameters as in `calculated`."""
    controls, answer = _made(found, name)
    return panel(controls, lambda **chosen: Drawing(None, answer(**chosen)))


def _made(found: SetUp, name: str) -> Calculator:
    if name not in CALCULATORS:
        raise ValueError(f'there is no calculator "{name}"; there are {", ".join(CALCULATORS)}')
    return CALCULATORS[name](found)


def _thread(label: str, own: str | None) -> Control:
    """Make a choice of threads; the drive's own leads where the usual list lacks it."""
    start = USUAL_THREAD if own is None else own
    return Control("choice", label, THREADS if start in THREADS else (start, *THREADS), start)


def _span(found: SetUp) -> Calculator:
    note, belt = found.reading.note, found.layout.belt

    def answer(hz: float, mm: float, g_per_m: float) -> tuple[str, ...]:
        return (str(span_tension.tension_from_frequency(hz, mm / 1e3, g_per_m / 1e3, belt.bending_n_m2)),)

    controls = {
        "hz": on_grid("Note, Hz", round(note.frequency_hz, 1), 20, 250, 0.1),
        "mm": on_grid("Free span, mm", round(note.length_m * 1e3, 1), 100, 900, 0.5),
        "g_per_m": on_grid("Belt, g a metre", belt.mass_kg_per_m * 1e3, 100, 1000, 1),
    }
    return controls, answer


def _push(found: SetUp) -> Calculator:
    pushed, belt = found.reading.push, found.layout.belt

    def answer(newtons: float, mm: float, span_mm: float) -> tuple[str, ...]:
        read = span_tension.tension_from_push(
            newtons, mm / 1e3, span_mm / 1e3, stiffness_n=belt.stiffness_n, belt_m=belt.length_m
        )
        return (str(read),)

    controls = {
        "newtons": on_grid("Push, N", round(pushed.force_n), 20, 1500, 1),
        "mm": on_grid("Deflection, mm", round(pushed.deflection_m * 1e3, 2), 1, 40, 0.05),
        "span_mm": on_grid("Free span, mm", round(pushed.span_m * 1e3, 1), 100, 900, 0.5),
    }
    return controls, answer


def _jack_screws(found: SetUp) -> Calculator:
    own = found.layout.jack_screws
    apart_mm = 150.0 if own is None or own.spacing_m is None else own.spacing_m * 1e3

    def answer(screw: str, left: int, right: int, apart_mm: float) -> tuple[str, ...]:
        turned = thread(screw)
        return str(turned), str(screws.lift_and_tilt(turned, (left, right), apart_mm / 1e3))

    controls = {
        "screw": _thread("Thread", None if own is None else own.thread),
        "left": Control("whole", "Left, flats from touch", (0, 24), 4),
        "right": Control("whole", "Right, flats from touch", (0, 24), 5),
        "apart_mm": on_grid("Apart, mm", apart_mm, 50, 400, 1),
    }
    return controls, answer


def _next_move(found: SetUp) -> Calculator:
    names = ("left", "right")

    def answer(left: int, right: int, to_left: int, to_right: int, straight: str) -> tuple[str, ...]:
        return (str(screws.next_move((left, right), (to_left, to_right), names=names, straight=straight)),)

    controls = {
        "left": Control("whole", "Left stands at, flats", (0, 24), 4),
        "right": Control("whole", "Right stands at, flats", (0, 24), 4),
        "to_left": Control("whole", "Left wanted, flats", (0, 24), 3),
        "to_right": Control("whole", "Right wanted, flats", (0, 24), 5),
        "straight": Control("choice", "Straight one", names, "left"),
    }
    return controls, answer


def _spacers(found: SetUp) -> Calculator:
    own = found.layout.adjusters
    apart_mm = 90.0 if own is None or own.spacing_m is None else own.spacing_m * 1e3
    on_hand = found.layout.spacers

    def answer(front_mm: float, rear_mm: float, wanted_deg: float, apart_mm: float) -> tuple[str, ...]:
        cocked = str(stack.cocking(front_mm / 1e3, rear_mm / 1e3, apart_mm / 1e3))
        said = f"These two: {cocked}" if cocked.startswith("the") else cocked
        if len(on_hand) < 2:
            return said, "The drive file lists fewer than two spacers on hand, so no pair can be chosen."
        best = stack.best_spacers(on_hand, radians(wanted_deg), apart_mm / 1e3)
        return said, f"Nearest to what is wanted, of those on hand: {best}"

    controls = {
        "front_mm": Control("number", "Front spacer, mm", (0.0, 10.0), 3.1, 0.01),
        "rear_mm": Control("number", "Rear spacer, mm", (0.0, 10.0), 3.0, 0.01),
        "wanted_deg": Control("number", "Cocking wanted, degrees", (-0.5, 0.5), 0.1, 0.01),
        "apart_mm": on_grid("Apart, mm", apart_mm, 30, 300, 1),
    }
    return controls, answer


def _manifold(found: SetUp) -> Calculator:
    own = found.layout.manifold
    base_in = 12.0 if own is None else own.base_m / INCH_M
    shim_in = 0.04 if own is None else own.shim_m / INCH_M

    def answer(base_in: float, shim_in: float, wanted_deg: float) -> tuple[str, ...]:
        wanted = stack.shim(radians(wanted_deg), base_in * INCH_M)
        return str(stack.tilt(shim_in * INCH_M, base_in * INCH_M)), f"For what is wanted: {wanted}"

    controls = {
        "base_in": on_grid("Base, in", base_in, 6, 20, 0.01),
        "shim_in": on_grid("Shim, in", shim_in, 0, 0.3, 0.001),
        "wanted_deg": Control("number", "Tilt wanted, degrees", (0.0, 2.0), 0.2, 0.01),
    }
    return controls, answer


def _stack(found: SetUp) -> Calculator:
    bracket = found.layout.bracket
    gap_mm = 96.0 if bracket is None else bracket.gap_m * 1e3
    lengths = {place: sum(part.length_m * 1e3 for part in found.layout.stack if part.place == place) for place in
               ("front", "idler", "rear")}  # fmt: skip
    if not lengths["idler"]:
        lengths = {"front": 8.0, "idler": gap_mm - 16.0, "rear": 8.0}
    tolerance = max((part.tolerance_m * 1e3 for part in found.layout.stack), default=0.05)
    wanted_mm = 0.2 if found.stack is None else found.stack.wanted_m * 1e3

    def answer(gap: float, front: float, idler: float, rear: float, tolerance: float, wanted: float) -> tuple[str, ...]:
        sizes = {"front": front, "idler": idler, "rear": rear}
        parts = [
            StackPart(name=place, length_m=mm / 1e3, tolerance_m=tolerance / 1e3, place=place)  # type: ignore[arg-type]
            for place, mm in sizes.items()
        ]
        own = 0.0 if bracket is None else bracket.gap_tolerance_m
        fitted = stack.stack_fit(Bracket(gap / 1e3, own, wanted / 1e3), parts)
        if fitted.clearance_m >= 0 or bracket is None or bracket.stiffness_n_per_m is None:
            return (str(fitted),)
        return str(fitted), stack.pried(-fitted.clearance_m, bracket.stiffness_n_per_m)

    controls = {
        "gap": on_grid("Bracket's gap, mm", round(gap_mm, 2), gap_mm - 2, gap_mm + 2, 0.01),
        **{
            place: on_grid(f"{place.capitalize()}, mm", round(mm, 2), max(mm - 2, 0.1), mm + 2, 0.01)
            for place, mm in lengths.items()
        },
        "tolerance": Control("number", "Each part within, mm", (0.0, 0.3), round(tolerance, 2), 0.01),
        "wanted": Control("number", "Clearance wanted, mm", (0.0, 1.0), round(wanted_mm, 2), 0.01),
    }
    return controls, answer


def _clamp(found: SetUp) -> Calculator:
    own = found.layout.clamp
    slip_n = 5000.0 if found.grip is None else found.grip.slip_n
    states = tuple(clamp.NUT_FACTORS)
    proof_mpa = 830.0 if own is None else own.proof_pa / 1e6

    def answer(
        screw: str, torque: float, state: str, bolts: int, faces: int, friction: float, slip_n: float
    ) -> tuple[str, ...]:
        bolt = thread(screw)
        tight = {"bolts": bolts, "faces": faces, "friction": friction}
        held = clamp.grip(clamp.preload(torque, bolt, state, proof_mpa * 1e6), slip_n, **tight)  # type: ignore[arg-type]
        return (str(held),)

    controls = {
        "screw": _thread("Bolts", None if own is None else own.thread),
        "torque": on_grid("Torque, N m", 40.0 if own is None else round(own.torque_n_m, 1), 5, 150, 0.5),
        "state": Control("choice", "Threads", states, "dry" if own is None else own.state),
        "bolts": Control("whole", "Bolts", (1, 12), 4 if own is None else own.bolts),
        "faces": Control("whole", "Pairs of faces", (1, 8), 2 if own is None else own.faces),
        "friction": on_grid("Friction of the faces", 0.12 if own is None else own.friction, 0.05, 0.4, 0.01),
        "slip_n": on_grid("Makes it slip, N", round(slip_n), 100, 20000, 10),
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
