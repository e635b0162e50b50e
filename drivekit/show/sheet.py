"""What is printed on one page: the wall's, the card to inspect a belt by, the plan of a test, a meeting, the run sheet.

The wall's page says settings, when to change, what takes a belt off, belts still running, cautions. It is read at arm's
length: the type is as large as all of it leaves room for, and never under `LEAST_PT`. Names too long are cut, belts too
many are counted; what comes off by its look stands before any odds. The run sheet has a box to tick for every level and
a line for every number: the blanks of a part flow into even rows, each as wide as its boxes need, and every row is
stretched to the full width.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

from drivekit.decide.outlook import LOOKS
from drivekit.show import decision_words, pdf
from drivekit.show.cards import SAID, Row, card
from drivekit.show.decision_words import MOST_BELTS, OFF, off_words
from drivekit.show.failing import sign_words
from drivekit.show.pdf import LEFT_MM, TOP_MM, WIDTH_MM, Blank, bar, boxed, closed, fitting, rule, warned, wide, write
from drivekit.show.phrases import Plain, counted, listed, log_words, raised, sure
from drivekit.show.team_words import todo_words
from drivekit.show.words import INVENTED

if TYPE_CHECKING:
    from fpdf import FPDF

    from drivekit.decide.next_trial import PlannedBelt

__all__ = [
    "MOST_PLANNED",
    "PLAN_RULES",
    "inspection_card",
    "inspection_rows",
    "meeting_card",
    "plan_sheet",
    "run_sheet",
    "wall_sheet",
]

LEAST_PT = 11.0
SIZES_PT = (18.0, 16.0, 14.0, 13.0, 12.0, LEAST_PT)
LONGEST_NAME, LONGEST_SENTENCE = 24, 160
"""Letters of a name, and of a sentence where all of them leave no room."""
PLAN_RULES: Sequence[str] = SAID["plan_rules"]
ROW_MM, COLUMNS, TEXT_PT = 4.4, 3, 7.2
CARD_ROW_MM, CARD_PT = 8.4, 9.0
MOST_PLANNED = 120
"""More belts of a car do not fit on one page."""
WARNED_MM = 27.8
"""Of a plan's page, for the cautions at its foot."""

FIELD_MM, LINE_MM, GAP_MM, INSET_MM = 11.6, 6.4, 1.7, 1.5
BOX_MM, BOX_TO_WORD_MM, WORD_TO_BOX_MM, UNIT_GAP_MM = 3.8, 1.1, 3.0, 1.4
LABEL_PT, LEVEL_PT = 7.0, 9.0
Lines = list[list[str]]


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
    belts = decision_words.outlook_words({**findings, "outlook": block}, most)
    looks = raised(listed([*OFF.values()]))
    return {
        "Settings to run": todo_words(findings),
        "When to change": decision_words.rule_words(findings),
        "What takes a belt off at once": [line.format(looks=looks) for line in SAID["looks_off"]],
        "Belts still running": belts[1:] if running else belts,
    }


def _drawn(findings: Plain, parts: Mapping[str, Sequence[str]], size: float) -> tuple[bytes, float]:
    """Draw the page in a size of type, and tell how far down it reaches in millimetres."""
    log = findings["log"]
    name = _cut(log["name"] or "the season", LONGEST_NAME)
    about = _cut(log_words({**log, "name": _cut(log["name"] or "", 2 * LONGEST_NAME)}), 2 * LONGEST_SENTENCE)
    with pdf.one_page(f"Belts: {name}", size + 1, pdf.INK, 0.0) as page:
        page.set_y(TOP_MM + 8.0)
        for said in (about, INVENTED) if log.get("invented") else (about,):
            pdf.paragraph(page, LEFT_MM, page.get_y(), WIDTH_MM, said, LEAST_PT, 0.45 * LEAST_PT, pdf.INK)
        for heading, sentences in parts.items():
            top = page.get_y() + 0.28 * size
            rule(page, LEFT_MM, top, LEFT_MM + WIDTH_MM)
            page.set_xy(LEFT_MM, top + 0.16 * size)
            page.start_section(heading, level=1)
            page.set_y(top + 0.66 * size)
            for sentence in sentences:
                write(page, LEFT_MM, page.get_y() + 0.34 * size, "\N{BULLET}", size)
                left = LEFT_MM + 0.36 * size
                pdf.paragraph(page, left, page.get_y(), WIDTH_MM - 0.36 * size, sentence, size, 0.45 * size, pdf.INK)
        page.set_y(page.get_y() + 0.3 * size)
        warned(page, LEAST_PT)
        return bytes(page.output()), page.get_y()


def _cut(words: str, letters: int) -> str:
    """Cut what is too long, with an ellipsis where something is left out."""
    return words if len(words) <= letters else f"{words[: letters - 1].rstrip()}\N{HORIZONTAL ELLIPSIS}"


