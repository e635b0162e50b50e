"""Workbook 07: which way a tilted pulley sends the belt, and what a season's edge temperatures say."""

from __future__ import annotations

from dataclasses import replace
from math import pi, radians, tau
from typing import Any

import numpy as np

from drivekit.decide.tracking import Tracking
from drivekit.drive.entry import LEANS, PHASES, UNSEEN, Lean, Side, Walk, leaning, reading_words, walk_on
from drivekit.drive.screws import split_move
from drivekit.drive.set_up import SetUp
from drivekit.lab.season_study import Study, Table, Words
from drivekit.show.controls import Control, Drawing, Panel, on_grid
from drivekit.show.phrases import lowered, raised, spoken
from drivekit.show.readings import STEERING, car_picture, cars_fits, sign_picture
from drivekit.units import flats_words

__all__ = [
    "cars_fits",
    "next_turns",
    "reading_guide",
    "readings_controls",
    "readings_words",
    "walk_controls",
    "walk_words",
]

ENDS = ("front", "rear")
SIDES: tuple[Side, ...] = ("front", "even", "rear")
IDLER = {"front idler adjuster": "idler_flats_front", "rear idler adjuster": "idler_flats_rear"}
SNOUT = {"left jack screw": "snout_flats_left", "right jack screw": "snout_flats_right"}
"""The screws, each with the column of its flats."""


def walk_words(found: SetUp) -> Words:
    """Say which way the belt walks with more screw at the front of the idler, and with more at the rear."""
    return Words(tuple(f"More screw at the {end}. {_walk(found, _idler(found), end)}" for end in ENDS))


def walk_controls(found: SetUp) -> Panel:
    """Lay controls under which the sign is drawn anew: pulley, end that stands further, lean, turn and wrap."""
    names = tuple(pulley.name for pulley in found.layout.pulleys)
    controls = {
        "pulley": Control("choice", "Pulley", names, names[_idler(found)]),
        "end": Control("choice", "End that is turned further in", ENDS),
        "lean": Control("choice", "Direction it leans", LEANS),
        "turned_deg": Control("whole", "That direction turned by, degrees", (-90, 90), 0),
        "wrap_percent": Control("whole", "Wrap of the belt on it, % of the drive's", (20, 200), 100),
    }

    def redraw(pulley: str, **way: Any) -> Drawing:
        walked = _walk(found, names.index(pulley), **way)
        return Drawing(sign_picture(walked, pulley, unseen=UNSEEN), (str(walked),))

    return Panel(controls, redraw)


def reading_guide() -> Table:
    """Set what a lean means in each phase of a run, and which screw it asks for."""
    rows = [(when, *(reading_words(phase, side) for side in SIDES)) for phase, (when, _) in PHASES.items()]
    head = ("phase", "leans to the front", "runs even", "leans to the rear")
    return Table((head, rows))


def readings_words(study: Study) -> Words:
    """Say of every car what a flat does, where its belt runs even, what to turn next, and what hides in it."""
    fits, units = cars_fits(study.findings), spoken(study.findings)
    said = [f"{raised(car)}: {fit.said(units)}" for car, fit in fits.items()]
    return Words((*said, STEERING)) if said else _none(study)


def readings_controls(study: Study) -> Panel | Words:
    """Lay out a choice of car and the lean after warm-up that is wanted; its readings and its sentences follow."""
    cars, units = tuple(cars_fits(study.findings)), spoken(study.findings)
    if not cars:
        return _none(study)

    def redraw(car: str, aim: float) -> Drawing:
        fit = cars_fits(study.findings, aim_c=aim / units.apart(1.0, "°C"))[car]
        return Drawing(car_picture(study.findings, car, fit), (fit.said(units),))

    reach = round(units.apart(6.0, "°C"))
    controls = {
        "car": Control("choice", "Car", cars),
        "aim": on_grid(f"Lean wanted after warm-up: front edge less rear, {units.name('°C')}", 0.0, -reach, reach, 0.5),
    }
    return Panel(controls, redraw)


def next_turns(study: Study, *, aim_c: float = 0.0) -> Words:
    """Say for every car which screw to turn, from the flats of its last run, so that none is left loose.

    `aim_c` is the difference after warm-up, front less rear, at which its belt runs even under load; 0 where not known.
    """
    said = []
    for car, fit in cars_fits(study.findings, aim_c=aim_c).items():
        told = lowered(fit.move.said(spoken(study.findings)))
        if fit.move.idler or (fit.move.snout and fit.move.idler is not None):
            try:
                told = _turns(study, car, fit)
            except ValueError as refused:
                told = str(refused)
        said.append(f"{raised(car)}: {told}")
    return Words(said) if said else _none(study)


def _turns(study: Study, car: str, fit: Tracking) -> str:
    """Say which screw goes from where to where, by the flats of the last run in the fit."""
    table, move = study.asked.table, fit.move
    row = np.flatnonzero(table["car"] == car)[fit.used][-1]
    screws = (IDLER if move.idler else {}) | (SNOUT if move.snout else {})
    stood = {screw: round(float(table[name][row])) for screw, name in screws.items()}
    wanted = {screw: at + (move.snout or 0) for screw, at in stood.items()}
    if move.idler:
        front, rear = (stood[screw] for screw in IDLER)
        wanted |= zip(IDLER, split_move((front, rear), move.idler, names=ENDS), strict=True)
    turns = [
        f"the {screw} {flats_words(abs(to - at))} {'in' if to > at else 'out'}, from {at} to {to}"
        for screw, at, to in zip(stood, stood.values(), wanted.values(), strict=True)
        if to != at
    ]
    tension = "; then read the tension again, which a jack screw moves too" if move.snout else ""
    return f"turn {' and '.join(turns)}{tension}."


def _none(study: Study) -> Words:
    reason = study.findings["tracking"].get("reason")  # a car may be called so
    told = reason if isinstance(reason, str) else "no run has both its flats and its edge temperatures"
    return Words((f"Nothing can be told of tracking: {told}.",))


def _idler(found: SetUp) -> int:
    """Find the pulley that is squared: the one on the slide, else the first idler, else the blower."""
    layout = found.layout
    idlers = (place for place, pulley in enumerate(layout.pulleys) if pulley.role == "idler")
    return next(idlers, layout.place("blower")) if layout.sliding is None else layout.sliding


def _walk(
    found: SetUp, pulley: int, end: str, *, lean: Lean = "along the slide", turned_deg: int = 0, wrap_percent: int = 100
) -> Walk:
    """Find which way the belt walks on a pulley, under a share of its own wrap, the belt arriving as it does."""
    towards = leaning(_pushed(found, pulley), lean) + radians(turned_deg)
    arcs = list(found.path.arcs)
    arcs[pulley] = replace(arcs[pulley], wrap_rad=min(arcs[pulley].wrap_rad * (wrap_percent / 100), tau))
    return walk_on(replace(found.path, arcs=tuple(arcs)), pulley, towards if end == "front" else towards + pi)


def _pushed(found: SetUp, pulley: int) -> float:
    """Direction in which a screw pushes a pulley into the belt: its slide, up for the blower, else the arc's middle."""
    layout, arc = found.layout, found.path.arcs[pulley]
    if pulley == layout.sliding and layout.slide is not None:
        tightens = found.path.length_per_move(pulley, layout.slide.direction_rad) > 0
        return layout.slide.direction_rad + (0.0 if tightens else pi)
    if layout.pulleys[pulley].role == "blower":
        return pi / 2
    return arc.starts_rad + arc.turn * arc.wrap_rad / 2
