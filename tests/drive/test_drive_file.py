"""Drive files: every fault at once with its line, units, and what is no drive file at all."""

# ruff: noqa: E501 - a table of slips reads by its rows

from __future__ import annotations

import os
import re
from math import pi
from pathlib import Path
from typing import Any

import pytest

from drivekit.drive.amounts import UNITS, keys_of
from drivekit.drive.drive_file import layout_from_text, read_drive
from drivekit.drive.key_checks import SECTIONS, key_lines
from drivekit.drive.layout import EXPANSION_PER_C, Belt, Height, Layout, Pulley, pitch_diameter
from drivekit.faults import Faulty, Unusable

DRIVES = Path(__file__).parents[2] / "data" / "drives"
TEXT = (DRIVES / "worked-example.toml").read_text(encoding="utf-8")


def faults_of(text: str) -> list[str]:
    with pytest.raises(Faulty) as faulty:
        layout_from_text(text)
    return [str(fault) for fault in faulty.value.faults]


def line_of(text: str, start: str) -> int:
    return next(number for number, line in enumerate(text.splitlines(), 1) if line.startswith(start))


def test_a_sound_file_is_read_in_si(worked: Layout) -> None:
    assert worked.belt.pitch_m == pytest.approx(0.010)
    assert worked.belt.length_m == pytest.approx(1.7)
    assert worked.belt.mass_kg_per_m == pytest.approx(0.4)
    assert worked.blower.power_w == pytest.approx((4e3, 200e3, 400e3, 800e3))
    assert worked.slide is not None
    assert worked.slide.direction_rad == pytest.approx(pi)
    assert worked.tension.reading_error == pytest.approx(0.1)
    assert [pulley.lift_share for pulley in worked.pulleys] == [0, 0, 1]


def test_inches_pounds_and_fahrenheit_are_taken_and_converted(outside: Layout) -> None:
    idler = outside.pulleys[1]
    assert (idler.x_m, idler.y_m) == pytest.approx((-0.1524, 0.2794), rel=1e-12)
    assert outside.tension.set_n == pytest.approx(1870 * 4.4482216152605, rel=1e-12)
    # a difference of 99 F is 55 C
    assert outside.heights[0].warmer_c == pytest.approx(55, rel=1e-12)
    assert outside.manifold is not None
    assert outside.manifold.base_m == pytest.approx(0.305, rel=1e-12)


def test_absent_keys_mean_their_defaults() -> None:
    layout = layout_from_text(TEXT.replace("reading_error_percent = 10\n", "").replace("pin_modulus_gpa = 200\n", ""))
    assert layout.tension.reading_error == 0.05
    assert layout.idler is not None
    assert layout.idler.pin_modulus_pa == 205e9
    assert layout.belt.bending_n_m2 is None


