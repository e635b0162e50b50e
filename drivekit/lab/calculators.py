"""Small calculators for the bench: each a row of controls that starts at the drive's own numbers, and a sentence.

Some ask what a person measures: they start at what the drive's own numbers would read, in its units.
"""

from __future__ import annotations

from collections.abc import Callable
from math import radians
from pathlib import Path
from typing import NamedTuple

from drivekit.drive import clamp, fitting, measured, screws, span_tension, stack
from drivekit.drive.layout import Bracket, StackPart
from drivekit.drive.recording import heard
from drivekit.drive.screws import INCH_THREADS, METRIC_PITCHES_MM, thread
from drivekit.drive.set_up import SetUp
from drivekit.drive.slack import blower_rpm
from drivekit.lab.drive_set_up import as_filed, turned
from drivekit.lab.season_study import Words
from drivekit.show.controls import Control, Drawing, Panel, amount, on_grid
from drivekit.units import Spoken, flats_words, refused_in

__all__ = ["CALCULATORS", "calculator", "recorded"]


class Dial(NamedTuple):
    """An amount that may be moved, here in a metric unit, by a person in the units of the drive."""

    label: str
    unit: str
    start: float
    low: float
    high: float
    step: float


Calculator = tuple[dict[str, Control | Dial], Callable[..., tuple[Spoken | str, ...]]]
"""What may be moved, each with the value it starts at; and what answers, amounts in, or ValueError with a sentence."""

THREADS = (
    *(f"{size}-{per_inch}" for size, both in INCH_THREADS.items() for per_inch in both),
    *(f"M{size}x{pitch:g}" for size, pitches in METRIC_PITCHES_MM.items() if 5 <= size <= 16 for pitch in pitches[:2]),
)
USUAL_THREAD = "3/8-24"
USUAL_BOOST_KPA, USUAL_EFFICIENCY = 300.0, 80.0
"""Where a blower's control starts; from memory, and no advice."""
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
    (controls, answer), units = CALCULATORS[name](found), found.layout.spoken
    unit_of = {key: one.unit for key, one in controls.items() if isinstance(one, Dial)}

    def redraw(**chosen: float) -> Drawing:
        metric = {key: units.metric(value, unit_of[key]) if key in unit_of else value for key, value in chosen.items()}
        return Drawing(None, tuple(one if isinstance(one, str) else one.said(units) for one in answer(**metric)))

    made = {key: amount(units, *one) if isinstance(one, Dial) else one for key, one in controls.items()}
    return Panel(made, redraw, units=units)


def _thread(label: str, own: str | None) -> Control:
    """Make a choice of threads; the drive's own leads where the usual list lacks it."""
    start = USUAL_THREAD if own is None else own
    return Control("choice", label, THREADS if start in THREADS else (start, *THREADS), start)


def _span(found: SetUp) -> Calculator:
    note, belt, read = found.reading.note, found.layout.belt, span_tension.tension_from_frequency
    return {
        "hz": on_grid("Note, Hz", note.frequency_hz, 20, 250, 0.1),
        "span": Dial("Free span", "mm", note.length_m * 1e3, 100, 900, 0.5),
        "mass": Dial("Belt", "g/m", belt.mass_kg_per_m * 1e3, 100, 1000, 1),
    }, lambda hz, span, mass: (read(hz, span / 1e3, mass / 1e3, belt.bending_n_m2),)


def _push(found: SetUp) -> Calculator:
    pushed, belt = found.reading.push, found.layout.belt
    stretch = {"stiffness_n": belt.stiffness_n, "belt_m": belt.length_m}
    return {
        "push": Dial("Push", "N", pushed.force_n, 20, 1500, 1),
        "sag": Dial("Deflection", "mm", pushed.deflection_m * 1e3, 1, 40, 0.05),
        "span": Dial("Free span", "mm", pushed.span_m * 1e3, 100, 900, 0.5),
    }, lambda push, sag, span: (span_tension.tension_from_push(push, sag / 1e3, span / 1e3, **stretch),)


def _jack_screws(found: SetUp) -> Calculator:
    own = found.layout.jack_screws
    apart_mm = 150.0 if own is None or own.spacing_m is None else own.spacing_m * 1e3

    def answer(screw: str, left: int, right: int, apart: float) -> tuple[Spoken, ...]:
        turned = thread(screw)
        return turned, screws.lift_and_tilt(turned, (left, right), apart / 1e3)

    return {
        "screw": _thread("Thread", None if own is None else own.thread),
        "left": Control("whole", "Left screw, flats from touch", (0, 24), 4),
        "right": Control("whole", "Right screw, flats from touch", (0, 24), 5),
        "apart": Dial("Screws apart", "mm", apart_mm, 50, 400, 1),
    }, answer


