"""The page: one file, no network, everything from the log escaped, answers first."""

import copy
import re
from html.parser import HTMLParser

import pytest

from drivekit.cautions import CAUTIONS
from drivekit.show import sections
from drivekit.show.page import SECTIONS, page, pictures
from drivekit.show.sections_tracking import cars_fits, cars_picture
from drivekit.show.tables import html
from drivekit.show.words import answer

EVIL = '<script>alert("x")</script>'


class Reader(HTMLParser):
    """Collects what a browser would see."""

    VOID = frozenset({"meta", "br", "img", "link", "input", "hr"})
    INLINE = frozenset({"span", "strong", "code"})

    def __init__(self, text):
        super().__init__()
        self.tags, self.ids, self.references, self.words, self.open = [], [], [], [], []
        self.images = []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.words.append("" if tag in self.INLINE else " ")
        if tag not in self.VOID:
            self.open.append(tag)
        for name, value in attrs:
            assert not name.startswith("on"), name
            if name == "id":
                self.ids.append(value)
            if name in ("href", "xlink:href", "src"):
                self.references.append(value)
        if tag == "svg":
            self.images.append(dict(attrs))

    def handle_startendtag(self, tag, attrs):
        self.handle_starttag(tag, attrs)
        self.handle_endtag(tag)

    def handle_endtag(self, tag):
        if tag not in self.VOID:
            assert self.open.pop() == tag
            self.words.append("" if tag in self.INLINE else " ")

    def handle_data(self, data):
        if self.open and self.open[-1] != "style":
            self.words.append(data)

    @property
    def text(self):
        return " ".join("".join(self.words).replace("\N{NO-BREAK SPACE}", " ").split())


@pytest.fixture(scope="module")
def usual(usual_season):
    """The page of a usual season, set once."""
    return page(usual_season)


@pytest.fixture
def hostile(season):
    """Findings in which every text that can come from a log is an attack."""
    found = copy.deepcopy(season)
    found["log"] |= {
        "name": EVIL,
        "warnings": [EVIL],
        "absent": [{"column": EVIL, "adds": EVIL}],
        "causes": {EVIL: 3},
        "sha256": EVIL,
    }
    for part in ("time", "car"):
        found["overlap"]["idler"][part]["columns"] = [EVIL, EVIL, EVIL]
    found["life"]["more"]["idler_support"]["levels"] = {
        EVIL: found["life"]["more"]["idler_support"]["levels"]["single"],
        '"><img src=x onerror=1>': found["life"]["more"]["idler_support"]["levels"]["three-point"],
    }
    found["headline"]["edge_lube"] = {"reason": EVIL}
    found["second_opinion"] = {"reason": EVIL}
    found["provenance"] |= {"started": EVIL, "files": {EVIL: EVIL}, "packages": {EVIL: EVIL}}
    return found


def test_the_page_asks_nothing_of_the_network(usual):
    text = usual
    assert "default-src 'none'; style-src 'unsafe-inline'; img-src data:" in text
    read = Reader(text)
    assert not set(read.tags) & {"script", "link", "iframe", "object", "embed", "img", "form"}
    assert all(reference.startswith("#") for reference in read.references)
    assert "@import" not in text
    assert not re.search(r"url\((?!#)", text)


def test_everything_from_the_log_is_escaped(hostile):
    text = page(hostile)
    read = Reader(text)
    assert "script" not in read.tags
    assert "img" not in read.tags
    assert "<script" not in text
    assert "onerror=1&gt;" in text
    assert read.text.count(EVIL) > 10


def test_every_tag_is_closed_and_every_reference_has_its_target(usual):
    read = Reader(usual)
    assert read.open == []
    assert len(read.ids) == len(set(read.ids))
    assert {reference.removeprefix("#") for reference in read.references} <= set(read.ids)
    assert not [name for name in read.ids if " " in name]


def test_clip_paths_of_one_picture_are_not_those_of_another(usual):
    text = usual
    read = Reader(text)
    targets = set(re.findall(r"url\(#([^)]*)\)", text))
    assert targets
    assert targets <= set(read.ids)


def test_the_three_answers_stand_first_each_with_its_picture(usual, season):
    text = usual
    first = text[text.index('<div class="answers">') : text.index('<section class="leaf">')]
    assert first.count("<article>") == 3
    assert first.count("<svg") == 3
    read = Reader(first)
    for name in season["headline"]:
        assert str(answer(season, name)) in read.text


def test_a_picture_says_its_answer_to_those_who_cannot_see_it(usual, season):
    read = Reader(usual)
    said = {picture.title for picture in pictures(season).values()}
    said |= {cars_picture(season, car, fit).title for car, fit in cars_fits(season).items()}
    assert {image["aria-label"].replace("\N{NO-BREAK SPACE}", " ") for image in read.images} == said
    assert {image["role"] for image in read.images} == {"img"}


def test_no_metadata_and_no_style_of_a_picture_reaches_the_page(usual):
    text = usual
    assert "<metadata" not in text
    assert text.count("<style>") == 1


