"""The set-up card and the record card: one printed page each, to take to the engine and to write on.

The set-up card is the order of work: cautions first, then step by step what to do, the number from the computation, and
boxes to fill. The record card is a grid: a row for each column of the log, a column for each run. Both take plain data;
which steps and which columns is for the caller to say. Each fits A4 and US letter alike, can be searched, has its
headings tagged, and is the same bytes every time.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from fpdf import FPDF

__all__ = ["Row", "Step", "record_card", "set_up_card"]

LEFT_MM, TOP_MM, WIDTH_MM = 12.0, 11.0, 186.0
# US letter is 279.4 mm high, A4 297: what ends above 269 prints whole on both.
BOTTOM_MM = 269.0
DO_MM = 118.0
TICK_MM = 4.0
INDENT_MM = 8.4
INSET_MM = 1.8
LABEL_MM = 62.0
TITLE_PT, STEP_PT, TEXT_PT, SMALL_PT = 17.0, 9.0, 7.6, 6.6
LINE_MM = 3.5
# Lower than this a hand cannot write in a box.
LEAST_ROW_MM = 4.4
Ink = tuple[int, int, int]
INK, FAINT, TINT, RULE = (27, 42, 51), (90, 103, 112), (233, 239, 243), (130, 143, 152)
BLUE, WHITE = (0, 95, 150), (255, 255, 255)
# A PDF carries the moment it was made; a fixed one keeps the bytes the same.
MADE = datetime.datetime(2026, 1, 1, tzinfo=datetime.UTC)


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the work.

    Parameters
    ----------
    title, do : str
        What it is called, and what to do.
    number : str
        What the computation says of it; empty when it says nothing.
    boxes : tuple of str
        What to write down, each with its unit.
    """

    title: str
    do: str
    number: str = ""
    boxes: tuple[str, ...] = ()


class Row(Protocol):
    """What the record card needs to know of a column of the log."""

    @property
    def label(self) -> str:
        """A few words."""

    @property
    def levels(self) -> tuple[str, ...]:
        """The words allowed; empty for a number or text."""

    @property
    def unit(self) -> str:
        """The unit of a number."""

    @property
    def part(self) -> str:
        """The part of the sheet it stands in; empty: on none."""

    @property
    def required(self) -> bool:
        """Whether it must be filled."""


def set_up_card(name: str, steps: Sequence[Step], cautions: Sequence[str], *, note: str = "") -> bytes:
    """Draw the set-up card as a PDF of one page.

    Parameters
    ----------
    name : str
        What the drive is called.
    steps : sequence of Step
        The work in its order.
    cautions : sequence of str
        They stand first, in a frame.
    note : str
        A line at the foot: what the numbers are and are not.

    Raises
    ------
    ValueError
        If there is no step or no caution, or the card does not fit on one page.
    """
    if not steps or not cautions:
        raise ValueError("A set-up card needs its steps and its cautions.")
    with _page("Set-up card", STEP_PT, INK, INDENT_MM) as page:
        _head(page, "Set-up card", name, ("Date", "Car", "Belt", "By"))
        _cautions(page, cautions)
        # What is left of the page is shared among the steps, so that there is room to write.
        needs = [_step_height(page, step) for step in steps]
        foot = BOTTOM_MM - (5.0 if note else 0.0)
        spare = foot - page.get_y() - sum(needs)
        if spare < 0:
            raise ValueError(f"The set-up card is {-spare:.0f} mm too long for its page: shorten its steps.")
        for place, (step, need) in enumerate(zip(steps, needs, strict=True), 1):
            _step(page, place, step, need + min(spare / len(steps), 4.0))
        if note:
            page.set_font("sans", "", SMALL_PT)
            page.set_text_color(*FAINT)
            page.text(LEFT_MM, page.get_y() + 4.0, note)
        return bytes(page.output())


