"""Which settings matter, all at once: the hazard study, tension as a curve, and the answers standardised over belts."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from drivekit.asked import Asked
from drivekit.blocks.plain import Plain, entry, estimate, number, numbers
from drivekit.comparisons import COMPARISONS, Comparison

if TYPE_CHECKING:
    from drivekit.life.bend import Bend, Form
    from drivekit.life.cox import CoxFit
    from drivekit.life.hazard import Factor, Hazard, Line, Sensitivity

__all__ = ["Modelled", "hazard_block", "standardised_block", "tension_curve_block"]

ENDLESS = "the likelihood does not fall off on one side, so that limit has no end"
N_PER_KN = 1000
TENSION = "tension_kn"
IDLER = "idler[toothed]"
STANDARDISED = ("idler", "edge_lube")
INTERACTIONS = {
    "idler x tension": (TENSION,),
    "idler x edge_lube": ("edge_lube[install]", "edge_lube[every-run]"),
}


@dataclass(frozen=True)
class Modelled:
    """The hazard study of what is asked, and the rows and columns it stands on.

    Parameters
    ----------
    asked : Asked
        The runs, and what is asked of them.
    """

    asked: Asked

    @cached_property
    def study(self) -> Hazard:
        """The study of all settings together, strata car."""
        from drivekit.life.hazard import hazard

        table = self.asked.table
        return hazard(
            table["age"],
            self.asked.failed,
            self.asked.belt,
            self.car,
            self.settings,
            precaution=table["cause"] == "precaution",
            confidence=self.asked.settings.confidence,
        )

    @property
    def settings(self) -> list[Factor | Line]:
        """The settings of the model, in the order of their terms."""
        from drivekit.life.hazard import Factor, Line

        table = self.asked.table
        tension = table["tension_n"] / N_PER_KN if "tension_n" in table else None

        def factor(name: str) -> Factor:
            comparison = _comparison(name)
            return Factor(name, comparison.said, comparison.levels, table.values.get(name))

        return [factor("idler"), Line(TENSION, _comparison("tension").said, tension), factor("edge_lube")]

    @cached_property
    def car(self) -> NDArray[np.int64]:
        """A number for each run's car."""
        return np.unique(self.asked.table["car"].astype(str), return_inverse=True)[1].astype(np.int64)

    @cached_property
    def rows(self) -> Rows:
        """The runs with every term known."""
        used = self.study.used
        table = self.asked.table
        columns = [self._column(name)[used] for name in self.study.names]
        x = np.column_stack(columns) if columns else np.zeros((int(used.sum()), 0))
        return Rows(table["age"][used], self.asked.failed[used], x, self.car[used], self.study.belt, self.study.names)

    def _column(self, term: str) -> NDArray[np.float64]:
        table = self.asked.table
        if term == TENSION:
            return np.asarray(table["tension_n"] / N_PER_KN, np.float64)
        name, _, level = term.rstrip("]").partition("[")
        return np.asarray(table[name] == level, np.float64)


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """The rows of the hazard fit: age, whether failed, covariates, stratum, belt, and the names of the covariates."""

    age: NDArray[np.int64]
    failed: NDArray[np.bool_]
    x: NDArray[np.float64]
    stratum: NDArray[np.int64]
    belt: NDArray[np.int64]
    names: tuple[str, ...]


def _comparison(name: str) -> Comparison:
    return next(comparison for comparison in COMPARISONS if comparison.name == name)


def hazard_block(modelled: Modelled) -> Plain:
    """Give the hazard study, its sensitivities and its checks.

    Parameters
    ----------
    modelled : Modelled
        The study.

    Returns
    -------
    dict
        The block, or the reason why there is no study.
    """
    study = modelled.study
    if study.reason is not None:
        return {"reason": study.reason}
    fitted = study.fitted
    assert fitted is not None  # there is no reason, so there is a fit
    return {
        "ties": "efron",
        "strata": ["car"],
        "rows": study.rows,
        "rows_lost": study.rows_lost,
        "failed": study.failed,
        "failures_per_term": number(study.failures_per_term),
        "leads": "firth" if study.firth_leads else "efron",
        "loglik": number(study.loglik),
        "terms": {
            name: entry(term, "coef", "se", "robust_se", "hr", "lower", "upper", "p", otherwise=ENDLESS)
            | {"robust_differs": term.robust_differs}
            for name, term in study.terms.items()
        },
        "ph_test": {name: entry(test, "chi2", "p") for name, test in study.ph_test.items()},
        "sensitivity": {name: _sensitivity(name, found) for name, found in study.sensitivity.items()},
        "unrecorded": _unrecorded(study),
        "interactions": _interactions(modelled),
        "checks": _checks(modelled, fitted),
    }


