"""The most tension that belt, bearings, clamp and snout stand: each limit just met, and the least of them said."""

from __future__ import annotations

from dataclasses import replace

import pytest

from drivekit.drive.layout import Layout, Snout
from drivekit.drive.limits import pull_along, tension_limits
from drivekit.drive.loads import states
from drivekit.drive.path import belt_path
from drivekit.drive.set_up import set_up


def test_the_limits_of_the_worked_example_by_hand(worked: Layout) -> None:
    # greatest growth 1,298.83 N, readings off by 10 %, share .427209
    layout = replace(worked, belt=replace(worked.belt, tension_limit_n=9000.0), snout=Snout(limit_n=20_000.0))
    found = set_up(layout)
    limits = tension_limits(found.layout, found.path, 1298.83, 5000.0)
    # cords: 1.1 T + 1,298.83 + .572791 x 4,000 = 9,000
    assert limits["the belt maker's limit"] == pytest.approx((9000 - 1298.83 - 0.572791 * 4000) / 1.1, abs=0.1)
    # idler at idle: 1.2 x (1.1 T + 1,298.83 - .427209 x 400 - 40) = 24,000 / 2
    bearings = (10_000 - 1298.83 + 0.427209 * 400 + 40) / 1.1
    assert limits["the bearings' static safety"] == pytest.approx(bearings, abs=0.1)
    # the slide lies along x, as the idler's pull does: 1.2 x the same = 5,000
    clamp = (5000 / 1.2 - 1298.83 + 0.427209 * 400 + 40) / 1.1
    assert limits["the clamp's least grip"] == pytest.approx(clamp, abs=0.1)


def test_at_each_limit_of_the_examples_the_worst_state_just_meets_it(toothed: Layout) -> None:
    found = set_up(toothed)
    assert found.grip is not None
    limits = tension_limits(found.layout, found.path, found.growth.tension_n[2], found.grip.grip_n.least)
    assert len(limits) == 4
    off = 1 + toothed.tension.reading_error

    def at(name: str) -> tuple[object, ...]:
        true = replace(found.layout.tension, set_n=limits[name] * off)
        return states(replace(found.layout, tension=true), found.path, found.growth.tension_n[2])

    blower = found.layout.place("blower")
    assert toothed.snout is not None
    assert max(one.load(blower).force_n for one in at("the snout's limit")) == pytest.approx(toothed.snout.limit_n)
    held = max(pull_along(found.layout, one, 1) for one in at("the clamp's least grip"))
    assert held == pytest.approx(found.grip.grip_n.least)
    borne = max(one.load(1).force_n for one in at("the bearings' static safety"))
    assert borne == pytest.approx(2 * 15_000 / 2)
    full = at("the belt maker's limit")[2].tensions
    assert full.tight_n + full.own_n == pytest.approx(toothed.belt.tension_limit_n)
    assert found.guide.limit_n == min(limits.values())
    assert limits[found.guide.limited_by] == found.guide.limit_n


def test_a_limit_below_any_tension_is_0_and_no_limit_given_is_none(worked: Layout) -> None:
    layout = worked.at_travel(0.05)
    weak = replace(layout, belt=replace(layout.belt, tension_limit_n=500.0), idler=None)
    assert tension_limits(weak, belt_path(layout), 1000.0, None) == {"the belt maker's limit": 0.0}
    bare = replace(layout, idler=None)
    assert tension_limits(bare, belt_path(layout), 1000.0, None) == {}
