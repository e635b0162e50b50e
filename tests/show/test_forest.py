"""Each setting's ratio is a row that holds what the findings hold, by the fit that leads and by every other."""

import math
from itertools import pairwise

import pytest

from drivekit.show.forest import forest_picture, methods_picture
from drivekit.show.hazard_words import FITS

IDLER = "idler[toothed]"


def test_the_forest_draws_each_term_s_ratio_and_limits_on_a_logarithmic_axis_with_1_marked(season, drawn):
    marks = drawn(forest_picture(season))
    assert marks["panel"].get_xscale() == "log"
    for term, entry in season["hazard"]["terms"].items():
        assert list(marks[f"interval:{term}:limits"].get_xdata()) == [entry["lower"], entry["upper"]]
        assert list(marks[f"interval:{term}"].get_xdata()) == [entry["hr"]]
        assert marks[f"interval:{term}"].get_marker() == "o"
        assert [marks[f"interval:{term}:{side}"].get_marker() for side in ("lower", "upper")] == ["|", "|"]
    assert marks["rule:1:text"].get_text() == "no difference"
    assert list(marks["rule:1"].get_xdata()) == [1, 1]


def test_each_row_of_the_forest_counts_the_runs_behind_its_level(season, drawn):
    picture = forest_picture(season)
    marks = drawn(picture, "slide")
    assert marks[f"interval:{IDLER}:name"].get_text() == "On the toothed idler v. the smooth"
    assert marks[f"interval:{IDLER}:said"].get_text() == "0.40 (0.22 to 0.72)"
    assert marks[f"interval:{IDLER}:counts"].get_text() == "16 of 250 runs failed v. 24 of 200"
    assert marks["interval:tension_kn:counts"].get_text() == "40 of 450 runs failed"
    assert picture.title == (
        "All settings at once, failures a run: 60 % fewer on the toothed idler; the other 3 cannot be told."
    )
    assert picture.subtitle == (
        "How many times as many failures a run, each setting against its reference, at the same age, on each car by "
        "itself (450 runs, 40 failed)."
    )


def test_where_firth_leads_the_mark_is_a_diamond_and_the_row_says_so(season, judge, drawn):
    season["hazard"]["leads"] = "firth"
    judge(season)
    picture = forest_picture(season)
    marks = drawn(picture)
    for term, entry in season["hazard"]["sensitivity"]["firth"].items():
        assert list(marks[f"interval:{term}"].get_xdata()) == [pytest.approx(math.exp(entry["coef"]))]
        assert marks[f"interval:{term}"].get_marker() == "D"
        assert marks[f"interval:{term}:said"].get_text().endswith(" Firth")
    assert "Diamond: Firth's penalised fit" in picture.note


def test_a_term_without_an_answer_has_a_row_with_its_reason(season, judge, drawn):
    why = "the log does not record edge grease"
    term = "edge_lube[install]"
    for fit in (season["hazard"]["terms"], season["hazard"]["sensitivity"]["firth"]):
        fit[term] = dict.fromkeys(fit[term]) | {"reason": why}
    marks = drawn(forest_picture(judge(season)))
    assert marks[f"interval:{term}:said"].get_text().replace("\n", " ") == f"cannot tell: {why}"
    assert f"interval:{term}" not in marks
    assert f"interval:{term}:limits" not in marks


def test_a_limit_without_end_is_an_arrow_at_the_end_of_the_axis(season, judge, drawn):
    season["hazard"]["terms"][IDLER] |= {"lower": None, "reason": "that limit has no end"}
    picture = forest_picture(judge(season))
    marks = drawn(picture)
    assert marks[f"interval:{IDLER}:lower"].get_marker() == "<"
    assert list(marks[f"interval:{IDLER}:lower"].get_xdata()) == [marks["panel"].get_xlim()[0]]
    assert marks[f"interval:{IDLER}:said"].get_text() == "0.40 (no end to 0.72)"
    assert "Arrow: the limit lies beyond, or has no end." in picture.note
    season["hazard"]["terms"][IDLER] |= {"lower": 0.001}
    marks = drawn(forest_picture(judge(season)))
    assert marks[f"interval:{IDLER}:lower"].get_marker() == "<"
    assert marks[f"interval:{IDLER}:said"].get_text() == "0.40 (<0.01 to 0.72)"


