"""The viewing test: simulated viewers of known skill are found again; their file is a reader."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from simulator.app.cli import app
from simulator.errors import InputError
from simulator.judge.readers import PERSON, reader_of
from simulator.judge.readers.shapes import design_shapes
from simulator.judge.readers.viewer import (
    ReadingTable,
    ViewerModel,
    viewer,
    viewer_of,
    viewer_text,
)
from simulator.studies.answer_sheet import read_answers, sheet_of_answers
from simulator.studies.trial_reading import (
    fit_viewer,
    right_characters,
    trial_plates,
)

PLATES = 36


@pytest.fixture(scope="module")
def plates():
    return trial_plates(PLATES, seed=5)


def keen(efficiency, contrast_noise=PERSON.contrast_noise):
    reading = ReadingTable(efficiency=efficiency, contrast_noise=contrast_noise)
    return viewer(ViewerModel(title="simulated", reading=reading), PERSON)


def simulated_answers(plates, reader, *, seed):
    """What a template reader would type."""
    out = []
    for n, plate in enumerate(plates):
        one = plate.pictured
        found = reader.symbols(one.pictures, one.target, one.origin_px, seed=seed + n)[0]
        shapes = design_shapes(one.target.design)
        out.append("".join(shapes.letter(int(s)) or "" for s in found))
    return out


@pytest.mark.invariant
def test_a_simulated_viewer_is_found_again(plates):
    """Viewers of a third of the person's efficiency and of twice it: each within three of the
    standard deviations that the fit states, and told apart."""
    found = {}
    for efficiency in (0.1, 0.6):
        answers = simulated_answers(plates, keen(efficiency), seed=3)
        fit = found[efficiency] = fit_viewer(plates, answers)
        value, spread = fit.efficiency
        assert abs(value - efficiency) < 3.0 * spread, fit
        own, spread = fit.contrast_noise
        assert abs(own - PERSON.contrast_noise) < 3.0 * spread, fit
    assert found[0.6].plates_read > found[0.1].plates_read
    assert found[0.6].efficiency[0] > 1.8 * found[0.1].efficiency[0]


@pytest.mark.invariant
def test_plates_span_easy_to_hopeless_and_come_again(plates):
    again = trial_plates(PLATES, seed=5)
    assert [p.text for p in again] == [p.text for p in plates]
    assert np.array_equal(again[3].shown, plates[3].shown)
    assert len({p.text for p in plates}) == PLATES
    read = [right_characters(p, a).all() for p, a in zip(
        plates, simulated_answers(plates, PERSON, seed=1), strict=True)]  # fmt: skip
    assert 0.2 < np.mean(read) < 0.9


@pytest.mark.by_hand
def test_answers_are_laid_beside_the_text(plates):
    plate = plates[0]
    assert right_characters(plate, plate.text.lower()).all()
    assert not right_characters(plate, "").any()
    short = plate.text.replace(" ", "")[:-1]
    assert right_characters(plate, short).sum() == len(short)


@pytest.mark.invariant
def test_a_viewer_file_is_a_reader(tmp_path):
    model = ViewerModel(
        title='night "desk"',
        plates_read=30,
        reading=ReadingTable(efficiency=0.2, contrast_noise=0.7),
    )
    file = tmp_path / "desk.toml"
    file.write_text(viewer_text(model, {"efficiency": 0.05, "contrast_noise": 0.1}))
    reader = reader_of(str(file))
    assert (reader.efficiency, reader.contrast_noise) == (0.2, 0.7)
    assert reader.name == 'night "desk"' and reader.display.room_lux == 300.0
    # who uses less of a noisy picture is estimated to read less of it
    assert reader.quick.noise == pytest.approx(PERSON.quick.noise * PERSON.efficiency / 0.2)
    file.write_text(file.read_text().replace("room_lux", "room_lx"))
    with pytest.raises(InputError) as caught:
        viewer_of(file, PERSON)
    assert "room_lux" in str(caught.value)


@pytest.mark.invariant
def test_the_command_asks_goes_on_and_writes_the_file(tmp_path):
    folder = tmp_path / "trial"
    made = trial_plates(4, seed=2)
    run = CliRunner()
    first = run.invoke(app, ["trial-reading", str(folder), "--plates", "4", "--seed", "2",
                             "--no-ask"])  # fmt: skip
    assert first.exit_code == 0 and "4 of 4 plates have no answer yet" in first.output
    typed = "".join(f"{plate.text}\n" for plate in made[:3]) + "\n"
    done = run.invoke(app, ["trial-reading", str(folder), "--plates", "4", "--seed", "2"],
                      input=typed)  # fmt: skip
    assert done.exit_code == 0, done.output
    assert "3 of 4 plates read" in done.output
    rows = list(csv.DictReader((folder / "answers.csv").read_text().splitlines()))
    assert [row["answer"] for row in rows] == [*(p.text for p in made[:3]), "?"]
    assert reader_of(str(folder / "viewers.toml")).efficiency > 0.0


@pytest.mark.invariant
def test_the_sheet_of_answers_is_read_as_spreadsheets_write_it(tmp_path: Path) -> None:
    sheet, pictures = tmp_path / "answers.csv", ["plate-001.png", "plate-002.png", "plate-003.png"]
    said = {"plate-001.png": 'K2W8 R4D, "or" so', "plate-002.png": "=1+1"}
    sheet.write_text(sheet_of_answers(pictures, said), encoding="utf-8-sig")
    assert "'=1+1" in sheet.read_text()  # no formula for a spreadsheet
    assert read_answers(sheet, pictures) == said


@pytest.mark.invariant
@pytest.mark.parametrize(
    "text",
    [
        "picture;answer\nplate-001.png;K2W8 R4D\n",
        "picture\nplate-001.png\n",
        "picture,answer\nplate-009.png,K2W8 R4D\n",
        "picture,answer\nplate-001.png,K\nplate-001.png,L\n",
        'picture,answer\nplate-001.png,"K2W8\n',
        "picture,answer\nplate-001.png,K2W8\xe9\n",
    ],
)
def test_a_sheet_of_answers_that_cannot_be_read_is_refused(tmp_path: Path, text: str) -> None:
    sheet = tmp_path / "answers.csv"
    sheet.write_bytes(text.encode("latin-1"))
    with pytest.raises(InputError) as refused:
        read_answers(sheet, ["plate-001.png"])
    assert "answers.csv" in refused.value.text()
