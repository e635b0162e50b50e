"""How belts end: each life is a line of what was run, each cause's share a rising step, said with its limits."""

from __future__ import annotations

from xml.etree import ElementTree

import numpy as np
import pytest

from drivekit.show.endings import MOST, causes_picture, lives_picture, shares_by
from drivekit.show.failing import NONE_FAILED
from drivekit.show.page import pages
from drivekit.show.paper import SIZES, STYLES, ink
from tests.show.artists import overlapping, texts


def test_incidences_are_drawn_as_rising_steps_with_their_names_at_the_ends(season, drawn):
    marks = drawn(causes_picture(season))
    for cause, block in season["causes"].items():
        if any(block["incidence"]):
            line = marks[f"curve:{cause}"]
            assert line.get_drawstyle() == "steps-post"
            np.testing.assert_allclose(line.get_xdata(), [block["age"][0] - 1, *block["age"]])
            np.testing.assert_allclose(line.get_ydata(), [0, *(100 * value for value in block["incidence"])])
            assert marks[f"label:{cause}"].get_text().startswith(f"{cause} ")
        else:
            assert f"curve:{cause}" not in marks


def test_the_table_counts_all_belts_at_the_ages_of_the_axis(season, drawn):
    marks, overall = drawn(causes_picture(season)), season["life"]["overall"]
    ages = [int(age) for age in marks["panel"].get_xticks()]
    assert len(ages) > 4
    for age in ages:
        place = overall["age"].index(age)
        failed = sum(overall["failed_at"][: place + 1])
        assert marks[f"risk:all:{age}"].get_text() == f"{overall['at_risk'][place]} ({failed})"


def test_a_cause_never_seen_is_named_but_not_drawn(season):
    picture = causes_picture(season)
    assert "Never seen: unknown." in picture.note
    assert "curve:unknown" not in str(picture)
    assert next(iter(shares_by(season, 12))) == "tooth-jump"


def test_a_share_is_said_with_its_limits(season):
    limits = {"lower": [0.157, 0.4], "upper": [0.352, 0.6]}
    season["causes"] = {"tooth-jump": {"age": [1, 2], "incidence": [0.25, 0.5], **limits}}
    assert shares_by(season, 1) == {"tooth-jump": (0.25, "25 % jumped a tooth (16 to 35)")}
    assert shares_by(season, 0) == {"tooth-jump": (0.0, "0 % jumped a tooth")}


def test_without_a_belt_of_known_age_nothing_is_drawn(season):
    season["life"]["overall"] = season["causes"] = {"reason": "no belt of known age has made a run"}
    assert causes_picture(season) is None


@pytest.mark.usefixtures("undrawn")
def test_where_no_belt_failed_no_causes_are_drawn_and_the_page_says_so(season):
    season["life"]["overall"]["failed"] = 0
    assert causes_picture(season) is None
    assert NONE_FAILED in pages(season)["findings.html"]


SVG = "{http://www.w3.org/2000/svg}"

# Belt A: two runs smooth, then three toothed, and failed; B came with four runs on it, still running; C failed at once.
THREE = (
    ("A", [(0, 0, 2), (1, 2, 5)], True, "tooth-jump"),
    ("B", [(1, 4, 9)], False, ""),
    ("C", [(0, 0, 1)], True, "edge-split"),
)
LEVELS = ("smooth", "toothed")


def lines_of(marks):
    return {gid: line for gid, line in marks.items() if gid.startswith("life:")}


def test_every_mark_of_three_belts_by_hand(drawn) -> None:
    marks = drawn(lives_picture(THREE, LEVELS, "idler"))
    places = {gid: (line.get_color(), line.get_xydata().tolist()) for gid, line in lines_of(marks).items()}
    smooth, toothed = ink(0)["color"], ink(1)["color"]
    assert places == {
        "life:A:1": (smooth, [[0, 3], [2, 3]]),
        "life:A:2": (toothed, [[2, 3], [5, 3]]),
        "life:B:1": (toothed, [[4, 2], [9, 2]]),
        "life:C:1": (smooth, [[0, 1], [1, 1]]),
    }
    assert marks["failures:1"].get_xydata().tolist() == [[5, 3], [1, 1]]
    causes = {gid: (text.get_text(), text.xy) for gid, text in marks.items() if gid.startswith("cause:")}
    assert causes == {"cause:A": ("tooth-jump", (5, 3)), "cause:C": ("edge-split", (1, 1))}
    names = marks["panel:1"].get_yticklabels()
    assert {name.get_text(): name.get_position()[1] for name in names} == {"A": 3, "B": 2, "C": 1}
    assert marks["panel:1"].get_xlim() == (0, 9)


def test_the_words_count_what_is_drawn() -> None:
    picture = lives_picture(THREE, LEVELS, "idler", invented="These are invented data.")
    assert picture.title == (
        "Of 3 belts, 2 failed and 1 is still running or was taken off early; on 1 the idler was changed in mid-life."
    )
    assert picture.subtitle == (
        "One line a belt, the first fitted at the top. Line by idler: solid blue: smooth; dashed orange: toothed."
    )
    assert picture.note == (
        "A dot, and why: failed. Why, without a dot: taken off. Neither: not ended. These are invented data."
    )


