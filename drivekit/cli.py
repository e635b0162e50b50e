"""The command line: call one function, print, give back a code.

Codes: 0 done; 1 the content has faults, nothing was written; 2 a path is missing, is no log, or an option cannot be
used; 3 our own error, with its traceback. Results go to standard output; faults, warnings, errors and progress to
standard error, one plain sentence first. What may be typed stands in `drivekit.options`.
"""

from __future__ import annotations

import os
import sys
from argparse import Namespace
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from drivekit.faults import Faulty, Unusable, closing, shown, writing
from drivekit.options import Misused, parsed
from drivekit.terminal import HOW_TO_ANSWER, asked_for, progress, say, say_faults, say_warnings

if TYPE_CHECKING:
    from drivekit.log.season import Season

__all__ = ["main"]

EXAMPLE_DRIVE = "toothed-inside.toml"
CHOICES = ("failures", "horizon", "tension_cuts", "confidence", "seed", "costs", "risk", "runs")
DONE, FAULTY, UNUSABLE, OURS, STOPPED = 0, 1, 2, 3, 130


def main(words: Sequence[str] | None = None) -> int:
    """Run one command.

    Parameters
    ----------
    words : sequence of str, optional
        What follows ``drivekit`` on the command line; by default what this process was given.

    Returns
    -------
    int
        The exit code.
    """
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")  # a terminal that lacks a letter shows a mark in its place
    try:
        os.getcwd()
    except OSError:
        say("drivekit: the folder it was started in is gone, or may not be entered; change into one that is there.")
        return UNUSABLE
    try:
        chosen = parsed(sys.argv[1:] if words is None else words)
        code = COMMANDS[chosen.command](chosen)
        sys.stdout.flush()
        return code
    except Misused as misused:
        say(str(misused))
        return UNUSABLE
    except Faulty as faulty:
        say_faults(faulty.faults)
        say(f"{closing(faulty.faults)}; nothing was written.")
        return FAULTY
    except Unusable as unusable:
        say(f"drivekit: {shown(str(unusable), None).rstrip('.')}.")
        return UNUSABLE
    except PermissionError as refused:
        say(f"drivekit: {shown(str(refused.filename or 'a file'), None)} cannot be reached: {refused.strerror}.")
        return UNUSABLE
    except BrokenPipeError:
        # Whoever read the output has closed it; results are printed last, so the work itself is done.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return DONE
    except (KeyboardInterrupt, EOFError):
        say("\ndrivekit: stopped.")
        return STOPPED
    except Exception:
        from traceback import format_exc

        say("drivekit: this is an error of drivekit's own; please report what follows.")
        say(format_exc().rstrip())
        return OURS


def _new(chosen: Namespace) -> int:
    from drivekit.begin import new_log

    for path in new_log(chosen.path, chosen.trial, seed=chosen.seed, grease=chosen.grease):
        print(path)
    return DONE


def _check(chosen: Namespace) -> int:
    from drivekit.log import check_season

    if chosen.columns is not None and not os.path.lexists(chosen.columns):
        return _draft(chosen.log, chosen.columns)
    faults = check_season(chosen.log, columns=chosen.columns)
    say_faults(faults)
    if any(not fault.warning for fault in faults):
        say(f"{closing(faults)}.")
        return FAULTY
    print(f"{closing(faults)}.")
    return DONE


def _add(chosen: Namespace) -> int:
    from drivekit.lab.adding import add, after, earlier_season, undo
    from drivekit.log.added import open_log
    from drivekit.log.season import read_season

    if chosen.undo:
        print(undo(chosen.log))
        return DONE
    log = open_log(chosen.log, chosen.columns)
    if chosen.against is not None and len(log.found.runs.line):
        earlier_season(read_season(chosen.log, chosen.columns), chosen.against, chosen.columns)
    if chosen.set:
        run, belt = log.named(dict(chosen.set))
    elif sys.stdin.isatty():
        say(HOW_TO_ANSWER)
        run, belt = asked_for(log, input)
    else:
        raise Misused("drivekit: a run is asked for at a terminal; elsewhere --set says it.\nMore: drivekit add --help")
    kept = add(log, run, belt)
    print(f"Run {run['run']} of belt {run['belt']} is added; what stood there before is {', '.join(map(str, kept))}.")
    say_faults(log.wrong(run, belt))
    for sentence in after(chosen.log, run["belt"], chosen.columns, chosen.against):
        print(sentence)
    return DONE


