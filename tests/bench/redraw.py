"""Move the controls of workbook 02 over the demo and print each redraw's seconds, one a line.

A redraw is what a person waits for: from the moved control to the new picture and words in the widget.
"""

from pathlib import Path
from time import perf_counter

from drivekit import lab

DEMO = Path(__file__).parents[2] / "data" / "season-two"


def main(moves: int = 20) -> None:
    panel = lab.curves_controls(lab.study(str(DEMO)))
    horizon, shown = panel.widgets["Horizon, runs"], panel.shown
    for move in range(moves + 1):
        before = shown.value
        started = perf_counter()
        horizon.value = 8 + move % 2
        took = perf_counter() - started
        if shown.value == before or "<svg" not in shown.value:
            raise SystemExit("the control was moved and no new picture came")
        if move:  # the first one also loads what draws
            print(took)


if __name__ == "__main__":
    main()
