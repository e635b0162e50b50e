import pytest

from drivekit.log import check_season


def said(place) -> list[str]:
    return [str(fault) for fault in check_season(place)]


def test_the_small_log_has_no_fault_and_one_warning(log) -> None:
    assert said(log()) == [
        (
            'belts.csv:4:runs_before: warning: "?" keeps belt A3 out of every answer that needs its age; '
            "write the number if it can still be found"
        )
    ]


RULES = [
    (
        "a run on a belt that broke",
        {"run": ("5,2026-03-02,green,A3", "5,2026-03-02,blue,A1")},
        [
            (
                'runs.csv:6:belt: fault: "A1" makes run 5 but broke on run 3 (line 4); '
                "a belt that ended makes no more runs: correct the name here or the fate there"
            )
        ],
    ),
    (
        "a run on a belt that was retired",
        {
            "run": (
                "7600,every-run,retired,precaution",
                "7600,every-run,retired,precaution\n7,2026-03-03,red,A2,smooth,,,kept,",
            )
        },
        [
            (
                'runs.csv:8:belt: fault: "A2" makes run 7 but was retired on run 6 (line 7); '
                "a belt that ended makes no more runs: correct the name here or the fate there"
            )
        ],
    ),
    (
        "a run number twice",
        {"run": ("4,2026-03-02", "3,2026-03-02")},
        ['runs.csv:5:run: fault: "3" is the number of the run on line 4 too; each run has a number of its own'],
    ),
    (
        "a date going backwards",
        {"run": ("4,2026-03-02", "4,2026-02-28")},
        [
            (
                'runs.csv:5:day: fault: "2026-02-28" goes back: run 3 before it was made on 2026-03-01 (line 4); '
                "runs are numbered in the order made: correct the day or the number"
            )
        ],
    ),
    (
        "an unknown belt",
        {"run": ("5,2026-03-02,green,A3", "5,2026-03-02,green,a33")},
        [
            (
                'runs.csv:6:belt: fault: "a33" is no belt of belts.csv; '
                "did you mean A3? give it the name it has there, or a row there"
            )
        ],
    ),
    (
        "an unknown belt unlike any other",
        {"run": ("5,2026-03-02,green,A3", "5,2026-03-02,green,Z")},
        ['runs.csv:6:belt: fault: "Z" is no belt of belts.csv; give it the name it has there, or a row there'],
    ),
    (
        "a belt twice",
        {"belt": ("?,2026-03-01", "?,2026-03-01\nA1,,,,,")},
        ['belts.csv:5:belt: fault: "A1" stands on line 2 too; each belt has one row and a name of its own'],
    ),
    (
        "a break without its cause",
        {"run": ("broke,tooth-loss", "broke,")},
        [
            (
                "runs.csv:4:cause: fault: blank, though the belt broke; one of tooth-jump, tooth-loss, edge-split, "
                "cord-pull, "
                "contaminated, engine-trouble, precaution, sold, unknown"
            )
        ],
    ),
    (
        "a retirement without its cause",
        {"run": ("retired,precaution", "retired,")},
        [
            (
                "runs.csv:7:cause: fault: blank, though the belt was retired; one of tooth-jump, tooth-loss, "
                "edge-split, "
                "cord-pull, contaminated, engine-trouble, precaution, sold, unknown"
            )
        ],
    ),
    (
        "a cause on a kept belt",
        {"run": ("none,kept,", "none,kept,sold")},
        [
            (
                'runs.csv:2:cause: fault: "sold" explains an end, but the belt was kept; '
                "leave the cause blank, or make the fate retired or broke"
            )
        ],
    ),
    (
        "a cause on a trimmed belt",
        {"run": ("trimmed,", "trimmed,cord-pull")},
        [
            (
                'runs.csv:5:cause: fault: "cord-pull" explains an end, but the belt was trimmed; '
                "leave the cause blank, or make the fate retired or broke"
            )
        ],
    ),
    (
        "a belt changing cars",
        {"run": ("4,2026-03-02,red", "4,2026-03-02,blue")},
        [
            (
                'runs.csv:5:car: warning: "blue" is another car than belt A2 last ran on: red (line 3); '
                "correct it if the belt did not move"
            ),
            (
                'runs.csv:7:car: warning: "red" is another car than belt A2 last ran on: blue (line 5); '
                "correct it if the belt did not move"
            ),
        ],
    ),
    (
        "a name in other capitals",
        {"run": ("5,2026-03-02,green", "5,2026-03-02,Blue")},
        [
            (
                'runs.csv:6:car: warning: "Blue" differs from blue (2 rows) only in capitals, and stands on 1 row; '
                "write one name in one way"
            )
        ],
    ),
    (
        "a first day after the first run",
        {"belt": ("500,,2026-03-01", "500,,2026-03-02")},
        [
            (
                'belts.csv:2:first_day: warning: "2026-03-02" is after the belt\'s first run in the log, on 2026-03-01 '
                "(runs.csv, line 2); correct the one that is wrong"
            )
        ],
    ),
    (
        "very many runs before",
        {"belt": ("500,3,", "500,41,")},
        ['belts.csv:3:runs_before: warning: "41" is more than 40, very many for one belt; correct it if it is a slip'],
    ),
    (
        "a tension twice the usual",
        {"run": ("9000", "15201")},
        [
            (
                'runs.csv:6:tension_n: warning: "15201" makes 15201 N, more than twice the usual 7600 N; '
                "correct it if it is a slip"
            )
        ],
    ),
    (
        "a tension half the usual",
        {"run": ("8000", "800")},
        [
            (
                'runs.csv:2:tension_n: warning: "800" makes 800 N, less than half the usual 7500 N; '
                "correct it if it is a slip"
            )
        ],
    ),
    (
        "no run",
        {"runs": "run,day,car,belt,idler,fate\n"},
        ["runs.csv: fault: has its heading but no run; give every run a row"],
    ),
]


