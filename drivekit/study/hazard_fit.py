"""Which settings matter, all at once: the hazard fit of what is asked, its other fits and its checks.

The study asks with the settings that the comparisons put in the fit, each car with a hazard of its own and tension as a
line, and once more with tension as a curve; a person may ask with others. Another library repeats it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from concurrent.futures import BrokenExecutor, Executor
from contextlib import suppress
from dataclasses import dataclass
from functools import cached_property, partial
from math import exp
from typing import Any

import numpy as np

from drivekit.life.confounding import unrecorded
from drivekit.life.cox import CoxFit
from drivekit.life.cox import fit as cox
from drivekit.life.curved_term import KNOTS, curved_term, natural_spline
from drivekit.life.folds import Bools, Estimate, Floats, Ints
from drivekit.life.hazard_study import Factor, HazardStudy, Line, Term, coded, hazard_study
from drivekit.life.logrank import holm
from drivekit.life.profile import MANY_FAILURES, profile, ratio_test, tries
from drivekit.life.residuals import by_belt, by_risk, concordance, schoenfeld, without_each
from drivekit.life.riskset import RiskSets
from drivekit.life.second_opinion import Compared, compare_cox, compare_curve, second_opinion
from drivekit.life.separation import MOVES
from drivekit.life.steps import drift, failed_anew
from drivekit.study.as_json import Block, as_block, entry, parts, plain
from drivekit.study.comparisons import Comparison
from drivekit.study.study_input import StudyInput

__all__ = ["FORMS", "HazardInput", "hazard_block", "opinion_block", "ratio", "ratio_beside", "tension_curve_block"]

FORMS = ("line", "parabola", "spline")
"""How a number may enter."""

BENT = "bent"
"""The column that bends a number's line, beside its own."""

MOST_RUNS = 20_000
"""That lifelines fits a hazard to; its time grows faster than they do."""

CURVED = "tension enters as a curve here, which no one ratio can say"
ENDLESS = "the likelihood does not fall off on one side, so that limit has no end"


@dataclass(frozen=True)
class HazardInput:
    """What the hazard is fitted to: the runs and columns that every answer of the fit stands on, made once.

    `names` are the settings in the model, by their keys in the findings, None for those that the comparisons put there;
    `by_car` is whether each car keeps a hazard of its own, and `form`, one of `FORMS`, how a number (tension) enters.

    Raises
    ------
    ValueError
        If `form` is none of them.
    """

    asked: StudyInput
    names: tuple[str, ...] | None = None
    by_car: bool = True
    form: str = "line"

    def __post_init__(self) -> None:
        if self.form not in FORMS:
            raise ValueError(f'"{self.form}" is no form of tension; the forms are {", ".join(FORMS)}')

    @cached_property
    def study(self) -> HazardStudy:
        """The study of all settings together."""
        asked, precaution = self.asked, self.asked.table["cause"] == "precaution"
        runs = asked.table["age"], asked.failed, asked.belt, self.car
        return hazard_study(*runs, self.columns, precaution=precaution, confidence=asked.settings.confidence)

    @cached_property
    def comparisons(self) -> tuple[Comparison, ...]:
        """The settings of the model, in the order of their terms."""
        every = self.asked.comparisons
        return tuple(one for one in every if (one.fitted if self.names is None else one.name in self.names))

    @cached_property
    def columns(self) -> list[Factor | Line]:
        """The settings as the fit takes them, with a last column where a number enters as a curve.

        A ValueError says so where too few failures tell the knots of a spline apart.
        """
        table = self.asked.table

        def one(comparison: Comparison) -> Factor | Line:
            value = table.values.get(comparison.column)
            if comparison.number:
                return Line(comparison.number, comparison.said, None if value is None else value / comparison.unit)
            return Factor(comparison.name, comparison.said, comparison.levels, value)

        settings = [one(comparison) for comparison in self.comparisons]
        number = next((column for column in settings if isinstance(column, Line)), None)
        if self.form == "line" or number is None or number.value is None:
            return settings
        used = coded(len(table), settings).used & np.isfinite(number.value)
        failed = used & self.asked.failed
        if not failed.any():
            return settings
        bent = (number.value - np.median(number.value[used])) ** 2
        if self.form == "spline":
            knots = np.quantile(number.value[failed], KNOTS)
            if not knots[0] < knots[1] < knots[2]:
                raise ValueError("too few failures tell three knots of tension apart")
            bent = natural_spline(number.value, knots)
        return [*settings, Line(BENT, number.label, bent)]

    @cached_property
    def car(self) -> Ints:
        """A number for each run's car; 0 for all where cars share one hazard."""
        cars = self.asked.table.coded("car")[1]
        return cars if self.by_car else np.zeros_like(cars)

    @cached_property
    def rows(self) -> Mapping[str, Any]:
        """The runs with every setting written: ``age``, ``failed``, ``x`` of shape (n_rows, n_columns), ``stratum``.

        And ``belt``, counted from 0 among them.
        """
        design = coded(len(self.asked.table), self.columns)
        used = design.used
        return {
            "age": self.asked.table["age"][used],
            "failed": self.asked.failed[used],
            "x": design.x,
            "stratum": self.car[used],
            "belt": np.unique(self.asked.belt[used], return_inverse=True)[1],
        }

    def met(self, comparison: Comparison) -> dict[str, Bools]:
        """Mark the rows made at each level, shape (n_rows,), in order; a level without any is left out."""
        marked = {level: runs[self.study.used] for level, runs in self.asked.rows(comparison).items()}
        return {level: rows for level, rows in marked.items() if rows.any()}

    def refitted(self, beside: Any = None, failed: Bools | None = None, rows: Bools | None = None) -> CoxFit:
        """Fit the rows once more: with columns beside the settings, with other failures, or only some of the rows.

        Each has a value for every row of the fit.
        """
        x = self.rows["x"] if beside is None else np.column_stack([self.rows["x"], beside])
        of = self.rows["age"], self.rows["failed"] if failed is None else failed, x, self.rows["stratum"]
        return cox(RiskSets.alike(*(of if rows is None else (each[rows] for each in of))))

    @property
    def kept(self) -> list[int]:
        """Places of the columns that say something of their own: one that others determine says no more than they."""
        reasons = () if self.study.fitted is None else self.study.fitted.reasons
        return [place for place, reason in enumerate(reasons) if reason in (None, MOVES)]


