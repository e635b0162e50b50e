"""Small calculators for the bench: each a row of controls that starts at the drive's own numbers, and a sentence.

Some ask what a person measures: they start at what the drive's own numbers would read, in its units. What may be moved,
from where and how far, stands in `calculators.toml`.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from functools import partial, reduce
from math import radians
from pathlib import Path
from typing import Any

from drivekit.drive import clamp, fitting, measured, screws, stack
from drivekit.drive.layout import Bracket, StackPart
from drivekit.drive.recording import heard
from drivekit.drive.screws import INCH_THREADS, METRIC_PITCHES_MM, thread
from drivekit.drive.set_up import SetUp
from drivekit.drive.slack import blower_rpm
from drivekit.drive.span_tension import readings, tension_from_frequency, tension_from_push
from drivekit.lab.drive_set_up import as_filed, turned
from drivekit.lab.season_study import Words
from drivekit.show.controls import Control, Drawing, Panel, amount, on_grid
from drivekit.units import Spoken, Units, flats_words, refused_in

__all__ = ["CALCULATORS", "calculator", "recorded"]

CALCULATORS: dict[str, dict[str, dict[str, Any]]] = tomllib.loads(
    Path(__file__).with_suffix(".toml").read_text(encoding="utf-8")
)
PER_SI = {"mm": 1e3, "g/m": 1e3, "g": 1e3, "L": 1e3, "kPa": 1e-3, "N": 1.0, "N m": 1.0}
"""How many of a unit are one in SI."""

Told = Spoken | str
Answer = Callable[..., Told | tuple[Told, ...]]
"""Takes what the dials stand at, in SI, by their names; or refuses it by a ValueError."""

THREADS = (
    *(f"{size}-{per_inch}" for size, both in INCH_THREADS.items() for per_inch in both),
    *(f"M{size}x{pitch:g}" for size, pitches in METRIC_PITCHES_MM.items() if 5 <= size <= 16 for pitch in pitches[:2]),
)
CHOICES = {
    "thread": THREADS,
    "state of threads": tuple(clamp.NUT_FACTORS),
    "side": ("left", "right"),
    "end": ("front", "rear"),
}
USUAL_BOOST_PA, USUAL_EFFICIENCY = 300e3, 80.0
"""Where a blower's control starts; from memory, and no advice."""
HOW_TO_RECORD = (
    "Engine off and made safe: lay a telephone near the span, record a second of quiet and then three plucks or more, "
    "two seconds apart, and save it as an uncompressed WAV file; its name goes between the quotes."
)


def recorded(found: SetUp, recording: str = "") -> Words:
    """Say the note of the span that is plucked in a recording, a WAV file, and the tension it means on this drive.

    Without a recording it is said how to make one.
    """
    if not recording:
        return Words((HOW_TO_RECORD,))
    try:
        note = heard(Path(recording).read_bytes())
    except OSError as trouble:
        return Words((f"{recording} cannot be read: {trouble.strerror}.",))
    if note.frequency_hz is None:
        return Words((str(note),))
    units = found.layout.spoken
    try:
        read = _span(found, note.frequency_hz, found.reading.note.length_m, found.layout.belt.mass_kg_per_m).said(units)
    except ValueError as refusal:
        read = f"{refused_in(units, refusal)}."
    return Words((str(note), read))


def calculator(found: SetUp, name: str) -> Panel:
    """Lay out one of `CALCULATORS`: its controls, at the drive's own numbers, above the sentences that answer them.

    Raises
    ------
    ValueError
        If there is no such calculator.
    """
    if name not in CALCULATORS:
        raise ValueError(f'there is no calculator "{name}"; there are {", ".join(CALCULATORS)}')
    dials, units = CALCULATORS[name], found.layout.spoken
    starts, answer = WORKED_OUT[name](found) if name in WORKED_OUT else ({}, partial(ANSWERS[name], found))
    starts = {key: _own(found, dial["own"]) for key, dial in dials.items() if "own" in dial} | starts
    controls = {
        key: _control(dial, starts.get(key), units)
        for key, dial in dials.items()
        if starts.get(key) is not None or "start" in dial
    }

    def redraw(**chosen: Any) -> Drawing:
        of = {key: unit for key in chosen if (unit := dials[key].get("unit"))}
        told = answer(**chosen | {key: units.metric(chosen[key], unit) / PER_SI[unit] for key, unit in of.items()})
        each = told if isinstance(told, tuple) else (told,)
        return Drawing(None, tuple(one if isinstance(one, str) else one.said(units) for one in each))

    return Panel(controls, redraw, units=units)


def _own(found: SetUp, path: str) -> Any:
    """Find a number of the drive; None where it has no such part."""
    return reduce(lambda part, name: part and getattr(part, name), path.split("."), found)


