"""How a loop is compiled: on first use, kept in the user's cache folder, or in memory alone where nothing is writable.

Kernels are compiled without fast mathematics and without parallel sums, so that the last digit of an answer depends on
neither the machine's mood nor the number of threads. ``nogil`` lets separate weightings run side by side.
"""

import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

__all__ = ["cache_folder", "compiled"]


def cache_folder(
    platform: str = sys.platform, environ: "os._Environ[str] | dict[str, str]" = os.environ, home: Path | None = None
) -> Path:
    """Folder of the user's where compiled loops are kept.

    Parameters
    ----------
    platform : str
        As ``sys.platform`` names it.
    environ : mapping of str to str
        Environment variables; ``NUMBA_CACHE_DIR`` decides before anything else.
    home : Path, optional
        The user's home folder.

    Returns
    -------
    Path
        The folder, which may not exist yet.
    """
    asked = environ.get("NUMBA_CACHE_DIR")
    if asked:
        return Path(asked)
    house = home if home is not None else Path(os.path.expanduser("~"))
    if platform == "win32":
        local = environ.get("LOCALAPPDATA")
        return (Path(local) if local else house / "AppData" / "Local") / "drivekit" / "Cache"
    if platform == "darwin":
        return house / "Library" / "Caches" / "drivekit"
    cache = environ.get("XDG_CACHE_HOME")
    return (Path(cache) if cache else house / ".cache") / "drivekit"


def compiled(loop: Callable[..., Any]) -> Any:
    """Compile a loop on first use and keep the result for the next process.

    Parameters
    ----------
    loop : function
        A function of arrays and numbers in the part of Python that compiles.

    Returns
    -------
    function
        The same function, compiled when first called; ``py_func`` is the plain one.
    """
    import numba
    from numba.core import config

    # The place of the cache is chosen when a function is decorated, so the setting need not outlive this call and a
    # person's own compiled code keeps its own place.
    # A division by zero gives an infinity, as in numpy: a likelihood that runs away is told by its value, not a stop.
    before = config.CACHE_DIR
    config.CACHE_DIR = str(cache_folder())
    try:
        return numba.njit(cache=True, nogil=True, error_model="numpy")(loop)
    except RuntimeError:  # no folder can be written, neither this nor the two that stand in for it
        return numba.njit(cache=False, nogil=True, error_model="numpy")(loop)
    finally:
        config.CACHE_DIR = before
