"""The brush for the drive's path: pulleys with their teeth, the belt, arrows for forces, all to scale.

Everything is drawn on the figure itself in inches: pictures without axes redraw in a fraction of the time.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import atan2, cos, hypot, pi, radians, sin
from typing import TYPE_CHECKING, Any

import numpy as np

from drivekit.show.ink import INK, PALE
from drivekit.show.layout import Size
from drivekit.show.path_picture import PathPanel, PathPicture
from drivekit.show.path_places import Places, Spot
from drivekit.show.press import headed, png_of, size_named, styled, svg_of

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["figure", "png", "svg"]

BELT, PULL, STEEL, RIM = "#0072B2", "#D55E00", "#ECEEF0", "#8A9099"
MARGIN_MM, BESIDE_SHARE = 12.0, 0.36
# degrees from a pulley at which its words may hang: beside it, where the panel has room
SIDEWAYS = (0, 30, -30, 50, -50, 180, 150, -150, 130, -130)
DASHES = (0, (3.2, 1.4))
Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class _Paper:
    """One panel's part of the figure: from mm of the drive to inches of paper."""

    fig: Figure
    size: Size
    left: float
    bottom: float
    per_mm: float

    def at(self, x: float, y: float) -> Point:
        """Return the place on paper of a place in the drive."""
        return self.left + x * self.per_mm, self.bottom + y * self.per_mm

    def add(self, artist: Any) -> None:
        """Draw something given in inches."""
        artist.set_transform(self.fig.dpi_scale_trans)
        self.fig.add_artist(artist)

    def path(self, points: list[Point], codes: Any, gid: str, **style: Any) -> None:
        """Draw a path given in inches."""
        from matplotlib.patches import PathPatch
        from matplotlib.path import Path

        self.add(PathPatch(Path(points, codes), gid=gid, **style))


