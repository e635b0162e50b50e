"""One run more for a log: what is asked of it, what is wrong with the answers, and the log's files with it.

Answers are texts as a person types them, by our names of the columns, in the units and words of the log's own headings.
They are checked by the rules of every log, with the row in its table. A text file keeps its separators, quotes, line
ends and every byte that was there. Of a spreadsheet only the sheet's rows are touched, and not by a library that reads
all and writes it anew: so formats, drop-downs, charts, and formulas with their values stay as they are.
"""

from __future__ import annotations

import csv
import datetime
import io
import re
import zipfile
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from hashlib import sha256
from pathlib import Path
from typing import Any, NamedTuple
from xml.sax.saxutils import escape

from drivekit.faults import Fault, Faulty, Unusable, nearest, shown
from drivekit.log.cells import NUMBER, Sheet, Sheets
from drivekit.log.columns import Column
from drivekit.log.guess import ISO_DAY, SLASHED
from drivekit.log.headings import Placed
from drivekit.log.reading import Source, files_of, source, text_of
from drivekit.log.rules import WAS
from drivekit.log.season import checked
from drivekit.log.tables import Table, csv_text, delimiter_of, with_row

__all__ = ["Answers", "OpenLog", "Question", "open_log", "typed"]

Answers = Mapping[str, str]
MADE_ALIKE = ("compound", "width_mm", "pitch_mm", "teeth", "mass_g_per_m", "stiffness_n", "cost")
"""What a new belt most likely shares with the last one."""
SET, OF_A_DAY = "The drive as set", ("meeting", "round")
BLANK_ROWS = re.compile(r"(?:(?<=\n)|(?<=\r)(?!\n))(?:[ \t,;]*(?:\r\n|\r|\n))+\Z")
BOM = b"\xef\xbb\xbf"


class Question(NamedTuple):
    """What is asked of one column: where it stands, what is offered, and what may be chosen or was written before."""

    place: Placed
    offered: str
    known: tuple[str, ...]

    @property
    def label(self) -> str:
        """The column in words, with the unit in which the log has it."""
        column = self.place.column
        return f"{column.label}, {self.place.units.name(column.unit)}" if column.unit else column.label


