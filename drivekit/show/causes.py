"""The picture of how belts fail: for each cause, the share of belts it has ended by each run.

The curves are Aalen-Johansen incidences: causes compete, so they and the share that has not failed add to 100 %. Limits
at the horizon are put on the log(-log) scale, where they stay between 0 and 1.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist
from typing import TYPE_CHECKING

from drivekit.show.axes import framed, number_axis, plot_height
from drivekit.show.beside import write_beside
from drivekit.show.paper import Picture, Size, ink, width
from drivekit.show.phrases import Plain, confidence_words, counted, listed, percent
from drivekit.show.step_curves import X_LABEL, Rows, set_ages, table_high, write_table
from drivekit.show.words import INVENTED

if TYPE_CHECKING:
    from matplotlib.figure import SubFigure

__all__ = ["Share", "causes_picture", "shares_by"]

CAUSE_WORDS = {
    "tooth-jump": "jumped a tooth",
    "tooth-loss": "lost teeth",
    "edge-split": "split at an edge",
    "cord-pull": "pulled a cord",
    "unknown": "broke, cause unknown",
}


@dataclass(frozen=True, slots=True)
class Share:
    """The share of belts that one cause had ended by a run, with limits.

    Parameters
    ----------
    cause : str
        Its name in the log.
    share : float
        Incidence.
    lower, upper : float or None
        Its limits; None where the share is 0 or 1, or has no standard error.

    References
    ----------
    Kalbfleisch and Prentice, *The Statistical Analysis of Failure Time Data*, 2nd ed. (2002), section 1.4: limits for a
    share on the log(-log) scale, here with the incidence's own standard error.
    """

    cause: str
    share: float
    lower: float | None
    upper: float | None

    @classmethod
    def of(cls, cause: str, share: float, se: float | None, confidence: float) -> Share:
        """Put limits about an incidence from its standard error."""
        if not 0 < share < 1 or not se:
            return cls(cause, share, None, None)
        reach = NormalDist().inv_cdf(0.5 + confidence / 2) * se / abs(share * math.log(share))
        return cls(cause, share, share ** math.exp(reach), share ** math.exp(-reach))

    @property
    def limits(self) -> str:
        """The limits in words: ``9 to 31``; empty where they cannot be had."""
        if self.lower is None or self.upper is None:
            return ""
        return f"{percent(self.lower).removesuffix(' %')} to {percent(self.upper).removesuffix(' %')}"

    def __str__(self) -> str:
        said = CAUSE_WORDS.get(self.cause, f"ended by {self.cause}")
        return f"{percent(self.share)} {said}" + (f" ({self.limits})" if self.limits else "")


def shares_by(findings: Plain, age: int) -> list[Share]:
    """Read off what share of belts each cause had ended by a run, the largest first.

    Parameters
    ----------
    findings : mapping
        The findings.
    age : int
        The run; beyond the oldest belt its last value is not carried on.

    Returns
    -------
    list of Share
        Every cause that counts as a failure, those never seen included.
    """
    confidence = findings["settings"]["confidence"]
    shares = []
    for cause, block in findings["causes"].items():
        place = max((place for place, at in enumerate(block["age"]) if at <= age), default=None)
        if place is None:
            shares.append(Share.of(cause, 0.0, None, confidence))
        else:
            shares.append(Share.of(cause, block["incidence"][place], block["se"][place], confidence))
    return sorted(shares, key=lambda share: -share.share)


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
    seen = [share for share in shares if any(findings["causes"][share.cause]["incidence"])]
    never = [share.cause for share in shares if share not in seen]
    confidence = confidence_words(findings["settings"]["confidence"])
    title = f"By run {by}, {listed([str(share) for share in seen if share.share > 0])} ({confidence} in brackets)."
    if not any(share.share > 0 for share in seen):
        title = f"By run {by} no belt had failed."
    belts = f"{counted(overall['belts'], 'belt')}, {overall['failed']} failed"
    subtitle = f"Share of belts that each cause has ended by each run, the causes competing. {belts}."
    note = "Table: belts that made that run (failed so far, of any cause)."
    if never:
        note += f" Never seen: {listed(never)}."
    if findings["log"].get("invented"):
        note += f" {INVENTED}"
    rows = {"all": (None, overall)}

    def draw(body: SubFigure, size: Size) -> None:
        _draw(body, size, findings, [share.cause for share in seen], rows)

    def needs(size: Size) -> float:
        return plot_height(size) + table_high(rows, size)

    return Picture("causes", title, subtitle, note, draw, needs)


def _draw(body: SubFigure, size: Size, findings: Plain, seen: list[str], rows: Rows) -> None:
    """Draw a rising step curve for each cause seen, its name and last share at its end, and the table of all belts."""
    blocks, order = findings["causes"], list(findings["causes"])
    shares = {cause: [100 * value for value in blocks[cause]["incidence"]] for cause in seen}
    words = {cause: f"{cause} {percent(blocks[cause]['incidence'][-1])}" for cause in seen}
    axes = framed(
        body,
        size,
        x_label=X_LABEL,
        y_label="Belts ended by that cause, %",
        right=max((width(text, size.text) for text in words.values()), default=0.0) + 0.6 * size.gap,
        below=table_high(rows, size),
    )
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