@pytest.mark.parametrize(
    ("old", "new", "line", "said"),
    [
        ("pitch_mm = 10", "pitch_mmm = 10", "pitch_mmm", 'belt.pitch_mmm: fault: is no key of belt; did you mean pitch_mm?'),
        ("pitch_mm = 10", "", "[belt]", "belt.pitch_mm: fault: is missing; add pitch_mm or pitch_in: distance from tooth"),
        ("pitch_mm = 10", 'pitch_mm = "10"', "pitch_mm", 'belt.pitch_mm: fault: "10" is no number; leave out the quotes'),
        ("pitch_mm = 10", "pitch_mm = nan", "pitch_mm", 'belt.pitch_mm: fault: "nan" is no number; write a plain number'),
        ("pitch_mm = 10", "pitch_mm = true", "pitch_mm", 'belt.pitch_mm: fault: "true" is no number'),
        ("pitch_mm = 10", "pitch_mm = 1000", "pitch_mm", '"1000" cannot be; distance from tooth to tooth on the pitch line lies'),
        ("width_mm = 50", "width_in = 500", "width_in", 'belt.width_in: fault: "500" cannot be; width of the belt lies between'),
        ("[tension]", "[snout]\ndial_mm = 0.5\n[tension]", "[snout]", "snout.dial_pull_n: fault: is missing"),
        ("[tension]", "[snout]\nstiffness_n_per_mm = 9000\ndial_mm = 0.5\ndial_pull_n = 9000\n[tension]", "dial_mm",
         'snout.dial_mm: fault: "0.5" says again what the stiffness says'),
        ("width_mm = 50", "width_mm = 50\nwidth_in = 2", "width_in", "belt.width_in: fault: \"2\" says again what width_mm says"),
        ("teeth = 170", "teeth = 170.5", "teeth", 'belt.teeth: fault: "170.5" is no whole number'),
        ("tooth_tip_mm = 4", "tooth_tip_mm = 12", "tooth_tip", 'belt.tooth_tip_mm: fault: "12" is longer than the pitch'),
        ('turns = "clockwise"', 'turns = "clockwize"', "turns", 'drive.turns: fault: "clockwize" is no turns; did you mean clock'),
        ("invented = true", 'invented = "yes"', "invented", 'drive.invented: fault: "yes" is neither true nor false'),
        ('name = "worked example"', "name = 7", "name = 7", 'drive.name: fault: "7" is no text; write what the drive is called'),
        ('thread = "M12x1.75"', 'thread = "M12x9"', "thread", 'adjusters.thread: fault: "M12x9" an M12 screw has a pitch of'),
        ('thread = "M12x1.75"', 'thread = "fine"', "thread", 'adjusters.thread: fault: "fine" is no thread; write it like 3/8'),
        ("[slide]", "[slyde]", "[slyde]", "slyde: fault: is no section of a drive file; did you mean slide?"),
        ("[blower]", "[[blower]]", "[[blower]]", "blower: fault: is no such table; write it as [blower] with its keys below"),
        ("power_kw = [4, 200, 400, 800]", "power_kw = [4, 200]", "power_kw", 'blower.power_kw: fault: "[4, 200]" has 2 values for 4 speeds'),
        ("power_kw = [4, 200, 400, 800]", "power_kw = 4", "power_kw", 'blower.power_kw: fault: "4" is no list of numbers'),
        ("6000, 8000]", "6000, 5000]", "speed_rpm", "]\" does not rise all along"),
        ("6000, 8000]", "4800, 4800]", "speed_rpm", "]\" does not rise all along"),
        ("idle_rpm = 954.929658551372", "idle_rpm = 6000", "idle_rpm", 'engine.idle_rpm: fault: "6000" is not below crank_rpm'),
        ("crank_rpm = 4774.648292756860", "crank_rpm = 9000", "speed_rpm", "ends below the blower's full-load speed of 9,000 rpm"),
        ("full_load_s = 6", "full_load_s = 6\noverdrive_percent = 20", "overdrive", 'fault: "20" does not agree with the pulleys'),
        ("growth_high_mm = 1.2", "growth_high_mm = 0.2", "growth_high", 'tension.growth_high_mm: fault: "0.2" is below growth_low'),
        ("expansion_ppm_per_c = 20", "", "[[height]]", "height[1].material: fault: is missing; add material or expansion"),
        ("warmer_c = 100", 'warmer_c = 100\nmaterial = "steel-4140"', "material", 'height[1].material: fault: "steel-4140" stands beside expansion_ppm_per_c; keep one'),
        ("most_mm = 100", "most_mm = -1", "most_mm", 'slide.most_mm: fault: "-1" is not beyond least_mm; it is more than 0'),
        ('mount = "slide"', "", "[slide]", 'slide: fault: carries no pulley; give the idler mount = "slide"'),
        ('support = "single"', 'support = "three-point"', "[idler]", "idler.grip_mm: fault: is missing; a pin held at three"),
        ('support = "single"', 'support = "single"\ngrip_mm = 60', "grip_mm", 'fault: "60" stands beside a single support; leave it out'),
        ("full_load_s = 6", "full_load_s = 6\nsnap_rpm_per_s = 9000", "[blower]", "blower.inertia_kg_m2: fault: is missing; a snapped throttle"),
        ('support = "single"', 'support = "three-point"\ngrip_mm = 50\noutboard_mm = 40', "overhang",
         'idler.overhang_mm: fault: "50" is not within outboard_mm'),
        ('name = "idler"', 'name = "crank"', None, 'pulley[2].name: fault: "crank" is the name of pulley 1 too'),
        ('role = "idler"', 'role = "blower"', None, "is the role of pulley 2 too; one pulley is the blower"),
        ('role = "crank"', 'role = "idler"', "[[pulley]]", "pulley: fault: none has the role crank; one pulley drives (crank)"),
    ],
)  # fmt: skip
def test_one_slip_makes_one_fault_on_its_line(old: str, new: str, line: str | None, said: str) -> None:
    assert old in TEXT
    text = TEXT.replace(old, new, 1)
    faults = faults_of(text)
    about = [fault for fault in faults if said in fault]
    assert len(about) == 1, faults
    if line is not None:
        assert about[0].startswith(f"drive.toml:{line_of(text, line)}:"), about
    assert "nan" not in about[0] or "nan" in new


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ('face = "smooth"\nside = "inside"\ndiameter_mm = 180', None),
        (
            'face = "smooth"\nside = "outside"\nteeth = 20',
            'pulley[2].teeth: fault: "20" does not go with a smooth pulley',
        ),
        ('face = "toothed"\nside = "outside"\nteeth = 20', "has no teeth to mesh with outside the loop"),
        (
            'face = "toothed"\nside = "inside"\nteeth = 20\npitch_diameter_mm = 90',
            "is a second size (teeth and pitch_diam",
        ),
        (
            'face = "toothed"\nside = "inside"',
            "pulley[2].teeth: fault: is missing; a toothed pulley has teeth or pitch_diameter",
        ),
        (
            'face = "smooth"\nside = "inside"',
            "pulley[2].diameter_mm: fault: is missing; a smooth pulley has diameter_mm",
        ),
    ],
)
def test_a_pulley_has_one_size_that_goes_with_its_face(keys: str, said: str | None) -> None:
    start = TEXT.index('name = "idler"')
    end = TEXT.index("[[pulley]]", start)
    idler = f'name = "idler"\nrole = "idler"\nx_mm = -130\ny_mm = 240\nmount = "slide"\n{keys}\n\n'
    text = TEXT[:start] + idler + TEXT[end:]
    if said is None:
        # smooth: the pitch line lies tooth height and land above the face
        layout = layout_from_text(text)
        assert layout.pulleys[1].pitch_radius(layout.belt) == pytest.approx(0.090 + 0.004 + 0.001)
    else:
        assert [fault for fault in faults_of(text) if said in fault]


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('face = "toothed"', 'face = "smooth"', "cannot be: teeth drive the crank"),
        ('side = "inside"', 'side = "outside"', "cannot be: the crank meshes with the belt's teeth"),
        ('role = "crank"', 'role = "crank"\nmount = "slide"', "cannot be: the crank does not move"),
    ],
)
def test_the_crank_is_toothed_inside_and_fixed(old: str, new: str, said: str) -> None:
    assert [fault for fault in faults_of(TEXT.replace(old, new, 1)) if said in fault]


