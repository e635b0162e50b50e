"""The drive's path as a picture: what is drawn equals what was computed, and words keep off each other."""

from __future__ import annotations

from dataclasses import replace
from math import cos, hypot, radians, sin
from pathlib import Path

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.path import Path as MatplotlibPath
from matplotlib.text import Text

from drivekit.drive.drive_file import read_drive
from drivekit.drive.set_up import SetUp, set_up
from drivekit.show.layout import SIZES
from drivekit.show.path_brush import figure, png, svg
from drivekit.show.path_picture import path_picture

DRIVES = Path(__file__).parents[2] / "data" / "drives"
NAMES = ("toothed-inside", "smooth-inside", "idler-outside", "worked-example")


@pytest.fixture(params=NAMES)
def found(request: pytest.FixtureRequest) -> SetUp:
    return set_up(read_drive(DRIVES / f"{request.param}.toml"))


def test_the_picture_holds_the_path_and_the_pulls(found: SetUp) -> None:
    picture = path_picture(found)
    assert [panel.name for panel in picture.panels] == ["at rest", "at full load"]
    for panel, state in zip(picture.panels, (found.states[0], found.states[2]), strict=True):
        for run, span, tension in zip(panel.runs, found.path.spans, state.span_n, strict=True):
            assert (run.x[0], run.y[0]) == pytest.approx((span.from_x_m * 1e3, span.from_y_m * 1e3))
            assert hypot(run.x[1] - run.x[0], run.y[1] - run.y[0]) == pytest.approx(span.length_m * 1e3)
            assert run.tension_n == tension
        for arrow, load in zip(panel.arrows, state.loads, strict=True):
            assert (arrow.across_n, arrow.up_n) == (load.x_n, load.y_n)
    assert {run.side for run in picture.panels[0].runs} == {"even"}
    assert [run.side for run in picture.panels[1].runs] == ["slack", "slack", "tight"]


def test_arcs_run_from_span_to_span(found: SetUp) -> None:
    panel = path_picture(found).panels[0]
    for i, bow in enumerate(panel.bows):
        ends = {
            (round(bow.x + bow.radius * cos(radians(at)), 6), round(bow.y + bow.radius * sin(radians(at)), 6))
            for at in (bow.first, bow.last)
        }
        arriving, leaving = panel.runs[i - 1], panel.runs[i]
        met, left = (arriving.x[1], arriving.y[1]), (leaving.x[0], leaving.y[0])
        assert ends == {tuple(round(one, 6) for one in met), tuple(round(one, 6) for one in left)}


def test_numbers_stand_outside_the_loop(found: SetUp) -> None:
    panel = path_picture(found).panels[0]
    loop = MatplotlibPath([(x, y) for run in panel.runs for x, y in zip(run.x, run.y, strict=True)])
    for run in panel.runs:
        middle = np.array([sum(run.x) / 2, sum(run.y) / 2])
        assert loop.contains_point(middle - np.array(run.outward))
        assert not loop.contains_point(middle + np.array(run.outward))


@pytest.mark.parametrize("size", [*SIZES])
def test_it_is_drawn_to_scale_with_every_mark(found: SetUp, size: str) -> None:
    picture = path_picture(found)
    drawn = figure(picture, size)
    by_gid = {artist.get_gid(): artist for artist in drawn.findobj(lambda artist: artist.get_gid() is not None)}
    scale = None
    for panel in picture.panels:
        for run in panel.runs:
            line = by_gid[run.gid]
            long = hypot(*(np.diff(values)[0] for values in line.get_data()))
            per_mm = long / hypot(run.x[1] - run.x[0], run.y[1] - run.y[0])
            scale = scale or per_mm
            assert per_mm == pytest.approx(scale, rel=1e-9)
            assert (line.get_linestyle() == "-") is (run.side != "slack")
            assert f"way:{run.gid}" in by_gid
        for disc in panel.discs:
            assert by_gid[disc.gid].radius == pytest.approx(disc.radius * scale)
            assert (f"teeth:{disc.gid}" in by_gid) is (disc.teeth is not None)
        for arrow in panel.arrows:
            start = [values[0] for values in by_gid[arrow.gid].get_data()]
            tip = by_gid[f"head:{arrow.gid}"].get_path().vertices[0]
            assert hypot(*(tip - start)) == pytest.approx(
                hypot(arrow.across_n, arrow.up_n) * picture.mm_per_n * scale, rel=1e-9
            )
    xs, _ = by_gid["scale:at rest"].get_data()
    assert xs[1] - xs[0] == pytest.approx(100 * scale)


@pytest.mark.parametrize("size", [*SIZES])
def test_no_two_words_overlap_and_none_leaves_the_paper(found: SetUp, size: str) -> None:
    drawn = figure(path_picture(found), size)
    drawn.set_dpi(200)
    canvas = FigureCanvasAgg(drawn)
    canvas.draw()
    boxes = [
        (text.get_gid(), text.get_window_extent(canvas.get_renderer()))
        for text in drawn.findobj(Text)
        if text.get_text() and text.get_gid()
    ]
    wide, high = drawn.canvas.get_width_height()
    assert len(boxes) > 12
    for i, (gid, box) in enumerate(boxes):
        assert box.x0 >= -1, gid
        assert box.x1 <= wide + 1, gid
        assert box.y0 >= -1, gid
        assert box.y1 <= high + 1, gid
        for other, second in boxes[i + 1 :]:
            across = min(box.x1, second.x1) - max(box.x0, second.x0)
            up = min(box.y1, second.y1) - max(box.y0, second.y0)
            assert across <= 2 or up <= 4, (gid, other)


def test_the_title_is_the_answer_also_when_the_belt_is_slack(found: SetUp) -> None:
    assert path_picture(found).title.startswith("At full load the slack side keeps ")
    loose = replace(found.layout, tension=replace(found.layout.tension, set_n=1600.0))
    picture = path_picture(set_up(loose))
    assert picture.title.startswith("At full load the belt is slack: ")
    # a slack belt pulls on no idler: its arrow has no length, and none is drawn
    drawn = svg(picture)
    assert 'id="head:force:at full load:idler"' not in drawn
    assert 'id="head:force:at full load:blower"' in drawn


def test_the_same_drive_gives_the_same_bytes_and_lists_what_it_draws(found: SetUp) -> None:
    picture = path_picture(found)
    assert svg(picture) == svg(path_picture(found))
    assert png(picture)[:4] == b"\x89PNG"
    bundle = picture._repr_mimebundle_()
    assert bundle["image/svg+xml"].count('id="span:') == 6
    for panel in picture.panels:
        for run in panel.runs:
            assert f"{run.gid}: " in bundle["text/plain"]


def test_there_is_no_such_size(found: SetUp) -> None:
    with pytest.raises(ValueError, match='"wall" is no size of a figure'):
        figure(path_picture(found), "wall")
