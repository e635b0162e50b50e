"""A blank log to fill in: two files and a page on what each column means, or one spreadsheet.

The spreadsheet has drop-downs for every level, frozen headings, and on each heading what its column means.
"""

from __future__ import annotations

import csv
import datetime
import io
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from drivekit.cautions import CAUTIONS
from drivekit.log.cells import figure
from drivekit.log.columns import BELTS, RUNS, Column
from drivekit.units import INCH_POUND

__all__ = ["RUN_SHEET", "blank_files", "blank_spreadsheet", "columns_in_words"]

RUN_SHEET = "run-sheet.pdf"
SHEETS = {"belts": BELTS, "runs": RUNS}
WORDS = ("column", "must be filled", "what it holds", "what it means")
LAST_ROW = 5000
INK, GREY, MUST, MAY = "1B2A33", "6B7780", "C9DCE8", "EDF2F5"


def blank_files(planned: Sequence[Mapping[str, str]] = ()) -> dict[str, bytes]:
    """Make the files of a blank log, by name: its two tables with an example row each, and what each column means.

    Belts that a plan drew, as cells by the names of their columns, stand in place of both examples.
    """
    files = {}
    for name, columns in SHEETS.items():
        text = io.StringIO()
        rows = [[column.name for column in columns], *_rows(name, columns, planned)]
        csv.writer(text, lineterminator="\n").writerows(rows)
        files[f"{name}.csv"] = text.getvalue().encode()
    return files | {"README.md": _readme().encode()}


def _rows(name: str, columns: Sequence[Column], planned: Sequence[Mapping[str, str]]) -> list[list[str]]:
    """Give what stands under the headings of a table: an example, or the belts that a plan drew and no run."""
    if not planned:
        return [[column.example for column in columns]]
    return [[belt.get(column.name, "") for column in columns] for belt in planned if name == "belts"]


def blank_spreadsheet(planned: Sequence[Mapping[str, str]] = ()) -> bytes:
    """Make the spreadsheet: sheets belts and runs with one example row each, and a sheet that explains the columns.

    Belts that a plan drew stand in place of both examples, as in `blank_files`.
    """
    from openpyxl import Workbook
    from openpyxl.utils import get_column_letter

    book = Workbook()
    book.remove(book.active)
    for name, columns in SHEETS.items():
        sheet = book.create_sheet(name)
        for index, column in enumerate(columns, 1):
            _column(sheet, index, column, () if planned else (_example(column),))
        for cells in _rows(name, columns, planned) if planned else ():
            sheet.append([int(cell) if cell.isdigit() else cell or None for cell in cells])
        sheet.freeze_panes = "B2"
        sheet.row_dimensions[1].height = 22
    # Every run is offered the belts of the first sheet.
    of_runs, of_belts = (
        get_column_letter([column.name for column in columns].index("belt") + 1) for columns in (RUNS, BELTS)
    )
    belts = f"belts!${of_belts}$2:${of_belts}${LAST_ROW}"
    _offer(book["runs"], of_runs, "belt", "Give the belt a row among the belts first.", type="list", formula1=belts)
    _explain(book.create_sheet("columns"))
    kept = io.BytesIO()
    book.save(kept)
    return kept.getvalue()


def columns_in_words(columns: Sequence[Column]) -> str:
    """Write what each column means as a Markdown table."""
    rows = [f"| {' | '.join(WORDS)} |", "|---|---|---|---|"]
    rows += [f"| `{name}` | {' | '.join(words)} |" for name, *words in map(_in_words, columns)]
    return "\n".join(rows)


def _in_words(column: Column) -> tuple[str, str, str, str]:
    return column.name, "yes" if column.required else "", column.holds, column.meaning


def _readme() -> str:
    tension = next(column for column in RUNS if column.name == "tension_n")
    return (
        Path(__file__)
        .with_name("blank_log.md")
        .read_text(encoding="utf-8")
        .format(
            run_sheet=RUN_SHEET,
            twins="\n".join(f"- {sentence}" for sentence in _twins()),
            low=figure(tension.low),
            high=figure(tension.high),
            belts=columns_in_words(BELTS),
            runs=columns_in_words(RUNS),
            cautions="\n".join(f"- {caution}" for caution in CAUTIONS),
        )
    )


