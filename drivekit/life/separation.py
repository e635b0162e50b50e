"""Directions without end, along which the likelihood rises for ever, and what is left in the limit.

The partial likelihood rises (or stays level) along d for ever exactly when, in every risk set, no row at risk has a
larger x d than any row that failed. If some such d leaves a row strictly below, there is no maximum: rows strictly
below lose all weight in the limit. One linear programme finds a d with the largest sum of gaps in the box
-1 <= d <= 1; its strictly lower rows leave and the search is repeated on the rest until no gap is left. A combination
of the directions found, each weighed far above the next, is again such a direction of the first problem, so what is
left is its limit.

In what is left, all directions without end are level: they are the null space of the covariates' spread within the
sets. A term *moves* when some vector of that null space has a part in it, and is the same in every limit when none has.

Bryson and Johnson, Technometrics 1981 (monotone partial likelihood); Albert and Anderson, Biometrika 1984, and
Kolassa, Scand J Stat 1997 (directions of recession and the linear programme).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from drivekit.life.folds import Bools, Floats
from drivekit.life.riskset import RiskSets

__all__ = [
    "CONSTANT",
    "DETERMINED",
    "MOVES",
    "NO_FAILURE",
    "Estimates",
    "determined",
    "in_null_space",
    "level_gap",
    "limit",
    "rising",
]

# Parts of a column's own size: within the first, rows count as level in a direction; within the second, a column counts
# as a combination of others.
_LEVEL = 1e-7
_APART = 1e-6


NO_FAILURE = "nothing failed in these runs"
CONSTANT = "it was the same for all belts that stood beside a failed one at the same age on the same car"
DETERMINED = "the other settings determine it: in these runs it never changed without them"
MOVES = "the failures all lie on one side of it, so the best estimate is without end"


@dataclass(frozen=True, eq=False, slots=True)
class Estimates:
    """What a fit says of each term, as :class:`drivekit.life.cox.CoxFit` has it.

    ``lower``, ``upper`` and ``p``, shape (n_terms,), are limits of the coefficients and tests against 0, where the fit
    gives them.
    """

    coef: Floats
    se: Floats
    loglik: float
    reasons: tuple[str | None, ...]
    lower: Floats | None = None
    upper: Floats | None = None
    p: Floats | None = None


def determined(columns: Floats, size: Floats) -> Bools:
    """Which columns, of shape (n, n_terms), are zero or a combination of those before them.

    What is left of each is judged against its ``size``: the column's length before its means were taken off.
    """
    found = np.zeros(columns.shape[1], bool)
    basis: list[Floats] = []
    for term in range(columns.shape[1]):
        rest = columns[:, term]
        for _ in range(2):  # the second sweep takes away what rounding left in the first
            for unit in basis:
                rest = rest - unit * (unit @ rest)
        length = np.linalg.norm(rest)
        if length <= _APART * size[term]:
            found[term] = True
        else:
            basis.append(rest / length)
    return found


def untold(rows: RiskSets) -> tuple[Bools, list[str | None]]:
    """Which terms no hazard ratio can be told for whatever failed, and why.

    They never differ within a set, or those before them determine them; one that can be told has None for its reason.
    """
    spread, length = rows.spread(), np.linalg.norm(rows.member_x, axis=0)
    alone = determined(spread, length)
    flat = np.linalg.norm(spread, axis=0) <= _APART * length
    return alone, [(CONSTANT if flat[j] else DETERMINED) if alone[j] else None for j in range(alone.size)]


def in_null_space(columns: Floats, size: Floats) -> Bools:
    """Which columns are zero or take part in a linear relation between columns; ``size`` as for :func:`determined`."""
    part = determined(columns, size)
    free = np.flatnonzero(~part)
    scale = np.where(size > 0.0, size, 1.0)
    scaled = columns / scale
    for term in np.flatnonzero(part):
        weights = np.linalg.lstsq(scaled[:, free], scaled[:, term], rcond=None)[0]
        part[free[np.abs(weights) > _APART]] = True
    return part


def rising(gaps: Floats, level: Floats) -> Floats | None:
    """Direction d in the box with ``gaps @ d >= 0``, ``level @ d = 0`` and the largest sum of gaps, if any opens.

    ``gaps`` and ``level``, of shape (n, n_terms), are in columns of size about 1.
    """
    from scipy.optimize import linprog

    if not gaps.size:
        return None
    gaps, equal = np.unique(gaps, axis=0), np.unique(level, axis=0)
    found = linprog(
        -gaps.sum(axis=0),
        A_ub=-gaps,
        b_ub=np.zeros(gaps.shape[0]),
        A_eq=equal if equal.size else None,
        b_eq=np.zeros(equal.shape[0]) if equal.size else None,
        bounds=(-1.0, 1.0),
        method="highs",
    )
    if found.status != 0:
        raise ArithmeticError(f"the linear programme for directions without end failed: {found.message}")
    direction = np.asarray(found.x, np.float64)
    # A true direction can be stretched until it meets the box; a shorter one is the solver's tolerance.
    real = np.abs(direction).max() > 0.5 and (gaps @ direction).max() > _LEVEL
    return direction if real else None


def level_gap(gap: Floats) -> Bools:
    """Whether a gap between rows counts as none."""
    return np.asarray(np.abs(gap) <= _LEVEL)


def _below_the_failed(rows: RiskSets, x: Floats) -> tuple[Floats, Floats]:
    """Take every row from the first failed one of its set; other failed rows must stay level with it."""
    gap = x[rows.first[:-1]][rows.member_set] - x
    failed = rows.member_failed
    return gap[~failed], gap[failed]


def _level_with_the_failed(rows: RiskSets, height: Floats) -> RiskSets:
    """Leave out rows below the failed ones: in the limit they have no weight."""
    return rows.keeping(level_gap(height[rows.first[:-1]][rows.member_set] - height))


def limit(
    rows: RiskSets,
    terms: Bools,
    differences: Callable[[RiskSets, Floats], tuple[Floats, Floats]] = _below_the_failed,
    rest: Callable[[RiskSets, Floats], RiskSets] = _level_with_the_failed,
) -> tuple[RiskSets, Bools, Bools]:
    """Follow every direction without end of a likelihood of risk sets, by default Efron's or Breslow's.

    Parameters
    ----------
    terms : ndarray of bool, shape (n_terms,)
        Terms in the fit; none of them may be a combination of the others.
    differences : callable
        From the sets and their members' covariates: the differences that no such direction may make negative, and those
        that it must leave level.
    rest : callable
        From the sets and the height of each member along a direction: what is left of the sets in the limit.

    Returns
    -------
    rows : RiskSets
        What is left, on which the likelihood has a maximum.
    moves : ndarray of bool, shape (n_terms,)
        Terms that move along some direction without end.
    basis : ndarray of bool, shape (n_terms,)
        Terms that together span what is left; one that moves may stand for a difference that does not.
    """
    used = np.flatnonzero(terms)
    length = np.linalg.norm(rows.member_x[:, used], axis=0)
    moves, basis, followed = np.zeros(terms.size, bool), terms.copy(), False
    while rows.n_sets and used.size:
        x = rows.member_x[:, used]
        size = np.abs(x).max(axis=0)
        size[size == 0.0] = 1.0
        direction = rising(*differences(rows, x / size))
        if direction is None:
            break
        followed = True
        rows = rest(rows, x / size @ direction)
    if followed:
        spread = rows.spread()[:, used]
        moves[used] = in_null_space(spread, length)
        basis[used] = ~determined(spread, length)
    return rows, moves, basis
