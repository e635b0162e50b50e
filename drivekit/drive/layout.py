"""The drive described once: each section of a drive file a class, each key a field, with its unit, limits and meaning.

In the file a key stands in the unit of its `Key` (``pitch_mm``; also ``pitch_in``), here in SI (``pitch_m``). A field
with a default may be left out of the file, one without may not; None stands for what was not said. Reading, checking
and their messages follow from these annotations.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import cos, pi, sin
from typing import Annotated, Literal

from drivekit.drive.amounts import Key, Section
from drivekit.units import Units

__all__ = [
    "Adjusters",
    "Belt",
    "Blower",
    "Bracket",
    "Clamp",
    "Ends",
    "Engine",
    "Height",
    "Idler",
    "JackScrews",
    "Layout",
    "Manifold",
    "Pulley",
    "Slide",
    "Snout",
    "Spacer",
    "StackPart",
    "Tension",
    "pitch_diameter",
]

Ends = Literal["one-hand", "left-right"]
Material = Literal["aluminium-6061", "steel-1020", "steel-a36", "steel-4140", "steel-4340"]
Role = Literal["crank", "blower", "idler"]

# Mean expansion near room temperature, 1/C: Callister, Materials Science and Engineering, table of thermal properties.
EXPANSION_PER_C: dict[str, float] = {
    "aluminium-6061": 23.6e-6,
    "steel-1020": 11.7e-6,
    "steel-a36": 11.7e-6,
    "steel-4140": 12.3e-6,
    "steel-4340": 12.3e-6,
}


def pitch_diameter(teeth: int, pitch_m: float) -> float:
    """Pitch diameter z p / pi of a toothed pulley in m: the pitch line runs z pitches around it (ISO 5296)."""
    return teeth * pitch_m / pi


# fmt: off
# a table reads by its rows
@dataclass(frozen=True, slots=True, kw_only=True)
class Belt:
    """The belt."""

    pitch_m: Annotated[float, Key("distance from tooth to tooth on the pitch line", "mm", 1, 60)]
    teeth: Annotated[int, Key("teeth around the belt", "", 20, 2000)]
    width_m: Annotated[float, Key("width of the belt", "mm", 3, 500)]
    mass_kg_per_m: Annotated[float, Key("mass of one metre of belt", "g_per_m", 1, 5000)]
    stiffness_n: Annotated[float, Key("tension over strain of the whole width (EA)", "n", 1e3, 1e8)]
    bending_n_m2: Annotated[float | None, Key("bending stiffness of the whole width (EI)", "n_m2", 0, 100)] = None
    back_m: Annotated[float, Key("pitch line to the back of the belt", "mm", 0, 20)]
    land_m: Annotated[float, Key("pitch line to the land between teeth (pitch line differential)", "mm", 0, 10)]
    tooth_height_m: Annotated[float, Key("height of a tooth over the land", "mm", 0.2, 30)]
    tooth_tip_m: Annotated[float, Key("length of a tooth's tip along the belt", "mm", 0.1, 40)]
    expansion_per_c: Annotated[float, Key("expansion of the cord with heat", "ppm_per_c", -20, 200)] = 0.0
    warmer_c: Annotated[float, Key("how much warmer the belt is hot than cold", "c", 0, 200)] = 0.0
    tension_limit_n: Annotated[float | None, Key("maker's limit of the belt's tension", "n", 10, 1e6)] = None
    diameter_limit_m: Annotated[float | None, Key("maker's least pitch diameter", "mm", 1, 2000)] = None

    @property
    def length_m(self) -> float:
        """Pitch length without tension."""
        return self.teeth * self.pitch_m

    @property
    def land_share(self) -> float:
        """Share of the belt's length that touches a smooth pulley with the tips of its teeth."""
        return self.tooth_tip_m / self.pitch_m


