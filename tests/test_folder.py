"""The folder of findings: whole at once, the log of hashes last, a mixed set told apart, other files left alone."""

from __future__ import annotations

import json
import os
import random
import signal
import subprocess
import sys
import time
from hashlib import sha256
from pathlib import Path

import pytest

from drivekit.folder import FINDINGS, NOTICE, _findings_text, standing, try_folder, write_files, write_folder

FINDINGS_DATA = {"schema": "test", "provenance": {"python": "3", "files": {}}}


def a_set(word: str, size: int = 1) -> dict[str, bytes]:
    """Four files that all say the same word."""
    names = ("findings.html", "figures/idler.svg", "figures/idler.png", "workbooks/00.ipynb")
    return {name: f"{word} {name}".encode() * size for name in names}


def contents(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_a_folder_without_findings_is_absent(tmp_path: Path) -> None:
    assert standing(tmp_path).kind == "absent"
    assert standing(tmp_path / "nowhere").kind == "absent"


def test_the_json_names_every_other_file_with_its_hash(tmp_path: Path) -> None:
    files = a_set("old")
    assert write_folder(tmp_path / "out", FINDINGS_DATA, files) == ()
    written = contents(tmp_path / "out")
    assert written.keys() == {*files, FINDINGS}
    assert {name: written[name] for name in files} == files
    named = json.loads(written[FINDINGS])["provenance"]
    assert named == {"python": "3", "files": {name: sha256(content).hexdigest() for name, content in files.items()}}
    assert standing(tmp_path / "out").kind == "whole"
    assert FINDINGS_DATA["provenance"] == {"python": "3", "files": {}}


def test_the_json_is_renamed_last(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    order: list[str] = []
    rename = os.replace

    def recorded(source: Path, target: Path) -> None:
        order.append(target.name)
        assert all(path.exists() for path in (source, tmp_path / NOTICE))
        rename(source, target)

    monkeypatch.setattr("drivekit.folder.os.replace", recorded)
    write_folder(tmp_path, FINDINGS_DATA, a_set("old"))
    assert len(order) == 5
    assert order[-1] == FINDINGS


def test_only_files_that_the_study_names_are_replaced(tmp_path: Path) -> None:
    (tmp_path / "figures").mkdir()
    (tmp_path / "figures" / "mine.svg").write_text("mine")
    (tmp_path / "notes.txt").write_text("mine too")
    write_folder(tmp_path, FINDINGS_DATA, a_set("old"))
    write_folder(tmp_path, FINDINGS_DATA, a_set("new"))
    assert (tmp_path / "figures" / "mine.svg").read_text() == "mine"
    assert (tmp_path / "notes.txt").read_text() == "mine too"
    assert standing(tmp_path).kind == "whole"


def test_a_figure_of_an_earlier_study_that_this_one_does_not_draw_is_left_and_said(tmp_path: Path) -> None:
    old = a_set("old")
    write_folder(tmp_path, FINDINGS_DATA, old)
    fewer = {name: content for name, content in a_set("new").items() if name != "figures/idler.png"}
    assert write_folder(tmp_path, FINDINGS_DATA, fewer) == ("figures/idler.png",)
    assert (tmp_path / "figures/idler.png").read_bytes() == old["figures/idler.png"]
    assert standing(tmp_path).kind == "whole"


@pytest.mark.parametrize("name", [*a_set("old"), FINDINGS])
def test_a_file_of_another_study_makes_the_folder_mixed(tmp_path: Path, name: str) -> None:
    write_folder(tmp_path, FINDINGS_DATA, a_set("old"))
    other = {**a_set("new"), FINDINGS: _findings_text(FINDINGS_DATA, a_set("new")).encode()}
    (tmp_path / name).write_bytes(other[name])
    found = standing(tmp_path)
    assert found.kind == "mixed"
    assert str(found).startswith("the findings here are mixed: a study was stopped while it wrote")
    assert name in found.strange or name == FINDINGS


def test_a_missing_file_makes_the_folder_mixed(tmp_path: Path) -> None:
    write_folder(tmp_path, FINDINGS_DATA, a_set("old"))
    (tmp_path / "findings.html").unlink()
    assert standing(tmp_path).strange == ("findings.html",)


@pytest.mark.parametrize("broken", ["", "{", "[]", '{"provenance": 3}', '{"provenance": {"files": 4}}'])
def test_a_json_that_is_none_makes_the_folder_mixed(tmp_path: Path, broken: str) -> None:
    write_folder(tmp_path, FINDINGS_DATA, a_set("old"))
    (tmp_path / FINDINGS).write_text(broken)
    assert standing(tmp_path).kind == "mixed"


def test_a_study_stopped_at_any_rename_leaves_a_folder_that_says_so_and_the_next_one_mends_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    rename = os.replace
    for stop in range(5):
        folder = tmp_path / str(stop)
        write_folder(folder, FINDINGS_DATA, a_set("old"))
        done: list[str] = []

        def stopping(source: Path, target: Path, done: list[str] = done, stop: int = stop) -> None:
            if len(done) == stop:
                raise KeyboardInterrupt
            done.append(target.name)
            rename(source, target)

        with monkeypatch.context() as patched:
            patched.setattr("drivekit.folder.os.replace", stopping)
            with pytest.raises(KeyboardInterrupt):
                write_folder(folder, FINDINGS_DATA, a_set("new"))
        assert standing(folder).kind == ("mixed" if stop else "whole")
        assert "Run the study again" in (folder / NOTICE).read_text()
        write_folder(folder, FINDINGS_DATA, a_set("new"))
        assert contents(folder).keys() == {*a_set("new"), FINDINGS}
        assert standing(folder).kind == "whole"


def test_a_first_study_stopped_before_its_json_is_told_from_a_folder_never_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stopping(source: Path, target: Path) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("drivekit.folder.os.replace", stopping)
    with pytest.raises(KeyboardInterrupt):
        write_folder(tmp_path, FINDINGS_DATA, a_set("old"))
    assert standing(tmp_path).kind == "mixed"


def test_a_folder_that_cannot_be_written_is_left_as_it_was(tmp_path: Path) -> None:
    write_folder(tmp_path, FINDINGS_DATA, a_set("old"))
    before = contents(tmp_path)
    with pytest.raises(OSError, match=r"findings\.html"):
        write_folder(tmp_path, FINDINGS_DATA, {**a_set("new"), "findings.html/deeper.svg": b""})
    assert contents(tmp_path) == before


def test_a_file_that_cannot_be_written_is_named_as_it_was_asked_for(tmp_path: Path) -> None:
    (tmp_path / ".map.toml.drivekit-new").mkdir()
    with pytest.raises(IsADirectoryError) as refused:
        write_files(tmp_path, {"map.toml": b""})
    assert refused.value.filename == str(tmp_path / "map.toml")


def test_a_number_that_is_not_finite_never_reaches_the_json() -> None:
    with pytest.raises(ValueError, match="JSON"):
        _findings_text({"a": float("nan"), "provenance": {}}, {})


WRITER = """
import sys
from pathlib import Path
from drivekit.folder import write_folder
for turn in range(10_000):
    files = {name: f"turn {turn} {name}".encode() * 2_000 for name in sys.argv[2:]}
    write_folder(Path(sys.argv[1]), {"provenance": {}}, files)
    print(turn, flush=True)
"""


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="no SIGKILL there")
def test_killed_at_fifty_random_moments_the_folder_holds_one_study_or_says_that_it_is_mixed(tmp_path: Path) -> None:
    moments = random.Random(20260311)
    seen = {"whole": 0, "mixed": 0}
    for number in range(50):
        folder = tmp_path / str(number)
        command = [sys.executable, "-c", WRITER, str(folder), *a_set("")]
        with subprocess.Popen(command, stdout=subprocess.PIPE) as writer:
            assert writer.stdout is not None
            assert writer.stdout.readline() == b"0\n"
            time.sleep(moments.uniform(0, 0.03))
            writer.send_signal(signal.SIGKILL)
        found = standing(folder)
        seen[found.kind] += 1
        files = {name: content for name, content in contents(folder).items() if name in a_set("")}
        hashes = json.loads((folder / FINDINGS).read_text())["provenance"]["files"]
        one_study = hashes == {name: sha256(content).hexdigest() for name, content in files.items()}
        assert found.kind == ("whole" if one_study else "mixed")
        assert one_study or (folder / NOTICE).exists()
        for content in files.values():
            assert len(set(content.split(b"turn")[1:])) == 1  # every file is whole, whatever its neighbours are
    assert sum(seen.values()) == 50
    assert seen["whole"]


BESIDE = """
import sys
from pathlib import Path
from drivekit.folder import write_folder
names = ("findings.html", *(f"figures/{number}.svg" for number in range(40)))
for _ in range(5):
    files = {name: f"{sys.argv[2]} {name}".encode() * 2000 for name in names}
    write_folder(Path(sys.argv[1]), {"provenance": {"files": {}}}, files)
"""


@pytest.mark.skipif(os.name == "nt", reason="there a folder cannot be held")
def test_two_studies_into_one_folder_at_once_leave_one_whole_set(tmp_path: Path) -> None:
    both = [subprocess.Popen([sys.executable, "-c", BESIDE, str(tmp_path), word]) for word in ("one", "other")]
    assert [process.wait() for process in both] == [0, 0]
    assert standing(tmp_path).kind == "whole"
    assert not (tmp_path / NOTICE).exists()
    assert len({path.read_bytes().split()[0] for path in (tmp_path / "figures").iterdir()}) == 1


TRYING = """
import sys
from pathlib import Path
from drivekit.folder import try_folder
for number in range(300):
    try_folder(Path(sys.argv[1]) / str(number % 30) / "deep")
"""
WRITING = """
import sys
from pathlib import Path
from drivekit.folder import write_folder
for number in range(30):
    write_folder(Path(sys.argv[1]) / str(number) / "deep", {"provenance": {"files": {}}}, {"a/b.svg": b"a"})
"""


@pytest.mark.skipif(os.name == "nt", reason="there a folder cannot be held")
def test_a_folder_that_one_study_tries_is_not_taken_from_another_that_writes(tmp_path: Path) -> None:
    for place in range(30):
        (tmp_path / str(place)).mkdir()
    both = [subprocess.Popen([sys.executable, "-c", code, str(tmp_path)]) for code in (TRYING, TRYING, WRITING)]
    assert [process.wait() for process in both] == [0, 0, 0]
    assert {standing(tmp_path / str(number) / "deep").kind for number in range(30)} == {"whole"}


def test_a_folder_that_was_tried_is_as_it_was(tmp_path: Path) -> None:
    try_folder(tmp_path / "new" / "deep")
    assert list(tmp_path.iterdir()) == []
    (tmp_path / "old").mkdir()
    try_folder(tmp_path / "old")
    assert list((tmp_path / "old").iterdir()) == []
    staged = tmp_path / "old" / f".{FINDINGS}.drivekit-new"
    staged.write_text("of another study that is writing now")
    try_folder(tmp_path / "old")
    assert staged.read_text() == "of another study that is writing now"


def test_a_folder_in_place_of_the_json_is_refused_and_so_is_one_nested_without_end(tmp_path: Path) -> None:
    (tmp_path / FINDINGS).write_text("[" * 100_000)
    with pytest.raises(OSError, match="nested deeper than any study writes: move it away"):
        try_folder(tmp_path)
    assert (tmp_path / FINDINGS).read_text() == "[" * 100_000
    (tmp_path / FINDINGS).unlink()
    (tmp_path / FINDINGS).mkdir()
    with pytest.raises(IsADirectoryError, match="a folder stands where a file is to be written"):
        try_folder(tmp_path)
