"""The drive seen from the front, as plain data: the belt's path to scale, and what it pulls where.

Drawn from a `SetUp`: one panel at rest, one at full load, in millimetres, the resultant on every shaft as an arrow.
`path_brush` turns it into a figure; the text form lists all that is drawn.
"""

from __future__ import annotations

from collections.abc import Container
from dataclasses import dataclass
from math import cos, degrees, sin, tau
from typing import TYPE_CHECKING

from drivekit.drive.amounts import force_words

if TYPE_CHECKING:
    from drivekit.drive.loads import State
    from drivekit.drive.set_up import SetUp

__all__ = ["Arrow", "Bow", "Disc", "PathPanel", "PathPicture", "Run", "path_picture"]


@dataclass(frozen=True, slots=True)
class Disc:
    """A pulley: its centre, the radius of its face, its teeth (None: smooth), and where its name has room."""

    gid: str
    name: str
    x: float
    y: float
    radius: float
    teeth: int | None

    def __str__(self) -> str:
        face = "smooth" if self.teeth is None else f"{self.teeth} teeth"
        return f"{self.gid}: {self.x:.1f} {self.y:.1f} radius {self.radius:.1f}, {face}"


@dataclass(frozen=True, slots=True)
class Run:
    """A free span in the direction of running; `side` is slack, tight or even; `outward` points away from the loop."""

    gid: str
    x: tuple[float, float]
    y: tuple[float, float]
    side: str
    tension_n: float
    outward: tuple[float, float]

    def __str__(self) -> str:
        (x, to_x), (y, to_y) = self.x, self.y
        return f"{self.gid}: {x:.1f} {y:.1f} to {to_x:.1f} {to_y:.1f}, {self.side}, {self.tension_n:,.0f} N"


@dataclass(frozen=True, slots=True)
class Bow:
    """The belt on a pulley: centre, radius of the pitch line, first and last angle in degrees, anticlockwise."""

    gid: str
    x: float
    y: float
    radius: float
    first: float
    last: float

    def __str__(self) -> str:
        return f"{self.gid}: {self.last - self.first:.1f} degrees"


@dataclass(frozen=True, slots=True)
class Arrow:
    """The belt's pull on a shaft, in N; drawn from the shaft, to the panel's scale of force."""

    gid: str
    x: float
    y: float
    across_n: float
    up_n: float
    text: str

    def __str__(self) -> str:
        return f"{self.gid}: {self.text} towards {self.across_n:,.0f} {self.up_n:,.0f}"


@dataclass(frozen=True, slots=True)
class PathPanel:
    """The drive in one state."""

    name: str
    discs: tuple[Disc, ...]
    bows: tuple[Bow, ...]
    runs: tuple[Run, ...]
    arrows: tuple[Arrow, ...]
    slide: tuple[tuple[float, float], tuple[float, float]] | None

    def __str__(self) -> str:
        marks = (*self.discs, *self.bows, *self.runs, *self.arrows)
        return "\n".join((f"panel {self.name}", *(str(mark) for mark in marks)))


@dataclass(frozen=True, slots=True)
class PathPicture:
    """The whole picture before it is drawn: title is the answer, panels share one scale of length and of force.

    Parameters
    ----------
    title, subtitle, note : str
        The answer, what is drawn, how to read it.
    panels : tuple of PathPanel
        At rest and at full load.
    mm_per_n : float
        Length of an arrow per force.
    """

    title: str
    subtitle: str
    note: str
    panels: tuple[PathPanel, ...]
    mm_per_n: float

    name = "belt-path"

    @property
    def extent(self) -> tuple[float, float, float, float]:
        """Left, right, bottom, top of the drive in mm."""
        discs = self.panels[0].discs
        return (
            min(disc.x - disc.radius for disc in discs),
            max(disc.x + disc.radius for disc in discs),
            min(disc.y - disc.radius for disc in discs),
            max(disc.y + disc.radius for disc in discs),
        )

    def __str__(self) -> str:
        return "\n".join((self.title, self.subtitle, *map(str, self.panels), self.note))

    def _repr_mimebundle_(self, include: Container[str] | None = None, exclude: object = None) -> dict[str, str]:
        from drivekit.show.path_brush import png, svg
        from drivekit.show.press import notebook_forms

        return notebook_forms(self, svg, png, include)


