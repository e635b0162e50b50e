"""The command line as a person meets it: what is written, what is said where, and the code given back."""

from __future__ import annotations

import csv
import io
import json
import os
import re
import shutil
import subprocess
import sys
import time
from collections.abc import Callable
from contextlib import nullcontext, redirect_stdout
from datetime import datetime, tzinfo
from errno import EACCES
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from drivekit.cli import main
from drivekit.folder import standing
from drivekit.notebooks import workbooks_in
from drivekit.options import parsers

TOP = Path(__file__).parents[1]
SEASON = TOP / "data" / "season-two"
Said = pytest.CaptureFixture[str]


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder to stand in, with a log in it."""
    shutil.copytree(SEASON, tmp_path / "log")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def _undrawn(findings: dict[str, Any], second: object, size: str | None) -> dict[str, bytes]:
    return {"findings.html": f"a page, figures at the size {size}".encode()}


@pytest.fixture
def undrawn(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave the drawing out, where a test asks for the numbers alone."""
    monkeypatch.setattr("drivekit.show.drawn_files.drawn_files", _undrawn)
    monkeypatch.setattr("os.cpu_count", lambda: 1)


def run(*words: str | Path, **named: Any) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "drivekit", *map(str, words)]
    return subprocess.run(command, capture_output=True, text=True, check=False, **named)


def findings(folder: str | Path = "findings") -> dict[str, Any]:
    found: dict[str, Any] = json.loads((Path(folder) / "findings.json").read_text())
    return found


def spoil(runs: Path) -> None:
    """Write a tension that no belt bears, and an idler that is none, in the first run."""
    heading, first, *rest = runs.read_text().splitlines()
    cells = dict(zip(heading.split(","), first.split(","), strict=True)) | {"tension_n": "8000000", "idler": "tothed"}
    runs.write_text("\n".join([heading, ",".join(cells.values()), *rest]) + "\n")


def files_of(folder: Path) -> set[str]:
    return {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()}


class Clock(datetime):
    """A time that stands still."""

    @classmethod
    def now(cls, tz: tzinfo | None = None) -> Clock:
        return cls(2026, 3, 7, 9, 30, 15, 999, tzinfo=tz)


