"""Calculators for what a person measures: each starts at what the drive's own numbers would read, in its units."""

from __future__ import annotations

from collections.abc import Callable

from drivekit.drive import fitting, measured, span_tension
from drivekit.drive.screws import height, thread
from drivekit.drive.set_up import SetUp
from drivekit.drive.slack import blower_rpm
from drivekit.lab.drive_set_up import as_filed, turned
from drivekit.show.controls import Control, amount, on_grid
from drivekit.units import flats_words

__all__ = ["MEASURING", "Calculator"]

Calculator = tuple[dict[str, Control], Callable[..., tuple[str, ...]]]
"""What may be moved, each with the value it starts at, and the sentences that answer, or ValueError with one."""

USUAL_BOOST_KPA, USUAL_EFFICIENCY = 300.0, 80.0
"""Where a blower's control starts; from memory, and no advice."""


def _weigh(found: SetUp) -> Calculator:
    belt, units = found.layout.belt, found.layout.spoken

    def answer(weighed: float) -> tuple[str, ...]:
        grams = units.metric(weighed, "g")
        each = measured.mass_from(grams / 1e3, belt.length_m) * 1e3
        return (f"{units.said(grams, 'g')} on {units.long(belt.length_m)} of belt are {units.both(each, 'g/m')}.",)

    start = belt.mass_kg_per_m * belt.length_m * 1e3
    return {"weighed": amount(units, "Whole belt on the scale", "g", start, start / 2, start * 2, 1)}, answer


def _back(found: SetUp) -> Calculator:
    belt, units = found.layout.belt, found.layout.spoken

    def answer(thick: float, tooth: float, land: float) -> tuple[str, ...]:
        back = measured.back_from(*(units.metric(one, "mm") / 1e3 for one in (thick, tooth, land)))
        return (f"From the pitch line to the back of the belt there are {units.length(back)}.",)

    tooth_mm, land_mm = belt.tooth_height_m * 1e3, belt.land_m * 1e3
    thick_mm = tooth_mm + land_mm + belt.back_m * 1e3
    controls = {
        "thick": amount(units, "Thickness, tip of a tooth to back", "mm", thick_mm, 1, 40, 0.05),
        "tooth": amount(units, "Height of a tooth", "mm", tooth_mm, 0.2, 30, 0.05),
        "land": amount(units, "Pitch line to land", "mm", land_mm, 0, 10, 0.05),
    }
    return controls, answer


def _stiffness(found: SetUp) -> Calculator:
    layout, units = as_filed(found), found.layout.spoken
    tight_n = layout.tension.set_n
    loose_n = 0.9 * tight_n if found.gain is None else turned(found, -0.5).layout.tension.set_n

    def answer(loose: float, tight: float, turns: float) -> tuple[str, ...]:
        read = units.metric(loose, "N"), units.metric(tight, "N")
        if read[1] <= read[0]:
            raise ValueError("Tighter turns must read more: the second reading is not above the first.")
        stiff = fitting.stiffness_by_turns(layout, *read, turns)
        more = units.said(read[1] - read[0], "N")
        return (f"{more} more in {turns:g} turns of every adjuster: tension over strain (EA) is {units.force(stiff)}.",)

    controls = {
        "loose": amount(units, "First reading", "N", loose_n, 50, 20000, 10),
        "tight": amount(units, "Second reading, tighter", "N", tight_n, 50, 20000, 10),
        "turns": Control("number", "Turns of every adjuster between", (0.05, 4.0), 0.5, 0.05),
    }
    return controls, answer


def _centre(found: SetUp) -> Calculator:
    layout, path, units = found.layout, found.path, found.layout.spoken
    idler = next((i for i, one in enumerate(layout.pulleys) if one.role == "idler"), 0)
    circles = [(arc.x_m, arc.y_m, arc.turn * arc.radius_m) for arc in path.arcs]
    before, after = circles[idler - 1], circles[(idler + 1) % len(circles)]
    spans = path.spans[idler - 1], path.spans[idler]

    def answer(first: float, second: float, stands: str) -> tuple[str, ...]:
        read = units.metric(first, "mm") / 1e3, units.metric(second, "mm") / 1e3
        left, right = measured.centre_from(before, after, circles[idler][2], read)
        x, y = (1e3 * one for one in (left if stands == "left" else right))
        at = f"x = {units.said(x, 'mm', 1)}, y = {units.said(y, 'mm', 1)}"
        return (f"Its centre stands at {at}; spans measured at travel 0 give the centre of the drive file.",)

    controls = {
        name: amount(units, f"Free span {span.leaves} to {span.meets}", "mm", span.length_m * 1e3, 50, 900, 0.5)
        for name, span in zip(("first", "second"), spans, strict=True)
    }
    side = "left" if circles[idler][0] < (before[0] + after[0]) / 2 else "right"
    return controls | {"stands": Control("choice", "Seen from the front it stands", ("left", "right"), side)}, answer


