"""Pictures of belt life draw what the findings hold."""

import copy
from base64 import b64decode

import numpy as np
import pytest

from drivekit.show.curves import _curves_drawn, comparison_picture, overall_picture, whole_ticks
from drivekit.show.endings import causes_picture
from drivekit.show.forest import differences_picture
from drivekit.show.paper import SIZES, Picture
from tests.show.artists import by_gid

# six belts: two fail on run 1, one leaves after run 2, one fails on run 3, two are still running after run 4
BY_HAND = {
    "belts": 6,
    "runs": 2 * 1 + 2 + 3 + 2 * 4,
    "failed": 3,
    "age": [1, 2, 3, 4],
    "at_risk": [6, 4, 3, 2],
    "failed_at": [2, 0, 1, 0],
    "censored_at": [0, 1, 0, 2],
    "survival": [4 / 6, 4 / 6, 4 / 6 * 2 / 3, 4 / 6 * 2 / 3],
    "lower": [0.2, 0.2, 0.1, 0.1],
    "upper": [0.9, 0.9, 0.8, 0.8],
    "median": {"estimate": 3},
}


def drawn(levels, size="screen"):
    """Artists of the curves of groups, without the words of a picture."""
    each = {name: (place, curve) for place, (name, curve) in enumerate(levels.items())}
    return by_gid(Picture("curves", "", "", "", *_curves_drawn(each, 4)).figure(size))


def corners(band):
    return {(round(float(x), 9), round(float(y), 9)) for path in band.get_paths() for x, y in path.vertices}


def test_every_mark_of_six_belts_by_hand():
    found = drawn({"all": BY_HAND})
    np.testing.assert_allclose(
        found["curve:all"].get_xydata(), [(0, 100), (1, 200 / 3), (2, 200 / 3), (3, 400 / 9), (4, 400 / 9)]
    )
    # the limits of a run hold until the next
    assert corners(found["band:all"]) == {
        (1, 20), (1, 90), (2, 20), (2, 90), (3, 20), (3, 90), (3, 10), (3, 80), (4, 10), (4, 80)
    }  # fmt: skip
    np.testing.assert_allclose(found["failures:all"].get_xydata(), [(1, 200 / 3), (3, 400 / 9)])
    assert list(found["censored:all"].get_xdata()) == [2, 4]
    np.testing.assert_allclose(found["median:all"].get_xydata(), [(3, 400 / 9), (3, 0)])
    assert found["median:all:age"].get_text() == "3"
    cells = [found[f"risk:all:{age}"].get_text() for age in range(1, 5)]
    assert cells == ["6 (2)", "4 (2)", "3 (3)", "2 (3)"]
    left, right = found["panel"].get_xlim()
    assert left == 0
    assert 4 < right < 5


def test_a_curve_is_drawn_as_it_is_said_with_its_band_from_the_first_run():
    said = {**BY_HAND, "from": 1, "failed_at": [0, 2, 1, 0], "lower": [0.5, 0.2, 0.1, 0.1], "upper": [1, 0.9, 0.8, 0.8]}
    marks = drawn({"all": {**BY_HAND, "said": said}})
    assert {x for x, _ in corners(marks["band:all"])} == {1, 2, 3, 4}
    assert min(y for _, y in corners(marks["band:all"])) == pytest.approx(10)


def test_a_level_without_failures_is_a_flat_line_and_is_said(findings_of):
    picture = comparison_picture(findings_of("a level without failures"), "idler")
    found = by_gid(picture.figure())
    assert set(found["curve:toothed"].get_ydata()) == {100.0}
    assert found["label:toothed"].get_text() == "toothed: none failed"
    assert "No belt failed: toothed; its band says how low its line may yet be." in picture.note


def test_where_too_few_started_new_the_later_curve_is_drawn_with_its_band_and_said(findings_of):
    found = findings_of("late starters")
    later = found["life"]["idler"]["levels"]["smooth"]["said"]
    picture = comparison_picture(found, "idler")
    marks = by_gid(picture.figure())
    assert list(marks["curve:smooth"].get_xdata()) == [3, *later["age"]]
    assert list(marks["curve:smooth"].get_ydata()) == pytest.approx((100, *(100 * s for s in later["survival"])))
    assert min(x for x, _ in corners(marks["band:smooth"])) >= later["from"]
    assert "Smooth: life of a belt that starts run 4, for too few ran before it." in picture.note


def test_the_title_is_the_answer_and_the_subtitle_the_estimand_and_counts(season):
    picture = comparison_picture(season, "tension")
    assert picture.title.startswith(
        "A hint, not proof: with cars and other settings as they fell, belts at middle tension made 2.1 more of their"
    )
    assert picture.subtitle == (
        "Share of belts not failed after each run, by tension (low: 30 belts, 16 failed; middle: 31 belts, 19 failed; "
        "high: 29 belts, 18 failed). Low ends at 6,451 N, middle at 7,296 N."
    )


