"""What a workbook holds: a season studied, and the words and tables that answer."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import cached_property
from html import escape, unescape
from typing import Any

from drivekit.log.season import Season, read_season, run_table
from drivekit.show import words
from drivekit.study import findings as _findings
from drivekit.study.as_json import Block
from drivekit.study.comparisons import COMPARISONS, Comparison
from drivekit.study.study_input import Settings, StudyInput

__all__ = ["ALL_CARS", "Study", "Table", "Words", "cars", "recorded", "runs_of_car", "sentence", "study"]

ALL_CARS = "all cars"


@dataclass(frozen=True, slots=True)
class Words:
    """Sentences to be read under a picture.

    Parameters
    ----------
    sentences : tuple of str
        Each a whole sentence.
    """

    sentences: tuple[str, ...]

    def __str__(self) -> str:
        return "\n".join(self.sentences)

    def __repr__(self) -> str:
        return str(self)

    def _repr_html_(self) -> str:
        return "".join(f"<p>{escape(sentence)}</p>" for sentence in self.sentences)


@dataclass(frozen=True, slots=True, repr=False)
class Table:
    """A table to be read in a workbook.

    Parameters
    ----------
    html : str
        Its HTML, all that was typed escaped.
    """

    html: str

    def __repr__(self) -> str:
        rows = self.html.replace("</tr>", "\n").replace("</caption>", "\n")
        return unescape("\n".join(" | ".join(_texts(row)) for row in rows.splitlines() if _texts(row)))

    def _repr_html_(self) -> str:
        return self.html


def _texts(html: str) -> list[str]:
    return [text for text in re.findall(r">([^<>]+)<", f">{html}<") if text.strip()]


@dataclass(frozen=True, eq=False, repr=False)
class Study:
    """A season's log together with what the study found in it.

    Parameters
    ----------
    season : Season
        The log.
    settings : Settings
        What was chosen.
    findings : dict
        Plain data, as `drivekit.study.findings.study` gives them.
    comparisons : tuple of Comparison
        What was held against each other.
    """

    season: Season
    settings: Settings
    findings: Block
    comparisons: tuple[Comparison, ...] = COMPARISONS

    @cached_property
    def asked(self) -> StudyInput:
        """The run table and the settings, to ask more of."""
        return StudyInput(run_table(self.season), self.settings, self.comparisons)

    def __str__(self) -> str:
        return str(self.season)

    def __repr__(self) -> str:
        return str(self)

    def _repr_html_(self) -> str:
        return self.season._repr_html_()


def study(log: str, *, columns: str | None = None, **settings: Any) -> Study:
    """Read a log and study it.

    Parameters
    ----------
    log : str
        Folder with belts.csv and runs.csv, or a spreadsheet.
    columns : str, optional
        A map of the person's own headings.
    **settings
        As in `drivekit.study.study_input.Settings`.

    Raises
    ------
    Unusable, Faulty
        When there is no log, or it has faults; a notebook shows their sentences alone.
    ValueError
        When a setting cannot be used.
    """
    season = read_season(log, columns)
    chosen = Settings(**settings)
    return Study(season, chosen, _findings.study(season, chosen))


def sentence(findings: Block, name: str) -> str:
    """Answer the question of one setting, planned or exploratory."""
    planned = name in findings["headline"]
    return str(words.answer(findings, name) if planned else words.exploratory_answer(findings, name))


def runs_of_car(study: Study, car: str, settings: Settings) -> StudyInput:
    """Ask of one car's runs, or of all."""
    table = study.asked.table
    runs = table if car == ALL_CARS else table.where(table["car"] == car)
    return replace(study.asked, table=runs, settings=settings)


def cars(study: Study) -> list[str]:
    """List the cars of the log."""
    return sorted(set(study.asked.table["car"]))


def recorded(study: Study) -> dict[str, Comparison]:
    """Give the comparisons whose column the log has, by how they are said."""
    return {comparison.said: comparison for comparison in study.comparisons if comparison.column in study.asked.table}