@dataclass(frozen=True, eq=False)
class OpenLog:
    """A log without a fault, to which a run is to be added."""

    path: Path
    columns: str | Path | None  # the map of the person's own headings
    found: Source
    sheets: Sheets
    faults: tuple[Fault, ...]  # what it warns of without the run; of an empty table also that it is empty

    @cached_property
    def places(self) -> dict[str, dict[str, Placed]]:
        """The columns that the log has, by the names of its tables and ours of the columns, in our order."""
        return {
            name: {our: cells.place for our, cells in sheet.columns.items() if cells.there}
            for name, sheet in (("belts", self.sheets.belts), ("runs", self.sheets.runs))
        }

    def is_new(self, belt: str) -> bool:
        """Whether a belt has no row among the belts."""
        return bool(belt) and belt not in self.sheets.belt_names

    def of_run(self, run: Answers) -> Iterator[Question]:
        """Ask for a run, each question by what was answered to those before: `run` may be filled on the way.

        Offered are the next number, today, and the drive as it was last set on that car.
        """
        places, sheet = self.places["runs"], self.sheets.runs
        last = {name: self._last(sheet, {}).get(name, "") for name in (*OF_A_DAY, "run", "day", "car")}
        for name, place in places.items():
            column, offered = place.column, ""
            if name == "cause" and run.get("fate") and self._meant(places["fate"], run["fate"]) not in WAS:
                continue
            if name == "run":
                offered = str(int(max(sheet["run"].value[self.sheets.order], default=0)) + 1)
            elif name == "day":
                offered = _as_before(datetime.date.today(), place.order, last["day"])
            elif name == "car" or (name in OF_A_DAY and run.get("day") == last["day"]):
                offered = last[name]
            elif (name == "belt" or column.part == SET) and not (column.gives and run.get(column.gives)):
                offered = self._as_set(name, run.get("car", ""))
            yield Question(place, offered, self._known(sheet, place))

    def of_belt(self, run: Answers) -> Iterator[Question]:
        """Ask for the new belt of a run: what it is made of is offered as of the last one in the table."""
        sheet = self.sheets.belts
        for name, place in self.places["belts"].items():
            if name != "belt":
                last = sheet[name].typed(len(sheet) - 1) if name in MADE_ALIKE and len(sheet) else None
                offered = run.get("day", "") if name == "first_day" else last or ""
                yield Question(place, offered, self._known(sheet, place))

    def wrong(self, run: Answers, belt: Answers | None = None) -> tuple[Fault, ...]:
        """Find what is wrong, or unlikely, in the log with a run as its last, and was not without it."""
        before = set(self.faults)
        return tuple(fault for fault in checked(self._with(run, belt), self.columns)[2] if fault not in before)

    def place_of(self, fault: Fault) -> tuple[str, str] | None:
        """Give table and column, by our names, of a fault in the rows that are added; None of any other."""
        for name, places in self.places.items():
            table: Table = getattr(self.found, name)
            if (fault.file, fault.line) == (table.file, table.last_line + 1):
                return next(((name, our) for our, place in places.items() if place.heading == fault.column), None)
        return None

    def named(self, pairs: Mapping[str, str]) -> tuple[dict[str, str], dict[str, str] | None]:
        """Sort answers by heading to a run, and to its new belt those whose heading begins with ``belts.``.

        What is not named is what `of_run` offers.

        Raises
        ------
        Unusable
            If a name is no heading of the log.
        """
        given: dict[str, dict[str, str]] = {"runs": {}, "belts": {}}
        for said, value in pairs.items():
            name, heading = ("belts", said.removeprefix("belts.")) if said.startswith("belts.") else ("runs", said)
            table = getattr(self.found, name)
            by_heading = {table.headings[place.at].lower(): our for our, place in self.places[name].items()}
            by_heading |= {our: our for our, place in self.places[name].items() if not place.units.inch_pound}
            if heading.lower() not in by_heading:
                offer = nearest(heading, list(by_heading))
                raise Unusable(f'"{shown(heading)}" is no heading of {table.file} that is read; {offer}')
            given[name][by_heading[heading.lower()]] = typed(value)
        run, belt = given["runs"], given["belts"]
        filled: dict[str, str] = dict(run)
        for question in self.of_run(filled):
            filled.setdefault(question.place.column.name, question.offered)
        if not belt:
            return filled, None
        offered = {one.place.column.name: one.offered for one in self.of_belt(filled)}
        return filled, offered | belt

    def files(self, run: Answers, belt: Answers | None = None) -> dict[str, bytes]:
        """Make the files that change, by name and the belts first, checked as a whole log.

        Raises
        ------
        Faulty
            If the log with the run has a fault.
        Unusable
            If its files are no longer those that were read.
        """
        contents = {file.name: file.read_bytes() for file in files_of(self.path)}
        if sha256(b"".join(contents.values())).hexdigest() != self.found.sha256:
            raise Unusable(f"{self.found.name} was changed meanwhile; nothing was added to it")
        changed: dict[str, bytes] = {}
        for name, answers in (("belts", belt), ("runs", run)):
            if answers is not None:
                row = self._row(name, run, answers)
                if self.path.is_dir():
                    changed[f"{name}.csv"] = _with_line(name, contents[f"{name}.csv"], row)
                    continue
                before = changed.get(self.path.name, contents[self.path.name])
                columns = {place.at: place.column for place in self.places[name].values()}
                changed[self.path.name] = _with_sheet_row(getattr(self.found, name), before, columns, row)
        faults = checked(source(self.path, contents | changed), self.columns)[2]
        if any(not fault.warning for fault in faults):
            raise Faulty(fault for fault in faults if fault not in set(self.faults))
        return changed

    def _with(self, run: Answers, belt: Answers | None) -> Source:
        found = self.found._replace(runs=with_row(self.found.runs, self._row("runs", run, run)))
        return found if belt is None else found._replace(belts=with_row(found.belts, self._row("belts", run, belt)))

    def _row(self, name: str, run: Answers, answers: Answers) -> list[str]:
        """Lay answers out under the headings of a table; one that is not ours is left blank."""
        row = [""] * len(getattr(self.found, name).headings)
        for our, place in self.places[name].items():
            row[place.at] = run.get("belt", "") if our == "belt" else answers.get(our, "")
        return row

    def _last(self, sheet: Sheet, where: Answers) -> dict[str, str]:
        """Give the cells, as typed, of the last run where columns hold this; empty where there is none."""
        for row in self.sheets.order[::-1]:
            if all(sheet[name].typed(row) == value for name, value in where.items()):
                return {name: sheet[name].typed(row) or "" for name in self.places["runs"]}
        return {}

    def _as_set(self, name: str, car: str) -> str:
        """Give what a car last ran with; no belt that has ended."""
        last = self._last(self.sheets.runs, {"car": car})
        ended = name == "belt" and last and self._meant(self.places["runs"]["fate"], last["fate"]) in WAS
        return "" if ended else last.get(name, "")

    def _meant(self, place: Placed, answer: str) -> str:
        return place.words.get(answer.lower(), answer.lower())

    def _known(self, sheet: Sheet, place: Placed) -> tuple[str, ...]:
        """List the levels in the person's own words; of names those met, of belts those that have not ended."""
        column = place.column
        if column.levels:
            met = {self._meant(place, word): word for word in reversed(sheet[column.name].text.distinct) if word}
            own = {our: theirs for theirs, our in reversed(list(place.words.items()))}
            return tuple(met.get(level, own.get(level, level)) for level in column.levels)
        if column.name == "belt":
            fates = enumerate(self.sheets.runs["fate"].value)
            ended = {self.sheets.runs["belt"].typed(row) for row, fate in fates if fate in WAS}
            return tuple(belt for belt in self.sheets.belt_names if belt and belt not in ended)
        return tuple(filter(None, sheet[column.name].text.distinct)) if column.kind == "name" else ()


