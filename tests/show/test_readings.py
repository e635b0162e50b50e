"""The pictures of tracking, tested by what they draw."""

import math
from typing import Any

import numpy as np
import pytest
from matplotlib.figure import Figure

from drivekit.decide.tracking import tracking
from drivekit.drive.entry import UNSEEN, walk
from drivekit.show.page import pictures
from drivekit.show.paper import SIZES, Picture
from drivekit.show.readings import car_picture, cars_fits, figure_names, sign_picture
from tests.show.artists import overlapping, said, texts

NET = np.array([-1.0, 1, -1, np.nan, 1, -1, 1, -1, 1])
DIFFERENCE = np.array([5.5, 2.5, 3.5, 2, -1.5, -1, -3, 2, -4])
BELTS = np.array([*"AABBBCCDD"])
"""Worked out on paper beside the fit: -2 C a flat, even at 0.25 flats on the mean of four belts."""


def sign() -> Picture:
    # Half wrap, lean along the arriving belt: entry -.75 against exit +.25, to the rear.
    return sign_picture(walk(0.0, 0.0, math.pi, 0.1, 0.3, 0.2), "idler", unseen=UNSEEN)


def readings_picture(car: str, net_flats: Any, difference_c: Any, fit: Any, **log: str) -> Picture:
    columns = {"net_flats": net_flats, "difference_c": difference_c}
    return car_picture({"log": log, "tracking": {car: {"readings": columns}}}, car, fit)


def readings() -> Picture:
    return readings_picture("red", NET, DIFFERENCE, tracking(NET, DIFFERENCE, BELTS))


def mark(fig: Figure, gid: str) -> Any:
    found = fig.findobj(lambda artist: artist.get_gid() == gid)
    assert len(found) == 1, f"{gid} is drawn {len(found)} times"
    return found[0]


def test_the_sign_picture_answers_in_its_title_and_lists_what_it_draws() -> None:
    lines = str(sign()).splitlines()
    assert lines[:2] == [
        "Idler tilted like this: it sends the belt to the rear",
        "A sign, by normal entry: a belt walks to the edge of a pulley it meets first. Tilt drawn larger.",
    ]
    assert lines[-1] == f"Not seen here: {'; '.join(UNSEEN)}."
    assert "arrow:lean: 0 0, 0.62 0" in lines
    assert "bar:exit: 0 1.83, 0.25 1.83, 0.25 2.17, 0 2.17, 0 1.83" in lines
    even = sign_picture(walk(0.0, 0.0, math.pi, 0.1, 0.1, 0.2), "blower pulley")
    assert even.title == "Blower pulley tilted like this: it gives the belt no clear way to walk"
    assert even.note == "A sign, not a distance."


@pytest.mark.parametrize("size", [*SIZES])
def test_the_bars_are_the_parts_and_their_sum(size: str) -> None:
    walked = walk(0.0, 0.0, math.pi, 0.1, 0.3, 0.2)
    fig = sign().figure(size)
    widths = {name: mark(fig, f"bar:{name}").get_width() for name in ("entry", "wrap", "exit", "together")}
    parts = {"entry": walked.entry, "wrap": walked.wrap, "exit": walked.exit}
    assert widths == pytest.approx(parts | {"together": sum(parts.values())})
    assert widths["together"] < 0
    for name, share in widths.items():
        label = mark(fig, f"label:{name}")
        assert (label.get_ha() == "left") == (share <= 0), "a name stands where its bar does not"


def test_the_edge_met_first_is_marked_where_the_belt_ends_first_and_the_arrow_goes_there() -> None:
    for lean, up in ((0.0, -1), (math.pi, 1)):
        fig = sign_picture(walk(lean, 0.0, math.pi, 0.1, 0.3, 0.2)).figure()
        corners = mark(fig, "belt:arriving").get_xy()
        meets = {1 if y > 0 else -1: x for x, y in corners if x > -1}
        assert meets[up] < meets[-up]
        assert mark(fig, "met-first").get_xydata()[0] == pytest.approx((meets[up], up * 0.8))
        arrow = mark(fig, "arrow:walk")
        assert up * (arrow.xy2[1] - arrow.xy1[1]) > 0


def test_where_the_arriving_belt_meets_the_pulley_square_no_edge_is_met_first() -> None:
    fig = sign_picture(walk(math.pi / 2, 0.0, math.pi, 0.1, 0.3, 0.3)).figure()
    assert not fig.findobj(lambda artist: artist.get_gid() in ("met-first", "arrow:walk") and artist.get_visible())


def test_the_belt_goes_round_the_pulley_the_way_it_turns() -> None:
    for wrap in (1.2, -1.2):
        fig = sign_picture(walk(0.4, 0.3, wrap, 0.1, 0.3, 0.3)).figure()
        xy = mark(fig, "belt").get_xydata()
        ways = np.arctan2(*np.diff(xy, axis=0).T[::-1])
        assert ways[0] == pytest.approx(0.3)
        assert ways[-1] == pytest.approx(0.3 + wrap)
        assert np.all(np.sign(np.diff(ways[1:-1])) == np.sign(wrap))