def record_card(
    columns: Sequence[Row], *, runs: int = 7, guide: Sequence[str] = (), cautions: Sequence[str] = ()
) -> bytes:
    """Draw the record card as a PDF of one page: columns of the log downward, runs across.

    Parameters
    ----------
    columns : sequence of Row
        The columns of the log; those that stand in no part are left out.
    runs : int
        How many runs the card takes.
    guide, cautions : sequence of str
        Written at the foot: how to read the edges, and what to mind.

    Raises
    ------
    ValueError
        If no column stands in a part, there is no run, or the card does not fit on one page.
    """
    shown = [column for column in columns if column.part]
    parts = list(dict.fromkeys(column.part for column in shown))
    if not shown or runs < 1:
        raise ValueError("A record card needs at least one column of the log and one run.")
    with _page("Record card", TEXT_PT, WHITE, 1.4) as page:
        _head(page, "Record card", "One run down each column; ● must be filled.", ("Season", "Car"))
        foot = _foot_height(page, guide, cautions)
        row_mm = min(6.4, (BOTTOM_MM - foot - page.get_y() - 4.6 * len(parts)) / len(shown))
        if row_mm < LEAST_ROW_MM:
            raise ValueError(f"The record card has no room for {len(shown)} columns of the log: hand in fewer.")
        for part in parts:
            _bar(page, part)
            for column in shown:
                if column.part == part:
                    _record_row(page, column, runs, row_mm)
        _foot(page, guide, cautions)
        return bytes(page.output())


@contextmanager
def _page(title: str, heading_pt: float, heading_ink: Ink, heading_mm: float) -> Iterator[FPDF]:
    """Open a page, and close its fonts' files afterwards; headings set as sections are tagged and make the outline."""
    from fpdf import FPDF, TextStyle
    from matplotlib import get_data_path

    page = FPDF(format="A4", unit="mm")
    fonts = Path(get_data_path()) / "fonts" / "ttf"
    page.add_font("sans", "", fonts / "DejaVuSans.ttf")
    page.add_font("sans", "B", fonts / "DejaVuSans-Bold.ttf")
    page.set_creation_date(MADE)
    page.set_title(title)
    page.set_author("the drivekit authors")
    page.set_lang("en")
    page.set_margins(LEFT_MM, TOP_MM, LEFT_MM)
    page.set_auto_page_break(False)
    page.add_page()
    page.set_font("sans", "", TEXT_PT)
    # A section's left margin counts from the paper's edge, and a cell has a millimetre of its own inside.
    page.set_section_title_styles(
        TextStyle("sans", "B", TITLE_PT, INK, l_margin=LEFT_MM - 1.0),
        TextStyle("sans", "B", heading_pt, heading_ink, l_margin=LEFT_MM + heading_mm - 1.0),
    )
    try:
        yield page
    finally:
        for font in page.fonts.values():
            font.close()


def _head(page: FPDF, title: str, name: str, blanks: Sequence[str]) -> None:
    page.start_section(title)
    page.set_font("sans", "", TEXT_PT + 0.6)
    page.set_text_color(*FAINT)
    page.text(LEFT_MM, TOP_MM + 10.4, _fitting(page, name, 96.0))
    page.set_font("sans", "", SMALL_PT)
    wide = 84.0 / len(blanks)
    for place, blank in enumerate(blanks):
        left = LEFT_MM + WIDTH_MM - 84.0 + place * wide
        page.text(left, TOP_MM + 3.0, blank)
        _rule(page, left, TOP_MM + 10.4, left + wide - 2.0)
    page.set_y(TOP_MM + 13.2)


def _cautions(page: FPDF, cautions: Sequence[str]) -> None:
    top = page.get_y()
    page.set_xy(LEFT_MM + INSET_MM - 1.0, top + 1.6)
    page.set_font("sans", "B", STEP_PT)
    page.set_text_color(*INK)
    page.cell(WIDTH_MM, 4.0, "Before hands go near the drive")
    page.set_xy(LEFT_MM + INSET_MM - 1.0, top + 6.2)
    page.set_font("sans", "", TEXT_PT)
    page.multi_cell(WIDTH_MM - 2 * INSET_MM, LINE_MM + 0.3, " ".join(cautions), align="L")
    bottom = page.get_y() + 1.6
    page.set_draw_color(*INK)
    page.set_line_width(0.6)
    page.rect(LEFT_MM, top, WIDTH_MM, bottom - top)
    page.set_y(bottom + 2.0)


def _step_height(page: FPDF, step: Step) -> float:
    page.set_font("sans", "", TEXT_PT)
    lines = _lines(page, step.do) + (_lines(page, step.number) if step.number else 0)
    return max(5.2 + lines * LINE_MM + 1.4, 10.6)


def _lines(page: FPDF, text: str) -> int:
    return len(page.multi_cell(DO_MM - INDENT_MM, LINE_MM, text, align="L", dry_run=True, output="LINES"))


