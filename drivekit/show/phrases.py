"""Numbers and settings as the crew says them: runs, shares, odds, spreads, hazard ratios, which belts are spoken of.

Each number is rounded to what its interval supports: a tenth of a run is the finest a season of belts can tell, and a
whole percent the finest share. A hazard ratio of 0.6 is "40 % fewer failures a run"; from 2 on it is "2.7 times as
many". The estimate that leads is the plain one (Efron's) unless there are fewer than 5 failures a term, or the plain
one has no end; then it is Firth's, and that is said with its reason.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from drivekit.decide import claims
from drivekit.decide.claims import FEW_FAILURES
from drivekit.faults import counted
from drivekit.units import Units

__all__ = [
    "Plain", "Ratio", "Wording", "amount", "by_run", "chance", "change", "claim_of", "counted", "decimal",
    "hint_words", "leading", "listed", "log_words", "lowered", "nearness", "own_error", "percent", "percents",
    "raised", "ratio_clause", "ratio_of", "ratio_said", "ratio_verdict", "reached", "runs", "said_of", "span",
    "spoken", "spread", "sure", "term_name", "wording", "wording_of_term",
]  # fmt: skip

Plain = Mapping[str, Any]
"""Findings, or a part of them."""


@dataclass(frozen=True, slots=True)
class Wording:
    """How one setting and its levels are spoken of, as the findings carry it under ``comparisons``."""

    title: str  # a heading
    question: str  # what the crew asks
    said: str  # the setting as a label
    noun: str  # in the middle of a sentence
    held: str  # in a list of what is held alike
    phrases: Mapping[str, Sequence[str]]  # what follows "belts" for each level, and the same after "than"
    further: str  # the same for any further level
    terms: Mapping[str, str]  # its terms in a hazard fit, each with its level; a number's one term has none
    step: str  # of a number: one step of its term in words

    def phrase(self, level: str) -> str:
        """Say which belts: "on the toothed idler"."""
        return self._pair(level)[0]

    def brief(self, level: str) -> str:
        """Say which belts once the setting is known: "on the smooth"."""
        return self._pair(level)[1]

    def those(self, level: str) -> str:
        """Name the other belts after "than": "on the smooth", "belts never greased"."""
        brief = self.brief(level)
        return brief if brief.startswith(("on ", "at ")) else f"belts {brief}"

    def _pair(self, level: str) -> Sequence[str]:
        return self.phrases.get(level) or (self.further.format(noun=self.noun, level=level),) * 2


def spoken(findings: Plain) -> Units:
    """Give the units in which the log writes, and so is answered; the numbers of the findings stay metric."""
    return Units(findings["log"].get("units") == "inch-pound")


def wording(findings: Plain, name: str) -> Wording:
    """Find how a setting is spoken of, by its key in the findings."""
    return Wording(**findings["comparisons"][name])


def wording_of_term(findings: Plain, term: str) -> tuple[Wording, str]:
    """Find how the setting of a hazard term is spoken of, and the level in ``idler[toothed]``; "" for a number."""
    words = next(words for words in findings["comparisons"].values() if term in words["terms"])
    return Wording(**words), words["terms"][term]


def claim_of(findings: Plain, name: str) -> Plain:
    """Find what may be claimed of a setting, planned or exploratory; empty where nothing was judged."""
    more = findings.get("life", {}).get("more", {}).get(name, {})
    claim: Plain = findings.get("claims", {}).get(name) or more.get("claims", {})
    return claim


def hint_words(findings: Plain, name: str) -> str:
    """Say why a hint is no proof: how many questions were asked together, or that nobody planned to ask this one."""
    if name in findings["life"].get("more", {}):
        return "nobody planned to ask it"
    if "test" not in (claim := claim_of(findings, name)):
        return "it is asked again here, of these runs alone"
    if claim["claimed"]:
        return "that it matters is told, which way is not"
    if "against" in findings:
        return "the two seasons together do not tell it"
    once = max(2, round(1 / max(1 - findings["settings"]["confidence"], claim["p"])))
    asked = sum("reason" not in claim for claim in findings["claims"].values())
    several = {2: ", and two were asked", 3: ", and three were asked"}.get(asked, "")
    return f"one question in {once} looks like this by chance{several}"


def log_words(log: Plain) -> str:
    """Say of how many belts and runs a log is, and where every belt went."""
    unused, unknown = log["unused"], log["unknown_age"]
    out = log["belts"] - log["failed"] - log["censored"]
    went = [f"{unused} never ran"] * bool(unused) + [f"{unknown} of unknown age stayed out"] * bool(unknown)
    if out != unused + unknown:  # a belt can be both
        went = [f"{out} never ran or are of unknown age"]
    where = ", ".join((f"{log['failed']} failed", f"{log['censored']} still running or taken off early", *went))
    of = f"{counted(log['belts'], 'belt')} and {counted(log['runs'], 'run')}"
    return f"{log.get('name') or 'The log'}: {of}; {where}."


def nearness(largest: float) -> str:
    """Say how near two programs are; what is only rounding is not given a number."""
    written = Decimal(f"{largest:.1g}")
    return "all agree to 9 digits or more" if largest < 1e-9 else f"the largest difference was {written:f}"


def decimal(value: float, places: int = 1) -> str:
    """Write a number to so many places, none below one without its zero: ``0.6``, ``1.9``, ``-0.4``, ``0``."""
    text = f"{value:.{places}f}"
    return "0" if float(text) == 0 else text


def percent(share: float) -> str:
    """Write a share as a whole percentage; one that is neither none nor all is never rounded to either."""
    whole = round(100 * share)
    if 0 < share < 1 and whole in (0, 100):
        return "over 99 %" if whole else "under 1 %"
    return f"{whole} %"


def percents(lower: float, upper: float) -> str:
    """Write two shares as the ends of one interval: ``15 to 36 %``."""
    return f"{percent(lower).removesuffix(' %')} to {percent(upper)}"


def sure(findings: Plain) -> str:
    """Say how sure every interval of a study is: ``95 %``, ``97.5 %``."""
    return f"{100 * findings['settings']['confidence']:g} %"


def listed(items: Sequence[str]) -> str:
    """Join words as a sentence does: ``a, b and c``."""
    return items[0] if len(items) == 1 else f"{', '.join(items[:-1])} and {items[-1]}" if items else ""


def raised(words: str) -> str:
    """Begin words with a capital letter."""
    return words[:1].upper() + words[1:]


def lowered(words: str) -> str:
    """Begin words with a small letter."""
    return words[:1].lower() + words[1:]


def runs(horizon: int) -> str:
    """Name a horizon: ``first 12 runs``."""
    return "first run" if horizon == 1 else f"first {horizon} runs"


def spread(lower: float, upper: float) -> str:
    """Say the limits of a difference in runs: ``0.6 to 3.1``, ``0.6 to 3.1 fewer``, ``1.5 fewer to 2.2 more``."""
    if lower >= 0:
        return f"{decimal(lower)} to {decimal(upper)}"
    if upper <= 0:
        return f"{decimal(-upper)} to {decimal(-lower)} fewer"
    return f"{decimal(-lower)} fewer to {decimal(upper)} more"


def amount(estimate: float) -> str:
    """Say a difference in runs: ``1.9 more of``, ``0.4 fewer of``, ``as many of``."""
    size = decimal(abs(estimate))
    return "as many of" if size == "0" else f"{size} {'more' if estimate > 0 else 'fewer'} of"


def chance(p: float) -> str:
    """Say a chance as a crew says odds: one in a rounded number below a fifth (``1 time in 40``), tenths above it."""
    if p >= 0.95:
        return "nearly every time"
    if p >= 0.2:
        return f"{round(10 * p)} times in 10"
    if p < 0.0005:
        return "less than 1 time in 2,000"
    once_in = 1 / p
    step = 1 if once_in < 20 else 5 if once_in < 100 else 10 ** (len(str(int(once_in))) - 1) // 2
    return f"1 time in {max(2, round(once_in / step) * step):,}"


def reached(age: Plain) -> str:
    """Say by which run a share of belts has failed, an EST of the findings: ``run 12 (9 to 15)``; empty: none yet."""
    estimate, lower, upper = (age.get(name) for name in ("estimate", "lower", "upper"))
    match lower, upper:
        case None, None:
            limits = "limits cannot be told"
        case _, None:
            limits = f"run {lower} or later"
        case None, _:
            limits = f"run {upper} or earlier"
        case _:
            limits = "limits: the same run" if lower == upper else f"{lower} to {upper}"
    return "" if estimate is None else f"run {estimate} ({limits})"


def by_run(curve: Plain, share: str) -> str:
    """Say by which run "half" or "1 in 10" of a curve's belts had failed, or that by the oldest age so many had not."""
    run = reached(said_of(curve)[{"half": "median", "1 in 10": "b10"}[share]])
    return f"{share} had failed by {run}" if run else f"{share} had not failed by run {curve['age'][-1]}, the oldest"


def said_of(curve: Plain) -> Plain:
    """Find what is said and drawn of a CURVE: its life by limits that hold, from the first run with enough belts."""
    said: Plain = curve.get("said", curve)
    return said


def own_error(error: Exception) -> str:
    """Say an error of the program in a line, where the rest of the findings stands."""
    return f"an error of drivekit's own ({type(error).__name__}: {' '.join(str(error).split())}); please report it"


@dataclass(frozen=True, slots=True)
class Ratio:
    """A hazard ratio of one term by one method."""

    term: str  # its key in the findings
    hr: float | None  # None, as its limits, where it cannot be told
    lower: float | None  # None where it has no end
    upper: float | None
    firth: bool = False  # by Firth's penalised likelihood; else by the plain one
    reason: str = ""  # why it cannot be told, or why Firth's stands in place of the plain one


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
    if (coef := effect.get("coef")) is None:
        return Ratio(term, None, None, None, firth, str(effect.get("reason") or "no reason is recorded"))
    reach = 0.0 if z is None else z * effect["se"]
    ends = (effect.get("lower"), effect.get("upper")) if z is None else (coef - reach, coef + reach)
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
    if claim := claim_of(findings, name):
        return str(claim.get("terms", {}).get(ratio.term, "no answer"))
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
