"""What the hazard study says, in sentences: how many failures stand behind it, each term, the curve of tension, checks.

No sentence gives a chance without saying of what, and none calls a chance small enough by itself: the interval does the
judging. Tension is spoken of as a curve where a bend as large would come up by chance less than 1 time in 20, and the
line's ratio is then not said at all.
"""

from __future__ import annotations

import math

from drivekit.show.phrases import (
    Plain,
    chance,
    confidence_words,
    counted,
    decimal,
    listed,
    lowered,
    percent,
    raised,
    wording,
    wording_of_term,
)
from drivekit.show.ratios import change, leading, ratio_of, ratio_said, span, term_name

__all__ = [
    "FITS",
    "agreement_words",
    "best_words",
    "checks_words",
    "curved",
    "drift_words",
    "failures_words",
    "influence_words",
    "interaction_words",
    "kilonewtons",
    "methods_table",
    "most_moving",
    "risk_words",
    "robust_words",
    "sensitivity_words",
    "surprise_words",
    "tension_is_curved",
    "tension_line_words",
    "tension_words",
    "term_words",
    "unrecorded_words",
]

RARE = 0.05
"""A bend, or a drift with age, that chance brings up less often than this is spoken of."""

FITS = {
    "breslow": "Breslow's ties",
    "exact": "exact ties",
    "firth": "Firth's penalty",
    "cloglog": "age by age",
    "precaution_as_failure": "precautions too",
}
"""The other fits, by what is other in them."""


def failures_words(hazard: Plain) -> tuple[str, ...]:
    """Say how many failures stand behind how many terms, what was left out, and which method leads."""
    terms = round(hazard["failed"] / hazard["failures_per_term"])
    failures, written = counted(hazard["failed"], "failure"), counted(hazard["rows"], "run")
    stand = "stands" if hazard["failed"] == 1 else "stand"
    per_term = f"{counted(terms, 'term')}: {decimal(hazard['failures_per_term'])} for each"
    said = [f"{failures} in {written} with every setting written {stand} behind {per_term}."]
    if hazard["rows_lost"]:
        said.append(f"{counted(hazard['rows_lost'], 'run')} with a blank stayed out.")
    if hazard["leads"] == "firth":
        said.append(
            "With fewer than 5 failures for each term the usual fit makes differences too large, so the answers are "
            "those of Firth's penalised fit, which does not."
        )
    return tuple(said)


def tension_is_curved(findings: Plain) -> bool:
    """Whether tension is spoken of as a curve."""
    test = findings.get("tension_curve", {}).get("linear_vs_quadratic", {})
    return test.get("p") is not None and bool(test["p"] < RARE)


def curved(findings: Plain, term: str) -> bool:
    """Whether a term is a number that is spoken of as a curve, so that no one ratio is said of it."""
    return "[" not in term and tension_is_curved(findings)


def term_words(findings: Plain) -> tuple[str, ...]:
    """Say every term in a sentence; of tension, where it bends, only that it is a curve."""
    hazard = findings["hazard"]
    return tuple(
        "Tension is a curve here: no one ratio says what more of it does."
        if curved(findings, term)
        else ratio_said(findings, leading(hazard, term))
        for term in hazard["terms"]
    )


def kilonewtons(tension_n: float) -> str:
    """Write a tension in kilonewtons to a tenth: ``8.3``."""
    return f"{tension_n / 1000:.1f}"


def best_words(findings: Plain) -> str:
    """Say where belts lasted best, with its limits: "belts lasted best near 8.3 kN (95 %: 7.3 to 9.3)"; or why not."""
    best = findings["tension_curve"]["best_n"]
    if best["estimate"] is None:
        return f"where belts lasted best cannot be told ({best['reason']})"
    at, lower, upper = (kilonewtons(best[name]) for name in ("estimate", "lower", "upper"))
    return (
        f"belts lasted best near {at} kN ({confidence_words(findings['settings']['confidence'])}: {lower} to {upper})"
    )