def test_all_faults_come_at_once_in_the_order_of_the_file() -> None:
    text = (
        TEXT.replace("pitch_mm = 10", "pitch_mm = 0")
        .replace("idle_rpm", "idel_rpm")
        .replace("set_n = 5000", "set_n = 9e9")
    )
    with pytest.raises(Faulty) as faulty:
        layout_from_text(text)
    lines = [fault.line for fault in faulty.value.faults]
    assert len(lines) == 4  # the misspelt key, and the one it should be, are told apart
    assert lines == sorted(lines)


def test_a_layout_no_belt_can_run_around_is_a_fault_of_its_pulley() -> None:
    reversed_way = TEXT.replace('turns = "clockwise"', 'turns = "anticlockwise"')
    (fault,) = faults_of(reversed_way)
    assert fault.startswith(
        f"drive.toml:{line_of(TEXT, '[[pulley]]')}:pulley[1]: fault: from crank on, the pulleys stand in"
    )
    (short,) = faults_of(TEXT.replace("teeth = 170", "teeth = 190"))
    assert "pulley[2]: fault: a belt of 190 teeth does not fit: the slide takes belts of 165 to 176 teeth" in short
    fixed = TEXT.replace("y_mm = 480", "y_mm = 150").replace('mount = "slide"\n', "")
    fixed = fixed[: fixed.index("[slide]")] + fixed[fixed.index("[engine]") :]
    (overlap,) = faults_of(fixed)
    assert "pulley[3]: fault: crank and blower overlap: their centres are 150.0 mm apart" in overlap


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"[belt\npitch_mm = 10", "is no drive file: it cannot be read as TOML (line 1)."),
        (b"\xff\xfe\x00", "is no drive file: it is not text in UTF-8."),
    ],
)
def test_what_is_no_drive_file_is_told_in_a_sentence(tmp_path: Path, content: bytes, said: str) -> None:
    path = tmp_path / "mine.toml"
    path.write_bytes(content)
    with pytest.raises(Unusable) as unusable:
        read_drive(path)
    assert said in str(unusable.value)
    assert str(unusable.value).startswith("mine.toml ")


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("a = " + "[" * 100_000, "is nested too deep to be read."),
        ("a = " + "9" * 400, "holds a number of hundreds of digits (line 1)."),
        ("a = 0x" + "f" * 5000, "holds a number of hundreds of digits (line 1)."),
        ("\n" + ".".join("a" * 5000) + " = 1", "holds a key of very many parts (line 2)."),
    ],
)
def test_a_drive_file_that_no_person_wrote_is_refused_in_one_sentence(text: str, wrong: str) -> None:
    with pytest.raises(Unusable) as unusable:
        layout_from_text(text, file="mine.toml")
    assert str(unusable.value) == f"mine.toml is no drive file: it {wrong}"


