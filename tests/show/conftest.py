"""Findings to draw and to word: plain data, made by a fold in other words than the package's own."""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from statistics import NormalDist
from typing import Any

import pytest

from drivekit.decide.claims import best_verdict, pair_verdicts, ratio_verdict
from drivekit.show.page import pages
from drivekit.show.paper import Picture
from drivekit.study.comparisons import COMPARISONS
from tests.show.six_logs import demo_findings, studied

DECIDED = ("change_out", "outlook", "looks", "spares", "next_trial", "repeatability", "as_planned")
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
            lower.append(s)
            upper.append(upper[-1] if s == 0 and upper else 1.0)
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
        "belts": len(lives),
        "runs": sum(last - b for b, last, _ in lives),
        "failed": sum(f for *_, f in lives),
        "age": ages,
        "at_risk": at_risk,
        "failed_at": failed_at,
        "censored_at": censored_at,
        "survival": survival,
        "lower": lower,
        "upper": upper,
        "median": share_age(0.5),
        "b10": share_age(0.9),
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
                "estimate": d,
                "se": se,
                "lower": d - Z * se,
                "upper": d + Z * se,
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
        "comparison": "",
        "contrast": contrast,
        "horizon_runs": 12,
        **pair,
        "confidence": 0.95,
        "method": "areas under the two curves",
        "levels": counts,
        "verdict": "",
        "together": {"time": time, "car": car},
    }


TERMS = ("idler[toothed]", "tension_kn", "edge_lube[install]", "edge_lube[every-run]")


def plain_term(hr: float, se: float) -> dict[str, Any]:
    """Make one term of the headline fit, its limits from the standard error."""
    coef = math.log(hr)
    return {
        "coef": coef,
        "se": se,
        "robust_se": se,
        "hr": hr,
        "lower": math.exp(coef - Z * se),
        "upper": math.exp(coef + Z * se),
        "p": 0.1,
        "robust_differs": False,
    }


def plain_effect(hr: float, se: float) -> dict[str, Any]:
    """Make one term of another fit, with limits of the coefficient."""
    coef = math.log(hr)
    return {"coef": coef, "se": se, "lower": coef - Z * se, "upper": coef + Z * se, "p": 0.1}


def plain_hazard() -> dict[str, Any]:
    """Make a hazard block of 40 failures, two of whose terms are told."""
    ratios = dict(zip(TERMS, (0.4, 0.9, 0.8, 0.5), strict=True))
    errors = dict(zip(TERMS, (0.3, 0.12, 0.45, 0.3), strict=True))
    belts = [f"B{place:02d}" for place in range(1, 9)]
    moved = [0.0, 0.02, -0.03, 0.25, 0.01, -0.1, 0.0, 0.04]
    ages = [1, 3, 3, 6, 9, 12]
    return {
        "ties": "efron",
        "strata": ["car"],
        "rows": 450,
        "rows_lost": 12,
        "failed": 40,
        "failures_per_term": 10.0,
        "leads": "efron",
        "loglik": -90.0,
        "levels": {
            "idler": {"smooth": {"runs": 200, "failed": 24}, "toothed": {"runs": 250, "failed": 16}},
            "edge_lube": {
                "none": {"runs": 150, "failed": 18},
                "install": {"runs": 100, "failed": 9},
                "every-run": {"runs": 200, "failed": 13},
            },
        },
        "terms": {term: plain_term(ratios[term], errors[term]) for term in TERMS},
        "ph_test": {term: {"chi2": 1.0, "p": 0.3 + place / 10} for place, term in enumerate(TERMS)},
        "sensitivity": {
            name: {term: plain_effect(ratios[term] * factor, errors[term]) for term in TERMS}
            for name, factor in (
                ("breslow", 1.1),
                ("exact", 0.9),
                ("firth", 1.05),
                ("cloglog", 1.0),
                ("precaution_as_failure", 1.2),
            )
        },
        "unrecorded": dict(
            zip(
                TERMS,
                (
                    {"estimate": 3.1, "limit": 1.4},
                    {"estimate": 1.3, "limit": 1.0},
                    {"estimate": 1.6, "limit": 1.0},
                    {"estimate": 2.4, "limit": 1.2},
                ),
                strict=True,
            )
        ),
        "interactions": {
            "idler x tension": {"chi2": 2.0, "dof": 1, "p": 0.16, "exploratory": True},
            "idler x edge_lube": {"reason": "too few belts failed in some combination of them"},
        },
        "checks": {
            "schoenfeld": {
                "age": ages,
                "scaled": {term: [place + age / 10 - 2 for place, age in enumerate(ages)] for term in TERMS},
            },
            "belts": {
                "belt": belts,
                "seen": [1.0, 0.0, 1.0, 0.0, 1.0, 0.0, 0.0, 1.0],
                "expected": [0.02, 0.4, 0.9, 2.8, 0.7, 0.1, 0.3, 1.2],
                "deviance": [2.4, -0.9, 0.1, -2.3, 0.3, -0.4, -0.8, -0.2],
            },
            "without_belt": {
                "belt": belts,
                "exact": [True] * 8,
                "coef": {term: [math.log(ratios[term]) + step for step in moved] for term in TERMS},
            },
            "by_risk": {"runs": [80, 80, 80], "seen": [6.0, 12.0, 22.0], "expected": [8.1, 12.9, 19.0]},
            "concordance": {"estimate": 0.67, "lower": 0.55, "upper": 0.77, "pairs": 347},
        },
    }


