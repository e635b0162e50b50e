"""The invented seasons as files: same seed, same bytes; described as a Data Package; holding what was put in."""

import csv
import io
import json
import math
from collections import Counter, defaultdict
from datetime import date
from hashlib import sha256
from itertools import pairwise
from pathlib import Path

import pytest

from drivekit.begin import write_demo
from drivekit.faults import Unusable
from drivekit.log import check_season, read_season, run_table
from drivekit.log.columns import BELTS, FAILURES, RUNS
from drivekit.log.demo import season, season_files
from drivekit.log.demo_truth import SEASON_ONE, SEASON_TWO, TRUTH

DATA = Path(__file__).parents[2] / "data"
SEASONS = ("season-one", "season-two")
FILES = ("belts.csv", "datapackage.json", "runs.csv")


def rows(name, file):
    with (DATA / name / file).open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))


@pytest.fixture(params=SEASONS)
def name(request):
    return request.param


def test_the_same_seed_gives_the_bytes_that_are_kept_here(tmp_path):
    homes = write_demo(tmp_path / "new" / "place")
    assert [home.name for home in homes] == list(SEASONS)
    for home in homes:
        assert sorted(path.name for path in home.iterdir()) == sorted(FILES)
        for file in FILES:
            assert (home / file).read_bytes() == (DATA / home.name / file).read_bytes(), (home.name, file)


def test_another_seed_gives_other_seasons_and_season_two_comes_from_the_number_after(tmp_path):
    first, second = write_demo(tmp_path, seed=7)
    assert (first / "runs.csv").read_bytes() != (DATA / "season-one" / "runs.csv").read_bytes()
    assert (first / "runs.csv").read_bytes() == season_files(SEASON_ONE, season(SEASON_ONE, seed=7))["runs.csv"]
    assert (second / "runs.csv").read_bytes() == season_files(SEASON_TWO, season(SEASON_TWO, seed=8))["runs.csv"]


def test_a_season_that_is_there_already_is_left_alone_and_nothing_is_written(tmp_path):
    mine = tmp_path / "season-two"
    mine.mkdir()
    with pytest.raises(Unusable) as refusal:
        write_demo(tmp_path)
    assert str(refusal.value) == (
        f"{mine} is there already; name a folder without it, so that nothing of yours is replaced"
    )
    assert list(tmp_path.iterdir()) == [mine]
    assert not list(mine.iterdir())


def test_a_file_in_the_folders_place_is_one_sentence(tmp_path):
    place = tmp_path / "file"
    place.write_text("here")
    with pytest.raises(Unusable, match=r"file/season-one cannot be written: Not a directory"):
        write_demo(place)
    assert place.read_text() == "here"


def test_lines_end_in_one_newline_and_no_byte_order_mark_stands_first(name):
    for file in FILES:
        content = (DATA / name / file).read_bytes()
        assert b"\r" not in content
        assert content.endswith(b"\n")
        assert not content.endswith(b"\n\n")
        assert not content.startswith(b"\xef\xbb\xbf")


def parsed(field, text):
    """Read a cell as the Table Schema says; None when it is missing."""
    if text in ("", "?"):
        return None
    kind = {"string": str, "integer": int, "number": float, "date": date.fromisoformat}[field["type"]]
    return kind(text)


