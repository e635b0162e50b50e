"""Pictures of the hazard study hold what the findings hold, and are drawn as they say."""

import math
from itertools import combinations

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.text import Text

from drivekit.show.alike import alike_picture
from drivekit.show.bends import tension_picture
from drivekit.show.brush import figure
from drivekit.show.checks import drift_picture, influence_picture, risk_picture, surprise_picture
from drivekit.show.forest import forest_picture, methods_picture
from drivekit.show.hazard_words import FITS
from drivekit.show.layout import SIZES
from drivekit.show.picture import Interval, Label, Steps
from drivekit.show.plane import Bracket, Dots, Level, Rug, Trace, in_decades

IDLER = "idler[toothed]"
DRAW = {
    "forest": forest_picture,
    "methods": methods_picture,
    "tension_curve": tension_picture,
    "standardised_idler": lambda found: alike_picture(found, "idler"),
    "drift": drift_picture,
    "surprise": surprise_picture,
    "influence": influence_picture,
    "risk": risk_picture,
}


def artists(fig):
    return {artist.get_gid(): artist for artist in fig.findobj(lambda artist: artist.get_gid() is not None)}


def marks(picture, kind):
    return [mark for panel in picture.panels for mark in panel.marks if isinstance(mark, kind)]


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("name", DRAW)
@pytest.mark.parametrize("of", ["season", "alike_season", "demo"])
def test_no_words_overlap_and_none_leaves_the_paper(request, of, name, size):
    fig = figure(DRAW[name](request.getfixturevalue(of)), size)
    renderer = FigureCanvasAgg(fig).get_renderer()
    texts = [text for text in fig.findobj(Text) if text.get_visible() and text.get_text()]
    found = [(text.get_gid() or text.get_text(), Text.get_window_extent(text, renderer)) for text in texts]
    for gid, box in found:
        assert box.x0 >= fig.bbox.x0 - 1, gid
        assert box.x1 <= fig.bbox.x1 + 1, gid
        assert box.y0 >= fig.bbox.y0 - 1, gid
        assert box.y1 <= fig.bbox.y1 + 1, gid
    for (one, a), (other, b) in combinations(found, 2):
        across = min(a.x1, b.x1) - max(a.x0, b.x0)
        up = min(a.y1, b.y1) - max(a.y0, b.y0)
        assert across < 1 or up < 0.2 * min(a.height, b.height), (one, other)


def test_the_forest_draws_each_term_s_ratio_and_limits_on_a_logarithmic_axis_with_1_marked(season):
    fig = figure(forest_picture(season))
    (axes,) = fig.axes
    drawn = artists(fig)
    assert axes.get_xscale() == "log"
    for term, entry in season["hazard"]["terms"].items():
        assert list(drawn[f"interval:{term}:limits"].get_xdata()) == [entry["lower"], entry["upper"]]
        assert list(drawn[f"interval:{term}"].get_xdata()) == [entry["hr"]]
        assert drawn[f"interval:{term}"].get_marker() == "o"
    assert drawn["rule:1:text"].get_text() == "no difference"
    assert list(drawn["rule:1"].get_xdata()) == [1, 1]


def test_each_row_of_the_forest_counts_the_runs_behind_its_level(season):
    rows = {row.gid: row for row in marks(forest_picture(season), Interval)}
    assert rows[f"interval:{IDLER}"].said == "0.40 (0.22 to 0.72)"
    assert rows[f"interval:{IDLER}"].counts == "16 of 250 runs failed v. 24 of 200"
    assert rows["interval:tension_kn"].counts == "40 of 450 runs failed"
    assert forest_picture(season).title == (
        "All settings at once, failures a run: 60 % fewer on the toothed idler and 50 % fewer greased on every run; "
        "the other 2 cannot be told."
    )


