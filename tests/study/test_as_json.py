"""What becomes of a number that cannot be had on its way into plain data."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, nan

import numpy as np
import pytest

from drivekit.study.as_json import entry, estimate, number, numbers


@dataclass(frozen=True)
class Result:
    estimate: float | None
    lower: float | None
    upper: float | None
    reason: str | None = None


@pytest.mark.parametrize("missing", [None, nan, inf, -inf, np.float64(nan)])
def test_what_is_no_number_becomes_none(missing: float | None) -> None:
    assert number(missing) is None


def test_numbers_are_those_of_python() -> None:
    assert [type(value) for value in numbers(np.array([1, 2]))] == [int, int]
    assert numbers(np.array([1.5, nan, inf])) == [1.5, None, None]
    assert type(number(np.float64(2.5))) is float
    assert numbers([]) == []


def test_an_estimate_with_its_limits_needs_no_reason() -> None:
    assert estimate(Result(1.5, 1.0, 2.0)) == {"estimate": 1.5, "lower": 1.0, "upper": 2.0}


def test_an_object_keeps_its_keys_and_gains_the_reason_when_one_is_missing() -> None:
    assert estimate(Result(1.5, 1.0, inf, "no end")) == {
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
        estimate(Result(None, 1.0, 2.0))