@as_block
def hazard_block(fit: HazardInput) -> Block | str:
    """Give the hazard study, its sensitivities and its checks, or the reason why there is none.

    Where a number enters as a curve, its term has no ratio and says so.
    """
    study, fitted, failed = fit.study, fit.study.fitted, fit.rows["failed"]
    if fitted is None:
        return str(study.reason)
    block: Block = {
        "ties": "efron",
        "strata": ["car"] if fit.by_car else [],
        **parts(study, "rows", "rows_lost", "failed", "failures_per_term"),
        "leads": "firth" if study.firth_leads else "efron",
        "loglik": fitted.loglik,
        "levels": {
            one.name: {level: {"runs": at.sum(), "failed": failed[at].sum()} for level, at in fit.met(one).items()}
            for one in fit.comparisons
            if not one.number and set(study.names) & set(one.terms)
        },
        "terms": {
            name: entry(term, "coef", "se", "robust_se", "hr", "lower", "upper", "p", otherwise=ENDLESS)
            | {"robust_differs": term.robust_differs}
            for name, term in study.terms.items()
        },
        "leading": {name: _leading(study, name) for name in study.terms},
        "ph_test": {name: entry(test, "chi2", "p") for name, test in study.ph_test.items()},
        "drift": _drift(fit, fitted),
        "sensitivity": {name: _effects(name, found) for name, found in study.sensitivity.items()},
        "unrecorded": {name: _unrecorded(term) for name, term in study.terms.items()},
        "interactions": _interactions(fit, fitted),
        "checks": _checks(fit, fitted),
    }
    if BENT in study.names:
        _take_ratio(block, next(one.number for one in fit.comparisons if one.number))
    return block


def _drift(fit: HazardInput, fitted: CoxFit) -> Block:
    """Adjust the tests of drift for there being one a term, by Holm.

    Where one then tells and failures are few, none tells more than the share of draws without drift in which the
    largest of all statistics is as large (Westfall and Young, Resampling-Based Multiple Testing, 1993).
    """
    tests = {name: test for name, test in fit.study.ph_test.items() if test.p is not None}
    adjusted: Block = dict(zip(tests, holm([test.p for test in tests.values()]), strict=True))
    settings = fit.asked.settings
    if min(adjusted.values(), default=1.0) > 1 - settings.confidence or fit.rows["failed"].sum() >= MANY_FAILURES:
        return adjusted
    generator, largest = np.random.default_rng(settings.seed), [np.inf]  # the season itself is one of them
    for _ in range(tries(settings.confidence)):
        with suppress(ArithmeticError):
            largest.append(np.nanmax(drift(fit.refitted(failed=failed_anew(fitted, generator)))[0], initial=0.0))
    return {name: max(p, np.mean(np.array(largest) >= tests[name].chi2)) for name, p in adjusted.items()}


