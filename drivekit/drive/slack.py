"""When the slack side of the belt goes slack, and what to set so that it does not.

On fixed centres the belt cannot get longer or shorter, so the mean of its tension over its length stays what was set
plus what growth adds, whatever power it carries. The tight part is the span from the blower to the crank and half the
arcs on both, where the pull passes over; its share of the length, c, decides who gains and who loses of the effective
tension Te = P / v: the slack side loses c Te, the tight side gains (1 - c) Te. A moving belt needs m v^2 of its tension
for its own turning and presses with the rest only (contact tension):

    slack contact tension = set + growth - c Te - m v^2

Where that is 0 the belt hangs loose and the next tooth can jump: the number that matters most. Sources: the balance of
forces of any text on belt drives (m v^2: the belt as a moving string; fixed centres: Hooke's law along the whole belt).
Exact for an elastic belt whose teeth hand the pull over evenly along each arc and do not slip. Vibration, the blower's
pulses and a clutch that grabs are left out: keep a margin. Power over speed is the layout's table, joined by a monotone
cubic (Fritsch and Carlson, SIAM J Numer Anal 1980) through nothing at standstill, and never carried beyond its last
speed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import pi
from types import MappingProxyType
from typing import TYPE_CHECKING

from drivekit.drive.layout import Blower, Layout
from drivekit.drive.path import BeltPath, belt_path
from drivekit.units import Amount, Refusal, Spoken, Units

if TYPE_CHECKING:
    from collections.abc import Callable

__all__ = [
    "BeltTensions",
    "Margin",
    "SlackPoint",
    "TensionGuide",
    "belt_speed",
    "belt_tensions",
    "blower_power",
    "blower_rpm",
    "goes_slack",
    "margin",
    "power_and_speed",
    "slack_tension",
    "tension_guide",
    "tight_share",
]

GRID = 120


@dataclass(frozen=True, slots=True)
class BeltTensions(Spoken):
    """Tensions of both sides of a running belt.

    `mean_n` is set plus growth; `tight_n`, `slack_n` are contact tensions (they press on pulleys and pull on shafts);
    the belt's own m v^2, `own_n`, comes on top of both in its cords.
    """

    power_w: float
    speed_m_per_s: float
    effective_n: float
    mean_n: float
    own_n: float
    tight_n: float
    slack_n: float

    def _said(self, units: Units) -> str:
        side = "goes slack" if self.slack_n <= 0 else f"keeps {units.force(self.slack_n)}"
        return (
            f"At {units.said(self.power_w / 1e3, 'kW')} and {units.said(self.speed_m_per_s, 'm/s', 1)} the belt pulls "
            f"{units.force(self.effective_n)}, turning itself takes {units.force(self.own_n)}, and the slack side "
            f"{side}."
        )


@dataclass(frozen=True, slots=True)
class SlackPoint(Spoken):
    """Where the slack side goes slack: a power at full-load speed, and a speed along the blower's own curve."""

    power_w: float
    at_rpm: float
    crank_rpm: float | None
    curve_power_w: float | None
    known_to_rpm: float

    def _said(self, units: Units) -> str:
        said = f"At {self.at_rpm:,.0f} rpm of the crank the belt goes slack at {units.said(self.power_w / 1e3, 'kW')}"
        if self.power_w <= 0:
            said = f"At {self.at_rpm:,.0f} rpm of the crank the belt is slack without any load"
        if self.crank_rpm is None or self.curve_power_w is None:
            return f"{said}; along the blower's curve it stays tight up to {self.known_to_rpm:,.0f} rpm, where it ends."
        return (
            f"{said}; along the blower's curve it goes slack at {self.crank_rpm:,.0f} rpm "
            f"({units.said(self.curve_power_w / 1e3, 'kW')})."
        )


@dataclass(frozen=True, slots=True)
class Margin(Spoken):
    """Slack contact tension at full load: least, expected and greatest over growth and reading error."""

    low_n: float
    expected_n: float
    high_n: float
    wanted_n: float

    def _said(self, units: Units) -> str:
        said = (
            f"At full load the slack side keeps {units.force(max(self.expected_n, 0.0))}; with growth and readings as "
            f"far off as they may be, {units.range(max(self.low_n, 0.0), max(self.high_n, 0.0), 'N')}"
        )
        if self.high_n <= 0:
            return "At full load the slack side hangs loose, whatever growth and readings may be."
        if self.low_n < 0:
            return f"{said}: it may go slack."
        less = f"less than the {units.said(self.wanted_n, 'N')} wanted"
        return f"{said}: {'as wanted' if self.low_n >= self.wanted_n else less}."


