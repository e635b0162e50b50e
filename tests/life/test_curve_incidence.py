"""Incidence by cause: by hand, by a numerical delta method, and beside other programs."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from math import sqrt

import numpy as np
import pytest

from drivekit.life.curve import Incidence, incidence


def rows(lives: list[tuple[int, int, int]]) -> tuple[np.ndarray, np.ndarray]:
    """Age and cause of every run of lives (runs before, last run, cause or -1), shuffled."""
    runs = [(age, c if age == last else -1) for before, last, c in lives for age in range(before + 1, last + 1)]
    age, cause = np.array(runs)[np.random.default_rng(5).permutation(len(runs))].T
    return age, cause


TOY = [(0, 1, 0), (0, 1, 1), (0, 2, 0), (0, 2, -1), (0, 3, 1), (0, 3, 0), (0, 4, -1), (0, 5, 1)]


def test_eight_belts_and_two_causes_by_hand() -> None:
    found = incidence(*rows(TOY), 2)
    half, third, last = Fraction(3, 4), Fraction(5, 8), Fraction(5, 16)  # S after runs 1, 2, 3
    first = [Fraction(1, 8), Fraction(1, 8) + half / 6]
    first += [first[1] + third / 4] * 3
    second = [Fraction(1, 8)] * 2
    second += [second[1] + third / 4] * 2 + [second[1] + third / 4 + last]
    assert (first[2], second[4]) == (Fraction(13, 32), Fraction(19, 32))
    assert found.age.tolist() == [1, 2, 3, 4, 5]
    assert found.incidence == pytest.approx(np.array([first, second], float), abs=1e-15)
    assert found.survival == pytest.approx([0.75, 0.625, 0.3125, 0.3125, 0], abs=1e-15)


def test_the_first_two_standard_errors_by_hand_are_those_of_the_multinomial() -> None:
    found = incidence(*rows(TOY), 2)
    # One of eight failed of this cause at run 1: the share's binomial variance. Counting it alone would give .125.
    at_1 = Fraction(1 * 7, 8**3)
    assert found.se[0, 0] == pytest.approx(sqrt(at_1), abs=1e-15)
    assert found.se[0, 0] == pytest.approx(0.1169, abs=5e-5)
    rise = Fraction(1, 8)
    of_1 = rise**2 * Fraction(2, 8 * 6) + at_1 - 2 * rise * Fraction(1, 64)
    of_2 = Fraction(3, 4) ** 2 * Fraction(1 * 5, 6**3)
    assert of_1 + of_2 == Fraction(3, 128)
    assert found.se[0, 1] == pytest.approx(sqrt(Fraction(3, 128)), abs=1e-15)


def by_delta_method(age: np.ndarray, cause: np.ndarray, n_causes: int) -> np.ndarray:
    """Variance by differentiating the incidence itself, in complex steps, and each age's multinomial covariance."""
    ages = np.unique(age)
    n = np.array([(age == a).sum() for a in ages])
    share = np.array([[((age == a) & (cause == c)).sum() for c in range(n_causes)] for a in ages]) / n[:, None]

    def of(shares: np.ndarray) -> np.ndarray:
        survival, total, every = 1.0 + 0j, np.zeros(n_causes, complex), []
        for at in shares:
            total = total + survival * at
            survival = survival * (1 - at.sum())
            every.append(total)
        return np.array(every)

    variance = np.zeros((ages.size, n_causes))
    for s in range(ages.size):
        slopes = []
        for c in range(n_causes):
            step = share.astype(complex)
            step[s, c] += 1e-30j
            slopes.append(of(step).imag / 1e-30)
        slope = np.array(slopes)  # cause differentiated by, age, cause
        covariance = (np.diag(share[s]) - np.outer(share[s], share[s])) / n[s]
        variance += np.einsum("iaj,ik,kaj->aj", slope, covariance, slope)
    return variance.T


@pytest.mark.parametrize(
    "lives",
    [
        TOY,
        [(0, 3, 2), (1, 3, 0), (0, 2, 1), (2, 6, 0), (0, 6, 1), (3, 5, -1), (0, 4, 2), (1, 4, 2), (0, 7, -1)],
        # All at risk failed, of two causes, at run 2; others came used and failed after.
        [(0, 2, 0), (0, 2, 1), (0, 1, 1), (2, 4, 0), (2, 3, 1), (2, 5, -1)],
        [(0, 1, 0), (0, 1, 1), (1, 2, 0), (1, 3, 1)],
    ],
)
def test_standard_errors_are_those_of_a_numerical_delta_method(lives: list[tuple[int, int, int]]) -> None:
    age, cause = rows(lives)
    found = incidence(age, cause, 3)
    assert found.se**2 == pytest.approx(by_delta_method(age, cause, 3), abs=1e-14)


def test_where_all_at_risk_failed_nothing_rises_any_more() -> None:
    found = incidence(*rows([(0, 2, 0), (0, 2, 1), (0, 1, 1), (2, 4, 0), (2, 3, 1)]), 2)
    assert found.survival.tolist()[1:] == [0, 0, 0]
    assert found.incidence[:, 1:] == pytest.approx(np.array([[1 / 3] * 3, [2 / 3] * 3]), abs=1e-15)
    # With one cause only, the share that has failed is then 1 for certain.
    alone = incidence(*rows([(0, 1, 0), (0, 1, 0), (1, 2, 0)]), 1)
    assert alone.se.tolist() == [[0, 0]]


def test_a_cause_never_seen_has_zeros_and_no_cause_at_all_is_no_error() -> None:
    found = incidence(*rows(TOY), 4)
    assert (found.incidence[2:] == 0).all()
    assert (found.se[2:] == 0).all()
    none = incidence([1, 2], [-1, -1], 2)
    assert none.survival.tolist() == [1, 1]
    assert (none.incidence == 0).all()
    assert incidence([1], [-1], 0).incidence.shape == (0, 1)


