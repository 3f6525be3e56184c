"""The house is one-way: a room imports only from rooms before it, and no modules in a circle."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

import pytest

import simulator

ROOT = Path(simulator.__file__).parent
ORDER = (
    "errors",
    "reading",
    "csv_table",
    "registry",
    "units",
    "domain",
    "fields",
    "annotations",
    "validation",
    "messages",
    "toml_text",
    "files",
    "plain",
    "dotted",
    "beside",
    "checked_file",
    "bounded",
    "disk_cache",
    "kernels",
    "data",
    "light",
    "scene",
    "camera",
    "judge",
    "bench",
    "studies",
    "report",
    "api",
    "app",
)
PACKAGE = simulator.__name__
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


def module_of(path: Path) -> str:
    parts = path.relative_to(ROOT.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def runs(tree: ast.AST) -> Iterator[ast.AST]:
    """Nodes of a module that run, inside functions too; not what only a type checker reads."""
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test):
            for other in node.orelse:
                yield other
                yield from runs(other)
            continue
        yield node
        yield from runs(node)


def arrows(sources: Mapping[str, str]) -> dict[str, set[str]]:
    """Which modules of a set import which, on loading or later."""
    found: dict[str, set[str]] = {name: set() for name in sources}
    for name, source in sources.items():
        for node in runs(ast.parse(source)):
            if isinstance(node, ast.Import):
                found[name] |= {alias.name for alias in node.names} & set(sources)
            elif isinstance(node, ast.ImportFrom):
                # a name of a package is a module of its own, or stands in the package's __init__
                for alias in node.names:
                    whole = f"{node.module}.{alias.name}"
                    found[name] |= {whole if whole in sources else node.module or ""} & set(sources)
        found[name].discard(name)
    return found


def circles(graph: Mapping[str, set[str]]) -> list[list[str]]:
    """Strongly connected components of more than one module (Tarjan 1972)."""
    number: dict[str, int] = {}
    low: dict[str, int] = {}
    stack: list[str] = []
    found: list[list[str]] = []

    def visit(name: str) -> None:
        number[name] = low[name] = len(number)
        stack.append(name)
        for other in graph[name]:
            if other not in number:
                visit(other)
                low[name] = min(low[name], low[other])
            elif other in stack:
                low[name] = min(low[name], number[other])
        if low[name] == number[name]:
            at = stack.index(name)
            if len(stack) - at > 1:
                found.append(sorted(stack[at:]))
            del stack[at:]

    for name in graph:
        if name not in number:
            visit(name)
    return found


@pytest.mark.invariant
def test_no_modules_import_each_other_in_a_circle() -> None:
    sources = {module_of(path): path.read_text(encoding="utf-8") for path in MODULES}
    # the public door hands out names of every room on first use, and no room asks it
    del sources[PACKAGE]
    assert circles(arrows(sources)) == []


@pytest.mark.by_hand
def test_the_circle_test_sees_circles() -> None:
    sources = {
        "p.a": "from p import b",
        "p.b": "def late():\n    from p.c import something",
        "p.c": "import p.a",
        "p.d": "if TYPE_CHECKING:\n    from p.e import x\nelse:\n    import p.a",
        "p.e": "from p.d import x",
        "p.f.g": "from p.f import h",
        "p.f": "from p.f.g import y",
    }
    graph = arrows(sources)
    assert graph["p.d"] == {"p.a"} and graph["p.e"] == {"p.d"}
    assert sorted(circles(graph)) == [["p.a", "p.b", "p.c"], ["p.f", "p.f.g"]]


def named_twice(stub: str, modules: Iterable[str]) -> set[str]:
    """Names that a package hands out on first use and that are modules of it as well."""
    given = {
        alias.asname or alias.name
        for node in ast.walk(ast.parse(stub))
        if isinstance(node, ast.ImportFrom) and node.module is not None
        for alias in node.names
    }
    return given & set(modules)


@pytest.mark.invariant
@pytest.mark.parametrize(
    "stub", sorted(ROOT.rglob("__init__.pyi")), ids=lambda p: str(p.relative_to(ROOT))
)
def test_no_public_name_of_a_package_is_a_module_of_it(stub: Path) -> None:
    # importing package.name as a module would put the module in the place of the function
    modules = {path.stem for path in stub.parent.glob("*.py")}
    modules |= {path.parent.name for path in stub.parent.glob("*/__init__.py")}
    assert named_twice(stub.read_text(encoding="utf-8"), modules) == set()


@pytest.mark.by_hand
def test_the_name_test_sees_a_name_given_twice() -> None:
    stub = (
        "from . import light as light\nfrom .readout import Readout as Readout, readout as readout"
    )
    assert named_twice(stub, {"light", "readout", "lens"}) == {"readout"}


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
