"""The run sheet, the set-up card and the record card, tested by what stands on their one page."""

import io
import re
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pytest
from pypdf import PdfReader

from drivekit.cautions import CAUTIONS
from drivekit.decide.tracking import Tracking, tracking
from drivekit.drive.drive_file import read_drive
from drivekit.drive.set_up import SetUp, set_up
from drivekit.lab.drive_set_up import drive_cards, run_blanks
from drivekit.log.columns import RUNS
from drivekit.show.cards import ESTIMATES, GUIDE, Row, order_of_work, record_card, set_up_card
from drivekit.show.pdf import BOTTOM_MM, LEFT_MM, WIDTH_MM, Blank
from drivekit.show.sheet import _rows_of, run_sheet

DRIVES = Path(__file__).parents[2] / "data" / "drives"
POINTS_A_MM = 72 / 25.4
BLANKS = run_blanks()


@pytest.fixture(scope="module")
def toothed() -> SetUp:
    return set_up(read_drive(DRIVES / "toothed-inside.toml"))


@pytest.fixture(scope="module")
def record() -> bytes:
    return record_card(BLANKS)


@pytest.fixture(scope="module")
def sheet() -> bytes:
    return run_sheet(BLANKS)


def pages_of(pdf: bytes) -> list[Any]:
    return list(PdfReader(io.BytesIO(pdf)).pages)


def card(found: SetUp, readings: Tracking | None = None) -> bytes:
    return set_up_card(found.layout.name, order_of_work(found, readings))


def words(pdf: bytes) -> str:
    return " ".join(word for page in pages_of(pdf) for word in page.extract_text().split())


class Piece(NamedTuple):
    """A piece of text, with its place in millimetres from the left and the top, and its size in points."""

    text: str
    page: int
    x: float
    y: float
    size: float


def placed(pdf: bytes) -> list[Piece]:
    pieces: list[Piece] = []
    for number, page in enumerate(pages_of(pdf)):
        height = float(page.mediabox.height)

        def visit(
            text: str, cm: list[float], tm: list[float], font: object, size: float, of: Any = (number, height)
        ) -> None:
            if text.strip():
                x, y = tm[4] * cm[0] + cm[4], tm[5] * cm[3] + cm[5]
                pieces.append(Piece(text.strip(), of[0], x / POINTS_A_MM, (of[1] - y) / POINTS_A_MM, size))

        page.extract_text(visitor_text=visit)
    return pieces


@pytest.mark.parametrize("drive", sorted(path.name for path in DRIVES.glob("*.toml")))
def test_every_example_drive_has_its_card_with_every_number_from_the_computation(drive: str) -> None:
    computed = set_up(read_drive(DRIVES / drive))
    said = words(card(computed))
    for step in order_of_work(computed):
        assert step.label in said
        assert step.hint in said
        assert step.number in said
        for box in step.boxes:
            assert box in said
    assert f"Set {computed.layout.spoken.said(computed.layout.tension.set_n, 'N')}" in said
    assert f"{computed.reading.note.frequency_hz:.1f} Hz" in said
    assert computed.layout.name in said
    assert ESTIMATES in said


def test_the_work_stands_in_its_order_and_the_cautions_before_it(toothed: SetUp) -> None:
    said = words(card(toothed))
    titles = [step.label for step in order_of_work(toothed)]
    assert titles == [
        "Manifold bolted, belt loose",
        "Zero the jack screws",
        "Idler in, marked side out",
        "Belt on, tension",
        "Square the idler",
        "Clamp to torque",
        "Turn by hand",
        "Recheck, lock nuts, read again",
        "Grease the edges",
        "Guards and restraint on",
        "Warm up",
        "Edge temperatures",
        "Run",
        "Inspection",
        "Guards checked",
    ]
    ends = [said.index(caution) for caution in CAUTIONS]
    starts = [said.index(f"{place}. {title}") for place, title in enumerate(titles, 1)]
    assert ends == sorted(ends)
    assert max(ends) < min(starts)
    assert starts == sorted(starts)


