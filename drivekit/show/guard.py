"""No single picture or sentence takes the rest down: one that fails is told with its reason, and what is whole stands.

What is caught here is an error of drivekit's own, and called so. It is caught where a page is put together and where a
picture is drawn, not within either, so that a test or a workbook of one picture still meets the error itself.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, TypeVar

from markupsafe import Markup, escape

from drivekit.show.paper import LEADING, Picture, Size, wrapped
from drivekit.show.phrases import own_error

if TYPE_CHECKING:
    from matplotlib.figure import SubFigure

__all__ = ["drawn_or_said", "made_or_said", "told_or_said"]

Form = TypeVar("Form")


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

    def needs(size: Size) -> float:
        return len(lines(size)) * LEADING * size.text / 72

    return Picture(name, f"This picture cannot be drawn: {why}", "", "", draw, needs)
