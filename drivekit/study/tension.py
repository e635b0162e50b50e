"""Tension as a curve: how the hazard goes along it, and the tension at which belts last best."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from drivekit.study.as_json import Plain, estimate, numbers
from drivekit.study.modelled import N_PER_KN, TENSION, HazardInput

if TYPE_CHECKING:
    from drivekit.life.bend import Bend, Form

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
    from drivekit.life.bend import bend

    if modelled.reason is not None:
        return {"reason": modelled.reason}
    rows = modelled.rows
    if TENSION not in rows.names:
        return {"reason": modelled.design.untold[TENSION]}
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
