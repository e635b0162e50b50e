import numpy as np
import pytest

from drivekit.log import read_season, run_table


@pytest.fixture
def table(log):
    return run_table(read_season(log()))


def test_a_belt_s_age_is_its_runs_before_the_log_and_its_place_among_its_own(table) -> None:
    # A1 is new: 1, 2. A2 came with 3 runs: 4, 5, 6. A3 has a question mark and leaves.
    assert list(zip(table["run"].tolist(), table["belt"], table["age"].tolist(), strict=True)) == [
        (1, "A1", 1),
        (2, "A2", 4),
        (3, "A1", 2),
        (4, "A2", 5),
        (6, "A2", 6),
    ]


def test_the_rows_of_the_file_may_stand_in_any_order(log, table) -> None:
    place = log(name="mixed")
    heading, *rows = (place / "runs.csv").read_text().splitlines()
    (place / "runs.csv").write_text("\n".join([heading, *rows[::-1]]) + "\n")
    mixed = run_table(read_season(place))
    for name in table.columns:
        np.testing.assert_array_equal(mixed[name], table[name])


def test_a_log_that_does_not_say_what_came_before_counts_every_belt_as_new(log) -> None:
    new = run_table(read_season(log(belts="belt\nA1\nA2\nA3\n")))
    assert new["age"].tolist() == [1, 1, 2, 2, 1, 3]


def test_the_table_says_what_it_has_and_of_which_kind(table) -> None:
    kinds = {name: table[name].dtype for name in table.columns}
    assert kinds == {
        "run": np.dtype("int64"),
        "day": np.dtype("datetime64[D]"),
        "car": np.dtype(object),
        "belt": np.dtype(object),
        "idler": np.dtype(object),
        "tension_n": np.dtype("float64"),
        "edge_lube": np.dtype(object),
        "fate": np.dtype(object),
        "cause": np.dtype(object),
        "compound": np.dtype(object),
        "width_mm": np.dtype("float64"),
        "age": np.dtype("int64"),
    }
    assert "tension_n" in table
    assert "teeth" not in table
    assert len(table) == 5
    assert str(table) == "5 runs of 2 belts"
    assert table["cause"].tolist() == [None, None, "tooth-loss", None, "precaution"]
    assert np.isnan(table["tension_n"]).tolist() == [False, False, True, False, False]
    assert table["compound"].tolist() == ["rubber", "urethane", "rubber", "urethane", "urethane"]


def test_nothing_in_the_table_can_be_changed(table) -> None:
    with pytest.raises(ValueError, match="read-only"):
        table["age"][0] = 9
    with pytest.raises(TypeError):
        table.values["age"] = table["run"]
    with pytest.raises(AttributeError):
        table.values = {}
    frame = table.frame()
    frame.loc[0, "age"] = 9
    frame.loc[0, "belt"] = "Z"
    assert table["age"][0] == 1
    assert table["belt"][0] == "A1"


def test_a_part_of_the_table_is_a_table(table) -> None:
    part = table.where(table["idler"] == "toothed")
    assert part["run"].tolist() == [2, 4]
    assert part.columns == table.columns
    assert str(part) == "2 runs of 1 belt"
