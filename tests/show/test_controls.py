"""Controls: what may be moved, and that what they show is always what they say."""

from __future__ import annotations

import re
from base64 import b64decode
from pathlib import Path
from typing import Any

import ipywidgets
import pytest

from drivekit.folder import kept
from drivekit.show.controls import Control, Drawing, Panel
from drivekit.show.endings import lives_picture

PICTURE = lives_picture((("A", [(0, 0, 3)], True, "tooth-jump"),), ("smooth",), "idler")


@pytest.mark.parametrize(
    ("control", "kind", "value"),
    [
        (Control("choice", "Car", ("all", "red", "blue")), ipywidgets.Dropdown, "all"),
        (Control("choice", "Car", ("all", "red", "blue"), "red"), ipywidgets.Dropdown, "red"),
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


def test_any_of_several_are_boxes_to_tick_and_their_values_those_ticked_in_order() -> None:
    control = Control("several", "Failures", ("a", "b", "c"), ("c", "a")).widget()
    label, rows = control.children
    ticks = {tick.description: tick for tick in rows.children}
    assert label.value == "Failures"
    assert {name for name, tick in ticks.items() if tick.value} == {"a", "c"}
    ticks["b"].value = True
    assert control.value == ("a", "b", "c")
    control.value = ("b",)
    assert [tick.value for tick in ticks.values()] == [False, True, False]


def rack() -> tuple[Panel, list[dict[str, Any]]]:
    seen: list[dict[str, Any]] = []

    def redraw(**chosen: Any) -> Drawing:
        seen.append(chosen)
        if chosen["horizon"] == 13:
            raise ValueError("a horizon of 13 runs is <unlucky>")
        return Drawing(PICTURE if chosen["car"] == "red" else None, (f"{chosen['car']} & {chosen['horizon']}.",))

    controls = {
        "car": Control("choice", "Car", ("red", "blue")),
        "horizon": Control("whole", "Horizon", (1, 20), 5),
        "cuts": Control("several", "Cuts", ("a", "b"), ("a",), only=("car", "red")),
        "fine": Control("number", "Fine", (0.0, 1.0), 0.5, only=("cuts", "b")),
    }
    return Panel(controls, redraw), seen


START = {"car": "red", "horizon": 5, "cuts": ("a",), "fine": 0.5}


def test_what_controls_stand_at_is_drawn_before_one_is_moved() -> None:
    panel, seen = rack()
    assert seen == [START]
    assert panel.shown.value == str(panel.drawing) == PICTURE.svg() + "<p>red &amp; 5.</p>"


def test_a_moved_control_is_drawn_from_all_controls_at_once() -> None:
    panel, seen = rack()
    panel.widgets["Car"].value = "blue"
    assert seen[-1] == START | {"car": "blue"}
    assert panel.shown.value == "<p>blue &amp; 5.</p>"
    panel.widgets["Horizon"].value = 7
    assert panel.shown.value == "<p>blue &amp; 7.</p>"
    panel.widgets["Car"].value = "red"
    assert panel.shown.value == PICTURE.svg() + "<p>red &amp; 7.</p>"
    assert len(seen) == 4


def test_a_control_that_does_nothing_where_the_others_stand_is_hidden() -> None:
    panel, _ = rack()
    cuts, fine = panel.widgets["Cuts"], panel.widgets["Fine"]
    assert (cuts.layout.display, fine.layout.display) == (None, "none")
    cuts.value = ("a", "b")
    assert fine.layout.display is None
    panel.widgets["Car"].value = "blue"
    assert cuts.layout.display == "none"


def test_reset_puts_every_control_back_and_draws_once() -> None:
    panel, seen = rack()
    panel.widgets["Car"].value = "blue"
    panel.widgets["Horizon"].value = 7
    panel.widgets["Cuts"].value = ("a", "b")
    drawn = len(seen)
    panel.reset.click()
    assert seen[drawn:] == [START]
    assert panel.shown.value == PICTURE.svg() + "<p>red &amp; 5.</p>"
    assert [tick.value for tick in panel.widgets["Cuts"].children[1].children] == [True, False]


def test_a_figure_is_kept_at_its_size_beside_those_kept_before(tmp_path: Path, monkeypatch: Any) -> None:
    (tmp_path / "workbooks").mkdir()
    (tmp_path / "findings.json").write_text("{}")
    monkeypatch.chdir(tmp_path / "workbooks")
    panel, _ = rack()
    panel.size.value = "slide"
    panel.keep.click()
    panel.keep.click()
    names = [f"lives-slide-{number}.{kind}" for number in (1, 2) for kind in ("png", "svg")]
    assert sorted(place.name for place in (tmp_path / "kept").iterdir()) == names
    assert (tmp_path / "kept" / "lives-slide-2.svg").read_text() == PICTURE.svg("slide")
    assert (tmp_path / "kept" / "lives-slide-2.png").read_bytes() == PICTURE.png("slide")
    home = tmp_path / "kept"
    assert panel.told.value == f"Kept as {home / 'lives-slide-2.svg'} and {home / 'lives-slide-2.png'}."
    panel.widgets["Car"].value = "blue"
    assert panel.told.value == ""
    panel.keep.click()
    assert panel.told.value == "There is no figure to keep."


def test_without_findings_about_figures_are_kept_in_a_folder_of_their_own(tmp_path: Path, monkeypatch: Any) -> None:
    (tmp_path / "workbooks").mkdir()
    monkeypatch.chdir(tmp_path / "workbooks")
    assert {place.parent for place in kept("lives-screen", {"svg": b"", "png": b""})} == {
        tmp_path / "findings" / "kept"
    }


def test_a_figure_that_cannot_be_kept_is_kept_in_no_part_and_that_is_said(tmp_path: Path, monkeypatch: Any) -> None:
    (tmp_path / "workbooks").mkdir()
    (tmp_path / "findings").write_text("")
    monkeypatch.chdir(tmp_path / "workbooks")
    panel, _ = rack()
    panel.keep.click()
    assert re.fullmatch(r"Nothing is kept: \S+findings\S* cannot be written: [A-Za-z ]+\.", panel.told.value)
    assert sorted(place.name for place in tmp_path.iterdir()) == ["findings", "workbooks"]


def test_a_slider_moved_to_its_end_says_that_it_cuts_there() -> None:
    panel, _ = rack()
    horizon = panel.widgets["Horizon"]
    horizon.value = 99  # cut to 20
    assert horizon.value == 20
    assert panel.shown.value.startswith(PICTURE.svg() + "<p>Horizon: 20 is the end of this control, and what is")
    horizon.value = 5
    assert "end of this control" not in panel.shown.value
    # where the file's own value is the end, nothing was cut
    assert Control("number", "Shim, mm", (0.0, 8.0), 0.0, 0.05).cut(0.0) == ""


def test_a_refused_choice_shows_its_one_sentence_and_nothing_else_until_it_is_mended() -> None:
    panel, _ = rack()
    horizon = panel.widgets["Horizon"]
    horizon.value = 13
    assert panel.shown.value == "<p>a horizon of 13 runs is &lt;unlucky&gt;.</p>"
    horizon.value = 12
    assert panel.shown.value == PICTURE.svg() + "<p>red &amp; 12.</p>"
    assert panel.widgets["Car"].value == "red"


def test_our_own_mistake_is_no_refusal() -> None:
    def broken(car: str) -> Drawing:
        return {"red": Drawing(None, ("Red.",))}[car]

    panel = Panel({"car": Control("choice", "Car", ("red", "blue"))}, broken)
    with pytest.raises(KeyError):
        panel.widgets["Car"].value = "blue"


def test_a_drawing_is_its_picture_and_its_escaped_sentences() -> None:
    assert str(Drawing(None, ("a < b", "c"))) == "<p>a &lt; b</p><p>c</p>"
    assert str(Drawing(PICTURE, ())) == PICTURE.svg()


def test_where_no_kernel_runs_the_drawing_stands_with_its_sentences() -> None:
    panel, _ = rack()
    forms = panel._repr_mimebundle_()
    assert forms["text/plain"] == f"{PICTURE}\nred & 5."
    image, words = forms["text/html"].split(">", 1)
    assert words == "<p>red &amp; 5.</p>"
    assert b64decode(image.rpartition("base64,")[2].rstrip('"')).decode() == PICTURE.svg()
    assert panel.box.model_id == forms["application/vnd.jupyter.widget-view+json"]["model_id"]
