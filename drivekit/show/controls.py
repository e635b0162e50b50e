"""Rows of controls for a workbook: what may be moved, and the drawing that answers where they stand.

A control is plain data until `Panel` makes widgets of it. The drawing is the value of an HTML widget, set at once at
every move, so that a moved control and what it shows can never be apart; a choice that cannot be used is answered by
its one sentence in the same place. Where no kernel runs, the drawing stands alone.
"""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Callable, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from html import escape
from math import floor, log10
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

from drivekit.faults import Unusable
from drivekit.folder import kept
from drivekit.show.paper import Picture
from drivekit.units import SI, Units, refused_in

if TYPE_CHECKING:
    from ipywidgets import VBox, Widget

__all__ = ["Control", "Drawing", "Panel", "amount", "answer_box", "headed", "on_grid", "put", "with_still"]

KEPT_SIZES = ("screen", "slide", "print")
FLOW = {"flex_flow": "row wrap", "align_items": "flex-start", "grid_gap": "0 1.5em"}


@dataclass(frozen=True, slots=True)
class Control:
    """One thing that may be moved.

    It is one of several values, any of several, or a whole number, a number or a pair of numbers between two ends.
    Where it does something only while another one stands at a value, or holds it, it is hidden elsewhere.
    """

    kind: Literal["choice", "several", "whole", "number", "range"]
    label: str  # what it is, with its unit
    values: tuple[Any, ...]  # to choose from, or the two ends
    start: Any = None  # the value it stands at; None: the first
    step: float = 0.1  # of a number or a range
    only: tuple[str, Any] | None = None  # the name of that other one, and its value

    def widget(self) -> Widget:
        """Make the widget."""
        import ipywidgets

        start = self.values[0] if self.start is None else self.start
        common = {"description": self.label, "style": {"description_width": "initial"}}
        if self.kind == "choice":
            wide = {"layout": {"width": "max-content"}}
            return ipywidgets.Dropdown(options=self.values, value=start, **common, **wide)
        if self.kind == "several":
            return _boxes(self.label, self.values, tuple(start))
        low, high = self.values
        ends = {"min": low, "max": high, "value": start, "continuous_update": False}
        common["layout"] = {"width": f"{22 + 0.55 * len(self.label):.0f}em"}
        if self.kind == "whole":
            return ipywidgets.IntSlider(**ends, **common)
        slider = ipywidgets.FloatSlider if self.kind == "number" else ipywidgets.FloatRangeSlider
        digits = f".{max(0, -floor(log10(self.step)))}f"
        return slider(step=self.step, readout_format=digits, **ends, **common)

    def cut(self, value: object) -> str:
        """Say that a slider moved to its end cuts there what is typed beyond it; empty elsewhere."""
        if self.kind not in ("whole", "number") or value == self.start or value not in self.values:
            return ""
        return f"{self.label}: {value:g} is the end of this control, and what is typed beyond it is cut to that."

    def serves(self, chosen: Mapping[str, Any]) -> bool:
        """Whether it does something where all controls stand so."""
        if self.only is None:
            return True
        value = chosen[self.only[0]]
        return bool(self.only[1] in value if isinstance(value, tuple) else self.only[1] == value)


def _boxes(label: str, values: tuple[Any, ...], start: tuple[Any, ...]) -> Widget:
    """Make a box to tick for each value; its `value` is the tuple of those ticked, in their order."""
    import ipywidgets
    from traitlets import Tuple, link

    look = {"indent": False, "layout": {"width": "max-content"}}
    ticks = {one: ipywidgets.Checkbox(one in start, description=str(one), **look) for one in values}
    rows = ipywidgets.Box(tuple(ticks.values()), layout=FLOW)
    box = ipywidgets.VBox([ipywidgets.Label(label), rows])
    box.add_traits(value=Tuple(start))

    def ticked(_: bool) -> tuple[Any, ...]:
        return tuple(one for one, tick in ticks.items() if tick.value)

    for one, tick in ticks.items():
        link((tick, "value"), (box, "value"), (ticked, lambda those, one=one: one in those))
    return box


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

    title = ipywidgets.HTML(f"<b>{escape(heading)}</b>")
    return (title, ipywidgets.Box(list(fields), layout=FLOW)) if fields else ()


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
        fine = units.apart(step, unit)
        tens = 10.0 ** floor(log10(fine))
        step = max(round_one * tens for round_one in (1, 2, 5) if round_one * tens <= fine * (1 + 1e-9))
    start, low, high = (units.value(one, unit) for one in (start, low, high))
    return on_grid(f"{label}, {units.name(unit)}", start, low, high, step)