def _power(found: SetUp) -> Calculator:
    units, power = found.layout.spoken, found.states[2].tensions.power_w
    rpm = blower_rpm(found.layout, found.layout.engine.crank_rpm)

    def answer(litres: float, rpm: float, boost: float, percent: float) -> tuple[str, ...]:
        size, over = units.metric(litres, "L"), units.metric(boost, "kPa")
        taken = measured.blower_power_from(size / 1e3, rpm, over * 1e3, percent / 100)
        asked = f"{units.said(size, 'L', 1)} a turn at {rpm:,.0f} rpm against {units.said(over, 'kPa')}"
        return (f"{asked} take {units.both(taken / 1e3, 'kW')}; a blower that compresses inside takes less.",)

    size = power * USUAL_EFFICIENCY / 100 / (rpm / 60 * USUAL_BOOST_KPA * 1e3) * 1e3
    controls = {
        "litres": amount(units, "Displacement a turn", "L", size, 0.5, 30, 0.1),
        "rpm": on_grid("Blower speed, rpm", rpm, 500, 30000, 50),
        "boost": amount(units, "Boost", "kPa", USUAL_BOOST_KPA, 10, 600, 1),
        "percent": Control("number", "Efficiency, %", (20.0, 100.0), USUAL_EFFICIENCY, 1),
    }
    return controls, answer


def _square(found: SetUp) -> Calculator:
    units, screws = found.layout.spoken, found.layout.adjusters

    def answer(gap: float, base: float, end: str) -> tuple[str, ...]:
        if screws is None or screws.spacing_m is None:
            raise ValueError("The drive file gives no adjusters, or not how far apart they stand.")
        flat_m = height(thread(screws.thread), 1, ends=screws.ends)
        read = units.metric(gap, "mm") / 1e3, units.metric(base, "mm") / 1e3
        flats = measured.square_flats(*read, screws.spacing_m, flat_m)
        turn = f"the {end} out by that, or half of it there and half in at the other end, which keeps the tension"
        return (f"{units.length(read[0])} over {units.long(read[1])} is {flats_words(flats)} of one adjuster: {turn}.",)

    controls = {
        "gap": amount(units, "Gap at the feeler, or the dial's travel", "mm", 0.1, 0, 3, 0.01),
        "base": amount(units, "Over a base of", "mm", found.layout.belt.width_m * 1e3, 20, 400, 1),
        "end": Control("choice", "End that stands out", ("front", "rear"), "front"),
    }
    return controls, answer


def _change(found: SetUp) -> Calculator:
    units = found.layout.spoken

    def answer(loose: float) -> tuple[str, ...]:
        return (fitting.belt_change(found.layout, units.metric(loose, "mm") / 1e3).said(units),)

    return {"loose": amount(units, "Belt loose by", "mm", 10, 1, 60, 0.5)}, answer


def _snout(found: SetUp) -> Calculator:
    def answer(flats: int) -> tuple[str, ...]:
        if found.jack_flat is None:
            raise ValueError("The drive file gives no jack screws.")
        return (found.jack_flat.turned(flats, found.layout.spoken),)

    return {"flats": Control("whole", "Flats of both jack screws, in above 0", (-6, 6), 1)}, answer


def _readings(found: SetUp) -> Calculator:
    units, set_n = found.layout.spoken, found.layout.tension.set_n

    def answer(**read: float) -> tuple[str, ...]:
        return (span_tension.readings([units.metric(one, "N") for one in read.values()]).said(units),)

    names = {"first": "First", "second": "Second", "third": "Third"}
    return {
        name: amount(units, f"{said} reading", "N", set_n, set_n / 2, set_n * 1.5, 10) for name, said in names.items()
    }, answer


MEASURING: dict[str, Callable[[SetUp], Calculator]] = {
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
"""By name."""
