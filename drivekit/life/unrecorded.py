"""How strong something that nobody recorded would have to be to explain a finding away.

The E-value: the least risk ratio that an unrecorded cause would need with the setting and with failure, both, above all
that is in the fit, for the setting itself to do nothing. Over a season most belts fail, so that a hazard ratio is first
turned into an approximate risk ratio, (1 - .5^sqrt(HR)) / (1 - .5^sqrt(1/HR)).

VanderWeele and Ding, Annals of Internal Medicine 2017: the E-value RR + sqrt(RR (RR - 1)), and the conversion for a
common outcome in its table 2.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import expm1, log, sqrt

__all__ = ["Unrecorded", "e_value", "unrecorded"]


@dataclass(frozen=True, slots=True)
class Unrecorded:
    """The E-values of a hazard ratio.

    Parameters
    ----------
    estimate : float
        For the estimate.
    limit : float or None
        For the limit nearer to 1; 1 where the interval spans 1; None where that limit cannot be had.
    """

    estimate: float
    limit: float | None


def e_value(hazard_ratio: float) -> float:
    """Turn a hazard ratio of a common outcome into its E-value, 1 or more.

    Raises
    ------
    ValueError
        If the ratio is not above 0.
    """
    if not hazard_ratio > 0:
        raise ValueError(f"a hazard ratio is above 0, not {hazard_ratio}")
    root = sqrt(max(hazard_ratio, 1 / hazard_ratio))
    risk_ratio = expm1(-log(2) * root) / expm1(-log(2) / root)  # 1 - .5^y, exact for a small y too
    return float(risk_ratio + sqrt(risk_ratio * (risk_ratio - 1)))


def unrecorded(hazard_ratio: float, lower: float | None, upper: float | None) -> Unrecorded:
    """Give the E-values of an estimate and of its limit nearer to 1.

    Parameters
    ----------
    hazard_ratio : float
        The estimate.
    lower, upper : float or None
        Its limits; None: without end.
    """
    nearer = upper if hazard_ratio < 1 else lower
    spans = (lower is None or lower <= 1) and (upper is None or upper >= 1)
    limit = 1.0 if spans else None if nearer is None else e_value(nearer)
    return Unrecorded(e_value(hazard_ratio), limit)
