"""Marks on a plane of two measured axes, either of them logarithmic: lines, ribbons, dots, rugs and brackets.

Like the marks of `drivekit.show.picture` they are plain data: no colour, no size, a `gid` each.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Bracket", "Dots", "Level", "PlaneMark", "Ribbon", "Rug", "Trace", "in_decades"]

Numbers = tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Trace:
    """A line through points.

    Parameters
    ----------
    gid : str
        ``curve:`` and what it shows.
    ink : int
        Place of the group: colour and line style.
    x, y : tuple of float
        The points, in the units of the axes.
    thin : bool
        A line to compare with, not the answer.
    """

    gid: str
    ink: int
    x: Numbers
    y: Numbers
    thin: bool = False

    def __str__(self) -> str:
        return f"{self.gid}: {_points(self.x, self.y)}"


@dataclass(frozen=True, slots=True)
class Ribbon:
    """Limits about a line, point by point.

    Parameters
    ----------
    gid : str
        ``band:`` and what it is the band of.
    ink : int
        Place of the group.
    x, lower, upper : tuple of float
        In the units of the axes.
    """

    gid: str
    ink: int
    x: Numbers
    lower: Numbers
    upper: Numbers

    def __str__(self) -> str:
        three = zip(self.x, self.lower, self.upper, strict=True)
        return f"{self.gid}: {', '.join(f'{x:.4g} {low:.3g}-{up:.3g}' for x, low, up in three)}"


@dataclass(frozen=True, slots=True)
class Dots:
    """Points that are each a belt or a failure.

    Parameters
    ----------
    gid : str
        ``dots:`` and what they are.
    ink : int
        Place of the group.
    x, y : tuple of float
        In the units of the axes.
    hollow : bool
        Drawn as rings: belts that did not fail.
    """

    gid: str
    ink: int
    x: Numbers
    y: Numbers
    hollow: bool = False

    def __str__(self) -> str:
        return f"{self.gid}: {_points(self.x, self.y)}"


@dataclass(frozen=True, slots=True)
class Rug:
    """A short stroke at the foot of the panel for each belt.

    Parameters
    ----------
    gid : str
        ``rug:`` and what it counts.
    x : tuple of float
        Where they stand.
    """

    gid: str
    x: Numbers

    def __str__(self) -> str:
        return f"{self.gid}: {', '.join(f'{x:.4g}' for x in self.x)}"


@dataclass(frozen=True, slots=True)
class Bracket:
    """A place on the level axis with its limits, drawn near the head of the panel.

    Parameters
    ----------
    gid : str
        ``best:`` and of what.
    x, lower, upper : float
        The place and its limits.
    text : str
        What is written beside it.
    """

    gid: str
    x: float
    lower: float
    upper: float
    text: str

    def __str__(self) -> str:
        return f"{self.gid}: {self.x:.4g} {self.lower:.4g}-{self.upper:.4g}; {self.text}"


@dataclass(frozen=True, slots=True)
class Level:
    """A level line at one value: no difference, or the answer as it stands.

    Parameters
    ----------
    gid : str
        ``rule:`` and its value.
    y : float
        Where it stands.
    text : str
        What is written at its right end.
    """

    gid: str
    y: float
    text: str

    def __str__(self) -> str:
        return f"{self.gid}: {self.y:.3g}; {self.text}"


PlaneMark = Trace | Ribbon | Dots | Rug | Bracket | Level


def _points(xs: Numbers, ys: Numbers) -> str:
    return ", ".join(f"{x:.4g} {y:.3g}" for x, y in zip(xs, ys, strict=True))


def in_decades(low: float, high: float) -> Numbers:
    """Choose round numbers for a logarithmic axis: 1, 2 and 5 times powers of ten, or their halvings where few suffice.

    Parameters
    ----------
    low, high : float
        Ends of the axis, both above 0.

    Returns
    -------
    tuple of float
        The numbers within the ends.
    """
    if high / low > 1000:
        steps: Numbers = tuple(float(10.0**power) for power in range(-6, 7))
    elif high / low > 3:
        steps = tuple(float(f"{lead}e{power}") for power in range(-6, 7) for lead in (1, 2, 5))
    else:
        steps = (0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1, 1.2, 1.4, 1.6, 1.8, 2, 2.5, 3)
        steps = (*(step / 10 for step in steps[:-3]), *steps, *(step * 10 for step in steps[3:]))
    return tuple(step for step in steps if low <= step <= high)
