"""Controls: what may be moved, and that what they show is always what they say."""

from __future__ import annotations

from typing import Any

import ipywidgets
import pytest

from drivekit.show.controls import INVITATION, Control, Drawing, panel
from drivekit.show.endings import lives_picture

PICTURE = lives_picture((("A", [(0, 0, 3)], True),), ("smooth",), "idler")


@pytest.mark.parametrize(
    ("control", "kind", "value"),
    [
        (Control("choice", "Car", ("all", "red", "blue")), ipywidgets.Dropdown, "all"),
        (Control("choice", "Car", ("all", "red", "blue"), "red"), ipywidgets.Dropdown, "red"),
        (Control("several", "Failures", ("a", "b", "c"), ("a", "c")), ipywidgets.SelectMultiple, ("a", "c")),
        (Control("whole", "Horizon, runs", (1, 30), 12), ipywidgets.IntSlider, 12),
        (Control("number", "Power, kW", (100.0, 900.0), 430.0, 5.0), ipywidgets.FloatSlider, 430.0),
        (Control("range", "Cuts, kN", (5.0, 12.0), (7.3, 9.1)), ipywidgets.FloatRangeSlider, (7.3, 9.1)),
    ],
)
def test_each_kind_is_a_widget_that_stands_at_its_start(control: Control, kind: type, value: object) -> None:
    widget = control.widget()
    assert type(widget) is kind
    assert widget.value == value
    assert widget.description == control.label


def test_sliders_keep_their_ends_and_steps() -> None:
    number = Control("number", "Power, kW", (100.0, 900.0), 430.0, 5.0).widget()
    assert (number.min, number.max, number.step) == (100.0, 900.0, 5.0)
    assert number.readout_format == ".0f"
    # a shim of .087 in reads so
    assert Control("number", "Shim, in", (0.0, 0.3), 0.087, 0.001).widget().readout_format == ".3f"
    whole = Control("whole", "Horizon, runs", (1, 30), 12).widget()
    assert (whole.min, whole.max) == (1, 30)
    assert not whole.continuous_update


def rack() -> tuple[ipywidgets.VBox, list[dict[str, Any]]]:
    seen: list[dict[str, Any]] = []

    def redraw(**chosen: Any) -> Drawing:
        seen.append(chosen)
        if chosen["horizon"] == 13:
            raise ValueError("a horizon of 13 runs is <unlucky>")
        return Drawing(PICTURE if chosen["car"] == "red" else None, (f"{chosen['car']} & {chosen['horizon']}.",))

    controls = {"car": Control("choice", "Car", ("red", "blue")), "horizon": Control("whole", "Horizon", (1, 20), 5)}
    return panel(controls, redraw), seen


def test_nothing_is_drawn_before_a_control_is_moved() -> None:
    box, seen = rack()
    assert seen == []
    assert box.children[-1].value == f"<p>{INVITATION}</p>"


def test_a_moved_control_is_drawn_from_all_controls_at_once() -> None:
    box, seen = rack()
    car, horizon = box.children[0].children
    shown = box.children[-1]
    car.value = "blue"
    assert seen[-1] == {"car": "blue", "horizon": 5}
    assert shown.value == "<p>blue &amp; 5.</p>"
    horizon.value = 7
    assert shown.value == "<p>blue &amp; 7.</p>"
    car.value = "red"
    assert shown.value == PICTURE.svg() + "<p>red &amp; 7.</p>"
    assert len(seen) == 3


def test_a_slider_moved_to_its_end_says_that_it_cuts_there() -> None:
    box, _ = rack()
    _, horizon = box.children[0].children
    horizon.value = 99  # cut to 20
    assert horizon.value == 20
    assert box.children[-1].value.startswith(PICTURE.svg() + "<p>Horizon: 20 is the end of this control, and what is")
    horizon.value = 5
    assert "end of this control" not in box.children[-1].value
    # where the file's own value is the end, nothing was cut
    assert Control("number", "Shim, mm", (0.0, 8.0), 0.0, 0.05).cut(0.0) == ""


def test_a_refused_choice_shows_its_one_sentence_and_nothing_else_until_it_is_mended() -> None:
    box, _ = rack()
    car, horizon = box.children[0].children
    horizon.value = 13
    assert box.children[-1].value == "<p>a horizon of 13 runs is &lt;unlucky&gt;.</p>"
    horizon.value = 12
    assert box.children[-1].value == PICTURE.svg() + "<p>red &amp; 12.</p>"
    assert car.value == "red"


def test_our_own_mistake_is_no_refusal() -> None:
    def broken(car: str) -> Drawing:
        raise KeyError(car)

    box = panel({"car": Control("choice", "Car", ("red", "blue"))}, broken)
    with pytest.raises(KeyError):
        box.children[0].children[0].value = "blue"


def test_a_drawing_is_its_picture_and_its_escaped_sentences() -> None:
    assert str(Drawing(None, ("a < b", "c"))) == "<p>a &lt; b</p><p>c</p>"
    assert str(Drawing(PICTURE, ())) == PICTURE.svg()