def test_where_tension_bends_its_row_says_that_one_ratio_is_no_answer(alike_season, drawn):
    picture = forest_picture(alike_season)
    marks = drawn(picture, "slide")
    assert "interval:tension_kn" not in marks
    assert marks["interval:tension_kn:said"].get_text() == "no one number: the curve bends"
    assert "; tension is a curve; the other 2 cannot be told." in picture.title


def test_nothing_told_is_said_in_the_title(season, judge):
    assert forest_picture(judge(season)).title == (
        "All settings at once: for none of them can a difference in failures be told from chance."
    )


def test_a_setting_told_by_its_runs_alone_is_not_called_untold_in_the_title(season, judge):
    found = judge(season)
    found["claims"]["tension"] |= {"claimed": True, "pairs": {"middle minus low": "longer"}}
    assert forest_picture(found).title == (
        "All settings at once: no one ratio of failures can be told, though tension can, by runs."
    )


def test_every_method_stands_beside_the_study_s_own_in_each_panel(season, drawn):
    marks = drawn(methods_picture(season))
    assert sum(gid.startswith("panel:") for gid in marks) == 4
    for term in season["hazard"]["terms"]:
        assert list(marks[f"interval:{term}:as it stands"].get_xdata()) == [season["hazard"]["terms"][term]["hr"]]
        for name, said in FITS.items():
            effect = season["hazard"]["sensitivity"][name][term]
            assert list(marks[f"interval:{term}:{said}"].get_xdata()) == [pytest.approx(math.exp(effect["coef"]))]
            limits = marks[f"interval:{term}:{said}:limits"].get_xdata()
            assert list(limits) == [pytest.approx(math.exp(effect["lower"])), pytest.approx(math.exp(effect["upper"]))]
            assert (marks[f"interval:{term}:{said}"].get_marker() == "D") == (name == "firth")


def test_an_axis_of_many_decades_keeps_the_1_and_writes_over_no_number(season):
    season["hazard"]["sensitivity"]["exact"]["edge_lube[install]"] |= {"coef": -36.0, "se": 30.0}
    figure = methods_picture(season).figure()
    figure.draw_without_rendering()
    (said,) = figure.findobj(lambda artist: artist.get_gid() == "interval:edge_lube[install]:exact ties:said")
    assert said.get_text().split() == ["<0.01", "(<0.01", "to", ">9,999)"]
    for panel in figure.findobj(lambda artist: str(artist.get_gid()).startswith("panel:")):
        labels = [label for label in panel.get_xticklabels() if label.get_text()]
        assert "1" in [label.get_text() for label in labels]
        boxes = [label.get_window_extent() for label in labels]
        assert all(left.x1 < right.x0 for left, right in pairwise(boxes))


def test_where_tension_bends_no_method_s_line_is_drawn(alike_season, drawn):
    assert [gid for gid in drawn(methods_picture(alike_season)) if gid.startswith("panel:")] == [
        "panel:On the toothed idler v. the smooth",
        "panel:Greased when fitted v. never greased",
        "panel:Greased on every run v. never greased",
    ]


def test_a_picture_s_text_lists_its_rows(alike_season):
    text = str(forest_picture(alike_season))
    assert f"interval:{IDLER}: 0.4 0" in text
    assert f"interval:{IDLER}:said: 0.40 (0.22 to 0.72)" in text
    assert f"interval:{IDLER}:counts: 16 of 250 runs failed v. 24 of 200" in text
