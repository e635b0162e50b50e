"""How a loop is compiled, and those of the exact fit, of Firth's penalty and of the standardised curves.

A loop is compiled on first use and kept in the user's cache folder, or in memory alone where nothing is writable;
without fast mathematics and without parallel sums, so that the last digit of an answer depends on neither the machine's
mood nor the number of threads. ``nogil`` lets separate weightings run side by side. Nothing here checks its input:
:mod:`drivekit.life.riskset` has done so. :mod:`drivekit.life.whole_runs`, :mod:`drivekit.life.firth` and
:mod:`drivekit.life.standardised` say what each loop computes; those of the hazard fit are in :mod:`drivekit.life._cox`.
"""

from collections.abc import Callable
from typing import Any

import numba
import numpy as np
from numba.core import config
from platformdirs import user_cache_dir

__all__ = [
    "add",
    "compiled",
    "convolve",
    "exact_likelihood",
    "height_of",
    "left_at_steps",
    "mean_survival",
    "patterns",
    "products",
]


def compiled(loop: Callable[..., Any]) -> Any:
    """Compile a loop on first use and keep the result for the next process; ``py_func`` is the plain one."""
    # The place of the cache is chosen when a function is decorated, so the setting need not outlive this call and a
    # person's own compiled code keeps its own place; NUMBA_CACHE_DIR decides before anything else.
    # A division by zero gives an infinity, as in numpy: a likelihood that runs away is told by its value, not a stop.
    before = config.CACHE_DIR
    config.CACHE_DIR = before or user_cache_dir("drivekit", appauthor=False)
    try:
        return numba.njit(cache=True, nogil=True, error_model="numpy")(loop)
    except RuntimeError:  # no folder can be written, neither this nor the two that stand in for it
        return numba.njit(cache=False, nogil=True, error_model="numpy")(loop)
    finally:
        config.CACHE_DIR = before


@compiled
def exact_likelihood(coef, x, first, n_failed, member, score, information):  # type: ignore[no-untyped-def]
    """Exact log likelihood; fills score and information. ``moved[k]`` holds chance, mean and products for k chosen."""
    n_terms = x.shape[1]
    width = 1 + n_terms + n_terms * (n_terms + 1) // 2
    score[:] = 0.0
    information[:] = 0.0
    loglik = 0.0
    z = np.empty(n_terms)
    middle = np.empty(n_terms)
    for group in range(first.size - 1):
        here = first[group]
        n = first[group + 1] - here
        d = n_failed[group]
        if d == n:
            continue
        odds = np.empty(n)
        top = -np.inf
        for i in range(n):
            height = 0.0
            for a in range(n_terms):
                height += x[member[here + i], a] * coef[a]
            odds[i] = height
            top = max(top, height)
        for i in range(n):
            if i < d:
                loglik += odds[i] - top
            odds[i] = np.exp(odds[i] - top)
        low, high = -800.0, 800.0
        for _ in range(60):
            guess = 0.5 * (low + high)
            expected = 0.0
            for i in range(n):
                lift = np.exp(guess) * odds[i]
                expected += lift / (1.0 + lift) if lift < 1e300 else 1.0
            if expected < d:
                low = guess
            else:
                high = guess
        scale = 0.5 * (low + high)
        loglik += d * scale
        middle[:] = 0.0
        for i in range(n):
            odds[i] *= np.exp(scale)
            loglik -= np.log1p(odds[i])
            for a in range(n_terms):
                middle[a] += odds[i] / (1.0 + odds[i]) * x[member[here + i], a] / d
        moved = np.zeros((d + 1, width))
        moved[0, 0] = 1.0
        for i in range(n):
            falls = odds[i] / (1.0 + odds[i])
            stands = 1.0 / (1.0 + odds[i])
            for a in range(n_terms):
                z[a] = x[member[here + i], a] - middle[a]
            # fewer than this many chosen so far can no longer reach d
            fewest = max(0, d - (n - 1 - i))
            for k in range(min(d, i + 1), fewest - 1, -1):
                for c in range(width):
                    moved[k, c] *= stands
                if k == 0:
                    continue
                chance = falls * moved[k - 1, 0]
                moved[k, 0] += chance
                position = 1 + n_terms
                for a in range(n_terms):
                    moved[k, 1 + a] += falls * moved[k - 1, 1 + a] + chance * z[a]
                    for b in range(a + 1):
                        moved[k, position] += (
                            falls * (moved[k - 1, position] + z[a] * moved[k - 1, 1 + b] + z[b] * moved[k - 1, 1 + a])
                            + chance * z[a] * z[b]
                        )
                        position += 1
        loglik -= np.log(moved[d, 0])
        position = 1 + n_terms
        for a in range(n_terms):
            mean_a = moved[d, 1 + a] / moved[d, 0]
            score[a] -= mean_a + d * middle[a]
            for i in range(d):
                score[a] += x[member[here + i], a]
            for b in range(a + 1):
                information[a, b] += moved[d, position] / moved[d, 0] - mean_a * moved[d, 1 + b] / moved[d, 0]
                position += 1
    for a in range(n_terms):
        for b in range(a):
            information[b, a] = information[a, b]
    return loglik


