"""Levels of light through cameras: noise rises, colour goes, the mode turns, the label is lost."""

from __future__ import annotations

import csv
import json
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from simulator.report.light_levels.sheet import framed, save_light_levels
from simulator.report.light_levels.words import answer, mode_words, reach_words, table
from simulator.report.wording import say
from simulator.scene.load import Scene
from simulator.studies.compare import load_cameras
from simulator.studies.light_levels.views import light_levels

LEVELS = (0.03, 300.0, 5.0)
NAME = "fixed-2mp-lowlight"
# half of the pixels each way, the field of view kept
SMALL = ("sensor.width_px=960", "sensor.height_px=540", "sensor.pixel_pitch_um=5.8")


@pytest.fixture(scope="module")
def found():
    scene = Scene.load("conveyor-belt-parcel")
    return light_levels(scene, load_cameras([NAME], sets=SMALL), LEVELS, seed=2, trials=24)


@pytest.mark.invariant
def test_what_goes_as_the_light_falls(found):
    assert found.levels_lux == (300.0, 5.0, 0.03)
    bright, dim, dark = (found.views[NAME, lux] for lux in found.levels_lux)
    assert (bright.level.mode, dark.level.mode) == ("day", "night")
    assert dim.noise_temporal_levels > 1.5 * bright.noise_temporal_levels
    assert bright.chroma > 5.0
    assert dark.chroma < 1.0
    assert dark.trail_frames > bright.trail_frames
    assert bright.judged.verdict == "legible"
    assert dark.judged.verdict == "not legible"


@pytest.mark.by_hand
def test_the_belt_blurs_the_label_by_speed_shutter_and_density(found):
    """0.7 km/h is 0.1944 m/s; 12 mm on 5.8 um at 4 m: 12 / 5.8 / 4.0 x 1000 = 517 px/m, less what
    the label stands lower and the focus is nearer than at infinity."""
    view = found.views[NAME, 5.0]
    assert view.judged.motion_blur_px == pytest.approx(
        0.7 / 3.6 * view.level.shutter_s * 517.0, rel=0.05
    )


@pytest.mark.by_hand
def test_pictures_hold_the_label_where_they_say(found):
    """The label is 0.13 to 0.2 m wide, so 65 to 105 px; it is paler than the card around it."""
    view = found.views[NAME, 300.0]
    x0, y0, x1, y1 = view.box_px
    assert 65 < x1 - x0 < 105
    inside = view.picture[y0 + 2 : y1 - 2, x0 + 2 : x1 - 2].mean()
    assert inside > 1.2 * view.picture[y0:y1, : x0 - 3].mean()
    shown = framed(view, 260, 120)
    assert shown.shape == (120, 260, 3)
    # a label of some 85 x 60 px fits into 260 x 120 twice, so every pixel is a square of two
    assert np.array_equal(shown[0::2, 0::2], shown[1::2, 1::2])
    whole = replace(view, box_px=(0, 0, view.picture.shape[1], view.picture.shape[0]))
    assert framed(whole, 60, 40).shape == (40, 60, 3)


@pytest.mark.by_hand
def test_reach_is_the_lowest_level_that_follows_only_successes(found):
    def judged(*words):
        views = {
            (NAME, lux): replace(view, judged=replace(view.judged, verdict=word))
            for (lux, view), word in zip(
                ((lux, found.views[NAME, lux]) for lux in found.levels_lux), words, strict=True
            )
        }
        return replace(found, views=views)

    some = judged("legible", "not legible", "legible")
    assert (some.least_lux(NAME), reach_words(some, NAME)) == (300.0, "300 lx")
    assert judged("legible", "legible", "marginal").least_lux(NAME) == 5.0
    none = judged("marginal", "legible", "legible")
    assert (none.least_lux(NAME), reach_words(none, NAME)) == (None, "at no level")
    assert answer(none).id == "light-levels.none"
    assert say(answer(none)).endswith("with this camera, not even at 300 lx.")
    assert (answer(some).id, answer(some).values["least_lx"]) == ("light-levels.one", 300.0)
    assert (found.night_lux(NAME), mode_words(found, NAME)) == (0.03, "from 0.03 lx")


@pytest.mark.invariant
def test_files_hold_figures_and_pictures(found, tmp_path):
    folder = save_light_levels(tmp_path / "levels", found)
    told = json.loads((folder / "verdict.json").read_text())
    assert told == json.loads(json.dumps(table(found)))
    assert [row["illuminance_lux"] for row in told["levels"]] == [300.0, 5.0, 0.03]
    assert told["cameras"] == [
        {"camera": NAME, "least_lux": found.least_lux(NAME), "night_lux": 0.03}
    ]
    assert len(told["answer"].split()) <= 25
    with (folder / "levels.csv").open() as file:
        assert [float(row["illuminance_lux"]) for row in csv.DictReader(file)] == [300.0, 5.0, 0.03]
    assert sorted(path.name for path in (folder / "pictures").iterdir()) == [
        f"{NAME}-0.03-lx.png", f"{NAME}-300-lx.png", f"{NAME}-5-lx.png",
    ]  # fmt: skip
    with Image.open(folder / "sheet.png") as sheet:
        # A4 portrait at 200 dots an inch
        assert sheet.size == (1654, 2339)


@pytest.mark.invariant
def test_the_camera_of_more_light_stands_first():
    cameras = load_cameras(["overview-8mp", "night-colour-4mp", "fixed-2mp-lowlight"])
    by_light = sorted(cameras, key=lambda c: -c.model.light_per_pixel_um2)
    assert [c.name for c in by_light] == ["night-colour-4mp", "fixed-2mp-lowlight", "overview-8mp"]
    # by hand: 2.9^2 x 0.87 / 1.0^2 with the transmittance of the lens file
    first = by_light[0].model
    assert first.light_per_pixel_um2 == pytest.approx(8.41 * first.lens.transmittance)
