"""Which settings matter, all at once: the hazard study, its other fits and its checks."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from drivekit.study.as_json import Plain, entry, estimate, number, numbers
from drivekit.study.modelled import TENSION, HazardInput, compared

if TYPE_CHECKING:
    from drivekit.life.cox import CoxFit
    from drivekit.life.hazard_study import HazardStudy, Term

__all__ = ["ENDLESS", "effects", "hazard_block", "levels"]

ENDLESS = "the likelihood does not fall off on one side, so that limit has no end"
IDLER = "idler[toothed]"
INTERACTIONS = {
    "idler x tension": (TENSION,),
    "idler x edge_lube": ("edge_lube[install]", "edge_lube[every-run]"),
}


def hazard_block(modelled: HazardInput) -> Plain:
    """Give the hazard study, its sensitivities and its checks.

    Parameters
    ----------
    modelled : HazardInput
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
        "levels": levels(modelled),
        "terms": {
            name: entry(term, "coef", "se", "robust_se", "hr", "lower", "upper", "p", otherwise=ENDLESS)
            | {"robust_differs": term.robust_differs}
            for name, term in study.terms.items()
        },
        "ph_test": {name: entry(test, "chi2", "p") for name, test in study.ph_test.items()},
        "sensitivity": {name: effects(name, found) for name, found in study.sensitivity.items()},
        "unrecorded": _unrecorded(study),
        "interactions": _interactions(modelled),
        "checks": _checks(modelled, fitted),
    }


def levels(modelled: HazardInput) -> Plain:
    """Count, for each setting with levels, the rows of the fit and the failures at each level."""
    rows, design, table = modelled.rows, modelled.design, modelled.asked.table
    found: Plain = {}
    for setting in modelled.settings:
        if setting.name == TENSION or not set(setting.terms) & set(design.names):
            continue
        value = table[setting.name][design.used]
        met = [level for level in compared(setting.name).levels if (value == level).any()]
        found[setting.name] = {
            level: {"runs": int((value == level).sum()), "failed": int(rows.failed[value == level].sum())}
            for level in met
        }
    return found


def effects(name: str, found: Mapping[str, Term] | str) -> Plain:
    """Give another fit, by its name in the findings, or the reason why it cannot be had."""
    if isinstance(found, str):
        return {"reason": found}
    told = ("coef", "se", "lower", "upper", "p") if name == "firth" else ("coef", "se")
    return {term: entry(effect, *told, otherwise=ENDLESS) for term, effect in found.items()}


def _unrecorded(study: HazardStudy) -> Plain:
    """Say for each hazard ratio how strong an unrecorded cause would have to be."""
    from drivekit.life.confounding import unrecorded

    found: Plain = {}
    for name, term in study.terms.items():
        if term.hr is None:
            found[name] = {"estimate": None, "limit": None, "reason": term.reason}
            continue
        e_value, limit = unrecorded(term.hr, term.lower, term.upper)
        found[name] = {"estimate": e_value, "limit": limit}
        if limit is None:
            found[name]["reason"] = ENDLESS
    return found


def _interactions(modelled: HazardInput) -> Plain:
    """Test whether the idler does more at some tensions, or with some grease; nobody planned to ask."""
    from drivekit.life.cox import fit
    from drivekit.life.profile import ratio_test
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
        found[name] = ratio_test(2 * (more.loglik - fitted.loglik), told) | {"exploratory": True}
    return found


def _checks(modelled: HazardInput, fitted: CoxFit) -> Plain:
    """Set the fit against its own data."""
    from drivekit.life.residuals import by_belt, by_risk, concordance, schoenfeld, without_each

    study, asked = modelled.study, modelled.asked
    belts = asked.table["belt"][study.used]
    names = belts[np.unique(study.belt, return_index=True)[1]].tolist()
    age, _, scaled = schoenfeld(fitted)
    coef, exact = without_each(fitted)
    agreement, pairs = concordance(fitted, study.belt, asked.settings.confidence)
    return {
        "schoenfeld": {"age": numbers(age), "scaled": _columns(study.names, scaled)},
        "belts": {"belt": names} | {name: numbers(each) for name, each in by_belt(fitted, study.belt).items()},
        "without_belt": {"belt": names, "coef": _columns(study.names, coef), "exact": exact.tolist()},
        "by_risk": {name: numbers(each) for name, each in by_risk(fitted).items()},
        "concordance": estimate(agreement) | {"pairs": pairs},
    }


def _columns(names: Iterable[str], values: NDArray[np.float64]) -> Plain:
    return {name: numbers(column) for name, column in zip(names, values.T, strict=True)}
