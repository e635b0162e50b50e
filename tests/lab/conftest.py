"""A season small enough to study in a blink, and how a test turns a control."""

from __future__ import annotations

import random
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from drivekit.lab.season_study import Study, study

Season = Callable[..., Path]


def rows() -> list[list[Any]]:
    """Draw a season of two cars: toothed idlers last longer, some belts change theirs, some tensions are blank."""
    draw = random.Random(3)
    made, number = [], 0
    for place in range(48):
        idler, car = draw.choice(("smooth", "toothed")), draw.choice(("red", "blue"))
        lube = draw.choice(("none", "install", "every-run"))
        for age in range(1, 12):
            number += 1
            if age > 2 and draw.random() < 0.05:
                idler = "smooth" if idler == "toothed" else "toothed"
            broke = draw.random() < 0.045 * age * (0.5 if idler == "toothed" else 1)
            sold = not broke and draw.random() < 0.04
            tension = "" if draw.random() < 0.05 else draw.randrange(6000, 11000, 10)
            fate, cause = ("broke", draw.choice(("tooth-jump", "edge-split"))) if broke else ("kept", "")
            fate, cause = ("retired", draw.choice(("sold", "precaution"))) if sold else (fate, cause)
            day = f"2032-{3 + number // 60:02d}-{1 + number % 60 // 3:02d}"
            made.append([number, day, car, f"belt {place}", idler, "single", tension, lube, fate, cause])
            if broke or sold:
                break
    return made


HEADINGS = ("run", "day", "car", "belt", "idler", "idler_support", "tension_n", "edge_lube", "fate", "cause")


@pytest.fixture(scope="session")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = rows()
    home = tmp_path_factory.mktemp("log") / "small"
    home.mkdir()
    belts = dict.fromkeys(row[3] for row in made)
    (home / "belts.csv").write_text("belt,width_mm\n" + "".join(f"{belt},75\n" for belt in belts), encoding="utf-8")
    lines = (",".join(str(cell) for cell in row) for row in (HEADINGS, *made))
    (home / "runs.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return home


@pytest.fixture(scope="session")
def studied(folder: Path) -> Study:
    return study(str(folder))


@pytest.fixture
def written(tmp_path: Path) -> Season:
    """Write a log of two texts."""

    def write(belts: str, runs: str) -> Path:
        home = tmp_path / "other"
        home.mkdir()
        (home / "belts.csv").write_text(belts, encoding="utf-8")
        (home / "runs.csv").write_text(runs, encoding="utf-8")
        return home

    return write


@pytest.fixture
def control() -> Callable[[Any, str], Any]:
    """Find a control of a panel by its label."""

    return lambda box, label: box.widgets[label]
