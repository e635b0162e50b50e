"""Words break, shorten and keep apart as computed."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivekit.show.layout import Box, clipped, placed, stacked, thinned, width, wrapped

PAPER = Box(0, 0, 10, 10)


def apart(a, b):
    return (
        a.left + a.width <= b.left + 1e-9
        or b.left + b.width <= a.left + 1e-9
        or a.bottom + a.height <= b.bottom + 1e-9
        or b.bottom + b.height <= a.bottom + 1e-9
    )


def test_width_is_the_sum_of_the_letters_and_grows_with_the_type():
    assert width("ab", 10) == pytest.approx(width("a", 10) + width("b", 10))
    assert width("ab", 20) == pytest.approx(2 * width("ab", 10))
    # the advance of a figure in DejaVu Sans is 1303 of 2048 units
    assert width("0", 72) == pytest.approx(1303 / 2048, abs=1e-3)


@given(st.text(alphabet="abcdefgh ", max_size=80), st.floats(0.3, 4))
def test_wrapped_lines_fit_and_lose_no_letter(text, room):
    lines = wrapped(text, room, 10)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")
    assert all(width(line, 10) <= room or len(line) == 1 for line in lines)


def test_a_number_is_not_parted_from_its_percent_sign():
    lines = wrapped("one two 95 % three", width("one two 95", 10) + 0.01, 10)
    assert lines == ("one two", "95 % three")


def test_a_name_too_long_ends_in_an_ellipsis():
    short = clipped("a name that runs on", 0.6, 10)
    assert short.endswith("…")
    assert width(short, 10) <= 0.6
    assert clipped("abc", 5, 10) == "abc"


@given(st.lists(st.floats(1, 9), min_size=1, max_size=8))
def test_names_in_one_column_end_up_apart_on_the_paper_and_in_order(heights):
    wants = [Box(2, height, 1, 0.5) for height in heights]
    found = stacked(wants, PAPER)
    for one in range(len(found)):
        assert -1e-9 <= found[one].bottom <= 9.5 + 1e-9
        for other in range(one):
            assert apart(found[one], found[other])
            if heights[one] > heights[other]:
                assert found[one].bottom > found[other].bottom


def test_names_that_do_not_meet_stay_where_they_are():
    wants = [Box(2, 1, 1, 0.5), Box(2, 5, 1, 0.5)]
    assert stacked(wants, PAPER) == tuple(wants)


def test_two_names_on_one_spot_share_the_walk():
    low, high = sorted(box.bottom for box in stacked([Box(2, 5, 1, 0.5), Box(2, 5, 1, 0.5)], PAPER))
    assert (low, high) == (pytest.approx(4.75), pytest.approx(5.25))


@given(st.lists(st.tuples(st.floats(0, 8), st.floats(1, 9)), min_size=1, max_size=6))
def test_placed_words_never_cover_each_other_while_there_is_room(places):
    found = placed([Box(left, up, 0.6, 0.3) for left, up in places], (), (), PAPER)
    for one in range(len(found)):
        for other in range(one):
            assert apart(found[one], found[other])


def test_a_word_walks_off_a_curve_but_not_far():
    curve = Box(0, 4.9, 10, 0.2)
    (found,) = placed([Box(3, 4.85, 1, 0.4)], (), [curve], PAPER)
    assert apart(found, curve)
    assert abs(found.bottom - 4.85) <= 0.6


@pytest.mark.parametrize(
    ("ticks", "room", "kept"),
    [
        ((1, 5, 10, 15, 20), 0.3, (1, 5, 10, 15, 20)),
        ((1, 5, 10, 15, 20), 0.45, (5, 10, 15, 20)),
        ((1, 5, 10, 15, 20), 0.8, (1, 10, 20)),
        ((1, 2, 3, 4, 5, 6), 0.25, (1, 4)),
        ((1,), 5.0, (1,)),
        ((1, 5), 5.0, (5,)),
    ],
)
def test_ticks_leave_each_other_room(ticks, room, kept):
    assert thinned(ticks, room, 0.1) == kept
