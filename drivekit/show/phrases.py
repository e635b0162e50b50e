"""Numbers as the crew says them: runs, shares, odds, spreads; each rounded to what its interval supports.

A tenth of a run is the finest a season of belts can tell, and a whole percent the finest share.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

__all__ = [
    "amount",
    "by_run",
    "chance",
    "confidence_words",
    "counted",
    "decimal",
    "half",
    "listed",
    "one_in_ten",
    "percent",
    "runs",
    "spread",
]

Plain = Mapping[str, Any]


def decimal(value: float, places: int = 1) -> str:
    """Write a number to so many places, the way the trade writes thousandths: ``.6``, ``1.9``, ``-.4``, ``0``."""
    text = f"{value:.{places}f}"
    if float(text) == 0:
        return "0"
    return text.replace("0.", ".", 1) if text.lstrip("-").startswith("0.") else text


def percent(share: float) -> str:
    """Write a share as a whole percentage; one that is neither none nor all is never rounded to either."""
    whole = round(100 * share)
    if whole == 0 and share > 0:
        return "under 1 %"
    if whole == 100 and share < 1:
        return "over 99 %"
    return f"{whole} %"


def confidence_words(confidence: float) -> str:
    """Write a confidence: ``95 %``, ``97.5 %``."""
    return f"{100 * confidence:g} %"


def listed(items: Sequence[str]) -> str:
    """Join words as a sentence does: ``a, b and c``."""
    return items[0] if len(items) == 1 else f"{', '.join(items[:-1])} and {items[-1]}" if items else ""


def counted(number: int, one: str) -> str:
    """Count things in words: ``1 belt``, ``21 belts``."""
    return f"{number} {one}" if number == 1 else f"{number} {one}s"


def runs(horizon: int) -> str:
    """Name a horizon: ``first 12 runs``."""
    return "first run" if horizon == 1 else f"first {horizon} runs"


def spread(lower: float, upper: float) -> str:
    """Say an interval of a difference in runs so that its direction cannot be misread.

    Parameters
    ----------
    lower, upper : float
        The limits, in runs; negative is fewer.

    Returns
    -------
    str
        ``.6 to 3.1`` when all of it is more, ``.6 to 3.1 fewer`` when all of it is fewer, else ``1.5 fewer to 2.2
        more``.
    """
    if lower >= 0:
        return f"{decimal(lower)} to {decimal(upper)}"
    if upper <= 0:
        return f"{decimal(-upper)} to {decimal(-lower)} fewer"
    return f"{decimal(-lower)} fewer to {decimal(upper)} more"


def amount(estimate: float) -> str:
    """Say a difference in runs: ``1.9 more of``, ``.4 fewer of``, ``as many of``."""
    size = decimal(abs(estimate))
    return "as many of" if size == "0" else f"{size} {'more' if estimate > 0 else 'fewer'} of"


def chance(p: float) -> str:
    """Say a small chance as a crew says odds: ``1 time in 40``, ``4 times in 10``.

    Parameters
    ----------
    p : float
        The chance, 0 to 1.

    Returns
    -------
    str
        One in a rounded number below a fifth, tenths above it.
    """
    if p >= 0.95:
        return "nearly every time"
    if p >= 0.2:
        tenths = round(10 * p)
        return f"{tenths} times in 10"
    if p < 0.0005:
        return "less than 1 time in 2,000"
    once_in = 1 / p
    step = 1 if once_in < 20 else 5 if once_in < 100 else 10 ** (len(str(int(once_in))) - 1) // 2
    return f"1 time in {max(2, round(once_in / step) * step):,}"


def by_run(age: Plain, share: str, oldest: int) -> str:
    """Say by which run a share of belts has failed, with its limits.

    Parameters
    ----------
    age : mapping
        An EST of the findings: ``estimate``, ``lower``, ``upper``, any of them null.
    share : str
        The share in words: "half", "1 in 10".
    oldest : int
        The oldest age seen, for the case that so many have not failed.

    Returns
    -------
    str
        ``half had failed by run 12 (95 %: 9 to 15)`` without its confidence; a limit that cannot be had is said.
    """
    estimate, lower, upper = age.get("estimate"), age.get("lower"), age.get("upper")
    if estimate is None:
        return f"{share} had not failed by run {oldest}, the oldest"
    if lower is None and upper is None:
        return f"{share} had failed by run {estimate} (limits cannot be told)"
    if upper is None:
        return f"{share} had failed by run {estimate} (run {lower} or later)"
    if lower is None:
        return f"{share} had failed by run {estimate} (run {upper} or earlier)"
    return f"{share} had failed by run {estimate} ({lower} to {upper})"


def half(curve: Plain) -> str:
    """Say by which run half the belts of a curve had failed."""
    return by_run(curve["median"], "half", curve["age"][-1])


def one_in_ten(curve: Plain) -> str:
    """Say the run by which 1 in 10 belts of a curve had failed."""
    return by_run(curve["b10"], "1 in 10", curve["age"][-1])
