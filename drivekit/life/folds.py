"""The one idea: at each age, how many were at risk and how many failed, in each group.

One row is one run, so a belt is at risk at the age of every run it made and at no other. A belt that came with runs on
it simply has no rows for them, and one whose idler was swapped counts in the group it ran in.
"""

from __future__ import annotations

from dataclasses import dataclass
from statistics import NormalDist
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "ENOUGH_AT_RISK",
    "Bools",
    "Estimate",
    "Floats",
    "Ints",
    "codes",
    "common_horizon",
    "fold",
    "frozen",
    "percentiles",
    "renumbered",
    "two_sided_z",
]

ENOUGH_AT_RISK = 5

Bools = NDArray[np.bool_]
Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Estimate:
    """One number with its limits, or why it cannot be told.

    Parameters
    ----------
    estimate, lower, upper, se : float or None
        In the unit of what was asked; what that answer does not give, or what has no end, is None.
    reason : str or None
        In plain words, where a number that was asked for is None.
    """

    estimate: float | None = None
    lower: float | None = None
    upper: float | None = None
    se: float | None = None
    reason: str | None = None


def fold(age: ArrayLike, failed: ArrayLike, group: ArrayLike, n_groups: int) -> tuple[Ints, Ints, Ints]:
    """Count at risk and failed at each age, in each group.

    Parameters
    ----------
    age, failed, group : array_like, shape (n_runs,)
        Age in runs of the belt on that run, 1 for the first; whether it ended in a failure; and code of the group it
        was made in, 0 to ``n_groups - 1``.
    n_groups : int
        How many groups there are, with or without runs.

    Returns
    -------
    age : ndarray of int, shape (n_ages,)
        Those ages only at which anyone was at risk, in order.
    at_risk, failed_at : ndarray of int, shape (n_groups, n_ages)
        Runs made at that age in each group, and those of them that ended in a failure.

    Raises
    ------
    ValueError
        If the arrays differ in length, are not whole numbers or marks, or a code is out of range.
    """
    ages, groups, marked = codes(age, "age", 1), codes(group, "group", 0, n_groups), np.asarray(failed)
    if marked.ndim != 1 or (marked.size and marked.dtype != np.bool_):
        raise ValueError("failed must be one row of true and false")
    if not ages.size == marked.size == groups.size:
        raise ValueError(f"one row is one run: {ages.size} ages, {marked.size} failed and {groups.size} groups differ")
    seen, at = renumbered(ages)
    cell, shape = groups * seen.size + at, (n_groups, seen.size)
    at_risk = np.bincount(cell, minlength=n_groups * seen.size).reshape(shape)
    failed_at = np.bincount(cell[marked.astype(np.bool_)], minlength=n_groups * seen.size).reshape(shape)
    return frozen(seen), frozen(at_risk), frozen(failed_at)


def codes(values: ArrayLike, name: str, least: int, n_codes: int | None = None) -> Ints:
    """Check that these are whole numbers from `least` on (and below `n_codes`), and give them as integers."""
    array = np.asarray(values)
    if array.ndim != 1 or (array.size and not np.issubdtype(array.dtype, np.integer)):
        raise ValueError(f"{name} must be one row of whole numbers")
    whole = array.astype(np.int64)
    if whole.size and whole.min() < least:
        raise ValueError(f"{name} {whole.min()} is below {least}")
    if n_codes is not None and whole.size and whole.max() >= n_codes:
        raise ValueError(f"{name} {whole.max()} is above the last code, {n_codes - 1}")
    return whole


def renumbered(values: Ints) -> tuple[Ints, Ints]:
    """Give the different whole numbers from 0 on among these, in order, and the place of each among them."""
    highest = int(values.max(initial=0))
    if highest > 2 * values.size + 1_000:
        seen, at = np.unique(values, return_inverse=True)
        return seen, at
    there = np.bincount(values, minlength=highest + 1) > 0
    return np.flatnonzero(there), (np.cumsum(there) - 1)[values]


def common_horizon(age: ArrayLike, group: ArrayLike, n_groups: int, least: int = ENOUGH_AT_RISK) -> int | None:
    """Find the largest age at which every group still has at least `least` runs; smaller ages need not have them."""
    ages, at_risk, _ = fold(age, np.zeros(np.size(age), np.bool_), group, n_groups)
    enough = ages[(at_risk >= least).all(axis=0)]
    return int(enough[-1]) if enough.size and n_groups else None


def two_sided_z(confidence: float) -> float:
    """Give the normal quantile that leaves half of 1 - `confidence` on each side."""
    if not 0 < confidence < 1:
        raise ValueError(f"a confidence lies between 0 and 1, not at {confidence}")
    return -NormalDist().inv_cdf((1 - confidence) / 2)


def percentiles(draws: Floats, confidence: float) -> tuple[Floats, Floats]:
    """Give the limits that leave half of 1 - `confidence` of the draws, the first axis, on each side.

    With 999 draws and 95 % these are the 25th and the 975th in order.
    """
    tail = (1 - confidence) / 2
    lower, upper = np.quantile(draws, [tail, 1 - tail], axis=0, method="weibull")
    return np.asarray(lower), np.asarray(upper)


def frozen(array: NDArray[Any]) -> NDArray[Any]:
    """Close an array to writing, so that a result stays what it was."""
    array.flags.writeable = False
    return array
