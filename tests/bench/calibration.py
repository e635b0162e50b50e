"""How often the intervals hold and the claims are right, on seasons drawn from known models.

``make calibration SEASONS=2000`` draws so many of each of `tests.bench.scenarios.SCENARIOS`, through
`drivekit.life.draws.answers` over processes, and writes ``drivekit/life/calibration.csv``, which the findings consult.
What is done stands in ``out/calibration``, a line a season: a run that was stopped goes on, and one of more seasons
adds to it. The truth of a difference is worked out for the season's own belts at its own horizon. An interval that
could not be had counts as neither held nor missed.
"""

from __future__ import annotations

import argparse
import csv
import json
import os
import sys
from collections.abc import Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np

from drivekit import __version__
from drivekit.life.draws import answers
from drivekit.study.findings import answered
from drivekit.study.hazard_fit import HazardInput
from drivekit.study.study_input import Settings, StudyInput
from tests.bench.scenarios import SCENARIOS, Drawn, Scenario, drawn

ROOT = Path(__file__).parents[2]
STORED, DONE = ROOT / "drivekit" / "life" / "calibration.csv", ROOT / "out" / "calibration"
SEED = 20
INTERVALS = ("idler_runs", "grease_runs", "idler_ratio", "grease_ratio")
CLAIMS = ("any_wrong", "idler_told", "tension_told", "grease_told", "idler_no_difference")
COLUMNS = ("scenario", "belts", "failed", "seasons", "seed", "drivekit")
WAYS = {"longer": 1, "fewer": 1, "shorter": -1, "more": -1}


def season(part: tuple[Scenario, int]) -> dict[str, Any]:
    """Draw one season, answer it, and hold the answers against what is true of it."""
    scenario, number = part
    found = drawn(scenario, np.random.default_rng([SEED, SCENARIOS.index(scenario), number]))
    asked = StudyInput(found.table, Settings(seed=number + 1))
    told = answered(HazardInput(asked))
    line: dict[str, Any] = {"season": number, "failed": int(asked.failed.sum())}
    for name, key, better in (("idler", "idler", "toothed"), ("grease", "edge_lube", "every-run")):
        head, worse = told["headline"][key], {"idler": "smooth", "edge_lube": "none"}[key]
        difference = head.get("pairs", {}).get(f"{better} minus {worse}", {})
        horizon = head.get("horizon_runs") or 1
        truth = found.gained(key, better, horizon) - found.gained(key, worse, horizon)
        line |= _held(f"{name}_runs", difference, truth)
        term = f"{key}[{better}]"
        line |= _held(f"{name}_ratio", told["hazard"].get("leading", {}).get(term, {}), found.ratio(term))
        line[f"{name}_told"] = bool(told["claims"][key].get("told"))
    line["tension_told"] = bool(told["claims"]["tension"].get("told"))
    line["any_wrong"] = _wrong(found, told["claims"])
    line["idler_no_difference"] = "no difference" in told["claims"]["idler"].get("pairs", {}).values()
    return line


def _held(name: str, interval: dict[str, Any], truth: float) -> dict[str, Any]:
    lower, upper = interval.get("lower"), interval.get("upper")
    if lower is None or upper is None:
        return {name: None, f"{name}_width": None}
    width = float(np.log(upper / lower)) if name.endswith("ratio") else upper - lower
    return {name: bool(lower - 1e-9 <= truth <= upper + 1e-9), f"{name}_width": width}


def _wrong(found: Drawn, claims: dict[str, Any]) -> bool:
    """Whether a direction is claimed where nothing is to be found, or the wrong way round; truths are all for more."""
    for name, claim in claims.items():
        ways = {*claim.get("pairs", {}).values(), *claim.get("terms", {}).values()} & set(WAYS)
        if (ways and not found.truths[name]) or (claim.get("best") == "best" and not found.truths[name]):
            return True
        if name != "tension" and any(WAYS[way] < 0 for way in ways):
            return True
    return False


def _lines(scenario: Scenario) -> list[dict[str, Any]]:
    file = DONE / f"{SCENARIOS.index(scenario):02d}.jsonl"
    return [json.loads(line) for line in file.read_text().splitlines()] if file.exists() else []


def summary(scenario: Scenario, lines: Iterable[dict[str, Any]]) -> dict[str, Any]:
    """Give one row of the stored table: shares held of those that could be had, shares null, mean widths, claims."""
    each = list(lines)
    row: dict[str, Any] = {
        "scenario": scenario.name,
        "belts": scenario.belts,
        "failed": round(float(np.mean([line["failed"] for line in each])), 1),
        "seasons": len(each),
        "seed": SEED,
        "drivekit": __version__,
    }
    for name in INTERVALS:
        known = [line for line in each if line[name] is not None]
        row[name] = round(float(np.mean([line[name] for line in known])), 4) if known else ""
        row[f"{name}_null"] = round(1 - len(known) / len(each), 4)
        row[f"{name}_width"] = round(float(np.mean([line[f"{name}_width"] for line in known])), 3) if known else ""
    return row | {name: round(float(np.mean([line[name] for line in each])), 4) for name in CLAIMS}


def run(seasons: int, workers: int) -> Iterator[dict[str, Any]]:
    """Work out what is not done yet, scenario by scenario, and give each one's row."""
    DONE.mkdir(parents=True, exist_ok=True)
    with ProcessPoolExecutor(workers) as pool:
        for scenario in SCENARIOS:
            lines = _lines(scenario)
            done = {line["season"] for line in lines}
            parts = [(scenario, number) for number in range(seasons) if number not in done]
            with (DONE / f"{SCENARIOS.index(scenario):02d}.jsonl").open("a") as file:
                for line in answers(season, parts, pool, ahead=4 * workers):
                    file.write(json.dumps(line) + "\n")
                    file.flush()
                    lines.append(line)
            print(f"{scenario.name}: {len(lines)} seasons", file=sys.stderr)
            yield summary(scenario, lines)


def main() -> None:
    """Run the calibration and write the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("seasons", type=int, nargs="?", default=2000)
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--keep", action="store_true", help="print the table and leave the stored one as it is")
    chosen = parser.parse_args()
    rows = list(run(chosen.seasons, chosen.workers))
    out = sys.stdout if chosen.keep else STORED.open("w", newline="")
    with out:
        writer = csv.DictWriter(out, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


if __name__ == "__main__":
    main()
