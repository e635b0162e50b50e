"""The invented demo seasons: played run by run, and two logs of them, each an open Data Package that says so.

`demo_truth` says what is true of them and what becomes of a belt on a run. A car starts each meeting on one idler and
at one tension aimed for, its crew steers the belt by the last reading, a belt stays on until it ends or a spare takes
its turn. Same seed, same bytes. The description of a log comes from the table of columns and follows the Data Package
and Table Schema standards, version 1 (https://specs.frictionlessdata.io).
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from hashlib import sha256
from itertools import count
from math import exp, hypot, prod
from typing import Any, NamedTuple

from drivekit.log.columns import BELTS, RUNS, Column
from drivekit.log.demo_truth import SEASON_ONE, SEASON_TWO, TRUTH, Cell, Dice, Plan, Truth, after_run, as_read
from drivekit.log.tables import csv_text
from drivekit.span import stretch, string_frequency

__all__ = ["SEASONS", "DemoSeason", "Hidden", "demo_files", "season", "season_files"]

_TYPES = {"whole": "integer", "number": "number", "day": "date"}
LICENCE = {"name": "CC0-1.0", "title": "Creative Commons Zero 1.0"}
LICENCE["path"] = "https://creativecommons.org/publicdomain/zero/1.0/"
SEASONS = (SEASON_ONE, SEASON_TWO)
_ROUNDS = ("test", "qualifying", "qualifying", "qualifying", "elimination")  # of each day of a meeting
_RUNS_A_QUALIFYING_DAY = 4
# The longest free span of the drive, blower to crank, as each car's tape reads it; and the teeth of its belt.
_SPAN_MM = {"amber": 560.0, "teal": 558.5, "violet": 561.0}
_PITCH_MM, _TEETH = 14, 130
_PUSH_N = 400
_LUBE_WEIGHTS = {"amber": (0.30, 0.30, 0.40), "teal": (0.35, 0.35, 0.30), "violet": (0.40, 0.30, 0.30)}
_OPENS_ON = 10  # day of the month
# Not the clock's own names, which follow the machine's language.
_MONTHS = "January February March April May June July August September October November December"


class Hidden(NamedTuple):
    """What no log shows, for one run: the belt's age, its true tension, its quality, what an incident left on it."""

    age: int
    tension_n: float
    quality: float
    hurt: float


class DemoSeason(NamedTuple):
    """One invented season: rows of the two files by column name (None is a blank cell), and what is hidden."""

    belts: tuple[Mapping[str, Cell], ...]
    runs: tuple[Mapping[str, Cell], ...]
    hidden: tuple[Hidden, ...]


Row = dict[str, Any]


@dataclass(slots=True)
class _Belt:
    """A belt in use: its row, what is hidden in it, and what becomes of it as the season goes on."""

    row: Row
    quality: float
    own_c: float
    lube: str
    age: int = 0
    hurt: float = 1.0
    hurt_runs: int = 0
    off_side: int = 0


def season(plan: Plan, *, seed: int, runs: int | None = None, truth: Truth = TRUTH) -> DemoSeason:
    """Play one year of a plan; or so many runs, the year repeated as often as that takes. All draws follow `seed`."""
    play = _Play(plan, truth, seed)
    years = (plan.year,) if runs is None else count(plan.year)
    meetings = ((number, date(year, month, _OPENS_ON)) for year in years for number, month in enumerate(plan.months))
    any(play.meeting(number, opens, runs) for number, opens in meetings)
    return play.ended()


def _sag_mm(span_mm: float, tension_n: float, stiffness_n: float) -> float:
    """How far the push moves a span in its middle, the belt's stretch with it; round and round until it stands."""
    free, belt, sag = span_mm / 1000, _TEETH * _PITCH_MM / 1000, 0.0
    for _ in range(50):
        pushed = tension_n + stiffness_n * stretch(sag, free) / belt
        sag = _PUSH_N * hypot(free / 2, sag) / (2 * pushed)
    return 1000 * sag


