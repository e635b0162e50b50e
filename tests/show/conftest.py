"""Findings to draw and to word: plain data, made by a fold in other words than the package's own."""

from __future__ import annotations

import math
import random
from statistics import NormalDist
from typing import Any

import pytest

Z = NormalDist().inv_cdf(0.975)


def plain_curve(lives: list[tuple[int, int, bool]], horizon: int = 12) -> dict[str, Any]:
    """Fold belts into a CURVE block; a life is (runs before, last run, failed)."""
    oldest = max(last for _, last, _ in lives)
    ages = [age for age in range(1, oldest + 1) if any(before < age <= last for before, last, _ in lives)]
    at_risk = [sum(before < age <= last for before, last, _ in lives) for age in ages]
    failed_at = [sum(last == age and failed for _, last, failed in lives) for age in ages]
    censored_at = [sum(last == age and not failed for _, last, failed in lives) for age in ages]
    s, greenwood, survival, lower, upper = 1.0, 0.0, [], [], []
    for n, d in zip(at_risk, failed_at, strict=True):
        s *= 1 - d / n
        greenwood = greenwood + d / (n * (n - d)) if n > d else math.inf
        survival.append(s)
        if s in (0.0, 1.0):
            lower.append(None if s == 0 else 1.0)
            upper.append(None if s == 0 else 1.0)
            continue
        reach = Z * math.sqrt(greenwood) / abs(math.log(s))
        lower.append(s ** math.exp(reach))
        upper.append(s ** math.exp(-reach))

    def first(values: list[float | None], share: float) -> int | None:
        return next((a for a, v in zip(ages, values, strict=True) if v is not None and v <= share + 1e-12), None)

    def share_age(share: float) -> dict[str, Any]:
        three = {"estimate": first(survival, share), "lower": first(lower, share), "upper": first(upper, share)}
        return three if None not in three.values() else {**three, "reason": "too few belts lasted that long"}

    before = dict(zip(ages, survival, strict=True))
    mean = 1 + sum(before.get(age, 1.0) for age in range(1, horizon))
    return {
        "belts": len(lives), "runs": sum(last - b for b, last, _ in lives), "failed": sum(f for *_, f in lives),
        "age": ages, "at_risk": at_risk, "failed_at": failed_at, "censored_at": censored_at,
        "survival": survival, "lower": lower, "upper": upper, "median": share_age(0.5), "b10": share_age(0.9),
        "mean_to_horizon": {"estimate": mean, "se": 0.5},
    }


def plain_groups(levels: dict[str, list[tuple[int, int, bool]]]) -> dict[str, Any]:
    """Fold each level; the differences are those of the means above."""
    curves = {level: plain_curve(lives) for level, lives in levels.items()}
    if len(levels) == 1:
        why = {"reason": f"every run was made on {next(iter(levels))}"}
        return {"levels": curves, "logrank": why, "mean_difference": why, "blank_runs": 0, "changed_belts": 0}
    names, pairs = list(curves), {}
    for later in range(1, len(names)):
        for earlier in range(later):
            means = [curves[names[place]]["mean_to_horizon"]["estimate"] for place in (later, earlier)]
            d, se = means[0] - means[1], 0.7
            pairs[f"{names[later]} minus {names[earlier]}"] = {
                "estimate": d, "se": se, "lower": d - Z * se, "upper": d + Z * se,
            }
    test = {"chi2": 4.2, "dof": len(names) - 1, "p": 0.04, "p_holm": 0.12, "p_exact": 0.045}
    return {"levels": curves, "logrank": test, "mean_difference": pairs, "blank_runs": 3, "changed_belts": 4}


def lives(seed: int, belts: int, mean: float, oldest: int = 26) -> list[tuple[int, int, bool]]:
    """Draw lives: geometric ages at failure, a third taken off early, some that came used."""
    draw = random.Random(seed)
    made = []
    for _ in range(belts):
        before = draw.choice([0, 0, 0, 0, 2, 5])
        last = min(oldest, before + 1 + int(draw.expovariate(1 / mean)))
        made.append((before, last, draw.random() < 0.66))
    return made


