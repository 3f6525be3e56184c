"""Compiled loops: kept between runs, made anew when any of their sources changes."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

import simulator
from simulator import kernels

DRAW = """
import numpy as np
from simulator.judge.readers.matching import add_noise
windows = np.zeros((1, 1, 2, 2), np.float32)
add_noise(windows, np.ones(1), np.uint64(1), 0)
print(windows.ravel().tolist())
"""


def drawn(package: Path, cache: Path) -> str:
    """What a kernel of a copy of the package gives, in a process of its own."""
    done = subprocess.run(
        [sys.executable, "-c", DRAW], capture_output=True, text=True, check=True, timeout=300,
        cwd=package.parent,
        env={**os.environ, "PYTHONPATH": str(package.parent), "NIGHTPROOF_CACHE_DIR": str(cache)},
    )  # fmt: skip
    return done.stdout


@pytest.fixture
def package(tmp_path):
    """A copy of the package that may be changed."""
    target = tmp_path / "simulator"
    ignored = shutil.ignore_patterns("__pycache__", "data")
    shutil.copytree(Path(simulator.__file__).parent, target, ignore=ignored)
    shutil.copytree(Path(simulator.__file__).parent / "data", target / "data")
    return target


@pytest.mark.invariant
def test_a_change_of_a_helper_makes_kernels_of_other_files_stale(package, tmp_path):
    cache = tmp_path / "cache"
    before = drawn(package, cache)
    assert list(cache.rglob("*.nbc")), "nothing was kept"
    file = package / "camera" / "draws.py"  # its draws are compiled into the readers' kernel
    text = file.read_text(encoding="utf-8")
    assert "x = u * _X[layer]\n    if abs(u)" in text
    file.write_text(
        text.replace("x = u * _X[layer]\n    if abs(u)", "x = 2.0 * u * _X[layer]\n    if abs(u)"),
        encoding="utf-8",
    )
    assert drawn(package, cache) != before


@pytest.mark.invariant
def test_broken_files_of_the_cache_are_made_anew(package, tmp_path):
    cache = tmp_path / "cache"
    before = drawn(package, cache)
    files = [*cache.rglob("*.nbc"), *cache.rglob("*.nbi")]
    assert files
    for file in files:
        file.write_bytes(b"torn")
    assert drawn(package, cache) == before
    assert all(file.read_bytes() != b"torn" for file in files)


@pytest.mark.invariant
def test_constants_of_other_files_count(monkeypatch):
    files = {str(f.relative_to(kernels.PACKAGE)) for f in kernels.kernel_sources()}
    assert {"camera/draws.py", "scene/kernels/shading.py", "scene/kernels/pack.py"} <= files


@pytest.mark.invariant
def test_a_folder_that_cannot_be_written_is_passed_over(monkeypatch, tmp_path):
    blocked = tmp_path / "file"
    blocked.write_text("no folder")
    monkeypatch.setenv("NIGHTPROOF_CACHE_DIR", str(blocked))
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "user"))
    kernels.cache_folder.cache_clear()
    try:
        assert kernels.cache_folder().is_relative_to(tmp_path / "user" / "nightproof")
        monkeypatch.setenv("XDG_CACHE_HOME", str(blocked))
        monkeypatch.setenv("HOME", str(blocked))
        kernels.cache_folder.cache_clear()
        assert kernels.cache_folder().is_dir()
    finally:
        kernels.cache_folder.cache_clear()


@pytest.mark.invariant
@pytest.mark.parametrize("rows", [0, 1, 7, 8, 100])
@pytest.mark.parametrize("threads", [1, 2, 5])
def test_every_row_is_worked_through_once(monkeypatch, rows, threads):
    monkeypatch.setenv("NUMBA_NUM_THREADS", str(threads))
    seen = np.zeros(rows, np.int64)

    def run(first: int, last: int, out: np.ndarray) -> None:
        out[first:last] += 1

    kernels.over_rows(run, rows, seen, least=3)
    assert np.array_equal(seen, np.ones(rows))


@pytest.mark.invariant
def test_an_error_in_a_thread_reaches_the_caller(monkeypatch):
    monkeypatch.setenv("NUMBA_NUM_THREADS", "2")

    def run(first: int, last: int) -> None:
        if last == 100:
            raise ValueError("row")

    with pytest.raises(ValueError, match="row"):
        kernels.over_rows(run, 100)
