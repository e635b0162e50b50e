"""Page, titles of figures and advice claim what the findings say may be claimed, and nothing else."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from drivekit.log.season import read_season
from drivekit.show.forest import differences_picture, forest_picture
from drivekit.show.page import pages
from drivekit.show.phrases import wording
from drivekit.show.ratios import leading, ratio_said
from drivekit.show.team_words import todo_words
from drivekit.show.words import answer, curves_answer, exploratory_answer
from drivekit.study.findings import study

ROOT = Path(__file__).parents[2]
DIRECTIONS = {"longer", "shorter", "fewer", "more"}


def of_belts(number: int) -> dict[str, Any]:
    """Give one belt of a log that was once said wrongly, by its number: see `AWKWARD`."""
    return {"car": ("red", "blue")[number % 2], "idler": ("smooth", "toothed")[number // 2 % 2]}


AWKWARD: dict[str, Iterator[dict[str, Any]] | list[dict[str, Any]]] = {
    "clear-cut": [
        {"car": "red", "idler": idler, "runs": runs, "failed": idler == "smooth"}
        for idler, runs in (("smooth", 4), ("toothed", 15))
        for _ in range(8)
    ],
    "first evening": [
        of_belts(n) | {"runs": 5, "failed": n in (0, 5), "tension_lbf": 1500 + 60 * n} for n in range(12)
    ],
    "one tension": [
        of_belts(n) | {"runs": 2 + n % 7, "failed": n % 3 > 0, "tension_n": 8000 + 10 * n} for n in range(40)
    ],
    "idler by car": [
        {"car": car, "idler": idler, "runs": 2 + n % 7, "failed": n % 3 > 0}
        for n in range(14)
        for car, idler in (("red", "smooth"), ("blue", "toothed"))
    ],
    "a level that never failed": [of_belts(n) | {"runs": 2 + n % 9, "failed": n // 2 % 2 == 0} for n in range(40)],
    "tighter is better": [
        of_belts(n) | {"runs": 3 + n // 6, "failed": n < 34, "tension_n": 5000 + 100 * n} for n in range(48)
    ],
}


def logged(folder: Path, belts: list[dict[str, Any]]) -> Any:
    runs = []
    for number, belt in enumerate(belts):
        rest = {key: value for key, value in belt.items() if key not in ("runs", "failed")}
        for run in range(belt["runs"]):
            ended = belt["failed"] and run == belt["runs"] - 1
            fate = {"fate": "broke", "cause": "tooth-jump"} if ended else {"fate": "kept", "cause": ""}
            runs.append({"run": len(runs) + 1, "day": "2031-04-01", "belt": f"B{number:03d}", **rest, **fate})
    for name, rows in (("belts", [{"belt": f"B{number:03d}"} for number in range(len(belts))]), ("runs", runs)):
        with (folder / f"{name}.csv").open("w", newline="") as file:
            writer = csv.DictWriter(file, list(rows[0]))
            writer.writeheader()
            writer.writerows(rows)
    return read_season(folder)


@pytest.fixture(
    scope="module", params=["data/season-one", "data/season-two", "tests/reference/season", *AWKWARD], ids=str
)
def found(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    if request.param in AWKWARD:
        return study(logged(tmp_path_factory.mktemp("log"), list(AWKWARD[request.param])))
    return study(read_season(ROOT / request.param))


def test_a_level_is_called_better_and_advised_only_where_its_question_is_told(found: dict[str, Any]) -> None:
    for name, advice in zip(found["headline"], todo_words(found), strict=True):
        said, claim = answer(found, name), found["claims"][name]
        ways = {*claim.get("pairs", {}).values(), *claim.get("terms", {}).values()}
        assert not said.better or (claim["claimed"] and ways & DIRECTIONS)
        assert advice.startswith("Run belts") == bool(said.better)
        assert advice.startswith("Set belts") == (said.verdict == "best")
        assert said.verdict != "best" or claim["claimed"]
        assert ("A hint, not proof: " in str(said)) == (said.verdict == "hint")
        assert str(said).startswith("No difference as large as a run: ") == (said.verdict == "no difference")
        if said.better:
            assert f"Run belts {wording(found, name).phrase(said.better)}" in advice
            assert "; this speaks of their first " in advice


def test_the_curves_alone_never_claim_beyond_the_answer(found: dict[str, Any]) -> None:
    for name in found["headline"]:
        alone, said = curves_answer(found, name), answer(found, name)
        if alone.verdict in ("longer", "shorter"):
            assert found["claims"][name]["claimed"]
            assert alone.better == (said.better or alone.better)


def test_what_nobody_planned_claims_no_direction(found: dict[str, Any]) -> None:
    for name in found["life"]["more"]:
        assert exploratory_answer(found, name).verdict in ("hint", "no difference", "too few", "no answer")


def test_titles_name_only_what_is_told(found: dict[str, Any]) -> None:
    told = [name for name, claim in found["claims"].items() if claim.get("claimed")]
    nouns = {wording(found, name).noun: name for name in found["headline"]}
    if (differences := differences_picture(found)) is not None:
        claimed = differences.title.partition("; not for ")[0] if "can be told for" in differences.title else ""
        assert all(nouns[noun] in told for noun in nouns if noun in claimed)
    if (forest := forest_picture(found)) is not None:
        ways = [way for claim in found["claims"].values() for way in claim.get("terms", {}).values()]
        directions = any("% fewer" in part or "% more" in part or " times as many" in part for part in [forest.title])
        assert not directions or DIRECTIONS & set(ways)


def test_a_ratio_is_said_without_a_doubt_only_where_its_question_is_told(found: dict[str, Any]) -> None:
    if "reason" in found["hazard"]:
        return
    for name, words in found["comparisons"].items():
        for term in (term for term in words["terms"] if term in found["hazard"]["terms"]):
            said = ratio_said(found, leading(found["hazard"], term))
            bare = not said.startswith(("A hint, not proof: ", "Too few belts to tell: ", "What "))
            assert not bare or found["claims"][name]["claimed"]


def test_the_page_says_no_width_of_zero_and_no_sameness_that_was_not_judged(found: dict[str, Any]) -> None:
    text = "".join(pages(found).values())
    assert "95 %: 0 to 0)" not in text
    verdicts = [way for claim in found["claims"].values() for way in claim.get("pairs", {}).values()]
    verdicts += [
        way for block in found["life"]["more"].values() for way in block.get("claims", {}).get("pairs", {}).values()
    ]
    if "no difference" not in verdicts:
        assert "o difference as large as a run: with car" not in text
