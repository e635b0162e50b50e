"""Where the words of the drive's picture go: beside what they name, off the belt, the arrows and each other.

Places are in inches. Each word has a few places it could stand in, the best first; the one that covers least of what is
drawn already is taken, word by word, so the same drive always gives the same picture.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import ceil, cos, hypot, radians, sin

import numpy as np
from numpy.typing import NDArray

from drivekit.show.layout import width

__all__ = ["Places", "Spot", "Word"]

Point = tuple[float, float]
STEP_IN = 0.03
LEADING = 1.22
# what one place further down the list costs, against one point of a line covered
RANK = 0.06


@dataclass(frozen=True, slots=True)
class Spot:
    """A place for a word: the point it hangs on, and the side of it the word stands on (-1, 0, 1 each way)."""

    x: float
    y: float
    across: int
    up: int


@dataclass(frozen=True, slots=True)
class Word:
    """A word in its place; `x`, `y` is the middle of its box."""

    gid: str
    text: str
    x: float
    y: float
    width: float
    height: float


@dataclass(slots=True)
class Places:
    """The paper of one panel while words are put on it: points of what is drawn, and boxes of words placed."""

    points: list[Point] = field(default_factory=list)
    words: list[Word] = field(default_factory=list)

    def line(self, start: Point, end: Point) -> None:
        """Note a line that no word should cover."""
        steps = max(1, ceil(hypot(end[0] - start[0], end[1] - start[1]) / STEP_IN))
        self.points += [
            (start[0] + (end[0] - start[0]) * i / steps, start[1] + (end[1] - start[1]) * i / steps)
            for i in range(steps + 1)
        ]

    def bow(self, centre: Point, radius: float, first: float, last: float) -> None:
        """Note an arc, its angles in degrees."""
        steps = max(1, ceil(radius * radians(last - first) / STEP_IN))
        angles = (radians(first + (last - first) * i / steps) for i in range(steps + 1))
        self.points += [(centre[0] + radius * cos(angle), centre[1] + radius * sin(angle)) for angle in angles]

    def word(self, gid: str, text: str, points: float, spots: Sequence[Spot]) -> Word:
        """Put a word in the best of its places, and keep it in mind for those that follow.

        Parameters
        ----------
        gid, text : str
            What it is called, and what it says; lines parted by line feeds.
        points : float
            Size of its type.
        spots : sequence of Spot
            Where it could stand, the best first.
        """
        lines = text.split("\n")
        wide = max(width(line, points) for line in lines)
        high = len(lines) * points * LEADING / 72
        drawn = np.array(self.points, dtype=np.float64).reshape(-1, 2)
        found = min(
            (
                (self._covered(drawn, x, y, wide, high) + RANK * rank, rank, x, y)
                for rank, spot in enumerate(spots)
                for x, y in ((spot.x + spot.across * wide / 2, spot.y + spot.up * high / 2),)
            ),
            key=lambda one: one[:2],
        )
        placed = Word(gid, text, found[2], found[3], wide, high)
        self.words.append(placed)
        return placed

    def _covered(self, drawn: NDArray[np.float64], x: float, y: float, wide: float, high: float) -> float:
        """Weigh what a box would cover: points of lines, and far heavier, other words."""
        away = np.abs(drawn - (x, y))
        lines = float(np.count_nonzero((away[:, 0] < wide / 2 + STEP_IN) & (away[:, 1] < high / 2 + STEP_IN / 2)))
        others = sum(
            abs(word.x - x) < (word.width + wide) / 2 + STEP_IN and abs(word.y - y) < (word.height + high) / 2
            for word in self.words
        )
        return lines + 100.0 * others
