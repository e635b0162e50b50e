"""Runs gained or lost are rows: those of the answers, out of as many runs as each answer speaks of."""

from drivekit.show.forest import differences_picture


def test_intervals_are_drawn_from_limit_to_limit(season, drawn):
    marks = drawn(differences_picture(season))
    for name in ("tension", "edge_lube"):
        for pair, difference in season["life"][name]["mean_difference"].items():
            line = marks[f"interval:{name}:{pair}:limits"]
            assert list(line.get_xdata()) == [difference["lower"], difference["upper"]]
            assert list(marks[f"interval:{name}:{pair}"].get_xdata()) == [difference["estimate"]]


def test_a_difference_is_said_one_way_and_a_number_below_one_has_its_zero(season, judge, drawn):
    season["headline"]["idler"] |= {"estimate": -0.42, "lower": -2.5, "upper": 1.7}
    judge(season)
    said = drawn(differences_picture(season), "slide")["interval:idler:toothed minus smooth:said"]
    assert said.get_text() == "0.4 fewer of 12 (2.5 fewer to 1.7 more)"


def test_the_headline_interval_is_the_one_drawn(season, judge, drawn):
    season["headline"]["idler"] |= {"lower": 0.25, "upper": 0.75}
    judge(season)
    marks = drawn(differences_picture(season))
    assert list(marks["interval:idler:toothed minus smooth:limits"].get_xdata()) == [0.25, 0.75]
    assert marks["interval:idler:toothed minus smooth:said"].get_text().endswith("(0.2 to 0.8)")


def test_answers_over_unlike_runs_say_theirs_in_each_row(season, alike_season, drawn):
    assert differences_picture(season).subtitle == "Runs gained or lost out of the first 12, 95 %."
    picture = differences_picture(alike_season)
    assert picture.subtitle.startswith("Runs gained or lost out of the first 6 or 12 (said in each row), 95 %. For the")
    marks = drawn(picture, "slide")
    assert " of 6 (" in marks["interval:idler:toothed minus smooth:said"].get_text()
    assert " of 12 (" in marks["interval:tension:middle minus low:said"].get_text()


def test_a_difference_that_cannot_be_told_has_a_row_with_its_reason(findings_of, drawn):
    marks = drawn(differences_picture(findings_of("one level")))
    said = marks["interval:idler:said"].get_text().replace("\n", " ")
    assert said == "cannot tell: every run was made on one idler, smooth: nothing to compare it with"
    assert "interval:idler" not in marks


def test_the_picture_says_which_differences_could_be_told(season, judge):
    assert differences_picture(judge(season, "tension")).title == (
        "A difference in belt life can be told for tension; not for the idler or grease on the edges."
    )
    assert differences_picture(judge(season)).title == (
        "For none of the settings can a difference in belt life be told from chance."
    )


def test_nothing_is_drawn_where_no_difference_is_told(season):
    for name in season["headline"]:
        season["life"][name]["mean_difference"] = season["headline"][name] = {"reason": "no horizon"}
        season["claims"][name] = {"reason": "no horizon"}
    assert differences_picture(season) is None
