"""The blank drive file: every key is in it with how to measure it, and filled in it is a drive."""

from __future__ import annotations

import json
import re
import tomllib
from pathlib import Path

import pytest

from drivekit.drive.blank_drive import HOW, blank_drive
from drivekit.drive.drive_file import read_drive
from drivekit.drive.key_checks import SECTIONS, keys_in
from drivekit.drive.set_up import set_up
from drivekit.faults import Faulty

TOOTHED = Path(__file__).parents[2] / "data" / "drives" / "toothed-inside.toml"


def test_every_key_of_every_section_stands_in_the_blank_file_once_with_its_meaning() -> None:
    parts = re.split(r"(?m)^(?:# )?\[\[?(\w+)\]\]?$", blank_drive())
    by_name = dict(zip(parts[1::2], parts[2::2], strict=True))
    assert list(by_name) == [section.name for section in SECTIONS]
    for section in SECTIONS:
        written = re.findall(r"(?m)^# (\w+) =    # (.*)$", by_name[section.name])
        assert [name for name, _ in written] == [key.name for key in keys_in(section)]
        for key, (_, said) in zip(keys_in(section), written, strict=True):
            assert said.startswith(key.meaning)
            assert all(level in said for level in key.levels)
            assert ("may be left out" in said) is not key.required


def test_every_way_to_measure_belongs_to_a_key() -> None:
    assert HOW.keys() <= {key.name for section in SECTIONS for key in keys_in(section)}


def test_the_blank_file_is_read_and_lists_what_is_missing(tmp_path: Path) -> None:
    place = tmp_path / "mine.toml"
    place.write_text(blank_drive())
    with pytest.raises(Faulty) as faulty:
        read_drive(place)
    said = "\n".join(map(str, faulty.value.faults))
    assert "pitch_mm: fault: is missing" in said
    assert "crank_rpm: fault: is missing" in said


def test_a_blank_file_filled_with_an_example_s_values_is_that_drive(tmp_path: Path) -> None:
    values = tomllib.loads(TOOTHED.read_text())

    def filled(name: str, table: dict[str, object], part: str) -> str:
        lines = [f"[{name}]" if isinstance(values[name], dict) else f"[[{name}]]"]
        for key, value in table.items():
            shown = json.dumps(value)
            stem = next((own for own in re.findall(r"(?m)^# (\w+) =", part) if own == key), None)
            assert stem or f"or {key}" in part or f" {key}" in part, f"{key} is nowhere in {name}"
            lines.append(f"{key} = {shown}")
        return "\n".join(lines)

    parts = re.split(r"(?m)^(?:# )?\[\[?(\w+)\]\]?$", blank_drive())
    text = []
    for name, part in zip(parts[1::2], parts[2::2], strict=True):
        tables = values.get(name, [])
        text += [filled(name, table, part) for table in (tables if isinstance(tables, list) else [tables])]
    place = tmp_path / "mine.toml"
    place.write_text("\n".join(text))
    assert str(set_up(read_drive(place))) == str(set_up(read_drive(TOOTHED)))
