"""What a workbook calls: a log or the values of controls in, words and picture out.

A workbook's cell is a line or two; whatever is longer stands here or in `drivekit.show`.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace
from functools import cached_property
from html import escape
from itertools import groupby
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from drivekit import findings as _findings
from drivekit.asked import Asked, Settings
from drivekit.blocks.plain import Plain
from drivekit.comparisons import COMPARISONS, Comparison
from drivekit.log.columns import CAUSES
from drivekit.log.histories import run_table
from drivekit.log.season import Season, read_season
from drivekit.show import words
from drivekit.show.controls import Control, Drawing, panel
from drivekit.show.curves import comparison_picture, overall_picture
from drivekit.show.lives import Life, Stretch, lives_picture
from drivekit.show.picture import Picture

if TYPE_CHECKING:
    from ipywidgets import VBox

__all__ = ["Study", "Words", "answer", "comparison_drawing", "curves", "curves_controls", "headlines", "study"]

ALL_CARS = "all cars"
N_PER_KN = 1000


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
        Plain data, as `drivekit.findings.study` gives them.
    """

    season: Season
    settings: Settings
    findings: Plain

    @cached_property
    def asked(self) -> Asked:
        """The run table and the settings, to ask more of."""
        return Asked(run_table(self.season), self.settings)

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
        As in `drivekit.asked.Settings`.

    Raises
    ------
    Unusable, Faulty
        When there is no log, or it has faults; a notebook shows their sentences alone.
    ValueError
        When a setting cannot be used.
    """
    season = read_season(log, columns)
    chosen = Settings(**settings)
    return Study(season, chosen, _findings.study(season, **asdict(chosen)))


def headlines(study: Study) -> Words:
    """Answer the three planned questions, each in a sentence."""
    return Words(tuple(words.headlines(study.findings)))


def curves(study: Study, name: str) -> Picture | Words:
    """Draw the life of belts at each level of one setting, or say why it cannot be drawn.

    Parameters
    ----------
    study : Study
        The season, studied.
    name : str
        A setting of `drivekit.comparisons.COMPARISONS`, or ``"overall"``.
    """
    picture = overall_picture(study.findings) if name == "overall" else comparison_picture(study.findings, name)
    return answer(study, name) if picture is None else picture


def answer(study: Study, name: str) -> Words:
    """Answer one question in a sentence, with its interval and the belts behind it."""
    return Words((_sentence(study.findings, name),))


def _sentence(findings: Plain, name: str) -> str:
    planned = name in findings["headline"]
    return str(words.answer(findings, name) if planned else words.exploratory_answer(findings, name))


def comparison_drawing(study: Study, comparison: Comparison, car: str, settings: Settings) -> Drawing:
    """Draw and answer one comparison under other settings.

    Parameters
    ----------
    study : Study
        The season.
    comparison : Comparison
        The setting compared.
    car : str
        One car, or `ALL_CARS`.
    settings : Settings
        What is chosen this time.
    """
    table = study.asked.table
    some = table if car == ALL_CARS else table.where(table["car"] == car)
    findings = _findings.one_comparison(study.season, Asked(some, settings), comparison)
    return Drawing(comparison_picture(findings, comparison.name), (_sentence(findings, comparison.name),))


def lives(study: Study, name: str = "idler") -> Picture:
    """Draw each belt's life, its line by the level of one setting on each run.

    Parameters
    ----------
    study : Study
        The season.
    name : str
        A setting of `drivekit.comparisons.COMPARISONS`.
    """
    comparison = next(comparison for comparison in COMPARISONS if comparison.name == name)
    return _lives(study, study.asked, comparison)


def _lives(study: Study, asked: Asked, comparison: Comparison) -> Picture:
    found = asked.groups(comparison)
    level = np.full(len(asked.table), -1) if found is None else found.code
    names = () if found is None else found.levels
    invented = words.INVENTED if study.season.invented else ""
    return lives_picture(_each_life(asked, level), names, comparison.said, invented=invented)


def _each_life(asked: Asked, level: NDArray[np.int64]) -> list[Life]:
    """Fold the runs of each belt into stretches under one level, belts in the order first fitted."""
    runs_of: dict[str, list[int]] = {}
    for row, belt in enumerate(asked.table["belt"]):
        runs_of.setdefault(belt, []).append(row)
    age, failed = asked.table["age"], asked.failed
    return [
        Life(
            belt,
            tuple(
                Stretch(int(of_level), int(age[rows[0]]) - 1, int(age[rows[-1]]))
                for of_level, stretch in groupby(of_belt, key=lambda row: level[row])
                if (rows := list(stretch))
            ),
            bool(failed[of_belt[-1]]),
        )
        for belt, of_belt in runs_of.items()
    ]


def curves_controls(study: Study) -> VBox:
    """Lay controls under which the comparison is drawn and answered anew at each move.

    Returns
    -------
    ipywidgets.VBox
        The setting compared, the car, the horizon, the confidence, the failures that count and the cuts of tension.
    """
    asked = study.asked
    settings, table, cuts_n = asked.settings, asked.table, asked.tension_cuts
    shown = {comparison.said: comparison for comparison in COMPARISONS if comparison.column in table}
    controls = {
        "said": Control("choice", "Setting compared", tuple(shown)),
        "car": Control("choice", "Car", (ALL_CARS, *sorted(set(table["car"])))),
        "horizon": Control("whole", "Horizon, runs", (1, int(table["age"].max(initial=1))), asked.horizon or 1),
        "confidence": Control("choice", "Confidence", (0.8, 0.9, 0.95, 0.99), settings.confidence),
        "failures": Control("several", "Failures that count", CAUSES, settings.failures),
    }
    if cuts_n is not None:
        known_kn = table["tension_n"][~np.isnan(table["tension_n"])] / N_PER_KN
        ends_kn = float(np.floor(known_kn.min())), float(np.ceil(known_kn.max()))
        start_kn = tuple(cut / N_PER_KN for cut in cuts_n)
        controls["cuts_kn"] = Control("range", "Tension cuts, kN", ends_kn, start_kn)

    def redraw(said: str, car: str, *, cuts_kn: tuple[float, float] | None = None, **chosen: Any) -> Drawing:
        cuts = None if cuts_kn is None else (cuts_kn[0] * N_PER_KN, cuts_kn[1] * N_PER_KN)
        return comparison_drawing(study, shown[said], car, replace(settings, tension_cuts=cuts, **chosen))

    return panel(controls, redraw)
