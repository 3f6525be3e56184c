"""What is kept on disk: right after an edit, whole or not at all, bounded, removable, off."""

from __future__ import annotations

import multiprocessing
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np
import pytest

from simulator import disk_cache

pytestmark = pytest.mark.invariant


@pytest.fixture(autouse=True)
def folder(monkeypatch, tmp_path):
    monkeypatch.setenv("NIGHTPROOF_CACHE_DIR", str(tmp_path))
    return tmp_path


def made(value: float):
    calls = []

    def make():
        calls.append(value)
        return {"values": np.full(100_000, value)}

    return make, calls


def test_made_once_and_read_again():
    make, calls = made(3.0)
    first, again = (disk_cache.kept_arrays("tests", "k", make) for _ in range(2))
    assert calls == [3.0]
    assert first["values"].tobytes() == again["values"].tobytes()


def test_a_key_follows_all_contents(tmp_path):
    source = tmp_path / "source.py"
    source.write_text("a = 1")
    before = disk_cache.content_key(source, 1.0, b"x")
    assert before == disk_cache.content_key(source, 1.0, b"x")
    assert before != disk_cache.content_key(source, 2.0, b"x")
    source.write_text("a = 2")
    assert before != disk_cache.content_key(source, 1.0, b"x")


@pytest.mark.parametrize("torn", [b"", b"torn", b"PK\x03\x04torn"])
def test_a_broken_file_is_made_anew(folder, torn):
    make, calls = made(3.0)
    disk_cache.kept_arrays("tests", "k", make)
    (file,) = (folder / "arrays").iterdir()
    file.write_bytes(torn)
    assert disk_cache.kept_arrays("tests", "k", make)["values"][0] == 3.0
    assert calls == [3.0, 3.0]
    assert file.stat().st_size > 100_000


def test_the_least_used_makes_room(folder, monkeypatch):
    monkeypatch.setattr(disk_cache, "MOST_BYTES", 2_000_000)  # two of 0.8 MB
    for key in "abc":
        disk_cache.kept_arrays("tests", key, made(1.0)[0])
    left = {path.stem[-1] for path in (folder / "arrays").iterdir()}
    assert "c" in left and len(left) == 2


def test_off_keeps_nothing(monkeypatch, tmp_path):
    monkeypatch.setenv("NIGHTPROOF_CACHE_DIR", "off")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "user"))
    make, calls = made(1.0)
    for _ in range(2):
        disk_cache.kept_arrays("tests", "k", make)
    assert calls == [1.0, 1.0]
    assert disk_cache.base_folders() == []
    assert not (tmp_path / "user").exists()


def test_clearing_takes_what_is_kept_and_nothing_else(folder):
    disk_cache.kept_arrays("tests", "k", made(1.0)[0])
    (folder / "mine.txt").write_text("mine")
    assert disk_cache.clear() > 800_000
    assert [path.name for path in folder.iterdir()] == ["mine.txt"]


def _work(n: int) -> float:
    found = disk_cache.kept_arrays("tests", str(n % 3), made(float(n % 3))[0])
    return float(found["values"].sum())


def test_processes_share_it(folder):
    with ProcessPoolExecutor(2, mp_context=multiprocessing.get_context("fork")) as pool:
        assert list(pool.map(_work, range(12))) == [100_000.0 * (n % 3) for n in range(12)]
    assert not list(Path(folder).rglob(".part-*"))
