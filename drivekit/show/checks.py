"""Pictures of the hazard fit against its own data: drift with age, belts that surprise or decide, risk foreseen."""

from __future__ import annotations

import math
from collections.abc import Sequence

from drivekit.show.curves import whole_ticks
from drivekit.show.hazard_words import drift_words, influence_words, most_moving, risk_words, surprise_words
from drivekit.show.phrases import Plain, counted
from drivekit.show.picture import Label, Mark, Panel, Picture
from drivekit.show.plane import Dots, Level, Trace, in_decades
from drivekit.show.ratios import term_name
from drivekit.show.words import INVENTED

__all__ = ["drift_picture", "influence_picture", "risk_picture", "surprise_picture"]

NAMED = 4
"""Belts that carry their name: those farthest out."""

BELTS = "Belts, as first fitted"


def _note(findings: Plain, text: str) -> str:
    return f"{text} {INVENTED}" if findings["log"].get("invented") else text


def _tens(low: float, high: float) -> tuple[float, ...]:
    """Choose round numbers between two ends of a plain axis, 0 among them."""
    step = next(
        step
        for power in range(-3, 4)
        for step in (10.0**power, 2 * 10.0**power, 5 * 10.0**power)
        if (high - low) / step <= 6
    )
    return tuple(round(place * step, 6) for place in range(math.ceil(low / step), math.floor(high / step) + 1))


def drift_picture(findings: Plain) -> Picture | None:
    """Draw up the scaled Schoenfeld residuals against age, a panel a term; None where no term has an estimate."""
    hazard = findings["hazard"]
    if "reason" in hazard:
        return None
    found = hazard["checks"]["schoenfeld"]
    told = {term: values for term, values in found["scaled"].items() if values and None not in values}
    if not told:
        return None
    ages = found["age"]
    panels = tuple(_drift_panel(hazard, term, term_name(findings, term), ages, values) for term, values in told.items())
    subtitle = (
        f"Each failure's pull on the log of a ratio, against the belt's age ({counted(len(ages), 'failure')}). Level "
        "line: the answer as it stands; sloping line: how it would change with age."
    )
    note = "Scaled Schoenfeld residuals; the sloping line is their least-squares line."
    return Picture("drift", drift_words(findings), subtitle, _note(findings, note), panels)


def _drift_panel(hazard: Plain, term: str, name: str, ages: Sequence[float], values: Sequence[float]) -> Panel:
    oldest = int(max(ages))
    reach = max(abs(value) for value in values) * 1.1
    middle, mean = sum(ages) / len(ages), sum(values) / len(values)
    spread = sum((age - middle) ** 2 for age in ages)
    marks: list[Mark] = [Level(f"rule:{term}", hazard["terms"][term]["coef"], "")]
    if spread:
        slope = sum((age - middle) * value for age, value in zip(ages, values, strict=True)) / spread
        ends = (float(min(ages)), float(oldest))
        marks.append(Trace(f"curve:{term}", 1, ends, tuple(mean + slope * (age - middle) for age in ends)))
    marks.append(Dots(f"dots:{term}", 0, tuple(ages), tuple(values)))
    return Panel(
        name=name,
        x_label="Runs on the belt",
        y_label="Pull on the log of the ratio",
        x_limits=(0, oldest + 1),
        y_limits=(-reach, reach),
        x_ticks=whole_ticks(oldest),
        y_ticks=_tens(-reach, reach),
        marks=tuple(marks),
    )


def surprise_picture(findings: Plain) -> Picture | None:
    """Draw up the deviance residual of each belt, the farthest out named."""
    hazard = findings["hazard"]
    if "reason" in hazard:
        return None
    belts = hazard["checks"]["belts"]
    every = [
        (place, belt, value, seen)
        for place, (belt, value, seen) in enumerate(
            zip(belts["belt"], belts["deviance"], belts["seen"], strict=True), 1
        )
        if value is not None
    ]
    failed = [(float(place), value) for place, _, value, seen in every if seen]
    kept = [(float(place), value) for place, _, value, seen in every if not seen]
    far = sorted(every, key=lambda entry: -abs(entry[2]))[:NAMED]
    reach = max(2.5, *(abs(value) for _, _, value, _ in every)) * 1.1
    marks: list[Mark] = [Level("rule:0", 0.0, "as foreseen")]
    for gid, points, hollow in (("dots:failed", failed, False), ("dots:kept", kept, True)):
        if points:
            x, y = zip(*points, strict=True)
            marks.append(Dots(gid, 1 if hollow else 0, x, y, hollow))
    marks += [Label(f"label:{belt}", place, value, belt) for place, belt, value, _ in far]
    panel = Panel(
        name="",
        x_label=BELTS,
        y_label="Failed sooner (above 0) or later than foreseen",
        x_limits=(0, len(belts["belt"]) + 1),
        y_limits=(-reach, reach),
        x_ticks=(),
        y_ticks=_tens(-reach, reach),
        marks=tuple(marks),
    )
    subtitle = f"Deviance residual of each of {counted(len(every), 'belt')}: beyond 2 either way is rare."
    note = f"Full dots: belts that failed. Rings: still running or taken off early. Named: the {len(far)} farthest out."
    return Picture("surprise", surprise_words(hazard), subtitle, _note(findings, note), (panel,))


