"""What else could stand behind a difference between settings: the season, the car, or what nobody recorded.

If the toothed idler came on in mid-season, or on one car only, its belts also ran in other weather, by other hands, on
another engine, and a plain comparison cannot tell the one from the other. A table says how each level's runs fall over
the parts (thirds of the season, cars), and one number how far two levels were run side by side. The E-value says how
strong something that nobody recorded would have to be to explain a finding away.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from math import expm1, log, sqrt

import numpy as np
from numpy.typing import ArrayLike

from drivekit.life.folds import Ints, codes, frozen

__all__ = ["ENOUGH", "Overlap", "e_value", "overlap", "thirds", "unrecorded"]

ENOUGH = 2 / 3


@dataclass(frozen=True, slots=True, eq=False)
class Overlap:
    """How the levels of a setting fall over the parts of a season, and whether they can be told from them.

    Parameters
    ----------
    runs : ndarray of int, shape (n_levels, n_parts)
        Runs of each level made in each part.
    common, apart : float or None, tuple of int or None
        Of two levels' runs, each level's counted as one whole, the share made in the same parts: 1 where both fall over
        the parts alike, 0 where no part saw both; and the codes of the two, of more those with the least in common.
    together : bool
        Whether the setting came together with the parts: `common` is below two thirds.
    reason : str or None
        Why `common` cannot be told, in plain words.
    """

    runs: Ints
    common: float | None
    apart: tuple[int, int] | None
    together: bool
    reason: str | None = None


def overlap(level: ArrayLike, n_levels: int, part: ArrayLike, n_parts: int) -> Overlap:
    """Say how far the levels of a setting were run side by side.

    Parameters
    ----------
    level, part : array_like of int, shape (n_runs,)
        Code of the level on each run, 0 to ``n_levels - 1``, or -1 for blank, which is not counted; and of the part of
        the season, or of the car, 0 to ``n_parts - 1``.

    Raises
    ------
    ValueError
        If the arrays differ in length or a code is out of range.

    Notes
    -----
    `common` is the sum over parts of the smaller of the two levels' shares. A level may be rare: it falls only where
    the level was run elsewhere. Why two thirds: were some parts twice as hard on belts as the rest, one level could by
    that alone show up to ``2 - common`` times the failures a run of the other. Below two thirds that is more than a
    third more, as large as the effects looked for, so the comparison must carry the warning.
    """
    levels, parts = codes(level, "level", -1, n_levels), codes(part, "part", 0, n_parts)
    if levels.size != parts.size:
        raise ValueError(f"one row is one run: {levels.size} levels and {parts.size} parts differ")
    known = levels >= 0
    cell = levels[known] * n_parts + parts[known]
    runs = np.bincount(cell, minlength=n_levels * n_parts).reshape(n_levels, n_parts)
    total = runs.sum(axis=1, keepdims=True)
    share = np.divide(runs, total, out=np.full(runs.shape, np.nan), where=total > 0)
    pairs = combinations((int(code) for code in np.flatnonzero(total)), 2)
    common = [(float(np.minimum(share[one], share[other]).sum()), (one, other)) for one, other in pairs]
    if not common:
        return Overlap(frozen(runs), None, None, False, "fewer than two levels have a run")
    least, apart = min(common)
    return Overlap(frozen(runs), least, apart, least < ENOUGH)


def thirds(n_runs: int) -> Ints:
    """Part the runs of a season, in the order made, into its first, middle and last third: 0, 1 and 2."""
    return np.arange(n_runs, dtype=np.int64) * 3 // max(n_runs, 1)


def e_value(hazard_ratio: float) -> float:
    """Turn a hazard ratio of a common outcome into its E-value, 1 or more.

    The least risk ratio that an unrecorded cause would need with the setting and with failure, both, above all that is
    in the fit, for the setting itself to do nothing: RR + sqrt(RR (RR - 1)). Over a season most belts fail, so that a
    hazard ratio is first turned into an approximate risk ratio, (1 - .5^sqrt(HR)) / (1 - .5^sqrt(1/HR)).

    Raises
    ------
    ValueError
        If the ratio is not above 0.

    References
    ----------
    VanderWeele and Ding, Annals of Internal Medicine 2017; the conversion for a common outcome is in its table 2.
    """
    if not hazard_ratio > 0:
        raise ValueError(f"a hazard ratio is above 0, not {hazard_ratio}")
    root = sqrt(max(hazard_ratio, 1 / hazard_ratio))
    risk_ratio = expm1(-log(2) * root) / expm1(-log(2) / root)  # 1 - .5^y, exact for a small y too
    return float(risk_ratio + sqrt(risk_ratio * (risk_ratio - 1)))


def unrecorded(hazard_ratio: float, lower: float | None, upper: float | None) -> tuple[float, float | None]:
    """Give the E-values of an estimate and of its limit nearer to 1.

    A limit of None is without end. That of the limit is 1 where the interval spans 1, and None where the one nearer to
    1 cannot be had.
    """
    nearer = upper if hazard_ratio < 1 else lower
    spans = (lower is None or lower <= 1) and (upper is None or upper >= 1)
    limit = 1.0 if spans else None if nearer is None else e_value(nearer)
    return e_value(hazard_ratio), limit