class Drawing(NamedTuple):
    """What answers a move: a picture, where there is one, and the sentences read under it."""

    picture: Picture | None
    sentences: tuple[str, ...]

    def __str__(self) -> str:
        return ("" if self.picture is None else self.picture.svg()) + self._said

    @property
    def _said(self) -> str:
        return "".join(f"<p>{escape(sentence)}</p>" for sentence in self.sentences)

    def forms(self) -> dict[str, str]:
        """Give it as text, and as HTML whose picture a notebook shows that was opened and not run."""
        if self.picture is None:
            return {"text/plain": "\n".join(self.sentences), "text/html": self._said}
        source = b64encode(self.picture.svg().encode()).decode()
        image = f'<img alt="{escape(self.picture.title)}" src="data:image/svg+xml;base64,{source}">'
        return {"text/plain": "\n".join((str(self.picture), *self.sentences)), "text/html": image + self._said}


class Panel:
    """Controls, and under them the drawing that answers where they stand.

    Parameters
    ----------
    controls : mapping of str to Control
        By the name under which `redraw` takes the value.
    redraw : callable
        Takes every control's value by name; a ValueError's words are shown in place of a drawing.
    own : Drawing, optional
        What is shown where all stand as they start; drawn like all others unless given.
    units : Units
        In which amounts of a ValueError's words are said.

    Attributes
    ----------
    widgets : dict of str to Widget
        By the controls' labels.
    shown : ipywidgets.HTML
        The drawing.
    drawing : Drawing
        What it shows.
    """

    def __init__(
        self,
        controls: Mapping[str, Control],
        redraw: Callable[..., Drawing],
        own: Drawing | None = None,
        units: Units = SI,
    ) -> None:
        import ipywidgets

        self._controls, self._redraw, self._own, self._units = controls, redraw, own, units
        self._named = {name: control.widget() for name, control in controls.items()}
        self.widgets = {controls[name].label: widget for name, widget in self._named.items()}
        self.shown, self.told = ipywidgets.HTML(), ipywidgets.HTML()
        self._chosen: dict[str, Any] = {}
        self._start = {name: widget.value for name, widget in self._named.items()}
        self.moved()
        for widget in self._named.values():
            widget.observe(self.moved, "value")
        self.reset = ipywidgets.Button(description="Reset")
        self.reset.on_click(self._put_back)
        self.size = Control("choice", "Size", KEPT_SIZES).widget()
        self.keep = ipywidgets.Button(description="Keep this figure")
        self.keep.on_click(self._kept)
        keeping = () if self.drawing.picture is None else (self.keep, self.size)
        rows = (tuple(self._named.values()), (self.reset, *keeping, self.told))
        self.box = ipywidgets.VBox([*(ipywidgets.Box(row, layout=FLOW) for row in rows), self.shown])

    def moved(self, _: Any = None) -> None:
        """Draw what the controls stand at, where it is not drawn already, and hide those that do nothing there."""
        chosen = {name: widget.value for name, widget in self._named.items()}
        if chosen == self._chosen:
            return
        self._chosen = chosen
        for name, control in self._controls.items():
            self._named[name].layout.display = None if control.serves(chosen) else "none"
        try:
            own = self._own if chosen == self._start else None
            drawn = self._redraw(**chosen) if own is None else own
            cut = filter(None, (control.cut(chosen[name]) for name, control in self._controls.items()))
            self.drawing = drawn._replace(sentences=(*cut, *drawn.sentences))
        except ValueError as refusal:
            self.drawing = Drawing(None, (f"{refused_in(self._units, refusal)}.",))
        self.shown.value, self.told.value = str(self.drawing), ""

    def _put_back(self, _: Any) -> None:
        with ExitStack() as held:  # so that all stand before one is answered
            for name, widget in self._named.items():
                held.enter_context(widget.hold_trait_notifications())
                widget.value = self._start[name]

    def _kept(self, _: Any) -> None:
        if self.drawing.picture is None:
            said = "There is no figure to keep."
        else:
            try:
                picture, size = self.drawing.picture, self.size.value
                forms = {"svg": picture.svg(size).encode(), "png": picture.png(size)}
                said = f"Kept as {' and '.join(map(str, kept(f'{picture.name}-{size}', forms)))}."
            except Unusable as trouble:
                said = f"Nothing is kept: {trouble}."
        self.told.value = escape(said)

    def _repr_mimebundle_(self, **_: Any) -> dict[str, Any]:
        return {**self.box._repr_mimebundle_(), **self.drawing.forms()}
