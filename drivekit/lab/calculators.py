"""Small calculators for the bench: each a row of controls that starts at the drive's own numbers, and a sentence.

Some ask what a person measures: they start at what the drive's own numbers would read, in its units. What may be moved,
and how far, stands in `calculators.toml`.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from functools import partial
from math import radians
from pathlib import Path
from typing import Any

from drivekit.drive import clamp, fitting, measured, screws, stack
from drivekit.drive.layout import Bracket, Clamp, JackScrews, StackPart
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

DIALS: dict[str, dict[str, dict[str, Any]]] = tomllib.loads(
    Path(__file__).with_suffix(".toml").read_text(encoding="utf-8")
)
PER_SI = {"mm": 1e3, "g/m": 1e3, "g": 1e3, "L": 1e3, "kPa": 1e-3, "N": 1.0, "N m": 1.0}
"""How many of a unit are one in SI."""

Told = Spoken | str
Calculator = tuple[dict[str, Any], Callable[..., Told | tuple[Told, ...]]]
"""What the drive says of the dials: where each starts, in SI, or None; and what answers, or ValueError."""

THREADS = (
    *(f"{size}-{per_inch}" for size, both in INCH_THREADS.items() for per_inch in both),
    *(f"M{size}x{pitch:g}" for size, pitches in METRIC_PITCHES_MM.items() if 5 <= size <= 16 for pitch in pitches[:2]),
)
USUAL_THREAD = "3/8-24"
USUAL_BOOST_PA, USUAL_EFFICIENCY = 300e3, 80.0
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
    (own, tension), units = _span(found), found.layout.spoken
    try:
        read = tension(**own | {"frequency_hz": note.frequency_hz}).said(units)
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
    (own, answer), units = CALCULATORS[name](found), found.layout.spoken
    controls: dict[str, Control] = {}
    for key, dial in DIALS[name].items():
        start = own.get(key)
        if isinstance(start, Control):
            controls[key] = start
        elif start is not None or "start" in dial:
            controls[key] = _control(dial, start, units)

    def redraw(**chosen: Any) -> Drawing:
        for key, unit in ((key, DIALS[name][key].get("unit")) for key in chosen):
            if unit:
                chosen[key] = units.metric(chosen[key], unit) / PER_SI[unit]
        told = answer(**chosen)
        each = told if isinstance(told, tuple) else (told,)
        return Drawing(None, tuple(one if isinstance(one, str) else one.said(units) for one in each))

    return Panel(controls, redraw, units=units)


def _control(dial: dict[str, Any], own: Any, units: Units) -> Control:
    """Make the control of a row of the table, at the drive's own number where there is one."""
    label, unit = dial["label"], dial.get("unit")
    start = dial["start"] if own is None else own * PER_SI[unit] if unit else own
    if "of" in dial:
        return Control("choice", label, tuple(dial["of"]), start)
    (least, most), within = dial.get("times", (1, 1)), dial.get("within", 0)
    low, high = dial.get("ends", (max(least * start - within, 0.1), most * start + within))
    if "step" not in dial:
        return Control("whole", label, (low, high), start)
    ends = start, low, high, dial["step"]
    return amount(units, label, unit, *ends) if unit else on_grid(label, *ends)


def _thread(label: str, own: JackScrews | Clamp | None) -> Control:
    """Make a choice of threads; the drive's own leads where the usual list lacks it."""
    start = USUAL_THREAD if own is None else own.thread
    return Control("choice", label, THREADS if start in THREADS else (start, *THREADS), start)


def _span(found: SetUp) -> tuple[dict[str, Any], Callable[..., Spoken]]:
    note, belt = found.reading.note, found.layout.belt
    own = {"frequency_hz": note.frequency_hz, "length_m": note.length_m, "mass_kg_per_m": belt.mass_kg_per_m}
    return own, partial(tension_from_frequency, bending_n_m2=belt.bending_n_m2)


def _push(found: SetUp) -> Calculator:
    pushed, belt = found.reading.push, found.layout.belt
    own = {"force_n": pushed.force_n, "deflection_m": pushed.deflection_m, "span_m": pushed.span_m}
    return own, partial(tension_from_push, stiffness_n=belt.stiffness_n, belt_m=belt.length_m)


def _jack_screws(found: SetUp) -> Calculator:
    own = found.layout.jack_screws

    def answer(screw: str, left: int, right: int, apart_m: float) -> tuple[Spoken, ...]:
        turned = thread(screw)
        return turned, screws.lift_and_tilt(turned, (left, right), apart_m)

    return {"screw": _thread("Thread", own), "apart_m": own and own.spacing_m}, answer


def _next_move(_: SetUp) -> Calculator:
    def answer(left: int, right: int, to_left: int, to_right: int, straight: str) -> str:
        return str(screws.next_move((left, right), (to_left, to_right), straight=straight))

    return {}, answer


def _spacers(found: SetUp) -> Calculator:
    own, units, on_hand = found.layout.adjusters, found.layout.spoken, found.layout.spacers

    def answer(front_m: float, rear_m: float, apart_m: float, wanted_deg: float = 0.0) -> tuple[str, ...]:
        cocked = stack.cocking(front_m, rear_m, apart_m).said(units)
        said = f"These two: {cocked}" if cocked.startswith("the") else cocked
        if len(on_hand) < 2:
            return said, "The drive file lists fewer than two spacers on hand, so no pair can be chosen."
        best = stack.best_spacers(on_hand, radians(wanted_deg), apart_m).said(units)
        return said, f"Nearest to what is wanted, of those on hand: {best}"

    return {"apart_m": own and own.spacing_m, "wanted_deg": 0.1 if len(on_hand) > 1 else None}, answer


