"""Writing never follows a link that somebody laid, and no cell becomes a formula."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from simulator.studies.folder import result_folder, whole_file
from simulator.studies.tables import write_csv


@pytest.mark.invariant
def test_a_link_under_a_temporary_name_is_not_followed(tmp_path: Path) -> None:
    victim = tmp_path / "victim"
    victim.write_text("precious")
    target = tmp_path / "report.html"
    for name in (".report.html.part", "report.html.part"):
        (tmp_path / name).symlink_to(victim)
    names = set()
    for _ in range(2):
        with whole_file(target, "no") as part:
            names.add(part.name)
            assert not part.is_symlink()
            part.write_text("new")
    assert len(names) == 2  # nobody can tell the next one
    assert (victim.read_text(), target.read_text()) == ("precious", "new")


@pytest.mark.invariant
def test_a_link_in_the_place_of_the_target_is_replaced_and_not_followed(tmp_path: Path) -> None:
    victim = tmp_path / "victim"
    victim.write_text("precious")
    target = tmp_path / "report.html"
    target.symlink_to(victim)
    with whole_file(target, "no") as part:
        part.write_text("new")
    assert (victim.read_text(), target.read_text()) == ("precious", "new")


@pytest.mark.invariant
def test_a_link_among_the_files_of_a_result_is_not_followed(tmp_path: Path) -> None:
    victim = tmp_path / "victim"
    victim.write_text("precious")
    folder = tmp_path / "result"
    with result_folder(folder) as made:
        (made / "a.txt").write_text("first")
    (folder / "a.txt").unlink()
    (folder / "a.txt").symlink_to(victim)
    with pytest.raises(Exception, match=r"in the way|changed since"), result_folder(folder) as made:
        (made / "a.txt").write_text("second")
    assert victim.read_text() == "precious"


@pytest.mark.invariant
@pytest.mark.parametrize("cell", ["=1+1", "+1", "-1+1", "@SUM(1)", "\t=1", "\r=1"])
def test_cells_that_begin_as_formulas_do_are_made_harmless(tmp_path: Path, cell: str) -> None:
    write_csv(tmp_path / "t.csv", [{"name": cell, cell: "gate", "x": -1.5}])
    with (tmp_path / "t.csv").open(newline="", encoding="utf-8") as file:
        head, row = csv.reader(file)
    assert (head[1], row[0]) == (f"'{cell}", f"'{cell}")
    assert (row[1], row[2]) == ("gate", "-1.5")