def head(groups: dict[str, Any], contrast: str, *, time: bool = False, car: bool = False) -> dict[str, Any]:
    """Make a headline of one pair."""
    counts = {
        level: {"belts": c["belts"], "failed": c["failed"], "runs": c["runs"], "mean": c["mean_to_horizon"]["estimate"]}
        for level, c in groups["levels"].items()
    }
    pair = groups["mean_difference"].get(contrast, {"estimate": None, "reason": "one level only"})
    return {
        "comparison": "", "contrast": contrast, "horizon_runs": 12, **pair, "confidence": 0.95,
        "method": "areas under the two curves", "levels": counts, "verdict": "", "together": {"time": time, "car": car},
    }


def season_findings() -> dict[str, Any]:
    overall = lives(1, 84, 11)
    idler = plain_groups({"smooth": lives(2, 40, 8), "toothed": lives(3, 48, 16)})
    tension = plain_groups({"low": lives(4, 30, 9), "middle": lives(5, 31, 15), "high": lives(6, 29, 10)})
    lube = plain_groups({"none": lives(7, 28, 9), "install": lives(8, 33, 10), "every-run": lives(9, 30, 12)})
    support = plain_groups({"single": lives(10, 41, 11), "three-point": lives(11, 43, 12)})
    curve = plain_curve(overall)
    causes = {}
    for place, (cause, share) in enumerate(
        {"tooth-jump": 0.4, "tooth-loss": 0.25, "edge-split": 0.2, "cord-pull": 0.15, "unknown": 0.0}.items()
    ):
        incidence = [share * (1 - s) for s in curve["survival"]]
        se = [0.25 * value + 0.001 * place for value in incidence]
        causes[cause] = {"age": curve["age"], "incidence": incidence, "se": se}
    over = {
        "time": {"columns": ["first third", "middle third", "last third"],
                 "levels": {"smooth": [180, 90, 20], "toothed": [10, 110, 190]}, "share": 0.8, "together": True},
        "car": {"columns": ["red", "green", "white"],
                "levels": {"smooth": [100, 95, 95], "toothed": [100, 110, 100]}, "share": 0.4, "together": False},
    }
    calm = {
        "time": {**over["time"], "levels": {"low": [60, 60, 60], "middle": [60, 62, 60], "high": [58, 60, 61]},
                 "share": 0.34, "together": False},
        "car": {**over["car"], "levels": {"low": [60, 60, 60], "middle": [60, 62, 60], "high": [58, 60, 61]},
                "share": 0.34, "together": False},
    }
    return {
        "schema": "drivekit-findings/1",
        "log": {"name": "season-two", "invented": True, "belts": 88, "runs": 612, "unused": 2, "unknown_age": 1,
                "failed": curve["failed"], "censored": curve["belts"] - curve["failed"],
                "causes": {"tooth-jump": 18, "tooth-loss": 12, "precaution": 20}, "sha256": "ab" * 32,
                "warnings": ["runs.csv:17:tension_n: warning: \"16000\" is twice the usual; check the gauge"],
                "absent": [{"column": "span_hz", "adds": "tension from the pitch of a plucked span"}]},
        "settings": {"failures": list(causes), "confidence": 0.95, "horizon_runs": 12,
                     "tension_cuts_n": [6451.3, 7296.0], "seed": 1},
        "headline": {"idler": head(idler, "toothed minus smooth", time=True),
                     "tension": head(tension, "middle minus low"),
                     "edge_lube": head(lube, "every-run minus none")},
        "life": {"overall": curve, "idler": idler, "tension": tension, "edge_lube": lube,
                 "more": {"idler_support": {**support, "exploratory": True},
                          "compound": {"reason": "the log has no compound column", "exploratory": True}}},
        "causes": causes,
        "overlap": {"idler": over, "tension": calm, "edge_lube": calm},
        "second_opinion": {"library": "lifelines", "version": "0.30.3", "compared": ["curves of the idler levels"],
                           "largest_difference": 2e-16},
        "provenance": {"drivekit": "0.1.0", "python": "3.11.2", "packages": {"numpy": "2.4.0", "matplotlib": "3.11.2"},
                       "started": "2026-11-25T14:00:00Z", "files": {"figures/idler.svg": "cd" * 32}},
    }


