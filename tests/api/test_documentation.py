"""What the documentation shows runs, and what is exported is documented."""

from __future__ import annotations

import dataclasses
import doctest
import importlib
import inspect
import re
from pathlib import Path

import pytest

import simulator
from simulator.fields import FileModel

ROOT = Path(simulator.__file__).parents[1]
FLAGS = doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE
ROOMS = ("", "judge", "light", "bench", "camera", "scene")
"""Rooms whose functions are documented as a whole; "" is `simulator` itself."""
CLASS_ROOMS = ("light", "bench", "camera", "scene")
"""Rooms whose classes are too, but for tables of files, which tell each key where it stands."""


OTHER = {"lesson_names", "open_session", "new_scene", "new_camera"}
"""Functions of `simulator` that are no studies and follow no law."""


def _functions() -> list:
    out = []
    for name in ROOMS:
        room = importlib.import_module(f"simulator.{name}" if name else "simulator")
        for one in room.__all__:
            # unwrapped: a function that remembers its results is one too
            if inspect.isfunction(inspect.unwrap(getattr(room, one))):
                out.append(pytest.param(getattr(room, one), id=f"{name or 'simulator'}.{one}"))
    return out


def _classes() -> list:
    out = []
    for name in CLASS_ROOMS:
        room = importlib.import_module(f"simulator.{name}")
        for one in room.__all__:
            if dataclasses.is_dataclass(getattr(room, one)):
                out.append(pytest.param(getattr(room, one), id=f"{name}.{one}"))
    return out


def sections(text: str) -> dict[str, str]:
    """Text of every section of a docstring by its heading."""
    parts = re.split(r"^(\w+)\n-{3,}$", inspect.cleandoc(text), flags=re.MULTILINE)
    return dict(zip(parts[1::2], parts[2::2], strict=True))


def described(text: str) -> list[str]:
    """Names that a section describes, each on a line of its own."""
    lines = [line for line in text.splitlines() if line and not line[0].isspace()]
    return [name.strip().lstrip("*") for line in lines for name in line.split(",")]


@pytest.mark.invariant
@pytest.mark.parametrize("function", _functions())
def test_every_exported_function_is_documented(function):
    found = sections(function.__doc__ or "")
    names = [n for n in inspect.signature(function).parameters if n != "self"]
    assert described(found.get("Parameters", "")) == names
    assert found["Returns"].strip()
    assert found.get("References", "").strip() or function.__name__ in OTHER
    assert ">>>" in found["Examples"]


@pytest.mark.invariant
@pytest.mark.parametrize("kind", _classes())
def test_every_exported_class_is_documented(kind):
    found = sections(kind.__doc__ or "")
    assert described(found["Attributes"]) == [field.name for field in dataclasses.fields(kind)]
    assert ">>>" in found["Examples"]


def _tables() -> list:
    """Tables of scene and camera files."""
    out = []
    for name in ("camera", "scene"):
        room = importlib.import_module(f"simulator.{name}")
        for one in room.__all__:
            kind = getattr(room, one)
            if inspect.isclass(kind) and issubclass(kind, FileModel):
                out.append(pytest.param(kind, id=f"{name}.{one}"))
    return out


@pytest.mark.invariant
@pytest.mark.parametrize("table", _tables())
def test_every_key_of_a_file_is_documented(table):
    # `kind` only says which table it is
    silent = [k for k, field in table.model_fields.items() if k != "kind" and not field.description]
    assert inspect.getdoc(table) and silent == []


def _methods() -> list:
    """Methods that results of the studies have of their own."""
    out = []
    for name in simulator.__all__:
        kind = getattr(simulator, name)
        if inspect.isclass(kind) and kind.__module__.startswith("simulator.api."):
            for key, method in vars(kind).items():
                if inspect.isfunction(method) and not key.startswith("_"):
                    out.append(pytest.param(method, id=f"{name}.{key}"))
    return out


@pytest.mark.invariant
@pytest.mark.parametrize("method", _methods())
def test_every_method_of_a_result_is_documented(method):
    found = sections(method.__doc__ or "")
    names = [n for n in inspect.signature(method).parameters if n != "self"]
    assert described(found.get("Parameters", "")) == names
    assert found["Returns"].strip()


@pytest.mark.invariant
@pytest.mark.parametrize("function", _functions() + _classes())
def test_its_example_runs(function):
    runner = doctest.DocTestRunner(optionflags=FLAGS)
    module = importlib.import_module(function.__module__)
    for test in doctest.DocTestFinder(recurse=False).find(function, globs=dict(vars(module))):
        assert runner.run(test).failed == 0


@pytest.mark.invariant
def test_the_page_on_python_runs():
    """Every block of docs/api.md, in order."""
    found = doctest.testfile(
        str(ROOT / "docs" / "api.md"), module_relative=False, optionflags=FLAGS
    )
    assert found.attempted > 30
    assert found.failed == 0


@pytest.mark.invariant
def test_the_page_names_every_study():
    text = (ROOT / "docs" / "api.md").read_text(encoding="utf-8")
    table = set(re.findall(r"^\| `(\w+)\(", text, flags=re.MULTILINE))
    exported = {
        name
        for name in simulator.__all__
        if inspect.isfunction(getattr(simulator, name)) and name not in OTHER
    }
    assert table == exported


@pytest.mark.by_hand
def test_sections_are_found():
    def documented(a, b):
        """Do.

        Parameters
        ----------
        a, b
            Two of them [m].

        Returns
        -------
        Nothing.
        """

    found = sections(documented.__doc__)
    assert described(found["Parameters"]) == ["a", "b"]
    assert list(found) == ["Parameters", "Returns"]