def _control(dial: dict[str, Any], own: Any, units: Units) -> Control:
    """Make the control of a row of the table, at the drive's own number where there is one."""
    if isinstance(own, Control):
        return own
    label, unit = dial["label"], dial.get("unit")
    start = dial["start"] if own is None else own * PER_SI[unit] if unit else own
    if "of" in dial:
        of = CHOICES[dial["of"]]
        return Control("choice", label, of if start in of else (start, *of), start)
    (least, most), within = dial.get("times", (1, 1)), dial.get("within", 0)
    low, high = dial.get("ends", (max(least * start - within, 0.1), most * start + within))
    if "step" not in dial:
        return Control("whole", label, (low, high), start)
    ends = start, low, high, dial["step"]
    return amount(units, label, unit, *ends) if unit else on_grid(label, *ends)


def _span(found: SetUp, frequency_hz: float, length_m: float, mass_kg_per_m: float) -> Spoken:
    return tension_from_frequency(frequency_hz, length_m, mass_kg_per_m, found.layout.belt.bending_n_m2)


def _push(found: SetUp, **read: float) -> Spoken:
    belt = found.layout.belt
    return tension_from_push(**read, stiffness_n=belt.stiffness_n, belt_m=belt.length_m)


def _jack_screws(_: SetUp, screw: str, left: int, right: int, apart_m: float) -> tuple[Spoken, ...]:
    turned = thread(screw)
    return turned, screws.lift_and_tilt(turned, (left, right), apart_m)


def _next_move(_: SetUp, left: int, right: int, to_left: int, to_right: int, straight: str) -> str:
    return str(screws.next_move((left, right), (to_left, to_right), straight=straight))


def _manifold(found: SetUp, base_m: float, shim_m: float, wanted_deg: float) -> tuple[Told, ...]:
    wanted = stack.shim(radians(wanted_deg), base_m).said(found.layout.spoken)
    return stack.tilt(shim_m, base_m), f"For what is wanted: {wanted}"


def _clamp(found: SetUp, screw: str, torque_n_m: float, state: str, slip_n: float, **faces: Any) -> Spoken:
    own = found.layout.clamp
    proof_pa = 830e6 if own is None else own.proof_pa
    return clamp.grip(clamp.preload(torque_n_m, thread(screw), state, proof_pa), slip_n, **faces)


def _readings(_: SetUp, **read_n: float) -> Spoken:
    return readings([*read_n.values()])


def _square(found: SetUp, gap_m: float, base_m: float, end: str) -> str:
    units, own = found.layout.spoken, found.layout.adjusters
    if own is None or own.spacing_m is None:
        raise ValueError("The drive file gives no adjusters, or not how far apart they stand.")
    flat_m = screws.height(thread(own.thread), 1, ends=own.ends)
    flats = flats_words(measured.square_flats(gap_m, base_m, own.spacing_m, flat_m))
    turn = f"the {end} out by that, or half of it there and half in at the other end, which keeps the tension"
    return f"{units.length(gap_m)} over {units.long(base_m)} is {flats} of one adjuster: {turn}."


def _change(found: SetUp, loose_m: float) -> Spoken:
    return fitting.belt_change(found.layout, loose_m)


def _snout(found: SetUp, flats: int) -> str:
    if found.jack_flat is None:
        raise ValueError("The drive file gives no jack screws.")
    return found.jack_flat.turned(flats, found.layout.spoken)


ANSWERS: dict[str, Answer] = {
    "span": _span,
    "push": _push,
    "jack screws": _jack_screws,
    "next move": _next_move,
    "manifold": _manifold,
    "clamp": _clamp,
    "readings": _readings,
    "square": _square,
    "belt change": _change,
    "snout": _snout,
}
"""Of the drive and its dials, which start at single numbers of it."""


def _spacers(found: SetUp) -> tuple[dict[str, Any], Answer]:
    units, on_hand = found.layout.spoken, found.layout.spacers

    def answer(front_m: float, rear_m: float, apart_m: float, wanted_deg: float = 0.0) -> tuple[str, ...]:
        cocked = stack.cocking(front_m, rear_m, apart_m).said(units)
        said = f"These two: {cocked}" if cocked.startswith("the") else cocked
        if len(on_hand) < 2:
            return said, "The drive file lists fewer than two spacers on hand, so no pair can be chosen."
        best = stack.best_spacers(on_hand, radians(wanted_deg), apart_m).said(units)
        return said, f"Nearest to what is wanted, of those on hand: {best}"

    return {"wanted_deg": 0.1 if len(on_hand) > 1 else None}, answer


