"""Who stood beside whom when something failed: the risk sets of a hazard fit, built once and then only read.

One row is one run, so at risk at age k within a stratum are exactly its rows of age k: no sum over ages is needed and
the cost is linear in the rows. A set in which nothing failed says nothing about the hazard ratios and is left out;
``rows`` still counts its rows. Late entry, settings that change and belts that end without failing need no more.

Ties are exact: all rows that failed at one age in one stratum are one set's failures. How a tie enters the likelihood
is for :mod:`drivekit.life.cox` and :mod:`drivekit.life.whole_runs` to say.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from drivekit.life.folds import Bools, Floats, Ints, frozen

__all__ = ["MANY_ROWS", "RiskSets"]

MANY_ROWS = 50_000
"""From so many rows on, those that nothing tells apart stand as one where the answer needs no single row."""


@dataclass(frozen=True, eq=False, slots=True)
class RiskSets:
    """The risk sets with a failure, in order of stratum and age.

    Attributes
    ----------
    rows, failed : int
        All rows given, and the failures among them.
    first : ndarray of int, shape (n_sets + 1,)
        Where each set begins in ``row``; its failures come first.
    n_failed, age, stratum : ndarray of int, shape (n_sets,)
        Failures, age in runs and stratum of each set.
    row, pattern : ndarray of int, shape (n_members,)
        Of each member of a set: its row as given, and its line in ``x``.
    x : ndarray of float, shape (n_patterns, n_terms)
        Covariates less ``centre`` of their stratum: a shift within a stratum changes no hazard ratio and keeps digits.
    moments : ndarray of float, shape (n_patterns, 1 + n_terms + n_terms (n_terms + 1) / 2)
        For each pattern 1, ``x``, and the products of ``x`` on and below the diagonal.
    unit : ndarray of int, shape (n_patterns,)
        Which unit's case weight a pattern carries, of the ``n_units`` there are.
    often : ndarray of int, shape (n_patterns,)
        How many rows stand where a pattern does: 1, unless they were gathered by `alike`.
    oldest : ndarray of bool, shape (n_sets,)
        Whether a set is the last of its stratum.
    shared_from, shared : ndarray of int, shapes (n_sets + 1,) and any
        For each set the patterns kept in it and in no older one that are in every younger set of their stratum, too:
        from the oldest set down, their sums can run on instead of being made anew.
    own_from, own : ndarray of int, shapes (n_sets + 1,) and any
        For each set the other patterns kept in it.
    """

    rows: int
    failed: int
    first: Ints
    n_failed: Ints
    age: Ints
    stratum: Ints
    row: Ints
    pattern: Ints
    x: Floats
    moments: Floats
    unit: Ints
    n_units: int
    often: Ints
    oldest: Bools
    shared_from: Ints
    shared: Ints
    own_from: Ints
    own: Ints

    @classmethod
    def of(
        cls, age: Ints, failed: Bools, x: Floats, stratum: Ints, unit: Ints | None = None, often: Ints | None = None
    ) -> RiskSets:
        """Build the risk sets of rows (age - 1, age].

        Parameters
        ----------
        age, failed : ndarray, shape (n,)
            Age in runs of each row, and whether the run ended in a failure.
        x : ndarray of float, shape (n, n_terms)
            Covariates as on that run.
        stratum : ndarray of int, shape (n,)
            Code of the stratum: rows of different strata are never compared.
        unit : ndarray of int, shape (n,), optional
            Code, from 0, of what carries a case weight, such as the belt; without it each row is its own unit.
        often : ndarray of int, shape (n,), optional
            How many such rows there are; by default one.

        Raises
        ------
        ValueError
            If shapes differ, a covariate is not a finite number, or a unit is below 0.
        """
        age, failed, stratum = np.asarray(age, np.int64), np.asarray(failed, bool), np.asarray(stratum, np.int64)
        x = np.asarray(x, np.float64)
        n = age.size
        if x.ndim != 2 or not n == x.shape[0] == failed.size == stratum.size:
            raise ValueError(f"age, failed, x and stratum must describe the same rows, not {age.shape}, "
                             f"{failed.shape}, {x.shape} and {stratum.shape}")  # fmt: skip
        if not np.isfinite(x).all():
            raise ValueError("every covariate must be a finite number: leave rows with a blank out first")
        units = np.arange(n) if unit is None else np.asarray(unit, np.int64)
        if units.size != n or (n and units.min() < 0):
            raise ValueError("unit must give each row a code of 0 or more")
        # one small whole number a row, which is sorted in a pass or two
        cell = (stratum - stratum.min(initial=0)) * (age.max(initial=0) + 1) + age
        place = 2 * cell + ~failed
        order = np.argsort(place.astype(np.min_scalar_type(place.max(initial=0))), kind="stable")
        begins = np.flatnonzero(np.diff(cell[order], prepend=-1))
        deaths = np.add.reduceat(failed[order].astype(np.int64), begins) if n else np.zeros(0, np.int64)
        telling = deaths > 0
        sizes = np.diff(np.append(begins, n))
        row, sizes = order[np.repeat(telling, sizes)], sizes[telling]
        one = order[begins[telling]]
        n_failed, age, stratum = deaths[telling], age[one], stratum[one]
        first = np.concatenate(([0], np.cumsum(sizes))).astype(np.int64)
        often = np.ones_like(row) if often is None else often[row]
        return cls(
            rows=n,
            failed=int(failed.sum()),
            first=frozen(first),
            n_failed=frozen(n_failed),
            age=frozen(age),
            stratum=frozen(stratum),
            row=frozen(row),
            n_units=int(units.max()) + 1 if n else 0,
            oldest=frozen(np.append(stratum[1:] != stratum[:-1], True) if stratum.size else np.zeros(0, bool)),
            **_patterns(x[row], units[row], first, n_failed, stratum, often),
        )

    @classmethod
    def alike(cls, age: Ints, failed: Bools, x: Floats, stratum: Ints, unit: Ints | None = None) -> RiskSets:
        """Build the risk sets of very many rows, those of one set that nothing tells apart gathered in one member.

        Parameters as in `of`, which has fewer rows. The likelihoods are the same but for rounding. A failure among the
        ``n_failed`` of a set then stands for several, and whoever asks after single rows or units wants those of `of`.
        """
        if age.size < MANY_ROWS:
            return cls.of(age, failed, x, stratum, unit)
        from pandas import factorize

        code, size = np.zeros(age.size, np.int64), 1
        for column in (stratum, age, failed, *x.T):
            of_column, met = factorize(column)
            if size * len(met) > 2**62:  # the numbers of combinations begin anew, without those that nobody met
                code, seen = factorize(code)
                size = len(seen)
            code, size = code * len(met) + of_column, size * len(met)
        code = factorize(code)[0]
        first = np.zeros(code.max() + 1, np.int64)
        first[code[::-1]] = np.arange(code.size)[::-1]
        sets = cls.of(age[first], failed[first], x[first], stratum[first], often=np.bincount(code))
        return replace(sets, rows=age.size, failed=int(failed.sum()), row=frozen(first[sets.row]))

    def carrying(self, x: Floats) -> RiskSets:
        """Give the same sets other covariates, as `of` takes them; all are finite."""
        of_member = self.unit[self.pattern], self.first, self.n_failed, self.stratum, self.often[self.pattern]
        return replace(self, **_patterns(x[self.row], *of_member))

    @property
    def folded(self) -> tuple[NDArray[Any], ...]:
        """What the compiled likelihood reads, in its order."""
        return (
            self.x, self.moments, self.oldest, self.first, self.n_failed, self.pattern,
            self.shared_from, self.shared, self.own_from, self.own, self.often,
        )  # fmt: skip

    @property
    def n_terms(self) -> int:
        """Number of covariates."""
        return int(self.x.shape[1])

    @property
    def n_sets(self) -> int:
        """Number of risk sets in which something failed."""
        return int(self.n_failed.size)

    @property
    def member_set(self) -> Ints:
        """Set of each member, shape (n_members,)."""
        return np.repeat(np.arange(self.n_sets), np.diff(self.first))

    @property
    def member_failed(self) -> Bools:
        """Whether each member failed in its set, shape (n_members,)."""
        place = np.arange(self.row.size) - np.repeat(self.first[:-1], np.diff(self.first))
        return np.asarray(place < np.repeat(self.n_failed, np.diff(self.first)))

    @property
    def sides(self) -> Iterator[tuple[slice, slice]]:
        """Where among the members each set's failures stand, and those kept."""
        for first, last, failed in zip(self.first[:-1], self.first[1:], self.n_failed, strict=True):
            yield slice(first, first + failed), slice(first + failed, last)

    @property
    def member_x(self) -> Floats:
        """Covariates of each member, centred by stratum, shape (n_members, n_terms)."""
        return self.x[self.pattern]

    def keeping(self, members: Bools) -> RiskSets:
        """Leave members out of their sets but those marked, shape (n_members,); a set left without a failure goes.

        ``rows`` and ``failed`` still count what was given at first.
        """
        of_set, pattern = self.member_set[members], self.pattern[members]
        by_row = self.age[of_set], self.member_failed[members], self.x[pattern], self.stratum[of_set]
        left = RiskSets.of(*by_row, self.unit[pattern], self.often[pattern])
        row = frozen(self.row[members][left.row])
        return replace(left, rows=self.rows, failed=self.failed, row=row, n_units=self.n_units)

    def spread(self) -> Floats:
        """Covariates of each member less their plain mean over its set, shape (n_members, n_terms).

        What is the same for all members of every set has a column of zeros here: no hazard ratio can be told for it.
        """
        sizes = np.diff(self.first)
        if not sizes.size:
            return np.zeros((0, self.n_terms))
        x = self.member_x
        means = np.add.reduceat(x, self.first[:-1], axis=0) / sizes[:, None]
        return np.asarray(x - np.repeat(means, sizes, axis=0))


def _patterns(x: Floats, unit: Ints, first: Ints, n_failed: Ints, stratum: Ints, often: Ints) -> dict[str, Any]:
    """Give what depends on the members' covariates, which are centred in place; see `drivekit.life._loops.patterns`."""
    from drivekit.life import _loops

    pattern, met, *running = _loops.patterns(x, unit, first, n_failed, stratum)
    own = x[met]
    parts = pattern, own, _loops.products(own), unit[met], often[met], *running
    names = "pattern", "x", "moments", "unit", "often", "shared_from", "shared", "own_from", "own"
    return {name: frozen(part) for name, part in zip(names, parts, strict=True)}
