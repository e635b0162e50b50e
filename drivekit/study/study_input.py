"""What is asked of a season: the person's choices, and the run table together with them.

Every block of the findings is made from one `StudyInput`; so is every redraw of a workbook.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from drivekit.life.curve import Curve, curve
from drivekit.life.folds import Bools, Ints, common_horizon
from drivekit.log.columns import CAUSES, FAILURES
from drivekit.log.season import RunTable
from drivekit.study.comparisons import COMPARISONS, Comparison

__all__ = ["MOST_CONFIDENCE", "MOST_COST", "Groups", "Settings", "StudyInput"]

Groups = tuple[tuple[str, ...], Ints]
"""The levels of a comparison that runs met, in order, and each run's place among them, -1 where blank."""

MOST_CONFIDENCE = 0.999999
"""Limits surer than this have no digits left to tell them from no limit at all."""

MOST_COST = 1e12


@dataclass(frozen=True, slots=True)
class Settings:
    """What the person may choose.

    Parameters
    ----------
    failures : sequence of str
        The causes that count as the belt's failure; ``unknown`` counts only when the belt broke.
    horizon : int or None
        The number of runs to which mean lives are taken; None: the largest age at which every idler level has 5 runs.
    tension_cuts : tuple of two floats, or None
        Tensions in newtons at which low and middle end; None: thirds of the runs.
    confidence : float
        Of every interval.
    seed : int
        Of everything drawn at random.
    costs : tuple of two or three floats
        Of a planned change, of a failure, and of one that loses a round of eliminations, in any one unit.
    risk : float
        Share of belts that may fail before they are changed.
    runs : int or None
        Runs for which belts are to be had; None: as many as the log has.

    Raises
    ------
    ValueError
        When a value cannot be used; the message is one plain sentence.
    """

    failures: Sequence[str] = FAILURES
    horizon: int | None = None
    tension_cuts: tuple[float, float] | None = None
    confidence: float = 0.95
    seed: int = 1
    costs: tuple[float, ...] = (1.0, 8.0)
    risk: float = 0.1
    runs: int | None = None

    def __post_init__(self) -> None:
        if not self.failures:
            raise ValueError("no cause counts as a failure; name at least one")
        for cause in self.failures:
            if cause not in CAUSES:
                raise ValueError(f'"{cause}" is no cause; the causes are {", ".join(CAUSES)}')
        if self.horizon is not None and self.horizon < 1:
            raise ValueError(f"a horizon of {self.horizon} runs cannot be used; it must be 1 or more")
        if self.tension_cuts is not None and not 0 < self.tension_cuts[0] < self.tension_cuts[1]:
            low, high = self.tension_cuts
            raise ValueError(
                f"tension cuts {low:g} and {high:g} cannot be used; the first must be above 0 and below the second"
            )
        if not 0 < self.confidence <= MOST_CONFIDENCE:
            raise ValueError(
                f"a confidence of {self.confidence:.17g} cannot be used; it must be above 0 and at most "
                f"{MOST_CONFIDENCE}, as 0.95 is"
            )
        if self.seed < 0:
            raise ValueError(f"a seed of {self.seed} cannot be used; it must be a whole number, 0 or more")
        if len(self.costs) not in (2, 3) or not all(0 < cost <= MOST_COST for cost in self.costs):
            costs = " and ".join(f"{cost:g}" for cost in self.costs)
            raise ValueError(f"costs {costs} cannot be used; give two or three above 0, as 1 and 8 are")
        if not 0 < self.risk < 1:
            raise ValueError(f"a risk of {self.risk:g} cannot be used; it must be between 0 and 1, as 0.1 is")
        if self.runs is not None and self.runs < 1:
            raise ValueError(f"{self.runs} runs cannot be used; it must be 1 or more")


