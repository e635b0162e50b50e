"""Hazard ratios in the crew's words: which estimate of a term leads, how it is named, how it is said.

A hazard ratio of 0.6 is "40 % fewer failures a run"; from 2 on it is "2.7 times as many". The estimate that leads is
the plain one (Efron's) unless there are fewer than 5 failures a term, or the plain one has no end; then it is Firth's,
and that is said with its reason.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from drivekit.show.phrases import Plain, confidence_words, decimal, percent, raised, wording_of_term

__all__ = ["Ratio", "change", "leading", "ratio_of", "ratio_said", "span", "term_name"]


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

    @property
    def verdict(self) -> str:
        """``"fewer"``, ``"more"``, ``"too few"`` belts to tell, or ``"no answer"``."""
        if self.hr is None:
            return "no answer"
        if self.upper is not None and self.upper < 1:
            return "fewer"
        return "more" if self.lower is not None and self.lower > 1 else "too few"


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


def ratio_of(term: str, effect: Plain, z: float | None = None, *, firth: bool = False, reason: str = "") -> Ratio:
    """Turn an effect of the findings, on the log scale, into a ratio.

    Parameters
    ----------
    term : str
        The term.
    effect : mapping
        With ``coef``, and ``lower`` and ``upper`` or ``se``.
    z : float, optional
        Reach of the limits in standard errors, for an effect that has no limits of its own.
    firth, reason
        As in `Ratio`.
    """
    coef = effect.get("coef")
    if coef is None:
        return Ratio(term, None, None, None, firth, str(effect.get("reason") or "no reason is recorded"))
    ends = (
        (effect.get("lower"), effect.get("upper")) if z is None else (coef + reach * effect["se"] for reach in (-z, z))
    )
    lower, upper = (None if end is None else math.exp(end) for end in ends)
    return Ratio(term, math.exp(coef), lower, upper, firth, reason)


def leading(hazard: Plain, term: str) -> Ratio:
    """Find the estimate of one of a hazard block's terms that leads: the rule at the head of this module."""
    plain = hazard["terms"][term]
    penalised = hazard.get("sensitivity", {}).get("firth", {}).get(term, {})
    known = plain["hr"] is not None
    if penalised.get("coef") is not None and (hazard["leads"] == "firth" or not known):
        why = "there are fewer than 5 failures for each term" if known else plain["reason"]
        return ratio_of(term, penalised, firth=True, reason=why)
    if known:
        return Ratio(term, plain["hr"], plain["lower"], plain["upper"])
    return Ratio(term, None, None, None, reason=str(plain["reason"]))


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


def ratio_said(findings: Plain, ratio: Ratio) -> str:
    """Say a ratio as a sentence: belts on the toothed idler had 61 % fewer failures a run than on the smooth."""
    words, _ = wording_of_term(findings, ratio.term)
    these, others = _sides(findings, ratio.term)
    if ratio.hr is None:
        subject = f"being {these}" if these else f"more {words.noun}"
        return f"What {subject} does to failures a run cannot be told: {ratio.reason.rstrip('.')}."
    size = change(ratio.hr)
    said = f"each {words.step} went with {size} failures a run"
    if these:
        said = f"belts {these} had {size} failures a run {'as' if 'as many' in size else 'than'} {others}"
    said += f" ({confidence_words(findings['settings']['confidence'])}: {span(ratio.lower, ratio.upper)})"
    if ratio.firth:
        said += f"; by Firth's penalised fit, because {ratio.reason.rstrip('.')}"
    return f"Too few belts to tell: {said}." if ratio.verdict == "too few" else f"{raised(said)}."