def plain_tension_curve(*, bends: bool = False) -> dict[str, Any]:
    """Make a parabola, lowest at 8,000 N, with a line and a spline beside it."""
    at = [5000 + 60.0 * place for place in range(101)]
    bowl = [0.12 * ((tension - 8000) / 1000) ** 2 for tension in at]

    def form(values: list[float]) -> dict[str, Any]:
        return {"log_hr": values, "lower": [v - 0.4 for v in values], "upper": [v + 0.4 for v in values]}

    why = "the curve bends too little for these belts to say where it is lowest"
    best = (
        {"estimate": 8000.0, "lower": 7200.0, "upper": 8900.0}
        if bends
        else {"estimate": None, "lower": None, "upper": None, "reason": why}
    )
    return {
        "linear_vs_quadratic": {"chi2": 6.4, "dof": 1, "p": 0.011} if bends else {"chi2": 0.5, "dof": 1, "p": 0.48},
        "linear_vs_spline": {"chi2": 0.4, "dof": 1, "p": 0.5},
        "none_vs_linear": {"chi2": 0.3, "dof": 1, "p": 0.6},
        "best_n": best,
        "loglik": {"none": -90.2, "linear": -90.0, "quadratic": -89.7},
        "reference_n": 8100.0,
        "tension_n": at,
        "forms": {
            "linear": form([0.02 * (tension - 8100) / 1000 for tension in at]),
            "quadratic": form(bowl),
            "spline": form([0.9 * value for value in bowl]),
        },
        "run_n": {"estimate": 8000.0, "lower": 7200.0, "upper": 8900.0},
        "often_n": [6000.0, 10000.0],
        "belts_n": [5600.0 + 40 * place for place in range(60)],
    }


def plain_standardised(*, limits: bool = False) -> dict[str, Any]:
    """Make a standardised idler answer of 40 belts and 6 runs; the grease has a reason."""
    levels = {}
    for level, falls in (("smooth", 0.12), ("toothed", 0.06)):
        survival = [(1 - falls) ** age for age in range(1, 7)]
        edges = ([s - 0.05 for s in survival], [s + 0.02 for s in survival]) if limits else ([None] * 6, [None] * 6)
        mean = 1 + sum(survival[:-1])
        levels[level] = {
            "age": [1, 2, 3, 4, 5, 6],
            "survival": survival,
            "lower": edges[0],
            "upper": edges[1],
            "mean": mean,
        }
    gain = levels["toothed"]["mean"] - levels["smooth"]["mean"]
    told = {"estimate": gain, "lower": 0.2, "upper": 1.3}
    why = "too many draws of belts gave no estimate"
    null = {"estimate": gain, "lower": None, "upper": None, "reason": why}
    return {
        "idler": {
            "levels": levels,
            "mean_difference": {"toothed minus smooth": told if limits else null},
            "horizon_runs": 6,
            "belts": 40,
            "replicates": 999,
            "replicates_lost": 4 if limits else 141,
        },
        "edge_lube": {"reason": "the hazard fit has no estimate for one of its terms"},
    }


def season_findings() -> dict[str, Any]:
    """Make findings of an invented season of some 80 belts; the idler is told, the other questions are not."""
    return judged(unjudged(), "idler")


