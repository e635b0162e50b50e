"""The pictures of tracking, tested by what they draw."""

import math
from typing import Any

import numpy as np
import pytest
from matplotlib.figure import Figure
from matplotlib.text import Text

from drivekit.decide.tracking import tracking
from drivekit.drive.entry import UNSEEN, walk
from drivekit.show.tracking_brush import figure, png, svg
from drivekit.show.tracking_picture import ReadingsPicture, SignPicture, readings_picture, sign_picture

SIZES = ("screen", "slide", "print", "phone")
NET = np.array([1.0, -2.0, np.nan, 2.0, 0.0, -1.0])
DIFFERENCE = np.array([-1.0, 5.0, 2.0, -4.0, 2.0, 3.0])


def sign() -> SignPicture:
    # Half wrap, lean along the arriving belt: entry -.75 against exit +.25, to the rear.
    return sign_picture(walk(0.0, 0.0, math.pi, 0.1, 0.3, 0.2), "idler", unseen=UNSEEN)


def readings() -> ReadingsPicture:
    return readings_picture("red", NET, DIFFERENCE, tracking(NET, DIFFERENCE, np.array(["a"] * 6)))


def mark(fig: Figure, gid: str) -> Any:
    found = fig.findobj(lambda artist: artist.get_gid() == gid)
    assert len(found) == 1, f"{gid} is drawn {len(found)} times"
    return found[0]


def test_the_sign_picture_answers_in_its_title_and_lists_what_it_draws() -> None:
    assert str(sign()).splitlines() == [
        "Idler tilted like this: it sends the belt to the rear",
        "A sign, by normal entry: a belt walks to the edge of a pulley it meets first. Tilt drawn larger.",
        "seen from the front, degrees: belt arrives 0, turns 180, axis leans 0",
        *("bar:entry: -0.75", "bar:wrap: +0.00", "bar:exit: +0.25", "bar:together: -0.50"),
        f"Not seen here: {'; '.join(UNSEEN)}.",
    ]
    even = sign_picture(walk(0.0, 0.0, math.pi, 0.1, 0.1, 0.2), "blower pulley")
    assert even.title == "Blower pulley tilted like this: it gives the belt no clear way to walk"


@pytest.mark.parametrize("size", SIZES)
def test_the_bars_are_the_parts_and_their_sum(size: str) -> None:
    fig = figure(sign(), size)
    widths = {name: mark(fig, f"bar:{name}").get_width() for name in ("entry", "wrap", "exit", "together")}
    assert widths["entry"] / widths["exit"] == pytest.approx(-3)
    assert widths["together"] == pytest.approx(widths["entry"] + widths["wrap"] + widths["exit"])
    assert widths["together"] < 0


def test_the_edge_met_first_is_marked_where_the_belt_ends_first_and_the_arrow_goes_there() -> None:
    for lean, up in ((0.0, -1), (math.pi, 1)):
        fig = figure(sign_picture(walk(lean, 0.0, math.pi, 0.1, 0.3, 0.2)))
        corners = mark(fig, "belt:arriving").get_xy()
        meets = {1 if y > 0 else -1: x for x, y in corners if x > -1}
        assert meets[up] < meets[-up]
        assert mark(fig, "met-first").get_xydata()[0] == pytest.approx((meets[up], up * 0.8))
        arrow = mark(fig, "arrow:walk")
        assert up * (arrow.xy[1] - arrow.xyann[1]) > 0


def test_where_the_arriving_belt_meets_the_pulley_square_no_edge_is_met_first() -> None:
    fig = figure(sign_picture(walk(math.pi / 2, 0.0, math.pi, 0.1, 0.3, 0.3)))
    assert not fig.findobj(lambda artist: artist.get_gid() in ("met-first", "arrow:walk") and artist.get_visible())


def test_the_belt_goes_round_the_pulley_the_way_it_turns() -> None:
    for wrap in (1.2, -1.2):
        fig = figure(sign_picture(walk(0.4, 0.3, wrap, 0.1, 0.3, 0.3)))
        xy = mark(fig, "belt").get_xydata()
        ways = np.arctan2(*np.diff(xy, axis=0).T[::-1])
        assert ways[0] == pytest.approx(0.3)
        assert ways[-1] == pytest.approx(0.3 + wrap)
        assert np.all(np.sign(np.diff(ways[1:-1])) == np.sign(wrap))