def test_a_drive_file_that_is_no_ordinary_file_is_refused(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "mine.toml")
    with pytest.raises(Unusable, match=r"mine\.toml is no ordinary file\.$"):
        read_drive(tmp_path / "mine.toml")


@pytest.mark.parametrize("name", [r"one\ntwo", r"red\u001b[31m", "\u65e5\u672c", "\U0001f600", r"a\u2028b", "x" * 201])
def test_a_name_that_cannot_be_drawn_is_a_fault_on_one_line(name: str) -> None:
    (said,) = faults_of(re.sub(r'^name = ".*"$', lambda _: f'name = "{name}"', TEXT, count=1, flags=re.MULTILINE))
    assert ":drive.name: fault: " in said
    assert "holds a line end, more than 200 letters, or one that the figures cannot draw" in said
    assert said.isprintable()


def test_names_in_greek_and_cyrillic_are_taken() -> None:
    assert layout_from_text(TEXT.replace('name = "', 'name = "\u0394\u0416\u00e9 ', 1))


def test_a_missing_file_and_a_folder_are_told(tmp_path: Path) -> None:
    with pytest.raises(Unusable, match=r"There is no drive file .*nothing.toml\."):
        read_drive(tmp_path / "nothing.toml")
    with pytest.raises(Unusable, match="it is a folder"):
        read_drive(tmp_path)


def test_an_empty_file_wants_every_section_that_must_be_there() -> None:
    faults = faults_of("")
    wanted = [section.name for section in SECTIONS if section.required]
    assert sorted(fault.split(":")[1].strip() for fault in faults) == sorted(wanted)


def test_every_field_is_a_key_in_its_own_unit_under_a_name_of_its_own() -> None:
    for section in SECTIONS:
        keys = section.keys
        if section.build is not Layout:
            assert [key.field for key in keys] == list(section.build.__dataclass_fields__)
        assert all(key.field == f"{key.stem}_{UNITS[key.unit].layout}".rstrip("_") for key in keys)
        names = [name for key in keys for name in key.factors]
        assert len(names) == len(set(names))
    held = {section.field for section in SECTIONS[1:]} | {key.field for key in keys_of(Layout)}
    assert held == set(Layout.__dataclass_fields__)


def test_a_key_is_what_its_field_says() -> None:
    (pitch,) = (key for key in keys_of(Belt) if key.field == "pitch_m")
    assert (pitch.name, pitch.kind, pitch.required, pitch.factors) == (
        "pitch_mm", "number", True, {"pitch_mm": 1.0, "pitch_in": 25.4},
    )  # fmt: skip
    kinds = {key.field: (key.kind, key.levels, key.required) for key in (*keys_of(Height), *keys_of(Layout))}
    assert kinds["material"] == ("word", tuple(EXPANSION_PER_C), False)
    assert kinds["invented"] == ("flag", (), False)


def test_lines_are_found_through_lists_strings_and_comments() -> None:
    text = '# a\n[belt]\nnote = """\n[fake]\nx = 1\n"""\npitch = [1, # ]\n 2,\n]\n[[pulley]]\n"a b" = 1\n[[pulley]]\nx.y = 2\n'
    assert key_lines(text) == {
        ("belt",): 2, ("belt", "note"): 3, ("belt", "pitch"): 7, ("pulley", 1): 10, ("pulley", 1, "a b"): 11,
        ("pulley", 2): 12, ("pulley", 2, "x", "y"): 13,
    }  # fmt: skip


def test_pitch_diameters_are_the_stored_ones(mechanics: dict[str, Any]) -> None:
    stored = mechanics["pitch_diameters_mm"]
    for pitch, teeth, diameter in stored["values"]:
        assert pitch_diameter(teeth, pitch / 1e3) * 1e3 == pytest.approx(diameter, abs=stored["tolerance"])


def test_the_pitch_line_lies_above_the_face_by_what_touches_it(worked: Layout) -> None:
    belt = worked.belt
    inside = Pulley("a", "idler", "smooth", "inside", 0, 0, diameter_m=0.1)
    outside = Pulley("b", "idler", "smooth", "outside", 0, 0, diameter_m=0.1)
    toothed = Pulley("c", "idler", "toothed", "inside", 0, 0, teeth=30)
    assert inside.pitch_radius(belt) == pytest.approx(0.05 + 0.001 + 0.004)
    assert outside.pitch_radius(belt) == pytest.approx(0.05 + 0.004)
    assert toothed.body_radius(belt) == pytest.approx(30 * 0.01 / (2 * pi) - 0.001)
