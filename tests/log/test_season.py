import datetime

import numpy as np
import pandas as pd
import pytest

from drivekit.faults import Faulty, closing
from drivekit.log import RUNS, check_season, read_season, run_table

from_pounds = 4.4482216152605


def test_a_season_says_itself(log) -> None:
    season = read_season(log())
    assert str(season) == "season: a season of 3 belts and 6 runs, 2026-03-01 to 2026-03-03, 1 warning."
    assert season._repr_html_() == f"<p>{season}</p>"


def test_blanks_and_kinds_are_kept_apart(log) -> None:
    season = read_season(log())
    assert season.belts["runs_before"].tolist()[:2] == [0.0, 3.0]
    assert np.isnan(season.belts["runs_before"][2])
    assert season.runs["cause"].tolist() == [None, None, "tooth-loss", None, None, "precaution"]
    assert season.runs["day"][0] == pd.Timestamp(datetime.date(2026, 3, 1))
    assert season.runs["run"].dtype == np.int64


@pytest.mark.parametrize(
    "dialect",
    [
        lambda text: "\ufeff" + text,
        lambda text: text.replace("\n", "\r\n"),
        lambda text: text.replace(",", ";"),
        lambda text: text.upper().replace("TOOTH-", "tooth-"),
        lambda text: text.replace(",", " , "),
    ],
    ids=["byte-order mark", "CRLF", "semicolons", "capitals", "stray blanks"],
)
def test_every_dialect_of_a_file_is_the_same_season(log, dialect) -> None:
    plain, other = log(), log(name="other")
    for file in ("belts.csv", "runs.csv"):
        text = (other / file).read_text()
        (other / file).write_bytes(dialect(text).encode())
    one, two = read_season(plain), read_season(other)
    if dialect("a") == "A":  # names of cars are kept as they are typed; words and headings are not
        two.runs["car"] = two.runs["car"].str.lower()
    pd.testing.assert_frame_equal(one.belts, two.belts)
    pd.testing.assert_frame_equal(one.runs, two.runs)


def test_inch_pound_columns_are_the_same_season(log) -> None:
    plain = read_season(log())
    place = log(name="pounds")
    for file, column, twin, factor in (
        ("runs.csv", "tension_n", "tension_lbf", from_pounds),
        ("belts.csv", "width_mm", "width_in", 25.4),
        ("belts.csv", "mass_g_per_m", "mass_lb_per_ft", 453.59237 / 0.3048),
    ):
        frame = pd.read_csv(place / file, keep_default_na=False, dtype=str)
        frame[column] = [repr(float(cell) / factor) if cell else "" for cell in frame[column]]
        frame.rename(columns={column: twin}).to_csv(place / file, index=False)
    pounds = read_season(place)
    pd.testing.assert_frame_equal(plain.belts, pounds.belts, rtol=1e-14)
    pd.testing.assert_frame_equal(plain.runs, pounds.runs, rtol=1e-14)


def test_a_log_of_the_starred_columns_alone_is_whole_and_says_what_is_missed(log) -> None:
    runs = (
        "run,day,car,belt,idler,fate\n1,2026-03-01,blue,A1,smooth,kept\n2,2026-03-01,red,A2,toothed,broke\n"
        "3,2026-03-01,blue,A1,smooth,retired\n"
    )
    season = read_season(log("belt\nA1\nA2\n", runs))
    absent = {column.name: column.adds for column in season.absent}
    assert absent["tension_n"].startswith("how tight a belt lasts longest")
    assert absent["edge_lube"] == "whether greasing the edges pays"
    assert absent["runs_before"] == "the right age for a belt that came used; every belt is taken as new"
    expected = {column.name for column in RUNS if column.adds}
    assert expected <= set(absent)
    assert "span_hz" not in absent
    assert season.runs["cause"].tolist() == [None, "unknown", "unknown"]
    assert run_table(season)["age"].tolist() == [1, 1, 2]


def test_a_fault_stops_the_reading_and_all_are_said_in_the_order_of_the_files(log) -> None:
    place = log(belt=("rubber", "ruber"), run=("smooth,8000", "smoth,8e9"))
    with pytest.raises(Faulty) as stopped:
        read_season(place)
    assert str(stopped.value).splitlines() == [
        'belts.csv:2:compound: fault: "ruber" is no compound; did you mean rubber? (rubber, urethane, other)',
        (
            'belts.csv:4:runs_before: warning: "?" keeps belt A3 out of every answer that needs its age; '
            "write the number if it can still be found"
        ),
        'runs.csv:2:idler: fault: "smoth" is no idler; did you mean smooth? (smooth, toothed)',
        'runs.csv:2:tension_n: fault: "8e9" is impossible; 50 to 50000 N is possible',
    ]
    assert check_season(place) == stopped.value.faults
    assert closing(stopped.value.faults) == "3 faults, 1 warning"


def test_a_warning_stops_nothing_and_stays_with_the_season(log) -> None:
    season = read_season(log())
    assert [fault.column for fault in season.warnings] == ["runs_before"]
    assert check_season(log(name="again")) == season.warnings


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


def test_a_part_of_the_table_is_a_table(table) -> None:
    part = table.where(table["idler"] == "toothed")
    assert part["run"].tolist() == [2, 4]
    assert part.columns == table.columns
    assert str(part) == "2 runs of 1 belt"
