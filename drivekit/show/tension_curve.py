"""The picture of tension as a curve: the hazard along it, the belts' own tensions, and where belts lasted best.

The curve is the parabola with its band; the line and the spline are drawn thin beside it. A form that a person chose
may stand in the parabola's place.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from drivekit.show.axes import framed, inches, log_ticks, number_axis, plot_height
from drivekit.show.beside import apart, room_beside, write_beside
from drivekit.show.hazard_words import best_words, kilonewtons, tension_words
from drivekit.show.paper import HALO, INK, PALE, Picture, Size, ink, width
from drivekit.show.phrases import Plain, confidence_words, counted
from drivekit.show.words import INVENTED

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import SubFigure
    from matplotlib.text import Annotation

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
    note = f"Band: {confidence}, point by point{_beyond(curve, leads, ends)}. Thin: {' and '.join(thin)}. "
    note += "Strokes at the foot: the belts' tensions."
    if leads == "quadratic" and curve["best_n"]["estimate"] is None:
        best = best_words(findings)
        note += f" {best[0].upper()}{best[1:]}."
    if findings["log"].get("invented"):
        note += f" {INVENTED}"

    def draw(body: SubFigure, size: Size) -> None:
        _draw(body, size, curve, leads, ends)

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
    values = [value for form in curve["forms"].values() for value in form["log_hr"]]
    belts = sorted(curve["belts_n"])
    inner = belts[len(belts) // 20], belts[-1 - len(belts) // 20]
    form = curve["forms"][leads]
    for tension, lower, upper in zip(curve["tension_n"], form["lower"], form["upper"], strict=True):
        if inner[0] <= tension <= inner[1]:
            values += [lower, upper]
    most = math.log(HIGHEST)
    return (
        math.exp(min(max(min(values), -most), math.log(0.5)) - 0.1),
        math.exp(max(min(max(values), most), math.log(2)) + 0.35),
    )


def _draw(body: SubFigure, size: Size, curve: Plain, leads: str, ends: tuple[float, float]) -> None:
    """Put band, curves, strokes and names on the body."""
    axes = framed(
        body,
        size,
        x_label="Tension of one span, cold, kN",
        y_label=f"Failures a run, as a multiple of those at {kilonewtons(curve['reference_n'])} kN",
        right=room_beside(CURVES.values(), size),
    )
    at = [tension / 1000 for tension in curve["tension_n"]]
    axes.set(yscale="log", xlim=(at[0], at[-1]), ylim=ends)
    number_axis(axes.yaxis, log_ticks(*ends))
    number_axis(axes.xaxis)
    form, x, order = curve["forms"][leads], at[::2], list(CURVES)
    colour = ink(order.index(leads))["color"]
    lower, upper = ([_ratio(limit) for limit in form[side][::2]] for side in ("lower", "upper"))
    axes.fill_between(
        x,
        lower,
        upper,
        facecolor=(colour, 0.13),
        edgecolor=(colour, 0.45),
        linewidth=0.6 * size.thin,
        gid=f"band:{CURVES[leads]}",
    )
    axes.axhline(1.0, color=PALE, linewidth=1.2 * size.thin, zorder=0.9, gid="rule:1")
    lines, names = [], []
    words: dict[str, Any] = {"textcoords": "offset points", "size": size.small, "color": INK, "bbox": HALO}
    for key, found in curve["forms"].items():
        y = [_ratio(value) for value in found["log_hr"][::2]]
        thick = size.line * (1 if key == leads else 0.6)
        lines += axes.plot(x, y, linewidth=thick, gid=f"curve:{CURVES[key]}", **ink(order.index(key)))
        end = max(place for place, value in enumerate(y) if ends[0] <= value <= ends[1])
        names.append((CURVES[key], CURVES[key], (x[end], y[end]), ink(order.index(key))["color"]))
    axes.plot(
        [tension / 1000 for tension in curve["belts_n"]],
        [0] * len(curve["belts_n"]),
        transform=axes.get_xaxis_transform(),
        linestyle="none",
        marker=2,  # a tick upward
        markersize=3.4 * size.line,
        markeredgewidth=size.thin,
        color=INK,
        clip_on=False,
        gid="rug:belts",
    )
    best = curve["best_n"]
    if leads == "quadratic" and best["estimate"] is not None:
        apart([_bracket(axes, size, [best[name] / 1000 for name in ("estimate", "lower", "upper")], words)], lines)
    write_beside(axes, size, names, [], lines)


def _ratio(log_hr: float) -> float:
    """Take a ratio from its logarithm, as far as numbers reach; far beyond the axis it is all one."""
    return math.exp(min(max(log_hr, -700.0), 700.0))


def _bracket(axes: Axes, size: Size, best: list[float], words: dict[str, Any]) -> Annotation:
    """Draw the best tension with its limits near the head of the axes, and write them below it."""
    wide, high = inches(axes)
    line: dict[str, Any] = {"color": INK, "linewidth": 1.6 * size.thin, "transform": axes.get_xaxis_transform()}
    y = 1 - 0.8 * size.gap / high
    axes.plot(best[1:], (y, y), marker="|", markersize=3.4 * size.line, gid="best:tension", **line)
    axes.plot(
        best[:1],
        (y,),
        marker="D",
        markersize=2.8 * size.line,
        markeredgecolor="white",
        markeredgewidth=size.thin,
        gid="best:tension:estimate",
        **line,
    )
    said = f"best {best[0]:.1f} kN ({best[1]:.1f} to {best[2]:.1f})"
    long, (low, end) = width(said, size.small), axes.get_xlim()
    left = min(max((best[0] - low) / (end - low) * wide - long / 2, 0.3 * size.gap), wide - long)
    offset = (72 * left, -1.5 * size.text)
    return axes.annotate(said, (0, 1), offset, xycoords="axes fraction", va="top", gid="best:tension:text", **words)
