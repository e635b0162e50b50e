"""The picture of differences: one row for each pair of levels, with its estimate and limits in runs.

The differences are those that the answers speak of: where an answer is standardised, so are all pairs of its setting,
and each row says out of how many runs. A pair that cannot be told has a row too, with its reason.
"""

from __future__ import annotations

import math

from drivekit.show.paper import Picture
from drivekit.show.phrases import Plain, amount, confidence_words, listed, spread, wording
from drivekit.show.rows import Row, Rows
from drivekit.show.words import INVENTED, answer, differences, verdict

__all__ = ["differences_picture"]


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
    rows = [row for name in findings["headline"] for row in _rows(findings, name)]
    ends = [limit for row in rows for limit in (row.lower, row.upper, row.estimate) if limit is not None]
    if not ends:
        return None
    reach = max(1.0, *(abs(end) for end in ends))
    step = next(step for step in (0.5, 1, 2, 5, 10, 20, 50, 100) if reach <= 4 * step)
    last = math.ceil(reach / step)
    drawn = Rows(
        panels={"": rows},
        ends=(-1.08 * last * step, 1.08 * last * step),
        ticks=[step * place for place in range(-last, last + 1)],
        none=0.0,
        x_label="Runs gained (below 0: lost)",
    )
    heads = [head for head in findings["headline"].values() if "reason" not in head]
    horizons = sorted({head.get("horizon_runs", findings["settings"].get("horizon_runs")) for head in heads})
    out_of = " or ".join(map(str, horizons)) + (" (said in each row)" if len(horizons) > 1 else "")
    confidence = confidence_words(findings["settings"]["confidence"])
    subtitle = f"Runs gained or lost out of the first {out_of}, {confidence}. {_alike(findings)}".strip()
    note = f"{INVENTED}" if findings["log"].get("invented") else ""
    return Picture("differences", _title(findings), subtitle, note, drawn.draw, drawn.needs)


def _alike(findings: Plain) -> str:
    """Say for which settings the others are held alike."""
    held = [
        wording(findings, name).noun
        for name, head in findings["headline"].items()
        if head.get("basis") == "standardised"
    ]
    return f"For {listed(held)} the car and the other settings are held alike." if held else ""


def _title(findings: Plain) -> str:
    """Say which settings made belts last, as far as the intervals tell."""
    judged = {wording(findings, name).noun: answer(findings, name) for name in findings["headline"]}
    told = [
        wording(findings, name).noun
        for name, head in findings["headline"].items()
        if verdict(head) in ("longer", "shorter")
    ]
    if not told:
        return "For none of the settings can a difference in belt life be told from chance."
    rest = [noun for noun in judged if noun not in told]
    warned = [f"{noun} (but see its warning)" if judged[noun].warning else noun for noun in told]
    text = f"A difference in belt life can be told for {listed(warned)}"
    return f"{text}; not for {' or '.join(rest)}." if rest else f"{text}."


def _rows(findings: Plain, name: str) -> list[Row]:
    words, block, head = wording(findings, name), findings["life"][name], findings["headline"][name]
    pairs = differences(findings, name)
    if "reason" in pairs:
        said = f"cannot tell: {pairs['reason']}"
        return [Row(f"interval:{name}", words.title, said)]
    rows = []
    for pair, difference in pairs.items():
        later, _, earlier = pair.partition(" minus ")
        levels = block["levels"]
        counts = " v. ".join(f"{levels[level]['failed']} of {levels[level]['belts']}" for level in (later, earlier))
        told = verdict(difference) != "no answer"
        of = head.get("horizon_runs", findings["settings"].get("horizon_runs"))
        said = (
            f"{amount(difference['estimate'])} {of} ({spread(difference['lower'], difference['upper'])})"
            if told
            else f"cannot tell: {difference.get('reason', 'no limits')}"
        )
        label = f"{words.title}: {later} minus {earlier}"
        three = (difference["estimate"], difference["lower"], difference["upper"]) if told else (None, None, None)
        rows.append(Row(f"interval:{name}:{pair}", label, said, f"{counts} failed", *three))
    return rows
