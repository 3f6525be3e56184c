"""A result folder appears whole or not at all."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from simulator.errors import OutputError
from simulator.studies.folder import check_writable, result_folder


def write(folder: Path, mark: str) -> None:
    (folder / "verdict.json").write_text(json.dumps({"schema_version": 1, "mark": mark}))


def mark_of(folder: Path) -> str:
    return json.loads((folder / "verdict.json").read_text())["mark"]


@pytest.mark.invariant
def test_nothing_is_seen_until_it_is_whole(tmp_path: Path) -> None:
    target = tmp_path / "a" / "b"
    with result_folder(target) as folder:
        write(folder, "new")
        assert not target.exists()
        assert folder.parent == target.parent
        assert folder.name.startswith(".")
    assert mark_of(target) == "new"
    assert list(target.parent.iterdir()) == [target]


@pytest.mark.invariant
def test_a_failure_leaves_nothing(tmp_path: Path) -> None:
    with pytest.raises(ZeroDivisionError), result_folder(tmp_path / "a" / "b") as folder:
        write(folder, "new")
        raise ZeroDivisionError
    assert list(tmp_path.iterdir()) == []


@pytest.mark.invariant
def test_a_failure_keeps_the_earlier_result(tmp_path: Path) -> None:
    target = tmp_path / "result"
    with result_folder(target) as folder:
        write(folder, "first")
    with pytest.raises(KeyboardInterrupt), result_folder(target) as folder:
        write(folder, "second")
        raise KeyboardInterrupt
    assert mark_of(target) == "first"
    assert list(tmp_path.iterdir()) == [target]


@pytest.mark.invariant
def test_an_earlier_result_is_replaced_whole(tmp_path: Path) -> None:
    target = tmp_path / "result"
    with result_folder(target) as folder:
        write(folder, "first")
        (folder / "old.png").write_text("x")
    check_writable(target)
    with result_folder(target) as folder:
        write(folder, "second")
    assert mark_of(target) == "second"
    assert [path.name for path in target.iterdir()] == ["verdict.json"]
    assert list(tmp_path.iterdir()) == [target]


@pytest.mark.invariant
def test_an_empty_folder_is_used(tmp_path: Path) -> None:
    target = tmp_path / "result"
    target.mkdir()
    with result_folder(target) as folder:
        write(folder, "new")
    assert mark_of(target) == "new"


@pytest.mark.invariant
@pytest.mark.parametrize("content", ["file", "folder", "other verdict"])
def test_anything_else_stays_untouched(tmp_path: Path, content: str) -> None:
    target = tmp_path / "mine"
    if content == "file":
        target.write_text("precious")
    else:
        target.mkdir()
        name = "verdict.json" if content == "other verdict" else "notes.txt"
        (target / name).write_text('{"precious": 1}')
    before = sorted(path.name for path in tmp_path.rglob("*"))
    with pytest.raises(OutputError) as caught:
        check_writable(target)
    assert caught.value.file == str(target)
    with pytest.raises(OutputError), result_folder(target):
        raise AssertionError("must not be entered")
    assert sorted(path.name for path in tmp_path.rglob("*")) == before


@pytest.mark.invariant
def test_a_parent_that_cannot_hold_it(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    for target in (tmp_path / "file" / "result", Path("/proc/nightproof/result")):
        with pytest.raises(OutputError):
            check_writable(target)
        with pytest.raises(OutputError), result_folder(target):
            raise AssertionError("must not be entered")


@pytest.mark.invariant
def test_the_check_leaves_nothing_behind(tmp_path: Path) -> None:
    check_writable(tmp_path / "a" / "b" / "c")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.invariant
def test_faults_while_writing_are_told_apart(tmp_path: Path) -> None:
    with pytest.raises(OutputError), result_folder(tmp_path / "r") as folder:
        (folder / "missing" / "x").write_text("x")
    with pytest.raises(FileNotFoundError), result_folder(tmp_path / "r"):
        (tmp_path / "elsewhere" / "x").read_text()
    assert list(tmp_path.iterdir()) == []


@pytest.mark.invariant
def test_a_link_to_a_result_stays_a_link(tmp_path: Path) -> None:
    with result_folder(tmp_path / "real") as folder:
        write(folder, "first")
    (tmp_path / "link").symlink_to(tmp_path / "real")
    with result_folder(tmp_path / "link") as folder:
        write(folder, "second")
    assert (tmp_path / "link").is_symlink()
    assert mark_of(tmp_path / "real") == "second"