class _Play:
    """The season so far."""

    def __init__(self, plan: Plan, truth: Truth, seed: int) -> None:
        # Who looks at a belt draws from a stream of their own: a misread look moves no life.
        self.plan, self.truth, self.dice, self.eyes = plan, truth, Dice(seed), Dice((seed, 1))
        self.belts: list[Row] = []
        self.runs: list[Row] = []
        self.hidden: list[Hidden] = []
        self.live: dict[str, list[_Belt]] = {car: [] for car in truth.car}
        self.settings: dict[str, Row] = {car: {"idler_flats_front": 6, "idler_flats_rear": 6} for car in truth.car}
        self.target_n: dict[str, float] = {}
        self.unknown_age = self.dice.whole(8, 20)

    def meeting(self, number: int, opens: date, limit: int | None) -> bool:
        """Run one meeting; True once the limit of runs is reached."""
        dice = self.dice
        for car in self.truth.car:
            self._set_up(number, car)
        for day, kind in enumerate(_ROUNDS):
            for car, setting in self.settings.items():
                setting["fitted_by"] = dice.one_of(tuple(self.truth.fitted_by), (0.35, 0.25, 0.2, 0.2))
                if dice.chance(0.08):
                    setting["idler"] = "smooth" if setting["idler"] == "toothed" else "toothed"
                if len(self.live[car]) > 1 and dice.chance(0.3):
                    self.live[car].reverse()
                elif self.live[car] and dice.chance(0.1):
                    self.live[car].insert(0, self._belt(car))
            for car in dice.shuffled([car for car in self.truth.car for _ in range(self._runs_today(day))]):
                if not self.live[car]:
                    self.live[car].append(self._belt(car))
                self._run(opens + timedelta(days=day), kind, car)
                if limit is not None and len(self.runs) == limit:
                    return True
        return False

    def _runs_today(self, day: int) -> int:
        if day < 2:
            return self.dice.whole(self.plan.runs_a_day - 1, self.plan.runs_a_day + 1)
        if _ROUNDS[day] == "qualifying":
            return _RUNS_A_QUALIFYING_DAY
        rounds = 1
        while rounds < _RUNS_A_QUALIFYING_DAY and self.dice.chance(0.6):
            rounds += 1
        return rounds

    def _set_up(self, number: int, car: str) -> None:
        """Set a car up for a meeting; the flats of its idler stay as they were."""
        dice, plan, left = self.dice, self.plan, self.dice.whole(2, 6)
        toothed, three_point = (dice.chance(share[number]) for share in (plan.toothed_share, plan.three_point_share))
        self.target_n[car] = dice.normal(self.truth.best_n, self.truth.target_sd_n)
        self.settings[car] |= {
            "idler": "toothed" if toothed else "smooth",
            "idler_support": "three-point" if three_point else "single",
            "snout_flats_left": left,
            "snout_flats_right": left + dice.whole(-1, 1),
        }

    def _belt(self, car: str) -> _Belt:
        """Take a belt from the shelf: mostly new, now and then one that comes with runs on it."""
        dice, number = self.dice, len(self.belts) + 1
        compound = dice.one_of(tuple(self.truth.compound), (0.8, 0.2))
        width, mass, price = (85, 845, 690) if dice.chance(0.4) else (75, 745, 620)
        heavier, dearer = (1.04, 1.25) if compound == "urethane" else (1.0, 1.0)
        row: Row = {
            "belt": f"{self.plan.prefix}{number:02d}",
            "compound": compound,
            "width_mm": width,
            "pitch_mm": _PITCH_MM,
            "teeth": _TEETH,
            "mass_g_per_m": round(mass * heavier + dice.normal(0.0, 4.0)),
            "stiffness_n": round(self.truth.stiffness_n_per_mm * width),
            "runs_before": None,
            "note": None,
        }
        quality, own_c = dice.normal(0.0, 1.0), dice.normal(0.0, self.truth.belt_c_sd)
        belt = _Belt(row, quality, own_c, dice.one_of(tuple(self.truth.edge_lube), _LUBE_WEIGHTS[car]))
        if used := dice.chance(0.09) or number == self.unknown_age:
            belt.age = dice.whole(1, 6)
            row |= {"runs_before": belt.age, "note": "came with runs on it"}
        if number == self.unknown_age:
            row |= {"runs_before": "?", "note": "from an earlier owner, runs not counted"}
        row["cost"] = round(price * dearer * (0.5 if used else 1.0) / 5) * 5
        self.belts.append(row)
        return belt

    def _run(self, day: date, kind: str, car: str) -> None:
        dice, truth, setting, belt = self.dice, self.truth, self.settings[car], self.live[car][0]
        if "first_day" not in belt.row:
            belt.row["first_day"] = day.isoformat()
            # A fresh belt: the idler is squared by eye again.
            setting |= {"idler_flats_front": 6, "idler_flats_rear": 6 + dice.whole(-3, 3)}
        belt.age += 1
        if belt.lube == "install" and dice.chance(0.03):
            belt.lube = "every-run"
        tension = self._tension(self.target_n[car], truth.tension_sd_n[setting["fitted_by"]])
        off_c = self._edges(car, setting, belt)
        trouble = dice.one_of(tuple(truth.trouble), (0.925, 0.03, 0.015, 0.015, 0.015))
        load = (1.6, 0.3) if trouble != "none" or dice.chance(0.1) else (4.1, 0.35)
        row: Row = {
            "run": len(self.runs) + 1,
            "day": day.isoformat(),
            "meeting": _MONTHS.split()[day.month - 1],
            "round": kind,
            "car": car,
            "belt": belt.row["belt"],
            **setting,
            "edge_lube": belt.lube,
            "edge_lube_kind": None if belt.lube == "none" else "paste" if car == "teal" else "spray",
            "engine_trouble": trouble,
            "full_load_s": round(dice.normal(*load), 1),
        }
        hazard = self._hazard(belt.row | row, belt, tension)
        self.hidden.append(Hidden(belt.age, tension, belt.quality, belt.hurt))
        row |= self._tension_cells(row, belt, tension)
        row |= self._edge_cells(belt, off_c)
        off: Row = {"off_c": off_c, "off_side": belt.off_side}
        found = after_run(dice, truth, hazard=hazard, tension_n=tension, lube=belt.lube, trouble=trouble, **off)
        row |= as_read(self.eyes, truth, found)
        self.runs.append(row)
        self._steer(car, setting, off_c)
        belt.hurt_runs = max(0, belt.hurt_runs - 1)
        if truth.trouble[trouble] > 1:
            belt.hurt, belt.hurt_runs = truth.trouble[trouble], truth.trouble_runs
        elif not belt.hurt_runs:
            belt.hurt = 1.0
        if row["fate"] in ("retired", "broke"):
            self.live[car].pop(0)

    def _tension(self, target: float, sd: float) -> float:
        while True:
            tension = round(self.dice.normal(target, sd) / 10) * 10.0
            if self.truth.lowest_n <= tension <= self.truth.highest_n:
                return tension

    def _hazard(self, cells: Row, belt: _Belt, tension: float) -> float:
        truth = self.truth
        ratio: float = prod(getattr(truth, column)[str(cells[column])] for column in truth.RATIOS) * belt.hurt
        bend = truth.tension_bend * ((tension - truth.best_n) / 1000.0) ** 2
        aged: float = truth.base * belt.age**truth.age_power
        return aged * ratio * exp(bend + truth.quality_sd * belt.quality)

    def _edges(self, car: str, setting: Row, belt: _Belt) -> float:
        truth = self.truth
        tilt: float = truth.flat_c[car] * (setting["idler_flats_front"] - setting["idler_flats_rear"])
        snout: float = (setting["snout_flats_left"] + setting["snout_flats_right"]) / 2
        lift = truth.snout_c * (snout - truth.snout_middle)
        return truth.square_c[car] + tilt + lift + belt.own_c + self.dice.normal(0.0, truth.reading_c_sd)

    def _steer(self, car: str, setting: Row, reading: float) -> None:
        """Crews answer the last reading with part of the flats it calls for."""
        if abs(reading) > 2.0 and self.dice.chance(0.6):
            move = round(0.6 * reading / self.truth.flat_c[car])
            if 0 <= setting["idler_flats_rear"] + move <= 14:
                setting["idler_flats_rear"] += move
            else:
                setting["idler_flats_front"] -= move
        elif self.dice.chance(0.1):
            setting["idler_flats_front"] = 6 + self.dice.whole(-1, 1)

    def _tension_cells(self, run: Row, belt: _Belt, tension: float) -> Row:
        """Write down the tension: mostly the gauge's, at times the pitch or the push, at times nothing."""
        dice, truth = self.dice, self.truth
        lost = truth.settles_n * 0.5 ** ((belt.age - 1) / 2) + dice.normal(truth.loses_n, truth.loses_n)
        cells: Row = {
            "adjuster_turns": round((tension - truth.snug_n) / truth.turn_n + dice.normal(0.0, 0.04), 2),
            "tension_after_n": round((tension - lost) / 10) * 10 if dice.chance(0.6) else None,
        }
        how, span = dice.uniform(), _SPAN_MM[run["car"]]
        if how < 0.08:
            return cells | {"tension_after_n": None, "note": "tension not written down" if dice.chance(0.3) else None}
        if how < 0.13 and run["fitted_by"] != "cedar":
            pitch = string_frequency(tension, span / 1000, belt.row["mass_g_per_m"] / 1000)
            return cells | {"span_hz": round(pitch, 1), "span_mm": span}
        if how < 0.15:
            sag = _sag_mm(span, tension, belt.row["stiffness_n"])
            return cells | {"push_n": _PUSH_N, "push_mm": round(sag, 2), "span_mm": span}
        return cells | {"tension_n": round(tension)}

    def _edge_cells(self, belt: _Belt, front_less_rear: float) -> Row:
        dice, walks = self.dice, self.truth.walks_c
        side = (front_less_rear > walks) - (front_less_rear < -walks)
        belt.off_side = belt.off_side + side if side * belt.off_side >= 0 else side
        cells: Row = {"walked": ("rear", "even", "front")[side + 1]}
        if dice.chance(0.8):
            middle = dice.normal(52.0, 4.0)
            rear = round(middle - front_less_rear / 2, 1)
            cells |= {"edge_front_c": round(rear + front_less_rear, 1), "edge_rear_c": rear}
        return cells

    def ended(self) -> DemoSeason:
        """Close the season: nobody knew the cause of one break in forty (at least one); two belts lie on the shelf."""
        broken = [row for row in self.runs if row["fate"] == "broke"]
        for _ in range(min(len(broken), max(1, len(broken) // 40))):
            row = broken.pop(self.dice.whole(0, len(broken) - 1))
            row |= {"cause": "unknown", "break_look": None, "teeth_look": None, "note": "nothing of the belt was found"}
        for car in ("amber", "teal"):
            self._belt(car)
        return DemoSeason(tuple(self.belts), tuple(self.runs), tuple(self.hidden))


def demo_files(seed: int = 1) -> dict[str, bytes]:
    """Play both seasons, the first drawn from `seed`, the second from the number after it; files by their paths."""
    return {
        f"{plan.name}/{name}": content
        for number, plan in enumerate(SEASONS)
        for name, content in season_files(plan, season(plan, seed=seed + number)).items()
    }


def season_files(plan: Plan, played: DemoSeason) -> dict[str, bytes]:
    """Say a played season as the files of its folder: ``belts.csv``, ``runs.csv`` and ``datapackage.json``."""
    tables = {"belts.csv": (BELTS, played.belts), "runs.csv": (RUNS, played.runs)}
    columns = {file: [one for one in of if any(one.name in row for row in rows)] for file, (of, rows) in tables.items()}
    files = {file: _csv(columns[file], rows) for file, (_, rows) in tables.items()}
    package = {
        "profile": "tabular-data-package",
        "name": plan.name,
        "title": plan.title,
        "description": "Invented: no real belt, car, meeting or person. One row of runs.csv is one run of one belt.",
        "invented": True,
        "licenses": [LICENCE],
        "resources": [_resource(file, columns[file], content) for file, content in files.items()],
    }
    return files | {"datapackage.json": (json.dumps(package, indent=2, ensure_ascii=False) + "\n").encode()}


def _csv(columns: Iterable[Column], rows: Iterable[Mapping[str, Cell]]) -> bytes:
    names = [column.name for column in columns]
    cells = ([row.get(name) for name in names] for row in rows)
    said = ([f"{cell:.10g}" if isinstance(cell, float) else cell for cell in row] for row in cells)
    return csv_text([names, *said]).encode()


def _resource(file: str, columns: Sequence[Column], content: bytes) -> dict[str, object]:
    key = columns[0].name
    schema: dict[str, object] = {
        "fields": [_field(column, unique=column.name == key) for column in columns],
        "missingValues": ["", "?"],
        "primaryKey": key,
    }
    if file == "runs.csv":
        schema["foreignKeys"] = [{"fields": "belt", "reference": {"resource": "belts", "fields": "belt"}}]
    return {
        "profile": "tabular-data-resource",
        "name": file.removesuffix(".csv"),
        "path": file,
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "dialect": {"delimiter": ",", "lineTerminator": "\n"},
        "bytes": len(content),
        "hash": f"sha256:{sha256(content).hexdigest()}",
        "schema": schema,
    }


def _field(column: Column, *, unique: bool) -> dict[str, object]:
    """Describe a column as a Table Schema field; `unit` is our own addition, which the standard allows."""
    rules: dict[str, object] = {
        "required": column.required or None,
        "unique": unique or None,
        "minimum": column.low if column.is_number else None,
        "maximum": column.high if column.is_number else None,
        "enum": list(column.levels) or None,
    }
    field: dict[str, object] = {
        "name": column.name,
        "type": _TYPES.get(column.kind, "string"),
        "description": column.meaning,
        "unit": column.unit or None,
        "constraints": {name: rule for name, rule in rules.items() if rule is not None} or None,
    }
    return {name: said for name, said in field.items() if said is not None}
