"""What the findings say, in the crew's words: sentences made from plain data.

A sentence names the better-lasting level, the difference in runs out of the first so many, its interval, and how many
belts stand behind it. What it may claim is decided in :mod:`drivekit.decide.claims` and stands in the findings: a
direction, a hint that is no proof, "no difference as large as a run", or "too few belts to tell". Where failures a run
are told apart and runs are not, the one sentence says both. A block that holds a reason is answered with that reason.
No sentence gives a chance without saying what it is the chance of.

Every sentence says its footing: what is held alike in it, or that cars and other settings are as they fell. A setting
that came together with time or car carries the warning in the same sentence; where the answer is standardised the car
is held alike and only time is left to warn of, for the season itself is not in the fit. Tension is answered by its
curve where that tells a best place, else by its levels.

Findings are plain data, as the study gives them; a setting is named by its key in them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from drivekit.decide.claims import runs_verdict
from drivekit.show import phrases as say
from drivekit.show.hazard_words import best_judged, best_words
from drivekit.show.phrases import Plain, Wording

__all__ = [
    "INVENTED",
    "Answer",
    "answer",
    "answers",
    "beaten",
    "curves_answer",
    "exploratory_answer",
    "headlines",
    "levels_answer",
    "sides",
    "told_words",
    "verdict",
]

INVENTED = "These are invented data: no belt, car or meeting in them is real."
"""Said wherever a demo season is shown."""

AS_THEY_FELL = "with cars and other settings as they fell, "
DOUBTS = {"hint": "A hint, not proof: ", "too few": "Too few belts to tell: "}
DOUBTS |= {"no difference": "No difference as large as a run: "}


@dataclass(frozen=True, slots=True)
class Answer:
    """The answer to one question, in pieces that fit a headline, a title and a caption."""

    finding: str  # what was found, with its interval, or that it cannot be told; no full stop
    counts: str  # how many belts stand behind it; empty when none can be counted
    warning: str  # what else may be behind it: it came together with time or car; empty when not
    verdict: str  # "longer", "shorter", "no difference", "hint", "too few", "no answer"; "best" place of a curve
    further: str = ""  # of three levels the other pair of neighbours, as a second sentence
    further_counts: str = ""  # and its belts
    better: str = ""  # the level that is told to be better

    @property
    def title(self) -> str:
        """The answer as a figure carries it: without the counts, which stand beneath."""
        return _sentences((self.finding, self.warning), (self.further,))

    def __str__(self) -> str:
        return _sentences((self.finding, self.counts, self.warning), (self.further, self.further_counts))


def _sentences(*each: tuple[str, ...]) -> str:
    """Join clauses into sentences, leaving out what is empty."""
    return " ".join("; ".join(filter(None, clauses)) + "." for clauses in each if any(clauses))


def verdict(findings: Plain, name: str, pair: str) -> str:
    """Look up what may be claimed of a pair of levels, as :func:`drivekit.decide.claims.runs_verdict` gave it."""
    return str(say.claim_of(findings, name).get("pairs", {}).get(pair, "no answer"))


def answer(findings: Plain, name: str) -> Answer:
    """Answer one of the planned questions; for a setting of three levels by the headline pair and the next one."""
    try:
        along = name == "tension" and best_judged(findings) in ("best", "hint")
        return _curve_answer(findings) if along else levels_answer(findings, name)
    except Exception as error:
        return Answer(f"This question cannot be answered: {say.own_error(error)}", "", "", "no answer")


def answers(findings: Plain) -> dict[str, Answer]:
    """Answer every planned question, in their order."""
    return {name: answer(findings, name) for name in findings["headline"]}


def levels_answer(findings: Plain, name: str) -> Answer:
    """Answer a planned question by its levels, tension too where it is answered by its curve: which is then said."""
    said = _levels_answer(findings, name, findings["headline"][name])
    if name == "tension" and best_judged(findings) in ("best", "hint"):
        return replace(said, finding=f"By its levels, each put to its middle tension: {say.lowered(said.finding)}")
    return said


def curves_answer(findings: Plain, name: str) -> Answer:
    """Answer a planned question by its survival curves alone, other settings as they happened to be.

    It stands on another footing than the answer, so it claims no direction, no hint and no sameness that the answer
    does not.
    """
    head, pairs = findings["headline"][name], findings["life"][name].get("mean_difference", {})
    if head.get("basis") != "standardised" or "reason" in pairs:
        return _levels_answer(findings, name, head)
    curves, horizon = findings["life"][name]["levels"], findings["settings"]["horizon_runs"]
    alike, (later, earlier) = levels_answer(findings, name), sides(head["contrast"])
    three = {part: pairs[head["contrast"]][part] for part in ("estimate", "lower", "upper")}
    plain = head | {"basis": "curves", "horizon_runs": horizon, "pairs": pairs} | three
    before = [sum(d for age, d in zip(c["age"], c["failed_at"], strict=True) if age < horizon) for c in curves.values()]
    room = horizon - (curves[earlier]["mean_to_horizon"]["estimate"] or horizon)
    judged = runs_verdict(plain, told=bool(alike.better), failed=min(before), room=room)
    theirs = {later: "longer", earlier: "shorter"}.get(alike.better) or verdict(findings, name, head["contrast"])
    if judged != "no answer" and judged.removeprefix("hint ") != theirs.removeprefix("hint "):
        judged = "too few"
    said = _levels_answer(findings, name, plain, judged)
    if alike.verdict == "no answer":
        return said
    size = f"{say.amount(head['estimate'])} the {say.runs(head['horizon_runs'])}"
    return replace(said, further=f"Held alike it is {size}", further_counts="")


def _levels_answer(findings: Plain, name: str, head: Plain, judged: str = "") -> Answer:
    """Answer by one pair of levels, and for a setting of three by the next pair too."""
    words, block, claim = say.wording(findings, name), findings["life"][name], say.claim_of(findings, name)
    tail = _counts(words, head, block)
    why = head.get("reason") or ("" if claim.get("pairs") else claim.get("reason"))
    if head.get("lower") is None or why:
        finding = f"What {words.noun} does to a belt's life cannot be told: {(why or 'it has no limits').rstrip('.')}"
        return Answer(finding, tail, "", "no answer")
    head = head if judged else _leading(head, claim)
    later, earlier = sides(head["contrast"])
    warning = _together(words, findings, name, head)
    held = _held(findings, name) if head.get("basis") == "standardised" else AS_THEY_FELL
    on_curves, judged = judged, judged or verdict(findings, name, head["contrast"])
    better = {"longer": later, "shorter": earlier}.get(judged, "")
    finding = _difference(findings, words, name, head, judged, held)
    if not better and not on_curves and (by_failures := _by_failures(findings, words, name, head)):
        finding, way = by_failures
        judged = {"fewer": "longer", "more": "shorter"}.get(way, "hint")
        better = {"longer": later, "shorter": earlier}.get(judged, "")
    elif claim.get("claimed") and not better and not on_curves:
        ways = {*claim["pairs"].values(), *claim["terms"].values()}
        if not ways & {"longer", "shorter", "fewer", "more"}:
            finding = f"That {words.noun} matters is told, but not which is better. {finding}"
    judged = "hint" if judged.startswith("hint") else judged
    second = _second_pair(head, list(block.get("levels", {})))
    if second is None:
        return Answer(finding, tail, warning, judged, better=better)
    third = next(level for level in sides(second) if level not in sides(head["contrast"]))
    behind = f"{_of(block['levels'][third])} failed {words.brief(third)}"
    return Answer(finding, tail, warning, judged, _further(findings, words, name, second, head), behind, better)


def beaten(claim: Plain) -> dict[str, tuple[str, str]]:
    """Give the pairs that are told, each with the level that lasts longer and the other."""
    told = {pair: way for pair, way in claim.get("pairs", {}).items() if way in ("longer", "shorter")}
    return {pair: sides(pair) if way == "longer" else sides(pair)[::-1] for pair, way in told.items()}


def _leading(head: Plain, claim: Plain) -> Plain:
    """Put a pair that is told in the place of the headline's own where that is not."""
    told = beaten(claim)
    lead = head["contrast"] if not told or head["contrast"] in told else next(iter(told))
    return {**head, **head.get("pairs", {}).get(lead, {}), "contrast": lead}


