"""Hazard ratios in the crew's words: which estimate of a term leads, how it is named, how it is said.

A hazard ratio of 0.6 is "40 % fewer failures a run"; from 2 on it is "2.7 times as many". The estimate that leads is
the plain one (Efron's) unless there are fewer than 5 failures a term, or the plain one has no end; then it is Firth's,
and that is said with its reason.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from drivekit.decide import claims
from drivekit.decide.claims import FEW_FAILURES
from drivekit.show.phrases import Plain, claim_of, decimal, percent, raised, sure, wording_of_term

__all__ = ["Ratio", "change", "leading", "ratio_clause", "ratio_of", "ratio_said", "ratio_verdict", "span", "term_name"]


@dataclass(frozen=True, slots=True)
class Ratio:
    """A hazard ratio of one term by one method.

    Parameters
    ----------
    term : str
        Its key in the findings.
    hr, lower, upper : float or None
        The ratio and its limits; a limit is None where it has no end, all are None where it cannot be told.
    firth : bool
        By Firth's penalised likelihood; else by the plain one.
    reason : str
        Why it cannot be told, or why Firth's stands in place of the plain one; else empty.
    """

    term: str
    hr: float | None
    lower: float | None
    upper: float | None
    firth: bool = False
    reason: str = ""


def _setting(findings: Plain, term: str) -> str:
    """Find the setting of a term, by its key in the findings."""
    return next(str(name) for name, words in findings["comparisons"].items() if term in words["terms"])


def _sides(findings: Plain, term: str) -> tuple[str, str]:
    """Say of which belts a term speaks and of which others, the reference: both empty for a number."""
    words, level = wording_of_term(findings, term)
    met = findings["hazard"].get("levels", {}).get(term.partition("[")[0])
    return (words.phrase(level), words.those(next(iter(met or words.phrases)))) if level else ("", "")


def term_name(findings: Plain, term: str) -> str:
    """Name a term at the head of a row: "On the toothed idler v. the smooth"."""
    these, others = _sides(findings, term)
    if not these:
        return f"Each {wording_of_term(findings, term)[0].step}"
    for word in ("on ", "at ", "belts "):
        others = others.removeprefix(word)
    return raised(f"{these} v. {others}")


def ratio_of(term: str, effect: Plain, z: float | None = None, *, firth: bool = False) -> Ratio:
    """Turn an effect of the findings, on the log scale, into a ratio; `z` is the reach of limits in standard errors.

    An effect has ``coef``, and ``lower`` and ``upper``, or ``se`` where it has no limits of its own.
    """
    coef = effect.get("coef")
    if coef is None:
        return Ratio(term, None, None, None, firth, str(effect.get("reason") or "no reason is recorded"))
    ends = (
        (effect.get("lower"), effect.get("upper")) if z is None else (coef + reach * effect["se"] for reach in (-z, z))
    )
    lower, upper = (None if end is None else math.exp(end) for end in ends)
    return Ratio(term, math.exp(coef), lower, upper, firth)


def leading(hazard: Plain, term: str) -> Ratio:
    """Find the estimate of one of a hazard block's terms that leads: the rule at the head of this module."""
    found = hazard["leading"][term]
    return Ratio(term, found["hr"], found["lower"], found["upper"], found["by"] == "firth", found.get("reason", ""))


def ratio_verdict(findings: Plain, ratio: Ratio) -> str:
    """Look up what may be claimed of a ratio, as :func:`drivekit.decide.claims.ratio_verdict` gives it.

    Of one fitted anew under controls nothing was judged: it hints at most.
    """
    name = _setting(findings, ratio.term)
    claim = claim_of(findings, name)
    if claim:
        judged: str = claim.get("terms", {}).get(ratio.term, "no answer")
        return judged
    levels = findings["hazard"].get("levels", {}).get(name, {})
    failed = min((level["failed"] for level in levels.values()), default=FEW_FAILURES)
    return claims.ratio_verdict({"hr": ratio.hr, "lower": ratio.lower, "upper": ratio.upper}, told=False, failed=failed)


def change(ratio: float) -> str:
    """Say a ratio of hazards: ``40 % fewer``, ``29 % more``, ``2.7 times as many``, ``as many``."""
    if ratio >= 2:
        return f"{ratio:,.0f} times as many" if ratio >= 20 else f"{decimal(ratio)} times as many"
    if round(100 * abs(ratio - 1)) == 0:
        return "as many"
    return f"{percent(abs(ratio - 1))} {'fewer' if ratio < 1 else 'more'}"


def span(lower: float | None, upper: float | None) -> str:
    """Say the limits of a ratio; None: no end: ``15 to 83 % fewer``, ``5 % fewer to 2.7 times as many``."""
    if lower is None and upper is None:
        return "no limit on either side"
    if lower is None:
        return f"up to {change(upper or 1)}, no limit below"
    if upper is None:
        return f"from {change(lower)}, no limit above"
    low, high = change(lower), change(upper)
    if low == high:
        return low
    for kind in ("% fewer", "% more", "times as many"):
        if low.endswith(kind) and high.endswith(kind):
            first, second = (high, low) if kind == "% fewer" else (low, high)
            return f"{first.removesuffix(kind).rstrip()} to {second}"
    return f"{low} to {high}"


def ratio_clause(findings: Plain, ratio: Ratio) -> str:
    """Say a ratio as a clause: "belts on the toothed idler had 61 % fewer failures a run than on the smooth"."""
    words, _ = wording_of_term(findings, ratio.term)
    these, others = _sides(findings, ratio.term)
    size = change(ratio.hr or 1.0)
    said = f"each {words.step} went with {size} failures a run"
    if these:
        said = f"belts {these} had {size} failures a run {'as' if 'as many' in size else 'than'} {others}"
    return f"{said} ({sure(findings)}: {span(ratio.lower, ratio.upper)})"


def ratio_said(findings: Plain, ratio: Ratio) -> str:
    """Say a ratio as a sentence, with the doubt that stands before it."""
    judged = ratio_verdict(findings, ratio)
    words, _ = wording_of_term(findings, ratio.term)
    these, _ = _sides(findings, ratio.term)
    if judged == "no answer":
        subject = f"being {these}" if these else f"more {words.noun}"
        why = ratio.reason or claim_of(findings, _setting(findings, ratio.term)).get("reason", "")
        return f"What {subject} does to failures a run cannot be told: {why.rstrip('.')}."
    said = ratio_clause(findings, ratio)
    if ratio.firth:
        said += f"; by Firth's penalised fit, because {ratio.reason.rstrip('.')}"
    if judged == "too few":
        alone = " by failures a run alone" if claim_of(findings, _setting(findings, ratio.term)).get("claimed") else ""
        return f"Too few belts to tell{alone}: {said}."
    return f"A hint, not proof: {said}." if judged.startswith("hint") else f"{raised(said)}."
