"""What workbook 09 shows a team: the question, why to believe the answers, what could be wrong, what to do and test."""

from __future__ import annotations

from drivekit.lab.study import Study, Words
from drivekit.show import team_words, words

__all__ = ["asked", "believed", "doubts", "tests_next", "todo"]


def asked(study: Study) -> Words:
    """Say what was asked, of how many belts; and that they are invented where they are."""
    said = team_words.asked_words(study.findings)
    return Words((*said, words.INVENTED) if study.season.invented else said)


def believed(study: Study) -> Words:
    """Say why to believe the answers."""
    return Words(team_words.believed_words(study.findings))


def doubts(study: Study) -> Words:
    """Say what could be wrong."""
    return Words(team_words.doubts_words(study.findings))


def todo(study: Study) -> Words:
    """Say what to do."""
    return Words(team_words.todo_words(study.findings))


def tests_next(study: Study) -> Words:
    """Say what to test next season."""
    return Words(team_words.next_words(study.findings))