@dataclass(frozen=True)
class StudyInput:
    """A run table together with the settings it is asked under: what every block of the findings is made from.

    Its runs are those of the belts whose age is known; the first of the comparisons is the idler. Where `thirds_n` are
    given, another season's, they part tensions that the settings do not, in place of the log's own.
    """

    table: RunTable
    settings: Settings = field(default_factory=Settings)
    comparisons: tuple[Comparison, ...] = COMPARISONS
    thirds_n: tuple[float, float] | None = None
    _grouped: dict[object, Groups] = field(default_factory=dict, init=False, repr=False, compare=False)

    @property
    def planned(self) -> dict[str, Comparison]:
        """The comparisons decided on before the season was seen, by their names."""
        return {one.name: one for one in self.comparisons if one.planned}

    def lacks(self, *columns: str) -> str:
        """Say which of some columns the log has not; empty where it has all."""
        return next((f"the log has no {column} column" for column in columns if column not in self.table), "")

    @cached_property
    def failed(self) -> Bools:
        """Whether each run ended in a failure of its belt."""
        words, code = self.table.coded("cause")
        failed: Bools = (self.table["fate"] == "broke") | (self.table["cause"] != "unknown")
        failed &= np.append(np.isin(words, self.settings.failures), False)[code]
        return failed

    @cached_property
    def cause(self) -> Ints:
        """The place, among the causes that count, of the failure each run ended in, -1 where it ended in none."""
        words, code = self.table.coded("cause")
        place = {name: place for place, name in enumerate(self.settings.failures)}
        return np.where(self.failed, np.array([*(place.get(word, -1) for word in words), -1])[code], -1)

    @cached_property
    def belt(self) -> Ints:
        """A number for each run's belt, the same on all its runs: belts count from 0 in the order first run.

        So what is drawn at random over belts, and the last digit of every sum over them, knows nothing of their names.
        """
        from pandas import factorize

        return factorize(self.table["belt"])[0].astype(np.int64)

    @cached_property
    def tension_cuts(self) -> tuple[float, float] | None:
        """Tensions in newtons at which low and middle end: those chosen, else thirds; None where none is known.

        Thirds are the 1/3 and 2/3 quantiles of the known tensions, linear between order statistics: definition 7 of
        Hyndman and Fan, "Sample quantiles in statistical packages", The American Statistician 50 (1996).
        """
        given = self.settings.tension_cuts or self.thirds_n
        if given is not None or "tension_n" not in self.table:
            return given
        tension_n = self.table["tension_n"]
        known = tension_n[~np.isnan(tension_n)]
        if not known.size:
            return None
        low, high = np.quantile(known, [1 / 3, 2 / 3])
        return float(low), float(high)

    @cached_property
    def horizon(self) -> int | None:
        """The horizon chosen, else the largest age at which every idler level still has 5 runs."""
        if self.settings.horizon is not None or not len(self.table):
            return self.settings.horizon
        levels, code = self.idler
        return common_horizon(self.table["age"], code, len(levels))

    @property
    def idler(self) -> Groups:
        """The levels of the idler, and the level of each run."""
        found = self.groups(self.comparisons[0])
        assert found is not None  # the log cannot be without its idler column
        return found

    @cached_property
    def run_before(self) -> Ints:
        """The row of each run's belt's run before, -1 for its first in the log."""
        order = np.argsort(self.belt, kind="stable")
        before, of = np.full(order.size, -1), self.belt[order]
        before[order[1:]] = np.where(of[1:] == of[:-1], order[:-1], -1)
        return before

    def groups(self, comparison: Comparison) -> Groups | None:
        """Give the levels of a comparison and the level of each run, shape (n_runs,); None when the log has no column.

        A tension on a cut belongs below it.
        """
        if comparison.column not in self.table:
            return None
        key = comparison.column, comparison.levels
        if key not in self._grouped:
            self._grouped[key] = self._groups(comparison)
        return self._grouped[key]

    def _groups(self, comparison: Comparison) -> Groups:
        values, order = self.table[comparison.column], comparison.levels
        if comparison.number:
            at = np.searchsorted(self.tension_cuts or (), np.nan_to_num(values), side="left")
            at[np.isnan(values)] = -1
        elif order:
            words, code = self.table.coded(comparison.column)
            at = np.array([*(order.index(word) if word in order else -1 for word in words), -1])[code]
        else:
            # Widths are few, and each is a level, named with its unit.
            met = np.unique(values[~np.isnan(values)])
            names = [f"{value:g} mm" for value in met]
            order = tuple(dict.fromkeys(names))
            at = np.array([*map(order.index, names), -1])[np.where(np.isnan(values), -1, np.searchsorted(met, values))]
        some = np.bincount(at + 1, minlength=len(order) + 1)[1:] > 0
        code = np.append(np.cumsum(some) - 1, -1)[at].astype(np.int64)
        code.flags.writeable = False
        return tuple(level for level, here in zip(order, some, strict=True) if here), code

    def rows(self, comparison: Comparison) -> dict[str, Bools]:
        """Mark the runs made at each level that runs met, in order, shape (n_runs,); none without its column."""
        levels, code = self.groups(comparison) or ((), np.empty(0))
        return {level: code == place for place, level in enumerate(levels)}

    def curve(self, rows: Bools | None = None) -> Curve:
        """Fit the survival curve of the runs that are marked, shape (n_runs,), by default of all."""
        at = slice(None) if rows is None else rows
        return curve(self.table["age"][at], self.failed[at], self.belt[at], confidence=self.settings.confidence)

    def curves(self, comparison: Comparison) -> dict[str, Curve]:
        """Fit the survival curve of each level that runs met, in order."""
        return {level: self.curve(rows) for level, rows in self.rows(comparison).items()}
