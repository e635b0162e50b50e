"""One printed page, for the run sheet and the cards: its fonts, inks, headings, frames, boxes and lines.

A page fits A4 and US letter alike, can be searched, has its headings tagged, and is the same bytes every time.
"""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from logging import ERROR, getLogger
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from drivekit.cautions import CAUTIONS

if TYPE_CHECKING:
    from fpdf import FPDF

__all__ = [
    "Blank",
    "bar",
    "boxed",
    "closed",
    "fitting",
    "on_papers",
    "one_page",
    "paragraph",
    "rule",
    "warned",
    "wide",
    "write",
]

LEFT_MM, TOP_MM, WIDTH_MM = 12.0, 11.0, 186.0
# US letter is 279.4 mm high, A4 297: what ends above 269 prints whole on both.
BOTTOM_MM = 269.0
BAR_MM, INSET_MM = 4.6, 1.8
TITLE_PT, HEAD_PT, TEXT_PT = 17.0, 9.0, 7.6
Ink = tuple[int, int, int]
INK, FAINT, TINT, RULE = (27, 42, 51), (90, 103, 112), (233, 239, 243), (130, 143, 152)
BLUE, WHITE = (0, 95, 150), (255, 255, 255)
# A PDF carries the moment it was made; a fixed one keeps the bytes the same.
MADE = datetime.datetime(2026, 1, 1, tzinfo=datetime.UTC)


class Blank(NamedTuple):
    """What is to be filled in about a run."""

    part: str  # of the sheet; empty: on none
    label: str  # a few words, marked where it must be filled
    writing_mm: float  # how long a line to write on it needs
    levels: tuple[str, ...] = ()  # to choose from; none for a number or text
    units: tuple[str, ...] = ()  # that a number may be written in, the metric one first
    free: bool = False  # any text may stand there: it asks for a line of its own


def on_papers(name: str, draw: Callable[[str], bytes]) -> dict[str, bytes]:
    """Draw a sheet for each paper, A4 and US letter ("Letter"), by the names of its files."""
    return {name: draw("A4"), name.replace(".pdf", "-letter.pdf"): draw("Letter")}


@contextmanager
def one_page(title: str, heading_pt: float, heading_ink: Ink, indent_mm: float, paper: str = "A4") -> Iterator[FPDF]:
    """Open a page under its title, and close its fonts' files afterwards.

    Headings set by `start_section` are tagged and make the outline; those below the title are of the size, the ink and
    the indent given.
    """
    from fpdf import FPDF, TextStyle
    from matplotlib import get_data_path

    getLogger("fpdf").setLevel(ERROR)  # it would list every letter that its font lacks
    page = FPDF(format=paper, unit="mm")
    fonts = Path(get_data_path()) / "fonts" / "ttf"
    page.add_font("sans", "", fonts / "DejaVuSans.ttf")
    page.add_font("sans", "B", fonts / "DejaVuSans-Bold.ttf")
    page.set_creation_date(MADE)
    page.set_title(title)
    page.set_author("the drivekit authors")
    page.set_lang("en")
    page.set_margins(LEFT_MM, TOP_MM, LEFT_MM)
    page.set_auto_page_break(False)
    page.c_margin = 0.0  # a text begins where it is put
    page.add_page()
    page.set_font("sans", "", TEXT_PT)
    page.set_section_title_styles(
        TextStyle("sans", "B", TITLE_PT, INK, l_margin=LEFT_MM),
        TextStyle("sans", "B", heading_pt, heading_ink, l_margin=LEFT_MM + indent_mm),
    )
    try:
        page.start_section(title)
        yield page
    finally:
        for font in page.fonts.values():
            font.close()


def wide(page: FPDF, words: str, size: float, style: str = "") -> float:
    """Measure how wide words are, in millimetres; what is written next is written like them."""
    page.set_font("sans", style, size)
    return float(page.get_string_width(words))


def write(page: FPDF, x: float, y: float, words: str, size: float, ink: Ink = INK, style: str = "") -> float:
    """Write words on one line, and give their width."""
    width = wide(page, words, size, style)
    page.set_text_color(*ink)
    page.text(x, y, words)
    return width


def paragraph(page: FPDF, x: float, y: float, width: float, words: str, size: float, line_mm: float, ink: Ink) -> None:
    """Write words on as many lines as they take; the page's place is then below them."""
    page.set_font("sans", "", size)
    page.set_text_color(*ink)
    page.set_xy(x, y)
    page.multi_cell(width, line_mm, words, align="L", new_x="LMARGIN", new_y="NEXT")


def fitting(page: FPDF, words: str, room: float, size: float) -> str:
    """Cut words at a blank so that they fit a room, with an ellipsis where something is left out."""
    kept, said = words.split(" "), words
    while kept and wide(page, said, size) > room:
        kept.pop()
        said = f"{' '.join(kept).rstrip(',')} …"
    return said if kept else ""


def rule(page: FPDF, x: float, y: float, to_x: float) -> None:
    """Draw a thin level line."""
    page.set_draw_color(*RULE)
    page.set_line_width(0.2)
    page.line(x, y, to_x, y)


def boxed(page: FPDF, x: float, y: float, width: float, height: float, fill: Ink | None, frame: float = 0.0) -> None:
    """Draw a box: filled with an ink, framed by a line of a width, or both."""
    page.set_fill_color(*(fill or WHITE))
    page.set_draw_color(*INK)
    page.set_line_width(frame)
    page.rect(x, y, width, height, style=("D" if frame else "") + ("F" if fill else ""))


def bar(page: FPDF, part: str) -> None:
    """Head a part of the page, in white on a dark bar."""
    top = page.get_y()
    boxed(page, LEFT_MM, top, WIDTH_MM, BAR_MM, INK)
    page.set_xy(LEFT_MM, top + 0.9)
    page.start_section(part, level=1)
    page.set_y(top + BAR_MM)


def warned(page: FPDF, size: float = TEXT_PT) -> None:
    """Set the cautions in a frame, in a size of type."""
    top, times = page.get_y(), size / TEXT_PT
    write(page, LEFT_MM + INSET_MM, top + 4.4 * times, "Before hands go near the drive", HEAD_PT * times, style="B")
    width = WIDTH_MM - 2 * INSET_MM
    paragraph(page, LEFT_MM + INSET_MM, top + 6.2 * times, width, " ".join(CAUTIONS), size, 0.5 * size, INK)
    bottom = page.get_y() + 1.6
    boxed(page, LEFT_MM, top, WIDTH_MM, bottom - top, None, 0.6)
    page.set_y(bottom)


def closed(page: FPDF, too_long: str) -> bytes:
    """Set the cautions at the foot of a page, and give its PDF; one that is too long is refused in these words."""
    warned(page)
    if page.get_y() > BOTTOM_MM:
        raise ValueError(too_long.format(page.get_y()))
    return bytes(page.output())
