"""The one table of comparisons: which settings are held against each other, and how runs fall into their levels.

A run counts in the level it was made in, so a belt whose idler was changed in mid-life counts in both. The three
planned comparisons share one adjustment for asking three questions; every other one is exploratory. A new comparison is
one entry of `COMPARISONS`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from drivekit.log.histories import RunTable

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["COMPARISONS", "TENSION_LEVELS", "Comparison", "Groups", "groups", "tension_cuts"]

TENSION_LEVELS = ("low", "middle", "high")


@dataclass(frozen=True, slots=True)
class Comparison:
    """One setting whose levels are compared.

    Parameters
    ----------
    name : str
        Its key in the findings.
    column : str
        The column of the run table that tells the level.
    levels : tuple of str
        Its levels in the order in which they are shown and differenced; empty: the values met, in increasing order.
    planned : bool
        One of the comparisons decided on before the season was seen; False: exploratory.
    said : str
        The setting in words.
    """

    name: str
    column: str
    levels: tuple[str, ...]
    planned: bool
    said: str


COMPARISONS = (
    Comparison("idler", "idler", ("smooth", "toothed"), True, "idler"),
    Comparison("tension", "tension_n", TENSION_LEVELS, True, "belt tension"),
    Comparison("edge_lube", "edge_lube", ("none", "install", "every-run"), True, "edge grease"),
    Comparison("idler_support", "idler_support", ("single", "three-point"), False, "idler support"),
    Comparison("compound", "compound", ("rubber", "urethane", "other"), False, "belt compound"),
    Comparison("width", "width_mm", (), False, "belt width"),
)


@dataclass(frozen=True, slots=True, eq=False)
class Groups:
    """How the runs of a table fall into the levels of one comparison.

    Parameters
    ----------
    levels : tuple of str
        The levels met, in order.
    code : ndarray of int, shape (n_runs,)
        Each run's place in `levels`; -1 where its column is blank.
    """

    levels: tuple[str, ...]
    code: NDArray[np.int64]

    @property
    def blank_runs(self) -> int:
        """Runs whose level is not known; they leave the comparison."""
        return int((self.code < 0).sum())


def tension_cuts(tension_n: NDArray[np.float64]) -> tuple[float, float] | None:
    """Cut the known tensions into thirds: the 1/3 and 2/3 quantiles, linear between order statistics.

    Parameters
    ----------
    tension_n : ndarray of float, shape (n_runs,)
        Static tension of each run in newtons; nan where it is not known.

    Returns
    -------
    tuple of float or None
        The two cuts in newtons; None when no tension is known.

    References
    ----------
    Hyndman and Fan, "Sample quantiles in statistical packages", The American Statistician 50 (1996): definition 7.
    """
    known = tension_n[~np.isnan(tension_n)]
    if not known.size:
        return None
    low, high = np.quantile(known, [1 / 3, 2 / 3])
    return float(low), float(high)


def groups(comparison: Comparison, table: RunTable, cuts_n: Sequence[float] | None) -> Groups | None:
    """Place every run of the table in its level.

    Parameters
    ----------
    comparison : Comparison
        The setting.
    table : RunTable
        The runs.
    cuts_n : sequence of two floats, or None
        The tensions in newtons at which low ends and at which middle ends; a run on a cut belongs below it. None: no
        tension is known.

    Returns
    -------
    Groups or None
        None when the log has no such column.
    """
    if comparison.column not in table:
        return None
    values = table[comparison.column]
    if comparison.name == "tension":
        blank = np.isnan(values)
        place = np.zeros(values.size, np.int64) if cuts_n is None else np.searchsorted(cuts_n, values, side="left")
        words: NDArray[np.object_] = np.array(TENSION_LEVELS, object)[np.where(blank, 0, place)]
        words[blank] = None
        return _met(words, comparison.levels)
    if not comparison.levels:
        return _met(*_numbers_in_words(values))
    return _met(values, comparison.levels)


def _met(words: NDArray[np.object_], order: Sequence[str]) -> Groups:
    """Keep the levels that some run was made in."""
    masks = {level: words == level for level in order}
    levels = tuple(level for level, mask in masks.items() if mask.any())
    code = np.full(words.size, -1, np.int64)
    for place, level in enumerate(levels):
        code[masks[level]] = place
    return Groups(levels, code)


def _numbers_in_words(values: NDArray[np.float64]) -> tuple[NDArray[np.object_], tuple[str, ...]]:
    """Name each number met, with its unit: widths are few, and each is a level."""
    words = np.array([None if np.isnan(value) else f"{value:g} mm" for value in values], object)
    return words, tuple(f"{value:g} mm" for value in np.unique(values[~np.isnan(values)]))
