"""Page, titles of figures and advice claim what the findings say may be claimed, and nothing else."""

from __future__ import annotations

import random
import re
from collections.abc import Iterator
from html import unescape
from pathlib import Path
from typing import Any

import pytest

from drivekit.lab.season_controls import comparison_drawing
from drivekit.lab.season_study import Study
from drivekit.log.season import read_season
from drivekit.show.forest import differences_picture, forest_picture
from drivekit.show.hazard_words import curved
from drivekit.show.page import cannot_tell, pages, pictures
from drivekit.show.phrases import leading, ratio_said, wording
from drivekit.show.team_words import todo_words
from drivekit.show.words import answer, curves_answer, exploratory_answer, levels_answer
from drivekit.study.findings import study
from drivekit.study.study_input import Settings
from tests.show.six_logs import demo_findings, logged

ROOT = Path(__file__).parents[2]
# what is held against the claims is words, and these stand beside the drawings
pytestmark = pytest.mark.usefixtures("undrawn")

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


def seeded(seed: int) -> list[dict[str, Any]]:
    """Draw an awkward log: few belts or many, an effect or none, one level rare, swapped settings, used belts."""
    draw = random.Random(seed)
    effect, thin, spread = draw.choice([1.0, 0.6, 0.3]), draw.random() < 0.3, draw.choice([200, 1500, 3000])
    swaps, came, cars = draw.random() < 0.4, draw.choice([0.0, 0.5]), draw.choice([["red"], ["red", "blue", "green"]])
    belts = []
    for _ in range(draw.choice([9, 16, 30, 48])):
        idler = "toothed" if draw.random() < (0.15 if thin else 0.5) else "smooth"
        tension = [round(draw.gauss(8000, spread / 2)) for _ in range(3)]
        hazard = 0.12 * (effect if idler == "toothed" else 1) * (1 + abs(tension[0] - 8000) / 3000 * (seed % 3 == 0))
        lasts, kept = 1 + int(draw.expovariate(hazard)), draw.randint(2, 18)
        belts.append(
            {"car": draw.choice(cars), "idler": [idler, "smooth"] if swaps else idler, "tension_n": tension}
            | {
                "edge_lube": draw.choice(["none", "install", "every-run"]),
                "compound": draw.choice(["rubber", "urethane"]),
            }
            | {
                "runs": min(lasts, kept),
                "failed": lasts <= kept,
                "runs_before": draw.choice([2, 5]) * (draw.random() < came),
            }
            | {"off": draw.choice([{"fate": "kept"}, {"fate": "retired", "cause": "precaution"}])}
        )
    return belts


SEASONS = ("season-one", "season-two", "the reference")


def studied_log(name: str | int, folder: Path) -> dict[str, Any]:
    if name == "the reference":
        return study(read_season(ROOT / "tests" / "reference" / "season"))
    if name in SEASONS:
        return demo_findings(str(name))
    return study(logged(folder, seeded(name) if isinstance(name, int) else list(AWKWARD[name])))


