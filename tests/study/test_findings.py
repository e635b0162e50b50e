"""The whole study: its shape, what R gives for it, and what must not change it."""

from __future__ import annotations

import copy
import csv
import json
import re
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest

from drivekit.log.season import read_season, run_table
from drivekit.study.comparisons import COMPARISONS
from drivekit.study.findings import schema, study
from drivekit.study.hazard_fit import HazardInput, opinion_block
from drivekit.study.study_input import Settings, StudyInput

SEASON = Path(__file__).parents[1] / "reference" / "season"
DATA = Path(__file__).parents[2] / "data"

Rows = list[dict[str, str]]


@pytest.fixture(scope="module")
def expected() -> dict[str, Any]:
    return json.loads((SEASON / "expected.json").read_text())


@pytest.fixture(scope="module")
def found() -> dict[str, Any]:
    return study(read_season(SEASON))


def rows_of(name: str, folder: Path = SEASON) -> Rows:
    with (folder / f"{name}.csv").open(newline="") as file:
        return list(csv.DictReader(file))


def season_of(folder: Path, belts: Rows, runs: Rows) -> Any:
    folder.mkdir(parents=True, exist_ok=True)
    for name, rows in (("belts", belts), ("runs", runs)):
        with (folder / f"{name}.csv").open("w", newline="") as file:
            writer = csv.DictWriter(file, list(rows[0]))
            writer.writeheader()
            writer.writerows(rows)
    return read_season(folder)


def without_files(findings: dict[str, Any]) -> dict[str, Any]:
    """What may not depend on how the log was written down."""
    rest = copy.deepcopy(findings)
    for name in ("sha256", "name", "warnings"):
        del rest["log"][name]
    return rest


def close(ours: list[Any], theirs: list[Any], tolerance: float) -> None:
    assert [value is None for value in ours] == [value is None for value in theirs]
    known = [(one, other) for one, other in zip(ours, theirs, strict=True) if one is not None]
    np.testing.assert_allclose(*zip(*known, strict=True), rtol=0, atol=tolerance)


def as_the_design_has_it(survival: list[float], limits: list[float | None]) -> list[float | None]:
    """R gives no limit before the first failure; ours is 1 there."""
    return [1.0 if share == 1 else limit for share, limit in zip(survival, limits, strict=True)]


@pytest.mark.parametrize("place", ["overall", "idler", "tension", "edge_lube"])
def test_curves_are_those_of_r_on_a_whole_season(found: Any, expected: Any, place: str) -> None:
    ours, theirs = found["life"][place], expected["life"][place]
    pairs = [(ours, theirs)] if place == "overall" else [(ours["levels"][n], c) for n, c in theirs["levels"].items()]
    for curve, r in pairs:
        for name in ("age", "at_risk", "failed_at"):
            assert curve[name] == r[name]
        close(curve["survival"], r["survival"], 1e-12)
        for name in ("lower", "upper"):
            close(curve[name], as_the_design_has_it(r["survival"], r[name]), 1e-12)


@pytest.mark.parametrize("name", ["idler", "tension", "edge_lube"])
def test_log_rank_tests_are_those_of_r_on_a_whole_season(found: Any, expected: Any, name: str) -> None:
    for number in ("chi2", "dof", "p"):
        assert found["life"][name]["logrank"][number] == pytest.approx(
            expected["life"][name]["logrank"][number], abs=1e-11
        )


def test_the_hazard_study_is_that_of_r_on_a_whole_season(found: Any, expected: Any) -> None:
    ours, theirs = found["hazard"], expected["hazard"]
    assert (ours["rows"], ours["failed"]) == (theirs["rows"], theirs["failed"])
    assert ours["loglik"] == pytest.approx(theirs["loglik"], abs=1e-9)
    for part, numbers, tolerance in (("terms", ("coef", "se", "robust_se"), 1e-9), ("ph_test", ("chi2", "p"), 1e-9)):
        for term, values in theirs[part].items():
            close([ours[part][term][n] for n in numbers], [values[n] for n in numbers], tolerance)
    for fit, terms in theirs["sensitivity"].items():
        for term, values in terms.items():
            told = ours["sensitivity"][fit][term]
            close([told["coef"], told["se"]], [values["coef"], values["se"]], 1e-6)


