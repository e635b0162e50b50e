"""A season studied in a workbook: from a folder, a spreadsheet, with own headings, or refused without a traceback."""

from __future__ import annotations

import csv
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from openpyxl import Workbook

from drivekit.faults import Faulty, Unusable
from drivekit.lab.season_study import ALL_CARS, Study, Table, Words, contents, sentence, study
from drivekit.show.words import answer, exploratory_answer


def test_a_study_reads_says_and_keeps_what_was_chosen(folder: Path, studied: Study) -> None:
    chosen = study(str(folder), horizon=4, failures=("tooth-jump",), seed=5)
    assert chosen.settings == replace(studied.settings, horizon=4, failures=("tooth-jump",), seed=5)
    assert chosen.findings["settings"]["horizon_runs"] == 4
    assert chosen.findings["log"]["failed"] < studied.findings["log"]["failed"]
    assert str(studied) == repr(studied) == str(studied.season)
    assert studied._repr_html_() == f"<p>{studied.season}</p>"
    assert len(studied.asked.table) == studied.findings["log"]["runs"]


def test_the_contents_link_every_other_workbook_with_what_it_found(studied: Study) -> None:
    listed, top = contents(studied), Path(__file__).parents[2] / "workbooks"
    names = [name for name, _ in listed]
    assert names == [place.stem for place in sorted(top.glob("[0-9]*.ipynb")) if not place.stem.startswith("00")]
    assert all(f'<a href="{name}.ipynb">' in listed._repr_html_() for name in names)
    log = studied.findings["log"]
    assert f"01 season log: {log['name']}: {log['belts']} belts and {log['runs']} runs; " in str(listed)


def test_a_spreadsheet_is_studied_like_its_folder(folder: Path, studied: Study, tmp_path: Path) -> None:
    book = Workbook()
    book.remove(book.active)
    for name in ("belts", "runs"):
        sheet = book.create_sheet(name)
        with (folder / f"{name}.csv").open(encoding="utf-8", newline="") as lines:
            for row in csv.reader(lines):
                sheet.append([float(cell) if cell.replace(".", "").isdigit() else cell or None for cell in row])
    place = tmp_path / "season.xlsx"
    book.save(place)
    ours = study(str(place))
    for block in ("life", "hazard", "headline", "standardised"):
        assert ours.findings[block] == studied.findings[block]


def test_own_headings_are_mapped(folder: Path, studied: Study, tmp_path: Path) -> None:
    for name in ("belts", "runs"):
        text = (folder / f"{name}.csv").read_text(encoding="utf-8")
        head, _, rest = text.partition("\n")
        (tmp_path / f"{name}.csv").write_text(head.replace("belt", "Riemen", 1) + "\n" + rest, encoding="utf-8")
    (tmp_path / "map.toml").write_text('[belts]\nRiemen = "belt"\n[runs]\nRiemen = "belt"\n', encoding="utf-8")
    ours = study(str(tmp_path), columns=str(tmp_path / "map.toml"))
    assert ours.findings["life"] == studied.findings["life"]
    with pytest.raises(Faulty):
        study(str(tmp_path))


def shown(code: str) -> str:
    """Run a cell in IPython and give what it prints."""
    from IPython.core.interactiveshell import InteractiveShell
    from IPython.utils.capture import capture_output

    shell = InteractiveShell()
    with capture_output() as captured:
        shell.run_cell(code)
    return captured.stdout + captured.stderr


def test_a_log_with_faults_shows_their_sentences_and_no_traceback(written: Callable[..., Path]) -> None:
    runs = "run,day,car,belt,idler,fate\n1,2032-03-01,red,A,tothed,kept\n2,2032-03-01,red,Z,smooth,kept\n"
    place = written("belt\nA\n", runs)
    said = shown(f"from drivekit import lab\nlab.study({str(place)!r})")
    with pytest.raises(Faulty) as refused:
        study(str(place))
    assert said.strip().splitlines() == str(refused.value).splitlines()
    assert 'runs.csv:2:idler: fault: "tothed"' in said
    assert "Traceback" not in said


def test_a_log_that_is_not_there_is_one_sentence(tmp_path: Path) -> None:
    place = tmp_path / "nowhere"
    said = shown(f"from drivekit import lab\nlab.study({str(place)!r})")
    with pytest.raises(Unusable) as refused:
        study(str(place))
    assert said.strip() == str(refused.value)
    assert "\n" not in said.strip()


def test_words_are_sentences_in_text_and_paragraphs_in_a_page() -> None:
    words = Words(("Belts < 3 failed.", "No more."))
    assert str(words) == repr(words) == "Belts < 3 failed.\nNo more."
    assert words._repr_html_() == "<p>Belts &lt; 3 failed.</p><p>No more.</p>"


def test_a_table_in_text_is_its_cells_row_by_row() -> None:
    made = Table((("what", "runs"), (("smooth & <old>", "3"), ("toothed", "12 %")), "How many"))
    assert repr(made).replace("\u202f", " ").replace("\xa0", " ").splitlines() == [
        "How many", "what | runs", "smooth & <old> | 3", "toothed | 12 %",
    ]  # fmt: skip
    left = ' style="text-align:left"'
    assert made._repr_html_() == made.html.replace('<th scope="row"', f'<th{left} scope="row"')
    told = Table((("what", "why"), (("smooth", "it broke"),)))._repr_html_()
    assert told.count(left) == told.count("<th") + told.count("<td") - told.count("<thead") == 4
    assert "&lt;old&gt;" in made.html


def test_a_sentence_answers_planned_and_exploratory_questions_alike(studied: Study) -> None:
    assert sentence(studied.findings, "idler") == str(answer(studied.findings, "idler"))
    assert sentence(studied.findings, "width") == str(exploratory_answer(studied.findings, "width"))


def test_one_car_is_asked_of_its_own_runs(studied: Study) -> None:
    assert studied.cars == ["blue", "red"]
    every, red = studied.asking(ALL_CARS), studied.asking("red")
    assert every.table is studied.asked.table
    assert set(red.table["car"]) == {"red"}
    assert len(red.table) == int((studied.asked.table["car"] == "red").sum())


def test_only_settings_that_the_log_records_are_offered(studied: Study) -> None:
    assert list(studied.recorded) == ["idler", "belt tension", "edge grease", "idler support", "belt width"]
