"""The tension of a span where it was not written down but follows from what was.

A plucked span of free length L and mass m a metre rings at f = sqrt(T / m) / (2 L), the lowest note of a string
(Rayleigh, *The Theory of Sound*, chapter 6), so T = 4 m L^2 f^2. A span pressed in its middle by a force F gives way by
y; for small y the pull of its two halves balances the force, F = 4 T y / L, so T = F L / (4 y).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from drivekit.faults import Fault
from drivekit.log.cells import figure
from drivekit.log.checking import Sheet, Sheets
from drivekit.log.columns import RUNS

__all__ = ["Tension", "tension_of_push", "tension_of_ring", "tensions"]

RANGE_N = next((column.low or 0.0, column.high or np.inf) for column in RUNS if column.name == "tension_n")
DISAGREE = 0.25
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Tension:
    """Static tension of every run, and what is wrong with it.

    Parameters
    ----------
    tension_n : ndarray of float64, shape (n_runs,)
        As typed, else from the ringing span, else from the pressed span; nan where none can be had.
    faults : tuple of Fault
        Impossible results, and warnings of measurements that give no tension.
    """

    tension_n: Floats
    faults: tuple[Fault, ...]


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


def tensions(sheets: Sheets) -> Tension:
    """Find the tension of every run.

    Parameters
    ----------
    sheets : Sheets
        The checked cells of both tables.
    """
    runs = sheets.runs
    given = runs.number("tension_n")
    mass = sheets.of_belt("mass_g_per_m")
    with np.errstate(over="ignore", divide="ignore", invalid="ignore"):
        ring = tension_of_ring(runs.number("span_hz"), runs.number("span_mm"), mass)
        push = tension_of_push(runs.number("push_n"), runs.number("push_mm"), runs.number("span_mm"))
    by_ring = ~np.isnan(ring)
    derived = np.where(by_ring, ring, push)
    open_ = np.isnan(given) & ~runs.bad("tension_n")
    impossible = open_ & ((derived < RANGE_N[0]) | (derived > RANGE_N[1]))
    faults = [
        _impossible(sheets, int(row), float(derived[row]), bool(by_ring[row]), float(mass[row]))
        for row in np.flatnonzero(impossible)
    ]
    faults += _disagreeing(runs, given, derived)
    faults += _unanswered(sheets, open_ & np.isnan(derived), mass)
    return Tension(np.where(open_ & ~impossible, derived, given), tuple(faults))


def _impossible(sheets: Sheets, row: int, newtons: float, by_ring: bool, mass: float) -> Fault:
    runs = sheets.runs
    names = ("span_hz", "span_mm") if by_ring else ("push_n", "push_mm", "span_mm")
    others = [f"{runs.heading(name)} {runs.typed(name, row)}" for name in names[1:]]
    if by_ring:
        others.append(f"the belt's mass of {figure(mass)} g/m")
    wrong = f"with {' and '.join(others)} gives a tension of {figure(newtons)} N"
    return Fault(
        runs.file,
        int(runs.line[row]),
        runs.heading(names[0]),
        runs.typed(names[0], row),
        wrong,
        f"{figure(RANGE_N[0])} to {figure(RANGE_N[1])} N is possible: correct the one that is wrong",
    )


def _disagreeing(runs: Sheet, given: Floats, derived: Floats) -> list[Fault]:
    """Warn where a typed tension and the one that follows from the same row's measurements are far apart."""
    with np.errstate(invalid="ignore"):
        apart = np.abs(derived - given) > DISAGREE * given
    return [
        Fault(
            runs.file,
            int(runs.line[row]),
            runs.heading("tension_n"),
            runs.typed("tension_n", int(row)),
            f"is used, though the span's own measurements give {figure(float(derived[row]))} N",
            "correct the one that is wrong",
            True,
        )
        for row in np.flatnonzero(apart)
    ]


def _unanswered(sheets: Sheets, without: NDArray[np.bool_], mass: Floats) -> list[Fault]:
    """Warn, once for each thing missing, of measurements that give no tension for want of another."""
    runs = sheets.runs
    here = {name: runs.known(name) & without for name in ("span_hz", "push_n", "push_mm")}
    no_span = ~runs.known("span_mm") & ~runs.bad("span_mm")
    known_belt = runs.known("belt") & ~sheets.unknown_belt
    no_mass = np.isnan(mass) & known_belt & ~sheets.of_belt_bad("mass_g_per_m")
    lacking = [
        ("span_hz", here["span_hz"] & no_span, "span_mm, the length of the free span"),
        ("span_hz", here["span_hz"] & ~no_span & no_mass, "mass_g_per_m of its belt"),
        ("push_n", here["push_n"] & no_span, "span_mm, the length of the free span"),
        ("push_n", here["push_n"] & ~runs.known("push_mm") & ~runs.bad("push_mm"), "push_mm, how far it gave way"),
        ("push_mm", here["push_mm"] & ~runs.known("push_n") & ~runs.bad("push_n"), "push_n, the force"),
    ]
    faults = []
    for name, rows, what in lacking:
        if not rows.any():
            continue
        row = int(np.flatnonzero(rows)[0])
        more = int(rows.sum()) - 1
        also = f", nor on {more} more {'run' if more == 1 else 'runs'}" if more else ""
        faults.append(
            Fault(
                runs.file,
                int(runs.line[row]),
                runs.heading(name),
                runs.typed(name, row),
                f"gives no tension here{also}",
                f"it needs {what}",
                True,
            )
        )
    return faults