def _next_move(found: SetUp) -> Calculator:
    names = ("left", "right")

    def answer(left: int, right: int, to_left: int, to_right: int, straight: str) -> tuple[str, ...]:
        return (str(screws.next_move((left, right), (to_left, to_right), names=names, straight=straight)),)

    return {
        "left": Control("whole", "Left screw stands at, flats", (0, 24), 4),
        "right": Control("whole", "Right screw stands at, flats", (0, 24), 4),
        "to_left": Control("whole", "Left screw wanted at, flats", (0, 24), 3),
        "to_right": Control("whole", "Right screw wanted at, flats", (0, 24), 5),
        "straight": Control("choice", "Screw that stands straight under the load", names, "left"),
    }, answer


def _spacers(found: SetUp) -> Calculator:
    own, units, on_hand = found.layout.adjusters, found.layout.spoken, found.layout.spacers
    apart_mm = 90.0 if own is None or own.spacing_m is None else own.spacing_m * 1e3

    def answer(front: float, rear: float, apart: float, wanted_deg: float = 0.0) -> tuple[str, ...]:
        cocked = stack.cocking(front / 1e3, rear / 1e3, apart / 1e3).said(units)
        said = f"These two: {cocked}" if cocked.startswith("the") else cocked
        if len(on_hand) < 2:
            return said, "The drive file lists fewer than two spacers on hand, so no pair can be chosen."
        best = stack.best_spacers(on_hand, radians(wanted_deg), apart / 1e3).said(units)
        return said, f"Nearest to what is wanted, of those on hand: {best}"

    controls: dict[str, Control | Dial] = {
        "front": Dial("Front spacer", "mm", 3.1, 0, 10, 0.01),
        "rear": Dial("Rear spacer", "mm", 3.0, 0, 10, 0.01),
        "apart": Dial("Adjusters apart", "mm", apart_mm, 30, 300, 1),
    }
    if len(on_hand) > 1:
        controls["wanted_deg"] = Control("number", "Cocking wanted, degrees", (-0.5, 0.5), 0.1, 0.01)
    return controls, answer


def _manifold(found: SetUp) -> Calculator:
    own = found.layout.manifold
    base_mm, shim_mm = (300.0, 1.0) if own is None else (own.base_m * 1e3, own.shim_m * 1e3)

    def answer(base: float, shim: float, wanted_deg: float) -> tuple[Spoken | str, ...]:
        wanted = stack.shim(radians(wanted_deg), base / 1e3).said(found.layout.spoken)
        return stack.tilt(shim / 1e3, base / 1e3), f"For what is wanted: {wanted}"

    return {
        "base": Dial("Base", "mm", base_mm, 150, 500, 0.5),
        "shim": Dial("Shim", "mm", shim_mm, 0, 8, 0.05),
        "wanted_deg": Control("number", "Tilt wanted, degrees", (0.0, 2.0), 0.2, 0.01),
    }, answer


def _stack(found: SetUp) -> Calculator:
    bracket, parts, units = found.layout.bracket, found.layout.stack, found.layout.spoken
    gap_mm = 96.0 if bracket is None else bracket.gap_m * 1e3
    places = ("front", "idler", "rear")
    lengths = {place: sum(part.length_m * 1e3 for part in parts if part.place == place) for place in places}
    if not lengths["idler"]:
        lengths = {"front": 8.0, "idler": gap_mm - 16.0, "rear": 8.0}
    tolerance = max((part.tolerance_m * 1e3 for part in parts), default=0.05)
    wanted_mm = 0.2 if found.stack is None else found.stack.wanted_m * 1e3

    def answer(gap: float, tolerance: float, wanted: float, **long: float) -> tuple[Spoken | str, ...]:
        sizes = [{"name": place, "place": place, "length_m": mm / 1e3} for place, mm in long.items()]
        laid = [StackPart(**size, tolerance_m=tolerance / 1e3) for size in sizes]  # type: ignore[arg-type]
        own = 0.0 if bracket is None else bracket.gap_tolerance_m
        fitted = stack.stack_fit(Bracket(gap / 1e3, own, wanted / 1e3), laid)
        if fitted.clearance_m >= 0 or bracket is None or bracket.stiffness_n_per_m is None:
            return (fitted,)
        return fitted, stack.pried(-fitted.clearance_m, bracket.stiffness_n_per_m, units)

    return {
        "gap": Dial("Bracket's gap", "mm", gap_mm, gap_mm - 2, gap_mm + 2, 0.01),
        **{
            place: Dial(f"Parts at the {place}", "mm", mm, max(mm - 2, 0.1), mm + 2, 0.01)
            for place, mm in lengths.items()
        },
        "tolerance": Dial("Tolerance of each part", "mm", tolerance, 0, 0.3, 0.01),
        "wanted": Dial("Clearance wanted", "mm", wanted_mm, 0, 1, 0.01),
    }, answer


