"""What every workbook holds: a season studied, its figures by their names, and its sentences by what they tell.

A setting is named by its key in the findings, as `drivekit.study.comparisons` lists them.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from html import escape, unescape
from typing import Any

from drivekit.log.columns import CAUSES
from drivekit.log.season import Season, read_season, run_table
from drivekit.notebooks import WORKBOOKS, carried, workbooks_in
from drivekit.show import decision_words, failing, hazard_words, page, team_words, words
from drivekit.show.controls import Control, Drawing
from drivekit.show.markup import made_or_said, table
from drivekit.show.paper import Picture
from drivekit.show.phrases import log_words
from drivekit.study import findings as findings_of
from drivekit.study.as_json import Block
from drivekit.study.comparisons import COMPARISONS, Comparison
from drivekit.study.decisions import DecisionInput
from drivekit.study.hazard_fit import HazardInput
from drivekit.study.study_input import Settings, StudyInput

__all__ = ["SAID", "Study", "Words", "answer", "answer_picture", "contents", "picture", "said", "study"]

ALL_CARS = "all cars"

Told = Callable[[Block], Iterable[str]]


class Words(tuple[str, ...]):
    """Whole sentences, to be read under a picture."""

    __slots__ = ()

    def __repr__(self) -> str:
        return "\n".join(self)

    def _repr_html_(self) -> str:
        return "".join(f"<p>{escape(sentence)}</p>" for sentence in self)


class Table:
    """Tables to be read in a workbook, one below the other: of each what `drivekit.show.markup.table` takes.

    Its `html` has all that was typed escaped.
    """

    def __init__(self, *tables: Sequence[Any]) -> None:
        self.html = "".join(table(*one) for one in tables)

    def __repr__(self) -> str:
        rows = self.html.replace("</tr>", "\n").replace("</caption>", "\n")
        cells = ([text for text in re.findall(r">([^<>]+)<", f">{row}<") if text.strip()] for row in rows.splitlines())
        return unescape("\n".join(" | ".join(texts) for texts in cells if texts))

    def _repr_html_(self) -> str:
        # A notebook sets every cell to the right, which is for numbers.
        words = re.search(r"<td[^>]*>[^\W\d]", self.html)
        left = r"<t[hd]\b" if words else r'<th(?= scope="row")'
        return re.sub(left, r'\g<0> style="text-align:left"', self.html)


@dataclass(frozen=True, eq=False, repr=False)
class Study:
    """A season's log, read by the map `columns`, what was chosen, and, once it is studied, the findings."""

    season: Season
    settings: Settings = field(default_factory=Settings)
    findings: Block = field(default_factory=dict)
    comparisons: tuple[Comparison, ...] = COMPARISONS
    columns: str | None = None

    @cached_property
    def asked(self) -> StudyInput:
        """The run table and the settings, to ask more of."""
        return StudyInput(run_table(self.season), self.settings, self.comparisons)

    @cached_property
    def decided(self) -> DecisionInput:
        """What every decision stands on, fitted and drawn once however many are asked for."""
        return DecisionInput(HazardInput(self.asked), len(self.season.runs))

    @cached_property
    def pictures(self) -> dict[str, Picture]:
        """Every figure of the findings, by its name."""
        return page.pictures(self.findings)

    @property
    def cars(self) -> list[str]:
        """The cars of the log."""
        return sorted(set(self.asked.table["car"]))

    @property
    def recorded(self) -> dict[str, Comparison]:
        """The comparisons whose column the log has, by how they are said."""
        return {one.said: one for one in self.comparisons if one.column in self.asked.table}

    def controls(self, *names: str) -> dict[str, Control]:
        """Lay out some of what may be chosen of any season, by the names under which a drawing takes it."""
        every = {
            "said": Control("choice", "Setting compared", tuple(self.recorded)),
            "car": Control("choice", "Car", (ALL_CARS, *self.cars)),
            "failures": Control("several", "Failures that count", CAUSES, self.settings.failures),
        }
        return {name: every[name] for name in names}

    def asking(self, car: str = ALL_CARS, **settings: Any) -> StudyInput:
        """Ask of one car's runs, or of those of `ALL_CARS`, under other settings."""
        every = self.asked.table
        runs = every if car == ALL_CARS else every.where(every["car"] == car)
        return replace(self.asked, table=runs, settings=replace(self.settings, **settings))

    def __repr__(self) -> str:
        return str(self.season)

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
    return Study(season, chosen, findings_of.study(season, chosen), columns=columns)


def answer(study: Study, name: str, *, curves: bool = False) -> Words:
    """Answer a question in a sentence with its interval, or by the curves alone, the other settings as they were."""
    return Words((sentence(study.findings, name, curves=curves),))


def sentence(findings: Block, name: str, *, curves: bool = False) -> str:
    """Answer the question of one setting, planned or exploratory, from findings; parameters as in `answer`."""
    if name not in findings["headline"]:
        return str(words.exploratory_answer(findings, name))
    return str(words.curves_answer(findings, name) if curves else words.answer(findings, name))