def with_idlers(levels: dict[str, list[tuple[int, int, bool]]], contrast: str | None) -> dict[str, Any]:
    """Put other belts under the idler comparison."""
    found, groups = season_findings(), plain_groups(levels)
    found["life"]["idler"] = groups
    reason = {"reason": "every run was made on one idler, smooth: nothing to compare it with"}
    found["headline"]["idler"] = head(groups, contrast) if contrast else reason
    return found


def late_starters() -> dict[str, Any]:
    """Findings in which the one belt that began new on the smooth idler failed at once: S is 0 from run 1."""
    used = [(3, last + 4, failed) for _, last, failed in lives(1, 20, 8)]
    found = with_idlers({"smooth": [(0, 1, True), *used], "toothed": lives(2, 15, 8)}, "toothed minus smooth")
    curve = found["life"]["idler"]["levels"]["smooth"]
    start = curve["age"].index(4)
    share, survival = 1.0, []
    for n, d in zip(curve["at_risk"][start:], curve["failed_at"][start:], strict=True):
        share *= 1 - d / n
        survival.append(share)
    curve["from_age"] = {"from": 4, "age": curve["age"][start:], "survival": survival}
    return found


LONG = "an idler held by a bracket whose name runs on and on"
LONGER = "another-quite-unreasonably-long-name-in-a-single-word"
WIDTHS = ("60 mm", "65 mm", "70 mm", "75 mm", "80 mm")

AWKWARD = {
    "one level": lambda: with_idlers({"smooth": lives(1, 12, 8)}, None),
    "five levels": lambda: with_idlers({w: lives(i, 30, 9) for i, w in enumerate(WIDTHS)}, "65 mm minus 60 mm"),
    "long names": lambda: with_idlers(
        {LONG: lives(1, 20, 8), LONGER: lives(2, 30, 12), "short": lives(3, 20, 9)}, f"short minus {LONG}"
    ),
    "200 belts": lambda: with_idlers(
        {"smooth": lives(1, 100, 12, 60), "toothed": lives(2, 100, 18, 60)}, "toothed minus smooth"
    ),
    "a single age": lambda: with_idlers(
        {"smooth": [(0, 1, True)] * 4, "toothed": [(0, 1, True)] * 3}, "toothed minus smooth"
    ),
    "a level without failures": lambda: with_idlers(
        {"smooth": lives(1, 20, 8), "toothed": [(b, last, False) for b, last, _ in lives(2, 15, 8)]},
        "toothed minus smooth",
    ),
    "late starters": late_starters,
    "a usual season": season_findings,
}


@pytest.fixture
def season() -> dict[str, Any]:
    """Findings of an invented season of some 80 belts, all blocks there."""
    return season_findings()


@pytest.fixture(scope="session")
def usual_season() -> dict[str, Any]:
    """The same, for tests that change nothing."""
    return season_findings()


@pytest.fixture(params=AWKWARD)
def awkward(request: pytest.FixtureRequest) -> dict[str, Any]:
    """Findings that are hard to draw, one after the other."""
    return AWKWARD[request.param]()


@pytest.fixture
def findings_of() -> Any:
    """Give any of the awkward findings by its name."""
    return lambda name: AWKWARD[name]()


@pytest.fixture(scope="session")
def demo() -> dict[str, Any]:
    """Findings of the second demo season, studied once."""
    from pathlib import Path

    from drivekit.findings import study
    from drivekit.log import read_season

    return study(read_season(Path(__file__).parents[2] / "data" / "season-two"))