def _clamp(found: SetUp) -> Calculator:
    own, states = found.layout.clamp, tuple(clamp.NUT_FACTORS)
    slip_n, proof_pa = 5000.0 if found.grip is None else found.grip.slip_n, 830e6 if own is None else own.proof_pa

    def answer(screw: str, torque: float, state: str, slip: float, **faces: float) -> tuple[Spoken, ...]:
        bolt = clamp.preload(torque, thread(screw), state, proof_pa)
        return (clamp.grip(bolt, slip, **faces),)  # type: ignore[arg-type]

    return {
        "screw": _thread("Bolts", None if own is None else own.thread),
        "torque": Dial("Torque", "N m", 40.0 if own is None else own.torque_n_m, 5, 150, 0.5),
        "state": Control("choice", "State of the threads", states, "dry" if own is None else own.state),
        "bolts": Control("whole", "Bolts", (1, 12), 4 if own is None else own.bolts),
        "faces": Control("whole", "Pairs of faces", (1, 8), 2 if own is None else own.faces),
        "friction": on_grid("Friction of the faces", 0.12 if own is None else own.friction, 0.05, 0.4, 0.01),
        "slip": Dial("Force that makes it slip", "N", slip_n, 100, 20000, 10),
    }, answer


def _readings(found: SetUp) -> Calculator:
    set_n, names = found.layout.tension.set_n, ("First", "Second", "Third")
    return {
        name.lower(): Dial(f"{name} reading", "N", set_n, set_n / 2, set_n * 1.5, 10) for name in names
    }, lambda **read: (span_tension.readings([*read.values()]),)


def _weigh(found: SetUp) -> Calculator:
    belt, units = found.layout.belt, found.layout.spoken
    start = belt.mass_kg_per_m * belt.length_m * 1e3

    def answer(weighed: float) -> tuple[str, ...]:
        each = measured.mass_from(weighed / 1e3, belt.length_m) * 1e3
        return (f"{units.said(weighed, 'g')} on {units.long(belt.length_m)} of belt are {units.both(each, 'g/m')}.",)

    return {"weighed": Dial("Whole belt on the scale", "g", start, start / 2, start * 2, 1)}, answer


def _back(found: SetUp) -> Calculator:
    belt, units = found.layout.belt, found.layout.spoken
    tooth_mm, land_mm = belt.tooth_height_m * 1e3, belt.land_m * 1e3
    thick_mm = tooth_mm + land_mm + belt.back_m * 1e3

    def answer(thick: float, tooth: float, land: float) -> tuple[str, ...]:
        back = measured.back_from(thick / 1e3, tooth / 1e3, land / 1e3)
        return (f"From the pitch line to the back of the belt there are {units.length(back)}.",)

    return {
        "thick": Dial("Thickness, tip of a tooth to back", "mm", thick_mm, 1, 40, 0.05),
        "tooth": Dial("Height of a tooth", "mm", tooth_mm, 0.2, 30, 0.05),
        "land": Dial("Pitch line to land", "mm", land_mm, 0, 10, 0.05),
    }, answer


def _stiffness(found: SetUp) -> Calculator:
    layout, units = as_filed(found), found.layout.spoken
    tight_n = layout.tension.set_n
    loose_n = 0.9 * tight_n if found.gain is None else turned(found, -0.5).layout.tension.set_n

    def answer(loose: float, tight: float, turns: float) -> tuple[str, ...]:
        if tight <= loose:
            raise ValueError("Tighter turns must read more: the second reading is not above the first.")
        stiff = units.force(fitting.stiffness_by_turns(layout, loose, tight, turns))
        more = units.said(tight - loose, "N")
        return (f"{more} more in {turns:g} turns of every adjuster: tension over strain (EA) is {stiff}.",)

    return {
        "loose": Dial("First reading", "N", loose_n, 50, 20000, 10),
        "tight": Dial("Second reading, tighter", "N", tight_n, 50, 20000, 10),
        "turns": Control("number", "Turns of every adjuster between", (0.05, 4.0), 0.5, 0.05),
    }, answer


