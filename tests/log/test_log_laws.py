import random
import tempfile
from pathlib import Path

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from drivekit.log import check_season, read_season, run_table

HEADING = ["run", "day", "car", "belt", "idler", "tension_n", "edge_lube", "fate", "cause"]
Rows = list[list[str]]


@st.composite
def seasons(draw) -> tuple[int, Rows]:
    """A clean log: the number of its belts, and the rows of its runs in order."""
    belts = draw(st.integers(2, 5))
    alive = list(range(belts))
    rows: Rows = []
    for run in range(1, draw(st.integers(4, 14)) + 1):
        if not alive:
            break
        belt = draw(st.sampled_from(alive))
        ended = draw(st.booleans()) and draw(st.booleans())
        fate, cause = draw(st.sampled_from([("broke", "tooth-loss"), ("retired", "sold")])) if ended else ("kept", "")
        if ended:
            alive.remove(belt)
        rows.append(
            [
                str(run),
                f"2026-03-{1 + run // 3:02d}",
                f"car {belt}",
                f"B{belt}",
                draw(st.sampled_from(["smooth", "toothed"])),
                draw(st.sampled_from(["", "7000", "8000.5", "9e3"])),
                draw(st.sampled_from(["", "none", "every-run"])),
                fate,
                cause,
            ]
        )
    return belts, rows


def written(folder: str, belts: int, rows: Rows) -> Path:
    place = Path(folder)
    # Spare belts, which never ran, stand last: above others they would be doubted.
    ran = {row[3] for row in rows}
    names = sorted((f"B{belt}" for belt in range(belts)), key=lambda name: name not in ran)
    (place / "belts.csv").write_text("\n".join(["belt", *names]) + "\n")
    (place / "runs.csv").write_text("\n".join(map(",".join, [HEADING, *rows])) + "\n")
    return place


@settings(deadline=None, max_examples=40)
@given(seasons(), st.randoms(use_true_random=False))
def test_a_clean_log_has_no_fault_and_the_order_of_its_rows_changes_nothing(season, shuffle) -> None:
    belts, rows = season
    with tempfile.TemporaryDirectory() as folder:
        assert check_season(written(folder, belts, rows)) == ()
        straight = run_table(read_season(folder))
        mixed = rows.copy()
        shuffle.shuffle(mixed)
        again = run_table(read_season(written(folder, belts, mixed)))
    assert straight.columns == again.columns
    for name in straight.columns:
        np.testing.assert_array_equal(straight[name], again[name])


@settings(deadline=None, max_examples=40)
@given(seasons())
def test_a_belt_s_age_is_how_often_it_has_run(season) -> None:
    belts, rows = season
    with tempfile.TemporaryDirectory() as folder:
        table = run_table(read_season(written(folder, belts, rows)))
    seen: dict[str, int] = {}
    for belt, age in zip(table["belt"], table["age"], strict=True):
        seen[belt] = seen.get(belt, 0) + 1
        assert age == seen[belt]


INJECTED = {
    "belt": "C9",
    "idler": "smoooth",
    "tension_n": "8000000",
    "edge_lube": "daily",
    "day": "2026-02-30",
    "run": "one",
    "car": "",
    "fate": "lost",
}


@settings(deadline=None, max_examples=80)
@given(seasons(), st.sampled_from(sorted(INJECTED)), st.integers(0, 10_000))
def test_one_injected_fault_is_found_once_where_it_stands(season, column, at) -> None:
    belts, rows = season
    row = at % len(rows)
    broken = [list(cells) for cells in rows]
    broken[row][HEADING.index(column)] = INJECTED[column]
    with tempfile.TemporaryDirectory() as folder:
        faults = check_season(written(folder, belts, broken))
    assert [(fault.file, fault.line, fault.column, fault.value or "") for fault in faults] == [
        ("runs.csv", row + 2, column, INJECTED[column])
    ]


@settings(deadline=None, max_examples=40)
@given(seasons(), st.integers(0, 10_000))
def test_every_run_after_a_belt_s_end_is_found_once(season, at) -> None:
    belts, rows = season
    ended = [cells for cells in rows if cells[7] in ("broke", "retired")] or [rows[-1]]
    end = ended[at % len(ended)]
    end[7:] = ["broke", "edge-split"]
    after = random.Random(at).randint(1, 3)
    more = [
        [str(len(rows) + extra), "2026-04-01", end[2], end[3], "smooth", "", "", "kept", ""]
        for extra in range(1, after + 1)
    ]
    with tempfile.TemporaryDirectory() as folder:
        faults = check_season(written(folder, belts, [*rows, *more]))
    assert [(fault.line, fault.column) for fault in faults] == [
        (len(rows) + 2 + extra, "belt") for extra in range(after)
    ]
