"""The error of a difference between two groups that share belts.

A belt whose idler was swapped counts in the curve of either idler, so that the two means of runs are not from belts
apart. To first order a mean moves by the influence of each belt: the sum, over the runs it made in that group, of how
far the mean moves with the weight of that run. A belt moves the difference of two means by its influence on the later
one less that on the earlier one, and the variance is the sum of the squares of that over all belts.
"""

from __future__ import annotations

import numpy as np

from drivekit.life.curve import Curve
from drivekit.life.folds import Bools, Floats, Ints, frozen

__all__ = ["influence"]


def influence(found: Curve, horizon: int, age: Ints, failed: Bools, belt: Ints, n_belts: int) -> Floats:
    """Give how far each belt moves the mean to a horizon, in runs, shape (n_belts,).

    Parameters
    ----------
    horizon : int
        Runs to which the mean is taken; the curve reaches one run less, or 0.
    age, failed, belt : ndarray, shape (n_runs,)
        The runs of the curve: age in runs, whether a failure ended it, and code of the belt from 0.
    n_belts : int
        Belts in all groups together.

    Notes
    -----
    A run at age k with weight w enters the d failures and the n at risk there, and S(j), j >= k, by the factor
    1 - d/n. Its derivative by w is 1/n - 1/(n - d) less for a run that ended unfailed, and 1/n for a failure::

        dM/dw = -A (failed - d/n) / (n - d),   A = S(k) + ... + S(horizon - 1)

    and 0 where n = d, for A is 0 there. Ties and late entry need nothing more. Squared and summed over the runs of one
    age this is Greenwood's term A^2 d / (n (n - d)); summed by belt it is his variance of the mean exactly where every
    belt ran in this group alone and from its first run on.

    References
    ----------
    Williams, Lifetime Data Anal 1995 (product-limit curves of clustered lives); Reid, Ann Stat 1981 (the influence).
    """
    ages = np.arange(1, horizon)
    # S stands still over an age at which nobody was at risk
    survival = np.append(1.0, found.survival)[np.searchsorted(found.age, ages, "right")]
    area = np.append(np.cumsum(survival[::-1])[::-1], 0.0)[np.minimum(found.age, horizon) - 1]
    left = (found.at_risk - found.failed_at).astype(np.float64)
    rate = np.divide(area, left, out=np.zeros(left.size), where=left > 0)
    place = np.searchsorted(found.age, age)
    share = (found.failed_at / found.at_risk)[place]
    return frozen(np.bincount(belt, weights=-rate[place] * (failed - share), minlength=n_belts))
