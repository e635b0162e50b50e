"""What is drawn at random: the same digits whoever works it out, in order, and no more of it than is asked for."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import Executor, ProcessPoolExecutor, ThreadPoolExecutor
from contextlib import contextmanager
from functools import partial
from itertools import count, islice
from multiprocessing import get_context
from statistics import NormalDist

import numpy as np
import pytest

from drivekit.life import standardised as module
from drivekit.life.draws import answers
from drivekit.life.standardised import Standardised, standardised
from tests.life.plain_cox import random_rows

ONE = ((np.array([0]), np.array([[0.0], [1.0]])),)


def found(executor: Executor | None = None, replicates: int = 300) -> Standardised:
    rows = random_rows(5, 400)
    told = standardised(
        rows.age, rows.failed, rows.x, rows.stratum, rows.belt, ONE,
        confidence=0.95, generator=np.random.default_rng(1), replicates=replicates, executor=executor,
    )  # fmt: skip
    assert not isinstance(told, str), told
    return told[0]


@contextmanager
def processes() -> Iterator[Executor]:
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        yield pool


@contextmanager
def cluster() -> Iterator[Executor]:
    distributed = pytest.importorskip("distributed")
    with (
        distributed.LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None, host="127.0.0.1") as local,
        distributed.Client(local) as client,
    ):
        yield client.get_executor()


@pytest.mark.slow
@pytest.mark.parametrize("place", [processes, cluster])
def test_limits_have_equal_digits_whoever_works_the_draws_out(place) -> None:
    here = found()
    with place() as executor:
        there = found(executor)
    assert there.lower.tolist() == here.lower.tolist()
    assert there.upper.tolist() == here.upper.tolist()
    assert there.differences == here.differences
    assert (there.replicates, there.lost) == (here.replicates, here.lost)
    assert here.replicates == 300


def test_answers_come_in_the_order_of_their_parts_and_only_as_many_as_asked_for() -> None:
    taken: list[int] = []
    parts = (taken.append(one) or one for one in count())
    with ThreadPoolExecutor(3) as pool:
        assert list(islice(answers(str, parts, pool, ahead=4), 10)) == [str(one) for one in range(10)]
    assert len(taken) <= 15


def test_what_a_part_raises_is_raised_to_whoever_asks() -> None:
    with ThreadPoolExecutor(2) as pool, pytest.raises(ZeroDivisionError):
        list(answers(lambda part: 1 / part, [1, 0, 1], pool))


def test_a_season_of_fewer_than_500_belts_is_drawn_to_the_end_and_a_larger_one_until_its_limits_settle(
    monkeypatch,
) -> None:
    monkeypatch.setattr(module, "SETTLED_RUNS", 100.0)
    few = found()
    assert few.belts < 500
    assert few.replicates == 300
    monkeypatch.setattr(module, "MANY_BELTS", few.belts)
    settled = found()
    assert settled.replicates == 64  # they are drawn so many at once
    monkeypatch.setattr(module, "SETTLED_RUNS", 0.0)
    assert found().replicates == 300


def test_limits_settle_when_two_of_their_standard_errors_are_a_tenth() -> None:
    # The standard error of the 2.5 % of n draws from a normal law is root(.025 x .975 / n) / .05844513 spreads.
    again = np.zeros((999, 2, 2))
    again[:, 1, 0] = np.array([NormalDist().inv_cdf(k / 1000) for k in range(1, 1000)])
    again[:, 1, 0] /= again[:, 1, 0].std()
    error = 2 * np.sqrt(0.025 * 0.975 / 999) / 0.05844513
    for times, told in ((0.99, True), (1.01, False)):
        assert module._settled(times * 0.1 / error * again, 0.95) is told
    assert not module._settled(0.0 * again[:38], 0.95)  # the 2.5 % of 38 draws is none of them
    assert module._settled(0.0 * again[:39], 0.95)


def test_many_belts_gathered_by_their_hazard_and_fitted_less_finely_answer_as_before(monkeypatch) -> None:
    fine = found()
    monkeypatch.setattr(module, "MANY_BELTS", fine.belts)
    monkeypatch.setattr(module, "SETTLED_RUNS", 0.0)
    monkeypatch.setattr(module, "_survival", partial(module._survival, places=100))  # of three strata, for 400 belts
    many = found()
    for name in ("survival", "lower", "upper"):
        np.testing.assert_allclose(getattr(many, name), getattr(fine, name), rtol=0, atol=1e-3)
    assert many.lower.tolist() != fine.lower.tolist()
    assert many.survival.tolist() == fine.survival.tolist()
