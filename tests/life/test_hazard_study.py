"""The assembled study: R's numbers on an invented season, and a reason in words for every blank."""

import numpy as np
import pytest

from drivekit.life.cox import fit
from drivekit.life.firth import firth
from drivekit.life.hazard_study import Factor, Line, hazard_study
from drivekit.life.profile import profile
from drivekit.life.riskset import RiskSets
from tests.life.plain_cox import REFERENCE, random_rows

TERMS = ("idler[toothed]", "tension_kn", "edge_lube[install]", "edge_lube[every-run]")


@pytest.fixture(scope="module")
def log():
    """The season's run table by plain loops, and what R gives for it."""
    import csv
    import json

    folder = REFERENCE / "season"
    with (folder / "belts.csv").open(encoding="utf-8") as lines:
        before = {row["belt"]: row["runs_before"] for row in csv.DictReader(lines)}
    with (folder / "runs.csv").open(encoding="utf-8") as lines:
        rows = sorted((row for row in csv.DictReader(lines) if before[row["belt"]] != "?"), key=lambda r: int(r["run"]))
    made: dict[str, int] = {}
    for row in rows:
        made[row["belt"]] = row["age"] = made.get(row["belt"], int(before[row["belt"]] or 0)) + 1
    fails = ("tooth-jump", "tooth-loss", "edge-split", "cord-pull")
    table = {name: np.array([row[name] or None for row in rows], object) for name in ("idler", "edge_lube")}
    table |= {name: np.unique([row[name] for row in rows], return_inverse=True)[1] for name in ("belt", "car")}
    table["age"] = np.array([row["age"] for row in rows])
    table["tension"] = np.array([float(row["tension_n"] or "nan") / 1000 for row in rows])
    table["failed"] = np.array(
        [row["cause"] in fails or (row["cause"] == "unknown" and row["fate"] == "broke") for row in rows]
    )
    table["precaution"] = np.array([row["cause"] == "precaution" for row in rows])
    return table, json.loads((folder / "expected.json").read_text(encoding="utf-8"))["hazard"]


def study(table, **changes):
    table = table | changes
    settings = (
        Factor("idler", "the idler", ("smooth", "toothed"), table["idler"]),
        Line("tension_kn", "tension", table["tension"]),
        Factor("edge_lube", "edge grease", ("none", "install", "every-run"), table["edge_lube"]),
    )
    return hazard_study(
        table["age"], table["failed"], table["belt"], table["car"], settings, precaution=table["precaution"],
        confidence=table.get("confidence", 0.95),
    )  # fmt: skip


def test_every_number_of_the_season_is_rs(log):
    table, expected = log
    found = study(table)
    assert (found.rows, found.failed) == (expected["rows"], expected["failed"])
    assert found.rows_lost == table["age"].size - expected["rows"]
    assert found.fitted.loglik == pytest.approx(expected["loglik"], abs=1e-9)
    assert tuple(found.terms) == TERMS
    for name, values in expected["terms"].items():
        for key, value in values.items():
            assert getattr(found.terms[name], key) == pytest.approx(value, abs=1e-9)
        assert found.terms[name].hr == pytest.approx(np.exp(values["coef"]), abs=1e-9)
        assert found.ph_test[name].chi2 == pytest.approx(expected["ph_test"][name]["chi2"], abs=1e-9)
        assert found.ph_test[name].p == pytest.approx(expected["ph_test"][name]["p"], abs=1e-9)
    for other, terms in expected["sensitivity"].items():
        # R's binomial fit stops at a relative change of 1e-13 in the deviance
        tolerance = 1e-7 if other == "cloglog" else 1e-9
        for name, values in terms.items():
            effect = found.sensitivity[other][name]
            assert (effect.coef, effect.se) == pytest.approx((values["coef"], values["se"]), abs=tolerance)
            assert (effect.lower, effect.upper, effect.p) == (None, None, None)
    assert found.failures_per_term == 9
    assert not found.firth_leads
    assert not any(term.robust_differs for term in found.terms.values())