def test_where_firth_leads_the_mark_is_a_diamond_and_the_row_says_so(season):
    season["hazard"]["leads"] = "firth"
    picture = forest_picture(season)
    drawn = artists(figure(picture))
    for term, entry in season["hazard"]["sensitivity"]["firth"].items():
        assert list(drawn[f"interval:{term}"].get_xdata()) == [pytest.approx(math.exp(entry["coef"]))]
        assert drawn[f"interval:{term}"].get_marker() == "D"
    assert all(row.said.endswith(" Firth") for row in marks(picture, Interval))
    assert "Diamond: Firth's penalised fit" in picture.note


def test_a_term_without_an_answer_has_a_row_with_its_reason(season):
    why = "the log does not record edge grease"
    term = "edge_lube[install]"
    for fit in (season["hazard"]["terms"], season["hazard"]["sensitivity"]["firth"]):
        fit[term] = dict.fromkeys(fit[term]) | {"reason": why}
    picture = forest_picture(season)
    row = next(row for row in marks(picture, Interval) if row.gid == f"interval:{term}")
    assert row.said == f"cannot tell: {why}"
    assert f"interval:{term}:limits" not in artists(figure(picture))


def test_a_limit_without_end_is_an_arrow_at_the_end_of_the_axis(season):
    entry = season["hazard"]["terms"][IDLER]
    entry |= {"lower": None, "reason": "that limit has no end"}
    picture = forest_picture(season)
    fig = figure(picture)
    arrow = artists(fig)[f"interval:{IDLER}:lower"]
    assert arrow.get_marker() == "<"
    assert list(arrow.get_xdata()) == [picture.panels[0].x_limits[0]]
    assert "Arrow: the limit lies beyond, or has no end." in picture.note
    row = next(row for row in marks(picture, Interval) if row.gid == f"interval:{IDLER}")
    assert row.said == "0.40 (no end to 0.72)"


def test_where_tension_bends_its_row_says_that_one_ratio_is_no_answer(alike_season):
    picture = forest_picture(alike_season)
    row = next(row for row in marks(picture, Interval) if row.gid == "interval:tension_kn")
    assert (row.estimate, row.said) == (None, "no one number: the curve bends")
    assert "; tension is a curve; the other one cannot be told." in picture.title


def test_nothing_told_is_said_in_the_title(season):
    for entry in season["hazard"]["terms"].values():
        entry |= {"lower": 0.5, "upper": 1.5}
    assert forest_picture(season).title == (
        "All settings at once: for none of them can a difference in failures be told from chance."
    )


def test_every_method_stands_beside_the_study_s_own_in_each_panel(season):
    picture = methods_picture(season)
    assert len(picture.panels) == 4
    drawn = artists(figure(picture))
    for term in season["hazard"]["terms"]:
        assert list(drawn[f"interval:{term}:as it stands"].get_xdata()) == [season["hazard"]["terms"][term]["hr"]]
        for name, said in FITS.items():
            effect = season["hazard"]["sensitivity"][name][term]
            assert list(drawn[f"interval:{term}:{said}"].get_xdata()) == [pytest.approx(math.exp(effect["coef"]))]
            limits = drawn[f"interval:{term}:{said}:limits"].get_xdata()
            assert list(limits) == [pytest.approx(math.exp(effect["lower"])), pytest.approx(math.exp(effect["upper"]))]


def test_where_tension_bends_no_method_s_line_is_drawn(alike_season):
    assert [panel.name for panel in methods_picture(alike_season).panels] == [
        "On the toothed idler v. the smooth",
        "Greased when fitted v. never greased",
        "Greased on every run v. never greased",
    ]


def test_the_curve_of_tension_is_drawn_with_its_band_and_the_other_forms_thin(alike_season):
    picture = tension_picture(alike_season)
    fig = figure(picture)
    (axes,) = fig.axes
    assert axes.get_yscale() == "log"
    drawn = artists(fig)
    curve = alike_season["tension_curve"]
    for form, said in (("quadratic", "curve"), ("linear", "line"), ("spline", "spline")):
        line = drawn[f"curve:{said}"]
        np.testing.assert_allclose(line.get_xdata(), [tension / 1000 for tension in curve["tension_n"][::2]])
        np.testing.assert_allclose(line.get_ydata(), np.exp(curve["forms"][form]["log_hr"][::2]))
    assert drawn["curve:curve"].get_linewidth() > drawn["curve:line"].get_linewidth()
    corners = {(round(x, 6), round(y, 6)) for x, y in drawn["band:curve"].get_paths()[0].vertices}
    quadratic = curve["forms"]["quadratic"]
    for place in range(0, 101, 2):
        at = round(curve["tension_n"][place] / 1000, 6)
        assert (at, round(math.exp(quadratic["lower"][place]), 6)) in corners
        assert (at, round(math.exp(quadratic["upper"][place]), 6)) in corners
    styles = {drawn[f"curve:{said}"].get_linestyle() for said in ("curve", "line")}
    assert len(styles) == 2


