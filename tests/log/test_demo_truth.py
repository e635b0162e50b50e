"""The truth that is stated is the truth that is played, and a belt fails by the shares written down."""

from collections import Counter
from dataclasses import replace
from math import exp

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm
from scipy import stats

from drivekit.log.columns import FAILURES
from drivekit.log.demo import season
from drivekit.log.demo_truth import SEASON_ONE, SEASON_TWO, TRUTH, Dice, after_run, as_read


@pytest.fixture(scope="module")
def played():
    return season(SEASON_TWO, seed=1_000, runs=30_000)


@pytest.fixture(scope="module")
def runs(played):
    table = pd.DataFrame(list(played.runs))
    hidden = pd.DataFrame(
        {what: [getattr(run, what) for run in played.hidden] for what in ("age", "tension_n", "quality", "hurt")}
    )
    belts = pd.DataFrame(list(played.belts)).set_index("belt").loc[table["belt"]].reset_index(drop=True)
    return table.drop(columns=["tension_n", "note"]).join(hidden).join(belts[["compound", "width_mm"]])


@pytest.fixture(scope="module")
def fit(runs):
    """Every driver of the hazard in one complementary log-log model, the one that was played."""
    tight = (runs["tension_n"] - TRUTH.best_n) / 1000
    terms = {
        "base": np.ones(len(runs)),
        "age": np.log(runs["age"]),
        "tension": tight,
        "tension squared": tight**2,
        "quality": runs["quality"],
        "hurt": np.log(runs["hurt"]),
    }
    truth = {
        "base": np.log(TRUTH.base),
        "age": TRUTH.age_power,
        "tension": 0.0,
        "tension squared": TRUTH.tension_bend,
        "quality": TRUTH.quality_sd,
        "hurt": 1.0,
    }
    for column, levels in (
        ("idler", TRUTH.idler),
        ("edge_lube", TRUTH.edge_lube),
        ("car", TRUTH.car),
        ("idler_support", TRUTH.idler_support),
        ("compound", TRUTH.compound),
        ("width_mm", TRUTH.width_mm),
        ("fitted_by", TRUTH.fitted_by),
    ):
        for level, ratio in list(levels.items())[1:]:
            terms[level] = (runs[column].astype(str) == level).astype(float)
            truth[level] = np.log(ratio)
    failed = runs["cause"].isin(FAILURES).astype(float)
    family = sm.families.Binomial(link=sm.families.links.CLogLog())
    return sm.GLM(failed, pd.DataFrame(terms), family=family).fit(), pd.Series(truth)


def test_every_driver_of_the_hazard_is_found_again(fit):
    model, truth = fit
    off = model.params - truth
    z = off / model.bse
    assert abs(z).max() < 3.5, z
    distance = off @ np.linalg.solve(model.cov_params(), off)
    assert distance < stats.chi2.ppf(0.999, len(truth))
    assert model.params["toothed"] == pytest.approx(np.log(0.45), abs=0.12)
    assert model.params["every-run"] == pytest.approx(np.log(0.7), abs=0.14)


def test_a_wrong_truth_would_not_be_found(fit):
    model, truth = fit
    for term, wrong in (
        ("toothed", np.log(0.6)),
        ("every-run", 0.0),
        ("tension squared", 0.0),
        ("birch", 0.0),
        ("three-point", 0.0),
        ("age", 0.5),
        ("hurt", 0.0),
        ("quality", 0.0),
    ):
        assert abs(model.params[term] - wrong) / model.bse[term] > 3.5, term
        assert truth[term] != wrong


def test_the_tension_that_lasts_longest_is_the_bottom_of_the_u(fit):
    model, _ = fit
    best_n = TRUTH.best_n - 1000 * model.params["tension"] / (2 * model.params["tension squared"])
    assert best_n == pytest.approx(8300, abs=250)


def test_half_the_belts_have_failed_by_run_seven_on_the_smooth_and_by_eleven_on_the_toothed_idler(runs):
    medians = {}
    for idler, made in runs.groupby("idler"):
        failed = made["cause"].isin(FAILURES)
        at_risk, failed_at = np.bincount(made["age"]), np.bincount(made["age"][failed], minlength=made["age"].max() + 1)
        survival = np.cumprod(1 - failed_at[1:] / np.maximum(at_risk[1:], 1))
        medians[idler] = int(np.flatnonzero(survival <= 0.5)[0]) + 1
    assert medians == {"smooth": 7, "toothed": 11}