@dataclass(frozen=True, slots=True)
class TensionGuide(Spoken):
    """Least and most static tension to set, beside what was found best for the belts' life (handed in, if known).

    `limit_n` is the least of the limits that are known, `limited_by` says whose it is. `best_n` is the tension found
    best and its limits: three numbers, one where there are no limits, or none.
    """

    slack_n: float
    least_n: float
    limit_n: float | None
    limited_by: str
    best_n: tuple[float, ...]

    def _said(self, units: Units) -> str:
        slack = f"Below {units.force(self.slack_n)} of static tension the belt goes slack at full load"
        if self.slack_n <= 0:
            slack = "At full load the belt stays tight whatever is set, if it is tight at rest"
        said = (
            f"{slack}; with the margin wanted, the least growth and a reading too high by its error, set at least "
            f"{units.force(max(self.least_n, 0.0))}"
        )
        if self.limit_n is not None:
            most = f"{units.force(self.limit_n)} by {self.limited_by}"
            said += f", and no more than {most}, with the greatest growth and a reading too low"
            if self.limit_n < self.least_n:
                said += ": no tension does both"
        if not self.best_n:
            return f"{said}."
        best, *limits = self.best_n
        between = f" ({units.range(limits[0], limits[1], 'N')})" if limits else ""
        verdict = "above" if best >= self.least_n else "below"
        return f"{said}. Belts lasted best near {units.force(best)}{between}: {verdict} that least."


def belt_speed(layout: Layout, crank_rpm: float) -> float:
    """Speed of the belt in m/s: crank speed x circumference of its pitch line."""
    radius = layout.pulleys[layout.place("crank")].pitch_radius(layout.belt)
    return crank_rpm / 60 * 2 * pi * radius


def blower_rpm(layout: Layout, crank_rpm: float) -> float:
    """Speed of the blower: the belt carries as many teeth over one pulley as over the other."""
    crank, blower = (layout.pulleys[layout.place(role)] for role in ("crank", "blower"))
    return crank_rpm * crank.pitch_radius(layout.belt) / blower.pitch_radius(layout.belt)


def blower_power(blower: Blower) -> Callable[[float], float]:
    """Power over the blower's speed in rpm.

    The function returned raises ValueError beyond the last speed of the table.
    """
    from scipy.interpolate import PchipInterpolator

    start = () if blower.speed_rpm[0] == 0 else (0.0,)
    curve = PchipInterpolator((*start, *blower.speed_rpm), (*start, *blower.power_w))
    last = blower.speed_rpm[-1]

    def power(rpm: float) -> float:
        if not 0 <= rpm <= last * (1 + 1e-12):
            raise ValueError(f"The blower's power is known up to {last:,.0f} rpm of the blower, not at {rpm:,.0f} rpm.")
        return float(curve(min(rpm, last)))

    return power


def power_and_speed(layout: Layout, crank_rpm: float) -> tuple[float, float]:
    """Return the power that the blower takes at a crank speed, in W, and the belt's speed there, in m/s."""
    return blower_power(layout.blower)(blower_rpm(layout, crank_rpm)), belt_speed(layout, crank_rpm)


def tight_share(layout: Layout, path: BeltPath | None = None) -> float:
    """Share of the belt's length on the tight side: blower to crank, half the arcs on both, whole arcs between."""
    path = belt_path(layout) if path is None else path
    count, crank, blower = len(path.spans), layout.place("crank"), layout.place("blower")
    tight = [(blower + step) % count for step in range((crank - blower) % count)]
    arcs = [arc.radius_m * arc.wrap_rad for arc in path.arcs]
    length = sum(path.spans[at].length_m + arcs[at] for at in tight) + (arcs[crank] - arcs[blower]) / 2
    return length / path.length_m


