"""The ink of every picture: its colours, each group's own line style, and the bare axes that all are drawn on.

Colour is never alone: each group has a line style too.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from drivekit.show.layout import Box, Size

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["INK", "PALE", "STYLES", "bare_axes", "line_style", "paper_of"]

INK, PALE = "#22262B", "#5B626B"

STYLES: tuple[tuple[str, tuple[float, ...]], ...] = (
    ("#0072B2", ()),
    ("#D55E00", (4.5, 1.6)),
    ("#009E73", (5.0, 1.4, 1.0, 1.4)),
    ("#CC79A7", (1.2, 1.2)),
    ("#4A4F57", (8.0, 2.0)),
    ("#0072B2", (2.4, 1.2)),
    ("#D55E00", (7.0, 1.3, 1.0, 1.3, 1.0, 1.3)),
    ("#009E73", (1.0, 2.2)),
    ("#CC79A7", (3.2, 1.2, 1.2, 1.2)),
)
"""Okabe and Ito's blue, vermillion, green and purple, then grey; each with a line style of its own."""


def line_style(ink: int) -> dict[str, Any]:
    """Give a group's colour and dashes as matplotlib takes them."""
    colour, dashes = STYLES[ink % len(STYLES)]
    return {"color": colour, "linestyle": (0, dashes) if dashes else "-"}


def paper_of(axes: Axes) -> Figure:
    """Give the figure that axes stand on."""
    fig = axes.get_figure(root=True)
    assert fig is not None  # axes are drawn on only while they stand on a figure
    return fig


def bare_axes(
    axes: Axes,
    size: Size,
    inches: Box,
    *,
    across: Sequence[float] = (),
    up: Sequence[float] = (),
    at: Sequence[float],
    own: str = "",
) -> None:
    """Draw grid, axis lines and tick marks by hand: matplotlib's own take longer than all the rest of a picture.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        To draw on; its own axis is switched off, its limits stay.
    size, inches : Size, Box
        What for, and where the axes stand.
    across, up, at : sequence of float
        Inches on the paper: heights of level grid lines (with these an upright axis line is drawn too), places of
        upright grid lines, places of tick marks on the level axis.
    own : str
        Ending of the gids, so that those of several panels differ.
    """
    from matplotlib import rcParams
    from matplotlib.collections import LineCollection

    axes.set_axis_off()
    fig = paper_of(axes)
    left, bottom, right, top = inches.left, inches.bottom, inches.left + inches.width, inches.bottom + inches.height
    mark = rcParams["xtick.major.size"] / 72
    grid = [((left, level), (right, level)) for level in across] + [((x, bottom), (x, top)) for x in up]
    lines = [((left, bottom), (right, bottom)), *(((x, bottom), (x, bottom - mark)) for x in at)]
    if across:
        lines.append(((left, bottom), (left, top)))
    kinds = (("grid", grid, rcParams["grid.color"], -2), ("frame", lines, rcParams["axes.edgecolor"], -1))
    for name, segments, colour, order in kinds:
        lines_of = LineCollection(segments, colors=[colour], linewidths=1.2 * size.thin, zorder=order)
        lines_of.set(gid=f"{name}{own}", transform=fig.dpi_scale_trans)
        fig.add_artist(lines_of)
