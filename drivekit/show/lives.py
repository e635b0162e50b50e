"""The picture of every belt's life: one line a belt, from the run at which the log first sees it to its last.

A line's colour and style say the level of one setting, so that a change on a living belt is seen as a change of line. A
dot ends a belt that failed; a line without one is a belt still running or taken off early.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from drivekit.show.curves import X_LABEL, whole_ticks
from drivekit.show.phrases import counted
from drivekit.show.picture import Label, Mark, Panel, Picture, Spots, Steps

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
"""The line styles of `drivekit.show.strokes.STYLES` in words, in its order."""

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
    oldest = max(life.end for life in drawn)
    height = {life.belt: len(drawn) - place for place, life in enumerate(drawn)}
    marks: list[Mark] = []
    for life in drawn:
        y = height[life.belt]
        for number, part in enumerate(life.stretches, 1):
            ink = part.level if part.level >= 0 else len(levels)
            marks.append(Steps(f"life:{life.belt}:{number}", ink, (part.start, part.end), (y, y)))
    failed = [life for life in drawn if life.failed]
    ends, rows = tuple(life.end for life in failed), tuple(height[life.belt] for life in failed)
    unknown = any(part.level < 0 for life in drawn for part in life.stretches)
    inks = (*levels, UNKNOWN) if unknown else levels
    marks.append(Spots("failures:belts", len(inks), ends, rows))
    marks += _names(drawn, levels, height)
    said = "; ".join(f"{STYLES_SAID[place % len(STYLES_SAID)]}: {level}" for place, level in enumerate(inks))
    subtitle = f"One line a belt, the first fitted at the top. Line by {setting}: {said}."
    if len(lives) > len(drawn):
        subtitle += f" Of {counted(len(lives), 'belt')} the last {len(drawn)} are drawn."
    changed = sum(len({part.level for part in life.stretches if part.level >= 0}) > 1 for life in drawn)
    rest = len(drawn) - len(failed)
    others = "1 is still running or was" if rest == 1 else f"{rest} are still running or were"
    ended = f"Of {counted(len(drawn), 'belt')}, {len(failed)} failed and {others} taken off early"
    title = f"{ended}; on {changed} the {setting} was changed in mid-life."
    note = f"Dots: failures. A line without one: still running or taken off early. {invented}".rstrip()
    panel = Panel(
        name="",
        x_label=X_LABEL,
        y_label="Belts, as first fitted",
        x_limits=(0, oldest + 0.3),
        y_limits=(0, len(drawn) + 1),
        x_ticks=whole_ticks(oldest),
        y_ticks=(),
        marks=tuple(marks),
    )
    return Picture("lives", title, subtitle, note, (panel,))


def _names(lives: Sequence[Life], levels: Sequence[str], height: dict[str, int]) -> list[Label]:
    """Name each level once, at the end of the longest belt that ended under it."""
    names = []
    for place, level in enumerate(levels):
        under = [life for life in lives if life.stretches[-1].level == place]
        if under:
            longest = max(under, key=lambda life: life.end)
            names.append(Label(f"label:{level}", longest.end, height[longest.belt], level))
    return names
