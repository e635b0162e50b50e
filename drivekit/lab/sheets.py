"""What is printed or kept blank for a season: a blank log with its run sheet, the record card, the card of a drive."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from drivekit.drive.blank_drive import blank_drive
from drivekit.faults import Unusable, shown, writing
from drivekit.log.blank import RUN_SHEET, blank_files, blank_spreadsheet
from drivekit.log.columns import RUNS
from drivekit.log.demo import SEASONS, demo_files
from drivekit.show.cards import order_of_work, record_card, set_up_card
from drivekit.show.drive_page import belt_path_picture, drive_page
from drivekit.show.folder import write_files
from drivekit.show.pdf import Blank, on_papers
from drivekit.show.sheet import MOST_PLANNED, plan_sheet, run_sheet
from drivekit.units import INCH_POUND

if TYPE_CHECKING:
    from drivekit.decide.next_trial import PlannedBelt
    from drivekit.decide.tracking import Tracking
    from drivekit.drive.set_up import SetUp

__all__ = ["drive_cards", "drive_files", "new_log", "run_blanks", "write_demo"]

WRITING_MM = {"text": 60.0, "name": 30.0, "day": 28.0}


def new_log(
    path: str | Path, trial: str | Path | None = None, *, seed: int = 1, grease: bool = False
) -> tuple[Path, ...]:
    """Write a blank log and the run sheet to print beside it, all of them or none, and say what was written.

    Parameters
    ----------
    path : path
        A folder that is not there yet, or is empty; or an .xlsx file that is not there yet: the run sheet is then
        written beside it. A .toml file that is not there yet is a blank drive file instead, and stands alone.
    trial : path, optional
        Last season's log: the belts of a test sized by it stand in the new one, which idler each gets drawn by lot with
        `seed`, and the sheet of the plan is written too.
    grease : bool
        Whether grease on the edges is drawn too, two by two.

    Raises
    ------
    Unusable
        If something stands there already, or nothing can be written there; or there is no log to size a test by.
    Faulty
        If that log has faults.
    """
    place = Path(path)
    sheet = on_papers(RUN_SHEET, lambda paper: run_sheet(run_blanks(), paper))
    if place.suffix.lower() == ".toml":
        return _new_drive(place)
    if grease and trial is None:
        raise Unusable("--grease draws the grease of a test: name the log that sizes it, as --trial my-season does")
    plan = () if trial is None else _plan(trial, seed, grease=grease)
    if plan:
        sheet["plan.pdf"] = plan_sheet(plan, seed)
    planned = [
        {
            "belt": one.belt,
            **dict(zip(("trial_idler", "trial_edge_lube"), one.arm, strict=False)),
            "trial_block": str(one.block),
            "note": f"drawn by lot with seed {seed}: line {one.line} of {one.car}",
        }
        for one in plan
    ]
    with writing(place):
        if place.suffix.lower() == ".xlsx":
            folder, files = place.parent, {place.name: blank_spreadsheet(planned)} | sheet
            for name, content in files.items():
                file = folder / name
                # The run sheet of another season may stand there: it is the same page.
                if file.exists() and (file == place or file.read_bytes() != content):
                    raise Unusable(f"{shown(str(file), None)} is there already: name a place where it is not.")
        else:
            folder, files = place, blank_files(planned) | sheet
            if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
                raise Unusable(f"{shown(str(folder), None)} is there already: name a folder that is not.")
        write_files(folder, files)
    return tuple(folder / name for name in files)


def _plan(trial: str | Path, seed: int, *, grease: bool) -> tuple[PlannedBelt, ...]:
    """Size a test by last season's log and draw its plan, as far as one sheet holds it."""
    from drivekit.lab.decisions import drawn_plan
    from drivekit.log.season import read_season, run_table
    from drivekit.study.study_input import Settings, StudyInput

    season = read_season(trial)
    asked = StudyInput(run_table(season), Settings(seed=seed))
    if not len(asked.table):
        raise Unusable(f"{shown(str(trial), None)} has no run of a belt of known age to size a test by")
    return drawn_plan(asked, len(season.runs), MOST_PLANNED, grease=grease)


def _new_drive(place: Path) -> tuple[Path, ...]:
    """Write a blank drive file where none is."""
    with writing(place):
        if place.exists():
            raise Unusable(f"{shown(str(place), None)} is there already: name a file that is not.")
        write_files(place.parent, {place.name: blank_drive().encode()})
    return (place,)


def write_demo(folder: Path, *, seed: int = 1) -> tuple[Path, ...]:
    """Write season-one and season-two into a folder, which is made if it is not there, both or none; give their places.

    Season one is drawn from `seed`, season two from the number after it.

    Raises
    ------
    Unusable
        If one of the two is there already (nothing is written then), or the folder is a file or cannot be written.
    """
    homes = {plan.name: folder / plan.name for plan in SEASONS}
    again = "is there already; name a folder without it, so that nothing of yours is replaced"
    with writing(folder):
        for home in homes.values():
            if home.exists():
                raise Unusable(f"{home} {again}")
        write_files(folder, demo_files(seed))
    return tuple(homes.values())


def drive_cards(found: SetUp, tracking: Tracking | None = None) -> dict[str, bytes]:
    """Draw the set-up card of a drive and the record card of a log, for each paper, by the names of their files.

    An invented drive is called so; `tracking` is what the car's own readings say of its idler flats.
    """
    name = f"{found.layout.name} (invented example)" if found.layout.invented else found.layout.name
    steps = order_of_work(found, tracking)
    return {
        **on_papers("set-up-card.pdf", lambda paper: set_up_card(name, steps, paper)),
        **on_papers("record-card.pdf", lambda paper: record_card(run_blanks(), paper)),
    }


def drive_files(found: SetUp) -> dict[str, bytes]:
    """Draw the page of a drive, the picture of its path and its two cards, by the names of their files."""
    picture = belt_path_picture(found)
    return {
        "drive.html": drive_page(found).encode(),
        "belt-path.svg": picture.svg().encode(),
        "belt-path.png": picture.png("slide"),
        **drive_cards(found),
    }


def run_blanks() -> tuple[Blank, ...]:
    """Say what is to be filled in about a run, as the sheets to print take it: every column of the log's runs."""
    return tuple(
        Blank(
            column.part,
            f"● {column.label}" if column.required else column.label,
            WRITING_MM.get(column.kind, 20.0),
            column.levels,
            tuple(unit for unit in (column.unit, column.unit in INCH_POUND and INCH_POUND[column.unit].unit) if unit),
            column.kind == "text",
        )
        for column in RUNS
    )
