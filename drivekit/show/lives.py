"""The picture of every belt's life: one line a belt, from the run at which the log first sees it to its last.

A line's colour and style say the level of one setting, so that a change on a living belt is seen as a change of line. A
dot ends a belt that failed; a line without one is a belt still running or taken off early.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from drivekit.show.axes import apart, framed, plot_height, words_at
from drivekit.show.paper import HALO, Picture, Size, ink, width
from drivekit.show.phrases import counted

if TYPE_CHECKING:
    from matplotlib.figure import SubFigure

__all__ = ["MOST", "Life", "lives_picture"]

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


Life = tuple[str, Sequence[tuple[int, int, int]], bool]
"""One belt: its name, its stretches in order of age, and whether it failed on its last run. A stretch is the runs that
it made one after the other under one level: the place of the level, -1 where it is not known, which has a line of its
own, and the ages in runs before the first and after the last of them."""


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
    failed = sum(fell for *_, fell in drawn)
    under = [{level for level, *_ in stretches} for _, stretches, _ in drawn]
    unknown = any(-1 in levels for levels in under)
    inks = (*levels, UNKNOWN) if unknown else levels
    said = "; ".join(f"{STYLES_SAID[place % len(STYLES_SAID)]}: {level}" for place, level in enumerate(inks))
    subtitle = f"One line a belt, the first fitted at the top. Line by {setting}: {said}."
    if len(lives) > len(drawn):
        subtitle += f" Of {counted(len(lives), 'belt')} the last {len(drawn)} are drawn."
    changed = sum(len(levels - {-1}) > 1 for levels in under)
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
    axes = framed(body, size, "Runs on the belt", "Belts, as first fitted", right=right)
    ends = [(stretches[-1][2], y) for y, (_, stretches, _) in zip(range(len(lives), 0, -1), lives, strict=True)]
    axes.set(xlim=(0, max(ends)[0] + 0.3), ylim=(0, len(lives) + 1), yticks=())
    lines: list[Line2D] = []
    for (belt, stretches, _), (_, y) in zip(lives, ends, strict=True):
        for number, (level, start, end) in enumerate(stretches, 1):
            style = ink(level if level >= 0 else len(levels) - 1)
            gid = f"life:{belt}:{number}"
            lines.append(Line2D((start, end), (y, y), linewidth=size.line, clip_on=False, gid=gid, **style))
            axes.add_artist(lines[-1])
    failed = np.reshape([end for end, (*_, fell) in zip(ends, lives, strict=True) if fell], (-1, 2))
    look: dict[str, Any] = {"color": ink(len(levels))["color"], "mec": "white", "mew": 0.5 * size.thin}
    dots = axes.plot(*failed.T, "o", ms=2.3 * size.line, clip_on=False, gid="failures:belts", **look)
    names = []
    for place, name in enumerate(levels):
        if last := [end for end, (_, stretches, _) in zip(ends, lives, strict=True) if stretches[-1][0] == place]:
            longest = max(last, key=lambda end: end[0])
            names.append(words_at(axes, name, longest, (0.6 * size.text, 0), f"label:{name}", size.small, bbox=HALO))
    apart(names, [*dots, *lines])
