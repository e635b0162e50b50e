"""Mutated logs, seeded: no traceback, no answer that changes in silence, no half file.

A second reader, written here and sharing nothing with the first but the table of columns, says what stands in a
mutated log: where it finds a cell that is not sound, or a row or column gone, drivekit must say so; where drivekit says
nothing, both must have read the same. `FUZZ` in the environment says how many logs; each has a number, by which it can
be made again: ``mutated(number, folder)``.
"""

import csv
import datetime
import io
import os
import random
import re
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from openpyxl import Workbook, load_workbook

from drivekit.cli import main
from drivekit.faults import Unusable
from drivekit.folder import standing
from drivekit.log import BELTS, RUNS, Column, check_season, read_season

SEASON = Path(__file__).parents[2] / "data" / "season-two"
COUNT = int(os.environ.get("FUZZ", "500"))
ROWS = 60
COLUMNS = {"belts": {column.name: column for column in BELTS}, "runs": {column.name: column for column in RUNS}}
Tables = dict[str, list[list[Any]]]

BYTES = [b'"', b"\0", b"\xe9", b",", b"\n", b"\r", b"\r\n", b";", b"\xef\xbb\xbf", b"\xe2\x80\xa8", b"\xc2\xa0", b"\t"]
BYTES += [b"'", b"0", b"9", b"-", b".", b" ", b"e", b"?", b"\xe2\x80\x8b", b"\x1b"]
CELLS: list[Any] = ["", "?", "x", "8,000", "1e999", "\u0663", "tothed", "2026-3-7", "3/7/2026", "a\nb", 'a"b', "TRUE"]
CELLS += [
    "#REF!",
    "viole t",
    "-1",
    "0",
    "12.5",
    "8000 N",
    "nan",
    "inf",
    "0x10",
    "1_000",
    "+5",
    "5.",
    "smooth",
    "\x1b[31m",
]
SHEET_CELLS: list[Any] = [True, 7, 7.25, datetime.date(2026, 3, 7), datetime.datetime(2026, 3, 7, 9), "=1+1", "#N/A"]
NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?", re.ASCII)


def tables() -> Tables:
    """Season two's first runs and their belts, as cells; nothing is said of them."""
    rows: Tables = {name: list(csv.reader((SEASON / f"{name}.csv").read_text().splitlines())) for name in COLUMNS}
    rows["runs"] = rows["runs"][:ROWS]
    ran = {row[rows["runs"][0].index("belt")] for row in rows["runs"]}
    rows["belts"] = [row for row in rows["belts"] if row[0] == "belt" or row[0] in ran]
    return rows


def change(draw: random.Random, rows: list[list[Any]], cells: list[Any]) -> None:
    """Change one table's cells, rows or headings."""
    row, column = draw.randrange(1, len(rows)), draw.randrange(len(rows[0]))
    kind = draw.choice(["cell", "cell", "other", "swap", "drop", "twice", "ragged", "heading", "columns", "blank"])
    if kind == "cell":
        rows[row][column] = draw.choice(cells)
    elif kind == "other":
        rows[row][column] = rows[draw.randrange(1, len(rows))][column]
    elif kind == "swap":
        other = draw.randrange(1, len(rows))
        rows[row], rows[other] = rows[other], rows[row]
    elif kind == "drop":
        del rows[row]
    elif kind == "twice":
        rows.insert(row, list(rows[row]))
    elif kind == "ragged":
        rows[row] = rows[row][:-1] if draw.random() < 0.5 else [*rows[row], "more"]
    elif kind == "heading":
        name = str(rows[0][column])
        rows[0][column] = draw.choice(
            [name.upper(), f" {name} ", name[:-1], f"{name}s", "", rows[0][0], f"{name}\u200b"]
        )
    elif kind == "columns":
        other = draw.randrange(len(rows[0]))
        for cells_of in rows:
            cells_of[column], cells_of[other] = cells_of[other], cells_of[column]
    elif kind == "blank":
        rows.insert(row, [""] * len(rows[0]))


