"""Where words go on a picture: how wide they are, where they break, and how they keep out of each other's way.

All lengths are inches on paper. Widths are sums of the font's own advances, so that a layout is computed before
anything is drawn, and is the same on every redraw.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

__all__ = ["SIZES", "Box", "Size", "clipped", "placed", "stacked", "thinned", "width", "wrapped"]


GLUE = "\N{NO-BREAK SPACE}"


@dataclass(frozen=True, slots=True)
class Size:
    """What one use of a picture asks for.

    Parameters
    ----------
    width, height : float
        Inches of the whole picture.
    plot : float
        Inches of height that the axes of one panel have where nothing else decides, and that they keep at least.
    title, text, small : float
        Points: the answer; subtitle and axes; note, table and counts.
    line, thin : float
        Points: curves; everything that is not a curve.
    grows : bool
        Whether the height may follow the content.
    """

    width: float
    height: float
    plot: float
    title: float
    text: float
    small: float
    line: float
    thin: float
    grows: bool = True

    @property
    def gap(self) -> float:
        """The unit of white space: the height of the text, in inches."""
        return self.text / 72

    @property
    def row(self) -> float:
        """The height of a row of the table, in inches."""
        return 1.5 * self.small / 72


SIZES = {
    "screen": Size(7.2, 4.4, 2.0, 11, 9, 8, 1.7, 0.6),
    "slide": Size(12.8, 7.2, 2.6, 19, 15, 14, 2.5, 0.9, grows=False),
    "print": Size(160 / 25.4, 4.2, 1.9, 9.5, 8, 7, 1.3, 0.5),
    "phone": Size(3.6, 4.4, 2.0, 10, 8.5, 8, 1.5, 0.6),
}
"""Screen, slide and print; and the width of a phone, so that a page is read there without zooming."""


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle on paper.

    Parameters
    ----------
    left, bottom, width, height : float
        In inches.
    """

    left: float
    bottom: float
    width: float
    height: float

    def raised(self, by: float) -> Box:
        """Give the same box so much higher."""
        return Box(self.left, self.bottom + by, self.width, self.height)


@lru_cache(maxsize=1024)
def _advance(letter: str) -> float:
    """Give a letter's advance in ems of the figures' font."""
    from matplotlib.font_manager import FontProperties, findfont, get_font

    font = get_font(findfont(FontProperties(family="DejaVu Sans")))
    font.set_size(1000, 72)
    return float(font.load_char(ord(letter)).linearHoriAdvance / 65536 / 1000)


def width(text: str, points: float) -> float:
    """Measure one line of text.

    Parameters
    ----------
    text : str
        The line.
    points : float
        Size of the type in points.

    Returns
    -------
    float
        Inches.
    """
    return sum(_advance(letter) for letter in text) * points / 72


def wrapped(text: str, room: float, points: float) -> tuple[str, ...]:
    """Break text between words so that each line fits; a word wider than the room is broken where it must be.

    Parameters
    ----------
    text : str
        The words.
    room : float
        Inches.
    points : float
        Size of the type.

    Returns
    -------
    tuple of str
        The lines, none for empty text.
    """
    lines: list[str] = []
    line = ""
    # a number keeps its percent sign
    for whole in text.replace(" %", f"{GLUE}%").split(" "):
        word = whole
        while width(word, points) > room and len(word) > 1:
            fits = next(end for end in range(len(word) - 1, 0, -1) if end == 1 or width(word[:end], points) <= room)
            lines += [line, word[:fits]] if line else [word[:fits]]
            line, word = "", word[fits:]
        longer = f"{line} {word}".strip()
        if line and width(longer, points) > room:
            lines.append(line)
            line = word
        else:
            line = longer
    return tuple(each.replace(GLUE, " ") for each in (*lines, line) if each)


def clipped(text: str, room: float, points: float) -> str:
    """Shorten text to its room, ending in an ellipsis where something was left out."""
    if width(text, points) <= room:
        return text
    end = len(text)
    while end > 1 and width(text[:end].rstrip() + "…", points) > room:
        end -= 1
    return text[:end].rstrip() + "…"


