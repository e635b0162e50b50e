"""Measure the hazard fit beside others on the same belts, side by side in one run; nothing is asserted.

150 invented belts with five settings kept for life. lifelines and R's bare fitting routine take one row a belt;
drivekit takes the same lives as one row a run, fitted under 10,000 weightings drawn by belt: as a study fits its draws,
from a guess by the influence of the belts drawn, its working out included, to a last step of 1e-6 (what remains is its
square; the largest difference from fits to 1e-10 is printed), and from zero to 1e-10. R is used where Rscript and its
survival package are found, and never needed. Then one fit of up to a million run rows whose tension changes every run,
to show that the cost is linear in rows.
"""

from __future__ import annotations

import subprocess
import tempfile
import warnings
from pathlib import Path
from shutil import which
from time import perf_counter

import numpy as np

from drivekit.life.cox import fit, fit_many
from drivekit.life.riskset import RiskSets
from drivekit.life.steps import robust

BELTS, BATCH = 150, 10_000
R_SCRIPT = """
suppressMessages(library(survival)); d <- read.csv(commandArgs(TRUE)[1])
x <- as.matrix(d[, 3:7]); y <- Surv(d$last, d$failed)
one <- function() coxph.fit(x, y, NULL, NULL, NULL, coxph.control(), rep(1, nrow(x)), "efron", as.character(1:nrow(x)))
invisible(one()); cat(system.time(for (i in 1:2000) one())["elapsed"] / 2000)
"""


def belts(draw: np.random.Generator) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Last run, whether it failed there, and settings, one line a belt."""
    x = np.column_stack((draw.random((BELTS, 3)) < 0.5, draw.normal(size=(BELTS, 2))))
    rate = 0.06 * np.exp(x @ np.array([-0.6, 0.3, -0.3, 0.2, 0.0]))
    life, taken_off = draw.geometric(rate), draw.geometric(0.05, BELTS)
    return np.minimum(life, taken_off), life <= taken_off, x


def million(draw: np.random.Generator, rows: int) -> RiskSets:
    """Risk sets of run rows at 30 ages on 3 cars, none two alike."""
    x = np.column_stack((draw.random((rows, 3)) < 0.5, draw.normal(size=(rows, 2))))
    failed = draw.random(rows) < 0.05 * np.exp(x @ np.array([-0.6, 0.3, -0.3, 0.2, 0.0]))
    return RiskSets.of(draw.integers(1, 31, rows), failed, x, draw.integers(0, 3, rows))


def seconds(work, repeats: int) -> float:
    """Shortest of three timings of `repeats` calls, for one call."""
    best = np.inf
    for _ in range(3):
        started = perf_counter()
        for _ in range(repeats):
            work()
        best = min(best, (perf_counter() - started) / repeats)
    return best


def by_lifelines(last: np.ndarray, failed: np.ndarray, x: np.ndarray) -> float:
    import pandas as pd
    from lifelines import CoxPHFitter

    frame = pd.DataFrame(x, columns=list("abcde")).assign(last=last, failed=failed)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return seconds(lambda: CoxPHFitter().fit(frame, "last", "failed"), 20)


def by_r(last: np.ndarray, failed: np.ndarray, x: np.ndarray) -> float | None:
    if which("Rscript") is None:
        return None
    with tempfile.TemporaryDirectory() as folder:
        table = Path(folder) / "belts.csv"
        lines = np.column_stack((last, failed, x))
        np.savetxt(table, lines, delimiter=",", header="last,failed,a,b,c,d,e", comments="")
        done = subprocess.run(["Rscript", "-e", R_SCRIPT, table], capture_output=True, text=True, check=False)
    return float(done.stdout) if done.returncode == 0 else None


def main() -> None:
    draw = np.random.default_rng(1)
    last, failed, x = belts(draw)
    belt = np.repeat(np.arange(BELTS), last)
    age = np.arange(belt.size) - np.repeat(np.cumsum(last) - last, last) + 1
    sets = RiskSets.of(age, failed[belt] & (age == last[belt]), x[belt], np.zeros(belt.size, int), belt)
    weights = draw.multinomial(BELTS, np.full(BELTS, 1 / BELTS), BATCH)
    fit_many(sets, weights[:2])

    def guessed(threads: int | None) -> np.ndarray:
        whole = fit(sets)
        return fit_many(
            sets, weights, threads=threads, begin=whole.coef + (weights - 1) @ robust(whole, belt)[1], near=1e-6
        )[0]

    from_zero = seconds(lambda: fit_many(sets, weights, threads=1), 1) / BATCH
    per_fit = {threads: seconds(lambda t=threads: guessed(t), 1) / BATCH for threads in (1, None)}
    print(
        f"{BELTS} belts, {belt.size} run rows, {sets.row.size} beside a failure, {int(failed.sum())} failures, 5 terms"
    )
    for name, took in (
        (f"drivekit, one fit of {BATCH} weightings, one thread", per_fit[1]),
        ("drivekit, the same, a thread a processor", per_fit[None]),
        ("drivekit, one thread, each from zero to 1e-10", from_zero),
        ("drivekit, one fit alone", seconds(lambda: fit(sets), 200)),
    ):
        print(f"{name:<50} {took * 1e6:10.1f} us")
    apart = np.nanmax(abs(guessed(1) - fit_many(sets, weights)[0]))
    print(f"{'largest difference of the two':<50} {apart:13.0e}")
    for name, took in (("lifelines", by_lifelines(last, failed, x)), ("R's coxph.fit", by_r(last, failed, x))):
        if took is None:
            print(f"{name:<50} is not installed here")
        else:
            ratios = ", ".join(f"{took / per_fit[t]:.1f} ({'1 thread' if t else 'all'})" for t in per_fit)
            print(f"{name:<50} {took * 1e6:10.1f} us   times drivekit's: {ratios}")
    for rows in (250_000, 500_000, 1_000_000):
        started = perf_counter()
        large = million(draw, rows)
        built = perf_counter() - started
        print(
            f"{rows:>9,} run rows: drawn and built {built:5.2f} s, one fit {seconds(lambda s=large: fit(s), 1):5.2f} s"
        )


if __name__ == "__main__":
    main()
