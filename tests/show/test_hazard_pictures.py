"""Pictures of the hazard study hold what the findings hold, and are drawn as they say."""

import numpy as np
import pytest

from drivekit.show.curves import standardised_picture
from drivekit.show.forest import forest_picture, methods_picture
from drivekit.show.hazard_pictures import (
    drift_picture,
    influence_picture,
    risk_picture,
    surprise_picture,
    tension_picture,
)
from drivekit.show.paper import SIZES
from tests.show.artists import by_gid, overlapping, said, texts

IDLER = "idler[toothed]"
DRAW = {
    "forest": forest_picture,
    "methods": methods_picture,
    "tension_curve": tension_picture,
    "standardised_idler": lambda found: standardised_picture(found, "idler"),
    "drift": drift_picture,
    "surprise": surprise_picture,
    "influence": influence_picture,
    "risk": risk_picture,
}


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("name", DRAW)
@pytest.mark.parametrize("of", ["season", "alike_season"])
def test_no_words_overlap_and_none_leaves_the_paper(request, of, name, size):
    fig = DRAW[name](request.getfixturevalue(of)).figure(size)
    found, (wide, high) = texts(fig), 72 * fig.get_size_inches()
    for text, box in found:
        assert (box > -1).all(), said(text)
        assert (box < np.array([wide, high] * 2) + 1).all(), said(text)
    assert not overlapping(found)


def test_standardised_lives_are_steps_with_stepped_bands_to_the_horizon(alike_season):
    picture = standardised_picture(alike_season, "idler")
    drawn = by_gid(picture.figure())
    block = alike_season["standardised"]["idler"]
    for level, curve in block["levels"].items():
        line = drawn[f"curve:{level}"]
        assert line.get_drawstyle() == "steps-post"
        assert list(line.get_xdata()) == [0, 1, 2, 3, 4, 5, 6]
        np.testing.assert_allclose(line.get_ydata(), [100, *(100 * share for share in curve["survival"])])
        corners = {(round(float(x), 9), round(float(y), 9)) for x, y in drawn[f"band:{level}"].get_paths()[0].vertices}
        for age, low, up in zip(curve["age"][:-1], curve["lower"], curve["upper"], strict=False):
            assert {(age, round(100 * low, 9)), (age, round(100 * up, 9))} <= corners
    assert not [gid for gid in drawn if gid.startswith("risk")]
    assert picture.subtitle == (
        "The same 40 belts once all on the smooth idler and all on the toothed idler: share not failed after each run, "
        "each belt on its car and with the other settings of its first run."
    )
    assert picture.note == (
        "Bands: 95 %, point by point. Limits from 999 draws of belts, of which 4 had no estimate and were left out. "
        "These are invented data: no belt, car or meeting in them is real."
    )


def test_standardised_lives_without_limits_are_drawn_bare_and_say_why(season):
    picture = standardised_picture(season, "idler")
    drawn = by_gid(picture.figure())
    assert [gid for gid in drawn if gid.startswith("curve:")] == ["curve:smooth", "curve:toothed"]
    assert not [gid for gid in drawn if gid.startswith("band:")]
    assert picture.note.startswith(
        "Limits from 999 draws of belts, of which 141 had no estimate and were left out; no limits are given, for too "
        "many draws of belts gave no estimate."
    )
    assert standardised_picture(season, "edge_lube") is None


def test_without_a_hazard_study_nothing_is_drawn(season):
    season["hazard"] = season["tension_curve"] = {"reason": "nothing failed"}
    season["standardised"] = {"idler": {"reason": "nothing failed"}, "edge_lube": {"reason": "nothing failed"}}
    assert {name: draw(season) for name, draw in DRAW.items()} == dict.fromkeys(DRAW)
