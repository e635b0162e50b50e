"""Whether settings tell more than chance would let them: they are dealt anew among the belts of each stratum.

With few failures twice a gain in log likelihood is larger than its chi-squared law says, most of all for a number with
a bend, whose outer belts weigh much. If the settings made no difference, belts of a stratum could have had each
other's, so that the test of the season is one of as many as there are ways to deal: in a share p of such seasons at
most its share among them is p or less, whatever the failures' law (Dwass, Ann Math Statist 1957). That is exact where
what is tested was not tied to what else is in the fit, which stays with its belt, and near where it was.

Each deal is judged by the score test beside the fit without the settings tested, which needs no fit of its own: with M
the failures of the rows less those expected (Efron's steps), U the sum of M times what is tested, and V its information
less what the other terms explain of it, the test is ``U' V^-1 U`` (Cox, J R Stat Soc B 1972).
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from drivekit.life.cox import CoxFit
from drivekit.life.folds import Floats, Ints
from drivekit.life.profile import tries
from drivekit.life.steps import steps

__all__ = ["share_of_deals"]

AT_ONCE, IN_ALL = 1_000_000, 20_000_000
"""Values of one column dealt and judged together, and about as many in all where that leaves fewer deals."""
FEWEST, MOST = 3, 20
"""Deals for each time that :func:`drivekit.life.profile.tries` has it: each costs little."""


def share_of_deals(
    without: CoxFit,
    tested: Floats,
    age: Ints,
    belt: Ints,
    stratum: Ints,
    generator: np.random.Generator,
    confidence: float,
) -> float:
    """Give the share of deals whose score test is as large as the season's own, which is one of them.

    Belts of one stratum exchange what is tested as a whole life of it: at each age a belt has what the other had by
    that age, or at its first run where it came later. What else is in the fit stays with its belt.

    Parameters
    ----------
    without : CoxFit
        The fit of the rows without what is tested, each row a member by itself.
    tested : ndarray of float, shape (n_rows, n_columns)
    age, belt, stratum : ndarray of int, shape (n_rows,)
        Of the rows; a belt's stratum is that of its first row, and belts count from 0.
    generator : numpy.random.Generator
        Deals: at 95 % 3,999 times for up to 5,000 rows, and down to 599 times for more.
    """
    age = np.unique(age, return_inverse=True)[1]
    order, width, n_belts = np.lexsort((age, belt)), int(age.max()) + 1, int(belt.max()) + 1
    every = np.arange(n_belts * width).reshape(n_belts, width)
    key = (belt * width + age)[order]
    # the row whose settings a belt of each code lends to each age
    lent = order[np.maximum(np.searchsorted(key, every, "right") - 1, np.searchsorted(key, every[:, :1]))]
    home = np.unique(stratum[np.unique(belt, return_index=True)[1]], return_inverse=True)[1]
    together, judge = np.argsort(home, kind="stable"), _score_test(without)
    member = without.rows.row

    def judged(source: Ints) -> Floats:
        return judge(tested.T[:, lent[source[:, belt[member]], age[member]]])

    seen = judged(np.arange(n_belts)[None])[0] * (1 - 1e-9)  # each belt dealt its own again differs by rounding
    each, as_large = tries(confidence) + 1, 1
    deals = each * min(max(FEWEST, IN_ALL // (each * member.size)), MOST) - 1
    at_once = max(1, AT_ONCE // member.size)
    for begin in range(0, deals, at_once):
        luck = generator.random((min(at_once, deals - begin), n_belts))
        source = np.empty(luck.shape, np.int64)
        source[:, together] = np.argsort(home + luck, axis=1)
        as_large += int((judged(source) >= seen).sum())
    return as_large / (1 + deals)


def _score_test(without: CoxFit) -> Callable[[Floats], Floats]:
    """Make the score test of columns beside a fit: from shape (n_columns, n_deals, n_members) to (n_deals,)."""
    rows, parts = without.rows, steps(without)
    failed, x, expected = rows.member_failed, rows.member_x, parts.expected(rows)
    beside = np.linalg.pinv(without.information, 1e-9, hermitian=True)
    begin = np.cumsum(rows.n_failed) - rows.n_failed

    def judge(columns: Floats) -> Floats:
        weighed = columns * parts.rate
        total = np.add.reduceat(weighed, rows.first[:-1], axis=-1)[..., parts.of_set]
        fallen = np.add.reduceat(weighed[..., failed], begin, axis=-1)[..., parts.of_set]
        mean = (total - parts.share * fallen) * parts.hazard
        weighed = columns * expected
        own = np.einsum("adm,bdm->dab", columns, weighed) - np.einsum("ads,bds->dab", mean, mean)
        shared = (weighed @ x - mean @ parts.mean).transpose(1, 0, 2)
        score = columns @ (failed - expected)
        inverse = np.linalg.pinv(own - shared @ beside @ shared.transpose(0, 2, 1), 1e-9, hermitian=True)
        return np.asarray(np.einsum("ad,dab,bd->d", score, inverse, score), np.float64)

    return judge
