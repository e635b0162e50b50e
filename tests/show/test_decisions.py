"""Pictures to decide by draw the findings' own numbers, and say what is not known."""

import copy

import numpy as np
import pytest

from drivekit.show.decision_words import count_of_20
from drivekit.show.decisions import change_picture, fitters_picture, outlook_picture, spares_picture, trial_picture
from drivekit.show.paper import SIZES
from tests.show.test_every_picture import look


def belt(name, chances, off=None):
    """A running belt with the same limits at every number of runs."""
    ahead = [
        {"runs": runs, "survive": chance, "lower": 0.25, "upper": 0.95, "plain": 0.5}
        | ({"reason": "nobody made it"} if chance is None else {})
        for runs, chance in zip((1, 2, 3, 5), chances, strict=True)
    ]
    of_belt = {"belt": name, "car": "amber", "age": 3, "idler": "smooth", "edge_lube": "none"}
    return of_belt | {"next": [] if off else ahead} | ({"off": off} if off else {})


def test_costs_are_drawn_as_they_are_and_the_best_is_marked(demo, drawn):
    marks, block = drawn(change_picture(demo)), demo["change_out"]["levels"]
    for level in (marks[name].get_gid()[6:] for name in marks if name.startswith("curve:")):
        np.testing.assert_allclose(marks[f"curve:{level}"].get_xdata(), block[level]["runs"])
        np.testing.assert_allclose(marks[f"curve:{level}"].get_ydata(), block[level]["cost_per_run"])
    leads = [name[5:] for name in marks if name.startswith("best:")]
    assert leads == (["smooth", "toothed"] if demo["claims"]["idler"]["claimed"] else ["all"])
    for level in leads:
        assert marks[f"best:{level}"].get_xdata() == [block[level]["best_runs"]["estimate"]]
        alike = [run for run, told in zip(block[level]["runs"], block[level]["not_worse"], strict=True) if told]
        assert marks[f"spots:{level}"].get_xdata().tolist() == alike
        moves = block[level]["by_cost_ratio"]
        np.testing.assert_allclose(marks[f"moves:{level} by cost"].get_xdata(), moves["ratio"])
        np.testing.assert_allclose(marks[f"moves:{level} by cost"].get_ydata(), np.array(moves["best_runs"], float))
    assert marks["taken"].get_xdata() == [8, 8]


def test_where_no_change_age_pays_at_any_cost_nothing_is_drawn_of_how_it_moves(demo, drawn):
    found = copy.deepcopy(demo)
    for level in found["change_out"]["levels"].values():
        level["by_cost_ratio"]["best_runs"] = [None] * len(level["by_cost_ratio"]["ratio"])
    picture = change_picture(found)
    assert "taken" not in drawn(picture)
    assert "Second panel" not in picture.note


def test_a_lost_elimination_counts_in_the_cost_that_is_marked(demo, drawn):
    found = copy.deepcopy(demo)
    found["change_out"] |= {"cost_elimination": 28.0, "elimination_share": 0.25}
    assert drawn(change_picture(found))["taken"].get_xdata() == [13, 13]


@pytest.mark.parametrize("told", [True, False])
def test_idlers_lead_only_where_they_are_told_apart(demo, drawn, told):
    found = copy.deepcopy(demo)
    found["claims"]["idler"]["claimed"] = told
    picture = change_picture(found)
    marks = drawn(picture)
    assert ("best:all" in marks) is not told
    assert ("curve:all" in marks) is not told
    assert ("not told apart" in picture.note) is not told
    assert marks["curve:smooth"].get_linewidth() == pytest.approx(SIZES["screen"].line * (1 if told else 0.6))


def test_odds_stand_in_their_cells_with_limits_and_counts(demo, drawn):
    found = demo | {"outlook": [belt("B1", (0.6, 0.4, None, None)), belt("B2", (1.0, 0.9, 0.8, 0.7))]}
    marks = drawn(outlook_picture(found))
    np.testing.assert_allclose(marks["interval:B1:2"].get_xdata(), [1.12 + 0.76 * 0.25, 1.12 + 0.76 * 0.95])
    np.testing.assert_allclose(marks["interval:B1:2:dot"].get_xdata(), [1.12 + 0.76 * 0.4])
    assert marks["interval:B1:1:said"].get_text() == "12"
    assert marks["interval:B1:3:said"].get_text() == "\N{EN DASH}"
    assert "interval:B1:3" not in marks
    # none failed there yet: the least is said, not the most
    assert marks["interval:B2:1:said"].get_text() == "5 or more"
    assert marks["label:B2"].get_text() == "B2, amber, 3 runs"