def inspection_rows(findings: Plain) -> list[Row]:
    """List the looks by what becomes of the belt, each with what was behind it on the log's own belts that failed."""
    rows, boxes = [], ("belt, run",) * 2
    for look in LOOKS:
        sign = sign_words(findings, look["column"], look["word"])
        rows.append(Row("{seen}: {word}".format(**look), look.get("hint", ""), sign, boxes, look["part"]))
    return rows


def inspection_card(findings: Plain, paper: str = "A4") -> bytes:
    """Draw the card to inspect a belt by, on A4 or US letter ("Letter"), as a PDF of one page."""
    log = findings["log"]
    origin = SAID["origin"].format(sure=sure(findings))
    foot = [origin, INVENTED] if log.get("invented") else [origin]
    name, blanks = log["name"] or "the season", ("Date", "Car", "By")
    return card("Inspection card", name, blanks, [inspection_rows(findings)], 52.0, foot, paper=paper)


def plan_sheet(plan: Sequence[PlannedBelt], seed: int, takes: int | None = None) -> bytes:
    """Draw the sheet of a plan drawn with a seed, of a test that takes so many belts; a car without room begins a page.

    Raises
    ------
    ValueError
        If there is no belt, or more than fit on one page.
    """
    if not 0 < len(plan) <= MOST_PLANNED:
        raise ValueError(f"a sheet holds 1 to {MOST_PLANNED} belts, not {len(plan)}")
    with pdf.one_page("Next season's test", pdf.TEXT_PT, pdf.WHITE, 1.4) as page:
        of = f" of the {takes} that it takes" if takes and takes > len(plan) else ""
        _opened(page, f"{len(plan)} belts{of}, drawn by lot with seed {seed}", PLAN_RULES, TEXT_PT)
        for car in dict.fromkeys(one.car for one in plan):
            mine = [one for one in plan if one.car == car]
            rows, across = -(-len(mine) // COLUMNS), WIDTH_MM / COLUMNS
            if page.get_y() + pdf.BAR_MM + rows * ROW_MM > pdf.BOTTOM_MM - WARNED_MM:
                warned(page)
                page.add_page()
            bar(page, f"Car {car}")
            top = page.get_y()
            for place, one in enumerate(mine):
                x, y = LEFT_MM + place // rows * across, top + (place % rows + 1) * ROW_MM - 1.1
                write(page, x + 1.4, y, one.line, TEXT_PT, pdf.FAINT)
                write(page, x + 7.0, y, one.belt, TEXT_PT, pdf.INK, "B")
                end = x + 18.0 + write(page, x + 18.0, y, ", grease ".join(one.arm), TEXT_PT)
                rule(page, end + 2.0, y + 0.6, x + across - 2.0)
            page.set_y(top + rows * ROW_MM + 1.0)
        return closed(page, "the cautions end at {:.0f} mm, below the foot of the page")


def meeting_card(block: Plain, log: str) -> bytes:
    """Draw the card of a meeting as a PDF of one page: the belts on hand, and which goes on for which round.

    The plan is that of `drivekit.study.decisions.meeting_block`, the log the season that its chances are from.

    Raises
    ------
    ValueError
        If there is no plan, or it does not fit on one page.
    """
    if "reason" in block:
        raise ValueError(f"there is no plan to print: {block['reason']}")
    with pdf.one_page("Belts for the meeting", pdf.TEXT_PT, pdf.WHITE, 1.4) as page:
        _opened(page, f"chances by {log}", decision_words.meeting_words(block), CARD_PT)
        hand = [
            (belt["belt"], counted(belt["age"], "run"), off_words(belt["off"]) if belt["off"] else "look:")
            for belt in block["belts"]
        ]
        _table(page, "Belts on hand, the one on the engine first", ("belt", "has made", ""), hand, (42.0, 30.0))
        head = ("round", "belt to run", "makes the round", "if it fails, next", "ran, and its look")
        _table(page, "Round by round", head, decision_words.meeting_rows(block), (30.0, 42.0, 40.0, 38.0))
        return closed(page, "the card does not fit on one page: name fewer belts")


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


def run_sheet(blanks: Sequence[Blank], paper: str = "A4") -> bytes:
    """Draw the run sheet on A4 or US letter ("Letter") as a PDF of one page; blanks of no part are left out.

    Raises
    ------
    ValueError
        If the blanks no longer fit on one page.
    """
    with pdf.one_page("Run sheet", pdf.TEXT_PT, pdf.WHITE, INSET_MM, paper) as page:
        for at, note in enumerate(SAID["run_sheet_notes"]):
            left = LEFT_MM + WIDTH_MM - wide(page, note, LABEL_PT)
            write(page, left, TOP_MM + 3.0 + 3.6 * at, note, LABEL_PT, pdf.FAINT)
        page.set_y(TOP_MM + 9.4)
        for part in dict.fromkeys(blank.part for blank in blanks if blank.part):
            bar(page, part)
            _part(page, [blank for blank in blanks if blank.part == part])
        page.set_y(page.get_y() + 0.6)
        return closed(page, "the run sheet ends at {:.0f} mm, below the foot of the page: narrow its fields")


def _rows_of(widths: Sequence[float]) -> list[range]:
    """Break widths, in order, into rows no wider than the page, as few and even as can be: the places of each row's."""
    best: list[tuple[int, float, list[int]]] = [(0, 0.0, [0])]
    for end in range(1, len(widths) + 1):
        ways = []
        for start in range(end):
            spare = WIDTH_MM - sum(widths[start:end]) - GAP_MM * (end - start - 1)
            if spare >= 0 or start == end - 1:
                rows, uneven, breaks = best[start]
                ways.append((rows + 1, uneven + spare**2, [*breaks, end]))
        best.append(min(ways))
    return [range(start, end) for start, end in pairwise(best[-1][2])]


def _part(page: FPDF, blanks: Sequence[Blank]) -> None:
    lines = [_lines(page, blank) for blank in blanks]
    needs = [_needs_mm(page, blank, boxes) for blank, boxes in zip(blanks, lines, strict=True)]
    y = page.get_y() + GAP_MM
    for row in _rows_of(needs):
        # What a row has left goes to its writing lines, since boxes need no more than they have.
        written = [at for at in row if not lines[at]] or row
        spare = WIDTH_MM - sum(needs[at] for at in row) - GAP_MM * (len(row) - 1)
        height = FIELD_MM + LINE_MM * (max(1, *(len(lines[at]) for at in row)) - 1)
        left = LEFT_MM
        for at in row:
            width = needs[at] + (spare / len(written) if at in written else 0.0)
            boxed(page, left, y, width, height, pdf.TINT)
            _field(page, blanks[at], lines[at], left + INSET_MM, y, left + width - INSET_MM)
            left += width + GAP_MM
        y += height + GAP_MM
    page.set_y(y)


def _lines(page: FPDF, blank: Blank) -> Lines:
    """Put the levels on as many lines of boxes as they need; no line where there is one to write on."""
    lines: Lines = []
    for level in blank.levels:
        if lines and _boxes_mm(page, [*lines[-1], level], LEVEL_PT, WORD_TO_BOX_MM) <= WIDTH_MM - 2 * INSET_MM:
            lines[-1].append(level)
        else:
            lines.append([level])
    return lines


def _needs_mm(page: FPDF, blank: Blank, lines: Lines) -> float:
    label = wide(page, blank.label, LABEL_PT, "B")
    boxes = [_boxes_mm(page, line, LEVEL_PT, WORD_TO_BOX_MM) for line in lines]
    return max(label, *boxes, 0.0 if boxes else blank.writing_mm + _units_mm(page, blank)) + 2 * INSET_MM


def _field(page: FPDF, blank: Blank, lines: Lines, left: float, top: float, right: float) -> None:
    write(page, left, top + 3.5, blank.label, LABEL_PT, style="B")
    line = top + FIELD_MM - 2.0
    for at, levels in enumerate(lines):
        _boxes(page, levels, left, line + LINE_MM * at, LEVEL_PT, WORD_TO_BOX_MM)
    if not lines:
        start = right - _units_mm(page, blank)
        rule(page, left, line, start)
        if len(blank.units) > 1:
            _boxes(page, blank.units, start + UNIT_GAP_MM, line, LABEL_PT, UNIT_GAP_MM)
        elif blank.units:
            write(page, start + UNIT_GAP_MM, line, blank.units[0], LABEL_PT)


def _units_mm(page: FPDF, blank: Blank) -> float:
    """Measure what the unit, or a box for each of two, takes from the end of a writing line."""
    if len(blank.units) > 1:
        return UNIT_GAP_MM + _boxes_mm(page, blank.units, LABEL_PT, UNIT_GAP_MM)
    return UNIT_GAP_MM + wide(page, blank.units[0], LABEL_PT) if blank.units else 0.0


def _boxes_mm(page: FPDF, words: Sequence[str], size: float, apart: float) -> float:
    return sum(BOX_MM + BOX_TO_WORD_MM + wide(page, word, size) + apart for word in words) - apart


def _boxes(page: FPDF, words: Sequence[str], left: float, line: float, size: float, apart: float) -> None:
    for word in words:
        boxed(page, left, line - BOX_MM + 0.6, BOX_MM, BOX_MM, pdf.WHITE, 0.3)
        left += BOX_MM + BOX_TO_WORD_MM
        left += write(page, left, line, word, size) + apart
