"""Whether the clamp holds the idler: friction grip from bolt torque, against the force that makes the idler slip.

Short form: preload F = T / (K d) with the nut factor K; grip G = mu F n m for friction mu, n bolts and m pairs of
faces. K scatters, so preload and grip are given as least, likely and most. VDI 2230 gives the full form,
T = F (.16 P + .58 d2 mu_thread + D_m / 2 mu_head); use that or, better, a measured K, where the joint
matters. Torque also twists the bolt, which the short form leaves out: the shares of proof load here are of tension
alone.

Nut factors: dry steel about .2, plain black (not plated) about .3, and torque control good to some 30 % are textbook
figures (Shigley, *Mechanical Engineering Design*; Bickford, *Introduction to the Design and Behavior of Bolted
Joints*; from memory), the oiled band likewise; the galled row is from memory and practice, no source: a galled thread
has no K worth the name and is to be replaced.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from drivekit.drive.amounts import positive
from drivekit.drive.screws import Thread
from drivekit.units import Amount, Refusal, Spoken, Units

__all__ = [
    "NUT_FACTORS",
    "Band",
    "Grip",
    "Preload",
    "grip",
    "preload",
    "proof_load",
]


class Band(NamedTuple):
    """A number that scatters: least, likely and most."""

    least: float
    likely: float
    most: float


NUT_FACTORS: dict[str, tuple[str, Band]] = {
    "clean": ("clean and oiled", Band(0.12, 0.15, 0.18)),
    "dry": ("dry", Band(0.14, 0.20, 0.26)),
    "black": ("dry, plain black bolts", Band(0.22, 0.30, 0.38)),
    "galled": ("galled", Band(0.25, 0.35, 0.50)),
}
"""What is said of a state of the threads, and K in it with its scatter; sources at the top of this module."""


def proof_load(screw: Thread, strength_pa: float) -> float:
    """Find the load in N that leaves no permanent set: stress area times proof strength, which must be above 0."""
    return positive(strength_pa, "the proof strength") * screw.stress_area_m2


@dataclass(frozen=True, slots=True)
class Preload(Spoken):
    """What a torque pulls a bolt with, and how much of its proof load that is."""

    torque_n_m: float
    state: str
    force_n: Band
    bolt: str
    proof_n: float

    @property
    def share_of_proof(self) -> float:
        """Most preload over proof load."""
        return self.force_n.most / self.proof_n

    def _said(self, units: Units) -> str:
        return (
            f"{units.both(self.torque_n_m, 'N m', 1)} on a {self.bolt} bolt, {self.state}: likely "
            f"{units.force(self.force_n.likely)}, from {units.force(self.force_n.least)} to "
            f"{units.force(self.force_n.most)}, at most {100 * self.share_of_proof:.0f} % of its proof load."
        )


def preload(torque_n_m: float, screw: Thread, state: str, strength_pa: float) -> Preload:
    """Preload of a bolt from its torque, F = T / (K d), over the scatter of K.

    Parameters
    ----------
    torque_n_m : float
        Tightening torque.
    screw : Thread
        The bolt's thread.
    state : str
        A key of `NUT_FACTORS`: clean, dry, black, galled.
    strength_pa : float
        Proof strength of the bolt, in Pa.

    Raises
    ------
    ValueError
        If the torque is not positive, the state unknown, or the most preload is above the proof load.

    References
    ----------
    VDI 2230 part 1 gives the full form; the short form is in Shigley and in Bickford.
    """
    if state not in NUT_FACTORS:
        raise ValueError(f'"{state}" is no state of a thread; one of {", ".join(NUT_FACTORS)}.')
    said, factor = NUT_FACTORS[state]
    torque = positive(torque_n_m, "the torque")
    held_n = proof_load(screw, strength_pa)
    # the largest nut factor leaves the least preload
    force = Band(*(torque / (k * screw.diameter_m) for k in reversed(factor)))
    if force.most > held_n:
        largest = held_n * factor.least * screw.diameter_m
        raise Refusal(
            "{} can pull a {} bolt ({}) with {}, above its proof load of {}; stay at or below {}.",
            *(Amount(torque, "N m", 1), screw.name, said, Amount(force.most, "N"), Amount(held_n, "N")),
            Amount(largest, "N m", 1),
        )
    return Preload(torque, said, force, screw.name, held_n)


@dataclass(frozen=True, slots=True)
class Grip(Spoken):
    """What the clamp holds against what makes the idler slip."""

    preload: Preload
    grip_n: Band
    slip_n: float

    @property
    def factor(self) -> Band:
        """Grip over the force that makes the idler slip."""
        return Band(*(held / self.slip_n for held in self.grip_n))

    @property
    def holds(self) -> bool:
        """Whether the least grip is enough."""
        return self.grip_n.least >= self.slip_n

    def _said(self, units: Units) -> str:
        if self.holds:
            verdict = "It holds even at its least"
        elif self.grip_n.likely >= self.slip_n:
            verdict = "It likely holds, but not at its least"
        else:
            verdict = "It likely slips"
        return (
            f"{self.preload.said(units)} The clamp grips with {units.force(self.grip_n.likely)} "
            f"({units.range(self.grip_n.least, self.grip_n.most, 'N')}) against {units.force(self.slip_n)}: "
            f"{self.factor.likely:.1f} times ({self.factor.least:.1f} to {self.factor.most:.1f}). {verdict}."
        )


def grip(bolt: Preload, slip_n: float, *, bolts: int = 1, faces: int = 1, friction: float = 0.12) -> Grip:
    """Friction grip of clamped faces, mu F n m, against the force along them.

    Parameters
    ----------
    bolt : Preload
        One bolt's preload; every bolt is taken to have the same.
    slip_n : float
        Force along the faces that makes the idler slip: the part of its resultant that lies along the slide.
    bolts, faces : int
        Number of bolts, and of pairs of faces that must slip on each.
    friction : float
        Of the faces. Clean dry steel is often given .12 to .2 (from memory); oil on the faces takes it away.

    Raises
    ------
    ValueError
        If a number is not positive.
    """
    for count, what in ((bolts, "bolts"), (faces, "faces")):
        if count != int(count) or count < 1:
            raise ValueError(f"The number of {what} must be a whole number from 1, not {count:g}.")
    held = positive(friction, "the friction of the faces") * bolts * faces
    slip = positive(slip_n, "the force that makes the idler slip")
    return Grip(bolt, Band(*(held * force for force in bolt.force_n)), slip)
