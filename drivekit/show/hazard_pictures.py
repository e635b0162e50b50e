"""Pictures of the hazard fit: tension along its range, and the fit against its own data.

Tension as a curve: the hazard along it, the belts' own tensions, and where belts lasted best. It is the parabola with
its band; the line and the spline are drawn thin beside it, and a form that a person chose may stand in its place. The
fit's data show drift with age, belts that surprise or decide, and risk foreseen.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from drivekit.show import hazard_words
from drivekit.show.axes import (
    apart,
    banded,
    framed,
    inches,
    log_ticks,
    number_axis,
    plot_height,
    room_beside,
    tiled,
    words_at,
    write_beside,
)
from drivekit.show.hazard_words import best_judged, most_moving, tension_told, tension_unit
from drivekit.show.paper import HALO, INK, PALE, Picture, Size, ink, noted, width
from drivekit.show.phrases import Plain, counted, spoken, sure, term_name
from drivekit.units import Units

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import SubFigure
    from matplotlib.lines import Line2D
    from matplotlib.text import Annotation
    from numpy.typing import NDArray

__all__ = ["CURVES", "drift_picture", "influence_picture", "risk_picture", "surprise_picture", "tension_picture"]

CURVES = {"quadratic": "curve", "linear": "line", "spline": "spline"}
"""The forms by their keys in the findings, and as they are named in the picture."""

NAMED = 4
"""Belts that carry their name: those farthest out."""

HIGHEST = 16.0
"""The axis ends here and at its inverse at the most, for at its ends a curve may know next to nothing."""


def tension_picture(findings: Plain, leads: str = "quadratic") -> Picture | None:
    """Draw up what tension does along its range, with the band of one of `CURVES`; None when there is no such curve."""
    if "reason" in (curve := findings["tension_curve"]) or leads not in curve["forms"]:
        return None
    ends = _ends(curve, leads)
    units = spoken(findings)
    against = f"{tension_told(curve['reference_n'], units)} {tension_unit(units)[0]}"
    subtitle = (
        f"Failures a run along tension, other settings alike, against {against}, the middle tension "
        f"({counted(len(curve['belts_n']), 'belt')}, {findings['hazard']['failed']} failed)."
    )
    thin = [name for form, name in CURVES.items() if form != leads and form in curve["forms"]]
    note = noted(
        findings,
        f"Band: {sure(findings)}, point by point{_beyond(curve, leads, ends, units)}. Thin: {' and '.join(thin)}.",
        "Strokes at the foot: the belts' tensions.",
    )

    def draw(body: SubFigure, size: Size) -> None:
        unit, newtons = tension_unit(units)
        y_label = f"Failures a run, as a multiple of those at {against}"
        right = room_beside(CURVES.values(), size)
        axes = framed(body, size, f"Tension of one span, cold, {unit}", y_label, right=right)
        x, form = np.array(curve["tension_n"][::2]) / newtons, curve["forms"][leads]
        axes.set(yscale="log", xlim=(x[0], x[-1]), ylim=ends)
        number_axis(axes.yaxis, log_ticks(*ends))
        number_axis(axes.xaxis)
        limits = _ratio(form["lower"]), _ratio(form["upper"])
        banded(axes, size, f"band:{CURVES[leads]}", [*CURVES].index(leads), x, *limits)
        axes.axhline(1.0, color=PALE, linewidth=1.2 * size.thin, zorder=0.9, gid="rule:1")
        drawn = []
        for key, found in curve["forms"].items():
            look = ink([*CURVES].index(key)) | {"linewidth": size.line * (1 if key == leads else 0.6)}
            drawn += axes.plot(x, _ratio(found["log_hr"]), gid=f"curve:{CURVES[key]}", **look)
        belts, foot = np.array(curve["belts_n"]) / newtons, axes.get_xaxis_transform()
        # marker 2 is a tick upward
        stroke: dict[str, Any] = {"marker": 2, "ms": 3.4 * size.line, "mew": size.thin, "color": INK, "clip_on": False}
        axes.plot(belts, 0 * belts, linestyle="none", transform=foot, gid="rug:belts", **stroke)
        best = curve["run_n"]
        if leads == "quadratic" and best_judged(findings) == "best":
            apart([_bracket(axes, size, [best[name] for name in ("estimate", "lower", "upper")], units)], drawn)
        write_beside(axes, size, {f"curve:{CURVES[key]}": CURVES[key] for key in curve["forms"]})

    return Picture("tension_curve", hazard_words.tension_words(findings), subtitle, note, draw, plot_height)


def _beyond(curve: Plain, leads: str, ends: tuple[float, float], units: Units) -> str:
    """Say below and above which tensions the band runs on past an end of the upright axis; empty where it does not."""
    form, low, high = curve["forms"][leads], math.log(ends[0]), math.log(ends[1])
    points = zip(curve["tension_n"], form["lower"], form["upper"], strict=True)
    inside = [at for at, lower, upper in points if lower >= low and upper <= high]
    if not inside:
        return ", and runs on past the edge"
    sides = [f"below {tension_told(inside[0], units)}"] if inside[0] > curve["tension_n"][0] else []
    sides += [f"above {tension_told(inside[-1], units)}"] if inside[-1] < curve["tension_n"][-1] else []
    return f"; {' and '.join(sides)} {tension_unit(units)[0]} it runs on past the edge" if sides else ""


def _ends(curve: Plain, leads: str) -> tuple[float, float]:
    """Choose the ends of the upright axis: all curves, and the band where most belts ran."""
    form, at, belts = curve["forms"][leads], np.array(curve["tension_n"]), sorted(curve["belts_n"])
    within = (at >= belts[len(belts) // 20]) & (at <= belts[-1 - len(belts) // 20])
    values = [value for each in curve["forms"].values() for value in each["log_hr"]]
    values += [*np.array(form["lower"])[within], *np.array(form["upper"])[within]]
    most = math.log(HIGHEST)
    low, high = min(max(min(values), -most), math.log(0.5)) - 0.1, max(min(max(values), most), math.log(2)) + 0.35
    return math.exp(low), math.exp(high)


def _ratio(log_hr: Sequence[float]) -> NDArray[np.float64]:
    """Take every second ratio from its logarithm, as far as numbers reach; far beyond the axis it is all one."""
    ratio: NDArray[np.float64] = np.exp(np.clip(log_hr[::2], -700.0, 700.0))
    return ratio


def _bracket(axes: Axes, size: Size, best_n: Sequence[float], units: Units) -> Annotation:
    """Draw the best tension often run, and those not told from it, near the head of the axes, and write them below."""
    wide, high = inches(axes)
    (unit, newtons), (at, *limits) = tension_unit(units), (tension_told(one, units) for one in best_n)
    best = [one / newtons for one in best_n]
    line: dict[str, Any] = {"color": INK, "linewidth": 1.6 * size.thin, "transform": axes.get_xaxis_transform()}
    y = 1 - 0.8 * size.gap / high
    axes.plot(best[1:], (y, y), marker="|", ms=3.4 * size.line, gid="best:tension", **line)
    dot: dict[str, Any] = {"marker": "D", "ms": 2.8 * size.line, "mec": "white", "mew": size.thin}
    axes.plot(best[:1], (y,), gid="best:tension:estimate", **dot, **line)
    said = f"best {at} {unit} ({' to '.join(limits)})"
    long, (low, end) = width(said, size.small), axes.get_xlim()
    left = min(max((best[0] - low) / (end - low) * wide - long / 2, 0.3 * size.gap), wide - long)
    look: dict[str, Any] = {"xycoords": "axes fraction", "va": "top", "bbox": HALO}
    return words_at(axes, said, (0, 1), (72 * left, -1.5 * size.text), "best:tension:text", size.small, **look)


def _dots(axes: Axes, size: Size, gid: str, x: Sequence[float], y: Sequence[float], *, hollow: bool = False) -> Line2D:
    """Draw points that are each a belt or a failure; as rings those that did not fail."""
    colour = ink(1 if hollow else 0)["color"]
    look: dict[str, Any] = {"mfc": "white" if hollow else colour, "mec": colour, "mew": 1.2 * size.thin}
    return axes.plot(x, y, "o", ms=2.5 * size.line, clip_on=False, gid=gid, **look)[0]


def _level(axes: Axes, size: Size, gid: str, y: float, text: str = "") -> list[Annotation]:
    """Draw a level line; its words, if any, stand on its right end."""
    axes.axhline(y, color=PALE, linewidth=1.2 * size.thin, zorder=0.9, gid=gid)
    look: dict[str, Any] = {"xycoords": axes.get_yaxis_transform(), "ha": "right", "color": PALE}
    up = (0, 0.8 * size.small)
    return [words_at(axes, text, (1, y), up, f"{gid}:text", size.small, **look)] if text else []


def _name(
    axes: Axes,
    size: Size,
    points: Sequence[tuple[str, float, float]],
    clear_of: Sequence[Line2D],
    beside: Sequence[Annotation] = (),
) -> None:
    """Name points, each (name, x, y), at their right; at their left where the right has no room.

    Named points are ringed; a name that had to move to keep clear of dots, other names and words `beside` is joined to
    its own point.
    """
    leader = {"arrowstyle": "-", "color": PALE, "linewidth": size.thin, "shrinkA": 0, "shrinkB": 0}
    rings: dict[str, Any] = {"mfc": "none", "mec": INK, "ms": 3.2 * size.line, "mew": 1.4 * size.thin}
    axes.plot([x for _, x, _ in points], [y for *_, y in points], "o", clip_on=False, gid="named", **rings)
    low, high = axes.get_xlim()
    names = []
    for name, x, y in points:
        fits = (high - x) / (high - low) * inches(axes)[0] > width(name, size.small) + 0.7 * size.gap
        offset, ha = (0.6 * size.text, "left") if fits else (-0.6 * size.text, "right")
        names.append(words_at(axes, name, (x, y), (offset, 0), f"label:{name}", size.small, ha=ha, bbox=HALO))
    apart([*beside, *names], clear_of)
    for text in names:
        if text.xyann[1]:
            line = axes.annotate("", text.xy, text.xyann, textcoords="offset points", arrowprops=leader)
            assert line.arrow_patch is not None  # it has the properties of one
            line.arrow_patch.set_gid(f"leader:{text.get_text()}")


def _belt_axes(body: SubFigure, size: Size, y_label: str, many: int, *levels: str) -> Axes:
    """Stand axes with a place for each belt, and beyond the last one room for the words of level lines."""
    # the level axis bears no numbers
    axes = framed(body, size, "Belts, as first fitted", y_label, below=-1.3 * size.gap)
    widest = max(width(text, size.small) for text in levels) + 0.4 * size.gap
    axes.set(xlim=(0, math.ceil((many + 1) / (1 - widest / inches(axes)[0]))), xticks=())
    return axes


def drift_picture(findings: Plain) -> Picture | None:
    """Draw the scaled Schoenfeld residuals against age, a panel a term; None where no term has an estimate."""
    if "reason" in (hazard := findings["hazard"]):
        return None
    found = hazard["checks"]["schoenfeld"]
    told = {term: values for term, values in found["scaled"].items() if values and None not in values}
    if not told:
        return None
    subtitle = (
        f"Each failure's pull on the log of a ratio, against the belt's age ({counted(len(found['age']), 'failure')}). "
        "Level line: the answer as it stands; sloping line: how it would change with age."
    )
    note = "Scaled Schoenfeld residuals; the sloping line is their least-squares line."
    y_label = "Pull on the log of the ratio"

    def draw(part: SubFigure, size: Size, term: str) -> None:
        axes, values = framed(part, size, "Runs on the belt", y_label, term_name(findings, term)), told[term]
        reach = max(abs(value) for value in values) * 1.1
        axes.set(xlim=(0, max(found["age"]) + 1), ylim=(-reach, reach))
        _level(axes, size, f"rule:{term}", hazard["terms"][term]["coef"])
        if min(found["age"]) < max(found["age"]):
            ends = np.array((min(found["age"]), max(found["age"])))
            line = np.polynomial.Polynomial.fit(found["age"], values, 1)
            axes.plot(ends, line(ends), linewidth=size.line, gid=f"curve:{term}", **ink(1))
        _dots(axes, size, f"dots:{term}", found["age"], values)

    drawn = tiled([*told], draw, lambda size, _: plot_height(size) - 0.6, 2 if len(told) <= 4 else 3)
    return Picture("drift", hazard_words.drift_words(findings), subtitle, noted(findings, note), *drawn)


def surprise_picture(findings: Plain) -> Picture | None:
    """Draw the deviance residual of each belt, the farthest out named; None without a hazard study."""
    if "reason" in (hazard := findings["hazard"]):
        return None
    belts = hazard["checks"]["belts"]
    each = enumerate(zip(belts["belt"], belts["deviance"], belts["seen"], strict=True), 1)
    every = [(place, *belt) for place, belt in each if belt[1] is not None]
    far = sorted(every, key=lambda entry: -abs(entry[2]))[:NAMED]
    reach = max(2.5, *(abs(value) for _, _, value, _ in every)) * 1.1
    subtitle = f"Deviance residual of each of {counted(len(every), 'belt')}: beyond 2 either way is rare."
    note = "Full dots: belts that failed. Rings: still running or taken off early. "
    note += f"Dark edge and name: the {len(far)} farthest out."

    def draw(body: SubFigure, size: Size) -> None:
        y_label = "Failed sooner (above 0) or later than foreseen"
        axes = _belt_axes(body, size, y_label, len(belts["belt"]), "as foreseen")
        axes.set_ylim(-reach, reach)
        beside = _level(axes, size, "rule:0", 0.0, "as foreseen")
        dots = []
        for gid, wanted in (("dots:failed", True), ("dots:kept", False)):
            if points := [(place, value) for place, _, value, seen in every if bool(seen) == wanted]:
                dots.append(_dots(axes, size, gid, *zip(*points, strict=True), hollow=not wanted))
        _name(axes, size, [(belt, x, y) for x, belt, y, _ in far], dots, beside)

    title = hazard_words.surprise_words(findings)
    return Picture("surprise", title, subtitle, noted(findings, note), draw, plot_height)


def influence_picture(findings: Plain) -> Picture | None:
    """Draw the first term's ratio without each belt; None where it has no estimate."""
    hazard = findings["hazard"]
    term = next(iter(hazard.get("terms", ())), "")
    if "reason" in hazard or most_moving(hazard, term) is None:
        return None
    without = hazard["checks"]["without_belt"]
    stands = hazard["terms"][term]["hr"]
    coefs = zip(without["belt"], without["coef"][term], strict=True)
    every = [(place, belt, math.exp(coef)) for place, (belt, coef) in enumerate(coefs, 1) if coef is not None]
    far = sorted(every, key=lambda entry: -abs(math.log(entry[2] / stands)))[:NAMED]
    ratios = [ratio for _, _, ratio in every]
    ends = (min(*ratios, stands) / 1.1, max(*ratios, stands, 1.0) * 1.1)
    how = "fitted again" if all(without["exact"]) else "to first order (the farthest: fitted again)"
    subtitle = f"{term_name(findings, term)}, {how} without each of {counted(len(every), 'belt')} in turn."
    note = f"Dark edge and name: the {len(far)} belts without which the answer moves most."

    def draw(body: SubFigure, size: Size) -> None:
        levels = {"rule:1": (1.0, "no difference"), "rule:stands": (stands, "all belts")}
        y_label = "Failures a run, as a multiple, without that belt"
        axes = _belt_axes(body, size, y_label, len(without["belt"]), *(text for _, text in levels.values()))
        axes.set(yscale="log", ylim=ends)
        number_axis(axes.yaxis, log_ticks(*ends))
        beside = [text for gid, (y, words) in levels.items() for text in _level(axes, size, gid, y, words)]
        dots = _dots(axes, size, "dots:without", [place for place, _, _ in every], ratios)
        _name(axes, size, [(belt, x, y) for x, belt, y in far], [dots], beside)

    title = hazard_words.influence_words(findings)
    return Picture("influence", title, subtitle, noted(findings, note), draw, plot_height)