def _sensitivity(name: str, found: Sensitivity) -> Plain:
    if found.effects is None:
        return {"reason": found.reason}
    told = ("coef", "se", "lower", "upper", "p") if name == "firth" else ("coef", "se")
    return {term: entry(effect, *told, otherwise=ENDLESS) for term, effect in found.effects.items()}


def _unrecorded(study: Hazard) -> Plain:
    """Say for each hazard ratio how strong an unrecorded cause would have to be."""
    from drivekit.life.unrecorded import unrecorded

    found: Plain = {}
    for name, term in study.terms.items():
        if term.hr is None:
            found[name] = {"estimate": None, "limit": None, "reason": term.reason}
            continue
        e_values = unrecorded(term.hr, term.lower, term.upper)
        found[name] = {"estimate": e_values.estimate, "limit": e_values.limit}
        if e_values.limit is None:
            found[name]["reason"] = ENDLESS
    return found


def _interactions(modelled: Modelled) -> Plain:
    """Test whether the idler does more at some tensions, or with some grease; nobody planned to ask."""
    from drivekit.life.bend import ratio_test
    from drivekit.life.cox import fit
    from drivekit.life.riskset import RiskSets

    rows, fitted = modelled.rows, modelled.study.fitted
    found: Plain = {}
    for name, parts in INTERACTIONS.items():
        if fitted is None or not set(parts) | {IDLER} <= set(rows.names):
            found[name] = {"reason": "the log does not record both settings"}
            continue
        idler = rows.x[:, rows.names.index(IDLER)]
        products = np.column_stack([idler * rows.x[:, rows.names.index(part)] for part in parts])
        more = fit(RiskSets.of(rows.age, rows.failed, np.column_stack([rows.x, products]), rows.stratum))
        told = int(more.free[rows.x.shape[1] :].sum())
        if told < len(parts):
            found[name] = {"reason": "too few belts failed in some combination of the two settings"}
            continue
        test = ratio_test(2 * (more.loglik - fitted.loglik), told)
        found[name] = {"chi2": test.chi2, "dof": test.dof, "p": test.p, "exploratory": True}
    return found


def _checks(modelled: Modelled, fitted: CoxFit) -> Plain:
    """Set the fit against its own data."""
    from drivekit.life.residuals import by_belt, by_risk, concordance, schoenfeld, without_each

    study, asked = modelled.study, modelled.asked
    belts = asked.table["belt"][study.used]
    names = belts[np.unique(study.belt, return_index=True)[1]].tolist()
    drift, each, thirds = schoenfeld(fitted), by_belt(fitted, study.belt), by_risk(fitted)
    agreement = concordance(fitted, study.belt, asked.settings.confidence)
    changed = without_each(fitted)
    return {
        "schoenfeld": {"age": numbers(drift.age), "scaled": _columns(study.names, drift.scaled)},
        "belts": {
            "belt": names,
            "seen": numbers(each.seen),
            "expected": numbers(each.expected),
            "deviance": numbers(each.deviance),
        },
        "without_belt": {"belt": names, "coef": _columns(study.names, changed)},
        "by_risk": {"runs": numbers(thirds.runs), "seen": numbers(thirds.seen), "expected": numbers(thirds.expected)},
        "concordance": entry(agreement, "estimate", "lower", "upper") | {"pairs": agreement.pairs},
    }


def _columns(names: Iterable[str], values: NDArray[np.float64]) -> Plain:
    return {name: numbers(column) for name, column in zip(names, values.T, strict=True)}


