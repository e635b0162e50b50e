"""The hazard fit once more in plain numpy, and the rows its tests share. Slow, short, and written in other words."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

REFERENCE = Path(__file__).parents[1] / "reference"


def stored(name: str) -> dict[str, Any]:
    """R's results on an open data set."""
    return json.loads((REFERENCE / "cox" / f"{name}.json").read_text(encoding="utf-8"))


@dataclass(frozen=True)
class Rows:
    """Run rows: one a run, with their covariates, stratum and belt."""

    age: np.ndarray
    failed: np.ndarray
    x: np.ndarray
    stratum: np.ndarray
    belt: np.ndarray

    def changed(self, **parts: np.ndarray) -> Rows:
        return replace(self, **parts)

    def where(self, rows: np.ndarray) -> Rows:
        return Rows(self.age[rows], self.failed[rows], self.x[rows], self.stratum[rows], self.belt[rows])


# Seven runs, unsorted. Car 0: at age 2 belts a (x 1) and b (x 0) fail together beside c (x 1); at age 3 belt d, which
# came with two runs on it, fails (x 1) beside c, now x 0. Car 1: at age 2 belt e fails (x 0) beside f (x 1).
SEVEN = Rows(
    age=np.array([3, 2, 2, 2, 3, 2, 2]),
    failed=np.array([False, True, False, True, True, False, True]),
    x=np.array([[0.0], [0.0], [1.0], [1.0], [1.0], [1.0], [0.0]]),
    stratum=np.array([0, 0, 0, 0, 0, 1, 1]),
    belt=np.array([2, 1, 2, 0, 3, 5, 4]),
)


def random_rows(seed: int, belts: int = 40, terms: int = 3, cars: int = 2) -> Rows:
    """An awkward season: late entry, settings that change, ties everywhere."""
    draw = np.random.default_rng(seed)
    rows = []
    for belt in range(belts):
        age = int(draw.integers(0, 4)) if draw.random() < 0.3 else 0
        x = np.concatenate(((draw.random(terms - 1) < 0.5).astype(float), draw.normal(8, 2, 1)))
        car = int(draw.integers(cars))
        for _ in range(10):
            age += 1
            if draw.random() < 0.15:
                x = np.concatenate(((draw.random(terms - 1) < 0.5).astype(float), draw.normal(8, 2, 1)))
            failed = bool(draw.random() < 0.08 * np.exp(-0.6 * x[0] + 0.1 * (x[-1] - 8)))
            rows.append((age, failed, *x, car, belt))
            if failed or draw.random() < 0.06:
                break
    table = np.array(rows)[draw.permutation(len(rows))]
    return Rows(
        table[:, 0].astype(int), table[:, 1] > 0, table[:, 2:-2], table[:, -2].astype(int), table[:, -1].astype(int)
    )


def at_failure_times(
    start: Any, stop: Any, event: Any, x: Any, *, stratum: Any = None, cluster: Any = None, scale: float = 1
) -> Rows:
    """Rows (start, stop] made into one row at each failure time with start < time <= stop; ages are scaled times."""
    start, stop, event = (np.asarray(values, float) for values in (start, stop, event))
    times = np.unique(stop[event == 1])
    who, place = np.nonzero((start[:, None] < times) & (times <= stop[:, None]))
    n = stop.size
    of = {"stratum": stratum, "cluster": cluster}
    codes = {name: np.arange(n) if name == "cluster" else np.zeros(n, int) for name in of}
    codes |= {name: np.unique(values, return_inverse=True)[1] for name, values in of.items() if values is not None}
    ends = (times[place] == stop[who]) & (event[who] == 1)
    ages = np.rint(times * scale).astype(int)[place]
    return Rows(ages, ends, np.asarray(x, float)[who], codes["stratum"][who], codes["cluster"][who])


def plain_likelihood(rows: Rows, coef: np.ndarray, ties: str, weight: np.ndarray | None = None) -> Any:
    """Log partial likelihood, score and information by a loop over sets and over failures."""
    w = np.ones(rows.age.size) if weight is None else np.asarray(weight, float)
    loglik, score, information = 0.0, np.zeros(coef.size), np.zeros((coef.size, coef.size))
    for stratum, age in sorted({(s, a) for s, a, f in zip(rows.stratum, rows.age, rows.failed, strict=True) if f}):
        here = (rows.stratum == stratum) & (rows.age == age) & (w > 0)
        x, died, cases = rows.x[here], rows.failed[here], w[here]
        m = int(died.sum())
        if not m:
            continue
        loglik += cases[died] @ x[died] @ coef
        score += cases[died] @ x[died]
        for k in range(m):
            chance = cases * np.exp(x @ coef) * np.where(died & (ties == "efron"), 1 - k / m, 1.0)
            share = chance / chance.sum()
            mean = share @ x
            each = cases[died].mean()
            loglik -= each * np.log(chance.sum())
            score -= each * mean
            information += each * (share * (x - mean).T) @ (x - mean)
    return loglik, score, information


def plain_fit(rows: Rows, ties: str, weight: np.ndarray | None = None) -> np.ndarray:
    """Newton from zero, forty steps; only for rows whose likelihood has a maximum."""
    coef = np.zeros(rows.x.shape[1])
    for _ in range(40):
        _, score, information = plain_likelihood(rows, coef, ties, weight)
        step = np.linalg.solve(information, score)
        coef = coef + step / max(1.0, np.abs(step).max())
    return coef