def unjudged() -> dict[str, Any]:
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
        lower, upper = ([max(f - r * e, 0) if f else None for f, e in zip(incidence, se, strict=True)] for r in (Z, -Z))
        causes[cause] = {"age": curve["age"], "incidence": incidence, "se": se, "lower": lower, "upper": upper}
    over = {
        "time": {
            "columns": ["first third", "middle third", "last third"],
            "levels": {"smooth": [180, 90, 20], "toothed": [10, 110, 190]},
            "share": 0.8,
            "together": True,
        },
        "car": {
            "columns": ["red", "green", "white"],
            "levels": {"smooth": [100, 95, 95], "toothed": [100, 110, 100]},
            "share": 0.4,
            "together": False,
        },
    }
    calm = {
        "time": {
            **over["time"],
            "levels": {"low": [60, 60, 60], "middle": [60, 62, 60], "high": [58, 60, 61]},
            "share": 0.34,
            "together": False,
        },
        "car": {
            **over["car"],
            "levels": {"low": [60, 60, 60], "middle": [60, 62, 60], "high": [58, 60, 61]},
            "share": 0.34,
            "together": False,
        },
    }
    return {
        "schema": "drivekit-findings/1",
        "comparisons": {comparison.name: comparison.words() for comparison in COMPARISONS},
        "log": {
            "name": "season-two",
            "invented": True,
            "belts": curve["belts"] + 3,
            "runs": 612,
            "unused": 2,
            "unknown_age": 1,
            "failed": curve["failed"],
            "censored": curve["belts"] - curve["failed"],
            "causes": {"tooth-jump": 18, "tooth-loss": 12, "precaution": 20},
            "sha256": "ab" * 32,
            "warnings": ['runs.csv:17:tension_n: warning: "16000" is twice the usual; check the gauge'],
            "absent": [{"column": "span_hz", "adds": "tension from the pitch of a plucked span"}],
        },
        "settings": {
            "failures": list(causes),
            "confidence": 0.95,
            "horizon_runs": 12,
            "tension_cuts_n": [6451.3, 7296.0],
            "seed": 1,
        },
        "headline": {
            "idler": head(idler, "toothed minus smooth", time=True),
            "tension": head(tension, "middle minus low"),
            "edge_lube": head(lube, "every-run minus none"),
        },
        "life": {
            "overall": curve,
            "idler": idler,
            "tension": tension,
            "edge_lube": lube,
            "more": {
                "idler_support": {**support, "exploratory": True},
                "compound": {"reason": "the log has no compound column", "exploratory": True},
            },
        },
        "causes": causes,
        "hazard": plain_hazard(),
        "tension_curve": plain_tension_curve(),
        "standardised": plain_standardised(),
        "overlap": {"idler": over, "tension": calm, "edge_lube": calm},
        **{name: {"reason": "nobody asked"} for name in DECIDED},
        "tracking": {
            "red": {
                "n": 8,
                "readings": {
                    "run": [1, 2, 3, 4, 5, 6, 7, 8],
                    "belt": ["A", "A", "B", "B", "C", "C", "D", "D"],
                    "net_flats": [-1.0, 1.0] * 4,
                    "difference_c": [5.5, 2.5, 3.5, -1.5, -1.0, -3.0, 2.0, -4.0],
                },
            }
        },
        "second_opinion": {
            "library": "lifelines",
            "version": "0.30.3",
            "compared": ["curves of the idler levels"],
            "largest_difference": 2e-16,
        },
        "provenance": {
            "drivekit": "0.1.0",
            "python": "3.11.2",
            "packages": {"numpy": "2.4.0", "matplotlib": "3.11.2"},
            "started": "2026-11-25T14:00:00Z",
            "files": {"figures/idler.svg": "cd" * 32},
        },
    }


def leading_of(hazard: dict[str, Any]) -> dict[str, Any]:
    """Let Firth's ratio lead where failures are few or the plain one has none."""
    found = {}
    for term, plain in hazard["terms"].items():
        penalised = hazard["sensitivity"].get("firth", {}).get(term, {})
        if penalised.get("coef") is not None and (hazard["leads"] == "firth" or plain["hr"] is None):
            ends = [None if penalised[end] is None else math.exp(penalised[end]) for end in ("coef", "lower", "upper")]
            why = plain.get("reason") or "there are fewer than 5 failures for each term"
            found[term] = dict(zip(("hr", "lower", "upper"), ends, strict=True)) | {"by": "firth", "reason": why}
        else:
            found[term] = {key: plain[key] for key in ("hr", "lower", "upper", "reason") if key in plain}
            found[term]["by"] = "efron"
    return found


