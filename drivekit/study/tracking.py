"""At how many idler flats each car's belt runs even, by its edge temperatures.

The runs are those of the run table, as in every other block: a belt whose age is not known has left it. The readings
themselves stand in the block too, so that whoever holds the findings can draw the line and ask it again.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from drivekit.study.as_json import Plain, numbers
from drivekit.study.study_input import StudyInput

if TYPE_CHECKING:
    from drivekit.decide.line import Floats

__all__ = ["tracking_block"]

NEEDED = ("edge_front_c", "edge_rear_c", "idler_flats_front", "idler_flats_rear")
LIFT = ("snout_flats_left", "snout_flats_right")


def tracking_block(asked: StudyInput) -> Plain:
    """Fit the edges' temperature difference on the net idler flats, car by car.

    Parameters
    ----------
    asked : StudyInput
        The run table, and the confidence of the limits.

    Returns
    -------
    dict
        By car, as `drivekit.decide.tracking.Tracking.block` gives it, with its ``readings``: for each run of the car in
        order, its number, its belt, net flats and difference (both front less rear) and, where the log has it, snout
        lift; null where blank.
        Or the reason, when the log lacks a column it needs.
    """
    from drivekit.decide.tracking import tracking

    table = asked.table
    absent = [name for name in NEEDED if name not in table]
    if absent:
        return {"reason": f"the log has no {absent[0]} column"}
    net = table["idler_flats_front"] - table["idler_flats_rear"]
    difference = table["edge_front_c"] - table["edge_rear_c"]
    lift: Floats | None = None
    if all(name in table for name in LIFT):
        lift = (table[LIFT[0]] + table[LIFT[1]]) / 2
    block: Plain = {}
    for car in sorted(set(table["car"])):
        mine = table["car"] == car
        of_car = None if lift is None else lift[mine]
        found = tracking(
            net[mine],
            difference[mine],
            table["belt"][mine],
            lift_flats=of_car,
            confidence=asked.settings.confidence,
        )
        readings: Plain = {
            "run": table["run"][mine].tolist(),
            "belt": table["belt"][mine].tolist(),
            "net_flats": numbers(net[mine]),
            "difference_c": numbers(difference[mine]),
        }
        if of_car is not None:
            readings["lift_flats"] = numbers(of_car)
        block[car] = found.block() | {"readings": readings}
    return block if block else {"reason": "no run of a belt of known age"}
