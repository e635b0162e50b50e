"""Which settings are held against each other, and in which level a run counts."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivekit.log.columns import BELTS, RUNS
from drivekit.log.season import RunTable
from drivekit.study.claims import exploratory_block
from drivekit.study.comparisons import COMPARISONS
from drivekit.study.study_input import Settings, StudyInput


def table(**columns: Any) -> RunTable:
    values = {
        name: np.array(column, float if name.endswith(("_n", "_mm")) else object) for name, column in columns.items()
    }
    size = len(next(iter(values.values())))
    return RunTable({"age": np.ones(size, np.int64), **values})


def cuts(*tension_n: float) -> tuple[float, float] | None:
    return StudyInput(table(tension_n=tension_n)).tension_cuts


def groups(name: str, chosen: tuple[float, float] | None = None, **columns: Any) -> Any:
    """Give the levels met and each run's place among them."""
    one = next(one for one in COMPARISONS if one.name == name)
    found = StudyInput(table(**columns), Settings(tension_cuts=chosen)).groups(one)
    return found and (found[0], found[1].tolist())


def test_cuts_are_the_thirds_by_hand() -> None:
    # Seven known tensions in order 5 6 7 8 9 10 12: place (7 - 1) / 3 = 2 and 4, the third and fifth of them.
    known = [8000.0, 5000, 12000, 7000, float("nan"), 6000, 10000, 9000]
    assert cuts(*known) == (7000, 9000)
    # Six: places 5/3 and 10/3, two thirds of the way from the second to the third, a third from the fourth on.
    six = sorted(known[:4] + known[5:7])
    by_hand = tuple(
        float(six[int(place)] + (place - int(place)) * Fraction(six[int(place) + 1] - six[int(place)]))
        for place in (Fraction(5, 3), Fraction(10, 3))
    )
    assert six == [5000, 6000, 7000, 8000, 10000, 12000]
    assert by_hand == pytest.approx((6000 + 2000 / 3, 8000 + 2000 / 3))
    assert cuts(*six) == pytest.approx(by_hand, abs=1e-9)


def test_one_known_tension_is_both_cuts_and_none_gives_none() -> None:
    assert cuts(8000.0, np.nan) == (8000, 8000)
    assert cuts(np.nan) is None
    assert cuts() is None


def test_a_run_on_a_cut_belongs_below_it_and_a_blank_to_no_level() -> None:
    tensions = [7000, 7000.0001, 9000, 9000.0001, float("nan")]
    assert groups("tension", (7000, 9000), tension_n=tensions) == (("low", "middle", "high"), [0, 1, 1, 2, -1])


@given(st.lists(st.integers(50, 20000), min_size=1, max_size=40))
def test_each_third_holds_about_a_third_of_the_runs(tensions: list[int]) -> None:
    _, code = groups("tension", tension_n=tensions)
    if len(set(tensions)) == len(tensions) and len(tensions) >= 3:
        sizes = np.bincount(code, minlength=3)
        assert sizes.max() - sizes.min() <= 2
    assert min(code) >= 0


def test_levels_stand_in_their_order_and_those_not_met_are_left_out() -> None:
    grease = groups("edge_lube", edge_lube=["every-run", None, "none", "every-run"])
    assert grease == (("none", "every-run"), [1, -1, 0, 1])
    assert groups("tension", (7000, 9000), tension_n=[9500.0, 5000.0]) == (("low", "high"), [1, 0])


def test_widths_are_levels_by_themselves_in_increasing_order_with_their_unit() -> None:
    found = groups("width", width_mm=[85.0, 76.2, float("nan"), 85.0])
    assert found == (("76.2 mm", "85 mm"), [1, 0, -1, 1])


def test_a_log_without_the_column_has_no_groups_and_a_blank_column_has_no_levels() -> None:
    assert groups("tension", idler=["smooth"]) is None
    assert groups("tension", tension_n=[float("nan"), float("nan")]) == ((), [-1, -1])


def test_three_comparisons_are_planned_and_every_one_names_a_column_of_the_log() -> None:
    assert [one.name for one in COMPARISONS if one.planned] == ["idler", "tension", "edge_lube"]
    columns = {column.name: column for column in (*BELTS, *RUNS)}
    for one in COMPARISONS:
        assert one.column in columns
        if one.levels and one.name != "tension":
            assert set(one.levels) == set(columns[one.column].levels)
    assert len({one.said for one in COMPARISONS}) == len(COMPARISONS)


def test_marked_faces_of_a_clamp_and_an_idler_pried_square_are_held_against_the_others() -> None:
    # Eight belts each way on one car: on clean faces, pushed square, they fail after run 7 and 8; on galled ones,
    # pried, after run 3 and 4. The mean of the first 7 runs is then 7 against 3.5, whatever the method.
    length = [7, 8] * 4 + [3, 4] * 4
    age = np.concatenate([np.arange(1, last + 1) for last in length])
    belt, last = np.repeat(np.arange(16), length), np.cumsum(length) - 1
    failed = np.isin(np.arange(age.size), last)
    sound = (belt < 8).tolist()
    lives = RunTable(
        {
            "age": age,
            "fate": np.where(failed, "broke", "").astype(object),
            "cause": np.where(failed, "edge-split", "").astype(object),
            "belt": belt,
            "car": np.full(age.size, "north", object),
            "clamp_faces": np.array(["clean" if one else "galled" for one in sound], object),
            "squared": np.array(["pushed" if one else "pried" for one in sound], object),
        }
    )
    asked = StudyInput(lives, Settings(horizon=7))
    for name, contrast, way in (("clamp_faces", "galled minus clean", -1), ("squared", "pushed minus pried", 1)):
        found = exploratory_block(asked, next(one for one in COMPARISONS if one.name == name))
        assert found["exploratory"]
        assert found["mean_difference"][contrast]["estimate"] == pytest.approx(way * 3.5)
        assert found["logrank"]["p_exact"] < 0.001
