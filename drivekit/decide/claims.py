"""What may be claimed: the one place, asked by every sentence, every title of a figure and every piece of advice.

A direction is claimed only of a question whose own test tells, adjusted for there being several, *and* where the
interval leaves out no difference: so pairs of a setting with three levels stand behind their global test (closed
testing: Marcus, Peritz and Gabriel, Biometrika 1976). An interval that leaves it out without the test is a hint. "No
difference as large as a run" is said only where a run could be lost: the reference lives at least two runs short of the
horizon and 5 belts failed before it in each level, and of no question whose own test would tell. Runs and failures a
run of the same two levels are one question: a hint in one is the doubt of both. A comparison that nobody planned, or
one asked again of some of the runs, has no test of its own: it hints at the most, and not with fewer than 5 failures in
a level.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

__all__ = ["FEW_FAILURES", "RARE_BEND", "best_verdict", "one_doubt", "pair_verdicts", "ratio_verdict", "runs_verdict"]

FEW_FAILURES = 5
"""A level with fewer failures than this tells too little by itself."""

WHOLE_RUN = 1.0
"""Limits nearer to no difference than this are not worth a belt."""

LEAST_ROOM = 2.0
"""A reference that lives nearer to the horizon than this many runs has hardly a run to lose."""

WIDTH_OF_NOTHING = 1e-9

RARE_BEND = 0.05
"""A number bends where a bend as large would come up by chance less often than this."""

FAILURES = {"longer": "fewer", "shorter": "more"}
"""What a level that lasts so does to failures a run."""


def pair_verdicts(head: Mapping[str, Any], *, told: bool = False, hint: bool = False) -> dict[str, str]:
    """Judge each pair of levels of a headline.

    Parameters
    ----------
    head : dict
        A headline, or a reason.
    told : bool
        Whether its question's test tells; False for what nobody planned, or was asked again of some of the runs.
    hint : bool
        Whether that test would tell before the adjustment, so that nothing in it is called alike.
    """
    judged = {}
    for pair, difference in head.get("pairs", {}).items():
        sides = [head["to_horizon"][level] for level in pair.split(" minus ")]
        room = head["horizon_runs"] - (sides[1]["estimate"] or head["horizon_runs"])
        failed = min(side["failed"] for side in sides)
        judged[pair] = runs_verdict(difference, told=told, failed=failed, room=0.0 if hint else room)
    return judged


def runs_verdict(difference: Mapping[str, Any], *, told: bool, failed: int, room: float) -> str:
    """Judge a difference in runs by its interval.

    Parameters
    ----------
    difference : dict
        ``lower`` and ``upper``, in runs.
    told : bool
        Whether the question's global test tells.
    failed : int
        Failures before the horizon in the level that has fewer.
    room : float
        Runs from the mean of the reference level to the horizon.

    Returns
    -------
    str
        ``longer``, ``shorter``, either with ``hint`` before it, ``no difference`` (none as large as a run), ``too few``
        or ``no answer``.
    """
    lower, upper = difference["lower"], difference["upper"]
    if lower is None or upper is None:
        return "no answer"
    if upper - lower < WIDTH_OF_NOTHING:
        return "too few"
    if lower > 0 or upper < 0:
        return _direction("longer" if lower > 0 else "shorter", told=told, failed=failed)
    within = max(-lower, upper) < WHOLE_RUN and room >= LEAST_ROOM and failed >= FEW_FAILURES
    return "no difference" if within else "too few"


def ratio_verdict(ratio: Mapping[str, Any], *, told: bool, failed: int) -> str:
    """Judge a ratio of hazards: ``fewer``, ``more``, either with ``hint`` before it, ``too few`` or ``no answer``."""
    if ratio["hr"] is None:
        return "no answer"
    if ratio["upper"] is not None and ratio["upper"] < 1:
        return _direction("fewer", told=told, failed=failed)
    if ratio["lower"] is not None and ratio["lower"] > 1:
        return _direction("more", told=told, failed=failed)
    return "too few"


def one_doubt(runs: str, ratio: str, hr: float | None) -> tuple[str, str]:
    """Give the verdicts of two levels, by runs and by their ratio of hazards, one doubt: a hint in one is that of both.

    A ratio that points the other way keeps its own.
    """
    for way, failures in FAILURES.items():
        if runs == f"hint {way}" and ratio == "too few" and hr and (hr < 1) == (failures == "fewer"):
            return runs, f"hint {failures}"
        if ratio == f"hint {failures}" and runs in ("too few", "no difference"):
            return f"hint {way}", ratio
    return runs, ratio


def _direction(way: str, *, told: bool, failed: int) -> str:
    return way if told else f"hint {way}" if failed >= FEW_FAILURES else "too few"


def best_verdict(curve: Mapping[str, Any], *, told: bool, hint: bool) -> str:
    """Judge where along a number belts last best: ``best``, ``hint``, ``too few`` or ``no answer``.

    Parameters
    ----------
    curve : dict
        With ``run_n``, the stretch not told from the best, and ``often_n``, that which was often run; or a reason.
    told, hint : bool
        Whether the question's test tells after the adjustment, and whether it would before.
    """
    if "reason" in curve:
        return "no answer"
    run, (low, high) = curve["run_n"], curve["often_n"]
    if run["lower"] <= low and run["upper"] >= high:
        return "too few"
    return "best" if told else "hint" if hint else "too few"
