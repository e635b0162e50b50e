"""Which belt goes on for which round of a meeting, so that the fewest rounds are lost to a belt.

Every belt on hand has a chance to fail on each of its next runs. A belt that fails loses its round; a lost qualifying
run is bad luck, a lost elimination ends the meeting. What to mount is worked out backward from the final, over every
state the meeting can be in (which belts are left, how many runs each has made by then), and so is exactly best:
dynamic programming (Bellman, *Dynamic Programming*, 1957). Of plans that lose as few rounds the one with the fewest
belt changes is taken.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from drivekit.life.folds import Floats

__all__ = ["MOST_BELTS", "MOST_ROUNDS", "MeetingPlan", "meeting_plan"]

MOST_BELTS, MOST_ROUNDS = 5, 8
# Plans whose losses differ by less are alike, and the one with fewer belt changes is taken.
TOLERANCE = 1e-12


@dataclass(frozen=True, slots=True)
class MeetingPlan:
    """The best plan.

    Parameters
    ----------
    belts : tuple of int or None
        The belt to mount for each round as long as none fails, by its place; None where no belt is left that may run.
    survive : tuple of float
        The chance that this belt makes that round, given all before were made.
    instead : tuple of int or None
        The belt to mount for the next round if this one fails; None where the meeting is then over or no belt is left.
    all_rounds : float
        The chance that every round is made without losing one.
    lost : float
        Rounds lost to a belt on average, the best plan followed also after a failure.
    """

    belts: tuple[int | None, ...]
    survive: tuple[float, ...]
    instead: tuple[int | None, ...]
    all_rounds: float
    lost: float


def meeting_plan(ahead: Sequence[Floats], ends: Sequence[bool], *, mounted: int | None = None) -> MeetingPlan:
    """Find the best plan.

    Parameters
    ----------
    ahead : sequence of ndarray of float
        For each belt on hand its chance to fail on its next run, the one after, and so on, as far as is known or as
        it may run before a planned change; it is not mounted beyond. Belts whose look says off are not among them.
    ends : sequence of bool
        For each round ahead, in order, whether losing it ends the meeting, as in eliminations.
    mounted : int, optional
        The belt on the engine now, by its place; by default none.

    Raises
    ------
    ValueError
        If there are no rounds, or more belts or rounds than can be worked out exactly.
    """
    if not 0 < len(ends) <= MOST_ROUNDS or len(ahead) > MOST_BELTS:
        raise ValueError(
            f"a plan takes 1 to {MOST_ROUNDS} rounds and up to {MOST_BELTS} belts, not {len(ends)} and {len(ahead)}"
        )

    def with_run(made: tuple[int, ...], belt: int, runs: int) -> tuple[int, ...]:
        return (*made[:belt], runs, *made[belt + 1 :])

    @cache
    def best(place: int, made: tuple[int, ...], on: int | None) -> tuple[float, float, int | None]:
        """Give rounds lost, belt changes and the belt to mount; `made` is -1 for a belt that has failed."""
        if place == len(ends):
            return 0.0, 0.0, None
        options = []
        for belt, runs in enumerate(made):
            if not 0 <= runs < ahead[belt].size:
                continue
            chance = float(ahead[belt][runs])
            won = best(place + 1, with_run(made, belt, runs + 1), belt)
            after = (0.0, 0.0) if ends[place] else best(place + 1, with_run(made, belt, -1), None)[:2]
            lost = chance * (1 + after[0]) + (1 - chance) * won[0]
            changes = (on != belt) + chance * after[1] + (1 - chance) * won[1]
            options.append((lost, changes, belt))
        if not options:
            later = (0.0, 0.0) if ends[place] else best(place + 1, made, on)[:2]
            return 1 + later[0], later[1], None
        least = min(lost for lost, _, _ in options)
        return min((one for one in options if one[0] <= least + TOLERANCE), key=lambda one: one[1:])

    new = (0,) * len(ahead)
    made, on = new, mounted
    steps: list[tuple[int | None, float, int | None]] = []
    for place, end in enumerate(ends):
        belt = best(place, made, on)[2]
        if belt is None:
            steps.append((None, 0.0, None))
            continue
        instead = None if end else best(place + 1, with_run(made, belt, -1), None)[2]
        steps.append((belt, 1 - float(ahead[belt][made[belt]]), instead))
        made, on = with_run(made, belt, made[belt] + 1), belt
    belts, survive, after = zip(*steps, strict=True)
    return MeetingPlan(belts, survive, after, float(np.prod(survive)), best(0, new, mounted)[0])