def test_the_readings_picture_draws_the_fit_and_nothing_else() -> None:
    picture, fit = readings(), tracking(NET, DIFFERENCE, np.array(["a"] * 6))
    fig = figure(picture)
    assert mark(fig, "spots:readings").get_xydata().tolist() == [[1, -1], [-2, 5], [2, -4], [0, 2], [-1, 3]]
    assert mark(fig, "spot:last").get_xydata().tolist() == [[-1, 3]]
    assert mark(fig, "line:fit").get_xydata() == pytest.approx(np.array([[-2, 1 + 4.4], [2, 1 - 4.4]]))
    assert mark(fig, "interval:zero").get_xdata() == pytest.approx([fit.zero.lower, fit.zero.upper])
    assert mark(fig, "spot:zero").get_xdata() == pytest.approx([1 / 2.2])
    assert fit.line is not None
    edges = mark(fig, "band:fit").get_paths()[0].vertices
    for x in (-2.0, 2.0):
        drawn = sorted({round(float(y), 9) for at, y in edges if at == pytest.approx(x)})
        assert [drawn[0], drawn[-1]] == pytest.approx(sorted(fit.line.limits_at(x)))
    arrow = mark(fig, "arrow:move")
    assert (arrow.xyann, arrow.xy) == (pytest.approx((-1, 3)), pytest.approx((0, 1.0)))


def test_the_readings_picture_answers_in_its_title() -> None:
    assert (
        readings().title
        == "Red runs even at 0.5 net flats (-0.0 to 1.0); one more at the front moves the edges by -2.2 °C"
    )
    assert readings().subtitle.endswith("5 runs; a flat moves them by -2.2 °C (-2.9 to -1.5), limits 95 %.")
    assert "interval:zero: even at 0.5, -0.0 to 1.0" in str(readings())
    assert "move: -1 to 0, expected +1.0" in str(readings())


def test_of_very_many_runs_the_last_are_drawn_and_the_fit_still_counts_all() -> None:
    net = np.resize(NET[[0, 1, 3, 4, 5]], 1200)
    difference = np.arange(1200.0) % 7 - 2 * net
    found = readings_picture("red", net, difference, tracking(net, difference, np.resize(np.array(["a", "b"]), 1200)))
    assert found.points == tuple(zip(net[-500:].tolist(), difference[-500:].tolist(), strict=True))
    assert "; 1200 runs, the last 500 drawn; a flat moves them" in found.subtitle


def test_readings_that_tell_nothing_are_drawn_as_dots_with_the_reason() -> None:
    net, difference = np.full(5, 2.0), np.arange(5.0)
    picture = readings_picture("blue", net, difference, tracking(net, difference, np.array(["a"] * 5)))
    assert picture.title == "Blue: what a flat does cannot be told: all 5 runs were made at one setting (2)"
    fig = figure(picture)
    assert not fig.findobj(lambda artist: artist.get_gid() in ("line:fit", "band:fit", "interval:zero", "arrow:move"))
    assert len(mark(fig, "spots:readings").get_xydata()) == 5
    none = np.array([])
    figure(readings_picture("blue", none, none, tracking(none, none, none.astype(str))))


def test_a_slope_without_a_sign_gives_no_bar_on_the_even_line() -> None:
    net, difference = np.array([0.0, 1, 2, 3, 4]), np.array([2.0, -3, 4, -1, 1])
    picture = readings_picture("red", net, difference, tracking(net, difference, np.array(["a"] * 5)))
    assert picture.title == "Red: these runs do not tell at how many flats the belt runs even"
    assert picture.zero == ()
    assert mark(figure(picture), "line:fit") is not None


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("picture", [sign(), readings()], ids=["sign", "readings"])
def test_no_words_overlap_or_leave_the_paper(picture: SignPicture | ReadingsPicture, size: str) -> None:
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    fig = figure(picture, size)
    renderer = FigureCanvasAgg(fig).get_renderer()
    FigureCanvasAgg(fig).draw()
    words = [text for text in fig.findobj(Text) if text.get_text() and text.get_visible()]
    boxes = [(text.get_text(), text.get_window_extent(renderer)) for text in words]
    wide, high = fig.get_size_inches() * fig.dpi
    for said, box in boxes:
        assert box.x0 >= 0, f"{said} leaves the paper"
        assert box.y0 >= 0, f"{said} leaves the paper"
        assert box.x1 <= wide, f"{said} leaves the paper"
        assert box.y1 <= high, f"{said} leaves the paper"
    for place, (said, box) in enumerate(boxes):
        for other, against in boxes[:place]:
            across = min(box.x1, against.x1) - max(box.x0, against.x0)
            down = min(box.y1, against.y1) - max(box.y0, against.y0)
            # Lines of one block may touch by a hair of their line boxes.
            assert across <= 1 or down <= 2, f"{said} on {other}"


def test_the_same_picture_gives_the_same_bytes_and_its_words_stay_words() -> None:
    assert svg(sign()) == svg(sign())
    assert svg(readings()) == svg(readings())
    assert png(sign(), "print").startswith(b"\x89PNG")
    assert "met first" in svg(sign())
    bundle = readings()._repr_mimebundle_()
    assert bundle["text/plain"] == str(readings())
    assert bundle["image/svg+xml"].startswith("<?xml")
    assert sign()._repr_mimebundle_()["image/svg+xml"] == svg(sign())


def test_an_unknown_size_is_refused() -> None:
    with pytest.raises(ValueError, match='"poster" is no size of a figure; the sizes are screen, slide'):
        figure(sign(), "poster")
