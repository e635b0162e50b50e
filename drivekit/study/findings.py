"""The whole study as one pure call: a season's log in, findings out, as plain data.

The log is folded into a run table (one run is one row); every number is a fold over it. This module decides what is
asked of the table and in which order, and leaves how each answer is computed to `drivekit.life` and how it is said and
drawn to `drivekit.show`. What cannot be had is there all the same, as a reason.
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Executor

import numpy as np

from drivekit import __version__
from drivekit.decide.claims import pair_verdicts
from drivekit.log.columns import CAUSES
from drivekit.log.season import Season, run_table
from drivekit.study import belt_life, failing
from drivekit.study.as_json import Block, as_block, lone, parts
from drivekit.study.calibration import calibration_block
from drivekit.study.claims import answered, exploratory_block, headline_block
from drivekit.study.comparisons import COMPARISONS, Comparison
from drivekit.study.decisions import DecisionInput, change_out_block, outlook_block, spares_block
from drivekit.study.hazard_fit import HazardInput, opinion_block
from drivekit.study.next_season import as_planned_block, next_trial_block, repeatability_block, tracking_block
from drivekit.study.same_belts import standardised_block
from drivekit.study.study_input import Settings, StudyInput
from drivekit.study.two_seasons import SEASON, Seasons, against_block, watch_block

__all__ = ["SCHEMA", "one_comparison", "schema", "study"]

SCHEMA = "drivekit-findings/1"
PACKAGES = ("numpy", "scipy", "pandas", "lifelines", "matplotlib", "numba")


def study(
    season: Season,
    settings: Settings | None = None,
    *,
    comparisons: tuple[Comparison, ...] = COMPARISONS,
    started: str = "",
    executor: Executor | None = None,
    against: Season | None = None,
    second: Executor | None = None,
) -> Block:
    """Study a season's log.

    Parameters
    ----------
    season : Season
        The log, read and without faults.
    settings : Settings, optional
        What the person chose.
    comparisons : tuple of Comparison
        What is held against each other; the first is the idler.
    started : str
        When the study was started, for the record; the study itself knows no clock.
    executor : concurrent.futures.Executor, optional
        Works out what is drawn at random: processes, or a Dask client's ``get_executor()`` (``drivekit[cluster]``). The
        findings do not depend on it.
    against : Season, optional
        An earlier season, to be held beside this one; adds ``against`` and ``watch``.
    second : concurrent.futures.Executor, optional
        A process that meanwhile repeats what a general library can; nor do they depend on this one.

    Returns
    -------
    dict
        The findings: plain numbers, words, lists and dicts, valid under `schema`. Same log, same settings and same seed
        give the same findings, to the last digit. Beside them, under ``comparisons``, how each setting is spoken of:
        words for whoever shows the findings, left out where they are written.
    """
    asked = StudyInput(run_table(season), settings or Settings(), comparisons)
    fit = HazardInput(asked)
    opinion = opinion_block(fit, second)
    seasons = None if against is None else Seasons.of(asked, season, against)
    told = answered(fit, executor, asking=None if seasons is None else seasons.pooled)
    standardised = standardised_block(fit, executor)
    if "reason" in standardised:
        standardised = {one.name: standardised for one in comparisons if one.standardised}
    return {
        "schema": SCHEMA,
        "comparisons": {
            one.name: one.words(season.units) for one in (*comparisons, *([] if against is None else [SEASON]))
        },
        "log": _log_block(season, asked),
        "settings": _settings_block(asked),
        "headline": told["headline"],
        "claims": told["claims"],
        "calibration": calibration_block(
            np.unique(asked.belt).size, int(asked.failed.sum()), asked.settings.confidence
        ),
        "life": {
            "overall": belt_life.overall_block(asked),
            **told["life"],
            "more": {one.name: exploratory_block(asked, one) for one in comparisons if not one.planned},
        },
        "hazard": told["hazard"],
        "tension_curve": told["tension_curve"],
        "standardised": standardised,
        "causes": failing.causes_block(asked),
        "causes_by": {name: failing.causes_by_block(asked, one) for name, one in asked.planned.items()},
        "cause_hazards": failing.cause_hazards_block(fit),
        "signs": failing.signs_block(asked),
        "incidents": failing.incidents_block(fit),
        "weibull": failing.weibull_block(asked, executor),
        "retired": failing.retired_block(asked, executor),
        "overlap": told["overlap"],
        "tracking": tracking_block(asked),
        **_decisions(DecisionInput(fit, len(season.runs), executor)),
        "second_opinion": opinion if isinstance(opinion, dict) else opinion(),
        **({} if seasons is None or against is None else _beside(seasons, against, told["claims"], executor)),
        "provenance": _provenance_block(started),
    }


def _decisions(asked: DecisionInput) -> Block:
    """Give what follows for the belts, the orders and the tests to come."""
    if not len(asked.fit.asked.table):
        names = ("change_out", "outlook", "looks", "spares", "next_trial", "repeatability", "as_planned")
        return {name: {"reason": belt_life.NO_RUNS} for name in names}
    return {
        "change_out": (change := change_out_block(asked)),
        "outlook": outlook_block(asked),
        "looks": failing.looks_block(asked.fit),
        "spares": spares_block(asked, change),
        "next_trial": next_trial_block(asked),
        "repeatability": repeatability_block(asked),
        "as_planned": as_planned_block(asked.fit.asked),
    }


def _beside(seasons: Seasons, earlier: Season, claims: Block, executor: Executor | None) -> Block:
    """Hold an earlier season beside the one that is studied."""
    log = _log_block(earlier, seasons.earlier)
    return {"against": {"log": log, **against_block(seasons, claims, executor)}, "watch": watch_block(seasons)}


def one_comparison(season: Season, asked: StudyInput, comparison: Comparison) -> Block:
    """Study one setting alone, on some or all runs of a log: what its picture and its sentence are made from.

    ``comparisons``, ``log``, ``settings``, ``headline``, ``claims``, ``life`` and ``overlap`` as in `study`, of this
    setting only. Holm's adjustment is left out, for it belongs to the planned comparisons together; so nothing is told.
    """
    name = comparison.name
    part: Block = {
        "comparisons": {name: comparison.words(season.units)},
        "log": _log_block(season, asked),
        "settings": _settings_block(asked),
    }
    if not comparison.planned:
        return part | {"headline": {}, "life": {"more": {name: exploratory_block(asked, comparison)}}, "overlap": {}}
    block = belt_life.comparison_block(asked, comparison)
    overlap = belt_life.overlap_block(asked, comparison)
    head = headline_block(asked, comparison, block, overlap, {})
    again = {"reason": "it is asked again here, of these runs alone", "pairs": pair_verdicts(head)}
    return part | {"headline": {name: head}, "claims": {name: again}, "life": {name: block}, "overlap": {name: overlap}}


def schema(comparisons: Sequence[Comparison] = COMPARISONS) -> Block:
    """Give the JSON Schema of the findings, with a block for each of these comparisons."""
    import json
    from importlib.resources import files

    loaded: Block = json.loads(files("drivekit.study").joinpath("findings.schema.json").read_text(encoding="utf-8"))
    life, standardised, claims = (loaded["properties"][name] for name in ("life", "standardised", "claims"))
    groups = {one.name: {"$ref": "#/$defs/groups"} for one in comparisons if one.planned}
    lives = {one.name: {"$ref": "#/$defs/standardised"} for one in comparisons if one.standardised}
    life |= {"required": ["overall", *groups], "properties": life["properties"] | groups}
    claims |= {"required": list(groups), "properties": {name: {"$ref": "#/$defs/claim"} for name in groups}}
    standardised |= {"required": list(lives), "properties": lives}
    return loaded


@as_block
def _log_block(season: Season, asked: StudyInput) -> Block:
    """Count what the log holds, and say what is unlikely in it and what it lacks."""
    belts, failed, ended = np.unique(asked.belt).size, asked.failed.sum(), asked.table["cause"]
    return {
        "name": season.name,
        "invented": season.invented,
        "units": "inch-pound" if season.units.inch_pound else "si",
        "belts": len(season.belts),
        "runs": len(season.runs),
        "unused": len(set(season.belts["belt"]) - set(season.runs["belt"])),
        "unknown_age": season.belts["runs_before"].isna().sum() if "runs_before" in season.belts else 0,
        "failed": failed,
        "censored": belts - failed,
        "causes": {cause: (ended == cause).sum() for cause in CAUSES if (ended == cause).any()},
        "sha256": season.sha256,
        "warnings": [str(warning) for warning in season.warnings],
        "absent": [{"column": column.name, "adds": column.adds} for column in season.absent],
    }


@as_block
def _settings_block(asked: StudyInput) -> Block:
    """Say under which settings the study was made; what was not chosen is what followed from the log."""
    settings = asked.settings
    return {
        **parts(settings, "failures", "confidence"),
        **lone("horizon_runs", asked.horizon, belt_life.NO_HORIZON),
        **lone("tension_cuts_n", asked.tension_cuts, "no run of a belt of known age has a known tension"),
        **parts(settings, "seed", "costs", "risk"),
        **lone("runs", settings.runs, "as many as the log has"),
    }


def _provenance_block(started: str) -> Block:
    """Say which programs computed, and when; the files that go with the findings are entered when they are written."""
    from importlib.metadata import version
    from platform import python_version

    return {
        "drivekit": __version__,
        "python": python_version(),
        "packages": {package: version(package) for package in PACKAGES},
        "started": started,
        "files": {},
    }
