"""How belts fail, in the findings: causes by setting, and what the settings do to each cause."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from drivekit.life.cox import fit
from drivekit.life.curve import incidence
from drivekit.life.gray import gray
from drivekit.life.logrank import logrank
from drivekit.life.riskset import RiskSets
from drivekit.log.season import read_season, run_table
from drivekit.study.comparisons import COMPARISONS
from drivekit.study.failing import (
    FEW,
    cause_hazards_block,
    causes_block,
    causes_by_block,
    incidents_block,
    signs_block,
)
from drivekit.study.hazard_fit import HazardInput
from drivekit.study.study_input import Settings, StudyInput

DATA = Path(__file__).parents[2] / "data"
IDLER = COMPARISONS[0]


@pytest.fixture(scope="module")
def asked() -> StudyInput:
    return StudyInput(run_table(read_season(DATA / "season-two")))


@pytest.fixture(scope="module")
def whole(asked: StudyInput) -> StudyInput:
    """The runs of those belts alone that came new and kept their idler."""
    belt, age, idler = asked.belt, asked.table["age"], asked.table["idler"]
    stays = [at for at in np.unique(belt) if age[belt == at][0] == 1 and len(set(idler[belt == at])) == 1]
    return replace(asked, table=asked.table.where(np.isin(belt, stays)))


def test_each_level_has_every_cause_as_its_own_runs_give_it(asked: StudyInput) -> None:
    block = causes_by_block(asked, IDLER)
    for level, causes in block["levels"].items():
        rows = asked.table["idler"] == level
        found = incidence(asked.table["age"][rows], asked.cause[rows], 5)
        assert list(causes) == list(asked.settings.failures)
        for place, part in enumerate(causes.values()):
            assert part["incidence"] == pytest.approx(found.incidence[place])
            assert part["se"] == pytest.approx(found.se[place])


def test_the_limits_hold_the_share_and_are_null_where_there_is_none(asked: StudyInput) -> None:
    for part in causes_block(asked).values():
        for share, lower, upper in zip(part["incidence"], part["lower"], part["upper"], strict=True):
            assert (lower is None) == (upper is None) == (share == 0)
            assert share == 0 or 0 < lower < share < upper < 1


def test_gray_stands_where_every_belt_is_whole_and_is_refused_where_one_is_not(
    asked: StudyInput, whole: StudyInput
) -> None:
    refused, told = causes_by_block(asked, IDLER), causes_by_block(whole, IDLER)
    assert refused["gray"]["reason"].startswith("the test needs belts with every run here and in one group; ")
    code = (whole.table["idler"] == "toothed").astype(int)
    for place, (cause, test) in enumerate(told["gray"].items()):
        if not (whole.cause == place).any():
            assert test == {"reason": "no belt failed of it"}, cause
            continue
        again = gray(whole.table["age"], whole.cause, code, 2, place)
        assert test == {"chi2": again.chi2, "dof": 1, "p": again.p}


def test_the_cause_specific_test_stands_beside_it_everywhere(asked: StudyInput) -> None:
    code = (asked.table["idler"] == "toothed").astype(int)
    for place, test in enumerate(causes_by_block(asked, IDLER)["cause_specific"].values()):
        again = logrank(asked.table["age"], asked.cause == place, code, 2)
        assert (test["chi2"], test["p"], test["p_exact"]) == (again.chi2, again.p, again.p_exact)


def test_one_level_or_a_blank_column_is_a_reason(asked: StudyInput) -> None:
    one = replace(asked, table=asked.table.where(asked.table["idler"] == "smooth"))
    block = causes_by_block(one, IDLER)
    assert list(block["levels"]) == ["smooth"]
    assert (
        block["gray"]
        == block["cause_specific"]
        == {"reason": "every run had the same idler, smooth: nothing to compare it with"}
    )
    none = replace(asked, table=asked.table.where(np.zeros(len(asked.table), bool)))
    assert "reason" in causes_by_block(none, IDLER)
    assert "reason" in causes_block(none)


def test_rare_causes_are_pooled_and_the_hazard_of_each_is_its_own_fit(asked: StudyInput) -> None:
    found = HazardInput(asked)
    block, rows = cause_hazards_block(found), found.rows
    counted: list[str] = []
    for part in block.values():
        counted += part["causes"]
        places = [asked.settings.failures.index(name) for name in part["causes"]]
        failed = np.isin(asked.cause[found.study.used], places)
        assert part["failed"] == failed.sum() >= FEW
        again = fit(RiskSets.of(rows["age"], failed, rows["x"], rows["stratum"]))
        hrs = [part["terms"][name]["hr"] for name in found.study.names]
        assert hrs == pytest.approx(np.exp(again.coef))
    assert len(counted) == len(set(counted))
    assert sum(part["failed"] for part in block.values()) == found.study.failed


def test_where_all_rare_causes_together_are_few_they_have_a_reason(asked: StudyInput) -> None:
    rare = StudyInput(asked.table, Settings(failures=("cord-pull",)))
    block = cause_hazards_block(HazardInput(rare))
    assert block["cord-pull"]["reason"] == "fewer than 10 failures"
    assert "terms" not in block["cord-pull"]


def test_without_a_failure_there_is_the_reason_of_the_hazard_study(asked: StudyInput) -> None:
    kept = replace(asked, table=asked.table.where(~asked.failed))
    block: Any = cause_hazards_block(HazardInput(kept))
    assert block == {"reason": "nothing failed in the runs that have every setting written"}


def test_signs_count_the_belts_that_failed_and_what_was_behind_them(asked: StudyInput) -> None:
    block = signs_block(asked)
    for column, words in block.items():
        for word, part in words.items():
            rows = asked.failed & (asked.table[column] == word)
            assert part["failed"] == rows.sum() == sum(one["count"] for one in part["causes"].values())
            for cause, one in part["causes"].items():
                assert one["count"] == (asked.table["cause"][rows] == cause).sum()
                assert 0 <= one["lower"] <= one["count"] / part["failed"] <= one["upper"] <= 1
    assert not {"good", "none", "clean", "even"} & {word for words in block.values() for word in words}


def test_wilson_s_limits_of_8_in_8_by_hand(asked: StudyInput) -> None:
    # all of n: n / (n + z^2) at the low end, 1 at the high
    told = [
        (part["failed"], one)
        for words in signs_block(asked).values()
        for part in words.values()
        for one in part["causes"].values()
        if one["count"] == part["failed"]
    ]
    assert told
    for n, one in told:
        assert (one["lower"], one["upper"]) == (pytest.approx(n / (n + 3.8414588)), 1.0)


def test_the_runs_after_an_incident_are_the_belt_s_own_next_ones(asked: StudyInput) -> None:
    block = incidents_block(HazardInput(asked))
    used, belt, age = HazardInput(asked).study.used, asked.belt, asked.table["age"]
    trouble = ~np.isin(asked.table["engine_trouble"].astype(str), ["none", "None"])
    for runs, part in block["after"].items():
        near = [
            bool(used[i])
            and any(trouble[j] and belt[j] == belt[i] and 0 < age[i] - age[j] <= int(runs) for j in range(i))
            for i in range(len(asked.table))
        ]
        assert (part["runs"], part["failed"]) == (sum(near), int(asked.failed[np.array(near)].sum()))
        assert ("reason" in part) == (part["failed"] < 5)
        if "reason" not in part:
            assert part["lower"] < part["hr"] < part["upper"]
    assert set(block["kinds"]) <= {"cylinder-out", "oil-down", "backfire", "other"}


def test_without_incidents_or_their_column_there_is_a_reason(asked: StudyInput) -> None:
    values = {name: column for name, column in asked.table.values.items() if name != "engine_trouble"}
    blind = replace(asked, table=type(asked.table)(values))
    assert incidents_block(HazardInput(blind)) == {"reason": "the log has no engine_trouble column"}
    calm = replace(asked, table=asked.table.where(asked.table["engine_trouble"] == "none"))
    assert incidents_block(HazardInput(calm)) == {"reason": "no run had engine trouble"}