@pytest.fixture(scope="module", params=[*SEASONS, *AWKWARD], ids=str)
def found(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    return studied_log(request.param, tmp_path_factory.mktemp("log"))


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


WAY = re.compile(
    r"\d (more|fewer) of their|% (more|fewer) failures a run|times as many failures|lasted best|they lasted"
)
DOUBTS = {"A hint, not proof": "hint", "o difference as large as a run": "alike", "Too few belts to tell": "too few"}


def kind(sentence: str) -> str:
    """Read what a sentence claims: a doubt, or a direction without one."""
    doubt = next((kind for words, kind in DOUBTS.items() if words.lower() in sentence.lower()), "")
    return doubt or ("told" if WAY.search(sentence) else "")


def read(found: dict[str, Any], name: str) -> dict[str, str]:
    """Read all that is said of one planned question: answer, picture titles, ratios, and the advice of workbook 09."""
    said = answer(found, name)
    sentences = {"answer": said.finding, "curves": curves_answer(found, name).finding}
    sentences["levels"] = levels_answer(found, name).finding
    if "reason" not in found["hazard"]:
        for term in found["comparisons"][name]["terms"]:
            if term in found["hazard"]["terms"] and not curved(found, term):
                sentences[term] = ratio_said(found, leading(found["hazard"], term))
    advice = dict(zip(found["headline"], todo_words(found), strict=True))[name]
    starts = {"Run": "told", "Set": "told", "Do as": "alike"}
    kinds = {where: kind(words) for where, words in sentences.items()}
    kinds["advice"] = next((kind for start, kind in starts.items() if advice.startswith(start)), "")
    kinds["advice"] = kinds["advice"] or ("hint" if "a hint" in advice else "too few" if "too few" in advice else "")
    return kinds


def contradictions(found: dict[str, Any]) -> Iterator[str]:
    """Find what of the page, the titles and the advice goes against the claims, or against the answer."""
    told = []
    for name, claim in found["claims"].items():
        kinds = read(found, name)
        if "told" in kinds.values():
            told.append(name)
            if not claim.get("claimed"):
                yield f"{name} is told without a claim: {kinds}"
        if kinds["answer"] != kinds["advice"]:
            yield f"{name} is advised otherwise than answered: {kinds}"
        if {"told", "hint"} & set(kinds.values()) and "alike" in kinds.values():
            yield f"{name} is alike and is not: {kinds}"
        if "told" in kinds.values() and kinds["answer"] != "told":
            yield f"{name} is told in one place only: {kinds}"
        own = [term for term in found["comparisons"][name]["terms"] if len(found["comparisons"][name]["terms"]) == 1]
        if kinds["answer"] in ("hint", "too few") and any(
            kinds.get(term, kinds["answer"]) != kinds["answer"] for term in own
        ):
            yield f"{name} is doubted otherwise by its ratio: {kinds}"
        ways = {way.removeprefix("hint ") for part in ("pairs", "terms") for way in claim.get(part, {}).values()}
        if len(claim.get("pairs", {})) == 1 and ways in ({"longer", "more"}, {"shorter", "fewer"}):
            yield f"{name} goes both ways: {claim}"
    nouns = {name: wording(found, name).noun for name in found["headline"]}
    drawn = {draw: draw(found) for draw in (differences_picture, forest_picture)}
    titles = [picture.title for picture in drawn.values() if picture is not None]
    for title in titles:
        none = title.startswith("For none of the settings") or "for none of them" in title
        if none == bool(told):
            yield f"{told or 'nothing'} is told, and the title is: {title}"
    few = next((line for line in cannot_tell(found) if "too few belts to tell" in line), "")
    for name, noun in nouns.items():
        if noun in few and read(found, name)["answer"] in ("told", "hint", "alike"):
            yield f"{noun} is answered, and too few: {few}"


def test_page_titles_and_advice_never_contradict_each_other_or_the_claims(found: dict[str, Any]) -> None:
    assert list(contradictions(found)) == []


@pytest.mark.parametrize("seed", range(12))
def test_nor_do_they_on_seeded_awkward_logs(seed: int, tmp_path: Path) -> None:
    assert list(contradictions(studied_log(seed, tmp_path))) == []


ALIKE = re.compile(r"o difference as large as a run: (with|belts)|it makes no difference as large|Do as suits|0 to 0\)")

# What a crew once read wrongly, on the page and in the workbooks, each log as it was met.


@pytest.fixture
def page(tmp_path: Path) -> Any:
    """Study a log written belt by belt: its season, its findings, and the text of its page and evidence."""

    def text(belts: list[dict[str, Any]]) -> tuple[Any, dict[str, Any], str]:
        season = logged(tmp_path, belts)
        findings = study(season)
        read = re.sub(r"<[^>]+>", "", unescape("".join(pages(findings).values())))
        return season, findings, read.replace("\xa0", " ")

    return text


def drawing(season: Any, findings: dict[str, Any], name: str, car: str) -> str:
    """Read what the curves of workbook 02 say of a setting on one car."""
    asked = Study(season, Settings(), findings)
    comparison = next(one for one in asked.comparisons if one.name == name)
    return comparison_drawing(asked, comparison, car).sentences[0]


def test_a_clear_cut_log_reads_as_the_failures_it_tells_and_is_advised_with_its_horizon(page: Any) -> None:
    _, findings, text = page(AWKWARD["clear-cut"])
    titles = [picture.title for picture in pictures(findings).values()]
    assert any("elts on the toothed idler had 98 % fewer failures a run than on the smooth" in one for one in titles)
    assert "Run belts on the toothed idler until it is tested turn about; this speaks of their first 5 runs." in text
    assert "A difference in belt life can be told for the idler" in text
    assert not ALIKE.search(text)


def test_a_first_evening_reads_too_few_belts_and_nothing_alike(page: Any) -> None:
    _, findings, text = page(AWKWARD["first evening"])
    assert [kind(answer(findings, name).finding) for name in ("idler", "tension")] == ["too few", "too few"]
    assert "Leave the idler as it is: too few belts to tell." in text
    assert not ALIKE.search(text)


def test_a_tension_that_was_nearly_one_reads_so_and_has_neither_ratio_nor_advice(page: Any) -> None:
    _, _, text = page(AWKWARD["one tension"])
    assert "tension was nearly the same on all runs: 8 in 10 lay between 8,044 and 8,346 N" in text
    assert not re.search(r"more tension went with \d", text)
    assert "Set belts between" not in text


def test_one_belt_of_a_compound_reads_too_few_on_the_page_and_in_workbook_02(page: Any) -> None:
    belts = [of_belts(n) | {"runs": 3 + n % 9, "failed": n % 2 == 0, "compound": "rubber"} for n in range(30)]
    season, findings, text = page([*belts, of_belts(1) | {"runs": 1, "failed": True, "compound": "urethane"}])
    said = "xploratory: too few belts to tell: belts of urethane made 6.0 fewer of their first 8 runs"
    assert said in text
    assert said in drawing(season, findings, "compound", "all cars")
    assert "cannot be compared" in drawing(season, findings, "compound", "red")


def test_five_belts_on_a_guest_car_read_too_few_in_workbook_02(page: Any) -> None:
    home = [of_belts(n) | {"runs": 2 + n % 9, "failed": n % 3 > 0, "car": "red"} for n in range(40)]
    ends = ((2, False), (9, False), (9, True), (10, False), (10, True))
    guest = [
        {"car": "guest", "idler": idler, "runs": n, "failed": failed}
        for idler in ("smooth", "toothed")
        for n, failed in ends
    ]
    season, findings, _ = page(home + guest)
    said = drawing(season, findings, "idler", "guest")
    assert said.startswith("Too few belts to tell: with cars and other settings as they fell, ")
