"""What is printed of a study: one page for the trailer's wall, and the card to inspect a belt by.

The page says settings, when to change, what takes a belt off, belts still running, cautions. It is read at arm's
length: the type is as large as all of it leaves room for, and never under `LEAST_PT`. Names too long are cut, belts too
many are counted; what comes off by its look stands before any odds.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from drivekit.cautions import CAUTIONS
from drivekit.show import pdf
from drivekit.show.cards import CAME_LOOSE, Row, card
from drivekit.show.decision_words import MOST_BELTS, OFF, outlook_words, rule_words
from drivekit.show.failing import sign_words
from drivekit.show.phrases import Plain, confidence_words, listed, log_words, raised
from drivekit.show.team_words import todo_words
from drivekit.show.words import INVENTED

__all__ = ["LEAST_PT", "inspection_card", "inspection_rows", "wall_sheet"]

LEAST_PT = 11.0
SIZES_PT = (18.0, 16.0, 14.0, 13.0, 12.0, LEAST_PT)
LONGEST_NAME, LONGEST_SENTENCE = 24, 160
"""Letters of a name, and of a sentence where all of them leave no room."""
SEEN = {"break_look": "Break", "teeth_look": "Teeth", "cord_look": "Cord", "edge_look": "Edges"}
INSPECTED: Mapping[str, Mapping[str, Mapping[str, str]]] = {
    "Off at once, and given no odds": {
        **{column: dict.fromkeys(words, "") for column, words in OFF.items()},
        "surface": {"oiled": "An oiled belt is not cleaned and run.", "metal": "Nor is one with metal in it."},
    },
    "Trimmed, and runs on": {"cord_look": {"hairs": "Loose cord hairs are trimmed."}},
    "Runs on, and is looked at again after the next run": {
        "teeth_look": {"worn": ""},
        "edge_look": {"frayed": ""},
        "shade": {"front-dark": "It ran to the front.", "rear-dark": "It ran to the rear."},
    },
    "Broken": {"break_look": {"straight-across": CAME_LOOSE, "ragged": "", "lengthwise": ""}},
}
"""What becomes of a belt by its look: common practice, no source."""


def wall_sheet(findings: Plain) -> bytes:
    """Draw the sheet as a PDF of one page, that fits A4 and US letter; the same bytes for the same findings."""
    tries = [*((size, MOST_BELTS) for size in SIZES_PT), *((LEAST_PT, most) for most in range(MOST_BELTS - 1, 0, -1))]
    for size, most in tries:
        drawn, bottom = _drawn(findings, _parts(findings, most), size)
        if bottom <= pdf.BOTTOM_MM:
            return drawn
    short = {head: [_cut(said, LONGEST_SENTENCE) for said in part] for head, part in _parts(findings, 1).items()}
    return _drawn(findings, short, LEAST_PT)[0]


def _parts(findings: Plain, most: int) -> dict[str, Sequence[str]]:
    """Put together what is said under each heading, with no more than so many belts."""
    block = findings["outlook"]
    running = "reason" not in block and bool(block)
    if running:
        named = [belt | {name: _cut(belt[name], LONGEST_NAME) for name in ("belt", "car")} for belt in block]
        block = [belt for belt in named if "off" in belt] + [belt for belt in named if "off" not in belt]
    belts = outlook_words({**findings, "outlook": block}, most)
    looks = listed([words for of in OFF.values() for words in of.values()])
    return {
        "Settings to run": todo_words(findings),
        "When to change": rule_words(findings),
        "What takes a belt off at once": (
            f"{raised(looks)} (common practice, no source).",
            "Worn teeth, cord hairs or a frayed edge: look again after the next run (common practice, no source).",
        ),
        "Belts still running": belts[1:] if running else belts,
    }


def _drawn(findings: Plain, parts: Mapping[str, Sequence[str]], size: float) -> tuple[bytes, float]:
    """Draw the page in a size of type, and tell how far down it reaches in millimetres."""
    name = _cut(findings["log"]["name"] or "the season", LONGEST_NAME)
    with pdf.one_page(f"Belts: {name}", size + 1, pdf.INK, 0.0) as page:
        page.set_y(pdf.TOP_MM + 8.0)
        for said in _about(findings):
            pdf.paragraph(page, pdf.LEFT_MM, page.get_y(), pdf.WIDTH_MM, said, LEAST_PT, 0.45 * LEAST_PT, pdf.INK)
        for heading, sentences in parts.items():
            top = page.get_y() + 0.28 * size
            pdf.rule(page, pdf.LEFT_MM, top, pdf.LEFT_MM + pdf.WIDTH_MM)
            page.set_xy(pdf.LEFT_MM, top + 0.16 * size)
            page.start_section(heading, level=1)
            page.set_y(top + 0.66 * size)
            for sentence in sentences:
                pdf.write(page, pdf.LEFT_MM, page.get_y() + 0.34 * size, "\N{BULLET}", size)
                left = pdf.LEFT_MM + 0.36 * size
                pdf.paragraph(
                    page, left, page.get_y(), pdf.WIDTH_MM - 0.36 * size, sentence, size, 0.45 * size, pdf.INK
                )
        page.set_y(page.get_y() + 0.3 * size)
        pdf.warned(page, CAUTIONS, LEAST_PT)
        return bytes(page.output()), page.get_y()


def _about(findings: Plain) -> Iterator[str]:
    log = findings["log"]
    yield _cut(log_words({**log, "name": _cut(log["name"] or "", 2 * LONGEST_NAME)}), 2 * LONGEST_SENTENCE)
    if log.get("invented"):
        yield INVENTED


def _cut(words: str, letters: int) -> str:
    """Cut what is too long, with an ellipsis where something is left out."""
    return words if len(words) <= letters else f"{words[: letters - 1].rstrip()}\N{HORIZONTAL ELLIPSIS}"


def inspection_rows(findings: Plain) -> list[Row]:
    """List the looks by what becomes of the belt, each with what was behind it on the log's own belts that failed."""
    boxes = ("belt, run",) * 2
    return [
        Row(f"{SEEN.get(column, raised(column))}: {word}", hint, sign_words(findings, column, word), boxes, part)
        for part, columns in INSPECTED.items()
        for column, words in columns.items()
        for word, hint in words.items()
    ]


def inspection_card(findings: Plain, paper: str = "A4") -> bytes:
    """Draw the card to inspect a belt by, on A4 or US letter ("Letter"), as a PDF of one page."""
    log = findings["log"]
    sure = confidence_words(findings["settings"]["confidence"])
    origin = (
        "What becomes of a belt by its look is common practice, without a source. Blue: of this log's own belts that "
        f"failed, those that looked so and what was behind it, with {sure} limits of the share in brackets."
    )
    foot = [origin, INVENTED] if log.get("invented") else [origin]
    name, blanks = log["name"] or "the season", ("Date", "Car", "By")
    return card("Inspection card", name, blanks, [inspection_rows(findings)], 52.0, CAUTIONS, foot, paper=paper)
