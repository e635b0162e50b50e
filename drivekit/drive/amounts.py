"""Amounts: the units and keys of a drive file, how amounts are said, and the checks every calculator shares.

A class of `layout.py` annotates each of its fields with a `Key`; `keys_of` reads off it what may stand in the file.
"""

from __future__ import annotations

import math
from dataclasses import MISSING, dataclass, fields, replace
from types import NoneType
from typing import Any, Literal, NamedTuple, get_args, get_origin, get_type_hints

from drivekit.units import INCH_POUND

__all__ = [
    "UNITS",
    "Key",
    "Section",
    "Unit",
    "finite",
    "keys_of",
    "positive",
    "sections_of",
]

Kind = Literal["text", "word", "flag", "whole", "number", "numbers", "thread"]
KINDS: dict[Any, Kind] = {str: "text", bool: "flag", int: "whole", float: "number", tuple: "numbers"}


class Unit(NamedTuple):
    """A unit of the file: its ending in the layout, the factor to it, and what it has an inch-pound twin by."""

    layout: str
    factor: float
    written: str = ""


UNITS: dict[str, Unit] = {
    "": Unit("", 1.0),
    "mm": Unit("m", 1e-3, "mm"),
    "n": Unit("n", 1.0, "N"),
    "n_per_mm": Unit("n_per_m", 1e3, "N/mm"),
    "n_m2": Unit("n_m2", 1.0),
    "n_m": Unit("n_m", 1.0, "N m"),
    "g_per_m": Unit("kg_per_m", 1e-3, "g/m"),
    "g": Unit("kg", 1e-3, "g"),
    "l": Unit("m3", 1e-3, "L"),
    "kpa": Unit("pa", 1e3, "kPa"),
    "kw": Unit("w", 1e3, "kW"),
    "rpm": Unit("rpm", 1.0),
    "rpm_per_s": Unit("rpm_per_s", 1.0),
    "kg_m2": Unit("kg_m2", 1.0),
    "s": Unit("s", 1.0),
    # every temperature here is a difference: how much warmer hot is than cold
    "c": Unit("c", 1.0, "°C"),
    "ppm_per_c": Unit("per_c", 1e-6),
    "deg": Unit("rad", 0.017453292519943295),
    "percent": Unit("", 0.01),
    "gpa": Unit("pa", 1e9),
    "mpa": Unit("pa", 1e6, "MPa"),
}
"""By the ending of a key's name."""


@dataclass(frozen=True, slots=True)
class Key:
    """One key of a section: what it is, as messages say it, its unit (a key of `UNITS`) and the limits in it.

    The rest is read off the field that it annotates, but for the kind thread ("3/8-24", "M10x1.25"): `kind` (a word is
    one of `levels`, numbers are a list), the name in the layout, where units are SI, and whether the section must have
    it.
    """

    meaning: str
    unit: str = ""
    low: float = 0
    high: float = 0
    kind: Kind = "number"
    field: str = ""
    levels: tuple[str, ...] = ()
    required: bool = True

    @property
    def stem(self) -> str:
        """Name without its unit."""
        return self.field.removesuffix(f"_{UNITS[self.unit].layout}")

    @property
    def name(self) -> str:
        """Name in the file."""
        return f"{self.stem}_{self.unit}" if self.unit else self.stem

    @property
    def factors(self) -> dict[str, float]:
        """Every name the file may use for it, with the factor from there to `unit`."""
        twin = INCH_POUND.get(UNITS[self.unit].written)
        other = {} if twin is None else {f"{self.stem}{twin.twin_ending}": twin.factor / twin.divisor}
        return {self.name: 1.0} | other


@dataclass(frozen=True, slots=True)
class Section:
    """A table of the file; `many` where it comes many times (``[[pulley]]``). What follows `name` is read off."""

    meaning: str
    name: str = ""
    field: str = ""
    build: type[Any] = NoneType
    many: bool = False
    required: bool = True
    keys: tuple[Key, ...] = ()


def keys_of(build: type[Any]) -> tuple[Key, ...]:
    """Return the keys that the fields of a class stand for, in their order."""
    keys = []
    for field, required, kind, key in _annotated(build, Key):
        levels: tuple[str, ...] = get_args(kind) if get_origin(kind) is Literal else ()
        found = key.kind if key.kind == "thread" else "word" if levels else KINDS[get_origin(kind) or kind]
        keys.append(replace(key, field=field, kind=found, levels=levels, required=required))
    return tuple(keys)


def sections_of(build: type[Any]) -> tuple[Section, ...]:
    """Return the sections that the fields of a class stand for; a field of many values is one that comes many times."""
    found = []
    for field, required, kind, section in _annotated(build, Section):
        many = get_origin(kind) is tuple
        one = get_args(kind)[0] if many else kind
        read = {"name": section.name or field, "field": field, "build": one, "many": many, "required": required}
        found.append(replace(section, **read, keys=keys_of(one)))
    return tuple(found)


def _annotated(build: type[Any], wanted: type[Any]) -> list[tuple[str, bool, Any, Any]]:
    """Return each field that is annotated so: its name, whether it is required, its type but for None, and that."""
    hints = get_type_hints(build, include_extras=True)
    found = []
    for field in fields(build):
        kind, note = get_args(hints[field.name])
        if isinstance(note, wanted):
            kinds = [one for one in get_args(kind) if one is not NoneType] if NoneType in get_args(kind) else [kind]
            found.append((field.name, field.default is MISSING, kinds[0], note))
    return found


def finite(value: float, what: str) -> float:
    """Give a number back, or say that it is none.

    Raises
    ------
    ValueError
        If ``value`` is not finite.
    """
    if not math.isfinite(value):
        raise ValueError(f"Nothing can be computed without {what}: give a number.")
    return float(value)


def positive(value: float, what: str) -> float:
    """Give a number back, or say that it must be more than 0.

    Raises
    ------
    ValueError
        If ``value`` is not a number above 0.
    """
    if not finite(value, what) > 0:
        raise ValueError(f"{what[0].upper()}{what[1:]} must be more than 0, not {value:g}.")
    return float(value)
