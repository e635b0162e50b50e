"""Two pictures of tracking, as plain data: which way a tilted pulley sends the belt, and what the readings say.

The sign picture is drawn from a `Walk`, the readings from a `Tracking`; both carry their answer as title and list all
that they draw in their text form. ``tracking_brush`` turns them into figures.
"""

from __future__ import annotations

import math
from collections.abc import Container
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from drivekit.decide.tracking import Tracking
    from drivekit.drive.entry import Walk

__all__ = ["ReadingsPicture", "SignPicture", "readings_picture", "sign_picture"]

Pairs = tuple[tuple[float, float], ...]

MOST_RUNS = 500
"""Dots that one picture can carry and still be read."""
_BAND_POINTS = 61


@dataclass(frozen=True, slots=True)
class SignPicture:
    """Which way a tilted pulley sends the belt: seen from the front, at the arriving belt, and in parts.

    Parameters
    ----------
    title, subtitle, note : str
        The answer, what was asked, and what the picture cannot show.
    arrives_rad, wrap_rad, lean_rad : float
        Direction of the arriving belt, turn of the belt, direction in which the front end of the axis leans; seen from
        the front, counterclockwise positive.
    parts : tuple of (str, float)
        Entry, wrap and exit, each with its share toward the front (positive) or the rear.
    toward : str
        front, rear or even.
    """

    title: str
    subtitle: str
    note: str
    arrives_rad: float
    wrap_rad: float
    lean_rad: float
    parts: tuple[tuple[str, float], ...]
    toward: str

    name = "tracking-sign"

    @property
    def balance(self) -> float:
        """Sum of the parts."""
        return math.fsum(share for _, share in self.parts)

    @property
    def leans_away(self) -> float:
        """Share of the lean along the arriving belt: positive when the front end stands further along its travel."""
        return math.cos(self.lean_rad - self.arrives_rad)

    def __str__(self) -> str:
        angles = [("belt arrives", self.arrives_rad), ("turns", self.wrap_rad), ("axis leans", self.lean_rad)]
        drawn = ", ".join(f"{name} {_degrees(angle)}" for name, angle in angles)
        shares = (*self.parts, ("together", self.balance))
        bars = (f"bar:{name}: {round(share, 2) + 0.0:+.2f}" for name, share in shares)
        return "\n".join((self.title, self.subtitle, f"seen from the front, degrees: {drawn}", *bars, self.note))

    def _repr_mimebundle_(self, include: Container[str] | None = None, exclude: object = None) -> dict[str, str]:
        from drivekit.show.press import notebook_forms
        from drivekit.show.tracking_brush import png, svg

        return notebook_forms(self, svg, png, include)


def sign_picture(walk: Walk, pulley: str = "idler", *, unseen: tuple[str, ...] = ()) -> SignPicture:
    """Picture which way a tilted pulley sends the belt.

    Parameters
    ----------
    walk : Walk
        From ``drivekit.drive.entry.walk``.
    pulley : str
        What the pulley is called.
    unseen : tuple of str
        What the model cannot see, for the note.
    """
    does = f"sends the belt to the {walk.toward}"
    if walk.toward == "even":
        does = "gives the belt no clear way to walk"
    title = f"{_capital(pulley)} tilted like this: it {does}"
    subtitle = "A sign, by normal entry: a belt walks to the edge of a pulley it meets first. Tilt drawn larger."
    note = f"Not seen here: {'; '.join(unseen)}." if unseen else "A sign, not a distance."
    parts = (("entry", walk.entry), ("wrap", walk.wrap), ("exit", walk.exit))
    return SignPicture(title, subtitle, note, walk.arrives_rad, walk.wrap_rad, walk.lean_rad, parts, walk.toward)


