"""Does this belt make one more run: by hand, by the steps of the fit, how often the limits hold, and laws."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from drivekit.decide.outlook import Baseline, Odds, off_looks, outlook, plain_odds
from drivekit.life.cox import fit
from drivekit.life.riskset import RiskSets
from drivekit.life.steps import steps

Ints, Floats = NDArray[np.int64], NDArray[np.float64]


def whole_season(rng: np.random.Generator, belts: int, coef: float = -0.7) -> tuple[Baseline, Floats]:
    """Make a season of two cars alike, hazards rising with age, with one setting; and its hazards."""
    hazard = np.array([0.05, 0.1, 0.15, 0.25, 0.35, 0.4, 0.5, 0.6])
    age, stratum, failed, x = [], [], [], []
    for belt in range(belts):
        mark = float(rng.integers(2))
        for run in range(1, 9):
            gone = rng.random() < 1 - (1 - hazard[run - 1]) ** np.exp(coef * mark)
            age.append(run), stratum.append(belt % 2), failed.append(gone), x.append([mark])
            if gone or rng.random() < 0.08:
                break
    return fitted(np.array(age), np.array(stratum), np.array(failed), np.array(x)), hazard


def fitted(age: Ints, stratum: Ints, failed: NDArray[np.bool_], x: Floats) -> Baseline:
    found = fit(RiskSets.of(age, failed, x, stratum))
    return Baseline(age, stratum, failed, x, found.coef, found.covariance)


def ahead_of(study: Baseline, age: list[int], stratum: list[int], x: list[list[float]], seed: int = 1) -> Odds:
    generator = np.random.default_rng(seed)
    return outlook(study, np.array(age), np.array(stratum), np.array(x), generator=generator)


def test_three_belts_by_hand() -> None:
    # One car, ratio exp(b) = 2 for a marked belt. Run 1: weights 1, 1, 2, 2; one unmarked belt fails, 1/6.
    # Run 2: weights 1, 2, 2; both marked ones fail: Efron 1/5 and 1/(5 - 4/2) = 1/3. Run 3: weight 1, none fails.
    study = Baseline(
        age=np.array([1, 1, 1, 1, 2, 2, 2, 3]),
        stratum=np.zeros(8, int),
        failed=np.array([1, 0, 0, 0, 0, 1, 1, 0], bool),
        x=np.array([[0.0], [0], [1], [1], [0], [1], [1], [0]]),
        coef=np.log([2.0]),
        covariance=np.array([[0.09]]),
    )
    found = ahead_of(study, [0, 1, 2], [0, 0, 0], [[0], [1], [0]])
    assert found.survive[0, :3] == pytest.approx(np.exp([-1 / 6, -1 / 6 - 8 / 15, -1 / 6 - 8 / 15]))
    assert found.survive[1, :2] == pytest.approx(np.exp([-16 / 15, -16 / 15]))
    assert found.survive[2, 0] == 1
    # nobody made a fourth run
    assert np.isnan(found.survive).tolist() == [[False] * 3 + [True], [False] * 2 + [True] * 2, [False] + [True] * 3]
    assert np.array_equal(np.isnan(found.survive), np.isnan(found.lower))


def test_an_age_at_which_none_failed_is_no_promise() -> None:
    # 8 alike at risk, none failed: with one failure more of weight 1/8, exp(-log(40) / 8) = .631 (b known here)
    study = Baseline(
        np.ones(8, int), np.zeros(8, int), np.zeros(8, bool), np.zeros((8, 1)), np.zeros(1), np.zeros((1, 1)) + 1e-12
    )
    lower = [ahead_of(study, [0], [0], [[0]], seed).lower[0, 0] for seed in range(20)]
    assert np.mean(lower) == pytest.approx(40 ** (-1 / 8), abs=0.01)
    assert ahead_of(study, [0], [0], [[0]]).upper[0, 0] == 1


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_steps_of_the_fit_give_the_same_chances(seed: int) -> None:
    study, _ = whole_season(np.random.default_rng(seed), 70)
    found = fit(RiskSets.of(study.age, study.failed, study.x, study.stratum))
    parts = steps(found)
    increment = parts.by_set(parts.hazard)
    survive = ahead_of(study, [2, 4], [1, 0], [[1], [0]]).survive
    for place, (age, home, mark) in enumerate(((2, 1, 1.0), (4, 0, 0.0))):
        # the sets hold covariates less a mean of their stratum
        in_sets = np.isin(study.age, found.rows.age[found.rows.stratum == home]) & (study.stratum == home)
        shift = study.x[in_sets].mean()
        for column, ahead in enumerate((1, 2, 3)):
            window = (found.rows.stratum == home) & (found.rows.age > age) & (found.rows.age <= age + ahead)
            risk = np.exp((mark - shift) * found.coef[0])
            assert survive[place, column] == pytest.approx(np.exp(-increment[window].sum() * risk), rel=1e-10)


def test_limits_hold_the_truth_about_as_often_as_they_say() -> None:
    rng = np.random.default_rng(5)
    held, asked = np.zeros(2), 0
    for season in range(150):
        study, hazard = whole_season(rng, 60)
        found = ahead_of(study, [1, 3], [0, 1], [[1], [0]], season)
        truth = np.array([[1 - hazard[1]] * 2, [1 - hazard[3]] * 2]) ** np.array([[np.exp(-0.7)], [1.0]])
        truth[:, 1] *= np.array([1 - hazard[2], 1 - hazard[4]]) ** np.array([np.exp(-0.7), 1.0])
        held += ((found.lower[:, :2] <= truth) & (truth <= found.upper[:, :2])).sum(axis=0)
        asked += 2
    assert np.all(held / asked >= 0.93)


def test_shuffled_runs_give_the_same_chances_and_a_seed_the_same_limits() -> None:
    study, _ = whole_season(np.random.default_rng(9), 50)
    order = np.random.default_rng(0).permutation(study.age.size)
    other = Baseline(
        study.age[order], study.stratum[order], study.failed[order], study.x[order], study.coef, study.covariance
    )
    one, again, shuffled = (ahead_of(each, [1, 2], [0, 1], [[1], [0]]) for each in (study, study, other))
    assert np.array_equal(one.lower, again.lower)
    assert shuffled.survive == pytest.approx(one.survive, rel=1e-12)
    assert shuffled.lower == pytest.approx(one.lower, rel=1e-9)


def test_chances_fall_from_run_to_run_and_lie_within_their_limits() -> None:
    study, _ = whole_season(np.random.default_rng(12), 80)
    found = ahead_of(study, [0, 1, 2], [0, 1, 0], [[0], [1], [1]])
    for shares in (found.survive, found.lower, found.upper):
        assert np.all(np.diff(shares, axis=1) <= 0)
    assert np.all((found.lower <= found.survive) & (found.survive <= found.upper))


def test_a_car_without_runs_in_the_study_has_no_chances() -> None:
    study, _ = whole_season(np.random.default_rng(1), 30)
    assert np.isnan(ahead_of(study, [1], [2], [[0]]).survive).all()


def test_plain_chances_by_hand() -> None:
    survival = np.array([1, 0.9, 0.9, 0.6, 0.3])
    assert plain_odds(survival, 1) == pytest.approx([1, 2 / 3, 1 / 3, None])
    assert plain_odds(np.array([1, 0.0, 0.0]), 1) == [None, None, None, None]


@given(st.lists(st.integers(0, 5), min_size=2, max_size=8))
def test_the_plain_chance_of_one_run_is_the_share_that_did_not_fail_on_it(failed: list[int]) -> None:
    hazard = np.array(failed) / 6
    survival = np.concatenate([[1.0], np.cumprod(1 - hazard)])
    for age, share in enumerate(hazard):
        assert plain_odds(survival, age, (1,)) == [pytest.approx(1 - share)]


def test_looks_that_take_a_belt_off() -> None:
    looks = {"teeth_look": "worn", "cord_look": "pulled", "edge_look": None, "surface": "metal", "shade": "even"}
    assert off_looks(looks) == {"cord_look": "pulled", "surface": "metal"}
    assert off_looks({"teeth_look": "good", "cord_look": "hairs", "edge_look": "frayed"}) == {}
