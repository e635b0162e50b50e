"""A season beside an earlier one: the sentences against the numbers, the watch against the evidence."""

from __future__ import annotations

import copy
from pathlib import Path
from typing import Any

import pytest

from drivekit.log import read_season
from drivekit.show.page import pages, pictures
from drivekit.show.two_seasons import (
    belts_words,
    life_words,
    pooled_words,
    seasons_picture,
    setups_rows,
    watch_picture,
    watch_words,
)
from drivekit.study.findings import study

DATA = Path(__file__).parents[2] / "data"


@pytest.fixture(scope="module")
def found() -> dict[str, Any]:
    return study(read_season(DATA / "season-two"), against=read_season(DATA / "season-one"))


def alarmed(found: dict[str, Any], side: str) -> dict[str, Any]:
    """Give the findings of a season whose evidence crosses the line at run 300."""
    changed = copy.deepcopy(found)
    watch = changed["watch"]
    watch[side] = [value if run < 300 else 200.0 for run, value in zip(watch["run"], watch[side], strict=True)]
    watch[f"alarm_{side}_run"] = 300
    return changed


def test_the_season_s_own_term_is_said_with_its_limits(found: dict[str, Any]) -> None:
    term = found["against"]["hazard"]["season_term"]
    said = life_words(found)
    assert f"{term['hr']:.2f} times the failures a run ({term['lower']:.2f} to {term['upper']:.2f})" in said[2]
    assert "too few belts to tell" in said[1]


def test_a_season_that_cannot_be_told_from_the_cars_says_why(found: dict[str, Any]) -> None:
    changed = copy.deepcopy(found)
    changed["against"]["hazard"]["season_term"] |= {"hr": None, "reason": "no car ran in both"}
    assert "With the settings alike, one season cannot be told from the other: no car ran in both." in life_words(
        changed
    )


def test_both_seasons_together_are_said_as_they_are_computed_and_claim_what_both_tell(found: dict[str, Any]) -> None:
    pooled = found["against"]["pooled"]
    head, said = pooled["headline"]["idler"], pooled_words(found)[0]
    assert f"make {head['estimate']:.1f} more of their first {head['horizon_runs']} runs" in said
    assert f"({100 * head['confidence']:g} %: {head['lower']:.1f} to {head['upper']:.1f})" in said
    assert pooled["claims"]["idler"]["claimed"]
    assert "hint" not in said
    doubted = copy.deepcopy(found)
    doubted["against"]["pooled"]["claims"]["idler"] |= {
        "claimed": False,
        "pairs": {"toothed minus smooth": "hint longer"},
    }
    assert pooled_words(doubted)[0].startswith("A hint, not proof")
    changed = copy.deepcopy(found)
    changed["against"]["pooled"] = {"reason": "no belt failed"}
    assert pooled_words(changed) == ["The two seasons give no answer together: no belt failed."]


def test_belts_of_both_logs_are_named(found: dict[str, Any]) -> None:
    changed = copy.deepcopy(found)
    why = "it had 4 runs at the end of the earlier log and brings 5"
    changed["against"]["belts"] = {"one": ["A", "B"], "apart": [{"belt": "C", "why": why}]}
    assert belts_words(changed) == [
        "2 belts went on from the earlier log: A and B.",
        f"C stands in both logs and is taken as two belts: {why}.",
    ]


def test_a_watch_that_told_nothing_says_how_far_it_came_and_one_that_told_says_from_when(found: dict[str, Any]) -> None:
    watch = found["watch"]
    most = max(*watch["worse"], *watch["better"])
    assert f"the evidence reached {most:.2g}, and {watch['alarm']:.0f} is asked" in watch_words(found)[1]
    for side, more in (("worse", "more"), ("better", "fewer")):
        changed = alarmed(found, side)
        sentence = f"From run 300 on it is told: {more} failures than season-one leads to expect."
        assert watch_words(changed)[1].startswith(sentence)
        picture = watch_picture(changed)
        assert picture is not None
        assert picture.title == watch_words(changed)[1]


def test_the_picture_of_the_watch_draws_counts_evidence_and_the_line_it_must_cross(found: dict[str, Any]) -> None:
    picture, watch = watch_picture(found), found["watch"]
    assert picture is not None
    drawn = {artist.get_gid(): artist for artist in picture.figure().findobj() if artist.get_gid()}
    assert drawn["curve:seen"].get_ydata().tolist() == watch["observed_by_run"]
    assert drawn["curve:expected"].get_ydata().tolist() == pytest.approx(watch["expected_by_run"])
    assert drawn["curve:more failures"].get_ydata().tolist() == pytest.approx([max(0.01, e) for e in watch["worse"]])
    assert drawn["rule:alarm"].get_ydata()[0] == watch["alarm"]


def test_the_lives_of_both_seasons_stand_in_one_picture(found: dict[str, Any]) -> None:
    picture = seasons_picture(found)
    assert picture is not None
    drawn = {artist.get_gid() for artist in picture.figure().findobj() if artist.get_gid()}
    assert {"curve:earlier", "curve:later"} <= drawn


def test_shares_of_the_set_ups_add_up(found: dict[str, Any]) -> None:
    rows = {row[0]: row[1:] for row in setups_rows(found)}
    for season in (0, 1):
        shares = [int(rows[f"idler: {level}"][season].split()[0]) for level in ("smooth", "toothed")]
        assert sum(shares) == 100


def test_the_page_has_the_section_only_with_an_earlier_season(found: dict[str, Any]) -> None:
    heading = "How does this season stand beside the earlier one?"
    assert heading in pages(found)["findings.html"]
    alone = {name: block for name, block in found.items() if name not in ("against", "watch")}
    assert heading not in pages(alone)["findings.html"]
    assert {"seasons", "watch"} == set(pictures(found)) - set(pictures(alone))


def test_a_watch_that_cannot_be_had_is_a_reason_and_no_picture(found: dict[str, Any]) -> None:
    changed = {**found, "watch": {"reason": "the earlier season saw 2 failures, and its rates take 5 at least"}}
    assert watch_picture(changed) is None
    assert watch_words(changed) == [
        "There is no watch over this season: the earlier season saw 2 failures, and its rates take 5 at least."
    ]
