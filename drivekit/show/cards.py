"""The set-up card and the record card: one printed page each, to take to the engine and to write on.

The set-up card is the order of work: cautions first, then step by step what to do, the number from the computation, and
boxes to fill. The record card is a grid: a row for each column of the log, a column for each run.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

from drivekit.decide.tracking import words
from drivekit.drive.screws import FLATS_IN_A_TURN
from drivekit.show import pdf
from drivekit.show.pdf import LEFT_MM, WIDTH_MM, Blank, write
from drivekit.show.phrases import lowered

if TYPE_CHECKING:
    from fpdf import FPDF

    from drivekit.decide.tracking import Tracking
    from drivekit.drive.set_up import SetUp

__all__ = ["ESTIMATES", "PHASE_GUIDE", "Step", "order_of_work", "record_card", "set_up_card"]

ESTIMATES = "Blue numbers are computed from the drive file: estimates. The makers' limits and the rule book decide."
PHASE_GUIDE = (
    "Reading the edges: at idle the belt leans to the rear, winding down to the front, under load it should run even.",
    "Off the front under load: the snout is too low, both jack screws in; off the rear: too high, both out (practice).",
)
DO_MM, INDENT_MM, LABEL_MM = 126.0, 8.4, 62.0
SMALL_PT, LINE_MM = 6.6, 3.4
# Lower than this a hand cannot write in a box.
LEAST_ROW_MM = 4.4


class Step(NamedTuple):
    """One step of the work.

    Parameters
    ----------
    title, do : str
        What it is called, and what to do.
    number : str
        What the computation says of it; empty when it says nothing.
    boxes : tuple of str
        What to write down, each with its unit.
    """

    title: str
    do: str
    number: str = ""
    boxes: tuple[str, ...] = ()


def set_up_card(name: str, steps: Sequence[Step], cautions: Sequence[str], *, note: str = "") -> bytes:
    """Draw a set-up card as a PDF of one page.

    Parameters
    ----------
    name : str
        What the drive is called.
    steps : sequence of Step
        The work in its order.
    cautions : sequence of str
        They stand first, in a frame.
    note : str
        A line at the foot: what the numbers are and are not.

    Raises
    ------
    ValueError
        If there is no step or no caution, or the card does not fit on one page.
    """
    if not steps or not cautions:
        raise ValueError("A set-up card needs its steps and its cautions.")
    with pdf.one_page("Set-up card", pdf.HEAD_PT, pdf.INK, INDENT_MM) as page:
        _head(page, name, ("Date", "Car", "Belt", "By"))
        pdf.warned(page, cautions)
        page.set_y(page.get_y() + 2.0)
        # What is left of the page is shared among the steps, so that there is room to write.
        lines = [sum(_lines(page, text, DO_MM - INDENT_MM - 2.0, pdf.TEXT_PT) for text in step[1:3]) for step in steps]
        needs = [max(6.0 + of_step * LINE_MM, 10.0) for of_step in lines]
        spare = pdf.BOTTOM_MM - (5.0 if note else 0.0) - page.get_y() - sum(needs)
        if spare < 0:
            raise ValueError(f"The set-up card is {-spare:.0f} mm too long for its page: shorten its steps.")
        for place, (step, need) in enumerate(zip(steps, needs, strict=True), 1):
            _step(page, place, step, need + min(spare / len(steps), 4.0))
        write(page, LEFT_MM, page.get_y() + 4.0, note, SMALL_PT, pdf.FAINT)
        return bytes(page.output())


def record_card(columns: Sequence[Blank], *, runs: int = 7, foot: Sequence[str] = ()) -> bytes:
    """Draw the record card as a PDF of one page: columns of the log downward, runs across.

    Parameters
    ----------
    columns : sequence of Blank
        The columns of the log; those that stand in no part are left out.
    runs : int
        How many runs the card takes.
    foot : sequence of str
        Paragraphs at the foot: how to read the edges, and what to mind.

    Raises
    ------
    ValueError
        If no column stands in a part, there is no run, or the card does not fit on one page.
    """
    shown = [column for column in columns if column.part]
    parts = list(dict.fromkeys(column.part for column in shown))
    if not shown or runs < 1:
        raise ValueError("A record card needs at least one column of the log and one run.")
    with pdf.one_page("Record card", pdf.TEXT_PT, pdf.WHITE, 1.4) as page:
        _head(page, "One run down each column; ● must be filled.", ("Season", "Car"))
        foot_mm = sum(3.1 * _lines(page, text, WIDTH_MM - 2.0, SMALL_PT) + 1.6 for text in foot)
        row_mm = min(6.4, (pdf.BOTTOM_MM - foot_mm - page.get_y() - pdf.BAR_MM * len(parts)) / len(shown))
        if row_mm < LEAST_ROW_MM:
            raise ValueError(f"The record card has no room for {len(shown)} columns of the log: hand in fewer.")
        for part in parts:
            pdf.bar(page, part)
            for column in shown:
                if column.part == part:
                    _record_row(page, column, runs, row_mm)
        for text in foot:
            pdf.paragraph(page, LEFT_MM, page.get_y() + 1.6, WIDTH_MM - 1.0, text, SMALL_PT, 3.1, pdf.INK)
        return bytes(page.output())


def _head(page: FPDF, name: str, blanks: Sequence[str]) -> None:
    size = pdf.TEXT_PT + 0.6
    write(page, LEFT_MM, pdf.TOP_MM + 10.4, pdf.fitting(page, name, 96.0, size), size, pdf.FAINT)
    wide = 84.0 / len(blanks)
    for place, blank in enumerate(blanks):
        left = LEFT_MM + WIDTH_MM - 84.0 + place * wide
        write(page, left, pdf.TOP_MM + 3.0, blank, SMALL_PT, pdf.FAINT)
        pdf.rule(page, left, pdf.TOP_MM + 10.4, left + wide - 2.0)
    page.set_y(pdf.TOP_MM + 13.2)


def _lines(page: FPDF, text: str, width: float, size: float) -> int:
    page.set_font("sans", "", size)
    return len(page.multi_cell(width, 1.0, text, align="L", dry_run=True, output="LINES")) if text else 0


def _step(page: FPDF, place: int, step: Step, height: float) -> None:
    top = page.get_y()
    pdf.boxed(page, LEFT_MM, top + 1.0, 4.0, 4.0, None, 0.3)
    page.set_xy(LEFT_MM, top + 1.3)
    page.start_section(f"{place}. {step.title}", level=1)
    page.set_y(top + 5.4)
    left, width = LEFT_MM + INDENT_MM, DO_MM - INDENT_MM - 2.0
    for text, ink in ((step.do, pdf.INK), (step.number, pdf.BLUE)):
        if text:
            pdf.paragraph(page, left, page.get_y(), width, text, pdf.TEXT_PT, LINE_MM, ink)
    size = SMALL_PT - 0.4
    wide = (WIDTH_MM - DO_MM - 2.0) / max(1, len(step.boxes))
    for at, label in enumerate(step.boxes):
        left = LEFT_MM + DO_MM + 2.0 + at * wide
        pdf.boxed(page, left, top + 0.8, wide - 1.2, height - 1.8, pdf.TINT)
        write(page, left + 1.0, top + 3.6, pdf.fitting(page, label, wide - 3.0, size), size, pdf.FAINT)
    pdf.rule(page, LEFT_MM, top + height, LEFT_MM + WIDTH_MM)
    page.set_y(top + height)


def _record_row(page: FPDF, column: Blank, runs: int, row_mm: float) -> None:
    top = page.get_y()
    base = top + row_mm / 2 + 1.0
    used = write(page, LEFT_MM + 1.4, base, column.label, pdf.TEXT_PT) + 3.0
    size = SMALL_PT - 1.2
    # A hint that has no room is cut at a word: the blank log lists every level.
    hint = pdf.fitting(page, ", ".join(column.units[:1] or column.levels), LABEL_MM - used - 1.0, size)
    write(page, LEFT_MM + used, base, hint, size, pdf.FAINT)
    for place in range(runs + 1):
        left = LEFT_MM + LABEL_MM + place * (WIDTH_MM - LABEL_MM) / runs
        pdf.rule(page, left, top, left, top + row_mm)
    pdf.rule(page, LEFT_MM, top + row_mm, LEFT_MM + WIDTH_MM)
    page.set_y(top + row_mm)


def order_of_work(set_up: SetUp, tracking: Tracking | None = None) -> tuple[Step, ...]:
    """List the work of a set-up in its order; a step whose number the drive file does not give stands without one.

    Parameters
    ----------
    set_up : SetUp
        The computed set-up of the drive.
    tracking : Tracking, optional
        What the car's own readings say of its idler flats.
    """
    units = set_up.layout.spoken
    # fmt: off
    # A table, to be read across its rows.
    return (
        Step("Manifold bolted, belt loose", "Adjuster backed off before the clamp is opened; manifold bolts to their "
             "torque. With the belt tight nobody turns a jack screw.", boxes=("manifold torque", "idler on 1 or 3")),
        Step("Zero the jack screws", "Under the snout, left and right: back off, bring to first touch by hand: that is "
             "zero. Count flats (sixths of a turn) from there; none short of touch.", _jack_words(set_up),
             ("snout left, flats", "snout right, flats")),
        Step("Idler in, marked side out", "Slide the stack into the bracket by hand. It must go in without spreading "
             "the bracket.", _stack_words(set_up), ("marked out", "spacers", f"play, {units.name('mm')}")),
        Step("Belt on, tension", "Never levered over a rim. Cold, at rest, same tooth at the mark; read three times.",
             _tension_words(set_up), (f"1st, {units.name('N')} or Hz", "2nd", "3rd")),
        Step("Square the idler", "By its own adjusters, front and rear: straight screw first, then the other to touch. "
             "Never pried or pushed square: it goes back as it was.", _neutral_words(set_up, tracking),
             ("front, flats", "rear, flats", "pried?")),
        Step("Clamp to torque", "Faces clean, marked or galled? A galled one is dressed or changed.",
             _clamp_words(set_up), ("torque", "faces")),
        Step("Turn by hand", "Two people, plugs out. Two turns of the belt forward; watch both edges on every pulley.",
             boxes=("walks: front, even, rear",)),
        Step("Recheck, lock nuts, read again", "Tension at the same tooth; hold the screw, tighten the nut: no flat "
             "may move; then the tension once more.", boxes=("before", "nuts, by", "after")),
        Step("Grease the edges", "Never, when fitted, or before every run: as planned.", boxes=("kind", "how often")),
        Step("Guards and restraint on", "As the rule book says, before the engine is started.", boxes=("on, by",)),
        Step("Warm up", "Watch from outside the belt's plane, never across it; a camera serves.",
             boxes=("idle leans", "winding down leans")),
        Step("Edge temperatures", "Hot, engine off and made safe again: both edges at the same place.",
             _even_words(tracking), tuple(f"{edge}, {units.name('°C')}" for edge in ("front", "rear"))),
        Step("Run", "The lean under load is the one that asks for a screw; see the record card's foot.",
             boxes=("under load leans",)),
        Step("Inspection", "Off: teeth torn or missing, edge split, cord pulled, oil, metal in it; an oiled belt is "
             "not cleaned and run. Trimmed: loose cord hairs. Broken straight across, ends clean: it came loose; look "
             "at clamp faces, tension, jack screws.", boxes=("teeth", "cord", "edges", "surface", "shade")),
        Step("Guards checked", "On again, as the rule book says.", boxes=("checked, by",)),
    )
    # fmt: on


def _jack_words(set_up: SetUp) -> str:
    jack, units = set_up.jack_flat, set_up.layout.spoken
    if jack is None:
        return ""
    gain = f"adds {units.force(jack.tension_n)} to every span: read the tension again"
    return f"One flat of both lifts the snout {units.length(jack.lift_m)} and {gain}."


def _stack_words(set_up: SetUp) -> str:
    stack, units = set_up.stack, set_up.layout.spoken
    if stack is None:
        return ""
    low, high = (edge * 1e3 for edge in stack.worst_m)
    wanted = f"shim {units.length(stack.shim_m)}" if stack.shim_m else f"cut {units.length(stack.cut_m)}"
    after = f"; for {units.long(stack.wanted_m, 2)} {wanted}" if stack.shim_m or stack.cut_m else ""
    clearance, over = units.said(stack.clearance_m * 1e3, "mm", 3, "+"), units.range(low, high, "mm", 3, "+")
    return f"Clearance {clearance} ({over}): it {stack.verdict}{after}."


def _tension_words(set_up: SetUp) -> str:
    note, push, units = set_up.reading.note, set_up.reading.push, set_up.layout.spoken
    gain = "" if set_up.gain is None else f" One flat of every adjuster: {units.force(set_up.gain.per_flat_n)}."
    return (
        f"Set {units.force(set_up.layout.tension.set_n)} a span: {set_up.reading.notes} on a span of "
        f"{units.long(note.length_m, 0)}, or {units.long(push.deflection_m)} under {units.force(push.force_n)}.{gain}"
    )


def _neutral_words(set_up: SetUp, tracking: Tracking | None) -> str:
    travel = ""
    if set_up.gain is not None:
        flat_m = set_up.gain.travel_per_turn_m / FLATS_IN_A_TURN
        travel = f"One flat of an idler adjuster moves its end by {set_up.layout.spoken.length(flat_m)}."
    if tracking is None or tracking.move.idler is None:
        return travel
    # the card has no room for what is expected of it: that stands on the page
    return f"{travel} From the record: {lowered(str(tracking.move).split(':')[0])}.".strip()


def _even_words(tracking: Tracking | None) -> str:
    if tracking is None or tracking.zero.lower is None:
        return ""
    return f"This car's belts have run even at {words(tracking.zero, 'net flats')}, front less rear."


def _clamp_words(set_up: SetUp) -> str:
    if set_up.grip is None:
        return set_up.grip_refused
    grip = set_up.grip
    torque = set_up.layout.spoken.both(grip.preload.torque_n_m, "N m")
    holds = f"it holds {grip.factor.likely:.1f} times ({grip.factor.least:.1f} at its least) what makes the idler slip"
    return f"Clamp {torque}, threads {grip.preload.state}: {holds}."