def test_the_readings_picture_draws_the_fit_and_nothing_else() -> None:
    picture, found = readings(), tracking(NET, DIFFERENCE, BELTS)
    fit, fig = found.fit, picture.figure()
    assert fit is not None
    known = np.isfinite(NET)
    assert mark(fig, "spots:readings").get_xydata() == pytest.approx(np.column_stack((NET, DIFFERENCE))[known])
    assert mark(fig, "spot:last").get_xydata().tolist() == [[1, -4]]
    assert mark(fig, "line:mean").get_xydata() == pytest.approx(np.array([[-1, 2.5], [1, -1.5]]))
    for code, belt in enumerate("ABCD"):
        (left, at_left), (right, at_right) = mark(fig, f"line:belt:{belt}").get_xydata()
        assert (left, right) == pytest.approx((-1.2, 1.2))
        assert (at_left, at_right) == pytest.approx((0.5 + fit.offsets[code] + 2.4, 0.5 + fit.offsets[code] - 2.4))
    assert mark(fig, "line:own").get_ydata() == pytest.approx(0.5 + fit.offsets[3] - 2 * np.array([-1, 1]))
    assert mark(fig, "interval:zero").get_xdata() == pytest.approx([found.zero.lower, found.zero.upper])
    assert mark(fig, "spot:zero").get_xdata() == pytest.approx([0.25])
    arrow = mark(fig, "arrow:move")
    assert (arrow.xy1, arrow.xy2) == (
        pytest.approx((1, found.move.unmoved_c)),
        pytest.approx((0, found.move.expected_c)),
    )
    assert [mark(fig, f"label:{name}").get_text() for name in ("mean", "own")] == ["mean of belts", "belt D"]


def test_the_readings_picture_answers_in_its_title() -> None:
    assert (
        readings().title
        == "Red: belts run even at 0.2 net flats (-2.8 to 20.3); one more at the front moves the edges by -2.0 °C"
    )
    assert readings().subtitle.endswith("8 runs of 4 belts; a flat moves them by -2.0 °C (-3.4 to -0.6).")
    assert "spot:zero: 0.25 0" in str(readings())


def test_a_log_in_pounds_has_its_readings_drawn_and_said_in_fahrenheit() -> None:
    rng, code = np.random.default_rng(5), np.repeat(np.arange(6), 6)
    net, lift = rng.integers(-3, 4, 36).astype(float), rng.integers(2, 6, 36).astype(float)
    found = tracking(net, 9 - 2 * net - lift + rng.normal(0, 1, 36), code.astype(str), lift_flats=lift)
    drawn = [readings_picture("red", net, 9 - 2 * net - lift, found, units=units) for units in ("si", "inch-pound")]
    metric, pounds = (picture.figure() for picture in drawn)
    for gid in ("spots:readings", "spot:last", "line:mean", "line:own", "line:belt:3", "spot:zero", "interval:zero"):
        assert mark(pounds, gid).get_xydata() == pytest.approx(mark(metric, gid).get_xydata() * (1, 1.8)), gid
    tips = [mark(fig, "arrow:move") for fig in (metric, pounds)]
    assert [tips[1].xy1[1], tips[1].xy2[1]] == pytest.approx([1.8 * tips[0].xy1[1], 1.8 * tips[0].xy2[1]])
    assert "°C" in str(drawn[0])
    assert "°C" not in str(drawn[1])
    assert drawn[1].title.endswith(f"moves the edges by {1.8 * found.slope.estimate:z.1f} °F")


def test_readings_at_another_lift_of_the_snout_are_brought_to_the_present_one() -> None:
    rng = np.random.default_rng(3)
    code = np.repeat(np.arange(6), 6)
    net, lift = rng.integers(-3, 4, 36).astype(float), rng.integers(2, 6, 36).astype(float)
    y = 3 - 2 * net - lift + rng.normal(0, 1, 6)[code] + rng.normal(0, 1, 36)
    found = tracking(net, y, code.astype(str), lift_flats=lift)
    picture = readings_picture("red", net, y, found)
    assert found.fit is not None
    drawn = y - found.fit.coefficients[2] * (lift - lift[-1])
    assert mark(picture.figure(), "spots:readings").get_xydata()[:, 1] == pytest.approx(drawn)
    assert f"brought to {lift[-1]:g} flats of snout lift" in picture.subtitle


def test_of_very_many_runs_the_last_are_drawn_and_the_fit_still_counts_all() -> None:
    net = np.resize(NET[np.isfinite(NET)], 1200)
    difference = np.arange(1200.0) % 7 - 2 * net
    found = readings_picture("red", net, difference, tracking(net, difference, np.repeat([*"abc"], 400)))
    lines = found.figure().findobj(lambda artist: "line:belt" in str(artist.get_gid()))
    assert [line.get_gid() for line in lines] == ["line:belt:b", "line:belt:c"]
    assert mark(found.figure(), "spots:readings").get_xydata() == pytest.approx(
        np.column_stack((net, difference))[-500:]
    )
    assert "; 1200 runs of 3 belts, the last 500 and their belts drawn; a flat moves them" in found.subtitle


