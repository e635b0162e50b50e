"""The sheet of next season's test: one printed page that says which belt goes on what, with room for the day."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from drivekit.show import pdf
from drivekit.show.pdf import LEFT_MM, TOP_MM, WIDTH_MM, bar, rule, warned, wide, write

if TYPE_CHECKING:
    from drivekit.decide.trial_plan import PlannedBelt

__all__ = ["MOST_BELTS", "plan_sheet"]

RULES = (
    "Take a car's next belt from the next line of that car, whatever it says: chance has chosen it.",
    "A belt stays on what was drawn for it as long as it lives. Write the day it first ran.",
    "A belt whose look says off comes off all the same, and so does one at its change age.",
)
ROW_MM, COLUMNS, TEXT_PT = 4.4, 3, 7.2
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
        said = f"{len(plan)} belts, drawn by lot with seed {seed}"
        write(page, LEFT_MM + WIDTH_MM - wide(page, said, TEXT_PT), TOP_MM + 5.0, said, TEXT_PT, pdf.FAINT)
        page.set_y(TOP_MM + 9.4)
        for line in RULES:
            pdf.paragraph(page, LEFT_MM, page.get_y(), WIDTH_MM, line, TEXT_PT, 3.8, pdf.INK)
        page.set_y(page.get_y() + 1.5)
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
