"""A blank log to fill in: two files and a page on what each column means, or one spreadsheet.

The spreadsheet has drop-downs for every level, frozen headings, and on each heading what its column means.
"""

from __future__ import annotations

import datetime
import io
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from drivekit.cautions import CAUTIONS
from drivekit.log.cells import figure
from drivekit.log.columns import BELTS, RUNS, TABLES, Column
from drivekit.log.tables import csv_text
from drivekit.log.tension import HIGH_N, LOW_N
from drivekit.units import INCH_POUND

__all__ = ["RUN_SHEET", "blank_files", "blank_spreadsheet", "columns_in_words"]

RUN_SHEET = "run-sheet.pdf"
WORDS = ("column", "must be filled", "what it holds", "what it means")
LAST_ROW = 5000
INK, GREY, MUST, MAY = "1B2A33", "6B7780", "C9DCE8", "EDF2F5"


def blank_files(planned: Sequence[Mapping[str, str]] = ()) -> dict[str, bytes]:
    """Make the files of a blank log, by name: its two tables with an example row each, and what each column means.

    Belts that a plan drew, as cells by the names of their columns, stand in place of both examples.
    """
    files = {
        f"{name}.csv": csv_text([[column.name for column in columns], *_rows(name, columns, planned)]).encode()
        for name, columns in TABLES.items()
    }
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
    from openpyxl.styles import Font

    book = Workbook()
    book.remove(book.active)
    at: dict[str, str] = {}
    for name, columns in TABLES.items():
        sheet = book.create_sheet(name)
        for index, column in enumerate(columns, 1):
            letter = _column(sheet, index, column)
            at |= {name: letter} if column.name == "belt" else {}
        for cells in _rows(name, columns, planned):
            sheet.append([_typed(column, cell) for column, cell in zip(columns, cells, strict=True)])
        for cell in () if planned else sheet[2]:
            cell.font = Font(italic=True, color=GREY)
        sheet.freeze_panes = "B2"
        sheet.row_dimensions[1].height = 22
    # Every run is offered the belts of the first sheet.
    belts = f"belts!${at['belts']}$2:${at['belts']}${LAST_ROW}"
    _offer(book["runs"], at["runs"], "belt", "Give the belt a row among the belts first.", type="list", formula1=belts)
    _explain(book.create_sheet("columns"))
    kept = io.BytesIO()
    book.save(kept)
    return kept.getvalue()


def _typed(column: Column, cell: str) -> object:
    """Give a cell as a spreadsheet holds it: days and numbers as such, nothing where it is blank."""
    if column.kind == "day" and cell:
        return datetime.date.fromisoformat(cell)
    return float(cell) if column.is_number and cell else cell or None


def columns_in_words(columns: Sequence[Column]) -> str:
    """Write what each column means as a Markdown table."""
    rows = [f"| {' | '.join(WORDS)} |", "|---|---|---|---|"]
    rows += [f"| `{name}` | {' | '.join(words)} |" for name, *words in map(_in_words, columns)]
    return "\n".join(rows)


def _in_words(column: Column) -> tuple[str, str, str, str]:
    return column.name, "yes" if column.required else "", column.holds, column.meaning


def _readme() -> str:
    text = Path(__file__).with_name("blank_log.md").read_text(encoding="utf-8")
    return text.format(
        run_sheet=RUN_SHEET,
        twins="\n".join(f"- {sentence}" for sentence in _twins()),
        low=figure(LOW_N),
        high=figure(HIGH_N),
        belts=columns_in_words(BELTS),
        runs=columns_in_words(RUNS),
        cautions="\n".join(f"- {caution}" for caution in CAUTIONS),
    )


def _twins() -> list[str]:
    """Say how a heading is written in either unit."""
    twins = [(unit, twin) for unit, twin in INCH_POUND.items() if unit in {one.unit for one in (*BELTS, *RUNS)}]
    return [f"`{twin.ending}` in {unit}, or `{twin.twin_ending}` in {twin.unit}" for unit, twin in twins]


def _column(sheet: Any, index: int, column: Column) -> str:
    """Set a column's heading and what the spreadsheet itself refuses as checking would; give its letter."""
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
    if column.levels:
        _offer(sheet, letter, column.name, column.holds, type="list", formula1=f'"{",".join(column.levels)}"')
    elif column.is_number and not column.question:
        kind = "whole" if column.kind == "whole" else "decimal"
        low, high = f"{column.low or 0.0!r}", f"{column.high!r}"
        says = column.holds
        if twin:
            # The limits follow the heading when that is changed to the other unit.
            inch = f'{letter}$1="{column.twin}"'
            low, high = (f"IF({inch},{twin.inch_pound(float(limit))!r},{limit})" for limit in (low, high))
            says += f" (under {column.twin}: in {twin.unit})"
        _offer(sheet, letter, column.name, says, type=kind, operator="between", formula1=low, formula2=high)
    return str(letter)


def _offer(sheet: Any, letter: str, title: str, error: str, **what: Any) -> None:
    """Offer what a column may hold, from its second row on, and refuse anything else but a blank."""
    from openpyxl.worksheet.datavalidation import DataValidation

    says = {"allow_blank": True, "showErrorMessage": True, "errorTitle": title, "error": error[:250]}
    sheet.add_data_validation(DataValidation(sqref=f"{letter}2:{letter}{LAST_ROW}", **what, **says))


def _explain(sheet: Any) -> None:
    from openpyxl.styles import Alignment, Font

    sheet.append(["sheet", *WORDS])
    for name, columns in TABLES.items():
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
