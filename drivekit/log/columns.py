"""The one table that says what each column of the season log is.

Reading, checking, the blank log, the run sheet and the documents all come from it: a new column is one new entry here.

Sides: front is away from the engine, rear towards it; left and right as the driver sits. The snout is the blower's
nose. A column's unit stands at the end of its name; each metric unit of `INCH_POUND` has one inch-pound twin, and a
heading with the twin's ending is taken for the same column, its values converted.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

__all__ = ["BELTS", "CAUSES", "EXAMPLE", "FAILURES", "INCH_POUND", "RUNS", "Column", "Kind", "Twin"]

Kind = Literal["name", "word", "whole", "number", "day", "text"]

EXAMPLE = "EXAMPLE"
"""The belt of the example row in a blank log; checking says when it still stands there."""

CAUSES = (
    *("tooth-jump", "tooth-loss", "edge-split", "cord-pull"),
    *("contaminated", "engine-trouble", "precaution", "sold", "unknown"),
)
"""Every way a belt's life in the log can end."""

FAILURES = ("tooth-jump", "tooth-loss", "edge-split", "cord-pull", "unknown")
"""The causes that count as the belt's own failure unless the user says otherwise; unknown only when the belt broke."""


@dataclass(frozen=True, slots=True)
class Twin:
    """An inch-pound unit and the metric unit it stands for: metric = (value - zero) * factor / divisor.

    Parameters
    ----------
    ending, twin_ending : str
        How a heading in the metric unit ends, and one in the inch-pound unit.
    unit : str
        The inch-pound unit as a person writes it.
    factor, divisor : float
        Metric units in one inch-pound unit, as a fraction where that is exact.
    zero : float
        The inch-pound reading at metric zero.
    """

    ending: str
    twin_ending: str
    unit: str
    factor: float
    divisor: float = 1.0
    zero: float = 0.0

    def metric(self, value: float) -> float:
        """Convert an inch-pound value to the metric unit."""
        return (value - self.zero) * self.factor / self.divisor

    def inch_pound(self, value: float) -> float:
        """Convert a metric value back, for a message in the unit that was typed."""
        return value * self.divisor / self.factor + self.zero


# A pound is .45359237 kg and a foot .3048 m, both exactly, since the agreement of 1959.
INCH_POUND: dict[str, Twin] = {
    "mm": Twin("_mm", "_in", "in", 25.4),
    "N": Twin("_n", "_lbf", "lbf", 4.4482216152605),
    "°C": Twin("_c", "_f", "°F", 5.0, 9.0, 32.0),
    "g/m": Twin("_g_per_m", "_lb_per_ft", "lb/ft", 453.59237 / 0.3048),
}


@dataclass(frozen=True, slots=True)
class Column:
    """What one column of the log means and holds.

    Parameters
    ----------
    name : str
        The heading, lower case; a unit stands at its end.
    kind : {"name", "word", "whole", "number", "day", "text"}
        A name is compared letter by letter, a word is one of `levels`, a day is an ISO date, text is kept as it is.
    label : str
        A few words for the run sheet.
    meaning : str
        What the column says, as told to the mechanic who fills it in.
    levels : tuple of str
        The words allowed, in the order in which comparisons take them.
    unit : str
        The metric unit of a number; empty for a count or a word.
    low, high : float or None
        What is possible, limits included, in `unit`.
    required : bool
        The column must be there and no cell of it blank.
    question : bool
        A ``?`` may stand for "not known".
    adds : str
        What the study gains from the column, said when it is absent.
    gives : str
        The column that is computed from this one and others where it is blank.
    part : str
        The part of the run sheet where the column stands; empty when it stands on none.
    example : str
        What the example row of a blank log holds.
    """

    name: str
    kind: Kind
    label: str
    meaning: str
    levels: tuple[str, ...] = ()
    unit: str = ""
    low: float | None = None
    high: float | None = None
    required: bool = False
    question: bool = False
    adds: str = ""
    gives: str = ""
    part: str = ""
    example: str = ""

    @property
    def twin(self) -> str | None:
        """The heading of the same column in inch-pound units; None where there is none."""
        twin = INCH_POUND.get(self.unit)
        return None if twin is None else self.name.removesuffix(twin.ending) + twin.twin_ending

    @property
    def holds(self) -> str:
        """What a cell may hold, in words."""
        if self.levels:
            return ", ".join(self.levels[:-1]) + f" or {self.levels[-1]}"
        if self.is_number:
            kind = "a whole number" if self.kind == "whole" else "a number"
            unit = f" {self.unit}" if self.unit else ""
            return f"{kind}, {self.low:.10g} to {self.high:.10g}{unit}{', or ?' if self.question else ''}"
        return {"day": "a day, year-month-day", "name": "a name", "word": "a word", "text": "any text"}[self.kind]

    @property
    def is_number(self) -> bool:
        """Whether cells hold a number, whole or not."""
        return self.kind in ("whole", "number")


