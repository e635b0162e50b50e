"""Figures are tested by what they draw, and by what a reader sees: words apart, on the paper, large enough."""

from itertools import combinations

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.text import Text

from drivekit.show.brush import figure, png, svg
from drivekit.show.causes import causes_picture
from drivekit.show.curves import comparison_picture, overall_picture
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
@pytest.mark.parametrize("bare", [False, True])
def test_no_words_overlap_and_none_leaves_the_paper(awkward, size, bare):
    fig = figure(comparison_picture(awkward, "idler"), size, bare=bare)
    paper = fig.bbox
    found = boxes(fig)
    for gid, box in found:
        assert box.x0 >= paper.x0 - 1, gid
        assert box.x1 <= paper.x1 + 1, gid
        assert box.y0 >= paper.y0 - 1, gid
        assert box.y1 <= paper.y1 + 1, gid
    for (one, a), (other, b) in combinations(found, 2):
        across = min(a.x1, b.x1) - max(a.x0, b.x0)
        up = min(a.y1, b.y1) - max(a.y0, b.y0)
        # a line of text is taller in its box than in its letters
        assert across < 1 or up < 0.15 * min(a.height, b.height), (one, other)


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


@pytest.mark.parametrize("size", SIZES)
def test_no_type_is_too_small_to_read(season, size):
    fig = figure(comparison_picture(season, "tension"), size)
    assert min(text.get_fontsize() for text in texts(fig)) >= LEAST_POINTS[size]


@pytest.mark.parametrize("size", SIZES)
def test_the_axes_keep_a_fair_part_of_the_paper(awkward, size):
    fig = figure(comparison_picture(awkward, "idler"), size)
    share = sum(axes.get_position().height * axes.get_position().width for axes in fig.axes)
    assert share > 0.1


def test_curves_are_drawn_with_the_survival_of_the_findings(season):
    drawn = artists(figure(comparison_picture(season, "idler")))
    for level, curve in season["life"]["idler"]["levels"].items():
        line = drawn[f"curve:{level}"]
        assert line.get_drawstyle() == "steps-post"
        np.testing.assert_array_equal(line.get_xdata(), [0, *curve["age"]])
        np.testing.assert_allclose(line.get_ydata(), [100, *(100 * share for share in curve["survival"])], rtol=1e-15)


def test_bands_are_stepped_between_the_limits_of_the_findings(season):
    drawn = artists(figure(comparison_picture(season, "idler")))
    for level, curve in season["life"]["idler"]["levels"].items():
        edges = drawn[f"band:{level}"].get_paths()[0].vertices
        corners = {(round(float(x), 9), round(float(y), 9)) for x, y in edges}
        first = next(place for place, failed in enumerate(curve["failed_at"]) if failed)
        for age, low, up in list(zip(curve["age"], curve["lower"], curve["upper"], strict=True))[first:]:
            if low is not None:
                assert (age, round(100 * low, 9)) in corners
                assert (age, round(100 * up, 9)) in corners


def test_the_table_under_the_curves_holds_the_numbers_at_risk_and_failed_so_far(season):
    drawn = artists(figure(comparison_picture(season, "idler")))
    for level, curve in season["life"]["idler"]["levels"].items():
        cells = {gid: text for gid, text in drawn.items() if gid.startswith(f"risk:{level}:")}
        assert len(cells) > 4
        for gid, text in cells.items():
            age = int(gid.rsplit(":", 1)[1])
            failed = sum(d for at, d in zip(curve["age"], curve["failed_at"], strict=True) if at <= age)
            at_risk = dict(zip(curve["age"], curve["at_risk"], strict=True)).get(age, 0)
            assert text.get_text() == f"{at_risk} ({failed})"


def test_a_median_line_falls_from_the_curve_to_the_axis_at_the_median(season):
    drawn = artists(figure(comparison_picture(season, "idler")))
    for level, curve in season["life"]["idler"]["levels"].items():
        line = drawn[f"median:{level}"]
        assert list(line.get_xdata()) == [curve["median"]["estimate"]] * 2
        assert line.get_ydata()[-1] == 0


