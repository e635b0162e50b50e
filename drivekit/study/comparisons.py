"""The one table of comparisons: which settings are held against each other, and all that is known of each.

A comparison is one record: its levels, whether it was planned, whether it has terms in the hazard fit and is
standardised, and how it and its levels are spoken of. The blocks of the findings, the terms of the fit, the sentences,
the figures, the controls and the schema follow from it; a new comparison is one entry of `COMPARISONS`. A run counts in
the level it was made in, so a belt whose idler was changed in mid-life counts in both. The planned comparisons share
one adjustment for asking so many questions; every other one is exploratory.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from drivekit.study.as_json import Block
from drivekit.units import SI, Units

__all__ = ["COMPARISONS", "Comparison"]


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
    phrases : mapping of str to str or (str, str)
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
    phrases: Mapping[str, str | tuple[str, str]]
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
        pairs = ((level, (said, said) if isinstance(said, str) else said) for level, said in self.phrases.items())
        phrases = {level: list(pair) for level, pair in pairs}
        force = units.force(self.unit) if units.inch_pound else units.said(self.unit, "N")
        step = {"step": self.step.format(force)}
        return {name: getattr(self, name) for name in names} | step | {"phrases": phrases}


COMPARISONS = (
    Comparison(
        name="idler",
        column="idler",
        title="The idler",
        question="Does the toothed idler make belts last?",
        said="idler",
        noun="the idler",
        held="idler",
        phrases={
            "smooth": ("on the smooth idler", "on the smooth"),
            "toothed": ("on the toothed idler", "on the toothed"),
        },
        planned=True,
        fitted=True,
        standardised=True,
    ),
    Comparison(
        name="tension",
        column="tension_n",
        title="Tension",
        question="How tight should a belt run?",
        said="belt tension",
        noun="tension",
        held="tension",
        phrases={
            "low": ("at low tension", "at low"),
            "middle": ("at middle tension", "at middle"),
            "high": ("at high tension", "at high"),
        },
        planned=True,
        fitted=True,
        number="tension_kn",
        unit=1000,
        step="{} more tension",
    ),
    Comparison(
        name="edge_lube",
        column="edge_lube",
        title="Grease on the edges",
        question="Does greasing the edges pay?",
        said="edge grease",
        noun="grease on the edges",
        held="grease",
        phrases={"none": "never greased", "install": "greased when fitted", "every-run": "greased on every run"},
        planned=True,
        fitted=True,
        standardised=True,
    ),
    Comparison(
        name="idler_support",
        column="idler_support",
        title="Idler support",
        question="Does a three-point support make belts last?",
        said="idler support",
        noun="idler support",
        held="idler support",
        phrases={
            "single": ("on an idler held from one end", "on one held from one end"),
            "three-point": ("on an idler held at three points", "on one held at three points"),
        },
    ),
    Comparison(
        name="compound",
        column="compound",
        title="Compound",
        question="Which compound lasts?",
        said="belt compound",
        noun="compound",
        held="compound",
        phrases={"rubber": "of rubber", "urethane": "of urethane", "other": "of another compound"},
    ),
    Comparison(
        name="width",
        column="width_mm",
        title="Width",
        question="Do wider belts last?",
        said="belt width",
        noun="width",
        held="width",
        phrases={},
        further="{level} wide",
    ),
    Comparison(
        name="clamp_faces",
        column="clamp_faces",
        title="The clamp's faces",
        question="Do belts fail sooner where the clamp's faces are marked or galled?",
        said="clamp faces",
        noun="the clamp's faces",
        held="clamp faces",
        phrases={
            "clean": ("on an idler clamped by clean faces", "on one clamped by clean faces"),
            "marked": ("on an idler clamped by marked faces", "on one clamped by marked faces"),
            "galled": ("on an idler clamped by galled faces", "on one clamped by galled faces"),
        },
    ),
    Comparison(
        name="squared",
        column="squared",
        title="Squaring the idler",
        question="Do belts last longer where the idler is pushed square, not pried?",
        said="way of squaring",
        noun="the way of squaring",
        held="way of squaring",
        phrases={
            "pried": ("on an idler pried square", "on one pried square"),
            "pushed": ("on an idler pushed square", "on one pushed square"),
        },
    ),
)
"""In the order of the questions."""
