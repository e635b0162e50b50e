"""What must hold from row to row and from table to table.

A rule takes both tables and gives its faults; it keeps silent on cells that were found at fault already, so that one
mistake is said once. A new rule is one function, named in `RULES`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from difflib import get_close_matches
from itertools import product

import numpy as np

from drivekit.faults import Fault, counted, shown
from drivekit.log.cells import Sheets
from drivekit.log.columns import CAUSES, EXAMPLE

__all__ = ["RULES", "WAS"]

WAS = {"retired": "was retired", "broke": "broke"}
"""The fates that end a belt's life, as they are said of it."""

MANY_RUNS_BEFORE = 40
OFFERS = 50
FEWEST_FOR_USUAL = 10
FAR_STEP = 10
FAR_RANGES = 6
"""So many ranges of a column's middle half from its middle, a number is far."""
DIGIT_SLIP = 7
"""So many times the middle or more, or so little of it, a number has a digit too many or too few."""
MOST_SLIPS = 2
SHORTEST_MISSPELT = 4
OWN_RULE = ("run", "tension_n", "runs_before")
Rule = Callable[[Sheets], Iterator[Fault]]


def rows_there(sheets: Sheets) -> Iterator[Fault]:
    """Want at least one row in each table."""
    for sheet, noun in ((sheets.belts, "belt"), (sheets.runs, "run")):
        headed = any(cells.there for cells in sheet.columns.values())
        if headed and len(sheet) == 0 and sheet.table.complete:
            wrong, right = f"has its heading but no {noun}", f"give every {noun} a row"
            yield Fault(sheet.table.file, None, "", None, wrong, right)


def example_gone(sheets: Sheets) -> Iterator[Fault]:
    """Want the example row of a blank log gone."""
    for belt in (sheets.belts["belt"], sheets.runs["belt"]):
        for row in np.flatnonzero(belt.value == EXAMPLE):
            yield belt.fault(row, "is the example row of the blank log, still there", "delete the row")


def belts_once(sheets: Sheets) -> Iterator[Fault]:
    """Want a name of its own for each belt."""
    belt = sheets.belts["belt"]
    seen: dict[str, int] = {}
    for row, name in enumerate(sheets.belt_names):
        if name is not None and seen.setdefault(name, row) != row:
            wrong = f"stands on line {belt.line(seen[name])} too"
            yield belt.fault(row, wrong, "each belt has one row and a name of its own")


def runs_once(sheets: Sheets) -> Iterator[Fault]:
    """Want a number of its own for each run."""
    run = sheets.runs["run"]
    known = np.flatnonzero(run.known)
    if len(known) == len(sheets.order):
        return
    first = {float(run.value[row]): run.line(row) for row in known[::-1]}
    for row in np.setdiff1d(known, sheets.order):
        wrong = f"is the number of the run on line {first[float(run.value[row])]} too"
        yield run.fault(row, wrong, "each run has a number of its own")


def days_forward(sheets: Sheets) -> Iterator[Fault]:
    """Want no day before the day of the run that came before, in order of run."""
    run, day = sheets.runs["run"], sheets.runs["day"]
    rows = sheets.order[day.known[sheets.order]]
    days = day.value[rows]
    for at in np.flatnonzero(days[1:] < days[:-1]):
        before = rows[at]
        made = f"run {run.typed(before)} before it was made on {days[at]} (line {run.line(before)})"
        right = "runs are numbered in the order made: correct the day or the number"
        yield day.fault(rows[at + 1], f"goes back: {made}", right)


def belts_known(sheets: Sheets) -> Iterator[Fault]:
    """Want every run's belt among the belts."""
    belt, belts = sheets.runs["belt"], sheets.belts
    if not belts["belt"].there or not belts.table.complete:
        return  # A row of the belts that could not be read may be the one that is missed.
    lower = {name.lower(): name for name in sheets.belt_names if name is not None}
    offers: dict[str, str] = {}
    for row in np.flatnonzero(sheets.unknown_belt):
        name = str(belt.value[row])
        if name not in offers and len(offers) < OFFERS:
            close = get_close_matches(name.lower(), list(lower), n=1, cutoff=0.5)
            offers[name] = f"did you mean {shown(lower[close[0]])}? " if close else ""
        right = f"{offers.get(name, '')}give it the name it has there, or a row there"
        yield belt.fault(row, f"is no belt of {belts.table.file}", right)


