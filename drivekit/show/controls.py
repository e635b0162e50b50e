"""Rows of controls for a workbook: what may be moved, and the drawing that answers each move.

A control is plain data until `panel` makes widgets of it. The drawing is the value of an HTML widget, set at once at
every move, so that a moved control and what it shows can never be apart; a choice that cannot be used is answered by
its one sentence in the same place.
"""

from __future__ import annotations

from collections.abc import Callable, Container, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from math import floor, log10
from typing import TYPE_CHECKING, Any, Literal, NamedTuple, Protocol

from drivekit.units import Units

if TYPE_CHECKING:
    from ipywidgets import VBox, Widget

__all__ = [
    "INVITATION",
    "Control",
    "Drawing",
    "amount",
    "answer_box",
    "headed",
    "on_grid",
    "panel",
    "put",
    "with_still",
]

INVITATION = "Move a control: the picture and its answer are drawn anew here, beside the ones above."


@dataclass(frozen=True, slots=True)
class Control:
    """One thing that may be moved.

    Parameters
    ----------
    kind : {"choice", "several", "whole", "number", "range"}
        One of several values; any of several; a whole number, a number, or a pair of numbers between two ends.
    label : str
        What it is, with its unit.
    values : tuple
        The values to choose from, or the two ends.
    start : object
        The value it stands at; None: the first.
    step : float
        Of a number or a range.
    """

    kind: Literal["choice", "several", "whole", "number", "range"]
    label: str
    values: tuple[Any, ...]
    start: Any = None
    step: float = 0.1

    def widget(self) -> Widget:
        """Make the widget."""
        import ipywidgets

        start = self.values[0] if self.start is None else self.start
        common = {"description": self.label, "style": {"description_width": "initial"}}
        wide = {**common, "layout": {"width": "30em"}}
        if self.kind == "choice":
            return ipywidgets.Dropdown(options=self.values, value=start, **common)
        if self.kind == "several":
            rows = min(len(self.values), 9)
            return ipywidgets.SelectMultiple(options=self.values, value=tuple(start), rows=rows, **common)
        low, high = self.values
        ends = {"min": low, "max": high, "value": start, "continuous_update": False, **wide}
        if self.kind == "whole":
            return ipywidgets.IntSlider(**ends)
        slider = ipywidgets.FloatSlider if self.kind == "number" else ipywidgets.FloatRangeSlider
        return slider(step=self.step, readout_format=f".{max(0, -floor(log10(self.step)))}f", **ends)

    def cut(self, value: object) -> str:
        """Say that a slider moved to its end cuts there what is typed beyond it; empty elsewhere."""
        if self.kind not in ("whole", "number") or value == self.start or value not in self.values:
            return ""
        return f"{self.label}: {value:g} is the end of this control, and what is typed beyond it is cut to that."


def on_grid(label: str, start: float, low: float, high: float, step: float) -> Control:
    """Make a number's control whose steps fall on where it starts: moved and put back, it is what it was.

    Its ends are the last steps within `low` and `high`, wide enough for the start.
    """
    low, high = start - max(0, floor((start - low) / step)) * step, start + max(0, floor((high - start) / step)) * step
    return Control("number", label, (low, high), start, step)


def answer_box(label: str, value: str, known: Sequence[str], *, only: bool) -> VBox:
    """Make the field of a question: a drop-down where only what is known may be said, else a text that offers it.

    What is wrong with the answer has a place under it.
    """
    import ipywidgets

    said = {"description": label, "style": {"description_width": "17em"}, "layout": {"width": "29em"}}
    if only:
        box = ipywidgets.Dropdown(options=("", *known), **said)
    else:
        box = ipywidgets.Combobox(options=known, continuous_update=False, **said)
    put(box, value)
    return ipywidgets.VBox([box, ipywidgets.HTML(layout={"width": "29em"})])


def put(box: Widget, value: str) -> None:
    """Set the value of a field; a drop-down takes a word that is none of its own too, to be found wrong."""
    if value not in getattr(box, "_options_values", (value,)):
        box.options = (*box.options, value)
    box.value = value


def headed(heading: str, fields: Sequence[Widget]) -> tuple[Widget, ...]:
    """Lay fields in rows under a heading; none where there are no fields."""
    import ipywidgets

    flow = {"flex_flow": "row wrap", "align_items": "flex-start"}
    title = ipywidgets.HTML(f"<b>{escape(heading)}</b>")
    return (title, ipywidgets.Box(list(fields), layout=flow)) if fields else ()


def with_still(widget: Widget, text: str) -> Widget:
    """Give a widget the words that stand in its place in a notebook that was opened and not run."""
    live = widget._repr_mimebundle_
    still = {"text/plain": text, "text/html": f"<p>{escape(text)}</p>"}
    widget._repr_mimebundle_ = lambda **named: live(**named) | still
    return widget


def amount(units: Units, label: str, unit: str, start: float, low: float, high: float, step: float) -> Control:
    """Make a control of an amount in the units that are said; numbers in, here, are metric.

    A step in inches or pounds is the round one (1, 2 or 5 and noughts) that is as fine or finer.
    """
    if units.inch_pound:
        fine = units.value(step, unit) - units.value(0.0, unit)
        tens = 10.0 ** floor(log10(fine))
        step = max(round_one * tens for round_one in (1, 2, 5) if round_one * tens <= fine * (1 + 1e-9))
    start, low, high = (units.value(one, unit) for one in (start, low, high))
    return on_grid(f"{label}, {units.name(unit)}", start, low, high, step)


class Drawable(Protocol):
    """A picture that a notebook can show."""

    def _repr_mimebundle_(self, include: Container[str] | None = None) -> dict[str, str]:
        """Give the forms asked for, by their kinds."""


class Drawing(NamedTuple):
    """What answers a move: a picture, where there is one, and the sentences read under it."""

    picture: Drawable | None
    sentences: tuple[str, ...]

    def __str__(self) -> str:
        kind = "image/svg+xml"
        picture = "" if self.picture is None else self.picture._repr_mimebundle_(include={kind})[kind]
        return picture + "".join(f"<p>{escape(sentence)}</p>" for sentence in self.sentences)


def panel(controls: Mapping[str, Control], redraw: Callable[..., Drawing]) -> VBox:
    """Lay out controls above the drawing that answers them: the last child, `INVITATION` until a control is moved.

    Parameters
    ----------
    controls : mapping of str to Control
        By the name under which `redraw` takes the value.
    redraw : callable
        Takes every control's value by name; a ValueError's words are shown in place of a drawing.
    """
    import ipywidgets

    widgets = {name: control.widget() for name, control in controls.items()}
    shown = ipywidgets.HTML(f"<p>{escape(INVITATION)}</p>")

    def moved(_: Any) -> None:
        try:
            chosen = {name: widget.value for name, widget in widgets.items()}
            drawn = redraw(**chosen)
            cut = filter(None, (control.cut(chosen[name]) for name, control in controls.items()))
            shown.value = str(drawn._replace(sentences=(*cut, *drawn.sentences)))
        except ValueError as refused:
            shown.value = f"<p>{escape(str(refused).rstrip('.'))}.</p>"

    for widget in widgets.values():
        widget.observe(moved, "value")
    flow = {"flex_flow": "row wrap", "align_items": "flex-start"}
    return ipywidgets.VBox([ipywidgets.Box(list(widgets.values()), layout=flow), shown])
