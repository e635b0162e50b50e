"""The run sheet, the set-up card and the record card, tested by what stands on their one page."""

import io
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from pypdf import PdfReader

from drivekit.cautions import CAUTIONS
from drivekit.decide.tracking import Tracking, tracking
from drivekit.drive.drive_file import read_drive
from drivekit.drive.set_up import SetUp, set_up
from drivekit.lab.sheets import drive_cards, run_blanks
from drivekit.log.columns import RUNS
from drivekit.show.cards import ESTIMATES, PHASE_GUIDE, Step, order_of_work, record_card, set_up_card
from drivekit.show.pdf import BOTTOM_MM, LEFT_MM, WIDTH_MM, Blank
from drivekit.show.run_sheet import rows_of, run_sheet

DRIVES = Path(__file__).parents[2] / "data" / "drives"
POINTS_A_MM = 72 / 25.4
BLANKS = run_blanks()
FOOT = (" ".join(PHASE_GUIDE), " ".join(CAUTIONS))


@pytest.fixture(scope="module")
def toothed() -> SetUp:
    return set_up(read_drive(DRIVES / "toothed-inside.toml"))


@pytest.fixture(scope="module")
def record() -> bytes:
    return record_card(BLANKS, foot=FOOT)


@pytest.fixture(scope="module")
def sheet() -> bytes:
    return run_sheet(BLANKS, CAUTIONS)


def only_page(pdf: bytes) -> Any:
    reader = PdfReader(io.BytesIO(pdf))
    assert len(reader.pages) == 1
    return reader.pages[0]


def card(found: SetUp, readings: Tracking | None = None) -> bytes:
    return drive_cards(found, readings)["set-up-card.pdf"]


def words(pdf: bytes) -> str:
    return " ".join(only_page(pdf).extract_text().split())


def placed(pdf: bytes) -> list[tuple[str, float, float]]:
    """Every piece of text with its place in millimetres from the left and the top."""
    page, pieces = only_page(pdf), []
    height = float(page.mediabox.height)

    def visit(text: str, cm: list[float], tm: list[float], font: object, size: float) -> None:
        if text.strip():
            x, y = tm[4] * cm[0] + cm[4], tm[5] * cm[3] + cm[5]
            pieces.append((text.strip(), x / POINTS_A_MM, (height - y) / POINTS_A_MM))

    page.extract_text(visitor_text=visit)
    return pieces


@pytest.mark.parametrize("drive", sorted(path.name for path in DRIVES.glob("*.toml")))
def test_every_example_drive_has_its_card_with_every_number_from_the_computation(drive: str) -> None:
    computed = set_up(read_drive(DRIVES / drive))
    said = words(card(computed))
    for step in order_of_work(computed):
        assert step.title in said
        assert step.do in said
        assert step.number in said
        for box in step.boxes:
            assert box in said
    assert f"Set {computed.layout.spoken.said(computed.layout.tension.set_n, 'N')}" in said
    assert f"{computed.reading.note.frequency_hz:.1f} Hz" in said
    assert f"{computed.layout.name} (invented example)" in said
    assert ESTIMATES in said


def test_the_work_stands_in_its_order_and_the_cautions_before_it(toothed: SetUp) -> None:
    said = words(card(toothed))
    titles = [step.title for step in order_of_work(toothed)]
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


def test_the_record_card_has_a_row_for_every_column_of_the_log(record: bytes) -> None:
    pieces = placed(record)
    shown = [column for column in RUNS if column.part]
    assert len(shown) > 30
    labels = [text for text, x, _ in pieces if x < LEFT_MM + 2]
    for column in shown:
        assert (f"● {column.label}" if column.required else column.label) in labels
    for part in {column.part for column in shown}:
        assert part in labels
    # Eight upright rules, seven runs, beside every row.
    content = only_page(record).get_contents().get_data().decode("latin-1")
    assert content.count(" l S") >= len(shown) * 9
    assert PHASE_GUIDE[0] in words(record)
    assert CAUTIONS[3] in words(record)


def test_a_hint_is_cut_at_a_word_where_it_has_no_room(record: bytes) -> None:
    hints = [text for text, x, _ in placed(record) if text.endswith("…")]
    assert hints == ["none, cylinder-out, oil-down, backfire …"]
    assert "front, even, rear" in words(record)