def test_the_car_s_own_readings_stand_on_its_card(toothed: SetUp) -> None:
    net, difference = np.tile([-1.0, 1.0], 4), np.array([5.5, 2.5, 3.5, -1.5, -1.0, -3.0, 2.0, -4.0])
    belts = np.repeat(["A", "B", "C", "D"], 2)
    own = words(card(toothed, tracking(net, difference, belts)))
    assert "From the record: turn the idler 1 flat more at the rear" in own
    assert "This car's belts have run even at 0.2 net flats (-2.8 to 20.3), front less rear." in own
    blind = tracking(net[:3], difference[:3], belts[:3])
    assert words(card(toothed, blind)) == words(card(toothed))


def test_the_record_card_has_a_row_for_every_column_of_the_log_with_all_its_levels(record: bytes) -> None:
    said, shown = words(record), [column for column in RUNS if column.part]
    assert len(shown) > 30
    labels = [piece.text for piece in placed(record) if piece.x < LEFT_MM + 2]
    for column in shown[:-1]:
        assert (f"● {column.label}" if column.required else column.label) in labels
        assert ", ".join(column.levels) in said
        assert column.unit in said
    assert {column.part for column in shown} <= set(labels)
    assert "…" not in said
    assert all(line in said for line in (*GUIDE, *CAUTIONS))


def test_the_record_card_s_back_is_what_is_found_after_the_run_with_room_for_each_run_s_note(record: bytes) -> None:
    front, back = pages_of(record)
    after = [column.label for column in RUNS if column.part == "After the run"]
    assert not any(label in front.extract_text() for label in ("Full load", "Fate", "Note"))
    assert all(label in back.extract_text() for label in after)
    assert back.extract_text().count("Note, run") == 6
    # A box for each of 6 runs beside every row; a note's is the width of the page that its label leaves.
    boxes = re.findall(rb"[\d.]+ [\d.]+ ([\d.]+) -?([\d.]+) re f", back.get_contents().get_data())
    assert sum(float(wide) > 400 and float(high) > 15 for wide, high in boxes) == 6
    assert sum(40 < float(wide) < 60 and float(high) > 10 for wide, high in boxes) == 6 * (len(after) - 1)


def test_nothing_on_a_sheet_is_smaller_than_7_points(printed: bytes) -> None:
    assert min(piece.size for piece in placed(printed)) >= 7.0


def test_every_step_has_what_it_asks_to_be_written_down(toothed: SetUp) -> None:
    boxes = {step.label: step.boxes for step in order_of_work(toothed)}
    assert all(boxes.values())
    assert boxes["Run"] == ("under load leans",)
    assert "surface" in boxes["Inspection"]
    assert all("dial" in boxes[step] for step in ("Zero the jack screws", "Square the idler"))
    assert list(boxes).index("Guards and restraint on") < list(boxes).index("Warm up")
    # a caption is never cut
    assert "…" not in words(card(toothed))


def test_a_flat_says_of_which_screw_it_is(toothed: SetUp) -> None:
    said = words(card(toothed))
    assert "One flat of both jack screws under the snout lifts it 0.176 mm" in said
    assert "One flat of one of the idler's adjusters moves its end by 0.423 mm" in said


@pytest.fixture(params=["set-up card", "record card", "run sheet"])
def printed(request: pytest.FixtureRequest, toothed: SetUp) -> bytes:
    if request.param == "set-up card":
        return card(toothed)
    if request.param == "record card":
        return record_card(BLANKS)
    return run_sheet(BLANKS)


def test_a_page_fits_both_papers_can_be_searched_and_is_tagged(printed: bytes) -> None:
    reader = PdfReader(io.BytesIO(printed))
    root = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert root["/Lang"] == "en"
    headings = [str(one.title) for one in reader.outline if not isinstance(one, list)]
    assert headings == [str(reader.metadata.title)]
    assert float(reader.pages[0].mediabox.width) / POINTS_A_MM == pytest.approx(210, abs=0.1)
    for piece in placed(printed):
        assert LEFT_MM - 1 <= piece.x <= LEFT_MM + WIDTH_MM, piece
        assert piece.y <= BOTTOM_MM + 1, piece
    assert WIDTH_MM < 215.9 - 24  # US letter is the wider, A4 the longer paper


