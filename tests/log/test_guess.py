"""The draft of a map: nothing in it is read before it is confirmed, and confirmed it reads the log."""

import csv
import re
import tomllib
from pathlib import Path

import pytest

from drivekit.faults import Unusable
from drivekit.log import check_season, read_season
from drivekit.log.guess import drafted_map

SEASON = Path(__file__).parents[2] / "data" / "season-two"
OWN = {"run": "No", "day": "Date", "belt": "Belt no.", "idler": "Roller", "tension_n": "Tension", "fate": "Result"}
OWN |= {"cause": "Why", "edge_front_c": "Front temp F", "edge_lube": "Edges greased"}
TAKEN = 4.4482216152605


def day(iso: str) -> str:
    year, month, of_month = iso.split("-")
    return f"{int(month)}/{int(of_month)}/{year}"


WRITES = {
    "day": day,
    "idler": lambda word: word[0].upper(),
    "fate": lambda word: word[0].upper(),
    "cause": lambda word: word.replace("-", " "),
    "tension_n": lambda value: f"{float(value) / TAKEN:.1f}",
    "edge_front_c": lambda value: f"{float(value) * 1.8 + 32:.1f}",
}


@pytest.fixture
def own(tmp_path: Path) -> Path:
    """Season two as another crew would have written it."""
    place = tmp_path / "own"
    place.mkdir()
    (place / "belts.csv").write_bytes((SEASON / "belts.csv").read_bytes())
    with (SEASON / "runs.csv").open() as file:
        rows = list(csv.DictReader(file))
    with (place / "runs.csv").open("w", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(OWN.get(name, name) for name in rows[0])
        for row in rows:
            writer.writerow(WRITES.get(name, str)(cell) if cell else "" for name, cell in row.items())
    return place


def confirmed(draft: str, order: str = "month first") -> str:
    """Take the # from every line, and from one order of days."""
    lines = re.sub(r'^# (")', r"\1", draft, flags=re.MULTILINE)
    return lines.replace(f'# order = "{order}"', f'order = "{order}"')


def test_a_column_of_belts_is_known_by_the_names_that_stand_in_the_other_table(own) -> None:
    runs = (own / "runs.csv").read_text().replace("Belt no.", "Strap", 1)
    (own / "runs.csv").write_text(runs)
    draft = drafted_map(own, "map.toml")
    assert '# "Strap" = "belt"' in draft
    assert '# "Result" = "fate"' in draft
    (own / "runs.csv").write_text(runs.replace("B01,", "Z01,"))  # a name that is none: the column is not the belts'
    assert '# "Strap" = ""' in drafted_map(own, "map.toml")


def test_a_draft_maps_nothing_before_its_lines_are_confirmed(own) -> None:
    content = tomllib.loads(drafted_map(own, "map.toml"))
    assert set(content) == {"belts", "runs", "words", "days"}
    assert not any(content["runs"] | content["belts"] | content["days"])
    assert not any(words for words in content["words"].values())


def test_a_confirmed_draft_reads_the_log_as_it_was_meant(own, tmp_path) -> None:
    assert any(not fault.warning for fault in check_season(own))
    (tmp_path / "map.toml").write_text(confirmed(drafted_map(own, "map.toml")), encoding="utf-8")
    read, plain = read_season(own, tmp_path / "map.toml").runs, read_season(SEASON).runs
    for name in ("run", "day", "belt", "idler", "fate", "cause", "edge_lube", "car"):
        assert read[name].tolist() == plain[name].tolist(), name
    for name in ("tension_n", "edge_front_c"):
        assert read[name].dropna().tolist() == pytest.approx(plain[name].dropna().tolist(), abs=0.3), name


def test_a_draft_says_column_unit_words_and_what_stands_there(own) -> None:
    lines = drafted_map(own, "maps/own.toml").splitlines()
    assert f"#     drivekit check {own} --columns maps/own.toml" in lines
    said = {line.split(" = ")[0]: line for line in lines if line.startswith('# "')}
    assert re.search(r'= "tension_lbf" +# unit lbf; [0-9.]+ to [0-9.]+ stand there$', said['# "Tension"'])
    assert re.search(r'= "edge_front_f" +# unit °F; ', said['# "Front temp F"'])
    assert re.search(r'= "smooth" +# on 258 rows$', said['# "S"'])
    assert any(re.search(r'^# order = "day first" +# cannot be: [0-9]+ months? above 12$', line) for line in lines)


def test_a_word_or_heading_near_to_nothing_is_left_for_the_person_to_say(log) -> None:
    place = log(run=("smooth,8000", "glatt,8000"))
    (place / "runs.csv").write_text(
        (place / "runs.csv")
        .read_text()
        .replace("edge_lube", "Wxyz")
        .replace("install", "ja")
        .replace("every-run", "oft")
    )
    draft = drafted_map(place, "map.toml")
    assert re.search(r'^# "Wxyz" = "" +# near to no column of ours; none, ja, oft stand there$', draft, re.M)
    assert re.search(r'^# "glatt" = "\?" +# on 1 row$', draft, re.M)


def test_headings_and_words_of_any_letters_are_written_as_toml_takes_them(log, tmp_path) -> None:
    odd = 'a"b\\c\x7f\u2028\t#d=["'
    quoted = odd.replace('"', '""')
    place = log(run=("idler,tension_n", f'idler,"{quoted}"'))
    (place / "runs.csv").write_text((place / "runs.csv").read_text().replace("toothed", f'"{quoted}"'))
    content = tomllib.loads(confirmed(drafted_map(place, "map.toml")))
    assert odd in content["runs"]
    assert odd in content["words"]["idler"]


def test_a_log_of_our_own_headings_needs_no_line_and_what_is_lacking_is_named(log) -> None:
    draft = drafted_map(log(), "map.toml")
    assert not any(line.startswith('# "') for line in draft.splitlines())
    assert "# Read as they are, no line needed: run, day, car, belt, idler" in draft
    lacking = drafted_map(log(run=("idler,tension_n", "Wetter,tension_n"), name="lacking"), "map.toml")
    assert '# "Wetter" = "idler"' in lacking
    assert "# In no column yet: fate: What became of the belt" in drafted_map(
        log(runs="run,day,car\n", name="bare"), "m"
    )


def test_what_is_no_log_is_refused_and_drafts_nothing(tmp_path) -> None:
    with pytest.raises(Unusable, match="is not there"):
        drafted_map(tmp_path / "nowhere", "map.toml")
