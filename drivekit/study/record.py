"""What was read, under which settings, by which program."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from drivekit import __version__
from drivekit.log.columns import CAUSES
from drivekit.study.as_json import Plain
from drivekit.study.life import NO_HORIZON
from drivekit.study.study_input import StudyInput

if TYPE_CHECKING:
    from drivekit.log.season import Season

__all__ = ["log_block", "provenance_block", "settings_block"]

PACKAGES = ("numpy", "scipy", "pandas", "lifelines", "matplotlib", "numba")


def log_block(season: Season, asked: StudyInput) -> Plain:
    """Count what the log holds, and say what is unlikely in it and what it lacks."""
    belts = int(np.unique(asked.belt).size)
    failed = int(asked.failed.sum())
    ended = asked.table["cause"]
    return {
        "name": season.name,
        "invented": season.invented,
        "belts": len(season.belts),
        "runs": len(season.runs),
        "unused": len(set(season.belts["belt"]) - set(season.runs["belt"])),
        "unknown_age": _unknown_age(season),
        "failed": failed,
        "censored": belts - failed,
        "causes": {cause: int((ended == cause).sum()) for cause in CAUSES if (ended == cause).any()},
        "sha256": season.sha256,
        "warnings": [str(warning) for warning in season.warnings],
        "absent": [{"column": column.name, "adds": column.adds} for column in season.absent],
    }


def _unknown_age(season: Season) -> int:
    return int(season.belts["runs_before"].isna().sum()) if "runs_before" in season.belts else 0


def settings_block(asked: StudyInput) -> Plain:
    """Say under which settings the study was made; what was not chosen is what followed from the log."""
    settings = asked.settings
    block: Plain = {
        "failures": list(settings.failures),
        "confidence": settings.confidence,
        "horizon_runs": asked.horizon,
        "tension_cuts_n": None if asked.tension_cuts is None else list(asked.tension_cuts),
        "seed": settings.seed,
    }
    if asked.horizon is None:
        block["horizon_runs_reason"] = NO_HORIZON
    if asked.tension_cuts is None:
        block["tension_cuts_n_reason"] = "no run of a belt of known age has a known tension"
    return block


def provenance_block(started: str) -> Plain:
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
