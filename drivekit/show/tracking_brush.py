"""The brush for the two pictures of tracking: the sign of a walk, and readings with their line."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from drivekit.show.ink import INK, PALE
from drivekit.show.layout import Size
from drivekit.show.press import headed, png_of, size_named, styled, svg_of
from drivekit.show.tracking_picture import ReadingsPicture, SignPicture

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["figure", "png", "svg"]

BELT, LEAN, STEEL = "#0072B2", "#D55E00", "#C9CDD2"
# A tilt of tenths of a degree would not be seen: it is drawn this large, and the subtitle says so.
_DRAWN_TILT_RAD = math.radians(14)


def figure(picture: SignPicture | ReadingsPicture, size: str = "screen", *, bare: bool = False) -> Figure:
    """Draw a picture; it belongs to no window and to no list of open figures.

    Parameters
    ----------
    picture : SignPicture or ReadingsPicture
        What is to be drawn.
    size : {"screen", "slide", "print", "phone"}
        What it is drawn for.
    bare : bool
        Leave out title, subtitle and note: the page sets those itself.

    Raises
    ------
    ValueError
        If there is no such size.
    """
    from matplotlib.figure import Figure

    paper = size_named(size)
    with styled():
        tall = paper.width * 1.9 if isinstance(picture, SignPicture) and paper.width < 5 else paper.height
        fig = Figure(figsize=(paper.width, tall))
        head, foot = (0.0, 0.0) if bare else headed(fig, picture.title, picture.subtitle, picture.note, paper)
        if isinstance(picture, SignPicture):
            _sign(fig, picture, paper, head, foot)
        else:
            _readings(fig, picture, paper, head, foot)
    return fig


def svg(picture: SignPicture | ReadingsPicture, size: str = "screen", *, bare: bool = False) -> str:
    """Draw a picture as SVG text; parameters as in `figure`."""
    return svg_of(lambda: figure(picture, size, bare=bare), picture.title)


def png(picture: SignPicture | ReadingsPicture, size: str = "screen") -> bytes:
    """Draw a picture as PNG bytes; parameters as in `figure`."""
    return png_of(lambda: figure(picture, size), picture.title)


def _sign(fig: Figure, picture: SignPicture, size: Size, head: float, foot: float) -> None:
    wide, high = fig.get_size_inches()
    gap = size.gap
    above = 2.2 * gap
    room = high - head - foot - 1.6 * gap
    if wide > 5:
        across = (wide - 4 * gap) / 3
        boxes = [(gap + place * (across + gap), foot + gap, across, room - above) for place in range(3)]
    else:
        each = room / 3
        boxes = [(gap, foot + gap + (2 - place) * each, wide - 2 * gap, each - above) for place in range(3)]
    draws = (_from_the_front, _along_the_belt, _in_parts)
    captions = ("Seen from the front", "The arriving belt, front edge up", "What each part adds")
    for (left, bottom, width, height), draw, caption in zip(boxes, draws, captions, strict=True):
        axes = fig.add_axes((left / wide, bottom / high, width / wide, height / high))
        # The data stand in units of which three fill the shorter side.
        unit = 3.3 / min(width, height)
        axes.set(xlim=(-width * unit / 2, width * unit / 2), ylim=(-height * unit / 2, height * unit / 2))
        axes.axis("off")
        draw(axes, picture, size)
        at = ((left + width / 2) / wide, (bottom + height + 0.6 * gap) / high)
        fig.text(*at, caption, fontsize=size.text, color=INK, ha="center", va="bottom", gid=f"caption:{caption}")


def _from_the_front(axes: Axes, picture: SignPicture, size: Size) -> None:
    from matplotlib.patches import Circle

    way = 1 if picture.wrap_rad > 0 else -1
    radius, reach = 0.75, 1.35
    arrives, leaves = picture.arrives_rad, picture.arrives_rad + picture.wrap_rad
    entry = arrives - way * math.pi / 2
    steps = [entry + picture.wrap_rad * part / 40 for part in range(41)]
    around = [(radius * math.cos(a), radius * math.sin(a)) for a in steps]
    first = (around[0][0] - reach * math.cos(arrives), around[0][1] - reach * math.sin(arrives))
    last = (around[-1][0] + reach * math.cos(leaves), around[-1][1] + reach * math.sin(leaves))
    # The middle of what is drawn goes to the middle of the axes.
    every = [first, *around, last, (-radius, -radius), (radius, radius)]
    (left, right), (bottom, top) = ((min(side), max(side)) for side in zip(*every, strict=True))
    dx, dy = (left + right) / 2, (bottom + top) / 2
    scale = min(1.0, 3.2 / max(right - left, top - bottom))

    def place(point: tuple[float, float]) -> tuple[float, float]:
        return (point[0] - dx) * scale, (point[1] - dy) * scale

    axes.add_patch(
        Circle(
            place((0, 0)),
            radius * scale * 0.94,
            facecolor="#EDEFF1",
            edgecolor=STEEL,
            linewidth=2 * size.thin,
            gid="pulley",
        )
    )
    xs, ys = zip(*map(place, [first, *around, last]), strict=True)
    axes.plot(xs, ys, color=BELT, linewidth=1.8 * size.line, solid_capstyle="butt", gid="belt")
    for gid, start, angle in (("arrives", first, arrives), ("leaves", around[-1], leaves)):
        middle = (start[0] + 0.75 * math.cos(angle), start[1] + 0.75 * math.sin(angle))
        tip = (middle[0] + 0.12 * math.cos(angle), middle[1] + 0.12 * math.sin(angle))
        axes.annotate(
            "",
            place(tip),
            place(middle),
            gid=f"arrow:{gid}",
            arrowprops={"arrowstyle": "-|>", "color": BELT, "linewidth": 0, "mutation_scale": 9 * size.line},
        )
    tip = (0.62 * math.cos(picture.lean_rad), 0.62 * math.sin(picture.lean_rad))
    axes.annotate(
        "",
        place(tip),
        place((0, 0)),
        gid="arrow:lean",
        arrowprops={
            "arrowstyle": "-|>",
            "color": LEAN,
            "linewidth": size.line,
            "shrinkA": 0,
            "shrinkB": 0,
            "mutation_scale": 7 * size.line,
        },
    )
    axes.plot(*place((0, 0)), marker="o", color=LEAN, markersize=2.2 * size.line, gid="axis")
    # The words stand in the half of the pulley that the arrow leaves free.
    below = -1 if math.sin(picture.lean_rad) > -0.3 else 1
    axes.text(
        *place((0, below * 0.36)),
        "front end\nleans",
        fontsize=size.small,
        color=INK,
        ha="center",
        va="center",
        linespacing=1.05,
        gid="label:lean",
    )


def _along_the_belt(axes: Axes, picture: SignPicture, size: Size) -> None:
    from matplotlib.patches import Polygon

    tilt = _DRAWN_TILT_RAD * picture.leans_away
    turn = (math.cos(-tilt), math.sin(-tilt))
    # The belt comes from the left; the front is up. A front end further along leans the axis to the right.
    half_wide, half_long, middle = 0.42, 1.3, 0.75

    def turned(x: float, y: float) -> tuple[float, float]:
        return middle + x * turn[0] - y * turn[1], x * turn[1] + y * turn[0]

    corners = [
        turned(x, y)
        for x, y in ((-half_wide, -half_long), (half_wide, -half_long), (half_wide, half_long), (-half_wide, half_long))
    ]
    axes.add_patch(Polygon(corners, facecolor="#EDEFF1", edgecolor=STEEL, linewidth=2 * size.thin, gid="pulley:face"))
    edge = 0.8
    meets = [turned(-half_wide, y / turn[0])[0] for y in (-edge, edge)]
    belt = [(-1.65, -edge), (meets[0], -edge), (meets[1], edge), (-1.65, edge)]
    axes.add_patch(Polygon(belt, facecolor=(BELT, 0.16), edgecolor=BELT, linewidth=size.line, gid="belt:arriving"))
    (x0, y0), (x1, y1) = turned(0, -1.55), turned(0, 1.55)
    axes.plot((x0, x1), (y0, y1), color=LEAN, linewidth=size.line * 0.8, linestyle=(0, (6, 2, 1, 2)), gid="axis:face")
    axes.annotate(
        "",
        (-0.45, 0),
        (-1.4, 0),
        gid="arrow:travel",
        arrowprops={"arrowstyle": "-|>", "color": BELT, "linewidth": size.line, "mutation_scale": 8 * size.line},
    )
    entry = picture.parts[0][1]
    for name, y in (("front edge", 0.62), ("rear edge", -0.62)):
        axes.text(-1.55, y, name, fontsize=size.small, color=INK, ha="left", va="center", gid=f"label:{name}")
    if abs(entry) > 1e-9:
        side = 1 if entry > 0 else -1
        axes.plot(
            meets[0] if side < 0 else meets[1],
            side * edge,
            marker="o",
            markersize=3.6 * size.line,
            markerfacecolor="white",
            markeredgecolor=INK,
            markeredgewidth=size.line * 0.7,
            gid="met-first",
        )
        axes.text(
            -0.02,
            side * (edge + 0.2),
            "met first",
            fontsize=size.small,
            color=INK,
            ha="center",
            va="center",
            gid="label:met-first",
        )
        axes.annotate(
            "",
            (0.05, side * 0.62),
            (0.05, -side * 0.45),
            gid="arrow:walk",
            arrowprops={
                "arrowstyle": "-|>",
                "color": INK,
                "linewidth": size.line * 1.3,
                "mutation_scale": 9 * size.line,
            },
        )


def _in_parts(axes: Axes, picture: SignPicture, size: Size) -> None:
    (left, right), (bottom, top) = axes.get_xlim(), axes.get_ylim()
    reach = right - 0.25
    rows = (*picture.parts, ("together", picture.balance))
    step = (top - bottom - 0.5) / len(rows)
    axes.plot((0, 0), (bottom + 0.05, top - 0.35), color="#8A9099", linewidth=size.thin * 1.4, gid="rule:even")
    for name, x, side in (("to the rear", left, "left"), ("to the front", right, "right")):
        axes.text(x, top - 0.15, name, fontsize=size.small, color=PALE, ha=side, va="center", gid=f"label:{name}")
    for place, (name, share) in enumerate(rows):
        y = top - 0.45 - step * (place + 0.5)
        whole = name == "together"
        axes.barh(
            y,
            share * reach,
            height=step * 0.34,
            color=BELT if whole else (BELT, 0.35),
            edgecolor=BELT,
            linewidth=size.thin,
            hatch="" if share >= 0 or whole else "///",
            gid=f"bar:{name}",
        )
        axes.text(
            0.06 if share <= 0 else -0.06,
            y,
            name,
            fontsize=size.text,
            color=INK,
            va="center",
            ha="left" if share <= 0 else "right",
            fontweight="bold" if whole else "normal",
            gid=f"label:{name}",
        )


def _readings(fig: Figure, picture: ReadingsPicture, size: Size, head: float, foot: float) -> None:
    from matplotlib.ticker import MaxNLocator

    wide, high = fig.get_size_inches()
    gap = size.gap
    left, below = 4.6 * gap, 3.8 * gap
    inside = (left, foot + below, wide - left - 1.2 * gap, high - head - foot - below - 0.8 * gap)
    axes = fig.add_axes((inside[0] / wide, inside[1] / high, inside[2] / wide, inside[3] / high))
    axes.set_gid("panel")
    xs = [x for x, _ in picture.points] + list(picture.zero) + list(picture.move[:2])
    ys = [y for _, y in picture.points] + [edge for _, *edges in picture.band for edge in edges] + [0.0]
    x_edge, y_edge = (0.06 * (max(values) - min(values) or 1.0) for values in (xs or [0.0], ys))
    axes.set_xlim(min(xs or [0.0]) - x_edge, max(xs or [0.0]) + x_edge)
    axes.set_ylim(min(ys) - y_edge, max(ys) + y_edge)
    axes.spines[["top", "right"]].set_visible(False)
    axes.tick_params(labelsize=size.small, labelcolor=PALE)
    for set_ticks, (low, high), locator in (
        (axes.set_xticks, axes.get_xlim(), MaxNLocator(8 if wide > 5 else 5, integer=True)),
        (axes.set_yticks, axes.get_ylim(), MaxNLocator(6)),
    ):
        set_ticks([tick for tick in locator.tick_values(low, high) if low <= tick <= high])
    axes.set_xlabel("Net idler flats, front less rear", fontsize=size.text, color=PALE)
    axes.set_ylabel("Edges, front less rear, °C", fontsize=size.text, color=PALE, labelpad=1)
    axes.axhline(0, color=INK, linewidth=1.6 * size.thin, gid="rule:even", zorder=1.5)
    if picture.band:
        x, lower, upper = zip(*picture.band, strict=True)
        axes.fill_between(
            x, lower, upper, facecolor=(BELT, 0.13), edgecolor=(BELT, 0.45), linewidth=0.6 * size.thin, gid="band:fit"
        )
        fx, fy = zip(*picture.fit, strict=True)
        axes.plot(fx, fy, color=BELT, linewidth=size.line, gid="line:fit")
    if picture.points:
        px, py = zip(*picture.points, strict=True)
        axes.plot(
            px,
            py,
            linestyle="none",
            marker="o",
            markersize=2.6 * size.line,
            markerfacecolor=BELT,
            markeredgecolor="white",
            markeredgewidth=0.5 * size.thin,
            gid="spots:readings",
            clip_on=False,
            zorder=3.2,
        )
        axes.plot(
            px[-1],
            py[-1],
            linestyle="none",
            marker="o",
            markersize=5.4 * size.line,
            markerfacecolor="none",
            markeredgecolor=INK,
            markeredgewidth=0.7 * size.line,
            gid="spot:last",
            clip_on=False,
        )
    if picture.zero:
        middle, low_x, high_x = picture.zero
        axes.plot(
            (low_x, high_x),
            (0, 0),
            color=LEAN,
            linewidth=2.6 * size.line,
            solid_capstyle="butt",
            gid="interval:zero",
            zorder=2.5,
        )
        axes.plot(
            middle,
            0,
            marker="D",
            markersize=3.2 * size.line,
            markerfacecolor="white",
            markeredgecolor=LEAN,
            markeredgewidth=0.9 * size.line,
            gid="spot:zero",
            zorder=3,
        )
    if picture.move:
        start, end, expected = picture.move
        axes.annotate(
            "",
            (end, expected),
            (start, picture.points[-1][1]),
            gid="arrow:move",
            zorder=2.8,
            arrowprops={
                "arrowstyle": "-|>",
                "color": INK,
                "linewidth": 0.7 * size.line,
                "shrinkA": 7,
                "shrinkB": 2,
                "linestyle": (0, (3, 1.5)),
                "mutation_scale": 7 * size.line,
                "connectionstyle": "arc3,rad=0.18",
            },
        )
