"""How the belt tracks: each car's edge temperatures on its idler flats, and which way a tilted pulley sends the belt.

The readings are drawn with the lines of `drivekit.decide.tracking`, each belt's own and their mean, and where that
crosses even; the sign of a tilt from a `Walk`, seen from the front, at the arriving belt, and in its parts.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from math import cos, pi, radians, sin
from typing import TYPE_CHECKING, Any

import numpy as np

from drivekit.decide.tracking import tracking_of, words
from drivekit.show.axes import arrow, axes_at, framed, plot_height, room_beside, tiled, words_at, write_beside
from drivekit.show.paper import INK, PALE, Picture, Size, noted, width
from drivekit.show.phrases import Plain, counted, raised, spoken
from drivekit.units import flats_words

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import SubFigure
    from numpy.typing import NDArray

    from drivekit.decide.by_belt import ByBelt
    from drivekit.decide.tracking import Tracking
    from drivekit.drive.entry import Walk

__all__ = ["STEERING", "car_picture", "cars_fits", "cars_pictures", "cars_words", "figure_names", "sign_picture"]

Style = dict[str, Any]

BELT, LEAN, STEEL, RIM = "#0072B2", "#D55E00", "#EDEFF1", "#8A9099"
MOST_RUNS = 500
"""Dots that one picture can carry and still be read, with the lines of their belts."""
DRAWN_TILT_RAD = radians(14)
"""A tilt of tenths of a degree would not be seen: it is drawn this large, and the subtitle says so."""

STEERING = (
    "Belts walk by themselves, each to its own side, and crews answer a reading with flats: a plain line through the "
    "readings would then be far too flat. Here every belt has a line of its own, all with one slope. The readings are "
    "of warm-up, when the belt idles: under load it leans otherwise, and only a reading after a pull says how."
)


def cars_fits(findings: Plain, *, aim_c: float = 0.0) -> dict[str, Tracking]:
    """Give the fit of every car of which at least one run has both its flats and its edge temperatures."""
    block, confidence = findings.get("tracking", {}), findings["settings"]["confidence"]
    if isinstance(block.get("reason"), str):
        return {}
    read = {car: of_car["readings"] for car, of_car in block.items() if of_car["n"]}
    return {car: tracking_of(readings, confidence=confidence, aim_c=aim_c) for car, readings in read.items()}


def car_picture(findings: Plain, car: str, fit: Tracking, name: str = "tracking") -> Picture:
    """Draw up one car's readings, every belt's line and their mean, where that crosses even, and the next move.

    The fit is of the readings that the ``tracking`` of the findings holds, in the order of the runs; the name is the
    stem of the picture's file.
    """
    readings = findings["tracking"][car]["readings"]
    points = np.column_stack([np.array(readings[column], float) for column in ("net_flats", "difference_c")])[fit.used]
    subtitle = "Edge temperatures after warm-up on net idler flats, both front less rear"
    subtitle += f"; {counted(fit.n, 'run')} of {counted(len(fit.belts), 'belt')}"
    if len(points) > MOST_RUNS:
        subtitle += f", the last {MOST_RUNS} and their belts drawn"
    capital, units = raised(car), spoken(findings)
    if fit.fit is None:
        title, note = f"{capital}: what a flat does {words(fit.slope, '°C', units)}", "The last run is ringed."
    else:
        if fit.lift_now is not None:
            points[:, 1] -= fit.fit.coefficients[2] * (fit.settings[:, 2] - fit.lift_now)
            subtitle += f", brought to {flats_words(fit.lift_now)} of snout lift"
        title = f"{capital}: these runs do not tell at how many flats belts run even"
        if fit.zero.lower is not None:
            title = f"{capital}: belts run even at {words(fit.zero, 'net flats')}; "
            title += f"one more at the front moves the edges by {units.warmer(fit.fit.coefficients[1], 'z')}"
        subtitle += f"; a flat moves them by {words(fit.slope, '°C', units)}"
        note = (
            "Dots: runs, the last one ringed. Thin lines: belts, each over the settings it ran at; thick: their mean, "
            "the bar on it the limits of where it is even; dashed: the belt on the engine, the arrow its next move."
        )

    times = units.apart(1.0, "°C")
    points[:, 1] *= times

    def draw(body: SubFigure, size: Size) -> None:
        own = "" if fit.fit is None else f"belt {fit.move.belt or fit.belts[-1]}"
        fits = width(own, size.text) < 1.4 * size.gap * 6
        ends = {"line:mean": "mean of belts", "line:own": own if fits else "this belt"}
        edges = f"Edges, front less rear, {units.name('°C')}"
        labels: Style = {"x_label": "Net idler flats, front less rear", "y_label": edges}
        axes = framed(body, size, right=room_beside(ends.values(), size) if own else 0.0, **labels)
        axes.margins(0.06)
        axes.axhline(0, color=INK, linewidth=1.6 * size.thin, gid="rule:even", zorder=1.5)
        if len(points):
            drawn, last = points[-MOST_RUNS:], points[-1:]
            spot: Style = {"marker": "o", "linestyle": "none", "clip_on": False}
            dots: Style = {"ms": 2.6 * size.line, "color": BELT, "mec": "white", "mew": 0.5 * size.thin, "zorder": 2.2}
            ring: Style = {"ms": 5.4 * size.line, "mfc": "none", "mec": INK, "mew": 0.7 * size.line}
            axes.plot(*drawn.T, gid="spots:readings", **spot, **dots)
            axes.plot(*last.T, gid="spot:last", **spot, **ring)
        names = () if fit.fit is None else _draw_lines(axes, size, fit, fit.fit, times)
        move = fit.move
        if move.idler or move.snout:
            start = (points[-1, 0], times * move.unmoved_c)
            tip = (points[-1, 0] + (move.idler or 0), times * move.expected_c)
            bow: Style = {"connectionstyle": "arc3,rad=0.18", "shrinkA": 0, "shrinkB": 2}
            style: Style = {"color": INK, "lw": 0.9 * size.line, "zorder": 3.4}
            arrow(axes, start, tip, "arrow:move", head=3.2 * size.line, **bow, **style)
            axes.update_datalim([tip])
        axes.autoscale_view()
        write_beside(axes, size, {gid: ends[gid] for gid in names})

    return Picture(name, title, f"{subtitle}.", noted(findings, note), draw, plot_height)


def cars_pictures(findings: Plain) -> dict[str, Picture]:
    """Draw up the readings of every car that has some, each by the name of its file."""
    fits = cars_fits(findings)
    return {name: car_picture(findings, car, fits[car], name) for car, name in figure_names(fits).items()}


def cars_words(findings: Plain) -> list[dict[str, str]]:
    """Say of every car that has readings what to turn next, and how far belts differ; by its picture."""
    fits, said, units = cars_fits(findings), [], spoken(findings)
    for car, name in figure_names(fits).items():
        fit, held = fits[car].fit, ""
        if fit is not None:
            held = f"Belts differ by {units.warmer(fit.belt_sd)}, readings of one belt by {units.warmer(fit.noise_sd)}."
        said.append({"picture": name, "move": fits[car].move.said(units), "held": held})
    return said


def figure_names(cars: Iterable[str]) -> dict[str, str]:
    """Name each car's figure, by the car: its letters and digits, or its place where those do not tell cars apart."""
    plain = {car: re.sub(r"[^0-9a-z]+", "-", car.lower()).strip("-")[:40] for car in cars}
    apart = all(plain.values()) and len({*plain.values()}) == len(plain)
    return {car: f"tracking_{stem if apart else place}" for place, (car, stem) in enumerate(plain.items(), 1)}


