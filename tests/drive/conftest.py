"""What the tests of the drive share: the invented drives, and the stored check values."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from drivekit.drive.drive_file import read_drive
from drivekit.drive.layout import Layout

ROOT = Path(__file__).parents[2]
DRIVES = ROOT / "data" / "drives"


@pytest.fixture(params=["toothed-inside", "smooth-inside", "idler-outside", "worked-example"])
def drive(request: pytest.FixtureRequest) -> Layout:
    return read_drive(DRIVES / f"{request.param}.toml")


@pytest.fixture
def toothed() -> Layout:
    return read_drive(DRIVES / "toothed-inside.toml")


@pytest.fixture
def smooth() -> Layout:
    return read_drive(DRIVES / "smooth-inside.toml")


@pytest.fixture
def outside() -> Layout:
    return read_drive(DRIVES / "idler-outside.toml")


@pytest.fixture
def worked() -> Layout:
    return read_drive(DRIVES / "worked-example.toml")


@pytest.fixture(scope="session")
def mechanics() -> dict[str, Any]:
    return json.loads((ROOT / "tests" / "reference" / "drive" / "mechanics.json").read_text(encoding="utf-8"))