def _centre(found: SetUp) -> Calculator:
    layout, path, units = found.layout, found.path, found.layout.spoken
    idler = next((i for i, one in enumerate(layout.pulleys) if one.role == "idler"), 0)
    circles = [(arc.x_m, arc.y_m, arc.turn * arc.radius_m) for arc in path.arcs]
    before, after = circles[idler - 1], circles[(idler + 1) % len(circles)]
    spans = {"first": path.spans[idler - 1], "second": path.spans[idler]}
    side = "left" if circles[idler][0] < (before[0] + after[0]) / 2 else "right"

    def answer(first: float, second: float, stands: str) -> tuple[str, ...]:
        left, right = measured.centre_from(before, after, circles[idler][2], (first / 1e3, second / 1e3))
        x, y = (units.said(1e3 * one, "mm", 1) for one in (left if stands == "left" else right))
        at = f"x = {x}, y = {y}"
        return (f"Its centre stands at {at}; spans measured at travel 0 give the centre of the drive file.",)

    return {
        **{
            name: Dial(f"Free span {span.leaves} to {span.meets}", "mm", span.length_m * 1e3, 50, 900, 0.5)
            for name, span in spans.items()
        },
        "stands": Control("choice", "Seen from the front it stands", ("left", "right"), side),
    }, answer


def _power(found: SetUp) -> Calculator:
    units, power = found.layout.spoken, found.states[2].tensions.power_w
    rpm = blower_rpm(found.layout, found.layout.engine.crank_rpm)
    size = power * USUAL_EFFICIENCY / 100 / (rpm / 60 * USUAL_BOOST_KPA * 1e3) * 1e3

    def answer(litres: float, rpm: float, boost: float, percent: float) -> tuple[str, ...]:
        taken = measured.blower_power_from(litres / 1e3, rpm, boost * 1e3, percent / 100)
        asked = f"{units.said(litres, 'L', 1)} a turn at {rpm:,.0f} rpm against {units.said(boost, 'kPa')}"
        return (f"{asked} take {units.both(taken / 1e3, 'kW')}; a blower that compresses inside takes less.",)

    return {
        "litres": Dial("Displacement a turn", "L", size, 0.5, 30, 0.1),
        "rpm": on_grid("Blower speed, rpm", rpm, 500, 30000, 50),
        "boost": Dial("Boost", "kPa", USUAL_BOOST_KPA, 10, 600, 1),
        "percent": Control("number", "Efficiency, %", (20.0, 100.0), USUAL_EFFICIENCY, 1),
    }, answer


def _square(found: SetUp) -> Calculator:
    units, own = found.layout.spoken, found.layout.adjusters

    def answer(gap: float, base: float, end: str) -> tuple[str, ...]:
        if own is None or own.spacing_m is None:
            raise ValueError("The drive file gives no adjusters, or not how far apart they stand.")
        flat_m = screws.height(thread(own.thread), 1, ends=own.ends)
        flats = flats_words(measured.square_flats(gap / 1e3, base / 1e3, own.spacing_m, flat_m))
        turn = f"the {end} out by that, or half of it there and half in at the other end, which keeps the tension"
        return (f"{units.length(gap / 1e3)} over {units.long(base / 1e3)} is {flats} of one adjuster: {turn}.",)

    return {
        "gap": Dial("Gap at the feeler, or the dial's travel", "mm", 0.1, 0, 3, 0.01),
        "base": Dial("Over a base of", "mm", found.layout.belt.width_m * 1e3, 20, 400, 1),
        "end": Control("choice", "End that stands out", ("front", "rear"), "front"),
    }, answer


def _change(found: SetUp) -> Calculator:
    control = Dial("Belt loose by", "mm", 10, 1, 60, 0.5)
    return {"loose": control}, lambda loose: (fitting.belt_change(found.layout, loose / 1e3),)


def _snout(found: SetUp) -> Calculator:
    def answer(flats: int) -> tuple[str, ...]:
        if found.jack_flat is None:
            raise ValueError("The drive file gives no jack screws.")
        return (found.jack_flat.turned(flats, found.layout.spoken),)

    return {"flats": Control("whole", "Flats of both jack screws, in above 0", (-6, 6), 1)}, answer


CALCULATORS: dict[str, Callable[[SetUp], Calculator]] = {
    "span": _span,
    "push": _push,
    "jack screws": _jack_screws,
    "next move": _next_move,
    "spacers": _spacers,
    "manifold": _manifold,
    "stack": _stack,
    "clamp": _clamp,
    "readings": _readings,
    "weigh": _weigh,
    "back": _back,
    "stiffness": _stiffness,
    "idler centre": _centre,
    "blower power": _power,
    "square": _square,
    "belt change": _change,
    "snout": _snout,
}
"""By name; each starts at the drive's own numbers, or at usual ones where its file gives none."""