def test_the_drive_goes_slack_where_the_mechanics_say():
    # 310,000 W / 78.4 m/s = 3,954.1 N, .447 of it 1,767.5; m v^2 = .745 x 78.4^2 = 4,579.2; less 600 gained hot.
    assert TRUTH.slack_below_n == pytest.approx(1767.47 + 4579.19 - 600, abs=0.01)
    # 48 teeth of 14 mm at 7,000 turns a minute
    assert TRUTH.speed_m_s == pytest.approx(48 * 0.014 * 7000 / 60, abs=1e-12)
    assert TRUTH.lowest_n < TRUTH.slack_below_n < TRUTH.best_n < TRUTH.highest_n


def test_slack_belts_jump_teeth_tight_ones_pull_cord_and_ungreased_edges_split(runs):
    failed = runs[runs["cause"].isin(FAILURES) & (runs["cause"] != "unknown")]
    share = {cause: failed["cause"] == cause for cause in FAILURES}
    slack, tight = failed["tension_n"] < TRUTH.slack_below_n, failed["tension_n"] > 10_000
    assert share["tooth-jump"][slack].mean() > 0.8
    assert share["tooth-jump"][tight].mean() < 0.1
    loose = failed["tension_n"].between(6000, 8000)
    assert share["cord-pull"][tight].mean() > 3 * share["cord-pull"][loose].mean()
    dry, greased = failed["edge_lube"] == "none", failed["edge_lube"] == "every-run"
    assert share["edge-split"][dry].mean() > 1.8 * share["edge-split"][greased].mean()
    made = runs["tension_n"]
    jumps = runs["cause"] == "tooth-jump"
    assert jumps[made < TRUTH.slack_below_n].mean() > 3 * jumps[made.between(7000, 8300)].mean()


def test_belts_taken_off_as_a_precaution_looked_worn_and_would_have_failed_sooner(runs):
    ended_well = ~runs["cause"].isin(FAILURES)
    taken = runs["cause"] == "precaution"
    worn = (runs["teeth_look"] == "worn") | (runs["cord_look"] == "hairs") | (runs["edge_look"] == "frayed")
    assert taken[worn & ended_well].mean() > 10 * taken[~worn & ended_well].mean()
    # Among belts of the same age on the same idler, those taken off had the worse hidden quality.
    left = runs[ended_well].assign(taken=taken)
    gap = left["quality"] - left.groupby(["age", "idler"])["quality"].transform("mean")
    assert gap[taken].mean() > 3 * gap[taken].std() / taken.sum() ** 0.5


def test_an_incident_hurts_the_next_two_runs_of_that_belt_and_no_other(runs):
    for _, made in runs[runs["belt"].isin(runs.loc[runs["hurt"] > 1, "belt"].unique()[:200])].groupby("belt"):
        trouble = [TRUTH.trouble[word] for word in made["engine_trouble"]]
        for place, hurt in enumerate(made["hurt"]):
            recent = [ratio for ratio in trouble[max(0, place - 2) : place] if ratio > 1]
            assert hurt == (recent[-1] if recent else 1.0)


def test_edge_temperatures_follow_idler_and_snout_flats_by_car(runs):
    # On a belt's first run the flats were set by eye; later they answer the readings, which bends every plain fit.
    read = runs.drop_duplicates("belt").dropna(subset=["edge_front_c"])
    terms = pd.DataFrame(
        {
            "flats": read["idler_flats_front"] - read["idler_flats_rear"],
            "base": 1.0,
            "snout": (read["snout_flats_left"] + read["snout_flats_right"]) / 2 - TRUTH.snout_middle,
        }
    )
    difference = read["edge_front_c"] - read["edge_rear_c"]
    for car, slope in TRUTH.flat_c.items():
        here = read["car"] == car
        found = sm.OLS(difference[here], terms[here]).fit()
        truth = pd.Series({"flats": slope, "base": TRUTH.square_c[car], "snout": TRUTH.snout_c})
        assert abs((found.params - truth) / found.bse).max() < 3.5, car
        assert found.bse["flats"] < 0.05
        assert found.scale**0.5 == pytest.approx(np.hypot(TRUTH.belt_c_sd, TRUTH.reading_c_sd), rel=0.06)


def test_crews_steer_by_the_last_reading_and_so_hide_the_slope(runs):
    read = runs.dropna(subset=["edge_front_c"])
    difference, flats = read["edge_front_c"] - read["edge_rear_c"], read["idler_flats_front"] - read["idler_flats_rear"]
    for car, slope in TRUTH.flat_c.items():
        here = read["car"] == car
        assert sm.OLS(difference[here], sm.add_constant(flats[here])).fit().params.iloc[1] > slope + 0.3


