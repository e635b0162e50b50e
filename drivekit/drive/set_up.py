"""The whole set-up of a drive, computed once: what a person reads before going to the engine.

`set_up` seats the idler for the layout's belt and tension, then asks every other module in turn. What is worth a second
look is for `second_look.py` to say.
"""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from math import atan2, cos, sin

from drivekit.cautions import CAUTIONS
from drivekit.drive.amounts import POUND_N, force_words
from drivekit.drive.bearing import BearingCheck, bearing_check
from drivekit.drive.clamp import Grip, grip, preload
from drivekit.drive.fitting import Fit, fit, fitting_belts
from drivekit.drive.frequency import SpanTension, frequency_of, tension_from_frequency
from drivekit.drive.growth import Growth, growth
from drivekit.drive.layout import Layout
from drivekit.drive.loads import State, states
from drivekit.drive.meshing import BeltDuty, belt_duty
from drivekit.drive.path import BeltPath, Span, belt_path
from drivekit.drive.pin import Bend, pin_bend
from drivekit.drive.push import AdjusterGain, PushTension, adjuster_gain, push_force, tension_from_push
from drivekit.drive.screws import Height, height
from drivekit.drive.second_look import second_look
from drivekit.drive.shims import ManifoldTilt, tilt
from drivekit.drive.slack import Margin, SlackPoint, TensionGuide, belt_speed, goes_slack, margin, tension_guide
from drivekit.drive.stack import Fit as StackFit
from drivekit.drive.stack import Part
from drivekit.drive.stack import fit as stack_fit
from drivekit.drive.threads import thread

__all__ = ["SetUp", "SpanReading", "set_up"]

RECKONED_N = 3000 * POUND_N
# a sag of a 64th of the span: common practice, no source
PUSH_SHARE = 1 / 64


@dataclass(frozen=True, slots=True)
class SpanReading:
    """What the span that is measured should give at the tension to set: its note, and the push for a small sag."""

    span: Span
    note: SpanTension
    push: PushTension

    def __str__(self) -> str:
        return (
            f"At the tension to set, the free span {self.span.leaves} to {self.span.meets} "
            f"({self.note.length_m * 1e3:.1f} mm) rings at {self.note.frequency_hz:.1f} Hz (as a string), and a push "
            f"of {force_words(self.push.force_n)} in its middle moves it {self.push.deflection_m * 1e3:.2f} mm. Read "
            "it cold, belt at rest, same tooth at the mark, three times; 1 % wrong in length or frequency makes 2 % in "
            "tension."
        )


@dataclass(frozen=True, slots=True)
class SetUp:
    """Everything there is to know of a drive before it runs; None where the drive file does not say enough.

    Parameters
    ----------
    layout : Layout
        The drive with its idler where the belt seats it (travel 0 is there).
    seat : Fit or None
        Where that is; None for a drive without a slide.
    belts : tuple of Fit
        Every belt in whole teeth that the slide takes.
    path, growth, slack, margin, guide, duty : as their modules say
    states : (State, State, State)
        At rest, at idle, at full load.
    reading : SpanReading
        What a span should read at the tension to set.
    gain, bend, bearing, jack_flat, tilt, stack, grip : as their modules say, or None
    grip_refused : str
        Why there is no grip to compute, where the clamp's torque is refused.
    """

    layout: Layout
    seat: Fit | None
    belts: tuple[Fit, ...]
    path: BeltPath
    growth: Growth
    states: tuple[State, State, State]
    slack: SlackPoint
    margin: Margin
    guide: TensionGuide
    reading: SpanReading
    duty: BeltDuty
    gain: AdjusterGain | None
    bend: Bend | None
    bearing: BearingCheck | None
    jack_flat: Height | None
    tilt: ManifoldTilt | None
    stack: StackFit | None
    grip: Grip | None
    grip_refused: str = ""

    @property
    def warnings(self) -> tuple[str, ...]:
        """What needs a second look, a sentence each."""
        return second_look(self)

    @property
    def snout(self) -> str:
        """The pull on the blower's snout in every state, beside what crews reckon with."""
        blower = self.layout.place("blower")
        nearest = min(self.states, key=lambda state: abs(state.load(blower).force_n - RECKONED_N))
        each = ", ".join(f"{force_words(state.load(blower).force_n)} {state.name}" for state in self.states)
        return (
            f"The belt pulls the blower's snout with {each}. Crews reckon with about 3,000 lbf (common practice, no "
            f"source); of these states the one {nearest.name} is nearest."
        )

    @property
    def belts_words(self) -> str:
        """Which belts the slide takes."""
        if not self.belts:
            return "No slide: only a belt of the path's own length fits."
        first, last = self.belts[0].teeth, self.belts[-1].teeth
        return f"The slide takes belts of {first} to {last} teeth." if first < last else f"Only {first} teeth fit."

    def sentences(self) -> tuple[tuple[str, tuple[str, ...]], ...]:
        """Say the whole set-up, by headings."""
        path = (*(() if self.seat is None else (str(self.seat),)), self.belts_words, *str(self.path).splitlines())
        known = (self.bend, self.bearing, self.stack, self.grip, self.jack_flat, self.tilt)
        tension = (str(self.guide), str(self.reading), *(() if self.gain is None else (str(self.gain),)))
        return (
            ("Goes slack", (str(self.slack), str(self.margin))),
            ("Tension", tension),
            ("Growth", (str(self.growth),)),
            ("Path", path),
            ("Loads", (*(str(state.tensions) for state in self.states[1:]), *map(str, self.states), self.snout)),
            ("Belt", (str(self.duty),)),
            ("Idler, screws and shims", tuple(str(part) for part in known if part is not None)),
        )

    @property
    def headline(self) -> str:
        """Which drive this is, and what it is set to."""
        invented = " (invented)" if self.layout.invented else ""
        return f"Drive: {self.layout.name}{invented}, set to {force_words(self.layout.tension.set_n)} a span."

    def _parts(self) -> tuple[tuple[str, tuple[str, ...]], ...]:
        parts = (*self.sentences(), ("Look again", self.warnings), ("Cautions", CAUTIONS))
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


