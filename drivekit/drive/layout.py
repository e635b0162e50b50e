"""The drive described once: its belt, pulleys, engine and idler, frozen, in SI.

Each class carries one section of the drive file (`keys.py` says what every key means); the fields are the keys with
their units turned into SI: ``pitch_mm`` in the file is ``pitch_m`` here. An optional key that is absent and has no
default is None.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import cos, pi, sin
from typing import Literal

__all__ = [
    "Adjusters",
    "Belt",
    "Blower",
    "Bracket",
    "Clamp",
    "Engine",
    "Height",
    "Idler",
    "JackScrews",
    "Layout",
    "Manifold",
    "Pulley",
    "Slide",
    "Spacer",
    "StackPart",
    "Tension",
    "pitch_diameter",
]

Ends = Literal["one-hand", "left-right"]

# Mean expansion near room temperature, 1/C: Callister, Materials Science and Engineering, table of thermal properties.
EXPANSION_PER_C = {
    "aluminium-6061": 23.6e-6,
    "steel-1020": 11.7e-6,
    "steel-a36": 11.7e-6,
    "steel-4140": 12.3e-6,
    "steel-4340": 12.3e-6,
}


def pitch_diameter(teeth: int, pitch_m: float) -> float:
    """Pitch diameter z p / pi of a toothed pulley in m: the pitch line runs z pitches around it (ISO 5296)."""
    return teeth * pitch_m / pi


@dataclass(frozen=True, slots=True)
class Belt:
    """The belt."""

    pitch_m: float
    teeth: int
    width_m: float
    mass_kg_per_m: float
    stiffness_n: float
    back_m: float
    land_m: float
    tooth_height_m: float
    tooth_tip_m: float
    bending_n_m2: float | None = None
    expansion_per_c: float = 0.0
    warmer_c: float = 0.0
    tension_limit_n: float | None = None
    diameter_limit_m: float | None = None

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

    name: str
    role: Literal["crank", "blower", "idler"]
    face: Literal["toothed", "smooth"]
    side: Literal["inside", "outside"]
    x_m: float
    y_m: float
    teeth: int | None = None
    pitch_diameter_m: float | None = None
    diameter_m: float | None = None
    mount: Literal["fixed", "slide"] = "fixed"
    growth_share: float | None = None

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

    direction_rad: float
    least_m: float
    most_m: float


@dataclass(frozen=True, slots=True)
class Engine:
    """Speeds and times of a run."""

    crank_rpm: float
    idle_rpm: float
    full_load_s: float
    overdrive: float | None = None
    idle_time_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Blower:
    """Power the blower takes at each of its speeds; both rise, nothing is said beyond the last."""

    speed_rpm: tuple[float, ...]
    power_w: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Height:
    """A part of the height between crank and blower."""

    name: str
    height_m: float
    warmer_c: float
    material: str | None = None
    expansion_per_c: float | None = None

    @property
    def growth_m(self) -> float:
        """How much longer it is hot: expansion x height x warmer."""
        expansion = EXPANSION_PER_C[self.material or ""] if self.expansion_per_c is None else self.expansion_per_c
        return expansion * self.height_m * self.warmer_c


@dataclass(frozen=True, slots=True)
class Tension:
    """The static tension of a span as set, cold and at rest, and what is known of it."""

    set_n: float
    reading_error: float = 0.05
    margin_n: float = 0.0
    growth_low_m: float | None = None
    growth_high_m: float | None = None
    span_m: float | None = None


@dataclass(frozen=True, slots=True)
class Idler:
    """The idler's pin, its support and its bearings."""

    support: Literal["single", "three-point"]
    pin_diameter_m: float
    overhang_m: float
    pin_modulus_pa: float = 205e9
    grip_m: float | None = None
    outboard_m: float | None = None
    bearings: int | None = None
    bearing_kind: Literal["ball", "roller"] = "ball"
    bearing_static_n: float | None = None
    bearing_dynamic_n: float | None = None
    bearing_limit_rpm: float | None = None


@dataclass(frozen=True, slots=True)
class Bracket:
    """The idler's bracket, into which the stack goes."""

    gap_m: float
    gap_tolerance_m: float = 0.0
    stiffness_n_per_m: float | None = None


@dataclass(frozen=True, slots=True)
class StackPart:
    """A part of the stack on the idler's pin."""

    name: str
    length_m: float
    place: Literal["front", "idler", "rear"]
    tolerance_m: float = 0.0


@dataclass(frozen=True, slots=True)
class Spacer:
    """A numbered spacer on hand for the idler adjusters."""

    number: int
    length_m: float


@dataclass(frozen=True, slots=True)
class Adjusters:
    """The screws that move the idler along its slide; `thread` as `threads.thread` reads it."""

    thread: str
    number: int
    spacing_m: float | None = None
    ends: Ends = "one-hand"


@dataclass(frozen=True, slots=True)
class JackScrews:
    """The screws under the blower's snout."""

    thread: str
    number: int
    spacing_m: float | None = None
    reach_m: float | None = None
    ends: Ends = "one-hand"


@dataclass(frozen=True, slots=True)
class Manifold:
    """The manifold under the blower."""

    base_m: float
    shim_m: float = 0.0


@dataclass(frozen=True, slots=True)
class Clamp:
    """The clamp that holds the idler where it was set."""

    thread: str
    bolts: int
    faces: int
    torque_n_m: float
    proof_pa: float
    state: Literal["clean", "dry", "galled"] = "dry"
    friction: float = 0.12


@dataclass(frozen=True, slots=True)
class Layout:
    """A whole drive; `pulleys` stand in the order in which the running belt meets them."""

    name: str
    turns: Literal["clockwise", "anticlockwise"]
    belt: Belt
    pulleys: tuple[Pulley, ...]
    engine: Engine
    blower: Blower
    tension: Tension
    invented: bool = False
    note: str = ""
    slide: Slide | None = None
    heights: tuple[Height, ...] = ()
    idler: Idler | None = None
    bracket: Bracket | None = None
    stack: tuple[StackPart, ...] = ()
    spacers: tuple[Spacer, ...] = ()
    adjusters: Adjusters | None = None
    jack_screws: JackScrews | None = None
    manifold: Manifold | None = None
    clamp: Clamp | None = None

    def place(self, role: Literal["crank", "blower", "idler"]) -> int:
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
