"""The blower's snout: what a flat of its two jack screws does, what the belt pulls on it, and how far that sags it.

The jack screws stand under the snout, left and right; both turned alike they lift it by flats x pitch / 6, and the
blower's pulley with it, so the belt's path grows by (u_in - u_out) . up and its tension by EA over the belt's length
times that (Hooke). With the line about which the snout tilts a reach D away, a flat tilts the nose by atan(lift / D).

The pull is the vector sum of the two spans' contact tensions. On centres that do not give it is less at speed than at
rest: turning itself takes m v^2 of every span's tension, and that part presses on no pulley. How far the nose sags
under it follows from a stiffness alone, given as such or as a dial's reading under a known pull: pull / stiffness.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import atan, degrees, pi, tan

from drivekit.drive.layout import JackScrews, Layout, Manifold
from drivekit.drive.loads import State
from drivekit.drive.path import BeltPath
from drivekit.drive.screws import height, thread
from drivekit.drive.stack import tilt
from drivekit.units import Spoken, Units, flats_words

__all__ = ["SnoutFlat", "snout_flat", "snout_words"]


@dataclass(frozen=True, slots=True)
class SnoutFlat(Spoken):
    """One flat of both jack screws: lift, tension gained in every span, tilt of the nose, flats that equal the shim."""

    lift_m: float
    tension_n: float
    tilt_rad: float | None
    flats_for_shim: float | None

    def turned(self, flats: float, units: Units) -> str:
        """Say what so many flats of both do, in above 0: nose angle, lift and tension."""
        does, gains = ("lift", "add") if flats >= 0 else ("lower", "take")
        tilts = ""
        if self.tilt_rad is not None:
            tilts = f", tilt the nose {degrees(atan(abs(flats) * tan(self.tilt_rad))):.3f} degrees"
        return (
            f"{flats_words(abs(flats))} {'in' if flats >= 0 else 'out'}, both jack screws {does} the snout "
            f"{units.length(abs(flats) * self.lift_m)}{tilts} and {gains} {units.force(abs(flats) * self.tension_n)} "
            f"{'to' if flats >= 0 else 'off'} every span: read the tension again."
        )

    def _said(self, units: Units) -> str:
        said = (
            f"One flat of both jack screws under the snout, left and right, lifts it {units.length(self.lift_m)} and "
            f"adds {units.force(self.tension_n)} to every span: read the tension again after any of their turns."
        )
        if self.tilt_rad is not None:
            said += f" It tilts the nose {degrees(self.tilt_rad):.3f} degrees."
        if self.flats_for_shim:
            said += f" {self.flats_for_shim:.1f} flats tilt it as much as the manifold's shim does."
        return said


def snout_flat(layout: Layout, path: BeltPath) -> SnoutFlat | None:
    """Say what one flat of both jack screws does; None for a drive without them."""
    screws = layout.jack_screws
    if screws is None:
        return None
    lift = height(thread(screws.thread), 1, ends=screws.ends)
    grown = path.length_per_move(layout.place("blower"), pi / 2) * lift
    tension = layout.belt.stiffness_n * grown / layout.belt.length_m
    tilted = None if screws.reach_m is None else atan(lift / screws.reach_m)
    return SnoutFlat(lift, tension, tilted, _flats_for_shim(screws, layout.manifold, lift))


def snout_words(layout: Layout, states: tuple[State, State, State]) -> str:
    """Say the pull on the snout in every state, why it is less at speed, and how far it sags where that is known."""
    pulls, units = {state.name: state.load(layout.place("blower")).force_n for state in states}, layout.spoken
    each = ", ".join(f"{units.force(pull)} {name}" for name, pull in pulls.items())
    less = "it is less at speed" if pulls[states[2].name] < pulls[states[0].name] else "it would be more but for that"
    said = (
        f"The belt pulls the blower's snout with {each}. On centres that do not give {less}: turning itself takes "
        f"{units.force(states[2].tensions.own_n)} of each span's tension at speed, and that part presses on no pulley. "
        "Crews see the nose pulled down while the engine pulls (common practice, no source): a dial on it tells by how "
        "much."
    )
    snout = layout.snout
    if snout is None or snout.sag_per_n is None:
        return said
    sags = ", ".join(f"{units.length(pull * snout.sag_per_n)} {name}" for name, pull in pulls.items())
    return f"{said} By the stiffness given it sags {sags}."


def _flats_for_shim(screws: JackScrews, manifold: Manifold | None, lift_m: float) -> float | None:
    if manifold is None or screws.reach_m is None or not manifold.shim_m:
        return None
    return screws.reach_m * tan(tilt(manifold.shim_m, manifold.base_m).tilt_rad) / lift_m
