"""What figures are read by in tests: artists by their gid, words with their boxes, curves as they are seen."""

from itertools import combinations, pairwise

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.text import Text


def by_gid(fig):
    """Artists by gid; none is used twice."""
    found = list(fig.findobj(lambda artist: artist.get_gid() is not None))
    assert len({artist.get_gid() for artist in found}) == len(found)
    return {artist.get_gid(): artist for artist in found}


def texts(fig):
    """All words that are seen, each with its box in points."""
    renderer = FigureCanvasAgg(fig).get_renderer()
    fig.draw(renderer)  # only then do axes know which numbers they bear
    seen = [text for text in fig.findobj(Text) if text.get_visible() and text.get_text().strip()]
    axis = [label for axes in fig.axes for axis in (axes.xaxis, axes.yaxis) for label in _off(axis)]
    return [(text, _points(fig, Text.get_window_extent(text, renderer))) for text in seen if text not in axis]


def _off(axis):
    """Labels of ticks that matplotlib keeps but does not draw."""
    if not (axis.get_visible() and axis.axes.axison):
        return [
            label for tick in (*axis.get_major_ticks(), *axis.get_minor_ticks()) for label in (tick.label1, tick.label2)
        ]
    low, high = sorted(axis.get_view_interval())
    reach = 1e-9 * (high - low)
    ticks = [*axis.get_major_ticks(), *axis.get_minor_ticks()]
    return [
        label
        for tick in ticks
        if not low - reach <= tick.get_loc() <= high + reach
        for label in (tick.label1, tick.label2)
    ]


def _points(fig, box):
    return np.array(box.extents) * 72 / fig.dpi


def said(text):
    """How a text is called when a test fails."""
    return text.get_gid() or text.get_text()


def overlapping(found):
    """Pairs of words of which one covers the other; a line of text is taller in its box than in its letters."""
    pairs = []
    for (one, a), (other, b) in combinations(found, 2):
        across, up = np.minimum(a[2:], b[2:]) - np.maximum(a[:2], b[:2])
        if across > 0.7 and up > 0.15 * min(a[3] - a[1], b[3] - b[1]):
            pairs.append((said(one), said(other)))
    return pairs


def gap(box, point):
    """Points from a point to a box."""
    return float(np.hypot(*(np.clip(point, box[:2], box[2:]) - point)))


def traced(line):
    """A line as it is seen, in points: the corners of steps among its vertices."""
    at = np.asarray(line.get_xydata(), float)
    if line.get_drawstyle() == "steps-post":
        at = np.column_stack((np.repeat(at[:, 0], 2)[1:], np.repeat(at[:, 1], 2)[:-1]))
    return line.get_transform().transform(at) * 72 / line.get_figure(root=True).dpi


def crosses(line, box):
    """Whether a line runs through a box."""
    at = traced(line)
    many = np.maximum(np.hypot(*np.diff(at, axis=0).T).astype(int) * 2, 2)
    way = np.concatenate([np.linspace(*pair, n) for pair, n in zip(pairwise(at), many, strict=True)])
    return bool(((way > box[:2]) & (way < box[2:])).all(axis=1).any())
