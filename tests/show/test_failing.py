"""How belts fail, drawn and said: panels by cause, the law as a straight line, and what is only an assumption."""

from __future__ import annotations

import copy
from typing import Any

import numpy as np
import pytest

from drivekit.show.endings import causes_by_picture, weibull_picture
from drivekit.show.failing import (
    by_setting_words,
    incident_words,
    retired_words,
    sign_words,
    weibull_words,
)


def test_each_cause_has_a_panel_and_each_idler_a_rising_step_in_it(demo: Any, drawn: Any) -> None:
    marks = drawn(causes_by_picture(demo))
    for level, causes in demo["causes_by"]["idler"]["levels"].items():
        for cause, part in causes.items():
            if f"curve:{level}:{cause}" not in marks:
                assert not any(part["incidence"])
                continue
            line = marks[f"curve:{level}:{cause}"]
            assert line.get_drawstyle() == "steps-post"
            np.testing.assert_allclose(line.get_ydata(), [0, *(100 * value for value in part["incidence"])])
            assert marks[f"label:{level}:{cause}"].get_text() == level
    smooth, toothed = (marks[f"curve:{level}:tooth-jump"] for level in ("smooth", "toothed"))
    assert smooth.get_linestyle() != toothed.get_linestyle()


def test_the_law_is_a_straight_line_through_its_own_scale(demo: Any, drawn: Any) -> None:
    marks, block = drawn(weibull_picture(demo)), demo["weibull"]
    x, y = (np.asarray(values) for values in marks["line:law"].get_data())
    assert np.diff(y)[0] / np.diff(np.log(x))[0] == pytest.approx(block["shape"]["estimate"])
    # at the scale 63.2 % have failed: log(-log S) = 0
    assert y[0] + block["shape"]["estimate"] * np.log(block["scale"]["estimate"] / x[0]) == pytest.approx(0)
    curve = demo["life"]["overall"]
    inside = [
        0 < s < 1 and low is not None and 0 < low < 1 for s, low in zip(curve["survival"], curve["lower"], strict=True)
    ]
    heights = np.log(-np.log(np.array(curve["survival"])[inside]))
    np.testing.assert_allclose(marks["spots:curve"].get_ydata(), heights)


def test_words_carry_their_limits_and_their_doubts(demo: Any) -> None:
    told = by_setting_words(demo)
    assert told[-1].startswith("Nobody planned to ask")
    assert "on the smooth idler" in told[0]
    alone = [said for said in told if ", other settings alike, " in said]
    fitted = [part for part in demo["cause_hazards"].values() if "terms" in part]
    assert len(alone) == len(fitted)
    assert all(said.endswith((": too few belts to tell.", ": a hint.")) for said in alone)
    pooled = [part for part in demo["cause_hazards"].values() if len(part["causes"]) > 1]
    assert sum("together for being few" in said for said in told) == len(pooled) > 0
    law = weibull_words(demo)
    assert law[0].startswith("By Weibull's law for all belts together, 1 in 10 has failed after ")
    for said in incident_words(demo)[:-1]:
        assert said.endswith((": too few belts to tell.", ": a hint.", "failed there)."))
    assert "would have made" in retired_words(demo)[0]
    bounded = copy.deepcopy(demo)
    pair = bounded["retired"]["idler"]["mean_difference"]["toothed minus smooth"]
    pair |= {"lower": -0.04, "upper": 0.01}
    assert "would have made as many of their first" in (same := retired_words(bounded)[0])
    assert " runs as on the smooth, by" in same
    pair |= {"lower": -0.42, "upper": -0.38}
    assert "would have made 0.4 fewer of their first" in retired_words(bounded)[0]


def test_what_was_behind_a_look_is_counted_with_its_limits_and_few_or_none_are_said(demo: Any) -> None:
    ways = {"tooth-jump": 9, "tooth-loss": 4, "edge-split": 2, "cord-pull": 1, "unknown": 1}
    causes = {cause: {"count": count, "lower": 0.1, "upper": 0.456} for cause, count in ways.items()}
    torn = {"torn": {"failed": 17, "causes": causes}}
    seen = {**demo, "signs": {"teeth_look": torn, "shade": {"reason": "no shade"}}}
    assert sign_words(seen, "teeth_look", "torn") == (
        "17 failed so: 9 jumped a tooth (10 to 46 %), 4 lost teeth (10 to 46 %), 2 split at an edge (10 to 46 %) and "
        "2 otherwise."
    )
    assert sign_words(seen, "teeth_look", "missing") == "None of this log's belts that failed looked so."
    assert sign_words(seen, "shade", "front-dark") == "No shade."


def test_a_shape_that_nobody_saw_is_called_an_assumption(demo: Any) -> None:
    few = copy.deepcopy(demo)
    few["weibull"]["assumed"] = {"3": {"estimate": 7.1, "lower": 5.6, "upper": 9.6}}
    assert "Nothing speaks against it: " in weibull_picture(few).subtitle  # whether it fits, not the assumption
    reason = "fewer than two belts failed"
    none = {"estimate": None, "lower": None, "upper": None, "reason": reason}
    lone = {"estimate": None, "lower": 4.25, "upper": None, "reason": "no belt failed"}
    few["weibull"] |= {"loglik": None, "loglik_reason": reason, "shape": none, "assumed": {"2": lone}}
    assert weibull_words(few) == [
        f"No law of life can be fitted: {reason}.",
        "An assumption, not a finding: were the shape 2, 1 in 10 would fail by at least 4.2 runs.",
    ]
    assert weibull_picture(few) is None


def test_what_cannot_be_had_is_said_in_its_reason(demo: Any) -> None:
    none = {**demo, "incidents": {"reason": "no run had engine trouble"}, "retired": {"reason": "no belt came off"}}
    assert incident_words(none) == ["No run had engine trouble."]
    assert retired_words(none) == []
    assert causes_by_picture({**demo, "causes_by": {"idler": {"reason": "no run"}}}) is None
