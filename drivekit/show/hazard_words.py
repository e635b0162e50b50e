"""What the hazard study says, in sentences: how many failures it rests on, each term, the curve of tension, checks.

No sentence gives a chance without saying of what, and none calls a chance small enough by itself: what may be claimed
stands in the findings. Tension is spoken of as a curve where a bend as large would come up by chance less than 1 time
in 20 and a best tension is told or hinted at; the line's ratio is then not said at all.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import NormalDist

from drivekit.decide.claims import RARE_BEND, best_verdict
from drivekit.show import phrases as say
from drivekit.show.phrases import Plain, Ratio
from drivekit.units import POUND_N, Units

__all__ = [
    "best_advice",
    "best_judged",
    "best_words",
    "by_method",
    "calibrated_words",
    "checks_words",
    "curved",
    "drift_words",
    "failures_words",
    "influence_words",
    "interaction_words",
    "methods_table",
    "most_moving",
    "risk_words",
    "robust_words",
    "sensitivity_words",
    "surprise_words",
    "tension_line_words",
    "tension_told",
    "tension_unit",
    "tension_words",
    "term_words",
    "terms_told_words",
    "unrecorded_words",
]

FITS = {
    "breslow": "Breslow's ties",
    "exact": "exact ties",
    "firth": "Firth's penalty",
    "cloglog": "age by age",
    "precaution_as_failure": "precautions too",
}
"""The other fits, by what is other in them."""


def failures_words(findings: Plain) -> tuple[str, ...]:
    """Say from how many failures how many numbers are read, what was left out, and which method leads."""
    hazard = findings["hazard"]
    terms = round(hazard["failed"] / hazard["failures_per_term"])
    failures, written = say.counted(hazard["failed"], "failure"), say.counted(hazard["rows"], "run")
    each = say.decimal(hazard["failures_per_term"])
    numbers = "the one number" if terms == 1 else f"each of the {terms} numbers"
    said = [f"{failures} in {written} with every setting written: {each} for {numbers} asked of them."]
    if hazard["rows_lost"]:
        said.append(f"{say.counted(hazard['rows_lost'], 'run')} with a blank stayed out.")
    if hazard["leads"] == "firth":
        said.append(
            "With fewer than 5 failures for each the usual fit makes differences too large, so the answers are "
            "those of Firth's penalised fit, which does not."
        )
    return tuple(said)


def best_judged(findings: Plain) -> str:
    """Look up whether a best tension may be claimed, as :func:`drivekit.decide.claims.best_verdict` gives it.

    Of a curve fitted anew under controls it is a hint at the most.
    """
    if claim := say.claim_of(findings, "tension"):
        return str(claim.get("best", "no answer"))
    curve = findings.get("tension_curve") or {"reason": "there is none"}
    # a likelihood ratio with two degrees of freedom passes x by chance exp(-x / 2)
    by_chance = 0.0 if "reason" in curve else math.exp(curve["loglik"]["none"] - curve["loglik"]["quadratic"])
    return best_verdict(curve, told=False, hint=by_chance <= 1 - findings["settings"]["confidence"])


def _bends(findings: Plain) -> bool:
    test = findings.get("tension_curve", {}).get("linear_vs_quadratic", {})
    return test.get("p") is not None and bool(test["p"] < RARE_BEND)


def curved(findings: Plain, term: str) -> bool:
    """Whether a term is a number that is spoken of as a curve, so that no one ratio is said of it.

    It bends, and where on it belts last best is told or hinted at.
    """
    return "[" not in term and _bends(findings) and best_judged(findings) in ("best", "hint")


def term_words(findings: Plain) -> tuple[str, ...]:
    """Say every term in a sentence; of tension, where it bends, only that it is a curve."""
    hazard = findings["hazard"]
    return tuple(
        "Tension is a curve here: no one ratio says what more of it does."
        if curved(findings, term)
        else say.ratio_said(findings, say.leading(hazard, term))
        for term in hazard["terms"]
    )


def terms_told_words(findings: Plain) -> str:
    """Say which settings go with fewer or more failures, as far as the limits tell."""
    hazard = findings["hazard"]
    straight = [say.leading(hazard, term) for term in hazard["terms"] if not curved(findings, term)]
    told = [ratio for ratio in straight if say.ratio_verdict(findings, ratio) in ("fewer", "more")]
    bent, rest = len(straight) < len(hazard["terms"]), len(straight) - len(told)
    curve = "; tension is a curve" if bent else ""
    if not told:
        whose = "none of the others" if bent else "none of them"
        ways = {name: claim.get("pairs", {}).values() for name, claim in findings["claims"].items()}
        nouns = [say.wording(findings, name).noun for name in ways if {"longer", "shorter"} & {*ways[name]}]
        if nouns and not bent:
            by_runs = f"though {say.listed(nouns)} can, by runs"
            return f"All settings at once: no one ratio of failures can be told, {by_runs}."
        return f"All settings at once{curve}: for {whose} can a difference in failures be told from chance."
    each = []
    for ratio in told:
        words, level = say.wording_of_term(findings, ratio.term)
        each.append(f"{say.change(ratio.hr or 1)} {words.phrase(level) if level else f'with each {words.step}'}")
    end = {0: "", 1: "; the other one cannot be told"}.get(rest, f"; the other {rest} cannot be told")
    return f"All settings at once, failures a run: {say.listed(each)}{curve}{end}."


def tension_unit(units: Units) -> tuple[str, float]:
    """Name the unit in which tensions are told, and say how many newtons it is."""
    return ("lbf", POUND_N) if units.inch_pound else ("kN", 1000.0)


def tension_told(tension_n: float, units: Units) -> str:
    """Write a tension in kilonewtons to a tenth, ``8.3``, or in pounds to ten, ``1,870``."""
    return f"{round(units.value(tension_n, 'N'), -1):,.0f}" if units.inch_pound else f"{tension_n / 1000:.1f}"


def best_words(findings: Plain) -> str:
    """Say at which tensions, of those often run, belts lasted best: "belts lasted best near 8.3 kN; ..."."""
    curve, unit = findings["tension_curve"], tension_unit(say.spoken(findings))[0]
    at, low, high = (curve["run_n"][name] for name in ("estimate", "lower", "upper"))
    best, from_n, to_n = (tension_told(one, say.spoken(findings)) for one in (at, low, high))
    way = _better_way(curve)
    end = {"tighter": "tightest", "looser": "loosest"}[way]
    if not _bends(findings):
        return f"the {way} belts ran, the longer they lasted, as far as {best} {unit}, the {end} often run"
    reached = f", the {end} often run" if at in curve["often_n"] else ""
    place = f"{'at' if reached else 'near'} {best} {unit}{reached}"
    as_well = "they did about as well, as far as these belts tell"
    return f"belts lasted best {place}; between {from_n} and {to_n} {unit} {as_well}"


def best_advice(findings: Plain) -> str:
    """Say where to set belts, among the tensions often run: "Set belts between 7.2 and 8.9 kN"."""
    curve, units = findings["tension_curve"], say.spoken(findings)
    low, high = (tension_told(curve["run_n"][name], units) for name in ("lower", "upper"))
    stretch = f"Set belts between {low} and {high} {tension_unit(units)[0]}"
    if _bends(findings):
        return f"{stretch}: tensions often run, and none told from the best"
    return f"{stretch}, the {_better_way(curve)} the better: tensions often run"


def _better_way(curve: Plain) -> str:
    """Say to which side of the tensions often run the best lies."""
    return "tighter" if curve["run_n"]["estimate"] >= sum(curve["often_n"]) / 2 else "looser"


def tension_words(findings: Plain) -> str:
    """Say what the curve of tension tells."""
    curve, judged = findings["tension_curve"], best_judged(findings)
    if reason := curve.get("reason") or say.claim_of(findings, "tension").get("reason"):
        return f"What tension does along its range cannot be told: {reason.rstrip('.')}."
    if judged not in ("best", "hint"):
        return "Too few belts to tell which tensions are better: none that was often run is told from the best."
    doubt = "" if judged == "best" else "A hint, not proof: "
    return f"{say.raised(doubt + best_words(findings))}."


def tension_line_words(findings: Plain) -> str:
    """Say what the straight line of tension tells; nothing where there is no curve to set beside it, or it bends."""
    if "reason" in findings["tension_curve"] or best_judged(findings) in ("best", "hint", "no answer"):
        return ""
    (term,) = say.wording(findings, "tension").terms
    return say.ratio_said(findings, say.leading(findings["hazard"], term))


def unrecorded_words(findings: Plain) -> tuple[str, ...]:
    """Say for each told idler and grease term how strong an unrecorded cause would have to be to explain it away."""
    hazard = findings["hazard"]
    said = []
    for term, strength in hazard["unrecorded"].items():
        words, level = say.wording_of_term(findings, term)
        told = say.ratio_verdict(findings, say.leading(hazard, term))
        if not level or told not in ("fewer", "more") or strength["estimate"] is None:
            continue
        times, limit = say.decimal(strength["estimate"]), strength["limit"] or 0.0
        enough = f"; {say.decimal(limit)} times would be enough to leave it open" if limit > 1 else ""
        said.append(
            f"Could something nobody wrote down be behind the {told} failures {words.phrase(level)}? Only if it came "
            f"{times} times as often with those belts, and changed failures {times} times over{enough}."
        )
    return tuple(said)


def drift_words(findings: Plain) -> str:
    """Say whether any ratio seems to change with the belts' age, allowing for there being a test for each."""
    tests = findings["hazard"]["drift"]
    if not tests:
        return "Whether a ratio changes as belts age cannot be told."
    rare = 1 - findings["settings"]["confidence"]
    if drifting := [term for term, p in tests.items() if p <= rare]:
        return f"As belts age the ratio changes for {_quoted(findings, drifting)}: read it as a mean over the ages."
    return "No ratio is seen to change as belts age."