def test_the_same_stands_on_us_letter(toothed: SetUp) -> None:
    cards = drive_cards(toothed)
    assert f"{toothed.layout.name} (invented example)" in words(cards["set-up-card.pdf"])
    for name in ("set-up-card", "record-card"):
        metric, letter = cards[f"{name}.pdf"], cards[f"{name}-letter.pdf"]
        width, height = (float(side) / POINTS_A_MM for side in pages_of(letter)[0].mediabox[2:])
        assert (width, height) == (pytest.approx(215.9, abs=0.1), pytest.approx(279.4, abs=0.1))
        for one, other in zip(placed(metric), placed(letter), strict=True):
            assert (one.text, one.page, one.size) == (other.text, other.page, other.size)
            assert (one.x, one.y) == (pytest.approx(other.x, abs=0.1), pytest.approx(other.y, abs=0.1))


def test_a_page_is_always_the_same_bytes(toothed: SetUp, record: bytes, sheet: bytes) -> None:
    assert card(toothed) == card(toothed)
    assert record == record_card(BLANKS)
    assert sheet == run_sheet(BLANKS)


def test_no_words_stand_on_others(printed: bytes) -> None:
    pieces = placed(printed)
    for place, one in enumerate(pieces):
        for other in pieces[:place]:
            # Baselines nearer than a small line, starting at the same place: one would be written over the other.
            apart = abs(one.x - other.x) > 1 or abs(one.y - other.y) > 2
            assert one.page != other.page or apart, f"{one} on {other}"


def test_a_card_that_does_not_fit_its_page_is_refused() -> None:
    long = [Row("Step", "Do this and that. " * 30)] * 14
    with pytest.raises(ValueError, match=r"The set-up card is .* mm too long for its page: shorten its rows"):
        set_up_card("drive", long)
    with pytest.raises(ValueError, match=r"The record card is .* mm too long for its page"):
        record_card(BLANKS * 3)


def test_a_card_without_work_or_columns_is_refused() -> None:
    with pytest.raises(ValueError, match="A set-up card needs a row on each side"):
        set_up_card("drive", [])
    with pytest.raises(ValueError, match="A record card needs a row on each side"):
        record_card([])


def test_a_long_name_is_cut_and_few_steps_do_not_sprawl() -> None:
    card = set_up_card("a drive with a name " * 20, [Row("Only step", "Do it.", boxes=("done",))])
    assert "a drive with a name a drive with a" in words(card)
    assert "…" in words(card)
    assert max(piece.y for piece in placed(card)) < 80


def test_every_column_has_its_label_and_every_level_its_box(sheet: bytes) -> None:
    text, pieces = words(sheet), [piece.text for piece in placed(sheet)]
    for column in RUNS:
        assert column.label in text
        assert (f"● {column.label}" in text) == column.required
        assert set(column.levels) <= set(pieces)
    boxes = re.findall(rb"[\d.]+ [\d.]+ 10\.77 -?10\.77 re", pages_of(sheet)[0].get_contents().get_data())
    units = 2 * sum(column.twin is not None for column in RUNS)
    assert len(boxes) == sum(len(column.levels) for column in RUNS) + units
    for caution in CAUTIONS:
        assert caution in text


def test_a_number_is_written_beside_its_unit_or_a_box_for_each_of_two(sheet: bytes) -> None:
    pieces = [piece.text for piece in placed(sheet)]
    assert pieces.count("lbf") == pieces.count("N") == sum(column.unit == "N" for column in RUNS)
    assert pieces.count("°F") == 2
    assert pieces.count("Hz") == pieces.count("s") == 1


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
def test_fields_flow_into_few_and_even_rows(widths: list[float], rows: list[list[float]]) -> None:
    assert [[widths[at] for at in row] for row in _rows_of(widths)] == rows


def test_blanks_that_no_longer_fit_on_the_page_are_refused() -> None:
    with pytest.raises(ValueError, match="below the foot of the page"):
        run_sheet([*BLANKS, *(Blank("After the run", "More", 60.0) for _ in range(40))])


def test_a_new_blank_has_its_place_on_the_sheet_without_more_ado() -> None:
    text = words(run_sheet([*BLANKS, Blank("The run", "Weather", 20.0, ("dry", "damp"))]))
    assert "Weather" in text
    assert "damp" in text