def _draw_lines(axes: Axes, size: Size, tracked: Tracking, fit: ByBelt, times: float) -> Sequence[str]:
    """Draw belts' lines, their mean and where it is even; give the gids of mean and own line, the upper one first."""
    flats, now, offsets = tracked.settings[:, 1], tracked.settings[-1].copy(), times * fit.offsets
    slope, now[1] = times * fit.coefficients[1], 0.0
    level = times * float(now @ fit.coefficients)
    whole = np.array((flats.min(), flats.max()))
    for code in np.unique(tracked.code[-MOST_RUNS:]):
        ran, belt = flats[tracked.code == code], tracked.belts[code]
        ran = np.array((ran.min() - 0.2, ran.max() + 0.2))
        thin: Style = {"color": BELT, "alpha": 0.35, "lw": 0.45 * size.line, "zorder": 1.8}
        axes.plot(ran, level + offsets[code] + slope * ran, gid=f"line:belt:{belt}", **thin)
    axes.plot(whole, level + slope * whole, color=BELT, linewidth=1.3 * size.line, gid="line:mean", zorder=2.6)
    dashed: Style = {"color": LEAN, "lw": 0.9 * size.line, "linestyle": (0, (4, 2)), "zorder": 2.7}
    axes.plot(whole, level + offsets[tracked.code[-1]] + slope * whole, gid="line:own", **dashed)
    even = tracked.zero
    if even.lower is not None and even.upper is not None and even.estimate is not None:
        axes.plot((even.lower, even.upper), (0, 0), color=BELT, lw=2.8 * size.line, gid="interval:zero", zorder=2.5)
        diamond: Style = {"ms": 3.2 * size.line, "mfc": "white", "mec": BELT, "mew": 0.9 * size.line, "zorder": 3}
        axes.plot(even.estimate, 0, marker="D", gid="spot:zero", **diamond)
    return ("line:own", "line:mean")[:: 1 if offsets[tracked.code[-1]] > 0 else -1]


