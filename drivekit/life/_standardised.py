"""Compiled loop of the standardised curves; :mod:`drivekit.life.standardised` says what it computes."""

import numpy as np

from drivekit.life._compiled import compiled


@compiled
def curves(alive, coef, weights, x, unit, member, first, n_failed, age, stratum, people, person, home, n_strata):  # type: ignore[no-untyped-def]
    """Fill ``alive[draw, level, k]``, the mean survival after run k + 1, for each draw's coefficients and weights.

    ``people[level, i]`` holds the covariates of belt i, ``person`` whose weight it carries, ``home`` its stratum. Every
    sum is taken in order within its draw, so the digits do not depend on how draws are split.
    """
    n_levels, n_people, n_terms = people.shape
    horizon = alive.shape[2]
    rate = np.empty(x.shape[0])
    hazard = np.empty((n_strata, horizon))
    for draw in range(coef.shape[0]):
        weight = weights[draw]
        for pattern in range(x.shape[0]):
            w = weight[unit[pattern]]
            if w == 0:
                rate[pattern] = 0.0
                continue
            height = 0.0
            for a in range(n_terms):
                height += x[pattern, a] * coef[draw, a]
            rate[pattern] = w * np.exp(height)
        hazard[:] = 0.0
        for group in range(first.size - 1):
            if age[group] > horizon:
                continue
            here = first[group]
            fallen, lost, failures = 0.0, 0.0, 0
            for m in range(here, here + n_failed[group]):
                w = weight[unit[member[m]]]
                if w > 0:
                    fallen += rate[member[m]]
                    lost += w
                    failures += 1
            if failures == 0:
                continue
            total = fallen
            for m in range(here + n_failed[group], first[group + 1]):
                total += rate[member[m]]
            step = 0.0
            for k in range(failures):
                step += 1.0 / (total - k / failures * fallen)
            hazard[stratum[group], age[group] - 1] = lost / failures * step
        for line in range(n_strata):
            for k in range(1, horizon):
                hazard[line, k] += hazard[line, k - 1]
        alive[draw] = 0.0
        whole = 0.0
        for i in range(n_people):
            w = weight[person[i]]
            if w == 0:
                continue
            whole += w
            for level in range(n_levels):
                height = 0.0
                for a in range(n_terms):
                    height += people[level, i, a] * coef[draw, a]
                risk = np.exp(height)
                for k in range(horizon):
                    alive[draw, level, k] += w * np.exp(-risk * hazard[home[i], k])
        for level in range(n_levels):
            for k in range(horizon):
                alive[draw, level, k] /= whole
