"""What is to be drawn, as plain data: marks, labels and numbers, before any brush.

A picture is what the words say, once more, for the eye. It knows no colours, sizes or fonts: a mark carries an `ink`,
the place of its group in the order of groups, and the brush turns it into colour and line style. Every mark has a `gid`
that becomes its element's id in the SVG, so that what was drawn can be compared with what was found. `str(picture)`
lists all that it draws.
"""

from __future__ import annotations

from collections.abc import Container
from dataclasses import dataclass

from drivekit.show.plane import PlaneMark

__all__ = [
    "Band",
    "Drop",
    "Interval",
    "Label",
    "Mark",
    "Panel",
    "Picture",
    "RiskRow",
    "Rule",
    "Spots",
    "Steps",
    "Ticks",
]

Numbers = tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Steps:
    """A step curve that holds each value until the next age.

    Parameters
    ----------
    gid : str
        ``curve:`` and the group's name.
    ink : int
        Place of the group: colour and line style.
    x, y : tuple of float
        Vertices; ages in runs, and percent.
    """

    gid: str
    ink: int
    x: Numbers
    y: Numbers

    def __str__(self) -> str:
        return f"{self.gid}: {_points(self.x, self.y)}"


@dataclass(frozen=True, slots=True)
class Band:
    """Limits about a step curve, point by point; stepped like it.

    Parameters
    ----------
    gid : str
        ``band:`` and the group's name.
    ink : int
        Place of the group.
    x, lower, upper : tuple of float
        Ages, and limits in percent.
    """

    gid: str
    ink: int
    x: Numbers
    lower: Numbers
    upper: Numbers

    def __str__(self) -> str:
        pairs = (f"{x:g} {low:.1f}-{up:.1f}" for x, low, up in zip(self.x, self.lower, self.upper, strict=True))
        return f"{self.gid}: {', '.join(pairs)}"


@dataclass(frozen=True, slots=True)
class Spots:
    """Failures: a dot at the foot of each step.

    Parameters
    ----------
    gid : str
        ``failures:`` and the group's name.
    ink : int
        Place of the group.
    x, y : tuple of float
        Age, and percent after the step.
    """

    gid: str
    ink: int
    x: Numbers
    y: Numbers

    def __str__(self) -> str:
        return f"{self.gid}: {_points(self.x, self.y)}"


@dataclass(frozen=True, slots=True)
class Ticks:
    """Belts still running or taken off early: a short tick on the curve, with a count where several share it.

    Parameters
    ----------
    gid : str
        ``censored:`` and the group's name.
    ink : int
        Place of the group.
    x, y : tuple of float
        Age, and percent of the curve there.
    counts : tuple of int
        Belts that share the tick.
    numbered : int
        Belts that must share a tick before it carries their number.
    """

    gid: str
    ink: int
    x: Numbers
    y: Numbers
    counts: tuple[int, ...]
    numbered: int

    def __str__(self) -> str:
        each = (f"{x:g} {y:.1f} x{count}" for x, y, count in zip(self.x, self.y, self.counts, strict=True))
        return f"{self.gid}: {', '.join(each)}"


@dataclass(frozen=True, slots=True)
class Drop:
    """A thin line from a curve down to the age axis, and that age beside its foot.

    Parameters
    ----------
    gid : str
        ``median:`` and the group's name.
    ink : int
        Place of the group.
    x, y : float
        Age in runs, and percent where the line starts.
    """

    gid: str
    ink: int
    x: float
    y: float

    def __str__(self) -> str:
        return f"{self.gid}: {self.x:g} {self.y:.1f}"


@dataclass(frozen=True, slots=True)
class Label:
    """A group's name at the end of its curve.

    Parameters
    ----------
    gid : str
        ``label:`` and the group's name.
    x, y : float
        Where the curve ends.
    text : str
        What is written there.
    """

    gid: str
    x: float
    y: float
    text: str

    def __str__(self) -> str:
        return f"{self.gid}: {self.text} at {self.x:g} {self.y:.1f}"


@dataclass(frozen=True, slots=True)
class Interval:
    """An estimate with its limits on one row, or the reason why there is none.

    Parameters
    ----------
    gid : str
        ``interval:`` and what is compared.
    ink : int
        Place of the group.
    row : float
        The row, counted downward from 0.
    name, said, counts : str
        What is compared, at the left; the numbers or the reason, and what stands behind them, at the right.
    estimate, lower, upper : float or None
        In the unit of the axis; an estimate is None where it cannot be told, one limit where it has no end.
    diamond : bool
        Drawn with another mark: the estimate comes from another method than the rest.
    """

    gid: str
    ink: int
    row: float
    name: str
    said: str
    counts: str
    estimate: float | None
    lower: float | None
    upper: float | None
    diamond: bool = False

    def __str__(self) -> str:
        three = ("-" if value is None else f"{value:.2f}" for value in (self.estimate, self.lower, self.upper))
        return f"{self.gid}: {' '.join(three)}; {self.said}; {self.counts}"


