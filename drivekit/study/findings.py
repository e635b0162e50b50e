"""The whole study as one pure call: a season's log in, findings out, as plain data.

The log is folded into a run table (one run is one row); every number is a fold over it. This module decides what is
asked of the table and in which order, and leaves how each answer is computed to `drivekit.life` and how it is said and
drawn to `drivekit.show`. What cannot be had is there all the same, as a reason.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from drivekit.log.columns import FAILURES
from drivekit.log.season import run_table
from drivekit.study.as_json import Plain
from drivekit.study.comparisons import COMPARISONS, Comparison
from drivekit.study.hazard import hazard_block
from drivekit.study.headline import headline_block
from drivekit.study.life import adjust, causes_block, comparison_block, overall_block
from drivekit.study.modelled import HazardInput
from drivekit.study.overlap import overlap_block
from drivekit.study.record import log_block, provenance_block, settings_block
from drivekit.study.second_opinion import second_opinion_block
from drivekit.study.standardised import standardised_block
from drivekit.study.study_input import Settings, StudyInput
from drivekit.study.tension import tension_curve_block
from drivekit.study.tracking import tracking_block

if TYPE_CHECKING:
    from drivekit.log.season import Season

__all__ = ["SCHEMA", "one_comparison", "schema", "study"]

SCHEMA = "drivekit-findings/1"
UNASKED = {"reason": "it was not asked for"}


def study(
    season: Season,
    *,
    failures: Sequence[str] = FAILURES,
    horizon: int | None = None,
    tension_cuts: tuple[float, float] | None = None,
    confidence: float = 0.95,
    seed: int = 1,
    started: str = "",
) -> Plain:
    """Study a season's log.

    Parameters
    ----------
    season : Season
        The log, read and without faults.
    failures, horizon, tension_cuts, confidence, seed
        As in `drivekit.study.study_input.Settings`.
    started : str
        When the study was started, for the record; the study itself knows no clock.

    Returns
    -------
    dict
        The findings: plain numbers, words, lists and dicts, valid under `schema`. Same log, same settings and same seed
        give the same findings, to the last digit. Beside them, under ``comparisons``, how each setting is spoken of:
        words for whoever shows the findings, left out where they are written.

    Raises
    ------
    ValueError
        When a setting cannot be used.
    """
    asked = StudyInput(run_table(season), Settings(tuple(failures), horizon, tension_cuts, confidence, seed))
    modelled = HazardInput(asked)
    planned = {comparison.name: comparison_block(asked, comparison) for comparison in COMPARISONS if comparison.planned}
    adjust(planned.values())
    further = {
        comparison.name: comparison_block(asked, comparison) | {"exploratory": True}
        for comparison in COMPARISONS
        if not comparison.planned
    }
    overlap = {comparison.name: overlap_block(asked, comparison) for comparison in COMPARISONS if comparison.planned}
    standardised = standardised_block(modelled)
    return {
        "schema": SCHEMA,
        "comparisons": {comparison.name: comparison.words() for comparison in COMPARISONS},
        "log": log_block(season, asked),
        "settings": settings_block(asked),
        "headline": {
            comparison.name: headline_block(
                asked,
                comparison,
                planned[comparison.name],
                overlap[comparison.name],
                standardised.get(comparison.name, UNASKED),
            )
            for comparison in COMPARISONS
            if comparison.planned
        },
        "life": {"overall": overall_block(asked), **planned, "more": further},
        "hazard": hazard_block(modelled),
        "tension_curve": tension_curve_block(modelled),
        "standardised": standardised,
        "causes": causes_block(asked),
        "overlap": overlap,
        "tracking": tracking_block(asked),
        "second_opinion": second_opinion_block(modelled),
        "provenance": provenance_block(started),
    }


def one_comparison(season: Season, asked: StudyInput, comparison: Comparison) -> Plain:
    """Study one setting alone: the part of the findings that its picture and its sentence are made from.

    Parameters
    ----------
    season : Season
        The log.
    asked : StudyInput
        Some or all of its runs, and what is asked of them.
    comparison : Comparison
        The setting.

    Returns
    -------
    dict
        ``comparisons``, ``log``, ``settings``, ``headline``, ``life`` and ``overlap`` as in `study`, of this setting
        only. Holm's adjustment is left out, for it belongs to the planned comparisons together.
    """
    block = comparison_block(asked, comparison)
    words = {comparison.name: comparison.words()}
    part: Plain = {"comparisons": words, "log": log_block(season, asked), "settings": settings_block(asked)}
    if not comparison.planned:
        return part | {"headline": {}, "life": {"more": {comparison.name: block}}, "overlap": {}}
    overlap = overlap_block(asked, comparison)
    head = headline_block(asked, comparison, block, overlap, UNASKED)
    return part | {
        "headline": {comparison.name: head},
        "life": {comparison.name: block},
        "overlap": {comparison.name: overlap},
    }


def schema() -> Plain:
    """Give the JSON Schema of the findings."""
    import json
    from importlib.resources import files

    loaded: Plain = json.loads(files("drivekit.study").joinpath("findings.schema.json").read_text(encoding="utf-8"))
    return loaded
