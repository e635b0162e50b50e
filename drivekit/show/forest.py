"""Pictures of intervals: the forest of hazard ratios, by term and by method, and the differences in runs.

Of a hazard ratio the estimate that leads (`drivekit.show.ratios`) is drawn. Where it is Firth's the mark is a diamond
and the row says so. Where tension bends, its row says that one ratio is no answer. The differences are those that the
answers speak of: where an answer is standardised, so are all pairs of its setting, and each row says out of how many
runs. What cannot be told has a row too, with its reason.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from statistics import NormalDist

from drivekit.show.axes import log_ticks
from drivekit.show.hazard_words import FITS, curved
from drivekit.show.paper import Picture, noted
from drivekit.show.phrases import (
    Plain,
    amount,
    claim_of,
    confidence_words,
    counted,
    decimal,
    listed,
    spread,
    wording,
    wording_of_term,
)
from drivekit.show.ratios import Ratio, change, leading, ratio_of, ratio_verdict, term_name
from drivekit.show.rows import Row, rows_drawn
from drivekit.show.words import answer, verdict

__all__ = ["differences_picture", "forest_picture", "methods_picture"]

WIDEST = 40.0
"""The axis ends here and at its inverse; limits beyond are arrows."""

BENT = "no one number: the curve bends"
DIAMOND = "Diamond: Firth's penalised fit, which stands in where failures are too few for the usual one."
ARROW = "Arrow: the limit lies beyond, or has no end."


def _number(value: float | None) -> str:
    if value is None:
        return "no end"
    if value < 0.005:
        return "<0.01"
    return f"{value:.0f}" if value >= 20 else decimal(value, 2)


def _row(ratio: Ratio, gid: str, name: str, counts: str = "") -> Row:
    if ratio.hr is None:
        said = ratio.reason if ratio.reason == BENT else f"cannot tell: {ratio.reason}"
        return Row(gid, name, said, counts)
    said = f"{_number(ratio.hr)} ({_number(ratio.lower)} to {_number(ratio.upper)})"
    return Row(gid, name, said, counts, ratio.hr, ratio.lower, ratio.upper, ratio.firth)


def _axis(panels: Mapping[str, Sequence[Row]]) -> tuple[float, float]:
    """Choose the ends of the axis: all estimates, 1, and limits as far as `WIDEST`."""
    rows = [row for each in panels.values() for row in each]
    estimates = [row.estimate for row in rows if row.estimate is not None]
    limits = [end for row in rows for end in (row.lower, row.upper) if end is not None]
    near = [min(max(end, 1 / WIDEST), WIDEST) for end in limits]
    low = min([0.5, *near, *(estimate / 1.4 for estimate in estimates)]) / 1.15
    return low, max([2.0, *near, *estimates]) * 1.15


def forest_picture(findings: Plain) -> Picture | None:
    """Draw up the hazard ratio of every term.

    Parameters
    ----------
    findings : mapping
        The findings; of them ``hazard``, ``tension_curve``, ``settings`` and ``log``.

    Returns
    -------
    Picture or None
        None when there is no hazard study.
    """
    hazard = findings["hazard"]
    if "reason" in hazard:
        return None
    ratios = {
        term: Ratio(term, None, None, None, False, BENT) if curved(findings, term) else leading(hazard, term)
        for term in hazard["terms"]
    }
    named = [
        _row(ratio, f"interval:{term}", term_name(findings, term), _behind(hazard, term))
        for term, ratio in ratios.items()
    ]
    rows = [replace(row, said=f"{row.said} Firth") if row.diamond else row for row in named]
    each = "on each car by itself" if hazard["strata"] else "all cars together"
    subtitle = (
        "How many times as many failures a run, each setting against its reference, at the same age, "
        f"{each} ({counted(hazard['rows'], 'run')}, {hazard['failed']} failed)."
    )
    ends = _axis({"": rows})
    within = [row.lower and row.upper and ends[0] <= row.lower and row.upper <= ends[1] for row in rows if row.estimate]
    note = noted(
        findings,
        f"Bars: {confidence_words(findings['settings']['confidence'])}." if within else "",
        DIAMOND if any(row.diamond for row in rows) else "",
        "" if all(within) else ARROW,
    )
    drawn = rows_drawn({"": rows}, ends, log_ticks(*ends), 1.0, "Times as many failures a run", log=True)
    return Picture("forest", _title(findings, ratios.values()), subtitle, note, *drawn)


def _title(findings: Plain, ratios: Iterable[Ratio]) -> str:
    """Say which settings go with fewer or more failures, as far as the limits tell."""
    every = list(ratios)
    told = [ratio for ratio in every if ratio.reason != BENT and ratio_verdict(findings, ratio) in ("fewer", "more")]
    bent = any(ratio.reason == BENT for ratio in every)
    rest = len(every) - len(told) - bent
    curve = "; tension is a curve" if bent else ""
    if not told:
        whose = "none of the others" if bent else "none of them"
        return f"All settings at once{curve}: for {whose} can a difference in failures be told from chance."
    each = [f"{change(ratio.hr)} {_where(findings, ratio.term)}" for ratio in told if ratio.hr is not None]
    end = {0: "", 1: "; the other one cannot be told"}.get(rest, f"; the other {rest} cannot be told")
    return f"All settings at once, failures a run: {listed(each)}{curve}{end}."


def _where(findings: Plain, term: str) -> str:
    words, level = wording_of_term(findings, term)
    return words.phrase(level) if level else f"with each {words.step}"


def _behind(hazard: Plain, term: str) -> str:
    """Count the failures and runs of a level and of the one it is held against."""
    name, _, level = term.rstrip("]").partition("[")
    if not level:
        return f"{hazard['failed']} of {hazard['rows']} runs failed"
    levels = hazard["levels"].get(name, {})
    if level not in levels:
        return ""
    reference = next(iter(levels))
    here, there = levels[level], levels[reference]
    return f"{here['failed']} of {here['runs']} runs failed v. {there['failed']} of {there['runs']}"


def methods_picture(findings: Plain) -> Picture | None:
    """Draw up the ratio of every term by every method.

    Parameters
    ----------
    findings : mapping
        The findings.

    Returns
    -------
    Picture or None
        One panel for each term that some method has an answer for, tension only where it does not bend; None where
        there is none.
    """
    hazard = findings["hazard"]
    if "reason" in hazard:
        return None
    confidence = findings["settings"]["confidence"]
    z = NormalDist().inv_cdf(0.5 + confidence / 2)
    terms = [term for term in hazard["terms"] if not curved(findings, term)]
    by_term = {term_name(findings, term): _by_method(hazard, term, z) for term in terms}
    by_term = {name: rows for name, rows in by_term.items() if any(row.estimate is not None for row in rows)}
    if not by_term:
        return None
    title = "How far each answer moves when the method is another."
    said = confidence_words(confidence)
    subtitle = f"How many times as many failures a run, {said}; the top row of each panel is the study's own."
    note = (
        "Limits of the top row and of Firth's are from the profile of the likelihood, the others from the standard "
        "error. Precautions too: belts taken off as a precaution count as failed. Age by age: a binomial model."
    )
    ends = _axis(by_term)
    drawn = rows_drawn(by_term, ends, log_ticks(*ends), 1.0, log=True)
    return Picture("methods", title, subtitle, noted(findings, note), *drawn)


def _by_method(hazard: Plain, term: str, z: float) -> list[Row]:
    plain = hazard["terms"][term]
    ratios = {"as it stands": Ratio(term, plain["hr"], plain["lower"], plain["upper"], False, plain.get("reason", ""))}
    for name, said in FITS.items():
        fit = hazard["sensitivity"][name]
        ratios[said] = ratio_of(term, fit.get(term, fit), None if name == "firth" else z, firth=name == "firth")
    rows = [_row(ratio, f"interval:{term}:{said}", said) for said, ratio in ratios.items()]
    return [row if row.estimate is not None else replace(row, said="cannot tell") for row in rows]


def differences_picture(findings: Plain) -> Picture | None:
    """Draw up the differences of all planned comparisons.

    Parameters
    ----------
    findings : mapping
        The findings.

    Returns
    -------
    Picture or None
        None when there is no horizon to compare over, or no setting with two levels.
    """
    rows = [row for name in findings["headline"] for row in _pairs(findings, name)]
    ends = [limit for row in rows for limit in (row.lower, row.upper, row.estimate) if limit is not None]
    if not ends:
        return None
    reach = max(1.0, *(abs(end) for end in ends))
    step = next(step for step in (0.5, 1, 2, 5, 10, 20, 50, 100) if reach <= 4 * step)
    last = math.ceil(reach / step)
    ticks = [step * place for place in range(-last, last + 1)]
    drawn = rows_drawn({"": rows}, (1.08 * ticks[0], 1.08 * ticks[-1]), ticks, 0.0, "Runs gained (below 0: lost)")
    heads = [head for head in findings["headline"].values() if "reason" not in head]
    horizons = sorted({head.get("horizon_runs", findings["settings"].get("horizon_runs")) for head in heads})
    out_of = " or ".join(map(str, horizons)) + (" (said in each row)" if len(horizons) > 1 else "")
    confidence = confidence_words(findings["settings"]["confidence"])
    subtitle = f"Runs gained or lost out of the first {out_of}, {confidence}. {_alike(findings)}".strip()
    return Picture("differences", _told(findings), subtitle, noted(findings), *drawn)


def _alike(findings: Plain) -> str:
    """Say for which settings the others are held alike."""
    held = [
        wording(findings, name).noun
        for name, head in findings["headline"].items()
        if head.get("basis") == "standardised"
    ]
    return f"For {listed(held)} the car and the other settings are held alike." if held else ""


def _told(findings: Plain) -> str:
    """Say which settings made belts last, as far as the intervals tell."""
    judged = {wording(findings, name).noun: answer(findings, name) for name in findings["headline"]}
    told = [
        wording(findings, name).noun
        for name in findings["headline"]
        if {"longer", "shorter"} & set(claim_of(findings, name).get("pairs", {}).values())
    ]
    if not told:
        return "For none of the settings can a difference in belt life be told from chance."
    rest = [noun for noun in judged if noun not in told]
    warned = [f"{noun} (but see its warning)" if judged[noun].warning else noun for noun in told]
    text = f"A difference in belt life can be told for {listed(warned)}"
    return f"{text}; not for {' or '.join(rest)}." if rest else f"{text}."


def _pairs(findings: Plain, name: str) -> list[Row]:
    words, block, head = wording(findings, name), findings["life"][name], findings["headline"][name]
    if reason := claim_of(findings, name).get("reason") or ("" if "pairs" in head else head["reason"]):
        return [Row(f"interval:{name}", words.title, f"cannot tell: {reason}")]
    rows = []
    for pair, difference in head["pairs"].items():
        later, _, earlier = pair.partition(" minus ")
        levels = block["levels"]
        counts = " v. ".join(f"{levels[level]['failed']} of {levels[level]['belts']}" for level in (later, earlier))
        told, of = verdict(findings, name, pair) != "no answer", head["horizon_runs"]
        said = (
            f"{amount(difference['estimate'])} {of} ({spread(difference['lower'], difference['upper'])})"
            if told
            else f"cannot tell: {difference.get('reason', 'no limits')}"
        )
        label = f"{words.title}: {later} minus {earlier}"
        three = (difference["estimate"], difference["lower"], difference["upper"]) if told else (None, None, None)
        rows.append(Row(f"interval:{name}:{pair}", label, said, f"{counts} failed", *three))
    return rows
