"""The forest: hazard ratios on a logarithmic axis, a row for each term, or for each method a term was fitted by.

The estimate that leads (`drivekit.show.ratios`) is drawn. Where it is Firth's the mark is a diamond and the row says
so; a term that cannot be told has a row with its reason. Where tension bends, its row says that one ratio is no answer.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from statistics import NormalDist

from drivekit.show.hazard_words import FITS, curved
from drivekit.show.phrases import Plain, confidence_words, counted, decimal, listed, wording_of_term
from drivekit.show.picture import Interval, Mark, Panel, Picture, Rule
from drivekit.show.plane import in_decades
from drivekit.show.ratios import Ratio, change, leading, ratio_of, term_name
from drivekit.show.words import INVENTED

__all__ = ["forest_picture", "methods_picture"]

WIDEST = 40.0
"""The axis ends here and at its inverse; limits beyond are arrows."""

X_LABEL = "Failures a run, as a multiple"
BENT = "no one number: the curve bends"
DIAMOND = "Diamond: Firth's penalised fit, which stands in where failures are too few for the usual one."
ARROW = "Arrow: the limit lies beyond, or has no end."


def _number(value: float | None) -> str:
    if value is None:
        return "no end"
    if value < 0.005:
        return "<0.01"
    return f"{value:.0f}" if value >= 20 else decimal(value, 2)


def _row(ratio: Ratio, gid: str, place: int, name: str, counts: str) -> Interval:
    if ratio.hr is None:
        said = ratio.reason if ratio.reason == BENT else f"cannot tell: {ratio.reason}"
        return Interval(gid, 0, place, name, said, counts, None, None, None)
    said = f"{_number(ratio.hr)} ({_number(ratio.lower)} to {_number(ratio.upper)})"
    if ratio.firth:
        said += " Firth"
    return Interval(gid, 0, place, name, said, counts, ratio.hr, ratio.lower, ratio.upper, ratio.firth)


def _axis(rows: Sequence[Interval]) -> tuple[float, float]:
    """Choose the ends of the axis: all estimates, 1, and limits as far as `WIDEST`."""
    estimates = [row.estimate for row in rows if row.estimate is not None]
    limits = [end for row in rows for end in (row.lower, row.upper) if end is not None]
    near = [min(max(end, 1 / WIDEST), WIDEST) for end in limits]
    low, high = min([0.5, *near, *(estimate / 1.4 for estimate in estimates)]), max([2.0, *near, *estimates])
    return low / 1.15, high * 1.15


def _panel(name: str, rows: Sequence[Interval], ends: tuple[float, float], rule: str, x_label: str = "") -> Panel:
    marks: tuple[Mark, ...] = (*rows, Rule(rule, 1.0, "no difference"))
    return Panel(
        name=name,
        x_label=x_label,
        y_label="",
        x_limits=ends,
        y_limits=(len(rows) - 0.5, -0.5),
        x_ticks=in_decades(*ends),
        y_ticks=(),
        marks=marks,
        x_log=True,
    )


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
    rows = [
        _row(ratio, f"interval:{term}", place, term_name(findings, term), _behind(hazard, term))
        for place, (term, ratio) in enumerate(ratios.items())
    ]
    each = "on each car by itself" if hazard["strata"] else "all cars together"
    subtitle = (
        f"Failures a run against those without it, all settings at once, at the same age, {each} "
        f"({counted(hazard['rows'], 'run')}, {hazard['failed']} failed)."
    )
    drawn = [row for row in rows if row.estimate is not None]
    parts = [f"Bars: {confidence_words(findings['settings']['confidence'])}."] if drawn else []
    ends = _axis(rows)
    if any(row.diamond for row in drawn):
        parts.append(DIAMOND)
    if any(_leaves(row, ends) for row in drawn):
        parts.append(ARROW)
    if findings["log"].get("invented"):
        parts.append(INVENTED)
    panel = _panel("", rows, ends, "rule:1", X_LABEL)
    return Picture("forest", _title(findings, ratios.values()), subtitle, " ".join(parts), (panel,))


def _leaves(row: Interval, ends: tuple[float, float]) -> bool:
    return row.lower is None or row.upper is None or row.lower < ends[0] or row.upper > ends[1]


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
    by_term = {term: _by_method(hazard, term, z) for term in terms}
    by_term = {term: rows for term, rows in by_term.items() if any(row.estimate is not None for row in rows)}
    if not by_term:
        return None
    ends = _axis([row for rows in by_term.values() for row in rows])
    panels = tuple(_panel(term_name(findings, term), rows, ends, f"rule:1:{term}") for term, rows in by_term.items())
    title = "How far each answer moves when the method is another."
    said = confidence_words(confidence)
    subtitle = f"Failures a run as a multiple, {said}; the top row of each panel is the study's own."
    note = (
        "Limits of the top row and of Firth's are from the profile of the likelihood, the others from the standard "
        "error. Precautions too: belts taken off as a precaution count as failed. Age by age: a binomial model."
    )
    if findings["log"].get("invented"):
        note += f" {INVENTED}"
    return Picture("methods", title, subtitle, note, panels)


def _by_method(hazard: Plain, term: str, z: float) -> list[Interval]:
    plain = hazard["terms"][term]
    ratios = {"as it stands": Ratio(term, plain["hr"], plain["lower"], plain["upper"], False, plain.get("reason", ""))}
    for name, said in FITS.items():
        fit = hazard["sensitivity"][name]
        effect = fit.get(term, fit)
        ratios[said] = ratio_of(term, effect, None if name == "firth" else z, firth=name == "firth")
    rows = []
    for place, (said, ratio) in enumerate(ratios.items()):
        row = _row(ratio, f"interval:{term}:{said}", place, said, "")
        numbers = "cannot tell" if row.estimate is None else row.said.removesuffix(" Firth")
        rows.append(Interval(row.gid, 0, place, said, numbers, "", row.estimate, row.lower, row.upper, row.diamond))
    return rows
