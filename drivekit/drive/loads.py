"""What the belt pulls on every pulley's shaft at rest, at idle, at full load, and what a turn and a run ask of it.

The belt presses with its contact tension (total less m v^2), pulling back along the span that arrives and forward along
the one that leaves: R = T_out u_out - T_in u_in, a vector sum (statics; the part m v^2 turns the belt itself and never
reaches the shaft). The belt arrives at the crank on its tight side and leaves it on the slack side; idlers turn freely,
so both their spans carry the same tension. At rest the drive is cold, at idle and full load hot: growth is in the mean.
A contact tension below 0 is a slack belt: there is no such pull, and 0 stands for it.

Teeth in mesh come from the wrap; a smooth pulley has none. Each turn of the belt bends every part of it once at each
pulley: forward (teeth inwards) inside the loop, backward outside it. A smooth idler inside the loop carries the belt on
the tips of its teeth: with the contact tension T it presses with T / (r w) on the mean (a belt around a drum: the
resultant R = 2 T sin(wrap / 2) over its chord 2 r sin(wrap / 2) x width), and only tip / pitch of the belt touches:

    p = R / (2 r sin(wrap / 2) w share) = T / (r w share)

(statics; r is the radius of the face). One run is so many seconds at full load and at idle, and the belt's turns in it
are the way it goes over its length; a tooth meets every toothed pulley inside the loop once a turn, by mesh, and every
smooth pulley by its tip or back. That a toothed idler makes belts last is for the season's log to say, not for these.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, hypot, sin

from drivekit.drive.layout import Layout
from drivekit.drive.path import BeltPath
from drivekit.drive.slack import BeltTensions, belt_speed, belt_tensions, power_and_speed, tight_share
from drivekit.units import Spoken, Units

__all__ = ["BeltDuty", "PulleyLoad", "State", "belt_duty", "states", "tip_pressure"]


@dataclass(frozen=True, slots=True)
class PulleyLoad:
    """Resultant on one pulley's shaft; x to the right seen from the front, y up."""

    pulley: str
    x_n: float
    y_n: float

    @property
    def force_n(self) -> float:
        """Size of the resultant."""
        return hypot(self.x_n, self.y_n)


@dataclass(frozen=True, slots=True)
class State(Spoken):
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

    def _said(self, units: Units) -> str:
        pulls = "; ".join(f"{load.pulley}: {units.force(load.force_n)}" for load in self.loads)
        return f"{self.name} ({self.crank_rpm:,.0f} rpm): {pulls}."


@dataclass(frozen=True, slots=True)
class BeltDuty(Spoken):
    """What one turn and one run ask of the belt.

    `idlers` are their name, face, side and teeth in mesh (None if smooth); `forward` and `backward` the bends in a turn
    of the belt, teeth inwards and outwards; `tightest_m` the smallest pitch radius; `tip_pressure_pa` the greatest
    pressure on the tips of the teeth under a smooth idler inside the loop, None without one. `turns` are those of the
    belt in one run, idling included, `meshes` and `rubs` what one tooth then meets of toothed pulleys, by mesh, and of
    smooth ones.
    """

    idlers: tuple[tuple[str, str, str, float | None], ...]
    forward: int
    backward: int
    tightest_m: float
    tightest: str
    tip_pressure_pa: float | None
    turns: float
    meshes: float
    rubs: float

    def _said(self, units: Units) -> str:
        said = []
        for name, face, side, teeth in self.idlers:
            mesh = "no teeth" if teeth is None else f"{teeth:.1f} teeth"
            said.append(f"The {name}, {face} and {side} the loop, has {mesh} in mesh.")
        said.append(
            f"Each turn bends the belt {self.forward} times forward and {self.backward} backward, tightest around "
            f"{self.tightest} ({units.long(2 * self.tightest_m, 1)})."
        )
        if self.tip_pressure_pa is not None:
            pressure = units.said(self.tip_pressure_pa / 1e6, "MPa", 2)
            said.append(f"The smooth idler presses on the tips of the teeth with {pressure}.")
        said.append(
            f"In one run the belt turns {self.turns:,.0f} times; each tooth meets a toothed pulley {self.meshes:,.0f} "
            f"times and a smooth one {self.rubs:,.0f} times."
        )
        return " ".join(said)


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
    count, crank = len(layout.pulleys), layout.place("crank")
    to_blower, share = (layout.place("blower") - crank) % count, tight_share(layout, path)

    def state(name: str, rpm: float, gained_n: float) -> State:
        power, speed = power_and_speed(layout, rpm)
        tensions = belt_tensions(layout.tension.set_n, gained_n, power, speed, layout.belt.mass_kg_per_m, share)
        tight, slack = max(tensions.tight_n, 0.0), max(tensions.slack_n, 0.0)
        # slack from the crank to the blower, tight from the blower to the crank
        spans = tuple(slack if (i - crank) % count < to_blower else tight for i in range(count))
        return State(name, rpm, tensions, spans, _loads(path, spans))

    engine = layout.engine
    return (
        state("at rest", 0.0, 0.0),
        state("at idle", engine.idle_rpm, growth_n),
        state("at full load", engine.crank_rpm, growth_n),
    )


