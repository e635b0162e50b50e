from unittest.mock import patch

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivekit.faults import Unusable, counted, shown
from drivekit.log import tables
from drivekit.log.tables import filled_table


def content(text: str) -> tuple[tuple[str, ...], list[list[str]], list[int]]:
    table = filled_table("t.csv", text)
    rows = [[cells.distinct[cells.code[row]] for cells in table.cells] for row in range(len(table.line))]
    return table.headings, rows, table.line.tolist()


def said(text: str) -> list[str]:
    return [str(fault) for fault in filled_table("t.csv", text).faults]


EXPECTED = (("run", "note"), [["1", "fast"], ["2", "slow"]], [2, 3])


@pytest.mark.parametrize(
    "text",
    [
        "run,note\n1,fast\n2,slow\n",
        "run;note\n1;fast\n2;slow\n",
        "run,note\r\n1,fast\r\n2,slow\r\n",
        "run,note\r1,fast\r2,slow\r",
        "run,note\n1,fast\n2,slow",
        ' run , note\n 1 ,fast \n2,"slow"\n',
        "run,note\n1,fast\n2,slow\n\n,\n  ,\n",
    ],
    ids=["comma", "semicolon", "CRLF", "CR", "no last end", "stray blanks", "blank rows at the end"],
)
def test_the_same_table_is_read_from_every_dialect(text) -> None:
    assert content(text) == EXPECTED
    assert said(text) == []


CELLS = st.sampled_from(("", "1", "2", " 2 ", "fast", '"a, b"', '"a\nb"', '"a ""b"""', '"', 'a"b', "\u2028", "x\x0cy"))
ROWS = st.lists(CELLS, min_size=1, max_size=4).map(",".join)
LINES = st.lists(
    st.tuples(st.one_of(st.just("1,fast,"), st.just("2,slow,x"), ROWS), st.sampled_from(("\n", "\r\n", "\r")))
)


@given(LINES, st.integers(1, 4), st.integers(1, 12))
def test_rows_sorted_many_at_once_are_those_sorted_one_by_one(lines, together: int, piece: int) -> None:
    text = "run,note,look\n" + "".join(line + end for line, end in lines)
    with patch.object(tables, "TOGETHER", together), patch.object(tables, "PIECE_CHARACTERS", piece):
        many = content(text), said(text), filled_table("t.csv", text).complete
    with patch.object(tables, "TOGETHER", 1), patch.object(tables, "PIECE_CHARACTERS", 10**9):
        assert (content(text), said(text), filled_table("t.csv", text).complete) == many


def test_a_long_table_is_read_whole() -> None:
    text = "run,note\n" + "".join(f"{run}, fast\r\n" for run in range(5000))
    _, rows, line = content(text)
    assert rows == [[str(run), "fast"] for run in range(5000)]
    assert line == list(range(2, 5002))


def test_a_separator_in_a_quoted_heading_decides_nothing() -> None:
    assert content('"a;b;c",d\n1,2\n') == (("a;b;c", "d"), [["1", "2"]], [2])


def test_a_quoted_cell_may_hold_separators_quotes_and_line_ends_and_counts_from_its_first_line() -> None:
    assert content('run,note\n1,"a, ""b""\n\nc"\n2,slow\n') == (
        ("run", "note"),
        [["1", 'a, "b"\n\nc'], ["2", "slow"]],
        [2, 5],
    )


def test_rows_with_cells_too_many_or_too_few_are_faults() -> None:
    assert said("run,note\n1,a,b\n2\n3,c\n") == [
        (
            "t.csv:2: fault: has 3 cells where the heading has 2; "
            "a comma or semicolon too many? put a text that holds one between double quotes"
        ),
        "t.csv:3: fault: has 1 cell where the heading has 2; give every column a cell, blank where nothing is known",
    ]


def test_blank_rows_between_others_are_said_once() -> None:
    assert said("run,note\n1,a\n\n2,b\n,\n3,c\n\n") == [
        "t.csv:3: warning: first of 2 blank rows between the others; take it out if nothing is missing there"
    ]
    assert said("\nrun,note\n1,a\n") == []
    assert filled_table("t.csv", "\nrun,note\n1,a\n").heading_line == 2


def test_a_quote_that_never_closes_is_found_where_it_opens() -> None:
    assert said('run,note\n1,a\n2,"b\n3,c\n') == [
        (
            "t.csv:3: fault: opens a double quote that is never closed, so all below it is one cell; "
            "close the quote, or take it out"
        )
    ]


def test_a_quote_that_closes_too_early_costs_its_own_row_only() -> None:
    assert said('run,note\n1,"3" wide\n2,b\n') == [
        't.csv:2: fault: goes on after a closing double quote; write a double quote within a text as ""'
    ]
    assert content('run,note\n1,"3" wide\n2,b\n')[1] == [["2", "b"]]


def test_a_cell_without_end_is_a_fault() -> None:
    assert said(f"run,note\n1,{'x' * 140_000}\n") == [
        "t.csv:2: fault: holds a cell of more than 131072 characters; a double quote may stand open here"
    ]


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "t.csv is empty: its first line must name the columns."),
        ("\n , \n\n", "t.csv is empty: its first line must name the columns."),
        ("run\tnote\n1\ta\n", "t.csv parts its columns by tabs: save it with commas or semicolons."),
        (
            'run,"note\n1,a\n',
            (
                "t.csv has a heading that cannot be read (line 1): opens a double quote that is never "
                "closed, so all below it is one cell; close the quote, or take it out."
            ),
        ),
    ],
)
def test_what_is_no_table_is_refused_in_one_sentence(text, sentence) -> None:
    with pytest.raises(Unusable) as refused:
        filled_table("t.csv", text)
    assert str(refused.value) == sentence


def test_what_is_typed_is_shown_so_that_it_can_be_seen_and_does_no_harm() -> None:
    assert shown("toothed") == "toothed"
    assert shown("a\nb\x1b[31m\u202e\ufeff") == "a\\nb\\x1b[31m\\u202e\\ufeff"
    assert shown("Zähne") == "Zähne"
    assert shown("x" * 60) == "x" * 60
    assert shown("x" * 61) == "x" * 59 + "…"
    assert counted(1, "run") == "1 run"
    assert counted(0, "run") == "0 runs"