def ended_once(sheets: Sheets) -> Iterator[Fault]:
    """Want no run of a belt after the one that ended it."""
    run, belt, fate = (sheets.runs[name] for name in ("run", "belt", "fate"))
    rows = sheets.order[belt.known[sheets.order]]
    name = belt.text.code[rows]
    ending = np.flatnonzero(np.isin(fate.value[rows], list(WAS)))
    end_of = np.full(len(belt.text.distinct), len(rows))
    np.minimum.at(end_of, name[ending], ending)
    for at in np.flatnonzero(np.arange(len(rows)) > end_of[name]):
        row, end = rows[at], rows[end_of[name[at]]]
        was = f"{WAS[fate.value[end]]} on run {run.typed(end)} (line {run.line(end)})"
        right = "a belt that ended makes no more runs: correct the name here or the fate there"
        yield belt.fault(row, f"makes run {run.typed(row)} but {was}", right)


def endings_explained(sheets: Sheets) -> Iterator[Fault]:
    """Want a cause for every ending."""
    fate, cause = sheets.runs["fate"], sheets.runs["cause"]
    ended = np.isin(fate.value, list(WAS))
    if cause.there:
        for row in np.flatnonzero(ended & ~cause.known & ~cause.bad):
            yield cause.fault(row, f"blank, though the belt {WAS[fate.value[row]]}", f"one of {', '.join(CAUSES)}")
    elif ended.any():
        so = "a belt that broke counts as failed, one that was retired does not"
        wrong = f"without this column {counted(int(ended.sum()), 'ending')} must be taken as unknown: {so}"
        yield sheets.runs.table.fault("cause", wrong, "add it to learn how belts fail", warning=True)


def ending_agrees(sheets: Sheets) -> Iterator[Fault]:
    """Want no cause of an end where the belt runs on; doubt its look there, and a straight break that was no jump."""
    fate, look, cause = (sheets.runs[name] for name in ("fate", "break_look", "cause"))
    runs_on = fate.known & ~np.isin(fate.value, list(WAS))
    for row in np.flatnonzero(cause.known & runs_on):
        wrong = f"explains an end, but the belt was {fate.value[row]}"
        yield cause.fault(row, wrong, "leave the cause blank, or make the fate retired or broke")
    for row in np.flatnonzero(look.known & (look.value != "none") & runs_on):
        wrong = f"is the look of a broken belt, but this one was {fate.value[row]}"
        yield look.fault(row, wrong, "correct the look or the fate", warning=True)
    # Common practice, no source: a belt that breaks straight across, both ends clean, came loose and jumped.
    for row in np.flatnonzero((look.value == "straight-across") & cause.known & (cause.value != "tooth-jump")):
        wrong = f"is the look of a belt that jumped a tooth, but the cause is {cause.value[row]}"
        yield look.fault(row, wrong, "correct the look or the cause if either is a slip", warning=True)


def one_car(sheets: Sheets) -> Iterator[Fault]:
    """Doubt that a belt changed cars."""
    belt, car = sheets.runs["belt"], sheets.runs["car"]
    rows = sheets.order[(belt.known & car.known)[sheets.order]]
    by_belt = np.argsort(belt.text.code[rows], kind="stable")
    name, on = belt.text.code[rows][by_belt], car.text.code[rows][by_belt]
    moved = 1 + np.flatnonzero((name[1:] == name[:-1]) & (on[1:] != on[:-1]))
    for at in moved[np.argsort(by_belt[moved])]:
        row, before = rows[by_belt[at]], rows[by_belt[at - 1]]
        last = f"belt {belt.typed(row)} last ran on: {car.typed(before)} (line {car.line(before)})"
        yield car.fault(row, f"is another car than {last}", "correct it if the belt did not move", warning=True)


