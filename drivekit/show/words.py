"""What the findings say, in the crew's words: sentences made from plain data.

A sentence names the better-lasting level, the difference in runs out of the first so many, its interval, and how many
belts stand behind it. When the interval spans zero the answer is that nobody can tell: "too few belts to tell" where
either limit is a whole run or more from zero, "no difference as large as a run" where both are nearer. A block that
holds a reason is answered with that reason. No sentence gives a chance without saying what it is the chance of.

A standardised answer begins with what is held alike in it. A setting that came together with time or car carries the
warning in the same sentence; where the answer is standardised the car is held alike and only time is left to warn of,
for the season itself is not in the fit. Tension is answered by its curve where that bends, else by its levels.

Findings are plain data, as the study gives them; a setting is named by its key in them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from drivekit.show.hazard_words import best_words, tension_is_curved
from drivekit.show.phrases import (
    Plain,
    Wording,
    amount,
    confidence_words,
    counted,
    decimal,
    listed,
    lowered,
    own_error,
    raised,
    runs,
    spread,
    wording,
)

__all__ = [
    "INVENTED",
    "Answer",
    "answer",
    "curves_answer",
    "differences",
    "exploratory_answer",
    "headlines",
    "sides",
    "verdict",
]

INVENTED = "These are invented data: no belt, car or meeting in them is real."
"""Said wherever a demo season is shown."""

WHOLE_RUN = 1.0
"""Limits nearer to zero than this are not worth a belt: see the module's rule."""


@dataclass(frozen=True, slots=True)
class Answer:
    """The answer to one question, in pieces that fit a headline, a title and a caption.

    Parameters
    ----------
    finding : str
        What was found, with its interval, or that it cannot be told. No full stop.
    counts : str
        How many belts stand behind it; empty when none can be counted.
    warning : str
        What else may be behind it: settings that came together with time or car; empty when none did.
    further, further_counts : str
        With three levels, the other pair of neighbours and its belts, as a second sentence; else empty.
    verdict : str
        ``"longer"``, ``"shorter"``, ``"no difference"``, ``"too few"`` or ``"no answer"``; ``"best"`` where a curve
        tells the best place.
    """

    finding: str
    counts: str
    warning: str
    verdict: str
    further: str = ""
    further_counts: str = ""

    @property
    def title(self) -> str:
        """The answer as a figure carries it: without the counts, which stand beneath."""
        return _sentences((self.finding, self.warning), (self.further,))

    def __str__(self) -> str:
        return _sentences((self.finding, self.counts, self.warning), (self.further, self.further_counts))


def _sentences(*each: tuple[str, ...]) -> str:
    """Join clauses into sentences, leaving out what is empty."""
    return " ".join("; ".join(filter(None, clauses)) + "." for clauses in each if any(clauses))


def verdict(contrast: Plain) -> str:
    """Judge a difference by its interval: the rule at the head of this module.

    Parameters
    ----------
    contrast : mapping
        With ``estimate``, ``lower``, ``upper`` in runs, any of them null, or with a ``reason``.

    Returns
    -------
    str
        ``"longer"``, ``"shorter"``, ``"no difference"``, ``"too few"`` or ``"no answer"``.
    """
    lower, upper = contrast.get("lower"), contrast.get("upper")
    if contrast.get("estimate") is None or lower is None or upper is None:
        return "no answer"
    if lower > 0:
        return "longer"
    if upper < 0:
        return "shorter"
    return "no difference" if max(-lower, upper) < WHOLE_RUN else "too few"


def answer(findings: Plain, name: str) -> Answer:
    """Answer one of the planned questions; for a setting of three levels by the headline pair and the next one."""
    try:
        return _answer(findings, name)
    except Exception as error:
        return Answer(f"This question cannot be answered: {own_error(error)}", "", "", "no answer")


def _answer(findings: Plain, name: str) -> Answer:
    if name == "tension" and tension_is_curved(findings):
        return _curve_answer(findings)
    return _levels_answer(findings, name, findings["headline"][name], differences(findings, name))


def curves_answer(findings: Plain, name: str) -> Answer:
    """Answer a planned question by its survival curves alone, other settings as they happened to be."""
    head, block = findings["headline"][name], findings["life"][name]
    if head.get("basis") != "standardised":
        return _levels_answer(findings, name, head, differences(findings, name))
    pairs = block["mean_difference"]
    three = dict.fromkeys(("estimate", "lower", "upper")) | pairs[head["contrast"]]
    plain = head | three | {"basis": "curves", "horizon_runs": findings["settings"]["horizon_runs"]}
    return _levels_answer(findings, name, plain, pairs)


