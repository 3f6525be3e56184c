"""What `simulator` and its rooms export, and that every name is there."""

from __future__ import annotations

import importlib
import subprocess
import sys
from pathlib import Path

import pytest

import simulator

ROOT = Path(simulator.__file__).parent
ROOMS = ("light", "scene", "camera", "judge", "bench")
STUDIES = {
    "predict", "quick", "compare", "sweep", "lighting", "calendar", "survey", "film", "lesson",
    "measure", "show", "light_levels", "new_scene", "budget",
}  # fmt: skip


@pytest.mark.invariant
@pytest.mark.parametrize("name", ["", *ROOMS])
def test_every_name_can_be_had_and_is_told(name):
    room = importlib.import_module(f"simulator.{name}" if name else "simulator")
    assert room.__all__ == sorted(room.__all__) and len(room.__all__) > 5
    assert set(room.__all__) <= set(dir(room))
    for one in room.__all__:
        assert getattr(room, one) is not None


@pytest.mark.invariant
@pytest.mark.parametrize("name", ROOMS)
def test_no_name_hides_behind_a_module(name):
    """A module of the same name would take its place once somebody imports it."""
    modules = {path.stem for path in (ROOT / name).iterdir()}
    assert not modules & set(importlib.import_module(f"simulator.{name}").__all__)


@pytest.mark.invariant
def test_every_study_is_there_and_unknown_names_are_refused():
    assert set(simulator.__all__) >= STUDIES | {"Scene", "Camera", "InputError", *ROOMS}
    with pytest.raises(AttributeError, match="telepathy"):
        _ = simulator.telepathy
    assert simulator.__version__ == importlib.metadata.version("nightproof")


@pytest.mark.invariant
def test_nothing_heavy_is_loaded_before_it_is_asked_for():
    code = (
        "import sys, simulator, simulator.light, simulator.judge; dir(simulator);"
        "print(sorted({'numpy', 'pydantic', 'numba', 'cv2'} & set(sys.modules)))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT.parent
    )
    assert done.stdout.strip() == "[]"
