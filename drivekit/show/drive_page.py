"""The page of a drive: what to set, when it goes slack, what pulls where; one self-contained HTML file, no network.

It looks like the page of the findings and stands beside it. The words are the set-up's own; the tables carry the
numbers of every span and pulley in the three states. What stands where is in ``drive_page.html.j2``.

Its picture is the drive seen from the front, to scale, on axes in millimetres. The belt is dashed on its slack side; an
arrow from every shaft is the belt's pull on it, all to one scale. Words stand outside the loop, beside what they name.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import atan2, copysign, cos, degrees, radians, sin, tau
from typing import TYPE_CHECKING, Any

import numpy as np

from drivekit.cautions import CAUTIONS
from drivekit.show.axes import apart, arrow, axes_at, inches, tiled, words_at
from drivekit.show.markup import Table, written
from drivekit.show.paper import INK, PALE, Picture, Size

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import SubFigure
    from matplotlib.lines import Line2D
    from matplotlib.patches import ConnectionPatch, Patch
    from matplotlib.text import Annotation

    from drivekit.drive.loads import State
    from drivekit.drive.set_up import SetUp
    from drivekit.show.paper import Floats

__all__ = ["belt_path_picture", "drive_page", "pulleys_table", "spans_table"]

BELT, PULL, STEEL, RIM = "#0072B2", "#D55E00", "#ECEEF0", "#8A9099"
DASHES = (0, (3.2, 1.4))
MARGIN_MM = 12.0
BESIDE_SHARE = 0.36
"""Room for words at either side of the drive, as a share of its height."""
STEEPEST_RAD = radians(30)
"""A pulley's words hang at its side: so far above or below its centre at most."""


def drive_page(set_up: SetUp) -> str:
    """Set a drive's whole set-up as one HTML page: the whole file."""
    return written(
        "drive_page.html.j2",
        set_up=set_up,
        said=dict(set_up.sentences()),
        picture=belt_path_picture(set_up),
        spans=spans_table(set_up),
        pulleys=pulleys_table(set_up),
        cautions=CAUTIONS,
    )


def spans_table(set_up: SetUp) -> Table:
    """Give every span's length and what it carries in each state: headings, rows and caption."""
    tensions = (f"Contact tension {state.name}" for state in set_up.states)
    rows, full, units = [], set_up.states[2], set_up.layout.spoken
    for i, span in enumerate(set_up.path.spans):
        carried = [units.both(state.span_n[i], "N", sep=", {}") for state in set_up.states]
        cords = units.both(full.span_n[i] + full.tensions.own_n, "N", sep=", {}")
        free = units.both(span.length_m * 1e3, "mm", 1, sep=", {}")
        rows.append([f"{span.leaves} to {span.meets}", free, *carried, cords])
    caption = f"The belt's path is {units.long(set_up.path.length_m)} long."
    return ["Span", "Free length", *tensions, "Cords, full load"], rows, caption


def pulleys_table(set_up: SetUp) -> Table:
    """Give every pulley's wrap, teeth in mesh and what the belt pulls on it in each state, as `spans_table` does."""
    pulls, rows, units = (f"Pull {state.name}" for state in set_up.states), [], set_up.layout.spoken
    for i, arc in enumerate(set_up.path.arcs):
        mesh = "smooth" if arc.teeth_in_mesh is None else f"{arc.teeth_in_mesh:.1f}"
        pulled = (units.both(state.load(i).force_n, "N", sep=", {}") for state in set_up.states)
        rows.append([arc.pulley, f"{degrees(arc.wrap_rad):.1f}", mesh, *pulled])
    return ["Pulley", "Wrap, degrees", "Teeth in mesh", *pulls], rows, "Cold at rest; hot at idle and at full load."