def _levels_answer(findings: Plain, name: str, head: Plain, pairs: Plain) -> Answer:
    """Answer by one pair of levels, and for a setting of three by the next pair too."""
    words, block = wording(findings, name), findings["life"][name]
    tail = _counts(words, head, block)
    if head.get("estimate") is None:
        why = head.get("reason") or "no reason is recorded"
        finding = f"What {words.noun} does to a belt's life cannot be told: {why.rstrip('.')}"
        return Answer(finding, tail, "", "no answer")
    warning = _together(words, findings, name, head)
    judged = verdict(head)
    held = _held(findings, name) if head.get("basis") == "standardised" else ""
    finding = _difference(words, head, judged, held)
    second = _second_pair(head, list(block.get("levels", {})), pairs)
    if second is None:
        return Answer(finding, tail, warning, judged)
    third = next(level for level in sides(second[0]) if level not in sides(head["contrast"]))
    behind = f"{_of(block['levels'][third])} failed {words.brief(third)}"
    return Answer(finding, tail, warning, judged, _further(words, *second, made="make" if held else "made"), behind)


def _curve_answer(findings: Plain) -> Answer:
    """Answer for tension by its curve: where on it belts last best."""
    curve, hazard, head = findings["tension_curve"], findings["hazard"], findings["headline"]["tension"]
    held = _held(findings, "tension")
    told = curve["best_n"]["estimate"] is not None
    best = best_words(findings) if told else f"failures bend with tension, but {best_words(findings)}"
    finding = raised(f"{held}{best}")
    behind = f"{hazard['failed']} of {counted(len(curve['belts_n']), 'belt')} failed"
    warning = ""
    if (head.get("together") or {}).get("time"):
        warning = "but tension was not alike over the season, so part of this may be the season's doing"
    return Answer(finding, behind, warning, "best" if told else "too few")


def _held(findings: Plain, name: str) -> str:
    """Say what a standardised answer for a setting holds alike: "with car, tension and grease alike, ".

    Settings without a term in the fit are not named, nor is the car where there is one only; empty when nothing is.
    """
    hazard = findings["hazard"]
    cars = findings.get("overlap", {}).get(name, {}).get("car", {}).get("columns", ())
    held = ["car"] if len(cars) > 1 else []
    penalised = hazard["sensitivity"].get("firth", {})
    told = {
        term
        for term, entry in hazard["terms"].items()
        if entry["coef"] is not None or penalised.get(term, {}).get("coef") is not None
    }
    others = {other: words for other, words in findings["comparisons"].items() if other != name}
    held += [words["held"] for words in others.values() if told.intersection(words["terms"])]
    return f"with {listed(held)} alike, " if held else ""


def exploratory_answer(findings: Plain, name: str) -> Answer:
    """Say what a comparison of ``life.more`` shows, that nobody planned: by its best supported pair, and so marked."""
    words, block = wording(findings, name), findings["life"]["more"][name]
    pairs = block.get("mean_difference", block)
    objects = {pair: found for pair, found in pairs.items() if isinstance(found, Mapping)}
    known = {pair: found for pair, found in objects.items() if found.get("lower") is not None}
    if not known:
        empty = "the oldest belts do not reach far enough to compare"
        why = pairs.get("reason") or next((found["reason"] for found in objects.values() if "reason" in found), empty)
        finding = f"Exploratory: {words.noun} cannot be compared: {why.rstrip('.')}"
        return Answer(finding, _counts(words, {}, block), "", "no answer")
    contrast = min(known, key=lambda pair: float(known[pair]["se"]))
    head = {**known[contrast], "contrast": contrast, **findings["settings"]}
    judged = verdict(head)
    finding = lowered(_difference(words, head, judged))
    return Answer(f"Exploratory: {finding}", _counts(words, head, block), "", judged)


def headlines(findings: Plain) -> tuple[str, ...]:
    """Answer every planned question in a sentence, in their order, and say so when the data are invented."""
    sentences = tuple(str(answer(findings, name)) for name in findings["headline"])
    return (*sentences, INVENTED) if findings["log"].get("invented") else sentences


def sides(contrast: str) -> tuple[str, str]:
    """Split "toothed minus smooth" into its levels."""
    later, _, earlier = contrast.partition(" minus ")
    return later, earlier