def tip_pressure(resultant_n: float, wrap_rad: float, face_radius_m: float, width_m: float, share: float) -> float:
    """Pressure on the tips of the teeth under a smooth pulley, in Pa.

    Parameters
    ----------
    resultant_n : float
        Pull of the belt on the pulley.
    wrap_rad, face_radius_m, width_m : float
        Wrap, radius of the face and width of the belt.
    share : float
        Share of the belt's length that touches (tip / pitch).

    Raises
    ------
    ValueError
        If the belt does not wrap the pulley, or a size is not above 0.
    """
    if not (wrap_rad > 0 and face_radius_m > 0 and width_m > 0 and 0 < share <= 1):
        raise ValueError("Pressure needs a wrap, a radius and a width above 0, and a share of touching belt up to 1.")
    return resultant_n / (2 * face_radius_m * sin(wrap_rad / 2) * width_m * share)


def belt_duty(layout: Layout, path: BeltPath, hardest: State) -> BeltDuty:
    """Count what one turn and one run ask of the belt; `hardest` is the state in which the idler is pulled hardest."""
    engine, pulleys, belt = layout.engine, layout.pulleys, layout.belt
    way = belt_speed(layout, engine.crank_rpm) * engine.full_load_s
    way += belt_speed(layout, engine.idle_rpm) * engine.idle_time_s
    turns = way / path.length_m
    meshing = sum(arc.teeth_in_mesh is not None for arc in path.arcs)
    inside = sum(pulley.side == "inside" for pulley in pulleys)
    tightest = min(path.arcs, key=lambda arc: arc.radius_m)
    pressures = [
        tip_pressure(load.force_n, arc.wrap_rad, pulley.body_radius(belt), belt.width_m, belt.land_share)
        for pulley, arc, load in zip(pulleys, path.arcs, hardest.loads, strict=True)
        if pulley.face == "smooth" and pulley.side == "inside" and arc.wrap_rad > 0
    ]
    idlers = [(p, arc) for p, arc in zip(pulleys, path.arcs, strict=True) if p.role == "idler"]
    return BeltDuty(
        idlers=tuple((p.name, p.face, p.side, arc.teeth_in_mesh) for p, arc in idlers),
        forward=inside,
        backward=len(pulleys) - inside,
        tightest_m=tightest.radius_m,
        tightest=tightest.pulley,
        tip_pressure_pa=max(pressures, default=None),
        turns=turns,
        meshes=turns * meshing,
        rubs=turns * (len(pulleys) - meshing),
    )


def _loads(path: BeltPath, span_n: tuple[float, ...]) -> tuple[PulleyLoad, ...]:
    loads = []
    for i, arc in enumerate(path.arcs):
        arriving, leaving = path.spans[i - 1].heading_rad, path.spans[i].heading_rad
        across = span_n[i] * cos(leaving) - span_n[i - 1] * cos(arriving)
        up = span_n[i] * sin(leaving) - span_n[i - 1] * sin(arriving)
        loads.append(PulleyLoad(arc.pulley, across, up))
    return tuple(loads)