def _quoted(findings: Plain, terms: Sequence[str]) -> str:
    return say.listed([f'"{say.lowered(say.term_name(findings, term))}"' for term in terms])


def surprise_words(findings: Plain) -> str:
    """Name the belt whose life its settings foresaw least."""
    belts = findings["hazard"]["checks"]["belts"]
    known = [place for place, value in enumerate(belts["deviance"]) if value is not None]
    place = max(known, key=lambda at: abs(belts["deviance"][at]))
    seen, expected = belts["seen"][place], say.decimal(belts["expected"][place], 2)
    did, name = "failed" if seen else "did not fail", belts["belt"][place]
    foreseen = "hardly any failure" if expected == "0" else f"{expected} failures"
    return f"The largest surprise is belt {name}: it {did} where its runs and settings led to expect {foreseen}."


def most_moving(hazard: Plain, term: str) -> tuple[str, float] | None:
    """Find the belt without which a term's ratio moves most, and the ratio without it; None where it cannot be told."""
    stands = hazard["terms"][term]["coef"]
    without = hazard["checks"]["without_belt"]
    coefs = without["coef"].get(term, [])
    known = [(belt, coef) for belt, coef in zip(without["belt"], coefs, strict=bool(coefs)) if coef is not None]
    if stands is None or not known:
        return None
    belt, coef = max(known, key=lambda entry: abs(entry[1] - stands))
    return belt, math.exp(coef)