def _draft(log: Path, file: Path) -> int:
    """Draft a map of the log's own headings and words, and say what to do with it."""
    from shlex import quote

    from drivekit.folder import write_files
    from drivekit.log.guess import drafted_map

    draft = drafted_map(log, file)
    if not file.parent.is_dir():
        raise Unusable(f"{file.parent} is not there; name a folder that is, for the map to be drafted in")
    _written(write_files, file.parent, {file.name: draft.encode()})
    lines = sum(line.startswith('# "') for line in draft.splitlines())
    to_confirm = f"{lines} {'line' if lines == 1 else 'lines'} to confirm"
    again = f"drivekit check {quote(str(log))} --columns {quote(str(file))}"
    do = f"take the # from a line that is right, correct one that is not, then run {again}"
    print(f"{file} is drafted with {to_confirm}, and nothing was checked: {do} again.")
    return DONE


def _study(chosen: Namespace) -> int:
    from drivekit.folder import earlier_findings, standing, try_folder, write_folder
    from drivekit.log import read_season
    from drivekit.show.drawn_files import drawn_files, second_process
    from drivekit.show.two_seasons import moved_since, watch_words
    from drivekit.show.words import headlines
    from drivekit.study.findings import SCHEMA, study
    from drivekit.study.study_input import Settings

    out: Path = chosen.out
    _written(_refuse_own_folder, out, chosen.log)
    settings = {name: getattr(chosen, name) for name in CHOICES}
    settings = {name: value for name, value in settings.items() if value is not None}
    since = {} if chosen.since is None else {"since": earlier_findings(chosen.since, SCHEMA)}
    started = datetime.now(UTC).isoformat(timespec="seconds")
    with progress() as doing:
        doing("reading the log")
        season = read_season(chosen.log, columns=chosen.columns)
        _refuse_cuts(season, chosen.tension_cuts)
        against = None if chosen.against is None else _earlier(season, chosen)
        _written(try_folder, out)
        with second_process() as second:
            doing("computing")
            findings = study(season, Settings(**settings), started=started, second=second, against=against) | since
            doing("drawing")
            files = drawn_files(findings, second, chosen.figures)
        if chosen.workbooks:
            doing("running the workbooks")
            files |= _workbooks(chosen, settings)
        doing("writing")
        before = _written(standing, out)
        left = _written(write_folder, out, findings, files)
    say_warnings(season.warnings)
    if before.kind == "mixed":
        say(f"{out}: {before}; all of them are now written anew.")
    for name in left:
        say(f"{out / name} is from an earlier study and was left as it is.")
    for sentence in (
        *headlines(findings),
        *(watch_words(findings) if against else ()),
        *moved_since(findings).values(),
    ):
        print(sentence)
    print(f"The page is {out / 'findings.html'}; open it in a browser, it needs no network.")
    return DONE


def _earlier(season: Season, chosen: Namespace) -> Season:
    # imported here: the rooms behind it take half as long to load as the whole of a small study
    from drivekit.lab.adding import earlier_season

    return earlier_season(season, chosen.against, chosen.columns)


def _workbooks(chosen: Namespace, settings: dict[str, Any]) -> dict[str, bytes]:
    """Run the workbooks where they are to stand, on the log as it is found from there; beside each, a page to send."""
    from concurrent.futures import ThreadPoolExecutor

    from drivekit.folder import unmade
    from drivekit.notebooks import DRIVES, WORKBOOKS, carried, run_workbook, sent, workbooks_in

    beside = chosen.out / "workbooks"
    parameters = {"drive": _from(beside, carried(DRIVES) / EXAMPLE_DRIVE)} | _parameters(beside, chosen, settings)
    places = workbooks_in(carried(WORKBOOKS))
    with unmade((beside, *beside.parents)), ThreadPoolExecutor(os.cpu_count()) as pool:  # each in a process of its own
        _written(beside.mkdir, parents=True, exist_ok=True)
        ran = dict(zip(places, pool.map(lambda place: run_workbook(place, parameters, beside), places), strict=True))
    files = {place.name: text for place, text in ran.items()}
    files |= {place.with_suffix(".html").name: sent(text) for place, text in ran.items()}
    return {f"workbooks/{name}": text.encode() for name, text in files.items()}


def _parameters(beside: Path, chosen: Namespace, settings: dict[str, Any]) -> dict[str, object]:
    """Give what the parameters cell of a workbook in a folder says of logs and a drive, of those that were named."""
    drive: dict[str, object] = {} if chosen.drive is None else {"drive": _from(beside, chosen.drive)}
    if chosen.log is None:
        return drive
    mapped = {} if chosen.columns is None else {"columns": _from(beside, chosen.columns)}
    earlier = "" if chosen.against is None else _from(beside, chosen.against)
    return {"log": _from(beside, chosen.log), "settings": settings | mapped, "earlier": earlier, **drive}


