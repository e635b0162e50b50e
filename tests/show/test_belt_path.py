"""The drive's path as a picture: what is drawn equals what was computed, and words keep off each other."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from math import cos, hypot, radians, sin, tau
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure
from matplotlib.path import Path as MatplotlibPath
from matplotlib.text import Text

from drivekit.drive.drive_file import read_drive
from drivekit.drive.set_up import SetUp, set_up
from drivekit.show.drive_page import belt_path_picture
from drivekit.show.paper import SIZES

DRIVES = Path(__file__).parents[2] / "data" / "drives"
NAMES = ("toothed-inside", "smooth-inside", "idler-outside", "worked-example")
STATES = ("at rest", "at full load")


@pytest.fixture(params=NAMES, scope="module")
def found(request: pytest.FixtureRequest) -> SetUp:
    return set_up(read_drive(DRIVES / f"{request.param}.toml"))


def marks(figure: Figure) -> dict[str, Any]:
    drawn = figure.findobj(lambda artist: bool(artist.get_gid()))
    assert len({mark.get_gid() for mark in drawn}) == len(drawn)
    return {mark.get_gid(): mark for mark in drawn}


def spans(found: SetUp, state: str) -> list[str]:
    return [f"span:{state}:{span.leaves}-{span.meets}" for span in found.path.spans]


def pull(arrow: Any) -> Any:
    """The arrow as a vector, in mm."""
    return np.subtract(arrow.xy2, arrow.xy1)


@pytest.mark.parametrize("size", [*SIZES])
def test_the_picture_holds_the_path_in_millimetres(found: SetUp, size: str) -> None:
    drawn = marks(belt_path_picture(found).figure(size))
    for name, state in zip(STATES, (found.states[0], found.states[2]), strict=True):
        for gid, span, tension in zip(spans(found, name), found.path.spans, state.span_n, strict=True):
            start, end = drawn[gid].get_xydata()
            assert start == pytest.approx((span.from_x_m * 1e3, span.from_y_m * 1e3))
            assert hypot(*(end - start)) == pytest.approx(span.length_m * 1e3)
            assert drawn[f"label:{gid}"].get_text().endswith(found.layout.spoken.said(tension, "N"))
            way = drawn[f"way:{gid}"]
            assert np.dot(pull(way), end - start) == pytest.approx(hypot(*(end - start)))
        for pulley in found.layout.pulleys:
            circle = drawn[f"pulley:{name}:{pulley.name}"]
            assert circle.get_center() == pytest.approx((pulley.x_m * 1e3, pulley.y_m * 1e3))
            assert circle.get_radius() == pytest.approx(pulley.body_radius(found.layout.belt) * 1e3)


def test_the_slack_side_is_dashed_and_named_and_at_rest_all_spans_are_alike(found: SetUp) -> None:
    drawn = marks(belt_path_picture(found).figure())
    assert [drawn[gid].get_linestyle() for gid in spans(found, "at rest")] == ["-"] * 3
    assert [drawn[gid].get_linestyle() for gid in spans(found, "at full load")] == ["--", "--", "-"]
    said = [drawn[f"label:{gid}"].get_text().split("\n")[0] for gid in spans(found, "at full load")]
    assert said == ["slack", "slack", "tight"]
    assert {"\n" in drawn[f"label:{gid}"].get_text() for gid in spans(found, "at rest")} == {False}


def test_arcs_run_from_span_to_span(found: SetUp) -> None:
    drawn = marks(belt_path_picture(found).figure())
    lines = [drawn[gid].get_xydata() for gid in spans(found, "at rest")]
    for (arriving, leaving), pulley in zip(pairwise([lines[-1], *lines]), found.layout.pulleys, strict=True):
        arc = drawn[f"arc:at rest:{pulley.name}"]
        (x, y), radius = arc.get_center(), arc.get_width() / 2
        assert arc.get_height() == arc.get_width()
        ends = {
            (round(x + radius * cos(radians(at)), 6), round(y + radius * sin(radians(at)), 6))
            for at in (arc.theta1, arc.theta2)
        }
        assert ends == {tuple(np.round(arriving[1], 6).tolist()), tuple(np.round(leaving[0], 6).tolist())}


def test_every_toothed_pulley_shows_its_teeth(found: SetUp) -> None:
    belt = found.layout.belt
    around = [round(tau * pulley.pitch_radius(belt) / belt.pitch_m) for pulley in found.layout.pulleys]
    toothed = [teeth for teeth, pulley in zip(around, found.layout.pulleys, strict=True) if pulley.face == "toothed"]
    for part in belt_path_picture(found).figure().subfigs[0].subfigs:
        teeth = [len(one.get_segments()) for one in part.axes[0].collections if isinstance(one, LineCollection)]
        assert teeth == toothed


@pytest.mark.parametrize("size", [*SIZES])
def test_everything_is_drawn_to_one_scale_and_every_pull_to_another(found: SetUp, size: str) -> None:
    figure = belt_path_picture(found).figure(size)
    FigureCanvasAgg(figure).draw()
    drawn = marks(figure)
    scales = set()
    for part in figure.subfigs[0].subfigs:
        across, up = part.axes[0].transData.transform((100, 100)) - part.axes[0].transData.transform((0, 0))
        scales |= {round(across, 6), round(up, 6)}
    assert len(scales) == 1
    lengths, forces = [], []
    for name, state in zip(STATES, (found.states[0], found.states[2]), strict=True):
        assert np.ptp(drawn[f"scale:{name}"].get_xdata()) == pytest.approx(
            101.6 if found.layout.spoken.inch_pound else 100
        )
        for load, centre in zip(state.loads, found.path.arcs, strict=True):
            arrow = drawn[f"force:{name}:{load.pulley}"]
            assert arrow.xy1 == pytest.approx((centre.x_m * 1e3, centre.y_m * 1e3))
            assert pull(arrow) / hypot(*pull(arrow)) == pytest.approx(np.array((load.x_n, load.y_n)) / load.force_n)
            lengths.append(hypot(*pull(arrow)))
            forces.append(load.force_n)
    high = max(c.y_m + r for c, r in zip(found.layout.pulleys, radii(found), strict=True))
    low = min(c.y_m - r for c, r in zip(found.layout.pulleys, radii(found), strict=True))
    assert max(lengths) == pytest.approx((high - low) * 1e3 / 3)
    assert np.divide(lengths, forces) == pytest.approx(lengths[0] / forces[0])


def radii(found: SetUp) -> list[float]:
    return [pulley.body_radius(found.layout.belt) for pulley in found.layout.pulleys]


@pytest.mark.parametrize("size", [*SIZES])
def test_words_stand_clear_of_each_other_and_of_the_belt_outside_the_loop_on_the_paper(found: SetUp, size: str) -> None:
    figure = belt_path_picture(found).figure(size)
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    words = [text for text in figure.findobj(Text) if text.get_text() and text.get_gid()]
    boxes = [(text.get_gid(), text.get_window_extent(canvas.get_renderer())) for text in words]
    wide, high = canvas.get_width_height()
    assert len(boxes) == 3 + 2 * (1 + 3 + 3 + 1)
    for place, (gid, box) in enumerate(boxes):
        assert -1 <= box.x0 <= box.x1 <= wide + 1, gid
        assert -1 <= box.y0 <= box.y1 <= high + 1, gid
        for other, second in boxes[place + 1 :]:
            across = min(box.x1, second.x1) - max(box.x0, second.x0)
            up = min(box.y1, second.y1) - max(box.y0, second.y0)
            assert across <= 1 or up <= 2, (gid, other)
    drawn = marks(figure)
    for name in STATES:
        lines = [drawn[gid].get_transform().transform(drawn[gid].get_xydata()) for gid in spans(found, name)]
        loop = MatplotlibPath(np.concatenate(lines))
        slides = [mark for gid, mark in drawn.items() if gid == f"slide:{name}"]
        others = [drawn[f"force:{name}:{pulley.name}"] for pulley in found.layout.pulleys] + slides
        ways = [one.get_transform().transform_path(one.get_path()).to_polygons(closed_only=False) for one in others]
        for gid, box in boxes:
            if name in gid and gid.startswith("label:"):
                assert not any(MatplotlibPath(line).intersects_bbox(box, filled=False) for line in lines), gid
                assert not any(
                    MatplotlibPath(line).intersects_bbox(box, filled=False) for way in ways for line in way
                ), gid
                assert not loop.contains_point(((box.x0 + box.x1) / 2, (box.y0 + box.y1) / 2)), gid


def test_the_title_is_the_answer_also_when_the_belt_is_slack(found: SetUp) -> None:
    assert belt_path_picture(found).title.startswith("At full load the slack side keeps ")
    loose = replace(found.layout, tension=replace(found.layout.tension, set_n=0.3 * found.layout.tension.set_n))
    picture = belt_path_picture(set_up(loose))
    assert picture.title.startswith("At full load the belt is slack: ")
    # a slack belt pulls on no idler: its arrow has no length, and none is drawn
    drawn = marks(picture.figure())
    assert "force:at full load:idler" not in drawn
    assert "force:at full load:blower" in drawn


def test_a_drive_without_a_slide_shows_none(found: SetUp) -> None:
    pulleys = tuple(replace(pulley, mount="fixed") for pulley in found.layout.pulleys)
    drawn = marks(
        belt_path_picture(set_up(replace(found.layout, slide=None, pulleys=pulleys, adjusters=None))).figure()
    )
    assert not [gid for gid in drawn if gid.startswith("slide")]


def test_the_same_drive_gives_the_same_bytes_and_lists_what_it_draws(found: SetUp) -> None:
    picture = belt_path_picture(found)
    drawn, listed = picture.svg(), str(picture).split("\n")
    assert drawn == belt_path_picture(found).svg()
    assert picture.png()[:4] == b"\x89PNG"
    assert f"path {found.layout.spoken.long(found.path.length_m)}" in listed[1]
    for gid in (*spans(found, "at rest"), *spans(found, "at full load")):
        assert drawn.count(f'id="{gid}"') == 1
        assert [line for line in listed if line.startswith(f"{gid}: ")]
    crank = found.states[2].loads[found.layout.place("crank")]
    pulled = found.layout.spoken.said(crank.force_n, "N")
    assert [line for line in listed if line.startswith(f"label:pulley:at full load:crank: crank {pulled}")]
    assert not [line for line in listed if "e-1" in line]