def test_cedar_sets_tension_with_twice_the_scatter(runs):
    year = runs["day"].str[:4]
    aimed = runs.groupby([year, "meeting", "car"])["tension_n"].transform("median")
    scatter = (runs["tension_n"] - aimed).groupby(runs["fitted_by"]).std()
    for fitter in ("ash", "birch", "elm"):
        assert scatter[fitter] == pytest.approx(900, rel=0.06)
    assert 1.5 < scatter["cedar"] / scatter["ash"] < 2.0  # cut off at 5 and 12 kN


def test_turns_of_the_adjuster_give_tension_and_runs_take_it(runs):
    turns = sm.OLS(runs["adjuster_turns"], sm.add_constant(runs["tension_n"])).fit().params
    assert 1 / turns.iloc[1] == pytest.approx(TRUTH.turn_n, rel=0.005)
    assert -turns.iloc[0] / turns.iloc[1] == pytest.approx(TRUTH.snug_n, abs=50)
    lost = (runs["tension_n"] - runs["tension_after_n"]).groupby(runs["age"]).mean()
    for age in (1, 3, 9):
        assert lost[age] == pytest.approx(60 + 450 * 0.5 ** ((age - 1) / 2), abs=12)


def test_time_at_full_load_has_no_say(runs, fit):
    model, _ = fit
    terms = pd.DataFrame(model.model.exog, columns=model.model.exog_names).assign(full_load=runs["full_load_s"])
    again = sm.GLM(model.model.endog, terms, family=model.model.family).fit()
    assert abs(again.params["full_load"] / again.bse["full_load"]) < 3


def test_a_season_stops_at_the_run_asked_for_and_is_the_start_of_a_longer_one():
    short, long = (season(SEASON_ONE, seed=5, runs=runs) for runs in (700, 900))
    assert (len(short.runs), len(long.runs)) == (700, 900)
    same = ("run", "day", "belt", "idler", "edge_lube", "adjuster_turns", "fate")
    first, second = ([[row[name] for name in same] for row in played.runs[:700]] for played in (short, long))
    assert first == second
    assert short.hidden == long.hidden[:700]
    assert short.runs[-1]["day"] > "2025"


PERFECT = {"misread": 0.0, "misread_break": 0.0}
QUIET = {"tension_n": TRUTH.best_n, "lube": "install", "off_c": 0.0, "off_side": 0, "trouble": "none"}


def fates(number=4_000, seed=3, hazard=0.2, **change):
    dice = Dice(seed)
    return [after_run(dice, TRUTH, hazard=hazard, **(QUIET | change)) for _ in range(number)]


def share(cells, column, word):
    return sum(row.get(column) == word for row in cells) / len(cells)


def test_uniform_numbers_are_those_of_the_generator_each_once():
    dice, generator = Dice(11), np.random.Generator(np.random.PCG64(11))
    drawn = sorted(dice.uniform() for _ in range(2 * 4096))
    assert drawn == sorted(generator.random(2 * 4096).tolist())


def test_draws_follow_their_laws():
    dice = Dice(5)
    normal = np.array([dice.normal(10.0, 2.0) for _ in range(20_000)])
    assert normal.mean() == pytest.approx(10, abs=0.06)
    assert normal.std() == pytest.approx(2, abs=0.05)
    assert np.mean(normal < 10 - 1.96 * 2) == pytest.approx(0.025, abs=0.005)
    whole = Counter(dice.whole(-1, 2) for _ in range(8_000))
    assert set(whole) == {-1, 0, 1, 2}
    assert all(count == pytest.approx(2_000, abs=160) for count in whole.values())
    words = Counter(dice.one_of(("rare", "often"), (1, 3)) for _ in range(8_000))
    assert words["often"] == pytest.approx(6_000, abs=160)
    assert sum(dice.chance(0.1) for _ in range(8_000)) == pytest.approx(800, abs=110)
    first = Counter(dice.shuffled(["a", "a", "b"])[0] for _ in range(3_000))
    assert first["a"] == pytest.approx(2_000, abs=110)
    assert sorted(dice.shuffled(["a", "a", "b"])) == ["a", "a", "b"]


def test_a_belt_fails_with_chance_one_less_exp_of_minus_the_hazard():
    ways = ("tooth-jump", "tooth-loss", "edge-split", "cord-pull")
    for hazard in (0.05, 0.2, 1.0):
        failed = sum(row.get("cause") in ways for row in fates(hazard=hazard)) / 4_000
        assert failed == pytest.approx(1 - exp(-hazard), abs=0.025)


