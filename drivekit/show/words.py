"""What the findings say, in the crew's words: sentences made from plain data.

A sentence names the better-lasting level, the difference in runs out of the first so many, its interval, and how many
belts stand behind it. When the interval spans zero the answer is that nobody can tell: "too few belts to tell" where
either limit is a whole run or more from zero, "no difference as large as a run" where both are nearer. A block that
holds a reason is answered with that reason. No sentence gives a chance without saying what it is the chance of.

A standardised answer begins with what is held alike in it. A setting that came together with time or car carries the
warning in the same sentence; where the answer is standardised the car is held alike and only time is left to warn of,
for the season itself is not in the fit. Tension is answered by its curve where that bends, else by its levels.
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
    runs,
    spread,
    wording,
)

__all__ = [
    "INVENTED",
    "Answer",
    "alike",
    "answer",
    "curves_answer",
    "differences",
    "exploratory_answer",
    "headlines",
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
    """Answer one of the planned questions.

    Parameters
    ----------
    findings : mapping
        The findings, plain data.
    name : str
        The setting: a key of ``headline``.

    Returns
    -------
    Answer
        One sentence in pieces; for a setting of three levels it compares the headline pair and the next one.
    """
    if name == "tension" and tension_is_curved(findings):
        return _curve_answer(findings)
    return _levels_answer(findings, name, findings["headline"][name], differences(findings, name))


def curves_answer(findings: Plain, name: str) -> Answer:
    """Answer a planned question by its survival curves alone, other settings as they happened to be.

    Parameters
    ----------
    findings : mapping
        The findings, plain data.
    name : str
        The setting: a key of ``headline``.

    Returns
    -------
    Answer
        The same as `answer` where that rests on the curves.
    """
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
    held = alike(findings, name) if head.get("basis") == "standardised" else ""
    finding = _difference(words, head, judged, held)
    second = _second_pair(head, list(block.get("levels", {})), pairs)
    if second is None:
        return Answer(finding, tail, warning, judged)
    third = next(level for level in _pair(second[0]) if level not in _pair(head["contrast"]))
    behind = f"{_of(block['levels'][third])} failed {words.brief(third)}"
    return Answer(finding, tail, warning, judged, _further(words, *second, made="make" if held else "made"), behind)


def _curve_answer(findings: Plain) -> Answer:
    """Answer for tension by its curve: where on it belts last best."""
    curve, hazard, head = findings["tension_curve"], findings["hazard"], findings["headline"]["tension"]
    held = alike(findings, "tension")
    told = curve["best_n"]["estimate"] is not None
    best = best_words(findings) if told else f"failures bend with tension, but {best_words(findings)}"
    finding = f"{held}, {best}" if held else f"{best[0].upper()}{best[1:]}"
    behind = f"{hazard['failed']} of {counted(len(curve['belts_n']), 'belt')} failed"
    warning = ""
    if (head.get("together") or {}).get("time"):
        warning = "but tension was not alike over the season, so part of this may be the season's doing"
    return Answer(finding, behind, warning, "best" if told else "too few")


def alike(findings: Plain, name: str) -> str:
    """Say what a standardised answer for a setting holds alike: "With car, tension and grease on the edges alike".

    Parameters
    ----------
    findings : mapping
        The findings, plain data.
    name : str
        The setting that is compared.

    Returns
    -------
    str
        Settings without a term in the fit are not named, nor is the car where there is one only; empty when nothing is
        held alike.
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
    return f"With {listed(held)} alike" if held else ""


def exploratory_answer(findings: Plain, name: str) -> Answer:
    """Say what a comparison shows that nobody planned: by its best supported pair, and marked as exploratory.

    Parameters
    ----------
    findings : mapping
        The findings, plain data.
    name : str
        The setting: a key of ``life.more``.

    Returns
    -------
    Answer
        Its finding begins with "Exploratory".
    """
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
    head = {
        **known[contrast],
        "contrast": contrast,
        "horizon_runs": findings["settings"]["horizon_runs"],
        "confidence": findings["settings"]["confidence"],
    }
    judged = verdict(head)
    finding = _difference(words, head, judged)
    return Answer(f"Exploratory: {finding[0].lower()}{finding[1:]}", _counts(words, head, block), "", judged)


def headlines(findings: Plain) -> tuple[str, ...]:
    """Answer every planned question in a sentence, and say so when the data are invented.

    Parameters
    ----------
    findings : mapping
        The findings, plain data.

    Returns
    -------
    tuple of str
        In the order of the questions.
    """
    sentences = tuple(str(answer(findings, name)) for name in findings["headline"])
    return (*sentences, INVENTED) if findings["log"].get("invented") else sentences


def _pair(contrast: str) -> tuple[str, str]:
    """Split "toothed minus smooth" into its levels."""
    later, _, earlier = contrast.partition(" minus ")
    return later, earlier


def _difference(words: Wording, head: Plain, judged: str, held: str = "") -> str:
    later, earlier = _pair(head["contrast"])
    said = (
        f"belts {words.phrase(later)} {'make' if held else 'made'} {amount(head['estimate'])} their "
        f"{runs(head['horizon_runs'])} {'as' if decimal(abs(head['estimate'])) == '0' else 'than'} "
        f"{words.those(earlier)} ({confidence_words(head['confidence'])}: {spread(head['lower'], head['upper'])})"
    )
    doubt = {"too few": "Too few belts to tell: ", "no difference": "No difference as large as a run: "}.get(judged, "")
    whole = f"{doubt}{held}, {said}" if held else f"{doubt}{said}"
    if doubt and held:
        whole = f"{doubt}{held[0].lower()}{held[1:]}, {said}"
    return f"{whole[0].upper()}{whole[1:]}"


def differences(findings: Plain, name: str) -> Plain:
    """Find every pair of levels of a planned setting, on the same footing as its headline.

    Parameters
    ----------
    findings : mapping
        The findings, plain data.
    name : str
        The setting.

    Returns
    -------
    mapping
        A difference for each pair: the standardised ones where the headline is standardised, so that a sentence never
        mixes two horizons; else those of the curves, with the headline's own in its place. Or a reason.
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
    known = [
        (name, pairs[name])
        for name in neighbours
        if name != head["contrast"] and pairs.get(name, {}).get("lower") is not None
    ]
    return min(known, key=lambda pair: float(pair[1]["upper"] - pair[1]["lower"])) if known else None


def _further(words: Wording, contrast: str, difference: Plain, *, made: str) -> str:
    later, earlier = _pair(contrast)
    judged = verdict(difference)
    doubt = {"too few": ": too few belts to tell", "no difference": ": less than a run either way"}.get(judged, "")
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
    pair = [level for level in _pair(head.get("contrast", "")) if level in levels]
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
    later = _pair(head["contrast"])[0]
    time = _came(words, later, findings.get("overlap", {}).get(name, {}).get("time", {}))
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


def _came(words: Wording, level: str, time: Plain) -> str:
    """Say when a level was run, from its runs in the three thirds of the season."""
    thirds = time.get("levels", {}).get(level)
    if not thirds or not sum(thirds):
        return "did not run evenly over the season"
    first, _, last = thirds
    if last > first:
        return "came in as the season went on"
    return "ran mostly early in the season" if last < first else "ran mostly in mid-season"