def spoilt(draw: random.Random, content: bytes) -> bytes:
    """Change a file's bytes, quotes, line ends or encoding."""
    kind = draw.choice(["put", "put", "take", "flip", "cut", "quote", "quotes", "ends", "encoding", "semicolons"])
    at = draw.randrange(len(content))
    lines = content.split(b"\n")
    first = draw.randrange(1, len(lines) - 3)
    last = draw.randrange(first + 1, len(lines) - 1)
    if kind == "put":
        return content[:at] + draw.choice(BYTES) + content[at:]
    if kind == "take":
        return content[:at] + content[at + 1 :]
    if kind == "flip":
        return content[:at] + bytes([content[at] ^ 1 << draw.randrange(8)]) + content[at + 1 :]
    if kind == "cut":
        return content[:at]
    if kind == "quote":
        lines[first] = lines[first].replace(b",", b',"', 1)
    elif kind == "quotes":
        lines[first] = lines[first].rsplit(b",", 1)[0] + b',"loose'
        lines[last] += b'"'
    elif kind == "ends":
        return draw.choice([b"\r\n", b"\r", b"\n\n"]).join(lines)
    elif kind == "encoding":
        return content.decode().encode(draw.choice(["utf-16", "utf-8-sig", "utf-16-le", "cp037"]))
    elif kind == "semicolons":
        return content.replace(b",", b";")
    return b"\n".join(lines)


def mutated(number: int, folder: Path) -> Path:
    """Write one mutated log, and say where."""
    draw, log = random.Random(number), tables()
    name = draw.choice(["belts", "runs"])
    as_sheets = draw.random() < 0.2
    in_cells = draw.random() < 0.5
    if in_cells:
        change(draw, log[name], CELLS + SHEET_CELLS if as_sheets else CELLS)
    if as_sheets:
        (place := folder / "log.xlsx").write_bytes(spreadsheet(draw, log, in_cells))
        return place
    for title, rows in log.items():
        text = io.StringIO()
        csv.writer(text, lineterminator="\n").writerows(rows)
        (folder / f"{title}.csv").write_bytes(text.getvalue().encode())
    if not in_cells:
        (folder / f"{name}.csv").write_bytes(spoilt(draw, (folder / f"{name}.csv").read_bytes()))
    return folder


def spreadsheet(draw: random.Random, log: Tables, in_cells: bool) -> bytes:
    book = Workbook()
    book.remove(book.active)
    for title, rows in log.items():
        sheet = book.create_sheet(title)
        for row in rows:
            sheet.append([typed(cell) for cell in row])
    kind = "" if in_cells else draw.choice(["flip", "merge", "name", "sheet"])
    sheet = book[draw.choice(["belts", "runs"])]
    if kind == "merge":
        sheet.merge_cells(start_row=3, start_column=2, end_row=3 + draw.randrange(3), end_column=2 + draw.randrange(3))
    elif kind == "name":
        sheet.title = draw.choice(["Runs ", "BELTS", "other"])
    elif kind == "sheet":
        book.create_sheet(draw.choice(["runs ", "Belts", "notes"]))
    book.save(kept := io.BytesIO())
    content = bytearray(kept.getvalue())
    if kind == "flip":
        content[draw.randrange(len(content))] ^= 1 << draw.randrange(8)
    return bytes(content)


def typed(cell: Any) -> Any:
    """Give a cell as a spreadsheet holds it: numbers and days as such, and no letter that it cannot hold."""
    if not isinstance(cell, str):
        return cell
    if re.fullmatch(r"\d{4}-\d\d-\d\d", cell):
        return datetime.date.fromisoformat(cell)
    return float(cell) if NUMBER.fullmatch(cell) and "e" not in cell else "".join(filter(str.isprintable, cell))


def second_reader(place: Path) -> Tables:
    """Read a log plainly: rows that hold anything, blanks around cells taken off, all as text."""
    if place.suffix == ".xlsx":
        book = load_workbook(place, data_only=True)
        named = {sheet.title.strip().lower(): sheet for sheet in book}
        return {name: [[*map(as_text, row)] for row in named[name].values if any(row)] for name in COLUMNS}
    found: Tables = {}
    for name in COLUMNS:
        text = (place / f"{name}.csv").read_bytes().decode("utf-8-sig")
        mark = ";" if text.split("\n")[0].count(";") > text.split("\n")[0].count(",") else ","
        rows = csv.reader(io.StringIO(text, newline=""), delimiter=mark)
        found[name] = [[cell.strip() for cell in row] for row in rows if any(cell.strip() for cell in row)]
    return found


def as_text(value: Any) -> str:
    if isinstance(value, datetime.datetime):
        return str(value.date() if value.time() == datetime.time() else value)
    return "" if value is None else f"{value:.12g}" if isinstance(value, float) else str(value).strip()


def value_of(column: Column, text: str) -> Any:
    """Give what a sound cell says; a ValueError where it is not sound."""
    if text == "":
        if column.required:
            raise ValueError(text)
        return None
    if column.question and text == "?":
        return None
    if column.levels:
        return column.levels[column.levels.index(text.lower())]
    if column.kind == "day":
        return pd.Timestamp(datetime.datetime.strptime(text, "%Y-%m-%d")) if len(text) == 10 else int("")
    if column.is_number:
        number = float(text) if NUMBER.fullmatch(text) else float("")
        if not column.low <= number <= column.high or (column.kind == "whole" and number % 1):
            raise ValueError(text)
        return number
    if column.kind == "name" and (not text.isprintable() or text in ("TRUE", "FALSE") or text[0] == "#"):
        raise ValueError(text)
    return text