def test_the_ways_to_fail_have_the_shares_written_down():
    # At the best tension, greased at install, running true: jump .4, tooth loss .6, split .5 x 1, cord .35; sum 1.85.
    calm = fates(hazard=40.0)
    for way, weight in (("tooth-jump", 0.4), ("tooth-loss", 0.6), ("edge-split", 0.5), ("cord-pull", 0.35)):
        assert share(calm, "cause", way) == pytest.approx(weight / 1.85, abs=0.03)
    # Ungreased and 5 C off: split .5 x 1.6 x 1.5 = 1.2; sum 2.55.
    dry = fates(hazard=40.0, lube="none", off_c=-5.0)
    assert share(dry, "cause", "edge-split") == pytest.approx(1.2 / 2.55, abs=0.03)
    # At 5.3 kN, 3 kN below the best and slack: jump .4 exp(2.7) x 3 = 17.86; .6 exp(-.9) + .5 + .35 exp(-2.1) = .787.
    slack = fates(hazard=40.0, tension_n=5300.0)
    assert share(slack, "cause", "tooth-jump") == pytest.approx(17.86 / 18.64, abs=0.02)


def test_a_belt_that_looks_worn_is_taken_off_more_often_and_a_worn_look_follows_the_hazard():
    fresh, old = fates(hazard=0.02), fates(hazard=0.6)
    # share worn = 1 / (1 + exp(-(1.2 log h + 1))): .024 at .02, .596 at .6
    kept = [[row for row in cells if row.get("fate") == "kept" and row.get("teeth_look")] for cells in (fresh, old)]
    assert share(kept[0], "teeth_look", "worn") < 0.05
    assert share(kept[1], "teeth_look", "worn") > 0.45
    assert share(fresh, "cause", "precaution") < 0.02 < 0.05 < share(old, "cause", "precaution")


def test_oil_metal_and_backfire_end_belts_that_have_not_failed():
    assert share(fates(hazard=1e-6, trouble="none"), "cause", "contaminated") < 0.02
    assert share(fates(hazard=1e-6, trouble="oil-down"), "cause", "contaminated") == pytest.approx(0.8 * 0.35, abs=0.03)
    assert share(fates(hazard=1e-6, trouble="backfire"), "cause", "engine-trouble") == pytest.approx(0.35, abs=0.03)


def test_the_shade_tells_the_way_the_belt_ran_once_it_ran_so_twice():
    shades = {side: {row["shade"] for row in fates(number=20, off_side=side)} for side in (-3, -2, -1, 0, 1, 2)}
    assert shades == {-3: {"rear-dark"}, -2: {"rear-dark"}, -1: {"even"}, 0: {"even"}, 1: {"even"}, 2: {"front-dark"}}


def test_looks_are_misread_as_often_as_stated_for_a_neighbour_and_fate_and_cause_never():
    found = {"teeth_look": "worn", "cord_look": "pulled", "edge_look": "good", "shade": "even"}
    found |= {"break_look": "straight-across", "fate": "broke", "cause": "tooth-jump", "surface": "oiled"}
    dice = Dice((3, 1))
    seen = Counter(cell for _ in range(20_000) for cell in as_read(dice, TRUTH, found).items())
    for slip in (("teeth_look", "good"), ("cord_look", "hairs"), ("edge_look", "frayed")):
        assert seen[slip] / 20_000 == pytest.approx(TRUTH.misread, abs=0.005)
    assert seen["break_look", "ragged"] / 20_000 == pytest.approx(TRUTH.misread_break, abs=0.008)
    for never in (("shade", "even"), ("fate", "broke"), ("cause", "tooth-jump"), ("surface", "oiled")):
        assert seen[never] == 20_000
    assert set(found) == {name for name, _ in seen}


def test_a_season_read_by_perfect_eyes_differs_in_its_looks_alone():
    slips, plain = (season(SEASON_TWO, seed=2, truth=truth) for truth in (TRUTH, replace(TRUTH, **PERFECT)))
    assert slips.belts == plain.belts
    assert slips.hidden == plain.hidden
    moved = Counter(
        name for one, other in zip(slips.runs, plain.runs, strict=True) for name in one if one[name] != other[name]
    )
    assert set(moved) <= {"teeth_look", "cord_look", "edge_look", "shade", "break_look"}
    assert moved.total() > 40
    straight = {run["cause"] for run in plain.runs if run["break_look"] == "straight-across"}
    assert straight == {"tooth-jump"}
