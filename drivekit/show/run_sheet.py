"""The run sheet: one printed page a run, with a box to tick for every level and a line for every number.

The blanks of a part flow into even rows, each as wide as its boxes need, and every row is stretched to the full width.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

from drivekit.show import pdf
from drivekit.show.pdf import LEFT_MM, WIDTH_MM, Blank, boxed, wide, write

if TYPE_CHECKING:
    from fpdf import FPDF

__all__ = ["rows_of", "run_sheet"]

NOTES = (
    "One page a run. ● must be filled; leave blank what was not looked at. A flat is a sixth of a turn.",
    "Front is away from the engine, rear towards it; left and right as the driver sits.",
)
FIELD_MM, LINE_MM, GAP_MM, INSET_MM = 11.6, 6.4, 1.7, 1.5
BOX_MM, BOX_TO_WORD_MM, WORD_TO_BOX_MM, UNIT_GAP_MM = 3.8, 1.1, 3.0, 1.4
LABEL_PT, LEVEL_PT = 7.0, 9.0
Lines = list[list[str]]


def run_sheet(blanks: Sequence[Blank], cautions: Sequence[str], paper: str = "A4") -> bytes:
    """Draw the run sheet as a PDF of one page.

    Parameters
    ----------
    blanks : sequence of Blank
        What is filled in, in its order; those of no part are left out.
    cautions : sequence of str
        They stand at the foot.
    paper : {"A4", "Letter"}
        What it is printed on; what stands on it is the same.

    Raises
    ------
    ValueError
        If the blanks no longer fit on one page.
    """
    with pdf.one_page("Run sheet", pdf.TEXT_PT, pdf.WHITE, INSET_MM, paper) as page:
        for at, note in enumerate(NOTES):
            left = LEFT_MM + WIDTH_MM - wide(page, note, LABEL_PT)
            write(page, left, pdf.TOP_MM + 3.0 + 3.6 * at, note, LABEL_PT, pdf.FAINT)
        page.set_y(pdf.TOP_MM + 9.4)
        for part in dict.fromkeys(blank.part for blank in blanks if blank.part):
            pdf.bar(page, part)
            _part(page, [blank for blank in blanks if blank.part == part])
        page.set_y(page.get_y() + 0.6)
        pdf.warned(page, cautions)
        if page.get_y() > pdf.BOTTOM_MM:
            foot = f"{page.get_y():.0f} mm"
            raise ValueError(f"the run sheet ends at {foot}, below the foot of the page: narrow its fields")
        return bytes(page.output())


def rows_of(widths: Sequence[float]) -> list[range]:
    """Break widths into rows no wider than the page, in their order: as few as can be, and as even as can be.

    Returns
    -------
    list of range
        The places of each row's widths.
    """
    best: list[tuple[int, float, list[int]]] = [(0, 0.0, [0])]
    for end in range(1, len(widths) + 1):
        ways = []
        for start in range(end):
            spare = WIDTH_MM - sum(widths[start:end]) - GAP_MM * (end - start - 1)
            if spare >= 0 or start == end - 1:
                rows, uneven, breaks = best[start]
                ways.append((rows + 1, uneven + spare**2, [*breaks, end]))
        best.append(min(ways))
    return [range(start, end) for start, end in pairwise(best[-1][2])]


def _part(page: FPDF, blanks: Sequence[Blank]) -> None:
    lines = [_lines(page, blank) for blank in blanks]
    needs = [_needs_mm(page, blank, boxes) for blank, boxes in zip(blanks, lines, strict=True)]
    y = page.get_y() + GAP_MM
    for row in rows_of(needs):
        # What a row has left goes to its writing lines, since boxes need no more than they have.
        written = [at for at in row if not lines[at]] or row
        spare = WIDTH_MM - sum(needs[at] for at in row) - GAP_MM * (len(row) - 1)
        height = FIELD_MM + LINE_MM * (max(1, *(len(lines[at]) for at in row)) - 1)
        left = LEFT_MM
        for at in row:
            width = needs[at] + (spare / len(written) if at in written else 0.0)
            boxed(page, left, y, width, height, pdf.TINT)
            _field(page, blanks[at], lines[at], left + INSET_MM, y, left + width - INSET_MM)
            left += width + GAP_MM
        y += height + GAP_MM
    page.set_y(y)


def _lines(page: FPDF, blank: Blank) -> Lines:
    """Put the levels on as many lines of boxes as they need; no line where there is one to write on."""
    lines: Lines = []
    for level in blank.levels:
        if lines and _boxes_mm(page, [*lines[-1], level], LEVEL_PT, WORD_TO_BOX_MM) <= WIDTH_MM - 2 * INSET_MM:
            lines[-1].append(level)
        else:
            lines.append([level])
    return lines


def _needs_mm(page: FPDF, blank: Blank, lines: Lines) -> float:
    label = wide(page, blank.label, LABEL_PT, "B")
    boxes = [_boxes_mm(page, line, LEVEL_PT, WORD_TO_BOX_MM) for line in lines]
    return max(label, *boxes, 0.0 if boxes else blank.writing_mm + _units_mm(page, blank)) + 2 * INSET_MM


def _field(page: FPDF, blank: Blank, lines: Lines, left: float, top: float, right: float) -> None:
    write(page, left, top + 3.5, blank.label, LABEL_PT, style="B")
    line = top + FIELD_MM - 2.0
    for at, levels in enumerate(lines):
        _boxes(page, levels, left, line + LINE_MM * at, LEVEL_PT, WORD_TO_BOX_MM)
    if not lines:
        start = right - _units_mm(page, blank)
        pdf.rule(page, left, line, start)
        if len(blank.units) > 1:
            _boxes(page, blank.units, start + UNIT_GAP_MM, line, LABEL_PT, UNIT_GAP_MM)
        elif blank.units:
            write(page, start + UNIT_GAP_MM, line, blank.units[0], LABEL_PT)


def _units_mm(page: FPDF, blank: Blank) -> float:
    """Measure what the unit, or a box for each of two, takes from the end of a writing line."""
    if len(blank.units) > 1:
        return UNIT_GAP_MM + _boxes_mm(page, blank.units, LABEL_PT, UNIT_GAP_MM)
    return UNIT_GAP_MM + wide(page, blank.units[0], LABEL_PT) if blank.units else 0.0


def _boxes_mm(page: FPDF, words: Sequence[str], size: float, apart: float) -> float:
    return sum(BOX_MM + BOX_TO_WORD_MM + wide(page, word, size) + apart for word in words) - apart


def _boxes(page: FPDF, words: Sequence[str], left: float, line: float, size: float, apart: float) -> None:
    for word in words:
        boxed(page, left, line - BOX_MM + 0.6, BOX_MM, BOX_MM, pdf.WHITE, 0.3)
        left += BOX_MM + BOX_TO_WORD_MM
        left += write(page, left, line, word, size) + apart
