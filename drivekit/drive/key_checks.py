"""From the text of a drive file to sound values in SI: every key looked at on its own, every fault collected.

What may stand in the file (kind, range, unit, spelling) follows from the classes of `layout.py`. `tomllib` gives values
without places, so `key_lines` reads just enough of the form to find the line of each table and key: headers, keys, and
where strings and lists run over several lines.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from math import isfinite
from typing import Any

from drivekit.drive.amounts import UNITS, Key, Section, keys_of, sections_of
from drivekit.drive.layout import Layout
from drivekit.drive.measured import WAYS
from drivekit.drive.screws import thread
from drivekit.faults import Fault, nearest, shown
from drivekit.units import Units, refused_in

__all__ = ["SECTIONS", "Place", "Sheet", "Values", "checked", "key_lines", "keys_in"]

Values = dict[str, Any]
Place = tuple[str | int, ...]
"""("belt", "pitch_mm"), or ("pulley", 2, "x_mm") for the second [[pulley]]; a table's own line has no key."""

SECTIONS = (
    Section("what drive this is and which way it turns", "drive", build=Layout, keys=keys_of(Layout)),
    *sections_of(Layout),
)

LONGEST = 200
DRAWN = re.compile(rf"[ -~\u00a0-\u052f\u1e00-\u2027\u2030-\u20bf\u2100-\u22ff]{{1,{LONGEST}}}")
"""What the figures' and the sheets' letters hold: Latin, Greek and Cyrillic with their marks and signs."""

_PART = r"\s*(?:[A-Za-z0-9_-]+|\"(?:[^\"\\]|\\.)*\"|'[^']*')\s*"
_NAME = rf"{_PART}(?:\.{_PART})*"
_TABLE = re.compile(rf"\s*\[({_NAME})\]")
_ENTRY = re.compile(rf"\s*\[\[({_NAME})\]\]")
_KEY = re.compile(rf"({_NAME})=(.*)", re.DOTALL)
_TOKEN = re.compile(r'"""|\'\'\'|"(?:[^"\\\n]|\\.)*"|\'[^\'\n]*\'|#[^\n]*|[\[\]{}]')


@dataclass(slots=True)
class Sheet:
    """A drive file being checked: its tables' sound values, and the faults found so far.

    `tables` holds for each section the list of its tables (one or none, unless it may come many times), each a dict of
    the layout's fields. `typed` holds under a table's place and a field the key and the value as they were written,
    `readings` what was measured in place of a field.
    """

    file: str
    lines: Mapping[Place, int]
    tables: dict[str, list[Values]] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)
    typed: dict[Place, tuple[str, object]] = field(default_factory=dict)
    readings: dict[Place, Any] = field(default_factory=dict)

    def one(self, section: str) -> Values | None:
        """Return the one table of a section, None where it is absent."""
        return next(iter(self.tables.get(section, [])), None)

    @property
    def units(self) -> Units:
        """The units of the answers: those the file asks for, or else those in which the tension is set."""
        key, _ = self.typed.get(("tension", "set_n"), ("", None))
        usual = "inch-pound" if key == "set_lbf" else "si"
        return Units((self.one("drive") or {}).get("units", usual) == "inch-pound")

    def key(self, table: Place, field: str) -> str:
        """Name a field of a table as it was written, or as it would be."""
        section = next(section for section in SECTIONS if section.name == table[0])
        name = next(key.name for key in keys_in(section) if key.field == field)
        return self.typed.get((*table, field), (name, None))[0]

    def fault(self, place: Place, value: object, wrong: str, right: str) -> None:
        """Note a fault at a place; it points at the key's line, or else at its table's."""
        # as a person writes it: belt.pitch_mm, or pulley[2].x_mm for the second pulley
        path = "".join(f"[{part}]" if isinstance(part, int) else f".{part}" for part in place).removeprefix(".")
        line = self.lines.get(place) or self.lines.get(place[:-1]) or self.lines.get((*place, 1))
        self.faults.append(Fault(self.file, line, path, _typed(value), wrong, right))

    def disagree(self, table: Place, field: str, wrong: str, right: str) -> None:
        """Note a fault of a field in a table, under the key and with the value that were written, if any were."""
        _, value = self.typed.get((*table, field), ("", None))
        self.fault((*table, self.key(table, field)), value, wrong, right)