@pytest.fixture(scope="module")
def studied(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """A folder in which a log was studied into `out` at the time of `Clock`, and what was said."""
    here, said = tmp_path_factory.mktemp("studied"), io.StringIO()
    shutil.copytree(SEASON, here / "log")
    with pytest.MonkeyPatch.context() as patched, redirect_stdout(said):
        patched.chdir(here)
        patched.setattr("drivekit.cli.datetime", Clock)
        assert main(["study", "log", "--out", "out"]) == 0
    return here, said.getvalue()


def test_a_study_writes_findings_page_and_figures_and_says_three_answers(studied: tuple[Path, str]) -> None:
    here, said = studied
    *answers, invented, where = said.splitlines()
    assert [word for word, said in zip(("idler", "tension", "greas"), answers, strict=True) if word in said] == [
        *("idler", "tension", "greas")
    ]
    assert invented == "These are invented data: no belt, car or meeting in them is real."
    assert where == "The page is out/findings.html; open it in a browser, it needs no network."
    written = files_of(here / "out")
    figures = {name for name in written if name.startswith("figures/")}
    assert written == {
        "findings.json",
        "findings.html",
        "evidence.html",
        "sheet.pdf",
        "inspection-card.pdf",
        "inspection-card-letter.pdf",
        "findings.xlsx",
        "slides.html",
        *figures,
    }
    stems = {name.rsplit(".", 1)[0] for name in figures}
    assert "figures/idler" in stems
    assert figures == {f"{stem}.{kind}" for stem in stems for kind in ("svg", "png")}
    assert standing(here / "out").kind == "whole"
    assert set(standing(here / "out").named) == written - {"findings.json"}
    assert all((here / "out" / name).read_bytes().startswith(b"\x89PNG") for name in figures if name.endswith("png"))


def test_the_same_study_at_the_same_time_gives_the_same_bytes(
    here: Path, studied: tuple[Path, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("drivekit.cli.datetime", Clock)
    assert main(["study", "log", "--out", "again"]) == 0
    assert findings("again")["provenance"]["started"] == "2026-03-07T09:30:15+00:00"
    before = studied[0] / "out"
    assert files_of(here / "again") == files_of(before)
    assert [path.read_bytes() for path in sorted((here / "again").rglob("*.*"))] == [
        path.read_bytes() for path in sorted(before.rglob("*.*"))
    ]


@pytest.mark.usefixtures("undrawn")
def test_findings_go_to_a_folder_of_that_name_unless_told_otherwise(here: Path, capsys: Said) -> None:
    assert main(["study", "log"]) == 0
    assert findings()["log"]["name"] == "log"
    assert files_of(here / "log") == files_of(SEASON)


def own_headings(here: Path) -> None:
    runs = here / "log" / "runs.csv"
    runs.write_text(runs.read_text().replace("idler,", "Umlenkrolle,", 1))
    (here / "map.toml").write_text('[runs]\nUmlenkrolle = "idler"\n')


def study_and(look: Callable[[], object]) -> Callable[[Path, list[str]], object]:
    def seen(here: Path, words: list[str]) -> object:
        assert main(["study", "log", *words]) == 0
        return look()

    return seen


def anew(here: Path, words: list[str]) -> str:
    """The belts of a new log."""
    folder = here / f"new{len(list(here.iterdir()))}"
    assert main(["new", str(folder), *words]) == 0
    return (folder / "belts.csv").read_text()


def said_at_the_end(here: Path, words: list[str]) -> str:
    said = io.StringIO()
    with redirect_stdout(said):
        assert main(["study", "log", *words]) == 0
    return said.getvalue()


def adding(look: Callable[[Path], object]) -> Callable[[Path, list[str]], object]:
    """Add a run, or take it back, and look at what was said and at the log."""

    def seen(here: Path, words: list[str]) -> object:
        said = io.StringIO()
        with redirect_stdout(said):
            assert main(["add", "log", *words]) == 0
        (here / "said.txt").write_text(said.getvalue())
        return look(here)

    return seen


def code_of(command: str) -> Callable[[Path, list[str]], object]:
    def seen(here: Path, words: list[str]) -> object:
        if not (here / "map.toml").exists():
            own_headings(here)
        return main([command, "log", *words])

    return seen


def card_said(here: Path, words: list[str]) -> str:
    """What is said of a meeting's card, of a belt that has made no run first."""
    said = io.StringIO()
    with redirect_stdout(said):
        assert main(["meeting", "log", *words]) == 0
    return said.getvalue()


def meeting_code(here: Path, words: list[str]) -> int:
    own_headings(here)
    return main(["meeting", "log", "0", *words])


def runs_of_levels() -> object:
    return [level["runs"] for level in findings()["life"]["tension"]["levels"].values()]


def parameters_of_the_study(here: Path, words: list[str]) -> object:
    """Study without running the workbooks, and read what they would have been given."""
    with pytest.MonkeyPatch.context() as patched:
        given: list[object] = []
        patched.setattr("drivekit.notebooks.run_workbook", lambda place, named, beside: given.append(named) or "")
        patched.setattr("drivekit.notebooks.sent", lambda text: text)
        assert main(["study", "log", *words]) == 0
    return given


def workbooks_of_the_study(here: Path, words: list[str]) -> object:
    """Study with two of the workbooks, for all are run elsewhere, and read what was written."""
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr("drivekit.notebooks.workbooks_in", lambda folder: workbooks_in(folder)[::6])
        assert main(["study", "log", *words]) == 0
    return sorted(files_of(here / "findings"))


def parameters_of_the_lab(here: Path, words: list[str]) -> object:
    """Open the lab with no server behind it, and read what the parameters cells of the workbooks say."""
    own_headings(here)
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr("drivekit.begin.served", lambda: nullcontext(SimpleNamespace(wait=lambda: 0)))
        patched.setattr("drivekit.begin.address", lambda server: None)
        code = main(["lab", "log", *words])
    copies = sorted((here / "drivekit-lab" / "workbooks").glob("*.ipynb"))
    return code, [json.loads(place.read_text())["cells"][1]["source"] for place in copies]


TURNED: dict[tuple[str, str], tuple[list[str], list[str], Callable[[Path, list[str]], object]]] = {
    ("add", "--set"): (
        ["--set", "fate=kept"],
        ["--set", "fate=kept", "--set", "belts.width_mm=80", "--set", "belt=B72"],
        adding(lambda here: (here / "log" / "belts.csv").read_text().count("B72")),
    ),
    ("add", "--against"): (
        ["--set", "fate=kept"],
        ["--set", "fate=kept", "--against", str(TOP / "data" / "season-one")],
        adding(lambda here: (here / "said.txt").read_text().count("season-one")),
    ),
    ("add", "--undo"): (
        ["--set", "fate=kept"],
        ["--undo"],
        adding(lambda here: (here / "log" / "runs.csv").read_text().count("\n")),
    ),
    ("add", "--columns"): (
        ["--set", "fate=kept"],
        ["--set", "fate=kept", "--columns", "map.toml"],
        code_of("add"),
    ),
    ("check", "--columns"): ([], ["--columns", "map.toml"], code_of("check")),
    ("study", "--columns"): ([], ["--columns", "map.toml"], code_of("study")),
    ("study", "--out"): (
        ["--out", "a"],
        ["--out", "b"],
        lambda here, words: main(["study", "log", *words]) or files_of(here),
    ),
    ("lab", "--columns"): ([], ["--columns", "map.toml"], parameters_of_the_lab),
    ("lab", "--against"): (
        ["--columns", "map.toml"],
        ["--columns", "map.toml", "--against", str(TOP / "data" / "season-one")],
        parameters_of_the_lab,
    ),
    ("lab", "--drive"): (
        ["--columns", "map.toml"],
        ["--columns", "map.toml", "--drive", str(TOP / "data" / "drives" / "worked-example.toml")],
        parameters_of_the_lab,
    ),
    ("study", "--drive"): (
        ["--workbooks"],
        ["--workbooks", "--drive", str(TOP / "data" / "drives" / "worked-example.toml")],
        parameters_of_the_study,
    ),
    ("study", "--against"): (
        [],
        ["--against", str(TOP / "data" / "season-one")],
        study_and(lambda: "watch" in findings()),
    ),
    ("study", "--failures"): (
        ["--failures", "tooth-jump"],
        ["--failures", "tooth-jump, edge-split"],
        study_and(lambda: findings()["log"]["failed"]),
    ),
    ("study", "--horizon"): (
        ["--horizon", "3"],
        ["--horizon", "5"],
        study_and(lambda: findings()["life"]["overall"]["mean_to_horizon"]["estimate"]),
    ),
    ("study", "--tension-cuts"): (
        ["--tension-cuts", "7000,9000"],
        ["--tension-cuts", "8000,9000"],
        study_and(runs_of_levels),
    ),
    ("study", "--confidence"): (
        ["--confidence", ".8"],
        ["--confidence", ".95"],
        study_and(lambda: findings()["life"]["overall"]["lower"][5]),
    ),
    ("study", "--workbooks"): ([], ["--workbooks"], workbooks_of_the_study),
    ("drive", "--out"): (
        [],
        ["--out", "a"],
        lambda here, words: (
            main(["drive", str(TOP / "data" / "drives" / "worked-example.toml"), *words]) or files_of(here)
        ),
    ),
    ("study", "--costs"): (
        ["--costs", "1,2"],
        ["--costs", "1,20"],
        study_and(lambda: findings()["change_out"]["levels"]["all"]["best_runs"]),
    ),
    ("study", "--risk"): (
        ["--risk", ".05"],
        ["--risk", ".5"],
        study_and(lambda: findings()["change_out"]["levels"]["all"]["runs_at_risk"]),
    ),
    ("study", "--runs"): (["--runs", "10"], ["--runs", "20"], study_and(lambda: findings()["spares"]["quantiles"])),
    ("meeting", "--columns"): ([], ["--columns", "map.toml"], meeting_code),
    **{
        ("meeting", option): (["0", option, one], ["0", option, other], card_said)
        for option, one, other in (
            ("--qualifying", "1", "2"),
            ("--eliminations", "1", "2"),
            ("--change-out", "1", "2"),
            ("--idler", "all", "toothed"),
            ("--out", "a.pdf", "b.pdf"),
        )
    },
    ("new", "--trial"): ([], ["--trial", "log"], lambda here, words: anew(here, words).count("T01")),
    ("new", "--grease"): (["--trial", "log"], ["--trial", "log", "--grease"], lambda here, words: anew(here, words)),
    ("new", "--seed"): (["--trial", "log"], ["--trial", "log", "--seed", "2"], lambda here, words: anew(here, words)),
    ("study", "--figures"): ([], ["--figures", "slide"], study_and(lambda: Path("findings/findings.html").read_text())),
    ("study", "--since"): ([], ["--since", "findings"], said_at_the_end),
    ("study", "--seed"): (["--seed", "1"], ["--seed", "2"], study_and(lambda: findings()["settings"]["seed"])),
}


def test_every_option_has_a_row_that_turns_it() -> None:
    walked = {
        (name, action.option_strings[0])
        for name, parser in parsers()[1].items()
        for action in parser._actions
        if action.option_strings
    }
    assert {(name, option) for name, option in walked if option != "--help"} == set(TURNED)


@pytest.mark.usefixtures("undrawn")
@pytest.mark.parametrize(("command", "option"), TURNED)
def test_turning_an_option_changes_what_comes_out(here: Path, command: str, option: str, capsys: Said) -> None:
    one, other, look = TURNED[command, option]
    assert look(here, one) != look(here, other)


@pytest.mark.usefixtures("undrawn")
def test_an_earlier_season_that_is_the_same_or_a_later_one_is_refused(here: Path, capsys: Said) -> None:
    assert main(["study", "log", "--against", "log"]) == 2
    assert "holds the same runs as the log that is studied; name an earlier season's log" in capsys.readouterr().err
    one, two = (str(TOP / "data" / name) for name in ("season-one", "season-two"))
    assert main(["study", one, "--against", two]) == 2
    assert "later than the log that is studied; name an earlier season's log" in capsys.readouterr().err
    assert not Path("findings").exists()


@pytest.mark.usefixtures("undrawn")
def test_a_folder_to_compare_with_that_holds_no_whole_findings_of_this_shape_is_refused(
    here: Path, capsys: Said
) -> None:
    assert main(["study", "log", "--out", "before"]) == 0
    old = Path("before/findings.json")
    for change, why in (
        (
            lambda: old.write_text(old.read_text().replace("findings/1", "findings/0")),
            "before/findings.json is of the shape drivekit-findings/0, and drivekit-findings/1 is read here.",
        ),
        (lambda: Path("before/findings.html").write_text("changed"), "before: the findings here are mixed"),
        (lambda: shutil.copy(SEASON / "runs.csv", old), "before: the findings here are mixed"),
        (old.unlink, "before holds no findings of a study; name a folder that does"),
    ):
        change()
        capsys.readouterr()
        assert main(["study", "log", "--since", "before"]) == 2
        assert capsys.readouterr().err.startswith(f"drivekit: {why}")
        assert not Path("findings").exists()


def test_faults_of_the_earlier_log_name_it(here: Path, capsys: Said) -> None:
    shutil.copytree(here / "log", here / "before")
    spoil(here / "before" / "runs.csv")
    assert main(["study", "log", "--against", "before"]) == 1
    assert re.search(r'^before/runs\.csv:2:tension_n: fault: "8000000" ', capsys.readouterr().err, re.M)


@pytest.mark.usefixtures("undrawn")
def test_an_option_not_given_is_the_study_s_own_choice(here: Path, capsys: Said) -> None:
    from drivekit.study.study_input import Settings

    assert main(["study", "log"]) == 0
    settings, usual = findings()["settings"], Settings()
    chosen = *(list(usual.failures), usual.confidence, usual.seed), *(list(usual.costs), usual.risk, usual.runs)
    assert tuple(settings[name] for name in ("failures", "confidence", "seed", "costs", "risk", "runs")) == chosen


def test_a_log_with_faults_is_code_1_with_every_fault_and_nothing_written(here: Path, capsys: Said) -> None:
    spoil(here / "log" / "runs.csv")
    before = files_of(here)
    assert main(["study", "log", "--out", "out"]) == 1
    said = capsys.readouterr()
    assert said.out == ""
    assert re.search(r'^runs\.csv:2:tension_n: fault: "8000000" ', said.err, re.M)
    assert re.search(r'^runs\.csv:2:idler: fault: "tothed" .*toothed', said.err, re.M)
    assert re.fullmatch(r"2 faults, \d+ warnings?; nothing was written\.", said.err.splitlines()[-1])
    assert files_of(here) == before


def test_checking_says_the_same_faults_as_studying(here: Path, capsys: Said) -> None:
    spoil(here / "log" / "runs.csv")
    main(["study", "log"])
    studied = capsys.readouterr().err.splitlines()
    assert main(["check", "log"]) == 1
    checked = capsys.readouterr()
    assert checked.err.splitlines()[:-1] == studied[:-1]
    assert re.fullmatch(r"2 faults, \d+ warnings?\.", checked.err.splitlines()[-1])
    assert checked.out == ""


def test_a_log_without_faults_is_code_0_and_its_warnings_stop_nothing(here: Path, capsys: Said) -> None:
    assert main(["check", "log"]) == 0
    said = capsys.readouterr()
    warnings = said.err.splitlines()
    assert warnings
    assert all(": warning: " in line for line in warnings)
    counted = "1 warning" if len(warnings) == 1 else f"{len(warnings)} warnings"
    assert said.out == f"0 faults, {counted}.\n"


def test_answers_are_not_lost_under_warnings_alike_and_check_says_every_one(here: Path, capsys: Said) -> None:
    with (here / "log" / "runs.csv").open(newline="") as file:
        rows = list(csv.DictReader(file))
    slips = [row for row in rows if row["cause"] == "tooth-loss"]
    for row in slips:
        row["break_look"] = "straight-across"
    with (here / "log" / "runs.csv").open("w", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    said = {}
    for command in ("check", "meeting"):
        assert main([command, "log", *(("0",) if command == "meeting" else ())]) == 0
        said[command] = [line for line in capsys.readouterr().err.splitlines() if "break_look" in line]
    assert len(said["check"]) >= len(slips) > 3
    assert said["meeting"][:3] == said["check"][:3]
    more = len(said["check"]) - 3
    assert said["meeting"][3:] == [
        f"runs.csv:break_look: warning: {more} more like these; drivekit check says every one"
    ]


@pytest.mark.parametrize("command", ["check", "study"])
@pytest.mark.parametrize("log", ["nowhere", "empty", "notes.txt"])
def test_what_is_no_log_is_code_2_with_one_sentence(here: Path, command: str, log: str, capsys: Said) -> None:
    (here / "empty").mkdir()
    (here / "notes.txt").write_text("no log")
    before = files_of(here)
    assert main([command, log]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert len(said.err.splitlines()) == 1
    assert said.err.startswith("drivekit: ")
    assert log in said.err
    assert files_of(here) == before


def test_a_log_that_is_not_there_is_said_with_the_place_where_it_was_looked_for(here: Path, capsys: Said) -> None:
    assert main(["check", "../nowhere"]) == 2
    assert capsys.readouterr().err == f"drivekit: ../nowhere is not there: it was looked for at {here}/../nowhere.\n"


def test_a_run_is_added_said_and_taken_back(here: Path, capsys: Said) -> None:
    before = (here / "log" / "runs.csv").read_bytes()
    words = [
        "add",
        "log",
        "--set",
        "car=teal",
        "--set",
        "day=2025-10-15",
        "--set",
        "teeth_look=torn",
        "--set",
        "fate=kept",
    ]
    assert main(words) == 0
    said = capsys.readouterr()
    added, life, *rest = said.out.splitlines()
    assert re.fullmatch(
        r"Run 491 of belt B\d\d is added; what stood there before is \S+/log/runs.csv.before-\w{12}.", added
    )
    assert re.fullmatch(r"B\d\d has made \d+ runs?.", life)
    assert "OFF: a torn tooth" in rest[1]
    assert (here / "log" / "runs.csv").read_bytes().startswith(before)
    assert main(["add", "log", "--undo"]) == 0
    assert (here / "log" / "runs.csv").read_bytes() == before
    assert files_of(here / "log") == files_of(SEASON)
    assert main(["add", "log", "--undo"]) == 2
    assert "log is not as drivekit add left it, so no run can be taken back from it" in capsys.readouterr().err


REFUSED = {
    "a fault in the run": (1, ["--set", "fate=kep"], 'runs.csv:492:fault: "kep" is no fate; did you mean kept?'),
    "a heading unheard of": (
        2,
        ["--set", "fat=kept"],
        '"fat" is no heading of runs.csv that is read; did you mean fate',
    ),
    "no answers": (2, [], "drivekit: a run is asked for at a terminal; elsewhere --set says it."),
    "an earlier season that is none": (2, ["--set", "fate=kept", "--against", "log"], "holds the same runs"),
}


@pytest.mark.parametrize("why", REFUSED)
def test_a_run_that_is_refused_leaves_the_log_as_it_was(
    here: Path, why: str, capsys: Said, monkeypatch: pytest.MonkeyPatch
) -> None:
    code, words, sentence = REFUSED[why]
    monkeypatch.setattr("sys.stdin", io.StringIO())
    assert main(["add", "log", *words]) == code
    assert sentence in capsys.readouterr().err.replace(":fate: fault", ":fault")
    assert files_of(here / "log") == files_of(SEASON)
    assert (here / "log" / "runs.csv").read_bytes() == (SEASON / "runs.csv").read_bytes()


def test_a_log_with_faults_takes_no_run(here: Path, capsys: Said) -> None:
    spoil(here / "log" / "runs.csv")
    assert main(["add", "log", "--set", "fate=kept"]) == 1
    assert capsys.readouterr().err == (
        "log: fault: has 2 faults already, so nothing is added to it; mend what drivekit check says of it, then add "
        "the run\n1 fault, 0 warnings; nothing was written.\n"
    )


@pytest.mark.parametrize("ending", [KeyboardInterrupt, EOFError])
def test_questions_that_are_stopped_write_nothing(
    here: Path, ending: type[BaseException], capsys: Said, monkeypatch: pytest.MonkeyPatch
) -> None:
    answers = iter(["", "2025-10-15", "teal"])

    def typed(question: str) -> str:
        for answer in answers:
            return answer
        raise ending

    monkeypatch.setattr("builtins.input", typed)
    monkeypatch.setattr("sys.stdin", SimpleNamespace(isatty=lambda: True))
    assert main(["add", "log"]) == 130
    assert capsys.readouterr().err.splitlines()[-1] == "drivekit: stopped."
    assert files_of(here / "log") == files_of(SEASON)
    assert (here / "log" / "runs.csv").read_bytes() == (SEASON / "runs.csv").read_bytes()


def test_a_map_that_is_not_there_is_code_2(here: Path, capsys: Said) -> None:
    assert main(["study", "log", "--columns", "nowhere.toml"]) == 2
    assert "nowhere.toml is not there: drivekit check LOG --columns nowhere.toml drafts it." in capsys.readouterr().err


def test_a_map_that_is_not_there_is_drafted_by_check_and_read_once_confirmed(here: Path, capsys: Said) -> None:
    own_headings(here)
    (here / "map.toml").unlink()
    assert main(["check", "log", "--columns", "map.toml"]) == 0
    assert capsys.readouterr().out == (
        "map.toml is drafted with 1 line to confirm, and nothing was checked: take the # from a line that is right, "
        "correct one that is not, then run drivekit check log --columns map.toml again.\n"
    )
    draft = (here / "map.toml").read_text()
    assert main(["check", "log", "--columns", "map.toml"]) == 1
    assert "take the # from the lines of map.toml that are right" in capsys.readouterr().err
    (here / "map.toml").write_text(draft.replace('# "Umlenkrolle" = "idler"', '"Umlenkrolle" = "idler"'))
    assert main(["check", "log", "--columns", "map.toml"]) == 0
    assert "faults" in capsys.readouterr().out


@pytest.mark.parametrize("log", ["log", "nowhere"])
def test_a_map_that_cannot_be_drafted_is_code_2_and_leaves_nothing(here: Path, log: str, capsys: Said) -> None:
    before = files_of(here)
    assert main(["check", log, "--columns", "maps/own.toml"]) == 2
    assert "is not there" in capsys.readouterr().err
    assert files_of(here) == before


@pytest.mark.parametrize("out", ["log", "log/../log/", "again", "log/."])
def test_findings_are_refused_a_place_in_the_log_s_own_folder(here: Path, out: str, capsys: Said) -> None:
    (here / "again").symlink_to(here / "log")
    before = files_of(here)
    assert main(["study", "log", "--out", out]) == 2
    assert "is the log's own folder; name another one for the findings with --out" in capsys.readouterr().err
    assert files_of(here) == before


def test_findings_are_refused_a_place_beside_the_spreadsheet(here: Path, capsys: Said) -> None:
    (here / "book").mkdir()
    assert main(["new", "book/season.xlsx"]) == 0
    assert main(["study", "book/season.xlsx", "--out", "book"]) == 2
    assert "book is the log's own folder" in capsys.readouterr().err


@pytest.mark.usefixtures("undrawn")
def test_cuts_in_another_unit_than_the_log_are_refused_and_not_taken_as_newtons(
    here: Path, undrawn: None, capsys: Said
) -> None:
    assert main(["study", "log", "--tension-cuts", "1700,1900"]) == 2
    assert capsys.readouterr().err.endswith("write lbf after each if pounds are meant, as in 1700lbf,1900lbf.\n")
    assert not (here / "findings").exists()
    assert main(["study", "log", "--tension-cuts", "1700lbf,1900lbf"]) == 0
    assert findings()["settings"]["tension_cuts_n"] == [1700 * 4.4482216152605, 1900 * 4.4482216152605]


@pytest.mark.parametrize("out", ["long", "loop/in", "kept"])
def test_a_place_that_cannot_be_written_is_one_sentence_before_anything_is_computed(
    here: Path, out: str, capsys: Said, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("drivekit.study.findings.study", None)
    (here / "loop").symlink_to("loop")
    (here / "kept" / "findings.json").mkdir(parents=True)
    assert main(["study", "log", "--out", "x" * 300 if out == "long" else out]) == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert "cannot be written" in said
    assert "Traceback" not in said


LONG = "x" * 300


@pytest.mark.parametrize(
    "words",
    [
        f"check {LONG}",
        f"study {LONG}",
        f"study log --columns {LONG}",
        f"study log --against {LONG}",
        f"study log --since {LONG}",
        f"add log --columns {LONG}",
        f"meeting {LONG} A1 1 0",
        f"drive {LONG}",
        f"new blank --trial {LONG}",
        f"demo {LONG}",
        f"lab log --columns {LONG}",
        f"lab log --drive {LONG}",
    ],
    ids=lambda words: words.replace(LONG, "long"),
)
def test_a_path_that_no_file_can_have_is_one_sentence(here: Path, words: str, capsys: Said) -> None:
    assert main(words.split()) == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert said.endswith(f"{'written' if 'demo' in words else 'read'}: File name too long.\n")
    assert sorted(file.name for file in here.iterdir()) == ["log"]


def test_a_path_that_may_not_be_entered_is_one_sentence_wherever_it_is_met(
    here: Path, capsys: Said, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(EACCES, "Permission denied", str(here / "locked"))

    monkeypatch.setattr("drivekit.log.check_season", refuse)
    assert main(["check", "log"]) == 2
    assert capsys.readouterr().err == f"drivekit: {here / 'locked'} cannot be reached: Permission denied.\n"


def test_a_folder_that_is_gone_under_the_command_is_one_sentence(here: Path, capsys: Said) -> None:
    gone = here / "gone"
    gone.mkdir()
    os.chdir(gone)
    gone.rmdir()
    assert main(["check", "log"]) == 2
    said = capsys.readouterr().err
    assert said == (
        "drivekit: the folder it was started in is gone, or may not be entered; change into one that is there.\n"
    )


@pytest.mark.parametrize("out", ["taken", "taken/deeper"])
def test_a_file_where_the_findings_should_go_is_code_2_and_left_alone(here: Path, out: str, capsys: Said) -> None:
    (here / "taken").write_text("mine")
    assert main(["study", "log", "--out", out]) == 2
    said = capsys.readouterr()
    assert len(said.err.splitlines()) == 1
    assert (here / "taken").read_text() == "mine"


@pytest.mark.usefixtures("undrawn")
def test_a_mixed_folder_is_said_and_mended(here: Path, capsys: Said) -> None:
    main(["study", "log", "--out", "out"])
    (here / "out" / "findings.html").write_text("of another study")
    capsys.readouterr()
    assert main(["study", "log", "--out", "out"]) == 0
    said = capsys.readouterr().err
    assert "out: the findings here are mixed: a study was stopped while it wrote" in said
    assert "(findings.html); all of them are now written anew." in said
    assert standing(here / "out").kind == "whole"


def test_a_blank_log_and_invented_seasons_never_replace_anything(here: Path, capsys: Said) -> None:
    assert main(["new", "mine"]) == main(["demo", "data"]) == 0
    assert set(capsys.readouterr().out.splitlines()) == {
        *("mine/belts.csv", "mine/runs.csv", "mine/README.md", "mine/run-sheet.pdf", "mine/run-sheet-letter.pdf"),
        *("data/season-one", "data/season-two"),
    }
    before = {path: path.read_bytes() for path in here.rglob("*") if path.is_file()}
    assert main(["new", "mine"]) == main(["new", "log"]) == main(["demo", "data"]) == 2
    assert len(capsys.readouterr().err.splitlines()) == 3
    assert {path: path.read_bytes() for path in here.rglob("*") if path.is_file()} == before


def test_the_invented_seasons_are_those_of_the_project(here: Path, capsys: Said) -> None:
    assert main(["demo", "data"]) == 0
    for season in ("season-one", "season-two"):
        for name in files_of(TOP / "data" / season):
            assert (here / "data" / season / name).read_bytes() == (TOP / "data" / season / name).read_bytes()


@pytest.mark.parametrize("command", ["demo", "new", "check", "study", "meeting", "drive"])
def test_the_example_of_every_command_runs(here: Path, command: str, capsys: Said) -> None:
    shutil.copytree(TOP / "data" / "drives", here / "data" / "drives")
    for name in dict.fromkeys(("demo", command)):
        example = (parsers()[1][name].epilog or "").splitlines()[-1].split()
        assert example[:2] == ["drivekit", name]
        assert main(example[1:]) == 0


def test_our_own_error_is_code_3_with_one_sentence_and_then_its_traceback(
    here: Path, capsys: Said, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError("of our own")

    monkeypatch.setattr("drivekit.study.findings.study", broken)
    assert main(["study", "log"]) == 3
    said = capsys.readouterr().err.splitlines()
    assert said[:2] == [
        "drivekit: this is an error of drivekit's own; please report what follows.",
        "Traceback (most recent call last):",
    ]
    assert said[-1] == "ZeroDivisionError: of our own"
    assert not (here / "findings").exists()


def test_a_study_stopped_by_hand_says_so_and_shows_no_traceback(
    here: Path, capsys: Said, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stopped(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("drivekit.study.findings.study", stopped)
    assert main(["study", "log"]) == 130
    assert capsys.readouterr().err == "\ndrivekit: stopped.\n"
    assert not (here / "findings").exists()


def test_a_meeting_of_belts_whose_age_nobody_knows_is_said_and_not_planned(here: Path, capsys: Said) -> None:
    (here / "old").mkdir()
    (here / "old" / "belts.csv").write_text("belt,runs_before\nA,?\n")
    runs = "run,day,car,belt,idler,fate,cause\n1,2026-03-01,amber,A,smooth,kept,\n"
    (here / "old" / "runs.csv").write_text(runs)
    assert main(["meeting", "old", "0"]) == 0
    why = "no belt of known age has made a run"
    assert capsys.readouterr().out == f"Which belt goes on for which round cannot be told: {why}.\n"
    assert sorted(file.name for file in here.iterdir()) == ["log", "old"]


@pytest.mark.usefixtures("undrawn")
def test_workbooks_that_are_stopped_leave_no_folder_behind(
    here: Path, capsys: Said, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stopped(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("drivekit.notebooks.run_workbook", stopped)
    assert main(["study", "log", "--workbooks"]) == 130
    assert not (here / "findings").exists()


def test_a_reader_who_stops_reading_is_no_error(here: Path) -> None:
    command = [sys.executable, "-m", "drivekit", "check", "log"]
    read, write = os.pipe()
    os.close(read)
    with os.fdopen(write) as closed:
        ended = subprocess.run(command, stdout=closed, stderr=subprocess.PIPE, text=True, check=False)
    assert ended.returncode == 0
    assert "Traceback" not in ended.stderr
    assert "BrokenPipe" not in ended.stderr


def test_a_terminal_that_lacks_a_letter_shows_a_mark_in_its_place(here: Path) -> None:
    (here / "log").rename(here / "größe")
    ended = run("check", "größe/nowhere", env={**os.environ, "PYTHONIOENCODING": "ascii"}, cwd=here)
    assert ended.returncode == 2
    assert "Traceback" not in ended.stderr


@pytest.mark.usefixtures("undrawn")
def test_progress_is_shown_on_a_terminal_and_none_of_it_in_a_pipe(
    here: Path, capsys: Said, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert main(["study", "log"]) == 0
    assert "reading the log" not in capsys.readouterr().err

    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    terminal = Terminal()
    monkeypatch.setattr("sys.stderr", terminal)
    assert main(["study", "log"]) == 0
    shown = terminal.getvalue()
    steps = ("reading the log", "computing", "drawing", "writing")
    assert [shown.index(f"\r{step} ...") for step in steps] == sorted(shown.index(f"\r{step} ...") for step in steps)
    assert "\x1b" not in shown
    assert re.search(r"\r +\r(?!writing)", shown)


def test_the_command_runs_as_a_module_and_as_a_script() -> None:
    script = Path(sys.executable).with_name("drivekit")
    said = [
        run("--version").stdout,
        subprocess.run([script, "--version"], capture_output=True, text=True, check=True).stdout,
    ]
    assert said[0] == said[1] != ""


def test_the_lab_puts_every_copy_on_the_log_and_says_its_faults_first(here: Path, capsys: Said) -> None:
    assert parameters_of_the_lab(here, ["--columns", "map.toml"])[0] == 0
    for place in sorted((here / "drivekit-lab" / "workbooks").glob("*.ipynb")):
        cells = json.loads(place.read_text())["cells"]
        given = next("".join(cell["source"]) for cell in cells if "parameters" in cell["metadata"].get("tags", ()))
        assert given.startswith("log = '../../log'  #"), place.name
        assert "settings = {'columns': '../../map.toml'}" in given, place.name
        assert not any(cell.get("outputs") for cell in cells), place.name
    capsys.readouterr()
    assert parameters_of_the_lab(here, [])[0] == 1
    assert "Umlenkrolle" in capsys.readouterr().err
    assert main(["lab", "--columns", "map.toml"]) == 2
    assert capsys.readouterr().err.startswith("drivekit: --columns and --against are of a log; name the log too.")


SERVER = """
import os, sys, time
from pathlib import Path
Path("pid").write_text(str(os.getpid()))
Path("pid").rename("up")
time.sleep(120)
"""


@pytest.mark.skipif(os.name == "nt", reason="there no signal ends a process")
def test_a_lab_that_is_ended_from_outside_ends_its_server(tmp_path: Path) -> None:
    (tmp_path / "jupyterlab").mkdir()
    (tmp_path / "jupyterlab" / "__init__.py").touch()
    (tmp_path / "jupyterlab" / "__main__.py").write_text(SERVER)
    path = os.pathsep.join([str(tmp_path), str(TOP)])
    command = [sys.executable, "-m", "drivekit", "lab"]
    with subprocess.Popen(
        command, cwd=tmp_path, env={**os.environ, "PYTHONPATH": path}, stdout=subprocess.DEVNULL
    ) as lab:
        up = tmp_path / "drivekit-lab" / "up"
        while not up.exists():
            assert lab.poll() is None
            time.sleep(0.05)
        time.sleep(0.2)  # the lab, which has just started its server, is about to listen for its own end
        lab.terminate()
        assert lab.wait(20) == 2
    with pytest.raises(ProcessLookupError):
        os.kill(int(up.read_text()), 0)
