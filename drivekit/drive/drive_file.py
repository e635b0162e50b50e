"""A drive file in, a layout out; or every fault in it, each with its line, in one go.

Keys that are sound on their own (`key_checks.py`) must agree with each other, and a belt must be able to run there.
Each rule speaks only of values that are sound on their own, so that one slip makes one fault.
"""

from __future__ import annotations

import os
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

from drivekit.drive.fitting import fitting_belts, refuse_misfit, seat, stiffness_by_turns
from drivekit.drive.key_checks import SECTIONS, Place, Sheet, Values, checked, key_lines
from drivekit.drive.layout import Layout, pitch_diameter
from drivekit.drive.path import Impossible, belt_path
from drivekit.faults import Faulty, Unusable
from drivekit.toml_file import toml_bytes, toml_content
from drivekit.units import refused_in

__all__ = ["layout_from_text", "read_drive"]

OVERDRIVE_ALLOWED = 0.005
STIFFNESS_N = (1e3, 1e8)


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


def layout_from_text(text: str, *, file: str = "drive.toml") -> Layout:
    """Read a drive from the text of a drive file; raises as `read_drive`."""
    try:
        tables = toml_content(file, text, "")
    except Faulty as faulty:
        (fault,) = faulty.faults
        line = "" if fault.line is None else f" (line {fault.line})"
        raise Unusable(f"{file} is no drive file: it {fault.wrong}{line}.") from None
    sheet = checked(file, tables, key_lines(text))
    _agree(sheet)
    if sheet.faults:
        raise Faulty(sheet.faults)
    layout = _stretching(sheet, _layout(sheet))
    _refuse_impossible(sheet, layout)
    return layout


def _text(path: Path) -> str:
    if os.path.isdir(path):  # unlike the path's own question, it raises nothing where a folder may not be entered
        raise Unusable(f"{path} is no drive file: it is a folder.")
    try:
        return toml_bytes(path, str(path), f"There is no drive file {path}.").decode("utf-8")
    except UnicodeDecodeError:
        raise Unusable(f"{path.name} is no drive file: it is not text in UTF-8.") from None


def _layout(sheet: Sheet) -> Layout:
    drive, *others = SECTIONS
    fields: Values = {"units": "inch-pound" if sheet.units.inch_pound else "si", **sheet.tables[drive.name][0]}
    for section in others:
        built = tuple(section.build(**table) for table in sheet.tables[section.name])
        fields |= {section.field: built} if section.many else {section.field: built[0]} if built else {}
    return Layout(**fields)


def _stretching(sheet: Sheet, layout: Layout) -> Layout:
    """Give the belt the stiffness that two readings of its tension tell, where the file has those in its place."""
    fields = ("loose_n", "tight_n", "tighter_turns")
    read = [sheet.readings[("belt", field)] for field in fields if ("belt", field) in sheet.readings]
    if not read:
        return layout
    try:
        stiffness = stiffness_by_turns(layout, *read)
        if not STIFFNESS_N[0] <= stiffness <= STIFFNESS_N[1]:
            raise Impossible(f"they give a stiffness of {layout.spoken.force(stiffness)}, which no belt has")
    except ValueError as impossible:
        right = "read again, or give stiffness_n"
        wrong = f"cannot be: {refused_in(layout.spoken, impossible)}"
        sheet.disagree(("belt",), fields[-1], wrong, right)
        raise Faulty(sheet.faults) from None
    return replace(layout, belt=replace(layout.belt, stiffness_n=stiffness))


def _refuse_impossible(sheet: Sheet, layout: Layout) -> None:
    """Note as a fault that no belt can run around the pulleys, or not this one."""
    try:
        if layout.sliding is None:
            refuse_misfit(layout, belt_path(layout))
        else:
            seat(layout, fitting_belts(layout, tension_n=layout.tension.set_n))
    except Impossible as impossible:
        names = [pulley.name for pulley in layout.pulleys]
        place: Place = ("belt", "teeth")
        right = "measure centres and belt again, take a belt that fits, or give the idler its slide"
        if impossible.pulley in names:
            place = ("pulley", names.index(impossible.pulley) + 1)
            right = "move or resize it, or change the order of the pulleys"
        sheet.fault(place, None, impossible.said(layout.spoken), right)
        raise Faulty(sheet.faults) from None


