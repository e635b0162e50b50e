"""How often the intervals hold and the claims are right, on seasons drawn from known models.

``make calibration SEASONS=2000`` draws so many of each of `tests.bench.scenarios.SCENARIOS`, through
`drivekit.life.draws.answers` over processes, and writes ``drivekit/life/calibration.csv``, which the findings consult;
with ``--decisions`` the same seasons are decided on (`tests.bench.calibration_decisions`), and
``drivekit/life/calibration_decisions.csv`` is written. What is done stands in ``out/calibration``, a line a season: a
run that was stopped goes on, and one of more seasons adds to it; with ``--add`` so does one elsewhere to the seasons of
the stored table, to the digits stored. The truth of a difference is worked out for the season's own belts at its own
horizon. An interval that could not be had counts as neither held nor missed.
"""

from __future__ import annotations

import argparse
import csv
import json
import os
import sys
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from drivekit import __version__
from drivekit.decide.tracking import tracking
from drivekit.life.draws import answers
from drivekit.study.as_json import plain
from drivekit.study.calibration import calibration_rows
from drivekit.study.claims import answered
from drivekit.study.hazard_fit import HazardInput
from drivekit.study.study_input import Settings, StudyInput
from tests.bench import calibration_decisions as decisions
from tests.bench.scenarios import SCENARIOS, SEED, Drawn, Scenario, drawn, generator_of

ROOT = Path(__file__).parents[2]
README = ROOT / "README.md"
LEVEL = 0.05
QUESTIONS = {"idler": "idler", "tension": "tension", "grease": "edge_lube"}
INTERVALS = (
    "idler_runs", "grease_runs", "idler_ratio", "grease_ratio", "b10", "median", "curve", "band", "slope", "even_point",
)  # fmt: skip
CLAIMS = (
    "any_wrong", "idler_no_difference", "idler_exact", "drift",
    *(f"{name}_{how}" for name in QUESTIONS for how in ("told", "claimed", "test")),
)  # fmt: skip
TRACKED = {"belts": 20, "runs": 6, "slope": -1.8, "even_point": 2.0, "belt_sd": 1.5, "noise_sd": 1.8}
"""Readings of a car whose crew steers by the last one: belts, runs of each, degrees a flat, and their spreads in C."""
WAYS = {"longer": 1, "fewer": 1, "shorter": -1, "more": -1}


def season(part: tuple[Scenario, int]) -> dict[str, Any]:
    """Draw one season, answer it, and hold the answers against what is true of it."""
    scenario, number = part
    found = drawn(scenario, generator_of(part))
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
    for name, key in QUESTIONS.items():
        claim = told["claims"][key]
        line |= {f"{name}_{how}": bool(claim.get(how)) for how in ("told", "claimed")}
        line[f"{name}_test"] = claim.get("p", 1.0) <= LEVEL
    exact = told["life"]["idler"].get("logrank", {}).get("p_exact")
    line["idler_exact"] = exact is not None and exact <= LEVEL
    line["drift"] = min(told["hazard"].get("drift", {}).values(), default=1.0) <= LEVEL
    line |= _of_curve(found, told["life"]["idler"]["levels"])
    line |= _tracked(generator_of(part, 1))
    line["any_wrong"] = _wrong(found, told["claims"])
    line["idler_no_difference"] = "no difference" in told["claims"]["idler"].get("pairs", {}).values()
    return line


def _held(name: str, interval: dict[str, Any], truth: float) -> dict[str, Any]:
    lower, upper = interval.get("lower"), interval.get("upper")
    if name in ("b10", "median") and interval.get("lower") is not None:
        upper = np.inf if upper is None else upper  # not reached by the oldest belt: it says no more than that
    if lower is None or upper is None:
        return {name: None, f"{name}_width": None}
    width = float(np.log(upper / lower)) if name.endswith("ratio") else upper - lower
    return {name: bool(lower - 1e-9 <= truth <= upper + 1e-9), f"{name}_width": width if np.isfinite(width) else None}


