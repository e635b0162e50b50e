"""Where a concave log likelihood is largest: Newton's steps, halved while it falls, or none where it has no maximum.

The same rule as in the compiled hazard fit: along a direction without end a step stays long while the information
falls by a factor each time, so a fit is given up once some pivot of the information is below 1e-8 of what it was.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from drivekit.life.riskset import Floats

__all__ = ["Evaluate", "Top", "top"]

Evaluate = Callable[[Floats], tuple[float, Floats, Floats]]


@dataclass(frozen=True, eq=False, slots=True)
class Top:
    """Coefficients at the maximum, the log likelihood and its observed information there."""

    at: Floats
    loglik: float
    information: Floats


def top(evaluate: Evaluate, start: Floats) -> Top | None:
    """Climb from ``start``.

    Parameters
    ----------
    evaluate : callable
        Log likelihood, score and observed information at given coefficients.
    start : ndarray of float, shape (n_terms,)

    Returns
    -------
    Top or None
        None where there is no maximum, or no single one.
    """
    at = np.array(start, np.float64)
    loglik, score, information = evaluate(at)
    at_start = _pivots(information)
    if at_start is None or not (at_start > 1e-12 * np.diag(information)).all():
        return None
    for _ in range(100):
        pivots = _pivots(information)
        if pivots is None or (pivots < 1e-8 * at_start).any():
            return None
        step = np.linalg.solve(information, score)
        settled = bool((np.abs(step) * np.maximum(1.0, np.sqrt(np.diag(information))) <= 1e-10).all())
        length = 1.0
        for _ in range(60):
            tried = at + length * step
            after, score, information = evaluate(tried)
            if settled or after >= loglik - 1e-11 * (1 + abs(loglik)):
                break
            length /= 2
        at, loglik = tried, after
        if settled:
            return Top(at, loglik, information)
    return None


def _pivots(information: Floats) -> Floats | None:
    """Pivots of the square-root-free factor, or None where the matrix is not positive."""
    if not np.isfinite(information).all():
        return None
    try:
        return np.asarray(np.diag(np.linalg.cholesky(information)) ** 2)
    except np.linalg.LinAlgError:
        return None
