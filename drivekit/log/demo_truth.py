"""What is true of the invented demo seasons: one frozen table, so that every answer can be held against it.

The chance that a belt fails on a run is 1 - exp(-h), with

    h = BASE * age**AGE_POWER * exp(TENSION_BEND * ((tension - best) / 1000 N)**2) * product of the factors below,

so each factor is a hazard ratio and the complementary log-log model is the true one. Which of the four ways it fails
depends on tension, grease and how far off the belt runs, but the sum of the four is always h. Nothing here describes
any real belt, car or person.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

__all__ = ["SEASON_ONE", "SEASON_TWO", "TRUTH", "Plan", "Truth", "truth_lines"]


def _table(**entries: float) -> Mapping[str, float]:
    return MappingProxyType({name.replace("_", "-"): value for name, value in entries.items()})


@dataclass(frozen=True, slots=True)
class Truth:
    """Everything that drives an invented season; ratios multiply the hazard of a run.

    Tensions are in N, temperatures in degrees C, flats are sixths of a turn.
    """

    base: float = 0.027
    age_power: float = 1.0
    idler: Mapping[str, float] = field(default_factory=lambda: _table(smooth=1.0, toothed=0.45))
    edge_lube: Mapping[str, float] = field(default_factory=lambda: _table(none=1.0, install=0.85, every_run=0.7))
    car: Mapping[str, float] = field(default_factory=lambda: _table(amber=1.0, teal=1.3, violet=0.8))
    idler_support: Mapping[str, float] = field(default_factory=lambda: _table(single=1.0, three_point=0.8))
    compound: Mapping[str, float] = field(default_factory=lambda: _table(rubber=1.0, urethane=0.9))
    width_mm: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({"75": 1.0, "85": 0.85}))
    fitter: Mapping[str, float] = field(default_factory=lambda: _table(ash=1.0, birch=1.3, cedar=1.0, elm=1.0))
    quality_sd: float = 0.3
    """Spread of a belt's own hidden quality, on the log of its hazard; it also shows in how worn the belt looks."""
    trouble: Mapping[str, float] = field(
        default_factory=lambda: _table(none=1.0, cylinder_out=1.5, oil_down=1.8, backfire=2.5, other=1.0)
    )
    trouble_runs: int = 2
    """How many of the belt's next runs an incident hurts."""

    lowest_n: float = 5000.0
    highest_n: float = 12000.0
    best_n: float = 8300.0
    tension_bend: float = 0.08
    target_sd_n: float = 1100.0
    tension_sd_n: Mapping[str, float] = field(
        default_factory=lambda: _table(ash=900.0, birch=900.0, cedar=1800.0, elm=900.0)
    )
    """Spread of the tension a car aims for from meeting to meeting, around the best; of what its fitter then sets."""
    snug_n: float = 900.0
    turn_n: float = 2900.0
    """Tension where the adjuster's turns count from, and gained per turn."""
    settles_n: float = 450.0
    loses_n: float = 60.0
    """Tension lost on a run: ``loses_n + settles_n / 2 ** ((age - 1) / 2)``, readings of it scatter by ``loses_n``."""

    full_load_w: float = 430_000.0
    speed_m_s: float = 89.6
    mass_kg_m: float = 0.5
    growth_n: float = 600.0
    """Blower power and belt speed at full load, the belt's mass, and tension gained as the engine grows hot."""

    flat_c: Mapping[str, float] = field(default_factory=lambda: _table(amber=-1.8, teal=-1.4, violet=-2.2))
    square_c: Mapping[str, float] = field(default_factory=lambda: _table(amber=3.6, teal=-2.8, violet=2.2))
    snout_c: float = -0.9
    snout_middle: float = 4.0
    belt_c_sd: float = 1.5
    reading_c_sd: float = 1.2
    walks_c: float = 2.5
    """Edges' temperature difference, front less rear: ``square_c + flat_c * (front - rear idler flats)
    + snout_c * (mean snout flats - snout_middle) + the belt's own + reading``; beyond ``walks_c`` the belt walked.
    More flats at the front send the belt to the rear, so the rear edge runs hotter: ``flat_c`` is below 0."""

    @property
    def slack_below_n(self) -> float:
        """Static tension below which the slack span goes slack at full load.

        Set + growth - Te / 2 - m v^2 = 0 with the effective tension Te = power / speed (fixed centres: the mean span
        tension stays what was set plus growth).
        """
        return self.full_load_w / self.speed_m_s / 2 + self.mass_kg_m * self.speed_m_s**2 - self.growth_n


