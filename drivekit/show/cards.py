"""Cards to take to the engine and to write on, printed in A4 and in US letter: set-up, record, inspection.

A card is rows: a label, a hint, a number from the computation, and boxes to fill. The set-up card is the order of work;
the record card has a row for each column of the log and a box for each run, the front for what is known before the run
and the back for what is found after it; the inspection card says of each look what becomes of the belt.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from drivekit.decide.outlook import LOOKS
from drivekit.decide.tracking import words
from drivekit.drive.screws import FLATS_IN_A_TURN
from drivekit.show import pdf
from drivekit.show.pdf import LEFT_MM, WIDTH_MM, Blank, write
from drivekit.show.phrases import lowered

if TYPE_CHECKING:
    from fpdf import FPDF

    from drivekit.decide.tracking import Tracking
    from drivekit.drive.set_up import SetUp

__all__ = ["ESTIMATES", "GUIDE", "SAID", "Row", "card", "order_of_work", "record_card", "set_up_card"]

SAID: Mapping[str, Any] = tomllib.loads(Path(__file__).with_suffix(".toml").read_text(encoding="utf-8"))
"""The work of a set-up in its order, and the lines that stand above and below rows."""
ESTIMATES: str = SAID["estimates"]
GUIDE = tuple(line.format(**{look["word"]: look.get("hint") for look in LOOKS}) for line in SAID["guide"])
RUNS = 6
"""On a record card."""
INDENT_MM, PART_MM, ROOM_MM, FOOT_MM = 8.4, 1.4, 14.0, 1.6
# A hand cannot write in less than a row's least height; no row takes more of what a page has left.
LINE_MM, HEADING_MM, LEAST_ROW_MM, MOST_SPARE_MM, SMALL_PT = 3.4, 5.4, 4.8, 4.0, 7.0


class Row(NamedTuple):
    """One row of a card."""

    label: str
    hint: str = ""  # what to do, or what may be written
    number: str = ""  # what the computation says of it
    boxes: tuple[str, ...] = ()  # what to write down, each box with its caption
    part: str = ""  # of the card: a new one has its heading


def card(
    title: str,
    about: str,
    blanks: Sequence[str],
    sides: Sequence[Sequence[Row]],
    boxes_mm: float,
    foot: Sequence[str] = (),
    *,
    ticked: bool = False,
    paper: str = "A4",
) -> bytes:
    """Draw a card as a PDF, a page a side, the cautions first.

    At its head stand its title, what it is of, and blanks that are filled in once. Each side holds its rows in order,
    the last one the paragraphs of the foot below them. The boxes of a row are so wide together; a row without any has
    one, as wide as its label leaves. Ticked rows are numbered, with a box to tick for each and hints below labels; else
    hints stand beside them where they fit. On A4 and US letter ("Letter") stands the same.

    Raises
    ------
    ValueError
        If a side has no row, or it does not fit on its page.
    """
    if not sides or not all(sides):
        raise ValueError(f"A {lowered(title)} needs a row on each side.")
    heading = (pdf.HEAD_PT, pdf.INK, INDENT_MM) if ticked else (pdf.TEXT_PT, pdf.WHITE, PART_MM)
    with pdf.one_page(title, *heading, paper) as page:
        for number, rows in enumerate(sides):
            if number:
                page.add_page()
                write(page, LEFT_MM, pdf.TOP_MM + 4.6, f"{title}, back", pdf.TITLE_PT, style="B")
            _head(page, about, blanks)
            if not number:
                pdf.warned(page)
                page.set_y(page.get_y() + 2.0)
            below = foot if number == len(sides) - 1 else ()
            if (spare := _rows(page, rows, boxes_mm, ticked, below)) < 0:
                raise ValueError(f"The {lowered(title)} is {-spare:.0f} mm too long for its page: shorten its rows.")
            for text in below:
                pdf.paragraph(page, LEFT_MM, page.get_y() + FOOT_MM, WIDTH_MM, text, SMALL_PT, LINE_MM, pdf.INK)
        return bytes(page.output())


def set_up_card(name: str, steps: Sequence[Row], paper: str = "A4") -> bytes:
    """Draw the set-up card of a named drive: its work in order, the cautions first. Raises as `card` does."""
    blanks = ("Date", "Car", "Belt", "By")
    return card("Set-up card", name, blanks, [steps], 66.0, (ESTIMATES,), ticked=True, paper=paper)


def record_card(columns: Sequence[Blank], paper: str = "A4") -> bytes:
    """Draw the record card: columns of the log downward, runs across. Raises as `card` does.

    Its front holds what is known before the run; its back the last part, a line for each run's note, and the guide. A
    column without part is left out.
    """
    shown = [column for column in columns if column.part]
    last = shown[-1].part if shown else ""
    sides: list[list[Row]] = [[], []]
    for column in shown:
        hint = ", ".join(column.levels) or " or ".join(column.units)
        row = Row(column.label, hint, boxes=("",) * RUNS, part=column.part)
        notes = [Row(f"{column.label}, run", part=column.part)] * RUNS
        sides[column.part == last].extend(notes if column.free else [row])
    about, blanks = "One run down each column; ● must be filled.", ("Season", "Car")
    return card("Record card", about, blanks, [side for side in sides if side], 104.0, GUIDE, paper=paper)


def _head(page: FPDF, name: str, blanks: Sequence[str]) -> None:
    size = pdf.TEXT_PT + 0.6
    write(page, LEFT_MM, pdf.TOP_MM + 10.4, pdf.fitting(page, name, 96.0, size), size, pdf.FAINT)
    wide = 84.0 / len(blanks)
    for place, blank in enumerate(blanks):
        left = LEFT_MM + WIDTH_MM - 84.0 + place * wide
        write(page, left, pdf.TOP_MM + 3.0, blank, SMALL_PT, pdf.FAINT)
        pdf.rule(page, left, pdf.TOP_MM + 10.4, left + wide - 2.0)
    page.set_y(pdf.TOP_MM + 13.2)


def _rows(page: FPDF, rows: Sequence[Row], boxes_mm: float, ticked: bool, foot: Sequence[str]) -> float:
    """Draw the rows of a side, and give what is left of the page, shared among them for writing; below 0: undrawn."""
    indent = INDENT_MM if ticked else PART_MM
    width = WIDTH_MM - boxes_mm - indent - 2.0
    texts = [_texts(page, row, width, ticked) for row in rows]
    lines = [sum(_lines(page, text, width) for text, _ in below) for _, below in texts]
    needs = [LINE_MM * (max(1, of_row) + 2) if ticked else LEAST_ROW_MM + LINE_MM * of_row for of_row in lines]
    parts = [row.part if row.part != before.part else "" for row, before in zip(rows, [Row(""), *rows], strict=False)]
    foot_mm = sum(LINE_MM * _lines(page, text, WIDTH_MM) + FOOT_MM for text in foot)
    bars_mm = pdf.BAR_MM * len([part for part in parts if part])
    spare: float = pdf.BOTTOM_MM - foot_mm - page.get_y() - bars_mm - sum(needs)
    for place, (row, need) in enumerate(zip(rows, needs, strict=True) if spare >= 0 else ()):
        if parts[place]:
            pdf.bar(page, parts[place])
        top, (beside, below) = page.get_y(), texts[place]
        height, after = need + min(spare / len(rows), MOST_SPARE_MM), 0.0
        if ticked:
            pdf.boxed(page, LEFT_MM, top + 1.0, 4.0, 4.0, None, 0.3)
            page.set_xy(LEFT_MM, top + 1.3)
            page.start_section(f"{place + 1}. {row.label}", level=1)
        else:
            after = write(page, LEFT_MM + indent, top + LINE_MM, row.label, pdf.TEXT_PT, style="B") + 2.0
            write(page, LEFT_MM + indent + after, top + LINE_MM, beside, SMALL_PT)
        page.set_y(top + (HEADING_MM if ticked else LEAST_ROW_MM - 0.4))
        for text, ink in below:
            pdf.paragraph(page, LEFT_MM + indent, page.get_y(), width, text, SMALL_PT, LINE_MM, ink)
        _boxes(page, row.boxes, boxes_mm if row.boxes else WIDTH_MM - indent - after - ROOM_MM, top, height)
        page.set_y(top + height)
    return spare


def _texts(page: FPDF, row: Row, width: float, ticked: bool) -> tuple[str, list[tuple[str, pdf.Ink]]]:
    """Tell what stands beside a row's label and what below it."""
    room = width - pdf.wide(page, row.label, pdf.TEXT_PT, "B") - 2.0
    beside = row.hint if not ticked and pdf.wide(page, row.hint, SMALL_PT) <= room else ""
    texts = [("" if beside else row.hint, pdf.INK), (row.number, pdf.BLUE)]
    return beside, [(text, ink) for text, ink in texts if text]


