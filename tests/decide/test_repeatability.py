"""The same every time: by hand, published, against statsmodels, how often the limits hold, and laws."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.stats import chi2
from scipy.stats import f as fisher

from drivekit.decide.repeatability import Repeatability, repeatability

Ints, Floats = NDArray[np.int64], NDArray[np.float64]
# Strength of fabric from four looms, four pieces each: Montgomery, Design and Analysis of Experiments, the chapter on
# random effects (data and its limits typed from memory; the mean squares 29.73 and 1.90 printed there come out).
LOOMS = np.array([98, 97, 99, 96, 91, 90, 93, 92, 96, 95, 97, 95, 95, 96, 99, 98], float)
OF_LOOM = np.repeat(np.arange(4), 4)


def told(value: Floats, fitter: Ints, car: Ints, seed: int = 1) -> Repeatability:
    return repeatability(value, fitter, car, generator=np.random.default_rng(seed))


def season(rng: np.random.Generator, between: float, within: float) -> tuple[Floats, Ints, Ints]:
    """Make 60 tensions set by six fitters on three cars, unevenly."""
    fitter = rng.choice(6, 60, p=[0.3, 0.25, 0.2, 0.1, 0.1, 0.05])
    car = rng.integers(3, size=60)
    value = 8000 + 300 * car + between * rng.normal(size=6)[fitter] + within * rng.normal(size=60)
    return value, fitter, car


def test_the_looms_by_hand() -> None:
    means = LOOMS.reshape(4, 4).mean(axis=1)
    between, within = 4 * means.var(ddof=1), LOOMS.reshape(4, 4).var(axis=1, ddof=1).mean()
    assert (between, within) == pytest.approx((29.73, 1.90), abs=0.005)
    found = told(LOOMS, OF_LOOM, np.zeros(16, int))
    # balanced, so the restricted likelihood is the analysis of variance: (29.73 - 1.90) / 4 = 6.96 over 1.90
    assert found.ratio.estimate == pytest.approx((between - within) / 4 / within)
    assert found.between_sd.estimate == pytest.approx(np.sqrt(6.96), abs=0.001)
    assert found.within_sd.estimate == pytest.approx(np.sqrt(within))
    # Wald's limits are then ((F / quantile) - 1) / 4; the book prints .625 for the lower one
    limits = [(between / within / fisher.ppf(share, 3, 12) - 1) / 4 for share in (0.975, 0.025)]
    assert (found.ratio.lower, found.ratio.upper) == pytest.approx(limits)
    assert found.ratio.lower == pytest.approx(0.625, abs=0.005)
    assert found.within_sd.lower == pytest.approx(np.sqrt(12 * within / chi2.ppf(0.975, 12)))


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_statsmodels_gives_the_same_spreads(seed: int) -> None:
    import statsmodels.api as sm

    value, fitter, car = season(np.random.default_rng(seed), 400, 250)
    cars = np.asarray(car[:, None] == np.arange(3), float)
    other = sm.MixedLM(value, cars, groups=fitter).fit(reml=True)
    found = told(value, fitter, car)
    assert found.within_sd.estimate == pytest.approx(np.sqrt(other.scale), rel=1e-4)
    assert found.ratio.estimate == pytest.approx(other.cov_re[0, 0] / other.scale, rel=1e-3)


def test_limits_hold_the_truth_about_as_often_as_they_say() -> None:
    rng = np.random.default_rng(3)
    held = np.zeros(3)
    for seed in range(200):
        found = told(*season(rng, 200, 250), seed=seed)
        for place, (limits, truth) in enumerate(
            ((found.between_sd, 200), (found.within_sd, 250), (found.ratio, 0.64)),
        ):
            assert limits.lower is not None
            assert limits.upper is not None
            held[place] += limits.lower <= truth <= limits.upper
    # two standard errors of 200 seasons are 3.1 %
    assert held / 200 == pytest.approx(0.95, abs=0.031)


def test_three_fitters_have_differences_in_place_of_a_spread() -> None:
    # on one car 10 12, 14 16, 20 22: means 11, 15, 21; residual mean square 2 on 3 degrees, t = 3.182446
    found = told(np.array([10.0, 12, 14, 16, 20, 22]), np.repeat([0, 1, 2], 2), np.zeros(6, int))
    assert found.between_sd.reason == (
        "3 fitters are too few for a spread between fitters; their differences are told instead"
    )
    assert found.within_sd.estimate == pytest.approx(np.sqrt(2))
    assert {pair: each.estimate for pair, each in found.differences.items()} == {
        (0, 1): pytest.approx(4), (0, 2): pytest.approx(10), (1, 2): pytest.approx(6),
    }  # fmt: skip
    # above the mean of all, 47/3, of variance 2 (1/2 - 1/6)
    assert [each.estimate for each in found.above] == pytest.approx([11 - 47 / 3, 15 - 47 / 3, 21 - 47 / 3])
    assert found.above[2].upper == pytest.approx(21 - 47 / 3 + 3.182446 * np.sqrt(2 / 3), abs=1e-5)
    assert found.differences[0, 1].upper == pytest.approx(4 + 3.182446 * np.sqrt(2), abs=1e-5)


@pytest.mark.parametrize(("value", "fitter", "car", "said"), [
    ([1.0, 2, 3], [0, 0, 0], [0, 0, 0], "one fitter set every tension: there is nobody to compare with"),
    ([1.0, 2, 3, 5], [0, 0, 1, 1], [0, 0, 1, 1], "every car had a fitter of its own"),
    ([1.0, 2, 3, 5], [0, 1, 2, 3], [0, 0, 0, 0], "no fitter set a car's tension twice"),
])  # fmt: skip
def test_where_fitters_cannot_be_told_it_says_why(
    value: list[float], fitter: list[int], car: list[int], said: str
) -> None:
    found = told(np.array(value), np.array(fitter), np.array(car))
    assert found.between_sd.estimate is None
    assert found.between_sd.reason is not None
    assert found.between_sd.reason.startswith(said)


def test_fitters_who_never_met_on_a_car_are_not_held_against_each_other() -> None:
    found = told(
        np.array([1.0, 2, 4, 5, 9, 8, 7, 7]), np.array([0, 0, 1, 1, 2, 2, 2, 2]), np.array([0, 0, 0, 0, 1, 1, 1, 1])
    )
    assert found.differences[0, 1].estimate == pytest.approx(3)
    assert found.above[0].reason == found.differences[0, 2].reason == "they never set the tension of the same cars"


@settings(deadline=None, max_examples=20)
@given(st.integers(0, 1000), st.floats(0.1, 50), st.floats(-1e4, 1e4))
def test_another_unit_or_another_car_level_changes_no_ratio(seed: int, scale: float, shift: float) -> None:
    value, fitter, car = season(np.random.default_rng(seed), 300, 250)
    found, other = told(value, fitter, car), told(scale * value + shift * car, fitter, car)
    for name in ("estimate", "lower", "upper"):
        assert getattr(other.ratio, name) == pytest.approx(getattr(found.ratio, name), rel=1e-4, abs=1e-6)
        assert getattr(other.within_sd, name) == pytest.approx(scale * getattr(found.within_sd, name), rel=1e-6)