def _manifold(found: SetUp) -> Calculator:
    own = found.layout.manifold

    def answer(base_m: float, shim_m: float, wanted_deg: float) -> tuple[Told, ...]:
        wanted = stack.shim(radians(wanted_deg), base_m).said(found.layout.spoken)
        return stack.tilt(shim_m, base_m), f"For what is wanted: {wanted}"

    return {"base_m": own and own.base_m, "shim_m": own and own.shim_m}, answer


def _stack(found: SetUp) -> Calculator:
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

    own = {"tolerance_m": max((part.tolerance_m for part in parts), default=None)}
    return {"gap_m": gap_m, **lengths, **own, "wanted_m": found.stack and found.stack.wanted_m}, answer


def _clamp(found: SetUp) -> Calculator:
    own, states = found.layout.clamp, tuple(clamp.NUT_FACTORS)
    proof_pa = 830e6 if own is None else own.proof_pa

    def answer(screw: str, torque_n_m: float, state: str, slip_n: float, **faces: Any) -> Spoken:
        return clamp.grip(clamp.preload(torque_n_m, thread(screw), state, proof_pa), slip_n, **faces)

    return {
        "screw": _thread("Bolts", own),
        "state": Control("choice", "State of the threads", states, "dry" if own is None else own.state),
        "slip_n": found.grip and found.grip.slip_n,
        **{name: own and getattr(own, name) for name in ("torque_n_m", "bolts", "faces", "friction")},
    }, answer


def _readings(found: SetUp) -> Calculator:
    own = dict.fromkeys(("first", "second", "third"), found.layout.tension.set_n)
    return own, lambda **read_n: readings([*read_n.values()])


def _weigh(found: SetUp) -> Calculator:
    belt, units = found.layout.belt, found.layout.spoken

    def answer(weighed_kg: float) -> str:
        each = units.both(measured.mass_from(weighed_kg, belt.length_m) * 1e3, "g/m")
        return f"{units.said(weighed_kg * 1e3, 'g')} on {units.long(belt.length_m)} of belt are {each}."

    return {"weighed_kg": belt.mass_kg_per_m * belt.length_m}, answer


def _back(found: SetUp) -> Calculator:
    belt, units = found.layout.belt, found.layout.spoken
    own = {"tooth_height_m": belt.tooth_height_m, "land_m": belt.land_m}

    def answer(**of: float) -> str:
        return f"From the pitch line to the back of the belt there are {units.length(measured.back_from(**of))}."

    return own | {"thickness_m": sum(own.values()) + belt.back_m}, answer


def _stiffness(found: SetUp) -> Calculator:
    layout, units = as_filed(found), found.layout.spoken
    tight_n = layout.tension.set_n
    loose_n = 0.9 * tight_n if found.gain is None else turned(found, -0.5).layout.tension.set_n

    def answer(loose_n: float, tight_n: float, turns: float) -> str:
        if tight_n <= loose_n:
            raise ValueError("Tighter turns must read more: the second reading is not above the first.")
        stiff = units.force(fitting.stiffness_by_turns(layout, loose_n, tight_n, turns))
        more = units.said(tight_n - loose_n, "N")
        return f"{more} more in {turns:g} turns of every adjuster: tension over strain (EA) is {stiff}."

    return {"loose_n": loose_n, "tight_n": tight_n}, answer


def _centre(found: SetUp) -> Calculator:
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


def _power(found: SetUp) -> Calculator:
    units, power_w = found.layout.spoken, found.states[2].tensions.power_w
    rpm = blower_rpm(found.layout, found.layout.engine.crank_rpm)
    size_m3 = power_w * USUAL_EFFICIENCY / 100 / (rpm / 60 * USUAL_BOOST_PA)

    def answer(displacement_m3: float, rpm: float, boost_pa: float, percent: float) -> str:
        taken_w = measured.blower_power_from(displacement_m3, rpm, boost_pa, percent / 100)
        turn, boost = units.said(displacement_m3 * 1e3, "L", 1), units.said(boost_pa / 1e3, "kPa")
        takes = f"take {units.both(taken_w / 1e3, 'kW')}; a blower that compresses inside takes less."
        return f"{turn} a turn at {rpm:,.0f} rpm against {boost} {takes}"

    return {"displacement_m3": size_m3, "rpm": rpm, "boost_pa": USUAL_BOOST_PA, "percent": USUAL_EFFICIENCY}, answer


def _square(found: SetUp) -> Calculator:
    units, own = found.layout.spoken, found.layout.adjusters

    def answer(gap_m: float, base_m: float, end: str) -> str:
        if own is None or own.spacing_m is None:
            raise ValueError("The drive file gives no adjusters, or not how far apart they stand.")
        flat_m = screws.height(thread(own.thread), 1, ends=own.ends)
        flats = flats_words(measured.square_flats(gap_m, base_m, own.spacing_m, flat_m))
        turn = f"the {end} out by that, or half of it there and half in at the other end, which keeps the tension"
        return f"{units.length(gap_m)} over {units.long(base_m)} is {flats} of one adjuster: {turn}."

    return {"base_m": found.layout.belt.width_m}, answer


def _change(found: SetUp) -> Calculator:
    return {}, partial(fitting.belt_change, found.layout)


def _snout(found: SetUp) -> Calculator:
    def answer(flats: int) -> str:
        if found.jack_flat is None:
            raise ValueError("The drive file gives no jack screws.")
        return found.jack_flat.turned(flats, found.layout.spoken)

    return {}, answer


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
