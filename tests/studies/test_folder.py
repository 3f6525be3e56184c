"""A result folder appears whole or not at all."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from simulator.errors import OutputError
from simulator.studies.folder import check_names_folder, check_writable, result_folder


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
    assert sorted(path.name for path in target.iterdir()) == ["manifest.json", "verdict.json"]
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


def first_run(target: Path) -> None:
    with result_folder(target) as folder:
        write(folder, "first")
        (folder / "old.png").write_text("x")
        (folder / "inputs").mkdir()
        (folder / "inputs" / "scene.toml").write_text("a = 1\n")
        (folder / "pictures").mkdir()
        (folder / "pictures" / "1.png").write_text("x")


@pytest.mark.invariant
def test_what_no_run_wrote_stays(tmp_path: Path) -> None:
    target = tmp_path / "result"
    first_run(target)
    (target / "notes.txt").write_text("mine")
    (target / "inputs" / "photo.jpg").write_text("mine")
    with result_folder(target / "nested result") as folder:
        write(folder, "nested")
    (target / "empty").mkdir()
    (target / "link").symlink_to(tmp_path)
    inode = target.stat().st_ino
    check_writable(target)
    with result_folder(target) as folder:
        write(folder, "second")
    assert mark_of(target) == "second"
    assert mark_of(target / "nested result") == "nested"
    assert (target / "notes.txt").read_text() == "mine"
    assert (target / "inputs" / "photo.jpg").read_text() == "mine"
    assert sorted(path.name for path in target.iterdir()) == [
        "empty", "inputs", "link", "manifest.json", "nested result", "notes.txt", "verdict.json",
    ]  # fmt: skip
    assert sorted(path.name for path in (target / "inputs").iterdir()) == ["photo.jpg"]
    assert target.stat().st_ino == inode  # a shell that stands in it stays there
    assert list(tmp_path.iterdir()) == [target]


@pytest.mark.invariant
def test_a_file_of_a_result_that_somebody_changed_is_not_lost(tmp_path: Path) -> None:
    target = tmp_path / "result"
    first_run(target)
    (target / "inputs" / "scene.toml").write_text("a = 2  # my what-if\n")
    with pytest.raises(OutputError, match="changed since") as caught:
        check_writable(target)
    assert caught.value.given == "inputs/scene.toml"
    with pytest.raises(OutputError, match="changed since"), result_folder(target):
        raise AssertionError("must not be entered")
    assert mark_of(target) == "first"
    (target / "inputs" / "scene.toml").unlink()
    with result_folder(target) as folder:
        write(folder, "second")
    assert mark_of(target) == "second"


@pytest.mark.invariant
@pytest.mark.parametrize("way", ["file", "folder", "link", "folder is a file", "folder is a link"])
def test_what_is_in_the_way_stays_and_so_does_the_earlier_result(tmp_path: Path, way: str) -> None:
    target = tmp_path / "result"
    with result_folder(target) as folder:
        write(folder, "first")
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    if way == "file":
        (target / "sheet.png").write_text("mine")
    elif way == "folder":
        (target / "sheet.png").mkdir()
    elif way == "link":
        (target / "sheet.png").symlink_to(tmp_path / "nothing there")
    elif way == "folder is a file":
        (target / "inputs").write_text("mine")
    else:
        (target / "inputs").symlink_to(elsewhere)
    before = sorted(tmp_path.rglob("*"))
    with (
        pytest.raises(OutputError, match="in the way") as caught,
        result_folder(target) as folder,
    ):
        write(folder, "second")
        (folder / "sheet.png").write_text("x")
        (folder / "inputs").mkdir()
        (folder / "inputs" / "scene.toml").write_text("a = 1\n")
    assert caught.value.given in {"sheet.png", "inputs"}
    assert mark_of(target) == "first"
    assert sorted(tmp_path.rglob("*")) == before


@pytest.mark.invariant
def test_a_result_without_a_manifest_is_left_alone(tmp_path: Path) -> None:
    target = tmp_path / "result"
    target.mkdir()
    write(target, "of an earlier version")
    with pytest.raises(OutputError, match="something else"):
        check_writable(target)
    for text in (
        '{"written_by": "nightproof", "files": {"../verdict.json": ""}}',
        '{"written_by": "nightproof", "files": {"/etc/passwd": ""}}',
        '{"written_by": "another program", "files": {"verdict.json": ""}}',
        "[]",
        "{",
    ):
        (target / "manifest.json").write_text(text)
        with pytest.raises(OutputError, match="something else"):
            check_writable(target)
    assert mark_of(target) == "of an earlier version"


@pytest.mark.invariant
def test_a_failure_while_files_are_put_in_place_brings_the_earlier_result_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    target = tmp_path / "result"
    first_run(target)
    (target / "notes.txt").write_text("mine")
    before = {p: p.read_bytes() for p in target.rglob("*") if p.is_file()}
    rename = Path.rename

    def full(self: Path, to: Path) -> Path:
        if to == target / "verdict.json" and ".part-" in str(self):
            raise OSError(28, "No space left on device", str(to))
        return rename(self, to)

    monkeypatch.setattr(Path, "rename", full)
    with pytest.raises(OutputError, match="cannot be written"), result_folder(target) as folder:
        (folder / "a new folder").mkdir()
        (folder / "a new folder" / "1.png").write_text("x")
        write(folder, "second")
    assert {p: p.read_bytes() for p in target.rglob("*") if p.is_file()} == before
    assert not (target / "a new folder").exists()
    assert list(tmp_path.iterdir()) == [target]


@pytest.mark.invariant
@pytest.mark.parametrize("name", ["r.png", "a.b/report.PDF", "new.toml"])
def test_the_name_of_a_file_is_no_folder(tmp_path: Path, name: str) -> None:
    with pytest.raises(OutputError) as refused:
        check_names_folder(tmp_path / name)
    assert refused.value.given == name.rsplit("/", maxsplit=1)[-1]
    (tmp_path / name).mkdir(parents=True)
    check_names_folder(tmp_path / name)  # a folder that is there may be called so
    check_names_folder(tmp_path / "gate-2mp.v2")