def figure(picture: PathPicture, size: str = "screen", *, bare: bool = False) -> Figure:
    """Draw the path; it belongs to no window and to no list of open figures.

    Parameters
    ----------
    picture : PathPicture
        What is to be drawn.
    size : {"screen", "slide", "print", "phone"}
        What it is drawn for; on a phone the panels stand one above the other.
    bare : bool
        Leave out title, subtitle and note: the page sets those itself.

    Raises
    ------
    ValueError
        If there is no such size.
    """
    from matplotlib.figure import Figure

    paper = size_named(size)
    left, right, bottom, top = picture.extent
    # room beside the drive for the numbers at its spans
    beside = BESIDE_SHARE * (top - bottom)
    wide_mm, high_mm = right - left + 2 * beside, top - bottom + 2 * MARGIN_MM
    columns = 1 if paper.width < 5 else len(picture.panels)
    rows = -(-len(picture.panels) // columns)
    across = paper.width / columns
    name_high = 2.0 * paper.gap
    with styled():
        words = 0.0 if bare else 1.15 * paper.title / 11
        tall = rows * (across * high_mm / wide_mm + name_high) + words if paper.grows else paper.height
        fig = Figure(figsize=(paper.width, tall))
        head, foot = (0.0, 0.0) if bare else headed(fig, picture.title, picture.subtitle, picture.note, paper)
        each = (tall - head - foot - (0.0 if bare else 0.5 * paper.gap)) / rows
        per_mm = min(across / wide_mm, (each - name_high) / high_mm)
        for place, panel in enumerate(picture.panels):
            row, column = divmod(place, columns)
            middle, ceiling = (column + 0.5) * across, tall - head - row * each
            _name(fig, panel.name, middle, ceiling - 0.4 * paper.gap, paper)
            spot = _Paper(
                fig,
                paper,
                middle - (left + right) / 2 * per_mm,
                ceiling - name_high - (top + MARGIN_MM) * per_mm,
                per_mm,
            )
            _panel(spot, panel, picture.mm_per_n, left - beside, bottom)
    return fig


def svg(picture: PathPicture, size: str = "screen", *, bare: bool = False) -> str:
    """Draw the path as SVG text; parameters as in `figure`."""
    return svg_of(lambda: figure(picture, size, bare=bare), picture.title)


def png(picture: PathPicture, size: str = "screen") -> bytes:
    """Draw the path as PNG bytes; parameters as in `figure`."""
    return png_of(lambda: figure(picture, size), picture.title)


def _name(fig: Figure, name: str, x: float, y: float, size: Size) -> None:
    wide, high = fig.get_size_inches()
    said = name[:1].upper() + name[1:]
    fig.text(x / wide, y / high, said, fontsize=size.text, color=INK, ha="center", va="top", gid=f"panel:{name}")


def _panel(paper: _Paper, panel: PathPanel, mm_per_n: float, left: float, bottom: float) -> None:
    places = Places()
    _slide(paper, panel, places)
    for disc in panel.discs:
        _disc(paper, disc.gid, paper.at(disc.x, disc.y), disc.radius * paper.per_mm, disc.teeth)
        places.bow(paper.at(disc.x, disc.y), disc.radius * paper.per_mm, 0, 360)
    _belt(paper, panel, places)
    _arrows(paper, panel, places, mm_per_n)
    _scale_bar(paper, places, panel.name, *paper.at(left + MARGIN_MM, bottom))
    _words(paper, panel, places)


def _slide(paper: _Paper, panel: PathPanel, places: Places) -> None:
    from matplotlib.lines import Line2D

    if panel.slide is not None:
        (x, y), (to_x, to_y) = (paper.at(*end) for end in panel.slide)
        style: dict[str, Any] = {"color": RIM, "lw": paper.size.thin * 1.4, "ls": (0, (1, 1.5)), "marker": "|"}
        paper.add(Line2D((x, to_x), (y, to_y), gid=f"slide:{panel.name}", **style))
        places.line((x, y), (to_x, to_y))


def _disc(paper: _Paper, gid: str, at: Point, radius: float, teeth: int | None) -> None:
    from matplotlib.patches import Circle

    thin = paper.size.thin
    paper.add(Circle(at, radius, facecolor=STEEL, edgecolor=RIM, lw=thin * 1.3, gid=gid))
    if teeth is not None:
        turns = [(cos(2 * pi * tooth / teeth), sin(2 * pi * tooth / teeth)) for tooth in range(teeth)]
        ends = [(at[0] + r * x, at[1] + r * y) for x, y in turns for r in (0.93 * radius, radius)]
        # one path for all teeth: moved to, lined to, and so on
        paper.path(ends, [1, 2] * teeth, f"teeth:{gid}", edgecolor=RIM, facecolor="none", lw=thin * 1.6)


def _belt(paper: _Paper, panel: PathPanel, places: Places) -> None:
    from matplotlib.lines import Line2D
    from matplotlib.path import Path

    thick = paper.size.line * 1.6
    for bow in panel.bows:
        centre, radius = paper.at(bow.x, bow.y), bow.radius * paper.per_mm
        arc = Path.arc(bow.first, bow.last)
        points = (np.asarray(arc.vertices) * radius + centre).tolist()
        paper.path(points, arc.codes, bow.gid, edgecolor=BELT, facecolor="none", lw=thick, capstyle="butt")
        places.bow(centre, radius, bow.first, bow.last)
    for run in panel.runs:
        start, end = paper.at(run.x[0], run.y[0]), paper.at(run.x[1], run.y[1])
        style = DASHES if run.side == "slack" else "-"
        line = Line2D((start[0], end[0]), (start[1], end[1]), color=BELT, lw=thick, ls=style, gid=run.gid)
        paper.add(line)
        places.line(start, end)
        long = hypot(end[0] - start[0], end[1] - start[1])
        along = ((end[0] - start[0]) / long, (end[1] - start[1]) / long)
        # a third of the way, where the number at the middle leaves it free
        point = (start[0] + 0.36 * (end[0] - start[0]), start[1] + 0.36 * (end[1] - start[1]))
        _head(paper, point, along, thick * 2.6 / 72, BELT, f"way:{run.gid}")


def _head(paper: _Paper, tip: Point, along: Point, long: float, colour: str, gid: str) -> None:
    """Draw an arrow's head: its point, the way it looks, its length in inches."""
    back = (tip[0] - long * along[0], tip[1] - long * along[1])
    half = 0.42 * long
    corners = [
        tip,
        (back[0] - half * along[1], back[1] + half * along[0]),
        (back[0] + half * along[1], back[1] - half * along[0]),
        tip,
    ]
    paper.path(corners, None, gid, facecolor=colour, edgecolor="none", lw=0)


def _arrows(paper: _Paper, panel: PathPanel, places: Places, mm_per_n: float) -> None:
    from matplotlib.lines import Line2D

    for arrow in panel.arrows:
        force = hypot(arrow.across_n, arrow.up_n)
        start = paper.at(arrow.x, arrow.y)
        tip = paper.at(arrow.x + arrow.across_n * mm_per_n, arrow.y + arrow.up_n * mm_per_n)
        if force > 0:
            along = (arrow.across_n / force, arrow.up_n / force)
            long = min(paper.size.line * 6.5 / 72, 0.6 * hypot(tip[0] - start[0], tip[1] - start[1]))
            end = (tip[0] - 0.8 * long * along[0], tip[1] - 0.8 * long * along[1])
            line = Line2D((start[0], end[0]), (start[1], end[1]), color=PULL, lw=paper.size.line, gid=arrow.gid)
            paper.add(line)
            _head(paper, tip, along, long, PULL, f"head:{arrow.gid}")
            places.line(start, tip)


def _words(paper: _Paper, panel: PathPanel, places: Places) -> None:
    """Put tensions beside their spans, then each pulley's name and pull beside it, outside the loop if it can be."""
    small = paper.size.small
    off = 0.55 * small / 72
    for run in panel.runs:
        side = 1 if run.outward[0] > 0 else -1
        spots = []
        for share in (0.5, 0.6, 0.4):
            at = paper.at(run.x[0] + share * (run.x[1] - run.x[0]), run.y[0] + share * (run.y[1] - run.y[0]))
            spots.append(Spot(at[0] + 1.6 * off * run.outward[0], at[1] + 1.6 * off * run.outward[1], side, 0))
        said = f"{run.tension_n:,.0f} N"
        places.word(f"label:{run.gid}", said if run.side == "even" else f"{run.side}\n{said}", small, spots)
    middle_x = sum(disc.x for disc in panel.discs) / len(panel.discs)
    middle_y = sum(disc.y for disc in panel.discs) / len(panel.discs)
    for disc, arrow in zip(panel.discs, panel.arrows, strict=True):
        x, y = paper.at(disc.x, disc.y)
        outside = disc.radius * paper.per_mm + 2 * off
        away = atan2(disc.y - middle_y, disc.x - middle_x)
        ways = sorted(SIDEWAYS, key=lambda way: -cos(radians(way) - away))
        spots = [
            Spot(x + outside * cos(radians(way)), y + outside * sin(radians(way)), 1 if abs(way) < 90 else -1, 0)
            for way in ways
        ]
        said = f"{disc.name}\n{arrow.text}".replace(" (", "\n").replace(")", "")
        places.word(f"label:{disc.gid}", said, small, spots)
    wide, high = paper.fig.get_size_inches()
    for word in places.words:
        paper.fig.text(
            word.x / wide, word.y / high, word.text, fontsize=small, color=INK, ha="center", va="center",
            linespacing=1.1, gid=word.gid,
        )  # fmt: skip


def _scale_bar(paper: _Paper, places: Places, name: str, x: float, y: float) -> None:
    from matplotlib.lines import Line2D

    end = x + 100 * paper.per_mm
    paper.add(Line2D((x, end), (y, y), color=PALE, lw=paper.size.thin * 2, gid=f"scale:{name}"))
    spot = Spot((x + end) / 2, y + 0.3 * paper.size.small / 72, 0, 1)
    places.word(f"label:scale:{name}", "100 mm", paper.size.small, [spot])
