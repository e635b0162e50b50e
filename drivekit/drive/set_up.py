"""The whole set-up of a drive, computed once: what a person reads before going to the engine.

`set_up` seats the idler for the layout's belt and tension, then asks every other module in turn. What needs a second
look is said with it: limits of belt, bearing and bolt are the makers' and come from the drive file; six teeth in mesh
on a pulley that carries power, and a tenth of the slide kept for the belt to settle, are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from html import escape
from itertools import pairwise
from math import atan2, degrees, pi, radians, tan

from drivekit.cautions import CAUTIONS
from drivekit.drive.clamp import Grip, grip, preload
from drivekit.drive.entry import walk_on
from drivekit.drive.fitting import (
    AdjusterGain,
    Growth,
    Seat,
    adjuster_gain,
    fitting_belts,
    growth,
    refuse_misfit,
    seat,
)
from drivekit.drive.idler import BearingCheck, PinBend, bearing_check, pin_bend
from drivekit.drive.layout import Layout
from drivekit.drive.limits import idler_place, pull_along, tension_limits
from drivekit.drive.loads import BeltDuty, State, belt_duty, states
from drivekit.drive.path import BeltPath, Span, belt_path
from drivekit.drive.screws import height, thread
from drivekit.drive.slack import Margin, SlackPoint, TensionGuide, belt_speed, goes_slack, margin, tension_guide
from drivekit.drive.snap import Snap, snap
from drivekit.drive.snout import SnoutFlat, snout_flat, snout_words
from drivekit.drive.span_tension import (
    PushTension,
    SpanTension,
    frequency_of,
    push_force,
    tension_from_frequency,
    tension_from_push,
)
from drivekit.drive.stack import ManifoldTilt, StackFit, stack_fit, tilt
from drivekit.units import Spoken, Units, refused_in

__all__ = ["SetUp", "SpanReading", "set_up"]

# a sag of a 64th of the span: common practice, no source
PUSH_SHARE = 1 / 64
LEAST_IN_MESH = 6.0
LEAST_LEFT = 0.1
LEAST_WRAP_RAD = radians(15)


@dataclass(frozen=True, slots=True)
class SpanReading(Spoken):
    """What the span that is measured should give at the tension to set: its note, and the push for a small sag.

    `clamped_hz` is its note with the belt's stiffness and its ends held; a real one lies between that and the string's.
    """

    span: Span
    note: SpanTension
    clamped_hz: float | None
    push: PushTension

    @property
    def notes(self) -> str:
        """The note as a string, and with held ends where the belt's bending stiffness is known."""
        held = "" if self.clamped_hz is None else f", {self.clamped_hz:.1f} Hz with held ends"
        return f"{self.note.frequency_hz:.1f} Hz as a string{held}"

    def _said(self, units: Units) -> str:
        return (
            f"At the tension to set, the free span {self.span.leaves} to {self.span.meets} "
            f"({units.long(self.note.length_m, 1)}) rings at {self.notes}, and a push "
            f"of {units.force(self.push.force_n)} in its middle moves it {units.long(self.push.deflection_m, 2)}. Read "
            "it cold, belt at rest, same tooth at the mark, three times; 1 % wrong in length or frequency makes 2 % in "
            "tension."
        )