def placed(wants: Sequence[Box], words: Sequence[Box], curves: Sequence[Box], paper: Box) -> tuple[Box, ...]:
    """Nudge boxes up or down until they are clear of each other and of what is already there.

    Parameters
    ----------
    wants : sequence of Box
        Where each box would like to be; an earlier one moves less.
    words, curves : sequence of Box
        What is there already: other words, never to be written over; curves as thin boxes, worth a short walk.
    paper : Box
        The boxes stay between its bottom and its top.

    Returns
    -------
    tuple of Box
        The nearest places found, in the order asked; a place over another word is taken only when none is free.
    """
    ink = _array(curves)
    done = list(words)
    for want in wants:
        bottoms = want.bottom + np.arange(-24, 25) * want.height / 4
        inside = (bottoms >= paper.bottom) & (bottoms + want.height <= paper.bottom + paper.height)
        bottoms = bottoms[inside] if inside.any() else np.array([want.bottom])
        walk = np.abs(bottoms - want.bottom) / want.height
        area = want.width * want.height
        cost = 1e6 * _overlaps(want, bottoms, _array(done)) / area + 12 * _overlaps(want, bottoms, ink) / area + walk
        # of two places equally good the upper one is taken, whatever the last digit says
        best = int(np.flatnonzero(cost <= cost.min() + 1e-9)[-1])
        done.append(want.raised(float(bottoms[best]) - want.bottom))
    return tuple(done[len(words) :])


def _array(boxes: Sequence[Box]) -> NDArray[np.float64]:
    """Give left, bottom, right and top of each box, one a row."""
    edges = [(box.left, box.bottom, box.left + box.width, box.bottom + box.height) for box in boxes]
    return np.array(edges, float).reshape(-1, 4)


def _overlaps(want: Box, bottoms: NDArray[np.float64], boxes: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give for each height the area that a box there shares with all others."""
    left, bottom, right, top = boxes.T
    across = np.clip(np.minimum(right, want.left + want.width) - np.maximum(left, want.left), 0, None)
    up = np.minimum(top, bottoms[:, None] + want.height) - np.maximum(bottom, bottoms[:, None])
    return np.asarray(np.clip(up, 0, None) @ across, float)


def stacked(wants: Sequence[Box], paper: Box) -> tuple[Box, ...]:
    """Move boxes that stand in one column apart, as little as possible and in the order of their heights.

    Parameters
    ----------
    wants : sequence of Box
        Where each box would like to be.
    paper : Box
        The column stays between its bottom and its top where it has room there.

    Returns
    -------
    tuple of Box
        In the order asked. Boxes that meet share their displacement evenly, as in isotonic regression.
    """
    order = sorted(range(len(wants)), key=lambda place: (wants[place].bottom, -place))
    # a block: the bottom its boxes would like on average, its height, its boxes from the lowest
    blocks: list[tuple[float, float, list[int]]] = []
    for place in order:
        block = (wants[place].bottom, wants[place].height, [place])
        while blocks and blocks[-1][0] + blocks[-1][1] > block[0]:
            bottom, height, below = blocks.pop()
            many, few = len(below), len(block[2])
            block = ((many * bottom + few * (block[0] - height)) / (many + few), height + block[1], below + block[2])
        blocks.append(block)
    found: dict[int, Box] = {}
    for bottom, height, places in blocks:
        at = max(min(bottom, paper.bottom + paper.height - height), paper.bottom)
        for place in places:
            found[place] = wants[place].raised(at - wants[place].bottom)
            at += wants[place].height
    return tuple(found[place] for place in range(len(wants)))


def thinned(ticks: Sequence[float], room: float, inches_per_run: float) -> tuple[float, ...]:
    """Leave out ticks until what is written under them has room: every 2nd, every 3rd, ...; the first last of all.

    Parameters
    ----------
    ticks : sequence of float
        The first run and then regular ages.
    room : float
        Inches that the widest number takes, with its gap.
    inches_per_run : float
        The scale.

    Returns
    -------
    tuple of float
        The ticks kept, at least one.
    """
    if len(ticks) < 3:
        wide_enough = len(ticks) < 2 or (ticks[1] - ticks[0]) * inches_per_run >= room
        return tuple(ticks) if wide_enough else tuple(ticks[-1:])
    even = ticks[1] - ticks[0] == ticks[2] - ticks[1]
    regular = ticks if even else ticks[1:]
    stride = 1
    while stride < len(regular) and (regular[1] - regular[0]) * stride * inches_per_run < room:
        stride += 1
    kept = tuple(regular[::stride]) if even else tuple(regular[stride - 1 :: stride])
    if not even and (kept[0] - ticks[0]) * inches_per_run >= room:
        kept = (ticks[0], *kept)
    return kept
