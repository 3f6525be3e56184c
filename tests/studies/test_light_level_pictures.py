"""The light ladder in pictures: noise rises, colour goes, the mode turns, trails grow."""

from __future__ import annotations

import json

import pytest

from simulator.scene.load import Scene
from simulator.studies.compare import load_cameras
from simulator.studies.light_levels.pictures import ladder_pictures

SMALL = ("sensor.width_px=320", "sensor.height_px=180", "sensor.pixel_pitch_um=6.0",
         "lens.focal_length_mm=5.0", "lens.f_number=2.6")  # fmt: skip


@pytest.fixture(scope="module")
def found():
    scene = Scene.load("light-ladder-bench")
    return ladder_pictures(
        scene, load_cameras(["fixed-2mp-lowlight"], sets=SMALL), [300.0, 5.0, 0.3], seed=2
    )


@pytest.mark.invariant
def test_what_goes_as_the_light_falls(found):
    bright, dim, dark = (found.steps["fixed-2mp-lowlight", lux] for lux in (300.0, 5.0, 0.3))
    assert (bright.level.mode, dark.level.mode) == ("day", "night")
    assert dim.noise_temporal_levels > 1.5 * bright.noise_temporal_levels
    assert bright.chroma > 20.0
    assert dark.chroma < 1.0
    assert dark.trail_frames > bright.trail_frames


@pytest.mark.invariant
def test_pictures_show_all_targets_and_files_hold_the_figures(found, tmp_path):
    from simulator.report.light_levels_sheet import save_light_levels

    folder = save_light_levels(tmp_path / "ladder", found)
    told = json.loads((folder / "verdict.json").read_text())
    assert len(told["steps"]) == 3
    assert "turns to night" in told["answer"]
    assert len(list((folder / "pictures").glob("*.png"))) == 3
    assert len((folder / "steps.csv").read_text().splitlines()) == 4
    assert (folder / "sheet.png").stat().st_size > 20_000