def sign_picture(walk: Walk, pulley: str = "idler", *, unseen: tuple[str, ...] = ()) -> Picture:
    """Draw up which way a tilted pulley sends the belt; what the model cannot see stands in the note."""
    does = "gives the belt no clear way to walk" if walk.toward == "even" else f"sends the belt to the {walk.toward}"
    panels = {
        "Seen from the front": _draw_front,
        "The arriving belt, front edge up": _draw_arriving,
        "What each part adds": _draw_parts,
    }

    def draw(part: SubFigure, size: Size, caption: str) -> None:
        gap = size.gap
        axes = axes_at(part, size, gap, gap, 0.4 * gap, 2.2 * gap)
        axes.axis("off")
        axes.set(xticks=(), yticks=())
        axes.set_title(caption, size=size.text, color=INK, pad=0.6 * size.text, gid=f"caption:{caption}")
        panels[caption](axes, size, walk)

    title = f"{raised(pulley)} tilted like this: it {does}"
    subtitle = "A sign, by normal entry: a belt walks to the edge of a pulley it meets first. Tilt drawn larger."
    note = f"Not seen here: {'; '.join(unseen)}." if unseen else "A sign, not a distance."
    drawn = tiled([*panels], draw, lambda size, wide: wide / (2 if size.width < 5 else 1) + 2.6 * size.gap, most=3)
    return Picture("tracking-sign", title, subtitle, note, *drawn)


def _draw_front(axes: Axes, size: Size, walk: Walk) -> None:
    """Draw the belt round the pulley, and which way the front end of its axis leans."""
    from matplotlib.patches import Circle

    radius, reach = 0.75, 1.35
    ways = [np.array((cos(angle), sin(angle))) for angle in (walk.arrives_rad, walk.arrives_rad + walk.wrap_rad)]
    turns = walk.arrives_rad - np.copysign(pi / 2, walk.wrap_rad) + np.linspace(0, walk.wrap_rad, 41)
    around = radius * np.column_stack((np.cos(turns), np.sin(turns)))
    belt = np.vstack((around[0] - reach * ways[0], around, around[-1] + reach * ways[1]))
    every = np.vstack((belt, [(-radius, -radius), (radius, radius)]))
    half, middle = max(1.65, 0.52 * np.ptp(every, axis=0).max()), (every.min(axis=0) + every.max(axis=0)) / 2
    (left, low), (right, high) = middle - half, middle + half
    axes.set(xlim=(left, right), ylim=(low, high), aspect="equal", anchor="N")
    face: Style = {"facecolor": STEEL, "edgecolor": RIM, "lw": 1.3 * size.thin}
    axes.add_patch(Circle((0, 0), 0.94 * radius, gid="pulley", **face))
    axes.plot(*belt.T, color=BELT, linewidth=1.8 * size.line, gid="belt")
    for gid, start, way in (("arrives", belt[0], ways[0]), ("leaves", around[-1], ways[1])):
        tip = start + 0.8 * way
        arrow(axes, tip - 0.05 * way, tip, f"arrow:{gid}", head=4.4 * size.line, color=BELT, linewidth=0)
    lean = (0.62 * cos(walk.lean_rad), 0.62 * sin(walk.lean_rad))
    arrow(axes, (0, 0), lean, "arrow:lean", head=3.6 * size.line, color=LEAN, linewidth=size.line)
    axes.plot(0, 0, marker="o", color=LEAN, markersize=2.2 * size.line, gid="axis")
    # the words stand in the half of the pulley that the arrow leaves free
    below = -0.36 if sin(walk.lean_rad) > -0.3 else 0.36
    words: Style = {"size": size.small, "color": INK, "ha": "center", "va": "center", "linespacing": 1.05}
    axes.text(0, below, "front end\nleans", gid="label:lean", **words)


