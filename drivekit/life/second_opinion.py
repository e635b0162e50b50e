"""The same numbers by another hand: curves and hazard fits repeated with lifelines on the same rows.

A row (age - 1, age] is to lifelines a subject that enters at age - 1. Its Kaplan-Meier survival is then right, though
its own at-risk column is not, and is not looked at. Its hazard fit stops when a step is small: it is asked to go on to
smaller ones than it would by itself, and what difference remains is rounding in the last digits.

Nothing here can fail a study: where lifelines cannot answer, its own words are kept as the reason.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from drivekit.life.curve import Curve
from drivekit.life.folds import Bools, Floats, Ints

__all__ = ["Compared", "compare_cox", "compare_curve", "second_opinion"]

LIBRARY = "lifelines"


@dataclass(frozen=True, slots=True)
class Compared:
    """One result beside that of lifelines: what was repeated, in words, and the largest absolute difference.

    That is None exactly when `reason` says why, in its own words. What lifelines `warned` of meanwhile is shown nowhere
    else.
    """

    what: str
    largest_difference: float | None
    reason: str | None = None
    warned: tuple[str, ...] = ()


def compare_curve(what: str, age: Ints, failed: Bools, curve: Curve) -> Compared:
    """Repeat a survival curve on the rows it was fitted on; `what` says which, as ``survival curve, toothed``."""

    def survival() -> Floats:
        from lifelines import KaplanMeierFitter

        runs = np.bincount(2 * age + failed)
        ages, fell = np.divmod(np.flatnonzero(runs), 2)
        fit = KaplanMeierFitter().fit(ages, fell, entry=ages - 1, weights=runs[runs > 0])
        return np.asarray(fit.survival_function_at_times(curve.age), dtype=np.float64)

    return _compared(what, survival, curve.survival)


def compare_cox(
    what: str, age: Ints, failed: Bools, x: Floats, stratum: Ints, coef: Floats, terms: Sequence[str]
) -> Compared:
    """Repeat a hazard fit with Efron ties on the rows (age - 1, age] it was fitted on.

    Only the terms with a finite estimate are asked for, in `x`, shape (n_runs, n_terms), and `coef`; lifelines may say
    something of them by their names, `terms`.
    """

    def coefficients() -> Floats:
        from lifelines import CoxTimeVaryingFitter
        from pandas import DataFrame

        rows = DataFrame(np.asarray(x, dtype=np.float64), columns=list(terms))
        rows["start"], rows["stop"], rows["failed"], rows["stratum"] = age - 1, age, failed, stratum
        fit = CoxTimeVaryingFitter().fit(
            rows,
            event_col="failed",
            start_col="start",
            stop_col="stop",
            strata=["stratum"],
            fit_options={"precision": 1e-20},  # of half the squared step, in units of the standard error
        )
        return np.asarray(fit.params_, dtype=np.float64)

    return _compared(what, coefficients, coef)


def second_opinion(compared: Iterable[Compared]) -> dict[str, Any]:
    """Gather what was compared into one statement.

    ``library`` and its ``version``, what was ``compared``, the ``largest_difference`` over all of it, and what was
    ``left_out``, with why; or the ``reason`` why nothing was compared.
    """
    every = tuple(compared)
    answered = {one.what: one.largest_difference for one in every if one.largest_difference is not None}
    if not answered:
        reason = "; ".join(dict.fromkeys(one.reason for one in every if one.reason))
        return {"reason": reason or "there was nothing to repeat"}
    from importlib.metadata import version

    return {
        "library": LIBRARY,
        "version": version(LIBRARY),
        "compared": list(answered),
        "largest_difference": max(answered.values()),
        "left_out": [f"{one.what}: {one.reason}" for one in every if one.largest_difference is None],
    }


def _compared(what: str, theirs: Callable[[], Floats], ours: Floats) -> Compared:
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        try:
            answer, trouble = theirs(), None
        except Exception as error:  # whatever happens in there must not cost a person the study
            answer, trouble = None, error
    warned = tuple(dict.fromkeys(_first_line(one.message) for one in caught))
    # lifelines gives numbers even where its own steps did not come to rest, and says so in a warning only.
    restless = next((words for words in warned if words.startswith("Newton-Raphson")), None)
    if answer is None or restless:
        return Compared(what, None, f"{LIBRARY} gave no answer ({restless or _first_line(trouble)})", warned)
    largest = float(np.max(np.abs(answer - ours), initial=0.0)) if answer.shape == ours.shape else np.nan
    if not np.isfinite(largest):
        return Compared(what, None, f"{LIBRARY} gave no number for some of it", warned)
    return Compared(what, largest, None, warned)


def _first_line(trouble: object) -> str:
    words = str(trouble).strip()
    return words.splitlines()[0].strip() if words else type(trouble).__name__