@dataclass(frozen=True, slots=True)
class SetUp:
    """Everything there is to know of a drive before it runs; None where the drive file does not say enough.

    `layout` has its idler where the belt seats it (travel 0 is there); `seat` says where that is, None for a drive
    without a slide, `belts` which other belts the slide takes. `states` are at rest, at idle, at full load;
    `grip_refused` says why there is no grip to compute, where the clamp's torque is refused.
    """

    layout: Layout
    seat: Seat | None
    belts: tuple[Seat, ...]
    path: BeltPath
    growth: Growth
    states: tuple[State, State, State]
    slack: SlackPoint
    margin: Margin
    guide: TensionGuide
    reading: SpanReading
    duty: BeltDuty
    gain: AdjusterGain | None
    bend: PinBend | None
    bearing: BearingCheck | None
    jack_flat: SnoutFlat | None
    tilt: ManifoldTilt | None
    stack: StackFit | None
    snap: Snap | None
    grip: Grip | None
    grip_refused: str = ""

    @property
    def warnings(self) -> tuple[str, ...]:
        """What needs a second look, a sentence each."""
        return (*_tension_looks(self), *_path_looks(self), *_idler_looks(self))

    @property
    def set_to(self) -> str:
        """The tension that the file sets."""
        return f"Set to {self.layout.spoken.force(self.layout.tension.set_n)} a span, cold, at rest."

    @property
    def snout(self) -> str:
        """The pull on the blower's snout in every state, and what it does there."""
        return snout_words(self.layout, self.states)

    @property
    def belts_words(self) -> str:
        """Which belts the slide takes."""
        if not self.belts:
            return "No slide: only a belt of the path's own length fits."
        first, last = self.belts[0].teeth, self.belts[-1].teeth
        return f"The slide takes belts of {first} to {last} teeth." if first < last else f"Only {first} teeth fit."

    def said(self, *parts: Spoken | None) -> tuple[str, ...]:
        """Say parts of it in the units of its file; what is None is not said."""
        return tuple(part.said(self.layout.spoken) for part in parts if part is not None)

    def sentences(self) -> tuple[tuple[str, tuple[str, ...]], ...]:
        """Say the whole set-up, by headings."""
        path = (line for part in self.said(self.path) for line in part.splitlines())
        tensions = (state.tensions for state in self.states[1:])
        return (
            ("Goes slack", self.said(self.slack, self.margin)),
            ("Tension", (self.set_to, *self.said(self.guide, self.reading, self.gain))),
            ("Growth", self.said(self.growth)),
            ("Path", (*self.said(self.seat), self.belts_words, *path)),
            ("Loads", (*self.said(*tensions, *self.states, self.snap), self.snout)),
            ("Belt", self.said(self.duty)),
            (
                "Idler, screws and shims",
                self.said(self.bend, self.bearing, self.stack, self.grip, self.jack_flat, self.tilt),
            ),
        )

    @property
    def headline(self) -> str:
        """Which drive this is."""
        return f"Drive: {self.layout.name}{' (invented)' if self.layout.invented else ''}."

    def _parts(self) -> tuple[tuple[str, tuple[str, ...]], ...]:
        parts = (("Cautions", CAUTIONS), *self.sentences(), ("Look again", self.warnings))
        return tuple((heading, sentences) for heading, sentences in parts if sentences)

    def __str__(self) -> str:
        lines = [self.headline]
        for heading, sentences in self._parts():
            lines += ["", heading, *(f"  {sentence}" for sentence in sentences)]
        return "\n".join(lines)

    def _repr_html_(self) -> str:
        parts = (
            f"<h4>{heading}</h4>" + "".join(f"<p>{escape(sentence)}</p>" for sentence in sentences)
            for heading, sentences in self._parts()
        )
        return f"<p><strong>{escape(self.headline)}</strong></p>{''.join(parts)}"