def _by_failures(findings: Plain, words: Wording, name: str, head: Plain) -> tuple[str, str] | None:
    """Say that failures a run are told or hinted at where runs are not, both in one sentence, and which way they go."""
    later, _ = sides(head["contrast"])
    ways = say.claim_of(findings, name).get("terms", {})
    number = not any(words.terms.values())
    term = next(iter(words.terms)) if number else f"{name}[{later}]"
    way = ways.get(term, "too few").removeprefix("hint ")
    along = number and best_judged(findings) in ("best", "hint")
    if way not in ("fewer", "more") or along or head["lower"] > 0 or head["upper"] < 0:
        return None
    size, held = "cannot be told", _held(findings, name)  # a ratio is the fit's own, on whatever footing the runs stand
    if _wide(head):
        size += f" ({say.spread(head['lower'], head['upper'])})"
    said = f"{say.ratio_clause(findings, say.leading(findings['hazard'], term))}, but how many of their "
    said += f"{say.runs(head['horizon_runs'])} that makes {size}"
    if ways[term] == way:
        return say.raised(f"{held}{said}"), way
    return f"{DOUBTS['hint']}{held}{said}; {say.hint_words(findings, name)}", ways[term]


def _curve_answer(findings: Plain) -> Answer:
    """Answer for tension by its curve: where on it belts last best."""
    hazard, head, judged = findings["hazard"], findings["headline"]["tension"], best_judged(findings)
    belts = say.counted(len(findings["tension_curve"]["belts_n"]), "belt")
    finding = f"{DOUBTS.get(judged, '')}{_held(findings, 'tension')}{best_words(findings)}"
    if judged == "hint":
        finding += f"; {say.hint_words(findings, 'tension')}"
    warning = ""
    if (head.get("together") or {}).get("time"):
        warning = "but tension was not alike over the season, so part of this may be the season's doing"
    return Answer(say.raised(finding), f"{hazard['failed']} of {belts} failed", warning, judged)


