"""One run more in a log: asked for or named, written whole or not at all, taken back, and what follows for the belt.

Before a file of the log is replaced, what it held is laid beside it. The copy's name ends with the first letters of the
SHA-256 of the log as replacing that file leaves it, so that a run is only taken back from the very log that adding it
made. Where a run has a new belt, belts.csv is replaced first: a log that was cut short between the two is read by that
copy as it was, and the next run is added to that.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

from drivekit.cautions import CAUTIONS
from drivekit.faults import Faulty, Unusable, counted, writing
from drivekit.folder import alone, write_files
from drivekit.lab.season_study import Study, Words
from drivekit.log.added import Answers, OpenLog
from drivekit.log.reading import BEFORE, copy_before, files_of, source
from drivekit.log.rules import WAS
from drivekit.log.season import Season, read_season
from drivekit.show.decision_words import outlook_words
from drivekit.show.two_seasons import watch_words
from drivekit.study.decisions import outlook_block
from drivekit.study.two_seasons import Seasons, watch_block

__all__ = ["add", "after", "earlier_season", "life_words", "undo"]


def add(log: OpenLog, run: Answers, belt: Answers | None = None) -> tuple[Path, ...]:
    """Write a log with one run more, and its new belt's row where there is one: whole, or read as it was.

    What the files held before lies at the places given back.

    Raises
    ------
    Unusable, Faulty
        If the log was changed since it was read, a file of it is open elsewhere or cannot be written, or the log with
        the run has a fault; nothing is changed then.
    """
    files = files_of(log.path)
    home = files[0].parent
    with writing(home), alone(home):
        for file in files:
            for mark in (f"~${file.name}", f".~lock.{file.name}#"):
                if (home / mark).exists():
                    raise Unusable(f"{file.name} is open in a spreadsheet program: close it there, then add the run")
        _put_back(files, files[:-1])
        contents, changed = {file.name: file.read_bytes() for file in files}, log.files(run, belt)
        kept = {}
        for name, content in changed.items():
            held, contents[name] = contents[name], content
            kept[copy_before(home / name, contents.values()).name] = held
        write_files(home, kept | changed)
        for file in files:
            for old in home.glob(f"{file.name}{BEFORE}*"):
                if old.name not in kept:
                    with suppress(OSError):
                        old.unlink()
    return tuple(home / name for name in kept)


def undo(path: str | Path) -> str:
    """Take the run back that was added last, and say how the log now stands.

    Raises
    ------
    Unusable
        If the log is not as adding a run left it, or cannot be written.
    """
    found, place = source(path), Path(path).resolve()
    files = files_of(place)
    home = files[0].parent
    with writing(home), alone(home):
        if not _put_back(files, files):
            raise Unusable(f"{found.name} is not as drivekit add left it, so no run can be taken back from it")
    runs = len(source(place).runs.line)
    return f"The run that was added last is taken back: {found.name} has {counted(runs, 'run')} again."


def _put_back(files: Sequence[Path], wanted: Sequence[Path]) -> bool:
    """Put back what files held, the last one replaced first, as far as the log is as replacing each left it."""
    contents = {file.name: file.read_bytes() for file in files}
    copies = {}
    for file in reversed(wanted):
        copy = copy_before(file, contents.values())
        if copy.is_file():
            contents[file.name], copies[file.name] = copy.read_bytes(), copy
    write_files(files[0].parent, {name: contents[name] for name in copies})
    for copy in copies.values():
        copy.unlink()
    return bool(copies)


def after(path: str | Path, belt: str, columns: str | Path | None = None, against: str | Path | None = None) -> Words:
    """Say of a belt what its run made of it: its life so far and its odds; and the watch over an earlier log."""
    study = Study(read_season(path, columns))
    said = [life_words(study, belt)]
    if belt in study.decided.last_runs:
        said += outlook_words({"outlook": outlook_block(study.decided, (belt,))})
    if against is not None:
        seasons = Seasons.of(study.asked, study.season, earlier_season(study.season, against, columns))
        confidence = study.settings.confidence
        said += watch_words({"watch": watch_block(seasons), "settings": {"confidence": confidence}})
    return Words((*said, *(caution for caution in CAUTIONS if caution not in said)))


def life_words(study: Study, belt: str) -> str:
    """Say how many runs a belt has made, and how it ended if it has."""
    of_belt = study.season.runs[study.season.runs["belt"] == belt]
    last, here = of_belt.iloc[-1], counted(len(of_belt), "run")
    ages = study.asked.table["age"][study.asked.table["belt"] == belt]
    if not ages.size:
        made = f"{belt} has made {here} in this log, and nobody knows how many before: it is given no odds"
    else:
        made = f"{belt} has made {counted(int(ages[-1]), 'run')}"
        made += "" if ages[-1] == len(of_belt) else f", {len(of_belt)} of them in this log"
    return f"{made}; it {WAS[last['fate']]} on the last one: {last['cause']}." if last["fate"] in WAS else f"{made}."


def earlier_season(season: Season, log: str | Path, columns: str | Path | None = None) -> Season:
    """Read the log of an earlier season; its faults are told from those of the log that it is held against.

    Raises
    ------
    Unusable, Faulty
        If there is none, or it is no earlier one; or it has faults.
    """
    try:
        earlier = read_season(log, columns=columns)
    except Faulty as faulty:
        raise Faulty(tuple(replace(fault, file=f"{log}/{fault.file}") for fault in faulty.faults)) from None
    if earlier.sha256 == season.sha256:
        raise Unusable(f"{log} holds the same runs as the log that is studied; name an earlier season's log")
    last, end = earlier.runs["day"].max(), season.runs["day"].max()
    if last > end:
        raise Unusable(
            f"{log} ends on {last:%Y-%m-%d}, later than the log that is studied; name an earlier season's log"
        )
    return earlier