@dataclass(frozen=True, slots=True)
class ReadingsPicture:
    """Edge temperature difference on net idler flats for one car, with the line and where it crosses zero.

    Parameters
    ----------
    title, subtitle, note : str
        The answer, the estimand with its counts, and how to read the marks.
    points : tuple of (float, float)
        Net flats and difference of the runs, at most the last `MOST_RUNS`, in their order; the last one is ringed.
    fit : tuple of (float, float)
        The two ends of the line; empty when there is none.
    band : tuple of (float, float, float)
        Net flats, and limits of the line's height there.
    zero : tuple of float
        Where the line crosses zero, with its limits; empty when it has none.
    move : tuple of float
        Net flats from which and to which the next move leads, and the difference expected there; empty when none is
        proposed.
    """

    title: str
    subtitle: str
    note: str
    points: Pairs
    fit: Pairs
    band: tuple[tuple[float, float, float], ...]
    zero: tuple[float, ...]
    move: tuple[float, ...]

    name = "tracking-readings"

    def __str__(self) -> str:
        lines = [self.title, self.subtitle, f"spots:readings: {_points(self.points)}"]
        if self.fit:
            lines.append(f"line:fit: {_points(self.fit)}")
            low, middle, high = (self.band[place] for place in (0, len(self.band) // 2, -1))
            lines.append("band:fit: " + ", ".join(f"{x:g} {a:.1f} to {b:.1f}" for x, a, b in (low, middle, high)))
        if self.zero:
            lines.append("interval:zero: even at {:.1f}, {:.1f} to {:.1f}".format(*self.zero))
        if self.move:
            lines.append("move: {:g} to {:g}, expected {:+.1f}".format(*self.move))
        return "\n".join([*lines, self.note])

    def _repr_mimebundle_(self, include: Container[str] | None = None, exclude: object = None) -> dict[str, str]:
        from drivekit.show.press import notebook_forms
        from drivekit.show.tracking_brush import png, svg

        return notebook_forms(self, svg, png, include)


def readings_picture(car: str, net_flats: ArrayLike, difference_c: ArrayLike, fit: Tracking) -> ReadingsPicture:
    """Picture one car's readings and the line through them.

    Parameters
    ----------
    car : str
        What the car is called.
    net_flats, difference_c : array-like of float, shape (n_runs,)
        As given to the fit: front less rear, nan where unknown, in the order of the runs.
    fit : Tracking
        From ``drivekit.decide.tracking``.
    """
    import numpy as np

    flats, difference = np.asarray(net_flats, float), np.asarray(difference_c, float)
    known = np.isfinite(flats) & np.isfinite(difference)
    drawn = slice(-MOST_RUNS, None)
    points = tuple(zip(flats[known][drawn].tolist(), difference[known][drawn].tolist(), strict=True))
    line, zero, move = fit.line, fit.zero, fit.move
    subtitle = "Edge temperatures after warm-up on net idler flats, both front less rear"
    subtitle += f"; {fit.n} run{'' if fit.n == 1 else 's'}"
    if known.sum() > MOST_RUNS:
        subtitle += f", the last {MOST_RUNS} drawn"
    if line is None:
        title = f"{_capital(car)}: what a flat does {fit.slope.words('°C')}"
        return ReadingsPicture(title, f"{subtitle}.", "The last run is ringed.", points, (), (), (), ())
    if zero.estimate is None or zero.lower is None or zero.upper is None:
        title = f"{_capital(car)}: these runs do not tell at how many flats the belt runs even"
        crossing: tuple[float, ...] = ()
    else:
        even = f"{_capital(car)} runs even at {zero.words('net flats')}"
        title = f"{even}; one more at the front moves the edges by {line.slope:.1f} °C"
        crossing = (zero.estimate, zero.lower, zero.upper)
    low, high = float(flats[known].min()), float(flats[known].max())
    steps = np.linspace(low, high, _BAND_POINTS).tolist()
    return ReadingsPicture(
        title=title,
        subtitle=f"{subtitle}; a flat moves them by {fit.slope.words('°C')}, limits {100 * line.confidence:g} %.",
        note="Dots: runs, the last one ringed. Line with its limits, as far as settings were tried; bar: where it "
        "crosses even, with Fieller's limits. Crews steer by the last reading, which hides part of the slope.",
        points=points,
        fit=((low, line.at(low)), (high, line.at(high))),
        band=tuple((x, *line.limits_at(x)) for x in steps),
        zero=crossing,
        move=_move(fit) if move.flats else (),
    )


def _move(fit: Tracking) -> tuple[float, ...]:
    move = fit.move
    if move.now_flats is None or move.flats is None or move.expected_c is None:
        return ()
    return move.now_flats, move.now_flats + move.flats, move.expected_c


def _degrees(angle_rad: float) -> str:
    return f"{math.degrees(angle_rad):.0f}"


def _points(pairs: Pairs) -> str:
    return ", ".join(f"{x:g} {y:.1f}" for x, y in pairs)


def _capital(name: str) -> str:
    return f"{name[:1].upper()}{name[1:]}"
