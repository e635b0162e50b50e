"""What is wrong with what a person handed in, and its one printed form.

A fault says where (file, line, column), what stands there, what is wrong with it and what would be right. Checking
collects every fault before it speaks; the log and the drive files share this record, so that both read alike.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path

__all__ = ["Fault", "Faulty", "Said", "Unusable", "closing", "counted", "in_order", "nearest", "shown", "writing"]

LONGEST_SHOWN = 60


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong, or unlikely, in a file.

    Parameters
    ----------
    file : str
        The file's name; for a sheet of a spreadsheet ``season.xlsx[runs]``.
    line : int or None
        The line in the file, the heading counted as 1; None when the whole file is meant.
    column : str
        The column's (or key's) name as the person wrote it; empty when the whole line or file is meant.
    value : str or None
        What stands there, as typed; None when nothing does.
    wrong, right : str
        What is wrong with it, and what would be right.
    warning : bool
        True for what is unlikely but possible: it is said and stops nothing.
    """

    file: str
    line: int | None
    column: str
    value: str | None
    wrong: str
    right: str
    warning: bool = False

    def __str__(self) -> str:
        line = [] if self.line is None else [str(self.line)]
        place = ":".join([self.file, *line, *([self.column] if self.column else [])])
        subject = "" if self.value is None else f'"{self.value}" '
        said = f"{place}: {'warning' if self.warning else 'fault'}: {subject}{self.wrong}; {self.right}"
        return shown(" ".join(said.splitlines()), None)

    @property
    def plainly(self) -> str:
        """Say it where it is seen which answer is meant."""
        subject = "" if self.value is None else f'"{self.value}" '
        return f"{'Unlikely: ' if self.warning else ''}{subject}{self.wrong}; {self.right}."


class Said(Exception):
    """What a person handed in cannot be used; a notebook shows the words alone, not where in the program they arose."""

    def _render_traceback_(self) -> list[str]:
        return str(self).splitlines()


class Faulty(Said):
    """The content has faults: all of them, in the order of the file.

    Parameters
    ----------
    faults : iterable of Fault
        Faults and warnings; at least one fault.
    """

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = in_order(faults)
        super().__init__("\n".join(map(str, self.faults)))


class Unusable(Said):
    """What was named is not there, or is no log or drive file at all; the message is one plain sentence."""


@contextmanager
def writing(place: str | Path) -> Iterator[None]:
    """Say in a sentence, as `Unusable`, that files in or at a place cannot be written."""
    try:
        yield
    except OSError as trouble:
        name = shown(str(trouble.filename or place), None)
        raise Unusable(f"{name} cannot be written: {trouble.strerror or trouble}") from trouble


def in_order(faults: Iterable[Fault]) -> tuple[Fault, ...]:
    """Sort by file, line and column; what concerns a whole file or line comes first."""
    return tuple(sorted(faults, key=lambda fault: (fault.file, fault.line or 0, fault.column, fault.warning)))


def nearest(word: str, allowed: Sequence[str]) -> str:
    """Offer the nearest allowed word, and the list: ``did you mean toothed? (smooth, toothed)``."""
    close = get_close_matches(word.strip().lower(), allowed, n=1, cutoff=0.5)
    listed = ", ".join(allowed)
    return f"did you mean {close[0]}? ({listed})" if close else f"one of {listed}"


def closing(faults: Sequence[Fault]) -> str:
    """Count faults and warnings for the last line."""
    warnings = sum(fault.warning for fault in faults)
    return f"{counted(len(faults) - warnings, 'fault')}, {counted(warnings, 'warning')}"


def counted(number: int, noun: str) -> str:
    """Say a number of things: ``1 run``, ``2 runs``."""
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def shown(text: str, longest: int | None = LONGEST_SHOWN) -> str:
    """Make a typed text fit to print: what has no picture is spelt out, what is long is cut."""
    visible = "".join(
        character if character.isprintable() else character.encode("unicode_escape").decode("ascii")
        for character in (text if longest is None else text[: longest + 1])
    )
    return visible if longest is None or len(text) <= longest else visible[: longest - 1] + "…"
