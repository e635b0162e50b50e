"""Each check of the fit is drawn with what it found."""

import math
from itertools import product

import numpy as np
import pytest

from drivekit.show.hazard_pictures import drift_picture, influence_picture, risk_picture, surprise_picture
from drivekit.show.paper import SIZES

IDLER = "idler[toothed]"


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
