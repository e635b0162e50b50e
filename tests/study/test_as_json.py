"""What becomes of a number that cannot be had on its way into plain data."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, nan

import numpy as np
import pytest

from drivekit.life.folds import Estimate
from drivekit.study.as_json import Block, as_block, entry, lone, plain


@dataclass(frozen=True)
class Result:
    estimate: float | None
    lower: float | None
    upper: float | None
    reason: str | None = None


LIMITED = ("estimate", "lower", "upper")


@pytest.mark.parametrize("missing", [None, nan, inf, -inf, np.float64(nan)])
def test_what_is_no_number_becomes_none(missing: float | None) -> None:
    assert plain(missing) is None
    assert plain([{"one": missing}]) == [{"one": None}]


def test_numbers_are_those_of_python() -> None:
    assert [type(value) for value in plain(np.array([1, 2]))] == [int, int]
    assert plain(np.array([1.5, nan, inf])) == [1.5, None, None]
    assert plain(np.array([[1.5, nan]])) == [[1.5, None]]
    assert type(plain(np.float64(2.5))) is float
    assert type(plain(np.int64(2))) is int
    assert type(plain(np.array([1.5])[0] > 1)) is bool
    assert plain(np.array(["amber", None], object)) == ["amber", None]
    assert plain([]) == []


def test_objects_rows_and_estimates_are_told_all_the_way_down() -> None:
    block = {"pairs": {"a": Estimate(1.0, 0.5, reason="no end")}, "ages": (np.int64(3), [np.arange(2)])}
    told = {"estimate": 1.0, "lower": 0.5, "upper": None, "reason": "no end"}
    assert plain(block) == {"pairs": {"a": told}, "ages": [3, [[0, 1]]]}


@as_block
def asked(how: str) -> Block | str:
    """Answer, or do not."""
    if how == "unsettled":
        raise np.linalg.LinAlgError("Singular matrix.")
    return "nobody ran" if how == "refused" else {"runs": np.int64(3)}


def test_a_block_is_what_was_answered_or_the_reason_why_nothing_was() -> None:
    assert asked("answered") == {"runs": 3}
    assert asked("refused") == {"reason": "nobody ran"}
    assert asked("unsettled") == {"reason": "Singular matrix"}


def test_a_lone_number_has_its_reason_beside_it_where_it_is_missing() -> None:
    assert lone("horizon", 9, "too few belts") == {"horizon": 9}
    assert lone("horizon", None, "too few belts") == {"horizon": None, "horizon_reason": "too few belts"}


def test_an_estimate_with_its_limits_needs_no_reason() -> None:
    assert entry(Result(1.5, 1.0, 2.0), *LIMITED) == {"estimate": 1.5, "lower": 1.0, "upper": 2.0}


def test_an_object_keeps_its_keys_and_gains_the_reason_when_one_is_missing() -> None:
    assert entry(Result(1.5, 1.0, inf, "no end"), *LIMITED) == {
        "estimate": 1.5,
        "lower": 1.0,
        "upper": None,
        "reason": "no end",
    }
    assert entry(Result(1.5, None, 2.0), "lower", otherwise="it is so") == {"lower": None, "reason": "it is so"}
    assert entry(Result(1.5, None, 2.0, "own"), "lower", otherwise="it is so")["reason"] == "own"
    assert "reason" not in entry(Result(1.5, 1.0, 2.0, "unasked"), "estimate")


def test_a_missing_number_without_a_reason_is_our_own_mistake() -> None:
    with pytest.raises(ValueError, match="Result has a null and no reason for it"):
        entry(Result(None, 1.0, 2.0), *LIMITED)
