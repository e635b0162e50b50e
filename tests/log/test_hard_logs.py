import ast
import sys
from pathlib import Path

import pytest

import drivekit.log
from drivekit.faults import Fault
from drivekit.log import check_season
from drivekit.log.cells import Cells
from drivekit.log.rules import RULES
from drivekit.log.tables import Table

HARD = Path(__file__).parents[1] / "hard"
LOGS = sorted(place.parent for place in HARD.glob("*/said.txt"))
MODULES = ("cells", "headings", "reading", "rules", "tables", "tension")


def checked(place: Path) -> tuple[Fault, ...]:
    own = place / "map.toml"
    sheets = place / "season.xlsx"
    return check_season(sheets if sheets.exists() else place, own if own.exists() else None)


@pytest.mark.parametrize("place", LOGS, ids=lambda place: place.name)
def test_what_is_said_of_a_hard_log_is_what_was_said_before(place) -> None:
    assert [str(fault) for fault in checked(place)] == (place / "said.txt").read_text().splitlines()


def test_every_hard_log_has_a_line_on_why() -> None:
    why = (HARD / "README.md").read_text()
    assert LOGS
    assert [place.name for place in LOGS if f"- `{place.name}`: " not in why] == []


def test_nothing_of_the_program_itself_is_shown_to_the_user() -> None:
    said = "\n".join(path.read_text() for path in HARD.glob("*/said.txt"))
    for word in ("Error", "Exception", "dtype", "float", "NaN", "None", "numpy", "object", "[0-9]", "nan "):
        assert word not in said, word


def written_in(module: str) -> set[tuple[str, int]]:
    """Every place of a module that finds fault: its first line."""
    tree = ast.parse(Path(sys.modules[f"drivekit.log.{module}"].__file__).read_text())
    calls = [node for node in ast.walk(tree) if isinstance(node, ast.Call)]
    return {
        (module, call.lineno)
        for call in calls
        if getattr(call.func, "id", "") == "Fault" or getattr(call.func, "attr", "") == "fault"
    }


def test_the_hard_logs_set_off_every_fault_that_the_checks_can_find(monkeypatch) -> None:
    assert drivekit.log.check_season is check_season
    made: set[tuple[str, int]] = set()

    def watched(find):
        def finding(*parts, **named):
            caller = sys._getframe(1)
            made.add((caller.f_globals["__name__"].rsplit(".", 1)[1], caller.f_lineno))
            return find(*parts, **named)

        return finding

    written = {place for module in MODULES for place in written_in(module)}
    for thing, find in ((Fault, "__init__"), (Cells, "fault"), (Table, "fault")):
        monkeypatch.setattr(thing, find, watched(getattr(thing, find)))
    for place in LOGS:
        checked(place)
    assert written - made == set()


def test_the_hard_logs_break_every_rule_across_rows(monkeypatch) -> None:
    silent = {rule.__name__ for rule in RULES}

    def heard(rule):
        def listen(sheets):
            faults = list(rule(sheets))
            if faults:
                silent.discard(rule.__name__)
            yield from faults

        return listen

    monkeypatch.setattr("drivekit.log.season.RULES", tuple(map(heard, RULES)))
    for place in LOGS:
        checked(place)
    assert silent == set()
