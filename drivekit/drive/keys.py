"""What may stand in a drive file, and in which unit: the one table that reading, checking and help share.

A key is one entry of `KEYS` (and one field of the class in `layout.py` that carries its section). In the file a length
is in mm, or in inches when the key says so (``x_mm = 25.4`` or ``x_in = 1``); in the layout it is in metres (``x_m``).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

__all__ = ["KEYS", "SECTIONS", "Key", "Section", "Unit", "keys_of"]

Kind = Literal["text", "word", "flag", "whole", "number", "numbers", "thread"]


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit of the file: its ending in the layout, the factor to it, and the other units taken with their factors."""

    layout: str
    factor: float
    others: tuple[tuple[str, float], ...] = ()


UNITS: dict[str, Unit] = {
    "": Unit("", 1.0),
    "mm": Unit("m", 1e-3, (("in", 25.4),)),
    "n": Unit("n", 1.0, (("lbf", 4.4482216152605),)),
    "n_per_mm": Unit("n_per_m", 1e3, (("lbf_per_in", 4.4482216152605 / 25.4),)),
    "n_m2": Unit("n_m2", 1.0),
    "n_m": Unit("n_m", 1.0, (("lbf_ft", 4.4482216152605 * 0.3048),)),
    "g_per_m": Unit("kg_per_m", 1e-3, (("lb_per_ft", 453.59237 / 0.3048),)),
    "kw": Unit("w", 1e3, (("hp", 0.74569987158227022),)),
    "rpm": Unit("rpm", 1.0),
    "s": Unit("s", 1.0),
    # every temperature here is a difference: how much warmer hot is than cold
    "c": Unit("c", 1.0, (("f", 5 / 9),)),
    "ppm_per_c": Unit("per_c", 1e-6),
    "deg": Unit("rad", 0.017453292519943295),
    "percent": Unit("", 0.01),
    "gpa": Unit("pa", 1e9),
    "mpa": Unit("pa", 1e6, (("ksi", 6.894757293168361),)),
}


@dataclass(frozen=True, slots=True)
class Section:
    """A table of the file: its name, whether it comes many times (``[[pulley]]``), whether it must be there."""

    name: str
    many: bool
    required: bool
    meaning: str


@dataclass(frozen=True, slots=True)
class Key:
    """One key of a section.

    Parameters
    ----------
    section, stem : str
        The section, and the name without its unit.
    kind : str
        text, word (one of `levels`), flag, whole, number, numbers (a list) or thread ("3/8-24", "M10x1.25").
    unit : str
        A key of `UNITS`: the ending of the name; "" for none.
    low, high : float
        Limits of what is possible, in `unit`.
    required : bool
        Whether the section must have it.
    meaning : str
        What it is, as the page and the help say it.
    levels : tuple of str
        The words allowed.
    default : object
        What an absent key means, in the unit of the layout; None where absence stays absence.
    """

    section: str
    stem: str
    kind: Kind
    unit: str
    low: float
    high: float
    required: bool
    meaning: str
    levels: tuple[str, ...] = ()
    default: str | float | bool | None = None

    @property
    def name(self) -> str:
        """Name in the file."""
        return f"{self.stem}_{self.unit}" if self.unit else self.stem

    @property
    def field(self) -> str:
        """Name in the layout, where units are SI."""
        ending = UNITS[self.unit].layout
        return f"{self.stem}_{ending}" if ending else self.stem

    @property
    def factors(self) -> dict[str, float]:
        """Every name the file may use for it, with the factor from there to `unit`."""
        return {self.name: 1.0} | {f"{self.stem}_{other}": factor for other, factor in UNITS[self.unit].others}

    @property
    def to_layout(self) -> float:
        """Factor from `unit` to the layout's unit."""
        return UNITS[self.unit].factor


SECTIONS: tuple[Section, ...] = (
    Section("drive", False, True, "what drive this is and which way it turns"),
    Section("belt", False, True, "the belt"),
    Section("pulley", True, True, "a pulley; in the order in which the running belt meets them"),
    Section("slide", False, False, "the line along which the idler moves to tension the belt"),
    Section("engine", False, True, "speeds and times of a run"),
    Section("blower", False, True, "power the blower takes over its speed"),
    Section("height", True, False, "a part of the height between crank and blower that grows when hot"),
    Section("tension", False, True, "the static tension set, how well it is read, and the margin wanted"),
    Section("idler", False, False, "the idler's pin, its support and its bearings"),
    Section("bracket", False, False, "the idler's bracket, into which the stack goes"),
    Section("stack", True, False, "a part of the stack on the idler's pin, from front to rear"),
    Section("spacer", True, False, "a numbered spacer on hand for the idler adjusters"),
    Section("adjusters", False, False, "the screws that move the idler along its slide"),
    Section("jack_screws", False, False, "the screws under the blower's snout"),
    Section("manifold", False, False, "the manifold under the blower"),
    Section("clamp", False, False, "the clamp that holds the idler where it was set"),
)

HANDS = ("one-hand", "left-right")

