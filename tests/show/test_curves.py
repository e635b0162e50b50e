"""A picture as plain data holds what the findings hold."""

import copy
from base64 import b64decode

import pytest

from drivekit.show.brush import png
from drivekit.show.causes import Share, causes_picture, shares_by
from drivekit.show.curves import comparison_picture, overall_picture, survival_panels, whole_ticks
from drivekit.show.differences import differences_picture
from drivekit.show.picture import Band, Drop, Label, Spots, Steps, Ticks

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
    "lower": [0.2, 0.2, 0.1, None],
    "upper": [0.9, 0.9, 0.8, None],
}


def marks(panel, kind):
    return [mark for mark in panel.marks if isinstance(mark, kind)]


def test_every_mark_of_six_belts_by_hand():
    (panel,) = survival_panels({"all": BY_HAND})
    (steps,) = marks(panel, Steps)
    assert steps.x == (0, 1, 2, 3, 4)
    assert steps.y == pytest.approx((100, 66.6667, 66.6667, 44.4444, 44.4444), abs=1e-4)
    (band,) = marks(panel, Band)
    assert band.x == (1, 2, 3, 4)  # the limits of run 3 hold until run 4, where they end
    assert band.lower == pytest.approx((20, 20, 10, 10))
    assert band.upper == pytest.approx((90, 90, 80, 80))
    (spots,) = marks(panel, Spots)
    assert spots.x == (1, 3)
    assert spots.y == pytest.approx((66.6667, 44.4444), abs=1e-4)
    (ticks,) = marks(panel, Ticks)
    assert (ticks.x, ticks.counts) == ((2, 4), (1, 2))
    (drop,) = marks(panel, Drop)
    assert (drop.x, drop.y) == (3, pytest.approx(44.4444, abs=1e-4))
    (row,) = panel.table
    assert [row.cell(age) for age in range(1, 5)] == ["6 (2)", "4 (2)", "3 (3)", "2 (3)"]
    assert panel.x_limits[0] == 0
    assert 4 < panel.x_limits[1] < 5


def test_a_half_within_rounding_is_a_half():
    curve = {**BY_HAND, "survival": [0.9, 0.5 + 2e-16, 0.4, 0.4]}
    (panel,) = survival_panels({"all": curve})
    assert marks(panel, Drop)[0].x == 2


def test_no_band_is_drawn_before_the_first_failure(season):
    curve = {**BY_HAND, "failed_at": [0, 2, 1, 0], "lower": [1, 0.2, 0.1, 0.1], "upper": [1, 0.9, 0.8, 0.8]}
    (panel,) = survival_panels({"all": curve})
    assert marks(panel, Band)[0].x == (2, 3, 4, 4)


def test_a_level_without_failures_is_a_flat_line_and_is_said(findings_of):
    picture = comparison_picture(findings_of("a level without failures"), "idler")
    (panel,) = picture.panels
    flat = next(mark for mark in marks(panel, Steps) if mark.gid == "curve:toothed")
    assert set(flat.y) == {100.0}
    assert not [mark for mark in marks(panel, Band) if mark.gid == "band:toothed"]
    assert next(mark for mark in marks(panel, Label) if mark.gid == "label:toothed").text == "toothed: none failed"
    assert "No belt failed: toothed; its line is flat and has no band." in picture.note


def test_where_too_few_started_new_the_later_curve_is_drawn_and_said(findings_of):
    found = findings_of("late starters")
    later = found["life"]["idler"]["levels"]["smooth"]["from_age"]
    picture = comparison_picture(found, "idler")
    steps = next(mark for mark in marks(picture.panels[0], Steps) if mark.gid == "curve:smooth")
    assert steps.x == (3, *later["age"])
    assert steps.y == pytest.approx((100, *(100 * share for share in later["survival"])))
    assert "Smooth: life of a belt that starts run 4, for too few ran before it, and it has no band." in picture.note


def test_limits_of_the_later_curve_are_drawn_where_the_findings_hold_them(findings_of):
    found = findings_of("late starters")
    later = found["life"]["idler"]["levels"]["smooth"]["from_age"]
    later["lower"] = [max(share - 0.1, 0) for share in later["survival"]]
    later["upper"] = [min(share + 0.1, 1) for share in later["survival"]]
    picture = comparison_picture(found, "idler")
    band = next(mark for mark in marks(picture.panels[0], Band) if mark.gid == "band:smooth")
    assert min(band.x) >= later["from"]
    assert "no band" not in picture.note


def test_the_title_is_the_answer_and_the_subtitle_the_estimand_and_counts(season):
    picture = comparison_picture(season, "tension")
    assert picture.title.startswith("Belts at middle tension made 2.1 more of their first 12 runs than at low")
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
    (panel,) = survival_panels({"all": crowded})
    assert marks(panel, Ticks)[0].numbered == 7


def test_the_text_of_a_picture_lists_what_it_draws(season):
    text = str(comparison_picture(season, "idler"))
    for level, curve in season["life"]["idler"]["levels"].items():
        last = f"{curve['age'][-1]} {100 * curve['survival'][-1]:.1f}"
        line = next(line for line in text.splitlines() if line.startswith(f"curve:{level}: "))
        assert line.startswith(f"curve:{level}: 0 100.0, 1 ")
        assert line.endswith(last)
        assert f"risk:{level}: 1 {curve['at_risk'][0]} ({curve['failed_at'][0]})" in text


def test_a_notebook_gets_the_words_and_the_drawing(season):
    bundle = overall_picture(season)._repr_mimebundle_()
    assert set(bundle) == {"text/plain", "image/svg+xml", "image/png"}
    assert b64decode(bundle["image/png"]) == png(overall_picture(season))
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


def test_limits_of_a_share_by_hand():
    # F = .25, se = .05, z = 1.959964: reach = .0979982 / (.25 x 1.3862944) = .2827630
    share = Share.of("tooth-jump", 0.25, 0.05, 0.95)
    assert share.lower == pytest.approx(0.25 ** (2.718281828**0.2827630), rel=1e-6)
    assert share.upper == pytest.approx(0.25 ** (2.718281828**-0.2827630), rel=1e-6)
    assert str(share) == "25 % jumped a tooth (16 to 35)"


def test_a_cause_never_seen_is_named_but_not_drawn(season):
    picture = causes_picture(season)
    assert "Never seen: unknown." in picture.note
    assert "curve:unknown" not in str(picture)
    assert shares_by(season, 12)[0].cause == "tooth-jump"
