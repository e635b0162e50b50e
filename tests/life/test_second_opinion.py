"""What lifelines says of the same rows, and what happens where it says nothing."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from importlib import metadata

import numpy as np
import pytest

from drivekit.life.curve import curve
from drivekit.life.second_opinion import Compared, compare_cox, compare_curve, second_opinion


def weeks(start: np.ndarray, stop: np.ndarray, event: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """One row a week: its number, whether the event came in it, and whose it is."""
    whose, age = np.nonzero((start[:, None] < np.arange(stop.max() + 1)) & (np.arange(stop.max() + 1) <= stop[:, None]))
    return age, (stop[whose] == age) & (event[whose] == 1), whose


@pytest.fixture(scope="module")
def ten(stored: Callable) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The late-entry set of R's validation vignette as rows: age, failed and x."""
    rows = stored("late_entry_ten")["rows"]
    start, stop, event, x = (np.array([row[key] for row in rows]) for key in ("start", "stop", "event", "x"))
    age, failed, whose = weeks(start, stop, event)
    return age, failed, x[whose].astype(float)


def test_lifelines_repeats_a_curve_with_late_entry(ten: tuple) -> None:
    age, failed, _ = ten
    ours = curve(age, failed, np.zeros(age.size, int))
    found = compare_curve("survival curve, all belts", age, failed, ours)
    assert (found.what, found.reason, found.warned) == ("survival curve, all belts", None, ())
    assert found.largest_difference < 1e-12


def test_lifelines_repeats_every_curve_of_the_invented_season(season: tuple[dict, dict]) -> None:
    table, _ = season
    for level in ("smooth", "toothed"):
        rows = table["idler"] == level
        age, failed = table["age"][rows], table["failed"][rows]
        found = compare_curve(level, age, failed, curve(age, failed, table["belt"][rows]))
        assert found.largest_difference < 1e-12


def test_a_curve_that_is_off_is_found_out(ten: tuple) -> None:
    age, failed, _ = ten
    ours = curve(age, failed, np.zeros(age.size, int))
    wrong = ours.survival.copy()
    wrong[3] -= 0.001
    found = compare_curve("curve", age, failed, replace(ours, survival=wrong))
    assert found.largest_difference == pytest.approx(0.001, abs=1e-12)


def test_lifelines_goes_on_to_the_coefficient_of_the_validation_vignette(ten: tuple) -> None:
    """It stops at -.02105389 by itself; the vignette of R's survival package derives -.0211052096."""
    age, failed, x = ten
    found = compare_cox(
        "hazard", age, failed, x[:, None], np.zeros(age.size, int), np.array([-0.0211052095801752]), ["x"]
    )
    assert found.reason is None
    assert found.largest_difference < 1e-12


def test_lifelines_repeats_the_stratified_fit_that_r_made_of_the_invented_season(season: tuple[dict, dict]) -> None:
    table, r = season
    known = (table["tension_n"] != "") & (table["edge_lube"] != "")
    kilonewtons = np.array([float(v) for v in table["tension_n"][known]]) / 1000
    x = np.column_stack(
        [
            (table["idler"][known] == "toothed").astype(float),
            kilonewtons,
            (table["edge_lube"][known] == "install").astype(float),
            (table["edge_lube"][known] == "every-run").astype(float),
        ]
    )
    car = np.unique(table["car"][known].astype(str), return_inverse=True)[1]
    terms = r["hazard"]["terms"]
    coef = np.array([term["coef"] for term in terms.values()])
    found = compare_cox("hazard", table["age"][known], table["failed"][known], x, car, coef, list(terms))
    assert found.largest_difference < 1e-9
    assert found.warned == ()


def test_what_lifelines_warns_of_is_kept_under_the_terms_own_name_and_not_shown(ten: tuple) -> None:
    age, failed, x = ten
    both = np.column_stack([x, failed.astype(float)])  # whatever failed is marked: lifelines fears for such a term
    found = compare_cox("hazard", age, failed, both, np.zeros(age.size, int), np.zeros(2), ["x", "marked"])
    assert any("marked" in words for words in found.warned)
    assert all("\n" not in words for words in found.warned)


def test_a_fit_that_did_not_come_to_rest_is_not_compared(ten: tuple, monkeypatch: pytest.MonkeyPatch) -> None:
    import warnings

    import lifelines

    class Restless:
        params_ = np.zeros(1)

        def fit(self, *_: object, **__: object) -> Restless:
            warnings.warn(
                "Newton-Raphson failed to converge sufficiently in 50 steps.\nMore.", UserWarning, stacklevel=1
            )
            return self

    monkeypatch.setattr(lifelines, "CoxTimeVaryingFitter", Restless)
    age, failed, x = ten
    found = compare_cox("hazard", age, failed, x[:, None], np.zeros(age.size, int), np.zeros(1), ["x"])
    assert found.reason == "lifelines gave no answer (Newton-Raphson failed to converge sufficiently in 50 steps.)"
    assert found.largest_difference is None


def test_two_terms_that_say_the_same_are_no_answer_but_no_error(ten: tuple) -> None:
    age, failed, x = ten
    found = compare_cox(
        "hazard", age, failed, np.column_stack([x, x]), np.zeros(age.size, int), np.zeros(2), ["x", "y"]
    )
    assert found.largest_difference is None
    assert found.reason is not None


def test_a_coefficient_of_ours_that_is_no_number_is_not_called_a_difference(ten: tuple) -> None:
    age, failed, x = ten
    found = compare_cox("hazard", age, failed, x[:, None], np.zeros(age.size, int), np.array([np.nan]), ["x"])
    assert found.reason == "lifelines gave no number for some of it"


def test_without_lifelines_the_study_gets_a_reason(ten: tuple, monkeypatch: pytest.MonkeyPatch) -> None:
    age, failed, _ = ten
    monkeypatch.setitem(sys.modules, "lifelines", None)
    one = compare_curve("curve", age, failed, curve(age, failed, np.zeros(age.size, int)))
    found = second_opinion([one])
    assert list(found) == ["reason"]
    assert found["reason"].startswith("lifelines gave no answer (")


def test_what_was_compared_and_what_was_left_out_is_gathered_into_one() -> None:
    assert second_opinion(
        [
            Compared("curve, smooth", 2e-16, None, ("small sample",)),
            Compared("curve, toothed", 5e-16, None, ("small sample",)),
            Compared("hazard", None, "lifelines gave no answer (singular)"),
        ]
    ) == {
        "library": "lifelines",
        "version": metadata.version("lifelines"),
        "compared": ["curve, smooth", "curve, toothed"],
        "largest_difference": 5e-16,
        "left_out": ["hazard: lifelines gave no answer (singular)"],
    }
    assert second_opinion([]) == {"reason": "there was nothing to repeat"}


def test_no_heavy_library_is_loaded_before_it_is_used() -> None:
    names = ["curve", "folds", "logrank", "confounding", "second_opinion"]
    code = (
        f"import sys, {', '.join('drivekit.life.' + name for name in names)}\n"
        "print([name for name in ('pandas', 'scipy', 'lifelines', 'matplotlib', 'numba') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