# fmt: off
# a table reads by its columns
KEYS: tuple[Key, ...] = (
    Key("drive", "name", "text", "", 0, 0, True, "what the drive is called"),
    Key("drive", "turns", "word", "", 0, 0, True, "which way the belt runs, seen from the front",
        ("clockwise", "anticlockwise")),
    Key("drive", "invented", "flag", "", 0, 0, False, "true for an example that is nobody's drive", default=False),
    Key("drive", "note", "text", "", 0, 0, False, "anything worth keeping", default=""),

    Key("belt", "pitch", "number", "mm", 1, 60, True, "distance from tooth to tooth on the pitch line"),
    Key("belt", "teeth", "whole", "", 20, 2000, True, "teeth around the belt"),
    Key("belt", "width", "number", "mm", 3, 500, True, "width of the belt"),
    Key("belt", "mass", "number", "g_per_m", 1, 5000, True, "mass of one metre of belt"),
    Key("belt", "stiffness", "number", "n", 1e3, 1e8, True, "tension over strain of the whole width (EA)"),
    Key("belt", "bending", "number", "n_m2", 0, 100, False, "bending stiffness of the whole width (EI)"),
    Key("belt", "back", "number", "mm", 0, 20, True, "pitch line to the back of the belt"),
    Key("belt", "land", "number", "mm", 0, 10, True, "pitch line to the land between teeth (pitch line differential)"),
    Key("belt", "tooth_height", "number", "mm", 0.2, 30, True, "height of a tooth over the land"),
    Key("belt", "tooth_tip", "number", "mm", 0.1, 40, True, "length of a tooth's tip along the belt"),
    Key("belt", "expansion", "number", "ppm_per_c", -20, 200, False, "expansion of the cord with heat", default=0.0),
    Key("belt", "warmer", "number", "c", 0, 200, False, "how much warmer the belt is hot than cold", default=0.0),
    Key("belt", "tension_limit", "number", "n", 10, 1e6, False, "maker's limit of the belt's tension"),
    Key("belt", "diameter_limit", "number", "mm", 1, 2000, False, "maker's least pitch diameter"),

    Key("pulley", "name", "text", "", 0, 0, True, "what the pulley is called"),
    Key("pulley", "role", "word", "", 0, 0, True, "what it does: the crank drives, the blower takes the power",
        ("crank", "blower", "idler")),
    Key("pulley", "face", "word", "", 0, 0, True, "toothed or smooth", ("toothed", "smooth")),
    Key("pulley", "side", "word", "", 0, 0, True, "inside the loop (on the belt's teeth) or outside (on its back)",
        ("inside", "outside")),
    Key("pulley", "x", "number", "mm", -5000, 5000, True, "centre, to the right seen from the front"),
    Key("pulley", "y", "number", "mm", -5000, 5000, True, "centre, up"),
    Key("pulley", "teeth", "whole", "", 8, 400, False, "teeth of a toothed pulley, of the belt's pitch"),
    Key("pulley", "pitch_diameter", "number", "mm", 5, 3000, False, "pitch diameter, instead of teeth or diameter"),
    Key("pulley", "diameter", "number", "mm", 5, 3000, False, "diameter of a smooth pulley's surface"),
    Key("pulley", "mount", "word", "", 0, 0, False, "fixed, or on the idler's slide (centre given at travel 0)",
        ("fixed", "slide"), "fixed"),
    Key("pulley", "growth_share", "number", "", -1, 2, False,
        "share of the engine's growth that lifts this centre (blower 1, others 0)"),

    Key("slide", "direction", "number", "deg", -360, 360, True,
        "direction of growing travel, anticlockwise from x seen from the front"),
    Key("slide", "least", "number", "mm", -1000, 1000, True, "travel at the near end of the adjuster"),
    Key("slide", "most", "number", "mm", -1000, 1000, True, "travel at the far end of the adjuster"),

    Key("engine", "crank", "number", "rpm", 100, 30000, True, "crank speed at full load"),
    Key("engine", "idle", "number", "rpm", 100, 10000, True, "crank speed at idle"),
    Key("engine", "overdrive", "number", "percent", -80, 300, False,
        "how much faster the blower turns than the crank; must agree with the teeth"),
    Key("engine", "full_load", "number", "s", 0.1, 3600, True, "time at full load in one run"),
    Key("engine", "idle_time", "number", "s", 0, 36000, False, "time at idle before one run, warm-up included",
        default=0.0),

    Key("blower", "speed", "numbers", "rpm", 0, 60000, True, "blower speeds, rising"),
    Key("blower", "power", "numbers", "kw", 0, 5000, True, "power at each of those speeds"),

    Key("height", "name", "text", "", 0, 0, True, "what part it is"),
    Key("height", "height", "number", "mm", 1, 3000, True, "its height, cold"),
    Key("height", "warmer", "number", "c", 0, 500, True, "how much warmer it is hot than cold"),
    Key("height", "material", "word", "", 0, 0, False, "what it is made of",
        ("aluminium-6061", "steel-1020", "steel-a36", "steel-4140", "steel-4340")),
    Key("height", "expansion", "number", "ppm_per_c", 0, 100, False, "expansion with heat, instead of the material"),

    Key("tension", "set", "number", "n", 50, 50000, True, "static tension of one span, cold, at rest"),
    Key("tension", "reading_error", "number", "percent", 0, 50, False, "how far a reading of it may be off, either way",
        default=0.05),
    Key("tension", "margin", "number", "n", 0, 50000, False, "least slack-side tension wanted at full load",
        default=0.0),
    Key("tension", "growth_low", "number", "mm", 0, 10, False, "least growth of the engine hot, as measured"),
    Key("tension", "growth_high", "number", "mm", 0, 10, False, "greatest growth of the engine hot, as measured"),
    Key("tension", "span", "number", "mm", 20, 3000, False, "length of the span that is plucked or pushed"),

    Key("idler", "support", "word", "", 0, 0, True, "what holds the pin: one wall, or three points",
        ("single", "three-point")),
    Key("idler", "pin_diameter", "number", "mm", 3, 200, True, "diameter of the pin"),
    Key("idler", "pin_modulus", "number", "gpa", 10, 500, False, "Young's modulus of the pin", default=205e9),
    Key("idler", "overhang", "number", "mm", 1, 500, True, "face of the bracket to the middle of the belt"),
    Key("idler", "grip", "number", "mm", 1, 500, False, "rear wall to front wall of the bracket (three-point)"),
    Key("idler", "outboard", "number", "mm", 1, 1000, False, "front wall to the outboard plate (three-point)"),
    Key("idler", "bearings", "whole", "", 1, 8, False, "bearings that share the load"),
    Key("idler", "bearing_kind", "word", "", 0, 0, False, "ball or roller", ("ball", "roller"), "ball"),
    Key("idler", "bearing_static", "number", "n", 100, 1e7, False, "static rating C0 of one bearing"),
    Key("idler", "bearing_dynamic", "number", "n", 100, 1e7, False, "dynamic rating C of one bearing"),
    Key("idler", "bearing_limit", "number", "rpm", 100, 200000, False, "maker's speed limit of the bearing"),

    Key("bracket", "gap", "number", "mm", 1, 1000, True, "gap between the bracket's faces"),
    Key("bracket", "gap_tolerance", "number", "mm", 0, 5, False, "how far the gap may be off, either way", default=0.0),
    Key("bracket", "stiffness", "number", "n_per_mm", 1, 1e7, False, "force that spreads the bracket by one mm"),
    Key("stack", "name", "text", "", 0, 0, True, "what part it is"),
    Key("stack", "length", "number", "mm", 0.01, 1000, True, "its length along the pin"),
    Key("stack", "tolerance", "number", "mm", 0, 5, False, "how far the length may be off, either way", default=0.0),
    Key("stack", "place", "word", "", 0, 0, True, "where it sits against the idler", ("front", "idler", "rear")),
    Key("spacer", "number", "whole", "", 0, 999, True, "the number stamped on it"),
    Key("spacer", "length", "number", "mm", 0.01, 500, True, "its length"),

    Key("adjusters", "thread", "thread", "", 0, 0, True, 'thread, as "3/8-24" or "M10x1.25"'),
    Key("adjusters", "number", "whole", "", 1, 8, True, "how many"),
    Key("adjusters", "spacing", "number", "mm", 1, 1000, False, "front adjuster to rear adjuster"),
    Key("adjusters", "ends", "word", "", 0, 0, False, "left-right: left and right hand ends, twice the travel a turn",
        HANDS, "one-hand"),
    Key("jack_screws", "thread", "thread", "", 0, 0, True, 'thread, as "3/8-24" or "M10x1.25"'),
    Key("jack_screws", "number", "whole", "", 1, 8, True, "how many"),
    Key("jack_screws", "spacing", "number", "mm", 1, 1000, False, "left screw to right screw"),
    Key("jack_screws", "reach", "number", "mm", 1, 2000, False, "screws to the line about which the snout tilts"),
    Key("jack_screws", "ends", "word", "", 0, 0, False, "left-right: left and right hand ends, twice the travel a turn",
        HANDS, "one-hand"),
    Key("manifold", "base", "number", "mm", 10, 3000, True, "length of its base, from end to end"),
    Key("manifold", "shim", "number", "mm", 0, 20, False, "shim under one end", default=0.0),
    Key("clamp", "thread", "thread", "", 0, 0, True, 'thread of its bolts, as "3/8-24" or "M10x1.25"'),
    Key("clamp", "bolts", "whole", "", 1, 24, True, "bolts that press the faces together"),
    Key("clamp", "faces", "whole", "", 1, 16, True, "pairs of faces that rub"),
    Key("clamp", "torque", "number", "n_m", 0.1, 5000, True, "torque on each bolt"),
    Key("clamp", "proof", "number", "mpa", 50, 3000, True, "proof stress of the bolts"),
    Key("clamp", "state", "word", "", 0, 0, False, "state of the threads", ("clean", "dry", "galled"), "dry"),
    Key("clamp", "friction", "number", "", 0.01, 1.5, False, "friction of the faces", default=0.12),
)
# fmt: on


def keys_of(section: str) -> tuple[Key, ...]:
    """Return the keys of a section, in the order of the table."""
    return tuple(key for key in KEYS if key.section == section)