def _agree(sheet: Sheet) -> None:
    """Note every disagreement between keys."""
    _pulleys(sheet)
    _slide(sheet)
    _speeds(sheet)
    _growth(sheet)
    _idler(sheet)
    snout = sheet.one("snout") or {}
    for field, other in (("dial_m", "dial_pull_n"), ("dial_pull_n", "dial_m")):
        if field in snout and other not in snout:
            sheet.disagree(("snout",), other, "is missing", "a dial's reading and the pull at it go together")
        elif field in snout and "stiffness_n_per_m" in snout:
            sheet.disagree(("snout",), field, "says again what the stiffness says", "keep the stiffness or the dial")
    belt = sheet.one("belt") or {}
    tip, pitch = belt.get("tooth_tip_m"), belt.get("pitch_m")
    if tip is not None and pitch is not None and tip > pitch:
        right = f"it is at most {sheet.units.long(pitch, 2)}"
        sheet.disagree(("belt",), "tooth_tip_m", "is longer than the pitch", right)


def _pulleys(sheet: Sheet) -> None:
    pulleys = sheet.tables["pulley"]
    seen: dict[str, int] = {}
    for i, pulley in enumerate(pulleys, 1):
        name = pulley.get("name")
        if name in seen:
            wrong = f"is the name of pulley {seen[name]} too"
            sheet.disagree(("pulley", i), "name", wrong, "give each pulley its own")
        elif name is not None:
            seen[name] = i
        _size(sheet, ("pulley", i), pulley)
        _contact(sheet, ("pulley", i), pulley)
    if not pulleys:
        return
    for role in ("crank", "blower"):
        having = [i for i, pulley in enumerate(pulleys, 1) if pulley.get("role") == role]
        if not having and all(pulley.get("role") for pulley in pulleys):
            sheet.fault(("pulley",), None, f"none has the role {role}", "one pulley drives (crank), one takes (blower)")
        for i in having[1:]:
            sheet.fault(
                ("pulley", i, "role"), role, f"is the role of pulley {having[0]} too", f"one pulley is the {role}"
            )
    for i in [i for i, pulley in enumerate(pulleys, 1) if pulley.get("mount") == "slide"][1:]:
        sheet.fault(
            ("pulley", i, "mount"), "slide", "is the second pulley on the slide", "one pulley moves, others fixed"
        )


def _size(sheet: Sheet, place: Place, pulley: Values) -> None:
    face = pulley.get("face")
    sizes = {"teeth": "teeth", "pitch_diameter_m": "pitch_diameter_mm", "diameter_m": "diameter_mm"}
    given = [field for field in sizes if field in pulley]
    fits = {"toothed": ("teeth", "pitch_diameter_m"), "smooth": ("diameter_m", "pitch_diameter_m")}.get(
        face or "", given
    )
    allowed = " or ".join(sizes[field] for field in fits)
    for field in given:
        if field not in fits:
            sheet.disagree(place, field, f"does not go with a {face} pulley", f"a {face} one has {allowed}")
    if len(given) > 1 and all(field in fits for field in given):
        both = " and ".join(sizes[field] for field in given)
        sheet.disagree(place, given[1], f"is a second size ({both})", "keep one of the two")
    if not given and face is not None:
        sheet.disagree(place, fits[0], "is missing", f"a {face} pulley has {allowed}")


def _contact(sheet: Sheet, place: Place, pulley: Values) -> None:
    role, face, side = (pulley.get(key) for key in ("role", "face", "side"))
    if role in ("crank", "blower"):
        if face == "smooth":
            sheet.disagree(place, "face", f"cannot be: teeth drive the {role}", 'write "toothed"')
        if side == "outside":
            sheet.disagree(place, "side", f"cannot be: the {role} meshes with the belt's teeth", 'write "inside"')
        if pulley.get("mount") == "slide":
            sheet.disagree(place, "mount", f"cannot be: the {role} does not move", "an idler is on the slide")
    elif face == "toothed" and side == "outside":
        sheet.disagree(place, "face", "has no teeth to mesh with outside the loop", 'write "smooth"')


def _slide(sheet: Sheet) -> None:
    slide = sheet.one("slide")
    moves = [i for i, pulley in enumerate(sheet.tables["pulley"], 1) if pulley.get("mount") == "slide"]
    if moves and slide is None and ("slide",) not in sheet.lines:
        sheet.disagree(("pulley", moves[0]), "mount", "has no slide to be on", "add [slide] with its direction")
    if slide is None:
        return
    if not moves and sheet.tables["pulley"]:
        sheet.fault(("slide",), None, "carries no pulley", 'give the idler mount = "slide", or leave the section out')
    low, high = slide.get("least_m"), slide.get("most_m")
    if low is not None and high is not None and not low < high:
        wrong = f"is not beyond {sheet.key(('slide',), 'least_m')}"
        sheet.disagree(("slide",), "most_m", wrong, f"it is more than {sheet.units.long(low)}")


