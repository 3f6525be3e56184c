"""A run that is killed, really, at every step of putting its files in place."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from simulator.studies import manifest
from simulator.studies.folder import result_folder, whole_file
from simulator.studies.leftovers import held, sibling

RUN = """
import os, sys
from pathlib import Path
from simulator.studies.folder import result_folder
steps, usual = int(sys.argv[2]), Path.rename
def rename(self, to):
    global steps
    steps -= 1
    if steps < 0:
        os._exit(9)  # as SIGKILL: nothing is cleaned up
    return usual(self, to)
Path.rename = rename
with result_folder(Path(sys.argv[1])) as made:
    (made / "verdict.json").write_text("second")
    (made / "inputs").mkdir()
    (made / "inputs" / "scene.toml").write_text("second")
    (made / "new.png").write_text("second")
"""


def write_first(target: Path) -> None:
    with result_folder(target) as made:
        (made / "verdict.json").write_text("first")
        (made / "inputs").mkdir()
        (made / "inputs" / "scene.toml").write_text("first")
        (made / "old.png").write_text("first")
    (target / "notes.txt").write_text("mine")


def marks(target: Path) -> set[str]:
    """What the files of a result hold; they are as its manifest says."""
    listed = manifest.read_manifest(target)
    assert listed is not None
    assert manifest.changed(target, listed) == []
    assert sorted(manifest.written(target, listed)) == sorted(listed)
    return {(target / name).read_text() for name in listed}


@pytest.mark.invariant
def test_a_run_killed_at_any_step_loses_nothing(tmp_path: Path) -> None:
    ended = []
    for step in range(40):
        target = tmp_path / f"r{step}"
        write_first(target)
        done = subprocess.run([sys.executable, "-c", RUN, str(target), str(step)], check=False)
        with pytest.raises(RuntimeError, match="stop"), result_folder(target):
            raise RuntimeError("stop")  # the next run clears away, whatever becomes of it
        found = marks(target)
        assert len(found) == 1, "files of two runs are mixed"
        assert (target / "notes.txt").read_text() == "mine"
        assert [p.name for p in tmp_path.iterdir() if p.name.startswith(".")] == []
        ended.append((done.returncode, *found))
        if done.returncode == 0:
            break
    assert ended[-1] == (0, "second")
    assert ended[0] == (9, "first")
    assert len(ended) > 8  # three files and a manifest went out, and as many in


@pytest.mark.invariant
def test_what_a_live_run_holds_is_left_alone(tmp_path: Path) -> None:
    target = tmp_path / "r"
    part = sibling(target, "part")
    part.mkdir()
    with held(part):
        with result_folder(target) as made:
            (made / "a").write_text("x")
        assert part.is_dir()
    with result_folder(target) as made:
        (made / "a").write_text("x")
    assert not part.exists()


@pytest.mark.invariant
def test_left_over_files_are_removed_and_links_are_not_followed(tmp_path: Path) -> None:
    target, victim = tmp_path / "r.html", tmp_path / "victim"
    victim.mkdir()
    (victim / "precious").write_text("x")
    sibling(target, "part").write_text("left over")
    link = sibling(target, "part")
    link.symlink_to(victim)
    with whole_file(target, "no") as part:
        part.write_text("new")
    assert sorted(p.name for p in tmp_path.iterdir() if p != link) == ["r.html", "victim"]
    assert [p.name for p in victim.iterdir()] == ["precious"]