def _boxes(page: FPDF, captions: Sequence[str], across: float, top: float, height: float) -> None:
    """Draw the boxes of a row at its right end, and the line below it."""
    wide = across / max(1, len(captions))
    for at, caption in enumerate(captions or ("",)):
        left = LEFT_MM + WIDTH_MM - across + at * wide
        pdf.boxed(page, left, top + 0.5, wide - 0.9, height - 1.0, pdf.TINT)
        write(page, left + 0.6, top + 3.6, pdf.fitting(page, caption, wide - 1.6, SMALL_PT), SMALL_PT, pdf.FAINT)
    pdf.rule(page, LEFT_MM, top + height, LEFT_MM + WIDTH_MM)


def _lines(page: FPDF, text: str, width: float) -> int:
    page.set_font("sans", "", SMALL_PT)
    return len(page.multi_cell(width, 1.0, text, align="L", dry_run=True, output="LINES"))


def order_of_work(set_up: SetUp, tracking: Tracking | None = None) -> tuple[Row, ...]:
    """List the work of a set-up in its order, with what a car's own readings say of its idler flats, if there are some.

    A step whose number the drive file does not give stands without one.
    """
    numbers, units = _numbers(set_up, tracking), set_up.layout.spoken
    named = {unit: units.name(unit) for unit in ("mm", "N", "°C")}
    rows = []
    for step in SAID["work"]:
        boxes = tuple(box.format(**named) for box in step["boxes"])
        rows.append(Row(step["label"], step["hint"], numbers.get(step.get("number"), ""), boxes))
    return tuple(rows)