def path_picture(found: SetUp) -> PathPicture:
    """Draw up the path of a set-up drive, at rest and at full load.

    Parameters
    ----------
    found : SetUp
        The drive.
    """
    rest, _, full = found.states
    longest = max(load.force_n for state in (rest, full) for load in state.loads)
    panels = (_panel(found, rest), _panel(found, full))
    _, _, bottom, top = PathPicture("", "", "", panels, 1.0).extent
    # the longest arrow reaches a third of the drive's height, so that crank's and blower's never meet
    per_n = (top - bottom) / 3 / longest if longest > 0 else 0.0
    invented = "An invented drive" if found.layout.invented else "The drive"
    return PathPicture(
        _answer(found),
        f"{invented}, {found.layout.name}, seen from the front, to scale: {_seat(found)}",
        "Arrows, and numbers under the pulleys' names: what the belt pulls on each shaft, all to one scale. Belt: "
        "dashed on the slack side; small heads show the way it runs, numbers beside it are contact tensions.",
        panels,
        per_n,
    )


def _answer(found: SetUp) -> str:
    """Say in a sentence whether the belt stays tight at full load, and where it ends."""
    kept = found.states[2].tensions.slack_n
    if kept <= 0:
        return f"At full load the belt is slack: {force_words(found.guide.least_n)} of static tension are needed"
    end = found.slack.crank_rpm
    until = "beyond the blower's curve" if end is None else f"at {end:,.0f} rpm"
    return f"At full load the slack side keeps {force_words(kept)}; the belt goes slack {until}"


def _seat(found: SetUp) -> str:
    teeth, length = found.layout.belt.teeth, found.path.length_m * 1e3
    return f"belt of {teeth} teeth, path {length:.1f} mm, {force_words(found.layout.tension.set_n)} set on each span"


def _panel(found: SetUp, state: State) -> PathPanel:
    layout, path, name = found.layout, found.path, state.name
    discs = tuple(
        Disc(f"pulley:{name}:{p.name}", p.name, p.x_m * 1e3, p.y_m * 1e3, p.body_radius(layout.belt) * 1e3,
             _teeth(found, i))
        for i, p in enumerate(layout.pulleys)
    )  # fmt: skip
    bows = []
    for arc in path.arcs:
        first = degrees(arc.starts_rad if arc.turn == 1 else arc.starts_rad - arc.wrap_rad)
        bows.append(
            Bow(f"arc:{name}:{arc.pulley}", arc.x_m * 1e3, arc.y_m * 1e3, arc.radius_m * 1e3, first,
                first + degrees(arc.wrap_rad))
        )  # fmt: skip
    out = -1 if layout.turns == "anticlockwise" else 1
    even = max(state.span_n) - min(state.span_n) < 1.0
    runs = tuple(
        Run(
            f"span:{name}:{span.leaves}-{span.meets}",
            (span.from_x_m * 1e3, span.to_x_m * 1e3),
            (span.from_y_m * 1e3, span.to_y_m * 1e3),
            "even" if even else "slack" if tension == min(state.span_n) else "tight",
            tension,
            (-sin(span.heading_rad) * out, cos(span.heading_rad) * out),
        )
        for span, tension in zip(path.spans, state.span_n, strict=True)
    )
    arrows = tuple(
        Arrow(f"force:{name}:{p.name}", p.x_m * 1e3, p.y_m * 1e3, load.x_n, load.y_n, force_words(load.force_n))
        for p, load in zip(layout.pulleys, state.loads, strict=True)
    )
    return PathPanel(name, discs, tuple(bows), runs, arrows, _slide(found))


def _teeth(found: SetUp, pulley: int) -> int | None:
    """Teeth to draw around a toothed pulley, told from its pitch circle where the file gives no number."""
    one, belt = found.layout.pulleys[pulley], found.layout.belt
    if one.face == "smooth":
        return None
    return one.teeth or round(tau * one.pitch_radius(belt) / belt.pitch_m)


def _slide(found: SetUp) -> tuple[tuple[float, float], tuple[float, float]] | None:
    """Return the two ends of the slide in mm."""
    slide, sliding = found.layout.slide, found.layout.sliding
    if slide is None or sliding is None:
        return None
    moved = found.layout.pulleys[sliding]
    across, up = cos(slide.direction_rad), sin(slide.direction_rad)
    near, far = (((moved.x_m + at * across) * 1e3, (moved.y_m + at * up) * 1e3) for at in (slide.least_m, slide.most_m))
    return near, far