def _step(page: FPDF, place: int, step: Step, height: float) -> None:
    top = page.get_y()
    page.set_draw_color(*INK)
    page.set_line_width(0.3)
    page.rect(LEFT_MM, top + 1.0, TICK_MM, TICK_MM)
    page.set_xy(LEFT_MM, top + 1.3)
    page.start_section(f"{place}. {step.title}", level=1)
    page.set_y(top + 5.4)
    for text, colour in ((step.do, INK), (step.number, BLUE)):
        if text:
            page.set_font("sans", "", TEXT_PT)
            page.set_text_color(*colour)
            page.set_x(LEFT_MM + INDENT_MM - 1.0)
            page.multi_cell(DO_MM - INDENT_MM, LINE_MM, text, align="L", new_x="LMARGIN", new_y="NEXT")
    if step.boxes:
        _boxes(page, step.boxes, top + 0.8, height - 1.8)
    _rule(page, LEFT_MM, top + height, LEFT_MM + WIDTH_MM)
    page.set_y(top + height)


def _boxes(page: FPDF, labels: Sequence[str], top: float, height: float) -> None:
    left, room = LEFT_MM + DO_MM + 2.0, WIDTH_MM - DO_MM - 2.0
    wide = room / len(labels)
    page.set_font("sans", "", SMALL_PT - 0.4)
    for place, label in enumerate(labels):
        page.set_fill_color(*TINT)
        page.rect(left + place * wide, top, wide - 1.2, height, style="F")
        page.set_text_color(*FAINT)
        page.text(left + place * wide + 1.0, top + 2.8, _fitting(page, label, wide - 3.0))


def _bar(page: FPDF, part: str) -> None:
    top = page.get_y()
    page.set_fill_color(*INK)
    page.rect(LEFT_MM, top, WIDTH_MM, 4.6, style="F")
    page.set_xy(LEFT_MM, top + 0.9)
    page.start_section(part, level=1)
    page.set_y(top + 4.6)


def _record_row(page: FPDF, column: Row, runs: int, row_mm: float) -> None:
    top = page.get_y()
    base = top + row_mm / 2 + 1.0
    label = f"● {column.label}" if column.required else column.label
    page.set_font("sans", "", TEXT_PT)
    page.set_text_color(*INK)
    page.text(LEFT_MM + 1.4, base, label)
    used = page.get_string_width(label) + 3.0
    hint = column.unit or ", ".join(column.levels)
    page.set_font("sans", "", SMALL_PT - 1.2)
    page.set_text_color(*FAINT)
    # A hint that has no room is cut at a word: the blank log lists every level.
    page.text(LEFT_MM + used, base, _fitting(page, hint, LABEL_MM - used - 1.0))
    wide = (WIDTH_MM - LABEL_MM) / runs
    for place in range(runs + 1):
        _rule(page, LEFT_MM + LABEL_MM + place * wide, top, LEFT_MM + LABEL_MM + place * wide, top + row_mm)
    _rule(page, LEFT_MM, top + row_mm, LEFT_MM + WIDTH_MM)
    page.set_y(top + row_mm)


def _foot_height(page: FPDF, guide: Sequence[str], cautions: Sequence[str]) -> float:
    page.set_font("sans", "", SMALL_PT)
    texts = [" ".join(texts) for texts in (guide, cautions) if texts]
    lines = sum(len(page.multi_cell(WIDTH_MM, 3.1, text, align="L", dry_run=True, output="LINES")) for text in texts)
    return lines * 3.1 + 1.6 * len(texts)


def _foot(page: FPDF, guide: Sequence[str], cautions: Sequence[str]) -> None:
    page.set_font("sans", "", SMALL_PT)
    page.set_text_color(*INK)
    for texts in (guide, cautions):
        if texts:
            page.set_xy(LEFT_MM - 1.0, page.get_y() + 1.6)
            page.multi_cell(WIDTH_MM + 1.0, 3.1, " ".join(texts), align="L", new_x="LMARGIN", new_y="NEXT")


def _fitting(page: FPDF, text: str, room: float) -> str:
    """Cut a text at a word so that it fits, with an ellipsis where something is left out."""
    if page.get_string_width(text) <= room:
        return text
    words = text.split(" ")
    while words and page.get_string_width(f"{' '.join(words).rstrip(',')} …") > room:
        words.pop()
    return f"{' '.join(words).rstrip(',')} …" if words else ""


def _rule(page: FPDF, x: float, y: float, to_x: float, to_y: float | None = None) -> None:
    page.set_draw_color(*RULE)
    page.set_line_width(0.2)
    page.line(x, y, to_x, y if to_y is None else to_y)