def open_log(path: str | Path, columns: str | Path | None = None) -> OpenLog:
    """Read a log to which a run is to be added.

    Raises
    ------
    Unusable
        If there is no log.
    Faulty
        If it has faults already; that its tables are empty is none here.
    """
    found = source(path)
    sheets, _, faults = checked(found, columns)
    empty = {table.file for table in (found.belts, found.runs) if not len(table.line)}
    wrong = [fault for fault in faults if not fault.warning and not (fault.file in empty and fault.line is None)]
    if sheets is None or wrong:
        has = f"has {len(wrong)} {'fault' if len(wrong) == 1 else 'faults'} already, so nothing is added to it"
        right = "mend what drivekit check says of it, then add the run"
        raise Faulty([Fault(found.name, None, "", None, has, right)])
    return OpenLog(Path(path).resolve(), columns, found, sheets, faults)


def typed(answer: str) -> str:
    """Make of an answer what a cell holds: one line, all of it to be seen."""
    return shown(" ".join(answer.splitlines()).strip(), None)


def _as_before(day: datetime.date, order: str, last: str) -> str:
    """Write a day as the last one was written."""
    slashed = SLASHED.fullmatch(last)
    if not (slashed and order):
        return day.isoformat()
    first, second = (day.month, day.day) if order == "month first" else (day.day, day.month)
    return f"{first}{slashed['mark']}{second}{slashed['mark']}{day.year}"


def _with_line(name: str, content: bytes, row: Sequence[str]) -> bytes:
    """Add a row to a text file, below the last that is not blank, in the file's own way of writing."""
    text = text_of(name, content)
    ends = re.search(r"\r\n|\r|\n", text)
    end = ends[0] if ends else "\n"
    blank = BLANK_ROWS.search(text)
    head = text[: blank.start()] if blank else text
    heading = head.lstrip("\r\n").split(end)[0]
    quoting = csv.QUOTE_ALL if heading.count('"') == 2 * len(row) else csv.QUOTE_MINIMAL
    line = csv_text([row], delimiter=delimiter_of(name, text), lineterminator=end, quoting=quoting)
    lead = "" if head.endswith(("\r", "\n")) else end
    return BOM * content.startswith(BOM) + f"{head}{lead}{line}{text[len(head) :]}".encode()