def belt_path_picture(found: SetUp) -> Picture:
    """Draw up the path of a set-up drive, at rest and at full load, both to one scale."""
    layout, states = found.layout, (found.states[0], found.states[2])
    centres = 1e3 * np.array([(pulley.x_m, pulley.y_m) for pulley in layout.pulleys])
    radii = 1e3 * np.array([[pulley.body_radius(layout.belt)] for pulley in layout.pulleys])
    (left, bottom), (right, top) = (centres - radii).min(axis=0), (centres + radii).max(axis=0)
    beside = BESIDE_SHARE * (top - bottom)
    ends = {"xlim": (left - beside, right + beside), "ylim": (bottom - MARGIN_MM, top + MARGIN_MM)}
    longest = max(load.force_n for state in states for load in state.loads)
    # the longest arrow reaches a third of the drive's height, so that crank's and blower's never meet
    mm_per_n = (top - bottom) / 3 / longest if longest > 0 else 0.0

    def draw(part: SubFigure, size: Size, state: State) -> None:
        axes = axes_at(part, size, 0, 0, 0, 2 * size.gap)
        axes.axis("off")
        axes.set(xticks=(), yticks=(), aspect="equal", **ends)
        axes.apply_aspect()
        name = f"{state.name[:1].upper()}{state.name[1:]}"
        axes.set_title(name, size=size.text, color=INK, pad=0.4 * size.text, gid=f"panel:{state.name}")
        slide = _slide(axes, size, found, state)
        belt, tensions = _belt(axes, size, found, state)
        pulls, names = _pulls(axes, size, found, state, mm_per_n, slide)
        x, y = axes.get_xlim()[0] + MARGIN_MM, axes.get_ylim()[0] + MARGIN_MM
        long, named = (101.6, "4 in") if layout.spoken.inch_pound else (100.0, "100 mm")
        axes.plot((x, x + long), (y, y), color=PALE, linewidth=2 * size.thin, gid=f"scale:{state.name}")
        bar = _words(axes, size, named, (x, y), (0, 0.5), f"label:scale:{state.name}")
        bar.set(ha="left")
        apart([bar, *tensions, *names], [*_pulleys(axes, size, found, state), *slide, *belt, *pulls])

    def high(size: Size, wide: float) -> float:
        return float(wide * (np.ptp(ends["ylim"]) / np.ptp(ends["xlim"])) + 2 * size.gap)

    whose = "An invented drive" if layout.invented else "The drive"
    belt = f"belt of {layout.belt.teeth} teeth, path {layout.spoken.long(found.path.length_m)}"
    set_to = layout.spoken.force(layout.tension.set_n)
    subtitle = f"{whose}, {layout.name}, seen from the front, to scale: {belt}, {set_to} set on each span"
    note = (
        "Arrows, and numbers under the pulleys' names: what the belt pulls on each shaft, all to one scale. Belt: "
        "dashed on the slack side; small heads show the way it runs, numbers beside it are contact tensions."
    )
    return Picture("belt-path", _answer(found), subtitle, note, *tiled(states, draw, high))


def _answer(found: SetUp) -> str:
    """Say in a sentence whether the belt stays tight at full load, and where it ends."""
    kept, end, units = found.states[2].tensions.slack_n, found.slack.crank_rpm, found.layout.spoken
    if kept <= 0:
        least = units.force(found.guide.slack_n)
        return f"At full load the belt is slack: it goes slack below {least} of static tension"
    until = "beyond the blower's curve" if end is None else f"at {end:,.0f} rpm"
    return f"At full load the slack side keeps {units.force(kept)}; the belt goes slack {until}"


def _slide(axes: Axes, size: Size, found: SetUp, state: State) -> list[Line2D]:
    """Draw how far the idler can be moved; nothing where it cannot."""
    slide, sliding = found.layout.slide, found.layout.sliding
    if slide is None or sliding is None:
        return []
    moved, reach = found.layout.pulleys[sliding], np.array((slide.least_m, slide.most_m))
    x, y = moved.x_m + reach * cos(slide.direction_rad), moved.y_m + reach * sin(slide.direction_rad)
    style: dict[str, Any] = {"color": RIM, "linewidth": 1.4 * size.thin, "linestyle": (0, (1, 1.5)), "marker": "|"}
    return axes.plot(1e3 * x, 1e3 * y, gid=f"slide:{state.name}", zorder=2, **style)


def _pulleys(axes: Axes, size: Size, found: SetUp, state: State) -> list[Patch]:
    """Draw every pulley with its teeth: as many as go round its pitch circle, where the file gives no number."""
    from matplotlib.collections import LineCollection
    from matplotlib.patches import Circle

    belt = found.layout.belt
    drawn: list[Patch] = []
    face: dict[str, Any] = {"facecolor": STEEL, "edgecolor": RIM, "linewidth": 1.3 * size.thin, "zorder": 1}
    for pulley in found.layout.pulleys:
        x, y, radius = 1e3 * pulley.x_m, 1e3 * pulley.y_m, 1e3 * pulley.body_radius(belt)
        drawn.append(axes.add_patch(Circle((x, y), radius, gid=f"pulley:{state.name}:{pulley.name}", **face)))
        if pulley.face == "toothed":
            teeth = pulley.teeth or round(tau * pulley.pitch_radius(belt) / belt.pitch_m)
            turns = tau * np.arange(teeth) / teeth
            rim = np.column_stack((np.cos(turns), np.sin(turns)))
            strokes = [np.add((x, y), radius * np.array((0.93 * way, way))) for way in rim]
            axes.add_collection(LineCollection(strokes, colors=RIM, linewidths=1.6 * size.thin, zorder=1.1))
    return drawn


