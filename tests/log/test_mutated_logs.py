"""Mutated logs, seeded: no traceback, and no answer that changes in silence.

`FUZZ` in the environment says how many; each has a number, by which it can be made again.
"""

import csv
import io
import os
import random
from pathlib import Path

from openpyxl import Workbook

from drivekit.faults import Unusable
from drivekit.log import check_season, read_season

SEASON = Path(__file__).parents[2] / "data" / "season-two"
COUNT = int(os.environ.get("FUZZ", "500"))
ROWS = 60
BYTES = (b'"', b"\0", b"\xe9", b",", b"\n", b"\r\n", b";", b"\xef\xbb\xbf", b"\xe2\x80\xa8", b"\t", b"'")
CELLS = (
    "?",
    "x",
    "8,000",
    "1e999",
    "\u0663",
    "tothed",
    "2026-3-7",
    "a\nb",
    'a"b',
    "\x1b[31m",
    "#REF!",
    "TRUE",
    "viole t",
    "-1",
)


def tables() -> dict[str, list[list[str]]]:
    rows = {name: list(csv.reader((SEASON / f"{name}.csv").read_text().splitlines())) for name in ("belts", "runs")}
    rows["runs"] = rows["runs"][:ROWS]
    ran = {row[rows["runs"][0].index("belt")] for row in rows["runs"]}
    rows["belts"] = [row for row in rows["belts"] if row[0] == "belt" or row[0] in ran]
    return rows


def mutated(number: int, folder: Path) -> Path:
    """Write one mutated log, and say where."""
    draw, log = random.Random(number), tables()
    name = draw.choice(["belts", "runs"])
    table = log[name]
    row, column = draw.randrange(1, len(table)), draw.randrange(len(table[0]))
    kind = draw.choice(["cell", "drop", "twice", "ragged", "bytes", "quotes"])
    if kind == "cell":
        table[row][column] = draw.choice(CELLS)
    elif kind == "drop" and name == "runs" and 1 < row < len(table) - 1:
        # That the first or last run is gone cannot be seen; nor is a spare belt missed.
        del table[row]
    elif kind == "twice":
        table.insert(row, list(table[row]))
    elif kind == "ragged":
        table[row] = table[row][:-1] if draw.random() < 0.5 else [*table[row], "more"]
    if draw.random() < 0.1:
        book = Workbook()
        book.remove(book.active)
        for title, rows in log.items():
            sheet = book.create_sheet(title)
            for cells in rows:
                sheet.append(["".join(c for c in cell if c.isprintable()) for cell in cells])
        place = folder / "log.xlsx"
        book.save(place)
        if kind == "bytes":
            content = bytearray(place.read_bytes())
            content[draw.randrange(len(content))] ^= 1 << draw.randrange(8)
            place.write_bytes(content)
        return place
    for title, rows in log.items():
        text = io.StringIO()
        csv.writer(text, lineterminator="\n").writerows(rows)
        (folder / f"{title}.csv").write_text(text.getvalue())
    place = folder / f"{name}.csv"
    content = place.read_bytes()
    if kind == "bytes":
        at = draw.randrange(len(content))
        content = content[:at] + draw.choice(BYTES) + content[at:]
    elif kind == "quotes":
        lines = content.split(b"\n")
        first = draw.randrange(1, len(lines) - 3)
        last = draw.randrange(first + 1, len(lines) - 1)
        lines[first] = lines[first].rsplit(b",", 1)[0] + b',"loose'
        lines[last] += b'"'
        content = b"\n".join(lines)
    place.write_bytes(content)
    return folder


def test_mutated_logs_end_in_an_answer_or_in_sentences_and_lose_no_row_in_silence(tmp_path) -> None:
    whole = len(tables()["runs"]) - 1
    silent, refusals = [], []
    for number in range(COUNT):
        folder = tmp_path / "log"
        folder.mkdir(exist_ok=True)
        for old in folder.iterdir():
            old.unlink()
        place = mutated(number, folder)
        try:
            faults = check_season(place)
            lines = [str(fault) for fault in faults]
        except Unusable as refused:
            faults, lines = (), [str(refused)]
            refusals.append(number)
        assert all(len(line.splitlines()) == 1 for line in lines), number
        assert all("Error" not in line and "None" not in line for line in lines), number
        if not lines and len(read_season(place).runs) != whole:
            silent.append(number)
    assert silent == []
    assert len(refusals) < COUNT / 2
