import hashlib
import json
import os

import pytest

from drivekit.faults import Unusable
from drivekit.log import check_season, read_season
from drivekit.log.reading import LARGEST_BYTES, source


def refusal(path) -> str:
    with pytest.raises(Unusable) as refused:
        check_season(path)
    return str(refused.value)


def test_a_path_that_is_not_there_is_refused(tmp_path) -> None:
    assert refusal(tmp_path / "none") == f"{tmp_path / 'none'} is not there."
    assert refusal(tmp_path / ("x" * 300)).endswith("cannot be read: File name too long.")


def test_a_folder_without_its_files_is_refused(tmp_path) -> None:
    tail = ": a season log is a folder with belts.csv and runs.csv, or one .xlsx file."
    assert refusal(tmp_path) == f"{tmp_path} holds no belts.csv{tail}"
    (tmp_path / "belts.csv").write_text("belt\nA1\n")
    assert refusal(tmp_path) == f"{tmp_path} holds no runs.csv{tail}"
    (tmp_path / "Runs.CSV").write_text("run\n1\n")
    assert refusal(tmp_path) == f"{tmp_path} holds no runs.csv (it has Runs.CSV: rename it){tail}"


def test_another_file_is_refused(log) -> None:
    place = log()
    assert refusal(place / "runs.csv") == (
        "runs.csv is no season log: name a folder that holds belts.csv and runs.csv, or one .xlsx file."
    )


def test_a_folder_in_a_file_s_place_is_refused(log) -> None:
    place = log()
    (place / "runs.csv").unlink()
    (place / "runs.csv").mkdir()
    assert refusal(place) == f"{place / 'runs.csv'} is a folder where a file should stand."


def test_what_is_no_ordinary_file_is_refused(log) -> None:
    place = log()
    (place / "runs.csv").unlink()
    os.mkfifo(place / "runs.csv")
    assert refusal(place) == f"{place / 'runs.csv'} is no ordinary file."


def test_an_empty_file_is_refused(log) -> None:
    assert refusal(log(runs="")) == "runs.csv is empty: its first line must name the columns."
    assert refusal(log(belts="\n \n", name="b")) == "belts.csv is empty: its first line must name the columns."
    assert refusal(log(belts="\ufeff", name="c")) == "belts.csv is empty: its first line must name the columns."


def test_a_binary_file_is_refused_with_the_byte_and_line(log) -> None:
    assert refusal(log(runs=b"run,day\n1,\x00\n")) == "runs.csv is no text file: byte 11 (line 2) is zero."
    assert refusal(log(runs=b"run,note\n1,h\xe9 \n", name="b")) == (
        "runs.csv is no UTF-8 text: byte 13 (line 2) is E9; save it as UTF-8."
    )
    assert refusal(log(runs="run,day\n".encode("utf-16"), name="c")) == "runs.csv is saved as UTF-16: save it as UTF-8."


def test_a_file_too_large_is_refused_before_it_is_read(log) -> None:
    place = log()
    with (place / "runs.csv").open("r+b") as file:
        file.truncate(2_000_000_000)  # a hole: it takes no room on the disk
    assert refusal(place) == "runs.csv has 2,000 MB: a season log has at most 200 MB."
    assert LARGEST_BYTES == 200_000_000


def test_the_digest_is_of_belts_then_runs(log) -> None:
    place = log()
    both = (place / "belts.csv").read_bytes() + (place / "runs.csv").read_bytes()
    assert read_season(place).sha256 == hashlib.sha256(both).hexdigest()


def test_a_log_is_invented_only_when_the_description_beside_it_says_so(log) -> None:
    place = log()
    assert not source(place).invented
    for content, invented in (({"invented": True}, True), ({"invented": "yes"}, False), ([], False)):
        (place / "datapackage.json").write_text(json.dumps(content))
        assert read_season(place).invented is invented
    (place / "datapackage.json").write_text("{")
    assert [str(fault) for fault in read_season(place).warnings][1:] == [
        (
            "datapackage.json: warning: cannot be read, so whether the log is invented is not known; "
            "mend it or take it away"
        )
    ]


def test_a_log_is_called_by_its_folder_even_from_within(log, monkeypatch) -> None:
    monkeypatch.chdir(log())
    assert read_season(".").name == "season"
