"""The one table of comparisons: which settings are held against each other, and all that is known of each.

A comparison is one record: its levels, whether it was planned, whether it has terms in the hazard fit and is
standardised, and how it and its levels are spoken of. The blocks of the findings, the terms of the fit, the sentences,
the figures, the controls and the schema follow from it; a new comparison is one entry of comparisons.toml. A run counts
in the level it was made in, so a belt whose idler was changed in mid-life counts in both. The planned comparisons share
one adjustment for asking so many questions; every other one is exploratory.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path

from drivekit.study.as_json import Block
from drivekit.units import SI, Units

__all__ = ["COMPARISONS", "Comparison", "pairs"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """One setting whose levels are compared, and how it is spoken of.

    Parameters
    ----------
    name : str
        Its key in the findings.
    column : str
        The column of the run table that tells the level.
    title, question : str
        A heading, and what the crew asks.
    said, noun, held : str
        The setting as a label ("edge grease"), in the middle of a sentence ("grease on the edges"), and in a list of
        what is held alike ("grease").
    phrases : mapping of str to str or to two of them
        Its levels in the order in which they are shown and differenced, each with what follows "belts" ("on the toothed
        idler") and, where it is another, the same after "than", where the setting was just named ("on the toothed").
        Empty: the levels are the values met, in increasing order. The levels of a number are parts of its range, cut
        from below.
    further : str
        What follows "belts" for a level without a phrase; ``{noun}`` and ``{level}`` are filled in.
    planned : bool
        One of the comparisons decided on before the season was seen; False: exploratory.
    fitted : bool
        In the hazard fit: a term for each level but the first, or one term for a number.
    standardised : bool
        Its question is answered by the same belts put to each level in turn, through the hazard fit.
    number, unit, step : str, int, str
        For a number in the fit: its term, how much of the column's unit one step of the term is, and that step in
        words, its force filled in ("{} more tension").

    Raises
    ------
    ValueError
        If a setting is to be fitted without levels or a number, or standardised without being planned and fitted by
        levels.
    """

    name: str
    column: str
    title: str
    question: str
    said: str
    noun: str
    held: str
    phrases: Mapping[str, str | Sequence[str]]
    further: str = "with {noun} {level}"
    planned: bool = False
    fitted: bool = False
    standardised: bool = False
    number: str = ""
    unit: int = 1
    step: str = ""

    def __post_init__(self) -> None:
        if self.fitted and not self.terms:
            raise ValueError(f"{self.name} cannot be in the hazard fit: it has neither levels nor a number")
        if self.standardised and (self.number or not self.fitted or not self.planned):
            raise ValueError(
                f"{self.name} cannot be standardised: it is not planned, or has no levels in the hazard fit"
            )

    @property
    def levels(self) -> tuple[str, ...]:
        """Its levels in order, the reference first."""
        return tuple(self.phrases)

    @property
    def terms(self) -> dict[str, str]:
        """Its terms in a hazard fit, each with its level; a number's one term has none."""
        return {self.number: ""} if self.number else {f"{self.name}[{level}]": level for level in self.levels[1:]}

    def words(self, units: Units = SI) -> Block:
        """Give how it is spoken of as plain data, for whoever holds the findings and no table."""
        names = ("title", "question", "said", "noun", "held", "further", "terms")
        phrases = {level: [said] * 2 if isinstance(said, str) else list(said) for level, said in self.phrases.items()}
        force = units.force(self.unit) if units.inch_pound else units.said(self.unit, "N")
        step = {"step": self.step.format(force)}
        return {name: getattr(self, name) for name in names} | step | {"phrases": phrases}


def pairs(levels: Iterable[str]) -> dict[str, tuple[str, str]]:
    """Name each pair of levels by "later minus earlier", and give the earlier and the later."""
    return {f"{later} minus {earlier}": (earlier, later) for earlier, later in combinations(levels, 2)}


def _table() -> tuple[Comparison, ...]:
    text = Path(__file__).with_name("comparisons.toml").read_text(encoding="utf-8")
    entries = tomllib.loads(text).items()
    return tuple(Comparison(**{"name": name, "column": name, "held": one["said"]} | one) for name, one in entries)


COMPARISONS = _table()
"""In the order of the questions."""
