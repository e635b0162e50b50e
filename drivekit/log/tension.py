"""The tension of a span where it was not written down but follows from what was. Formulas: `drivekit.span`.

A plucked span is taken as a string. Of a pushed one the stretch that the push makes comes off where the belt's
stiffness and its length (teeth and pitch) are known; where not, it is left as force x span / 4 deflection and the log
says how much a usual belt would take off.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray

from drivekit import span
from drivekit.faults import Fault, counted
from drivekit.log.cells import Row, Sheet, Sheets, figure
from drivekit.log.columns import RUNS

__all__ = ["HIGH_N", "LOW_N", "tensions"]

LOW_N, HIGH_N = next((column.low, column.high) for column in RUNS if column.name == "tension_n")
DISAGREE = 0.25
UNUSUAL = 2.0
FEWEST_FOR_USUAL = 5
NOTED = 0.02
"""What the stretch of a push would take off is said from this share on."""
USUAL_STIFFNESS_N, USUAL_BELT_M = 2e6, 1.8
"""Of a 75 mm belt of 14 mm pitch, from memory: it stands in a warning alone and in no number."""
Floats = NDArray[np.float64]


def tensions(sheets: Sheets) -> tuple[Floats, tuple[Fault, ...]]:
    """Find the static tension of every run, and what is wrong with it.

    Parameters
    ----------
    sheets : Sheets
        The checked cells of both tables.

    Returns
    -------
    tension_n : ndarray of float64, shape (n_runs,)
        As typed, else from the ringing span, else from the pressed span; nan where none can be had.
    faults : tuple of Fault
        Impossible results, and warnings of unlikely ones and of measurements that give no tension.
    """
    runs, given = sheets.runs, sheets.runs["tension_n"]
    mass, stiffness, teeth, pitch = (
        _of_belt(sheets, sheets.belts[name].value, np.nan)
        for name in ("mass_g_per_m", "stiffness_n", "teeth", "pitch_mm")
    )
    free, sag, force = runs["span_mm"].value / 1e3, runs["push_mm"].value / 1e3, runs["push_n"].value
    with np.errstate(over="ignore", divide="ignore", invalid="ignore"):
        ring = span.string_tension(runs["span_hz"].value, free, mass / 1e3)
        rough = span.rough_push_tension(force, runs["push_mm"].value, runs["span_mm"].value)
        rest = span.at_rest(span.pushed_tension(force, sag, free), sag, free, stiffness, teeth * pitch / 1e3)
        usual = span.at_rest(span.pushed_tension(force, sag, free), sag, free, USUAL_STIFFNESS_N, USUAL_BELT_M)
        push = np.where(np.isnan(rest), rough, rest)
    by_ring = ~np.isnan(ring)
    derived = np.where(by_ring, ring, push)
    missing = np.isnan(given.value) & ~given.bad
    impossible = missing & ((derived < LOW_N) | (derived > HIGH_N))
    tension_n = np.where(missing & ~impossible, derived, given.value)
    faults = [
        _impossible(runs, row, derived[row], mass[row] if by_ring[row] else None) for row in np.flatnonzero(impossible)
    ]
    with np.errstate(invalid="ignore"):
        apart = np.abs(derived - given.value) > DISAGREE * given.value
    for row in np.flatnonzero(apart):
        wrong = f"is used, though the span's own measurements give {figure(derived[row])} N"
        faults.append(given.fault(row, wrong, "correct the one that is wrong", warning=True))
    faults += _unanswered(sheets, missing & np.isnan(derived), np.isnan(mass))
    with np.errstate(invalid="ignore"):
        noted = usual < (1 - NOTED) * rough
    stretched = np.flatnonzero(missing & ~impossible & ~by_ring & noted & np.isnan(rest) & (sheets.belt_row >= 0))
    if len(stretched):
        faults.append(_stretched(runs, stretched, rough, usual))
    return tension_n, (*faults, *_unusual(runs, tension_n))


def _stretched(runs: Sheet, rows: NDArray[np.intp], rough: Floats, usual: Floats) -> Fault:
    """Say, once, what the stretch that a push makes would take off if the belt's stiffness were known."""
    row = rows[0]
    also = f", nor on {counted(len(rows) - 1, 'more run')}" if len(rows) > 1 else ""
    wrong = f"makes {figure(rough[row])} N, with nothing taken off for the belt's stretch{also}"
    right = (
        f"belts' stiffness_n, teeth and pitch_mm take it off: a belt of {figure(USUAL_STIFFNESS_N)} N and "
        f"{USUAL_BELT_M:g} m, both from memory, would have {figure(usual[row])} N"
    )
    return runs["push_n"].fault(row, wrong, right, warning=True)