def test_each_belt_s_tension_is_a_stroke_and_the_best_one_a_bracket(alike_season):
    picture = tension_picture(alike_season)
    (rug,) = marks(picture, Rug)
    assert list(rug.x) == [tension / 1000 for tension in alike_season["tension_curve"]["belts_n"]]
    (best,) = marks(picture, Bracket)
    assert (best.x, best.lower, best.upper) == (8.0, 7.2, 8.9)
    assert best.text == "best 8.0 kN (7.2 to 8.9)"
    drawn = artists(figure(picture))
    assert list(drawn["best:tension"].get_xdata()) == [7.2, 8.9]
    assert list(drawn["best:tension:estimate"].get_xdata()) == [8.0]


def test_without_a_best_tension_there_is_no_bracket_and_the_note_says_why(season):
    picture = tension_picture(season)
    assert not marks(picture, Bracket)
    assert "Where belts lasted best cannot be told (the curve bends too little for these belts" in picture.note


def test_another_form_may_be_drawn_in_the_curve_s_place(season):
    picture = tension_picture(season, "linear")
    assert [mark.gid for mark in marks(picture, Trace) if not mark.thin] == ["curve:line"]
    del season["tension_curve"]["forms"]["spline"]
    assert tension_picture(season, "spline") is None


def test_standardised_lives_are_steps_with_stepped_bands_to_the_horizon(alike_season):
    picture = alike_picture(alike_season, "idler")
    drawn = artists(figure(picture))
    block = alike_season["standardised"]["idler"]
    for level, curve in block["levels"].items():
        line = drawn[f"curve:{level}"]
        assert line.get_drawstyle() == "steps-post"
        assert list(line.get_xdata()) == [0, 1, 2, 3, 4, 5, 6]
        np.testing.assert_allclose(line.get_ydata(), [100, *(100 * share for share in curve["survival"])])
        corners = {(round(float(x), 9), round(float(y), 9)) for x, y in drawn[f"band:{level}"].get_paths()[0].vertices}
        for age, low, up in zip(curve["age"][:-1], curve["lower"], curve["upper"], strict=False):
            assert {(age, round(100 * low, 9)), (age, round(100 * up, 9))} <= corners
    assert not picture.panels[0].table
    assert picture.subtitle == (
        "The same 40 belts once all on the smooth idler and all on the toothed idler: share not failed after each run, "
        "each belt on its car and with the other settings of its first run."
    )
    assert picture.note == (
        "Bands: 95 %, point by point. Limits from 999 draws of belts, of which 4 had no estimate and were left out. "
        "These are invented data: no belt, car or meeting in them is real."
    )


def test_standardised_lives_without_limits_are_drawn_bare_and_say_why(season):
    picture = alike_picture(season, "idler")
    assert [mark.gid for mark in marks(picture, Steps)] == ["curve:smooth", "curve:toothed"]
    assert not [gid for gid in artists(figure(picture)) if gid.startswith("band:")]
    assert picture.note.startswith(
        "Limits from 999 draws of belts, of which 141 had no estimate and were left out; no limits are given, for too "
        "many draws of belts gave no estimate."
    )
    assert alike_picture(season, "edge_lube") is None


