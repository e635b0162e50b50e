"""A TOML file a person wrote, read without trusting it: one fault or one sentence for what is wrong with the file."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

from drivekit.faults import Fault, Faulty, Unusable

__all__ = ["toml_bytes", "toml_content"]

LARGEST_BYTES = 1_000_000
DEEPEST = 50
MANY_DOTS = re.compile(rf"(?:[\w\"'-]+\s*\.\s*){{{DEEPEST},}}")
MANY_DIGITS = re.compile(r"0[xX][0-9a-fA-F_]{250,}|[0-9_]{300,}")
"""More than any other number can be worked with."""


def toml_bytes(path: Path, full: str, absent: str) -> bytes:
    """Read the file, if it is an ordinary one of a size that a person writes.

    Parameters
    ----------
    path : Path
        The file.
    full : str
        How sentences name it.
    absent : str
        What is said where it is not there.

    Raises
    ------
    Unusable
        If it is not there, no ordinary file, too large, or cannot be read.
    """
    try:
        if path.exists() and not path.is_file() and not path.is_dir():
            raise Unusable(f"{full} is no ordinary file.")
        if path.is_file() and path.stat().st_size > LARGEST_BYTES:
            raise Unusable(f"{full} has more than {LARGEST_BYTES / 1e6:.0f} MB: such a file has a page or two.")
        return path.read_bytes()
    except FileNotFoundError:
        raise Unusable(absent) from None
    except OSError as error:
        raise Unusable(f"{full} cannot be read: {error.strerror}.") from None


def toml_content(name: str, text: str, right: str) -> dict[str, Any]:
    """Parse the text of a file called `name`; `right` says in its fault what lines it should hold.

    Raises
    ------
    Faulty
        With one fault, if it is no TOML, or nested deeper or written longer than anything a person means.
    """
    # Python's own parser takes minutes over keys of thousands of parts, and its integers may outgrow its floats.
    for pattern, wrong in (
        (MANY_DOTS, "holds a key of very many parts"),
        (MANY_DIGITS, "holds a number of hundreds of digits"),
    ):
        if found := pattern.search(text):
            line = text.count("\n", 0, found.start()) + 1
            raise Faulty([Fault(name, line, "", None, wrong, right)])
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise Faulty([Fault(name, None, "", None, "is nested too deep to be read", right)]) from None
    except ValueError as error:
        at = re.search(r"line (\d+)", str(error))
        line = int(at[1]) if at else text.count("\n") + 1
        raise Faulty([Fault(name, line, "", None, "cannot be read as TOML", right)]) from None
