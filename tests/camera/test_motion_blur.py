"""Motion blur by place: what comes head-on is sharp on the axis and drawn out beside it."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.camera.in_scene import Switches
from simulator.camera.light_field import frame_light
from simulator.camera.motion_blur import flow_at_unit_depth
from simulator.camera.region import region_light
from simulator.camera.region_plan import RegionPlan
from simulator.camera.small_picture import small_stray_light
from simulator.scene.kernels.radiance import Sampling

DISTANCE_M, WIDTH_M, SPEED_KMH, SHUTTER_S = 12.0, 0.8, 60.0, 0.04
SHARP = {"lens": {"glare_index": 0.0, "distortion_coefficient": 0.0}}


def board(make_scene, **changes):
    """A white board before a dark wall; its left edge stands on the axis of the camera."""
    target = {
        "name": "board", "kind": "sign", "text": "I", "character_height_m": 0.02,
        "position_m": [WIDTH_M / 2.0, DISTANCE_M, 1.0], "width_m": WIDTH_M, "height_m": 0.3,
        "border": False, "speed_kmh": SPEED_KMH, "heading_deg": 0.0, **changes,
    }  # fmt: skip
    wall = {"name": "wall", "kind": "wall", "material": "paint-black", "width_m": 40.0,
            "height_m": 12.0, "position_m": [0.0, 20.0, -4.0]}  # fmt: skip
    return make_scene(
        natural_light={"illuminance_lux": 2000.0},
        station={"height_m": 1.0, "aim_m": [0.0, DISTANCE_M, 1.0], "focus_m": DISTANCE_M},
        surface=[wall],
        plate={"position_m": [0.0, 40.0, 1.0]},
        target=[target],
    )


def width_px(profile, at):
    """Width over which a profile rises around a place [px], from its slope in the middle half."""
    part = profile[at - 30 : at + 30].astype(float)
    low, high = part[:8].mean(), part[-8:].mean()
    rise = (part - low) / (high - low)
    steep = np.flatnonzero((rise > 0.25) & (rise < 0.75))
    first, last = steep[0] - 1, steep[-1] + 1
    return (last - first) / abs(rise[last] - rise[first])


@pytest.mark.by_hand
@pytest.mark.parametrize("what", ["frame", "region"])
def test_an_edge_on_the_axis_of_what_comes_head_on_stays_sharp(
    make_in_scene, make_scene, make_camera, what
):
    """x = f X / Z: dx/dt = x V / Z. At x = 0 nothing, at the other edge x V t / Z."""
    camera = make_camera(**SHARP, sensor={"width_px": 800, "height_px": 200})
    scene = board(make_scene)
    in_scene = make_in_scene(scene, camera)
    still = make_in_scene(scene, camera, Switches(motion=False))
    cards = in_scene.world.cards
    card = next(c for c in cards if c.group == 1 and c.width_m == WIDTH_M)
    edges = np.sort(in_scene.view.project(card.corners_m)[0][:, 0])[[0, -1]]
    assert edges[0] == pytest.approx(400.0, abs=0.1)
    wanted = (edges[1] - 400.0) * SPEED_KMH / 3.6 * SHUTTER_S / DISTANCE_M

    def profile(where):
        if what == "frame":
            return frame_light(where, "day", SHUTTER_S).rate[90:110, :, 1].mean(axis=0), 0
        plan = RegionPlan((340, 90, 760, 110), 40, 4, card.centre_m, 550.0)
        stray = np.zeros_like(small_stray_light(where, "day"))
        return region_light(where, "day", SHUTTER_S, plan, stray)[:, :, 1].mean(axis=0), 340

    moving, x0 = profile(in_scene)
    rest, _ = profile(still)
    left, right = (round(e) - x0 for e in edges)
    assert width_px(moving, left) == pytest.approx(width_px(rest, left), abs=0.3)
    assert wanted > 8.0
    assert width_px(moving, right) == pytest.approx(wanted, rel=0.06)


@pytest.mark.invariant
@pytest.mark.parametrize("distortion", [0.0, -0.2])
def test_flow_over_the_picture_is_that_of_points(
    make_in_scene, make_scene, make_camera, distortion
):
    lens = {**SHARP["lens"], "distortion_coefficient": distortion, "image_circle_mm": 1.2}
    in_scene = make_in_scene(board(make_scene, heading_deg=30.0), make_camera(lens=lens))
    view, speed = in_scene.view, in_scene.world.velocities[1]
    s = Sampling(0.0, 0.0, 1.0, 180, 320)
    field = flow_at_unit_depth(in_scene, 1, s)
    for point in ([0.3, 12.0, 1.1], [-0.2, 9.0, 0.9], [0.5, 15.0, 1.2]):
        (x, y), depth = view.project(np.array(point))
        found = field[int(y), int(x)] / depth
        assert found == pytest.approx(view.flow(np.array(point), speed), rel=0.02, abs=0.5)