@dataclass(frozen=True, slots=True)
class Pulley:
    """A pulley; `x_m`, `y_m` are its centre, at travel 0 where it is on the slide."""

    name: Annotated[str, Key("what the pulley is called")]
    role: Annotated[Role, Key("what it does: the crank drives, the blower takes the power")]
    face: Annotated[Literal["toothed", "smooth"], Key("toothed or smooth")]
    side: Annotated[Literal["inside", "outside"], Key(
        "inside the loop (on the belt's teeth) or outside (on its back)")]
    x_m: Annotated[float, Key("centre, to the right seen from the front", "mm", -5000, 5000)]
    y_m: Annotated[float, Key("centre, up", "mm", -5000, 5000)]
    teeth: Annotated[int | None, Key("teeth of a toothed pulley, of the belt's pitch", "", 8, 400)] = None
    pitch_diameter_m: Annotated[float | None, Key(
        "pitch diameter, instead of teeth or diameter", "mm", 5, 3000)] = None
    diameter_m: Annotated[float | None, Key("diameter of a smooth pulley's surface", "mm", 5, 3000)] = None
    mount: Annotated[Literal["fixed", "slide"], Key(
        "fixed, or on the idler's slide (centre given at travel 0)")] = "fixed"
    growth_share: Annotated[float | None, Key(
        "share of the engine's growth that lifts this centre (blower 1, others 0)", "", -1, 2)] = None

    @property
    def lift_share(self) -> float:
        """Share of the engine's growth that lifts this centre: 1 for the blower and 0 for others unless given."""
        return (1.0 if self.role == "blower" else 0.0) if self.growth_share is None else self.growth_share

    def pitch_radius(self, belt: Belt) -> float:
        """Radius of the belt's pitch line around this pulley.

        Toothed: z p / (2 pi). Smooth inside: the tips of the teeth ride on the surface, so the pitch line lies tooth
        height + land above it. Smooth outside: the back rides on it, so the pitch line lies the back above it.
        """
        if self.pitch_diameter_m is not None:
            return self.pitch_diameter_m / 2
        if self.teeth is not None:
            return pitch_diameter(self.teeth, belt.pitch_m) / 2
        return self.body_radius(belt) + self._above(belt)

    def body_radius(self, belt: Belt) -> float:
        """Radius of the pulley's own surface: tooth tips of a toothed pulley, the face of a smooth one."""
        if self.diameter_m is not None:
            return self.diameter_m / 2
        return self.pitch_radius(belt) - self._above(belt)

    def _above(self, belt: Belt) -> float:
        if self.side == "outside":
            return belt.back_m
        return belt.land_m if self.face == "toothed" else belt.land_m + belt.tooth_height_m


