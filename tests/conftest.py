"""What holds for every test: no machine is too slow for a law, a law is tried on the same examples each time, an error
that a page would tell in a sentence is met as it is, and files that take minutes are begun first."""

from __future__ import annotations

from typing import NoReturn

import pytest
from hypothesis import settings

settings.register_profile("drivekit", deadline=None, derandomize=True)
settings.load_profile("drivekit")

LONGEST = ("test_browser.py", "test_mutated_logs.py", "test_workbooks.py", "test_cli.py")


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put the files that take minutes first, or one process would end with them while the other has nothing to do.

    The second takes next to no fit: meanwhile the first has all loops compiled, which two at once would do twice.
    """
    items.sort(key=lambda item: LONGEST.index(item.path.name) if item.path.name in LONGEST else len(LONGEST))


@pytest.fixture
def guarded() -> None:
    """Let what fails be told in a sentence, as a person meets it."""


@pytest.fixture(autouse=True)
def unguarded(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Let what fails fail the test, but where a test asks to be guarded."""

    def met(error: Exception) -> NoReturn:
        raise error

    if "guarded" not in request.fixturenames:
        for module in ("markup", "phrases", "deck"):
            monkeypatch.setattr(f"drivekit.show.{module}.own_error", met)