def _of_curve(found: Drawn, levels: dict[str, Any]) -> dict[str, Any]:
    """Hold the smooth idler's curve, band and ages against those belts' own truth; `curve` is a share of ages."""
    said = levels.get("smooth", {}).get("said", {})
    if not said or said["from"] > 1:
        return {f"{name}{part}": None for name in ("curve", "band", "b10", "median") for part in ("", "_width")}
    truth = found.survival_of(False, np.array(said["age"]))
    line: dict[str, Any] = {}
    for name, ends in (("curve", said), ("band", said["band"])):
        lower, upper = (np.array(ends[side], float) for side in ("lower", "upper"))
        known = ~np.isnan(lower) & ~np.isnan(upper)
        holds = ((lower <= truth + 1e-9) & (truth <= upper + 1e-9))[known]
        line[name] = None if not known.any() else bool(holds.all()) if name == "band" else float(holds.mean())
        line[f"{name}_width"] = float((upper - lower)[known].mean()) if known.any() else None
    whole = found.survival_of(False, np.arange(1, 200))
    for name, share in (("b10", 0.9), ("median", 0.5)):
        line |= _held(name, said[name], 1.0 + int(np.argmax(whole <= share)))
    return line


def _tracked(generator: np.random.Generator) -> dict[str, Any]:
    """Draw a car's readings, each setting steered by the last reading, and hold its tracking to the truth."""
    true = TRACKED
    belt = np.repeat(np.arange(int(true["belts"])), int(true["runs"]))
    own, noise = (
        true["belt_sd"] * generator.normal(size=belt[-1] + 1),
        true["noise_sd"] * generator.normal(size=belt.size),
    )
    net, read = np.zeros(belt.size), np.zeros(belt.size)
    for run, one in enumerate(belt):
        net[run] = np.round(net[run - 1] - read[run - 1] / true["slope"]) if run else 0.0
        read[run] = true["slope"] * (net[run] - true["even_point"]) + own[one] + noise[run]
    found = tracking(net, read, belt.astype(object))
    each = (("slope", found.slope, true["slope"]), ("even_point", found.zero, true["even_point"]))
    return {key: value for name, one, truth in each for key, value in _held(name, plain(one), truth).items()}


def _wrong(found: Drawn, claims: dict[str, Any]) -> bool:
    """Whether a direction is claimed where nothing is to be found, or the wrong way round; truths are all for more."""
    for name, claim in claims.items():
        ways = {*claim.get("pairs", {}).values(), *claim.get("terms", {}).values()} & set(WAYS)
        if (ways and not found.truths[name]) or (claim.get("best") == "best" and not found.truths[name]):
            return True
        if name != "tension" and any(WAYS[way] < 0 for way in ways):
            return True
    return False


class Kind(NamedTuple):
    """What is worked out of each season: the work, what of it is held against the truth, and what is told or not."""

    name: str
    work: Callable[[tuple[Scenario, int]], dict[str, Any]]
    held: tuple[str, ...]
    claims: tuple[str, ...] = ()

    @property
    def stored(self) -> Path:
        """Give where its table is kept."""
        return ROOT / "drivekit" / "life" / f"{self.name}.csv"

    def done(self, scenario: Scenario) -> Path:
        """Give where the seasons of one scenario stand, a line each."""
        return ROOT / "out" / self.name / f"{SCENARIOS.index(scenario):02d}.jsonl"


ANSWERS = Kind("calibration", season, INTERVALS, CLAIMS)
DECISIONS = Kind("calibration_decisions", decisions.decided, decisions.HELD)


def summary(kind: Kind, scenario: Scenario, lines: Iterable[dict[str, Any]]) -> dict[str, Any]:
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
    for name in kind.held:
        known = [line for line in each if line[name] is not None]
        row[name] = round(float(np.mean([line[name] for line in known])), 4) if known else ""
        row[f"{name}_null"] = round(1 - len(known) / len(each), 4)
        if (width := f"{name}_width") in each[0]:
            widths = [line[width] for line in known if line[width] is not None]
            row[width] = round(float(np.mean(widths)), 3) if widths else ""
    return row | {name: round(float(np.mean([line[name] for line in each])), 4) for name in kind.claims}


