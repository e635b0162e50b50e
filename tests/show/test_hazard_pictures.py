"""Pictures of the hazard study hold what the findings hold: tension, and each check of the fit."""

import math
from itertools import product

import numpy as np
import pytest

from drivekit.show.curves import standardised_picture
from drivekit.show.forest import forest_picture, methods_picture
from drivekit.show.hazard_pictures import (
    drift_picture,
    influence_picture,
    risk_picture,
    surprise_picture,
    tension_picture,
)
from drivekit.show.paper import SIZES
from tests.show.artists import by_gid, overlapping, said, texts

IDLER = "idler[toothed]"
DRAW = {
    "forest": forest_picture,
    "methods": methods_picture,
    "tension_curve": tension_picture,
    "standardised_idler": lambda found: standardised_picture(found, "idler"),
    "drift": drift_picture,
    "surprise": surprise_picture,
    "influence": influence_picture,
    "risk": risk_picture,
}


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("name", DRAW)
@pytest.mark.parametrize("of", ["season", "alike_season"])
def test_no_words_overlap_and_none_leaves_the_paper(request, of, name, size):
    fig = DRAW[name](request.getfixturevalue(of)).figure(size)
    found, (wide, high) = texts(fig), 72 * fig.get_size_inches()
    for text, box in found:
        assert (box > -1).all(), said(text)
        assert (box < np.array([wide, high] * 2) + 1).all(), said(text)
    assert not overlapping(found)


def test_standardised_lives_are_steps_with_stepped_bands_to_the_horizon(alike_season):
    picture = standardised_picture(alike_season, "idler")
    drawn = by_gid(picture.figure())
    block = alike_season["standardised"]["idler"]
    for level, curve in block["levels"].items():
        line = drawn[f"curve:{level}"]
        assert line.get_drawstyle() == "steps-post"
        assert list(line.get_xdata()) == [0, 1, 2, 3, 4, 5, 6]
        np.testing.assert_allclose(line.get_ydata(), [100, *(100 * share for share in curve["survival"])])
        corners = {(round(float(x), 9), round(float(y), 9)) for x, y in drawn[f"band:{level}"].get_paths()[0].vertices}
        for age, low, up in zip(curve["age"][:-1], curve["lower"], curve["upper"], strict=False):
            assert {(age, round(100 * low, 9)), (age, round(100 * up, 9))} <= corners
    assert not [gid for gid in drawn if gid.startswith("risk")]
    assert picture.subtitle == (
        "The same 40 belts once all on the smooth idler and all on the toothed idler: share not failed after each run, "
        "each belt on its car and with the other settings of its first run."
    )
    assert picture.note == (
        "Bands: 95 %, point by point. Limits from 999 draws of belts, of which 4 had no estimate and were left out. "
        "These are invented data: no belt, car or meeting in them is real."
    )


def test_standardised_lives_without_limits_are_drawn_bare_and_say_why(season):
    picture = standardised_picture(season, "idler")
    drawn = by_gid(picture.figure())
    assert [gid for gid in drawn if gid.startswith("curve:")] == ["curve:smooth", "curve:toothed"]
    assert not [gid for gid in drawn if gid.startswith("band:")]
    assert picture.note.startswith(
        "Limits from 999 draws of belts, of which 141 had no estimate and were left out; no limits are given, for too "
        "many draws of belts gave no estimate."
    )
    assert standardised_picture(season, "edge_lube") is None


def test_without_a_hazard_study_nothing_is_drawn(season):
    season["hazard"] = season["tension_curve"] = {"reason": "nothing failed"}
    season["standardised"] = {"idler": {"reason": "nothing failed"}, "edge_lube": {"reason": "nothing failed"}}
    assert {name: draw(season) for name, draw in DRAW.items()} == dict.fromkeys(DRAW)


def test_the_curve_is_drawn_with_its_band_and_the_other_forms_thin(alike_season, drawn):
    marks = drawn(tension_picture(alike_season))
    assert marks["panel"].get_yscale() == "log"
    curve = alike_season["tension_curve"]
    for form, name in (("quadratic", "curve"), ("linear", "line"), ("spline", "spline")):
        line = marks[f"curve:{name}"]
        np.testing.assert_allclose(line.get_xdata(), [tension / 1000 for tension in curve["tension_n"][::2]])
        np.testing.assert_allclose(line.get_ydata(), np.exp(curve["forms"][form]["log_hr"][::2]))
    assert marks["curve:curve"].get_linewidth() > marks["curve:line"].get_linewidth()
    corners = {(round(x, 6), round(y, 6)) for x, y in marks["band:curve"].get_paths()[0].vertices}
    quadratic = curve["forms"]["quadratic"]
    for place in range(0, 101, 2):
        at = round(curve["tension_n"][place] / 1000, 6)
        assert (at, round(math.exp(quadratic["lower"][place]), 6)) in corners
        assert (at, round(math.exp(quadratic["upper"][place]), 6)) in corners
    assert len({marks[f"curve:{name}"].get_linestyle() for name in ("curve", "line")}) == 2


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