@dataclass(frozen=True, slots=True)
class Plan:
    """How one invented season goes: what is fitted when, and how much is run."""

    name: str
    title: str
    year: int
    prefix: str
    months: tuple[int, ...]
    runs_a_test_day: int
    toothed_share: tuple[float, ...]
    """Chance, meeting by meeting, that a car starts the meeting on the toothed idler."""
    three_point_share: tuple[float, ...]


TRUTH = Truth()

SEASON_ONE = Plan(
    "season-one",
    "First invented season",
    2024,
    "A",
    (3, 4, 5, 6, 7, 8, 9, 10, 11),
    6,
    (0.05, 0.05, 0.10, 0.15, 0.50, 0.85, 0.90, 0.95, 0.95),
    (0.10, 0.20, 0.30, 0.40, 0.50, 0.60, 0.60, 0.70, 0.70),
)
"""The toothed idler comes in at mid-season: before and after look like smooth and toothed."""

SEASON_TWO = Plan(
    "season-two",
    "Second invented season",
    2025,
    "B",
    (3, 4, 5, 6, 7, 8, 9, 10),
    5,
    (0.15, 0.25, 0.35, 0.45, 0.60, 0.70, 0.80, 0.85),
    (0.30, 0.40, 0.50, 0.50, 0.50, 0.60, 0.60, 0.70),
)
"""Both idlers on every car all season, the toothed one more often towards its end."""


def truth_lines(truth: Truth = TRUTH) -> list[str]:
    """Say the truth as the lines of a table for a person."""
    ratios = {
        "idler": (truth.idler, "idler"),
        "edges greased": (truth.edge_lube, "edge_lube"),
        "car": (truth.car, "car"),
        "idler support": (truth.idler_support, "idler_support"),
        "compound": (truth.compound, "compound"),
        "width, mm": (truth.width_mm, "width_mm"),
        "who fitted": (truth.fitter, "fitted_by"),
        f"engine trouble, on the belt's next {truth.trouble_runs} runs": (truth.trouble, "engine_trouble"),
    }
    lines = ["| what | column | the hazard of a run is multiplied by |", "|---|---|---|"]
    lines += [f"| {what} | `{column}` | {_said(levels)} |" for what, (levels, column) in ratios.items()]
    lines += [
        f"| age of the belt in runs | | {truth.base:g} x age^{truth.age_power:g} (all else at 1) |",
        (
            f"| tension | `tension_n` | exp({truth.tension_bend:g} x ((tension - {truth.best_n:g} N) / 1000 N)^2), "
            f"tensions from {truth.lowest_n:g} to {truth.highest_n:g} N |"
        ),
        f"| hidden quality of the belt | | exp({truth.quality_sd:g} x a standard normal number) |",
        "",
        "| what else | truth |",
        "|---|---|",
        (
            f"| goes slack at full load below | {truth.slack_below_n:.0f} N ({truth.full_load_w / 1000:g} kW at "
            f"{truth.speed_m_s:g} m/s, {truth.mass_kg_m:g} kg/m, {truth.growth_n:g} N gained hot) |"
        ),
        f"| tension aimed for differs from meeting to meeting by (standard deviation) | {truth.target_sd_n:g} N |",
        f"| what is set differs from it by (standard deviation, N), by who fitted | {_said(truth.tension_sd_n)} |",
        f"| tension gained a turn of the adjuster | {truth.turn_n:g} N, from {truth.snug_n:g} N where it is snug |",
        (
            f"| tension lost on a run | {truth.loses_n:g} N, and {truth.settles_n:g} N more on a new belt's first run, "
            "half of that two runs later and so on |"
        ),
        f"| edge temperatures, front less rear, C a flat of idler (front less rear), by car | {_said(truth.flat_c)} |",
        f"| the same with idler flats equal, by car | {_said(truth.square_c)} |",
        f"| the same, C a flat of snout (mean of left and right, from {truth.snout_middle:g}) | {truth.snout_c:g} |",
        (
            f"| belts differ in it by, readings scatter by (standard deviations, C) | {truth.belt_c_sd:g}, "
            f"{truth.reading_c_sd:g} |"
        ),
        f"| the belt walked front or rear when it was beyond | {truth.walks_c:g} C |",
        "| time at full load, grease kind, flats, edge temperatures, meeting, round | change no hazard |",
    ]
    return lines


def _said(levels: Mapping[str, float]) -> str:
    return ", ".join(f"{level} {value:g}" for level, value in levels.items())
