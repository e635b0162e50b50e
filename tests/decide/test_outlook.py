"""Does this belt make one more run: by hand, by the steps of the fit, how often the limits hold, and laws."""

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from drivekit.decide.outlook import Odds, Score, off_looks, outlook, scored
from drivekit.life.cox import fit
from drivekit.life.riskset import RiskSets
from drivekit.life.steps import steps

Ints, Floats = NDArray[np.int64], NDArray[np.float64]
Studied = tuple[dict[str, NDArray[Any]], Floats, Floats]


def whole_season(rng: np.random.Generator, belts: int, coef: float = -0.7) -> tuple[Studied, Floats]:
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


def fitted(age: Ints, stratum: Ints, failed: NDArray[np.bool_], x: Floats) -> Studied:
    found = fit(RiskSets.of(age, failed, x, stratum))
    return {"age": age, "stratum": stratum, "failed": failed, "x": x}, found.coef, found.covariance


def ahead_of(study: Studied, age: list[int], stratum: list[int], x: list[list[float]], seed: int = 1) -> Odds:
    generator = np.random.default_rng(seed)
    return outlook(*study, np.array(age), np.array(stratum), np.array(x), generator=generator)


def test_three_belts_by_hand() -> None:
    # One car, ratio exp(b) = 2 for a marked belt. Run 1: weights 1, 1, 2, 2; one unmarked belt fails, 1/6.
    # Run 2: weights 1, 2, 2; both marked ones fail: Efron 1/5 and 1/(5 - 4/2) = 1/3. Run 3: weight 1, none fails.
    rows = {
        "age": np.array([1, 1, 1, 1, 2, 2, 2, 3]),
        "stratum": np.zeros(8, int),
        "failed": np.array([1, 0, 0, 0, 0, 1, 1, 0], bool),
        "x": np.array([[0.0], [0], [1], [1], [0], [1], [1], [0]]),
    }
    found = ahead_of((rows, np.log([2.0]), np.array([[0.09]])), [0, 1, 2], [0, 0, 0], [[0], [1], [0]])
    assert found.survive[0, :3] == pytest.approx(np.exp([-1 / 6, -1 / 6 - 8 / 15, -1 / 6 - 8 / 15]))
    assert found.survive[1, :2] == pytest.approx(np.exp([-16 / 15, -16 / 15]))
    assert found.survive[2, 0] == 1
    # nobody made a fourth run
    assert np.isnan(found.survive).tolist() == [[False] * 3 + [True], [False] * 2 + [True] * 2, [False] + [True] * 3]
    assert np.array_equal(np.isnan(found.survive), np.isnan(found.lower))


def test_an_age_at_which_none_failed_is_no_promise() -> None:
    # 8 alike at risk, none failed: with one failure more of weight 1/8, exp(-log(40) / 8) = .631 (b known here)
    rows = {"age": np.ones(8, int), "stratum": np.zeros(8, int), "failed": np.zeros(8, bool), "x": np.zeros((8, 1))}
    study = rows, np.zeros(1), np.full((1, 1), 1e-12)
    lower = [ahead_of(study, [0], [0], [[0]], seed).lower[0, 0] for seed in range(20)]
    assert np.mean(lower) == pytest.approx(40 ** (-1 / 8), abs=0.01)
    assert ahead_of(study, [0], [0], [[0]]).upper[0, 0] == 1


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_steps_of_the_fit_give_the_same_chances(seed: int) -> None:
    study, _ = whole_season(np.random.default_rng(seed), 70)
    rows = study[0]
    found = fit(RiskSets.of(rows["age"], rows["failed"], rows["x"], rows["stratum"]))
    parts = steps(found)
    increment = parts.by_set(parts.hazard)
    survive = ahead_of(study, [2, 4], [1, 0], [[1], [0]]).survive
    for place, (age, home, mark) in enumerate(((2, 1, 1.0), (4, 0, 0.0))):
        # the sets hold covariates less a mean of their stratum
        in_sets = np.isin(rows["age"], found.rows.age[found.rows.stratum == home]) & (rows["stratum"] == home)
        shift = rows["x"][in_sets].mean()
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
    order = np.random.default_rng(0).permutation(study[0]["age"].size)
    other = {name: values[order] for name, values in study[0].items()}, *study[1:]
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


def test_looks_that_take_a_belt_off() -> None:
    looks = {"teeth_look": "worn", "cord_look": "pulled", "edge_look": None, "surface": "metal", "shade": "even"}
    assert off_looks(looks) == {"cord_look": "pulled", "surface": "metal"}
    assert off_looks({"teeth_look": "good", "cord_look": "hairs", "edge_look": "frayed"}) == {}


def score(foretold: list[float], failed: list[int], belt: list[int], base: float) -> Score:
    rows = np.array(foretold), np.array(failed, bool), np.array(belt)
    return scored(*rows, base, confidence=0.95, generator=np.random.default_rng(1))


def test_six_runs_by_hand() -> None:
    # squares of the odds .01 .04 .25 .09 .16 .81, of the base rate .04 .04 .64 .04 .64 .04
    found = score([0.1, 0.2, 0.5, 0.3, 0.6, 0.9], [0, 0, 1, 0, 1, 0], [0, 0, 0, 1, 1, 2], 0.2)
    assert found.brier == pytest.approx(1.36 / 6)
    assert found.base_brier == pytest.approx(1.44 / 6)
    assert found.gain.estimate == pytest.approx(0.08 / 6)
    assert found.thirds == ((2, pytest.approx(0.15), 0), (2, pytest.approx(0.4), 0.5), (2, pytest.approx(0.75), 0.5))


def test_odds_that_are_the_truth_beat_the_base_rate_and_blind_ones_do_not() -> None:
    rng = np.random.default_rng(3)
    truth = rng.choice([0.02, 0.1, 0.4], 2000)
    failed, belt = rng.random(2000) < truth, np.repeat(np.arange(400), 5)
    generator = np.random.default_rng(1)
    right = scored(truth, failed, belt, truth.mean(), confidence=0.95, generator=generator)
    blind = scored(rng.permutation(truth), failed, belt, truth.mean(), confidence=0.95, generator=generator)
    assert right.gain.lower is not None
    assert right.gain.lower > 0
    assert blind.gain.upper is not None
    assert blind.gain.upper < 0
    for _, said, seen in right.thirds:
        assert seen == pytest.approx(said, abs=0.03)


def test_two_runs_score_nothing() -> None:
    with pytest.raises(ValueError, match="3 runs or more"):
        score([0.1, 0.2], [0, 1], [0, 1], 0.1)
