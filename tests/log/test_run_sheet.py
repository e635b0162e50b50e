import io
import re

import pytest
from pypdf import PdfReader

from drivekit.cautions import CAUTIONS
from drivekit.log import RUNS
from drivekit.log.columns import Column
from drivekit.log.run_sheet import BOTTOM_MM, WIDTH_MM, Field, rows_of, run_sheet

POINTS_A_MM = 72 / 25.4


@pytest.fixture(scope="module")
def page():
    reader = PdfReader(io.BytesIO(run_sheet()))
    assert len(reader.pages) == 1
    return reader.pages[0]


def placed(page) -> list[tuple[str, float, float]]:
    """Every piece of text with its place in millimetres from the left and the top."""
    pieces: list[tuple[str, float, float]] = []
    height = float(page.mediabox.height)

    def visit(text, cm, tm, font, size) -> None:
        if text.strip():
            x, y = tm[4] * cm[0] + cm[4], tm[5] * cm[3] + cm[5]
            pieces.append((text.strip(), x / POINTS_A_MM, (height - y) / POINTS_A_MM))

    page.extract_text(visitor_text=visit)
    return pieces


def test_every_column_has_its_label_and_every_level_its_box(page) -> None:
    text = page.extract_text()
    for column in RUNS:
        assert column.label in text
        assert (f"● {column.label}" in text) == column.required
    words = [word for word, _, _ in placed(page)]
    for column in RUNS:
        for level in column.levels:
            assert level in words
    boxes = re.findall(rb"[\d.]+ [\d.]+ 10\.77 -?10\.77 re", page.get_contents().get_data())
    units = 2 * sum(column.twin is not None for column in RUNS)
    assert len(boxes) == sum(len(column.levels) for column in RUNS) + units


def test_a_number_is_written_beside_its_unit_or_a_box_for_each_of_two(page) -> None:
    words = [word for word, _, _ in placed(page)]
    assert words.count("lbf") == words.count("N") == sum(column.unit == "N" for column in RUNS)
    assert words.count("°F") == 2
    assert words.count("Hz") == words.count("s") == 1


def test_the_cautions_stand_on_the_sheet(page) -> None:
    text = " ".join(page.extract_text().split())
    for caution in CAUTIONS:
        assert caution in text


def test_the_page_prints_whole_on_letter_and_on_a4(page) -> None:
    assert float(page.mediabox.width) / POINTS_A_MM == pytest.approx(210, abs=0.1)
    pieces = placed(page)
    assert min(x for _, x, _ in pieces) >= 12
    assert max(y for _, _, y in pieces) <= BOTTOM_MM


def test_the_same_bytes_are_made_every_time() -> None:
    assert run_sheet() == run_sheet()


def field(width: float) -> Field:
    return Field(Column("x", "text", "x", "x."), width)


@pytest.mark.parametrize(
    ("widths", "rows"),
    [
        ([], []),
        ([50], [[50]]),
        ([60, 60, 60], [[60, 60, 60]]),
        ([300], [[300]]),
        ([50, 50, 50, 50], [[50, 50], [50, 50]]),
        ([170, 20, 20], [[170], [20, 20]]),
    ],
)
def test_fields_flow_into_few_and_even_rows(widths, rows) -> None:
    assert [[int(part.needs_mm) for part in row] for row in rows_of([field(width) for width in widths])] == rows


def test_columns_that_no_longer_fit_on_the_page_are_refused(monkeypatch) -> None:
    more = tuple(Column(f"more_{n}", "text", "More", "More.", part="After the run") for n in range(40))
    monkeypatch.setattr("drivekit.log.run_sheet.RUNS", RUNS + more)
    with pytest.raises(ValueError, match="below the foot of the page"):
        run_sheet()


def test_a_new_column_has_its_place_on_the_sheet_without_more_ado(monkeypatch) -> None:
    more = Column("weather", "word", "Weather", "The weather.", ("dry", "damp"), part="The run")
    monkeypatch.setattr("drivekit.log.run_sheet.RUNS", (*RUNS, more))
    text = PdfReader(io.BytesIO(run_sheet())).pages[0].extract_text()
    assert "Weather" in text
    assert "damp" in text
    assert WIDTH_MM < 215.9 - 24