def test_the_data_package_describes_the_files_as_they_are(name):
    package = json.loads((DATA / name / "datapackage.json").read_text(encoding="utf-8"))
    assert package["profile"] == "tabular-data-package"
    assert package["name"] == name
    assert package["invented"] is True
    assert package["description"].startswith("Invented")
    assert package["licenses"][0]["name"] == "CC0-1.0"
    assert [resource["path"] for resource in package["resources"]] == ["belts.csv", "runs.csv"]
    for resource in package["resources"]:
        content = (DATA / name / resource["path"]).read_bytes()
        assert resource["bytes"] == len(content)
        assert resource["hash"] == f"sha256:{sha256(content).hexdigest()}"
        table = list(csv.reader(io.StringIO(content.decode(resource["encoding"]))))
        fields = resource["schema"]["fields"]
        assert table[0] == [field["name"] for field in fields]
        known = [column.name for column in {"belts": BELTS, "runs": RUNS}[resource["name"]]]
        assert table[0] == [name for name in known if name in table[0]]
        for field, *texts in zip(fields, *table[1:], strict=True):
            rule, cells = field.get("constraints", {}), [parsed(field, text) for text in texts]
            known = [cell for cell in cells if cell is not None]
            assert not rule.get("required") or len(known) == len(cells), field["name"]
            assert not rule.get("unique") or len(set(known)) == len(known), field["name"]
            assert set(known) <= set(rule.get("enum", known)), field["name"]
            assert all(cell >= rule["minimum"] for cell in known if "minimum" in rule), field["name"]
            assert all(cell <= rule["maximum"] for cell in known if "maximum" in rule), field["name"]
            assert set(texts) & {"?"} == ({"?"} if field["name"] == "runs_before" else set())
    belts, runs = (resource["schema"] for resource in package["resources"])
    assert (belts["primaryKey"], runs["primaryKey"]) == ("belt", "run")
    key = runs["foreignKeys"][0]
    assert key == {"fields": "belt", "reference": {"resource": "belts", "fields": "belt"}}
    assert {row["belt"] for row in rows(name, "runs.csv")} < {row["belt"] for row in rows(name, "belts.csv")}


def test_every_rule_of_the_column_table_reaches_the_data_package():
    package = json.loads((DATA / "season-one" / "datapackage.json").read_text(encoding="utf-8"))
    for resource, columns in zip(package["resources"], (BELTS, RUNS), strict=True):
        named = {column.name: column for column in columns}
        for field in resource["schema"]["fields"]:
            column = named[field["name"]]
            rule = field.get("constraints", {})
            assert rule.get("required", False) == column.required
            assert rule.get("unique", False) == (column.name == resource["schema"]["primaryKey"])
            limits = rule.get("minimum", -math.inf), rule.get("maximum", math.inf)
            assert limits == (column.low, column.high)
            assert tuple(rule.get("enum", ())) == column.levels
            assert field.get("unit", "") == column.unit
            assert field["description"] == column.meaning


def test_the_seasons_have_the_size_they_are_said_to_have():
    sizes = {name: (len(rows(name, "belts.csv")), len(rows(name, "runs.csv"))) for name in SEASONS}
    assert sizes == {"season-one": (88, 601), "season-two": (71, 490)}


def truth_lines(truth=TRUTH):
    """Say the truth as the lines of a table for a person."""
    ratios = {
        "idler": (truth.idler, "idler"),
        "edges greased": (truth.edge_lube, "edge_lube"),
        "car": (truth.car, "car"),
        "idler support": (truth.idler_support, "idler_support"),
        "compound": (truth.compound, "compound"),
        "width, mm": (truth.width_mm, "width_mm"),
        "who fitted": (truth.fitted_by, "fitted_by"),
        f"engine trouble, on the belt's next {truth.trouble_runs} runs": (truth.trouble, "engine_trouble"),
    }
    lines = ["| what | column | the hazard of a run is multiplied by |", "|---|---|---|"]
    lines += [f"| {what} | `{column}` | {said(levels)} |" for what, (levels, column) in ratios.items()]
    lines += [
        f"| age of the belt in runs | | {truth.base:g} x age^{truth.age_power:g} (all else at 1) |",
        (
            f"| tension | `tension_n` | exp({truth.tension_bend:g} x ((tension - {truth.best_n:g} N) / 1000 N)^2), "
            f"tensions from {truth.lowest_n:g} to {truth.highest_n:g} N |"
        ),
        f"| hidden quality of the belt | | exp({truth.quality_sd:g} x a standard normal number) |",
        "",
        "| what else | truth |",
        "|---|---|",
        (
            f"| goes slack at full load below | {truth.slack_below_n:.0f} N ({truth.full_load_w / 1000:g} kW at "
            f"{truth.speed_m_s:g} m/s, {truth.mass_kg_m:g} kg/m, {truth.tight_share:g} of the belt on the tight side, "
            f"{truth.growth_n:g} N gained hot) |"
        ),
        f"| tension aimed for differs from meeting to meeting by (standard deviation) | {truth.target_sd_n:g} N |",
        f"| what is set differs from it by (standard deviation, N), by who fitted | {said(truth.tension_sd_n)} |",
        f"| tension gained a turn of the adjuster | {truth.turn_n:g} N, from {truth.snug_n:g} N where it is snug |",
        (
            f"| tension lost on a run | {truth.loses_n:g} N, and {truth.settles_n:g} N more on a new belt's first run, "
            "half of that two runs later and so on |"
        ),
        f"| edge temperatures, front less rear, C a flat of idler (front less rear), by car | {said(truth.flat_c)} |",
        f"| the same with idler flats equal, by car | {said(truth.square_c)} |",
        f"| the same, C a flat of snout (mean of left and right, from {truth.snout_middle:g}) | {truth.snout_c:g} |",
        (
            f"| belts differ in it by, readings scatter by (standard deviations, C) | {truth.belt_c_sd:g}, "
            f"{truth.reading_c_sd:g} |"
        ),
        f"| the belt walked front or rear when it was beyond | {truth.walks_c:g} C |",
        (
            f"| chance that a look is written down as another; that of the ends of a broken belt | {truth.misread:g}; "
            f"{truth.misread_break:g} |"
        ),
        "| time at full load, grease kind, flats, edge temperatures, meeting, round | change no hazard |",
    ]
    return lines


