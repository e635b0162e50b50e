"""The stored figures are what the study of the invented seasons draws: to the byte on Python 3.11, else as numbers."""

from __future__ import annotations

import re
import sys
from pathlib import Path

import numpy as np
import pytest

from drivekit.show.page import pictures
from tests.show.six_logs import demo_findings

TOP = Path(__file__).parents[1]
NUMBER = re.compile(r"-?\d+\.\d+")


@pytest.mark.slow
@pytest.mark.parametrize("season", ["season-one", "season-two"])
def test_the_stored_figures_are_what_the_study_draws(season: str) -> None:
    stored = {path.stem: path.read_text() for path in (TOP / "figures" / season).glob("*.svg")}
    drawn = {name: picture.svg() for name, picture in pictures(demo_findings(season)).items()}
    assert stored.keys() == drawn.keys()
    for name in drawn:
        if sys.version_info[:2] == (3, 11) and sys.platform == "linux":
            assert stored[name] == drawn[name], f"{name}.svg: run make figures"
        assert NUMBER.split(stored[name]) == NUMBER.split(drawn[name])
        pairs = (np.array(NUMBER.findall(text), float) for text in (stored[name], drawn[name]))
        np.testing.assert_allclose(*pairs, rtol=0, atol=2e-6)  # SVG carries six decimals


@pytest.mark.parametrize("season", ["season-one", "season-two"])
def test_every_stored_figure_has_its_picture_for_slides_too(season: str) -> None:
    stems = {kind: {path.stem for path in (TOP / "figures" / season).glob(f"*.{kind}")} for kind in ("svg", "png")}
    assert stems["svg"] == stems["png"] != set()