def _difference(words: Wording, head: Plain, judged: str, held: str = "") -> str:
    """Say the headline's difference, after what it holds alike; a doubt stands before both."""
    later, earlier = sides(head["contrast"])
    said = (
        f"belts {words.phrase(later)} {'make' if held else 'made'} {amount(head['estimate'])} their "
        f"{runs(head['horizon_runs'])} {'as' if decimal(abs(head['estimate'])) == '0' else 'than'} "
        f"{words.those(earlier)} ({confidence_words(head['confidence'])}: {spread(head['lower'], head['upper'])})"
    )
    doubt = {"too few": "Too few belts to tell: ", "no difference": "No difference as large as a run: "}.get(judged, "")
    return raised(f"{doubt}{held}{said}")


def differences(findings: Plain, name: str) -> Plain:
    """Find the difference of every pair of levels of a planned setting, on the same footing as its headline.

    They are the standardised ones where the headline is standardised, so that a sentence never mixes two horizons; else
    those of the curves, with the headline's own in its place; or a reason.
    """
    head, block = findings["headline"][name], findings["life"][name]
    if head.get("basis") == "standardised":
        pairs: Plain = findings.get("standardised", {}).get(name, {}).get("mean_difference", {})
        return {**pairs, head["contrast"]: head}
    pairs = block.get("mean_difference", {"reason": block.get("reason", "")})
    return {**pairs, head["contrast"]: head} if "reason" not in pairs and head.get("estimate") is not None else pairs


def _second_pair(head: Plain, order: list[str], pairs: Plain) -> tuple[str, Plain] | None:
    """Find the pair of neighbouring levels, other than the headline's, that the data support best."""
    if "reason" in pairs or len(order) != 3:
        return None
    neighbours = [f"{order[place + 1]} minus {order[place]}" for place in (1, 0)]
    others = [(name, pairs.get(name, {})) for name in neighbours if name != head["contrast"]]
    known = [(name, pair) for name, pair in others if pair.get("lower") is not None]
    return min(known, key=lambda pair: float(pair[1]["upper"] - pair[1]["lower"]), default=None)


def _further(words: Wording, contrast: str, difference: Plain, *, made: str) -> str:
    later, earlier = sides(contrast)
    doubts = {"too few": ": too few belts to tell", "no difference": ": less than a run either way"}
    doubt = doubts.get(verdict(difference), "")
    size = amount(difference["estimate"]).removesuffix(" of")
    return (
        f"Belts {words.phrase(later)} {made} {size} {'as' if size == 'as many' else 'than'} {words.those(earlier)} "
        f"({spread(difference['lower'], difference['upper'])}{doubt})"
    )


def _counts(words: Wording, head: Plain, block: Plain) -> str:
    """Say how many belts failed in each level, the headline's level first: "21 of 48 failed, against 15 of 31"."""
    levels = head.get("levels") or block.get("levels") or {}
    if not levels:
        return ""
    pair = [level for level in sides(head.get("contrast", "")) if level in levels]
    if len(pair) == 2:
        return f"{_of(levels[pair[0]])} failed, against {_of(levels[pair[1]])}"
    return "failed: " + ", ".join(f"{_of(curve)} {words.brief(level)}" for level, curve in levels.items())


def _of(level: Plain) -> str:
    return f"{level['failed']} of {level['belts']}"


def _together(words: Wording, findings: Plain, name: str, head: Plain) -> str:
    """Warn in words when a setting came together with the time of the season, with the car, or with both.

    A standardised answer holds the car alike, so that only the time of the season is left to warn of.
    """
    together = head.get("together") or {}
    car = bool(together.get("car")) and head.get("basis") != "standardised"
    later, _ = sides(head["contrast"])
    time = _came(later, findings.get("overlap", {}).get(name, {}).get("time", {}))
    belts = f"the belts {words.phrase(later)}"
    match bool(together.get("time")), car:
        case True, True:
            doing = "the season's or the cars' doing"
            return f"but {belts} {time}, and not on all cars alike, so part of this may be {doing}"
        case True, False:
            return f"but {belts} {time}, so part of this may be the season's doing"
        case False, True:
            return f"but {belts} did not run on all cars alike, so part of this may be the cars' doing"
    return ""


def _came(level: str, time: Plain) -> str:
    """Say when a level was run, from its runs in the three thirds of the season."""
    thirds = time.get("levels", {}).get(level)
    if not thirds or not sum(thirds):
        return "did not run evenly over the season"
    first, _, last = thirds
    if last > first:
        return "came in as the season went on"
    return "ran mostly early in the season" if last < first else "ran mostly in mid-season"
