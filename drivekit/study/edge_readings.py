"""At how many idler flats each car's belts run even, by their edge temperatures.

The runs are those of the run table, as in every other block: a belt whose age is not known has left it. The readings
themselves stand in the block too, so that whoever holds the findings can draw the lines and ask them again.
"""

from __future__ import annotations

from drivekit.decide.tracking import tracking_of
from drivekit.study.as_json import Block, numbers
from drivekit.study.study_input import StudyInput

__all__ = ["tracking_block"]

NEEDED = ("edge_front_c", "edge_rear_c", "idler_flats_front", "idler_flats_rear")
LIFT = ("snout_flats_left", "snout_flats_right")


def tracking_block(asked: StudyInput) -> Block:
    """Fit the edges' temperature difference on idler flats and snout lift, car by car; the reason without a column.

    By car, as `drivekit.decide.tracking.Tracking.block` gives it, with its ``readings``: for each run of the car in
    order, its number, its belt, net flats and difference (both front less rear) and, where the log has it, snout lift;
    null where blank.
    """
    table = asked.table
    absent = [name for name in NEEDED if name not in table]
    if absent:
        return {"reason": f"the log has no {absent[0]} column"}
    read = {
        "net_flats": table["idler_flats_front"] - table["idler_flats_rear"],
        "difference_c": table["edge_front_c"] - table["edge_rear_c"],
    }
    if all(name in table for name in LIFT):
        read["lift_flats"] = (table[LIFT[0]] + table[LIFT[1]]) / 2
    block: Block = {}
    for car in sorted(set(table["car"])):
        mine = table["car"] == car
        readings: Block = {name: table[name][mine].tolist() for name in ("run", "belt")}
        readings |= {name: numbers(values[mine]) for name, values in read.items()}
        found = tracking_of(readings, confidence=asked.settings.confidence)
        block[car] = found.block() | {"readings": readings}
    return block if block else {"reason": "no run of a belt of known age"}
