"""A hazard fit with the terms, strata and form of tension that a person chose: quick enough to follow a control.

It is the headline fit of `drivekit.life.hazard_study` without its company: no drift tests and no other methods, but
Firth's answer where it leads or where the plain one has none.
"""

from __future__ import annotations

import numpy as np

from drivekit.study.as_json import Plain, number
from drivekit.study.hazard import ENDLESS, levels
from drivekit.study.modelled import TENSION, HazardInput

__all__ = ["FORMS", "chosen_block"]

FORMS = ("line", "parabola", "spline")
"""How tension may enter."""

CURVED = "tension enters as a curve here, which no one ratio can say"


def chosen_block(modelled: HazardInput, form: str = "line") -> Plain:
    """Fit what was chosen.

    Parameters
    ----------
    modelled : HazardInput
        The runs, the settings in the model, and whether each car keeps a hazard of its own.
    form : {"line", "parabola", "spline"}
        How tension enters.

    Returns
    -------
    dict
        Of the hazard block its ``rows``, ``rows_lost``, ``failed``, ``failures_per_term``, ``leads``, ``strata``,
        ``levels``, ``terms`` and ``sensitivity: {firth}``; or the reason why there is no fit.

    Raises
    ------
    ValueError
        If `form` is none of them.
    """
    from drivekit.life.cox import fit
    from drivekit.life.firth import firth
    from drivekit.life.hazard_study import LEAST_FAILURES_PER_TERM, reasons
    from drivekit.life.profile import profile
    from drivekit.life.riskset import RiskSets

    if form not in FORMS:
        raise ValueError(f'"{form}" is no form of tension; the forms are {", ".join(FORMS)}')
    if modelled.reason is not None:
        return {"reason": modelled.reason}
    rows, design, confidence = modelled.rows, modelled.design, modelled.asked.settings.confidence
    curved = _curved(modelled, form)
    sets = RiskSets.of(rows.age, rows.failed, np.column_stack([rows.x, curved]), rows.stratum)
    fitted = fit(sets)
    why = reasons(modelled.settings, design, sets, rows.failed)
    per_term = rows.failed.sum() / sets.n_terms
    leads = "firth" if per_term < LEAST_FAILURES_PER_TERM else "efron"
    untold = dict(design.untold) | ({TENSION: CURVED} if curved.size else {})
    block: Plain = {
        "ties": "efron",
        "strata": ["car"] if modelled.by_car else [],
        "rows": rows.age.size,
        "rows_lost": len(modelled.asked.table) - rows.age.size,
        "failed": int(rows.failed.sum()),
        "failures_per_term": float(per_term),
        "leads": leads,
        "levels": levels(modelled),
        "terms": {},
    }
    for setting in modelled.settings:
        for name in setting.terms:
            reason = untold.get(name)
            column = rows.names.index(name) if name in rows.names else -1
            if reason is None and (plain := fitted.reasons[column]) is not None:
                reason = why(name, plain)
            if reason is not None:
                block["terms"][name] = dict.fromkeys(("coef", "hr", "lower", "upper")) | {"reason": reason}
                continue
            limits = profile(fitted, column, confidence)
            entry = {
                "coef": float(fitted.coef[column]),
                "hr": float(np.exp(fitted.coef[column])),
                "lower": number(float(np.exp(limits.lower))),
                "upper": number(float(np.exp(limits.upper))),
            }
            block["terms"][name] = entry if None not in entry.values() else entry | {"reason": ENDLESS}
    if leads == "efron" and all(entry["coef"] is not None or name in untold for name, entry in block["terms"].items()):
        return block
    penalised = firth(sets, confidence=confidence)
    block["sensitivity"] = {"firth": {name: dict.fromkeys(("coef", "lower", "upper")) for name in block["terms"]}}
    for name, found in block["sensitivity"]["firth"].items():
        column = rows.names.index(name) if name in rows.names and name not in untold else -1
        if column < 0 or penalised.reasons[column] is not None:
            found["reason"] = untold.get(name) or why(name, str(penalised.reasons[column]))
            continue
        found |= {key: number(float(getattr(penalised, key)[column])) for key in ("coef", "lower", "upper")}
        if None in found.values():
            found["reason"] = ENDLESS
    return block


def _curved(modelled: HazardInput, form: str) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    """Give the column that bends tension, shape (n_rows, 1); shape (n_rows, 0) where it stays a line."""
    from drivekit.life.curved_term import KNOTS, natural_spline

    rows = modelled.rows
    nothing = np.zeros((rows.age.size, 0))
    if form == "line" or TENSION not in rows.names:
        return nothing
    tension_kn = rows.x[:, rows.names.index(TENSION)]
    if form == "parabola":
        return np.asarray((tension_kn - np.median(tension_kn)) ** 2)[:, None]
    knots = np.quantile(tension_kn[rows.failed], KNOTS)
    if not knots[0] < knots[1] < knots[2]:
        raise ValueError("too few failures tell three knots of tension apart")
    return natural_spline(tension_kn, knots)[:, None]