@dataclass(frozen=True, slots=True)
class Rule:
    """A line across the panel at one value: no difference.

    Parameters
    ----------
    gid : str
        ``rule:`` and its value.
    x : float
        Where it stands.
    text : str
        What is written at its head.
    """

    gid: str
    x: float
    text: str

    def __str__(self) -> str:
        return f"{self.gid}: {self.text}"


Mark = Steps | Band | Spots | Ticks | Drop | Label | Interval | Rule | PlaneMark


@dataclass(frozen=True, slots=True)
class RiskRow:
    """One row of the table under a curve.

    Parameters
    ----------
    gid : str
        ``risk:`` and the group's name; a cell adds its age.
    ink : int or None
        Place of the group, for the line key; None: the row stands for all curves.
    name : str
        The group's name.
    at_risk, failed : dict of int to int
        For every age: belts that made that run, and belts failed up to and including it.
    """

    gid: str
    ink: int | None
    name: str
    at_risk: dict[int, int]
    failed: dict[int, int]

    def cell(self, age: int) -> str:
        """Write what stands under an age: at risk, and in brackets failed so far."""
        return f"{self.at_risk.get(age, 0)} ({self.failed[age]})"


@dataclass(frozen=True, slots=True)
class Panel:
    """One pair of axes, and the table under it.

    Parameters
    ----------
    name : str
        The group of a small multiple; empty when the panel stands alone.
    x_label, y_label : str
        Axis titles in words; no unit is left to guess.
    x_limits, y_limits : tuple of two floats
        The axes' ends.
    x_ticks, y_ticks : tuple of float
        Where numbers may stand; the brush leaves out x ticks that have no room.
    marks : tuple of Mark
        In the order of drawing.
    table : tuple of RiskRow
        Rows in the order of the curves; empty: no table.
    x_log, y_log : bool
        Whether an axis is logarithmic.
    """

    name: str
    x_label: str
    y_label: str
    x_limits: tuple[float, float]
    y_limits: tuple[float, float]
    x_ticks: Numbers
    y_ticks: Numbers
    marks: tuple[Mark, ...]
    table: tuple[RiskRow, ...] = ()
    x_log: bool = False
    y_log: bool = False

    @property
    def has_rows(self) -> bool:
        """Whether it holds intervals, one a row, and no curves."""
        return any(isinstance(mark, Interval) for mark in self.marks)

    @property
    def is_plane(self) -> bool:
        """Whether it holds marks on two measured axes, and no step curves."""
        return any(isinstance(mark, PlaneMark) for mark in self.marks)

    def __str__(self) -> str:
        head = f"panel {self.name}".rstrip() + f": {self.x_label} {self.x_limits[0]:g} to {self.x_limits[1]:g}"
        ages = [int(tick) for tick in self.x_ticks]
        rows = (f"{row.gid}: " + ", ".join(f"{age} {row.cell(age)}" for age in ages) for row in self.table)
        return "\n".join((head, *(str(mark) for mark in self.marks), *rows))


@dataclass(frozen=True, slots=True)
class Picture:
    """A whole figure before it is drawn.

    Parameters
    ----------
    name : str
        The stem of its file.
    title : str
        The answer, in a sentence; also its alternative text.
    subtitle : str
        The estimand, and counts of belts and failures.
    note : str
        How to read the marks.
    panels : tuple of Panel
        One, or small multiples on shared axes.
    """

    name: str
    title: str
    subtitle: str
    note: str
    panels: tuple[Panel, ...]

    def __str__(self) -> str:
        return "\n".join((self.title, self.subtitle, *(str(panel) for panel in self.panels), self.note))

    def _repr_mimebundle_(self, include: Container[str] | None = None, exclude: object = None) -> dict[str, str]:
        from drivekit.show.brush import png, svg
        from drivekit.show.press import notebook_forms

        return notebook_forms(self, svg, png, include)


def _points(xs: Numbers, ys: Numbers) -> str:
    return ", ".join(f"{x:g} {y:.1f}" for x, y in zip(xs, ys, strict=True))