def tension_curve_block(modelled: Modelled) -> Plain:
    """Give tension as a line, a parabola and a spline, and the tension at which belts last best.

    Parameters
    ----------
    modelled : Modelled
        The study whose rows and other terms are kept.

    Returns
    -------
    dict
        In newtons, hazards against the median tension of the rows; or the reason why there is no curve.
    """
    from drivekit.life.bend import bend

    study = modelled.study
    if study.reason is not None:
        return {"reason": study.reason}
    rows = modelled.rows
    if TENSION not in rows.names:
        return {"reason": study.terms[TENSION].reason}
    place = rows.names.index(TENSION)
    found = bend(
        rows.age,
        rows.failed,
        np.delete(rows.x, place, axis=1),
        rows.x[:, place],
        rows.stratum,
        confidence=modelled.asked.settings.confidence,
    )
    if isinstance(found, str):
        return {"reason": found}
    best_kn = estimate(found.best)
    told = {name: value * N_PER_KN for name, value in best_kn.items() if isinstance(value, float)}
    first = np.unique(rows.belt, return_index=True)[1]
    return {
        "linear_vs_quadratic": _test(found.quadratic),
        "linear_vs_spline": {"reason": "too few failures tell three knots apart"}
        if found.spline is None
        else _test(found.spline),
        "none_vs_linear": _test(found.linear),
        "best_n": best_kn | told,
        "loglik": {"none": found.loglik_none, "linear": found.linear.loglik, "quadratic": found.quadratic.loglik},
        "reference_n": found.reference * N_PER_KN,
        "tension_n": numbers(found.value * N_PER_KN),
        "forms": {name: _form(form) for name, form in _forms(found).items()},
        "belts_n": numbers(np.sort(rows.x[first, place]) * N_PER_KN),
    }


def _forms(found: Bend) -> Mapping[str, Form]:
    forms = {"linear": found.linear, "quadratic": found.quadratic}
    return forms if found.spline is None else forms | {"spline": found.spline}


def _form(form: Form) -> Plain:
    return {"log_hr": numbers(form.log_hr), "lower": numbers(form.lower), "upper": numbers(form.upper)}


def _test(form: Form) -> Plain:
    return {"chi2": form.test.chi2, "dof": form.test.dof, "p": form.test.p}


def standardised_block(modelled: Modelled) -> Plain:
    """Give, for idler and grease, the life of the same belts once all at each level.

    Parameters
    ----------
    modelled : Modelled
        The study whose fit is standardised.

    Returns
    -------
    dict
        A block for each setting, or the reason why there is none.
    """
    study = modelled.study
    if study.reason is not None:
        return {name: {"reason": study.reason} for name in STANDARDISED}
    return {name: _standardised(modelled, name) for name in STANDARDISED}


def _standardised(modelled: Modelled, name: str) -> Plain:
    from drivekit.life.separation import MOVES
    from drivekit.life.standardised import standardised

    study, rows, fitted = modelled.study, modelled.rows, modelled.study.fitted
    assert fitted is not None  # the study has no reason
    comparison = _comparison(name)
    terms = {f"{name}[{level}]": level for level in comparison.levels[1:]}
    told = {term: level for term, level in terms.items() if study.terms[term].coef is not None}
    if not told:
        return {"reason": next(study.terms[term].reason for term in terms)}
    # A column that the data do not tell from the others says nothing more than they do.
    kept = [place for place, reason in enumerate(fitted.reasons) if reason is None or reason == MOVES]
    names = [rows.names[place] for place in kept]
    columns = np.array([names.index(term) for term in told])
    found = standardised(
        rows.age,
        rows.failed,
        rows.x[:, kept],
        rows.stratum,
        rows.belt,
        columns,
        np.vstack([np.zeros(len(told)), np.eye(len(told))]),
        confidence=modelled.asked.settings.confidence,
        generator=np.random.default_rng(modelled.asked.settings.seed),
    )
    if isinstance(found, str):
        return {"reason": found}
    levels = [comparison.levels[0], *told.values()]
    return {
        "levels": {
            level: {
                "age": numbers(found.age),
                "survival": numbers(s),
                "lower": numbers(low),
                "upper": numbers(up),
                "mean": float(mean),
            }
            for level, s, low, up, mean in zip(
                levels, found.survival, found.lower, found.upper, found.mean, strict=True
            )
        },
        "mean_difference": {
            f"{levels[pair.later]} minus {levels[pair.earlier]}": estimate(pair) for pair in found.differences
        },
        "horizon_runs": found.horizon,
        "belts": found.belts,
        "replicates": found.replicates,
        "replicates_lost": found.lost,
    }