def _meeting(chosen: Namespace) -> int:
    from drivekit.lab.decisions import meeting_card
    from drivekit.lab.season_study import Study
    from drivekit.log.season import read_season

    study = Study(read_season(chosen.log, columns=chosen.columns))
    rounds = {"qualifying": chosen.qualifying, "eliminations": chosen.eliminations}
    rounds |= {"change_after": chosen.change_out, "level": chosen.idler}
    for sentence in meeting_card(study, chosen.belts, chosen.out, **rounds):
        print(sentence)
    say_warnings(study.season.warnings)
    return DONE


def _drive(chosen: Namespace) -> int:
    from drivekit.drive.drive_file import read_drive
    from drivekit.drive.set_up import set_up
    from drivekit.folder import write_files
    from drivekit.lab.drive_set_up import drive_files
    from drivekit.show.phrases import listed

    layout, out = read_drive(chosen.file), chosen.out
    found = set_up(layout)
    if out is not None:
        _written(_refuse_file, out)
        with progress() as doing:
            doing("drawing")
            files = drive_files(found)
            doing("writing")
            _written(write_files, out, files)
    print(found)
    if out is not None:
        cards = listed([str(out / name) for name in files if name.endswith(".pdf")])
        print(f"\nThe page is {out / 'drive.html'}; the cards to print are {cards}.")
    return DONE


def _demo(chosen: Namespace) -> int:
    from drivekit.begin import write_demo

    for path in write_demo(chosen.folder):
        print(path)
    return DONE


def _lab(chosen: Namespace) -> int:
    from signal import SIGTERM, signal

    from drivekit.begin import FOLDER, RECORD, SETTINGS, address, prepared, served
    from drivekit.drive.drive_file import read_drive
    from drivekit.log import check_season, read_season

    if chosen.log is not None:
        faults = check_season(chosen.log, columns=chosen.columns)
        if any(not fault.warning for fault in faults):
            raise Faulty(faults)
        if chosen.against is not None:
            _earlier(read_season(chosen.log, chosen.columns), chosen)
    elif chosen.columns is not None or chosen.against is not None:
        raise Misused("drivekit: --columns and --against are of a log; name the log too.\nMore: drivekit lab --help")
    if chosen.drive is not None:
        read_drive(chosen.drive)
    for path in _written(prepared, _parameters(FOLDER / "workbooks", chosen, {})):
        print(f"{path} is your own version and was kept.")
    on = f", on {chosen.log}: run all cells of a workbook to see it" if chosen.log else ""
    print(f"JupyterLab opens on {FOLDER}{on}; your copies are yours to change. Ctrl-C here ends it.", flush=True)
    with served() as server:
        signal(SIGTERM, lambda *_: server.terminate())
        while True:
            try:
                if (where := address(server)) is not None:
                    print(where, flush=True)
                if server.wait() == 0:
                    return DONE
                raise Unusable(f"JupyterLab did not end well; what it wrote stands in {FOLDER / SETTINGS / RECORD}")
            except KeyboardInterrupt:  # the server has it too, asks whether it is meant, and ends by itself
                continue


COMMANDS = {
    "new": _new,
    "check": _check,
    "add": _add,
    "study": _study,
    "meeting": _meeting,
    "drive": _drive,
    "demo": _demo,
    "lab": _lab,
}


def _refuse_own_folder(out: Path, log: Path) -> None:
    """Refuse to write findings among the files of the log."""
    _refuse_file(out)
    home = log if os.path.isdir(log) else log.parent
    if os.path.exists(log) and os.path.realpath(out) == os.path.realpath(home):
        raise Unusable(f"{out} is the log's own folder; name another one for the findings with --out")


def _refuse_cuts(season: Season, cuts_n: tuple[float, float] | None) -> None:
    """Refuse cuts that no run of the log lies between or beyond: they were most likely meant in another unit."""
    if cuts_n is None or "tension_n" not in season.runs:
        return
    known = season.runs["tension_n"].dropna()
    if known.empty or (cuts_n[1] >= known.min() and cuts_n[0] < known.max()):
        return
    raise Unusable(
        f"tension cuts of {cuts_n[0]:,.0f} and {cuts_n[1]:,.0f} N part nothing: the log's tensions run from "
        f"{known.min():,.0f} to {known.max():,.0f} N; write lbf after each if pounds are meant, as in 1700lbf,1900lbf"
    )


def _refuse_file(out: Path) -> None:
    if out.exists() and not out.is_dir():
        raise Unusable(f"{out} is a file; name a folder with --out")


def _from(folder: Path, path: Path) -> str:
    """Write a path as it is reached from a folder, so that both can be moved together."""
    try:
        return Path(os.path.relpath(path.resolve(), folder.resolve())).as_posix()
    except ValueError:  # on another drive
        return path.resolve().as_posix()


def _written(write: Any, *given: Any, **named: Any) -> Any:
    """Call what writes files, and say in a sentence when it may not."""
    with writing(given[0] if given else write.__self__):
        return write(*given, **named)