def test_invented_data_are_called_invented_under_every_picture(season):
    drawn = [comparison_picture(season, name) for name in ("idler", "tension", "edge_lube", "idler_support")]
    for picture in [*drawn, overall_picture(season), causes_picture(season), differences_picture(season)]:
        assert "invented data" in picture.note


def test_counts_that_would_crowd_the_curves_are_left_to_the_busier_ticks():
    crowded = {
        **BY_HAND,
        "age": list(range(1, 13)),
        "at_risk": [60] * 12,
        "failed_at": [1] + [0] * 11,
        "censored_at": [3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14],
        "survival": [0.9] * 12,
        "lower": [0.8] * 12,
        "upper": [0.95] * 12,
    }
    numbers = [gid for gid in drawn({"all": crowded}) if gid.startswith("censored:all:")]
    assert numbers == [f"censored:all:{age}" for age in range(5, 13)]


def test_the_text_of_a_picture_lists_what_it_draws(season):
    text = str(comparison_picture(season, "idler"))
    for level, curve in season["life"]["idler"]["levels"].items():
        last = f"{curve['age'][-1]} {100 * curve['survival'][-1]:.4g}"
        line = next(line for line in text.splitlines() if line.startswith(f"curve:{level}: "))
        assert line.startswith(f"curve:{level}: 0 100, 1 ")
        assert line.endswith(last)
        assert f"risk:{level}:1: {curve['at_risk'][0]} ({curve['failed_at'][0]})" in text


def test_a_notebook_gets_the_words_and_the_drawing(season):
    bundle = overall_picture(season)._repr_mimebundle_()
    assert set(bundle) == {"text/plain", "image/svg+xml", "image/png"}
    assert b64decode(bundle["image/png"]) == overall_picture(season).png()
    assert set(overall_picture(season)._repr_mimebundle_(include={"text/plain"})) == {"text/plain"}
    assert bundle["text/plain"].startswith("Of all belts, 1 in 10 had failed by run ")
    assert "<svg" in bundle["image/svg+xml"]


def test_nothing_is_drawn_where_there_is_nothing_to_draw(season):
    empty = copy.deepcopy(season)
    empty["life"]["overall"] = empty["causes"] = {"reason": "no belt of known age has made a run"}
    empty["life"]["tension"] = empty["headline"]["tension"] = {"reason": "no run has a known tension"}
    assert overall_picture(empty) is None
    assert causes_picture(empty) is None
    assert comparison_picture(empty, "tension") is None
    assert comparison_picture(empty, "compound") is None


@pytest.mark.parametrize(
    ("oldest", "ticks"),
    [
        (1, (1,)),
        (6, (1, 2, 3, 4, 5, 6)),
        (20, tuple(range(1, 20, 2))),
        (26, (1, 5, 10, 15, 20, 25)),
        (90, (1, *range(10, 91, 10))),
    ],
)
def test_ages_on_the_axis_are_whole_and_begin_with_the_first_run(oldest, ticks):
    assert whole_ticks(oldest) == ticks


def test_curves_are_drawn_with_the_survival_of_the_findings(season):
    drawn = by_gid(comparison_picture(season, "idler").figure())
    for level, curve in season["life"]["idler"]["levels"].items():
        line = drawn[f"curve:{level}"]
        assert line.get_drawstyle() == "steps-post"
        np.testing.assert_array_equal(line.get_xdata(), [0, *curve["age"]])
        np.testing.assert_allclose(line.get_ydata(), [100, *(100 * share for share in curve["survival"])], rtol=1e-15)


def test_bands_are_stepped_between_the_limits_of_the_findings(season):
    drawn = by_gid(comparison_picture(season, "idler").figure())
    for level, curve in season["life"]["idler"]["levels"].items():
        edges = drawn[f"band:{level}"].get_paths()[0].vertices
        corners = {(round(float(x), 9), round(float(y), 9)) for x, y in edges}
        first = next(place for place, failed in enumerate(curve["failed_at"]) if failed)
        for age, low, up in list(zip(curve["age"], curve["lower"], curve["upper"], strict=True))[first:]:
            assert (age, round(100 * low, 9)) in corners
            assert (age, round(100 * up, 9)) in corners


def test_the_table_under_the_curves_holds_the_numbers_at_risk_and_failed_so_far(season):
    drawn = by_gid(comparison_picture(season, "idler").figure())
    for level, curve in season["life"]["idler"]["levels"].items():
        cells = {gid: text for gid, text in drawn.items() if gid.startswith(f"risk:{level}:")}
        assert len(cells) > 4
        for gid, text in cells.items():
            age = int(gid.rsplit(":", 1)[1])
            failed = sum(d for at, d in zip(curve["age"], curve["failed_at"], strict=True) if at <= age)
            at_risk = dict(zip(curve["age"], curve["at_risk"], strict=True)).get(age, 0)
            assert text.get_text() == f"{at_risk} ({failed})"


