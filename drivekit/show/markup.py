"""Text into markup: the templates of the pages, and the two things a workbook or another page takes from them.

Whatever is set is escaped; a number keeps its percent sign. A picture becomes an element of the page, made safe to
stand beside others in one file. No single picture or sentence takes the rest down: one that fails is told with its
reason. What is caught so is an error of drivekit's own, and called so; it is caught where a page is put together, so
that a test or a workbook of one picture still meets the error itself.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from markupsafe import Markup, escape

from drivekit.show.paper import LEADING, Picture, Size, wrapped
from drivekit.show.phrases import chance, counted, listed, lowered, nearness, own_error, percent

if TYPE_CHECKING:
    from jinja2 import Environment
    from matplotlib.figure import SubFigure

__all__ = ["Table", "anchor", "drawing", "drawn_or_said", "inlined", "made_or_said", "table", "written"]

Form = TypeVar("Form")

Table = tuple[Sequence[str], Sequence[Sequence[str]], str]
"""Headings, rows and caption."""

SPACES = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'


def written(template: str, **words: Any) -> str:
    """Set a page: words into a template beside this file, and the style sheet with them.

    A name that the template does not find is an error, never a gap.
    """
    style = Path(__file__).with_name("page.css").read_text(encoding="utf-8")
    return _sheets().get_template(template).render(words, style=Markup(style)).strip() + "\n"


def table(head: Sequence[str], rows: Iterable[Sequence[str]], caption: str = "") -> str:
    """Set a table of plain text, whose first column names the rows, as HTML; it may have no caption."""
    macros: Any = _sheets().get_template("parts.html.j2").module
    return str(macros.table(head, rows, caption))


def drawing(picture: Picture, size: str | Size, kind: str) -> Markup:
    """Draw a picture at a size of the paper as one ``svg`` element of a page, of a class of its style sheet."""
    return drawn_or_said(picture, lambda one: inlined(one.svg(size, bare=True), one.name, one.title, kind))


def inlined(text: str, name: str, title: str, kind: str) -> Markup:
    """Make the SVG file of a picture, by its name and the answer it draws, an element of a page: "wide" or "narrow".

    Its identifiers carry the picture's name and kind, since clip paths and markers of two pictures would else be
    mistaken for each other; its metadata, its own style sheet (which would reach the whole page) and its fixed size are
    left out; the answer it draws is its alternative text.
    """
    text = re.sub(r"<(metadata|style).*?</\1>\s*", "", text[text.index("<svg") :], flags=re.DOTALL)
    prefix = f"{name}-{kind}-"
    text = re.sub(r'\bid="([^"]*)"', lambda found: f'id="{prefix}{found[1].replace(" ", "-")}"', text)
    text = re.sub(r'href="#([^"]*)"', rf'href="#{prefix}\1"', text)
    text = re.sub(r"url\(#([^)]*)\)", rf"url(#{prefix}\1)", text)
    head, body = text.split(">", 1)
    viewbox = re.search(r'viewBox="[^"]*"', head)
    assert viewbox is not None  # matplotlib writes one in every file
    said = escape(_glued(title))
    return Markup(f'<svg class="drawing {kind}" role="img" aria-label="{said}" {viewbox[0]} {SPACES}>{body.rstrip()}')


def anchor(title: str) -> str:
    """Make of a section's title the name by which a link finds it."""
    return re.sub(r"\W+", "-", title.lower()).strip("-")


def _glued(value: Any) -> Any:
    return value.replace(" %", "\N{NO-BREAK SPACE}%") if type(value) is str else value


@cache
def _sheets() -> Environment:
    """Read the templates once."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    sheets = Environment(
        loader=FileSystemLoader(Path(__file__).parent),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_glued,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    sheets.filters |= {"anchor": anchor, "drawn": drawing, "told": told_or_said}
    sheets.filters |= {said.__name__: said for said in (chance, counted, listed, lowered, nearness, percent)}
    return sheets


def made_or_said(name: str, make: Callable[..., Picture | None], *given: object) -> Picture | None:
    """Make up a picture; where that fails, one that says so."""
    try:
        return make(*given)
    except Exception as error:
        return _undrawn(name, error)


def drawn_or_said(picture: Picture, form: Callable[[Picture], Form]) -> Form:
    """Draw a picture in some form; where that fails, the words that say so."""
    try:
        return form(picture)
    except Exception as error:
        return form(_undrawn(picture.name, error))


def told_or_said(part: Callable[[], str]) -> str:
    """Set a part of a page; where that fails, a sentence that says so."""
    try:
        return part()
    except Exception as error:
        return Markup(f"<p>This part cannot be told: {escape(own_error(error))}.</p>")


def _undrawn(name: str, error: Exception) -> Picture:
    """Make up a picture of the words alone: they stand where the marks would, so that every form of it holds them."""
    why = own_error(error)

    def lines(size: Size) -> list[str]:
        return wrapped(f"It met {why}.", size.room, size.text)

    def draw(body: SubFigure, size: Size) -> None:
        body.text(0.02, 1.0, "\n".join(lines(size)), size=size.text, va="top", linespacing=LEADING, gid="reason")

    title = f"This picture cannot be drawn: {why}"
    return Picture(name, title, "", "", draw, lambda size: len(lines(size)) * LEADING * size.text / 72)