def tension_words(findings: Plain) -> str:
    """Say what the curve of tension tells."""
    curve = findings["tension_curve"]
    if "reason" in curve:
        return f"What tension does along its range cannot be told: {curve['reason'].rstrip('.')}."
    often = chance(curve["linear_vs_quadratic"]["p"])
    if not tension_is_curved(findings):
        return (
            f"The belts do not show a bend in what tension does: one as large would come up {often} by chance; so "
            "where they lasted best cannot be told."
        )
    return (
        f"{raised(best_words(findings))}; a bend as large would come up {often} by chance, and a straight line alone "
        "says nothing here because the curve bends."
    )


def tension_line_words(findings: Plain) -> str:
    """Say what the straight line of tension tells; nothing where there is no curve to set beside it, or it bends."""
    if "reason" in findings["tension_curve"] or tension_is_curved(findings):
        return ""
    (term,) = wording(findings, "tension").terms
    return ratio_said(findings, leading(findings["hazard"], term))


def unrecorded_words(findings: Plain) -> tuple[str, ...]:
    """Say for each idler and grease term how strong an unrecorded cause would have to be to explain it away."""
    hazard = findings["hazard"]
    said, spanning = [], []
    for term, strength in hazard["unrecorded"].items():
        words, level = wording_of_term(findings, term)
        if not level or strength["estimate"] is None:
            continue
        what = words.phrase(level)
        if strength["limit"] is not None and strength["limit"] <= 1:
            spanning.append(what)
            continue
        direction = "less" if hazard["terms"][term]["hr"] < 1 else "more"
        text = (
            f"Something unrecorded could explain belts {what} away only if it went both with them and with failing "
            f"{direction}, {decimal(strength['estimate'])} times as often each"
        )
        if strength["limit"] is None:
            text += f"; for the limit it cannot be said: {strength['reason']}"
        else:
            text += f"; {decimal(strength['limit'])} times would bring the limit to no difference"
        said.append(f"{text}.")
    if spanning:
        said.append(f"For belts {listed(spanning)} the limits reach no difference already: there is none to explain.")
    return tuple(said)


def drift_words(findings: Plain) -> str:
    """Say whether any ratio seems to change with the belts' age."""
    tests = {term: test["p"] for term, test in findings["hazard"]["ph_test"].items() if test["p"] is not None}
    if not tests:
        return "Whether a ratio changes with the belts' age cannot be told."
    drifting = [term for term, p in tests.items() if p < RARE]
    if not drifting:
        term, least = min(tests.items(), key=lambda entry: entry[1])
        return (
            "No ratio is seen to change with the belts' age: the largest drift, that of "
            f"{_quoted(findings, term)}, would come up {chance(least)} by chance."
        )
    each = [f"{_quoted(findings, term)} ({chance(tests[term])} by chance)" for term in drifting]
    return f"Seen to change with the belts' age: {listed(each)}; take its ratio as a mean over the ages."


def _quoted(findings: Plain, term: str) -> str:
    return f'"{lowered(term_name(findings, term))}"'


def surprise_words(hazard: Plain) -> str:
    """Name the belt whose life its settings foresaw least."""
    belts = hazard["checks"]["belts"]
    known = [place for place, value in enumerate(belts["deviance"]) if value is not None]
    place = max(known, key=lambda at: abs(belts["deviance"][at]))
    seen, expected = belts["seen"][place], decimal(belts["expected"][place], 2)
    did = "failed" if seen else "did not fail"
    return (
        f"The largest surprise is belt {belts['belt'][place]}: it {did} where its runs and settings led to expect "
        f"{'hardly any failure' if expected == '0' else f'{expected} failures'}."
    )


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


def influence_words(findings: Plain, term: str = "") -> str:
    """Say what the answer of one term, the first where none is named, is without the belt that moves it most."""
    hazard = findings["hazard"]
    term = term or next(iter(hazard["terms"]))
    moved = most_moving(hazard, term)
    words, level = wording_of_term(findings, term)
    what = f"belts {words.phrase(level)}" if level else f"each {words.step}"
    if moved is None:
        return f"How far one belt moves the answer for {what} cannot be told: {hazard['terms'][term]['reason']}."
    belt, ratio = moved
    stands = hazard["terms"][term]["hr"]
    usual = " by the usual fit" if leading(hazard, term).firth else ""
    turned = "" if (ratio < 1) == (stands < 1) else ": that one belt turns it round"
    return (
        f"Without belt {belt}, which moves it most, the answer for {what} would be {change(ratio)} failures a run "
        f"instead of {change(stands)}{usual}{turned}."
    )