def checked(file: str, tables: Mapping[str, Any], lines: Mapping[Place, int]) -> Sheet:
    """Check every table and key of a drive file on its own."""
    sheet = Sheet(file, lines)
    names = [section.name for section in SECTIONS]
    for name, content in tables.items():
        if name not in names:
            what = "section" if isinstance(content, dict | list) else "key outside a section"
            sheet.fault((name,), None, f"is no {what} of a drive file", nearest(name, names))
    for section in SECTIONS:
        sheet.tables[section.name] = _section(sheet, section, tables.get(section.name))
    for section in SECTIONS:
        for place, table in enumerate(sheet.tables[section.name], 1):
            _measured(sheet, section, (section.name, *([place] if section.many else [])), table)
    return sheet


def keys_in(section: Section) -> tuple[Key, ...]:
    """Return every key that may stand in a section: its own, then readings in place of some."""
    return (*section.keys, *(key for way in WAYS.get(section.name, ()) for key in way.keys))


def _section(sheet: Sheet, section: Section, content: object) -> list[Values]:
    written = f"[[{section.name}]]" if section.many else f"[{section.name}]"
    if content is None:
        if section.required:
            sheet.fault((section.name,), None, "is missing", f"add {written}: {section.meaning}")
        return []
    entries = content if isinstance(content, list) else [content]
    if isinstance(content, list) is not section.many or not all(isinstance(entry, dict) for entry in entries):
        sheet.fault((section.name,), None, "is no such table", f"write it as {written} with its keys below")
        return []
    return [_table(sheet, section, (section.name, *([i] if section.many else [])), t) for i, t in enumerate(entries, 1)]


def _table(sheet: Sheet, section: Section, place: Place, table: Mapping[str, object]) -> Values:
    values: Values = {}
    allowed = {name: key for key in keys_in(section) for name in key.factors}
    for name, value in table.items():
        if name not in allowed:
            common = [key.name for key in keys_in(section)]
            sheet.fault((*place, name), None, f"is no key of {section.name}", nearest(name, common))
            continue
        key = allowed[name]
        sheet.typed.setdefault((*place, key.field), (name, value))
        twin = next((other for other in key.factors if other in table and other != name), None)
        if twin is not None and list(table).index(twin) < list(table).index(name):
            sheet.fault((*place, name), value, f"says again what {twin} says", "keep one of the two")
        else:
            values[key.field] = _value(sheet, (*place, name), key, key.factors[name], value)
    ways = WAYS.get(section.name, ())
    used = [way for way in ways if any(name in table for key in way.keys for name in key.factors)]
    given = {field for way in used for field in way.gives}
    for key in (*section.keys, *(key for way in used for key in way.keys)):
        if key.required and key.field not in given and not any(name in table for name in key.factors):
            instead = (" and ".join(one.name for one in way.keys) for way in ways if key.field in way.gives)
            others = " or ".join((*key.factors, *instead))
            sheet.fault((*place, key.name), None, "is missing", f"add {others}: {key.meaning}")
    for twice in given & values.keys():
        sheet.disagree(place, twice, "follows from what was measured", "keep the value or the readings, not both")
    return values