def misread(place: Path) -> str:
    """Say where a log of which nothing was said is not as the second reader finds it; empty where both agree."""
    season, found, base = read_season(place), second_reader(place), tables()
    for name, frame in (("belts", season.belts), ("runs", season.runs)):
        headings = [heading.lower() for heading in found[name][0]]
        filled = {heading for heading, *cells in zip(*base[name], strict=True) if any(cells)}
        if filled - set(headings):
            return f"{name}: a column is gone"
        if len(found[name]) != len(base[name]) or len(frame) != len(found[name]) - 1:
            return f"{name}: rows are gone or more"
        rows = [dict(zip(headings, row, strict=False)) for row in found[name][1:]]
        rows.sort(key=lambda row: float(row["run"]) if name == "runs" else 0)
        for heading in [heading for heading in headings if heading in COLUMNS[name]]:
            try:
                plain = [value_of(COLUMNS[name][heading], row[heading]) for row in rows]
            except (ValueError, KeyError) as wrong:
                return f"{name}: {heading}: {wrong!r} is not sound"
            for ours, theirs in zip(frame[heading], plain, strict=True):
                derived = theirs is None and heading in ("tension_n", "runs_before", "cause")
                if not derived and not (pd.isna(ours) if theirs is None else ours == theirs):
                    return f"{name}: {heading}: {ours!r} where {theirs!r} stands"
    return ""


def unseen(place: Path, log: Tables) -> bool:
    """Whether only the first or last run is gone, or a belt without one: that cannot be seen."""
    found = second_reader(place)
    runs = found["runs"] in (log["runs"], log["runs"][:-1], [log["runs"][0], *log["runs"][2:]])
    return runs and all(row in log["belts"] for row in found["belts"])


def test_the_log_that_is_mutated_is_sound_itself(tmp_path) -> None:
    for name, rows in tables().items():
        with (tmp_path / f"{name}.csv").open("w", newline="") as file:
            csv.writer(file).writerows(rows)
    assert check_season(tmp_path) == ()
    assert misread(tmp_path) == ""


@pytest.fixture
def quiet(capsys: pytest.CaptureFixture[str]) -> Callable[..., int]:
    def ran(*words: str | Path) -> int:
        code = main([*map(str, words)])
        capsys.readouterr()
        return code

    return ran


def test_mutated_logs_end_in_an_answer_or_in_sentences_and_change_nothing_in_silence(tmp_path, quiet) -> None:
    log, silent, refused, sound, studied = tables(), [], 0, 0, 0
    for number in range(COUNT):
        folder = tmp_path / "log"
        folder.mkdir(exist_ok=True)
        for old in folder.iterdir():
            old.unlink()
        place, out, own = mutated(number, folder), tmp_path / "out", tmp_path / "map.toml"
        try:
            faults = check_season(place)
            lines = [str(fault) for fault in faults]
        except Unusable as unusable:
            faults, lines = None, [str(unusable)]
            refused += 1
        assert all(line.isprintable() for line in lines), number
        assert all("Error" not in line and "None" not in line for line in lines), number
        if not lines:
            sound += 1
            wrong = misread(place)
            if wrong and not (wrong.endswith("gone or more") and unseen(place, log)):
                silent.append((number, wrong))
        stopped = faults is None or any(not fault.warning for fault in faults)
        if stopped and number % 5 == 0:
            # What is refused leaves nothing behind.
            assert quiet("study", place, "--out", out) == (2 if faults is None else 1), number
            assert not out.exists(), number
        elif not stopped and studied * 500 <= number:
            studied += 1
            assert quiet("study", place, "--out", out) == 0, number
            assert standing(out).kind == "whole", number
            out.rename(tmp_path / f"out-{number}")
        if number % 5 == 1:
            assert quiet("check", place, "--columns", own) == (2 if faults is None else 0), number
            assert own.exists() == (faults is not None), number
            if own.exists():
                draft = own.read_bytes().decode()
                assert tomllib.loads(draft), number
                assert tomllib.loads(re.sub('^# (")', r"\1", draft, flags=re.MULTILINE)), number
                own.unlink()
    print(f"{COUNT} logs: {refused} refused, {sound} of which nothing was said, {studied} studied, {silent} silent")
    assert silent == []
    assert 0 < refused < COUNT / 2
    assert sound > COUNT / 10