def _belt(axes: Axes, size: Size, found: SetUp, state: State) -> tuple[list[Line2D | Patch], list[Annotation]]:
    """Draw the belt, its arcs and spans, the way it runs, and each span's tension outside the loop."""
    from matplotlib.patches import Arc

    drawn: list[Line2D | Patch] = []
    words = []
    style: dict[str, Any] = {"color": BELT, "linewidth": 1.6 * size.line, "zorder": 2.2}
    for arc in found.path.arcs:
        first = degrees(arc.starts_rad if arc.turn == 1 else arc.starts_rad - arc.wrap_rad)
        place: dict[str, Any] = {"xy": (1e3 * arc.x_m, 1e3 * arc.y_m), "capstyle": "butt", **style}
        place |= {"width": 2e3 * arc.radius_m, "height": 2e3 * arc.radius_m}
        place |= {"theta1": first, "theta2": first + degrees(arc.wrap_rad)}
        drawn.append(axes.add_patch(Arc(gid=f"arc:{state.name}:{arc.pulley}", **place)))
    even, out = np.ptp(state.span_n) < 1.0, -1 if found.layout.turns == "anticlockwise" else 1
    for span, tension in zip(found.path.spans, state.span_n, strict=True):
        start, end = 1e3 * np.array(((span.from_x_m, span.from_y_m), (span.to_x_m, span.to_y_m)))
        along = np.array((cos(span.heading_rad), sin(span.heading_rad)))
        side = "" if even else "slack" if tension == min(state.span_n) else "tight"
        gid, dashes = f"span:{state.name}:{span.leaves}-{span.meets}", DASHES if side == "slack" else "-"
        drawn += axes.plot(*zip(start, end, strict=True), gid=gid, linestyle=dashes, **style)
        # a third of the way, where the number at the middle leaves it free
        third = start + 0.36 * (end - start)
        arrow(axes, third - along, third, f"way:{gid}", head=4.2 * size.line, color=BELT, linewidth=0, zorder=2.3)
        outward = out * np.array((-along[1], along[0]))
        text = f"{side}\n{found.layout.spoken.said(tension, 'N')}".strip()
        words.append(_words(axes, size, text, (start + end) / 2, outward, f"label:{gid}"))
    return drawn, words


def _pulls(
    axes: Axes, size: Size, found: SetUp, state: State, mm_per_n: float, slide: Sequence[Line2D]
) -> tuple[list[ConnectionPatch], list[Annotation]]:
    """Draw the belt's pull on every shaft, and write it under the pulley's name, outside the loop."""
    points_per_mm = 72 * inches(axes)[0] / np.ptp(axes.get_xlim())
    centres = 1e3 * np.array([(arc.x_m, arc.y_m) for arc in found.path.arcs])
    drawn, words = [], []
    for place, (arc, load) in enumerate(zip(found.path.arcs, state.loads, strict=True)):
        centre, pull = centres[place], mm_per_n * np.array((load.x_n, load.y_n))
        # a slack belt pulls on no idler
        if load.force_n > 0:
            head = min(6.5 * size.line, 0.6 * load.force_n * mm_per_n * points_per_mm)
            style: dict[str, Any] = {"color": PULL, "linewidth": size.line, "zorder": 2.4}
            drawn.append(arrow(axes, centre, centre + pull, f"force:{state.name}:{load.pulley}", head=head, **style))
        across, up = centre - centres.mean(axis=0)
        tilt = np.clip(atan2(up, abs(across)), -STEEPEST_RAD, STEEPEST_RAD)
        outward = np.array((copysign(cos(tilt), across), sin(tilt)))
        ends = [line.get_xydata() - centre for line in slide if place == found.layout.sliding]
        # beyond the belt, and beyond an arrow or a slide that points outward
        beyond = max(1e3 * arc.radius_m, *(np.array([pull, *np.reshape(ends, (-1, 2))]) @ outward))
        text = f"{load.pulley}\n{found.layout.spoken.force(load.force_n)}".replace(" (", "\n").replace(")", "")
        gid = f"label:pulley:{state.name}:{load.pulley}"
        words.append(_words(axes, size, text, centre + beyond * outward, outward, gid))
    return drawn, words


def _words(axes: Axes, size: Size, text: str, at: Floats, outward: Floats, gid: str) -> Annotation:
    """Write words beside a place, on the side to which `outward` points."""
    across = 0 if abs(outward[0]) < 0.3 else 1 if outward[0] > 0 else -1
    look = {"ha": ("center", "left", "right")[across], "multialignment": "center", "linespacing": 1.1}
    look["va"] = "center" if across else "bottom" if outward[1] > 0 else "top"
    offset = 0.9 * size.small * outward[0], 0.9 * size.small * outward[1]
    return words_at(axes, text, at, offset, gid, size.small, **look)