def _held(findings: Plain, name: str) -> str:
    """Say what a standardised answer for a setting holds alike: "with car, tension and grease alike, ".

    Settings without a term in the fit are not named, nor is the car where there is one only; empty when nothing is.
    """
    hazard = findings["hazard"]
    cars = findings.get("overlap", {}).get(name, {}).get("car", {}).get("columns", ())
    held = ["car"] if len(cars) > 1 else []
    fits = hazard["terms"], hazard["sensitivity"].get("firth", {})
    told = {term for term in hazard["terms"] if any(fit.get(term, {}).get("coef") is not None for fit in fits)}
    others = [words for other, words in findings["comparisons"].items() if other != name]
    held += [words["held"] for words in others if told.intersection(words["terms"])]
    return f"with {say.listed(held)} alike, " if held else ""


def exploratory_answer(findings: Plain, name: str) -> Answer:
    """Say what a comparison of ``life.more`` shows, that nobody planned: by its best supported pair, and so marked."""
    words, block = say.wording(findings, name), findings["life"]["more"][name]
    head = block.get("headline", block)
    if head.get("lower") is None:
        why = f"{words.noun} cannot be compared: {head.get('reason', 'it has no limits').rstrip('.')}"
        return Answer(f"Exploratory: {why}", _counts(words, {}, block), "", "no answer")
    judged = verdict(findings, name, head["contrast"])
    finding = say.lowered(_difference(findings, words, name, head, judged))
    judged = "hint" if judged.startswith("hint") else judged
    return Answer(f"Exploratory: {finding}", _counts(words, head, block), "", judged)


def headlines(findings: Plain) -> tuple[str, ...]:
    """Answer every planned question in a sentence, in their order, and say so when the data are invented."""
    sentences = tuple(map(str, answers(findings).values()))
    return (*sentences, INVENTED) if findings["log"].get("invented") else sentences


def told_words(findings: Plain) -> str:
    """Say which settings made belts last, as far as the intervals tell."""
    told, rest = [], []
    for name, said in answers(findings).items():
        claim, noun = say.claim_of(findings, name), say.wording(findings, name).noun
        ways = {*claim.get("pairs", {}).values(), *claim.get("terms", {}).values(), claim.get("best")}
        if {"longer", "shorter", "fewer", "more", "best"} & ways:
            told.append(f"{noun} (but see its warning)" if said.warning else noun)
        else:
            rest.append(noun)
    if not told:
        return "For none of the settings can a difference in belt life be told from chance."
    text = f"A difference in belt life can be told for {say.listed(told)}"
    return f"{text}; not for {' or '.join(rest)}." if rest else f"{text}."


