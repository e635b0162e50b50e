"""What may be typed after ``drivekit``: the commands, their options, and one plain sentence for what cannot be used.

Python's own parser does the parsing and the help; the sentences are ours, since its own name types and not what would
be right. An option here is one entry, and a command is one function.
"""

from __future__ import annotations

import math
import re
from argparse import SUPPRESS, ArgumentParser, ArgumentTypeError, Namespace, RawDescriptionHelpFormatter
from collections.abc import Sequence
from pathlib import Path
from typing import Any, NoReturn

from drivekit import __version__
from drivekit.faults import nearest

__all__ = ["Misused", "parsed", "parsers"]

ABOUT = "How long toothed blower-drive belts last, and what makes them last: a season's log in, findings out."


class Misused(Exception):
    """What was typed cannot be used; the message is one plain sentence, then where to read more."""


class _Parser(ArgumentParser):
    """A parser whose errors are plain sentences and are raised."""

    def error(self, message: str) -> NoReturn:
        """Say Python's sentence as ours."""
        missing = re.fullmatch(r"the following arguments are required: (.*)", message)
        alone = re.fullmatch(r"argument (\S+): expected one argument", message)
        flag = re.fullmatch(r"argument (\S+): ignored explicit argument '(.*)'", message)
        if missing:
            sentence = f"{self.prog} needs {missing[1].replace(', ', ' and ')}"
        elif alone:
            sentence = f"{alone[1]} needs a value after it"
        elif flag:
            sentence = f'{flag[1]} takes no value, and "{flag[2]}" was given'
        else:
            sentence = re.sub(r"^argument (\S+):", r"\1:", message)
        raise Misused(f"drivekit: {sentence}.\nMore: {self.prog} --help")

    def format_help(self) -> str:
        """Write Python's help with headings for people who do not program."""
        return super().format_help().replace("usage: ", "Usage: ", 1).replace("positional arguments:", "to give:")


def parsed(words: Sequence[str]) -> Namespace:
    """Read what was typed.

    Parameters
    ----------
    words : sequence of str
        The words after ``drivekit``.

    Returns
    -------
    Namespace
        ``command``, and a value for each of its options.

    Raises
    ------
    Misused
        With one plain sentence.
    SystemExit
        With 0, once help or version is printed.
    """
    top, commands = parsers()
    command = next((word for word in words if not word.startswith("-")), None)
    if command is not None and command not in commands:
        raise Misused(
            f'drivekit: "{command}" is no command; {nearest(command, list(commands))}.\nMore: drivekit --help'
        )
    chosen, strange = top.parse_known_args(words)
    parser = commands[command] if command else top
    if strange:
        options = [word for action in parser._actions for word in action.option_strings if word.startswith("--")]
        word = strange[0].split("=")[0]
        if word.startswith("-"):
            sentence = f'"{word}" is no option of {parser.prog}; {nearest(word, options)}'
        else:
            sentence = f'"{word}" is one word too many'
        raise Misused(f"drivekit: {sentence}.\nMore: {parser.prog} --help")
    if command is None:
        raise Misused(f"drivekit: say what to do: {', '.join(commands)}.\nMore: drivekit --help")
    return chosen


def parsers() -> tuple[ArgumentParser, dict[str, ArgumentParser]]:
    """Make the parser, and give each command's own by its name."""
    top = _Parser(
        "drivekit", description=ABOUT, allow_abbrev=False, formatter_class=RawDescriptionHelpFormatter, add_help=False
    )
    top.add_argument("--version", action="version", version=f"drivekit {__version__}", help="say the version and stop")
    _help(top)
    under = top.add_subparsers(title="commands", dest="command", metavar="COMMAND", prog="drivekit")
    commands: dict[str, ArgumentParser] = {}

    def command(name: str, does: str, example: str) -> ArgumentParser:
        made = under.add_parser(
            name,
            help=does,
            description=f"{does[0].upper()}{does[1:]}.",
            epilog=f"example:\n  {example}",
            allow_abbrev=False,
            add_help=False,
            formatter_class=RawDescriptionHelpFormatter,
        )
        commands[name] = made
        return made

    new = command(
        "new", "write a blank log to fill in and a run sheet to print, or a blank drive file", "drivekit new my-season"
    )
    new.add_argument(
        "path", metavar="PATH", type=Path, help="a folder or .xlsx to make; or a .toml, for a blank drive file"
    )
    new.add_argument(
        "--trial",
        metavar="LOG",
        type=Path,
        help="last season's log: the belts of a test sized by it are drawn by lot into the new one, and a sheet",
    )
    new.add_argument("--grease", action="store_true", help="draw by lot whether its edges are greased, too")
    _seed_of(new, "where the lot starts; 1 unless given")

    check = command("check", "say every fault in a log", "drivekit check data/season-two")
    _log(check)

    _add(command("add", "add today's run to a log, or take it back", "drivekit add my-season"))

    _study(command("study", "study a log: findings, one page, figures", "drivekit study data/season-two --out out"))

    _meeting(
        command(
            "meeting",
            "set which belt goes on for which round of a meeting, as a card to print",
            "drivekit meeting data/season-two B66 4 0 --change-out 8",
        )
    )

    drive = command(
        "drive", "work out a drive's set-up from its file", "drivekit drive data/drives/toothed-inside.toml"
    )
    drive.add_argument("file", metavar="FILE", type=Path, help="the drive's file: belt, pulleys, idler, screws, engine")
    drive.add_argument(
        "--out",
        metavar="DIR",
        type=Path,
        help="where page, picture of the belt's path and two cards to print go; without it the set-up is only said",
    )

    demo = command("demo", "write two invented seasons to try things on", "drivekit demo data")
    demo.add_argument("folder", metavar="DIR", type=Path, help="where the folders season-one and season-two are made")

    lab = command("lab", "open JupyterLab on a copy of the workbooks in ./drivekit-lab", "drivekit lab my-season")
    _log(lab, "the season's log that all workbooks are put on; unless given, an invented one", nargs="?")
    lab.add_argument(
        "--against",
        metavar="LOG2",
        type=Path,
        help="an earlier season's log, for the watch after a run is added and for how good its odds were",
    )
    _drive_file(lab)
    for parser in commands.values():
        _help(parser)
    return top, commands