def _leading(study: HazardStudy, name: str) -> Block:
    """Give the ratio of a term that leads: the plain one, or Firth's where failures are few or the plain has no end."""
    term, fits = study.terms[name], study.sensitivity["firth"]
    penalised = None if isinstance(fits, str) else fits.get(name)
    if penalised is not None and penalised.coef is not None and (study.firth_leads or term.coef is None):
        ends = (None if end is None else exp(end) for end in (penalised.coef, penalised.lower, penalised.upper))
        why = term.reason or "there are fewer than 5 failures for each term"
        return dict(zip(("hr", "lower", "upper"), ends, strict=True)) | {"by": "firth", "reason": why}
    return entry(term, "hr", "lower", "upper", otherwise=ENDLESS) | {"by": "efron"}


def ratio(fitted: CoxFit, term: int, confidence: float, name: str = "hr") -> Block:
    """Give the hazard ratio of a term, under that name, with its profile limits and its test, or why it has none."""
    found = Term(reason=fitted.reasons[term])
    if fitted.free[term]:
        told = profile(fitted, term, confidence)
        hr, lower, upper = (float(np.exp(value)) for value in (fitted.coef[term], told.lower, told.upper))
        found = Term(hr=hr, lower=lower, upper=upper, p=told.p)
    block = entry(found, "hr", "lower", "upper", "p", otherwise=ENDLESS)
    return {name: block.pop("hr"), **block}


def ratio_beside(fit: HazardInput, column: Bools | Floats, rows: Bools | None = None, name: str = "hr") -> Block:
    """Fit one more column beside the settings of a fit that has an answer, and give its ratio under a name.

    `column`, shape (n_rows,), stands on the rows of the fit; `rows`, of the same shape, marks those where it is known,
    by default all.
    """
    return ratio(fit.refitted(column, rows=rows), len(fit.study.names), fit.asked.settings.confidence, name)


def _take_ratio(block: Block, curved: str) -> None:
    """Take from the terms the column that bends, and the ratio of the number that enters as a curve."""
    fits = [block[name] for name in ("terms", "ph_test", "unrecorded", "leading")]
    for terms in (*fits, *block["sensitivity"].values()):
        terms.pop(BENT, None)
        if curved in terms:
            terms[curved] = dict.fromkeys(terms[curved]) | {"reason": CURVED}


def _effects(name: str, found: Mapping[str, Term] | str) -> Block:
    """Give another fit, by its name in the findings, or the reason why it cannot be had."""
    if isinstance(found, str):
        return {"reason": found}
    told = ("coef", "se", "lower", "upper", "p") if name == "firth" else ("coef", "se")
    return {term: entry(effect, *told, otherwise=ENDLESS) for term, effect in found.items()}


def _unrecorded(term: Term) -> Block:
    """Say of a hazard ratio how strong an unrecorded cause would have to be."""
    if term.hr is None:
        return {"estimate": None, "limit": None, "reason": term.reason}
    if not 0 < term.hr < np.inf:
        return {"estimate": None, "limit": None, "reason": "the ratio lies beyond what numbers can hold"}
    e_value, limit = unrecorded(term.hr, term.lower, term.upper)
    return {"estimate": e_value, "limit": limit} | ({} if limit is not None else {"reason": ENDLESS})


def _interactions(fit: HazardInput, fitted: CoxFit) -> Block:
    """Test whether the first setting, the idler, does more at some levels of each other; nobody planned to ask."""
    x, names = fit.rows["x"], fit.study.names
    first, *others = fit.comparisons

    def together(other: Comparison) -> Block:
        if not {*first.terms, *other.terms} <= set(names):
            return {"reason": "the log does not record both settings"}
        products = np.column_stack([
            x[:, names.index(one)] * x[:, names.index(part)] for one in first.terms for part in other.terms
        ])  # fmt: skip
        # next to a setting that hardly varies its product settles only about its own mean
        for beside in (products, products - products.mean(axis=0)):
            with suppress(ArithmeticError):
                more = fit.refitted(beside)
                break
        else:
            return {"reason": "the fit with their product did not settle"}
        told = int(more.free[len(names) :].sum())
        if told < products.shape[1]:
            return {"reason": "too few belts failed in some combination of the two settings"}
        return ratio_test(2 * (more.loglik - fitted.loglik), told) | {"exploratory": True}

    return {f"{first.name} x {other.name}": together(other) for other in others}