def words(marks, kind):
    return [artist.get_text() for gid, artist in marks.items() if gid.startswith(kind)]


def test_each_failure_pulls_in_every_panel_of_the_drift(season, drawn):
    marks = drawn(drift_picture(season))
    found = season["hazard"]["checks"]["schoenfeld"]
    for term, values in found["scaled"].items():
        assert list(marks[f"dots:{term}"].get_xdata()) == found["age"]
        assert list(marks[f"dots:{term}"].get_ydata()) == values
        slope, middle = np.polyfit(found["age"], values, 1)
        np.testing.assert_allclose(marks[f"curve:{term}"].get_ydata(), [middle + slope * age for age in (1, 12)])
        assert marks[f"rule:{term}"].get_ydata()[0] == season["hazard"]["terms"][term]["coef"]


def test_failures_all_at_one_age_have_no_sloping_line(season, drawn):
    season["hazard"]["checks"]["schoenfeld"]["age"] = [3] * 6
    assert not [gid for gid in drawn(drift_picture(season)) if gid.startswith("curve:")]


def test_a_term_without_residuals_has_no_panel_of_drift(season, drawn):
    season["hazard"]["checks"]["schoenfeld"]["scaled"]["tension_kn"] = [None] * 6
    assert sum(gid.startswith("panel:") for gid in drawn(drift_picture(season))) == 3
    season["hazard"]["checks"]["schoenfeld"]["scaled"] = {IDLER: [None] * 6}
    assert drift_picture(season) is None


def test_belts_that_failed_are_full_and_others_rings_and_the_farthest_out_are_named(season, drawn):
    marks = drawn(surprise_picture(season))
    assert list(marks["dots:failed"].get_xdata()) == [1, 3, 5, 8]
    assert list(marks["dots:failed"].get_ydata()) == [2.4, 0.1, 0.3, -0.2]
    assert list(marks["dots:kept"].get_xdata()) == [2, 4, 6, 7]
    assert words(marks, "label:") == ["B01", "B04", "B02", "B07"]
    assert marks["dots:kept"].get_markerfacecolor() == "white"
    assert marks["dots:failed"].get_markerfacecolor() != "white"


def test_without_each_belt_in_turn_the_ratio_is_a_dot_and_the_extreme_ones_are_named(season, drawn):
    marks = drawn(influence_picture(season))
    expected = [math.exp(coef) for coef in season["hazard"]["checks"]["without_belt"]["coef"][IDLER]]
    assert list(marks["dots:without"].get_ydata()) == expected
    assert words(marks, "label:") == ["B04", "B06", "B08", "B03"]
    stands = season["hazard"]["terms"][IDLER]["hr"]
    assert {marks[f"rule:{name}"].get_ydata()[0] for name in ("1", "stands")} == {1.0, stands}


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("draw", [surprise_picture, influence_picture])
def test_no_name_covers_a_dot(demo, season, drawn, draw, size):
    for findings in (demo, season):
        marks = drawn(draw(findings), size)
        names = [artist for gid, artist in marks.items() if gid.startswith("label:")]
        assert len(names) == 4
        for gid, dots in marks.items():
            if gid.startswith("dots:"):
                for x, y in dots.get_transform().transform(dots.get_xydata()):
                    assert not [name.get_text() for name in names if name.get_window_extent().contains(x, y)]


def test_a_name_stands_level_with_its_dot_or_is_joined_to_it(demo, season, drawn):
    joined = 0
    for findings, size in product((demo, season), SIZES):
        marks = drawn(influence_picture(findings), size)
        belts = findings["hazard"]["checks"]["without_belt"]["belt"]
        points = dict(zip(belts, marks["dots:without"].get_xydata().tolist(), strict=True))
        patches = [text.arrow_patch for text in marks["panel"].texts if text.arrow_patch is not None]
        leaders = {patch.get_gid() for patch in patches}
        named = [artist for gid, artist in marks.items() if gid.startswith("label:")]
        assert marks["named"].get_xydata().tolist() == [list(name.xy) for name in named]
        for name in named:
            assert list(name.xy) == points[name.get_text()]
            assert (f"leader:{name.get_text()}" in leaders) == (name.xyann[1] != 0)
        joined += len(leaders)
    assert joined  # so that one at least had to move


def test_failures_foreseen_stand_against_failures_seen(season, drawn):
    marks = drawn(risk_picture(season))
    assert list(marks["dots:parts"].get_xdata()) == [8.1, 12.9, 19.0]
    assert list(marks["dots:parts"].get_ydata()) == [6.0, 12.0, 22.0]
    assert words(marks, "label:") == ["lowest risk", "part 2", "highest risk"]
    assert list(marks["curve:alike"].get_xdata()) == list(marks["curve:alike"].get_ydata())