def set_up(layout: Layout, best_n: tuple[float, ...] = ()) -> SetUp:
    """Compute the whole set-up of a drive.

    Parameters
    ----------
    layout : Layout
        The drive as read.
    best_n : tuple of float
        Static tension at which last season's belts lasted best, and its limits, in N; as in `TensionGuide`.

    Raises
    ------
    Impossible
        If no belt can run around the pulleys, or not this one.
    ValueError
        If the idler's support is not described well enough; one sentence.
    """
    set_n, seated = layout.tension.set_n, None
    belts: tuple[Seat, ...] = ()
    if layout.sliding is not None:
        belts = fitting_belts(layout, tension_n=set_n)
        seated = seat(layout, belts)
        layout = layout.at_travel(seated.travel_m)
    path, hot = belt_path(layout), growth(layout)
    if seated is None:
        refuse_misfit(layout, path)
    three = states(layout, path, hot.tension_n[1])
    idler = idler_place(layout)
    hardest = three[0] if idler is None else max(three, key=lambda state: state.load(idler).force_n)
    bend, bearing = (None, None) if idler is None else _pulled(layout, path, hardest, idler)
    clamped, refused = (None, "") if idler is None else _grip(layout, three, idler)
    adjusted = layout.adjusters is not None and seated is not None
    bracket, least_grip = layout.bracket, None if clamped is None else clamped.grip_n.least
    return SetUp(
        layout=layout,
        seat=seated,
        belts=belts,
        path=path,
        growth=hot,
        states=three,
        slack=goes_slack(layout, hot.tension_n[1]),
        margin=margin(layout, hot.tension_n),
        guide=tension_guide(layout, hot.tension_n, best_n, tension_limits(layout, path, hot.tension_n[2], least_grip)),
        reading=_reading(layout, path),
        duty=belt_duty(layout, path, hardest),
        gain=adjuster_gain(layout) if adjusted else None,
        bend=bend,
        bearing=bearing,
        jack_flat=snout_flat(layout, path),
        tilt=None if layout.manifold is None else tilt(layout.manifold.shim_m, layout.manifold.base_m),
        stack=None if bracket is None or not layout.stack else stack_fit(bracket, layout.stack),
        snap=snap(layout, path, three[2]),
        grip=clamped,
        grip_refused=refused,
    )


def _reading(layout: Layout, path: BeltPath) -> SpanReading:
    """Foretell what the longest free span reads, or the span whose length the file gives."""
    span, belt, set_n = max(path.spans, key=lambda one: one.length_m), layout.belt, layout.tension.set_n
    length = span.length_m if layout.tension.span_m is None else layout.tension.span_m
    span = min(path.spans, key=lambda one: abs(one.length_m - length))
    note = tension_from_frequency(frequency_of(set_n, length, belt.mass_kg_per_m), length, belt.mass_kg_per_m)
    held = None
    if belt.bending_n_m2:
        held = frequency_of(set_n, length, belt.mass_kg_per_m, belt.bending_n_m2, ends="clamped")
    sag, stretch = length * PUSH_SHARE, {"stiffness_n": belt.stiffness_n, "belt_m": belt.length_m}
    push = tension_from_push(push_force(set_n, sag, length, **stretch), sag, length, **stretch)
    return SpanReading(span, note, held, push)


def _pulled(layout: Layout, path: BeltPath, hardest: State, idler: int) -> tuple[PinBend | None, BearingCheck | None]:
    """Return what the hardest pull does to the idler's pin and bearings."""
    if layout.idler is None:
        return None, None
    load = hardest.load(idler)
    gain = path.length_per_move(idler, atan2(-load.y_n, -load.x_n))
    fastest = belt_speed(layout, layout.engine.crank_rpm)
    bend = pin_bend(layout.idler, load.force_n, layout.belt.width_m, gain)
    if load.force_n > 0:
        leans = atan2(load.y_n, load.x_n) + (0.0 if bend.slope_rad > 0 else pi)
        bend = replace(bend, toward=walk_on(path, idler, leans).toward)
    screws = layout.adjusters
    if screws is not None and screws.spacing_m is not None:
        flat_m = height(thread(screws.thread), 1, ends=screws.ends)
        bend = replace(bend, flats=screws.spacing_m * tan(abs(bend.slope_rad)) / flat_m)
    return (
        bend,
        bearing_check(layout.idler, path.arcs[idler].radius_m, load.force_n, fastest),
    )


def _grip(layout: Layout, three: tuple[State, ...], idler: int) -> tuple[Grip | None, str]:
    """Return the clamp's grip against the part of the belt's pull that lies along the slide, or why it is refused."""
    clamp = layout.clamp
    if clamp is None or layout.slide is None:
        return None, ""
    along = max(pull_along(layout, state, idler) for state in three)
    try:
        bolt = preload(clamp.torque_n_m, thread(clamp.thread), clamp.state, clamp.proof_pa)
        return grip(bolt, along, bolts=clamp.bolts, faces=clamp.faces, friction=clamp.friction), ""
    except ValueError as refusal:
        return None, f"{refused_in(layout.spoken, refusal)}."


