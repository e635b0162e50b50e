"""A hazard ratio even where a level never fails: the likelihood with Jeffreys' penalty.

``l*(b) = l(b) + log det I(b) / 2`` with l the Efron (or Breslow) log partial likelihood and I its own information. Its
score is ``U_j + tr(I^-1 dI/db_j) / 2``; dI/db is the third central moment of the covariates over each set. The penalty
takes most of the small-sample bias away and keeps the estimate finite where the plain one runs off (Firth, Biometrika
1993; Heinze and Schemper, Biometrics 2001). Standard errors come from the unpenalised information at the penalised
estimate; limits and p from the profile of l*, its determinant over all terms.

It needs every term to differ somewhere beside a failure, no term determined by the others, and rests on all rows.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np

from drivekit.life.cox import Ties, side_by_side
from drivekit.life.folds import Bools, Floats, Ints, frozen
from drivekit.life.profile import Likelihood, limits, near_of
from drivekit.life.riskset import RiskSets
from drivekit.life.separation import NO_FAILURE, Estimates, untold

__all__ = ["Penalised", "firth", "penalised_gain"]

UNREACHED = "the penalised likelihood has no maximum that could be reached"


def firth(rows: RiskSets, ties: Ties = "efron", confidence: float = 0.95) -> Estimates:
    """Fit all terms under Jeffreys' penalty, with profile limits and penalised ratio tests.

    Parameters
    ----------
    ties : {"efron", "breslow"}
        Likelihood and information alike; ``loglik`` is the penalised one.
    confidence : float
        Of the profile limits.
    """
    p = rows.n_terms
    coef, se, lower, upper, ratio = (np.full(p, np.nan) for _ in range(5))
    loglik = 0.0
    reasons: list[str | None] = [NO_FAILURE] * p
    if rows.n_sets:
        alone, reasons = untold(rows)
        likelihood, used = Penalised(rows, ties, ~alone, np.zeros(p)), ~alone
        best = likelihood.climb(np.zeros(p), np.zeros(p, bool))
        if best is None:
            loglik, reasons = np.nan, [reason or UNREACHED for reason in reasons]
        else:
            loglik = best.loglik
            coef[used], se[used] = best.at[used], np.sqrt(np.diag(np.linalg.inv(best.information)))
            for term in np.flatnonzero(used).tolist():
                held_at, at = likelihood.held(term, best), float(best.at[term])
                between = limits(held_at, at, float(se[term]), loglik, confidence, near_of(rows))
                lower[term], upper[term], ratio[term] = between.lower, between.upper, between.p
    return Estimates(frozen(coef), frozen(se), loglik, tuple(reasons), frozen(lower), frozen(upper), frozen(ratio))


def penalised_gain(rows: RiskSets, tested: Bools) -> float:
    """Give how far the penalised log likelihood falls with some terms held at 0; nan where a maximum is not reached.

    Parameters
    ----------
    tested : ndarray of bool, shape (n_terms,)
        Terms held at 0; the determinant stays over all terms, as in the profile of one (Heinze and Schemper).
    """
    start = np.zeros(rows.n_terms)
    likelihood = Penalised(rows, "efron", ~untold(rows)[0], start)
    best, without = (likelihood.climb(start, held) for held in (np.zeros_like(tested), tested))
    return np.nan if best is None or without is None else best.loglik - without.loglik


class _Point(NamedTuple):
    """The penalised likelihood at one place, its score and the plain information over the terms in use."""

    at: Floats
    loglik: float
    score: Floats
    information: Floats


@dataclass(frozen=True, eq=False)
class Penalised:
    """The penalised likelihood of risk sets over the terms in use.

    Some terms may be shrunk beside Jeffreys' penalty: ``ridge``, shape (n_terms,), holds what half the square of each
    costs, or 0, and stands on the diagonal of the information.
    """

    rows: RiskSets
    ties: Ties
    used: Bools
    ridge: Floats

    @cached_property
    def given(self) -> tuple[Any, ...]:
        """What the compiled loops read of the terms in use: covariates, their moments, and the sets."""
        from drivekit.life import _loops

        x = np.ascontiguousarray(self.rows.x[:, self.used])
        lines = self.rows.moments if self.used.all() else _loops.products(x)
        return x, lines, self.rows.folded[2:-1]

    @cached_property
    def how(self) -> tuple[Any, ...]:
        """And how they climb: by which ties, and what half a square costs."""
        return self.ties == "efron", self.ridge[self.used]

    def climb(self, at: Floats, held: Bools, near: float = 1e-9) -> _Point | None:
        """Maximise over the used terms that are not held; None where no maximum is reached from ``at``.

        A step takes the plain information for the penalised one, which is enough where failures are many. Where a step
        is not well shorter than the last, the penalised score is differenced instead, if that points uphill; either
        step is halved while the penalised likelihood falls. It ends at a step below ``near``, in standard errors where
        these are below 1.
        """
        from drivekit.life import _cox

        at, inside = np.array(at, np.float64), np.array(at, np.float64)[self.used]
        score, information = np.zeros(inside.size), np.zeros((inside.size, inside.size))
        sets = *self.given, self.rows.often
        settled, loglik = _cox.climb(inside, held[self.used], *sets, *self.how, near, score, information)
        at[self.used] = inside
        return _Point(at, float(loglik), score, information) if settled else None

    def climb_each(
        self, guess: Floats, begin: Floats, weights: Ints, near: float, threads: int | None
    ) -> tuple[Floats, Bools]:
        """Maximise over all terms, each in use, once for each line of how often a unit was drawn.

        It starts from its line of ``guess``, and where that leads nowhere from ``begin``. Gives the places, shape
        (n_lines, n_terms), and whether each is a maximum; ``threads`` as in `fit_many`.
        """
        from drivekit.life import _cox

        places, settled = np.array(guess, np.float64), np.zeros(len(guess), bool)
        held = np.zeros(begin.size, bool)

        def climb_lines(part: slice) -> None:
            lines = self.rows.unit, weights[part]
            _cox.climb_each(places[part], settled[part], begin, held, *self.given, *lines, *self.how, near)

        side_by_side(climb_lines, len(places), threads)
        return places, settled

    def held(self, term: int, best: _Point) -> Likelihood:
        """Give the likelihood with one term held, for :func:`drivekit.life.profile.limits`, from the maximum of all.

        Far from that maximum the other terms must have moved along, or the information vanishes and no climb starts. So
        each climb starts from the nearest maximum met, along the tangent there, and where it fails a nearer value is
        climbed to first.
        """
        met = [best]
        held = np.arange(best.at.size) == term
        inside = np.flatnonzero(self.used)
        place = int(np.flatnonzero(inside == term)[0])

        def held_at(goal: float) -> tuple[float, float]:
            nearest = min(met, key=lambda one: abs(one.at[term] - goal))
            part = 1.0
            while part > 1e-4:
                along = np.linalg.inv(nearest.information)[place]
                start = np.array(nearest.at)
                start[inside] += along / along[place] * part * (goal - nearest.at[term])
                if part == 1.0:
                    start[term] = goal
                found = self.climb(start, held)
                if found is None:
                    part /= 2
                    continue
                met.append(nearest := found)
                if part == 1.0:
                    return nearest.loglik, float(nearest.score[place])
                part = min(1.0, 2 * part)
            return -np.inf, np.nan

        return held_at