def risk_words(hazard: Plain) -> str:
    """Say how many failures the fit foresaw in each part of the runs, from the lowest risk to the highest."""
    parts = hazard["checks"]["by_risk"]
    pairs = [f"{seen:g} for {expected:.1f}" for seen, expected in zip(parts["seen"], parts["expected"], strict=True)]
    return (
        "Failures seen for failures foreseen, by parts of the runs from the lowest risk to the highest: "
        f"{listed(pairs)}."
    )


def agreement_words(hazard: Plain, confidence: float) -> str:
    """Say how often the belt of two that failed first was the one at higher risk."""
    found = hazard["checks"]["concordance"]
    if found["estimate"] is None:
        return f"How well the fit orders belts by risk cannot be told: {found['reason']}."
    limits = ""
    if found["lower"] is not None:
        low = percent(found["lower"]).removesuffix(" %")
        limits = f" ({confidence_words(confidence)}: {low} to {percent(found['upper'])})"
    return (
        f"Of {counted(found['pairs'], 'pair')} of a belt that failed and one of the same age on the same car that ran "
        f"on, the one that failed had the higher risk in {percent(found['estimate'])}{limits}; a coin would give 50 %."
    )


def robust_words(findings: Plain) -> str:
    """Say where errors clustered by belt differ by more than a quarter from the usual ones."""
    differ = [term for term, entry in findings["hazard"]["terms"].items() if entry["robust_differs"]]
    names = [_quoted(findings, term) for term in differ]
    if not names:
        return "Errors reckoned by belt are within a quarter of the usual ones."
    return (
        f"Errors reckoned by belt differ by more than a quarter from the usual ones for {listed(names)}: read it with "
        "care."
    )


def checks_words(findings: Plain) -> tuple[str, ...]:
    """Say how the fit sits on its data, each check in one sentence."""
    hazard = findings["hazard"]
    return (
        drift_words(findings),
        influence_words(findings),
        surprise_words(hazard),
        risk_words(hazard),
        agreement_words(hazard, findings["settings"]["confidence"]),
        robust_words(findings),
    )


def methods_table(findings: Plain) -> tuple[list[str], list[list[str]], str]:
    """Give every term's ratio by every method as headings, rows and caption; tension only where it does not bend."""
    rows, hazard = [], findings["hazard"]
    for term in hazard["terms"]:
        if curved(findings, term):
            continue
        ratios = [hazard["terms"][term]["hr"]]
        ratios += [ratio_of(term, hazard["sensitivity"][name].get(term, {})).hr for name in FITS]
        rows.append([term_name(findings, term), *("cannot tell" if r is None else decimal(r, 2) for r in ratios)])
    caption = "Failures a run as a multiple: 1 is no difference, below 1 fewer"
    return ["", "as it stands", *FITS.values()], rows, caption


def sensitivity_words(findings: Plain, term: str) -> str:
    """Say between what a term's ratio lies when the method is another."""
    fits = findings["hazard"]["sensitivity"]
    ratios = [ratio_of(term, fit[term]).hr for fit in fits.values() if term in fit]
    known = [ratio for ratio in ratios if ratio is not None]
    name = term_name(findings, term)
    if not known:
        return f"{name}: no other method has an answer."
    return f"{name}: {span(min(known), max(known))} failures a run, by {counted(len(known), 'other method')}."


def interaction_words(findings: Plain) -> str:
    """Say what was looked at without a plan: whether the idler does more at some tensions or with some grease."""
    said = []
    for name, found in findings["hazard"]["interactions"].items():
        other = wording(findings, name.partition(" x ")[2]).noun
        if "reason" in found:
            said.append(f"whether the idler does more with other {other} cannot be told ({found['reason']})")
        else:
            said.append(
                f"that the idler's effect changes with {other} at least so much would come up {chance(found['p'])} by "
                "chance"
            )
    return f"Exploratory, not planned: {'; '.join(said)}."
