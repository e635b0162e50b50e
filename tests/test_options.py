"""What may be typed: every option said in words, every misuse answered by one plain sentence, help as in the README."""

from __future__ import annotations

import re
from argparse import ArgumentParser
from pathlib import Path

import pytest

import drivekit
from drivekit.cli import COMMANDS, main
from drivekit.options import parsed, parsers

TOP = Path(__file__).parents[1]
README = (TOP / "README.md").read_text()


def options(parser: ArgumentParser) -> dict[str, str]:
    """Every option's long name, and its line of help."""
    return {action.option_strings[0]: action.help or "" for action in parser._actions if action.option_strings}


def test_the_commands_are_those_of_the_command_line() -> None:
    assert list(parsers()[1]) == list(COMMANDS) == ["new", "check", "add", "study", "meeting", "drive", "demo", "lab"]


def test_study_has_exactly_its_options() -> None:
    assert set(options(parsers()[1]["study"])) == {
        *("--out", "--failures", "--columns", "--horizon", "--tension-cuts"),
        *(
            "--confidence",
            "--workbooks",
            "--seed",
            "--against",
            "--costs",
            "--risk",
            "--runs",
            "--since",
            "--figures",
            "--drive",
            "--help",
        ),
    }


def test_every_option_and_every_argument_has_a_line_in_words() -> None:
    top, commands = parsers()
    for parser in (top, *commands.values()):
        for action in parser._actions:
            if action.dest != "command":
                assert re.fullmatch(r"[a-z.].{8,}", action.help or ""), f"{parser.prog} {action.dest}"


def test_every_command_shows_one_example() -> None:
    for name, parser in parsers()[1].items():
        assert re.fullmatch(rf"example:\n  drivekit {name}( [\w./-]+)*", parser.epilog or "")


@pytest.mark.parametrize("command", [None, *COMMANDS])
def test_the_readme_shows_the_help_as_it_is(command: str | None, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "110")
    top, commands = parsers()
    parser, line = (commands[command], f"drivekit {command} --help") if command else (top, "drivekit --help")
    assert f"$ {line}\n{parser.format_help()}" in README


def test_the_version_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["--version"])
    assert ended.value.code == 0
    assert capsys.readouterr().out == f"drivekit {drivekit.__version__}\n"