def _with_sheet_row(table: Table, content: bytes, columns: Mapping[int, Column], row: Sequence[str]) -> bytes:
    """Add a row to a sheet, below its last: the styles are those of the row above, or of a blank row that stands there.

    Raises
    ------
    Unusable
        If the rows of the sheet are not numbered.
    """
    from openpyxl import load_workbook
    from openpyxl.utils import get_column_letter

    book = load_workbook(io.BytesIO(content), read_only=True)
    title = next(title for title in book.sheetnames if title.strip().lower() == table.file.split("[")[-1][:-1])
    part = book[title]._worksheet_path.lstrip("/")
    archive = zipfile.ZipFile(io.BytesIO(content))
    sheet = archive.read(part).decode()
    last, line = table.last_line, table.last_line + 1
    over, under = _row_of(sheet, last), _row_of(sheet, line)
    if over is None:
        raise Unusable(f"{table.file} does not number its rows: save it in a spreadsheet program, then add the run")
    prefix = over["prefix"]
    like, cells = _cells_of(over[0]) if len(table.line) else {}, _cells_of(under[0] if under else "")
    for at, column in columns.items():
        letter = get_column_letter(at + 1)
        above = like.get(letter, "")
        of_cell = _cell(column, row[at], above, cells.get(letter, above), book.epoch, prefix)
        cells[letter] = f'<{prefix}c r="{letter}{line}"{of_cell}'
    # of the row above only what it is like is taken, and nothing of a heading
    tag = under["tag"] if under else over["tag"] if len(table.line) else ""
    tag = re.sub(r'\sr=["\'][0-9]+["\']', "", tag)
    ordered = "".join(cells[letter] for letter in sorted(cells, key=lambda letter: (len(letter), letter)))
    made = f'<{prefix}row r="{line}"{tag}>{ordered}</{prefix}row>'
    start, end = under.span() if under else (over.end(), over.end())
    rows_from, rows_to = sheet.index("sheetData>"), sheet.rindex("sheetData>")
    rows = sheet[rows_from:start] + made + sheet[end:rows_to]
    changed = {part: _lengthened(sheet[:rows_from], last) + rows + _lengthened(sheet[rows_to:], last)}
    related = "{}/_rels/{}.rels".format(*part.rsplit("/", 1))
    if related in archive.namelist():
        for list_of in re.findall(r'Target="(?:\.\./|/xl/)(tables/[^"]+)"', archive.read(related).decode()):
            changed[f"xl/{list_of}"] = _lengthened(archive.read(f"xl/{list_of}").decode(), last)
    kept = io.BytesIO()
    with zipfile.ZipFile(kept, "w") as written:
        for info in archive.infolist():
            written.writestr(info, changed.get(info.filename, archive.read(info)), info.compress_type)
    return kept.getvalue()


def _row_of(sheet: str, line: int) -> re.Match[str] | None:
    of_line = rf'<(?P<prefix>(?:\w+:)?)row\b(?P<tag>[^>]*?\sr=["\']{line}["\'][^>]*?)(?:/>|>.*?</(?P=prefix)row>)'
    return re.search(of_line, sheet, re.DOTALL)


def _cells_of(row: str) -> dict[str, str]:
    """Part a row into its cells, each by its letters."""
    pattern = r'<((?:\w+:)?)c\b[^>]*?\sr=["\']([A-Z]+)[0-9]+["\'][^>]*?(?:/>|>.*?</\1c>)'
    return {found[2]: found[0] for found in re.finditer(pattern, row, re.DOTALL)}


def _cell(column: Column, text: str, above: str, own: str, epoch: Any, prefix: str) -> str:
    """Write what follows a cell's place: a number, or a text that no spreadsheet takes for anything else.

    Its style is its own where it stands there blank, else that of the cell above. A day is a number as that one is, and
    with its style, which alone makes it a day; so is a name of digits.
    """
    from openpyxl.utils.datetime import to_excel

    numbered = f"<{prefix}v>" in above and re.search(r'^<[^>]*\st=["\'][^n]', above) is None
    if column.kind == "day" and numbered and ISO_DAY.fullmatch(text):
        text, own = str(int(to_excel(datetime.date.fromisoformat(text), epoch))), above
    style = re.match(r'<[^>]*(\ss=["\'][^"\']*["\'])', own)
    start = style[1] if style else ""
    if not text:
        return f"{start}/>"
    if NUMBER.fullmatch(text) and (column.is_number or (numbered and text == text.lstrip("0"))):
        return f"{start}><{prefix}v>{text}</{prefix}v></{prefix}c>"
    inside = f'<{prefix}t xml:space="preserve">{escape(text)}</{prefix}t>'
    return f'{start} t="inlineStr"><{prefix}is>{inside}</{prefix}is></{prefix}c>'


def _lengthened(part: str, last: int) -> str:
    """Let every area that ended with a row (a table, a filter, a drop-down) end with the next."""
    ends = re.compile(rf"(:\$?[A-Z]+\$?){last}\b")
    return re.sub(r'\s(?:sq)?ref="[^"]*"', lambda found: ends.sub(rf"\g<1>{last + 1}", found[0]), part)