# fmt: off
# A table, to be read across its rows.
BELTS: tuple[Column, ...] = (
    Column("belt", "name", "Belt", "The belt's name, the same on every run; no two belts share one.", required=True,
           example=EXAMPLE),
    Column("compound", "word", "Compound", "What the belt is made of.", ("rubber", "urethane", "other"),
           adds="how long rubber belts last beside urethane ones", example="rubber"),
    Column("width_mm", "number", "Width", "Width of the belt.", unit="mm", low=5, high=500,
           adds="how long wide belts last beside narrow ones", example="75"),
    Column("pitch_mm", "number", "Pitch", "Distance from one tooth to the next.", unit="mm", low=1, high=50,
           adds="which belts share a tooth pitch", example="14"),
    Column("teeth", "whole", "Teeth", "Number of teeth on the belt.", low=10, high=1000,
           adds="which belts share a length", example="100"),
    Column("mass_g_per_m", "number", "Mass", "Mass of one metre of the belt.", unit="g/m", low=5, high=10_000,
           adds="tension from the pitch of a plucked span", example="745"),
    Column("stiffness_n", "number", "Stiffness", "Tension over strain of the whole width (EA).", unit="N",
           low=1e3, high=1e8, adds="the stretch that a push makes, taken off the tension read by it",
           example="2100000"),
    Column("runs_before", "whole", "Runs before",
           "Runs on the belt before this log began; blank: it was new; ?: not known, so the belt leaves every answer "
           "that needs its age.", low=0, high=1000, question=True,
           adds="the right age for a belt that came used; every belt is taken as new", example="0"),
    Column("first_day", "day", "First day", "The day the belt was first fitted.",
           adds="how long belts lie between runs", example="2026-03-07"),
    Column("cost", "number", "Cost", "What the belt cost, in one currency throughout.", low=0, high=1_000_000,
           adds="what changing early or late costs", example="450"),
    Column("note", "text", "Note", "Anything else worth keeping.",
           example="delete this row when your own belts stand here"),
)