def test_limits_p_and_firth_are_those_of_their_own_modules_at_the_confidence_asked(log):
    found = study(log[0], confidence=0.8)
    for column, name in enumerate(TERMS):
        between = profile(found.fitted, column, 0.8)
        term = found.terms[name]
        assert (term.lower, term.upper, term.p) == pytest.approx(
            (np.exp(between.lower), np.exp(between.upper), between.p)
        )
        penalised = firth(found.fitted.sets, confidence=0.8)
        effect = found.sensitivity["firth"][name]
        assert (effect.coef, effect.se, effect.lower, effect.upper, effect.p) == pytest.approx(
            [getattr(penalised, key)[column] for key in ("coef", "se", "lower", "upper", "p")]
        )


def test_a_level_that_never_fails_is_null_with_its_name_and_firth_answers(log):
    table, _ = log
    found = study(table, failed=table["failed"] & (table["edge_lube"] != "every-run"))
    name = "edge_lube[every-run]"
    term = found.terms[name]
    assert (term.coef, term.se, term.robust_se, term.hr, term.lower, term.upper, term.p) == (None,) * 7
    assert term.reason == "no run with edge grease every-run ended in a failure"
    assert found.ph_test[name].reason == term.reason
    for other in ("breslow", "exact", "cloglog"):
        assert found.sensitivity[other][name].coef is None
        assert found.sensitivity[other][name].reason == term.reason
    assert found.sensitivity["firth"][name].coef < 0
    assert found.sensitivity["firth"][name].reason is None
    # precautions count there, and some of them were greased every run: its own failures decide
    assert found.sensitivity["precaution_as_failure"][name].coef is not None
    assert all(found.terms[other].reason is None for other in TERMS[:3])
    # the rows of that level leave the fit but are counted
    keep = found.used & (table["edge_lube"] != "every-run")
    x = np.column_stack((table["idler"] == "toothed", table["tension"], table["edge_lube"] == "install")).astype(float)
    rest = fit(RiskSets.of(table["age"][keep], (table["failed"])[keep], x[keep], table["car"][keep]))
    assert [found.terms[other].coef for other in TERMS[:3]] == pytest.approx(rest.coef, abs=1e-9)
    assert found.fitted.loglik == pytest.approx(rest.loglik, abs=1e-9)
    assert found.rows == 536


def test_with_no_failure_at_the_reference_both_contrasts_say_so(log):
    table, _ = log
    found = study(table, failed=table["failed"] & (table["edge_lube"] != "none"))
    for name in TERMS[2:]:
        assert found.terms[name].coef is None
        assert found.terms[name].reason == "no run with edge grease none ended in a failure to compare with"
    assert found.terms[TERMS[0]].coef is not None


def test_an_absent_column_costs_no_run_and_says_what_is_missing(log):
    table, _ = log
    found = study(table, tension=None, edge_lube=None)
    assert (found.rows, found.rows_lost) == (table["age"].size, 0)
    assert found.terms["tension_kn"].reason == "the log does not record tension"
    assert found.terms["edge_lube[install]"].reason == "the log does not record edge grease"
    assert found.sensitivity["firth"]["tension_kn"].reason == "the log does not record tension"
    assert found.names == ("idler[toothed]",)
    alone = fit(RiskSets.of(table["age"], table["failed"], (table["idler"] == "toothed")[:, None], table["car"]))
    assert found.terms["idler[toothed]"].coef == pytest.approx(alone.coef[0])


def test_a_column_wholly_blank_counts_as_absent(log):
    found = study(log[0], tension=np.full(log[0]["age"].size, np.nan))
    assert found.terms["tension_kn"].reason == "no run has tension written"
    assert found.terms["idler[toothed]"].coef is not None


