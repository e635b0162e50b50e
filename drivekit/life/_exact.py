"""Compiled loop of the exact partial likelihood; :mod:`drivekit.life.exact` says what it computes."""

import numpy as np

from drivekit.life._compiled import compiled


@compiled
def likelihood(coef, x, first, n_failed, member, score, information):  # type: ignore[no-untyped-def]
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