def sides(contrast: str) -> tuple[str, str]:
    """Split "toothed minus smooth" into its levels."""
    later, _, earlier = contrast.partition(" minus ")
    return later, earlier


def _difference(findings: Plain, words: Wording, name: str, head: Plain, judged: str, held: str = "") -> str:
    """Say the headline's difference, after what it holds alike; a doubt stands before both."""
    if not _wide(head):
        horizon = head["horizon_runs"]
        why = f"no belt could lose one of its {say.runs(horizon)}" if horizon > 1 else "every belt makes its first run"
        return f"Too few belts to tell what {words.noun} does: {why}"
    size = f"{say.amount(head['estimate'])} their {say.runs(head['horizon_runs'])}"
    limits = f"{say.sure(findings)}: {say.spread(head['lower'], head['upper'])}"
    said = f"{_made(words, head, head['contrast'], size)} ({limits})"
    hint = judged.startswith("hint")
    doubt = DOUBTS.get("hint" if hint else judged, "")
    return say.raised(f"{doubt}{held}{said}") + (f"; {say.hint_words(findings, name)}" if hint else "")


def _wide(limits: Plain) -> bool:
    """Whether limits lie apart by more than rounding: a width of zero is never an answer."""
    return bool(limits["upper"] - limits["lower"] > 1e-9)


def _second_pair(head: Plain, order: list[str]) -> str | None:
    """Find the pair of neighbouring levels, other than the headline's, that the data support best."""
    if len(order) != 3:
        return None
    pairs = head["pairs"]
    neighbours = [f"{order[place + 1]} minus {order[place]}" for place in (1, 0)]
    others = (name for name in neighbours if name != head["contrast"])
    known = [name for name in others if pairs.get(name, {}).get("lower") is not None and _wide(pairs[name])]
    return min(known, key=lambda name: float(pairs[name]["upper"] - pairs[name]["lower"]), default=None)


def _further(findings: Plain, words: Wording, name: str, contrast: str, head: Plain) -> str:
    difference, judged = head["pairs"][contrast], verdict(findings, name, contrast)
    doubts = {"too few": ": too few belts to tell", "no difference": ": less than a run either way"}
    doubt = ": a hint, not proof" if judged.startswith("hint") else doubts.get(judged, "")
    said = _made(words, head, contrast, say.amount(difference["estimate"]).removesuffix(" of"))
    return f"{say.raised(said)} ({say.spread(difference['lower'], difference['upper'])}{doubt})"


def _made(words: Wording, head: Plain, contrast: str, size: str) -> str:
    """Say how many more or fewer runs the belts of one level make than the others, by the basis of the headline."""
    later, earlier = sides(contrast)
    made = "make" if head.get("basis") == "standardised" else "made"
    than = "as" if size.startswith("as many") else "than"
    return f"belts {words.phrase(later)} {made} {size} {than} {words.those(earlier)}"


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
    """Warn when a setting came together with the time of the season, or with the car where it is not held alike."""
    together, later = head.get("together") or {}, sides(head["contrast"])[0]
    came, doing = [], []
    if together.get("time"):
        came.append(_came(later, findings.get("overlap", {}).get(name, {}).get("time", {})))
        doing.append("the season's")
    if together.get("car") and head.get("basis") != "standardised":
        came.append("not on all cars alike" if came else "did not run on all cars alike")
        doing.append("the cars'")
    part = f"so part of this may be {' or '.join(doing)} doing"
    return f"but the belts {words.phrase(later)} {', and '.join(came)}, {part}" if came else ""


def _came(level: str, time: Plain) -> str:
    """Say when a level was run, from its runs in the three thirds of the season."""
    thirds = time.get("levels", {}).get(level)
    if not thirds or not sum(thirds):
        return "did not run evenly over the season"
    first, _, last = thirds
    if last > first:
        return "came in as the season went on"
    return "ran mostly early in the season" if last < first else "ran mostly in mid-season"