def _measured(sheet: Sheet, section: Section, place: Place, table: Values) -> None:
    """Put in place of readings what they give; a fault is noted where they cannot be."""
    for way in WAYS.get(section.name, ()):
        given: Values = {}
        try:
            given = dict(zip(way.gives, way.give(sheet.tables, table), strict=True))
        except ValueError as impossible:
            sheet.disagree(place, way.keys[0].field, "cannot be", refused_in(sheet.units, impossible))
        except (KeyError, TypeError):  # not measured so, or what it needs is not sound, which is a fault already
            continue
        for key in section.keys:
            values = given.get(key.field, ())
            for value in values if isinstance(values, tuple) else (values,):
                number, written = value / UNITS[key.unit].factor, UNITS[key.unit].written
                if not key.low <= number <= key.high:
                    three = number, key.low, key.high
                    gives, low, high = (sheet.units.value(one, written) for one in three) if written else three
                    unit = sheet.units.name(written) if written else ""
                    right = f"{key.meaning} lies between {low:.4g} and {high:.4g} {unit}".rstrip()
                    sheet.disagree(place, way.keys[0].field, f"gives {gives:.4g} {unit}, which cannot be", right)
        sheet.readings |= {(*place, key.field): table.pop(key.field, None) for key in way.keys}
        table |= given


def _value(sheet: Sheet, place: Place, key: Key, factor: float, value: object) -> object:
    """Return a value in the layout's unit, or None after its fault was noted."""
    if key.kind == "flag":
        if isinstance(value, bool):
            return value
        sheet.fault(place, value, "is neither true nor false", "write true or false, without quotes")
    elif key.kind in ("text", "word", "thread"):
        return _text(sheet, place, key, value)
    elif key.kind == "numbers":
        if not isinstance(value, list) or len(value) < 2:
            sheet.fault(place, value, "is no list of numbers", "write two or more in brackets, such as [2000, 4000]")
            return None
        numbers = [_number(sheet, place, key, factor, one) for one in value]
        return None if None in numbers else tuple(numbers)
    else:
        return _number(sheet, place, key, factor, value)
    return None


def _text(sheet: Sheet, place: Place, key: Key, value: object) -> str | None:
    if not isinstance(value, str) or not value.strip():
        needs = f"one of {', '.join(key.levels)}" if key.levels else key.meaning
        sheet.fault(place, value, "is no text" if value != "" else "is empty", f"write {needs}, in quotes")
        return None
    if not (value.isprintable() and DRAWN.fullmatch(value)):
        wrong = f"holds a line end, more than {LONGEST} letters, or one that the figures cannot draw"
        right = f"write {key.meaning} in few letters, Latin, Greek or Cyrillic, on one line"
        sheet.fault(place, shown(value), wrong, right)
        return None
    if key.kind == "word" and value not in key.levels:
        sheet.fault(place, value, f"is no {key.stem.replace('_', ' ')}", nearest(value, key.levels))
        return None
    if key.kind == "thread":
        try:
            thread(value)
        except ValueError as error:
            # the sentence opens with the value itself, which the fault says already
            said = str(error).removeprefix(f'"{value}"').lstrip(": ").rstrip(".")
            wrong, _, right = said.partition("; ")
            sheet.fault(place, value, wrong, right or "take one of those")
            return None
    return value


def _number(sheet: Sheet, place: Place, key: Key, factor: float, value: object) -> float | int | None:
    if isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value):
        quoted = isinstance(value, str) and value.strip().replace(".", "", 1).lstrip("+-").isdigit()
        sheet.fault(place, value, "is no number", "leave out the quotes" if quoted else "write a plain number, as 12.5")
        return None
    if key.kind == "whole" and value != int(value):
        sheet.fault(place, value, "is no whole number", f"write {key.meaning} without a fraction")
        return None
    low, high = key.low / factor, key.high / factor
    if not key.low * (1 - 1e-12) - 1e-12 <= value * factor <= key.high * (1 + 1e-12) + 1e-12:
        sheet.fault(place, value, "cannot be", f"{key.meaning} lies between {low:g} and {high:g}")
        return None
    return int(value) if key.kind == "whole" else float(value) * factor * UNITS[key.unit].factor


def _typed(value: object) -> str | None:
    """Write a value as it stands in the file."""
    if value is None or isinstance(value, dict):
        return None
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list):
        return f"[{', '.join(str(_typed(one)) for one in value)}]"
    return str(value)


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
