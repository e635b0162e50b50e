"""Tension as a curve: how the hazard goes along it, and the tension at which belts last best."""

from __future__ import annotations

import numpy as np

from drivekit.study.as_json import Plain, estimate, numbers
from drivekit.study.modelled import N_PER_KN, TENSION, HazardInput

__all__ = ["tension_curve_block"]


def tension_curve_block(modelled: HazardInput) -> Plain:
    """Give tension as a line, a parabola and a spline, and the tension at which belts last best.

    Parameters
    ----------
    modelled : HazardInput
        The study whose rows and other terms are kept.

    Returns
    -------
    dict
        In newtons, hazards against the median tension of the rows; or the reason why there is no curve.
    """
    from drivekit.life.curved_term import curved_term

    if modelled.reason is not None:
        return {"reason": modelled.reason}
    rows = modelled.rows
    if TENSION not in rows.names:
        return {"reason": modelled.design.untold[TENSION]}
    place = rows.names.index(TENSION)
    found = curved_term(
        rows.age,
        rows.failed,
        np.delete(rows.x, place, axis=1),
        rows.x[:, place],
        rows.stratum,
        confidence=modelled.asked.settings.confidence,
    )
    if isinstance(found, str):
        return {"reason": found}
    forms, best_kn = found.forms, estimate(found.best)
    told = {name: value * N_PER_KN for name, value in best_kn.items() if isinstance(value, float)}
    first = np.unique(rows.belt, return_index=True)[1]
    return {
        "linear_vs_quadratic": forms["quadratic"].test,
        "linear_vs_spline": forms["spline"].test
        if "spline" in forms
        else {"reason": "too few failures tell three knots apart"},
        "none_vs_linear": forms["linear"].test,
        "best_n": best_kn | told,
        "loglik": {"none": found.loglik_none} | {name: forms[name].loglik for name in ("linear", "quadratic")},
        "reference_n": found.reference * N_PER_KN,
        "tension_n": numbers(found.value * N_PER_KN),
        "forms": {
            name: {"log_hr": numbers(form.log_hr), "lower": numbers(form.lower), "upper": numbers(form.upper)}
            for name, form in forms.items()
        },
        "belts_n": numbers(np.sort(rows.x[first, place]) * N_PER_KN),
    }