@pytest.mark.parametrize("size", SIZES)
def test_a_belt_that_is_off_has_no_odds_at_any_size(demo, size):
    off = [belt("B1", (0.6,) * 4, {"edge_look": "split"}), belt("B2", (0.01, 0.99, 0.5, 0.02))]
    fig, found = look(outlook_picture(demo | {"outlook": off}), size)
    said = [text.get_text() for text, _ in found]
    assert "OFF: a split edge" in said
    assert not fig.findobj(lambda one: (one.get_gid() or "").startswith("interval:B1"))
    assert {"under 1", "over 19"} <= set(said)


@pytest.mark.parametrize("size", SIZES)
def test_a_car_of_a_long_name_leaves_its_belt_room_for_the_odds(demo, size):
    car = "the car that was bought in the autumn and painted twice"
    long = [belt("B1", (1.0, 1.0, 0.5, 0.02)) | {"car": car}, belt("B2", (0.6,) * 4)]
    _, found = look(outlook_picture(demo | {"outlook": long}), size)
    said = [text.get_text() for text, _ in found]
    assert f"B1, {car}, 3 runs" in [" ".join(name.split()) for name in said]


def test_nothing_is_promised_where_too_few_belts_went_on(demo, drawn):
    none = belt("B1", (1.0, 1.0, 1.0, 1.0))
    none["next"][0] |= {"lower": 0.01, "upper": 1.0}
    marks = drawn(outlook_picture(demo | {"outlook": [none]}))
    assert marks["interval:B1:1:said"].get_text() == "\N{EN DASH}"
    assert "interval:B1:1" not in marks


@pytest.mark.parametrize("size", SIZES)
def test_of_many_belts_the_worst_are_drawn_and_the_rest_counted(demo, size):
    picture = outlook_picture(demo | {"outlook": [belt(f"Belt-{n:02d}", (0.5,) * 4) for n in range(14)]})
    look(picture, size)
    assert "8 belts left out: off too, or with odds as good or better, or none known." in picture.note


def test_belts_needed_are_drawn_as_the_chance_to_be_short(demo, drawn):
    marks, block = drawn(spares_picture(demo)), demo["spares"]
    line = marks["curve:short"]
    assert line.get_drawstyle() == "steps-post"
    np.testing.assert_allclose(line.get_xdata(), [int(count) for count in block["chance_short"]])
    np.testing.assert_allclose(line.get_ydata(), [100 * chance for chance in block["chance_short"].values()])
    for share, count in block["quantiles"].items():
        assert marks[f"spots:{share}"].get_xdata() == [count]


def test_the_power_of_a_test_is_drawn_beside_what_was_asked(demo, drawn):
    marks, block = drawn(trial_picture(demo)), demo["next_trial"]
    np.testing.assert_allclose(marks["curve:told"].get_xdata(), [each["belts"] for each in block["curve"]])
    np.testing.assert_allclose(marks["curve:told"].get_ydata(), [100 * each["told"] for each in block["curve"]])
    assert marks["rule:power"].get_ydata()[0] == 80
    assert marks["line:takes"].get_xdata()[0] == block["belts"]
    assert marks["label:this season"].get_text() == f"this season {block['belts_this_season']}"


def test_what_cannot_be_decided_has_no_picture(season):
    for draw in (change_picture, outlook_picture, spares_picture, trial_picture):
        assert draw(season) is None
    assert outlook_picture(season | {"outlook": []}) is None


def test_chances_are_said_in_counts_and_none_is_said_as_sure_that_is_not():
    assert [count_of_20(share) for share in (0.16, 0.01, 0.99, 1.0)] == [
        "about 3 in 20", "fewer than 1 in 20", "more than 19 in 20", "none has failed so far",
    ]  # fmt: skip


def test_fitters_stand_with_their_limits_about_all_runs_and_those_with_fewest_runs_are_left_out(demo, drawn):
    block = demo["repeatability"]
    marks = drawn(fitters_picture(demo))
    for name, each in block["by_fitter"].items():
        assert marks[f"interval:{name}"].get_xdata() == [each["estimate"]]
        np.testing.assert_allclose(marks[f"interval:{name}:limits"].get_xdata(), (each["lower"], each["upper"]))
    crowd = {f"F{n}": {"estimate": n - 6.0, "lower": -20.0, "upper": 20.0, "runs": 30 + n} for n in range(12)}
    picture = fitters_picture(demo | {"repeatability": block | {"by_fitter": crowd}})
    assert "4 fitters with fewer runs left out." in picture.note
    kept = {name for name in drawn(picture) if name.endswith(":limits")}
    assert kept == {f"interval:F{n}:limits" for n in range(4, 12)}
    for size in SIZES:
        look(picture, size)


def test_one_fitter_alone_has_no_picture(demo):
    assert fitters_picture(demo | {"repeatability": {"reason": "the log has no fitted_by column"}}) is None
    alone = {"ash": {"estimate": 0.0, "lower": -1.0, "upper": 1.0, "runs": 9}}
    assert fitters_picture(demo | {"repeatability": demo["repeatability"] | {"by_fitter": alone}}) is None