def _checks(fit: HazardInput, fitted: CoxFit) -> Block:
    """Set the fit against its own data."""
    study, asked = fit.study, fit.asked
    belts = asked.table["belt"][study.used]
    names = belts[np.unique(study.belt, return_index=True)[1]]
    age, _, scaled = schoenfeld(fitted)
    coef, exact = without_each(fitted)
    agreement, pairs = concordance(fitted, study.belt, asked.settings.confidence)
    return {
        "schoenfeld": {"age": age, "scaled": dict(zip(study.names, scaled.T, strict=True))},
        "belts": {"belt": names} | by_belt(fitted, study.belt),
        "without_belt": {"belt": names, "coef": dict(zip(study.names, coef.T, strict=True)), "exact": exact},
        "by_risk": by_risk(fitted),
        "concordance": plain(agreement) | {"pairs": pairs},
    }


@as_block
def tension_curve_block(fit: HazardInput) -> Block | str:
    """Give tension as a line, a parabola and a spline, and the tension at which belts last best; or the reason.

    In newtons, hazards against the median tension of the rows; the rows and the other terms are those of the fit.
    """
    study, rows = fit.study, fit.rows
    tension = next((one for one in fit.comparisons if one.number), None)
    if study.reason is not None or tension is None:
        return study.reason or "tension is not in the fit"
    if tension.number not in study.names:
        return str(study.terms[tension.number].reason)
    place = study.names.index(tension.number)
    value, others, confidence = rows["x"][:, place], np.delete(rows["x"], place, axis=1), fit.asked.settings.confidence
    found = curved_term(rows["age"], rows["failed"], others, value, rows["stratum"], confidence=confidence)
    if isinstance(found, str):
        return found
    forms, unit = found.forms, tension.unit

    def in_n(kn: Estimate) -> Block:
        return {name: one * unit if isinstance(one, float) else one for name, one in plain(kn).items()}

    no_spline = {"reason": "too few failures tell three knots apart"}
    first = np.unique(rows["belt"], return_index=True)[1]
    return {
        "linear_vs_quadratic": forms["quadratic"].test,
        "linear_vs_spline": forms["spline"].test if "spline" in forms else no_spline,
        "none_vs_linear": forms["linear"].test,
        "best_n": in_n(found.best),
        "run_n": in_n(found.run),
        "often_n": [end * unit for end in found.often],
        "loglik": {"none": found.loglik_none} | {name: forms[name].loglik for name in ("linear", "quadratic")},
        "reference_n": found.reference * unit,
        "tension_n": found.value * unit,
        "forms": {name: parts(form, "log_hr", "lower", "upper") for name, form in forms.items()},
        "belts_n": np.sort(value[first]) * unit,
    }


@as_block
def opinion_block(fit: HazardInput, second: Executor | None = None) -> Callable[[], Block]:
    """Begin to repeat the survival curves and the headline hazard fit with lifelines, on the same runs.

    Of a log of more than `MOST_RUNS` both fit the hazard to the runs of the first belts alone. A `second` process does
    so while this one goes on; by default it is done here, when the block is asked for. What is given back gives the
    block: what was compared and the largest difference; what could not be, and why; or why nothing was.
    """
    asked, study, age, failed = fit.asked, fit.study, fit.asked.table["age"], fit.asked.failed
    every = {"survival curve, all belts": np.ones(len(asked.table), bool)} if len(asked.table) else {}
    for one in asked.planned.values():
        every |= {f"survival curve, {one.said} {level}": rows for level, rows in asked.rows(one).items()}
    parts: list[Callable[[], Compared]] = [
        partial(compare_curve, what, age[of], failed[of], asked.curve(of)) for what, of in every.items()
    ]
    what = "hazard study, Efron ties"
    if study.fitted is None or not study.fitted.free.all():
        restless = "one of its terms has no estimate, and lifelines would run off with it"
        parts.append(partial(Compared, what, None, study.reason or restless))
    else:
        given, coef = dict(fit.rows), study.fitted.coef
        belt = given.pop("belt")
        if study.rows > MOST_RUNS:
            some = belt <= np.sort(belt)[MOST_RUNS]
            given = {name: values[some] for name, values in given.items()}
            coef = cox(RiskSets.of(**given)).coef
            what += f", the {int(some.sum())} runs of the first {int(belt[some].max()) + 1} belts"
        parts.append(partial(compare_cox, what, **given, coef=coef, terms=study.names))
    begun = [] if second is None else [second.submit(part) for part in parts]

    def block() -> Block:
        try:
            return second_opinion([one.result() for one in begun] or [part() for part in parts])
        except BrokenExecutor:  # the second process was ended from outside
            return second_opinion([part() for part in parts])

    return block