def test_readings_that_tell_nothing_are_drawn_as_dots_with_the_reason() -> None:
    net, difference = np.full(6, 2.0), np.arange(6.0)
    picture = readings_picture("blue", net, difference, tracking(net, difference, np.array([*"aabbcc"])))
    assert picture.title == "Blue: what a flat does cannot be told: all 6 runs were made at one setting (2)"
    fig = picture.figure()
    drawn = ("line:mean", "line:own", "interval:zero", "arrow:move")
    assert not fig.findobj(lambda artist: artist.get_gid() in drawn)
    assert len(mark(fig, "spots:readings").get_xydata()) == 6
    none = np.array([])
    bare = readings_picture("blue", none, none, tracking(none, none, none.astype(str))).figure()
    assert not bare.findobj(lambda artist: artist.get_gid() in ("spots:readings", "spot:last"))


def test_a_slope_without_a_sign_gives_no_bar_on_the_even_line() -> None:
    difference = np.array([2.0, -3, -2, 0, 1, 3, -2, 0.5, 0.3])
    picture = readings_picture("red", NET, difference, tracking(NET, difference, BELTS))
    assert picture.title == "Red: these runs do not tell at how many flats belts run even"
    fig = picture.figure()
    assert mark(fig, "line:mean") is not None
    assert not fig.findobj(lambda artist: artist.get_gid() in ("interval:zero", "spot:zero", "arrow:move"))


def words_clear(picture: Picture, size: str) -> None:
    fig = picture.figure(size)
    found, (wide, high) = texts(fig), 72 * fig.get_size_inches()
    for text, (left, low, right, top) in found:
        assert 0 <= left <= right <= wide, f"{said(text)} leaves the paper"
        assert 0 <= low <= top <= high, f"{said(text)} leaves the paper"
    assert not overlapping(found)


@pytest.mark.parametrize("size", [*SIZES])
@pytest.mark.parametrize("wrap", [math.pi, -0.6 * math.pi, 0.3])
@pytest.mark.parametrize("lean", [0.0, math.pi / 2, math.pi, -2.0])
def test_no_words_of_the_sign_overlap_or_leave_the_paper(lean: float, wrap: float, size: str) -> None:
    words_clear(sign_picture(walk(lean, 0.3, wrap, 0.1, 0.3, 0.2), "idler", unseen=UNSEEN), size)


@pytest.mark.parametrize("size", [*SIZES])
def test_every_car_of_the_demo_has_its_figure_with_all_its_readings(demo: dict[str, Any], size: str) -> None:
    drawn, fits = pictures(demo), cars_fits(demo)
    assert figure_names(fits) == {car: f"tracking_{car}" for car in ("amber", "teal", "violet")}
    for car, name in figure_names(fits).items():
        picture, fit, block = drawn[name], fits[car], demo["tracking"][car]
        assert picture.name == name
        words_clear(picture, size)
        fig = picture.figure(size)
        dots = mark(fig, "spots:readings").get_xydata()
        assert len(dots) == min(block["n"], 500)
        assert mark(fig, "spot:zero").get_xdata() == pytest.approx([fit.zero.estimate])
        axes = mark(fig, "panel")
        (left, right), (low, high) = axes.get_xlim(), axes.get_ylim()
        inside = [*dots, (fit.zero.lower, 0), (fit.zero.upper, 0)]
        inside += [mark(fig, "arrow:move").xy2] if fit.move.idler or fit.move.snout else []
        assert all(left < x < right and low < y < high for x, y in inside)
        assert all(tick == round(tick) for tick in axes.get_xticks())
        # one type for all figures of a page
        sizes = {text.get_size() for text, _ in texts(fig)}
        assert sizes == {SIZES[size].title, SIZES[size].text, SIZES[size].small}


def test_a_car_s_figure_has_a_name_that_every_file_system_takes_and_no_other_car_has() -> None:
    assert figure_names(["Blue", "car 7/B"]) == {"Blue": "tracking_blue", "car 7/B": "tracking_car-7-b"}
    for unlike in (["Blue", "blue"], ["<b>", "b"], ["\u8d64", "red"], ["x" * 50, "x" * 60]):
        assert figure_names(unlike) == {unlike[0]: "tracking_1", unlike[1]: "tracking_2"}


def test_the_same_picture_gives_the_same_bytes_and_its_words_stay_words() -> None:
    assert sign().svg() == sign().svg()
    assert readings().svg() == readings().svg()
    assert sign().png("print").startswith(b"\x89PNG")
    assert "met first" in sign().svg()