@pytest.fixture(params=["set-up card", "record card", "run sheet"])
def printed(request: pytest.FixtureRequest, toothed: SetUp) -> bytes:
    if request.param == "set-up card":
        return card(toothed)
    if request.param == "record card":
        return record_card(BLANKS, foot=FOOT)
    return run_sheet(BLANKS, CAUTIONS)


def test_a_page_fits_both_papers_can_be_searched_and_is_tagged(printed: bytes) -> None:
    reader = PdfReader(io.BytesIO(printed))
    root = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert root["/Lang"] == "en"
    headings = [str(one.title) for one in reader.outline if not isinstance(one, list)]
    assert headings == [str(reader.metadata.title)]
    assert float(only_page(printed).mediabox.width) / POINTS_A_MM == pytest.approx(210, abs=0.1)
    for text, x, y in placed(printed):
        assert x >= LEFT_MM - 1, text
        assert x <= LEFT_MM + WIDTH_MM, text
        assert y <= BOTTOM_MM + 1, text
    assert WIDTH_MM < 215.9 - 24  # US letter is the wider, A4 the longer paper


def test_a_page_is_always_the_same_bytes(toothed: SetUp, record: bytes, sheet: bytes) -> None:
    assert card(toothed) == card(toothed)
    assert record == record_card(BLANKS, foot=FOOT)
    assert sheet == run_sheet(BLANKS, CAUTIONS)


def test_no_words_stand_on_others(printed: bytes) -> None:
    pieces = placed(printed)
    for place, (text, x, y) in enumerate(pieces):
        for other, other_x, other_y in pieces[:place]:
            # Baselines nearer than a small line, starting at the same place: one would be written over the other.
            assert abs(x - other_x) > 1 or abs(y - other_y) > 2, f"{text} on {other}"


def test_a_card_that_does_not_fit_its_page_is_refused() -> None:
    long = [Step("Step", "Do this and that. " * 30)] * 14
    with pytest.raises(ValueError, match=r"The set-up card is .* mm too long for its page: shorten its steps"):
        set_up_card("drive", long, CAUTIONS)
    with pytest.raises(ValueError, match=r"no room for .* columns of the log: hand in fewer"):
        record_card(BLANKS * 2, foot=FOOT)


def test_a_card_without_work_cautions_or_columns_is_refused() -> None:
    with pytest.raises(ValueError, match="A set-up card needs its steps and its cautions"):
        set_up_card("drive", [], CAUTIONS)
    with pytest.raises(ValueError, match="A set-up card needs its steps and its cautions"):
        set_up_card("drive", [Step("Step", "Do it.")], [])
    with pytest.raises(ValueError, match="A record card needs at least one column of the log and one run"):
        record_card([])


def test_a_long_name_is_cut_and_few_steps_do_not_sprawl() -> None:
    card = set_up_card("a drive with a name " * 20, [Step("Only step", "Do it.", boxes=("done",))], CAUTIONS)
    assert "a drive with a name a drive with a" in words(card)
    assert "…" in words(card)
    assert max(y for _, _, y in placed(card)) < 80


def test_every_column_has_its_label_and_every_level_its_box(sheet: bytes) -> None:
    text, pieces = words(sheet), [word for word, _, _ in placed(sheet)]
    for column in RUNS:
        assert column.label in text
        assert (f"● {column.label}" in text) == column.required
        assert set(column.levels) <= set(pieces)
    boxes = re.findall(rb"[\d.]+ [\d.]+ 10\.77 -?10\.77 re", only_page(sheet).get_contents().get_data())
    units = 2 * sum(column.twin is not None for column in RUNS)
    assert len(boxes) == sum(len(column.levels) for column in RUNS) + units
    for caution in CAUTIONS:
        assert caution in text


def test_a_number_is_written_beside_its_unit_or_a_box_for_each_of_two(sheet: bytes) -> None:
    pieces = [word for word, _, _ in placed(sheet)]
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
    assert [[widths[at] for at in row] for row in rows_of(widths)] == rows


def test_blanks_that_no_longer_fit_on_the_page_are_refused() -> None:
    with pytest.raises(ValueError, match="below the foot of the page"):
        run_sheet([*BLANKS, *(Blank("After the run", "More", 60.0) for _ in range(40))], CAUTIONS)


def test_a_new_blank_has_its_place_on_the_sheet_without_more_ado() -> None:
    text = words(run_sheet([*BLANKS, Blank("The run", "Weather", 20.0, ("dry", "damp"))], CAUTIONS))
    assert "Weather" in text
    assert "damp" in text
