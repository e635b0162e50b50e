"""The hazard study of what is asked, made once and shared by every block that stands on it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from drivekit.study.comparisons import COMPARISONS, Comparison
from drivekit.study.study_input import StudyInput

if TYPE_CHECKING:
    from drivekit.life.hazard_study import Design, Factor, HazardStudy, Line

__all__ = ["N_PER_KN", "TENSION", "HazardInput", "Rows", "compared"]

N_PER_KN = 1000
TENSION = "tension_kn"


@dataclass(frozen=True)
class HazardInput:
    """The hazard study of what is asked, and the rows and columns it stands on.

    Parameters
    ----------
    asked : StudyInput
        The runs, and what is asked of them.
    names : tuple of str
        Settings that are in the model, in the order of their terms.
    by_car : bool
        Whether each car keeps a hazard of its own.
    """

    asked: StudyInput
    names: tuple[str, ...] = ("idler", TENSION, "edge_lube")
    by_car: bool = True

    @cached_property
    def study(self) -> HazardStudy:
        """The study of all settings together."""
        from drivekit.life.hazard_study import hazard_study

        table = self.asked.table
        return hazard_study(
            table["age"],
            self.asked.failed,
            self.asked.belt,
            self.car,
            self.settings,
            precaution=table["cause"] == "precaution",
            confidence=self.asked.settings.confidence,
        )

    @cached_property
    def settings(self) -> list[Factor | Line]:
        """The settings of the model, in the order of their terms."""
        from drivekit.life.hazard_study import Factor, Line

        table = self.asked.table

        def one(name: str) -> Factor | Line:
            if name == TENSION:
                tension_kn = table["tension_n"] / N_PER_KN if "tension_n" in table else None
                return Line(TENSION, compared("tension").said, tension_kn)
            comparison = compared(name)
            return Factor(name, comparison.said, comparison.levels, table.values.get(name))

        return [one(name) for name in self.names]

    @cached_property
    def car(self) -> NDArray[np.int64]:
        """A number for each run's car; 0 for all where cars share one hazard."""
        cars = np.unique(self.asked.table["car"].astype(str), return_inverse=True)[1].astype(np.int64)
        return cars if self.by_car else np.zeros_like(cars)

    @cached_property
    def design(self) -> Design:
        """The settings as columns."""
        from drivekit.life.hazard_study import coded

        return coded(len(self.asked.table), self.settings)

    @cached_property
    def rows(self) -> Rows:
        """The runs with every term known."""
        table, design = self.asked.table, self.design
        used = design.used
        belt = np.unique(self.asked.belt[used], return_inverse=True)[1]
        return Rows(table["age"][used], self.asked.failed[used], design.x, self.car[used], belt, design.names)

    @property
    def reason(self) -> str | None:
        """Why there is nothing to fit, or None."""
        from drivekit.life.hazard_study import refusal

        return refusal(self.design, self.rows.failed)


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """The rows of the hazard fit: age, whether failed, covariates, stratum, belt, and the names of the covariates."""

    age: NDArray[np.int64]
    failed: NDArray[np.bool_]
    x: NDArray[np.float64]
    stratum: NDArray[np.int64]
    belt: NDArray[np.int64]
    names: tuple[str, ...]


def compared(name: str) -> Comparison:
    """Find a setting in the table of comparisons."""
    return next(comparison for comparison in COMPARISONS if comparison.name == name)
