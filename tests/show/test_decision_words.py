"""What a crew does with the findings, in sentences that promise no more than the findings hold."""

import copy

import pytest

from drivekit.show import decision_words as words
from drivekit.show.decision_words import LOOKS_FIRST


@pytest.fixture
def found(demo):
    """Findings of the demo season, to be changed."""
    return copy.deepcopy(demo)


def test_beside_every_one_more_run_stands_that_looks_decide(demo):
    assert words.outlook_words(demo)[0] == LOOKS_FIRST
    assert words.change_words(demo)[-1] == LOOKS_FIRST
    assert LOOKS_FIRST == "A belt whose look says off comes off: it is given no odds."


def test_a_belt_is_spoken_of_with_its_odds_or_as_off_and_never_both(found):
    one = found["outlook"][0]
    one["next"][0] |= {"survive": 0.87, "lower": 0.42, "upper": 0.99}
    one["next"][2] |= {"survive": None, "reason": "nobody made it"}
    said = words.outlook_words(found)[1]
    assert said == f"{one['belt']} (amber, 3 runs, smooth): one more run, about 17 in 20 (8 to 20)."
    one |= {"off": {"teeth_look": "missing", "surface": "oiled"}, "next": []}
    assert words.outlook_words(found)[1].endswith(": OFF: a missing tooth and oil on it.")


def test_a_chance_of_one_is_said_by_its_least(found):
    found["outlook"][0]["next"][0] |= {"survive": 1.0, "lower": 0.45, "upper": 1.0}
    assert "one more run, none has failed on such runs yet: at least 9 in 20" in words.outlook_words(found)[1]
    found["outlook"][0]["next"][0]["lower"] = 0.99  # nothing seen is no promise
    assert "at least 19 in 20" in words.outlook_words(found)[1]
    found["outlook"][0]["next"][0]["lower"] = 0.01
    assert "one more run, not known: too few belts went on there" in words.outlook_words(found)[1]
    found["outlook"][0]["next"][0] |= {"survive": 0.06, "lower": 0.0, "upper": 0.995}
    assert "one more run, not known: too few belts went on there" in words.outlook_words(found)[1]


def test_every_belt_that_comes_off_is_named_however_many_there_are(found):
    one = found["outlook"][0]
    off = {**one, "off": {"teeth_look": "torn"}, "next": []}
    found["outlook"] = [{**off, "belt": f"X{n}"} for n in range(10)] + [{**one, "belt": "Y"}]
    *_, named, rest = words.outlook_words(found)
    assert named == "OFF by their looks, too: X8 and X9."
    assert rest == "1 more belt, with odds as good or better, or none known."


def test_idlers_are_spoken_of_apart_only_where_they_are_told_apart(found):
    found["claims"]["idler"]["claimed"] = False
    assert words.change_words(found)[0].startswith("Change belts after ")
    found["claims"]["idler"]["claimed"] = True
    said = " ".join(words.change_words(found))
    assert "Change belts on the smooth idler after " in said
    assert "Change belts on the toothed idler after " in said


def test_where_no_change_age_pays_none_is_advised(found):
    found["claims"]["idler"]["claimed"] = False
    reason = "no change age up to 16 pays; beyond is not seen"
    level = found["change_out"]["levels"]["all"]
    level["best_runs"] = {"estimate": None, "lower": 4, "upper": None, "reason": reason}
    level |= {"runs": [*range(1, 17)], "not_worse": [False] * 15 + [True]}
    assert words.change_words(found)[0] == f"Belts are run until a look takes them off: {reason}."
    level["not_worse"][3] = True
    said = "When to change belts cannot be told: running on costs least, but from 4 to 16 none is told to cost more."
    assert words.change_words(found)[0] == said


def test_where_the_last_age_seen_may_be_as_good_no_age_is_advised(found):
    found["claims"]["idler"]["claimed"] = False
    level = found["change_out"]["levels"]["all"]
    level |= {"runs": list(range(1, 9)), "not_worse": [False, True, True, True, True, False, True, True]}
    level["best_runs"] = {"estimate": 2, "lower": 2, "upper": 8}
    least = "a change after 2 runs costs least, but from 2 to 8 none is told to cost more"
    said = f"When to change belts cannot be told: {least}"
    assert words.change_words(found)[0] == f"{said}."
    assert f"{said}; they come off when a look says off." in words.action_words(found)


