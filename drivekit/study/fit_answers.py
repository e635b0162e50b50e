"""What the hazard fit answers beyond its ratios: tension as a curve, and what another library makes of the runs."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import BrokenExecutor
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from drivekit.study.as_json import Block, estimate, numbers
from drivekit.study.belt_life import group_curve
from drivekit.study.hazard_fit import HazardInput

if TYPE_CHECKING:
    from concurrent.futures import Executor

__all__ = ["second_opinion_block", "tension_curve_block"]

MOST_RUNS = 20_000
"""That lifelines fits a hazard to; its time grows faster than they do."""


def tension_curve_block(fit: HazardInput) -> Block:
    """Give tension as a line, a parabola and a spline, and the tension at which belts last best; or the reason.

    In newtons, hazards against the median tension of the rows; the rows and the other terms are those of the fit.
    """
    from drivekit.life.curved_term import curved_term

    study, rows = fit.study, fit.rows
    tension = next((one for one in fit.comparisons if one.number), None)
    if study.reason is not None or tension is None:
        return {"reason": study.reason or "tension is not in the fit"}
    if tension.number not in study.names:
        return {"reason": study.terms[tension.number].reason}
    place = study.names.index(tension.number)
    found = curved_term(
        rows["age"],
        rows["failed"],
        np.delete(rows["x"], place, axis=1),
        rows["x"][:, place],
        rows["stratum"],
        confidence=fit.asked.settings.confidence,
    )
    if isinstance(found, str):
        return {"reason": found}
    forms, best_kn = found.forms, estimate(found.best)
    no_spline = {"reason": "too few failures tell three knots apart"}
    first = np.unique(rows["belt"], return_index=True)[1]
    return {
        "linear_vs_quadratic": forms["quadratic"].test,
        "linear_vs_spline": forms["spline"].test if "spline" in forms else no_spline,
        "none_vs_linear": forms["linear"].test,
        "best_n": {
            name: value * tension.unit if isinstance(value, float) else value for name, value in best_kn.items()
        },
        "run_n": {name: value * tension.unit for name, value in estimate(found.run).items()},
        "often_n": [end * tension.unit for end in found.often],
        "loglik": {"none": found.loglik_none} | {name: forms[name].loglik for name in ("linear", "quadratic")},
        "reference_n": found.reference * tension.unit,
        "tension_n": numbers(found.value * tension.unit),
        "forms": {
            name: {side: numbers(getattr(form, side)) for side in ("log_hr", "lower", "upper")}
            for name, form in forms.items()
        },
        "belts_n": numbers(np.sort(rows["x"][first, place]) * tension.unit),
    }


def second_opinion_block(fit: HazardInput, second: Executor | None = None) -> Callable[[], Block]:
    """Begin to repeat the survival curves and the headline hazard fit with lifelines, on the same runs.

    Of a log of more than `MOST_RUNS` both fit the hazard to the runs of the first belts alone.

    Parameters
    ----------
    fit : HazardInput
    second : Executor, optional
        A process that does so while this one goes on; by default it is done here, when the block is asked for.

    Returns
    -------
    callable
        Gives the block: what was compared and the largest difference; what could not be, and why; or the reason why
        nothing was.
    """
    from drivekit.life.cox import fit as cox
    from drivekit.life.riskset import RiskSets
    from drivekit.life.second_opinion import Compared, compare_cox, compare_curve, second_opinion

    asked, study, rows = fit.asked, fit.study, fit.rows
    age, failed = asked.table["age"], asked.failed
    every = {"survival curve, all belts": np.ones(len(asked.table), bool)} if len(asked.table) else {}
    for comparison in asked.comparisons:
        if comparison.planned and (found := asked.groups(comparison)) is not None:
            levels, code = found
            every |= {f"survival curve, {comparison.said} {level}": code == place for place, level in enumerate(levels)}
    parts: list[Callable[[], Compared]] = [
        partial(compare_curve, what, age[of], failed[of], group_curve(asked, of)) for what, of in every.items()
    ]
    what = "hazard study, Efron ties"
    if study.fitted is None:
        parts.append(partial(Compared, what, None, study.reason))
    elif not study.fitted.free.all():
        restless = "one of its terms has no estimate, and lifelines would run off with it"
        parts.append(partial(Compared, what, None, restless))
    else:
        given, coef = {name: rows[name] for name in ("age", "failed", "x", "stratum")}, study.fitted.coef
        if study.rows > MOST_RUNS:
            some = rows["belt"] <= np.sort(rows["belt"])[MOST_RUNS]
            given = {name: values[some] for name, values in given.items()}
            coef = cox(RiskSets.of(**given)).coef
            what += f", the {int(some.sum())} runs of the first {int(rows['belt'][some].max()) + 1} belts"
        parts.append(partial(compare_cox, what, **given, coef=coef, terms=study.names))
    begun = [] if second is None else [second.submit(part) for part in parts]

    def block() -> Block:
        try:
            return second_opinion([one.result() for one in begun] or [part() for part in parts])
        except BrokenExecutor:  # the second process was ended from outside
            return second_opinion([part() for part in parts])

    return block