def _tension_looks(found: SetUp) -> Iterator[str]:
    layout, full, units = found.layout, found.states[2], found.layout.spoken
    if full.tensions.slack_n <= 0:
        yield "At full load the belt is slack: a tooth can jump. Set more tension or carry less power."
    elif found.margin.low_n < 0:
        yield "With growth and reading as far off as they may be, the belt can go slack at full load."
    elif found.margin.low_n < found.margin.wanted_n:
        yield (
            f"The least slack-side tension, {units.force(found.margin.low_n)}, is under the "
            f"{units.force(found.margin.wanted_n)} wanted."
        )
    if found.guide.limit_n is not None and layout.tension.set_n > found.guide.limit_n:
        yield (
            f"{units.force(layout.tension.set_n)} is over {units.force(found.guide.limit_n)}, the most that "
            f"{found.guide.limited_by} leaves."
        )
    if layout.tension.margin_n == 0:
        yield "No margin is wanted of the slack side: pulses and a clutch that grabs then find it slack."
    if layout.tension.growth_low_m is None and layout.heights:
        yield "The growth computed is counted in full as its least: measure it, or give growth_low_mm."
    powers = layout.blower.power_w
    if any(low > high for low, high in pairwise(powers)):
        yield "The blower's power falls along its table, which no blower's does: look at power_kw."
    if found.snap is not None and found.snap.opened_n <= 0:
        yield "A throttle snapped open at full load makes the belt slack."


def _path_looks(found: SetUp) -> Iterator[str]:
    belt, seated, slide, units = found.layout.belt, found.seat, found.layout.slide, found.layout.spoken
    for pulley, arc in zip(found.layout.pulleys, found.path.arcs, strict=True):
        if arc.wrap_rad < LEAST_WRAP_RAD:
            yield f"The belt hardly wraps {pulley.name}: {degrees(arc.wrap_rad):.1f} degrees."
        if pulley.role != "idler" and arc.teeth_in_mesh is not None and arc.teeth_in_mesh < LEAST_IN_MESH:
            yield f"Only {arc.teeth_in_mesh:.1f} teeth mesh on {pulley.name}; six is common practice (no source)."
        if belt.diameter_limit_m is not None and 2 * arc.radius_m < belt.diameter_limit_m:
            yield (
                f"The belt bends around {pulley.name} with {units.long(2 * arc.radius_m, 1)} of pitch diameter, under "
                f"its maker's {units.long(belt.diameter_limit_m, 1)}."
            )
    if seated is None:
        wanted = belt.length_m * (1 + found.layout.tension.set_n / belt.stiffness_n)
        strain = found.path.length_m / belt.length_m - 1
        if abs(found.path.length_m - wanted) > 1e-4 * wanted:
            yield (
                f"With no slide the path of {units.long(found.path.length_m, 2)} stretches a belt of {belt.teeth} "
                f"teeth to {units.force(max(strain, 0.0) * belt.stiffness_n)}, not to the tension to set."
            )
    elif slide is not None and seated.left_m < LEAST_LEFT * (slide.most_m - slide.least_m):
        yield f"Only {units.long(seated.left_m, 1)} of the slide are left to tighten as the belt settles."


def _idler_looks(found: SetUp) -> Iterator[str]:
    bearing = found.bearing
    if bearing is not None and bearing.safe is False and bearing.safety is not None:
        yield f"The idler's bearings have a static safety of {bearing.safety:.1f}; {bearing.safety_wanted:g} is wanted."
    if bearing is not None and bearing.slow_enough is False and bearing.limit_rpm is not None:
        yield f"The idler turns at {bearing.idler_rpm:,.0f} rpm, beyond its bearings' {bearing.limit_rpm:,.0f} rpm."
    if found.stack is not None and found.stack.verdict != "has play":
        yield f"The idler's stack {found.stack.verdict} in its bracket."
    if found.grip_refused:
        yield found.grip_refused
    elif found.grip is not None and not found.grip.holds:
        yield "The clamp does not hold the idler at the least grip its bolts may have."
