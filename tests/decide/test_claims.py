"""What may be claimed of a difference, a ratio and a best place, rule by rule."""

from __future__ import annotations

import pytest

from drivekit.decide.claims import best_verdict, one_doubt, pair_verdicts, ratio_verdict, runs_verdict


@pytest.mark.parametrize(
    ("limits", "told", "failed", "room", "verdict"),
    [
        ((0.2, 2.0), True, 9, 4.0, "longer"),
        ((-2.0, -0.2), True, 0, 4.0, "shorter"),
        ((0.2, 2.0), False, 9, 4.0, "hint longer"),
        ((-2.0, -0.2), False, 9, 4.0, "hint shorter"),
        ((0.2, 2.0), False, 4, 4.0, "too few"),
        ((-0.9, 0.9), True, 9, 4.0, "no difference"),
        ((-0.9, 0.9), False, 9, 4.0, "no difference"),
        ((-0.9, 0.9), False, 4, 4.0, "too few"),
        ((-0.9, 0.9), False, 9, 1.9, "too few"),
        ((-0.9, 1.1), False, 9, 4.0, "too few"),
        ((0.0, 0.0), True, 9, 4.0, "too few"),
        ((1.0, 1.0), True, 9, 4.0, "too few"),
        ((None, 1.0), True, 9, 4.0, "no answer"),
    ],
)
def test_a_difference_is_judged_by_test_interval_failures_and_room(
    limits: tuple[float | None, float | None], told: bool, failed: int, room: float, verdict: str
) -> None:
    difference = {"lower": limits[0], "upper": limits[1]}
    assert runs_verdict(difference, told=told, failed=failed, room=room) == verdict


@pytest.mark.parametrize(
    ("hr", "limits", "told", "failed", "verdict"),
    [
        (0.5, (0.3, 0.9), True, 0, "fewer"),
        (0.5, (None, 0.9), True, 9, "fewer"),
        (2.0, (1.1, None), True, 9, "more"),
        (0.5, (0.3, 0.9), False, 9, "hint fewer"),
        (2.0, (1.1, 4.0), False, 9, "hint more"),
        (0.5, (0.3, 0.9), False, 4, "too few"),
        (0.5, (0.3, 1.2), True, 9, "too few"),
        (None, (None, None), True, 9, "no answer"),
    ],
)
def test_a_ratio_is_judged_by_test_interval_and_failures(
    hr: float | None, limits: tuple[float | None, float | None], told: bool, failed: int, verdict: str
) -> None:
    ratio = {"hr": hr, "lower": limits[0], "upper": limits[1]}
    assert ratio_verdict(ratio, told=told, failed=failed) == verdict


def test_a_pair_rests_on_the_failures_before_its_horizon() -> None:
    head = {
        "horizon_runs": 9,
        "to_horizon": {"smooth": {"failed": 5, "estimate": 6.0}, "toothed": {"failed": 4, "estimate": 6.1}},
        "pairs": {"toothed minus smooth": {"estimate": 0.1, "lower": -0.5, "upper": 0.7}},
    }
    assert pair_verdicts(head) == {"toothed minus smooth": "too few"}
    head["to_horizon"]["toothed"]["failed"] = 5
    assert pair_verdicts(head) == {"toothed minus smooth": "no difference"}
    assert pair_verdicts(head, hint=True) == {"toothed minus smooth": "too few"}


@pytest.mark.parametrize(
    ("runs", "ratio", "hr", "both"),
    [
        ("hint longer", "too few", 0.7, ("hint longer", "hint fewer")),
        ("hint shorter", "too few", 1.4, ("hint shorter", "hint more")),
        ("hint longer", "too few", 1.1, ("hint longer", "too few")),
        ("too few", "hint fewer", 0.7, ("hint longer", "hint fewer")),
        ("no difference", "hint more", 1.4, ("hint shorter", "hint more")),
        ("longer", "too few", 0.7, ("longer", "too few")),
        ("no answer", "hint fewer", 0.7, ("no answer", "hint fewer")),
    ],
)
def test_runs_and_failures_a_run_share_one_doubt(runs: str, ratio: str, hr: float, both: tuple[str, str]) -> None:
    assert one_doubt(runs, ratio, hr) == both


@pytest.mark.parametrize(
    ("run", "told", "hint", "verdict"),
    [
        ((7000.0, 9000.0), True, True, "best"),
        ((7000.0, 9000.0), False, True, "hint"),
        ((7000.0, 9000.0), False, False, "too few"),
        ((6000.0, 10000.0), True, True, "too few"),
        ((6000.0, 9000.0), True, True, "best"),
    ],
)
def test_a_best_place_needs_a_told_question_and_something_told_from_it(
    run: tuple[float, float], told: bool, hint: bool, verdict: str
) -> None:
    curve = {"run_n": {"lower": run[0], "upper": run[1]}, "often_n": [6000.0, 10000.0]}
    assert best_verdict(curve, told=told, hint=hint) == verdict


def test_a_curve_that_cannot_be_had_has_no_best_place() -> None:
    assert best_verdict({"reason": "tension is not in the fit"}, told=True, hint=True) == "no answer"