def influence_words(findings: Plain) -> str:
    """Say what the answer of the first term is without the belt that moves it most."""
    hazard = findings["hazard"]
    term = next(iter(hazard["terms"]))
    words, level = say.wording_of_term(findings, term)
    what = f"belts {words.phrase(level)}" if level else f"each {words.step}"
    if (moved := most_moving(hazard, term)) is None:
        return f"How far one belt moves the answer for {what} cannot be told: {hazard['terms'][term]['reason']}."
    belt, ratio = moved
    stands = hazard["terms"][term]["hr"]
    usual = " by the usual fit" if say.leading(hazard, term).firth else ""
    if say.change(ratio) == say.change(stands):
        return f"No one belt moves the answer for {what}: without {belt}, which moves it most, it is the same."
    turned = "" if (ratio < 1) == (stands < 1) else ": that one belt turns it round"
    return (
        f"Without belt {belt}, which moves it most, the answer for {what} would be {say.change(ratio)} failures a run "
        f"instead of {say.change(stands)}{usual}{turned}."
    )


def risk_words(findings: Plain) -> str:
    """Say how many failures the fit expected in each part of the runs, from the lowest risk to the highest."""
    parts = findings["hazard"]["checks"]["by_risk"]
    expected = say.listed([f"{value:.1f}" for value in parts["expected"]])
    return (
        f"The runs were sorted by how likely the fit holds them to fail: from the least likely part to the most it "
        f"expected {expected} failures, and {say.listed([f'{seen:g}' for seen in parts['seen']])} came."
    )


def _agreement_words(findings: Plain) -> str:
    """Say how often the belt of two that failed first was the one at higher risk."""
    found = findings["hazard"]["checks"]["concordance"]
    if found["estimate"] is None:
        return f"How well the fit orders belts by risk cannot be told: {found['reason']}."
    known = found["lower"] is not None
    limits = f" ({say.sure(findings)}: {say.percents(found['lower'], found['upper'])})" if known else ""
    return (
        f"Of {say.counted(found['pairs'], 'pair')} of a belt that failed and one of the same age on the same car that "
        f"ran on, the one that failed had the higher risk in {say.percent(found['estimate'])}{limits}; a coin would "
        "give 50 %."
    )


