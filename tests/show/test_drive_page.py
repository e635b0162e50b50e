"""The page of a drive: every number of the set-up, cautions, nothing from the network, everything escaped."""

from __future__ import annotations

import re
from dataclasses import replace
from html import unescape
from html.parser import HTMLParser
from pathlib import Path

import pytest

from drivekit.cautions import CAUTIONS
from drivekit.drive.drive_file import read_drive
from drivekit.drive.set_up import set_up
from drivekit.show.drive_page import drive_page

DRIVES = Path(__file__).parents[2] / "data" / "drives"


class Reader(HTMLParser):
    """Collect tags and text, as a browser would see them."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.text.append(data)


def read(page: str) -> tuple[Reader, str]:
    reader = Reader()
    reader.feed(page)
    return reader, " ".join(" ".join(reader.text).replace("\N{NO-BREAK SPACE}", " ").split())


@pytest.mark.parametrize("name", ["toothed-inside", "smooth-inside", "idler-outside", "worked-example"])
def test_the_page_says_the_whole_set_up(name: str) -> None:
    found = set_up(read_drive(DRIVES / f"{name}.toml"), (8300,))
    reader, text = read(drive_page(found))
    parts = (found.slack, found.margin, found.guide, found.growth, found.duty, found.reading, found.seat, found.bend)
    for sentence in (*CAUTIONS, *found.warnings, found.snout, *found.said(*parts)):
        assert sentence in text
    assert "An invented drive" in text
    ids = [attributes["id"] for _, attributes in reader.tags if attributes.get("id")]
    assert len(ids) == len(set(ids))


def test_the_tables_carry_every_span_and_pulley() -> None:
    found = set_up(read_drive(DRIVES / "worked-example.toml"))
    page = unescape(drive_page(found))
    rows = [re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", row) for row in re.findall(r"<tr>(.*?)</tr>", page)]
    forces = ["5,000 N, 1,124 lbf", "5,871 N, 1,320 lbf", "3,373 N, 758 lbf", "4,373 N, 983 lbf"]
    assert rows[1] == ["crank to idler", "300.0 mm, 11.81 in", *forces]
    assert rows[6] == ["idler", "73.7", "12.9", "6,000 N, 1,349 lbf", "7,046 N, 1,584 lbf", "4,048 N, 910 lbf"]
    assert len(rows) == 8


def test_nothing_comes_from_elsewhere_and_what_the_file_says_is_escaped() -> None:
    layout = read_drive(DRIVES / "worked-example.toml")
    crank, idler, blower = layout.pulleys
    nasty = replace(layout, name="<b>&", note='"><script>', pulleys=(replace(crank, name="<i>c"), idler, blower))
    page = drive_page(set_up(nasty))
    reader, text = read(page)
    tags = {tag for tag, _ in reader.tags}
    assert not tags & {"script", "link", "img", "iframe", "b", "i"}
    assert "default-src 'none'" in page
    for _, attributes in reader.tags:
        for key, value in attributes.items():
            if key in ("href", "xlink:href", "src"):
                assert value is not None
                assert value.startswith("#")
    assert "<b>&" in text


def test_a_drive_that_is_somebody_s_is_not_called_invented() -> None:
    layout = replace(read_drive(DRIVES / "worked-example.toml"), invented=False)
    assert "An invented" not in drive_page(set_up(layout))
