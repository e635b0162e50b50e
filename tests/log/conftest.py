from collections.abc import Callable
from pathlib import Path

import pytest

BELTS = """\
belt,compound,width_mm,mass_g_per_m,runs_before,first_day
A1,rubber,75,500,,2026-03-01
A2,urethane,75,500,3,2026-03-01
A3,rubber,80,520,?,2026-03-01
"""
RUNS = """\
run,day,car,belt,idler,tension_n,edge_lube,fate,cause
1,2026-03-01,blue,A1,smooth,8000,none,kept,
2,2026-03-01,red,A2,toothed,7000,install,kept,
3,2026-03-01,blue,A1,smooth,,none,broke,tooth-loss
4,2026-03-02,red,A2,toothed,7500,every-run,trimmed,
5,2026-03-02,green,A3,smooth,9000,none,kept,
6,2026-03-03,red,A2,smooth,7600,every-run,retired,precaution
"""


@pytest.fixture
def log(tmp_path: Path) -> Callable[..., Path]:
    """Write a log of two texts, or of the small one above with some texts of it replaced."""

    def write(
        belts: str | bytes = BELTS,
        runs: str | bytes = RUNS,
        *,
        belt: tuple[str, str] = ("", ""),
        run: tuple[str, str] = ("", ""),
        name: str = "season",
    ) -> Path:
        folder = tmp_path / name
        folder.mkdir()
        for file, text, (old, new) in (("belts.csv", belts, belt), ("runs.csv", runs, run)):
            if isinstance(text, str):
                assert old in text
                text = (text.replace(old, new, 1) if old else text).encode()
            (folder / file).write_bytes(text)
        return folder

    return write
