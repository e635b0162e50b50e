"""What a throttle snapped open, or shut, adds to the belt's pull by the inertia of the blower's rotors.

Rotors of inertia J on the blower's shaft that are sped up by the crank at so many rpm a second ask a torque J alpha of
the belt, a pull J alpha / r on the blower's pitch radius r (Newton); the tight side gains and the slack side loses
their shares of it as of any pull (`slack`). Shut, the pull is the other way round: where it is more than what the
blower takes, tight and slack side change places. Crank and belt are taken as stiff, so a real snap has its peak above.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import tau

from drivekit.drive.layout import Layout
from drivekit.drive.loads import State
from drivekit.drive.path import BeltPath
from drivekit.drive.slack import blower_rpm, tight_share
from drivekit.units import Spoken, Units

__all__ = ["Snap", "snap"]


@dataclass(frozen=True, slots=True)
class Snap(Spoken):
    """Pull that a snap adds, and the contact tension it leaves on the side that loses it.

    `opened_n` is left of the slack side where it is snapped open at full load, `shut_n` of the usual tight side where
    the throttle shuts there and the blower takes no power.
    """

    pull_n: float
    opened_n: float
    shut_n: float

    def _said(self, units: Units) -> str:
        return (
            f"A throttle snapped open adds at least {units.force(self.pull_n)} to the pull, by the rotors' inertia: at "
            f"full load the slack side then {_kept(self.opened_n, units)}. Shut, tight and slack side change "
            f"places, and the usual tight side {_kept(self.shut_n, units)}."
        )


def snap(layout: Layout, path: BeltPath, full: State) -> Snap | None:
    """Compute a snap at full-load speed; None where the file gives no inertia or no rate.

    Parameters
    ----------
    layout : Layout
        The drive.
    path : BeltPath
        Its path.
    full : State
        The drive at full load.
    """
    inertia, rate = layout.blower.inertia_kg_m2, layout.engine.snap_rpm_per_s
    if inertia is None or rate is None:
        return None
    radius = layout.pulleys[layout.place("blower")].pitch_radius(layout.belt)
    pull = inertia * blower_rpm(layout, rate) * tau / 60 / radius
    share, at = tight_share(layout, path), full.tensions
    return Snap(pull, at.slack_n - share * pull, at.mean_n - at.own_n - (1 - share) * pull)


def _kept(contact_n: float, units: Units) -> str:
    return "goes slack" if contact_n <= 0 else f"keeps {units.force(contact_n)}"
