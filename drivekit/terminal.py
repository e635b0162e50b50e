"""How a person is spoken to at a terminal: what is asked of a run, line by line, and what is said while work goes on.

Results go to standard output; what is said here goes to standard error.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from drivekit.faults import Fault

if TYPE_CHECKING:
    from drivekit.log.added import OpenLog, Question

__all__ = ["HOW_TO_ANSWER", "asked_for", "progress", "say", "say_faults", "say_warnings"]

FIRST_WARNINGS = 3
HOW_TO_ANSWER = "Enter takes what stands in brackets; - leaves it blank; Ctrl-C stops, and nothing is written."


def asked_for(log: OpenLog, ask: Callable[[str], str]) -> tuple[dict[str, str], dict[str, str] | None]:
    """Ask for a run, and for its belt where that is new: an answer that has a fault is asked for again.

    `ask` takes a question and gives what was typed.
    """
    run: dict[str, str] = {}
    belt: dict[str, str] | None = None
    told: set[Fault] = set()

    def wrong() -> bool:
        """Say what is wrong with the answers so far, and once what is unlikely in them; whether any is wrong."""
        answered = {("runs", name) for name in run} | {("belts", name) for name in belt or ()}
        here = [fault for fault in log.wrong(run, belt) if fault not in told and log.place_of(fault) in answered]
        for fault in here:
            say(f"  {fault.plainly}")
        told.update(fault for fault in here if fault.warning)
        return not all(fault.warning for fault in here)

    for question in log.of_run(run):
        name = question.place.column.name
        while name not in run or wrong():
            run[name] = _answer(question, ask)
            if name != "belt":
                continue
            belt = {} if log.is_new(run[name]) else None
            if belt is not None and not ask(f"Is {run[name]} a new belt? (yes, no) ").strip().lower().startswith("y"):
                del run[name]
            elif belt is not None:
                for about in log.of_belt(run):
                    while about.place.column.name not in belt or wrong():
                        belt[about.place.column.name] = _answer(about, ask)
    return run, belt


def _answer(question: Question, ask: Callable[[str], str]) -> str:
    from drivekit.log.added import typed

    few = question.known and (question.place.column.levels or len(question.known) < 9)
    words = f" ({', '.join(question.known)})" if few else ""
    offered = f" [{question.offered}]" if question.offered else ""
    answer = typed(ask(f"{question.label}{words}{offered}: "))
    return "" if answer == "-" else answer or question.offered


def say(sentence: str) -> None:
    """Say a sentence beside the results."""
    print(sentence, file=sys.stderr)


def say_faults(faults: Iterable[Fault]) -> None:
    """Say every fault on a line of its own."""
    for fault in faults:
        say(str(fault))


def say_warnings(warnings: Iterable[Fault]) -> None:
    """Say the first of each kind of warning, for the answers would be lost under a thousand alike."""
    alike = Counter[tuple[str, str, str]]()
    for warning in warnings:
        kind = warning.file, warning.column, warning.right
        alike[kind] += 1
        if alike[kind] <= FIRST_WARNINGS:
            say(str(warning))
    for (file, column, _), count in alike.items():
        if count > FIRST_WARNINGS:
            place = ":".join(filter(None, (file, column)))
            say(f"{place}: warning: {count - FIRST_WARNINGS:,} more like these; drivekit check says every one")


@contextmanager
def progress() -> Iterator[Callable[[str], None]]:
    """Say on one line of a terminal what is being done, each step over the one before; nothing in a pipe."""

    def shown(line: str, end: str = "") -> None:
        if sys.stderr.isatty():
            print(f"\r{line:<30}", end=end, file=sys.stderr, flush=True)

    try:
        yield lambda step: shown(f"{step} ...")
    finally:
        shown("", end="\r")
