"""The page a crew reads: one self-contained HTML file, no network, for a desk, a phone and paper.

The first screen answers the three questions, each beside its picture; what follows says why to believe it and what it
cannot tell. A part of the page is one entry of `SECTIONS`. Whatever comes from the log is escaped.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from drivekit.show import sections, sections_hazard, sections_tracking
from drivekit.show.alike import alike_picture
from drivekit.show.bends import tension_picture
from drivekit.show.causes import causes_picture
from drivekit.show.curves import comparison_picture, overall_picture
from drivekit.show.embed import drawing
from drivekit.show.forest import forest_picture
from drivekit.show.intervals import differences_picture
from drivekit.show.phrases import counted
from drivekit.show.picture import Picture
from drivekit.show.spoken import setting
from drivekit.show.tables import html
from drivekit.show.words import INVENTED, answer

__all__ = ["SECTIONS", "page", "pictures"]

Plain = Mapping[str, Any]
Pictures = Mapping[str, Picture]

POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"

SECTIONS: tuple[tuple[str, Callable[[Plain, Pictures], str]], ...] = (
    ("The answers, more closely", sections.closely),
    ("The same belts, once all at each level", sections_hazard.same_belts),
    ("All settings at once", sections_hazard.at_once),
    ("Tension along its range", sections_hazard.tension),
    ("How belts fail", sections.causes),
    ("At how many idler flats the belt runs even", sections_tracking.tracking),
    ("What the data cannot tell", sections.cannot_tell),
    ("Settings that came together with the season or with a car", sections.together),
    ("Further comparisons", sections.further),
    ("Before hands go near the drive", sections.cautions),
    ("How it was computed", sections.computed),
    ("The log", sections.log),
    ("Where the numbers come from", sections.provenance),
)
"""Heading and writer of each part after the first screen, in order; a writer that gives nothing leaves its part out."""


def pictures(findings: Plain) -> dict[str, Picture]:
    """Draw up every picture that the findings hold.

    Parameters
    ----------
    findings : mapping
        The findings, plain data.

    Returns
    -------
    dict of str to Picture
        By file name without its ending; a comparison that cannot be drawn has none.
    """
    names = [*findings["headline"], *findings["life"].get("more", {})]
    drawn = {name: comparison_picture(findings, name) for name in names}
    drawn |= {
        "overall": overall_picture(findings),
        "causes": causes_picture(findings),
        "differences": differences_picture(findings),
        "forest": forest_picture(findings),
        "tension_curve": tension_picture(findings),
        **{f"standardised_{name}": alike_picture(findings, name) for name in findings["standardised"]},
    }
    return {name: picture for name, picture in drawn.items() if picture is not None}


def page(findings: Plain) -> str:
    """Set the findings as one HTML page.

    Parameters
    ----------
    findings : mapping
        The findings, plain data.

    Returns
    -------
    str
        The whole file.
    """
    drawn = pictures(findings)
    style = Path(__file__).with_name("page.css").read_text(encoding="utf-8")
    parts = [(title, write(findings, drawn)) for title, write in SECTIONS]
    body = "".join(f"<section{_kind(title)}><h2>{html(title)}</h2>{text}</section>" for title, text in parts if text)
    name = html(str(findings["log"].get("name") or "the season"))
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>How long belts lasted: {name}</title><style>{style}</style></head><body>"
        f'<div class="belt"></div><header><h1>How long belts lasted, and what made them last</h1>{_log_line(findings)}'
        f'</header><main><div class="answers">{_answers(findings, drawn)}</div>{body}</main>'
        f"<footer>{_invented(findings)}</footer></body></html>\n"
    )


def _kind(title: str) -> str:
    """Cautions stand in a box; the first part after the answers begins a new sheet of paper."""
    if title == "Before hands go near the drive":
        return ' class="care"'
    return ' class="leaf"' if title == SECTIONS[0][0] else ""


def _invented(findings: Plain) -> str:
    return f'<span class="invented">{html(INVENTED)}</span>' if findings["log"].get("invented") else ""


def _log_line(findings: Plain) -> str:
    log = findings["log"]
    counts = (
        f"{log.get('name') or 'The log'}: {counted(log['belts'], 'belt')} and {counted(log['runs'], 'run')}; "
        f"{log['failed']} failed, {log['censored']} still running or taken off early."
    )
    return f'<p class="log">{html(counts)} {_invented(findings)}</p>'


def _answers(findings: Plain, drawn: Pictures) -> str:
    articles = []
    for name in findings["headline"]:
        words, said = setting(name), answer(findings, name)
        picture = sections.answering(findings, drawn, name)
        figure = ""
        if picture is not None:
            caption = f"<figcaption>{html(picture.subtitle)}</figcaption>"
            figure = f"<figure>{drawing(picture, 'phone', 'narrow')}{caption}</figure>"
        asked = f'<p class="asked">{html(words.question)}</p>'
        articles.append(f"<article><div>{asked}{sections.sentence(said)}</div>{figure}</article>")
    return "".join(articles)