def test_a_level_nobody_ran_and_a_reference_nobody_ran_are_null(log):
    table, _ = log
    lube = table["edge_lube"].copy()
    lube[lube == "every-run"] = "install"
    found = study(table, edge_lube=lube)
    assert found.terms["edge_lube[every-run]"].reason == "no run compared here had edge grease every-run"
    assert found.terms["edge_lube[install]"].coef is not None
    lube = table["edge_lube"].copy()
    lube[lube == "none"] = "install"
    found = study(table, edge_lube=lube)
    for name in TERMS[2:]:
        assert found.terms[name].reason == "no run compared here had edge grease none to compare with"
        assert found.sensitivity["firth"][name].coef is None


def test_two_settings_always_changed_together_name_each_other(log):
    table, _ = log
    lube = np.where(table["idler"] == "toothed", "install", "none").astype(object)
    found = study(table, edge_lube=lube)
    assert found.terms["edge_lube[install]"].reason == (
        "it cannot be told apart from idler[toothed]: they changed together, and the number there stands for both"
    )
    assert found.terms["idler[toothed]"].coef is not None


def test_nothing_failed_and_nothing_written_are_reasons_for_the_whole(log):
    table, _ = log
    never = study(table, failed=np.zeros(table["age"].size, bool))
    assert never.reason == "nothing failed in the runs that have every setting written"
    assert (never.rows, never.failed, never.fitted, dict(never.terms)) == (536, 0, None, {})
    half = np.arange(table["age"].size) % 2 == 0
    apart = study(
        table,
        tension=np.where(half, table["tension"], np.nan),
        edge_lube=np.where(half, None, table["edge_lube"]).astype(object),
    )
    assert (apart.reason, apart.rows) == ("no run has every setting written", 0)
    blank = study(table, idler=None, tension=None, edge_lube=None)
    assert blank.reason == "the log has none of the settings that the study compares"


def test_few_failures_a_term_put_firth_first(log):
    table, _ = log
    failed = table["failed"].copy()
    failed[np.flatnonzero(failed)[12:]] = False
    found = study(table, failed=failed)
    assert found.failures_per_term < 5
    assert found.firth_leads


def test_names_of_belts_and_order_of_rows_change_nothing():
    rows = random_rows(2)
    words = np.where(rows.x[:, 0] > 0, "toothed", "smooth").astype(object)

    def both(order: np.ndarray, belt: np.ndarray):
        settings = (
            Factor("idler", "the idler", ("smooth", "toothed"), words[order]),
            Line("tension_kn", "tension", rows.x[order, 2]),
        )
        return hazard_study(rows.age[order], rows.failed[order], belt[order], rows.stratum[order], settings,
                      precaution=np.zeros(order.size, bool))  # fmt: skip

    n = rows.age.size
    plain = both(np.arange(n), rows.belt)
    other = both(np.random.default_rng(1).permutation(n), 500 - 3 * rows.belt)
    for name in plain.terms:
        assert plain.terms[name].coef == pytest.approx(other.terms[name].coef, abs=1e-9)
        assert plain.terms[name].robust_se == pytest.approx(other.terms[name].robust_se, abs=1e-9)


def test_a_fit_that_does_not_settle_is_a_reason_and_the_others_stand(log, monkeypatch):
    def unsettled(sets, ties="efron"):
        if ties == "breslow":
            raise ArithmeticError("the hazard fit did not settle")
        return fit(sets, ties)

    monkeypatch.setattr("drivekit.life.hazard_study.fit", unsettled)
    found = study(log[0])
    assert found.sensitivity["breslow"] == "the hazard fit did not settle"
    assert found.terms["idler[toothed]"].coef is not None
    assert found.sensitivity["exact"]["idler[toothed]"].coef is not None


def test_where_the_fit_itself_does_not_settle_the_study_is_its_reason(log, monkeypatch):
    def unsettled(sets, ties="efron"):
        raise ArithmeticError("the hazard fit did not settle")

    monkeypatch.setattr("drivekit.life.hazard_study.fit", unsettled)
    assert study(log[0]).reason == "the hazard fit did not settle"
