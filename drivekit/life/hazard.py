"""The hazard study: every setting at once, what to believe of it, and how the answer moves when the method does.

Estimand: the ratio of hazards of failing on a run between two settings, at the same age on the same car, the other
settings alike (:mod:`drivekit.life.cox`, Efron ties, strata left free). Beside each ratio stand its profile limits and
ratio test, the errors clustered by belt, the test of drift with age, and five other fits: Breslow ties, exact ties,
Firth's penalty, the grouped binomial model, and precautionary retirements counted as failures.

A number that cannot be had is None, and its entry says why in words.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np

from drivekit.life.cox import CoxFit, Ties, fit
from drivekit.life.design import Factor, Line, coded, reasons, refusal
from drivekit.life.exact import exact
from drivekit.life.firth import firth
from drivekit.life.grouped import grouped
from drivekit.life.profile import profile
from drivekit.life.proportionality import drift
from drivekit.life.riskset import Bools, Ints, RiskSets, frozen
from drivekit.life.robust import robust

__all__ = ["Effect", "Hazard", "PhTest", "Sensitivity", "Term", "hazard"]

# Below this many failures a term the plain likelihood is known to mislead, and Firth's answer leads.
LEAST_FAILURES_PER_TERM = 5


@dataclass(frozen=True, slots=True)
class Term:
    """What the headline fit says of one term; numbers are None exactly where ``reason`` says why."""

    coef: float | None
    se: float | None
    robust_se: float | None
    hr: float | None
    lower: float | None
    upper: float | None
    p: float | None
    reason: str | None = None

    @property
    def robust_differs(self) -> bool:
        """Whether the errors clustered by belt differ from the others by more than a quarter."""
        return bool(self.se and self.robust_se and abs(self.robust_se / self.se - 1) > 0.25)


@dataclass(frozen=True, slots=True)
class PhTest:
    """Score test of drift with age, one degree of freedom."""

    chi2: float | None
    p: float | None
    reason: str | None = None


@dataclass(frozen=True, slots=True)
class Effect:
    """A term in a sensitivity fit; limits (of the coefficient) and p where that fit gives them."""

    coef: float | None
    se: float | None
    reason: str | None = None
    lower: float | None = None
    upper: float | None = None
    p: float | None = None


@dataclass(frozen=True, slots=True)
class Sensitivity:
    """One other fit: an effect for each term, or why the whole fit cannot be had."""

    effects: Mapping[str, Effect] | None
    reason: str | None = None


@dataclass(frozen=True, eq=False, slots=True)
class Hazard:
    """The whole hazard study.

    Attributes
    ----------
    rows, rows_lost, failed : int
        Runs with every term known, runs left out for a blank, and failures among the first.
    reason : str or None
        Why there is no study at all; then all that follows is empty.
    loglik : float or None
        Efron log partial likelihood at the estimate or in its limit.
    terms : mapping of str to Term
    ph_test : mapping of str to PhTest
    sensitivity : mapping of str to Sensitivity
        ``breslow``, ``exact``, ``firth``, ``cloglog``, ``precaution_as_failure``.
    failures_per_term : float or None
        Failures over terms fitted.
    used : ndarray of bool, shape (n,)
        Which of the runs given are the rows.
    names : tuple of str
        Terms of the columns of ``fitted``; a term whose column is absent is none of them.
    fitted : CoxFit or None
        The headline fit, whose risk sets have the belt as unit.
    belt : ndarray of int, shape (rows,)
        Belt of each row, as :mod:`drivekit.life.residuals` asks for it.
    """

    rows: int
    rows_lost: int
    failed: int
    reason: str | None
    loglik: float | None
    terms: Mapping[str, Term]
    ph_test: Mapping[str, PhTest]
    sensitivity: Mapping[str, Sensitivity]
    failures_per_term: float | None
    used: Bools
    names: tuple[str, ...]
    fitted: CoxFit | None
    belt: Ints

    @property
    def firth_leads(self) -> bool:
        """Whether the penalised answer should be put first: too few failures a term for the plain one."""
        return self.failures_per_term is not None and self.failures_per_term < LEAST_FAILURES_PER_TERM


def hazard(
    age: Ints,
    failed: Bools,
    belt: Ints,
    stratum: Ints,
    settings: Sequence[Factor | Line],
    *,
    precaution: Bools,
    confidence: float = 0.95,
) -> Hazard:
    """Study all settings together.

    Parameters
    ----------
    age : ndarray of int, shape (n,)
        Age in runs of each run.
    failed : ndarray of bool, shape (n,)
        Whether the run ended in a failure.
    belt, stratum : ndarray of int, shape (n,)
        Codes from 0 of the belt, which clusters the runs, and of the car, whose hazard is left free.
    settings : sequence of Factor or Line
        In the order in which a later one is called determined by earlier ones.
    precaution : ndarray of bool, shape (n,)
        Runs after which the belt was retired as a precaution.
    confidence : float
        Of the profile limits.

    Returns
    -------
    Hazard
    """
    design = coded(age.size, settings)
    used = design.used
    rows, n_failed = int(used.sum()), int(failed[used].sum())
    terms = [name for setting in settings for name in setting.terms]
    reason = refusal(design, failed[used])
    if reason is not None:
        return Hazard(
            rows, used.size - rows, n_failed, reason, None, {}, {}, {}, None, used, design.names, None, belt[used]
        )
    x, here_age, here_failed, here_stratum = design.x, age[used], failed[used], stratum[used]
    _, here_belt = np.unique(belt[used], return_inverse=True)
    sets = RiskSets.of(here_age, here_failed, x, here_stratum, here_belt)
    fitted = fit(sets)
    why = reasons(settings, design, sets, here_failed)
    clustered = robust(fitted, here_belt)
    drifted = drift(fitted)

    def told(name: str, reasons: Sequence[str | None], why: Callable[[str, str], str]) -> tuple[int, str | None]:
        """Column of a term and why it has no number, if so."""
        if name in design.untold:
            return -1, design.untold[name]
        column = design.names.index(name)
        plain = reasons[column]
        return column, None if plain is None else why(name, plain)

    headline: dict[str, Term] = {}
    tests: dict[str, PhTest] = {}
    for name in terms:
        column, null = told(name, fitted.reasons, why)
        if null is None:
            between = profile(fitted, column, confidence)
            headline[name] = Term(
                coef=float(fitted.coef[column]),
                se=float(fitted.se[column]),
                robust_se=float(clustered.se[column]),
                hr=float(np.exp(fitted.coef[column])),
                lower=_number(np.exp(between.lower)),
                upper=_number(np.exp(between.upper)),
                p=between.p,
            )
        else:
            headline[name] = Term(None, None, None, None, None, None, None, null)
        column, null = told(name, drifted.reasons, why)
        tests[name] = (
            PhTest(None, None, null) if null else PhTest(float(drifted.chi2[column]), float(drifted.p[column]))
        )

    def sensitivity(found: Any, why: Callable[[str, str], str]) -> Sensitivity:
        shared = {*found.reasons}
        if len(shared) == 1 and found.reasons[0] is not None and np.isnan(found.coef).all() and len(terms) > 1:
            return Sensitivity(None, found.reasons[0])
        effects = {}
        for name in terms:
            column, null = told(name, found.reasons, why)
            if null is not None:
                effects[name] = Effect(None, None, null)
                continue
            lower, upper, p = (
                _number(getattr(found, key)[column]) if hasattr(found, key) else None for key in ("lower", "upper", "p")
            )
            effects[name] = Effect(float(found.coef[column]), float(found.se[column]), None, lower, upper, p)
        return Sensitivity(MappingProxyType(effects))

    worse = here_failed | precaution[used]
    worse_sets = RiskSets.of(here_age, worse, x, here_stratum, here_belt)
    breslow: Ties = "breslow"
    others = {
        "breslow": sensitivity(fit(sets, breslow), why),
        "exact": sensitivity(exact(sets), why),
        "firth": sensitivity(firth(sets, confidence=confidence), why),
        "cloglog": sensitivity(grouped(here_age, here_failed, x, here_stratum), why),
        "precaution_as_failure": sensitivity(fit(worse_sets), reasons(settings, design, worse_sets, worse)),
    }
    return Hazard(
        rows,
        used.size - rows,
        n_failed,
        None,
        fitted.loglik,
        MappingProxyType(headline),
        MappingProxyType(tests),
        MappingProxyType(others),
        n_failed / len(design.names),
        used,
        design.names,
        fitted,
        frozen(here_belt),
    )


def _number(value: float) -> float | None:
    """None for what has no end."""
    return float(value) if np.isfinite(value) else None
