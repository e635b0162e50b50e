"""A drive file in, a layout out; or every fault in it, each with its line, in one go."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

from drivekit.drive.checking import Sheet, checked
from drivekit.drive.fitting import fit
from drivekit.drive.layout import (
    Adjusters,
    Belt,
    Blower,
    Bracket,
    Clamp,
    Engine,
    Height,
    Idler,
    JackScrews,
    Layout,
    Manifold,
    Pulley,
    Slide,
    Spacer,
    StackPart,
    Tension,
)
from drivekit.drive.lines import Place, key_lines
from drivekit.drive.path import Impossible, belt_path
from drivekit.drive.rules import agree
from drivekit.faults import Fault, Faulty, Unusable, in_order

__all__ = ["check_drive", "layout_from_text", "read_drive"]

ONE: dict[str, Callable[..., object]] = {
    "belt": Belt,
    "slide": Slide,
    "engine": Engine,
    "blower": Blower,
    "tension": Tension,
    "idler": Idler,
    "bracket": Bracket,
    "adjusters": Adjusters,
    "jack_screws": JackScrews,
    "manifold": Manifold,
    "clamp": Clamp,
}
MANY: dict[str, tuple[str, Callable[..., object]]] = {
    "pulley": ("pulleys", Pulley),
    "height": ("heights", Height),
    "stack": ("stack", StackPart),
    "spacer": ("spacers", Spacer),
}


def read_drive(path: str | Path) -> Layout:
    """Read a drive file.

    Returns
    -------
    Layout
        The drive as written, the idler at travel 0.

    Raises
    ------
    Unusable
        If there is no such file, or it is not TOML.
    Faulty
        If its content has faults; all of them.
    """
    return layout_from_text(_text(Path(path)), file=Path(path).name)


def check_drive(path: str | Path) -> tuple[Fault, ...]:
    """Return every fault of a drive file, none for a sound one; `Unusable` as `read_drive`."""
    try:
        read_drive(path)
    except Faulty as faulty:
        return faulty.faults
    return ()


def layout_from_text(text: str, *, file: str = "drive.toml") -> Layout:
    """Read a drive from the text of a drive file; raises as `read_drive`."""
    try:
        tables = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise Unusable(f"{file} is no drive file: it is not TOML ({str(error)[:1].lower()}{str(error)[1:]}).") from None
    sheet = checked(file, tables, key_lines(text))
    agree(sheet)
    if sheet.faults:
        raise Faulty(in_order(sheet.faults))
    layout = _layout(sheet)
    _refuse_impossible(sheet, layout)
    return layout


def _text(path: Path) -> str:
    if not path.exists():
        raise Unusable(f"There is no drive file {path}.")
    if not path.is_file():
        raise Unusable(f"{path} is no drive file: it is a folder.")
    try:
        return path.read_text(encoding="utf-8")
    except UnicodeDecodeError:
        raise Unusable(f"{path.name} is no drive file: it is not text in UTF-8.") from None
    except OSError as error:
        raise Unusable(f"{path.name} cannot be read: {error.strerror}.") from None


def _layout(sheet: Sheet) -> Layout:
    fields: dict[str, Any] = dict(sheet.one("drive") or {})
    for name, build in ONE.items():
        table = sheet.one(name)
        fields[name] = None if table is None else build(**table)
    for section, (name, build) in MANY.items():
        fields[name] = tuple(build(**table) for table in sheet.tables[section])
    return Layout(**fields)


def _refuse_impossible(sheet: Sheet, layout: Layout) -> None:
    """Note as a fault that no belt can run around the pulleys, or not this one."""
    try:
        if layout.sliding is None:
            belt_path(layout)
        else:
            fit(layout, tension_n=layout.tension.set_n)
    except Impossible as impossible:
        names = [pulley.name for pulley in layout.pulleys]
        known = impossible.pulley in names
        place: Place = ("pulley", names.index(impossible.pulley) + 1) if known else ("pulley",)
        sheet.fault(place, None, str(impossible), "move or resize it, or change the order of the pulleys")
        raise Faulty(sheet.faults) from None
