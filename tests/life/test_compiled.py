"""Where compiled loops are kept, and that they work where nothing can be written."""

import os
import subprocess
import sys
from pathlib import Path

from drivekit.life._compiled import cache_folder


def test_the_cache_is_where_each_system_keeps_caches():
    home = Path("home")
    assert cache_folder("linux", {}, home) == home / ".cache" / "drivekit"
    assert cache_folder("linux", {"XDG_CACHE_HOME": "c"}, home) == Path("c") / "drivekit"
    assert cache_folder("darwin", {}, home) == home / "Library" / "Caches" / "drivekit"
    assert cache_folder("win32", {"LOCALAPPDATA": "l"}, home) == Path("l") / "drivekit" / "Cache"
    assert cache_folder("win32", {}, home) == home / "AppData" / "Local" / "drivekit" / "Cache"
    assert cache_folder("linux", {"NUMBA_CACHE_DIR": "n"}, home) == Path("n")


def test_a_loop_is_kept_in_that_folder_and_a_persons_own_setting_is_left_alone(tmp_path):
    script = (
        "from numba.core import config; before = config.CACHE_DIR\n"
        "from drivekit.life._compiled import compiled\n"
        "import loop; assert compiled(loop.twice)(3) == 6; assert config.CACHE_DIR == before"
    )
    (tmp_path / "loop.py").write_text("def twice(x):\n    return 2 * x\n", encoding="utf-8")
    environ = os.environ | {"XDG_CACHE_HOME": str(tmp_path), "PYTHONPATH": str(tmp_path)}
    subprocess.run([sys.executable, "-c", script], check=True, env=environ)
    if sys.platform == "linux":
        assert list((tmp_path / "drivekit").rglob("loop.twice*.nbi"))


def test_where_no_folder_can_be_written_a_loop_is_compiled_for_this_process(monkeypatch):
    import numba

    from drivekit.life import _compiled

    asked = []

    def refusing(cache: bool, **_: object):
        asked.append(cache)
        if cache:
            raise RuntimeError("cannot cache function: no locator available")
        return lambda loop: loop

    monkeypatch.setattr(numba, "njit", refusing)
    assert _compiled.compiled(abs) is abs
    assert asked == [True, False]
