"""A blank drive file for a mechanic to fill: every key of every section, what it is, and how it is measured.

Keys and sections follow from the annotations of `layout`; only how a thing is measured stands here, by the key's name.
What must be given stands as a line to fill in; what may be left out is marked so. As written the file is a whole one in
its form, so that checking it lists what is still missing.
"""

from __future__ import annotations

from collections.abc import Iterator

from drivekit.drive.amounts import Key, Section
from drivekit.drive.key_checks import SECTIONS
from drivekit.drive.measured import WAYS

__all__ = ["blank_drive"]

HEAD = """\
# A drive file of drivekit: take the # off a line, and write its value after the sign =, words in quotes.
# `drivekit drive FILE` says what is still missing, and works the drive out once nothing is.
# Seen from the front: front is away from the engine, rear towards it; x to the right, y up from the crank's centre.
# Each length may be in mm or in inches, each force in newtons or pounds: the names after "or" say so.
# Engine off, fuel shut off, ignition grounded and starter disconnected before hands go near the drive.
"""

HOW = {
    "pitch_mm": "calipers over eleven teeth, less one tooth's width, by ten",
    "width_mm": "calipers, belt flat",
    "weighed_g": "a kitchen scale",
    "stiffness_n": "ask its maker",
    "loose_n": "cold, belt at rest, same tooth at the mark; the mean of three",
    "tight_n": "the same, after the turns",
    "tighter_turns": "by the flats: six are a turn",
    **dict.fromkeys(("bending_n_m2", "expansion_ppm_per_c"), "ask its maker; leave it out if nobody knows"),
    "land_mm": "half of what a pulley's outside diameter lacks of teeth x pitch / pi; about 1.4 for 14 mm pitch",
    "tooth_height_mm": "depth gauge, from the land to the tooth's tip",
    "tooth_tip_mm": "calipers along the belt",
    **dict.fromkeys(("x_mm", "y_mm"), "two tapes or a square and level from the crank's centre"),
    "span_before_mm": "from where the belt leaves the pulley before to where it meets this one, belt just taut",
    "span_after_mm": "from where it leaves this one to where it meets the next",
    "pitch_diameter_mm": "teeth x pitch / pi",
    "diameter_mm": "calipers or a tape around it, by pi",
    "direction_deg": "protractor on the slot; 0 is to the right, 90 up",
    **dict.fromkeys(("least_mm", "most_mm"), "tape along the slot from where the centre above stands"),
    "snap_rpm_per_s": "the steepest rise of crank speed in a logged run",
    "power_kw": "the maker's map",
    "displacement_l": "the blower's data sheet",
    "boost_kpa": "the gauge of a logged run, over the air outside",
    "efficiency_percent": "ask its maker; what the belt brings and the boost does not is heat and friction",
    "inertia_kg_m2": "the maker, or mass x radius of gyration squared of rotors and pulley together",
    "stiffness_n_per_mm": "a dial on the part and a known pull: pull by movement",
    "dial_mm": "a dial indicator on the nose while the belt is tensioned, engine off",
    "dial_pull_n": "what the set-up says the belt pulls at that tension, at rest",
    "height_mm": "tape, cold",
    "warmer_c": "an infrared thermometer right after a run, engine off and made safe, less the air",
    "set_n": "from last season, or the least that the set-up says",
    "reading_error_percent": "largest less smallest of three readings, by their mean",
    "growth_low_mm": "dial or feeler between crank and blower, cold and hot, engine off and made safe",
    "growth_high_mm": "the largest of such readings",
    "span_mm": "tape along the free span, from where the belt leaves one pulley to where it meets the next",
    "pin_diameter_mm": "calipers",
    "overhang_mm": "square and tape, from the bracket's face",
    **dict.fromkeys(("bearing_static_n", "bearing_dynamic_n", "bearing_limit_rpm"), "the bearing's data sheet"),
    "gap_mm": "inside micrometer, bracket clamped as it runs",
    **dict.fromkeys(("length_mm", "shim_mm"), "micrometer"),
    "clearance_mm": "feeler; leave it out for one at which nothing binds",
    "spacing_mm": "calipers, centre to centre",
    "reach_mm": "tape, to the line about which the nose tilts",
    "thread": "thread gauge",
    "base_mm": "tape",
    "torque_n_m": "torque wrench",
    # SAE J429 as tabled by Shigley and Mischke (5th ed. 1989), ISO 898-1 as tabled by fastener makers
    "proof_mpa": "the class on the bolt's head: SAE 2, 5, 8: 379, 586, 827 (55, 85, 120 ksi); 8.8: 580, over 16 mm "
    "600; 10.9: 830; 12.9: 970; the printed standards decide",
}
"""How a key is measured, where that is not plain, by its name in the file."""


def blank_drive() -> str:
    """Write the blank file as text in TOML."""
    return "\n".join([HEAD, *(line for section in SECTIONS for line in _section(section))]) + "\n"


def _section(section: Section) -> Iterator[str]:
    may = "" if section.required else " Leave it out, name and all, where there is none or nobody knows."
    yield f"# {section.meaning[:1].upper()}{section.meaning[1:]}.{may}"
    name = f"[[{section.name}]]" if section.many else f"[{section.name}]"
    yield name if section.required else f"# {name}"
    for key in section.keys:
        yield f"# {key.name} =    # {_said(key)}"
    for way in WAYS.get(section.name, ()):
        given = " and ".join(key.name for key in section.keys if key.field in way.gives)
        yield f"# Or, in place of {given}, what is measured:"
        yield from (f"# {key.name} =    # {_said(key)}" for key in way.keys)
    if section.many:
        yield f"# Write {name} and its keys again for each one more."
    yield ""


def _said(key: Key) -> str:
    """Say what a key is, what it takes, its other units, how it is measured, whether it may be left out."""
    parts = [key.meaning]
    if key.levels:
        parts.append(f"one of {', '.join(key.levels)}")
    elif key.kind == "flag":
        parts.append("true or false")
    elif key.kind in ("number", "whole"):
        parts.append(f"{key.low:g} to {key.high:g}")
    others = [name for name in key.factors if name != key.name]
    if others:
        parts.append(f"or {' or '.join(others)}")
    if key.name in HOW:
        parts.append(f"measured: {HOW[key.name]}")
    if not key.required:
        parts.append("may be left out")
    return "; ".join(parts)