def _add(add: ArgumentParser) -> None:
    _log(add)
    add.add_argument(
        "--set",
        metavar="HEADING=VALUE",
        type=_pair,
        action="append",
        help="say a cell of the run, again for each; nothing is asked, and the rest is what asking would offer; "
        "belts.HEADING=VALUE says a cell of a belt that is new",
    )
    add.add_argument(
        "--against",
        metavar="LOG2",
        type=Path,
        help="an earlier season's log, to say at once what the watch over it sees",
    )
    add.add_argument("--undo", action="store_true", help="take the run back that was added last")


def _study(study: ArgumentParser) -> None:
    _log(study)
    study.add_argument(
        "--out",
        metavar="DIR",
        type=Path,
        default=Path("findings"),
        help="where the findings are written; ./findings unless given",
    )
    study.add_argument(
        "--against",
        metavar="LOG2",
        type=Path,
        help="an earlier season's log, to hold this one against; the map of --columns serves for both",
    )
    study.add_argument(
        "--since",
        metavar="DIR",
        type=Path,
        help="where an earlier study of this log wrote, when it was shorter, to say which answers have moved since",
    )
    study.add_argument(
        "--failures",
        metavar="LIST",
        type=_failures,
        help="the causes that count as the belt's failure, with commas between; the usual five unless given",
    )
    study.add_argument(
        "--horizon",
        metavar="N",
        type=_run_count,
        help="out of how many first runs belts are compared; unless given, the last that every idler has 5 runs at",
    )
    study.add_argument(
        "--tension-cuts",
        metavar="A,B",
        type=_cuts,
        help="tensions at which low and middle end, in newtons or each with lbf; thirds of the runs unless given",
    )
    study.add_argument(
        "--confidence",
        metavar="C",
        type=_confidence,
        default=0.95,
        help="how sure each interval is to be, between 0 and 1; 0.95 unless given",
    )
    study.add_argument(
        "--costs",
        metavar="PLANNED,FAILURE",
        type=_costs,
        default=(1.0, 8.0),
        help="what a planned change, a failure and, if you like, a lost elimination cost in one unit; 1,8 unless given",
    )
    study.add_argument(
        "--risk",
        metavar="R",
        type=_risk,
        default=0.1,
        help="the share of belts that may fail before they are changed, between 0 and 1; 0.1 unless given",
    )
    study.add_argument(
        "--runs",
        metavar="R",
        type=_run_count,
        help="for how many more runs belts are to be had; as many as the log has unless given",
    )
    study.add_argument(
        "--workbooks",
        action="store_true",
        help="also run the workbooks on this log and keep them with the findings, each as a page to send too",
    )
    _drive_file(study)
    study.add_argument(
        "--figures",
        metavar="SIZE",
        type=_size,
        help="the size of all figures: screen, slide, print or phone; SVG for a screen, PNG for a slide unless given",
    )
    _seed_of(study, "where all that is drawn at random starts; 1 unless given")


def _meeting(meeting: ArgumentParser) -> None:
    _log(meeting)
    meeting.add_argument(
        "belts",
        metavar="BELT",
        nargs="+",
        help="up to five on hand, first the one on the engine: one of the log by its name, another by the runs it made",
    )
    for option, ahead in (("--qualifying", "qualifying rounds"), ("--eliminations", "eliminations up to the final")):
        meeting.add_argument(option, metavar="N", type=_rounds, default=3, help=f"{ahead}; 3 unless given")
    meeting.add_argument(
        "--change-out",
        metavar="N",
        type=_run_count,
        help="after how many runs a belt is changed; unless given, it is run as far as belts were seen",
    )
    meeting.add_argument(
        "--idler", metavar="LEVEL", default="all", help="whose chances are taken: smooth or toothed; all unless given"
    )
    meeting.add_argument(
        "--out",
        metavar="FILE",
        type=Path,
        default=Path("meeting.pdf"),
        help="where the card is written; ./meeting.pdf unless given",
    )


