"""One printed page that says which belt goes where: the sheet of next season's test, and the card of a meeting."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from drivekit.show import pdf
from drivekit.show.decision_words import meeting_rows, meeting_words, off_words
from drivekit.show.pdf import LEFT_MM, TOP_MM, WIDTH_MM, bar, fitting, rule, warned, wide, write
from drivekit.show.phrases import Plain, counted

if TYPE_CHECKING:
    from fpdf import FPDF

    from drivekit.decide.trial_plan import PlannedBelt

__all__ = ["MOST_BELTS", "meeting_card", "plan_sheet"]

RULES = (
    "Take a car's next belt from the next line of that car, whatever it says: chance has chosen it.",
    "A belt stays on what was drawn for it as long as it lives. Write the day it first ran.",
    "A belt whose look says off comes off all the same, and so does one at its change age.",
)
ROW_MM, COLUMNS, TEXT_PT = 4.4, 3, 7.2
CARD_ROW_MM, CARD_PT = 8.4, 9.0
MOST_BELTS = 120
"""More do not fit on one page."""


def plan_sheet(plan: Sequence[PlannedBelt], seed: int, cautions: Sequence[str]) -> bytes:
    """Draw the sheet as a PDF of one page.

    Parameters
    ----------
    plan : sequence of PlannedBelt
        As drawn, car by car.
    seed : int
        What it was drawn with.
    cautions : sequence of str
        They stand at the foot.

    Raises
    ------
    ValueError
        If there is no belt, or more than fit on one page.
    """
    if not 0 < len(plan) <= MOST_BELTS:
        raise ValueError(f"a sheet holds 1 to {MOST_BELTS} belts, not {len(plan)}")
    with pdf.one_page("Next season's test", pdf.TEXT_PT, pdf.WHITE, 1.4) as page:
        _opened(page, f"{len(plan)} belts, drawn by lot with seed {seed}", RULES, TEXT_PT)
        for car in dict.fromkeys(one.car for one in plan):
            mine = [one for one in plan if one.car == car]
            bar(page, f"Car {car}")
            top, rows, across = page.get_y(), -(-len(mine) // COLUMNS), WIDTH_MM / COLUMNS
            for place, one in enumerate(mine):
                x, y = LEFT_MM + place // rows * across, top + (place % rows + 1) * ROW_MM - 1.1
                write(page, x + 1.4, y, f"{one.place}", TEXT_PT, pdf.FAINT)
                write(page, x + 7.0, y, one.belt, TEXT_PT, pdf.INK, "B")
                end = x + 18.0 + write(page, x + 18.0, y, ", ".join(one.arm), TEXT_PT)
                rule(page, end + 2.0, y + 0.6, x + across - 2.0)
            page.set_y(top + rows * ROW_MM + 1.0)
        warned(page, cautions)
        if page.get_y() > pdf.BOTTOM_MM:
            raise ValueError("the plan does not fit on one page: draw fewer belts")
        return bytes(page.output())


def meeting_card(block: Plain, log: str, cautions: Sequence[str]) -> bytes:
    """Draw the card of a meeting as a PDF of one page: the belts on hand, and which goes on for which round.

    Parameters
    ----------
    block : mapping
        The plan, as `drivekit.study.decisions.meeting_block` gives it.
    log : str
        The season that the chances are from.
    cautions : sequence of str
        They stand at the foot.

    Raises
    ------
    ValueError
        If there is no plan, or it does not fit on one page.
    """
    if "reason" in block:
        raise ValueError(f"there is no plan to print: {block['reason']}")
    with pdf.one_page("Belts for the meeting", pdf.TEXT_PT, pdf.WHITE, 1.4) as page:
        _opened(page, f"chances by {log}", meeting_words(block), CARD_PT)
        hand = [
            (belt["belt"], counted(belt["age"], "run"), off_words(belt["off"]) if belt["off"] else "look:")
            for belt in block["belts"]
        ]
        _table(page, "Belts on hand, the one on the engine first", ("belt", "has made", ""), hand, (42.0, 30.0))
        head = ("round", "belt to run", "makes the round", "if it fails, next", "ran, and its look")
        _table(page, "Round by round", head, meeting_rows(block), (30.0, 42.0, 40.0, 38.0))
        warned(page, cautions)
        if page.get_y() > pdf.BOTTOM_MM:
            raise ValueError("the card does not fit on one page: name fewer belts")
        return bytes(page.output())


def _opened(page: FPDF, aside: str, lines: Sequence[str], size: float) -> None:
    """Write what stands beside the title, and the lines below it."""
    write(page, LEFT_MM + WIDTH_MM - wide(page, aside, TEXT_PT), TOP_MM + 5.0, aside, TEXT_PT, pdf.FAINT)
    page.set_y(TOP_MM + 9.4)
    for line in lines:
        pdf.paragraph(page, LEFT_MM, page.get_y(), WIDTH_MM, line, size, 0.53 * size, pdf.INK)
    page.set_y(page.get_y() + 1.5)


def _table(page: FPDF, part: str, head: Sequence[str], rows: Sequence[Sequence[str]], widths: Sequence[float]) -> None:
    """Set rows under a bar, a line below each; what is left of a row's width is to write on."""
    bar(page, part)
    places = [LEFT_MM + 1.4 + sum(widths[:place]) for place in range(len(widths) + 1)]
    rooms = [*widths, LEFT_MM + WIDTH_MM - places[-1]]
    y = page.get_y() + 4.0
    for place, words in zip(places, head, strict=True):
        write(page, place, y, words, TEXT_PT, pdf.FAINT)
    for cells in rows:
        y += CARD_ROW_MM
        for column, (place, room, words) in enumerate(zip(places, rooms, cells, strict=False)):
            bold = "B" if column < 2 or words.startswith("OFF") else ""
            write(page, place, y, fitting(page, words, room - 2.0, CARD_PT), CARD_PT, style=bold)
        rule(page, LEFT_MM, y + 2.2, LEFT_MM + WIDTH_MM)
    page.set_y(y + 4.5)
