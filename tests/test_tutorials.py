"""The tutorials run as they are written."""

from __future__ import annotations

import doctest
from pathlib import Path

import pytest

DOCS = Path(__file__).resolve().parents[1] / "docs"
TUTORIALS = sorted((DOCS / "tutorials").glob("*.md"))
FLAGS = doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE | doctest.IGNORE_EXCEPTION_DETAIL


@pytest.mark.invariant
@pytest.mark.parametrize("page", TUTORIALS, ids=lambda page: page.stem)
def test_a_tutorial_runs(page: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    found = doctest.testfile(str(page), module_relative=False, optionflags=FLAGS)
    assert found.attempted > 2
    assert found.failed == 0


@pytest.mark.invariant
def test_there_are_tutorials_for_the_usual_questions() -> None:
    assert {page.stem for page in TUTORIALS} >= {
        "first-prediction", "datasheet", "illuminator", "backlight",
    }  # fmt: skip
