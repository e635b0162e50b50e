"""Measure what drivekit costs, and print one table: ``make bench``. Nothing here is a test; no time is ever asserted.

Each row is a process of its own: wall time from start to end, the time that processors worked for it, which says more
than the wall where others work beside it, and the greatest resident memory, both as the system counted them
(``os.wait4``). Python modules are kept compiled, as an ordinary start keeps them. A process starts with the peak of the
one that made it, so this file imports nothing heavy. Of each command run more than once the first run is thrown away:
it fills caches of the disk and of compiled code. The column "times" is the row's wall time over that of the row it is
named against. A study works in two processes, and its peak is that of the larger one. After the table stand the slopes,
the power of the runs that the time grows by, and the hazard fit beside lifelines and R (``bench_cox.py``), in the same
run.

``bench.py [MOST]`` leaves out logs of more than MOST runs.
"""

import os
import platform
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import log
from pathlib import Path
from statistics import median
from time import perf_counter

ROOT = Path(__file__).parents[2]
HERE = Path(__file__).parent
DRIVEKIT = Path(sys.executable).with_name("drivekit")
SIZES = (1_000, 10_000, 100_000, 1_000_000)
WANTED = {
    "check of the demo": "0.25 s",
    "study of the demo": "3.5 s",
    "study of 100,000 runs": "12 s, 500 MiB",
    "check of 1,000,000 runs": "8 s, 900 MiB",
    "study of 1,000,000 runs": "60 s, 2,048 MiB",
}
MIB = 2**20
RSS_UNIT = 1 if sys.platform == "darwin" else 1024  # ru_maxrss is in bytes on macOS, in KiB on Linux


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the table; wall and work in s, peak in bytes (None: not a process of its own)."""

    what: str
    wall: float
    work: float | None
    peak: float | None
    against: str = ""
    wanted: str = ""


def measured(what: str, command: Sequence[str | Path], *, repeats: int, against: str = "", wanted: str = "") -> Row:
    """Run a command `repeats` times, and once before to warm it where that is more than one.

    The row holds the shortest wall time, the least work and the greatest peak.
    """
    warming = 1 if repeats > 1 else 0
    walls, works, peaks = [], [], []
    for _ in range(warming + repeats):
        started = perf_counter()
        with tempfile.TemporaryFile() as words:
            process = subprocess.Popen(command, stdout=words, stderr=words, cwd=ROOT)
            _, status, usage = os.wait4(process.pid, 0)
            walls.append(perf_counter() - started)
            process.returncode = os.waitstatus_to_exitcode(status)
            if process.returncode:
                words.seek(0)
                raise SystemExit(f"{what}: exit code {process.returncode}\n{words.read().decode(errors='replace')}")
        works.append(usage.ru_utime + usage.ru_stime)
        peaks.append(usage.ru_maxrss * RSS_UNIT)
    return Row(what, min(walls[warming:]), min(works[warming:]), max(peaks[warming:]), against, wanted)


def rows(folder: Path, sizes: Sequence[int]) -> list[Row]:
    """Measure everything, smallest first, saying each on standard error as it comes."""
    plans = [
        ("python, nothing imported", (sys.executable, "-c", ""), 5, "", ""),
        ("import drivekit", (sys.executable, "-c", "import drivekit"), 5, "python, nothing imported", ""),
    ]
    places = {"the demo": ROOT / "data" / "season-two", **{f"{size:,} runs": folder / str(size) for size in sizes}}
    for command in ("check", "study"):
        before = ""
        for size, place in places.items():
            what = f"{command} of {size}"
            extra = ("--out", folder / "out" / size.replace(" ", "-")) if command == "study" else ()
            repeats = 3 if size == "the demo" else 1
            plans.append((what, (DRIVEKIT, command, place, *extra), repeats, before, WANTED.get(what, "")))
            before = what
    found = []
    for what, command, repeats, against, wanted in plans:
        print(what, end=": ", file=sys.stderr, flush=True)
        found.append(measured(what, command, repeats=repeats, against=against, wanted=wanted))
        print(f"{found[-1].wall:.3f} s", file=sys.stderr, flush=True)
    print("redraw", file=sys.stderr, flush=True)
    return [*found, redraw(), *decisions()]


def redraw() -> Row:
    """Move a control of workbook 02 many times in one process; keep the median of what a move took."""
    said = subprocess.run((sys.executable, HERE / "redraw.py"), check=True, capture_output=True, text=True, cwd=ROOT)
    return Row("redraw in workbook 02, median", median(map(float, said.stdout.split())), None, None, "", "0.1 s")


def decisions() -> list[Row]:
    """Time what is decided in workbooks 05 and 08, in one process."""
    said = subprocess.run((sys.executable, HERE / "decisions.py"), check=True, capture_output=True, text=True, cwd=ROOT)
    lines = (line.split("\t") for line in said.stdout.splitlines())
    return [
        Row(what, float(wall), float(work), None, "", "10 s" if "power" in what else "0.2 s")
        for what, wall, work in lines
    ]


def table(found: Sequence[Row]) -> str:
    """Lay the rows out as one table."""
    wall = {row.what: row.wall for row in found}
    lines = [("what", "wall s", "work s", "peak MiB", "times", "wanted")]
    for row in found:
        times = f"{row.wall / wall[row.against]:.1f} x {row.against}" if row.against else ""
        work = "" if row.work is None else f"{row.work:.3f}"
        peak = "" if row.peak is None else f"{row.peak / MIB:,.0f}"
        lines.append((row.what, f"{row.wall:.3f}", work, peak, times, row.wanted))
    widths = [max(len(line[column]) for line in lines) for column in range(6)]
    aligned = ("<", ">", ">", ">", "<", "<")
    return "\n".join(
        "  ".join(f"{cell:{side}{width}}" for cell, side, width in zip(line, aligned, widths, strict=True)).rstrip()
        for line in lines
    )


def slopes(found: Sequence[Row], sizes: Sequence[int]) -> str:
    """Say how the time of each command grows from one size to the next: 1 is in step with the runs."""
    wall = {row.what: row.wall for row in found}
    lines = []
    for command in ("check", "study"):
        steps = []
        for few, many in pairwise(sizes):
            times = wall[f"{command} of {many:,} runs"] / wall[f"{command} of {few:,} runs"]
            steps.append(f"{log(times) / log(many / few):.2f} to {many:,}")
        lines.append(f"slope of {command} from {sizes[0]:,} runs: {', '.join(steps)}")
    return "\n".join(lines)


def main(most: int) -> None:
    """Make the logs, measure, print."""
    sizes = [size for size in SIZES if size <= most]
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
        os.environ["PYTHONPYCACHEPREFIX"] = str(folder / "compiled")
        print("writing the logs", file=sys.stderr, flush=True)
        subprocess.run([sys.executable, HERE / "logs.py", folder, *map(str, sizes)], check=True, cwd=ROOT)
        found = rows(folder, sizes)
    print(f"Python {platform.python_version()}, {platform.system()} {platform.machine()}, {os.cpu_count()} cores")
    print(table(found))
    print(slopes(found, sizes), flush=True)
    subprocess.run([sys.executable, HERE / "bench_cox.py"], check=True, cwd=ROOT)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else SIZES[-1])