def test_incidences_are_those_of_r_on_a_whole_season(found: Any, expected: Any) -> None:
    for cause, theirs in expected["causes"].items():
        ours = dict(zip(found["causes"][cause]["age"], found["causes"][cause]["incidence"], strict=True))
        close([ours[age] for age in theirs["age"]], theirs["incidence"], 1e-12)


def test_causes_never_seen_are_there_as_zeros(found: Any) -> None:
    assert "unknown" not in found["log"]["causes"]
    assert set(found["causes"]["unknown"]["incidence"]) == {0.0}
    assert set(found["causes"]["unknown"]["se"]) == {0.0}


def test_survival_and_all_incidences_add_to_one_at_every_age(found: Any) -> None:
    shares = np.sum([cause["incidence"] for cause in found["causes"].values()], axis=0)
    np.testing.assert_allclose(shares + found["life"]["overall"]["survival"], 1, atol=1e-12)


@pytest.mark.parametrize("log", [SEASON, DATA / "season-one", DATA / "season-two"])
def test_findings_keep_the_schema_and_are_plain_json(log: Path) -> None:
    findings = study(read_season(log))
    text = json.dumps(findings, allow_nan=False)
    jsonschema.validate(json.loads(text), schema())
    assert json.loads(text) == findings


def test_the_same_log_and_seed_give_the_same_bytes(found: Any) -> None:
    assert json.dumps(study(read_season(SEASON))) == json.dumps(found)


def test_the_order_of_rows_and_the_names_of_belts_change_nothing(found: Any, tmp_path: Path) -> None:
    belts, runs = rows_of("belts"), rows_of("runs")
    generator = np.random.default_rng(5)
    drawn = generator.permutation(1000)[: len(belts)]
    names = {row["belt"]: f"renamed {number}" for row, number in zip(belts, drawn, strict=True)}
    for row in (*belts, *runs):
        row["belt"] = names[row["belt"]]
    shuffled = season_of(
        tmp_path,
        [belts[i] for i in generator.permutation(len(belts))],
        [runs[i] for i in generator.permutation(len(runs))],
    )
    ours, before = without_files(study(shuffled)), without_files(found)
    for of_each in ("belts", "without_belt"):
        told = before["hazard"]["checks"][of_each]
        told["belt"] = [names[belt] for belt in told["belt"]]
    for one in (*before["outlook"], *before["spares"]["cars"].values()):
        one["belt"] = names.get(one["belt"])
    assert ours == before  # to the last digit: estimates, and limits that are drawn


def test_newtons_and_pounds_give_the_same_study(found: Any, tmp_path: Path) -> None:
    runs = rows_of("runs")
    for row in runs:
        newtons = row.pop("tension_n")
        row["tension_lbf"] = repr(float(newtons) / 4.4482216152605) if newtons else ""
    ours = study(season_of(tmp_path, rows_of("belts"), runs))
    # numbers stay metric; who wrote in pounds is answered in pounds
    assert (ours["log"]["units"], found["log"]["units"]) == ("inch-pound", "si")
    assert ours["comparisons"]["tension"]["step"] == "225 lbf (1,000 N) more tension"
    assert found["comparisons"]["tension"]["step"] == "1,000 N more tension"
    close(ours["settings"]["tension_cuts_n"], found["settings"]["tension_cuts_n"], 1e-9)
    assert ours["life"]["tension"]["logrank"] == found["life"]["tension"]["logrank"]
    close(
        [term["coef"] for term in ours["hazard"]["terms"].values()],
        [term["coef"] for term in found["hazard"]["terms"].values()],
        1e-9,
    )


def starred(runs: Rows) -> Rows:
    return [{name: row[name] for name in ("run", "day", "car", "belt", "idler", "fate", "cause")} for row in runs]


