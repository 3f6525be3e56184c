"""The finely traced patch against the whole picture, two ways to the same light."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.ndimage

from simulator.camera.light_field import frame_light
from simulator.camera.region import region_light
from simulator.camera.region_plan import RegionPlan
from simulator.camera.region_traces import Traces

LAMP = {
    "name": "lamp",
    "spectrum": "led-4000k",
    "intensity_cd": 500.0,
    "beam_deg": 60.0,
    "position_m": [0.4, 2.0, 1.8],
    "aim_m": [0.0, 18.0, 1.0],
}
WALL = {
    "name": "wall",
    "kind": "wall",
    "material": "concrete",
    "position_m": [0.0, 18.6, -3.0],
    "width_m": 12.0,
    "height_m": 9.0,
}
BOX = (70, 40, 250, 140)


def both(in_scene, shutter_s=0.01, wavelength_nm=550.0):
    """Whole picture cut to the box, and the patch, in the day."""
    point = in_scene.world.cards[in_scene.world.plates["plate"]].centre_m
    plan = RegionPlan(BOX, 24, 4, point, wavelength_nm)
    light = frame_light(in_scene, "day", shutter_s)
    x0, y0, x1, y1 = BOX
    return light.rate[y0:y1, x0:x1], region_light(
        in_scene, "day", shutter_s, plan, light.stray_light
    )


@pytest.mark.invariant
@pytest.mark.parametrize("speed", [{}, {"speed_kmh": 15.0, "heading_deg": 60.0}])
@pytest.mark.parametrize("focus_m", [18.0, 14.0])
def test_patch_agrees_with_the_picture(make_in_scene, make_scene, make_camera, speed, focus_m):
    scene = make_scene(
        natural_light={"illuminance_lux": 2.0}, lamp=[LAMP], surface=[WALL], plate=speed
    )
    whole, region = both(make_in_scene(scene, make_camera(lens={"focus_m": focus_m})))
    assert region.shape == whole.shape
    assert float(region.mean()) == pytest.approx(float(whole.mean()), rel=0.01)
    green = whole[:, :, 1]
    spread = scipy.ndimage.maximum_filter(green, 7) - scipy.ndimage.minimum_filter(green, 7)
    calm = spread < 0.05 * green
    assert calm.mean() > 0.15
    assert np.abs(region / whole - 1.0)[calm].max() < 0.03
    # on edges the whole picture, blurred at pixel scale, is a little softer, but nothing is shifted
    gy, gx = np.gradient(region[:, :, 1])
    for slope in (gx, gy):
        shift = float(np.sum((region - whole)[:, :, 1] * slope) / np.sum(slope**2))
        assert abs(shift) < 0.05


@pytest.mark.invariant
def test_finer_tracing_changes_little(make_in_scene, make_scene):
    in_scene = make_in_scene(make_scene(natural_light={"illuminance_lux": 2.0}, surface=[WALL]))
    point = in_scene.world.cards[in_scene.world.plates["plate"]].centre_m
    stray_light = frame_light(in_scene, "day", 0.01).stray_light
    pictures = [
        region_light(in_scene, "day", 0.01, RegionPlan(BOX, 24, split, point, 550.0), stray_light)
        for split in (3, 9)
    ]
    contrast = float(np.ptp(pictures[1]))
    assert np.abs(pictures[0] - pictures[1]).max() < 0.15 * contrast
    assert np.sqrt(np.mean((pictures[0] - pictures[1]) ** 2)) < 0.015 * contrast


@pytest.mark.invariant
def test_kept_traces_change_nothing(make_in_scene, make_scene):
    in_scene = make_in_scene(
        make_scene(natural_light={"illuminance_lux": 2.0}, plate={"speed_kmh": 30.0})
    )
    point = in_scene.world.cards[in_scene.world.plates["plate"]].centre_m
    plan = RegionPlan(BOX, 24, 3, point, 550.0)
    stray_light = frame_light(in_scene, "day", 0.01).stray_light
    traces = Traces()
    for shutter_s in (0.001, 0.02, 0.001):
        for time_s in (0.0, -0.04):
            kept = region_light(in_scene, "day", shutter_s, plan, stray_light, time_s, traces)
            fresh = region_light(in_scene, "day", shutter_s, plan, stray_light, time_s)
            assert np.array_equal(kept, fresh)


@pytest.mark.invariant
def test_shifting_the_grid_shifts_the_picture(make_in_scene, make_scene):
    # a phase of one pixel is the neighbouring pixel
    in_scene = make_in_scene(make_scene(natural_light={"illuminance_lux": 2.0}, surface=[WALL]))
    point = in_scene.world.cards[in_scene.world.plates["plate"]].centre_m
    stray_light = np.zeros_like(frame_light(in_scene, "day", 0.01).stray_light)

    def region(phase):
        return region_light(
            in_scene, "day", 0.01, RegionPlan(BOX, 24, 3, point, 550.0, phase_px=phase), stray_light
        )

    still, moved = region((0.0, 0.0)), region((1.0, 0.0))
    # borders of the patch see another part of the scene wrap around
    assert moved[:, 5:-6] == pytest.approx(still[:, 6:-5], rel=2e-3)