@compiled
def add(total, rate, line):  # type: ignore[no-untyped-def]
    """Add so many times a line to a total."""
    if rate != 0.0:
        for place in range(total.size):
            total[place] += rate * line[place]


@compiled
def products(x):  # type: ignore[no-untyped-def]
    """Give for every pattern 1, its covariates and their products, each unordered one once."""
    p = x.shape[1]
    lines = np.empty((x.shape[0], 1 + p + p * (p + 1) // 2))
    for pattern in range(x.shape[0]):
        lines[pattern, 0] = 1.0
        second = 1 + p
        for a in range(p):
            lines[pattern, 1 + a] = x[pattern, a]
            for b in range(a + 1):
                lines[pattern, second] = x[pattern, a] * x[pattern, b]
                second += 1
    return lines


@compiled
def patterns(x, unit, first, n_failed, stratum):  # type: ignore[no-untyped-def]
    """Centre the members' covariates in their stratum; find who shares a line and whose sums can run on.

    Members stand in the order of their sets. A unit's members of one stratum share a pattern as long as nothing
    changes. Gives the pattern of each, the member that first met each pattern, and ``shared_from``, ``shared``,
    ``own_from``, ``own`` as :class:`drivekit.life.riskset.RiskSets` has them.
    """
    n, p = x.shape
    n_sets = first.size - 1
    pattern, met = np.empty(n, np.int64), np.empty(n, np.int64)
    place, kept_last = np.zeros(n_sets, np.int64), np.full(n, -1)
    # of each pattern: how often it stands, the last set it stands in, and whether it may join a running total
    often, last, runs_on = np.zeros(n, np.int64), np.full(n, -1), np.full(n, True)
    latest = np.full(unit.max() + 1 if n else 0, -1)
    n_patterns, youngest = 0, 0
    for group in range(n_sets):
        if group == 0 or stratum[group] != stratum[group - 1]:
            youngest, beyond = group, group
            while beyond < n_sets and stratum[beyond] == stratum[group]:
                beyond += 1
            for a in range(p):
                total = 0.0
                for m in range(first[group], first[beyond]):
                    total += x[m, a]
                for m in range(first[group], first[beyond]):
                    x[m, a] -= total / (first[beyond] - first[group])
            latest[:] = -1
        place[group] = group - youngest
        for m in range(first[group], first[group + 1]):
            one, differs = latest[unit[m]], latest[unit[m]] < 0
            for a in range(p):
                differs = differs or x[m, a] != x[met[one], a]
            if differs:
                one = latest[unit[m]] = n_patterns
                met[one] = m
                n_patterns += 1
            pattern[m] = one
            runs_on[one] &= last[one] != group
            often[one] += 1
            last[one] = group
            if m >= first[group] + n_failed[group]:
                kept_last[one] = group
    joined, own = np.zeros(n_sets + 1, np.int64), np.zeros(n_sets + 1, np.int64)
    shared_one, own_one = np.empty(n, np.int64), np.empty(n, np.int64)
    for group in range(n_sets):
        joined[group + 1], own[group + 1] = joined[group], own[group]
        for m in range(first[group] + n_failed[group], first[group + 1]):
            one = pattern[m]
            if not (runs_on[one] and often[one] > 1 and often[one] == place[last[one]] + 1):
                own_one[own[group + 1]] = one
                own[group + 1] += 1
            elif kept_last[one] == group:
                shared_one[joined[group + 1]] = one
                joined[group + 1] += 1
    return pattern, met[:n_patterns], joined, shared_one[: joined[n_sets]].copy(), own, own_one[: own[n_sets]].copy()


@compiled
def left_at_steps(rate, lines, sets, often, efron, left):  # type: ignore[no-untyped-def]
    """Fill what is left at each failure: in column 0 its sum of ``rate``, in the others the mean of those of ``lines``.

    ``lines``, shape (n_patterns, n_columns), holds 1 in column 0; ``sets`` is what stands between the moments and the
    last of :attr:`drivekit.life.riskset.RiskSets.folded`, where a pattern stands ``often`` times, and ``rate`` is that
    of all its rows. ``left`` has a line a failure; the share of the failed of a set that is taken off grows from one to
    the next.
    """
    oldest, first, n_failed, member, shared_from, shared, own_from, own = sets
    width = lines.shape[1]
    running, total, fallen = np.zeros(width), np.empty(width), np.empty(width)
    step = 0
    for group in range(first.size - 2, -1, -1):
        if oldest[group]:
            running[:] = 0.0
        for m in range(shared_from[group], shared_from[group + 1]):
            add(running, rate[shared[m]], lines[shared[m]])
        fallen[:] = 0.0
        failures = 0
        for m in range(first[group], first[group] + n_failed[group]):
            failures += often[member[m]]
            add(fallen, rate[member[m]], lines[member[m]])
        if failures == 0:
            continue
        total[:] = running
        add(total, 1.0, fallen)
        for m in range(own_from[group], own_from[group + 1]):
            add(total, rate[own[m]], lines[own[m]])
        for k in range(failures):
            share = k / failures if efron else 0.0
            left[step, 0] = total[0] - share * fallen[0]
            inverse = 1.0 / left[step, 0]
            for column in range(1, width):
                left[step, column] = (total[column] - share * fallen[column]) * inverse
            step += 1


@compiled
def mean_survival(  # type: ignore[no-untyped-def]
    alive, coef, weights, x, unit, member, first, n_failed, age, stratum, people, person, home, n_strata, places
):
    """Fill ``alive[draw, level, k]``, the mean survival after run k + 1, for each draw's coefficients and weights.

    ``people[level, i]`` holds the covariates of belt i, ``person`` whose weight it carries, ``home`` its stratum. Every
    sum is taken in order within its draw, so the digits do not depend on how draws are split. Where belts outnumber the
    ``places`` of all strata each is shared between the two places beside its own height.
    """
    n_levels, n_people, _ = people.shape
    horizon = alive.shape[2]
    rate = np.empty(x.shape[0])
    hazard = np.empty((n_strata, horizon))
    height, mass = np.empty(n_people), np.empty(n_people)
    for draw in range(coef.shape[0]):
        weight = weights[draw]
        for pattern in range(x.shape[0]):
            w = weight[unit[pattern]]
            rate[pattern] = 0.0 if w == 0 else w * np.exp(height_of(x[pattern], coef[draw]))
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
            mass[i] = weight[person[i]]
            whole += mass[i]
        for level in range(n_levels):
            for i in range(n_people):
                height[i] = height_of(people[level, i], coef[draw])
            at, many, of = height, mass, home
            if n_people > n_strata * places:
                at, many, of = gathered(height, mass, home, n_strata, places)
            for i in range(at.size):
                if many[i] == 0:
                    continue
                risk, before, unfailed = np.exp(at[i]), 0.0, 1.0
                for k in range(horizon):
                    if hazard[of[i], k] != before:
                        before = hazard[of[i], k]
                        unfailed = np.exp(-risk * before)
                    alive[draw, level, k] += many[i] * unfailed
            for k in range(horizon):
                alive[draw, level, k] /= whole


@compiled
def outside(c, along, nodes, weights):  # type: ignore[no-untyped-def]
    """Chance that a chain of normal variables leaves -c to c; see :func:`drivekit.life.whole_curve.chain_quantile`."""
    x = c * nodes
    density, before = np.exp(-(x**2) / 2), np.empty(x.size)
    for r in along:
        spread = np.sqrt(1.0 - r * r)
        before[:] = c * weights * density / spread / np.sqrt(2 * np.pi)
        density[:] = 0.0
        for i in range(x.size):
            for j in range(x.size):
                # every density is even, so that of x is had from r x and from -r x
                to, back = (x[i] - r * x[j]) / spread, (x[i] + r * x[j]) / spread
                density[i] += before[j] * (np.exp(-to * to / 2) + np.exp(-back * back / 2))
    return 1.0 - 2 * c * (weights * density).sum() / np.sqrt(2 * np.pi)


@compiled
def convolve(sums, place, weight, shift, chance):  # type: ignore[no-untyped-def]
    """Add to ``sums``, at each place and each shift from it, the product of their two chances."""
    for step in range(shift.size):
        for here in range(place.size):
            sums[place[here] + shift[step]] += chance[step] * weight[here]


@compiled
def height_of(x, coef):  # type: ignore[no-untyped-def]
    """Log hazard of a row against that of a row of zeros."""
    height = 0.0
    for a in range(coef.size):
        height += x[a] * coef[a]
    return height


@compiled
def gathered(height, mass, home, n_strata, places):  # type: ignore[no-untyped-def]
    """Share masses of each stratum between the nearest two of so many even places: their heights, masses and strata."""
    low, high = height.min(), height.max()
    gap = max(high - low, 1e-9) / (places - 1)
    at = np.empty(n_strata * places)
    of = np.empty(n_strata * places, np.int64)
    many = np.zeros(n_strata * places)
    for place in range(at.size):
        at[place] = low + place % places * gap
        of[place] = place // places
    for i in range(height.size):
        far = (height[i] - low) / gap
        below = min(int(far), places - 2)
        many[home[i] * places + below] += mass[i] * (1.0 - (far - below))
        many[home[i] * places + below + 1] += mass[i] * (far - below)
    return at, many, of
