"""The plate in the picture: where it lies, and when it cannot be judged."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.errors import GeometryError
from simulator.judge.target import HIDDEN_REFUSED, find_text, hidden_share, plan_region

WALL = {"name": "hoarding", "kind": "wall", "material": "concrete", "position_m": [0, 12, 0],
        "width_m": 4.0, "height_m": 3.0}  # fmt: skip


def find(make_in_scene, scene, camera=None):
    return find_text(make_in_scene(scene, camera), scene.target[0])


@pytest.mark.by_hand
def test_sizes_by_similar_triangles(make_in_scene, make_scene):
    target = find(make_in_scene, make_scene())
    per_m = 1.0 / (1.0 / 12e-3 - 1.0 / 18.0) / 2.9e-6 / 18.0
    assert target.character_height_px == pytest.approx(0.075 * per_m, rel=1e-6)
    width = target.corners_px[1, 0] - target.corners_px[0, 0]
    assert width == pytest.approx(0.52 * per_m, rel=1e-6)
    assert target.distance_m == pytest.approx(18.0)
    x0, y0, x1, y1 = target.box_px
    assert (x0 + x1) / 2.0 == pytest.approx(160.0, abs=0.6)
    assert (y0 + y1) / 2.0 == pytest.approx(90.0, abs=0.6)
    # character cells run left to right and lie inside the plate
    lefts = target.cells_px[:, 0, 0]
    assert np.all(np.diff(lefts) > 0)
    assert lefts[0] > target.corners_px[0, 0]
    assert target.cells_px[-1, 1, 0] < target.corners_px[1, 0]


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("plate", "words", "key"),
    [
        ({"position_m": [0.0, -3.0, 1.0]}, "behind", "target.plate.position_m"),
        ({"position_m": [5.0, 18.0, 1.0]}, "outside", "target.plate.position_m"),
        ({"position_m": [0.0, 18.0, 4.0]}, "outside", "target.plate.position_m"),
        ({"position_m": [-0.6, 18.0, 1.0]}, "outside", "target.plate.position_m"),
        ({"facing_deg": 120.0}, "turned away", "target.plate.facing_deg"),
        ({"facing_deg": -179.0}, "turned away", "target.plate.facing_deg"),
    ],
)
def test_refused(make_in_scene, make_scene, plate, words, key):
    with pytest.raises(GeometryError, match=words) as caught:
        find(make_in_scene, make_scene(plate=plate))
    assert caught.value.key == key
    assert caught.value.allowed
    expected = plate.get("position_m", plate.get("facing_deg"))
    assert caught.value.given == expected


@pytest.mark.invariant
def test_hidden_by_name(make_in_scene, make_scene):
    with pytest.raises(GeometryError, match="hidden: 'hoarding'") as caught:
        find(make_in_scene, make_scene(surface=[WALL]))
    assert caught.value.key == "target.plate.position_m"
    assert "hoarding" in str(caught.value)
    behind = make_scene(surface=[{**WALL, "position_m": [0, 20, 0]}])
    assert find(make_in_scene, behind).character_height_px > 0


@pytest.mark.by_hand
def test_hidden_share_of_half_a_wall(make_in_scene, make_scene):
    # the wall's left edge lies on the line of sight to the middle of the plate
    scene = make_scene(surface=[{**WALL, "position_m": [2.0, 12, 0]}])
    in_scene = make_in_scene(scene)
    share, name = hidden_share(in_scene, scene.target[0])
    assert (share, name) == (pytest.approx(0.5), "hoarding")
    assert share < HIDDEN_REFUSED
    assert hidden_share(make_in_scene(make_scene()), make_scene().target[0]) == (0.0, "")


@pytest.mark.invariant
def test_patch_holds_plate_and_movement(make_judged, make_camera):
    camera = make_camera(exposure={"shutter_s": 0.02})
    still = make_judged(camera=camera)
    fast = make_judged(camera=camera, plate={"speed_kmh": 36.0, "heading_deg": 90.0})
    x0, y0, x1, y1 = still.target.box_px
    for made in (still, fast):
        a0, b0, a1, b1 = made.plan.box_px
        assert a0 < x0 and b0 < y0 and a1 > x1 and b1 > y1
    smear = 10.0 * 0.02 * fast.in_scene.view.pixels_per_m(18.0)
    assert still.plan.box_px[0] - fast.plan.box_px[0] == pytest.approx(smear / 2.0, abs=1.0)
    assert fast.plan.margin_px >= smear / 2.0


@pytest.mark.by_hand
def test_patch_is_finer_than_a_stroke(make_judged):
    made = make_judged()
    sample_mm = 1000.0 / made.in_scene.view.pixels_per_m(18.0) / made.plan.split
    assert sample_mm <= 2.5
    assert made.plan.split >= 3
    coarse = plan_region(made.in_scene, made.state, made.target, 8)
    assert coarse.split == 8


@pytest.mark.by_hand
def test_wavelength_is_that_of_the_light(make_judged, make_camera):
    infrared = {"name": "ir", "wavelength_nm": 850.0, "radiant_intensity_w_per_sr": 5.0,
                "beam_deg": 30.0, "position_m": [0, 0, 1.2], "aim_m": [0, 18, 1]}  # fmt: skip
    night = make_judged(
        camera=make_camera(day_night={"mode": "night"}), lux=0.0, illuminator=[infrared]
    )
    assert night.plan.wavelength_nm == pytest.approx(850.0, abs=8.0)
    day = make_judged(camera=make_camera(day_night={"mode": "day"}))
    assert 500.0 < day.plan.wavelength_nm < 620.0