def _draw_arriving(axes: Axes, size: Size, walk: Walk) -> None:
    """Draw the belt as it meets the face of the pulley: from the left, the front up, the tilt made larger."""
    from matplotlib.patches import Polygon

    axes.set(xlim=(-1.65, 1.65), ylim=(-1.65, 1.65), aspect="equal", anchor="N")
    # a front end that stands further along the belt's travel leans the axis to the right
    tilt = -DRAWN_TILT_RAD * cos(walk.lean_rad - walk.arrives_rad)
    turn, half, edge = np.array(((cos(tilt), sin(tilt)), (-sin(tilt), cos(tilt)))), 0.42, 0.8

    def turned(x: float, y: float) -> NDArray[np.float64]:
        place: NDArray[np.float64] = (0.75, 0) + np.array((x, y)) @ turn
        return place

    face: Style = {"facecolor": STEEL, "edgecolor": RIM, "lw": 1.3 * size.thin}
    corners = [turned(x, y) for x, y in ((-half, -1.3), (half, -1.3), (half, 1.3), (-half, 1.3))]
    axes.add_patch(Polygon(corners, gid="pulley:face", **face))
    meets = {side: float(turned(-half, side * edge / cos(tilt))[0]) for side in (-1, 1)}
    belt = [(-1.6, -edge), (meets[-1], -edge), (meets[1], edge), (-1.6, edge)]
    axes.add_patch(Polygon(belt, facecolor=(BELT, 0.16), edgecolor=BELT, linewidth=size.line, gid="belt:arriving"))
    axis = np.transpose([turned(0, -1.55), turned(0, 1.55)])
    axes.plot(*axis, color=LEAN, linewidth=0.8 * size.line, linestyle=(0, (6, 2, 1, 2)), gid="axis:face")
    arrow(axes, (-1.4, 0), (-0.45, 0), "arrow:travel", head=3.6 * size.line, color=BELT, linewidth=size.line)
    words: Style = {"size": size.small, "color": INK, "va": "center"}
    for name, y in (("front edge", 0.62), ("rear edge", -0.62)):
        axes.text(-1.5, y, name, gid=f"label:{name}", **words)
    if walk.toward == "even" or abs(walk.entry) <= 1e-9:
        return
    side = 1 if walk.entry > 0 else -1
    first = (meets[side], side * edge)
    ring: Style = {"ms": 3.6 * size.line, "mfc": "white", "mec": INK, "mew": 0.7 * size.line}
    axes.plot(*first, marker="o", gid="met-first", **ring)
    aside = -size.small, 1.2 * side * size.small
    words_at(axes, "met first", first, aside, "label:met-first", size.small, ha="right")
    style: Style = {"color": INK, "lw": 1.3 * size.line}
    arrow(axes, (0.05, -0.45 * side), (0.05, 0.62 * side), "arrow:walk", head=4 * size.line, **style)


def _draw_parts(axes: Axes, size: Size, walk: Walk) -> None:
    """Draw what entry, wrap and exit add, and what they come to together."""
    parts = {"entry": walk.entry, "wrap": walk.wrap, "exit": walk.exit}
    parts["together"] = sum(parts.values())
    axes.set(xlim=(-1.2, 1.2), ylim=(3.6, -0.9))
    axes.plot((0, 0), (-0.5, 3.6), color=RIM, linewidth=1.4 * size.thin, gid="rule:even")
    for name, x, side in (("to the rear", 0, "left"), ("to the front", 1, "right")):
        words: Style = {"size": size.small, "color": PALE, "ha": side, "va": "top"}
        axes.text(x, 1, name, transform=axes.transAxes, gid=f"label:{name}", **words)
    for y, (name, share) in enumerate(parts.items()):
        whole, side = name == "together", "left" if share <= 0 else "right"
        bar: Style = {"color": BELT if whole else (BELT, 0.35), "edgecolor": BELT, "lw": size.thin}
        axes.barh(y, share, height=0.34, hatch="" if share >= 0 or whole else "///", gid=f"bar:{name}", **bar)
        offset, weight = (0.4 * size.text * (1 if share <= 0 else -1), 0), "bold" if whole else "normal"
        words_at(axes, name, (0, y), offset, f"label:{name}", size.text, ha=side, weight=weight)
