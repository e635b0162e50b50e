"""Hazard ratios in the crew's words: which estimate of a term leads, how it is named, how it is said.

A hazard ratio of 0.6 is "40 % fewer failures a run"; from 2 on it is "2.7 times as many". The estimate that leads is
the plain one (Efron's) unless there are fewer than 5 failures a term, or the plain one has no end; then it is Firth's,
and that is said with its reason.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from drivekit.show.phrases import Plain, Wording, confidence_words, decimal, percent, wording_of_term

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


def _reference(findings: Plain, term: str, words: Wording) -> str:
    """Find the level that others are held against."""
    met = findings["hazard"].get("levels", {}).get(term.partition("[")[0])
    return next(iter(met or words.phrases))


def term_name(findings: Plain, term: str) -> str:
    """Name a term at the head of a row: "On the toothed idler v. the smooth"."""
    words, level = wording_of_term(findings, term)
    if not level:
        return f"Each {words.step}"
    other = words.brief(_reference(findings, term, words)).removeprefix("on ").removeprefix("at ")
    said = f"{words.phrase(level)} v. {other}"
    return f"{said[0].upper()}{said[1:]}"


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
    if z is None:
        lower, upper = effect.get("lower"), effect.get("upper")
    else:
        lower, upper = coef - z * effect["se"], coef + z * effect["se"]
    low, high = (None if end is None else math.exp(end) for end in (lower, upper))
    return Ratio(term, math.exp(coef), low, high, firth, reason)


def leading(hazard: Plain, term: str) -> Ratio:
    """Find the estimate of a term that leads.

    Parameters
    ----------
    hazard : mapping
        The hazard block.
    term : str
        One of its terms.
    """
    plain = hazard["terms"][term]
    penalised = hazard.get("sensitivity", {}).get("firth", {}).get(term, {})
    known = plain["hr"] is not None
    if penalised.get("coef") is not None and (hazard["leads"] == "firth" or not known):
        why = "there are fewer than 5 failures for each term" if known else plain["reason"]
        return ratio_of(term, penalised, firth=True, reason=why)
    if known:
        return Ratio(term, plain["hr"], plain["lower"], plain["upper"])
    return Ratio(term, None, None, None, False, str(plain["reason"]))


def change(ratio: float) -> str:
    """Say a ratio of hazards: ``40 % fewer``, ``29 % more``, ``2.7 times as many``, ``as many``."""
    if ratio >= 2:
        return f"{ratio:,.0f} times as many" if ratio >= 20 else f"{decimal(ratio)} times as many"
    if round(100 * abs(ratio - 1)) == 0:
        return "as many"
    return f"{percent(abs(ratio - 1))} {'fewer' if ratio < 1 else 'more'}"


def span(lower: float | None, upper: float | None) -> str:
    """Say the limits of a ratio so that their direction cannot be misread.

    Parameters
    ----------
    lower, upper : float or None
        None: without end on that side.

    Returns
    -------
    str
        ``15 to 83 % fewer``, ``36 % fewer to 2.7 times as many``, ``from 20 % fewer upward without end``.
    """
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
    words, level = wording_of_term(findings, ratio.term)
    if ratio.hr is None:
        subject = f"being {words.phrase(level)}" if level else f"more {words.noun}"
        return f"What {subject} does to failures a run cannot be told: {ratio.reason.rstrip('.')}."
    size = change(ratio.hr)
    limits = f"{confidence_words(findings['settings']['confidence'])}: {span(ratio.lower, ratio.upper)}"
    if not level:
        said = f"each {words.step} went with {size} failures a run ({limits})"
    else:
        those = words.those(_reference(findings, ratio.term, words))
        as_or_than = "as" if "as many" in size else "than"
        said = f"belts {words.phrase(level)} had {size} failures a run {as_or_than} {those} ({limits})"
    if ratio.firth:
        said += f"; by Firth's penalised fit, because {ratio.reason.rstrip('.')}"
    if ratio.verdict == "too few":
        return f"Too few belts to tell: {said}."
    return f"{said[0].upper()}{said[1:]}."