RUNS: tuple[Column, ...] = (
    Column("run", "whole", "Run", "Number of the run; each number once, in the order the runs were made.", low=0,
           high=1_000_000_000, required=True, part="The run", example="1"),
    Column("day", "day", "Day", "The day of the run, year-month-day.", required=True, part="The run",
           example="2026-03-07"),
    Column("meeting", "name", "Meeting", "The meeting, test or race weekend.",
           adds="how alike runs of one meeting are", part="The run", example="March"),
    Column("round", "word", "Round", "What the run was for.", ("test", "qualifying", "elimination"),
           adds="whether belts go in tests or in eliminations", part="The run", example="test"),
    Column("car", "name", "Car", "The car the belt ran on.", required=True, part="The run", example="blue"),
    Column("belt", "name", "Belt", "The belt on the engine, named as in belts.", required=True, part="The run",
           example=EXAMPLE),
    Column("idler", "word", "Idler", "The idler that the belt runs over.", ("smooth", "toothed"), required=True,
           part="The drive as set", example="smooth"),
    Column("idler_support", "word", "Idler support", "How the idler is held: from one end, or at three points.",
           ("single", "three-point"),
           adds="how long belts last on an idler held at three points beside one held from one end",
           part="The drive as set", example="three-point"),
    Column("tension_n", "number", "Tension, cold, one span", "Static tension of one span, cold, engine at rest.",
           unit="N", low=50, high=50_000,
           adds="how tight a belt lasts longest (a gauge's span_hz with span_mm and the belt's mass_g_per_m gives it "
           "too, or push_n, push_mm and span_mm)", part="The drive as set", example="8000"),
    Column("span_hz", "number", "or: span rings at", "Pitch at which the plucked span rings, engine off.", unit="Hz",
           low=1, high=5000, gives="tension_n", part="The drive as set"),
    Column("span_mm", "number", "with free span", "Length of the free span between its two pulleys.", unit="mm",
           low=10, high=5000, gives="tension_n", part="The drive as set"),
    Column("push_n", "number", "or: pushed by", "Force pressed on the middle of the span, square to it.", unit="N",
           low=0.1, high=10_000, gives="tension_n", part="The drive as set"),
    Column("push_mm", "number", "gave way", "How far the middle of the span gave way under that push.", unit="mm",
           low=0.01, high=500, gives="tension_n", part="The drive as set"),
    Column("adjuster_turns", "number", "Adjuster turns",
           "Turns of the tension adjuster from where the belt is just snug.", low=-100, high=100,
           adds="how many turns of the adjuster give which tension", part="The drive as set", example="3.5"),
    Column("idler_flats_front", "number", "Idler flats, front",
           "Flats (sixths of a turn) on the front idler adjuster from first touch.", low=-240, high=240,
           adds="how the idler's squareness moves the belt", part="The drive as set", example="2"),
    Column("idler_flats_rear", "number", "Idler flats, rear",
           "Flats (sixths of a turn) on the rear idler adjuster from first touch.", low=-240, high=240,
           adds="how the idler's squareness moves the belt", part="The drive as set", example="2"),
    Column("snout_flats_left", "number", "Snout flats, left",
           "Flats (sixths of a turn) on the left jack screw under the snout.", low=-240, high=240,
           adds="how the jack screws move the belt", part="The drive as set", example="3"),
    Column("snout_flats_right", "number", "Snout flats, right",
           "Flats (sixths of a turn) on the right jack screw under the snout.", low=-240, high=240,
           adds="how the jack screws move the belt", part="The drive as set", example="3"),
    Column("edge_lube", "word", "Edges greased",
           "How often the belt's edges are greased: never, when fitted, before every run.",
           ("none", "install", "every-run"), adds="whether greasing the edges pays", part="The drive as set",
           example="install"),
    Column("edge_lube_kind", "name", "Grease", "What the edges are greased with.",
           adds="whether one grease does better than another", part="The drive as set", example="paste"),
    Column("fitted_by", "name", "Fitted by", "Who fitted or last set the belt.",
           adds="whether belts last differently by who fits them", part="The drive as set", example="initials"),
    Column("edge_front_c", "number", "Front edge, warm",
           "Temperature of the belt's front edge right after warm-up, engine off.", unit="°C", low=-40, high=400,
           adds="which way the belt runs, from the edges' warmth", part="After warm-up", example="48"),
    Column("edge_rear_c", "number", "Rear edge, warm",
           "Temperature of the belt's rear edge right after warm-up, engine off.", unit="°C", low=-40, high=400,
           adds="which way the belt runs, from the edges' warmth", part="After warm-up", example="50"),
    Column("walked", "word", "Walked to", "Which way the belt moved on its pulleys.", ("front", "even", "rear"),
           adds="how the flats set where the belt runs", part="After warm-up", example="even"),
    Column("full_load_s", "number", "Full load", "Seconds at full load on the run.", unit="s", low=0, high=3600,
           adds="whether time at full load wears belts beyond the count of runs", part="After the run", example="3.8"),
    Column("engine_trouble", "word", "Engine trouble", "What went wrong with the engine on the run.",
           ("none", "cylinder-out", "oil-down", "backfire", "other"),
           adds="what an incident costs the runs that follow", part="After the run", example="none"),
    Column("tension_after_n", "number", "Tension, cold again",
           "Tension of the same span cold again, before anything is touched.", unit="N", low=0, high=50_000,
           adds="how much tension a run takes out of the belt", part="After the run", example="7800"),
    Column("teeth_look", "word", "Teeth", "How the teeth look.", ("good", "worn", "torn", "missing"),
           adds="what the look of the teeth says about the next run", part="After the run", example="good"),
    Column("cord_look", "word", "Cord", "How the cord looks.", ("good", "hairs", "pulled"),
           adds="what the look of the cord says about the next run", part="After the run", example="good"),
    Column("edge_look", "word", "Edges", "How the edges look.", ("good", "frayed", "split"),
           adds="what the look of the edges says about the next run", part="After the run", example="good"),
    Column("surface", "word", "Surface", "What lies on the belt or sticks in it.", ("clean", "oiled", "metal"),
           adds="what oil or metal on a belt costs it", part="After the run", example="clean"),
    Column("shade", "word", "Shade", "Where the belt's colour has darkened.", ("even", "front-dark", "rear-dark"),
           adds="which way the belt ran, from its colour", part="After the run", example="even"),
    Column("break_look", "word", "Break", "How the belt broke.", ("none", "straight-across", "ragged", "lengthwise"),
           adds="which belts went slack and jumped", part="After the run", example="none"),
    Column("fate", "word", "Fate", "What became of the belt: kept, trimmed and kept, retired whole, or broke.",
           ("kept", "trimmed", "retired", "broke"), required=True, part="After the run", example="kept"),
    Column("cause", "word", "Cause, where it was retired or broke",
           "Why the belt retired or broke; blank while it is kept.", CAUSES, adds="what the belts failed by",
           part="After the run"),
    Column("note", "text", "Note", "Anything else worth keeping.", part="After the run",
           example="delete this row when your own runs stand here"),
)
# fmt: on
