"""The hazard study on the page: the standardised answer beside its picture, the forest, the curve, and the doubts."""

import re
from html import unescape

from drivekit.show import sections
from drivekit.show.page import page, pictures
from drivekit.show.sections_hazard import at_once, same_belts, tension


def text(html):
    return " ".join(unescape(re.sub(r"<svg.*?</svg>|<[^>]*>", " ", html, flags=re.DOTALL)).split())


def first_screen(found):
    whole = page(found)
    return whole[whole.index('<div class="answers">') : whole.index('<section class="leaf">')]


def test_beside_a_standardised_answer_stands_its_picture_and_beside_a_bending_tension_its_curve(alike_season):
    first = first_screen(alike_season)
    names = re.findall(r'id="([a-z_]+)-narrow-panel"', first)
    assert names == ["standardised_idler", "tension_curve", "edge_lube"]
    assert "With car, tension and grease alike, belts on the toothed idler make .7 more" in text(first)
    assert "belts lasted best near 8.0 kN (95 %: 7.2 to 8.9)" in text(first)


def test_beside_an_answer_from_the_curves_stand_the_curves(season):
    assert re.findall(r'id="([a-z_]+)-narrow-panel"', first_screen(season)) == ["idler", "tension", "edge_lube"]


def test_the_plain_curves_stay_under_the_closer_look_and_say_what_they_do_not_hold_alike(alike_season, season):
    drawn = pictures(alike_season)
    closer = sections.closely(alike_season, drawn)
    assert "By the curves alone, the other settings as they were: too few belts to tell: belts on the" in text(closer)
    assert 'id="idler-wide-panel"' in closer
    assert "By the curves alone" not in text(sections.closely(season, pictures(season)))


def test_all_settings_at_once_say_failures_terms_methods_checks_and_doubts(season):
    said = text(at_once(season, pictures(season)))
    for sentence in (
        "40 failures in 450 runs with every setting written stand behind 4 terms: 10.0 for each.",
        "Belts on the toothed idler had 60 % fewer failures a run than on the smooth (95 %: 28 to 78 % fewer).",
        "as it stands Breslow's ties exact ties Firth's penalty age by age precautions too",
        "On the toothed idler v. the smooth .40 .44 .36 .42 .40 .48",
        "Without belt B04, which moves it most,",
        "3.1 times as often each; 1.4 times would bring the limit to no difference.",
        "Exploratory, not planned:",
    ):
        assert sentence in said, sentence


def test_where_tension_bends_the_page_never_says_the_line_s_ratio(alike_season):
    drawn = pictures(alike_season)
    both = text(at_once(alike_season, drawn) + tension(alike_season, drawn))
    assert "each 1,000 N more tension went with" not in both
    assert "Each 1,000 N more tension .9" not in both
    assert "a straight line alone says nothing here because the curve bends." in both


def test_where_it_does_not_bend_the_line_s_ratio_stands_with_its_limits(season):
    said = text(tension(season, pictures(season)))
    assert said.startswith("The belts do not show a bend in what tension does")
    assert "each 1,000 N more tension went with 10 % fewer failures a run (95 %: 29 % fewer to 14 % more)." in said


def test_standardised_means_are_said_with_the_draws_that_were_lost(alike_season):
    said = text(same_belts(alike_season, pictures(alike_season)))
    means = "4.5 on the smooth idler and 5.2 on the toothed idler"
    assert f"Runs that these belts make out of their first 6: {means}." in said
    assert "of which 4 had no estimate and were left out." in said
    assert "No answer with the other settings alike: the hazard fit has no estimate for one of its terms." in said


def test_without_a_hazard_study_each_part_is_its_reason(season):
    why = {"reason": "nothing failed in the runs that have every setting written"}
    season |= {"hazard": why, "tension_curve": why, "standardised": {"idler": why, "edge_lube": why}}
    drawn = pictures(season)
    assert text(at_once(season, drawn)) == (
        "The settings cannot be studied all at once: nothing failed in the runs that have every setting written."
    )
    assert "What tension does along its range cannot be told: nothing failed" in text(tension(season, drawn))
    assert text(same_belts(season, drawn)).count("No answer with the other settings alike: nothing failed") == 2