def test_runs_whose_level_nobody_wrote_have_a_line_of_their_own_and_count_as_no_change(drawn) -> None:
    gap = ("A", [(0, 0, 2), (-1, 2, 3), (0, 3, 6)], False, "sold")
    picture = lives_picture((gap,), LEVELS, "idler")
    assert [line.get_color() for line in lines_of(drawn(picture)).values()] == [ink(at)["color"] for at in (0, 2, 0)]
    assert "dash-dotted green: not written" in picture.subtitle
    assert "on 0 the idler was changed" in lives_picture((gap, THREE[2]), LEVELS, "idler").title
    assert "not written" not in lives_picture(THREE, LEVELS, "idler").subtitle


def test_styles_are_said_as_they_are_drawn() -> None:
    assert len({said for *_, said in STYLES}) == len(STYLES)
    colours = {"blue": "#0072B2", "orange": "#D55E00", "green": "#009E73", "pink": "#CC79A7", "grey": "#4A4F57"}
    for colour, dashes, said in STYLES:
        assert colours[said.split()[-1]] == colour
        assert said.startswith("solid") == (dashes == ())
        lengths = set(dashes[::2])
        if said.startswith("dotted"):
            assert lengths == {dashes[1]}
        if said.startswith("dash-dotted"):
            assert len(lengths) == 2


def test_of_two_hundred_belts_the_last_are_drawn_and_it_is_said(drawn) -> None:
    many = [(f"B{number}", [(number % 2, 0, 1 + number % 9)], number % 3 == 0, "") for number in range(200)]
    picture = lives_picture(many, LEVELS, "idler")
    marks = drawn(picture)
    lines = lines_of(marks)
    assert len(lines) == MOST
    assert list(lines)[:: MOST - 1] == ["life:B80:1", "life:B199:1"]
    assert f"Of 200 belts the last {MOST} are drawn." in picture.subtitle
    failed = sum(fell for _, _, fell, _ in many[-MOST:])
    assert picture.title.startswith(f"Of {MOST} belts, {failed} failed and {MOST - failed} are still running")
    assert "last" not in lives_picture(many[:MOST], LEVELS, "idler").subtitle


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("belts", [1, 12, 71, 120])
def test_names_and_causes_of_many_belts_are_read_at_every_size(belts: int, size: str) -> None:
    causes = ("tooth-jump", "", "engine-trouble", "contaminated")
    many = [
        (f"A{place:03}", [(0, place % 3, 5 + place % 17)], place % 4 == 0, causes[place % 4]) for place in range(belts)
    ]
    fig = lives_picture(many, LEVELS, "idler").figure(size)
    found, (wide, high) = texts(fig), 72 * fig.get_size_inches()
    assert not overlapping(found)
    assert all((box > -1).all() and (box < np.array([wide, high] * 2) + 1).all() for _, box in found)
    shown = [text.get_text() for text, _ in found]
    names = [name for name, *_ in many]
    assert [name for name in shown if name in names] == names
    assert sum(word in causes for word in shown if word) == sum(bool(cause) for *_, cause in many)
    assert size != "slide" or belts > 71 or high == pytest.approx(72 * SIZES["slide"].height)


@pytest.mark.parametrize("size", SIZES)
def test_one_life_alone_is_told_by_its_belt_and_its_axis_stays_on_the_paper(size: str) -> None:
    going, ended = (lives_picture(((("B69", [(0, 0, 3)], bool(why), why)),), LEVELS, "idler") for why in ("", "sold"))
    assert (going.title, ended.title) == ("B69 got to run 3 so far.", "B69 got to run 3: sold.")
    assert going.subtitle.startswith("Line by idler")
    fig = going.figure(size)
    edge = 72 * fig.get_size_inches()[0]
    assert {text.get_text(): box[2] <= edge for text, box in texts(fig)}["runs"]


def test_a_name_wider_than_its_room_is_cut() -> None:
    fig = lives_picture((("a belt of a very long name indeed", [(0, 0, 3)], False, ""),), LEVELS, "idler").figure(
        "phone"
    )
    assert "a belt of a" in [text.get_text()[:11] for text, _ in texts(fig)]
    assert not overlapping(texts(fig))


@pytest.mark.parametrize("name", ['7/8 "wide"', "<b>&amp;", "Ørsted-β", "A:1", "$x_1$", "it's", "a\\b", "  "])
def test_a_belt_of_any_name_is_drawn_and_its_drawing_is_sound(name: str) -> None:
    picture = lives_picture(((name, [(0, 0, 3)], True, "sold"), *THREE), LEVELS, "idler")
    ids = [element.get("id") for element in ElementTree.fromstring(picture.svg()).iter() if element.get("id")]
    assert any(found.startswith(f"life:{name}:1") for found in ids)
    assert len(ids) == len(set(ids))
    assert f"life:{name}:1: 0 4, 3 4" in str(picture)


def test_levels_differ_in_line_style_as_well_as_in_colour(drawn) -> None:
    lines = lines_of(drawn(lives_picture(THREE, LEVELS, "idler")))
    assert lines["life:A:1"].get_linestyle() != lines["life:A:2"].get_linestyle()
    assert lines["life:A:1"].get_color() != lines["life:A:2"].get_color()


def test_no_belt_is_refused_in_a_sentence() -> None:
    with pytest.raises(ValueError, match="no belt of known age has made a run"):
        lives_picture((), LEVELS, "idler")