def names_alike(sheets: Sheets) -> Iterator[Fault]:
    """Doubt names that differ only in capitals or blanks, and rare ones that are a letter from a usual one."""
    for sheet in (sheets.belts, sheets.runs):
        for name, cells in sheet.columns.items():
            if cells.place.column.kind == "name" and (sheet is sheets.belts or name != "belt"):
                names = cells.text.distinct
                count = np.bincount(cells.text.code, minlength=len(names)).tolist()
                first: dict[str, int] = {}
                same = [first.setdefault("".join(typed.lower().split()), code) for code, typed in enumerate(names)]
                near = [(code, other, "") for code, other in enumerate(same) if names[code] and other != code]
                for code, other, how in near if name == "belt" else [*near, *_one_letter_off(names, count, same)]:
                    alone = "capitals" if names[other].lower() == names[code].lower() else "blanks or capitals"
                    usual = f"{shown(names[other])} ({counted(count[other], 'row')})"
                    wrong = f"{how} {usual}" if how else f"differs from {usual} only in {alone}"
                    wrong += f", and stands on {counted(count[code], 'row')}"
                    row = np.flatnonzero(cells.text.code == code)[0]
                    yield cells.fault(row, wrong, "write one name in one way", warning=True)


def _one_letter_off(names: Sequence[str], count: Sequence[int], same: Sequence[int]) -> Iterator[tuple[int, int, str]]:
    """Give the places of rare names, each with that of a usual one which a letter less or another makes of it."""
    near: dict[str, list[int]] = {}
    for code, name in enumerate(names):
        # Numbered names ("March 1", "March 2") differ by a digit on purpose, short ones ("A", "B") by their letter.
        if len(name) >= SHORTEST_MISSPELT:
            plain = name.lower()
            for key in {plain, *(plain[:at] + plain[at + 1 :] for at in range(len(plain)) if not plain[at].isdigit())}:
                near.setdefault(key, []).append(code)
    said: set[int] = set()
    for rare, often in sorted({pair for codes in near.values() for pair in product(codes, codes)}):
        usual = count[rare] <= MOST_SLIPS and count[often] >= 5 * count[rare]
        if usual and same[rare] != same[often] and rare not in said:
            said.add(rare)
            yield rare, often, "is one letter from"


def run_numbers_follow(sheets: Sheets) -> Iterator[Fault]:
    """Doubt a jump in the numbers of the runs: rows may be gone."""
    run = sheets.runs["run"]
    numbers = run.value[sheets.order]
    if len(numbers) < max(FEWEST_FOR_USUAL, len(sheets.runs)) or not sheets.runs.table.complete:
        return  # A number that is wrong, missing or there twice is a fault already, and leaves its own gap.
    steps = np.diff(numbers)
    usual = float(np.median(steps))
    far = np.flatnonzero(steps > (FAR_STEP * usual if usual > 1 else 1))
    if len(far):
        row = sheets.order[far[0] + 1]
        missed = int(steps[far].sum()) - len(far) if usual == 1 else 0
        of_all = f"; {counted(missed, 'number')} left out in {counted(len(far), 'place')} in all" if missed else ""
        wrong = f"comes after run {run.typed(sheets.order[far[0]])}{of_all}"
        yield run.fault(row, wrong, "put the rows back if some are gone", warning=True)


