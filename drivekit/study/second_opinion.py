"""The study's own numbers beside those of a general survival library."""

from __future__ import annotations

import numpy as np

from drivekit.study.as_json import Plain
from drivekit.study.comparisons import COMPARISONS
from drivekit.study.life import group_curve
from drivekit.study.modelled import HazardInput

__all__ = ["second_opinion_block"]


def second_opinion_block(modelled: HazardInput) -> Plain:
    """Repeat the survival curves and the headline hazard fit with lifelines, on the same runs.

    Parameters
    ----------
    modelled : HazardInput
        What is asked, and the hazard study of it.

    Returns
    -------
    dict
        What was compared and the largest difference; what could not be, and why; or the reason why nothing was.
    """
    from drivekit.life.second_opinion import Compared, compare_cox, compare_curve, second_opinion

    asked, study = modelled.asked, modelled.study
    age, failed = asked.table["age"], asked.failed
    every = {"survival curve, all belts": np.ones(len(asked.table), bool)} if len(asked.table) else {}
    for comparison in COMPARISONS:
        found = asked.groups(comparison)
        if comparison.planned and found is not None:
            named = {f"survival curve, {comparison.said} {level}": level for level in found.levels}
            every |= {what: found.code == found.levels.index(level) for what, level in named.items()}
    compared = [compare_curve(what, age[rows], failed[rows], group_curve(asked, rows)) for what, rows in every.items()]
    what = "hazard study, Efron ties"
    if study.fitted is None:
        compared.append(Compared(what, None, study.reason))
    elif not study.fitted.free.all():
        compared.append(Compared(what, None, "one of its terms has no estimate, and lifelines would run off with it"))
    else:
        rows = modelled.rows
        compared.append(compare_cox(what, rows.age, rows.failed, rows.x, rows.stratum, study.fitted.coef, rows.names))
    return second_opinion(compared)
