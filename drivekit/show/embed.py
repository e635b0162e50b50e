"""Pictures inside a page: SVG text made safe to stand beside other SVG in one HTML file."""

from __future__ import annotations

import re

from drivekit.show.brush import svg
from drivekit.show.picture import Picture
from drivekit.show.tables import html

__all__ = ["drawing", "drawings", "inlined"]


def drawing(picture: Picture, size: str, kind: str) -> str:
    """Draw a picture as an element of a page.

    Parameters
    ----------
    picture : Picture
        What is drawn.
    size : str
        A size of `drivekit.show.brush.figure`.
    kind : str
        A class of the page's style sheet: "wide" or "narrow".

    Returns
    -------
    str
        One ``svg`` element.
    """
    return inlined(svg(picture, size, bare=True), picture.name, picture.title, kind)


def inlined(text: str, name: str, title: str, kind: str) -> str:
    """Make a picture's SVG text an element of a page.

    Its identifiers carry the picture's name and kind, since clip paths and markers of two pictures would else be
    mistaken for each other; its metadata, its own style sheet (which would reach the whole page) and its fixed size are
    left out; the answer it draws is its alternative text.

    Parameters
    ----------
    text : str
        The whole SVG file.
    name, title : str
        The picture's name, and its answer.
    kind : str
        A class of the page's style sheet: "wide" or "narrow".

    Returns
    -------
    str
        One ``svg`` element.
    """
    text = text[text.index("<svg") :]
    for element in ("metadata", "style"):
        text = re.sub(rf"<{element}.*?</{element}>\s*", "", text, flags=re.DOTALL)
    prefix = f"{name}-{kind}-"
    text = re.sub(r'\bid="([^"]*)"', lambda found: f'id="{prefix}{found[1].replace(" ", "-")}"', text)
    text = re.sub(r'href="#([^"]*)"', rf'href="#{prefix}\1"', text)
    text = re.sub(r"url\(#([^)]*)\)", rf"url(#{prefix}\1)", text)
    head, body = text.split(">", 1)
    viewbox = re.search(r'viewBox="[^"]*"', head)
    assert viewbox is not None  # matplotlib writes one in every file
    spaces = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
    said = html(title)
    return f'<svg class="drawing {kind}" role="img" aria-label="{said}" {viewbox[0]} {spaces}>{body.rstrip()}'


def drawings(picture: Picture, *, again: bool = False) -> str:
    """Set a picture with its caption, drawn once for a wide page and once for a phone.

    Parameters
    ----------
    picture : Picture
        What is drawn.
    again : bool
        The phone's drawing stands on the page already: draw the wide one only, and show it where there is room.

    Returns
    -------
    str
        One ``figure`` element.
    """
    wide = drawing(picture, "screen", "wide")
    caption = f"<figcaption>{html(picture.subtitle)} {html(picture.note)}</figcaption>"
    if again:
        return f'<figure class="again">{wide}{caption}</figure>'
    return f'<figure class="both">{wide}{drawing(picture, "phone", "narrow")}{caption}</figure>'
