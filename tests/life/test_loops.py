"""Where compiled loops are kept, and that they work where nothing can be written."""

import os
import subprocess
import sys

import pytest


@pytest.mark.parametrize(("name", "folder"), [("XDG_CACHE_HOME", "drivekit"), ("NUMBA_CACHE_DIR", ".")])
def test_a_loop_is_kept_in_the_users_cache_and_a_persons_own_setting_is_left_alone(tmp_path, name, folder):
    script = (
        "from numba.core import config; before = config.CACHE_DIR\n"
        "from drivekit.life._loops import compiled\n"
        "import loop; assert compiled(loop.twice)(3) == 6; assert config.CACHE_DIR == before"
    )
    (tmp_path / "loop.py").write_text("def twice(x):\n    return 2 * x\n", encoding="utf-8")
    environ = os.environ | {name: str(tmp_path), "PYTHONPATH": os.pathsep.join([str(tmp_path), *sys.path])}
    subprocess.run([sys.executable, "-c", script], check=True, env=environ)
    if sys.platform == "linux":
        assert list((tmp_path / folder).rglob("loop.twice*.nbi"))


def test_where_no_folder_can_be_written_a_loop_is_compiled_for_this_process(monkeypatch):
    import numba

    from drivekit.life import _loops

    asked = []

    def refusing(cache: bool, **_: object):
        asked.append(cache)
        if cache:
            raise RuntimeError("cannot cache function: no locator available")
        return lambda loop: loop

    monkeypatch.setattr(numba, "njit", refusing)
    assert _loops.compiled(abs) is abs
    assert asked == [True, False]
