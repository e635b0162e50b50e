"""The worked example for a workbook: a drive of round numbers, each result beside the sum that gives it on paper."""

from __future__ import annotations

from drivekit.drive.drive_file import read_drive
from drivekit.drive.set_up import SetUp, set_up
from drivekit.lab.study import Table
from drivekit.show.markup import table
from drivekit.show.notebooks import carried_drives

__all__ = ["by_hand", "worked_example"]

EXAMPLE = "worked-example.toml"
CAPTION = (
    "Three equal pulleys on a triangle of sides 3, 4 and 5: crank below, blower above, the idler pushed out to the left"
)


def by_hand(found: SetUp) -> tuple[tuple[str, str, float, str], ...]:
    """Set each result of the worked example beside its sum.

    Parameters
    ----------
    found : SetUp
        The worked example, set up.

    Returns
    -------
    tuple of (str, str, float, str)
        What it is, the sum on paper from the numbers of the file, what the program gives, and the unit.
    """
    rest, _, full = found.states
    assert found.gain is not None  # the example has adjusters
    pulled = full.tensions
    return (
        ("Length of the belt's path", "2 x 300 + 480 + 2 x pi x 100", found.path.length_m * 1e3, "mm"),
        ("Belt of 170 teeth, stretched", "1700 x (1 + 5000 / 1021815)", found.path.length_m * 1e3, "mm"),
        ("Teeth in mesh on the idler", "2 x asin(180 / 300) x 100 / 10", found.path.arcs[1].teeth_in_mesh or 0.0, ""),
        ("Tension a turn of the adjusters gains", "1021815 x 2 x 0.6 x 1.75 / 1700", found.gain.per_turn_n, "N"),
        ("Growth of the path, hot", "sqrt(180^2 + 241^2) - 300 + 1", found.growth.path_m * 1e3, "mm"),
        ("Tension that adds", "1021815 x (sqrt(180^2 + 241^2) - 299) / 1700", found.growth.tension_n[1], "N"),
        ("Pull at full load", "200000 / 50", pulled.effective_n, "N"),
        ("What the belt's own turning takes", "0.4 x 50^2", pulled.own_n, "N"),
        ("Slack side, contact tension", "5000 + 1082.28 - 4000 / 2 - 1000", pulled.slack_n, "N"),
        ("Power at which it goes slack", "2 x 50 x (5000 + 1082.28 - 1000) / 1000", found.slack.power_w / 1e3, "kW"),
        ("Pull on the idler at rest", "2 x 0.6 x 5000", rest.load(1).force_n, "N"),
        ("Pull on the blower at rest", "5000 x sqrt(0.6^2 + 1.8^2)", rest.load(2).force_n, "N"),
        ("Note of the longest span", "sqrt(5000 / 0.4) / (2 x 0.48)", found.reading.note.frequency_hz, "Hz"),
        ("Turns of the belt in a run", "(6 x 50 + 60 x 10) / 1.708319", found.duty.turns, ""),
    )


def worked_example() -> Table:
    """Set the worked example: each result beside its sum on paper."""
    found = set_up(read_drive(carried_drives() / EXAMPLE))
    rows = [(what, total, f"{value:,.2f} {unit}".rstrip()) for what, total, value, unit in by_hand(found)]
    return Table(table(("what", "on paper", "computed"), rows, CAPTION))
