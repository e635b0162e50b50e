"""Bolt torque to preload to grip, and the torques that are refused."""

import pytest

from drivekit.drive.clamp import (
    NUT_FACTORS,
    grip,
    preload,
    proof_load,
)
from drivekit.drive.screws import thread
from drivekit.units import INCH_M, POUND_N

FOOT_POUND_N_M = POUND_N * 0.3048
FINE = thread("3/8-24")
SAE_8 = 120 * 6.894757e6  # SAE J429, in Pa


def test_44_foot_pounds_on_a_dry_3_8_bolt_pull_7040_pounds() -> None:
    # 44 x 12 in lbf over .2 x .375 in
    bolt = preload(44 * FOOT_POUND_N_M, FINE, "dry", SAE_8)
    assert bolt.force_n.likely / POUND_N == pytest.approx(7040, rel=1e-9)
    # K of .26 and .14 by hand: 5,415 and 10,057 lbf, the latter 95 % of .0878 in2 x 120 ksi = 10,538 lbf
    assert bolt.force_n.least / POUND_N == pytest.approx(5415.4, abs=0.05)
    assert bolt.force_n.most / POUND_N == pytest.approx(10057.1, abs=0.05)
    assert bolt.share_of_proof == pytest.approx(0.9545, abs=5e-4)
    assert str(bolt) == (
        "59.7 N m (44.0 lbf ft) on a 3/8-24 UNF bolt, dry: likely 31,315 N (7,040 lbf), "
        "from 24,089 N (5,415 lbf) to 44,736 N (10,057 lbf), at most 95 % of its proof load."
    )


def test_a_proof_load_by_hand() -> None:
    # .08783 in2 x 120,000 psi
    assert proof_load(FINE, SAE_8) / POUND_N == pytest.approx(10537, abs=5)
    assert proof_load(thread("M10"), 830e6) == pytest.approx(48.1e3, abs=100)


def test_grip_by_hand() -> None:
    # 7,040 lbf x .12 x 2 bolts x 1 face = 1,689.6 lbf against 1,000
    held = grip(preload(44 * FOOT_POUND_N_M, FINE, "dry", SAE_8), 1000 * POUND_N, bolts=2)
    assert held.grip_n.likely / POUND_N == pytest.approx(1689.6, rel=1e-9)
    assert held.factor.least == pytest.approx(1.29969, abs=5e-6)
    assert held.holds
    assert str(held).endswith("1.7 times (1.3 to 2.4). It holds even at its least.")


@pytest.mark.parametrize(
    ("slip_lbf", "verdict"), [(1500, "It likely holds, but not at its least."), (2000, "It likely slips.")]
)
def test_a_clamp_that_may_slip_says_so(slip_lbf: float, verdict: str) -> None:
    held = grip(preload(44 * FOOT_POUND_N_M, FINE, "dry", SAE_8), slip_lbf * POUND_N, bolts=2)
    assert not held.holds
    assert str(held).endswith(verdict)


def test_galled_threads_leave_less_grip_than_clean_ones_for_the_same_torque() -> None:
    likely = [preload(30.0, FINE, state, SAE_8).force_n.likely for state in ("clean", "dry", "galled")]
    assert likely == sorted(likely, reverse=True)
    for _, factor in NUT_FACTORS.values():
        assert factor.least < factor.likely < factor.most


def test_a_torque_above_the_proof_load_is_refused_with_the_largest_allowed() -> None:
    # Proof 10,537 lbf at K .14 and .375 in: 553.2 in lbf = 46.1 lbf ft
    with pytest.raises(ValueError, match=r"above its proof load of 46,8\d\d N; stay at or below 62.5 N m"):
        preload(80.0, FINE, "dry", SAE_8)
    assert preload(62.4, FINE, "dry", SAE_8).share_of_proof == pytest.approx(1, abs=0.005)


def test_what_cannot_be_a_clamp_is_refused_in_one_sentence() -> None:
    bolt = preload(30.0, FINE, "dry", SAE_8)
    with pytest.raises(ValueError, match='"rusty" is no state of a thread; one of clean, dry, black, galled'):
        preload(30.0, FINE, "rusty", SAE_8)
    with pytest.raises(ValueError, match="The torque must be more than 0, not -5"):
        preload(-5, FINE, "dry", SAE_8)
    with pytest.raises(ValueError, match="The number of bolts must be a whole number from 1, not 0"):
        grip(bolt, 1000, bolts=0)
    with pytest.raises(ValueError, match="The friction of the faces must be more than 0"):
        grip(bolt, 1000, friction=0)
    with pytest.raises(ValueError, match="The force that makes the idler slip must be more than 0"):
        grip(bolt, 0)


def test_the_pitch_matters_only_through_the_stress_area() -> None:
    coarse = thread("3/8-16")
    assert preload(40, coarse, "dry", SAE_8).force_n == preload(40, FINE, "dry", SAE_8).force_n
    assert coarse.diameter_m == pytest.approx(0.375 * INCH_M)
    assert proof_load(coarse, SAE_8) < proof_load(FINE, SAE_8)


def test_a_plain_black_bolt_pulls_two_thirds_of_what_a_plated_dry_one_does() -> None:
    """Nut factors of .3 and .2: common textbook figures, from memory."""
    black, dry = (preload(40.0, thread("3/8-24"), state, 830e6).force_n.likely for state in ("black", "dry"))
    assert black / dry == pytest.approx(2 / 3)


def test_each_pair_of_faces_grips_with_the_whole_preload() -> None:
    """Mu F n m by hand: .15 of 40 / (.2 x 9.525 mm) = 20,997 N on three bolts and two pairs of faces is 18,898 N."""
    held = grip(preload(40.0, FINE, "dry", SAE_8), 1000, bolts=3, faces=2, friction=0.15)
    assert held.grip_n.likely == pytest.approx(18897.6, abs=0.1)