def _of_belt(sheets: Sheets, values: NDArray[Any], unknown: Any) -> NDArray[Any]:
    """Give each run what stands at its belt; `unknown` where the belt is."""
    return np.append(values, unknown)[sheets.belt_row]


def _impossible(runs: Sheet, row: Row, newtons: float, mass: float | None) -> Fault:
    """Find fault with a measurement that gives an impossible tension: a pushed span's, where no mass is given."""
    first, *names = ("push_n", "push_mm", "span_mm") if mass is None else ("span_hz", "span_mm")
    others = [f"{runs[name].place.heading} {runs[name].typed(row)}" for name in names]
    if mass is not None:
        others.append(f"the belt's mass of {figure(mass)} g/m")
    wrong = f"with {' and '.join(others)} gives a tension of {figure(newtons)} N"
    right = f"{figure(LOW_N)} to {figure(HIGH_N)} N is possible: correct the one that is wrong"
    return runs[first].fault(row, wrong, right)


def _unanswered(sheets: Sheets, without: NDArray[np.bool_], no_mass: NDArray[np.bool_]) -> Iterator[Fault]:
    """Warn, once for each thing missing, of measurements that give no tension for want of another."""
    runs = sheets.runs
    here = {name: runs[name].known & without for name in ("span_hz", "push_n", "push_mm")}
    lacks = {name: ~runs[name].known & ~runs[name].bad for name in ("span_mm", "push_n", "push_mm")}
    mass_bad = _of_belt(sheets, sheets.belts["mass_g_per_m"].bad, False)
    no_mass = no_mass & runs["belt"].known & ~sheets.unknown_belt & ~mass_bad
    span = "span_mm, the length of the free span"
    lacking = (
        ("span_hz", lacks["span_mm"], span),
        ("span_hz", ~lacks["span_mm"] & no_mass, "mass_g_per_m of its belt"),
        ("push_n", lacks["span_mm"], span),
        ("push_n", lacks["push_mm"], "push_mm, how far it gave way"),
        ("push_mm", lacks["push_n"], "push_n, the force"),
    )
    for name, lacked, what in lacking:
        rows = np.flatnonzero(here[name] & lacked)
        if len(rows):
            also = f", nor on {counted(len(rows) - 1, 'more run')}" if len(rows) > 1 else ""
            yield runs[name].fault(rows[0], f"gives no tension here{also}", f"it needs {what}", warning=True)


def _unusual(runs: Sheet, tension_n: Floats) -> Iterator[Fault]:
    """Warn of tensions more than twice, or less than half, the middle one of the log."""
    known = tension_n[~np.isnan(tension_n)]
    if len(known) < FEWEST_FOR_USUAL:
        return
    usual = float(np.median(known))
    for row in np.flatnonzero((tension_n > UNUSUAL * usual) | (tension_n < usual / UNUSUAL)):
        name = next((name for name in ("tension_n", "span_hz") if runs[name].known[row]), None)
        name = name or next(name for name in ("tension_n", "span_hz", "push_n") if runs[name].there)
        size = "more than twice" if tension_n[row] > usual else "less than half"
        wrong = f"makes {figure(tension_n[row])} N, {size} the usual {figure(usual)} N"
        yield runs[name].fault(row, wrong, "correct it if it is a slip", warning=True)