def test_a_log_with_only_the_starred_columns_answers_for_the_idler_in_full(found: Any, tmp_path: Path) -> None:
    belts = [{"belt": row["belt"], "runs_before": row["runs_before"]} for row in rows_of("belts")]
    ours = study(season_of(tmp_path, belts, starred(rows_of("runs"))))
    for part in ("levels", "mean_difference"):
        assert ours["life"]["idler"][part] == found["life"]["idler"][part]
    assert ours["life"]["idler"]["logrank"]["p_exact"] == found["life"]["idler"]["logrank"]["p_exact"]
    assert ours["headline"]["idler"]["estimate"] is not None
    assert ours["life"]["tension"] == {"reason": "the log has no tension_n column"}
    assert ours["life"]["edge_lube"] == {"reason": "the log has no edge_lube column"}
    assert ours["settings"]["tension_cuts_n"] is None
    assert ours["settings"]["tension_cuts_n_reason"]
    assert ours["hazard"]["terms"]["idler[toothed]"]["coef"] is not None
    for term in ("tension_kn", "edge_lube[install]", "edge_lube[every-run]"):
        assert ours["hazard"]["terms"][term]["coef"] is None
        assert ours["hazard"]["terms"][term]["reason"]
    absent = {entry["column"] for entry in ours["log"]["absent"]}
    assert {"tension_n", "edge_lube", "idler_support"} <= absent
    jsonschema.validate(ours, schema())


def test_unknown_counts_only_when_the_belt_broke_and_a_cause_left_out_does_not_count(tmp_path: Path) -> None:
    belts = [{"belt": name} for name in "ABC"]
    runs = [
        {
            "run": "1",
            "day": "2030-03-01",
            "car": "red",
            "belt": "A",
            "idler": "smooth",
            "fate": "broke",
            "cause": "unknown",
        },
        {
            "run": "2",
            "day": "2030-03-01",
            "car": "red",
            "belt": "B",
            "idler": "smooth",
            "fate": "retired",
            "cause": "unknown",
        },
        {
            "run": "3",
            "day": "2030-03-02",
            "car": "red",
            "belt": "C",
            "idler": "smooth",
            "fate": "broke",
            "cause": "tooth-jump",
        },
    ]
    season = season_of(tmp_path, belts, runs)
    assert study(season)["log"]["failed"] == 2
    assert study(season, Settings(failures=["tooth-jump"]))["log"]["failed"] == 1
    assert study(season, Settings(failures=["unknown"]))["life"]["overall"]["failed_at"] == [1]


def test_a_belt_of_unknown_age_leaves_every_answer_but_is_counted(found: Any, tmp_path: Path) -> None:
    belts, runs = rows_of("belts"), rows_of("runs")
    belts[0]["runs_before"] = "?"
    gone = belts[0]["belt"]
    ours = study(season_of(tmp_path, belts, runs))
    made = sum(row["belt"] == gone for row in runs)
    assert ours["log"]["belts"] == found["log"]["belts"]
    assert ours["log"]["runs"] == found["log"]["runs"]
    assert ours["log"]["unknown_age"] == 1
    assert ours["life"]["overall"]["runs"] == found["life"]["overall"]["runs"] - made
    assert ours["life"]["overall"]["belts"] == found["life"]["overall"]["belts"] - 1


def test_holm_adjusts_over_the_planned_comparisons_alone(found: Any) -> None:
    tests = [found["life"][name]["logrank"] for name in ("idler", "tension", "edge_lube")]
    ordered = sorted(test["p"] for test in tests)
    by_hand, largest = {}, 0.0
    for rank, p in enumerate(ordered):
        largest = max(largest, min(1.0, (3 - rank) * p))
        by_hand[p] = largest
    assert [test["p_holm"] for test in tests] == [by_hand[test["p"]] for test in tests]
    assert all(block["logrank"].get("p_holm") is None for block in found["life"]["more"].values() if "logrank" in block)


