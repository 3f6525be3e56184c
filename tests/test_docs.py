"""The pages of the documents: every page is listed, every link and listed page is there."""

from __future__ import annotations

import re
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path
from typing import Any

import pytest

yaml = pytest.importorskip("yaml")
ROOT = Path(__file__).resolve().parents[1]
PAGES = sorted((ROOT / "docs").rglob("*.md"))
LINK = re.compile(r"\]\(([^)#\s]+)(?:#[^)]*)?\)")


def listed(entry: Any) -> Iterator[str]:
    if isinstance(entry, str):
        yield entry
    elif isinstance(entry, dict):
        for inner in entry.values():
            yield from listed(inner)
    else:
        for inner in entry:
            yield from listed(inner)


@pytest.mark.invariant
def test_every_page_is_listed_and_there() -> None:
    names = list(listed(yaml.safe_load((ROOT / "mkdocs.yml").read_text(encoding="utf-8"))["nav"]))
    there = {str(page.relative_to(ROOT / "docs")) for page in PAGES}
    assert set(names) <= there, "a listed page is missing"
    assert len(names) == len(set(names))
    assert there - set(names) == set(), "a page is not listed in mkdocs.yml"


@pytest.mark.invariant
@pytest.mark.parametrize(
    "page", [*PAGES, ROOT / "README.md", ROOT / "DEVELOPERS.md"], ids=lambda page: page.name
)
def test_links_lead_somewhere(page: Path) -> None:
    links = [x for x in LINK.findall(page.read_text(encoding="utf-8")) if "://" not in x]
    assert [x for x in links if not (page.parent / x).exists()] == []


@pytest.mark.invariant
def test_the_first_screen_of_the_readme_shows_a_picture() -> None:
    lines = (ROOT / "README.md").read_text(encoding="utf-8").splitlines()
    assert len(lines) < 150
    assert any(line.startswith("![") for line in lines[:15])


@pytest.mark.invariant
@pytest.mark.parametrize(
    "page", sorted((ROOT / "docs" / "methods").glob("*.md")), ids=lambda p: p.stem
)
def test_every_method_has_equation_source_and_limits(page: Path) -> None:
    """A row of a method page leaves no cell empty."""
    rows = [
        [cell.strip() for cell in line.strip("|").split("|")]
        for line in page.read_text(encoding="utf-8").splitlines()
        if line.startswith("| ")
    ]
    head, *rest = rows
    assert head[0] == "What" and head[-1] == "Holds for" and len(rest) > 5
    assert [row[0] for row in rest if len(row) != len(head) or not all(row)] == []


@pytest.mark.invariant
def test_the_page_of_names_is_that_of_the_commands_keys_and_labels(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.syspath_prepend(str(ROOT / "tools"))
    naming = import_module("make_naming")
    made = naming.text()
    assert made == (ROOT / "docs" / "naming.md").read_text(encoding="utf-8"), (
        "run tools/make_naming.py"
    )
    for term, origin in (
        ("compare --set", "ours"), ("budget --set", "ours"), ("sensor.full_well_e", "standard: "),
        ("Shutter", "trade"), ("limits.probability_without", "trade"), ("station.aim_m", "trade"),
        ("explain", "ours"),
    ):  # fmt: skip
        assert naming.source(term).startswith(origin), term
