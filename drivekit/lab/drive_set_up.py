"""Workbook 06: a drive file in, words, picture and tables out, and controls that move it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

from drivekit.cautions import CAUTIONS
from drivekit.decide.tracking import Tracking
from drivekit.drive import set_up as _set_up
from drivekit.drive.drive_file import read_drive
from drivekit.drive.layout import Height, Layout, Tension
from drivekit.drive.path import belt_path
from drivekit.drive.set_up import SetUp
from drivekit.drive.slack import tight_share
from drivekit.folder import write_files
from drivekit.lab.season_study import Study, Table, Words
from drivekit.log.columns import RUNS
from drivekit.notebooks import DRIVES, carried
from drivekit.show import cards as _cards
from drivekit.show.controls import Control, Drawing, Panel, amount, on_grid
from drivekit.show.drive_page import belt_path_picture, drive_page, pulleys_table, spans_table
from drivekit.show.hazard_words import best_judged, tension_words
from drivekit.show.pdf import Blank, on_papers
from drivekit.show.phrases import listed
from drivekit.units import INCH_POUND

__all__ = [
    "adjuster_controls",
    "belt_path_picture",
    "best_tension",
    "cards",
    "cautions",
    "drive_controls",
    "drive_said",
    "drive_words",
    "order_of_work",
    "pulleys",
    "set_up",
    "spans",
    "worked_example",
]

WRITING_MM = {"text": 60.0, "name": 30.0, "day": 28.0}
MOST_TURNS = 3.0
STILL = "Nothing in it asks for a second look."
WORKED_CAPTION = (
    "Three equal pulleys on a triangle of sides 3, 4 and 5: crank below, blower above, the idler pushed out to the left"
)


def set_up(drive: str, study: Study | None = None) -> SetUp:
    """Read a drive file and compute its whole set-up.

    With a season studied, the tension at which its belts failed least stands beside the least to set.

    Raises
    ------
    Unusable, Faulty
        When there is no drive file, or it has faults; a notebook shows their sentences alone.
    """
    best = {}
    if study is not None and best_judged(study.findings) == "best":
        best = study.findings["tension_curve"]["run_n"]
    return _set_up.set_up(read_drive(drive), tuple(best[name] for name in ("estimate", "lower", "upper") if best))


def cautions() -> Words:
    """Say what to mind before hands go near the drive."""
    return Words(CAUTIONS)


def drive_words(found: SetUp) -> Words:
    """Say which drive it is, and everything in it that needs a second look."""
    layout = found.layout
    what = f"{layout.name}: {'an invented drive' if layout.invented else 'a drive'} of {len(layout.pulleys)} pulleys"
    belt = f"a belt of {layout.belt.teeth} teeth, set to {layout.spoken.force(layout.tension.set_n)} a span."
    return Words((f"{what} and {belt} {layout.note}".rstrip(), *(found.warnings or (STILL,))))


def drive_said(found: SetUp, *headings: str) -> Words:
    """Say the parts of the set-up that stand under these headings.

    Raises
    ------
    ValueError
        If the set-up has no such heading.
    """
    said = dict(found.sentences())
    for heading in headings:
        if heading not in said:
            raise ValueError(f'the set-up has nothing under "{heading}"; it has {", ".join(said)}')
    return Words(tuple(sentence for heading in headings for sentence in said[heading]))


def best_tension(found: SetUp, study: Study) -> Words:
    """Set the least tension beside the one at which a season's belts failed least, or say why that is not known."""
    return Words((*found.said(found.guide), *(() if found.guide.best_n else (tension_words(study.findings),))))


def spans(found: SetUp) -> Table:
    """Set every span's length and what it carries in each state."""
    return Table(spans_table(found))


def pulleys(found: SetUp) -> Table:
    """Set every pulley's wrap, teeth in mesh and pull in each state."""
    return Table(pulleys_table(found))


def order_of_work(found: SetUp, tracking: Tracking | None = None) -> Table:
    """Set the steps of the work in their order, each with its number and what to write down."""
    steps = enumerate(_cards.order_of_work(found, tracking), 1)
    rows = [(f"{place}. {step.label}", step.hint, step.number, "; ".join(step.boxes)) for place, step in steps]
    return Table((("step", "what to do", "computed", "to write down"), rows))


def cards(found: SetUp, folder: str, tracking: Tracking | None = None) -> Words:
    """Write the set-up card and the record card, each for A4 and for US letter, as PDFs into a folder."""
    files = drive_cards(found, tracking)
    write_files(Path(folder), files)
    return Words((f"{listed([*files])} are written to {folder}.",))