def said(levels):
    return ", ".join(f"{level} {value:g}" for level, value in levels.items())


def test_the_read_me_says_the_truth_that_is_in_the_code():
    text = (DATA / "README.md").read_text(encoding="utf-8")
    assert "\n".join(truth_lines()) in text
    assert "| idler | `idler` | smooth 1, toothed 0.45 |" in text
    assert text.splitlines()[2].startswith("Everything here is invented")


def test_a_season_runs_in_order_and_no_belt_runs_after_its_end(name):
    runs = rows(name, "runs.csv")
    assert [int(row["run"]) for row in runs] == list(range(1, len(runs) + 1))
    assert all(before["day"] <= after["day"] for before, after in pairwise(runs))
    assert all((row["cause"] != "") == (row["fate"] in ("retired", "broke")) for row in runs)
    ended = set()
    for row in runs:
        assert row["belt"] not in ended
        if row["cause"]:
            ended.add(row["belt"])
    first = {}
    for row in runs:
        first.setdefault(row["belt"], row["day"])
    assert {row["belt"]: row["first_day"] for row in rows(name, "belts.csv") if row["first_day"]} == first


def test_each_season_holds_what_was_put_in(name):
    belts, runs = rows(name, "belts.csv"), rows(name, "runs.csv")
    before = [row["runs_before"] for row in belts]
    assert before.count("?") == 1
    assert {int(text) for text in before if text not in ("", "?")} <= set(range(1, 7))
    assert 4 <= sum(text not in ("", "?") for text in before) <= 12
    unused = {row["belt"] for row in belts} - {row["belt"] for row in runs}
    assert len(unused) == 2
    idlers = defaultdict(set)
    for row in runs:
        idlers[row["belt"]].add(row["idler"])
    assert sum(len(kinds) == 2 for kinds in idlers.values()) >= 8
    causes = Counter(row["cause"] for row in runs if row["cause"])
    assert set(FAILURES) <= set(causes)
    assert causes["unknown"] == 1
    assert [row["fate"] for row in runs if row["cause"] == "unknown"] == ["broke"]
    assert sum(causes[cause] for cause in FAILURES) >= 35
    assert {"precaution", "contaminated", "engine-trouble"} <= set(causes)
    for column in [column for column in RUNS if column.name in runs[0]]:
        seen = {row[column.name] for row in runs} - {""}
        if column.levels and column.name != "cause":
            assert seen == set(column.levels), column.name
    assert {row["car"] for row in runs} == set(TRUTH.car)
    assert {(row["car"], row["idler"]) for row in runs} == {(car, idler) for car in TRUTH.car for idler in TRUTH.idler}


