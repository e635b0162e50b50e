"""A run added to a log from answers: asked again where one has a fault, written whole or not at all, and taken back."""

from __future__ import annotations

import builtins
import hashlib
import os
import random
import shutil
import signal
import stat
import subprocess
import sys
import time
from collections.abc import Callable
from contextlib import redirect_stderr
from io import StringIO
from pathlib import Path
from typing import Any

import pytest

from drivekit.cautions import CAUTIONS
from drivekit.faults import Faulty, Unusable
from drivekit.lab.adding import add, after, undo
from drivekit.log import CAUSES, check_season, read_season
from drivekit.log.added import open_log
from drivekit.terminal import asked_for

TOP = Path(__file__).parents[2]
BELTS = "belt,width_mm,first_day\nA1,75,2032-03-01\nA2,75,2032-03-01\n"
RUNS = (
    "run,day,car,belt,idler,tension_n,teeth_look,fate,cause,note\n"
    "1,2032-03-01,red,A1,smooth,8000,good,kept,,\n2,2032-03-01,blue,A2,toothed,7000,good,kept,,\n"
)
Season = Callable[..., Path]


@pytest.fixture
def log(written: Season) -> Path:
    return written(BELTS, RUNS)


def answered(log: Path, *answers: str) -> tuple[Any, list[str], list[str]]:
    """Answer what is asked, one after the other; the run and its belt, what was asked, and what was said."""
    asked: list[str] = []
    left = iter(answers)

    def ask(question: str) -> str:
        asked.append(question)
        return next(left)

    with redirect_stderr(StringIO()) as said:
        run = asked_for(open_log(log), ask)
    assert next(left, None) is None
    return run, asked, said.getvalue().splitlines()


def held(log: Path) -> dict[str, bytes]:
    return {place.name: place.read_bytes() for place in sorted(log.iterdir())}


def test_enter_takes_what_is_offered_and_a_dash_leaves_it_blank(log: Path) -> None:
    (run, belt), asked, said = answered(log, "", "2032-03-02", "red", "", "", "-", "", "kept", "")
    assert belt is None
    assert said == []
    expected = {"run": "3", "day": "2032-03-02", "car": "red", "belt": "A1", "idler": "smooth", "tension_n": ""}
    assert run == expected | {"teeth_look": "", "fate": "kept", "note": ""}
    assert asked[2:6] == [
        "Car (red, blue) [blue]: ",
        "Belt (A1, A2) [A1]: ",
        "Idler (smooth, toothed) [smooth]: ",
        "Tension, cold, one span, N [8000]: ",
    ]


def test_a_bad_answer_is_told_in_a_sentence_and_asked_again(log: Path) -> None:
    answers = ("2", "3", "2032-02-30", "2032-03-02", "red", "", "tothed", "toothed", "8000000", "8100", "", "broke", "")
    (run, _), asked, said = answered(log, *answers, "tooth-jump", "")
    assert [said_.strip() for said_ in said] == [
        '"2" is the number of the run on line 3 too; each run has a number of its own.',
        '"2032-02-30" is no day of the calendar; write year-month-day, such as 2026-03-07.',
        '"tothed" is no idler; did you mean toothed? (smooth, toothed).',
        '"8000000" is impossible; 50 to 50000 N is possible.',
        f"blank, though the belt broke; one of {', '.join(CAUSES)}.",
    ]
    assert [asked[place] == asked[place + 1] for place in (0, 2, 6, 8, 12)] == [True] * 5
    assert (run["idler"], run["tension_n"], run["cause"]) == ("toothed", "8100", "tooth-jump")


def test_what_is_unlikely_is_said_once_and_taken(log: Path) -> None:
    (run, _), _, said = answered(log, "", "2032-03-02", "blue", "A1", "", "", "", "kept", "")
    assert (run["car"], run["belt"]) == ("blue", "A1")
    assert [said_.strip() for said_ in said] == [
        'Unlikely: "blue" is another car than belt A1 last ran on: red (line 2); correct it if the belt did not move.'
    ]


def test_a_new_belt_is_given_on_the_way_and_a_slip_of_its_name_is_not(log: Path) -> None:
    answers = ("", "2032-03-02", "red", "A7", "no", "A3", "yes", "wide", "80", "", "", "", "", "kept", "")
    (run, belt), asked, said = answered(log, *answers)
    assert run["belt"] == "A3"
    assert belt == {"width_mm": "80", "first_day": "2032-03-02"}
    assert asked[4] == "Is A7 a new belt? (yes, no) "
    assert [said_.strip() for said_ in said] == [
        '"wide" is no number; write a number, such as 75, or leave the cell blank.'
    ]
    kept = add(open_log(log), run, belt)
    assert sorted(place.name.split(".before-")[0] for place in kept) == ["belts.csv", "runs.csv"]
    assert read_season(log).belts["belt"].tolist() == ["A1", "A2", "A3"]
    undo(log)
    assert held(log) == {"belts.csv": BELTS.encode(), "runs.csv": RUNS.encode()}


