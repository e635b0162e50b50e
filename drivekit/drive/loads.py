"""What the belt pulls on every pulley's shaft: at rest, at idle, at full load.

The belt presses with its contact tension (total less m v^2), pulling back along the span that arrives and forward along
the one that leaves: R = T_out u_out - T_in u_in, a vector sum (statics; the part m v^2 turns the belt itself and never
reaches the shaft). The belt arrives at the crank on its tight side and leaves it on the slack side; idlers turn freely,
so both their spans carry the same tension. At rest the drive is cold, at idle and full load hot: growth is in the mean.
A contact tension below 0 is a slack belt: there is no such pull, and 0 stands for it.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, hypot, sin

from drivekit.drive.amounts import force_words
from drivekit.drive.layout import Layout
from drivekit.drive.path import BeltPath
from drivekit.drive.slack import BeltTensions, belt_speed, belt_tensions, blower_power, blower_rpm

__all__ = ["PulleyLoad", "State", "states"]


@dataclass(frozen=True, slots=True)
class PulleyLoad:
    """Resultant on one pulley's shaft; x to the right seen from the front, y up."""

    pulley: str
    x_n: float
    y_n: float
    before_n: float
    after_n: float

    @property
    def force_n(self) -> float:
        """Size of the resultant."""
        return hypot(self.x_n, self.y_n)

    def __str__(self) -> str:
        return f"{self.pulley}: {force_words(self.force_n)}"


@dataclass(frozen=True, slots=True)
class State:
    """One state of the drive: its speed, the belt's tensions, what each span carries, what each shaft feels.

    `span_n[i]` is the contact tension of the span from pulley i to the next.
    """

    name: str
    crank_rpm: float
    tensions: BeltTensions
    span_n: tuple[float, ...]
    loads: tuple[PulleyLoad, ...]

    def load(self, pulley: int) -> PulleyLoad:
        """Load on a pulley, by its place in the layout."""
        return self.loads[pulley]

    def __str__(self) -> str:
        return f"{self.name} ({self.crank_rpm:,.0f} rpm): " + "; ".join(str(load) for load in self.loads) + "."


def states(layout: Layout, path: BeltPath, growth_n: float) -> tuple[State, State, State]:
    """Tensions and loads at rest (cold), at idle and at full load (hot).

    Parameters
    ----------
    layout : Layout
        The drive, idler where it sits.
    path : BeltPath
        Its path.
    growth_n : float
        Tension that growth adds.
    """
    power = blower_power(layout.blower)

    def state(name: str, rpm: float, gained_n: float) -> State:
        speed, taken = belt_speed(layout, rpm), power(blower_rpm(layout, rpm))
        tensions = belt_tensions(layout.tension.set_n, gained_n, taken, speed, layout.belt.mass_kg_per_m)
        spans = _span_tensions(layout, max(tensions.tight_n, 0.0), max(tensions.slack_n, 0.0))
        return State(name, rpm, tensions, spans, _loads(layout, path, spans))

    engine = layout.engine
    return (
        state("at rest", 0.0, 0.0),
        state("at idle", engine.idle_rpm, growth_n),
        state("at full load", engine.crank_rpm, growth_n),
    )


def _span_tensions(layout: Layout, tight_n: float, slack_n: float) -> tuple[float, ...]:
    """Return each span's tension: slack from the crank to the blower, tight from the blower to the crank."""
    count, crank, blower = len(layout.pulleys), layout.place("crank"), layout.place("blower")
    to_blower = (blower - crank) % count
    return tuple(slack_n if (i - crank) % count < to_blower else tight_n for i in range(count))


def _loads(layout: Layout, path: BeltPath, span_n: tuple[float, ...]) -> tuple[PulleyLoad, ...]:
    loads = []
    for i, pulley in enumerate(layout.pulleys):
        arriving, leaving = path.spans[i - 1].heading_rad, path.spans[i].heading_rad
        before, after = span_n[i - 1], span_n[i]
        across = after * cos(leaving) - before * cos(arriving)
        up = after * sin(leaving) - before * sin(arriving)
        loads.append(PulleyLoad(pulley.name, across, up, before, after))
    return tuple(loads)
