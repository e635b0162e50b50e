"""How sure limits must be at each age for all of them to hold together along a curve."""

from __future__ import annotations

from functools import cache
from math import sqrt

import numpy as np

from drivekit.life.curve import Curve
from drivekit.life.folds import Floats, frozen, two_sided_z

__all__ = ["chain_quantile", "whole_curve_confidence"]


def whole_curve_confidence(found: Curve, confidence: float = 0.95) -> float:
    """Give the confidence that limits need at each age for all of them to hold together, equally precise all along.

    Over the ages of failure at which the curve lies between 0 and 1, (log S - truth) / se is nearly a chain of normal
    variables with correlations root(G_i / G_j), G Greenwood's variance. The largest of them exceeds c by chance
    ``1 - confidence``, so that limits are asked for that one variable exceeds c as seldom.

    References
    ----------
    Nair, Technometrics 1984 (the equal-precision band).
    """
    from scipy.special import ndtr

    variance = found.greenwood[(found.survival > 0) & (found.failed_at > 0)]
    return float(1 - 2 * ndtr(-chain_quantile(np.sqrt(variance[:-1] / variance[1:]), confidence)))


def chain_quantile(along: Floats, confidence: float) -> float:
    """Find what the largest size in a chain of standard normal variables stays below with such a chance.

    ``along``, shape (n - 1,), is the correlation of each variable with the one before it, below 1.
    """
    from scipy.optimize import brentq
    from scipy.special import ndtr, ndtri

    from drivekit.life import _loops

    z = two_sided_z(confidence)
    if not along.size:
        return z
    # as many nodes as the narrowest step asks for: three within its spread
    nodes, weights = _upper_nodes(max(32, int(12 / sqrt(1 - np.max(along) ** 2))))

    # one variable alone exceeds z, and none exceeds the greatest more often than the chances of all of them add to
    chance = 2 * ndtr(-z)
    most = -ndtri(chance / 2 / (along.size + 1))

    def too_often(c: float) -> float:
        return float(np.log(max(_loops.outside(c, along, nodes, weights), 1e-300) / chance))

    return float(brentq(too_often, z - 1e-6, most + 1e-6))


@cache
def _upper_nodes(n: int) -> tuple[Floats, Floats]:
    """Give those of n Gauss-Legendre nodes on (-1, 1) that are not below 0, and their weights, half of one at 0."""
    nodes, weights = np.polynomial.legendre.leggauss(n)
    upper = nodes > -1e-9 / n
    return frozen(nodes[upper]), frozen(np.where(nodes[upper] > 1e-9 / n, 1.0, 0.5) * weights[upper])
