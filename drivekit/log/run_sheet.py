"""The run sheet: one printed page a run, with a box to tick for every level and a line for every number.

It is drawn from the table of columns, part by part; the fields of a part flow into even rows, each field as wide as its
boxes need, and every row is stretched to the full width. The page fits A4 and US letter alike.
"""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from drivekit.cautions import CAUTIONS
from drivekit.log.columns import RUNS, Column
from drivekit.log.units import INCH_POUND

if TYPE_CHECKING:
    from fpdf import FPDF

__all__ = ["Field", "rows_of", "run_sheet"]

WIDTH_MM = 186.0
LEFT_MM = 12.0
TOP_MM = 11.0
# US letter is 279.4 mm high, A4 297: what ends above 269 prints whole on both.
BOTTOM_MM = 269.0
FIELD_MM = 11.6
LINE_MM = 6.4
GAP_MM = 1.7
INSET_MM = 1.5
BOX_MM = 3.8
BOX_TO_WORD_MM = 1.1
WORD_TO_BOX_MM = 3.0
UNIT_GAP_MM = 1.4
LABEL_PT = 6.8
LEVEL_PT = 9.0
INK = (27, 42, 51)
FAINT = (90, 103, 112)
TINT = (233, 239, 243)
RULE = (130, 143, 152)
# A PDF carries the moment it was made; a fixed one keeps the bytes the same.
MADE = datetime.datetime(2026, 1, 1, tzinfo=datetime.UTC)


@dataclass(frozen=True, slots=True)
class Field:
    """One column's place on the page.

    Parameters
    ----------
    column : Column
        The column it asks for.
    needs_mm : float
        The width its label, boxes or writing line need.
    lines : tuple of tuple of str
        The levels on each line of boxes; empty where there is a line to write on.
    """

    column: Column
    needs_mm: float
    lines: tuple[tuple[str, ...], ...] = ()

    @property
    def height_mm(self) -> float:
        """The height its lines need."""
        return FIELD_MM + LINE_MM * max(0, len(self.lines) - 1)


def run_sheet() -> bytes:
    """Draw the run sheet as a PDF of one page; the same bytes every time.

    Raises
    ------
    ValueError
        If the columns no longer fit on one page.
    """
    page = _page()
    try:
        _title(page)
        for part in dict.fromkeys(column.part for column in RUNS if column.part):
            _part(page, part, [column for column in RUNS if column.part == part])
        _cautions(page)
        if page.get_y() > BOTTOM_MM:
            foot = f"{page.get_y():.0f} mm"
            raise ValueError(f"the run sheet ends at {foot}, below the foot of the page: narrow its fields")
        return bytes(page.output())
    finally:
        for font in page.fonts.values():
            font.close()  # the font's file stays open until told


def rows_of(fields: Sequence[Field], width_mm: float = WIDTH_MM) -> list[list[Field]]:
    """Break fields into rows no wider than the page, in their order: as few as can be, and as even as can be."""
    best: list[tuple[int, float, int]] = [(0, 0.0, 0)]
    for end in range(1, len(fields) + 1):
        ways = []
        for start in range(end):
            used = sum(field.needs_mm for field in fields[start:end]) + GAP_MM * (end - start - 1)
            if used <= width_mm or start == end - 1:
                rows, uneven, _ = best[start]
                ways.append((rows + 1, uneven + (width_mm - used) ** 2, start))
        best.append(min(ways))
    broken: list[list[Field]] = []
    end = len(fields)
    while end:
        start = best[end][2]
        broken.insert(0, list(fields[start:end]))
        end = start
    return broken


def _page() -> FPDF:
    from fpdf import FPDF
    from matplotlib import get_data_path

    page = FPDF(format="A4", unit="mm")
    fonts = Path(get_data_path()) / "fonts" / "ttf"
    page.add_font("sans", "", fonts / "DejaVuSans.ttf")
    page.add_font("sans", "B", fonts / "DejaVuSans-Bold.ttf")
    page.set_creation_date(MADE)
    page.set_title("Run sheet")
    page.set_author("the drivekit authors")
    page.set_lang("en")
    page.set_margins(LEFT_MM, TOP_MM, LEFT_MM)
    page.set_auto_page_break(False)
    page.add_page()
    page.set_text_color(*INK)
    return page


def _title(page: FPDF) -> None:
    page.set_font("sans", "B", 17)
    page.text(LEFT_MM, TOP_MM + 6.4, "Run sheet")
    page.set_font("sans", "", LABEL_PT)
    page.set_text_color(*FAINT)
    notes = (
        "One page a run. ● must be filled; leave blank what was not looked at. A flat is a sixth of a turn.",
        "Front is away from the engine, rear towards it; left and right as the driver sits.",
    )
    for at, note in enumerate(notes):
        page.text(LEFT_MM + WIDTH_MM - page.get_string_width(note), TOP_MM + 3.0 + 3.6 * at, note)
    page.set_text_color(*INK)
    page.set_y(TOP_MM + 9.4)


