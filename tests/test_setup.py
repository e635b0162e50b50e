"""The set-up: one list of packages however it is installed, one version, light to import, arrows as drawn."""

from __future__ import annotations

import re
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import Any

import pytest

import drivekit

TOP = Path(__file__).parents[1]
PROJECT: dict[str, Any] = tomllib.loads((TOP / "pyproject.toml").read_text())["project"]
WANTED = [*PROJECT["dependencies"], *PROJECT["optional-dependencies"]["dev"]]
HEAVY = (
    "pandas",
    "scipy",
    "lifelines",
    "statsmodels",
    "numba",
    "matplotlib",
    "ipywidgets",
    "IPython",
    "openpyxl",
    "fpdf",
    "jinja2",
)


def named(requirement: str) -> tuple[str, str]:
    """The package as every index spells it, and its bounds."""
    name, bounds = re.fullmatch(r"([\w.-]+)(.*)", requirement).groups()  # type: ignore[union-attr]
    return re.sub(r"[-_.]+", "-", name).lower(), bounds


def test_conda_users_get_the_same_packages_with_the_same_bounds() -> None:
    lines = [line.strip() for line in (TOP / "environment.yml").read_text().splitlines()]
    after = lines[lines.index("dependencies:") + 1 :]
    listed = [named(line.removeprefix("- ")) for line in after if line.startswith("- ") and line != "- pip:"]
    python = ("python", PROJECT["requires-python"])
    assert sorted(listed) == sorted([python, ("pip", ""), *map(named, WANTED)])


def test_every_package_has_a_lower_bound() -> None:
    assert [requirement for requirement in WANTED if ">=" not in requirement] == []


def test_the_lock_pins_every_package_with_hashes() -> None:
    lock = (TOP / "requirements.lock").read_text()
    pinned = r"^([\w.-]+)==(\S+)(?: ;[^\\\n]*)? \\\n((?:    --hash=sha256:[0-9a-f]{64}(?: \\)?\n)+)"
    entries = re.findall(pinned, lock, re.M)
    assert len(entries) == len(re.findall(r"^[a-z]", lock, re.M))
    assert {named(requirement)[0] for requirement in WANTED} <= {name for name, _, _ in entries}


def test_the_version_is_the_same_wherever_it_stands() -> None:
    citation = (TOP / "CITATION.cff").read_text()
    assert re.search(r"^version: (.*)$", citation, re.M)[1] == PROJECT["version"] == drivekit.__version__  # type: ignore[index]


def test_importing_drivekit_loads_nothing_heavy() -> None:
    code = f"import sys, drivekit; print([name for name in {HEAVY} if name in sys.modules])"
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout == "[]\n"


def test_asking_for_help_loads_nothing_heavy() -> None:
    code = (
        "import sys\nfrom drivekit.cli import main\ntry:\n    main(['study', '--help'])\nexcept SystemExit:\n"
        f"    print([name for name in {HEAVY} if name in sys.modules])"
    )
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert said.startswith("Usage: drivekit study")
    assert said.endswith("\n[]\n")


def test_bare_make_lists_every_target() -> None:
    said = subprocess.run(["make", "--no-print-directory"], cwd=TOP, capture_output=True, text=True, check=True).stdout
    listed = [line.split()[0] for line in said.splitlines()]
    assert {"study", "test", "lab", "figures", "bench", "lock", "clean"} <= set(listed)
    phony = re.search(r"^\.PHONY: (.*)$", (TOP / "Makefile").read_text(), re.M)
    assert phony is not None
    assert phony[1].split() == listed


@pytest.mark.parametrize(
    ("python", "sentence"),
    [
        ("no-such-python", "There is no no-such-python here that runs; name a Python 3.11, 3.12 or 3.13"),
        ("./old", "./old is Python 3.9; drivekit needs 3.11, 3.12 or 3.13"),
        ("./bare", "./bare lacks venv; on Debian and Ubuntu: apt install python3.12-venv"),
    ],
)
def test_a_python_that_will_not_do_is_refused_in_one_sentence(tmp_path: Path, python: str, sentence: str) -> None:
    for name in ("Makefile", "requirements.lock", "pyproject.toml"):
        (tmp_path / name).write_bytes((TOP / name).read_bytes())
    for name, version in (("old", "3.9"), ("bare", "3.12")):
        stand_in = tmp_path / name
        stand_in.write_text(f'#!/bin/sh\ncase "$2" in *ensurepip*) exit 1;; esac\necho {version}\n')
        stand_in.chmod(0o755)
    command = ["make", "study", f"PYTHON={python}"]
    made = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False)
    assert made.returncode != 0
    assert made.stderr.startswith(sentence)
    assert not (tmp_path / ".venv").exists()


def test_the_continuous_check_may_not_skip_the_browser() -> None:
    script = (TOP / ".ci" / "run").read_text()
    assert "chromium" in script
    assert script.rstrip().endswith("CI=true make test")
