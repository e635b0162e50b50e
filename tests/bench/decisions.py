"""Time what workbooks 05 and 08 ask for on the demo, warm, and print each as a line: what, a tab, seconds, a tab, work.

The power of next season's test at six sizes of 10,000 seasons each, and the median of ten redraws under each control.
Work is the processors' time, which says more than the clock where others work beside it.
"""

from collections.abc import Callable
from functools import partial
from pathlib import Path
from statistics import median
from time import perf_counter, process_time
from typing import Any

from drivekit import lab
from drivekit.study.next_season import next_trial_block

DEMO = Path(__file__).parents[2] / "data" / "season-two"
PANELS = {
    "05": (lab.change_controls, lab.belt_controls, lab.spares_controls, lab.meeting_controls),
    "08": (lab.trial_controls,),
}
MOVES = 10


def timed(what: Callable[[], Any]) -> tuple[float, float]:
    """Give the seconds by the clock and those worked."""
    wall, work = perf_counter(), process_time()
    what()
    return perf_counter() - wall, process_time() - work


def told(what: str, took: list[tuple[float, float]]) -> None:
    """Print the medians."""
    print(what, *map(median, zip(*took, strict=True)), sep="\t", flush=True)


def two_others(widget: Any) -> list[Any]:
    """Give two values of a control beside the one it stands at; a choice of two comes back to its own."""
    if hasattr(widget, "step"):
        way = widget.step if widget.value + 2 * widget.step <= widget.max else -widget.step
        return [widget.value + way, widget.value + 2 * way]
    return [*(value for value in widget.options if value != widget.value), widget.value][:2]


def main() -> None:
    """Measure and print."""
    study = lab.study(str(DEMO))
    next_trial_block(study.decided, seasons=100)
    told("power at six sizes, 10,000 seasons each", [timed(lambda: next_trial_block(study.decided, seasons=10_000))])
    for workbook, panels in PANELS.items():
        for panel in (make(study) for make in panels):
            for label, widget in panel.widgets.items():
                start, values = widget.value, two_others(widget)
                took = [timed(partial(setattr, widget, "value", values[move % 2])) for move in range(-2, MOVES)]
                widget.value = start
                told(f"redraw in workbook {workbook}: {label}", took[2:])


if __name__ == "__main__":
    main()
