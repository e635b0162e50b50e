"""The picture of tension as a curve: the hazard along it, the belts' own tensions, and where belts lasted best.

The curve is the parabola with its band; the line and the spline are drawn thin beside it. A form that a person chose
may stand in the parabola's place.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from drivekit.show.axes import framed, inches, log_ticks, number_axis, plot_height
from drivekit.show.beside import apart, room_beside, write_beside
from drivekit.show.hazard_words import best_judged, kilonewtons, tension_words
from drivekit.show.paper import HALO, INK, PALE, Picture, Size, ink, noted, width
from drivekit.show.phrases import Plain, confidence_words, counted

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import SubFigure
    from matplotlib.text import Annotation
    from numpy.typing import NDArray

__all__ = ["CURVES", "tension_picture"]

CURVES = {"quadratic": "curve", "linear": "line", "spline": "spline"}
"""The forms by their keys in the findings, and as they are named in the picture."""

HIGHEST = 16.0
"""The axis ends here and at its inverse at the most, for at its ends a curve may know next to nothing."""


def tension_picture(findings: Plain, leads: str = "quadratic") -> Picture | None:
    """Draw up what tension does along its range.

    Parameters
    ----------
    findings : mapping
        The findings; of them ``tension_curve``, ``hazard``, ``settings`` and ``log``.
    leads : {"quadratic", "linear", "spline"}
        The form drawn with its band.

    Returns
    -------
    Picture or None
        None when there is no curve, or not that form of it.
    """
    curve = findings["tension_curve"]
    if "reason" in curve or leads not in curve["forms"]:
        return None
    ends = _ends(curve, leads)
    confidence = confidence_words(findings["settings"]["confidence"])
    against = kilonewtons(curve["reference_n"])
    hazard = findings["hazard"]
    subtitle = (
        f"Failures a run along tension, other settings alike, against {against} kN, the middle tension "
        f"({counted(len(curve['belts_n']), 'belt')}, {hazard['failed']} failed)."
    )
    thin = [name for form, name in CURVES.items() if form != leads and form in curve["forms"]]
    note = noted(
        findings,
        f"Band: {confidence}, point by point{_beyond(curve, leads, ends)}. Thin: {' and '.join(thin)}.",
        "Strokes at the foot: the belts' tensions.",
    )

    told = best_judged(findings) == "best"

    def draw(body: SubFigure, size: Size) -> None:
        _draw(body, size, curve, leads, ends, told=told)

    return Picture("tension_curve", tension_words(findings), subtitle, note, draw, plot_height)


def _beyond(curve: Plain, leads: str, ends: tuple[float, float]) -> str:
    """Say below and above which tensions the band runs on past an end of the upright axis; empty where it does not."""
    form, low, high = curve["forms"][leads], math.log(ends[0]), math.log(ends[1])
    points = zip(curve["tension_n"], form["lower"], form["upper"], strict=True)
    inside = [at for at, lower, upper in points if lower >= low and upper <= high]
    if not inside:
        return ", and runs on past the edge"
    sides = [f"below {kilonewtons(inside[0])}"] if inside[0] > curve["tension_n"][0] else []
    sides += [f"above {kilonewtons(inside[-1])}"] if inside[-1] < curve["tension_n"][-1] else []
    return f"; {' and '.join(sides)} kN it runs on past the edge" if sides else ""


def _ends(curve: Plain, leads: str) -> tuple[float, float]:
    """Choose the ends of the upright axis: all curves, and the band where most belts ran."""
    form, at, belts = curve["forms"][leads], np.array(curve["tension_n"]), sorted(curve["belts_n"])
    within = (at >= belts[len(belts) // 20]) & (at <= belts[-1 - len(belts) // 20])
    values = [value for each in curve["forms"].values() for value in each["log_hr"]]
    values += [*np.array(form["lower"])[within], *np.array(form["upper"])[within]]
    most = math.log(HIGHEST)
    low, high = min(max(min(values), -most), math.log(0.5)) - 0.1, max(min(max(values), most), math.log(2)) + 0.35
    return math.exp(low), math.exp(high)


def _draw(body: SubFigure, size: Size, curve: Plain, leads: str, ends: tuple[float, float], *, told: bool) -> None:
    """Put band, curves, strokes and names on the body."""
    y_label = f"Failures a run, as a multiple of those at {kilonewtons(curve['reference_n'])} kN"
    axes = framed(body, size, "Tension of one span, cold, kN", y_label, right=room_beside(CURVES.values(), size))
    x, form = np.array(curve["tension_n"][::2]) / 1000, curve["forms"][leads]
    styles = {key: ink(place) for place, key in enumerate(CURVES)}
    axes.set(yscale="log", xlim=(x[0], x[-1]), ylim=ends)
    number_axis(axes.yaxis, log_ticks(*ends))
    number_axis(axes.xaxis)
    colour = styles[leads]["color"]
    fill: dict[str, Any] = {"facecolor": (colour, 0.13), "edgecolor": (colour, 0.45), "linewidth": 0.6 * size.thin}
    axes.fill_between(x, _ratio(form["lower"]), _ratio(form["upper"]), gid=f"band:{CURVES[leads]}", **fill)
    axes.axhline(1.0, color=PALE, linewidth=1.2 * size.thin, zorder=0.9, gid="rule:1")
    lines, names = [], []
    for key, found in curve["forms"].items():
        y = _ratio(found["log_hr"])
        thick = size.line * (1 if key == leads else 0.6)
        lines += axes.plot(x, y, linewidth=thick, gid=f"curve:{CURVES[key]}", **styles[key])
        end = np.flatnonzero((y >= ends[0]) & (y <= ends[1]))[-1]
        names.append((CURVES[key], CURVES[key], (float(x[end]), float(y[end])), styles[key]["color"]))
    belts, foot = np.array(curve["belts_n"]) / 1000, axes.get_xaxis_transform()
    # marker 2 is a tick upward
    stroke: dict[str, Any] = {"marker": 2, "ms": 3.4 * size.line, "mew": size.thin, "color": INK, "clip_on": False}
    axes.plot(belts, 0 * belts, linestyle="none", transform=foot, gid="rug:belts", **stroke)
    best = curve["run_n"]
    if leads == "quadratic" and told:
        apart([_bracket(axes, size, [best[name] / 1000 for name in ("estimate", "lower", "upper")])], lines)
    write_beside(axes, size, names, [], lines)


def _ratio(log_hr: Sequence[float]) -> NDArray[np.float64]:
    """Take every second ratio from its logarithm, as far as numbers reach; far beyond the axis it is all one."""
    ratio: NDArray[np.float64] = np.exp(np.clip(log_hr[::2], -700.0, 700.0))
    return ratio


def _bracket(axes: Axes, size: Size, best: Sequence[float]) -> Annotation:
    """Draw the best tension often run, and those not told from it, near the head of the axes, and write them below."""
    wide, high = inches(axes)
    line: dict[str, Any] = {"color": INK, "linewidth": 1.6 * size.thin, "transform": axes.get_xaxis_transform()}
    y = 1 - 0.8 * size.gap / high
    axes.plot(best[1:], (y, y), marker="|", ms=3.4 * size.line, gid="best:tension", **line)
    dot: dict[str, Any] = {"marker": "D", "ms": 2.8 * size.line, "mec": "white", "mew": size.thin}
    axes.plot(best[:1], (y,), gid="best:tension:estimate", **dot, **line)
    said = f"best {best[0]:.1f} kN ({best[1]:.1f} to {best[2]:.1f})"
    long, (low, end) = width(said, size.small), axes.get_xlim()
    left = min(max((best[0] - low) / (end - low) * wide - long / 2, 0.3 * size.gap), wide - long)
    words: dict[str, Any] = {"xycoords": "axes fraction", "textcoords": "offset points", "va": "top", "bbox": HALO}
    words |= {"size": size.small, "color": INK, "gid": "best:tension:text"}
    return axes.annotate(said, (0, 1), (72 * left, -1.5 * size.text), **words)
