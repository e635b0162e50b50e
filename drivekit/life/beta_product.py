"""Limits of a survival curve that hold with few belts, and where nothing has failed yet: products of beta variables.

With n at risk and d failed at an age, the share that survives it lies, as far as these belts tell, like a beta variable
B(n - d + 1, d); the share after several ages like the product W of one for each. The upper limit is a quantile of W;
the lower one of W times B(y, 1), y the fewest left unfailed at any age so far, for the next failure might have been
about to come. With everyone watched from the first run these are Clopper and Pearson's exact binomial limits. Quantiles
are those of the one beta variable with the product's mean and variance.

Where nothing has failed the upper limit is 1 and the lower one is one-sided: a share below it would have shown a
failure with the given confidence. A belt that came with runs on it (late entry) counts at the ages it ran; y being the
fewest at *any* age so far, a thin start keeps the lower limit low for good.

References
----------
Fay, Brittain and Proschan, Biostatistics 2013 (the limits, for right-censored times); Zou and Donner, Stat Med 2008
(limits of a difference from the limits of its parts).
"""

from __future__ import annotations

from math import hypot

import numpy as np

from drivekit.life.curve import Curve, first_age
from drivekit.life.folds import Estimate, Floats, frozen

__all__ = ["ages_by", "beta_product", "difference_by", "mean_by"]


def beta_product(found: Curve, confidence: float) -> tuple[Floats, Floats]:
    """Give the lower and the upper limit of a curve at each of its ages, shape (n_ages,) each.

    Its counts alone are used. Half of 1 - `confidence` is left on each side, all of it below where nothing has failed.
    """
    from scipy.special import betaincinv

    at_risk, failed = found.at_risk.astype(np.float64), found.failed_at.astype(np.float64)
    left = at_risk - failed
    mean: Floats = np.cumprod((left + 1) / (at_risk + 1), dtype=np.float64)
    square: Floats = np.cumprod((left + 1) * (left + 2) / ((at_risk + 1) * (at_risk + 2)), dtype=np.float64)
    fewest = np.minimum.accumulate(left)
    seen = np.cumsum(failed) > 0
    tail = np.where(seen, (1 - confidence) / 2, 1 - confidence)
    upper, lower = np.ones(at_risk.size), np.zeros(at_risk.size)
    upper[seen] = betaincinv(*_beta(mean[seen], square[seen]), 1 - tail[seen])
    some = fewest > 0
    next_mean, next_square = mean * fewest / (fewest + 1), square * fewest / (fewest + 2)
    lower[some] = betaincinv(*_beta(next_mean[some], next_square[some]), tail[some])
    return frozen(lower), frozen(upper)


def _beta(mean: Floats, square: Floats) -> tuple[Floats, Floats]:
    """Find the beta variables of these means and mean squares."""
    both = (mean - square) / (square - mean**2)
    return mean * both, (1 - mean) * both


def mean_by(found: Curve, limits: tuple[Floats, Floats], horizon: int) -> Estimate:
    """Give the mean to a horizon in runs with the areas under the limits of the curve, which `beta_product` gave.

    They are wide enough, whatever goes together. Null where `Curve.mean_to` is.
    """
    mean = found.mean_to(horizon)
    if mean.estimate is None:
        return mean
    below = found.age < horizon
    width = np.diff(np.concatenate([[0], found.age[below], [horizon]]))
    lower, upper = (float(np.concatenate([[1.0], limit[below]]) @ width) for limit in limits)
    return Estimate(mean.estimate, lower, upper, mean.se)


def difference_by(earlier: Estimate, later: Estimate) -> Estimate:
    """Give the later mean less the earlier one, with limits from the limits of both."""
    ends = [end for mean in (earlier, later) for end in (mean.estimate, mean.lower, mean.upper)]
    if None in ends:
        return Estimate(reason="; ".join(dict.fromkeys(mean.reason for mean in (earlier, later) if mean.reason)))
    at, low, high, other, other_low, other_high = (float(end) for end in ends if end is not None)
    estimate = other - at
    return Estimate(
        estimate, estimate - hypot(other - other_low, high - at), estimate + hypot(other_high - other, at - low)
    )


def ages_by(found: Curve, limits: tuple[Floats, Floats]) -> tuple[Estimate, Estimate]:
    """Find the ages by which half and a tenth have failed, their limits where those of the curve pass that share."""
    half, tenth = (first_age(share, found.age, found.survival, *limits) for share in (0.5, 0.1))
    return half, tenth
