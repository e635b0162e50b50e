"""A law for planning and the bounds of belts that came off, in the findings."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest

from drivekit.life.curve import curve
from drivekit.log.season import read_season, run_table
from drivekit.study.failing import retired_block, weibull_block
from drivekit.study.findings import schema
from drivekit.study.study_input import Settings, StudyInput

DATA = Path(__file__).parents[2] / "data"


@pytest.fixture(scope="module")
def asked() -> StudyInput:
    return StudyInput(run_table(read_season(DATA / "season-two")))


@pytest.fixture(scope="module")
def retired(asked: StudyInput) -> Any:
    return retired_block(asked)


def test_the_law_stands_on_every_belt_and_seed_and_confidence_move_it(asked: StudyInput) -> None:
    block = weibull_block(asked)
    assert (block["belts"], block["failed"]) == (asked.belt.max() + 1, asked.failed.sum())
    wider = weibull_block(replace(asked, settings=Settings(confidence=0.99, seed=2)))
    assert wider["fit"]["gap"] == block["fit"]["gap"]
    for name in ("shape", "scale", "b10"):
        assert wider[name]["estimate"] == block[name]["estimate"]
        assert wider[name]["lower"] < block[name]["lower"] < block[name]["estimate"] < block[name]["upper"]
    assert "assumed" not in block


def test_where_few_failed_shapes_are_assumed_and_named_so(asked: StudyInput) -> None:
    kept = replace(asked, table=asked.table.where(~asked.failed))
    block = weibull_block(kept)
    assert block["loglik"] is None
    assert block["shape"]["reason"] == block["loglik_reason"] == "fewer than two belts failed"
    assert list(block["assumed"]) == ["1", "2", "3"]
    last = np.zeros(kept.belt.max() + 1)
    np.maximum.at(last, kept.belt, kept.table["age"])
    first = last - np.bincount(kept.belt)
    for shape, part in block["assumed"].items():
        run = (last ** float(shape) - first ** float(shape)).sum()
        assert part["lower"] == pytest.approx((0.1053605 * run / 2.9957323) ** (1 / float(shape)), rel=1e-6)


def test_the_bounds_are_those_of_the_belts_had_they_failed_next_or_not_at_all(asked: StudyInput, retired: Any) -> None:
    horizon = asked.horizon
    for level, part in retired["idler"]["levels"].items():
        rows = [i for i in range(len(asked.table)) if asked.table["idler"][i] == level]
        lives = {"worst": [], "as_logged": [], "best": []}
        for i in rows:
            age, failed = int(asked.table["age"][i]), bool(asked.failed[i])
            for way, found in lives.items():
                found.append((age, failed))
                if asked.table["cause"][i] == "precaution" and way == "worst":
                    found.append((age + 1, True))
                if asked.table["cause"][i] == "precaution" and way == "best":
                    found += [(later, False) for later in range(age + 1, horizon + 1)]
        for way, found in lives.items():
            ages, failed = np.array(found).T
            mean = curve(ages, failed.astype(bool), np.zeros(ages.size, int)).mean_to(horizon)
            assert part[way]["estimate"] == pytest.approx(mean.estimate)
        assert part["worst"]["estimate"] <= part["as_logged"]["estimate"] <= part["best"]["estimate"]


def test_the_four_corners_bound_the_difference_as_logged(retired: Any) -> None:
    levels, told = retired["idler"]["levels"], retired["idler"]["mean_difference"]["toothed minus smooth"]
    assert len(told["corners"]) == 4
    assert told["corners"]["worst, best"] == pytest.approx(
        levels["toothed"]["worst"]["estimate"] - levels["smooth"]["best"]["estimate"]
    )
    logged = levels["toothed"]["as_logged"]["estimate"] - levels["smooth"]["as_logged"]["estimate"]
    assert told["lower"] == min(told["corners"].values()) <= logged <= told["upper"] == max(told["corners"].values())


def test_looks_without_10_that_ran_on_and_5_that_came_off_are_named_and_left_out(retired: Any) -> None:
    for look in retired["looks"].values():
        assert look["used"] == (look["ran_on"] >= 10 and look["came_off"] >= 5)
    weighted = retired["idler"]["weighted"]
    if any(look["used"] for look in retired["looks"].values()):
        assert weighted["levels"]["toothed"]["effective_belts"] > 1
    else:
        assert "so the bounds have the word" in weighted["reason"]


def test_without_precautions_or_looks_there_is_a_reason(asked: StudyInput) -> None:
    none = replace(asked, table=asked.table.where(asked.table["cause"] != "precaution"))
    assert retired_block(none) == {"reason": "no belt came off as a precaution"}
    values = {name: column for name, column in asked.table.values.items() if not name.endswith("_look")}
    blind = retired_block(replace(asked, table=type(asked.table)(values)))
    assert "reason" in blind["idler"]["weighted"]
    assert blind["looks"] == {}


def test_both_blocks_keep_the_schema(asked: StudyInput, retired: Any) -> None:
    whole = schema()
    for name, block in (("weibull", weibull_block(asked)), ("retired", retired)):
        jsonschema.validate(json.loads(json.dumps(block)), {**whole["properties"][name], "$defs": whole["$defs"]})