def judged(found: dict[str, Any], *told: str) -> dict[str, Any]:
    """Enter what may be claimed of findings, with these questions told; the headline's pair is said by its own numbers.

    Every level has failures enough, and lives four runs short of its horizon.
    """
    hazard, curve = found["hazard"], found["tension_curve"]
    if "reason" not in hazard:
        hazard["leading"] = leading_of(hazard)
        known = sorted((test["p"], term) for term, test in hazard["ph_test"].items() if test["p"] is not None)
        hazard["drift"] = {term: min(1.0, p * (len(known) - rank)) for rank, (p, term) in enumerate(known)}
    found["claims"] = {}
    for name, head in found["headline"].items():
        if "contrast" not in head:
            found["claims"][name] = {"reason": head["reason"]}
            continue
        block = found["standardised"].get(name, {}) if head.get("basis") == "standardised" else found["life"][name]
        pairs = block.get("mean_difference", {})
        pairs = {} if "reason" in pairs else pairs
        own = {key: head.get(key) for key in ("estimate", "lower", "upper")}
        head["pairs"] = {pair: {key: d[key] for key in own} for pair, d in pairs.items()} | {head["contrast"]: own}
        levels = {level for pair in head["pairs"] for level in pair.split(" minus ")}
        head["to_horizon"] = {level: {"failed": 9, "estimate": head["horizon_runs"] - 4.0} for level in levels}
        claim: dict[str, Any] = {
            "test": "likelihood ratio",
            "chi2": 5.0,
            "dof": 1,
            "p": 0.02,
            "p_small": 0.02,
            "p_holm": 0.06,
        }
        claim |= {"told": name in told, "claimed": name in told, "pairs": pair_verdicts(head, told=name in told)}
        ratios = hazard.get("leading", {})
        own_terms = [term for term in found["comparisons"][name]["terms"] if term in ratios]
        claim["terms"] = {term: ratio_verdict(ratios[term], told=name in told, failed=9) for term in own_terms}
        found["claims"][name] = claim
    if "reason" not in found["claims"]["tension"]:
        found["claims"]["tension"]["best"] = best_verdict(curve, told="tension" in told, hint=False)
    for block in found["life"]["more"].values():
        pairs = block.get("mean_difference", {})
        if "levels" not in block:
            continue
        contrast = min(pairs, key=lambda pair: pairs[pair]["se"])
        horizon = found["settings"]["horizon_runs"]
        sides = {level: {"failed": 9, "estimate": horizon - 4.0} for level in block["levels"]}
        block["headline"] = {"contrast": contrast, "horizon_runs": horizon, "confidence": 0.95, **pairs[contrast]}
        block["headline"] |= {"pairs": pairs, "to_horizon": sides}
        block["claims"] = {"pairs": pair_verdicts(block["headline"])}
    return found


def with_idlers(levels: dict[str, list[tuple[int, int, bool]]], contrast: str | None) -> dict[str, Any]:
    """Put other belts under the idler comparison."""
    found, groups = season_findings(), plain_groups(levels)
    found["life"]["idler"] = groups
    reason = {"reason": "every run was made on one idler, smooth: nothing to compare it with"}
    found["headline"]["idler"] = head(groups, contrast) if contrast else reason
    return judged(found, "idler")


def late_starters() -> dict[str, Any]:
    """Findings in which the one belt that began new on the smooth idler failed at once: S is 0 from run 1."""
    used = [(3, last + 4, failed) for _, last, failed in lives(1, 20, 8)]
    found = with_idlers({"smooth": [(0, 1, True), *used], "toothed": lives(2, 15, 8)}, "toothed minus smooth")
    curve = found["life"]["idler"]["levels"]["smooth"]
    curve["said"] = plain_curve(used) | {"from": 4}
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
def alike_season() -> dict[str, Any]:
    """The same season with a standardised idler answer first, and a tension that bends."""
    found = season_findings()
    found["standardised"] = plain_standardised(limits=True)
    found["tension_curve"] = plain_tension_curve(bends=True)
    told = found["standardised"]["idler"]["mean_difference"]["toothed minus smooth"]
    found["headline"]["idler"] |= {**told, "basis": "standardised", "horizon_runs": 6}
    return judged(found, "idler", "tension")


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
def judge() -> Callable[..., dict[str, Any]]:
    """Enter anew what may be claimed of findings that a test has changed, with these questions told."""
    return judged


@pytest.fixture
def findings_of() -> Any:
    """Give any of the awkward findings by its name."""
    return lambda name: AWKWARD[name]()


@pytest.fixture(scope="session")
def demo() -> dict[str, Any]:
    """Findings of the second demo season, studied once."""
    return demo_findings("season-two")


@pytest.fixture(scope="session")
def demo_pages(demo: dict[str, Any]) -> dict[str, str]:
    """Both pages of them, drawn once."""
    return pages(demo)


@pytest.fixture
def undrawn(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave the drawing out where a test reads words: every picture of a page or slide is an empty one."""
    monkeypatch.setattr(Picture, "svg", lambda *_, **__: '<svg viewBox="0 0 1 1"></svg>')


@pytest.fixture(scope="session")
def drawn() -> Callable[..., dict[str, Any]]:
    """Draw a picture and give its artists by their gid, in the order in which they were drawn."""

    def artists(picture: Picture, size: str = "screen") -> dict[str, Any]:
        found = picture.figure(size).findobj(lambda artist: artist.get_gid() is not None)
        return {artist.get_gid(): artist for artist in found}

    return artists


@pytest.fixture(scope="session")
def six_logs(tmp_path_factory: pytest.TempPathFactory) -> dict[str, dict[str, Any]]:
    """The findings of six logs, some of them awkward; not to be changed."""
    return studied(tmp_path_factory.mktemp("logs"))