def _numbers(set_up: SetUp, tracking: Tracking | None) -> dict[str, str]:
    """Say what the computation, and the car's record, say of steps of the work that they say something of."""
    units, gain = set_up.layout.spoken, set_up.gain
    said: dict[str, str] = {}
    if (jack := set_up.jack_flat) is not None:
        adds = f"adds {units.force(jack.tension_n)} to every span: read the tension again"
        said["jack"] = f"One flat of both jack screws under the snout lifts it {units.length(jack.lift_m)} and {adds}."
    if (stack := set_up.stack) is not None:
        low, high = (edge * 1e3 for edge in stack.worst_m)
        wanted = f"shim {units.length(stack.shim_m)}" if stack.shim_m else f"cut {units.length(stack.cut_m)}"
        after = f"; for {units.long(stack.wanted_m, 2)} {wanted}" if stack.shim_m or stack.cut_m else ""
        clearance, over = units.said(stack.clearance_m * 1e3, "mm", 3, "+"), units.range(low, high, "mm", 3, "+")
        said["stack"] = f"Clearance {clearance} ({over}): it {stack.verdict}{after}."
    note, push = set_up.reading.note, set_up.reading.push
    said["tension"] = (
        f"Set {units.force(set_up.layout.tension.set_n)} a span: {set_up.reading.notes} on a span of "
        f"{units.long(note.length_m, 0)}, or {units.long(push.deflection_m, 2)} under {units.force(push.force_n)}."
    )
    if gain is not None:
        said["tension"] += f" One flat of every adjuster: {units.force(gain.per_flat_n)}."
        moved = units.length(gain.travel_per_turn_m / FLATS_IN_A_TURN)
        said["square"] = f"One flat of one of the idler's adjusters moves its end by {moved}."
    if tracking is not None and tracking.move.idler is not None:
        # the card has no room for what is expected of it: that stands on the page
        move = f"From the record: {lowered(str(tracking.move).split(':')[0])}."
        said["square"] = f"{said.get('square', '')} {move}".strip()
    if tracking is not None and tracking.zero.lower is not None:
        said["even"] = f"This car's belts have run even at {words(tracking.zero, 'net flats')}, front less rear."
    said["clamp"] = set_up.grip_refused
    if set_up.grip is not None:
        factor, preload = set_up.grip.factor, set_up.grip.preload
        holds = f"it holds {factor.likely:.1f} times ({factor.least:.1f} at its least) what makes the idler slip"
        said["clamp"] = f"Clamp {units.both(preload.torque_n_m, 'N m')}, threads {preload.state}: {holds}."
    return said
