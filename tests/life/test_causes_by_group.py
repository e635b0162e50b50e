"""Incidence, its variance and Gray's test by cause and group, beside R's cmprsk on open data and on heavy ties."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from drivekit.life.curve import incidence
from drivekit.life.gray import gray

Lives = tuple[np.ndarray, np.ndarray, np.ndarray]


def bmt() -> Lives:
    from sksurv.datasets import load_bmt

    disease, outcome = load_bmt()
    return outcome["ftime"].astype(int), outcome["status"].astype(int), disease["dis"].astype(int).to_numpy()


def cgvhd() -> Lives:
    """Give whole months to chronic disease, relapse or death, by what was transplanted: marrow or blood."""
    from sksurv.datasets import load_cgvhd

    patients, outcome = load_cgvhd()
    months = np.ceil(12 * outcome["ftime"]).astype(int)
    return months, outcome["status"].astype(int), (patients["tx"] == "PB").astype(int).to_numpy()


def ties() -> Lives:
    """Draw 60 lives that end in few runs, of three groups and three causes."""
    draw = np.random.default_rng(8)
    return draw.integers(1, 7, 60), draw.integers(0, 4, 60), np.arange(60) % 3


LIVES = {"bmt": bmt, "cgvhd": cgvhd, "ties": ties}


def write_lives(folder: str) -> None:
    """Write what `make_causes_by_group.R` reads."""
    for name, lives in LIVES.items():
        with (Path(folder) / f"{name}.csv").open("w", newline="") as file:
            csv.writer(file).writerows([("time", "cause", "group"), *zip(*lives(), strict=True)])


def cmprsk_variance(lives: list[tuple[int, int]], of: int, times: list[int]) -> list[float]:
    """Walk along time with the variance as cmprsk has it: each kind of failure a draw without replacement of its own.

    Ours is the multinomial one: one share (1 - share) / n for all kinds at once, n in place of n - 1.
    """
    alive, share, found = 1.0, 0.0, []
    square = cross = plain = 0.0
    for time in times:
        n = sum(last >= time for last, _ in lives)
        own = sum(last == time and cause == of for last, cause in lives)
        other = sum(last == time and cause not in (0, of) for last, cause in lives)
        after = alive * (n - own - other) / n if n else alive
        share += alive * own / n if own else 0
        left = 1 / after if after > 0 else 0.0
        for failed, pull in ((other, share * left), (own, 1 + share * left)):
            if failed and (after > 0 or failed == own):
                spread = alive**2 * failed / n**2 * (1 - (failed - 1) / (n - 1) if failed > 1 else 1)
                square, cross, plain = square + pull**2 * spread, cross + pull * left * spread, plain + left**2 * spread
        alive = after
        found.append(square + share**2 * plain - 2 * share * cross)
    return found


@pytest.mark.parametrize("name", LIVES)
def test_incidence_and_grays_test_are_those_of_cmprsk(
    stored: Callable[[str], Any], runs_of: Callable[..., Any], name: str
) -> None:
    time, cause, group = LIVES[name]()
    r = stored("causes_by_group")[name]
    runs = runs_of(time * 0 - 1, time, cause, group)
    kinds, groups = int(cause.max()), int(group.max()) + 1
    assert sorted(r["incidence"]) == [f"{g} {c}" for g in range(groups) for c in range(1, kinds + 1)]
    for of in range(kinds):
        found, theirs = gray(runs.age, runs.cause, runs.group, groups, of), r["gray"][str(of + 1)]
        assert (found.chi2, found.dof, found.p) == pytest.approx(tuple(theirs.values()), rel=1e-8)
        for g in range(groups):
            mine = runs.where(runs.group == g)
            at = (
                np.searchsorted(incidence(mine.age, mine.cause, kinds).age, np.arange(len(r["times"])) + 1, "right") - 1
            )
            shares = np.where(at < 0, 0, incidence(mine.age, mine.cause, kinds).incidence[of][at])
            assert shares == pytest.approx(r["incidence"][f"{g} {of + 1}"], abs=1e-12)


@pytest.mark.parametrize("name", LIVES)
def test_its_variance_is_another_convention_and_near_ours(
    stored: Callable[[str], Any], runs_of: Callable[..., Any], name: str
) -> None:
    time, cause, group = LIVES[name]()
    r = stored("causes_by_group")[name]
    runs = runs_of(time * 0 - 1, time, cause, group)
    for curve, theirs in r["variance"].items():
        g, of = (int(word) for word in curve.split())
        lives = list(zip(time[group == g].tolist(), cause[group == g].tolist(), strict=True))
        assert cmprsk_variance(lives, of, r["times"]) == pytest.approx(theirs, abs=1e-12)
        mine = runs.where(runs.group == g)
        ours = incidence(mine.age, mine.cause, int(cause.max())).se[of - 1][-1] ** 2
        assert ours == pytest.approx(theirs[-1], rel=0.2)
