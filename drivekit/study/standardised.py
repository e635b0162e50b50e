"""The answers standardised over the season's belts: the same belts once all at each level of a setting."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from drivekit.study.as_json import Plain, estimate, numbers
from drivekit.study.modelled import HazardInput, compared

if TYPE_CHECKING:
    from drivekit.life.standardised import Standardised

__all__ = ["STANDARDISED", "standardised_block"]

STANDARDISED = ("idler", "edge_lube")
"""Settings that are standardised; tension has a curve instead."""


def standardised_block(modelled: HazardInput) -> Plain:
    """Give, for idler and grease, the life of the same belts once all at each level.

    Parameters
    ----------
    modelled : HazardInput
        The study whose fit is standardised.

    Returns
    -------
    dict
        A block for each setting, or the reason why there is none.
    """
    from drivekit.life.separation import MOVES
    from drivekit.life.standardised import standardised

    study, rows, fitted = modelled.study, modelled.rows, modelled.study.fitted
    if study.reason is not None:
        return {name: {"reason": study.reason} for name in STANDARDISED}
    assert fitted is not None  # the study has no reason
    # A column that the data do not tell from the others says nothing more than they do.
    kept = [place for place, reason in enumerate(fitted.reasons) if reason is None or reason == MOVES]
    names = [rows.names[place] for place in kept]
    block: Plain = {}
    levels: dict[str, list[str]] = {}
    settings = []
    for name in STANDARDISED:
        comparison = compared(name)
        terms = {f"{name}[{level}]": level for level in comparison.levels[1:]}
        told = {term: level for term, level in terms.items() if study.terms[term].coef is not None}
        if not told:
            block[name] = {"reason": next(study.terms[term].reason for term in terms)}
            continue
        levels[name] = [comparison.levels[0], *told.values()]
        columns = np.array([names.index(term) for term in told])
        settings.append((columns, np.vstack([np.zeros(len(told)), np.eye(len(told))])))
    found = (
        standardised(
            rows.age,
            rows.failed,
            rows.x[:, kept],
            rows.stratum,
            rows.belt,
            settings,
            confidence=modelled.asked.settings.confidence,
            generator=np.random.default_rng(modelled.asked.settings.seed),
        )
        if settings
        else ()
    )
    if isinstance(found, str):
        block |= {name: {"reason": found} for name in levels}
    else:
        block |= {name: _setting(levels[name], one) for name, one in zip(levels, found, strict=True)}
    return {name: block[name] for name in STANDARDISED}


def _setting(levels: list[str], found: Standardised) -> Plain:
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
            f"{levels[later]} minus {levels[earlier]}": estimate(difference)
            for (later, earlier), difference in found.differences.items()
        },
        "horizon_runs": found.horizon,
        "belts": found.belts,
        "replicates": found.replicates,
        "replicates_lost": found.lost,
    }