def _stack(found: SetUp) -> tuple[dict[str, Any], Answer]:
    bracket, parts, units = found.layout.bracket, found.layout.stack, found.layout.spoken
    gap_m = 0.096 if bracket is None else bracket.gap_m
    lengths = {
        place: sum(part.length_m for part in parts if part.place == place) for place in ("front", "idler", "rear")
    }
    if not lengths["idler"]:
        lengths = {"front": 0.008, "idler": gap_m - 0.016, "rear": 0.008}

    def answer(gap_m: float, tolerance_m: float, wanted_m: float, **lengths: float) -> tuple[Told, ...]:
        sizes = [{"name": place, "place": place, "length_m": length_m} for place, length_m in lengths.items()]
        laid = [StackPart(**size, tolerance_m=tolerance_m) for size in sizes]  # type: ignore[arg-type]
        fitted = stack.stack_fit(Bracket(gap_m, bracket.gap_tolerance_m if bracket else 0.0, wanted_m), laid)
        if fitted.clearance_m >= 0 or bracket is None or bracket.stiffness_n_per_m is None:
            return (fitted,)
        return fitted, stack.pried(-fitted.clearance_m, bracket.stiffness_n_per_m, units)

    return {"gap_m": gap_m, **lengths, "tolerance_m": max((part.tolerance_m for part in parts), default=None)}, answer


def _weigh(found: SetUp) -> tuple[dict[str, Any], Answer]:
    belt, units = found.layout.belt, found.layout.spoken

    def answer(weighed_kg: float) -> str:
        each = units.both(measured.mass_from(weighed_kg, belt.length_m) * 1e3, "g/m")
        return f"{units.said(weighed_kg * 1e3, 'g')} on {units.long(belt.length_m)} of belt are {each}."

    return {"weighed_kg": belt.mass_kg_per_m * belt.length_m}, answer


def _back(found: SetUp) -> tuple[dict[str, Any], Answer]:
    belt, units = found.layout.belt, found.layout.spoken

    def answer(**of: float) -> str:
        return f"From the pitch line to the back of the belt there are {units.length(measured.back_from(**of))}."

    return {"thickness_m": belt.tooth_height_m + belt.land_m + belt.back_m}, answer


def _stiffness(found: SetUp) -> tuple[dict[str, Any], Answer]:
    layout, units = as_filed(found), found.layout.spoken
    own_n = 0.9 * layout.tension.set_n if found.gain is None else turned(found, -0.5).layout.tension.set_n

    def answer(loose_n: float, tight_n: float, turns: float) -> str:
        if tight_n <= loose_n:
            raise ValueError("Tighter turns must read more: the second reading is not above the first.")
        stiff = units.force(fitting.stiffness_by_turns(layout, loose_n, tight_n, turns))
        more = units.said(tight_n - loose_n, "N")
        return f"{more} more in {turns:g} turns of every adjuster: tension over strain (EA) is {stiff}."

    return {"loose_n": own_n}, answer


def _centre(found: SetUp) -> tuple[dict[str, Any], Answer]:
    layout, path, units = found.layout, found.path, found.layout.spoken
    idler = next((i for i, one in enumerate(layout.pulleys) if one.role == "idler"), 0)
    circles = [(arc.x_m, arc.y_m, arc.turn * arc.radius_m) for arc in path.arcs]
    before, after = circles[idler - 1], circles[(idler + 1) % len(circles)]
    side = "left" if circles[idler][0] < (before[0] + after[0]) / 2 else "right"

    def answer(first_m: float, second_m: float, stands: str) -> str:
        left, right = measured.centre_from(before, after, circles[idler][2], (first_m, second_m))
        x, y = (units.long(one) for one in (left if stands == "left" else right))
        return f"Its centre stands at x = {x}, y = {y}; spans measured at travel 0 give the centre of the drive file."

    first, second = (
        amount(units, f"Free span {span.leaves} to {span.meets}", "mm", span.length_m * 1e3, 50, 900, 0.5)
        for span in (path.spans[idler - 1], path.spans[idler])
    )
    return {"first_m": first, "second_m": second, "stands": side}, answer


def _power(found: SetUp) -> tuple[dict[str, Any], Answer]:
    units, power_w = found.layout.spoken, found.states[2].tensions.power_w
    rpm = blower_rpm(found.layout, found.layout.engine.crank_rpm)
    size_m3 = power_w * USUAL_EFFICIENCY / 100 / (rpm / 60 * USUAL_BOOST_PA)

    def answer(displacement_m3: float, rpm: float, boost_pa: float, percent: float) -> str:
        taken_w = measured.blower_power_from(displacement_m3, rpm, boost_pa, percent / 100)
        turn, boost = units.said(displacement_m3 * 1e3, "L", 1), units.said(boost_pa / 1e3, "kPa")
        takes = f"take {units.both(taken_w / 1e3, 'kW')}; a blower that compresses inside takes less."
        return f"{turn} a turn at {rpm:,.0f} rpm against {boost} {takes}"

    return {"displacement_m3": size_m3, "rpm": rpm, "boost_pa": USUAL_BOOST_PA, "percent": USUAL_EFFICIENCY}, answer


WORKED_OUT: dict[str, Callable[[SetUp], tuple[dict[str, Any], Answer]]] = {
    "spacers": _spacers,
    "stack": _stack,
    "weigh": _weigh,
    "back": _back,
    "stiffness": _stiffness,
    "idler centre": _centre,
    "blower power": _power,
}
"""Those of which the drive says where some dials start: these, in SI, and what answers."""
