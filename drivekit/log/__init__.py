"""The season log: what a column means, reading, checking, a blank log, belt histories, invented seasons."""

from drivekit.log.columns import BELTS, CAUSES, FAILURES, RUNS, Column
from drivekit.log.season import RunTable, Season, check_season, read_season, run_table

__all__ = [
    "BELTS",
    "CAUSES",
    "FAILURES",
    "RUNS",
    "Column",
    "RunTable",
    "Season",
    "check_season",
    "read_season",
    "run_table",
]
