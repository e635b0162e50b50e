"""Tables, paragraphs and lists for a page: all escaped, readable on paper; on a phone each row is a small list."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from html import escape
from typing import Any

from drivekit.show.layout import GLUE
from drivekit.show.phrases import decimal, half, one_in_ten

__all__ = [
    "bullets",
    "endings_table",
    "html",
    "levels_table",
    "overlap_table",
    "paragraph",
    "part",
    "table",
]

Plain = Mapping[str, Any]


def html(text: str) -> str:
    """Make any text safe to stand in a page or in an attribute, its numbers kept with their percent signs."""
    return escape(text).replace(" %", f"{GLUE}%")


def paragraph(text: str, kind: str = "") -> str:
    """Set a paragraph, in one of the classes of the page's style sheet if `kind` names it."""
    return f'<p class="{kind}">{html(text)}</p>' if kind else f"<p>{html(text)}</p>"


def bullets(items: Iterable[str]) -> str:
    """Set a list; nothing where there is no item."""
    each = "".join(f"<li>{html(item)}</li>" for item in items)
    return f"<ul>{each}</ul>" if each else ""


def part(title: str, *content: str) -> str:
    """Set what stands under one small heading; paper keeps it together."""
    return f'<div class="part"><h3>{html(title)}</h3>{"".join(content)}</div>'


def table(head: Sequence[str], rows: Sequence[Sequence[str]], caption: str = "") -> str:
    """Set a table; the first column names the rows.

    Parameters
    ----------
    head : sequence of str
        Headings of all columns.
    rows : sequence of sequence of str
        Cells as plain text; every one is escaped here.
    caption : str
        What the table shows; empty: none.

    Returns
    -------
    str
        HTML.
    """
    labels = [html(label) for label in head]
    top = "".join(f'<th scope="col">{label}</th>' for label in labels)
    body = "".join(
        f'<tr><th scope="row">{html(first)}</th>'
        + "".join(f'<td data-label="{label}">{html(cell)}</td>' for label, cell in zip(labels[1:], cells, strict=True))
        + "</tr>"
        for first, *cells in rows
    )
    above = f"<caption>{html(caption)}</caption>" if caption else ""
    return f"<table>{above}<thead><tr>{top}</tr></thead><tbody>{body}</tbody></table>"


def levels_table(levels: Mapping[str, Plain], horizon: int | None) -> str:
    """Set the numbers behind a picture of belt life: a row for each level.

    Parameters
    ----------
    levels : mapping of str to mapping
        A CURVE for each level.
    horizon : int or None
        Of the means; None leaves them out.
    """
    head = ["", "belts", "runs", "failed", "still running or taken off early", "1 in 10 failed by", "half failed by"]
    if horizon is not None:
        head.append(f"runs out of the first {horizon}")
    rows = []
    for name, curve in levels.items():
        counts = (curve["belts"], curve["runs"], curve["failed"], curve["belts"] - curve["failed"])
        row = [name, *(str(count) for count in counts)]
        row += [_after_by(one_in_ten(curve)), _after_by(half(curve))]
        if horizon is not None:
            mean = curve["mean_to_horizon"]
            told = mean["estimate"] is not None
            row.append(f"{decimal(mean['estimate'])} (give or take {decimal(mean['se'])})" if told else "cannot tell")
        rows.append(row)
    return table(head, rows)


def _after_by(sentence: str) -> str:
    """Keep of "half had failed by run 12 (9 to 15)" what a column headed "half failed by" needs."""
    _, found, rest = sentence.partition(" had failed by ")
    return rest if found else f"not {sentence.partition(' had not failed ')[2]}"


def overlap_table(fall: Plain, caption: str) -> str:
    """Set how the runs of each level fall over the parts of a season or over the cars."""
    rows = [[level, *(str(runs) for runs in counts)] for level, counts in fall["levels"].items()]
    return table(["runs", *fall["columns"]], rows, caption)


def endings_table(causes: Mapping[str, int], failures: Sequence[str]) -> str:
    """Set how often each ending was seen, and whether it counts as the belt's failure."""
    rows = [[cause, str(seen), "yes" if cause in failures else "no"] for cause, seen in causes.items()]
    return table(["ending", "belts", "counts as a failure"], rows)