def test_all_parts_come_in_their_order(usual):
    text = usual
    places = [text.index(f"<h2>{html(title)}</h2>") for title, _ in SECTIONS]
    assert places == sorted(places)


def test_cautions_stand_on_the_page_word_for_word(usual):
    text = Reader(usual).text
    for caution in CAUTIONS:
        assert caution in text


def test_invented_data_are_called_invented_at_head_and_foot(usual, season):
    assert usual.count('<span class="invented">') == 2
    season["log"]["invented"] = False
    assert "invented" not in Reader(page(season)).text


def test_what_each_absent_column_would_have_added_is_said(usual, season):
    assert "span_hz tension from the pitch of a plucked span" in Reader(usual).text
    season["log"] |= {"absent": [], "warnings": []}
    assert "Every column is there, and nothing in it looked unlikely." in sections.log(season, {})


def test_overlap_and_exploratory_comparisons_are_marked_for_what_they_are(usual):
    text = Reader(usual).text
    assert "Runs by the idler: the levels came together with the season. runs first third middle third" in text
    assert "smooth 180 90 20 toothed 10 110 190" in text
    assert "Exploratory: these were looked at because the log has them" in text
    assert "Cannot be compared: the log has no compound column." in text


def test_chances_are_said_of_something_and_never_bare(usual, season):
    text = Reader(usual).text
    assert (
        "If the idler made no difference, lives at least that far apart would come up 1 time in 20 by chance (counted "
        "exactly); allowing for all the questions asked, 1 time in 8." in text
    )
    season["life"]["idler"]["logrank"] |= {"p_exact": None, "p_exact_reason": "too large", "p_holm": None}
    again = Reader(sections.closely(season, pictures(season))).text
    assert "would come up 1 time in 25 by chance (by the log-rank test)." in again
    assert "significan" not in text.lower()
    assert " p = " not in text


def test_what_stayed_out_of_a_comparison_is_counted(usual):
    text = Reader(usual).text
    assert "4 belts ran in more than one group and counted in each for the runs made there." in text
    assert "3 runs had this column blank and stayed out." in text


def test_what_the_data_cannot_tell_follows_from_the_data(season):
    text = Reader(sections.cannot_tell(season, {})).text
    assert "For the idler there are too few belts to tell" in text
    assert "20 belts came off as a precaution and count as taken off early." in text
    assert "No belt was seen beyond run 26, and nothing is said beyond it." in text
    assert "1 belt of unknown age stayed out of everything but the counts." in text
    season["settings"] |= {"horizon_runs": None, "horizon_runs_reason": "at no age does every idler have 5 runs"}
    assert "No mean life is given: at no age does every idler have 5 runs." in sections.cannot_tell(season, {})


def test_a_second_opinion_is_told_with_its_largest_difference(usual):
    text = Reader(usual).text
    assert "The library lifelines 0.30.3 was given the same runs" in text
    assert "the largest difference was 2e-16." in text


def test_versions_and_sums_of_every_file_are_recorded(usual):
    text = Reader(usual).text
    for said in ("log, sha256 " + "ab" * 32, "figures/idler.svg, sha256 " + "cd" * 32, "numpy 2.4.0", "drivekit 0.1.0"):
        assert said in text


def test_a_log_of_which_nothing_can_be_told_still_has_its_page(season):
    why = {"reason": "no belt of known age has made a run"}
    bare = copy.deepcopy(season)
    bare["life"] = {"overall": why, "idler": why, "tension": why, "edge_lube": why, "more": {"width": why}}
    bare["headline"] = dict.fromkeys(("idler", "tension", "edge_lube"), why)
    bare["overlap"] = dict.fromkeys(("idler", "tension", "edge_lube"), why)
    bare["causes"] = bare["second_opinion"] = bare["hazard"] = bare["tension_curve"] = why
    bare["standardised"] = {"idler": why, "edge_lube": why}
    bare["log"]["causes"] = {}
    bare["settings"] |= {"horizon_runs": None, "horizon_runs_reason": "nothing ran", "tension_cuts_n": None}
    text = Reader(page(bare)).text
    assert "What the idler does to a belt's life cannot be told: no belt of known age has made a run." in text
    assert pictures(bare) == {}


def test_every_awkward_log_has_a_page_whose_tags_close(awkward):
    read = Reader(page(awkward))
    assert read.open == []
    assert len(read.ids) == len(set(read.ids))
    for never in ("nan", "inf", "None"):
        assert not re.search(rf"\b{never}\b", read.text), never


def test_the_same_findings_give_the_same_page(demo):
    assert page(demo) == page(demo)


def test_the_demo_season_has_all_its_pictures(demo):
    assert set(pictures(demo)) == {
        "idler",
        "tension",
        "edge_lube",
        "idler_support",
        "compound",
        "width",
        "overall",
        "causes",
        "differences",
        "forest",
        "tension_curve",
        "standardised_idler",
        "standardised_edge_lube",
    }