def test_a_median_line_falls_from_the_curve_to_the_axis_at_the_median(season):
    drawn = by_gid(comparison_picture(season, "idler").figure())
    for level, curve in season["life"]["idler"]["levels"].items():
        line = drawn[f"median:{level}"]
        assert list(line.get_xdata()) == [curve["median"]["estimate"]] * 2
        assert line.get_ydata()[-1] == 0


def test_groups_differ_in_line_style_as_well_as_in_colour(findings_of):
    drawn = by_gid(comparison_picture(findings_of("five levels"), "idler").figure())
    lines = [line for gid, line in drawn.items() if gid.startswith("curve:")]
    assert len(lines) == 5
    styles = {(line._dash_pattern[1] and tuple(line._dash_pattern[1])) for line in lines}
    assert len(styles) == 5
    assert len({line.get_color() for line in lines}) == 5


def test_the_run_to_which_runs_are_counted_is_marked_on_the_axis_and_said(demo):
    horizon = demo["settings"]["horizon_runs"]
    picture = comparison_picture(demo, "idler")
    assert f"of their first {horizon} runs" in picture.title
    mark = by_gid(picture.figure())["horizon:smooth"]
    assert mark.get_xydata().tolist() == [[horizon, 0]]
    assert f"Triangle: run {horizon}, to which runs are counted." in picture.note


def test_more_than_three_levels_stand_in_panels_of_their_own_on_the_same_axes(findings_of):
    fig = comparison_picture(findings_of("five levels"), "idler").figure()
    assert len(fig.axes) == 5
    assert len({(axes.get_xlim(), axes.get_ylim()) for axes in fig.axes}) == 1


def test_percentages_run_from_0_to_100_and_ages_to_the_oldest_belt(season):
    (axes,) = comparison_picture(season, "idler").figure().axes
    oldest = max(curve["age"][-1] for curve in season["life"]["idler"]["levels"].values())
    assert axes.get_ylim() == (0, 102)
    assert axes.get_xlim() == (0, oldest + 0.3)


def test_failures_are_dots_and_belts_that_left_are_ticks(season):
    drawn = by_gid(comparison_picture(season, "idler").figure())
    for level, curve in season["life"]["idler"]["levels"].items():
        dots = [age for age, d in zip(curve["age"], curve["failed_at"], strict=True) if d]
        left = [age for age, c in zip(curve["age"], curve["censored_at"], strict=True) if c]
        assert list(drawn[f"failures:{level}"].get_xdata()) == dots
        assert list(drawn[f"censored:{level}"].get_xdata()) == left
        for age, count in zip(curve["age"], curve["censored_at"], strict=True):
            number = drawn.get(f"censored:{level}:{age}")
            assert (number is None) == (count < 3)
            assert number is None or number.get_text() == str(count)


def test_the_same_picture_gives_the_same_bytes(season):
    picture = comparison_picture(season, "idler")
    assert picture.svg() == picture.svg()
    assert picture.png() == picture.png()
    assert picture.png().startswith(b"\x89PNG")


def test_every_mark_keeps_its_name_in_the_svg_and_its_text_stays_text(season):
    picture = comparison_picture(season, "idler")
    text = picture.svg()
    for gid in by_gid(picture.figure()):
        assert f'id="{gid}"' in text
    assert ">toothed</text>" in text
    assert "dc:date" not in text


def test_a_bare_picture_leaves_title_and_note_to_the_page(season):
    picture = overall_picture(season)
    assert {gid.split(":")[0] for gid in by_gid(picture.figure())} >= {"title", "subtitle", "note"}
    assert not {gid.split(":")[0] for gid in by_gid(picture.figure(bare=True))} & {"title", "subtitle", "note"}


def test_a_size_that_is_none_is_refused_with_those_there_are(season):
    with pytest.raises(ValueError, match=r'"poster" is no size of a figure; the sizes are screen, slide, print, phone'):
        overall_picture(season).figure("poster")


def test_a_slide_is_as_wide_and_high_as_a_screen_shows_it(season):
    assert tuple(overall_picture(season).figure("slide").get_size_inches()) == pytest.approx((12.8, 7.2))


def test_a_print_is_160_mm_wide(season):
    assert overall_picture(season).figure("print").get_size_inches()[0] == pytest.approx(160 / 25.4)


@pytest.mark.parametrize("size", SIZES)
def test_the_axes_keep_a_fair_part_of_the_paper(awkward, size):
    fig = comparison_picture(awkward, "idler").figure(size)
    share = sum(axes.get_position().height * axes.get_position().width for axes in fig.axes)
    assert share > 0.1


def test_a_curve_alone_shows_the_limits_of_all_of_it_at_once_and_several_do_not(demo, drawn):
    picture, said = overall_picture(demo), demo["life"]["overall"]["said"]
    artists = drawn(picture)
    for side in ("lower", "upper"):
        shares = 100 * np.array(said["band"][side], float)
        assert np.array_equal(artists[f"whole:all:{side}"].get_ydata(), shares, equal_nan=True)
    assert "Dotted steps: 95 % for the whole curve at once." in picture.note
    assert not any(gid.startswith("whole:") for gid in drawn(comparison_picture(demo, "idler")))
