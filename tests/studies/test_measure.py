"""A camera on the bench, as the command measures it."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from simulator.camera.load import Camera
from simulator.report.measurement import answer, measurement_table
from simulator.studies.measure import measure

SMALL = ("sensor.width_px=320", "sensor.height_px=180")


@pytest.fixture(scope="module")
def found():
    return measure(Camera.load("fixed-2mp-lowlight", [*SMALL, "wide_range.claimed_db=100.0"]))


@pytest.mark.by_hand
def test_dynamic_range_stands_against_its_claim(found):
    """Full well 12 000 e- over about 2.6 e- of dark noise and a photon: 72 dB, 28 below 100."""
    told = answer(found)
    assert told.id == "measurement.short"
    assert told.values["range_db"] == pytest.approx(72.0, abs=1.5)
    assert told.values["short_db"] == pytest.approx(28.0, abs=1.5)
    met = replace(found.range_, claimed_db=72.0)
    assert answer(replace(found, range_=met)).id == "measurement.as-claimed"


@pytest.mark.invariant
def test_colours_trails_and_sharpness(found):
    table = measurement_table(found)
    assert table["charts"]["daylight"]["mean_ciede2000"] < 4.0
    frames = [row["frames"] for row in table["trails"]]
    assert frames == sorted(frames)
    assert 0.1 < table["half_cycles_px"] < 0.603
    assert table["line_widths"] == pytest.approx(2 * 180 * table["half_cycles_px"])


@pytest.mark.invariant
def test_lines_of_an_analogue_output_limit_it():
    found = measure(Camera.load("analogue-4by3", ["processing.analogue_tv_lines=300.0"]))
    assert measurement_table(found)["line_widths"] == pytest.approx(300.0)


@pytest.mark.invariant
def test_files(found, tmp_path):
    from simulator.report.measurement import save_measurement

    folder = save_measurement(tmp_path / "bench", found)
    assert json.loads((folder / "verdict.json").read_text())["study"] == "measurement"
    assert (folder / "sheet.png").stat().st_size > 20_000
