"""Pictures of intervals, one a row: the forest of hazard ratios, by term and by method, and the differences in runs.

A row has its name at the left and its numbers at the right, "no difference" is marked, and several panels share one
axis. A limit without end, or beyond the axis, is an arrow at the end of the axis; what cannot be told has a row too,
with its reason and no mark. Of a hazard ratio the estimate that leads (`drivekit.show.phrases`) is drawn. Where it is
Firth's the mark is a diamond and the row says so. Where tension bends, its row says that one ratio is no answer. The
differences are those that the answers speak of: where an answer is standardised, so are all pairs of its setting, and
each row says out of how many runs.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from itertools import chain, pairwise
from typing import TYPE_CHECKING, Any, NamedTuple

from drivekit.show import phrases as say
from drivekit.show.axes import axes_at, inches, log_ticks, number, number_axis, tiled, words_at
from drivekit.show.hazard_words import by_method, curved, terms_told_words
from drivekit.show.paper import INK, PALE, Picture, Size, ink, noted, width, wrapped
from drivekit.show.phrases import Plain, Ratio
from drivekit.show.words import sides, told_words, verdict

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import SubFigure

__all__ = ["Row", "differences_picture", "forest_picture", "methods_picture", "rows_drawn"]

WIDEST = 40.0
"""The axis ends here and at its inverse; limits beyond are arrows."""

BENT = "no one number: the curve bends"
DIAMOND = "Diamond: Firth's penalised fit, which stands in where failures are too few for the usual one."
ARROW = "Arrow: the limit lies beyond, or has no end."

SHARE = 0.31
"""Part of the width that names, and that numbers, take at most."""

WIDER = 1.036
"""On a screen letters are set on whole pixels, and a little wider than the font has them."""


class Row(NamedTuple):
    """An estimate with its limits in the unit of the axis, or the reason why there is none."""

    gid: str  # ``interval:`` and what is compared
    name: str  # what is compared, at the left
    said: str  # the numbers or the reason, at the right
    counts: str = ""  # what stands behind them
    estimate: float | None = None  # None where it cannot be told
    lower: float | None = None  # None where it has no end
    upper: float | None = None
    diamond: bool = False  # drawn with another mark: it comes from another method than the rest


def rows_drawn(
    panels: Mapping[str, Sequence[Row]], ends: tuple[float, float], x_label: str, ticks: Sequence[float] = ()
) -> tuple[Callable[[SubFigure, Size], None], Callable[[Size], float]]:
    """Give how panels of rows on one axis are drawn, and the height that they need, as a `Picture` takes them.

    Panels go by what stands above each; one that stands alone has no name. Where numbers may stand at ticks, rows are
    of differences; else they are of ratios, on a logarithmic axis. Numbers without room are left out, counted from that
    which is no difference: 0, or 1 for ratios. The title of the axis is empty where the picture's words say it for all
    panels.
    """
    log, none = not ticks, 0.0 if ticks else 1.0
    ticks = ticks or log_ticks(*ends)
    every = [row for each in panels.values() for row in each]

    def words(size: Size, wide: float) -> dict[str, list[list[str]]]:
        """Break name, numbers and counts of each row into lines, in a panel of a width."""
        room, points = SHARE * wide, (size.text, size.small, size.small)
        return {row.gid: [*map(wrapped, (row.name, row.said, row.counts), (room,) * 3, points)] for row in every}

    def about(size: Size) -> tuple[float, float]:
        """Give the inches below and above the rows of a panel."""
        return (3.2 if x_label else 2.0) * size.gap, (3.3 if any(panels) else 1.9) * size.gap

    def high(size: Size, wide: float) -> float:
        """Make each row as tall as the tallest, and give it air; a slide gives what height there is more."""
        each = words(size, wide).values()
        most = max(max(len(name) * size.text, len(said + counts) * size.small) for name, said, counts in each)
        leading, air = (1.2, 0.3) if size.height is not None else (1.3, 0.45 if any(panels) else 0.9)
        return max(map(len, panels.values())) * (leading * most / 72 + air * size.gap) + sum(about(size))

    def draw(part: SubFigure, size: Size, name: str) -> None:
        said, each = words(size, inches(part)[0]), panels[name]
        names = chain.from_iterable(lines for lines, _, _ in said.values())
        numbers = chain.from_iterable(numbers + counts for _, numbers, counts in said.values())
        left = 1.6 * size.gap + WIDER * max(width(line, size.text) for line in names)
        right = 1.6 * size.gap + WIDER * max(width(line, size.small) for line in numbers)
        axes = axes_at(part, size, left, right, *about(size))
        axes.set(xscale="log" if log else "linear", xlim=ends, ylim=(len(each) - 0.5, -0.5), yticks=())
        axes.set_gid(f"panel:{name}" if name else "panel")
        _dress(axes, size, ticks, none, x_label)
        own, start = f"rule:{none:g}:{name}".rstrip(":"), 72 * (0.6 * size.gap - left)
        axes.axvline(none, color=INK, linewidth=1.4 * size.thin, gid=own)
        centred: dict[str, Any] = {"xycoords": axes.get_xaxis_transform(), "ha": "center", "va": "baseline"}
        up = (0, 0.4 * size.text)
        words_at(axes, "no difference", (none, 1), up, f"{own}:text", size.small, color=PALE, **centred)
        if name:
            head: dict[str, Any] = {"xycoords": "axes fraction", "va": "baseline"}
            words_at(axes, name, (0, 1), (start, 1.7 * size.text), f"label:{name}", size.text, **head)
        for at, row in enumerate(each):
            _write(axes, size, at, row.gid, said[row.gid], start)
            _interval(axes, size, at, row, ends)

    return tiled([*panels], draw, high)


def _dress(axes: Axes, size: Size, ticks: Sequence[float], none: float, x_label: str) -> None:
    """Write numbers at the ticks that have room, and leave of the frame the axis and the upright grid."""
    widest = max(width(number(tick), size.text) for tick in ticks) + 0.5 * size.gap
    places = axes.transData.transform([(tick, 0) for tick in ticks])[:, 0] / axes.figure.dpi
    closest = min((later - earlier for earlier, later in pairwise(places)), default=widest)
    stride = max(1, math.ceil(widest / closest))
    number_axis(axes.xaxis, ticks[ticks.index(none) % stride :: stride])
    axes.spines["left"].set_visible(False)
    axes.grid(axis="x", linewidth=1.2 * size.thin)
    axes.set_xlabel(x_label, size=size.text, color=PALE)


def _write(axes: Axes, size: Size, at: int, gid: str, words: Sequence[list[str]], start: float) -> None:
    """Write the name of a row at the left, at the right its numbers and below them the counts."""
    name, said, counts = words
    up = 0.65 * size.small * (len(counts) - len(said)) if counts else 0.0
    beside: dict[str, Any] = {"xycoords": axes.get_yaxis_transform(), "linespacing": 1.2}
    for part, text, x, offset, points, colour, va in (
        ("name", name, 0, (start, 0), size.text, INK, "center"),
        ("said", said, 1, (size.text, up), size.small, INK, "bottom" if counts else "center"),
        ("counts", counts, 1, (size.text, up), size.small, PALE, "top"),
    ):
        if text:
            look = {"color": colour, "va": va, **beside}
            words_at(axes, "\n".join(text), (x, at), offset, f"{gid}:{part}", points, **look)


def _interval(axes: Axes, size: Size, at: int, row: Row, ends: tuple[float, float]) -> None:
    """Draw the line from limit to limit, bars or arrows at its ends, and the estimate upon it, if there is one."""
    if row.estimate is None:
        return
    style, (low, high) = ink(0), ends
    mark: dict[str, Any] = {"color": style["color"], "linestyle": "none", "clip_on": False}
    if (row.lower, row.upper) != (None, None):
        limits = low if row.lower is None else max(row.lower, low), high if row.upper is None else min(row.upper, high)
        axes.plot(limits, (at, at), linewidth=size.line, gid=f"{row.gid}:limits", **style)
        for side, limit, end, arrow in (("lower", row.lower, limits[0], "<"), ("upper", row.upper, limits[1], ">")):
            form, big = ("|", 4) if limit == end else (arrow, 2.6)
            axes.plot(end, at, marker=form, ms=big * size.line, mew=2 * size.thin, gid=f"{row.gid}:{side}", **mark)
    mark |= {"ms": 3.6 * size.line, "mec": "white", "mew": size.thin, "marker": "D" if row.diamond else "o"}
    axes.plot(row.estimate, at, gid=row.gid, **mark)


def _number(value: float | None) -> str:
    if value is None:
        return "no end"
    if value < 0.005:
        return "<0.01"
    if value >= 9999.5:
        return ">9,999"
    return f"{value:.0f}" if value >= 20 else say.decimal(value, 2)


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
    """Draw up the hazard ratio of every term; None when there is no hazard study."""
    if "reason" in (hazard := findings["hazard"]):
        return None
    rows = []
    for term in hazard["terms"]:
        ratio = Ratio(term, None, None, None, False, BENT) if curved(findings, term) else say.leading(hazard, term)
        row = _row(ratio, f"interval:{term}", say.term_name(findings, term), _behind(hazard, term))
        rows.append(row._replace(said=f"{row.said} Firth") if row.diamond else row)
    each = "on each car by itself" if hazard["strata"] else "all cars together"
    subtitle = (
        "How many times as many failures a run, each setting against its reference, at the same age, "
        f"{each} ({say.counted(hazard['rows'], 'run')}, {hazard['failed']} failed)."
    )
    ends = _axis({"": rows})
    within = [row.lower and row.upper and ends[0] <= row.lower and row.upper <= ends[1] for row in rows if row.estimate]
    note = noted(
        findings,
        f"Bars: {say.sure(findings)}." if within else "",
        DIAMOND if any(row.diamond for row in rows) else "",
        "" if all(within) else ARROW,
    )
    drawn = rows_drawn({"": rows}, ends, "Times as many failures a run")
    return Picture("forest", terms_told_words(findings), subtitle, note, *drawn)


def _behind(hazard: Plain, term: str) -> str:
    """Count the failures and runs of a level and of the one it is held against."""
    name, _, level = term.rstrip("]").partition("[")
    if not level:
        return f"{hazard['failed']} of {hazard['rows']} runs failed"
    levels = hazard["levels"].get(name, {})
    if level not in levels:
        return ""
    here, there = levels[level], levels[next(iter(levels))]
    return f"{here['failed']} of {here['runs']} runs failed v. {there['failed']} of {there['runs']}"


def methods_picture(findings: Plain) -> Picture | None:
    """Draw up the ratio of every term by every method; None where no method has an answer.

    Each term that some method has an answer for has a panel, tension only where it does not bend.
    """
    if "reason" in (hazard := findings["hazard"]):
        return None
    by_term = {}
    for term in (term for term in hazard["terms"] if not curved(findings, term)):
        ratios = by_method(findings, term).items()
        rows = [_row(ratio, f"interval:{term}:{said}", said) for said, ratio in ratios]
        if any(row.estimate is not None for row in rows):
            told = [row if row.estimate is not None else row._replace(said="cannot tell") for row in rows]
            by_term[say.term_name(findings, term)] = told
    if not by_term:
        return None
    title = "How far each answer moves when the method is another."
    subtitle = f"How many times as many failures a run, {say.sure(findings)}; "
    subtitle += "the top row of each panel is the study's own."
    note = (
        "Limits of the top row and of Firth's are from the profile of the likelihood, the others from the standard "
        "error. Precautions too: belts taken off as a precaution count as failed. Age by age: a binomial model."
    )
    return Picture("methods", title, subtitle, noted(findings, note), *rows_drawn(by_term, _axis(by_term), ""))


def differences_picture(findings: Plain) -> Picture | None:
    """Draw up the differences of all planned comparisons; None without a horizon, or a setting of two levels."""
    rows = [row for name in findings["headline"] for row in _pairs(findings, name)]
    ends = [limit for row in rows for limit in (row.lower, row.upper, row.estimate) if limit is not None]
    if not ends:
        return None
    reach = max(1.0, *(abs(end) for end in ends))
    step = next(step for step in (0.5, 1, 2, 5, 10, 20, 50, 100) if reach <= 4 * step)
    last = math.ceil(reach / step)
    ticks = [step * place for place in range(-last, last + 1)]
    drawn = rows_drawn({"": rows}, (1.08 * ticks[0], 1.08 * ticks[-1]), "Runs gained (below 0: lost)", ticks)
    told = [head for head in findings["headline"].values() if "reason" not in head]
    horizons = sorted({head.get("horizon_runs", findings["settings"].get("horizon_runs")) for head in told})
    out_of = " or ".join(map(str, horizons)) + (" (said in each row)" if len(horizons) > 1 else "")
    subtitle = f"Runs gained or lost out of the first {out_of}, {say.sure(findings)}."
    heads = findings["headline"].items()
    if held := [say.wording(findings, name).noun for name, head in heads if head.get("basis") == "standardised"]:
        subtitle += f" For {say.listed(held)} the car and the other settings are held alike."
    return Picture("differences", told_words(findings), subtitle, noted(findings), *drawn)


def _pairs(findings: Plain, name: str) -> list[Row]:
    words, block, head = say.wording(findings, name), findings["life"][name], findings["headline"][name]
    if reason := say.claim_of(findings, name).get("reason") or ("" if "pairs" in head else head["reason"]):
        return [Row(f"interval:{name}", words.title, f"cannot tell: {reason}")]
    rows = []
    for pair, difference in head["pairs"].items():
        (later, earlier), levels = sides(pair), block["levels"]
        counts = " v. ".join(f"{levels[level]['failed']} of {levels[level]['belts']}" for level in (later, earlier))
        why = f"cannot tell: {difference.get('reason', 'no limits')}"
        row = Row(f"interval:{name}:{pair}", f"{words.title}: {later} minus {earlier}", why, f"{counts} failed")
        if verdict(findings, name, pair) != "no answer":
            estimate, lower, upper = (difference[part] for part in ("estimate", "lower", "upper"))
            said = f"{say.amount(estimate)} {head['horizon_runs']} ({say.spread(lower, upper)})"
            row = row._replace(said=said, estimate=estimate, lower=lower, upper=upper)
        rows.append(row)
    return rows