def test_belts_that_changed_a_setting_are_counted_once_each(found: Any) -> None:
    idlers: dict[str, set[str]] = {}
    for row in rows_of("runs"):
        idlers.setdefault(row["belt"], set()).add(row["idler"])
    assert found["life"]["idler"]["changed_belts"] == sum(len(levels) > 1 for levels in idlers.values())


def test_every_belt_fails_or_leaves_each_level_it_ran_in_once(found: Any) -> None:
    for name in ("idler", "tension", "edge_lube"):
        for curve in found["life"][name]["levels"].values():
            assert sum(curve["failed_at"]) + sum(curve["censored_at"]) == curve["belts"]


@pytest.mark.parametrize(
    ("chosen", "message"),
    [
        ({"failures": []}, "no cause counts as a failure"),
        ({"failures": ["tooth-jumpp"]}, '"tooth-jumpp" is no cause'),
        ({"horizon": 0}, "a horizon of 0 runs cannot be used"),
        ({"tension_cuts": (9000, 7000)}, "tension cuts 9000 and 7000 cannot be used"),
        ({"confidence": 1.0}, "a confidence of 1 cannot be used"),
        ({"seed": -1}, "a seed of -1 cannot be used"),
        ({"costs": (1.0,)}, "costs 1 cannot be used"),
        ({"costs": (1.0, 0.0)}, "costs 1 and 0 cannot be used"),
        ({"risk": 0.0}, "a risk of 0 cannot be used"),
        ({"runs": 0}, "0 runs cannot be used"),
    ],
)
def test_a_setting_that_cannot_be_used_is_refused_in_one_sentence(chosen: dict[str, Any], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        study(read_season(SEASON), Settings(**chosen))


def test_the_confidence_moves_every_interval(found: Any) -> None:
    wide = study(read_season(SEASON), Settings(confidence=0.99))
    pair = "toothed minus smooth"
    one, other = (findings["life"]["idler"]["mean_difference"][pair] for findings in (wide, found))
    assert one["estimate"] == other["estimate"]
    assert one["upper"] - one["lower"] > other["upper"] - other["lower"]
    term = "idler[toothed]"
    assert wide["hazard"]["terms"][term]["lower"] < found["hazard"]["terms"][term]["lower"]
    assert wide["headline"]["idler"]["lower"] < found["headline"]["idler"]["lower"]


def test_the_seed_moves_what_is_drawn_and_nothing_else(found: Any) -> None:
    other = study(read_season(SEASON), Settings(seed=2))
    assert other["standardised"]["idler"]["mean_difference"] != found["standardised"]["idler"]["mean_difference"]
    assert other["spares"]["chance_short"] != found["spares"]["chance_short"]
    for block in ("life", "hazard", "tension_curve", "causes", "overlap"):
        assert other[block] == found[block]


def test_a_log_without_runs_of_known_age_has_reasons_everywhere(tmp_path: Path) -> None:
    belts = [{"belt": "A", "runs_before": "?"}]
    runs = [
        {"run": "1", "day": "2030-03-01", "car": "red", "belt": "A", "idler": "smooth", "fate": "kept", "cause": ""}
    ]
    findings = study(season_of(tmp_path, belts, runs))
    jsonschema.validate(findings, schema())
    assert findings["log"]["failed"] == findings["log"]["censored"] == 0
    decided = [findings[name] for name in ("change_out", "outlook", "spares", "next_trial", "repeatability")]
    known = [findings["life"]["overall"], *(findings[name] for name in ("hazard", "causes", "second_opinion"))]
    for block in (*known, *decided):
        assert block["reason"]


def test_of_many_runs_both_fit_the_hazard_to_those_of_the_first_belts(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("drivekit.study.hazard_fit.MOST_RUNS", 200)
    fit = HazardInput(StudyInput(run_table(read_season(SEASON)), Settings(), COMPARISONS))
    block = opinion_block(fit)()
    runs, belts = (int(word) for word in re.findall("[0-9]+", block["compared"][-1]))
    assert 200 < runs < 230
    assert (fit.rows["belt"] < belts).sum() == runs
    assert block["largest_difference"] < 1e-9
