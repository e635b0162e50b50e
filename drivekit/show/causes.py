"""The picture of how belts fail: for each cause, the share of belts it has ended by each run.

The curves are Aalen-Johansen incidences: causes compete, so they and the share that has not failed add to 100 %. Limits
at the horizon are put on the log(-log) scale, where they stay between 0 and 1.
"""

from __future__ import annotations

import math
from statistics import NormalDist
from typing import TYPE_CHECKING

from drivekit.show.axes import framed, number_axis, plot_height
from drivekit.show.beside import write_beside
from drivekit.show.paper import Picture, Size, ink, noted, width
from drivekit.show.phrases import Plain, confidence_words, counted, listed, percent
from drivekit.show.step_curves import X_LABEL, Rows, set_ages, table_high, write_table

if TYPE_CHECKING:
    from matplotlib.figure import SubFigure

__all__ = ["causes_picture", "limits_of", "shares_by"]

CAUSE_WORDS = {
    "tooth-jump": "jumped a tooth",
    "tooth-loss": "lost teeth",
    "edge-split": "split at an edge",
    "cord-pull": "pulled a cord",
    "unknown": "broke, cause unknown",
}


def limits_of(share: float, se: float | None, confidence: float) -> tuple[float, float] | None:
    """Put limits about an incidence from its standard error.

    Parameters
    ----------
    share, se : float
        The incidence and its standard error.
    confidence : float
        Of the limits.

    Returns
    -------
    tuple of two floats or None
        None where the share is 0 or 1, or has no standard error.

    References
    ----------
    Kalbfleisch and Prentice, *The Statistical Analysis of Failure Time Data*, 2nd ed. (2002), section 1.4: limits for a
    share on the log(-log) scale, here with the incidence's own standard error.
    """
    if not 0 < share < 1 or not se:
        return None
    reach = NormalDist().inv_cdf(0.5 + confidence / 2) * se / abs(share * math.log(share))
    return share ** math.exp(reach), share ** math.exp(-reach)


def shares_by(findings: Plain, age: int) -> dict[str, tuple[float, str]]:
    """Read off what share of belts each cause had ended by a run, the largest first.

    Parameters
    ----------
    findings : mapping
        The findings.
    age : int
        The run; beyond the oldest belt its last value is not carried on.

    Returns
    -------
    dict of str to tuple
        By cause, of all that count as failures, those never seen included: its share, and a phrase that says it with
        its limits.
    """
    shares = {}
    for cause, block in findings["causes"].items():
        place = max((place for place, at in enumerate(block["age"]) if at <= age), default=None)
        share, se = (0.0, None) if place is None else (block["incidence"][place], block["se"][place])
        limits = limits_of(share, se, findings["settings"]["confidence"])
        between = " to ".join(percent(limit).removesuffix(" %") for limit in limits or ())
        said = f"{percent(share)} {CAUSE_WORDS.get(cause, f'ended by {cause}')}"
        shares[cause] = share, f"{said} ({between})" if between else said
    return dict(sorted(shares.items(), key=lambda each: -each[1][0]))


def causes_picture(findings: Plain) -> Picture | None:
    """Draw up the incidences of all causes that count as failures.

    Parameters
    ----------
    findings : mapping
        The findings.

    Returns
    -------
    Picture or None
        None when no belt of known age has made a run.
    """
    overall = findings["life"]["overall"]
    if "age" not in overall:
        return None
    oldest = overall["age"][-1]
    by = min(findings["settings"].get("horizon_runs") or oldest, oldest)
    shares = shares_by(findings, by)
    seen = [cause for cause in shares if any(findings["causes"][cause]["incidence"])]
    never = [cause for cause in shares if cause not in seen]
    said = [phrase for share, phrase in shares.values() if share > 0]
    confidence = confidence_words(findings["settings"]["confidence"])
    title = f"By run {by}, {listed(said)} ({confidence} in brackets)." if said else f"By run {by} no belt had failed."
    belts = f"{counted(overall['belts'], 'belt')}, {overall['failed']} failed"
    subtitle = f"Share of belts that each cause has ended by each run, the causes competing. {belts}."
    table = "Table: belts that made that run (failed so far, of any cause)."
    note = noted(findings, table, f"Never seen: {listed(never)}." if never else "")
    rows = {"all": (None, overall)}

    def draw(body: SubFigure, size: Size) -> None:
        _draw(body, size, findings, seen, rows)

    def needs(size: Size) -> float:
        return plot_height(size) + table_high(rows, size)

    return Picture("causes", title, subtitle, note, draw, needs)


def _draw(body: SubFigure, size: Size, findings: Plain, seen: list[str], rows: Rows) -> None:
    """Draw a rising step curve for each cause seen, its name and last share at its end, and the table of all belts."""
    blocks, order = findings["causes"], list(findings["causes"])
    shares = {cause: [100 * value for value in blocks[cause]["incidence"]] for cause in seen}
    words = {cause: f"{cause} {percent(blocks[cause]['incidence'][-1])}" for cause in seen}
    right = max((width(text, size.text) for text in words.values()), default=0.0) + 0.6 * size.gap
    y_label = "Belts ended by that cause, %"
    axes = framed(body, size, X_LABEL, y_label, right=right, below=table_high(rows, size))
    top = max((percents[-1] for percents in shares.values()), default=10.0)
    axes.set_ylim(0, 1.02 * next(limit for limit in (10, 20, 40, 60, 80, 100) if top <= limit))
    number_axis(axes.yaxis)
    set_ages(axes, size, rows, findings["life"]["overall"]["age"][-1])
    lines, names = [], []
    for cause in seen:
        age, style = blocks[cause]["age"], ink(order.index(cause))
        steps = (age[0] - 1, *age), (0.0, *shares[cause])
        look = {"drawstyle": "steps-post", "linewidth": size.line, "clip_on": False, **style}
        lines += axes.plot(*steps, gid=f"curve:{cause}", **look)
        names.append((cause, words[cause], (age[-1], shares[cause][-1]), style["color"]))
    write_beside(axes, size, names, (), lines)
    write_table(axes, size, rows, 3.1 * size.gap)
