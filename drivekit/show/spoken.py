"""How each setting and its levels are spoken of; a setting that is compared is one entry of `SETTINGS`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

__all__ = ["SETTINGS", "Setting", "setting"]


@dataclass(frozen=True, slots=True)
class Setting:
    """How one setting and its levels are spoken of.

    Parameters
    ----------
    name : str
        Its key in the findings.
    title, question : str
        A heading, and what the crew asks.
    noun : str
        The setting in the middle of a sentence.
    levels : mapping of str to str
        What follows "belts" for each level: "on the toothed idler".
    short : mapping of str to str
        The same after "than", where the noun was just said: "on the smooth".
    other : str
        The same for any further level.
    """

    name: str
    title: str
    question: str
    noun: str
    levels: Mapping[str, str]
    short: Mapping[str, str]
    other: str = "with {noun} {level}"

    def phrase(self, level: str) -> str:
        """Say which belts: "on the toothed idler"."""
        return self.levels.get(level, self.other.format(noun=self.noun, level=level))

    def brief(self, level: str) -> str:
        """Say which belts once the setting is known: "on the smooth"."""
        return self.short.get(level, self.phrase(level))


SETTINGS: tuple[Setting, ...] = (
    Setting(
        "idler",
        "The idler",
        "Does the toothed idler make belts last?",
        "the idler",
        {"smooth": "on the smooth idler", "toothed": "on the toothed idler"},
        {"smooth": "on the smooth", "toothed": "on the toothed"},
    ),
    Setting(
        "tension",
        "Tension",
        "How tight should a belt run?",
        "tension",
        {"low": "at low tension", "middle": "at middle tension", "high": "at high tension"},
        {"low": "at low", "middle": "at middle", "high": "at high"},
    ),
    Setting(
        "edge_lube",
        "Grease on the edges",
        "Does greasing the edges pay?",
        "grease on the edges",
        {"none": "never greased", "install": "greased when fitted", "every-run": "greased on every run"},
        {"none": "never greased", "install": "greased when fitted", "every-run": "greased on every run"},
    ),
    Setting(
        "idler_support",
        "Idler support",
        "Does a three-point support make belts last?",
        "idler support",
        {"single": "on an idler held from one end", "three-point": "on an idler held at three points"},
        {"single": "on one held from one end", "three-point": "on one held at three points"},
    ),
    Setting(
        "compound",
        "Compound",
        "Which compound lasts?",
        "compound",
        {"rubber": "of rubber", "urethane": "of urethane", "other": "of another compound"},
        {"rubber": "of rubber", "urethane": "of urethane", "other": "of another compound"},
    ),
    Setting("width", "Width", "Do wider belts last?", "width", {}, {}, "{level} wide"),
)
"""In the order of the questions; a setting without an entry is spoken of by its name."""


def setting(name: str) -> Setting:
    """Find how a setting is spoken of.

    Parameters
    ----------
    name : str
        Its key in the findings.

    Returns
    -------
    Setting
        Its entry in `SETTINGS`, or one made of the bare name.
    """
    for entry in SETTINGS:
        if entry.name == name:
            return entry
    noun = name.replace("_", " ")
    return Setting(name, noun.capitalize(), f"Does {noun} matter?", noun, {}, {})