def robust_words(findings: Plain) -> str:
    """Say where robust errors, clustered by belt, differ by more than a quarter from the usual ones."""
    terms = findings["hazard"]["terms"]
    differ = [term for term, entry in terms.items() if entry["robust_differs"]]
    together = "Runs of one belt go together: allowing for that"
    if all(entry["coef"] is None for entry in terms.values()):
        return "Runs of one belt go together: what that does to the margins cannot be told, for no ratio has one."
    if not differ:
        return f"{together} changes no answer's margin by more than a quarter."
    return f"{together} changes the margin of {_quoted(findings, differ)} by more than a quarter: read it with care."


def checks_words(findings: Plain) -> tuple[str, ...]:
    """Say how the fit sits on its data, each check in one sentence."""
    every = (drift_words, influence_words, surprise_words, risk_words, _agreement_words, robust_words)
    return tuple(check(findings) for check in every)


def by_method(findings: Plain, term: str) -> dict[str, Ratio]:
    """Give a term's ratio by every method, by what is other in it: the study's own first, ``as it stands``.

    Where that is Firth's of some term, the usual fit is one of the others.
    """
    hazard, z = findings["hazard"], NormalDist().inv_cdf(0.5 + findings["settings"]["confidence"] / 2)
    ratios, plain = {"as it stands": say.leading(hazard, term)}, hazard["terms"][term]
    if any(led["by"] == "firth" for led in hazard["leading"].values()):
        ratios["no penalty"] = Ratio(term, plain["hr"], plain["lower"], plain["upper"], False, plain.get("reason", ""))
    for name, said in FITS.items():
        fit = hazard["sensitivity"][name]
        ratios[said] = say.ratio_of(term, fit.get(term, fit), None if name == "firth" else z, firth=name == "firth")
    return ratios


def methods_table(findings: Plain) -> tuple[list[str], list[list[str]], str]:
    """Give every term's ratio by every method as headings, rows and caption; tension only where it does not bend."""

    def told(hr: float | None) -> str:
        return "cannot tell" if hr is None else "<0.01" if hr < 0.005 else say.decimal(hr, 2)

    terms = (term for term in findings["hazard"]["terms"] if not curved(findings, term))
    each = {say.term_name(findings, term): by_method(findings, term) for term in terms}
    rows = [[name, *(told(ratio.hr) for ratio in ratios.values())] for name, ratios in each.items()]
    caption = "Failures a run as a multiple: 1 is no difference, below 1 fewer"
    return ["", *next(iter(each.values()), ())], rows, caption


def sensitivity_words(findings: Plain, term: str) -> str:
    """Say between what a term's ratio lies when the method is another."""
    _, *others = by_method(findings, term).values()
    known, name = [ratio.hr for ratio in others if ratio.hr is not None], say.term_name(findings, term)
    if not known:
        return f"{name}: no other method has an answer."
    return f"{name}: {say.span(min(known), max(known))} failures a run, by {say.counted(len(known), 'other method')}."


def interaction_words(findings: Plain) -> str:
    """Say what was looked at without a plan: whether the idler does more at some tensions or with some grease."""
    said = ["Exploratory, not planned."]
    for name, found in findings["hazard"]["interactions"].items():
        said.append(f"Does the idler do more with other {say.wording(findings, name.partition(' x ')[2]).noun}?")
        told = "reason" not in found and f"As much as was seen would come up {say.chance(found['p'])} by chance."
        said.append(told or f"It cannot be told ({found['reason']}).")
    return " ".join(said)


def calibrated_words(findings: Plain) -> str:
    """Say how often such intervals held, and a claim was wrong, in drawn seasons like this one; empty without any."""
    found = findings.get("calibration", {"reason": ""})
    seasons, each = found.get("seasons", 0), []
    for name, held in found.get("held", {}).items():
        if "runs" in held and findings["headline"].get(name, {}).get("lower") is not None:
            each.append(f"that of {say.wording(findings, name).noun} held the truth in {round(held['runs'] * seasons)}")
    if not each:
        return ""
    said = (
        f"Of {say.counted(seasons, 'season')} drawn from a known truth with about as many belts and failures as this "
        f"one ({found['belts']} belts, {found['failed']:.0f} failed), intervals of runs like those above: "
        f"{say.listed(each)}; where nothing was to be found, a claim was made in {round(found['any_wrong'] * seasons)}."
    )
    short = " No kind of interval held as often as it should there: take them as too narrow."
    return said if found["reached"] else said + short
