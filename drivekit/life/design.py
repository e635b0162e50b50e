"""The settings of a hazard fit as columns of numbers, and why a term has none, in the names of the log.

A factor is coded by one column for each level but the first; a line is its own column. Runs with a setting left blank
leave; a setting that no run has written leaves instead, and costs no run.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from drivekit.life.riskset import Bools, Floats, RiskSets, frozen
from drivekit.life.separation import DETERMINED, MOVES

__all__ = ["Design", "Factor", "Line", "coded", "reasons", "refusal"]


@dataclass(frozen=True, eq=False, slots=True)
class Factor:
    """A setting with levels, each compared with the first.

    Attributes
    ----------
    name, label : str
        As in the findings (``edge_lube``) and in words (``edge grease``).
    levels : tuple of str
        The reference first.
    value : ndarray of object, shape (n,), or None
        The level on each run, None where blank; None as a whole where the log has no such column.
    """

    name: str
    label: str
    levels: tuple[str, ...]
    value: NDArray[Any] | None

    @property
    def terms(self) -> tuple[str, ...]:
        """One term for each level but the reference."""
        return tuple(f"{self.name}[{level}]" for level in self.levels[1:])


@dataclass(frozen=True, eq=False, slots=True)
class Line:
    """A setting that is a number, its effect a straight line in the log hazard.

    Attributes
    ----------
    name, label : str
    value : ndarray of float, shape (n,), or None
        nan where blank; None where the log has no such column.
    """

    name: str
    label: str
    value: Floats | None

    @property
    def terms(self) -> tuple[str, ...]:
        """The one term."""
        return (self.name,)


@dataclass(frozen=True, eq=False, slots=True)
class Design:
    """Columns of the terms on the rows used, and the terms that have none or compare with nothing.

    Attributes
    ----------
    used : ndarray of bool, shape (n,)
        Runs with every setting written.
    x : ndarray of float, shape (n_used, n_columns)
    names : tuple of str
        Terms of the columns.
    untold : mapping of str to str
        Why a term has no number, whatever the fit says.
    """

    used: Bools
    x: Floats
    names: tuple[str, ...]
    untold: Mapping[str, str]


def coded(n: int, settings: Sequence[Factor | Line]) -> Design:
    """Code the settings of `n` runs."""
    untold: dict[str, str] = {}
    known: list[tuple[Factor | Line, Bools]] = []
    used = np.ones(n, bool)
    for setting in settings:
        if setting.value is None:
            untold |= dict.fromkeys(setting.terms, f"the log does not record {setting.label}")
            continue
        if isinstance(setting, Line):
            written = np.isfinite(setting.value)
        else:
            written = np.array([level is not None for level in setting.value], bool)
        if n and not written.any():
            untold |= dict.fromkeys(setting.terms, f"no run has {setting.label} written")
            continue
        known.append((setting, written))
        used &= written
    columns: list[Floats] = []
    names: list[str] = []
    for setting, _ in known:
        value = setting.value
        assert value is not None
        if isinstance(setting, Line):
            columns.append(np.asarray(value[used], np.float64))
            names.append(setting.name)
            continue
        reference = setting.levels[0]
        present = set(value[used])
        for level, name in zip(setting.levels[1:], setting.terms, strict=True):
            columns.append(np.asarray(value[used] == level, np.float64))
            names.append(name)
            if level not in present:
                untold[name] = f"no run compared here had {setting.label} {level}"
            elif reference not in present:
                untold[name] = f"no run compared here had {setting.label} {reference} to compare with"
    x = np.column_stack(columns) if columns else np.zeros((int(used.sum()), 0))
    return Design(frozen(used), x, tuple(names), untold)


def refusal(design: Design, failed: Bools) -> str | None:
    """Say why there is nothing to fit, if so; `failed` is of the rows used."""
    if not design.names:
        return "the log has none of the settings that the study compares"
    if not failed.size:
        return "no run has every setting written"
    return None if failed.any() else "nothing failed in the runs that have every setting written"


def reasons(
    settings: Sequence[Factor | Line], design: Design, sets: RiskSets, failed: Bools
) -> Callable[[str, str], str]:
    """Say a fit's reason in the names of this log: which level never failed, which other term goes along."""

    def why(name: str, plain: str) -> str:
        column = design.names.index(name)
        if plain == MOVES:
            for setting in settings:
                if name in setting.terms and isinstance(setting, Factor):
                    level = setting.levels[1 + setting.terms.index(name)]
                    if not (failed & (design.x[:, column] > 0)).any():
                        return f"no run with {setting.label} {level} ended in a failure"
                    others = [design.names.index(other) for other in setting.terms]
                    if not (failed & (design.x[:, others] == 0).all(axis=1)).any():
                        return f"no run with {setting.label} {setting.levels[0]} ended in a failure to compare with"
        if plain == DETERMINED:
            partners = _partners(sets.spread(), column)
            along = " and ".join(design.names[a] for a in partners)
            return f"it cannot be told apart from {along}: they changed together, and the number there stands for both"
        return plain

    return why


def _partners(spread: Floats, column: int) -> list[int]:
    """Earlier columns that make up a determined one."""
    size = np.linalg.norm(spread, axis=0)
    earlier = [a for a in range(column) if size[a] > 0]
    share = np.linalg.lstsq(spread[:, earlier] / size[earlier], spread[:, column] / size[column], rcond=None)[0]
    return [a for a, part in zip(earlier, share, strict=True) if abs(part) > 1e-6]
