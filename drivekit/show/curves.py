"""The picture of belt life: step curves with bands, what failed and what ran on, and who was at risk.

A curve starts at 100 % at the youngest entry and stops at the oldest belt. Where the findings hold `from_age` (too few
belts at the first ages) that curve is drawn: the life of a belt that starts that run. A band runs from the first
failure to where a limit can no longer be estimated. Up to three levels share a panel; more become small multiples on
the same axes.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import accumulate

from drivekit.show.phrases import Plain, confidence_words, counted, half, listed, one_in_ten, wording
from drivekit.show.picture import Band, Drop, Label, Mark, Panel, Picture, RiskRow, Spots, Steps, Ticks
from drivekit.show.words import INVENTED, Answer, curves_answer, exploratory_answer

__all__ = ["comparison_picture", "overall_picture", "survival_panels", "whole_ticks"]

PER_PANEL = 3
"""Bands that one panel can carry before they hide each other."""

NUMBERED = 8
"""Ticks of a panel that can carry a number before the numbers hide the curves."""

X_LABEL, Y_LABEL = "Runs on the belt", "Belts not failed, %"


@dataclass(frozen=True, slots=True)
class Drawn:
    """The part of a CURVE that is drawn.

    Parameters
    ----------
    start : int
        Age at which the curve stands at 100 %.
    age : tuple of int
        Ages after that, in order.
    survival, lower, upper : tuple of float or None
        Shares at those ages; a limit is None where it cannot be estimated.
    failed_at, censored_at : tuple of int
        Belts that failed at those ages, and belts whose last run in the group was at that age without failing.
    """

    start: int
    age: tuple[int, ...]
    survival: tuple[float, ...]
    lower: tuple[float | None, ...]
    upper: tuple[float | None, ...]
    failed_at: tuple[int, ...]
    censored_at: tuple[int, ...]

    @classmethod
    def of(cls, curve: Plain) -> Drawn:
        """Take what is drawn from a CURVE: all of it, or the life from `from_age` on."""
        later = curve.get("from_age")
        source = later or curve
        age = source["age"]
        blank = [None] * len(age)
        skip = len(curve["age"]) - len(age)
        return cls(
            (later["from"] if later else age[0]) - 1,
            tuple(age),
            tuple(source["survival"]),
            tuple(source.get("lower", blank)),
            tuple(source.get("upper", blank)),
            tuple(curve["failed_at"][skip:]),
            tuple(curve.get("censored_at", [0] * len(curve["age"]))[skip:]),
        )

    def steps(self, name: str, ink: int) -> Steps:
        """Give the vertices of the curve."""
        return Steps(f"curve:{name}", ink, (self.start, *self.age), (100.0, *(100 * share for share in self.survival)))

    def band(self, name: str, ink: int) -> Band | None:
        """Give the limits from the first failure to where one of them ends; None where there are none."""
        first = next((place for place, failed in enumerate(self.failed_at) if failed), len(self.age))
        end = first
        while end < len(self.age) and self.lower[end] is not None and self.upper[end] is not None:
            end += 1
        if end == first:
            return None
        lower = [100 * limit for limit in self.lower[first:end] if limit is not None]
        upper = [100 * limit for limit in self.upper[first:end] if limit is not None]
        # the last pair of limits holds until the next age, as the curve does
        close = self.age[end] if end < len(self.age) else self.age[-1]
        return Band(f"band:{name}", ink, (*self.age[first:end], close), (*lower, lower[-1]), (*upper, upper[-1]))

    def failures(self, name: str, ink: int) -> Spots:
        """Give the foot of every step."""
        seen = [(age, 100 * share) for age, share, d in zip(self.age, self.survival, self.failed_at, strict=True) if d]
        return Spots(f"failures:{name}", ink, tuple(age for age, _ in seen), tuple(share for _, share in seen))

    def censorings(self, name: str, ink: int, numbered: int) -> Ticks:
        """Give the ages at which belts left the group without failing, and how many share a tick before it says so."""
        seen = [
            (age, 100 * share, count)
            for age, share, count in zip(self.age, self.survival, self.censored_at, strict=True)
            if count
        ]
        ages, shares, counts = zip(*seen, strict=True) if seen else ((), (), ())
        return Ticks(f"censored:{name}", ink, ages, shares, counts, numbered)

    def drop(self, name: str, ink: int) -> Drop | None:
        """Give the line down from the first age at which at most half of the belts have not failed."""
        # S may stand at one half and a rounding error: the same tolerance as the estimate's own
        for age, share in zip(self.age, self.survival, strict=True):
            if share <= 0.5 + 1e-12:
                return Drop(f"median:{name}", ink, age, 100 * share)
        return None


def whole_ticks(oldest: int) -> tuple[float, ...]:
    """Choose the ages that carry a number: the first run, then every 2nd, 5th, 10th, ... so that ten suffice."""
    step = next(step for scale in (1, 10, 100, 1000) for step in (scale, 2 * scale, 5 * scale) if oldest <= 10 * step)
    if step <= 2:
        return tuple(range(1, oldest + 1, step))
    return (1, *range(step, oldest + 1, step))


def survival_panels(levels: Mapping[str, Plain]) -> tuple[Panel, ...]:
    """Draw up the life curves of one or more groups.

    Parameters
    ----------
    levels : mapping of str to mapping
        A CURVE for each group, in order.

    Returns
    -------
    tuple of Panel
        One panel for up to three groups, else one for each, on shared axes.
    """
    oldest = max(curve["age"][-1] for curve in levels.values())
    names = list(levels)
    shared = [names] if len(names) <= PER_PANEL else [[name] for name in names]
    return tuple(
        Panel(
            name="" if len(shared) == 1 else group[0],
            x_label=X_LABEL,
            y_label=Y_LABEL,
            x_limits=(0, oldest + 0.3),
            y_limits=(0, 102),
            x_ticks=whole_ticks(oldest),
            y_ticks=(0, 25, 50, 75, 100),
            marks=_marks({name: levels[name] for name in group}, names, named=len(shared) == 1 and len(names) > 1),
            table=tuple(
                _risk_row(name, names.index(name) if len(names) > 1 else None, levels[name], oldest) for name in group
            ),
        )
        for group in shared
    )


def _marks(group: Mapping[str, Plain], order: Sequence[str], *, named: bool) -> tuple[Mark, ...]:
    """Give every mark of a panel: bands under curves, curves under dots."""
    drawn = {name: Drawn.of(curve) for name, curve in group.items()}
    each = [(name, order.index(name), curve) for name, curve in drawn.items()]
    numbered = _numbered(drawn.values())
    below: list[Mark] = [band for name, ink, curve in each if (band := curve.band(name, ink)) is not None]
    below += [drop for name, ink, curve in each if (drop := curve.drop(name, ink)) is not None]
    below += [curve.steps(name, ink) for name, ink, curve in each]
    below += [ticks for name, ink, curve in each if (ticks := curve.censorings(name, ink, numbered)).x]
    below += [spots for name, ink, curve in each if (spots := curve.failures(name, ink)).x]
    for name, _, curve in each:
        text = name if sum(curve.failed_at) else f"{name}: none failed" if named else "none failed"
        if named or not sum(curve.failed_at):
            below.append(Label(f"label:{name}", curve.age[-1], 100 * curve.survival[-1], text))
    return tuple(below)


def _numbered(drawn: Iterable[Drawn]) -> int:
    """Give the least number of belts, 3 or more, from which on ticks are numbered, so that few enough are."""
    counts = sorted((count for curve in drawn for count in curve.censored_at if count >= 3), reverse=True)
    return counts[NUMBERED] + 1 if len(counts) > NUMBERED else 3


def _risk_row(name: str, ink: int | None, curve: Plain, oldest: int) -> RiskRow:
    at_risk = dict(zip(curve["age"], curve["at_risk"], strict=True))
    failed_at = dict(zip(curve["age"], curve["failed_at"], strict=True))
    ages = range(oldest + 1)
    so_far = dict(zip(ages, accumulate(failed_at.get(age, 0) for age in ages), strict=True))
    return RiskRow(f"risk:{name}", ink, name, at_risk, so_far)


def comparison_picture(findings: Plain, name: str) -> Picture | None:
    """Draw up the curves of one setting's levels.

    Parameters
    ----------
    findings : mapping
        The findings.
    name : str
        The setting, planned or exploratory.

    Returns
    -------
    Picture or None
        None when the block has no levels: there is a reason instead.
    """
    planned = name in findings["headline"]
    block = findings["life"][name] if planned else findings["life"]["more"][name]
    if not block.get("levels"):
        return None
    said: Answer = curves_answer(findings, name) if planned else exploratory_answer(findings, name)
    levels = block["levels"]
    subtitle = f"Share of belts not failed after each run, by {wording(findings, name).noun} ({_stand_behind(levels)})."
    if name == "tension":
        subtitle += _cuts(findings)
    return Picture(name, said.title, subtitle, _note(findings, levels), survival_panels(levels))


def overall_picture(findings: Plain) -> Picture | None:
    """Draw up the curve of all belts together; None when no belt of known age has made a run."""
    curve = findings["life"]["overall"]
    if "age" not in curve:
        return None
    confidence = confidence_words(findings["settings"]["confidence"])
    title = f"Of all belts, {one_in_ten(curve)} and {half(curve)} ({confidence} in brackets)."
    if not curve["failed"]:
        title = f"Of {counted(curve['belts'], 'belt')} none failed in {counted(curve['runs'], 'run')}."
    subtitle = f"Share of belts not failed after each run ({_stand_behind({'all': curve})})."
    return Picture("overall", title, subtitle, _note(findings, {"all belts": curve}), survival_panels({"all": curve}))


def _stand_behind(levels: Mapping[str, Plain]) -> str:
    counts = (f"{name}: {counted(curve['belts'], 'belt')}, {curve['failed']} failed" for name, curve in levels.items())
    return "; ".join(counts)


def _cuts(findings: Plain) -> str:
    cuts = findings["settings"].get("tension_cuts_n")
    return f" Low ends at {cuts[0]:,.0f} N, middle at {cuts[1]:,.0f} N." if cuts else ""


def _note(findings: Plain, levels: Mapping[str, Plain]) -> str:
    """Say how to read the marks, and whatever is unusual in this picture."""
    drawn = {name: Drawn.of(curve) for name, curve in levels.items()}
    parts = []
    if any(curve.band("", 0) for curve in drawn.values()):
        parts.append(f"Bands: {confidence_words(findings['settings']['confidence'])}, point by point.")
    if any(sum(curve.failed_at) for curve in drawn.values()):
        parts.append("Dots: failures.")
    if any(sum(curve.censored_at) for curve in drawn.values()):
        moved = ", or moved to another setting" if len(levels) > 1 else ""
        numbered = _numbered(drawn.values())
        many = any(count >= numbered for curve in drawn.values() for count in curve.censored_at)
        number = f"; a number where {numbered} or more share one" if many and len(drawn) <= PER_PANEL else ""
        parts.append(f"Ticks: belts still running or taken off early{moved}{number}.")
    parts.append("Table: belts that made that run (failed so far).")
    if any(_rises(curve) for curve in levels.values()):
        parts.append("Belts that came used, or changed setting, join at their age, so a count can rise.")
    if none := [name for name, curve in levels.items() if not curve["failed"]]:
        parts.append(f"No belt failed: {listed(none)}; its line is flat and has no band.")
    for name, curve in levels.items():
        if later := curve.get("from_age"):
            band = "" if "lower" in later else ", and it has no band"
            text = f"{name}: life of a belt that starts run {later['from']}, for too few ran before it{band}."
            parts.append(text[:1].upper() + text[1:])
    if findings["log"].get("invented"):
        parts.append(INVENTED)
    return " ".join(parts)


def _rises(curve: Plain) -> bool:
    return any(later > earlier for earlier, later in zip(curve["at_risk"], curve["at_risk"][1:], strict=False))