def run_of(log: Path, **answers: str) -> dict[str, str]:
    return open_log(log).named({"day": "2032-03-02", "fate": "kept"} | answers)[0]


def test_what_stood_there_is_kept_beside_and_taken_back_once(log: Path) -> None:
    (log / "runs.csv").chmod(0o640)
    (copy,) = add(open_log(log), run_of(log))
    assert copy.read_bytes() == RUNS.encode()
    assert stat.S_IMODE((log / "runs.csv").stat().st_mode) == 0o640
    assert len(read_season(log).runs) == 3
    (second,) = add(open_log(log), run_of(log))
    assert not copy.exists()  # one copy is kept, of the log before the last run
    assert undo(log) == "The run that was added last is taken back: other has 3 runs again."
    assert not second.exists()
    with pytest.raises(Unusable, match="is not as drivekit add left it"):
        undo(log)


def test_a_log_that_was_changed_since_is_not_taken_back(log: Path) -> None:
    add(open_log(log), run_of(log))
    with (log / "runs.csv").open("a") as file:
        file.write("9,2032-03-03,red,A1,smooth,8000,good,kept,,\n")
    before = held(log)
    with pytest.raises(Unusable, match="is not as drivekit add left it"):
        undo(log)
    assert held(log) == before


def test_a_run_with_a_fault_or_a_log_open_elsewhere_changes_nothing(log: Path) -> None:
    before = held(log)
    with pytest.raises(Faulty, match="did you mean toothed"):
        add(open_log(log), run_of(log, idler="tothed"))
    (log / ".~lock.runs.csv#").touch()
    with pytest.raises(Unusable, match=r"runs\.csv is open in a spreadsheet program"):
        add(open_log(log), run_of(log))
    (log / ".~lock.runs.csv#").unlink()
    assert held(log) == before


# ---- killed


class Killed(BaseException):
    """The moment after which nothing more is done."""


def killed_at(step: int, patch: pytest.MonkeyPatch) -> Callable[[], int]:
    """Let a writer die before its call of this number that touches the disk: from then on none does anything."""
    made = 0

    def dying(call: Callable[..., Any]) -> Callable[..., Any]:
        def called(*given: Any, **named: Any) -> Any:
            nonlocal made
            made += 1
            if made >= step:
                raise Killed
            return call(*given, **named)

        return called

    patch.setattr("drivekit.folder.open", dying(builtins.open), raising=False)
    patch.setattr("drivekit.folder.copymode", dying(shutil.copymode))
    patch.setattr(os, "fsync", dying(os.fsync))
    patch.setattr(os, "replace", dying(os.replace))
    patch.setattr(Path, "unlink", dying(Path.unlink))
    return lambda: made


@pytest.mark.parametrize("new_belt", [False, True])
def test_killed_before_any_call_that_writes_the_log_is_read_as_the_old_one_or_the_new(
    written: Season, tmp_path: Path, new_belt: bool
) -> None:
    log = written(BELTS, RUNS)
    cells = {"day": "2032-03-02", "fate": "kept"} | ({"belt": "A3", "belts.belt": "A3"} if new_belt else {})
    run, belt = open_log(log).named(cells)
    changed = open_log(log).files(run, belt)
    old, before = held(log), read_season(log).sha256
    step, whole, cut_short = 1, [], 0
    while True:
        home = tmp_path / f"at {step}"
        shutil.copytree(log, home)
        with pytest.MonkeyPatch.context() as patch:
            opened, calls = open_log(home), killed_at(step, patch)
            try:
                add(opened, run, belt)
            except Killed:
                pass
            else:
                assert calls() < step
                break
        now = held(home)
        whole.append(read_season(home).sha256 != before)
        if whole[-1]:
            assert {name: now[name] for name in changed} == changed
            undo(home)
            assert {name: held(home)[name] for name in old} == old
        else:  # the old log to whoever reads it, and in the files once the next run is added
            assert (len(read_season(home).belts), len(read_season(home).runs)) == (2, 2)
            cut_short += now["belts.csv"] != old["belts.csv"]
            assert len(check_season(home)) == (now["belts.csv"] != old["belts.csv"])
            add(open_log(home), *open_log(home).named({"day": "2032-03-02", "fate": "kept"}))
            assert held(home)["belts.csv"] == old["belts.csv"]
            assert not check_season(home)
        step += 1
    assert step > 7
    assert whole == sorted(whole)  # once it is the new one, it stays
    assert bool(cut_short) == new_belt


