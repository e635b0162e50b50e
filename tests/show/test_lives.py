"""Every belt's life as a line: what is drawn is what was run."""

from __future__ import annotations

from xml.etree import ElementTree

import pytest

from drivekit.show.brush import figure, svg
from drivekit.show.ink import STYLES
from drivekit.show.lives import MOST, STYLES_SAID, Life, Stretch, lives_picture
from drivekit.show.picture import Label, Picture, Spots, Steps

SVG = "{http://www.w3.org/2000/svg}"

# Belt A: two runs smooth, then three toothed, and failed; B came with four runs on it, still running; C failed at once.
THREE = (
    Life("A", (Stretch(0, 0, 2), Stretch(1, 2, 5)), failed=True),
    Life("B", (Stretch(1, 4, 9),), failed=False),
    Life("C", (Stretch(0, 0, 1),), failed=True),
)
LEVELS = ("smooth", "toothed")


def marks(picture: Picture, kind: type) -> list:
    return [mark for mark in picture.panels[0].marks if isinstance(mark, kind)]


def test_every_mark_of_three_belts_by_hand() -> None:
    picture = lives_picture(THREE, LEVELS, "idler")
    lines = {mark.gid: (mark.ink, mark.x, mark.y) for mark in marks(picture, Steps)}
    assert lines == {
        "life:A:1": (0, (0, 2), (3, 3)),
        "life:A:2": (1, (2, 5), (3, 3)),
        "life:B:1": (1, (4, 9), (2, 2)),
        "life:C:1": (0, (0, 1), (1, 1)),
    }
    (dots,) = marks(picture, Spots)
    assert (dots.x, dots.y) == ((5, 1), (3, 1))
    names = {mark.text: (mark.x, mark.y) for mark in marks(picture, Label)}
    assert names == {"smooth": (1, 1), "toothed": (9, 2)}
    panel = picture.panels[0]
    assert panel.x_limits[0] == 0
    assert panel.x_limits[1] > 9
    assert panel.y_limits == (0, 4)


def test_the_words_count_what_is_drawn() -> None:
    picture = lives_picture(THREE, LEVELS, "idler", invented="These are invented data.")
    assert picture.title == (
        "Of 3 belts, 2 failed and 1 is still running or was taken off early; on 1 the idler was changed in mid-life."
    )
    assert picture.subtitle == (
        "One line a belt, the first fitted at the top. Line by idler: solid: smooth; dashed: toothed."
    )
    assert picture.note == (
        "Dots: failures. A line without one: still running or taken off early. These are invented data."
    )


def test_runs_whose_level_nobody_wrote_have_a_line_of_their_own_and_count_as_no_change() -> None:
    gap = Life("A", (Stretch(0, 0, 2), Stretch(-1, 2, 3), Stretch(0, 3, 6)), failed=False)
    picture = lives_picture((gap,), LEVELS, "idler")
    assert [mark.ink for mark in marks(picture, Steps)] == [0, 2, 0]
    assert "dash-dotted: not written" in picture.subtitle
    assert "on 0 the idler was changed" in picture.title
    assert "not written" not in lives_picture(THREE, LEVELS, "idler").subtitle


def test_styles_are_said_as_they_are_drawn() -> None:
    assert len(STYLES_SAID) == len(set(STYLES_SAID)) == len(STYLES)
    for said, (_, dashes) in zip(STYLES_SAID, STYLES, strict=True):
        assert (said == "solid") == (dashes == ())
        lengths = set(dashes[::2])
        if said == "dotted":
            assert lengths == {dashes[1]}
        if said == "dash-dotted":
            assert len(lengths) == 2


def test_of_two_hundred_belts_the_last_are_drawn_and_it_is_said() -> None:
    many = [Life(f"B{number}", (Stretch(number % 2, 0, 1 + number % 9),), number % 3 == 0) for number in range(200)]
    picture = lives_picture(many, LEVELS, "idler")
    drawn = marks(picture, Steps)
    assert len(drawn) == MOST
    assert (drawn[0].gid, drawn[-1].gid) == ("life:B80:1", "life:B199:1")
    assert (drawn[0].y, drawn[-1].y) == ((MOST, MOST), (1, 1))
    assert f"Of 200 belts the last {MOST} are drawn." in picture.subtitle
    failed = sum(life.failed for life in many[-MOST:])
    assert picture.title.startswith(f"Of {MOST} belts, {failed} failed and {MOST - failed} are still running")
    assert "last" not in lives_picture(many[:MOST], LEVELS, "idler").subtitle
    axes = next(axes for axes in figure(picture).axes if axes.get_gid() == "panel")
    assert axes.get_ylim() == (0, MOST + 1)


@pytest.mark.parametrize("name", ['7/8 "wide"', "<b>&amp;", "Ørsted-β", "A:1", "$x_1$", "it's", "a\\b", "  "])
def test_a_belt_of_any_name_is_drawn_and_its_drawing_is_sound(name: str) -> None:
    picture = lives_picture((Life(name, (Stretch(0, 0, 3),), failed=True), *THREE), LEVELS, "idler")
    drawn = ElementTree.fromstring(svg(picture))
    ids = [element.get("id") for element in drawn.iter() if element.get("id")]
    assert any(found.startswith(f"life:{name}:1") for found in ids)
    assert len(ids) == len(set(ids))
    assert f"life:{name}:1: 0 4.0, 3 4.0" in str(picture)


def test_levels_differ_in_line_style_and_lines_stand_where_the_belts_ran() -> None:
    axes = next(axes for axes in figure(lives_picture(THREE, LEVELS, "idler")).axes if axes.get_gid() == "panel")
    lines = {line.get_gid(): line for line in axes.get_lines() if (line.get_gid() or "").startswith("life:")}
    assert set(lines) == {"life:A:1", "life:A:2", "life:B:1", "life:C:1"}
    assert lines["life:B:1"].get_xdata().tolist() == [4, 9]
    assert lines["life:A:1"].get_linestyle() != lines["life:A:2"].get_linestyle()
    assert lines["life:A:1"].get_color() != lines["life:A:2"].get_color()


def test_no_belt_is_refused_in_a_sentence() -> None:
    with pytest.raises(ValueError, match="no belt of known age has made a run"):
        lives_picture((), LEVELS, "idler")
