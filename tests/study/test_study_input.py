"""What is asked of a season: what counts as a failure, to which horizon, at which cuts."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import pytest

from drivekit.log.season import RunTable
from drivekit.study.comparisons import COMPARISONS
from drivekit.study.study_input import Settings, StudyInput

Made = tuple[str, int, str, str, str | None]


def asked(runs: list[Made], tension_n: list[float] | None = None, **settings: Any) -> StudyInput:
    """Ask of runs (belt, age, idler, fate, cause)."""
    belt, age, idler, fate, cause = zip(*runs, strict=True)
    values = {
        name: np.array(column, object)
        for name, column in (("belt", belt), ("idler", idler), ("fate", fate), ("cause", cause))
    }
    values["age"] = np.array(age, np.int64)
    if tension_n is not None:
        values["tension_n"] = np.array(tension_n)
    return StudyInput(RunTable(values), Settings(**settings))


def ending(cause: str | None, fate: str = "broke") -> list[Made]:
    return [("A", 1, "smooth", fate, cause)]


@pytest.mark.parametrize(
    ("fate", "cause", "fails"),
    [
        ("kept", None, False),
        ("broke", "tooth-jump", True),
        ("retired", "tooth-loss", True),
        ("retired", "edge-split", True),
        ("broke", "cord-pull", True),
        ("broke", "unknown", True),
        ("retired", "unknown", False),
        ("retired", "precaution", False),
        ("retired", "contaminated", False),
        ("retired", "engine-trouble", False),
        ("retired", "sold", False),
    ],
)
def test_a_belt_fails_by_four_causes_and_by_unknown_only_when_it_broke(
    fate: str, cause: str | None, fails: bool
) -> None:
    assert asked(ending(cause, fate)).failed.tolist() == [fails]


def test_which_causes_count_can_be_chosen() -> None:
    runs = [("A", 1, "smooth", "broke", "tooth-jump"), ("B", 1, "smooth", "retired", "precaution")]
    assert asked(runs, failures=("precaution",)).failed.tolist() == [False, True]
    assert asked(ending("unknown"), failures=("tooth-jump",)).failed.tolist() == [False]
    assert asked(ending("unknown", "retired"), failures=("unknown",)).failed.tolist() == [False]


def test_belts_are_numbered_in_the_order_first_run_whatever_their_names() -> None:
    runs = [(name, 1, "smooth", "kept", None) for name in ("zebra", "10", "9", "zebra", "B", "10")]
    assert asked(runs).belt.tolist() == [0, 1, 2, 0, 3, 1]


def test_the_horizon_is_the_largest_age_at_which_every_idler_met_has_five_runs() -> None:
    runs = [(f"S{i}", age, "smooth", "kept", None) for age, n in ((1, 6), (2, 5), (3, 7)) for i in range(n)]
    runs += [(f"T{i}", age, "toothed", "kept", None) for age, n in ((1, 5), (2, 5), (3, 4)) for i in range(n)]
    assert asked(runs).horizon == 2
    assert asked([run for run in runs if run[2] == "smooth"]).horizon == 3
    assert asked([run for run in runs if run[1] == 3]).horizon is None
    assert asked(runs, horizon=11).horizon == 11


def test_cuts_are_thirds_unless_they_are_chosen_or_nothing_is_known() -> None:
    runs = [(name, 1, "smooth", "kept", None) for name in "ABCD"]
    tensions = [6000.0, 7000, 8000, 9000]
    assert asked(runs, tensions).tension_cuts == (7000, 8000)
    assert asked(runs, tensions, tension_cuts=(6500, 8500)).tension_cuts == (6500, 8500)
    assert asked(runs).tension_cuts is None
    assert asked(runs, [float("nan")] * 4).tension_cuts is None
    tension = asked(runs, tensions, tension_cuts=(6500, 8500)).groups(COMPARISONS[1])
    assert tension is not None
    assert tension[1].tolist() == [0, 1, 1, 2]


def test_no_run_leaves_nothing_to_ask() -> None:
    nothing = asked([("A", 1, "smooth", "kept", None)], [8000.0])
    empty = StudyInput(nothing.table.where(np.array([False])))
    assert (empty.horizon, empty.tension_cuts) == (None, None)
    assert empty.failed.size == empty.belt.size == 0


CAUSES = "tooth-jump, tooth-loss, edge-split, cord-pull, contaminated, engine-trouble, precaution, sold, unknown"
CUTS = "cannot be used; the first must be above 0 and below the second"
SHARE = "cannot be used; it must be above 0 and at most 0.999999, as 0.95 is"


@pytest.mark.parametrize(
    ("chosen", "said"),
    [
        ({"failures": ()}, "no cause counts as a failure; name at least one"),
        ({"failures": ("tooth-loss", "rust")}, f'"rust" is no cause; the causes are {CAUSES}'),
        ({"horizon": 0}, "a horizon of 0 runs cannot be used; it must be 1 or more"),
        ({"tension_cuts": (9000.0, 9000.0)}, f"tension cuts 9000 and 9000 {CUTS}"),
        ({"tension_cuts": (0.0, 9000.0)}, f"tension cuts 0 and 9000 {CUTS}"),
        ({"confidence": 0.0}, f"a confidence of 0 {SHARE}"),
        ({"confidence": 95.0}, f"a confidence of 95 {SHARE}"),
        ({"seed": -3}, "a seed of -3 cannot be used; it must be a whole number, 0 or more"),
    ],
)
def test_a_choice_that_cannot_be_used_is_refused_to_the_letter(chosen: dict[str, Any], said: str) -> None:
    with pytest.raises(ValueError, match=re.escape(said)) as refused:
        Settings(**chosen)
    assert str(refused.value) == said