def test_a_limit_at_the_last_age_seen_has_no_end_and_a_third_cost_without_rounds_is_not_spoken_of(found):
    found["claims"]["idler"]["claimed"] = False
    level = found["change_out"]["levels"]["all"]
    level["runs_at_risk_by_beta"] = {"estimate": 16, "lower": 8, "upper": None, "reason": "not seen"}
    assert words.rule_words(found)[1] == "At most 1 in 10 have failed within the first 16 runs (limits 8 or more)."
    reason = "no run has its round written, so every failure costs as in a test"
    found["change_out"] |= {"cost_elimination": 30.0, "elimination_share": 0.0, "elimination_share_reason": reason}
    taken = (
        f"A failure is taken to cost 8 times a planned change, in eliminations too: {reason}; --costs takes your own."
    )
    assert taken in words.change_words(found)


def test_best_change_ages_are_listed_from_the_cost_at_which_each_begins(found):
    found["claims"]["idler"]["claimed"] = False
    by_ratio = {"ratio": [1.5, 2.0, 3.0, 4.0], "best_runs": [None, 6, 6, 1]}
    found["change_out"]["levels"]["all"]["by_cost_ratio"] = by_ratio
    assert words.change_by_cost_words(found) == (
        "The best change age by what a failure costs in planned changes: none from 1.5, 6 runs from 2, 1 run from 4.",
    )
    found["change_out"] = {"reason": "no run"}
    assert words.change_by_cost_words(found) == ()


def test_a_third_cost_is_spoken_of(found):
    found["change_out"] |= {"cost_elimination": 30.0, "elimination_share": 0.1}
    assert "in a round of eliminations 30 times" in words.change_words(found)[-2]


def test_spares_say_how_many_are_enough_and_what_they_start_from(found):
    block = found["spares"]
    block |= {"runs": 100, "policy_runs": 4, "used_to_run": 4, "mean": 21.3}
    block["quantiles"] = {"0.5": 21, "0.9": 24, "0.95": 25}
    block["cars"] = {"amber": {"runs": 50, "belt": "B1", "age": 3}, "teal": {"runs": 50, "belt": "B2", "age": 4}}
    found["log"] |= {"causes": {"tooth-loss": 40, "precaution": 5, "sold": 1}, "failed": 40, "belts": 60}
    besides = ", not counting belts that come off for other reasons"
    assert words.spares_words(found) == (
        "For 100 more runs, if all belts are changed after 4 runs: 24 new belts are enough 9 times in 10"
        + besides
        + ".",
        "Enough 19 times in 20 are 25; 21 are used on average.",
        "Counted on from the belts that go on: B1 on amber at 3.",
        "This season 6 of 60 belts came off for other reasons.",
    )
    found["log"]["causes"] = {"tooth-loss": 40}
    assert words.spares_words(found)[0].endswith("24 new belts are enough 9 times in 10.")


def test_a_test_beyond_any_season_is_said_to_be(found):
    found["next_trial"] |= {"belts": None, "belts_reason": "more belts than any season has would not show it"}
    assert "cannot be seen 8 times in 10: more belts than any season has" in words.trial_words(found)[0]


def test_fitters_who_may_not_differ_are_said_so(found):
    found["repeatability"]["between_sd_n"] = {"estimate": 143.0, "lower": 0.0, "upper": 632.0}
    said = words.fitters_words(found)
    assert "Fitters differ from each other by 143 N (0 to 632); that they do not differ is not ruled out." in said
    found["repeatability"]["between_sd_n"]["lower"] = 20.0
    assert "Fitters differ from each other by 143 N (20 to 632)." in words.fitters_words(found)


def test_what_slack_tells_of_the_next_run_is_a_hint_at_most_and_of_a_loss_that_was_seen(found):
    slack = {"runs": 217, "failed": 25, "exploratory": True}
    for upper, verdict in ((4.0, "cannot be told from chance"), (1e9, "a hint, looked for in several places")):
        hr = {"estimate": 2.0**10, "lower": 1.5**10 if upper > 4 else 0.5**10, "upper": upper}
        found["repeatability"]["slack"] = slack | {"hr_per_kn": hr}
        said = words.fitters_words(found)[-1]
        assert said.startswith(
            "After a run that took 100 N more off it, failures on the next run are 2.00 times as many ("
        )
        assert said.endswith(f"{verdict}; 25 of 217 runs with the loss before it written failed.")
    found["repeatability"]["slack"] = {"reason": "no run has its tension after it written"}
    assert words.fitters_words(found)[-1] == (
        "What slack tells of the next run cannot be told: no run has its tension after it written."
    )


