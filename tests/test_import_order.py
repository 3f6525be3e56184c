"""The house is one-way: a room imports only from rooms before it."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

import simulator

ROOT = Path(simulator.__file__).parent
ORDER = (
    "errors",
    "registry",
    "units",
    "fields",
    "annotations",
    "validation",
    "messages",
    "toml_text",
    "files",
    "dotted",
    "data",
    "light",
    "scene",
    "camera",
    "judge",
    "bench",
    "studies",
    "report",
    "app",
)
SLOW = {"colour", "matplotlib", "skimage", "pvlib"}
MODULES = sorted(ROOT.rglob("*.py"))


def room_of(path: Path) -> str:
    first = path.relative_to(ROOT).parts[0]
    return first.removesuffix(".py")


def imported(tree: ast.AST) -> Iterator[str]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports are absolute, so that the order can be read"
            yield node.module or ""
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def breaches(source: str, room: str) -> list[str]:
    """Rooms that `source`, standing in `room`, must not import."""
    allowed = ORDER[: ORDER.index(room) + 1]
    found = []
    for name in imported(ast.parse(source)):
        head, _, rest = name.partition(".")
        other = rest.split(".")[0]
        if head == "simulator" and other in ORDER and other not in allowed:
            found.append(other)
    return found


@pytest.mark.invariant
@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(ROOT)))
def test_a_room_imports_only_from_rooms_before_it(path: Path) -> None:
    room = room_of(path)
    if room == "__init__":  # gives names of every room, but only on first use
        return
    assert room in ORDER, f"{room} has no place in the order"
    assert breaches(path.read_text(encoding="utf-8"), room) == []


@pytest.mark.by_hand
def test_the_order_test_sees_a_breach() -> None:
    assert breaches("from simulator.scene.model import SceneModel", "light") == ["scene"] * 2
    assert breaches("def f():\n    from simulator import app", "judge") == ["app"]
    assert breaches("from simulator.scene.model import SceneModel", "camera") == []


@pytest.mark.invariant
@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(ROOT)))
def test_slow_libraries_wait_until_they_are_used(path: Path) -> None:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    top = [node for node in tree.body if isinstance(node, ast.Import | ast.ImportFrom)]
    names = {name.split(".")[0] for node in top for name in imported(node)}
    assert not names & SLOW


@pytest.mark.invariant
def test_help_does_not_wait_for_the_heavy_libraries() -> None:
    heavy = SLOW | {"numpy", "scipy", "numba", "cv2", "pydantic", "rich"}
    code = f"import sys, simulator.app.cli; print(sorted({heavy!r} & set(sys.modules)))"
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=True,
        cwd=ROOT.parent,
    )
    assert done.stdout.strip() == "[]"
