"""What a picture may ask of the computer is said before the work, with the reason."""

from __future__ import annotations

import math

import pytest

from simulator import Camera, Scene
from simulator.camera import bounds
from simulator.camera.in_scene import place_camera
from simulator.errors import InputError
from simulator.files import bundled_names
from simulator.scene.build import build_world
from simulator.studies.axes import Axis
from simulator.studies.sweep import MOST_POINTS, Plan

CAMERA = "fixed-2mp-lowlight"


@pytest.mark.by_hand
def test_a_near_focus_is_refused_before_the_picture() -> None:
    """b = f^2 / (F (s - f)) for a far point: 12 mm, f/1.6, 0.05 m: 2.37 mm, 817 px of 2.9 um."""
    scene = Scene.load("depot-gate-dark").set({"station.focus_m": 0.05})
    camera = Camera.load(CAMERA)
    f, pitch = camera.model.lens.focal_length_mm * 1e-3, camera.model.sensor.pixel_pitch_um * 1e-6
    disc_px = f * f / (camera.model.lens.f_number * (0.05 - f)) / pitch
    with pytest.raises(InputError, match="patches as wide as the view") as caught:
        place_camera(build_world(scene.model), scene.model.station, camera.model)
    assert f"a far point is {disc_px:.0f} px wide" in str(caught.value.given)


@pytest.mark.invariant
def test_no_bundled_camera_comes_near_a_bound() -> None:
    for name in bundled_names("cameras"):
        camera = Camera.load(name).model
        bounds.check_blur(camera)
        bounds.check_memory(camera, free=16e9)


@pytest.mark.by_hand
def test_a_sensor_is_held_against_the_memory() -> None:
    camera = Camera.load(CAMERA).model
    pixels = camera.sensor.width_px * camera.sensor.height_px
    enough = pixels * bounds.BYTES_PER_PIXEL / bounds.MOST_OF_MEMORY
    bounds.check_memory(camera, free=1.001 * enough)
    with pytest.raises(InputError, match="does not fit into the memory"):
        bounds.check_memory(camera, free=0.999 * enough)
    assert 0.0 < bounds.free_memory() <= math.inf


@pytest.mark.by_hand
def test_a_smear_beyond_the_view_is_refused() -> None:
    camera = Camera.load(CAMERA).model
    diagonal = math.hypot(camera.sensor.width_px, camera.sensor.height_px)
    bounds.check_smear(1.99 * diagonal, camera)
    for smear in (2.01 * diagonal, math.inf, math.nan):
        with pytest.raises(InputError, match="crosses the whole view"):
            bounds.check_smear(smear, camera)


@pytest.mark.by_hand
@pytest.mark.parametrize(
    "text", ["exposure.shutter_min_s=1e-300", "exposure.shutter_s=1e-8", "exposure.shutter_s=0"]
)
def test_shutters_that_no_sensor_has_are_refused(text: str) -> None:
    with pytest.raises(InputError, match="out of range"):
        Camera.load(CAMERA, [text])


@pytest.mark.invariant
def test_too_many_points_or_things_are_refused_before_the_work() -> None:
    axis = tuple(float(n) for n in range(200))
    axes = tuple(Axis(key, axis) for key in ("a", "b"))
    with pytest.raises(InputError, match="too many points"):
        Plan("s", "c", (), axes)
    assert MOST_POINTS < 200 * 200
    table = Scene.load("depot-gate-dark").table()
    more = [{**table["target"][0], "name": f"p{n}"} for n in range(250)]
    with pytest.raises(InputError, match="wrong length"):
        Scene.from_dict({**table, "target": [*table["target"], *more]})
