"""On which line of a TOML text each table and key stands, so that a fault can point at it.

`tomllib` gives values without places. This reads just enough of the form to find them: headers, keys, and where strings
and lists run over several lines. The text has been read by `tomllib` before, so it is sound.
"""

from __future__ import annotations

import re

__all__ = ["Place", "key_lines"]

Place = tuple[str | int, ...]
"""("belt", "pitch_mm"), or ("pulley", 2, "x_mm") for the second [[pulley]]; a table's own line has no key."""

_PART = r"\s*(?:[A-Za-z0-9_-]+|\"(?:[^\"\\]|\\.)*\"|'[^']*')\s*"
_NAME = rf"{_PART}(?:\.{_PART})*"
_TABLE = re.compile(rf"\s*\[({_NAME})\]")
_ENTRY = re.compile(rf"\s*\[\[({_NAME})\]\]")
_KEY = re.compile(rf"({_NAME})=(.*)", re.DOTALL)
_TOKEN = re.compile(r'"""|\'\'\'|"(?:[^"\\\n]|\\.)*"|\'[^\'\n]*\'|#[^\n]*|[\[\]{}]')


def key_lines(text: str) -> dict[Place, int]:
    """Line of every table and key, counted from 1."""
    found: dict[Place, int] = {}
    table: Place = ()
    seen: dict[Place, int] = {}
    open_string, depth = "", 0
    for number, line in enumerate(text.splitlines(), 1):
        if open_string or depth:
            open_string, depth = _after(line, open_string, depth)
            continue
        if entry := _ENTRY.match(line):
            name = _names(entry[1])
            seen[name] = seen.get(name, 0) + 1
            table = (*name, seen[name])
            found[table] = number
        elif header := _TABLE.match(line):
            table = _names(header[1])
            found.setdefault(table, number)
        elif key := _KEY.match(line):
            found.setdefault((*table, *_names(key[1])), number)
            open_string, depth = _after(key[2], "", 0)
    return found


def _names(dotted: str) -> Place:
    return tuple(part.strip().strip("\"'") for part in re.findall(_PART, dotted))


def _after(rest: str, open_string: str, depth: int) -> tuple[str, int]:
    """Tell whether a long string or a bracket is still open after the rest of a line."""
    at = 0
    while True:
        if open_string:
            end = rest.find(open_string, at)
            if end < 0:
                return open_string, depth
            at, open_string = end + 3, ""
        token = _TOKEN.search(rest, at)
        if token is None:
            return "", depth
        at = token.end()
        if token[0] in ('"""', "'''"):
            open_string = token[0]
        elif token[0] in "[{":
            depth += 1
        elif token[0] in "]}":
            depth -= 1