CAUSES = "tooth-jump, tooth-loss, edge-split, cord-pull, contaminated, engine-trouble, precaution, sold, unknown"
SHARE = "is not a confidence; give a number above 0 and up to 0.999999, as in 0.95"
CUTS = "is not two tensions; give newtons above 0, the lower first, as in 7000,9000, or 1700lbf,1900lbf"
COSTS = (
    "is not what changes cost; give two or three numbers above 0, as in 1,8: a planned change, a failure, "
    "a lost elimination"
)
RISK = "is not a risk; give a number between 0 and 1, as in 0.1"
MISUSES = {
    "": "say what to do: new, check, add, study, meeting, drive, demo, lab",
    "stdy": '"stdy" is no command; did you mean study? (new, check, add, study, meeting, drive, demo, lab)',
    "-x": '"-x" is no option of drivekit; one of --version, --help',
    "study": "drivekit study needs LOG",
    "new": "drivekit new needs PATH",
    "drive": "drivekit drive needs FILE",
    "meeting a": "drivekit meeting needs BELT",
    "meeting a 1 --qualifying -1": '--qualifying: "-1" is not a number of rounds; give a whole number, 0 or more',
    "meeting a 1 --eliminations x": '--eliminations: "x" is not a number of rounds; give a whole number, 0 or more',
    "drive a --ot b": '"--ot" is no option of drivekit drive; did you mean --out? (--out, --help)',
    "study a b": '"b" is one word too many',
    "lab a b": '"b" is one word too many',
    "check a --colums b": '"--colums" is no option of drivekit check; did you mean --columns? (--columns, --help)',
    "study a --horiz 3": '"--horiz" is no option of drivekit study; did you mean --horizon?',
    "study a --out": "--out needs a value after it",
    "study a --workbooks=yes": '--workbooks takes no value, and "yes" was given',
    "study a --horizon 0": '--horizon: "0" is not a number of runs; give a whole number, 1 or more',
    "study a --horizon 2.5": '--horizon: "2.5" is not a number of runs; give a whole number, 1 or more',
    "study a --horizon=-3": '--horizon: "-3" is not a number of runs; give a whole number, 1 or more',
    "study a --horizon ٣": '--horizon: "٣" is not a number of runs; give a whole number, 1 or more',
    "study a --seed ٣": '--seed: "٣" is not a seed; give a whole number, 0 or more',
    "study a --seed 12345678901": "--seed: a seed is at most 999999999, and a number of 11 digits was given",
    "study a --tension-cuts 1700lbf,1900": (
        '--tension-cuts: "1700lbf,1900" mixes units; write lbf after both, as in 1700lbf,1900lbf'
    ),
    "study a --seed one": '--seed: "one" is not a seed; give a whole number, 0 or more',
    "study a --confidence .9999999999999999": f'--confidence: ".9999999999999999" {SHARE}',
    "study a --confidence 95": f'--confidence: "95" {SHARE}',
    "study a --confidence 1": f'--confidence: "1" {SHARE}',
    "study a --confidence nan": f'--confidence: "nan" {SHARE}',
    "study a --tension-cuts 9,5": f'--tension-cuts: "9,5" {CUTS}',
    "study a --tension-cuts 5": f'--tension-cuts: "5" {CUTS}',
    "study a --tension-cuts 5,inf": f'--tension-cuts: "5,inf" {CUTS}',
    "study a --tension-cuts 0,5": f'--tension-cuts: "0,5" {CUTS}',
    "study a --tension-cuts a,b": f'--tension-cuts: "a,b" {CUTS}',
    "study a --costs 1": f'--costs: "1" {COSTS}',
    "study a --costs 1,0": f'--costs: "1,0" {COSTS}',
    "study a --costs 1,2,3,4": f'--costs: "1,2,3,4" {COSTS}',
    "study a --costs a,8": f'--costs: "a,8" {COSTS}',
    "study a --risk 1": f'--risk: "1" {RISK}',
    "study a --risk ten": f'--risk: "ten" {RISK}',
    "study a --runs 0": '--runs: "0" is not a number of runs; give a whole number, 1 or more',
    "study a --failures tooth-jum": f'--failures: "tooth-jum" is no cause; did you mean tooth-jump? ({CAUSES})',
    "add a --set fate": '--set: "fate" names no cell; give a heading and its value, as in car=blue',
    "study a --figures big": '--figures: "big" is no size of a figure; one of screen, slide, print, phone',
    "study a --failures ,": f"--failures: name at least one cause: {CAUSES}",
}


@pytest.mark.parametrize("typed", MISUSES)
def test_what_cannot_be_used_is_answered_by_one_sentence_and_code_2(
    typed: str, capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(typed.split()) == 2
    said = capsys.readouterr()
    sentence, more = said.err.splitlines()
    assert sentence.startswith(f"drivekit: {MISUSES[typed]}")
    assert sentence.endswith(".")
    assert re.fullmatch(r"More: drivekit( \w+)? --help", more)
    assert said.out == ""
    assert list(tmp_path.iterdir()) == []


def test_no_word_of_a_programmer_reaches_the_help() -> None:
    top, commands = parsers()
    for parser in (top, *commands.values()):
        assert not re.search(r"argument|\bint\b|float|None|default|namespace", parser.format_help(), re.I)


def test_tension_cuts_may_carry_pounds() -> None:
    low, high = parsed(["study", "a", "--tension-cuts", "1700lbf,1900 lbf"]).tension_cuts
    assert (round(low, 3), round(high, 3)) == (7561.977, 8451.621)