def test_what_is_no_run_table_is_refused() -> None:
    with pytest.raises(ValueError, match="cause 2 is above the last code, 1"):
        incidence([1], [2], 2)
    with pytest.raises(ValueError, match="cause -2 is below -1"):
        incidence([1], [-2], 2)
    with pytest.raises(ValueError, match="at least one run"):
        incidence(np.array([], int), np.array([], int), 2)
    with pytest.raises(ValueError, match="one row is one run"):
        incidence([1, 2], [-1], 2)


def test_toy_causes_agree_with_r_and_their_errors_with_its_jackknife(stored: Callable, runs_of: Callable) -> None:
    r = stored("toy_causes")
    runs = runs_of([0] * 8, [row["time"] for row in r["rows"]], [row["cause"] for row in r["rows"]])
    found = incidence(runs.age, runs.cause, 2)
    for code in (0, 1):
        theirs = r["jackknife"]["probability"][str(code + 1)]
        assert found.incidence[code] == pytest.approx(theirs, abs=1e-14)
        errors = r["jackknife"]["se_infinitesimal_jackknife"][str(code + 1)]
        assert found.se[code] == pytest.approx(errors, abs=1e-14)
        at = np.searchsorted(found.age, r["cuminc_times"])
        assert found.incidence[code, at] == pytest.approx(r["cuminc"][f"1 {code + 1}"]["incidence"], abs=1e-14)


def test_35_transplant_patients_as_published(stored: Callable, runs_of: Callable) -> None:
    """Scrucca, Santucci and Aversa, Bone Marrow Transplant 2007: relapse of all by 4 and by 12 months."""
    from sksurv.datasets import load_bmt

    _, outcome = load_bmt()
    r = stored("bmt")
    runs = runs_of(outcome["ftime"] * 0 - 1, outcome["ftime"], outcome["status"])  # one left in month 0
    found = incidence(runs.age, runs.cause, 2)
    by = [found.incidence[0, np.flatnonzero(runs.times == month)[0]] for month in (4, 12)]
    assert by == pytest.approx([0.204926, 0.272839], abs=5e-7)
    assert runs.times.tolist() == r["jackknife"]["time"]
    for code in (0, 1):
        name = str(code + 1)
        assert found.incidence[code] == pytest.approx(r["jackknife"]["probability"][name], abs=1e-13)
        assert found.se[code] == pytest.approx(r["jackknife"]["se_infinitesimal_jackknife"][name], abs=1e-13)
    # cuminc counts each cause's failures alone; at month 4 it says .070153, the multinomial .069106.
    month_4 = int(np.flatnonzero(runs.times == 4)[0])
    assert found.se[0, month_4] == pytest.approx(0.069106, abs=5e-7)
    cuminc = r["cuminc_all"]
    theirs = cuminc["curves"]["1 1"]["variance_cuminc"][cuminc["event_times"].index(4)]
    assert sqrt(theirs) == pytest.approx(0.070153, abs=5e-7)


def test_scikit_survival_gives_the_same_incidence(runs_of: Callable) -> None:
    from sksurv.datasets import load_bmt
    from sksurv.nonparametric import cumulative_incidence_competing_risks

    _, outcome = load_bmt()
    times, theirs = cumulative_incidence_competing_risks(outcome["status"], outcome["ftime"])
    runs = runs_of(outcome["ftime"] * 0 - 1, outcome["ftime"], outcome["status"])
    found = incidence(runs.age, runs.cause, 2)
    assert times.tolist() == runs.times.tolist()
    assert np.vstack([1 - found.survival, found.incidence]) == pytest.approx(theirs, abs=1e-13)


def test_incidence_of_every_cause_in_the_invented_season_agrees_with_r(season: tuple[dict, dict]) -> None:
    table, r = season
    found: Incidence = incidence(table["age"], table["cause"], 5)
    causes = ["tooth-jump", "tooth-loss", "edge-split", "cord-pull", "unknown"]
    assert set(r["causes"]) <= set(causes)
    assert len(r["causes"]) >= 4
    for code, name in enumerate(causes):
        if name in r["causes"]:
            at = np.searchsorted(found.age, r["causes"][name]["age"])
            assert found.incidence[code, at] == pytest.approx(r["causes"][name]["incidence"], abs=1e-12)


def test_an_incidence_of_all_belts_is_1_and_no_rounding_error_more() -> None:
    lasts = (1, 1, 2, 2, 4, 7, 8, 8, 8, 9, 9)  # eleven belts whose plain sum of falls is 1 and 2e-16
    found = incidence(*rows([(0, last, 0) for last in lasts]), 1)
    assert found.incidence[0, -1] == 1
    assert found.incidence.max() == 1


def test_limits_of_a_share_by_hand() -> None:
    # F = .25, se = .05, z = 1.959964: reach = .0979982 / (.25 x 1.3862944) = .2827630
    share, se = np.array([[0.0, 0.25, 0.25, 1.0]]), np.array([[0.0, 0.05, np.nan, 0.05]])
    lower, upper = Incidence(np.arange(1, 5), share, se, 1 - share[0]).limits(0.95)
    assert lower[0, 1] == pytest.approx(0.25 ** (2.718281828**0.2827630), rel=1e-6)
    assert upper[0, 1] == pytest.approx(0.25 ** (2.718281828**-0.2827630), rel=1e-6)
    assert np.isnan([*lower[0, [0, 2, 3]], *upper[0, [0, 2, 3]]]).all()
