"""The hazard study: every setting at once, what to believe of it, and how the answer moves when the method does.

Estimand: the ratio of hazards of failing on a run between two settings, at the same age on the same car, the other
settings alike (:mod:`drivekit.life.cox`, Efron ties, strata left free). Beside each ratio stand its profile limits and
ratio test, the errors clustered by belt, the test of drift with age, and five other fits: Breslow ties, exact ties,
Firth's penalty, the grouped binomial model, and precautionary retirements counted as failures.

A factor is coded by one column for each level but the first; a line is its own column. Runs with a setting left blank
leave; a setting that no run has written leaves instead, and costs no run. A number that cannot be had is None, and its
entry says why, in the names of the log.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from drivekit.life.cox import CoxFit, fit
from drivekit.life.firth import firth
from drivekit.life.folds import Bools, Floats, Ints, frozen, renumbered
from drivekit.life.profile import profile
from drivekit.life.riskset import MANY_ROWS, RiskSets
from drivekit.life.separation import DETERMINED, MOVES, Estimates
from drivekit.life.steps import drift, robust
from drivekit.life.whole_runs import exact, grouped

__all__ = ["Design", "Factor", "HazardStudy", "Line", "Term", "coded", "hazard_study", "reasons", "refusal"]

# Below this many failures a term the plain likelihood is known to mislead, and Firth's answer leads.
LEAST_FAILURES_PER_TERM = 5


@dataclass(frozen=True, eq=False, slots=True)
class Factor:
    """A setting with levels, each compared with the first.

    ``name`` is as in the findings (``edge_lube``), ``label`` in words (``edge grease``); the reference is the first of
    ``levels``. ``value``, shape (n,), is the level on each run, None where blank; None as a whole where the log has no
    such column.
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
    """A setting that is a number, nan where blank, its effect a straight line in the log hazard; else as `Factor`."""

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

    ``used``, shape (n,), marks the runs with every setting written; ``x``, shape (n_used, n_columns), has a column for
    each of the ``names``; ``untold`` says why a term has no number, whatever the fit says.
    """

    used: Bools
    x: Floats
    names: tuple[str, ...]
    untold: Mapping[str, str]


def coded(n: int, settings: Sequence[Factor | Line]) -> Design:
    """Code the settings of `n` runs."""
    untold: dict[str, str] = {}
    known: list[tuple[Factor | Line, NDArray[Any]]] = []
    used = np.ones(n, bool)
    for setting in settings:
        value, why = setting.value, f"the log does not record {setting.label}"
        if value is not None:
            blank = ~np.isfinite(value) if isinstance(setting, Line) else np.array([one is None for one in value], bool)
            if not n or not blank.all():
                known.append((setting, value))
                used &= ~blank
                continue
            why = f"no run has {setting.label} written"
        untold |= dict.fromkeys(setting.terms, why)
    columns: dict[str, Floats] = {}
    for setting, value in known:
        here = value[used]
        if isinstance(setting, Line):
            columns[setting.name] = np.asarray(here, np.float64)
            continue
        reference, *levels = setting.levels
        present = set(here)
        for level, name in zip(levels, setting.terms, strict=True):
            columns[name] = np.asarray(here == level, np.float64)
            if level not in present:
                untold[name] = f"no run compared here had {setting.label} {level}"
            elif reference not in present:
                untold[name] = f"no run compared here had {setting.label} {reference} to compare with"
    x = np.column_stack(list(columns.values())) if columns else np.zeros((int(used.sum()), 0))
    return Design(frozen(used), x, tuple(columns), untold)


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
            along = " and ".join(design.names[a] for a in _partners(sets.spread(), column))
            return f"it cannot be told apart from {along}: they changed together, and the number there stands for both"
        return plain

    return why


def _partners(spread: Floats, column: int) -> list[int]:
    """Earlier columns that make up a determined one."""
    size = np.linalg.norm(spread, axis=0)
    earlier = [a for a in range(column) if size[a] > 0]
    share = np.linalg.lstsq(spread[:, earlier] / size[earlier], spread[:, column] / size[column], rcond=None)[0]
    return [a for a, part in zip(earlier, share, strict=True) if abs(part) > 1e-6]


@dataclass(frozen=True, slots=True)
class Term:
    """What a fit or a test says of one term.

    What it does not give is None, and so is what cannot be had; ``reason`` says why. ``lower`` and ``upper`` are limits
    of ``hr`` in the headline fit, of ``coef`` in the others; ``chi2`` has one degree of freedom.
    """

    coef: float | None = None
    se: float | None = None
    robust_se: float | None = None
    hr: float | None = None
    lower: float | None = None
    upper: float | None = None
    chi2: float | None = None
    p: float | None = None
    reason: str | None = None

    @property
    def robust_differs(self) -> bool:
        """Whether the errors clustered by belt differ from the others by more than a quarter."""
        return bool(self.se and self.robust_se and abs(self.robust_se / self.se - 1) > 0.25)


@dataclass(frozen=True, eq=False, slots=True)
class HazardStudy:
    """The whole hazard study.

    Attributes
    ----------
    rows, rows_lost, failed : int
        Runs with every term known, runs left out for a blank, and failures among the first.
    used : ndarray of bool, shape (n,)
        Which of the runs given are the rows.
    names : tuple of str
        Terms of the columns of ``fitted``; a term whose column is absent is none of them.
    belt : ndarray of int, shape (rows,)
        Belt of each row, as :mod:`drivekit.life.steps` has it.
    reason : str or None
        Why there is no study at all; then all that follows is empty.
    terms, ph_test : mapping of str to Term
        The headline fit, and the score test of drift with age.
    sensitivity : mapping of str to mapping of str to Term, or to str
        ``breslow``, ``exact``, ``firth``, ``cloglog``, ``precaution_as_failure``: what that fit says of each term, or
        why the whole fit cannot be had.
    fitted : CoxFit or None
        The headline fit, whose risk sets have the belt as unit.
    """

    rows: int
    rows_lost: int
    failed: int
    used: Bools
    names: tuple[str, ...]
    belt: Ints
    reason: str | None = None
    terms: Mapping[str, Term] = field(default_factory=dict)
    ph_test: Mapping[str, Term] = field(default_factory=dict)
    sensitivity: Mapping[str, Mapping[str, Term] | str] = field(default_factory=dict)
    failures_per_term: float | None = None
    fitted: CoxFit | None = None

    @property
    def firth_leads(self) -> bool:
        """Whether the penalised answer should be put first: too few failures a term for the plain one."""
        return self.failures_per_term is not None and self.failures_per_term < LEAST_FAILURES_PER_TERM


def hazard_study(
    age: Ints,
    failed: Bools,
    belt: Ints,
    stratum: Ints,
    settings: Sequence[Factor | Line],
    *,
    precaution: Bools,
    confidence: float = 0.95,
) -> HazardStudy:
    """Study all settings together.

    Parameters
    ----------
    age, failed : ndarray, shape (n,)
        Age in runs of each run, and whether it ended in a failure.
    belt, stratum : ndarray of int, shape (n,)
        Codes from 0 of the belt, which clusters the runs, and of the car, whose hazard is left free.
    settings : sequence of Factor or Line
        In the order in which a later one is called determined by earlier ones.
    precaution : ndarray of bool, shape (n,)
        Runs after which the belt was retired as a precaution.
    confidence : float
        Of the profile limits.
    """
    design = coded(age.size, settings)
    used = design.used
    age, failed, stratum = age[used], failed[used], stratum[used]
    belt = renumbered(belt[used])[1]
    counts = age.size, used.size - age.size, int(failed.sum()), used, design.names, frozen(belt)
    reason = refusal(design, failed)
    if reason is not None:
        return HazardStudy(*counts, reason)
    sets = RiskSets.of(age, failed, design.x, stratum, belt)
    gathered = sets if age.size < MANY_ROWS else RiskSets.alike(age, failed, design.x, stratum)
    try:
        fitted = fit(sets)
        profiled = fitted if gathered is sets else fit(gathered)
    except ArithmeticError as unsettled:
        return HazardStudy(*counts, str(unsettled))
    why = reasons(settings, design, sets, failed)

    def each(
        said: Callable[[int], Term], missing: Sequence[str | None], why: Callable[[str, str], str] = why
    ) -> Mapping[str, Term]:
        """Give what is said of each term by its column, or why there is nothing to say."""
        found = {name: Term(reason=design.untold.get(name)) for setting in settings for name in setting.terms}
        for column, (name, plain) in enumerate(zip(design.names, missing, strict=True)):
            if found[name].reason is None:
                found[name] = said(column) if plain is None else Term(reason=why(name, plain))
        return found

    clustered, _ = robust(fitted, belt)

    def ratio(column: int) -> Term:
        between = profile(profiled, column, confidence)
        return Term(
            coef=float(fitted.coef[column]),
            se=float(fitted.se[column]),
            robust_se=float(clustered[column]),
            hr=float(np.exp(fitted.coef[column])),
            lower=_ended(np.exp(between.lower)),
            upper=_ended(np.exp(between.upper)),
            p=between.p,
        )

    chi2, p, no_test = drift(fitted)

    def other(made: Callable[[], CoxFit | Estimates], why: Callable[[str, str], str] = why) -> Mapping[str, Term] | str:
        try:
            found = made()
        except ArithmeticError as unsettled:  # one fit that does not settle leaves the others standing
            return str(unsettled)
        shared = found.reasons[0]
        if shared is not None and len({*found.reasons}) == 1 and sum(len(setting.terms) for setting in settings) > 1:
            return shared
        limits = [getattr(found, key, None) for key in ("lower", "upper", "p")]

        def effect(column: int) -> Term:
            lower, upper, p = (None if values is None else _ended(values[column]) for values in limits)
            return Term(float(found.coef[column]), float(found.se[column]), lower=lower, upper=upper, p=p)

        return each(effect, found.reasons, why)

    worse = failed | precaution[used]
    worse_sets = RiskSets.alike(age, worse, design.x, stratum, belt)
    return HazardStudy(
        *counts,
        terms=each(ratio, fitted.reasons),
        ph_test=each(lambda column: Term(chi2=float(chi2[column]), p=float(p[column])), no_test),
        sensitivity={
            "breslow": other(lambda: fit(gathered, "breslow")),
            "exact": other(lambda: exact(sets)),
            "firth": other(lambda: firth(gathered, confidence=confidence)),
            "cloglog": other(lambda: grouped(age, failed, design.x, stratum)),
            "precaution_as_failure": other(lambda: fit(worse_sets), reasons(settings, design, worse_sets, worse)),
        },
        failures_per_term=int(failed.sum()) / len(design.names),
        fitted=fitted,
    )


def _ended(value: float) -> float | None:
    """None for what has no end."""
    return float(value) if np.isfinite(value) else None