def picture(study: Study, name: str) -> Picture | Words:
    """Draw one figure of `drivekit.show.page.pictures` by its name there, or say why it cannot be drawn."""
    findings = study.findings
    if name in study.pictures:
        return study.pictures[name]
    if name in findings["comparisons"]:
        return answer(study, name, curves=True)
    if name == "tension_curve":
        return said(study, "tension")
    if name in page.DECISIONS:
        return Words(tuple(page.DECISIONS[name][2](findings)))
    if name == "causes":
        return Words((failing.NONE_FAILED,))
    if name == "overall":
        return Words(("No belt of known age has made a run, so no life can be drawn.",))
    return refused(findings) or Words(("This picture cannot be drawn: no term has an estimate for it.",))


def answer_picture(study: Study, name: str) -> Picture | Words:
    """Draw the picture of an answer: the same belts at each level, a curve of tension, else plain curves."""
    drawn = page.answer_picture(study.findings, study.pictures, name)
    return answer(study, name) if drawn is None else drawn


def drawing(study: Study, name: str, what: str, **blocks: object) -> Drawing:
    """Draw a figure and say a part of the findings, as controls answer: with other blocks in place of the study's."""
    asked = replace(study, findings=study.findings | blocks)
    return Drawing(made_or_said(name, page.PICTURES[name], asked.findings), said(asked, what))


def refused(findings: Block) -> Words | None:
    """Say why there is no hazard study, if there is none."""
    hazard = findings["hazard"]
    return Words((f"The settings cannot be studied all at once: {hazard['reason']}.",)) if "reason" in hazard else None


OF_THE_FIT: dict[str, Told] = {
    "terms": lambda found: (*hazard_words.failures_words(found), *hazard_words.term_words(found)),
    "checks": hazard_words.checks_words,
    "unrecorded": lambda found: (
        hazard_words.unrecorded_words(found) or ("No ratio is told that an unrecorded cause could explain away.",)
    ),
    "interactions": lambda found: (hazard_words.interaction_words(found),),
}
"""What the hazard study says; where there is none, its reason stands in the place of each."""

SAID: dict[str, Told] = {
    "headlines": words.headlines,
    "further": lambda found: [sentence(found, name) for name in found["life"]["more"]],
    "tension": lambda found: filter(None, (hazard_words.tension_words(found), hazard_words.tension_line_words(found))),
    **OF_THE_FIT,
    "question": lambda found: (*team_words.asked_words(found), *([words.INVENTED] if found["log"]["invented"] else [])),
    "reasons": team_words.believed_words,
    "doubts": team_words.doubts_words,
    "to do": team_words.todo_words,
    "to test": team_words.next_words,
    "change": lambda found: (*decision_words.change_words(found), *decision_words.change_by_cost_words(found)),
    "outlook": decision_words.outlook_words,
    "looks": decision_words.look_words,
    "spares": decision_words.spares_words,
    "trial": lambda found: (*decision_words.as_planned_words(found), *decision_words.trial_words(found)),
    "fitters": decision_words.fitters_words,
    "causes by idler": failing.by_setting_words,
    "law": failing.weibull_words,
    "incidents": failing.incident_words,
    "taken off early": lambda found: failing.retired_words(found) or ("No belt came off as a precaution.",),
    "to act on": decision_words.action_words,
}
"""What can be said of a season, by name."""


class Contents(tuple[tuple[str, str], ...]):
    """The workbooks, each with a line on what it found on this log: name, and line."""

    __slots__ = ()

    def __repr__(self) -> str:
        return "\n".join(f"{name.replace('-', ' ')}: {line}" for name, line in self)

    def _repr_html_(self) -> str:
        links = (f'<a href="{name}.ipynb">{name.replace("-", " ")}</a>: {escape(line)}' for name, line in self)
        return f"<ul>{''.join(f'<li>{link}</li>' for link in links)}</ul>"


def contents(study: Study) -> Contents:
    """List the other workbooks, with what each found."""
    found, drawn = study.findings, study.pictures
    tracking = next((name for name in drawn if name.startswith("tracking_")), "")
    titles = {"02": "overall", "03": "forest", "04": "causes", "07": tracking}
    told = {
        "01": log_words(found["log"]),
        "05": next(iter(SAID["change"](found)), ""),
        "06": "the drive of a drive file: belt path, tension, loads, screws.",
        "08": next(iter(SAID["trial"](found)), ""),
        "09": next(iter(SAID["to do"](found)), ""),
    } | {number: f"{drawn[name].title.rstrip('.')}." for number, name in titles.items() if name in drawn}
    names = (place.stem for place in workbooks_in(carried(WORKBOOKS)))
    return Contents((name, told.get(name[:2], "nothing on this log.")) for name in names if name[:2] != "00")


def said(study: Study, what: str) -> Words:
    """Say one part of what was found, by its key in `SAID`.

    Raises
    ------
    ValueError
        If there is no such part.
    """
    if what not in SAID:
        raise ValueError(f'nothing is said under "{what}"; there are {", ".join(SAID)}')
    why = refused(study.findings) if what in OF_THE_FIT else None
    return why or Words(tuple(SAID[what](study.findings)))
