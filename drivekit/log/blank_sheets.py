"""A blank log as a spreadsheet: drop-downs for every level, frozen headings, what each column means on its heading."""

from __future__ import annotations

import datetime
import io
from collections.abc import Sequence
from typing import Any

from drivekit.cautions import CAUTIONS
from drivekit.log.columns import BELTS, RUNS, Column

__all__ = ["blank_spreadsheet"]

LAST_ROW = 5000
INK = "1B2A33"
MUST = "C9DCE8"
MAY = "EDF2F5"
GREY = "6B7780"


def blank_spreadsheet() -> bytes:
    """Make the spreadsheet: sheets belts and runs with one example row each, and a sheet that explains the columns."""
    from openpyxl import Workbook

    book = Workbook()
    for sheet, name, columns in ((book.active, "belts", BELTS), (book.create_sheet(), "runs", RUNS)):
        sheet.title = name
        for index, column in enumerate(columns, 1):
            _column(sheet, index, column)
        sheet.freeze_panes = "B2"
        sheet.row_dimensions[1].height = 22
    _offer_belts(book["runs"])
    _explain(book.create_sheet("columns"))
    kept = io.BytesIO()
    book.save(kept)
    return kept.getvalue()


def _column(sheet: Any, index: int, column: Column) -> None:
    from openpyxl.comments import Comment
    from openpyxl.styles import Alignment, Font, PatternFill
    from openpyxl.utils import get_column_letter

    letter = get_column_letter(index)
    heading = sheet.cell(1, index, column.name)
    heading.font = Font(bold=True, color=INK)
    heading.fill = PatternFill("solid", fgColor=MUST if column.required else MAY)
    heading.alignment = Alignment(vertical="center")
    must = "\nMust be filled." if column.required else ""
    heading.comment = Comment(
        f"{column.meaning}\n{column.holds[0].upper()}{column.holds[1:]}.{must}", "drivekit", height=130, width=260
    )
    sheet.column_dimensions[letter].width = max(len(column.name), *map(len, column.levels), 9) + 3
    if column.kind == "day":
        sheet.column_dimensions[letter].number_format = "yyyy-mm-dd"
    example = sheet.cell(2, index, _example(column))
    example.font = Font(italic=True, color=GREY)
    validation = _validation(column)
    if validation is not None:
        validation.add(f"{letter}2:{letter}{LAST_ROW}")
        sheet.add_data_validation(validation)


def _example(column: Column) -> object:
    if not column.example:
        return None
    if column.kind == "day":
        return datetime.date.fromisoformat(column.example)
    if column.is_number:
        value = float(column.example)
        return int(value) if value.is_integer() else value
    return column.example


def _validation(column: Column) -> Any:
    """Let the spreadsheet itself refuse what checking would; None where a column takes any text."""
    from openpyxl.worksheet.datavalidation import DataValidation

    says: dict[str, Any] = {
        "allow_blank": True,
        "showErrorMessage": True,
        "errorTitle": column.name,
        "error": column.holds[:250],
    }
    if column.levels:
        return DataValidation(type="list", formula1=f'"{",".join(column.levels)}"', **says)
    if column.is_number and not column.question:
        kind = "whole" if column.kind == "whole" else "decimal"
        return DataValidation(type=kind, operator="between", formula1=column.low, formula2=column.high, **says)
    return None


def _offer_belts(runs: Any) -> None:
    """Offer the belts of the first sheet on every run."""
    from openpyxl.utils import get_column_letter
    from openpyxl.worksheet.datavalidation import DataValidation

    letter = get_column_letter([column.name for column in RUNS].index("belt") + 1)
    belts = get_column_letter([column.name for column in BELTS].index("belt") + 1)
    offer = DataValidation(
        type="list",
        formula1=f"belts!${belts}$2:${belts}${LAST_ROW}",
        allow_blank=True,
        showErrorMessage=True,
        errorTitle="belt",
        error="Give the belt a row among the belts first.",
    )
    offer.add(f"{letter}2:{letter}{LAST_ROW}")
    runs.add_data_validation(offer)


def _explain(sheet: Any) -> None:
    from openpyxl.styles import Alignment, Font

    sheet.append(["sheet", "column", "must be filled", "what it holds", "what it means"])
    for name, columns in (("belts", BELTS), ("runs", RUNS)):
        _rows(sheet, name, columns)
    sheet.append([])
    sheet.append(["Cautions"])
    for caution in CAUTIONS:
        sheet.append([caution])
    for row in sheet.iter_rows(min_row=1, max_row=1 + len(BELTS) + len(RUNS)):
        for cell in row:
            cell.alignment = Alignment(wrap_text=True, vertical="top")
            cell.font = Font(bold=cell.row == 1, color=INK)
    for letter, width in zip("ABCDE", (9, 20, 14, 44, 70), strict=True):
        sheet.column_dimensions[letter].width = width
    sheet.freeze_panes = "A2"


def _rows(sheet: Any, name: str, columns: Sequence[Column]) -> None:
    for column in columns:
        sheet.append([name, column.name, "yes" if column.required else "", column.holds, column.meaning])