def risk_picture(findings: Plain) -> Picture | None:
    """Draw failures seen against those foreseen, in parts of the runs by fitted risk; None without a hazard study."""
    if "reason" in (hazard := findings["hazard"]):
        return None
    parts = hazard["checks"]["by_risk"]
    expected, seen = parts["expected"], parts["seen"]
    end = math.ceil(1.15 * max(*expected, *seen, 1.0))
    names = [f"part {place}" for place in range(1, len(seen) + 1)]
    names[0] = "lowest risk"
    if len(seen) > 1:
        names[-1] = "highest risk"
    runs = counted(sum(parts["runs"]), "run")
    subtitle = f"{runs} beside a failure, in {len(seen)} parts by the risk that the fit gives them."
    note = "On the sloping line as many failed as were foreseen."

    def draw(body: SubFigure, size: Size) -> None:
        axes = framed(body, size, "Failures foreseen", "Failures seen")
        axes.set(xlim=(0, end), ylim=(0, end))
        number_axis(axes.yaxis, whole=True)
        alike = axes.plot((0, end), (0, end), linewidth=0.6 * size.line, gid="curve:alike", **ink(4))
        dots = _dots(axes, size, "dots:parts", expected, seen)
        _name(axes, size, [*zip(names, expected, seen, strict=True)], [*alike, dots])

    return Picture("risk", hazard_words.risk_words(findings), subtitle, noted(findings, note), draw, plot_height)
