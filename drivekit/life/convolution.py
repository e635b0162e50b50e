"""How the failures could have fallen among the groups by chance: the exact distribution of their totals.

Given, at every age, how many were at risk in each group and how many failed, chance picks the failed among those at
risk: a multivariate hypergeometric draw at each age, independent of the other ages. The totals over the ages are the
convolution of these draws, and there are few enough of them to be listed, each with its probability.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import comb, prod

import numpy as np

from drivekit.life.folds import Floats, Ints, frozen

__all__ = ["Outcomes", "TooManyOutcomes", "totals"]

# Measured: 5 ns a pair of outcomes, 30 ns and 8 bytes a cell, 1.5 ns a binary digit; each at most a second or so.
MOST_PAIRS = 200_000_000
MOST_CELLS = 20_000_000
MOST_DIGITS = 500_000_000
# Outcomes taken at a time: so few stay in the processor's own memory, which halves the time.
BLOCK = 16_384


class TooManyOutcomes(Exception):
    """More outcomes than can be listed in a second or two; the message is one plain sentence."""


@dataclass(frozen=True, slots=True, eq=False)
class Outcomes:
    """Every way in which chance could share out the failures, with its probability.

    Parameters
    ----------
    failed : ndarray of int, shape (n_outcomes, n_groups)
        Failures in each group.
    probability : ndarray of float, shape (n_outcomes,)
        Their probabilities, which sum to 1.
    """

    failed: Ints
    probability: Floats


def totals(at_risk: Ints, failed: Ints) -> Outcomes:
    """List the totals over all ages of the failures in each group that chance could give.

    Parameters
    ----------
    at_risk : ndarray of int, shape (n_groups, n_ages)
        At risk in each group at each age.
    failed : ndarray of int, shape (n_ages,)
        Failures at each age, no more than were at risk.

    Raises
    ------
    TooManyOutcomes
        If listing them would take more than a second or two, or half a gigabyte.
    """
    least = np.maximum(0, failed - (at_risk.sum(axis=0) - at_risk))
    span = np.minimum(at_risk, failed) - least
    # The last group's total follows from the others', so let the widest be the last: the box of the others is smallest.
    order = np.argsort(span.sum(axis=1), kind="stable")
    shared = np.flatnonzero(span.any(axis=0))
    moves = failed - least.sum(axis=0)
    _refuse_long_numbers(at_risk[:, shared].sum(axis=0), moves[shared], order.size)
    # The largest draw first, while there is little to convolve it with.
    sizes = {int(place): _size(at_risk[:, place], int(failed[place])) for place in shared}
    shared = np.array(sorted(sizes, key=lambda place: -sizes[place]), np.int64)
    _refuse_too_many(span[:, shared][order], moves[shared], [sizes[int(place)] for place in shared])
    total = Outcomes(np.zeros((1, order.size), np.int64), np.ones(1))
    for place in shared:
        total = _convolved(total, _draws(at_risk[order, place], int(failed[place])))
    # An age at which all or none failed, or where one group ran alone, leaves nothing to chance.
    fixed = np.delete(least, shared, axis=1).sum(axis=1)
    return Outcomes(frozen(total.failed[:, np.argsort(order)] + fixed), frozen(total.probability))


def _size(at_risk: Ints, failed: int) -> float:
    """Count the ways to share out `failed` among the groups."""
    ways = np.ones(1)
    for group in at_risk:
        ways = np.convolve(ways, np.ones(min(int(group), failed) + 1))[: failed + 1]
    return float(ways[failed])


def _refuse_long_numbers(everyone: Ints, moves: Ints, groups: int) -> None:
    """Bound from above the digits of all the whole numbers whose ratios are the chances of a draw."""
    weights = (moves + 1.0) * (1 + (groups - 2) * (moves + 1.0))
    if float(weights @ everyone) > MOST_DIGITS:
        raise TooManyOutcomes("too many belts failed for the ways in which chance could share them out to be listed")


def _refuse_too_many(span: Ints, moves: Ints, sizes: list[float]) -> None:
    """Bound from above the pairs of outcomes and the cells that convolving in this order will take."""
    pairs, reached, cells = 0.0, 1.0, 1
    for done, size in enumerate(sizes, start=1):
        pairs += reached * size
        cells = prod(int(width) + 1 for width in span[:-1, :done].sum(axis=1))
        reached = min(reached * size, cells, comb(int(moves[:done].sum()) + len(span) - 1, len(span) - 1))
    if pairs > MOST_PAIRS or cells > MOST_CELLS:
        raise TooManyOutcomes("the failures could fall among the groups in too many ways to list each of them")


def _draws(at_risk: Ints, failed: int) -> Outcomes:
    """List the multivariate hypergeometric draw of one age, group by group out of those that are left."""
    counts, probability = np.zeros((1, 0), np.int64), np.ones(1)
    left, rest = np.array([failed]), int(at_risk.sum())
    for group in at_risk[:-1]:
        rest -= int(group)
        rows, picks, chances = [], [], []
        for open_ in np.unique(left):
            least, weights = _hypergeometric(int(group), rest, int(open_))
            here = np.flatnonzero(left == open_)
            rows.append(np.repeat(here, weights.size))
            picks.append(np.tile(least + np.arange(weights.size), here.size))
            chances.append(np.tile(weights, here.size))
        row, pick = np.concatenate(rows), np.concatenate(picks)
        probability = probability[row] * np.concatenate(chances)
        counts = np.column_stack([counts[row], pick])
        left = left[row] - pick
    return Outcomes(np.column_stack([counts, left]), probability)


def _hypergeometric(group: int, others: int, failed: int) -> tuple[int, Floats]:
    """Chances that least, least + 1, ... of `failed` fall in `group`, in whole numbers up to the last division."""
    least, most = max(0, failed - others), min(group, failed)
    weights = [comb(group, least) * comb(others, failed - least)]
    for k in range(least, most):
        weights.append(weights[-1] * (group - k) * (failed - k) // ((k + 1) * (others - failed + k + 1)))
    whole = sum(weights)
    return least, np.array([weight / whole for weight in weights])


def _convolved(one: Outcomes, other: Outcomes) -> Outcomes:
    """List the sums of two independent draws."""
    # The last group follows from the total; the free groups' counts above their least are the digits of one number.
    least = one.failed.min(axis=0) + other.failed.min(axis=0)
    box = one.failed.max(axis=0) + other.failed.max(axis=0) - least + 1
    stride = np.concatenate([np.cumprod(box[:-1][::-1])[::-1][1:], [1]])
    smaller, larger = sorted((one, other), key=lambda draw: draw.probability.size)
    place = (larger.failed[:, :-1] - larger.failed[:, :-1].min(axis=0)) @ stride
    shift = (smaller.failed[:, :-1] - smaller.failed[:, :-1].min(axis=0)) @ stride
    sums = np.zeros(int(np.prod(box[:-1])))
    for begin in range(0, place.size, BLOCK):
        near, weight = place[begin : begin + BLOCK], larger.probability[begin : begin + BLOCK]
        for step, chance in zip(shift, smaller.probability, strict=True):
            sums[near + step] += chance * weight
    reached = np.flatnonzero(sums)
    counts = np.stack(np.unravel_index(reached, tuple(box[:-1])), axis=1) + least[:-1]
    total = int(one.failed[0].sum() + other.failed[0].sum())
    return Outcomes(np.column_stack([counts, total - counts.sum(axis=1)]), sums[reached])
