"""The one idea: at each age, how many were at risk and how many failed, in each group.

One row is one run, so a belt is at risk at the age of every run it made and at no other. A belt that came with runs on
it simply has no rows for them, and one whose idler was swapped counts in the group it ran in.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["Bools", "Floats", "Fold", "Ints", "codes", "fold", "frozen", "marks"]

Bools = NDArray[np.bool_]
Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Fold:
    """Counts at each age at which anyone was at risk.

    Parameters
    ----------
    age : ndarray of int, shape (n_ages,)
        Those ages only, in order; an age that nobody ran at is absent.
    at_risk, failed_at : ndarray of int, shape (n_groups, n_ages)
        Runs made at that age in each group, and those of them that ended in a failure.
    """

    age: Ints
    at_risk: Ints
    failed_at: Ints


def fold(age: ArrayLike, failed: ArrayLike, group: ArrayLike, n_groups: int) -> Fold:
    """Count at risk and failed at each age, in each group.

    Parameters
    ----------
    age : array_like of int, shape (n_runs,)
        Age in runs of the belt on that run, 1 for the first.
    failed : array_like of bool, shape (n_runs,)
        Whether that run ended in a failure.
    group : array_like of int, shape (n_runs,)
        Code of the group it was made in, 0 to ``n_groups - 1``.
    n_groups : int
        How many groups there are, with or without runs.

    Raises
    ------
    ValueError
        If the arrays differ in length, are not whole numbers or marks, or a code is out of range.
    """
    ages, marked, groups = codes(age, "age", 1), marks(failed), codes(group, "group", 0, n_groups)
    if not ages.size == marked.size == groups.size:
        raise ValueError(f"one row is one run: {ages.size} ages, {marked.size} failed and {groups.size} groups differ")
    seen, at = np.unique(ages, return_inverse=True)
    cell, shape = groups * seen.size + at, (n_groups, seen.size)
    at_risk = np.bincount(cell, minlength=n_groups * seen.size).reshape(shape)
    failed_at = np.bincount(cell[marked], minlength=n_groups * seen.size).reshape(shape)
    return Fold(frozen(seen), frozen(at_risk), frozen(failed_at))


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


def marks(values: ArrayLike) -> Bools:
    """Check that these are true or false, one a run."""
    array = np.asarray(values)
    if array.ndim != 1 or (array.size and array.dtype != np.bool_):
        raise ValueError("failed must be one row of true and false")
    return array.astype(np.bool_)


def frozen(array: NDArray[Any]) -> NDArray[Any]:
    """Close an array to writing, so that a result stays what it was."""
    array.flags.writeable = False
    return array