def test_each_failure_pulls_in_every_panel_of_the_drift(season):
    picture = drift_picture(season)
    found = season["hazard"]["checks"]["schoenfeld"]
    dots = {mark.gid: mark for mark in marks(picture, Dots)}
    for term, values in found["scaled"].items():
        assert dots[f"dots:{term}"].x == tuple(found["age"])
        assert dots[f"dots:{term}"].y == tuple(values)
        line = next(mark for mark in marks(picture, Trace) if mark.gid == f"curve:{term}")
        slope, middle = np.polyfit(found["age"], values, 1)
        np.testing.assert_allclose(line.y, [middle + slope * age for age in (1, 12)])
        level = next(mark for mark in marks(picture, Level) if mark.gid == f"rule:{term}")
        assert level.y == season["hazard"]["terms"][term]["coef"]


def test_a_term_without_residuals_has_no_panel_of_drift(season):
    season["hazard"]["checks"]["schoenfeld"]["scaled"]["tension_kn"] = [None] * 6
    assert len(drift_picture(season).panels) == 3
    season["hazard"]["checks"]["schoenfeld"]["scaled"] = {IDLER: [None] * 6}
    assert drift_picture(season) is None


def test_belts_that_failed_are_full_and_others_rings_and_the_farthest_out_are_named(season):
    picture = surprise_picture(season)
    dots = {mark.gid: mark for mark in marks(picture, Dots)}
    assert dots["dots:failed"].x == (1, 3, 5, 8)
    assert dots["dots:failed"].y == (2.4, 0.1, 0.3, -0.2)
    assert dots["dots:kept"].x == (2, 4, 6, 7)
    assert [mark.text for mark in marks(picture, Label)] == ["B01", "B04", "B02", "B07"]
    drawn = artists(figure(picture))
    assert drawn["dots:kept"].get_markerfacecolor() == "white"
    assert drawn["dots:failed"].get_markerfacecolor() != "white"


def test_without_each_belt_in_turn_the_ratio_is_a_dot_and_the_extreme_ones_are_named(season):
    picture = influence_picture(season)
    (dots,) = marks(picture, Dots)
    expected = [math.exp(coef) for coef in season["hazard"]["checks"]["without_belt"]["coef"][IDLER]]
    assert list(dots.y) == expected
    assert [mark.text for mark in marks(picture, Label)] == [
        "without B04",
        "without B06",
        "without B08",
        "without B03",
    ]
    assert {mark.y for mark in marks(picture, Level)} == {1.0, season["hazard"]["terms"][IDLER]["hr"]}


def test_failures_foreseen_stand_against_failures_seen(season):
    picture = risk_picture(season)
    (dots,) = marks(picture, Dots)
    assert dots.x == (8.1, 12.9, 19.0)
    assert dots.y == (6.0, 12.0, 22.0)
    assert [mark.text for mark in marks(picture, Label)] == ["lowest risk", "part 2", "highest risk"]


def test_without_a_hazard_study_nothing_is_drawn(season):
    season["hazard"] = season["tension_curve"] = {"reason": "nothing failed"}
    season["standardised"] = {"idler": {"reason": "nothing failed"}, "edge_lube": {"reason": "nothing failed"}}
    assert {name: draw(season) for name, draw in DRAW.items()} == dict.fromkeys(DRAW)


def test_a_picture_s_text_lists_its_marks(alike_season):
    text = str(tension_picture(alike_season))
    assert "best:tension: 8 7.2-8.9; best 8.0 kN (7.2 to 8.9)" in text
    assert "rug:belts: 5.6, 5.64, " in text
    assert "curve:curve: 5 2.94, " in text
    forest = str(forest_picture(alike_season))
    assert f"interval:{IDLER}: 0.40 0.22 0.72; 0.40 (0.22 to 0.72); 16 of 250 runs failed v. 24 of 200" in forest


@pytest.mark.parametrize(
    ("low", "high", "ticks"),
    [
        (0.2, 3.0, (0.2, 0.5, 1, 2)),
        (0.4, 1.1, (0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1)),
        (0.0005, 2.0, (0.001, 0.01, 0.1, 1)),
    ],
)
def test_a_logarithmic_axis_has_round_numbers(low, high, ticks):
    assert in_decades(low, high) == pytest.approx(ticks)
