"""The sheet for the trailer's wall: one page on six logs, nothing small, nothing beyond the page, what is off first."""

from __future__ import annotations

import io
from typing import Any

import pytest
from pypdf import PdfReader

from drivekit.cautions import CAUTIONS
from drivekit.show.decision_words import rule_words
from drivekit.show.pdf import BOTTOM_MM, LEFT_MM, WIDTH_MM
from drivekit.show.sheet import LEAST_PT, inspection_card, inspection_rows, wall_sheet
from drivekit.show.team_words import todo_words
from drivekit.show.words import INVENTED

POINTS_A_MM = 72 / 25.4
HEADINGS = ("Settings to run", "When to change", "What takes a belt off at once", "Belts still running")

Findings = dict[str, Any]


def read(pdf: bytes) -> tuple[str, list[tuple[str, float, float, float]]]:
    """What stands on the one page: its words, and each piece of text with its place in millimetres and its size."""
    (page,) = PdfReader(io.BytesIO(pdf)).pages
    pieces: list[tuple[str, float, float, float]] = []

    def visit(text: str, user: list[float], of_text: list[float], font: object, size: float) -> None:
        if text.strip():
            down = float(page.mediabox.height) - of_text[5] * user[3] - user[5]
            pieces.append((text.strip(), (of_text[4] * user[0] + user[4]) / POINTS_A_MM, down / POINTS_A_MM, size))

    return " ".join(page.extract_text(visitor_text=visit).split()), pieces


def alike(words: str) -> str:
    """Words without their blanks, for a line may end at a hyphen."""
    return "".join(words.split())


def held(pdf: bytes) -> str:
    words, pieces = read(pdf)
    assert min(size for *_, size in pieces) >= LEAST_PT
    assert max(down for _, _, down, _ in pieces) < BOTTOM_MM
    assert min(left for _, left, _, _ in pieces) >= LEFT_MM - 0.01
    return words


@pytest.fixture
def running(six_logs: dict[str, Findings]) -> Findings:
    """Findings of sixty belts that still run, the last of which is off, with names of any length."""
    found = six_logs["season-two"]
    one = found["outlook"][0] | {"belt": "W" * 200, "car": "M" * 300}
    off = {name: one[name] for name in ("car", "age", "idler")} | {"belt": "B99", "off": {"edge_look": "split"}}
    log = found["log"] | {"name": "X" * 400}
    return found | {"log": log, "outlook": [*([one] * 60), off | {"next": []}]}


def test_on_every_log_it_is_one_page_of_large_type_that_says_what_to_do(six_logs: dict[str, Findings]) -> None:
    for name, findings in six_logs.items():
        words = held(wall_sheet(findings))
        for sentence in (*HEADINGS, *todo_words(findings), *rule_words(findings), *CAUTIONS):
            assert alike(sentence) in alike(words), (name, sentence)
        assert (INVENTED in words) == findings["log"]["invented"]
        for belt in findings["outlook"]:
            assert f"{belt['belt']} (" in words


def test_all_its_lines_end_on_the_page(six_logs: dict[str, Findings]) -> None:
    (page,) = PdfReader(io.BytesIO(wall_sheet(six_logs["long names"]))).pages
    assert float(page.mediabox.width) / POINTS_A_MM == pytest.approx(210, abs=0.1)
    assert LEFT_MM + WIDTH_MM < 215.9 - 6


def test_belts_that_are_off_stand_first_and_too_many_are_counted(running: Findings) -> None:
    words = held(wall_sheet(running))
    under = words[words.index("Belts still running") :]
    assert under.startswith("Belts still running • B99 (")
    assert "OFF: a split edge." in under
    assert alike("W" * 23 + "…(" + "M" * 23 + "…,") in alike(under)
    shown = alike(under).count("W" * 23)
    assert f"{60 - shown} more belts, with odds as good or better, or none known." in under
    assert 1 <= shown < 60


def test_sentences_that_leave_no_room_are_cut_and_the_cautions_stay(running: Findings) -> None:
    change = running["change_out"] | {"levels": {"all": {"reason": "so it is, and so on; " * 100}}}
    words = held(wall_sheet(running | {"change_out": change}))
    for caution in CAUTIONS:
        assert alike(caution) in alike(words)
    assert "so on…" in words or "so…" in words or "…" in words[words.index("When to change cannot be told") :]


def test_what_cannot_be_had_is_a_sentence(six_logs: dict[str, Findings]) -> None:
    why = {"reason": "nothing failed"}
    words = held(wall_sheet(six_logs["season-two"] | {"change_out": why, "outlook": why}))
    assert "When to change cannot be told: nothing failed." in words
    assert "No odds can be given: nothing failed." in words
    assert "No belt of known age is still running." in held(wall_sheet(six_logs["season-two"] | {"outlook": []}))


def test_the_same_findings_give_the_same_sheet(six_logs: dict[str, Findings]) -> None:
    assert wall_sheet(six_logs["season-one"]) == wall_sheet(six_logs["season-one"])


def test_the_inspection_card_says_of_each_look_what_becomes_of_the_belt_and_counts_its_own(
    six_logs: dict[str, Findings],
) -> None:
    for findings in six_logs.values():
        words, pieces = read(inspection_card(findings))
        at = [words.index(part) for part in dict.fromkeys(row.part for row in inspection_rows(findings))]
        assert at == sorted(at)
        for row in inspection_rows(findings):
            assert alike(f"{row.label}{row.hint}{row.number}") in alike(words)
        assert "Surface: oiled An oiled belt is not cleaned and run." in words
        assert (INVENTED in words) == findings["log"]["invented"]
        assert all(caution in words for caution in CAUTIONS)
        assert min(size for *_, size in pieces) >= 7
        assert max(down for _, _, down, _ in pieces) <= BOTTOM_MM
        assert [text for text, *_ in pieces] == [text for text, *_ in read(inspection_card(findings, "Letter"))[1]]


def test_the_inspection_card_holds_looks_with_many_causes_behind_each(six_logs: dict[str, Findings]) -> None:
    ways = ("tooth-jump", "tooth-loss", "edge-split", "cord-pull", "contaminated", "engine-trouble", "unknown")
    causes = {cause: {"count": 1234, "lower": 0.1234, "upper": 0.9876} for cause in ways}
    looks = {row.label.partition(": ")[2] for row in inspection_rows(six_logs["season-two"])}
    many = {look: {"failed": 8638, "causes": causes} for look in looks}
    signs = dict.fromkeys(six_logs["season-two"]["signs"], many)
    assert "4936 otherwise" in read(inspection_card(six_logs["season-two"] | {"signs": signs}))[0]