def belts_run(sheets: Sheets) -> Iterator[Fault]:
    """Doubt belts without a run that have been fitted, or that have belts with runs below them: runs may be gone.

    A belt that a plan drew and nobody has fitted waits for its turn, or its line was struck out.
    """
    ran = set(sheets.belt_row.tolist()) - {-1}  # a run whose belt cannot be read
    last = max(ran, default=-1)
    belt, fitted = sheets.belts["belt"], sheets.belts["first_day"].known
    if sheets.unknown_belt.any() or len(sheets.runs) < FEWEST_FOR_USUAL:
        fitted = np.zeros(len(fitted), dtype=np.bool_)  # a misspelt belt is a fault already
    waits = sheets.belts["trial_idler"].known
    doubted = belt.known & (fitted | ((np.arange(len(belt.value)) < last) & ~waits))
    idle = [row for row in np.flatnonzero(doubted).tolist() if row not in ran]
    if ran and idle and sheets.runs.table.complete:
        of_all = f"; {counted(len(idle), 'belt')} without a run in all" if len(idle) > 1 else ""
        wrong = f"has no run, though {'belts below it have' if idle[0] < last else 'it has been fitted'}{of_all}"
        yield belt.fault(idle[0], wrong, "put the runs back if some are gone", warning=True)


def numbers_near(sheets: Sheets) -> Iterator[Fault]:
    """Doubt the few numbers of a column that stand far from all its others."""
    for cells in (*sheets.belts.columns.values(), *sheets.runs.columns.values()):
        known = cells.value[cells.known]
        if not cells.place.column.is_number or cells.place.column.name in OWN_RULE or len(known) < FEWEST_FOR_USUAL:
            continue
        low, usual, high = np.quantile(known, (0.25, 0.5, 0.75))
        off = np.abs(cells.value - usual)
        apart = max(FAR_RANGES * (high - low), abs(usual) / 2)
        # A digit too few or too many is far, too, where the column itself is wide.
        slip = (cells.value > 0) & (cells.place.column.low >= 0) & (usual > 0)
        slip &= (cells.value * DIGIT_SLIP < usual) | (cells.value > DIGIT_SLIP * usual)
        rows = np.flatnonzero(cells.known & ((off > apart) | slip))
        # More than a few are no slips but a group of their own.
        if apart > 0 and 0 < len(rows) <= max(MOST_SLIPS, 0.02 * len(known)):
            also = f", as {'is' if len(rows) == 2 else 'are'} {len(rows) - 1} more" if len(rows) > 1 else ""
            middle = cells.typed(np.argmin(np.where(cells.known, off, np.inf)))
            wrong = f"is far from the rest of its column{also}: half of it is near {middle}"
            yield cells.fault(rows[0], wrong, "correct it if it is a slip", warning=True)


def first_day_first(sheets: Sheets) -> Iterator[Fault]:
    """Doubt a belt's first day that is after its first run."""
    first, day = sheets.belts["first_day"], sheets.runs["day"]
    rows = sheets.order[day.known[sheets.order] & (sheets.belt_row[sheets.order] >= 0)]
    belts, at = np.unique(sheets.belt_row[rows], return_index=True)
    for belt, row in zip(belts, rows[at], strict=True):
        if first.known[belt] and first.value[belt] > day.value[row]:
            run = f"{day.value[row]} ({day.table.file}, line {day.line(row)})"
            wrong = f"is after the belt's first run in the log, on {run}"
            yield first.fault(belt, wrong, "correct the one that is wrong", warning=True)


def runs_before_likely(sheets: Sheets) -> Iterator[Fault]:
    """Doubt a great number of runs before the log, and say what an unknown one costs."""
    before = sheets.belts["runs_before"]
    for row in np.flatnonzero(before.asked):
        name = sheets.belts["belt"].typed(row)
        belt = "this belt" if name is None else f"belt {name}"
        wrong = f"keeps {belt} out of every answer that needs its age"
        yield before.fault(row, wrong, "write the number if it can still be found", warning=True)
    for row in np.flatnonzero(before.known & (before.value > MANY_RUNS_BEFORE)):
        wrong = f"is more than {MANY_RUNS_BEFORE}, very many for one belt"
        yield before.fault(row, wrong, "correct it if it is a slip", warning=True)


RULES: tuple[Rule, ...] = (
    rows_there,
    example_gone,
    belts_once,
    runs_once,
    days_forward,
    belts_known,
    ended_once,
    endings_explained,
    ending_agrees,
    one_car,
    names_alike,
    first_day_first,
    runs_before_likely,
    run_numbers_follow,
    belts_run,
    numbers_near,
)
