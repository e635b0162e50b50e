"""The tension of a span where it was not written down but follows from what was.

A plucked span of free length L and mass m a metre rings at f = sqrt(T / m) / (2 L), the lowest note of a string
(Rayleigh, *The Theory of Sound*, chapter 6), so T = 4 m L^2 f^2. A span pressed in its middle by a force F gives way by
y; for small y the pull of its two halves balances the force, F = 4 T y / L, so T = F L / (4 y).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray

from drivekit.faults import Fault
from drivekit.log.cells import Row, Sheet, Sheets, figure
from drivekit.log.columns import RUNS
from drivekit.log.tables import counted

__all__ = ["tension_of_push", "tension_of_ring", "tensions"]

LOW_N, HIGH_N = next((column.low or 0.0, column.high or np.inf) for column in RUNS if column.name == "tension_n")
DISAGREE = 0.25
UNUSUAL = 2.0
FEWEST_FOR_USUAL = 5
Floats = NDArray[np.float64]


def tension_of_ring(span_hz: Floats, span_mm: Floats, mass_g_per_m: Floats) -> Floats:
    """Give the tension in newtons of a span that rings at `span_hz`.

    Examples
    --------
    >>> tension_of_ring(np.array(100.0), np.array(300.0), np.array(200.0)).round(9)
    np.float64(720.0)
    """
    return 4.0 * (mass_g_per_m / 1000.0) * (span_mm / 1000.0) ** 2 * span_hz**2


def tension_of_push(push_n: Floats, push_mm: Floats, span_mm: Floats) -> Floats:
    """Give the tension in newtons of a span that gives way by `push_mm` in its middle."""
    return push_n * span_mm / (4.0 * push_mm)


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
    mass = _of_belt(sheets, sheets.belts["mass_g_per_m"].value, np.nan)
    span = runs["span_mm"].value
    with np.errstate(over="ignore", divide="ignore", invalid="ignore"):
        ring = tension_of_ring(runs["span_hz"].value, span, mass)
        push = tension_of_push(runs["push_n"].value, runs["push_mm"].value, span)
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
    return tension_n, (*faults, *_unusual(runs, tension_n))


def _of_belt(sheets: Sheets, values: NDArray[Any], unknown: Any) -> NDArray[Any]:
    """Give each run what stands at its belt; `unknown` where the belt is."""
    return np.append(values, unknown)[sheets.belt_row]


def _impossible(runs: Sheet, row: Row, newtons: float, mass: float | None) -> Fault:
    """Find fault with a measurement that gives an impossible tension: a pushed span's, where no mass is given."""
    first, *names = ("push_n", "push_mm", "span_mm") if mass is None else ("span_hz", "span_mm")
    others = [f"{runs[name].heading} {runs[name].typed(row)}" for name in names]
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