def test_groups_differ_in_line_style_as_well_as_in_colour(findings_of):
    drawn = artists(figure(comparison_picture(findings_of("five levels"), "idler")))
    lines = [line for gid, line in drawn.items() if gid.startswith("curve:")]
    assert len(lines) == 5
    styles = {(line._dash_pattern[1] and tuple(line._dash_pattern[1])) for line in lines}
    assert len(styles) == 5
    assert len({line.get_color() for line in lines}) == 5


def test_more_than_three_levels_stand_in_panels_of_their_own_on_the_same_axes(findings_of):
    fig = figure(comparison_picture(findings_of("five levels"), "idler"))
    assert len(fig.axes) == 5
    assert len({(axes.get_xlim(), axes.get_ylim()) for axes in fig.axes}) == 1


def test_percentages_run_from_0_to_100_and_ages_to_the_oldest_belt(season):
    (axes,) = figure(comparison_picture(season, "idler")).axes
    oldest = max(curve["age"][-1] for curve in season["life"]["idler"]["levels"].values())
    assert axes.get_ylim() == (0, 102)
    assert axes.get_xlim() == (0, oldest + 0.3)


def test_failures_are_dots_and_belts_that_left_are_ticks(season):
    drawn = artists(figure(comparison_picture(season, "idler")))
    for level, curve in season["life"]["idler"]["levels"].items():
        dots = [age for age, d in zip(curve["age"], curve["failed_at"], strict=True) if d]
        left = [age for age, c in zip(curve["age"], curve["censored_at"], strict=True) if c]
        assert list(drawn[f"failures:{level}"].get_xdata()) == dots
        assert list(drawn[f"censored:{level}"].get_xdata()) == left
        for age, count in zip(curve["age"], curve["censored_at"], strict=True):
            number = drawn.get(f"censored:{level}:{age}")
            assert (number is None) == (count < 3)
            assert number is None or number.get_text() == str(count)


def test_names_stand_beside_the_ends_of_their_curves_in_the_order_of_the_curves(season):
    fig = figure(comparison_picture(season, "tension"))
    found = dict(boxes(fig))
    ends = {level: curve["survival"][-1] for level, curve in season["life"]["tension"]["levels"].items()}
    heights = {level: found[f"label:{level}"].y0 for level in ends}
    assert sorted(ends, key=ends.get) == sorted(heights, key=heights.get)


def test_incidences_are_drawn_as_rising_steps(season):
    drawn = artists(figure(causes_picture(season)))
    for cause, block in season["causes"].items():
        if any(block["incidence"]):
            heights = [0, *(100 * value for value in block["incidence"])]
            np.testing.assert_allclose(drawn[f"curve:{cause}"].get_ydata(), heights)
        else:
            assert f"curve:{cause}" not in drawn


def test_the_same_picture_gives_the_same_bytes(season):
    picture = comparison_picture(season, "idler")
    assert svg(picture) == svg(picture)
    assert png(picture) == png(picture)
    assert png(picture).startswith(b"\x89PNG")


def test_every_mark_keeps_its_name_in_the_svg_and_its_text_stays_text(season):
    picture = comparison_picture(season, "idler")
    text = svg(picture)
    for mark in picture.panels[0].marks:
        assert f'id="{mark.gid}"' in text or f'id="{mark.gid}:0"' in text
    assert ">toothed</text>" in text
    assert "dc:date" not in text


def test_a_bare_picture_leaves_title_and_note_to_the_page(season):
    picture = overall_picture(season)
    assert {gid.split(":")[0] for gid in artists(figure(picture))} >= {"title", "subtitle", "note"}
    assert not {gid.split(":")[0] for gid in artists(figure(picture, bare=True))} & {"title", "subtitle", "note"}


def test_a_size_that_is_none_is_refused_with_those_there_are(season):
    with pytest.raises(ValueError, match=r'"poster" is no size of a figure; the sizes are screen, slide, print, phone'):
        figure(overall_picture(season), "poster")


@pytest.mark.parametrize(("size", "width", "height"), [("screen", 7.2, 4.4), ("slide", 12.8, 7.2)])
def test_each_size_is_drawn_for_its_paper(season, size, width, height):
    wide, high = figure(overall_picture(season), size).get_size_inches()
    assert wide == pytest.approx(width)
    assert high == pytest.approx(height)


def test_a_print_is_160_mm_wide(season):
    assert figure(overall_picture(season), "print").get_size_inches()[0] == pytest.approx(160 / 25.4)
