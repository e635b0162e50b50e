"""Tension is drawn as a curve with its band, the belts' own tensions, and where belts lasted best."""

import math

import numpy as np
import pytest

from drivekit.show.hazard_pictures import tension_picture
from drivekit.show.paper import SIZES


def test_the_curve_is_drawn_with_its_band_and_the_other_forms_thin(alike_season, drawn):
    marks = drawn(tension_picture(alike_season))
    assert marks["panel"].get_yscale() == "log"
    curve = alike_season["tension_curve"]
    for form, said in (("quadratic", "curve"), ("linear", "line"), ("spline", "spline")):
        line = marks[f"curve:{said}"]
        np.testing.assert_allclose(line.get_xdata(), [tension / 1000 for tension in curve["tension_n"][::2]])
        np.testing.assert_allclose(line.get_ydata(), np.exp(curve["forms"][form]["log_hr"][::2]))
    assert marks["curve:curve"].get_linewidth() > marks["curve:line"].get_linewidth()
    corners = {(round(x, 6), round(y, 6)) for x, y in marks["band:curve"].get_paths()[0].vertices}
    quadratic = curve["forms"]["quadratic"]
    for place in range(0, 101, 2):
        at = round(curve["tension_n"][place] / 1000, 6)
        assert (at, round(math.exp(quadratic["lower"][place]), 6)) in corners
        assert (at, round(math.exp(quadratic["upper"][place]), 6)) in corners
    assert len({marks[f"curve:{said}"].get_linestyle() for said in ("curve", "line")}) == 2


def test_each_belt_s_tension_is_a_stroke_and_the_best_one_a_bracket(alike_season, drawn):
    marks = drawn(tension_picture(alike_season))
    belts = alike_season["tension_curve"]["belts_n"]
    assert list(marks["rug:belts"].get_xdata()) == [tension / 1000 for tension in belts]
    assert list(marks["best:tension"].get_xdata()) == [7.2, 8.9]
    assert list(marks["best:tension:estimate"].get_xdata()) == [8.0]
    assert marks["best:tension:text"].get_text() == "best 8.0 kN (7.2 to 8.9)"


@pytest.mark.parametrize("judged", ["hint", "too few"])
def test_without_a_told_best_tension_there_is_no_bracket(alike_season, drawn, judged):
    alike_season["claims"]["tension"]["best"] = judged
    assert not [gid for gid in drawn(tension_picture(alike_season)) if gid.startswith("best:")]


def test_a_band_that_leaves_the_picture_is_said_with_the_tensions_where_it_does(season, drawn):
    curve = season["tension_curve"]
    form = curve["forms"]["quadratic"]
    form["lower"] = form["upper"] = form["log_hr"]
    assert "Band: 95 %, point by point. Thin" in tension_picture(season).note
    form["upper"] = [5.0 if at < 5500 else upper for at, upper in zip(curve["tension_n"], form["upper"], strict=True)]
    assert "Band: 95 %, point by point; below 5.5 kN it runs on past the edge." in tension_picture(season).note
    form["lower"] = [-5.0 if at > 10500 else low for at, low in zip(curve["tension_n"], form["lower"], strict=True)]
    picture = tension_picture(season)
    assert "Band: 95 %, point by point; below 5.5 and above 10.5 kN it runs on past the edge." in picture.note
    assert drawn(picture)["panel"].get_ylim()[0] > math.exp(-5)


def test_another_form_may_be_drawn_in_the_curve_s_place(season, drawn):
    marks = drawn(tension_picture(season, "linear"))
    widths = {gid: artist.get_linewidth() for gid, artist in marks.items() if gid.startswith("curve:")}
    assert max(widths, key=widths.get) == "curve:line"
    assert "band:line" in marks
    del season["tension_curve"]["forms"]["spline"]
    assert tension_picture(season, "spline") is None


@pytest.mark.parametrize("size", SIZES)
def test_each_name_stands_by_the_end_of_its_curve_in_the_order_of_the_curves(demo, drawn, size):
    marks = drawn(tension_picture(demo), size)
    names = ("curve", "line", "spline")
    ends = {said: marks[f"curve:{said}"].get_ydata()[-1] for said in names}
    places = {said: marks[f"label:{said}"].get_window_extent().y0 for said in names}
    assert sorted(names, key=ends.get) == sorted(names, key=places.get)


def test_a_picture_s_text_lists_its_marks(alike_season):
    text = str(tension_picture(alike_season))
    assert "best:tension:text: best 8.0 kN (7.2 to 8.9)" in text
    assert "rug:belts: 5.6 0, 5.64 0, " in text
    assert "curve:curve: 5 2.945, " in text
