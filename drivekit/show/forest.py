"""The forest: hazard ratios on a logarithmic axis, a row for each term, or for each method a term was fitted by.

The estimate that leads (`drivekit.show.ratios`) is drawn. Where it is Firth's the mark is a diamond and the row says
so; a term that cannot be told has a row with its reason. Where tension bends, its row says that one ratio is no answer.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from statistics import NormalDist

from drivekit.show.axes import log_ticks
from drivekit.show.hazard_words import FITS, curved
from drivekit.show.paper import Picture
from drivekit.show.phrases import Plain, confidence_words, counted, decimal, listed, wording_of_term
from drivekit.show.ratios import Ratio, change, leading, ratio_of, term_name
from drivekit.show.rows import Row, Rows
from drivekit.show.words import INVENTED

__all__ = ["forest_picture", "methods_picture"]

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


def _rows(panels: Mapping[str, Sequence[Row]], x_label: str = "") -> Rows:
    """Choose the ends of the axis: all estimates, 1, and limits as far as `WIDEST`."""
    rows = [row for each in panels.values() for row in each]
    estimates = [row.estimate for row in rows if row.estimate is not None]
    limits = [end for row in rows for end in (row.lower, row.upper) if end is not None]
    near = [min(max(end, 1 / WIDEST), WIDEST) for end in limits]
    low = min([0.5, *near, *(estimate / 1.4 for estimate in estimates)]) / 1.15
    high = max([2.0, *near, *estimates]) * 1.15
    return Rows(panels, (low, high), log_ticks(low, high), 1.0, x_label, log=True)


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
    named = {term: _row(ratio, f"interval:{term}", term_name(findings, term)) for term, ratio in ratios.items()}
    rows = [
        replace(row, said=f"{row.said} Firth" if row.diamond else row.said, counts=_behind(hazard, term))
        for term, row in named.items()
    ]
    each = "on each car by itself" if hazard["strata"] else "all cars together"
    subtitle = (
        "How many times as many failures a run, each setting against its reference, at the same age, "
        f"{each} ({counted(hazard['rows'], 'run')}, {hazard['failed']} failed)."
    )
    drawn = _rows({"": rows}, "Times as many failures a run")
    notes = {
        f"Bars: {confidence_words(findings['settings']['confidence'])}.": any(row.estimate for row in rows),
        DIAMOND: any(row.diamond for row in rows),
        ARROW: any(row.leaves(drawn.ends) for row in rows),
        INVENTED: findings["log"].get("invented"),
    }
    note = " ".join(text for text, holds in notes.items() if holds)
    return Picture("forest", _title(findings, ratios.values()), subtitle, note, drawn.draw, drawn.needs)


def _title(findings: Plain, ratios: Iterable[Ratio]) -> str:
    """Say which settings go with fewer or more failures, as far as the limits tell."""
    every = list(ratios)
    told = [ratio for ratio in every if ratio.verdict in ("fewer", "more") and ratio.hr is not None]
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
    drawn = _rows(by_term)
    title = "How far each answer moves when the method is another."
    said = confidence_words(confidence)
    subtitle = f"How many times as many failures a run, {said}; the top row of each panel is the study's own."
    note = (
        "Limits of the top row and of Firth's are from the profile of the likelihood, the others from the standard "
        "error. Precautions too: belts taken off as a precaution count as failed. Age by age: a binomial model."
    )
    if findings["log"].get("invented"):
        note += f" {INVENTED}"
    return Picture("methods", title, subtitle, note, drawn.draw, drawn.needs)


def _by_method(hazard: Plain, term: str, z: float) -> list[Row]:
    plain = hazard["terms"][term]
    ratios = {"as it stands": Ratio(term, plain["hr"], plain["lower"], plain["upper"], False, plain.get("reason", ""))}
    for name, said in FITS.items():
        fit = hazard["sensitivity"][name]
        ratios[said] = ratio_of(term, fit.get(term, fit), None if name == "firth" else z, firth=name == "firth")
    rows = [_row(ratio, f"interval:{term}:{said}", said) for said, ratio in ratios.items()]
    return [row if row.estimate is not None else replace(row, said="cannot tell") for row in rows]