def belt_tensions(
    set_n: float, growth_n: float, power_w: float, speed_m_per_s: float, mass_kg_per_m: float, share: float
) -> BeltTensions:
    """Tensions of both sides at a power and a speed; at standstill there is no power to carry.

    `share` is that of the belt's length on the tight side, see `tight_share`.

    Raises
    ------
    ValueError
        If power is to be carried at standstill, or speed or mass is below 0.
    """
    if speed_m_per_s < 0 or mass_kg_per_m < 0:
        raise ValueError("Belt speed and mass per length are 0 or more.")
    if speed_m_per_s == 0 and power_w != 0:
        raise Refusal("A belt at rest carries no power, and {} was asked of it.", Amount(power_w / 1e3, "kW", 1))
    effective = power_w / speed_m_per_s if speed_m_per_s else 0.0
    mean, own = set_n + growth_n, mass_kg_per_m * speed_m_per_s**2
    tight, slack = mean + (1 - share) * effective - own, mean - share * effective - own
    return BeltTensions(power_w, speed_m_per_s, effective, mean, own, tight, slack)


def slack_tension(layout: Layout, growth_n: float) -> float:
    """Least static tension at which the belt is not slack at full load: c Te + m v^2 - growth."""
    power, speed = power_and_speed(layout, layout.engine.crank_rpm)
    return -belt_tensions(0.0, growth_n, power, speed, layout.belt.mass_kg_per_m, tight_share(layout)).slack_n


def goes_slack(layout: Layout, growth_n: float) -> SlackPoint:
    """Power at full-load speed, and speed along the blower's curve, at which the slack side loses its tension.

    `growth_n` is the tension that growth adds to the one set.
    """
    from scipy.optimize import brentq

    tension, mass, share = layout.tension.set_n, layout.belt.mass_kg_per_m, tight_share(layout)
    full = belt_speed(layout, layout.engine.crank_rpm)
    power = full / share * (tension + growth_n - mass * full**2)
    curve = blower_power(layout.blower)
    last = layout.blower.speed_rpm[-1] / blower_rpm(layout, 1.0)

    def slack(rpm: float) -> float:
        here = curve(min(blower_rpm(layout, rpm), layout.blower.speed_rpm[-1]))
        return belt_tensions(tension, growth_n, here, belt_speed(layout, rpm), mass, share).slack_n

    grid = [last * step / GRID for step in range(1, GRID + 1)]
    found = next((i for i, rpm in enumerate(grid) if slack(rpm) <= 0), None)
    if found is None:
        return SlackPoint(power, layout.engine.crank_rpm, None, None, last)
    rpm = grid[0] if found == 0 else float(brentq(slack, grid[found - 1], grid[found], xtol=1e-9, rtol=1e-13))
    return SlackPoint(power, layout.engine.crank_rpm, rpm, curve(blower_rpm(layout, rpm)), last)


def margin(layout: Layout, growth_n: tuple[float, float, float]) -> Margin:
    """Slack contact tension at full load over least, expected and greatest growth, the set tension misread either way.

    A tension read as S is truly between S (1 - e) and S (1 + e), e the reading error.
    """
    need = slack_tension(layout, 0.0)
    set_n, off = layout.tension.set_n, layout.tension.reading_error
    low, expected, high = growth_n
    return Margin(
        set_n * (1 - off) + low - need,
        set_n + expected - need,
        set_n * (1 + off) + high - need,
        layout.tension.margin_n,
    )


def tension_guide(
    layout: Layout,
    growth_n: tuple[float, float, float],
    best_n: tuple[float, ...] = (),
    limits: Mapping[str, float] = MappingProxyType({}),
) -> TensionGuide:
    """Least static tension that keeps the margin wanted at worst, and the most that all limits leave.

    Least: (c Te + m v^2 - least growth + margin) / (1 - e).

    Parameters
    ----------
    layout : Layout
        The drive.
    growth_n : tuple of three floats
        Least, expected and greatest tension from growth.
    best_n : tuple of float
        Where last season's belts lasted best, as in `TensionGuide`.
    limits : mapping of str to float
        Most static tension by each limit, as `limits.tension_limits` gives it.
    """
    off, low, expected, _ = layout.tension.reading_error, *growth_n
    least = (slack_tension(layout, low) + layout.tension.margin_n) / (1 - off)
    name = min(limits, key=limits.__getitem__, default="")
    return TensionGuide(slack_tension(layout, expected), least, limits.get(name), name, best_n)