def test_the_tension_is_blank_now_and_then_and_sometimes_given_by_pitch_or_by_push(name):
    runs = rows(name, "runs.csv")
    pitch = [row for row in runs if row["span_hz"]]
    push = [row for row in runs if row["push_n"]]
    unknown = [row for row in runs if not (row["tension_n"] or row["span_hz"] or row["push_n"])]
    assert 0.05 < len(unknown) / len(runs) < 0.11
    assert len(pitch) >= 10
    assert len(push) >= 5
    assert all(row["span_mm"] and not row["tension_n"] for row in pitch + push)
    belts = {row["belt"]: float(row["mass_g_per_m"]) / 1000 for row in rows(name, "belts.csv")}
    given = [4 * belts[row["belt"]] * (float(row["span_mm"]) / 1000 * float(row["span_hz"])) ** 2 for row in pitch]
    given += [float(row["push_n"]) * float(row["span_mm"]) / (4 * float(row["push_mm"])) for row in push]
    assert min(given) > 0.99 * TRUTH.lowest_n
    assert max(given) < 1.01 * TRUTH.highest_n


def test_season_one_changes_idlers_at_mid_season_and_season_two_drifts():
    share = {}
    for name in SEASONS:
        runs = rows(name, "runs.csv")
        third = len(runs) // 3
        share[name] = [sum(row["idler"] == "toothed" for row in part) / third for part in (runs[:third], runs[-third:])]
    assert share["season-one"][0] < 0.2 < 0.8 < share["season-one"][1]
    assert 0.2 < share["season-two"][0] < share["season-two"][1] < 0.8


def test_the_edges_say_which_way_the_belt_walked_and_looks_are_those_of_a_belt_that_ran_or_broke(name):
    for row in rows(name, "runs.csv"):
        if row["edge_front_c"]:
            difference = round(float(row["edge_front_c"]) - float(row["edge_rear_c"]), 1)
            if abs(abs(difference) - TRUTH.walks_c) > 0.051:  # the reading is written to the tenth
                assert row["walked"] == ("front" if difference > 2.5 else "rear" if difference < -2.5 else "even")
        assert row["cause"] != "tooth-jump" or row["fate"] == "broke"
        assert (row["break_look"] != "none") == (row["fate"] == "broke")
        if row["fate"] in ("kept", "trimmed"):
            assert {row["teeth_look"], row["cord_look"], row["edge_look"]} <= {"", "good", "worn", "hairs", "frayed"}


def test_no_look_tells_the_cause_for_sure_and_tests_are_fewer_than_half_of_all_runs():
    runs = [row for name in SEASONS for row in rows(name, "runs.csv")]
    straight = Counter(row["cause"] for row in runs if row["break_look"] == "straight-across")
    jumped = Counter(row["break_look"] for row in runs if row["cause"] == "tooth-jump")
    assert 0.8 < straight["tooth-jump"] / straight.total() < 1
    assert 0.8 < jumped["straight-across"] / jumped.total() < 1
    for name in SEASONS:
        rounds = Counter(row["round"] for row in rows(name, "runs.csv"))
        assert rounds["elimination"] < rounds["test"] < 0.5 * rounds.total()


def test_our_own_check_finds_no_fault_and_warns_of_the_uncounted_belt_and_of_breaks_misread(name):
    log = read_season(DATA / name)
    assert log.invented
    assert log.name == name
    unwritten = ["clamp_faces", "squared"]  # and nothing was drawn by lot
    assert [column.name for column in log.absent if not column.name.startswith("trial_")] == unwritten
    misread = [row for row in rows(name, "runs.csv") if row["break_look"] == "straight-across"]
    slips = [row for row in misread if row["cause"] not in ("", "tooth-jump")]
    warned = [("runs_before", "?")] + [("break_look", "straight-across")] * len(slips)
    assert [(fault.column, fault.value) for fault in check_season(DATA / name)] == warned


def test_the_log_read_back_has_the_ages_and_the_tensions_that_were_played():
    played = season(SEASON_TWO, seed=2)
    table = run_table(read_season(DATA / "season-two"))
    hidden = {row["run"]: run for row, run in zip(played.runs, played.hidden, strict=True)}
    assert [hidden[number].age for number in table["run"]] == table["age"].tolist()
    known = {
        number: tension for number, tension in zip(table["run"], table["tension_n"], strict=True) if tension == tension
    }
    assert len(known) > 0.9 * len(table)
    assert all(tension == pytest.approx(hidden[number].tension_n, rel=0.01) for number, tension in known.items())
