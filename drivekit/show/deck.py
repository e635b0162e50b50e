"""The deck to present with: one self-contained file, a question, a sentence and a picture a slide.

What stands on a slide is the page's own sentence and picture; the numbers behind it are the speaker's notes. Keys and
swipes turn the slides; without its script it reads as a scroll, and it prints one slide a sheet.
"""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from hashlib import sha256
from pathlib import Path

from markupsafe import Markup

from drivekit.cautions import CAUTIONS
from drivekit.show import hazard_words, team_words
from drivekit.show.decision_words import trial_words
from drivekit.show.markup import drawing, written
from drivekit.show.page import DECISIONS, answer_picture, cannot_tell, pictures
from drivekit.show.paper import SIZES, Picture
from drivekit.show.phrases import Plain, log_words, own_error, wording
from drivekit.show.two_seasons import life_words, moved_since, pooled_words, watch_words
from drivekit.show.words import INVENTED, answer

__all__ = ["Slide", "deck", "slides"]

BODY = replace(SIZES["slide"], height=5.2)
"""What a picture has beneath question and sentence, in inches of a slide of 13.3 by 7.5."""


@dataclass(frozen=True, slots=True)
class Slide:
    """One slide."""

    question: str
    sentence: str  # the answer that stands above the picture
    picture: Picture | None = None  # what shows it; None: the points take its place
    notes: tuple[str, ...] = ()  # what the speaker has by hand: the numbers behind
    points: tuple[str, ...] = ()


def deck(findings: Plain, drawn: Mapping[str, Picture] | None = None) -> str:
    """Set the findings as a deck, the whole HTML file, with their pictures where they are drawn up already.

    It asks nothing of any network: its policy lets nothing but its own style and its one script run.
    """
    script = Path(__file__).with_name("deck.js").read_text(encoding="utf-8").strip()
    told = slides(findings, drawn)
    return written(
        "deck.html.j2",
        log=findings["log"]["name"] or "the season",
        invented=INVENTED if findings["log"].get("invented") else "",
        slides=[(slide, drawing(slide.picture, BODY, "talk") if slide.picture else "") for slide in told],
        body=BODY,
        script=Markup(script),
        script_hash=b64encode(sha256(script.encode()).digest()).decode(),
    )


def slides(findings: Plain, drawn: Mapping[str, Picture] | None = None) -> list[Slide]:
    """Make the slides, in the order of a talk: what was found, why to believe it, how belts fail, what to do."""
    drawn, told = drawn or pictures(findings), []
    for part in TALK:
        try:
            told += list(part(findings, drawn))
        except Exception as error:
            told.append(Slide("What could not be told", f"Some slides are left out: {own_error(error)}."))
    return told


def _life(findings: Plain, drawn: Mapping[str, Picture]) -> Iterator[Slide]:
    since = moved_since(findings)
    counts = log_words(findings["log"]), *(said for name, said in since.items() if name not in findings["headline"])
    if picture := drawn.get("overall"):
        yield Slide("How long do belts last?", picture.title, picture, (picture.subtitle, picture.note, *counts))
    else:
        yield Slide("How long do belts last?", findings["life"]["overall"]["reason"].capitalize() + ".", None, counts)


def _questions(findings: Plain, drawn: Mapping[str, Picture]) -> Iterator[Slide]:
    since = moved_since(findings)
    for name in findings["headline"]:
        said, picture = answer(findings, name), answer_picture(findings, drawn, name)
        notes = (str(said), since.get(name, ""), *((picture.subtitle, picture.note) if picture else ()))
        sentence = f"{'; '.join(filter(None, (said.finding, said.warning)))}."
        yield Slide(wording(findings, name).question, sentence, picture, notes)


def _belief(findings: Plain, drawn: Mapping[str, Picture]) -> Iterator[Slide]:
    believed, doubts = team_words.believed_words(findings), team_words.doubts_words(findings)
    terms = findings["hazard"].get("terms", {}).items()
    term = next((term for term, entry in terms if "[" in term and entry["coef"] is not None), None)
    if term and "methods" in drawn:
        yield Slide("Why believe it?", hazard_words.sensitivity_words(findings, term), drawn["methods"], believed)
    else:
        yield Slide("Why believe it?", believed[0], drawn.get("differences"), believed)
    if picture := drawn.get("influence"):
        yield Slide("What could be wrong?", picture.title, picture, doubts)
    else:
        yield Slide("What could be wrong?", doubts[0], None, doubts, doubts[1:4])


def _failing(findings: Plain, drawn: Mapping[str, Picture]) -> Iterator[Slide]:
    if picture := drawn.get("causes"):
        yield Slide("How do belts fail?", picture.title, picture, (picture.note,))


def _even(findings: Plain, drawn: Mapping[str, Picture]) -> Iterator[Slide]:
    for name, picture in drawn.items():
        if name.startswith("tracking_"):
            yield Slide("Where does the belt run even?", f"{picture.title}.", picture, (picture.subtitle, picture.note))


def _seasons(findings: Plain, drawn: Mapping[str, Picture]) -> Iterator[Slide]:
    if picture := drawn.get("seasons"):
        notes = (*life_words(findings), *pooled_words(findings))
        yield Slide("Is it the same as the season before?", picture.title, picture, notes)
    if picture := drawn.get("watch"):
        yield Slide("Is this season going otherwise?", picture.title, picture, tuple(watch_words(findings)))


def _decisions(findings: Plain, drawn: Mapping[str, Picture]) -> Iterator[Slide]:
    for name, (title, leads, say) in DECISIONS.items():
        if leads and name in drawn:
            yield Slide(title, drawn[name].title, drawn[name], tuple(say(findings)))


def _deeds(findings: Plain, drawn: Mapping[str, Picture]) -> Iterator[Slide]:
    todo, test = team_words.todo_words(findings), team_words.next_words(findings)
    yield Slide("What do we do?", todo[0], None, todo, todo[1:])
    if size := drawn.get("next_trial"):
        yield Slide("What do we test next?", size.title, size, (*test, *trial_words(findings)))
    else:
        yield Slide("What do we test next?", test[0], None, test, test[1:])
    limits = cannot_tell(findings)
    yield Slide("What can this log not tell?", limits[0], None, tuple(limits), tuple(limits[1:5]))
    yield Slide("Before hands go near the drive", CAUTIONS[0], None, CAUTIONS, CAUTIONS[1:])


TALK = _life, _questions, _belief, _failing, _even, _seasons, _decisions, _deeds
"""The parts of the talk: each from the findings and their pictures to its slides."""