def drive_cards(found: SetUp, tracking: Tracking | None = None) -> dict[str, bytes]:
    """Draw the set-up card of a drive and the record card of a log, for each paper, by the names of their files.

    An invented drive is called so; `tracking` is what the car's own readings say of its idler flats.
    """
    name = f"{found.layout.name} (invented example)" if found.layout.invented else found.layout.name
    steps = _cards.order_of_work(found, tracking)
    return {
        **on_papers("set-up-card.pdf", lambda paper: _cards.set_up_card(name, steps, paper)),
        **on_papers("record-card.pdf", lambda paper: _cards.record_card(run_blanks(), paper)),
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


def drive_controls(found: SetUp) -> Panel:
    """Lay controls under which the drive is set up and drawn anew; teeth and face only where another would do."""
    layout, units = as_filed(found), found.layout.spoken
    set_n, growth_mm = layout.tension.set_n, found.growth.engine_m[1] * 1e3
    last_rpm, rpm = found.slack.known_to_rpm, layout.engine.crank_rpm
    controls = {
        "set_n": amount(units, "Static tension", "N", set_n, set_n / 2, set_n * 1.5, 50),
        "growth_mm": amount(units, "Engine growth", "mm", growth_mm, 0.0, max(1.5, 2 * growth_mm), 0.05),
        "power": on_grid("Blower power, % of the file's", 100.0, 50, 150, 1),
        "rpm": on_grid("Crank at full load, rpm", rpm, layout.engine.idle_rpm + 1, last_rpm, 50),
    }
    if found.belts:
        teeth = tuple(belt.teeth for belt in found.belts)
        controls["teeth"] = Control("choice", "Teeth of the belt", teeth, layout.belt.teeth)
    if (idler := _inside(layout)) is not None:
        controls["face"] = Control("choice", "Idler", ("toothed", "smooth"), layout.pulleys[idler].face)

    def redraw(set_n: float, growth_mm: float, **chosen: Any) -> Drawing:
        chosen |= {"set_n": units.metric(set_n, "N"), "growth_mm": units.metric(growth_mm, "mm")}
        there = _set_up.set_up(moved(layout, **chosen), found.guide.best_n)
        said = (*there.said(there.slack, there.margin, there.guide), there.snout, *there.said(there.seat))
        return Drawing(belt_path_picture(there), (*said, *there.warnings))

    return Panel(controls, redraw, units=units)


def moved(
    layout: Layout,
    *,
    set_n: float,
    growth_mm: float,
    power: float,
    rpm: float,
    teeth: int | None = None,
    face: str | None = None,
) -> Layout:
    """Give a drive with some of its numbers changed: blower power is in percent of the file's, `rpm` the crank's.

    The idler's face is toothed or smooth; it keeps its pitch circle.
    """
    pulleys, idler = list(layout.pulleys), _inside(layout)
    if face is not None and idler is not None and pulleys[idler].face != face:
        pitch = {"teeth": None, "diameter_m": None, "pitch_diameter_m": 2 * pulleys[idler].pitch_radius(layout.belt)}
        pulleys[idler] = replace(pulleys[idler], face=face, **pitch)  # type: ignore[arg-type]
    tension, heights = _grown(layout.tension, layout.heights, growth_mm / 1e3)
    return replace(
        layout,
        blower=replace(layout.blower, power_w=tuple(power / 100 * watts for watts in layout.blower.power_w)),
        tension=replace(tension, set_n=set_n),
        heights=heights,
        engine=replace(layout.engine, crank_rpm=rpm),
        belt=layout.belt if teeth is None else replace(layout.belt, teeth=teeth),
        pulleys=tuple(pulleys),
    )


def _grown(tension: Tension, heights: tuple[Height, ...], growth_m: float) -> tuple[Tension, tuple[Height, ...]]:
    """Move the growth expected to a value, and its range with it, so that moved back it is as it was."""
    computed = sum(part.growth_m for part in heights)
    low = computed if tension.growth_low_m is None else tension.growth_low_m
    high = max(computed, low) if tension.growth_high_m is None else tension.growth_high_m
    more = growth_m - min(max(computed, low), high)
    if abs(more) < 1e-9:
        return tension, heights
    times = max((computed + more) / computed, 0.0) if computed else 1.0
    ranged = replace(tension, growth_low_m=max(low + more, 0.0), growth_high_m=max(high + more, 0.0))
    return ranged, tuple(replace(part, warmer_c=part.warmer_c * times) for part in heights)


def adjuster_controls(found: SetUp) -> Panel | Words:
    """Lay out a control that turns the adjusters from where the belt is seated; words where there is no slide.

    The idler's place on its slide is the static tension: the path it gives, over the belt's own length, is the stretch.
    """
    layout, gain = found.layout, found.gain
    if gain is None or layout.slide is None:
        return Words(("This drive has no adjusters on a slide to be turned.",))
    low, high = (end / gain.travel_per_turn_m for end in (layout.slide.least_m, layout.slide.most_m))
    ends = max(low, -MOST_TURNS), min(high, MOST_TURNS)

    def redraw(turns: float) -> Drawing:
        there = turned(found, turns)
        return Drawing(belt_path_picture(there), (*there.said(there.margin, there.seat), *there.warnings))

    turns = Control("number", "Adjusters, turns from the seat", ends, 0.0, 0.05)
    return Panel({"turns": turns}, redraw, units=layout.spoken)


def turned(found: SetUp, turns: float) -> SetUp:
    """Set a drive up with every adjuster turned from where its belt was seated; more turns tighten.

    Raises
    ------
    ValueError
        If there the belt is loose, or cannot run; one sentence.
    """
    layout, gain = found.layout, found.gain
    assert gain is not None  # the caller has adjusters
    travel_m = turns * gain.travel_per_turn_m * (1 if gain.path_per_travel > 0 else -1)
    belt = layout.belt
    over_m = belt_path(layout.at_travel(travel_m)).length_m - belt.length_m
    if over_m <= 0:
        short = layout.spoken.long(-over_m, 2)
        raise ValueError(f"The belt hangs loose there: its path is {short} shorter than the belt")
    tension = replace(layout.tension, set_n=belt.stiffness_n * over_m / belt.length_m)
    return _set_up.set_up(replace(as_filed(found), tension=tension), found.guide.best_n)


def as_filed(found: SetUp) -> Layout:
    """Give the drive with its idler where the file has it, so that travel is counted from there."""
    return found.layout if found.seat is None else found.layout.at_travel(-found.seat.travel_m)


def _inside(layout: Layout) -> int | None:
    """Find the idler whose face may be toothed or smooth: one inside the loop."""
    return next((i for i, one in enumerate(layout.pulleys) if one.role == "idler" and one.side == "inside"), None)


def by_hand(found: SetUp) -> tuple[tuple[str, str, float, str], ...]:
    """Set each result of the worked example, by name and unit, beside its sum on paper from numbers of the file."""
    rest, _, full = found.states
    assert found.gain is not None  # the example has adjusters
    pulled, slack_kw = full.tensions, found.slack.power_w / 1e3
    return (
        ("Length of the belt's path", "2 x 300 + 480 + 2 x pi x 100", found.path.length_m * 1e3, "mm"),
        ("Belt of 170 teeth, stretched", "1700 x (1 + 5000 / 1021815)", found.path.length_m * 1e3, "mm"),
        ("Teeth in mesh on the idler", "2 x asin(180 / 300) x 100 / 10", found.path.arcs[1].teeth_in_mesh or 0.0, ""),
        ("Tension a turn of the adjusters gains", "1021815 x 2 x 0.6 x 1.75 / 1700", found.gain.per_turn_n, "N"),
        ("Growth of the path, hot", "sqrt(180^2 + 241^2) - 300 + 1", found.growth.path_m * 1e3, "mm"),
        ("Tension that adds", "1021815 x (sqrt(180^2 + 241^2) - 299) / 1700", found.growth.tension_n[1], "N"),
        ("Pull at full load", "200000 / 50", pulled.effective_n, "N"),
        ("Tight side's share of the belt", "(480 + 249.81) / 1708.32", tight_share(found.layout, found.path), ""),
        ("What the belt's own turning takes", "0.4 x 50^2", pulled.own_n, "N"),
        ("Slack side, contact tension", "5000 + 1082.28 - 0.427209 x 4000 - 1000", pulled.slack_n, "N"),
        ("Power at which it goes slack", "50 / 0.4272089 x (5000 + 1082.277 - 1000) / 1000", slack_kw, "kW"),
        ("Pull on the idler at rest", "2 x 0.6 x 5000", rest.load(1).force_n, "N"),
        ("Pull on the blower at rest", "5000 x sqrt(0.6^2 + 1.8^2)", rest.load(2).force_n, "N"),
        ("Note of the longest span", "sqrt(5000 / 0.4) / (2 x 0.48)", found.reading.note.frequency_hz, "Hz"),
        ("Turns of the belt in a run", "(6 x 50 + 60 x 10) / 1.708319", found.duty.turns, ""),
    )


def worked_example() -> Table:
    """Set the worked example: each result beside its sum on paper."""
    found = _set_up.set_up(read_drive(carried(DRIVES) / "worked-example.toml"))
    rows = [
        (what, total, f"{value:,.{2 if unit else 4}f} {unit}".rstrip()) for what, total, value, unit in by_hand(found)
    ]
    return Table((("what", "on paper", "computed"), rows, WORKED_CAPTION))