def set_up(
    layout: Layout,
    *,
    best_n: float | None = None,
    best_low_n: float | None = None,
    best_high_n: float | None = None,
) -> SetUp:
    """Compute the whole set-up of a drive.

    Parameters
    ----------
    layout : Layout
        The drive as read.
    best_n, best_low_n, best_high_n : float, optional
        Static tension at which last season's belts lasted best, and its limits, in N.

    Raises
    ------
    Impossible
        If no belt can run around the pulleys, or not this one.
    ValueError
        If the idler's support is not described well enough; one sentence.
    """
    set_n, seat = layout.tension.set_n, None
    belts: tuple[Fit, ...] = ()
    if layout.sliding is not None:
        belts = fitting_belts(layout, tension_n=set_n)
        # a belt that is none of these is refused by `fit`, with the reason
        own = next((belt for belt in belts if belt.teeth == layout.belt.teeth), None)
        seat = own or fit(layout, tension_n=set_n)
        layout = layout.at_travel(seat.travel_m)
    path, hot = belt_path(layout), growth(layout)
    three = states(layout, path, hot.tension_n[1])
    idler = _idler(layout)
    hardest = three[0] if idler is None else max(three, key=lambda state: state.load(idler).force_n)
    clamped, refused = (None, "") if idler is None else _grip(layout, hardest, idler)
    return SetUp(
        layout,
        seat,
        belts,
        path,
        hot,
        three,
        goes_slack(layout, hot.tension_n[1]),
        margin(layout, hot.tension_n),
        tension_guide(layout, hot.tension_n, best_n=best_n, best_low_n=best_low_n, best_high_n=best_high_n),
        _reading(layout, path),
        belt_duty(layout, path, hardest),
        None if layout.adjusters is None or layout.sliding is None else adjuster_gain(layout),
        None if idler is None else _bend(layout, path, hardest, idler),
        None if idler is None else _bearing(layout, path, hardest, idler),
        _jack_flat(layout),
        None if layout.manifold is None else tilt(layout.manifold.shim_m, layout.manifold.base_m),
        _stack(layout),
        clamped,
        refused,
    )


def _idler(layout: Layout) -> int | None:
    """Return the idler that the idler's section describes: the one on the slide, or else the first."""
    if layout.sliding is not None:
        return layout.sliding
    return next((i for i, pulley in enumerate(layout.pulleys) if pulley.role == "idler"), None)


def _reading(layout: Layout, path: BeltPath) -> SpanReading:
    """Foretell what the longest free span reads, or the span whose length the file gives."""
    span, belt, set_n = max(path.spans, key=lambda one: one.length_m), layout.belt, layout.tension.set_n
    length = span.length_m if layout.tension.span_m is None else layout.tension.span_m
    span = min(path.spans, key=lambda one: abs(one.length_m - length))
    note = tension_from_frequency(frequency_of(set_n, length, belt.mass_kg_per_m), length, belt.mass_kg_per_m)
    sag, stretch = length * PUSH_SHARE, {"stiffness_n": belt.stiffness_n, "belt_m": belt.length_m}
    push = tension_from_push(push_force(set_n, sag, length, **stretch), sag, length, **stretch)
    return SpanReading(span, note, push)


def _bend(layout: Layout, path: BeltPath, hardest: State, idler: int) -> Bend | None:
    if layout.idler is None:
        return None
    load = hardest.load(idler)
    against = atan2(-load.y_n, -load.x_n)
    return pin_bend(layout.idler, load.force_n, layout.belt.width_m, path.length_per_move(idler, against))


def _bearing(layout: Layout, path: BeltPath, hardest: State, idler: int) -> BearingCheck | None:
    if layout.idler is None:
        return None
    fastest = belt_speed(layout, layout.engine.crank_rpm)
    return bearing_check(layout.idler, path.arcs[idler].radius_m, hardest.load(idler).force_n, fastest)


def _jack_flat(layout: Layout) -> Height | None:
    screws = layout.jack_screws
    return None if screws is None else height(thread(screws.thread), 1, ends=screws.ends)


def _stack(layout: Layout) -> StackFit | None:
    if layout.bracket is None or not layout.stack:
        return None
    parts = [Part(part.name, part.length_m, part.place, part.tolerance_m) for part in layout.stack]
    return stack_fit(layout.bracket.gap_m, parts, gap_tolerance_m=layout.bracket.gap_tolerance_m)


def _grip(layout: Layout, hardest: State, idler: int) -> tuple[Grip | None, str]:
    """Return the clamp's grip against the part of the belt's pull that lies along the slide, or why it is refused."""
    clamp, slide = layout.clamp, layout.slide
    if clamp is None or slide is None:
        return None, ""
    load = hardest.load(idler)
    along = abs(load.x_n * cos(slide.direction_rad) + load.y_n * sin(slide.direction_rad))
    try:
        bolt = preload(clamp.torque_n_m, thread(clamp.thread), clamp.state, clamp.proof_pa)
        return grip(bolt, along, bolts=clamp.bolts, faces=clamp.faces, friction=clamp.friction), ""
    except ValueError as refusal:
        return None, str(refusal)