LOG = "the season's log: a folder with belts.csv and runs.csv, or a spreadsheet"


def _seed_of(parser: ArgumentParser, does: str) -> None:
    parser.add_argument("--seed", metavar="N", type=_seed, default=1, help=does)


def _log(parser: ArgumentParser, says: str = LOG, **named: Any) -> None:
    parser.add_argument("log", metavar="LOG", type=Path, help=says, **named)
    parser.add_argument(
        "--columns",
        metavar="MAP",
        type=Path,
        help="a file that says which of your headings is which column; check drafts one that is not there",
    )


def _drive_file(parser: ArgumentParser) -> None:
    parser.add_argument(
        "--drive", metavar="FILE", type=Path, help="the drive file that the workbooks take; an example unless given"
    )


def _help(parser: ArgumentParser) -> None:
    parser.add_argument("--help", "-h", action="help", default=SUPPRESS, help="say this and stop")


def _failures(text: str) -> tuple[str, ...]:
    from drivekit.log.columns import CAUSES

    causes = tuple(word.strip() for word in text.split(",") if word.strip())
    for cause in causes:
        if cause not in CAUSES:
            raise ArgumentTypeError(f'"{cause}" is no cause; {nearest(cause, CAUSES)}')
    if not causes:
        raise ArgumentTypeError(f"name at least one cause: {', '.join(CAUSES)}")
    return tuple(dict.fromkeys(causes))


def _pair(text: str) -> tuple[str, str]:
    heading, sign, value = text.partition("=")
    if not sign or not heading.strip():
        raise ArgumentTypeError(f'"{text}" names no cell; give a heading and its value, as in car=blue')
    return heading.strip(), value


def _size(text: str) -> str:
    from drivekit.show.paper import SIZES

    if text not in SIZES:
        raise ArgumentTypeError(f'"{text}" is no size of a figure; {nearest(text, list(SIZES))}')
    return text


def _run_count(text: str) -> int:
    return _whole(text, 1, "a number of runs")


def _rounds(text: str) -> int:
    return _whole(text, 0, "a number of rounds")


def _costs(text: str) -> tuple[float, ...]:
    from drivekit.study.study_input import MOST_COST

    costs = tuple(map(_number, text.split(",")))
    if len(costs) not in (2, 3) or not all(0 < cost <= MOST_COST for cost in costs):
        right = "give two or three numbers above 0, as in 1,8: a planned change, a failure, a lost elimination"
        raise ArgumentTypeError(f'"{text}" is not what changes cost; {right}')
    return costs


def _risk(text: str) -> float:
    value = _number(text)
    if not 0 < value < 1:
        raise ArgumentTypeError(f'"{text}" is not a risk; give a number between 0 and 1, as in 0.1')
    return value


def _seed(text: str) -> int:
    return _whole(text, 0, "a seed")


def _whole(text: str, least: int, noun: str) -> int:
    if re.fullmatch("[0-9]{10,}", text):
        raise ArgumentTypeError(f"{noun} is at most 999999999, and a number of {len(text)} digits was given")
    if not re.fullmatch("[0-9]{1,9}", text) or int(text) < least:
        raise ArgumentTypeError(f'"{text}" is not {noun}; give a whole number, {least} or more')
    return int(text)


def _cuts(text: str) -> tuple[float, float]:
    from drivekit.units import INCH_POUND

    parts = [re.fullmatch(r"\s*(.*?)\s*(lbf|n)?\s*", part, re.IGNORECASE | re.DOTALL) for part in text.split(",")]
    values = tuple(_number(part[1]) for part in parts if part)
    units = {(part[2] or "n").lower() for part in parts if part}
    if units == {"lbf"}:
        values = tuple(map(INCH_POUND["N"].metric, values))
    elif len(units) > 1:
        raise ArgumentTypeError(f'"{text}" mixes units; write lbf after both, as in 1700lbf,1900lbf')
    if len(values) != 2 or not all(map(math.isfinite, values)) or not 0 < values[0] < values[1]:
        right = "give newtons above 0, the lower first, as in 7000,9000, or 1700lbf,1900lbf"
        raise ArgumentTypeError(f'"{text}" is not two tensions; {right}')
    return values[0], values[1]


def _confidence(text: str) -> float:
    from drivekit.study.study_input import MOST_CONFIDENCE

    value = _number(text)
    if not 0 < value <= MOST_CONFIDENCE:
        sentence = f'"{text}" is not a confidence; give a number above 0 and up to {MOST_CONFIDENCE}, as in 0.95'
        raise ArgumentTypeError(sentence)
    return value


def _number(text: str) -> float:
    """Read a number; what is none becomes one that no test lets pass."""
    try:
        return float(text)
    except ValueError:
        return math.nan