def test_too_few_fitters_are_held_against_each_other(found):
    found["repeatability"] |= {
        "between_sd_n": {"estimate": None, "lower": None, "upper": None, "reason": "2 fitters are too few"},
        "differences_n": {"birch minus ash": {"estimate": 120.0, "lower": -40.0, "upper": 280.0}},
    }
    said = words.fitters_words(found)
    assert "2 fitters are too few." in said
    assert "birch minus ash: 120 N (-40 to 280)." in said


def test_a_season_that_was_a_test_is_said_to_have_been_one(found):
    assert words.as_planned_words(found) == ()
    arm = {"drawn": {"belts": 30, "failed": 12}, "others": {"belts": 30, "failed": 20}, "told": True}
    hr = {"estimate": 0.5, "lower": 0.25, "upper": 0.97, "p": 0.04}
    found["as_planned"] = {"belts": 60, "moved": 2, "settings": {"idler": {"toothed": arm | {"hr": hr}}}}
    arm_words = (
        "Belts drawn on the toothed idler: 12 of 30 failed, of the others 20 of 30; 0.50 times as many failures a run "
        "(0.25 to 0.97): told, and drawn by lot it is the setting's own doing."
    )
    first = "This season was a test: 60 belts drawn by lot, 2 of them moved."
    assert words.as_planned_words(found) == (first, arm_words)


def test_looks_that_tell_nothing_are_said_to(found):
    found["looks"]["edge_look"] = {
        "with": {"runs": 40, "failed": 20},
        "without": {"runs": 400, "failed": 30},
        "hr": {"estimate": 3.0, "lower": 1.4, "upper": 6.0},
    }
    said = words.look_words(found)
    assert (
        "After a frayed edge 20 of 40 failed on the next run, else 30 of 400: 3.00 times as many (1.40 to 6.00), a"
        in (" ".join(said))
    )
    assert all("cannot be told" in one or "too few" in one or "a hint" in one for one in said)


def test_at_most_five_sentences_to_act_on(found):
    found["claims"]["idler"]["claimed"] = True
    found["outlook"][0] |= {"off": {"surface": "metal"}, "next": []}
    told = words.action_words(found)
    assert told[0] == f"Take off now: {found['outlook'][0]['belt']}."
    assert "Draw by lot" not in " ".join(told)
    found["claims"]["idler"]["claimed"] = False
    said = words.action_words(found)
    assert said[-1].startswith("Draw by lot which idler each new belt gets")
    assert (len(told), len(said)) == (4, 4)
    found["next_trial"]["belts"] = 21 * found["next_trial"]["belts_this_season"]
    assert "Draw by lot" not in " ".join(words.action_words(found))


def test_what_cannot_be_decided_says_why_in_every_part(season):
    for say in (
        words.change_words,
        words.outlook_words,
        words.look_words,
        words.spares_words,
        words.trial_words,
        words.fitters_words,
    ):
        (said,) = say(season)
        assert said.endswith(": nobody asked.")
    assert words.action_words(season) == ("Nothing can be acted on yet: keep the log and repeat the study.",)


@pytest.mark.parametrize(("limits", "verdict"), [
    ((0.001, 0.02), "were better than saying the same of every belt"),
    ((-0.02, 0.001), "did not beat saying the same of every belt"),
    ((-0.02, -0.001), "were worse than saying the same of every belt: do not go by them"),
])  # fmt: skip
def test_odds_of_an_earlier_season_that_did_not_beat_the_base_rate_are_said_so(found, limits, verdict):
    gain = {"estimate": 0.0, "lower": limits[0], "upper": limits[1]}
    odds = {"runs": 90, "made": 99, "failed": 9, "brier": 0.1, "base_brier": 0.11, "gain": gain, "thirds": []}
    found["against"] = {"log": {"name": "season-one"}, "odds": odds}
    said = words.scored_words(found)
    assert said[0].startswith("Odds by season-one, scored on 90 of the 99 runs of ")
    assert said[0].endswith(f": the odds {verdict}.")
    found["against"]["odds"] = {"reason": "it had no odds"}
    assert words.scored_words(found) == ("The odds by season-one cannot be scored: it had no odds.",)


def test_without_an_earlier_season_nothing_is_said_of_a_score(found):
    assert "against" not in found
    assert words.scored_words(found) == ()
