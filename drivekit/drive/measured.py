"""What a person measures in place of a value: the readings that a drive file may hold instead, and what follows.

    mass           m = weighed / belt length
    back           total thickness - tooth height - land (parts of one section)
    power          P = V n p / e: a displacement V a turn carried against the boost p at n turns a second, over an
                   efficiency e. Work on a full indicator diagram, as of a blower without compression inside (thermo-
                   dynamics texts on Roots blowers; from memory): one that compresses inside takes less
    centre         the free spans before and after a pulley: the centres stand sqrt(span^2 + (R1 - R2)^2) apart (the
                   tangents of `path`, signed radii), so two circles meet at the centre, once on either side
    stiffness      `fitting.stiffness_by_turns`, from two readings of tension and the turns between

A straightedge or a dial shows a gap over a base between the idler and the pulleys' plane: lean = gap / base, and with
adjusters D apart the one end is D lean out, so many flats. Geometry of rigid parts.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from math import hypot, sqrt
from typing import Any, NamedTuple

from drivekit.drive.amounts import Key, positive
from drivekit.drive.layout import Belt, Pulley
from drivekit.units import Refusal, long

__all__ = ["WAYS", "Way", "back_from", "blower_power_from", "centre_from", "mass_from", "square_flats"]

STIFFEST_N = 1e8

Values = Mapping[str, Any]
Tables = Mapping[str, Sequence[Values]]


def mass_from(weighed_kg: float, belt_m: float) -> float:
    """Mass per metre of a belt of a pitch length that was weighed whole, in kg/m."""
    return positive(weighed_kg, "the weight") / positive(belt_m, "the belt's length")


def back_from(thickness_m: float, tooth_height_m: float, land_m: float) -> float:
    """Pitch line to the back of a belt, in m.

    Raises
    ------
    ValueError
        If tooth and land are not thinner than the whole belt.
    """
    back = positive(thickness_m, "the thickness") - tooth_height_m - land_m
    if back <= 0:
        thick, tooth, land = (long(one, 2) for one in (thickness_m, tooth_height_m, land_m))
        raise Refusal("A belt {} thick has no room for {} of tooth and {} of land.", thick, tooth, land)
    return back


def blower_power_from(displacement_m3: float, rpm: float, boost_pa: float, efficiency: float) -> float:
    """Power in W that a blower takes at a speed, against a boost.

    Raises
    ------
    ValueError
        If the efficiency is not above 0 and at most 1, or there is no displacement.
    """
    if not 0 < efficiency <= 1:
        raise ValueError(f"An efficiency lies above 0 and up to 100 percent, and {efficiency * 100:g} was given.")
    return positive(displacement_m3, "the displacement") * rpm / 60 * boost_pa / efficiency


def centre_from(
    before: tuple[float, float, float], after: tuple[float, float, float], radius_m: float, spans_m: tuple[float, float]
) -> tuple[tuple[float, float], tuple[float, float]]:
    """Both places of a centre that give the free spans measured, the left one first.

    Parameters
    ----------
    before, after : (float, float, float)
        Centre and signed pitch radius of the pulleys that the belt leaves and meets, anticlockwise above 0.
    radius_m : float
        Signed pitch radius of the pulley itself.
    spans_m : (float, float)
        Free span from the pulley before, and to the one after.

    Raises
    ------
    ValueError
        If no place gives both.
    """
    (x, y, _), (to_x, to_y, _) = before, after
    apart = hypot(to_x - x, to_y - y)
    one, two = (hypot(span, radius_m - other[2]) for span, other in zip(spans_m, (before, after), strict=True))
    along = (apart**2 + one**2 - two**2) / (2 * positive(apart, "the distance between the pulleys beside it"))
    if one < abs(along):
        raise Refusal("Free spans of {} and {} do not meet between centres {} apart.", *map(long, (*spans_m, apart)))
    aside, across, up = sqrt(one**2 - along**2), (to_x - x) / apart, (to_y - y) / apart
    both = [(x + along * across - way * aside * up, y + along * up + way * aside * across) for way in (1, -1)]
    left, right = sorted(both)
    return left, right


def square_flats(gap_m: float, base_m: float, spacing_m: float, flat_m: float) -> float:
    """Flats of one idler adjuster that take out the lean which a gap over a base shows."""
    lean = gap_m / positive(base_m, "the base of the straightedge")
    return lean * positive(spacing_m, "the distance between the adjusters") / positive(flat_m, "the travel of a flat")


class Way(NamedTuple):
    """Readings that may stand in a section in place of the fields they give.

    Parameters
    ----------
    gives : tuple of str
        Fields of the section's class.
    keys : tuple of Key
        The readings; all of them must stand there.
    give : callable
        From every section's tables and the section's own, in SI, to a value for each field; ValueError with one
        sentence where the readings cannot be.
    """

    gives: tuple[str, ...]
    keys: tuple[Key, ...]
    give: Callable[[Tables, Values], tuple[Any, ...]]


def _stiffest(_: Tables, own: Values) -> tuple[float]:
    """Take the belt as hardly stretching: `fitting` tells its stiffness once the whole layout stands."""
    if not own["tight_n"] > own["loose_n"]:
        raise ValueError("Tighter turns must read more: the second reading is not above the first.")
    return (STIFFEST_N,)


def _powers(_: Tables, own: Values) -> tuple[tuple[float, ...]]:
    speeds, boosts = own["speed_rpm"], own["boost_pa"]
    if len(speeds) != len(boosts):
        raise ValueError(f"It has {len(boosts)} values for {len(speeds)} speeds.")
    taken = (own["displacement_m3"], own["efficiency"])
    return (
        tuple(blower_power_from(taken[0], rpm, boost, taken[1]) for rpm, boost in zip(speeds, boosts, strict=True)),
    )


def _centre(tables: Tables, own: Values) -> tuple[float, float]:
    spans = own["span_before_m"], own["span_after_m"]
    pulleys, belt = tables["pulley"], Belt(**tables["belt"][0])
    at = next(i for i, one in enumerate(pulleys) if one is own)
    way = 1 if tables["drive"][0]["turns"] == "anticlockwise" else -1

    def circle(values: Values) -> tuple[float, float, float]:
        known = {key: value for key, value in values.items() if key in Pulley.__dataclass_fields__}
        if not known.keys() & {"teeth", "pitch_diameter_m", "diameter_m"}:
            raise KeyError("the size of a pulley")
        pulley = Pulley(**{"x_m": 0.0, "y_m": 0.0} | known)
        return pulley.x_m, pulley.y_m, way * (1 if pulley.side == "inside" else -1) * pulley.pitch_radius(belt)

    beside = pulleys[at - 1], pulleys[(at + 1) % len(pulleys)]
    if any("x_m" not in one for one in beside):
        raise ValueError("The pulleys before and after it need their own centres.")
    before, after = map(circle, beside)
    left, right = centre_from(before, after, circle(own)[2], spans)
    return left if own["stands"] == "left" else right


WAYS: dict[str, tuple[Way, ...]] = {
    "belt": (
        Way(
            ("mass_kg_per_m",),
            (Key("mass of the whole belt on a scale", "g", 1, 1e5, field="weighed_kg"),),
            lambda _, own: (mass_from(own["weighed_kg"], own["teeth"] * own["pitch_m"]),),
        ),
        Way(
            ("back_m",),
            (Key("calipers over the whole belt, tip of a tooth to back", "mm", 0.5, 60, field="thickness_m"),),
            lambda _, own: (back_from(own["thickness_m"], own["tooth_height_m"], own["land_m"]),),
        ),
        Way(
            ("stiffness_n",),
            (
                Key("a reading of the tension", "n", 50, 50000, field="loose_n"),
                Key("the reading after every adjuster was turned tighter", "n", 50, 50000, field="tight_n"),
                Key("turns of every adjuster between the two", "", 0.01, 50, field="tighter_turns"),
            ),
            _stiffest,
        ),
    ),
    "pulley": (
        Way(
            ("x_m", "y_m"),
            (
                Key("tape along the free span to it, idler at travel 0", "mm", 20, 3000, field="span_before_m"),
                Key("tape along the free span from it on", "mm", 20, 3000, field="span_after_m"),
                Key("on which side of the pulleys beside it", kind="word", field="stands", levels=("left", "right")),
            ),
            _centre,
        ),
    ),
    "blower": (
        Way(
            ("power_w",),
            (
                Key("displacement of one turn of the blower", "l", 0.1, 100, field="displacement_m3"),
                Key("boost at each of the speeds", "kpa", 0, 1000, kind="numbers", field="boost_pa"),
                Key("what of the power goes into the boost", "percent", 1, 100, field="efficiency"),
            ),
            _powers,
        ),
    ),
}
"""By section."""
