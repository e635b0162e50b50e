"""Two seasons side by side: the invented ones, and small ones made by hand."""

from __future__ import annotations

import json
from math import log
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest

from drivekit.life.curve import curve
from drivekit.log import read_season
from drivekit.log.demo_truth import TRUTH
from drivekit.log.season import run_table
from drivekit.study.findings import schema, study
from drivekit.study.study_input import Settings, StudyInput
from drivekit.study.two_seasons import Seasons, scored_block
from tests.show.six_logs import changed, demo_findings

DATA = Path(__file__).parents[2] / "data"
BELTS = "belt,runs_before\n"
RUNS = "run,day,car,belt,idler,fate,cause\n"


@pytest.fixture(scope="module")
def found() -> dict[str, Any]:
    return study(read_season(DATA / "season-two"), against=read_season(DATA / "season-one"))


def log_of(folder: Path, belts: str, runs: str) -> Any:
    folder.mkdir()
    (folder / "belts.csv").write_text(BELTS + belts)
    (folder / "runs.csv").write_text(RUNS + runs)
    return read_season(folder)


def made(belt: str, many: int, first: int, fate: str = "kept", cause: str = "") -> str:
    ends = ["kept,"] * (many - 1) + [f"{fate},{cause}"]
    return "".join(f"{first + at},2026-03-01,amber,{belt},smooth,{end}\n" for at, end in enumerate(ends))


def test_findings_with_an_earlier_season_keep_the_schema(found: dict[str, Any]) -> None:
    text = json.dumps(found, allow_nan=False)
    jsonschema.validate(json.loads(text), schema())


def test_an_earlier_season_moves_nothing_of_this_one(found: dict[str, Any]) -> None:
    alone = demo_findings("season-two")
    for name in set(alone) - {"comparisons", "claims"}:
        assert found[name] == alone[name]
    assert set(found) - set(alone) == {"against", "watch"}


def test_odds_of_the_earlier_season_are_scored_against_its_own_base_rate(found: dict[str, Any]) -> None:
    odds, life = found["against"]["odds"], found["against"]["life"]["overall"]
    rate, failed = life["failed"] / life["runs"], odds["failed"] / odds["runs"]
    assert odds["base_brier"] == pytest.approx((1 - rate) ** 2 * failed + rate**2 * (1 - failed))
    assert odds["gain"]["estimate"] == pytest.approx(odds["base_brier"] - odds["brier"])
    assert odds["gain"]["lower"] < odds["gain"]["estimate"] < odds["gain"]["upper"]
    assert sum(third["runs"] for third in odds["thirds"]) == odds["runs"] <= odds["made"]
    seen = sum(third["runs"] * third["failed"] for third in odds["thirds"])
    assert seen == pytest.approx(odds["failed"])


def test_odds_of_a_season_on_one_idler_are_scored_on_the_runs_made_on_that_one(tmp_path: Path) -> None:
    first = StudyInput(run_table(changed(tmp_path / "smooth", lambda row: row | {"idler": "smooth"})), Settings())
    table = run_table(read_season(DATA / "season-two"))
    on_it = table.where(table["idler"] == "smooth")
    both, alone = (scored_block(first, StudyInput(runs, Settings())) for runs in (table, on_it))
    assert 0 < both["runs"] <= len(on_it) < both["made"] == len(table)
    assert both["gain"]["estimate"] == pytest.approx(alone["gain"]["estimate"])
    # belts are drawn among others for the limits
    assert {**both, "made": len(on_it), "gain": alone["gain"]} == alone


def test_odds_are_not_scored_on_two_belts() -> None:
    first, table = (run_table(read_season(DATA / season)) for season in ("season-one", "season-two"))
    two = StudyInput(table.where(np.isin(table["belt"].astype(str), ["B12", "B15"])), Settings())
    assert scored_block(StudyInput(first, Settings()), two) == {
        "reason": "fewer than 3 belts of this season made a run at an age that the earlier one knew on that car"
    }


def test_a_season_of_one_tension_parts_the_earlier_one_there(tmp_path: Path) -> None:
    later = changed(tmp_path / "later", lambda row: row | {"tension_n": "9000"})
    seasons = Seasons.of(StudyInput(run_table(later)), later, read_season(DATA / "season-one"))
    assert seasons.earlier.tension_cuts == (9000, 9000)


def test_the_earlier_season_is_told_as_its_own_study_with_this_ones_horizon_tells_it(found: dict[str, Any]) -> None:
    alone = demo_findings("season-one")
    assert found["against"]["log"] == alone["log"]
    for name in ("age", "survival", "lower", "upper", "median", "b10"):
        assert found["against"]["life"]["overall"][name] == alone["life"]["overall"][name]
        assert found["against"]["life"]["season"]["levels"]["earlier"][name] == alone["life"]["overall"][name]
        assert found["against"]["life"]["season"]["levels"]["later"][name] == found["life"]["overall"][name]


