"""The compiled loop of next season's test: a season lived and analysed; see :mod:`drivekit.decide.next_trial`.

Nothing here checks its input.
"""

import numpy as np

from drivekit.life._loops import compiled

__all__ = ["trial_seasons"]

# Beyond this a log hazard ratio changes the likelihood no more: one arm has no failure to compare with.
FARTHEST = 30.0


@compiled
def likelihood(at_risk, failed_at, coef):  # type: ignore[no-untyped-def]
    """Efron log partial likelihood, its slope and minus its curve, of counts by stratum, arm and age."""
    loglik, slope, curve = 0.0, 0.0, 0.0
    risk = np.exp(coef)
    for stratum in range(at_risk.shape[0]):
        for age in range(at_risk.shape[2]):
            d0, d1 = failed_at[stratum, 0, age], failed_at[stratum, 1, age]
            failures = d0 + d1
            if failures == 0:
                continue
            n0, n1 = at_risk[stratum, 0, age], at_risk[stratum, 1, age]
            loglik += d1 * coef
            slope += d1
            for k in range(failures):
                left0 = n0 - k / failures * d0
                left1 = (n1 - k / failures * d1) * risk
                total = left0 + left1
                share = left1 / total
                loglik -= np.log(total)
                slope -= share
                curve += share * (1.0 - share)
    return loglik, slope, curve


@compiled
def trial_seasons(generator, seasons, belts, hazard, other, ratio, cut, tally):  # type: ignore[no-untyped-def]
    """Live seasons and count in ``tally`` those told, all failures and all runs.

    ``belts[stratum, arm]`` start new; ``hazard[age]`` is the reference arm's, the other's ``1 - (1 - hazard)^ratio``;
    those that outlast a run end otherwise with the chance ``other[age]``. A season is told when twice the gain in log
    likelihood over no difference is at least ``cut``.
    """
    n_strata, ages = belts.shape[0], hazard.size
    at_risk = np.zeros((n_strata, 2, ages), np.int64)
    failed_at = np.zeros((n_strata, 2, ages), np.int64)
    for _ in range(seasons):
        for stratum in range(n_strata):
            for arm in range(2):
                left = belts[stratum, arm]
                for age in range(ages):
                    at_risk[stratum, arm, age] = left
                    failed_at[stratum, arm, age] = 0
                    if left == 0:
                        continue
                    tally[2] += left
                    chance = hazard[age] if arm == 0 else 1.0 - (1.0 - hazard[age]) ** ratio
                    failed = generator.binomial(left, chance)
                    failed_at[stratum, arm, age] = failed
                    tally[1] += failed
                    left -= failed
                    left -= generator.binomial(left, other[age])
        loglik, slope, curve = likelihood(at_risk, failed_at, 0.0)
        at_zero, coef = loglik, 0.0
        for _ in range(50):
            if curve <= 0.0:
                break
            step = min(max(slope / curve, -2.0), 2.0)
            coef = min(max(coef + step, -FARTHEST), FARTHEST)
            loglik, slope, curve = likelihood(at_risk, failed_at, coef)
            if abs(step) < 1e-6 or abs(coef) == FARTHEST:
                break
        if 2.0 * (loglik - at_zero) >= cut:
            tally[0] += 1