def influence_picture(findings: Plain, term: str = "") -> Picture | None:
    """Draw up one term's ratio, the first's where none is named, without each belt; None where it has no estimate."""
    hazard = findings["hazard"]
    term = term or next(iter(hazard.get("terms", ())), "")
    if "reason" in hazard or most_moving(hazard, term) is None:
        return None
    without = hazard["checks"]["without_belt"]
    stands = hazard["terms"][term]["hr"]
    every = [
        (float(place), belt, math.exp(coef))
        for place, (belt, coef) in enumerate(zip(without["belt"], without["coef"][term], strict=True), 1)
        if coef is not None
    ]
    far = sorted(every, key=lambda entry: -abs(math.log(entry[2] / stands)))[:NAMED]
    ratios = [ratio for _, _, ratio in every]
    low, high = min(*ratios, stands) / 1.1, max(*ratios, stands, 1.0) * 1.1
    marks: list[Mark] = [
        Level("rule:1", 1.0, "no difference"),
        Level("rule:stands", stands, "all belts"),
        Dots("dots:without", 0, tuple(place for place, _, _ in every), tuple(ratios)),
        *(Label(f"label:{belt}", place, ratio, f"without {belt}") for place, belt, ratio in far),
    ]
    panel = Panel(
        name="",
        x_label=BELTS,
        y_label="Failures a run, as a multiple, without that belt",
        x_limits=(0, len(without["belt"]) + 1),
        y_limits=(low, high),
        x_ticks=(),
        y_ticks=in_decades(low, high),
        marks=tuple(marks),
        y_log=True,
    )
    how = "fitted again" if all(without["exact"]) else "to first order (the farthest: fitted again)"
    subtitle = f"{term_name(findings, term)}, {how} without each of {counted(len(every), 'belt')} in turn."
    note = f"Named: the {len(far)} belts without which the answer moves most."
    return Picture("influence", influence_words(findings, term), subtitle, _note(findings, note), (panel,))


def risk_picture(findings: Plain) -> Picture | None:
    """Draw up failures seen against failures foreseen, in parts of the runs by fitted risk."""
    hazard = findings["hazard"]
    if "reason" in hazard:
        return None
    parts = hazard["checks"]["by_risk"]
    expected, seen = tuple(parts["expected"]), tuple(float(count) for count in parts["seen"])
    end = math.ceil(1.15 * max(*expected, *seen, 1.0))
    names = [f"part {place}" for place in range(1, len(seen) + 1)]
    names[0] = "lowest risk"
    if len(seen) > 1:
        names[-1] = "highest risk"
    marks: list[Mark] = [
        Trace("curve:alike", 4, (0.0, float(end)), (0.0, float(end)), thin=True),
        Dots("dots:parts", 0, expected, seen),
        *(Label(f"label:{name}", x, y, name) for name, x, y in zip(names, expected, seen, strict=True)),
    ]
    ticks = _tens(0, end)
    panel = Panel(
        name="",
        x_label="Failures foreseen",
        y_label="Failures seen",
        x_limits=(0, end),
        y_limits=(0, end),
        x_ticks=ticks,
        y_ticks=ticks,
        marks=tuple(marks),
    )
    runs = sum(parts["runs"])
    subtitle = f"{counted(runs, 'run')} beside a failure, in {len(seen)} parts by the risk that the fit gives them."
    note = "On the sloping line as many failed as were foreseen."
    return Picture("risk", risk_words(hazard), subtitle, _note(findings, note), (panel,))