def test_both_seasons_together_hold_the_truth_and_narrower_than_either(found: dict[str, Any]) -> None:
    each = [demo_findings(name)["hazard"]["terms"] for name in ("season-one", "season-two")]
    pooled = found["against"]["pooled"]["terms"]
    truth = {
        "idler[toothed]": TRUTH.idler["toothed"],
        "edge_lube[install]": TRUTH.edge_lube["install"],
        "edge_lube[every-run]": TRUTH.edge_lube["every-run"],
    }
    for term, ratio in truth.items():
        both = pooled[term]
        assert both["lower"] < ratio < both["upper"]
        assert log(both["upper"] / both["lower"]) < min(log(one[term]["upper"] / one[term]["lower"]) for one in each)


def test_the_bend_of_tension_in_both_together_lies_about_the_true_best(found: dict[str, Any]) -> None:
    best = found["against"]["pooled"]["tension_curve"]["best_n"]
    assert best["lower"] < TRUTH.best_n < best["upper"]


def test_a_belt_that_goes_on_living_is_one_belt_and_one_that_does_not_fit_is_said_and_kept_apart(
    tmp_path: Path,
) -> None:
    earlier = log_of(
        tmp_path / "earlier",
        "A,\nB,2\nC,\nD,\n",
        made("A", 3, 1) + made("B", 2, 4) + made("C", 2, 6, "broke", "unknown") + made("D", 1, 8),
    )
    later = log_of(
        tmp_path / "later",
        "A,3\nB,5\nC,\nD,?\nE,\n",
        made("A", 2, 1, "broke", "unknown") + made("B", 1, 3) + made("C", 1, 4) + made("D", 1, 5) + made("E", 1, 6),
    )
    seasons = Seasons.of(StudyInput(run_table(later)), later, earlier)
    assert seasons.belts == {
        "one": ["A"],
        "apart": [
            {"belt": "B", "why": "it had 4 runs at the end of the earlier log and brings 5"},
            {"belt": "C", "why": "it ended in the earlier season"},
            {"belt": "D", "why": "its runs before one of the logs are not known"},
        ],
    }
    table = seasons.both.table
    whole = table["belt"] == "A"
    assert table["age"][whole].tolist() == [1, 2, 3, 4, 5]
    assert len({*table["belt"].tolist()}) == 7
    # age 1: A, C and D, then the later C and E; age 6: the later B
    one = curve(table["age"], seasons.both.failed, seasons.both.belt)
    assert one.at_risk.tolist() == [5, 2, 2, 2, 1, 1]


def test_with_two_seasons_a_question_is_told_by_both_together(found: dict[str, Any]) -> None:
    alone, together = (demo_findings("season-two")["claims"], found["claims"])
    assert together["idler"]["p"] < alone["idler"]["p"]
    assert (alone["idler"]["told"], together["idler"]["told"]) == (False, True)
    assert together["idler"]["pairs"] == {"toothed minus smooth": "longer"}
    assert found["against"]["pooled"]["claims"]["idler"]["told"] is True
    assert found["against"]["pooled"]["claims"]["edge_lube"]["told"] is False


def test_set_ups_are_counted_season_by_season(found: dict[str, Any]) -> None:
    setups = found["against"]["setups"]
    for season, name in (("earlier", "season-one"), ("later", "season-two")):
        table = run_table(read_season(DATA / name))
        assert sum(setups["idler"][season].values()) == len(table)
        assert setups["idler"][season]["toothed"] == int((table["idler"] == "toothed").sum())
        known = table["tension_n"][~np.isnan(table["tension_n"])]
        assert setups["tension_n"][season]["median"] == pytest.approx(float(np.median(known)))


def test_the_watch_expects_the_earlier_share_at_every_age(found: dict[str, Any]) -> None:
    life, watch = found["against"]["life"]["overall"], found["watch"]
    hazard = dict(zip(life["age"], np.divide(life["failed_at"], life["at_risk"]), strict=True))
    table = run_table(read_season(DATA / "season-two"))
    expected = sum(hazard.get(age, 0) for age in table["age"].tolist())
    assert watch["expected"] == pytest.approx(expected)
    assert watch["observed"] == found["log"]["failed"]
    assert watch["reference_log"] == "season-one"
    assert watch["alarm_worse_run"] is None
    assert watch["alarm_worse_run_reason"] == "the evidence never came so far"


def test_a_season_whose_hazard_is_as_before_has_no_watch_without_earlier_failures(tmp_path: Path) -> None:
    earlier = log_of(tmp_path / "earlier", "A,\n", made("A", 6, 1))
    later = log_of(tmp_path / "later", "B,\n", made("B", 6, 1))
    found = study(later, against=earlier)
    assert found["watch"] == {"reason": "the earlier season saw 0 failures, and its rates take 5 at least"}
    assert "reason" in found["against"]["pooled"]
    jsonschema.validate(found, schema())