def _twins() -> list[str]:
    """Say how a heading is written in either unit."""
    twins = [(unit, twin) for unit, twin in INCH_POUND.items() if unit in {one.unit for one in (*BELTS, *RUNS)}]
    return [f"`{twin.ending}` in {unit}, or `{twin.twin_ending}` in {twin.unit}" for unit, twin in twins]


def _column(sheet: Any, index: int, column: Column, example: Sequence[object]) -> None:
    """Set a column's heading, example and what the spreadsheet itself refuses as checking would."""
    from openpyxl.comments import Comment
    from openpyxl.styles import Alignment, Font, PatternFill

    heading = sheet.cell(1, index, column.name)
    heading.font = Font(bold=True, color=INK)
    heading.fill = PatternFill("solid", fgColor=MUST if column.required else MAY)
    heading.alignment = Alignment(vertical="center")
    must = "\nMust be filled." if column.required else ""
    holds = f"{column.holds[0].upper()}{column.holds[1:]}"
    twin = INCH_POUND.get(column.unit)
    other = "" if twin is None else f"\nTo write {twin.unit}, change this heading to {column.twin}."
    heading.comment = Comment(f"{column.meaning}\n{holds}.{other}{must}", "drivekit", height=150, width=260)
    letter = heading.column_letter
    sheet.column_dimensions[letter].width = max(len(column.name), *map(len, column.levels), 9) + 3
    if column.kind == "day":
        sheet.column_dimensions[letter].number_format = "yyyy-mm-dd"
    for cell in example:
        sheet.cell(2, index, cell).font = Font(italic=True, color=GREY)
    if column.levels:
        _offer(sheet, letter, column.name, column.holds, type="list", formula1=f'"{",".join(column.levels)}"')
    elif column.is_number and not column.question:
        kind = "whole" if column.kind == "whole" else "decimal"
        low, high = (_limit(column, limit, f"{letter}$1") for limit in (column.low or 0.0, column.high))
        says = f"{column.holds} (under {column.twin}: in {twin.unit})" if twin else column.holds
        _offer(sheet, letter, column.name, says, type=kind, operator="between", formula1=low, formula2=high)


def _limit(column: Column, limit: float, heading: str) -> str:
    """Write a limit as a cell rule takes it: it follows the heading when that is changed to the other unit."""
    twin = INCH_POUND.get(column.unit)
    return f"{limit!r}" if twin is None else f'IF({heading}="{column.twin}",{twin.inch_pound(limit)!r},{limit!r})'


def _example(column: Column) -> object:
    if column.kind == "day":
        return datetime.date.fromisoformat(column.example)
    if column.is_number and column.example:
        value = float(column.example)
        return int(value) if value.is_integer() else value
    return column.example or None


def _offer(sheet: Any, letter: str, title: str, error: str, **what: Any) -> None:
    """Offer what a column may hold, from its second row on, and refuse anything else but a blank."""
    from openpyxl.worksheet.datavalidation import DataValidation

    says = {"allow_blank": True, "showErrorMessage": True, "errorTitle": title, "error": error[:250]}
    sheet.add_data_validation(DataValidation(sqref=f"{letter}2:{letter}{LAST_ROW}", **what, **says))


def _explain(sheet: Any) -> None:
    from openpyxl.styles import Alignment, Font

    sheet.append(["sheet", *WORDS])
    for name, columns in SHEETS.items():
        for column in columns:
            sheet.append([name, *_in_words(column)])
    for row in sheet.iter_rows():
        for cell in row:
            cell.alignment = Alignment(wrap_text=True, vertical="top")
            cell.font = Font(bold=cell.row == 1, color=INK)
    units = ("A heading's ending says its unit; change the ending to write in the other unit:", *_twins())
    for line in ("", *units, "", "Cautions", *CAUTIONS):
        sheet.append((line.replace("`", ""),))
    for letter, width in zip("ABCDE", (9, 20, 14, 44, 70), strict=True):
        sheet.column_dimensions[letter].width = width
    sheet.freeze_panes = "A2"
