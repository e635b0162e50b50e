"""The picture of every belt's life: one line a belt, from the run at which the log first sees it to its last.

A line's colour and style say the level of one setting, so that a change on a living belt is seen as a change of line. A
dot ends a belt that failed; a line without one is a belt still running or taken off early.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from drivekit.show.axes import framed, number_axis, plot_height
from drivekit.show.beside import apart
from drivekit.show.paper import HALO, INK, Picture, Size, ink, width
from drivekit.show.phrases import counted

if TYPE_CHECKING:
    from matplotlib.figure import SubFigure

__all__ = ["MOST", "Life", "Stretch", "lives_picture"]

MOST = 120
"""Lines that one picture can carry and still be told apart."""

STYLES_SAID = (
    "solid",
    "dashed",
    "dash-dotted",
    "dotted",
    "long dashes",
    "short dashes",
    "dash and two dots",
    "sparse dots",
    "long and short dashes",
)
"""The line styles of `drivekit.show.paper.STYLES` in words, in its order."""

UNKNOWN = "not written"


@dataclass(frozen=True, slots=True)
class Stretch:
    """Runs that a belt made one after the other under one level.

    Parameters
    ----------
    level : int
        Place of the level; -1 where it is not known, which has a line of its own.
    start, end : int
        Ages in runs before the first and after the last of them.
    """

    level: int
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Life:
    """One belt.

    Parameters
    ----------
    belt : str
        Its name.
    stretches : tuple of Stretch
        In order of age.
    failed : bool
        Whether it failed on its last run.
    """

    belt: str
    stretches: tuple[Stretch, ...]
    failed: bool

    @property
    def end(self) -> int:
        """Age after its last run."""
        return self.stretches[-1].end


def lives_picture(lives: Sequence[Life], levels: Sequence[str], setting: str, *, invented: str = "") -> Picture:
    """Draw up the lives of belts.

    Parameters
    ----------
    lives : sequence of Life
        In the order in which the belts were first fitted; of more than `MOST` the last are drawn.
    levels : sequence of str
        Names of the levels, in order.
    setting : str
        What the levels are levels of, in words.
    invented : str
        The sentence that says that the data are invented; empty where they are not.

    Raises
    ------
    ValueError
        If there is no belt to draw.
    """
    if not lives:
        raise ValueError("no belt of known age has made a run")
    drawn = lives[-MOST:]
    failed = sum(life.failed for life in drawn)
    unknown = any(part.level < 0 for life in drawn for part in life.stretches)
    inks = (*levels, UNKNOWN) if unknown else levels
    said = "; ".join(f"{STYLES_SAID[place % len(STYLES_SAID)]}: {level}" for place, level in enumerate(inks))
    subtitle = f"One line a belt, the first fitted at the top. Line by {setting}: {said}."
    if len(lives) > len(drawn):
        subtitle += f" Of {counted(len(lives), 'belt')} the last {len(drawn)} are drawn."
    changed = sum(len({part.level for part in life.stretches if part.level >= 0}) > 1 for life in drawn)
    rest = len(drawn) - failed
    others = "1 is still running or was" if rest == 1 else f"{rest} are still running or were"
    ended = f"Of {counted(len(drawn), 'belt')}, {failed} failed and {others} taken off early"
    title = f"{ended}; on {changed} the {setting} was changed in mid-life."
    note = f"Dots: failures. A line without one: still running or taken off early. {invented}".rstrip()

    def draw(body: SubFigure, size: Size) -> None:
        _draw(body, size, drawn, inks)

    def needs(size: Size) -> float:
        return max(plot_height(size), 5.5 * size.gap + 1.25 * size.line / 72 * len(drawn))

    return Picture("lives", title, subtitle, note, draw, needs)


def _draw(body: SubFigure, size: Size, lives: Sequence[Life], levels: Sequence[str]) -> None:
    """Draw a line for each stretch, a dot for each failure, and name each level once, at its longest belt's end."""
    from matplotlib.lines import Line2D

    right = max((width(level, size.small) for level in levels), default=0.0) + 0.4 * size.gap
    axes = framed(body, size, x_label="Runs on the belt", y_label="Belts, as first fitted", right=right)
    axes.set(xlim=(0, max(life.end for life in lives) + 0.3), ylim=(0, len(lives) + 1), yticks=())
    number_axis(axes.xaxis, whole=True)
    lines: list[Line2D] = []
    height = {life.belt: len(lives) - place for place, life in enumerate(lives)}
    for life in lives:
        for number, part in enumerate(life.stretches, 1):
            place, y = part.level if part.level >= 0 else len(levels) - 1, height[life.belt]
            gid = f"life:{life.belt}:{number}"
            line = Line2D((part.start, part.end), (y, y), linewidth=size.line, clip_on=False, gid=gid, **ink(place))
            lines.append(line)
            axes.add_artist(line)
    failed = [life for life in lives if life.failed]
    (dots,) = axes.plot(
        [life.end for life in failed],
        [height[life.belt] for life in failed],
        linestyle="none",
        marker="o",
        markersize=2.3 * size.line,
        color=ink(len(levels))["color"],
        markeredgecolor="white",
        markeredgewidth=0.5 * size.thin,
        clip_on=False,
        gid="failures:belts",
    )
    names = []
    for place, level in enumerate(levels):
        if under := [life for life in lives if life.stretches[-1].level == place]:
            longest = max(under, key=lambda life: life.end)
            names.append(
                axes.annotate(
                    level,
                    (longest.end, height[longest.belt]),
                    (0.6 * size.text, 0),
                    textcoords="offset points",
                    va="center",
                    size=size.small,
                    color=INK,
                    bbox=HALO,
                    gid=f"label:{level}",
                )
            )
    apart(names, [dots, *lines])