@pytest.mark.parametrize(("given", "expected"), [case[1:] for case in RULES], ids=[case[0] for case in RULES])
def test_a_broken_rule_is_said_once_and_nothing_else_is(log, given, expected) -> None:
    always = "belts.csv:4:runs_before"
    assert [sentence for sentence in said(log(**given)) if not sentence.startswith(always)] == expected


def test_a_look_of_a_broken_belt_on_one_that_runs_on_is_doubted(log) -> None:
    runs = (
        "run,day,car,belt,idler,fate,cause,break_look\n1,2026-03-01,blue,A1,smooth,kept,,ragged\n"
        "2,2026-03-01,blue,A1,smooth,broke,tooth-jump,straight-across\n"
    )
    assert said(log(runs=runs))[1:] == [
        (
            'runs.csv:2:break_look: warning: "ragged" is the look of a broken belt, but this one was kept; '
            "correct the look or the fate"
        )
    ]


def test_a_straight_break_beside_another_cause_than_a_jump_is_doubted(log) -> None:
    rows = "1,2026-03-01,blue,A1,smooth,broke,{},straight-across\n2,2026-03-01,red,A2,smooth,kept,,none\n"
    runs = "run,day,car,belt,idler,fate,cause,break_look\n" + rows
    assert said(log(runs=runs.format("tooth-jump")))[1:] == []
    assert said(log(runs=runs.format("cord-pull"), name="pulled"))[1:] == [
        (
            'runs.csv:2:break_look: warning: "straight-across" is the look of a belt that jumped a tooth, '
            "but the cause is cord-pull; correct the look or the cause if either is a slip"
        )
    ]


def test_a_log_without_causes_says_how_its_endings_are_taken(log) -> None:
    runs = "run,day,car,belt,idler,fate\n1,2026-03-01,blue,A1,smooth,broke\n2,2026-03-01,red,A2,smooth,retired\n"
    assert said(log(runs=runs))[1:] == [
        (
            "runs.csv:1:cause: warning: without this column 2 endings must be taken as unknown: a belt that broke "
            "counts "
            "as failed, one that was retired does not; add it to learn how belts fail"
        )
    ]