@dataclass(frozen=True, slots=True)
class Slide:
    """The line along which the idler's centre moves; travel is counted from the centre given for the pulley."""

    direction_rad: Annotated[float, Key(
        "direction of growing travel, anticlockwise from x seen from the front", "deg", -360, 360)]
    least_m: Annotated[float, Key("travel at the near end of the adjuster", "mm", -1000, 1000)]
    most_m: Annotated[float, Key("travel at the far end of the adjuster", "mm", -1000, 1000)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Engine:
    """Speeds and times of a run."""

    crank_rpm: Annotated[float, Key("crank speed at full load", "rpm", 100, 30000)]
    idle_rpm: Annotated[float, Key("crank speed at idle", "rpm", 100, 10000)]
    overdrive: Annotated[float | None, Key(
        "how much faster the blower turns than the crank; must agree with the teeth", "percent", -80, 300)] = None
    full_load_s: Annotated[float, Key("time at full load in one run", "s", 0.1, 3600)]
    idle_time_s: Annotated[float, Key("time at idle before one run, warm-up included", "s", 0, 36000)] = 0.0
    snap_rpm_per_s: Annotated[float | None, Key(
        "how fast the crank speeds up when the throttle is snapped open", "rpm_per_s", 0, 1e6)] = None


@dataclass(frozen=True, slots=True)
class Blower:
    """Power the blower takes at each of its speeds; both rise, nothing is said beyond the last."""

    speed_rpm: Annotated[tuple[float, ...], Key("blower speeds, rising", "rpm", 0, 60000)]
    power_w: Annotated[tuple[float, ...], Key("power at each of those speeds", "kw", 0, 5000)]
    inertia_kg_m2: Annotated[float | None, Key("inertia of rotors and pulley on the blower's shaft", "kg_m2", 0, 10)
                             ] = None


@dataclass(frozen=True, slots=True)
class Snout:
    """The blower's nose: what pull it may carry, and how it gives, by a stiffness or a dial under a known pull."""

    limit_n: Annotated[float | None, Key("greatest pull of the belt on it", "n", 100, 1e6)] = None
    stiffness_n_per_m: Annotated[float | None, Key("force that pulls it down by one mm", "n_per_mm", 1, 1e7)] = None
    dial_m: Annotated[float | None, Key("how far a dial saw it go down", "mm", 0.001, 50)] = None
    dial_pull_n: Annotated[float | None, Key("pull on it at that dial's reading", "n", 10, 1e6)] = None

    @property
    def sag_per_n(self) -> float | None:
        """How far it goes down for each newton, where that is known."""
        if self.stiffness_n_per_m is not None:
            return 1 / self.stiffness_n_per_m
        if self.dial_m is not None and self.dial_pull_n is not None:
            return self.dial_m / self.dial_pull_n
        return None


@dataclass(frozen=True, slots=True)
class Height:
    """A part of the height between crank and blower."""

    name: Annotated[str, Key("what part it is")]
    height_m: Annotated[float, Key("its height, cold", "mm", 1, 3000)]
    warmer_c: Annotated[float, Key("how much warmer it is hot than cold", "c", 0, 500)]
    material: Annotated[Material | None, Key("what it is made of")] = None
    expansion_per_c: Annotated[float | None, Key(
        "expansion with heat, instead of the material", "ppm_per_c", 0, 100)] = None

    @property
    def growth_m(self) -> float:
        """How much longer it is hot: expansion x height x warmer."""
        expansion = EXPANSION_PER_C[self.material or ""] if self.expansion_per_c is None else self.expansion_per_c
        return expansion * self.height_m * self.warmer_c


@dataclass(frozen=True, slots=True)
class Tension:
    """The static tension of a span as set, cold and at rest, and what is known of it."""

    set_n: Annotated[float, Key("static tension of one span, cold, at rest", "n", 50, 50000)]
    reading_error: Annotated[float, Key("how far a reading of it may be off, either way", "percent", 0, 50)] = 0.05
    margin_n: Annotated[float, Key("least slack-side tension wanted at full load", "n", 0, 50000)] = 0.0
    growth_low_m: Annotated[float | None, Key("least growth of the engine hot, as measured", "mm", 0, 10)] = None
    growth_high_m: Annotated[float | None, Key("greatest growth of the engine hot, as measured", "mm", 0, 10)] = None
    span_m: Annotated[float | None, Key("length of the span that is plucked or pushed", "mm", 20, 3000)] = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Idler:
    """The idler's pin, its support and its bearings."""

    support: Annotated[Literal["single", "three-point"], Key("what holds the pin: one wall, or three points")]
    pin_diameter_m: Annotated[float, Key("diameter of the pin", "mm", 3, 200)]
    pin_modulus_pa: Annotated[float, Key("Young's modulus of the pin", "gpa", 10, 500)] = 205e9
    overhang_m: Annotated[float, Key("face of the bracket to the middle of the belt", "mm", 1, 500)]
    grip_m: Annotated[float | None, Key("rear wall to front wall of the bracket (three-point)", "mm", 1, 500)] = None
    outboard_m: Annotated[float | None, Key("front wall to the outboard plate (three-point)", "mm", 1, 1000)] = None
    bearings: Annotated[int | None, Key("bearings that share the load", "", 1, 8)] = None
    bearing_kind: Annotated[Literal["ball", "roller"], Key("ball or roller")] = "ball"
    bearing_static_n: Annotated[float | None, Key("static rating C0 of one bearing", "n", 100, 1e7)] = None
    bearing_dynamic_n: Annotated[float | None, Key("dynamic rating C of one bearing", "n", 100, 1e7)] = None
    bearing_limit_rpm: Annotated[float | None, Key("maker's speed limit of the bearing", "rpm", 100, 200000)] = None


@dataclass(frozen=True, slots=True)
class Bracket:
    """The idler's bracket, into which the stack goes."""

    gap_m: Annotated[float, Key("gap between the bracket's faces", "mm", 1, 1000)]
    gap_tolerance_m: Annotated[float, Key("how far the gap may be off, either way", "mm", 0, 5)] = 0.0
    clearance_m: Annotated[float | None, Key("clearance wanted of the stack; else all tolerances", "mm", 0, 5)] = None
    stiffness_n_per_m: Annotated[float | None, Key(
        "force that spreads the bracket by one mm", "n_per_mm", 1, 1e7)] = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StackPart:
    """A part of the stack on the idler's pin: its length, its tolerance either way, and where it stands."""

    name: Annotated[str, Key("what part it is")]
    length_m: Annotated[float, Key("its length along the pin", "mm", 0.01, 1000)]
    tolerance_m: Annotated[float, Key("how far the length may be off, either way", "mm", 0, 5)] = 0.0
    place: Annotated[Literal["front", "idler", "rear"], Key("where it sits against the idler")]


@dataclass(frozen=True, slots=True)
class Spacer:
    """A numbered spacer on hand for the idler adjusters; it is listed twice when there are two of it."""

    number: Annotated[int, Key("the number stamped on it", "", 0, 999)]
    length_m: Annotated[float, Key("its length", "mm", 0.01, 500)]


@dataclass(frozen=True, slots=True)
class Adjusters:
    """The screws that move the idler along its slide; `thread` as `screws.thread` reads it."""

    thread: Annotated[str, Key('thread, as "3/8-24" or "M10x1.25"', kind="thread")]
    spacing_m: Annotated[float | None, Key("front adjuster to rear adjuster", "mm", 1, 1000)] = None
    ends: Annotated[Ends, Key("left-right: left and right hand ends, twice the travel a turn")] = "one-hand"


@dataclass(frozen=True, slots=True)
class JackScrews:
    """The screws under the blower's snout."""

    thread: Annotated[str, Key('thread, as "3/8-24" or "M10x1.25"', kind="thread")]
    spacing_m: Annotated[float | None, Key("left screw to right screw", "mm", 1, 1000)] = None
    reach_m: Annotated[float | None, Key("screws to the line about which the snout tilts", "mm", 1, 2000)] = None
    ends: Annotated[Ends, Key("left-right: left and right hand ends, twice the travel a turn")] = "one-hand"


@dataclass(frozen=True, slots=True)
class Manifold:
    """The manifold under the blower."""

    base_m: Annotated[float, Key("length of its base, from end to end", "mm", 10, 3000)]
    shim_m: Annotated[float, Key("shim under one end", "mm", 0, 20)] = 0.0


@dataclass(frozen=True, slots=True)
class Clamp:
    """The clamp that holds the idler where it was set."""

    thread: Annotated[str, Key('thread of its bolts, as "3/8-24" or "M10x1.25"', kind="thread")]
    bolts: Annotated[int, Key("bolts that press the faces together", "", 1, 24)]
    faces: Annotated[int, Key("pairs of faces that rub", "", 1, 16)]
    torque_n_m: Annotated[float, Key("torque on each bolt", "n_m", 0.1, 5000)]
    proof_pa: Annotated[float, Key("proof stress of the bolts", "mpa", 50, 3000)]
    state: Annotated[Literal["clean", "dry", "black", "galled"], Key("state of the threads")] = "dry"
    friction: Annotated[float, Key("friction of the faces", "", 0.01, 1.5)] = 0.12


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """A whole drive; `pulleys` stand in the order in which the running belt meets them."""

    name: Annotated[str, Key("what the drive is called")]
    turns: Annotated[Literal["clockwise", "anticlockwise"], Key("which way the belt runs, seen from the front")]
    invented: Annotated[bool, Key("true for an example that is nobody's drive")] = False
    note: Annotated[str, Key("anything worth keeping")] = ""
    units: Annotated[Literal["si", "inch-pound"], Key(
        "units of the answers; unless given, those in which the tension is set")] = "si"
    belt: Annotated[Belt, Section("the belt")]
    pulleys: Annotated[tuple[Pulley, ...], Section(
        "a pulley; in the order in which the running belt meets them", "pulley")]
    slide: Annotated[Slide | None, Section("the line along which the idler moves to tension the belt")] = None
    engine: Annotated[Engine, Section("speeds and times of a run")]
    blower: Annotated[Blower, Section("power the blower takes over its speed")]
    snout: Annotated[Snout | None, Section("the blower's nose: its limit, and how it gives")] = None
    heights: Annotated[tuple[Height, ...], Section(
        "a part of the height between crank and blower that grows when hot", "height")] = ()
    tension: Annotated[Tension, Section("the static tension set, how well it is read, and the margin wanted")]
    idler: Annotated[Idler | None, Section("the idler's pin, its support and its bearings")] = None
    bracket: Annotated[Bracket | None, Section("the idler's bracket, into which the stack goes")] = None
    stack: Annotated[tuple[StackPart, ...], Section(
        "a part of the stack on the idler's pin, from front to rear")] = ()
    spacers: Annotated[tuple[Spacer, ...], Section(
        "a numbered spacer on hand for the idler adjusters", "spacer")] = ()
    adjusters: Annotated[Adjusters | None, Section("the screws that move the idler along its slide")] = None
    jack_screws: Annotated[JackScrews | None, Section("the screws under the blower's snout")] = None
    manifold: Annotated[Manifold | None, Section("the manifold under the blower")] = None
    clamp: Annotated[Clamp | None, Section("the clamp that holds the idler where it was set")] = None

    @property
    def spoken(self) -> Units:
        """How its amounts are said."""
        return Units(self.units == "inch-pound")

    def place(self, role: Role) -> int:
        """Index of the first pulley with a role; ValueError if there is none."""
        return [pulley.role for pulley in self.pulleys].index(role)

    @property
    def sliding(self) -> int | None:
        """Index of the pulley on the slide, None if all are fixed."""
        return next((i for i, pulley in enumerate(self.pulleys) if pulley.mount == "slide"), None)

    def at_travel(self, travel_m: float) -> Layout:
        """Move the idler along its slide: its centre becomes the new travel 0."""
        if self.slide is None or self.sliding is None:
            raise ValueError(f"{self.name} has no pulley on a slide to be moved")
        moved = self.pulleys[self.sliding]
        moved = replace(
            moved,
            x_m=moved.x_m + travel_m * cos(self.slide.direction_rad),
            y_m=moved.y_m + travel_m * sin(self.slide.direction_rad),
        )
        slide = replace(self.slide, least_m=self.slide.least_m - travel_m, most_m=self.slide.most_m - travel_m)
        pulleys = tuple(moved if i == self.sliding else p for i, p in enumerate(self.pulleys))
        return replace(self, pulleys=pulleys, slide=slide)

    def grown(self, growth_m: float) -> Layout:
        """Lift every centre by its share of the engine's growth."""
        return replace(self, pulleys=tuple(replace(p, y_m=p.y_m + growth_m * p.lift_share) for p in self.pulleys))
# fmt: on
