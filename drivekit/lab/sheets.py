"""What is printed or kept blank for a season: a blank log with its run sheet, the record card, the card of a drive."""

from __future__ import annotations

from pathlib import Path

from drivekit.decide.tracking import Tracking
from drivekit.drive.blank_drive import blank_drive
from drivekit.drive.set_up import SetUp
from drivekit.faults import Unusable, shown, writing
from drivekit.lab.decisions import drawn_plan
from drivekit.lab.season_study import Study
from drivekit.log.blank import RUN_SHEET, blank_files, blank_spreadsheet
from drivekit.log.columns import RUNS
from drivekit.log.demo import SEASONS, demo_files
from drivekit.log.season import read_season
from drivekit.show.cards import order_of_work, record_card, set_up_card
from drivekit.show.drive_page import belt_path_picture, drive_page
from drivekit.show.folder import write_files
from drivekit.show.pdf import Blank, on_papers
from drivekit.show.sheet import plan_sheet, run_sheet
from drivekit.study.study_input import Settings
from drivekit.units import INCH_POUND

__all__ = ["drive_cards", "drive_files", "new_log", "run_blanks", "write_demo"]

FREE = {".xlsx": "a place where it is not", ".toml": "a file that is not"}
"""What to name where one file is to be written and something stands there."""
WRITING_MM = {"text": 60.0, "name": 30.0, "day": 28.0}


def new_log(
    path: str | Path, trial: str | Path | None = None, *, seed: int = 1, grease: bool = False
) -> tuple[Path, ...]:
    """Write a blank log and the run sheet to print beside it, all of them or none, and say what was written.

    `path` is a folder that is not there yet, or is empty; or an .xlsx file that is not there yet: the run sheet is then
    written beside it. A .toml file that is not there yet is a blank drive file instead, and stands alone. `trial` is
    last season's log: the belts of a test sized by it stand in the new one, which idler each gets drawn by lot with
    `seed`, and with `grease` whether its edges are greased, two by two; the sheet of the plan is written too.

    Raises
    ------
    Unusable
        If something stands there already, or nothing can be written there; or there is no log to size a test by.
    Faulty
        If that log has faults.
    """
    place = Path(path)
    kind = place.suffix.lower()
    home = place.parent if kind in FREE else place
    files = {place.name: blank_drive().encode()} if kind == ".toml" else _log_files(place, trial, seed, grease=grease)
    with writing(place):
        if kind in FREE:
            # The run sheet of another season may stand there: it is the same page.
            there = [home / name for name in files if (home / name).exists()]
            taken = [one for one in there if one == place or one.read_bytes() != files[one.name]]
        else:
            taken = [place] if place.exists() and (not place.is_dir() or any(place.iterdir())) else []
        if taken:
            free = FREE.get(kind, "a folder that is not")
            raise Unusable(f"{shown(str(taken[0]), None)} is there already: name {free}.")
        write_files(home, files)
    return tuple(home / name for name in files)


def _log_files(place: Path, trial: str | Path | None, seed: int, *, grease: bool) -> dict[str, bytes]:
    """Make a blank log with its run sheet, and the plan of a test and its sheet, as far as one holds it."""
    sheets, planned = on_papers(RUN_SHEET, lambda paper: run_sheet(run_blanks(), paper)), []
    if trial is not None:
        study = Study(read_season(trial), Settings(seed=seed))
        if not len(study.asked.table):
            raise Unusable(f"{shown(str(trial), None)} has no run of a belt of known age to size a test by")
        plan = drawn_plan(study, grease=grease)
        sheets["plan.pdf"] = plan_sheet(plan, seed)
        planned = [
            {
                "belt": one.belt,
                **dict(zip(("trial_idler", "trial_edge_lube"), one.arm, strict=False)),
                "trial_block": str(one.block),
                "note": f"drawn by lot with seed {seed}: line {one.line} of {one.car}",
            }
            for one in plan
        ]
    elif grease:
        raise Unusable("--grease draws the grease of a test: name the log that sizes it, as --trial my-season does")
    log = {place.name: blank_spreadsheet(planned)} if place.suffix.lower() == ".xlsx" else blank_files(planned)
    return log | sheets


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