def _part(page: FPDF, part: str, columns: Sequence[Column]) -> None:
    top = page.get_y()
    page.set_fill_color(*INK)
    page.rect(LEFT_MM, top, WIDTH_MM, 4.8, style="F")
    page.set_font("sans", "B", 8)
    page.set_text_color(255, 255, 255)
    page.text(LEFT_MM + INSET_MM, top + 3.4, part)
    page.set_text_color(*INK)
    y = top + 4.8 + GAP_MM
    for row in rows_of([_planned(page, column) for column in columns]):
        # What a row has left goes to its writing lines, since boxes need no more than they have.
        spare = WIDTH_MM - sum(field.needs_mm for field in row) - GAP_MM * (len(row) - 1)
        written = [field for field in row if not field.lines] or row
        height = max(field.height_mm for field in row)
        left = LEFT_MM
        for field in row:
            width = field.needs_mm + (spare / len(written) if field in written else 0.0)
            _field(page, field, left, y, width, height)
            left += width + GAP_MM
        y += height + GAP_MM
    page.set_y(y)


def _planned(page: FPDF, column: Column) -> Field:
    """Measure what a column needs; levels that do not fit on one line take more."""
    page.set_font("sans", "B", LABEL_PT)
    label = page.get_string_width(_label(column)) + 2 * INSET_MM
    if not column.levels:
        writing = {"text": 60.0, "name": 30.0, "day": 28.0}.get(column.kind, 20.0)
        return Field(column, max(label, writing + _units_mm(page, column) + 2 * INSET_MM))
    page.set_font("sans", "", LEVEL_PT)
    room = WIDTH_MM - 2 * INSET_MM + WORD_TO_BOX_MM
    lines: list[list[str]] = [[]]
    widths = [0.0]
    for level in column.levels:
        width = BOX_MM + BOX_TO_WORD_MM + page.get_string_width(level) + WORD_TO_BOX_MM
        if lines[-1] and widths[-1] + width > room:
            lines.append([])
            widths.append(0.0)
        lines[-1].append(level)
        widths[-1] += width
    boxes = max(widths) - WORD_TO_BOX_MM + 2 * INSET_MM
    return Field(column, max(label, boxes), tuple(map(tuple, lines)))


def _label(column: Column) -> str:
    return f"● {column.label}" if column.required else column.label


def _field(page: FPDF, field: Field, left: float, top: float, width: float, height: float) -> None:
    page.set_fill_color(*TINT)
    page.rect(left, top, width, height, style="F")
    page.set_font("sans", "B", LABEL_PT)
    page.text(left + INSET_MM, top + 3.5, _label(field.column))
    line = top + FIELD_MM - 2.0
    for at, levels in enumerate(field.lines):
        _boxes(page, levels, left + INSET_MM, line + LINE_MM * at, LEVEL_PT, WORD_TO_BOX_MM)
    if not field.lines:
        _writing_line(page, field.column, left + INSET_MM, left + width - INSET_MM, line)


def _writing_line(page: FPDF, column: Column, left: float, right: float, line: float) -> None:
    """Rule a line to write on, with its unit at the end, or a box for each unit where there are two."""
    units = _units_mm(page, column)
    page.set_draw_color(*RULE)
    page.set_line_width(0.25)
    page.line(left, line, right - units, line)
    start = right - units + UNIT_GAP_MM
    if column.unit in INCH_POUND:
        _boxes(page, (column.unit, INCH_POUND[column.unit].unit), start, line, LABEL_PT, UNIT_GAP_MM)
    elif column.unit:
        page.set_font("sans", "", LABEL_PT)
        page.text(start, line, column.unit)


def _units_mm(page: FPDF, column: Column) -> float:
    """Measure what the unit, or the boxes of both units, take from a writing line."""
    page.set_font("sans", "", LABEL_PT)
    if column.unit in INCH_POUND:
        both = (column.unit, INCH_POUND[column.unit].unit)
        return sum(UNIT_GAP_MM + BOX_MM + BOX_TO_WORD_MM + float(page.get_string_width(unit)) for unit in both)
    return UNIT_GAP_MM + float(page.get_string_width(column.unit)) if column.unit else 0.0


def _boxes(page: FPDF, words: Sequence[str], left: float, line: float, size: float, apart: float) -> None:
    page.set_font("sans", "", size)
    page.set_draw_color(*INK)
    page.set_fill_color(255, 255, 255)
    page.set_line_width(0.3)
    for word in words:
        page.rect(left, line - BOX_MM + 0.6, BOX_MM, BOX_MM, style="DF")
        page.text(left + BOX_MM + BOX_TO_WORD_MM, line, word)
        left += BOX_MM + BOX_TO_WORD_MM + page.get_string_width(word) + apart


def _cautions(page: FPDF) -> None:
    top = page.get_y() + 0.6
    page.set_font("sans", "B", 8)
    page.text(LEFT_MM + 2.4, top + 4.4, "Before hands go near the drive")
    page.set_font("sans", "", 7.4)
    page.set_xy(LEFT_MM + 1.4, top + 6.0)
    page.multi_cell(WIDTH_MM - 2.8, 3.9, " ".join(CAUTIONS), align="L")
    bottom = page.get_y() + 1.4
    page.set_draw_color(*INK)
    page.set_line_width(0.5)
    page.rect(LEFT_MM, top, WIDTH_MM, bottom - top)
    page.set_y(bottom)