def test_runs_that_stand_out_of_order_are_judged_in_order_of_run(log) -> None:
    runs = (
        "run,day,car,belt,idler,fate,cause\n3,2026-03-02,blue,A1,smooth,broke,unknown\n"
        "1,2026-03-01,blue,A1,smooth,kept,\n2,2026-03-01,blue,A1,smooth,kept,\n"
    )
    assert said(log(runs=runs))[1:] == []


def test_a_belt_of_a_row_that_cannot_be_trusted_is_still_a_belt(log) -> None:
    assert said(log(belt=("A3,rubber,80", "A3,rubber,80,1"))) == [
        (
            "belts.csv:4: fault: has 7 cells where the heading has 6; "
            "a comma or semicolon too many? put a text that holds one between double quotes"
        )
    ]


def test_no_belt_is_missed_when_a_row_of_belts_could_not_be_read(log) -> None:
    assert said(log(belt=("A3,rubber,80", 'A3,"rub" ber,80'))) == [
        'belts.csv:4: fault: goes on after a closing double quote; write a double quote within a text as ""'
    ]


def test_belts_that_were_fitted_and_have_no_run_are_doubted_where_the_runs_end_early(log) -> None:
    rows = "".join(f"{number},2026-03-01,blue,A1,smooth,kept\n" for number in range(1, 13))
    belts = "belt,first_day\nA1,2026-03-01\nA2,2026-03-08\nA3,2026-03-08\nspare,\n"
    place = log(belts, f"run,day,car,belt,idler,fate\n{rows}")
    assert [str(fault) for fault in check_season(place)] == [
        (
            'belts.csv:3:belt: warning: "A2" has no run, though it has been fitted; 2 belts without a run in all; '
            "put the runs back if some are gone"
        )
    ]


@pytest.mark.parametrize(("drawn", "doubted"), [("toothed", False), ("", True)])
def test_a_belt_that_a_plan_drew_waits_for_its_turn_undoubted(log, drawn: str, doubted: bool) -> None:
    rows = "".join(f"{number},2026-03-01,blue,A3,smooth,kept\n" for number in range(1, 13))
    place = log(f"belt,trial_idler\nA1,{drawn}\nA3,smooth\n", f"run,day,car,belt,idler,fate\n{rows}")
    assert [fault.wrong for fault in check_season(place)] == ["has no run, though belts below it have"] * doubted


@pytest.mark.parametrize(("heading", "columns"), [("belt", ["belt"]), ("strap", ["", "belt"])])
def test_belts_and_their_stretch_are_not_doubted_where_no_run_says_its_belt(
    log, heading: str, columns: list[str]
) -> None:
    rows = "".join(f"{number},2026-03-01,blue,A1,smooth,kept,400,6,560\n" for number in range(1, 13))
    belts = "belt,first_day,stiffness_n,teeth,pitch_mm\nA1,2026-03-01,2000000,130,14\nA2,2026-03-01,2000000,130,14\n"
    place = log(belts, f"run,day,car,{heading},idler,fate,push_n,push_mm,span_mm\n{rows}")
    assert [fault.column for fault in check_season(place)] == columns


def test_a_last_line_without_an_end_is_doubted(log) -> None:
    place = log()
    for file in ("belts.csv", "runs.csv"):
        (place / file).write_text((place / file).read_text().rstrip("\n"))
    said = [str(fault) for fault in check_season(place) if "last line" in str(fault)]
    assert [line.split(": is a last line without an end")[0] for line in said] == [
        "belts.csv:4: warning",
        "runs.csv:7: warning",
    ]


def test_a_number_a_digit_short_is_doubted_where_its_column_is_wide_and_a_blank_or_nought_is_not(log) -> None:
    after = [5000, 6000, 7000, 8000, 9000, 9500, 10000, 10500, 11000, 11500, 936, 0]
    rows = [f"{run},2026-03-01,blue,A1,smooth,{tension},kept" for run, tension in enumerate(after, 1)]
    place = log("belt\nA1\n", "run,day,car,belt,idler,tension_after_n,fate\n" + "\n".join(rows) + "\n")
    assert said(place) == [
        (
            'runs.csv:12:tension_after_n: warning: "936" is far from the rest of its column: half of it is near 8000; '
            "correct it if it is a slip"
        )
    ]
