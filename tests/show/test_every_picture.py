"""What a reader sees of every picture at every size: words apart and on the paper, sizes shared, names at ends."""

import copy
from itertools import pairwise

import numpy as np
import pytest

from drivekit.show.page import first_screen, pictures
from drivekit.show.paper import SIZES, width
from tests.show.artists import crosses, gap, overlapping, said, texts
from tests.show.conftest import AWKWARD
from tests.show.six_logs import demo_findings

LEAST_POINTS = {"slide": 14, "print": 7, "screen": 8, "phone": 8}
LIVES = ("overall", "idler", "tension", "edge_lube", "idler_support", "compound", "width")


@pytest.fixture(scope="session")
def demos(demo):
    """Findings of both invented seasons, each studied once."""
    return {"season-one": demo_findings("season-one"), "season-two": demo}


@pytest.fixture(params=("season-one", "season-two"))
def invented(request, demos):
    """Findings of an invented season."""
    return demos[request.param]


def look(picture, size, *, bare=False):
    """Hold what holds for every picture, and give its figure and its words with their boxes in points."""
    fig = picture.figure(size, bare=bare)
    found, (wide, high) = texts(fig), 72 * fig.get_size_inches()
    shared = {SIZES[size].title, SIZES[size].text, SIZES[size].small}
    for text, box in found:
        assert (box > -1).all(), (picture.name, said(text))
        assert (box < np.array([wide, high] * 2) + 1).all(), (picture.name, said(text))
        assert text.get_fontsize() >= LEAST_POINTS[size], (picture.name, said(text))
        assert text.get_fontsize() in shared, (picture.name, said(text), text.get_fontsize())
        assert "\N{HORIZONTAL ELLIPSIS}" not in text.get_text(), (picture.name, said(text))
    assert not overlapping(found), picture.name
    return fig, found


def hold_names_at_their_ends(picture, fig, found):
    """Within 6 points or joined by a thin leader, and from top to bottom in the order of the ends."""
    named = list(names_and_ends(fig, found))
    for name, text, box, end in named:
        if gap(box, end) > 6.5:
            assert text.arrow_patch is not None, (picture.name, name)
            assert text.arrow_patch.get_gid() == f"leader:{name}"
            assert text.arrow_patch.get_linewidth() < 1
            way = text.arrow_patch.get_transform().transform_path(text.arrow_patch.get_path()).vertices
            assert np.hypot(*(way * 72 / fig.dpi - end).T).min() < 1, (picture.name, name)
    by_panel = sorted(named, key=lambda each: (id(each[1].axes), -each[3][1]))
    for (one, text, a, here), (other, beside, b, there) in pairwise(by_panel):
        if text.axes is not beside.axes:
            continue
        # those at ends of one height may stand either way
        assert here[1] - there[1] < 0.5 or a[1] + a[3] >= b[1] + b[3] - 0.5, (picture.name, one, other)


def names_and_ends(fig, found):
    """Names at curves: the name, its text and box, and the end of its curve, which is where it comes to 0."""
    curves = {line.get_gid()[6:]: line for line in fig.findobj(lambda one: (one.get_gid() or "").startswith("curve:"))}
    for text, box in found:
        name = (text.get_gid() or "").removeprefix("label:")
        if name in curves and getattr(text, "xycoords", "") == "data":
            low, high = text.axes.get_ylim()
            x, y = curves[name].get_xydata()[(low <= curves[name].get_ydata()) & (curves[name].get_ydata() <= high)].T
            last = int(np.argmax(y < 1e-7)) if y[-1] < 1e-7 else -1
            yield name, text, box, curves[name].get_transform().transform((x[last], y[last])) * 72 / fig.dpi


def hold_words_clear_of_curves(picture, fig, found):
    """Names and numbers of life curves cover neither a curve nor a line down from a median."""
    lines = fig.findobj(
        lambda one: (one.get_gid() or "").startswith(("curve:", "median:")) and hasattr(one, "get_xydata")
    )
    for text, box in found:
        gid = text.get_gid() or ""
        if gid.startswith(("label:", "median:", "censored:")):
            inner = box + np.array([0.5, 0.15 * (box[3] - box[1]), -0.5, -0.15 * (box[3] - box[1])])
            assert not [line.get_gid() for line in lines if crosses(line, inner)], (picture.name, gid)


@pytest.mark.parametrize("size", SIZES)
def test_every_picture_of_the_invented_seasons_reads_well_at_every_size(invented, size):
    for name, picture in pictures(invented).items():
        fig, found = look(picture, size)
        hold_names_at_their_ends(picture, fig, found)
        if name in LIVES:
            hold_words_clear_of_curves(picture, fig, found)


@pytest.mark.parametrize("size", ["screen", "phone"])
def test_pictures_on_the_page_read_well_without_their_words(invented, size):
    for picture in pictures(invented).values():
        look(picture, size, bare=True)


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("name", AWKWARD)
def test_pictures_of_findings_hard_to_draw_read_well_at_every_size(name, size):
    every = pictures(AWKWARD[name]())
    # the awkward findings differ in their idlers, and are the usual season otherwise
    for picture in every.values() if name == "a usual season" else (every["idler"], every["differences"]):
        look(picture, size)


def test_the_pictures_of_the_first_screen_are_of_one_size_and_scale_and_their_ticks_counted_alike(invented):
    every = pictures(invented)
    shown = first_screen(invented, every)
    figures = {name: picture.figure("phone", bare=True) for name, picture in shown.items()}
    assert len(figures) == 3
    assert len({tuple(fig.get_size_inches()) for fig in figures.values()}) == 1
    axes = {name: fig.axes[0] for name, fig in figures.items()}
    for one in axes.values():
        assert one.bbox.width == pytest.approx(axes["idler"].bbox.width, rel=0.01)
        assert one.bbox.height == pytest.approx(axes["idler"].bbox.height, rel=0.01)
    lives = [one for name, one in axes.items() if shown[name] is not every["tension_curve"]]
    assert len({tuple(one.get_yticks()) for one in lives}) == 1
    standardised = [one for name, one in axes.items() if shown[name] is every.get(f"standardised_{name}")]
    assert len({one.get_xlim() for one in standardised}) == 1
    assert len({tuple(one.get_xticks()) for one in standardised}) == 1


def test_plain_lives_and_standardised_ones_stand_side_by_side_on_one_scale(demos):
    head = demos["season-one"]["headline"]
    plain = {name: part for name, part in head["edge_lube"].items() if name not in ("basis", "lives")}
    found = {**demos["season-one"], "headline": {**head, "edge_lube": plain}}
    shown = first_screen(found, pictures(found))
    assert [shown[name].name for name in ("idler", "edge_lube")] == ["standardised_idler", "edge_lube_bare"]
    lives = [shown[name].figure("phone", bare=True).axes[0] for name in ("idler", "edge_lube")]
    oldest = found["life"]["overall"]["age"][-1]
    assert {axes.get_xlim() for axes in lives} == {(0, oldest + 0.3)}
    assert len({tuple(axes.get_xticks()) for axes in lives}) == 1


def test_letters_that_the_font_lacks_are_drawn_as_squares_and_without_a_word(demo, recwarn):
    found = copy.deepcopy(demo)
    found["outlook"][0] |= {"belt": "ベルト0", "car": "赤い車"}
    assert width("車", 72) == 1.0
    picture = pictures(found)["outlook"]
    assert "ベルト0" in picture.svg()
    assert picture.png().startswith(b"\x89PNG")
    assert not recwarn.list
