"""Write logs of the sizes the bench asks for: ``logs.py FOLDER RUNS...`` makes FOLDER/RUNS for each.

They are the invented season two, its year repeated until the runs are made: from the first year that a log may name,
and with more test runs a day, so that even a million runs end before the last.
"""

import sys
from dataclasses import replace
from pathlib import Path

from drivekit.log.demo import season, season_files
from drivekit.log.demo_truth import SEASON_TWO


def main(folder: Path, sizes: list[int]) -> None:
    for runs in sizes:
        plan = replace(SEASON_TWO, year=1950, runs_a_day=12 * max(1, runs // 80_000))
        home = folder / str(runs)
        home.mkdir(parents=True)
        for name, content in season_files(plan, season(plan, seed=runs, runs=runs)).items():
            (home / name).write_bytes(content)


if __name__ == "__main__":
    main(Path(sys.argv[1]), [int(word) for word in sys.argv[2:]])
