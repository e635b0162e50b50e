"""How good odds were: by hand, and against seasons where the odds are the truth or say nothing."""

import numpy as np
import pytest

from drivekit.decide.scored import Score, scored


def score(foretold: list[float], failed: list[int], belt: list[int], base: float) -> Score:
    rows = np.array(foretold), np.array(failed, bool), np.array(belt)
    return scored(*rows, base, confidence=0.95, generator=np.random.default_rng(1))


def test_six_runs_by_hand() -> None:
    # squares of the odds .01 .04 .25 .09 .16 .81, of the base rate .04 .04 .64 .04 .64 .04
    found = score([0.1, 0.2, 0.5, 0.3, 0.6, 0.9], [0, 0, 1, 0, 1, 0], [0, 0, 0, 1, 1, 2], 0.2)
    assert (found.runs, found.failed) == (6, 2)
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