CHILD = """
import os, sys, time
from contextlib import suppress
from drivekit.faults import Unusable
from drivekit.lab.adding import add, undo
from drivekit.log.added import open_log
from drivekit.terminal import asked_for

for _ in sys.stdin:
    child = os.fork()
    if not child:
        began = time.monotonic()
        while True:
            with suppress(Unusable):
                undo(sys.argv[1])
            log = open_log(sys.argv[1])
            add(log, *log.named(dict(cell.split("=") for cell in sys.argv[2:])))
            if began:
                print(os.getpid(), time.monotonic() - began, flush=True)  # and how long a round takes it
                began = None
    os.waitpid(child, 0)
    print("ended", flush=True)
"""


@pytest.mark.parametrize("cells", [(), ("belt=A3", "belts.belt=A3")], ids=["a run", "a run with a new belt"])
@pytest.mark.skipif(not hasattr(os, "fork"), reason="this system forks no process")
def test_killed_at_50_moments_the_log_is_the_old_one_or_the_new(log: Path, cells: tuple[str, ...]) -> None:
    cells = ("day=2032-03-02", "fate=kept", *cells)
    answers = open_log(log).named(dict(cell.split("=") for cell in cells))
    new = held(log) | open_log(log).files(*answers)
    states = {hashlib.sha256(files["belts.csv"] + files["runs.csv"]).hexdigest(): 0 for files in (held(log), new)}
    draw = random.Random(7)
    environment = os.environ | {"PYTHONPATH": str(TOP)}
    command = [sys.executable, "-c", CHILD, str(log), *cells]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, env=environment) as parent:
        assert parent.stdin is not None
        assert parent.stdout is not None
        for _ in range(50):
            parent.stdin.write("\n")
            parent.stdin.flush()
            child, round_s = parent.stdout.readline().split()
            time.sleep(draw.uniform(0.0, 3 * float(round_s)))
            os.kill(int(child), signal.SIGKILL)
            assert parent.stdout.readline() == "ended\n"
            states[read_season(log).sha256] += 1  # another state is none of the two: KeyError
            assert not [fault for fault in check_season(log) if not fault.warning]
        parent.stdin.close()
    assert min(states.values()) > 0


# ---- fast eyes


def test_after_a_run_the_belt_s_life_its_odds_the_watch_and_the_cautions_are_said(folder: Path, tmp_path: Path) -> None:
    log = tmp_path / "small"
    shutil.copytree(folder, log)
    asked = open_log(log)
    runs = read_season(log).runs
    last = runs.groupby("belt").last()
    belt = last.index[last["fate"] == "kept"][0]
    made = int((runs["belt"] == belt).sum())
    run, _ = asked.named({"day": "2032-12-01", "car": last.loc[belt, "car"], "belt": belt, "fate": "kept"})
    add(asked, run)
    said = after(log, belt)
    assert said[0] == f"{belt} has made {made + 1} runs."
    assert said[2].startswith(f"{belt} ({last.loc[belt, 'car']}, {made + 1} runs, ")
    assert set(CAUTIONS) < set(said)


def test_a_belt_whose_look_says_off_shows_off_and_no_odds(log: Path) -> None:
    add(open_log(log), run_of(log, belt="A1", teeth_look="torn"))
    said = after(log, "A1")
    assert said[0] == "A1 has made 2 runs."
    assert said[2] == "A1 (blue, 2 runs, toothed): OFF: a torn tooth."


def test_a_belt_that_ended_or_whose_age_is_not_known_is_given_no_odds(log: Path, tmp_path: Path) -> None:
    add(open_log(log), run_of(log, car="red", belt="A1", fate="broke", cause="tooth-jump"))
    assert after(log, "A1")[:2] == ("A1 has made 2 runs; it broke on the last one: tooth-jump.", CAUTIONS[0])
    unknown = tmp_path / "unknown"
    unknown.mkdir()
    (unknown / "belts.csv").write_text("belt,runs_before\nA1,?\n")
    (unknown / "runs.csv").write_text("run,day,car,belt,idler,fate\n1,2032-03-01,red,A1,smooth,kept\n")
    said = after(unknown, "A1")
    assert said[0] == "A1 has made 1 run in this log, and nobody knows how many before: it is given no odds."
    assert set(said[1:]) == set(CAUTIONS)


def test_the_watch_is_kept_where_an_earlier_season_is_given() -> None:
    said = after(TOP / "data/season-two", "B66", None, TOP / "data/season-one")
    assert said[0] == "B66 has made 9 runs."
    assert said[3].startswith("47 belts failed where season-one leads to expect ")