def _alone() -> None:
    """Keep a worker to one core: the others have their own, and threads would only wait for each other."""
    os.cpu_count = lambda: 1


def together(one: dict[str, Any], other: dict[str, Any]) -> dict[str, Any]:
    """Put two rows of one scenario together: each season counts alike, for a width or a share held each that had it."""
    row = {**other, "seasons": int(one["seasons"]) + int(other["seasons"])}
    for name in row.keys() - {"scenario", "belts", "seasons", "seed", "drivekit"}:
        null = f"{name.removesuffix('_width')}_null"
        parts = [
            (float(each[name]), float(each["seasons"]) * (1 - float(each.get(null, 0))))
            for each in (one, other)
            if each[name] != ""
        ]
        weight = sum(often for _, often in parts)
        digits = 3 if name.endswith("_width") else 1 if name == "failed" else 4
        row[name] = round(sum(share * often for share, often in parts) / weight, digits) if weight else ""
    return row


def run(kind: Kind, seasons: int, workers: int, stored: dict[str, dict[str, Any]]) -> Iterator[dict[str, Any]]:
    """Work out what is neither done nor stored yet, scenario by scenario, and give each one's row."""
    with ProcessPoolExecutor(workers, initializer=_alone) as pool:
        for scenario in SCENARIOS:
            before = stored.get(scenario.name)
            begin, file = int(before["seasons"]) if before else 0, kind.done(scenario)
            file.parent.mkdir(parents=True, exist_ok=True)
            with file.open("a+") as kept:
                kept.seek(0)
                lines = [line for line in map(json.loads, kept) if line["season"] >= begin]
                done = {line["season"] for line in lines}
                parts = [(scenario, number) for number in range(begin, seasons) if number not in done]
                for line in answers(kind.work, parts, pool, ahead=4 * workers):
                    kept.write(json.dumps(line) + "\n")
                    kept.flush()
                    lines.append(line)
            print(f"{scenario.name}: {begin + len(lines)} seasons", file=sys.stderr)
            new = [summary(kind, scenario, lines)] if lines else []
            yield together(before, *new) if before and new else before or new[0]


def main() -> None:
    """Run the calibration and write the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("seasons", type=int, nargs="?", default=2000)
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--keep", action="store_true", help="print the table and leave the stored one as it is")
    parser.add_argument("--add", action="store_true", help="draw the seasons beyond those of the stored table only")
    parser.add_argument("--decisions", action="store_true", help="decide on the seasons in place of answering")
    chosen = parser.parse_args()
    kind, stored = DECISIONS if chosen.decisions else ANSWERS, {}
    if chosen.add:
        with kind.stored.open(newline="") as file:
            stored = {row["scenario"]: row for row in csv.DictReader(file)}
    rows = list(run(kind, chosen.seasons, chosen.workers, stored))
    out = sys.stdout if chosen.keep else kind.stored.open("w", newline="")
    with out:
        writer = csv.DictWriter(out, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
    if not chosen.keep:
        _into_readme(kind)


def _into_readme(kind: Kind) -> None:
    """Write the stored table into the README, between its two marks there."""
    head, rows = calibration_rows(kind.name)
    lines = [head, ["---"] * len(head), *rows]
    text = README.read_text(encoding="utf-8")
    mark = f"<!-- make calibration writes this table: {kind.name} -->"
    before, _, rest = text.partition(mark)
    _, end, after = rest.partition("<!-- to here -->")
    set_out = "\n".join("| " + " | ".join(line) + " |" for line in lines)
    README.write_text(f"{before}{mark}\n\n{set_out}\n\n{end}{after}", encoding="utf-8")


if __name__ == "__main__":
    main()
