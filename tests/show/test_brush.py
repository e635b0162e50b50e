"""Figures are tested by what they draw, and by what a reader sees: words apart, on the paper, large enough."""

from itertools import combinations

import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.text import Text

from drivekit.show.brush import figure
from drivekit.show.layout import SIZES
from drivekit.show.page import pictures

LEAST_POINTS = {"slide": 14, "print": 7, "screen": 8, "phone": 8}


def artists(fig):
    return {artist.get_gid(): artist for artist in fig.findobj(lambda artist: artist.get_gid() is not None)}


def texts(fig):
    return [text for text in fig.findobj(Text) if text.get_visible() and text.get_text()]


def boxes(fig):
    canvas = FigureCanvasAgg(fig)
    canvas.draw()
    renderer = canvas.get_renderer()
    return [(text.get_gid() or text.get_text(), Text.get_window_extent(text, renderer)) for text in texts(fig)]


@pytest.mark.parametrize("size", SIZES)
def test_every_picture_of_the_demo_season_keeps_its_words_apart(demo, size):
    for name, picture in pictures(demo).items():
        fig = figure(picture, size)
        found = boxes(fig)
        for gid, box in found:
            assert fig.bbox.x0 - 1 <= box.x0, (name, gid)
            assert box.x1 <= fig.bbox.x1 + 1, (name, gid)
        for (one, a), (other, b) in combinations(found, 2):
            across = min(a.x1, b.x1) - max(a.x0, b.x0)
            up = min(a.y1, b.y1) - max(a.y0, b.y0)
            assert across < 1 or up < 0.15 * min(a.height, b.height), (name, one, other)
