"""What is drawn at random: the same digits whoever works it out, in order, and no more of it than is asked for."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import Executor, ProcessPoolExecutor, ThreadPoolExecutor
from contextlib import contextmanager
from itertools import count, islice
from multiprocessing import get_context

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
    assert settled.replicates == 256  # of 128 draws the 2.5 % are too few to say how far a limit may be off
    monkeypatch.setattr(module, "SETTLED_RUNS", 0.0)
    assert found().replicates == 300


def test_limits_settle_when_the_ranks_around_them_lie_within_a_tenth() -> None:
    # 999 draws: the limit is the 25th, its neighbours at two standard deviations the 15th and the 35th.
    level = np.arange(999.0) / 999
    for width, told in ((4.9, True), (5.1, False)):
        again = np.zeros((999, 2, 2))
        again[:, 1, 0] = level * width
        assert module._settled(again, 0.95) is told
