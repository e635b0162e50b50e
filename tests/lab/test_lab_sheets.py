"""What `drivekit new` writes: a blank log of the log's own columns, and the run sheet drawn from the same."""

import pytest

from drivekit.cautions import CAUTIONS
from drivekit.lab.sheets import new_log, run_blanks
from drivekit.log import RUNS
from drivekit.show.run_sheet import run_sheet


@pytest.mark.parametrize("name", ["season", "season.xlsx"])
def test_a_blank_log_has_its_run_sheet_beside_it(tmp_path, name) -> None:
    written = new_log(tmp_path / "new" / name)
    assert [path for path in written if not path.is_file()] == []
    sheet = next(path for path in written if path.name == "run-sheet.pdf")
    assert sheet.read_bytes() == run_sheet(run_blanks(), CAUTIONS)


def test_every_column_of_a_run_is_a_blank_marked_where_it_must_be_filled() -> None:
    blanks = run_blanks()
    assert [blank.label.removeprefix("● ") for blank in blanks] == [column.label for column in RUNS]
    assert [blank.label.startswith("●") for blank in blanks] == [column.required for column in RUNS]
    by_label = {blank.label: blank for blank in blanks}
    assert by_label["with free span"].units == ("mm", "in")
    assert by_label["or: span rings at"].units == ("Hz",)
    assert by_label["Adjuster turns"].units == ()
