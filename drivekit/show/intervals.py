"""The picture of differences: one row for each pair of levels, with its estimate and limits in runs.

Where the findings' headline holds a better interval for a pair, that one is drawn; a pair that cannot be told has a row
too, with its reason.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from drivekit.show.phrases import confidence_words, decimal, listed, runs, spread
from drivekit.show.picture import Interval, Mark, Panel, Picture, Rule
from drivekit.show.words import INVENTED, answer, setting, verdict

__all__ = ["differences_picture"]

Plain = Mapping[str, Any]


def differences_picture(findings: Plain) -> Picture | None:
    """Draw up the differences of all planned comparisons.

    Parameters
    ----------
    findings : mapping
        The findings.

    Returns
    -------
    Picture or None
        None when there is no horizon to compare over, or no setting with two levels.
    """
    horizon = findings["settings"].get("horizon_runs")
    rows = [row for name in findings["headline"] for row in _rows(findings, name)]
    if horizon is None or not rows:
        return None
    rows = [Interval(r.gid, r.ink, at, r.name, r.said, r.counts, r.estimate, r.lower, r.upper)
            for at, r in enumerate(rows)]
    ends = [limit for row in rows for limit in (row.lower, row.upper, row.estimate) if limit is not None]
    reach = max(1.0, *(abs(end) for end in ends)) if ends else 1.0
    step = next(step for step in (0.5, 1, 2, 5, 10, 20, 50, 100) if reach <= 4 * step)
    last = math.ceil(reach / step)
    marks: tuple[Mark, ...] = (*rows, Rule("rule:0", 0.0, "no difference"))
    panel = Panel(
        name="",
        x_label=f"More of the {runs(horizon)} (fewer: below 0)",
        y_label="",
        x_limits=(-1.08 * last * step, 1.08 * last * step),
        y_limits=(len(rows) - 0.5, -0.5),
        x_ticks=tuple(step * place for place in range(-last, last + 1)),
        y_ticks=(),
        marks=marks,
    )
    subtitle = f"Difference in runs out of the {runs(horizon)}, {confidence_words(findings['settings']['confidence'])}."
    note = f"{INVENTED}" if findings["log"].get("invented") else ""
    return Picture("differences", _title(findings), subtitle, note, (panel,))


def _title(findings: Plain) -> str:
    """Say which settings made belts last, as far as the intervals tell."""
    judged = {setting(name).noun: answer(findings, name) for name in findings["headline"]}
    told = [noun for noun, said in judged.items() if said.verdict in ("longer", "shorter")]
    if not told:
        return "For none of the settings can a difference in belt life be told from chance."
    rest = [noun for noun in judged if noun not in told]
    warned = [f"{noun} (but see its warning)" if judged[noun].warning else noun for noun in told]
    text = f"A difference in belt life can be told for {listed(warned)}"
    return f"{text}; not for {' or '.join(rest)}." if rest else f"{text}."


def _rows(findings: Plain, name: str) -> list[Interval]:
    words, block, head = setting(name), findings["life"][name], findings["headline"][name]
    pairs = block.get("mean_difference", {"reason": block.get("reason", "")})
    if "reason" in pairs:
        said = f"cannot tell: {pairs['reason']}"
        return [Interval(f"interval:{name}", 0, 0, words.title, said, "", None, None, None)]
    rows = []
    for pair, difference in pairs.items():
        best = head if head.get("contrast") == pair and head.get("estimate") is not None else difference
        later, _, earlier = pair.partition(" minus ")
        levels = block["levels"]
        counts = " v. ".join(f"{levels[level]['failed']} of {levels[level]['belts']}" for level in (later, earlier))
        told = verdict(best) != "no answer"
        said = (
            f"{decimal(best['estimate'])} ({spread(best['lower'], best['upper'])})"
            if told
            else f"cannot tell: {best.get('reason', 'no limits')}"
        )
        label = f"{words.title}: {later} minus {earlier}"
        three = (best["estimate"], best["lower"], best["upper"]) if told else (None, None, None)
        rows.append(Interval(f"interval:{name}:{pair}", 0, 0, label, said, f"{counts} failed", *three))
    return rows