def _speeds(sheet: Sheet) -> None:
    engine, blower = sheet.one("engine") or {}, sheet.one("blower") or {}
    full, idle = engine.get("crank_rpm"), engine.get("idle_rpm")
    if full is not None and idle is not None and not idle < full:
        sheet.disagree(("engine",), "idle_rpm", "is not below crank_rpm", f"idle is slower than {full:g} rpm")
    speeds, powers = blower.get("speed_rpm"), blower.get("power_w")
    if speeds is not None:
        if any(not low < high for low, high in pairwise(speeds)):
            sheet.disagree(("blower",), "speed_rpm", "does not rise all along", "write the speeds from low to high")
        if powers is not None and len(powers) != len(speeds):
            wrong = f"has {len(powers)} values for {len(speeds)} speeds"
            sheet.disagree(("blower",), "power_w", wrong, "write one power for each speed")
    if ("snap_rpm_per_s" in engine) is not ("inertia_kg_m2" in blower):
        table, key = ("engine", "snap_rpm_per_s") if "inertia_kg_m2" in blower else ("blower", "inertia_kg_m2")
        sheet.disagree((table,), key, "is missing", "a snapped throttle's pull needs both or neither")
    ratio = _ratio(sheet)
    if ratio is None or full is None:
        return
    if speeds is not None and full * ratio > max(speeds) * (1 + 1e-9):
        wrong = f"ends below the blower's full-load speed of {full * ratio:,.0f} rpm"
        sheet.disagree(("blower",), "speed_rpm", wrong, "carry the curve at least that far")
    overdrive = engine.get("overdrive")
    if overdrive is not None and abs(overdrive - (ratio - 1)) > OVERDRIVE_ALLOWED:
        right = f"crank and blower pulley give {100 * (ratio - 1):.1f} percent"
        sheet.disagree(("engine",), "overdrive", "does not agree with the pulleys", right)


def _ratio(sheet: Sheet) -> float | None:
    """Blower speed over crank speed, None where a pulley's size is not sound."""
    pitch, radii = (sheet.one("belt") or {}).get("pitch_m"), {}
    for pulley in sheet.tables["pulley"]:
        teeth, diameter = pulley.get("teeth"), pulley.get("pitch_diameter_m")
        if diameter is None and teeth is not None and pitch is not None:
            diameter = pitch_diameter(teeth, pitch)
        if diameter is not None and pulley.get("role") is not None:
            radii[pulley["role"]] = diameter / 2
    return radii["crank"] / radii["blower"] if "crank" in radii and "blower" in radii else None


def _growth(sheet: Sheet) -> None:
    tension = sheet.one("tension") or {}
    low, high = tension.get("growth_low_m"), tension.get("growth_high_m")
    if low is not None and high is not None and low > high:
        wrong = f"is below {sheet.key(('tension',), 'growth_low_m')}"
        sheet.disagree(("tension",), "growth_high_m", wrong, f"it is at least {sheet.units.long(low, 2)}")
    for i, part in enumerate(sheet.tables["height"], 1):
        if ("material" in part) is ("expansion_per_c" in part):
            wrong = "stands beside expansion_ppm_per_c" if "material" in part else "is missing"
            right = "keep one of the two" if "material" in part else "add material or expansion_ppm_per_c"
            sheet.disagree(("height", i), "material", wrong, right)


def _idler(sheet: Sheet) -> None:
    idler = sheet.one("idler")
    if idler is None or "support" not in idler:
        return
    three = idler["support"] == "three-point"
    for field in ("grip_m", "outboard_m"):
        if (field in idler) is not three:
            wrong = "is missing" if three else "stands beside a single support"
            right = "a pin held at three points needs it" if three else "leave it out: only three-point asks for it"
            sheet.disagree(("idler",), field, wrong, right)
    if not three:
        return
    overhang, outboard = idler.get("overhang_m"), idler.get("outboard_m")
    if overhang is not None and outboard is not None and not overhang < outboard:
        right = f"the belt runs inside the outboard plate, so less than {sheet.units.long(outboard)}"
        wrong = f"is not within {sheet.key(('idler',), 'outboard_m')}"
        sheet.disagree(("idler",), "overhang_m", wrong, right)
