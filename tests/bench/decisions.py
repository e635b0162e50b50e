"""Time what workbooks 05 and 08 ask for on the demo, warm, and print each as a line: what, a tab, seconds.

The power of next season's test at six sizes of 10,000 seasons each, and the median redraw under each row of controls.
"""

from pathlib import Path
from statistics import median
from time import perf_counter

from drivekit import lab
from drivekit.study.decisions import DecisionInput
from drivekit.study.hazard_fit import HazardInput
from drivekit.study.next_season import next_trial_block

DEMO = Path(__file__).parents[2] / "data" / "season-two"


def main(moves: int = 8) -> None:
    study = lab.study(str(DEMO))
    asked = DecisionInput(HazardInput(study.asked), len(study.season.runs))
    next_trial_block(asked, seasons=100)
    started = perf_counter()
    next_trial_block(asked, seasons=10_000)
    print(f"power at six sizes, 10,000 seasons each\t{perf_counter() - started}")
    for panel in (
        lab.change_controls,
        lab.belt_controls,
        lab.spares_controls,
        lab.meeting_controls,
        lab.trial_controls,
    ):
        controls, shown = panel(study).children
        slider = next(control for control in controls.children if hasattr(control, "step"))
        took = []
        for move in range(moves + 1):
            before, started = shown.value, perf_counter()
            slider.value += slider.step if move % 2 == 0 else -slider.step
            took.append(perf_counter() - started)
            if shown.value == before:
                raise SystemExit(f"{panel.__name__}: the control was moved and nothing new came")
        print(f"redraw under {panel.__name__}, median\t{median(took[1:])}")


if __name__ == "__main__":
    main()
