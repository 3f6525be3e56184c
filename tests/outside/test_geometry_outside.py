"""Where things land in the picture: by hand, by rotations, and against OpenCV."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from simulator.scene.geometry import (
    View,
    facing_normal,
    heading_velocity,
    thin_lens_image_distance,
    upright_card,
)
from simulator.scene.kernels.pack import pack_cards
from simulator.units import kmh_to_m_s

FULL_HD = {"width_px": 1920, "height_px": 1080}


@pytest.mark.by_hand
def test_thin_lens_equation():
    # 1/f = 1/s + 1/v (textbook): 50 mm at 2 m: 1/v = 20 - .5, v = 51.282 mm
    v = thin_lens_image_distance(0.05, 2.0)
    assert v == pytest.approx(0.0512821, rel=1e-5)
    assert 1.0 / v + 1.0 / 2.0 == pytest.approx(1.0 / 0.05)
    with pytest.raises(ValueError, match="focal length"):
        thin_lens_image_distance(0.05, 0.05)


@pytest.mark.by_hand
def test_pixel_density_and_field_of_view(make_in_scene, make_camera):
    # 12 mm, 2.9 um, 1920 px, focused at 18 m: v = 12 x 18000/17988 = 12.0080 mm;
    # 12.0080/.0029 = 4140.69 px; / 18 m = 230.04 px/m; 1920/230.04 = 8.346 m wide;
    # horizontal angle 2 atan(960/4140.69) = 26.11 degrees
    view = make_in_scene(camera=make_camera(sensor=FULL_HD)).view
    assert view.focal_px == pytest.approx(4140.69, rel=1e-5)
    assert view.pixels_per_m(18.0) == pytest.approx(230.04, rel=1e-4)
    assert view.width_px / view.pixels_per_m(18.0) == pytest.approx(8.346, rel=1e-3)
    left, right = view.ray_matrix @ [0.0, 540.0, 1.0], view.ray_matrix @ [1920.0, 540.0, 1.0]
    cosine = left @ right / np.linalg.norm(left) / np.linalg.norm(right)
    assert np.degrees(np.arccos(cosine)) == pytest.approx(26.11, abs=0.01)
    # and as it shows: a plate of 520 mm across the axis is 119.6 px wide
    xy, _ = view.project(np.array([[-0.26, 18.0, 1.0], [0.26, 18.0, 1.0]]))
    assert xy[1, 0] - xy[0, 0] == pytest.approx(119.6, abs=0.05)


def _by_hand(point, camera, yaw_deg, pitch_deg, focal_px, width, height):
    """Turn the world by the camera's yaw (to the right) and pitch (down), then divide."""
    x, y, z = np.asarray(point, float) - camera
    a, p = np.radians(yaw_deg), np.radians(pitch_deg)
    x, y = x * np.cos(a) - y * np.sin(a), x * np.sin(a) + y * np.cos(a)
    depth = y * np.cos(p) - z * np.sin(p)
    up = y * np.sin(p) + z * np.cos(p)
    return width / 2 + focal_px * x / depth, height / 2 - focal_px * up / depth, depth


@pytest.mark.by_hand
@pytest.mark.parametrize(("yaw_deg", "pitch_deg"), [(0.0, 0.0), (25.0, 12.0), (-110.0, 40.0)])
def test_projection_by_rotations(yaw_deg, pitch_deg):
    camera = np.array([1.0, -2.0, 4.0])
    a, p = np.radians(yaw_deg), np.radians(pitch_deg)
    forward = np.array([np.sin(a) * np.cos(p), np.cos(a) * np.cos(p), -np.sin(p)])
    view = View.aimed(camera, camera + 7.0 * forward, 1920, 1080, 4000.0)
    rng = np.random.default_rng(1)
    points = camera + forward * 10.0 + rng.uniform(-3.0, 3.0, (30, 3))
    xy, depth = view.project(points)
    wanted = np.array([_by_hand(q, camera, yaw_deg, pitch_deg, 4000.0, 1920, 1080) for q in points])
    assert xy == pytest.approx(wanted[:, :2], abs=1e-6)
    assert depth == pytest.approx(wanted[:, 2])
    # rays go back through the points
    for (x, y), d, point in zip(xy, depth, points, strict=True):
        assert camera + d * (view.ray_matrix @ [x, y, 1.0]) == pytest.approx(point, abs=1e-9)


@pytest.mark.outside
def test_projection_against_opencv(make_in_scene, make_scene):
    scene = make_scene(
        station={"height_m": 4.0, "ground_position_m": [1.5, -2.0], "aim_m": [0.5, 18.0, 0.5]}
    )
    view = make_in_scene(scene).view
    points = np.array([[0.0, 18.0, 0.5], [1.0, 20.0, 2.0], [-2.0, 15.0, 0.0], [0.3, 30.0, 5.0]])
    camera = np.array([[view.focal_px, 0.0, 160.0], [0.0, view.focal_px, 90.0], [0.0, 0.0, 1.0]])
    # OpenCV: x right, y down, z forward; world to camera is R (p - c)
    forward = np.array([0.5 - 1.5, 18.0 + 2.0, 0.5 - 4.0])
    forward /= np.linalg.norm(forward)
    right = np.array([forward[1], -forward[0], 0.0]) / np.hypot(*forward[:2])
    turn = np.stack([right, np.cross(forward, right), forward])
    shift = -turn @ np.array([1.5, -2.0, 4.0])
    wanted, _ = cv2.projectPoints(points, cv2.Rodrigues(turn)[0], shift, camera, None)
    assert view.project(points)[0] == pytest.approx(wanted[:, 0], abs=1e-6)


@pytest.mark.invariant
def test_points_behind_the_lens_have_no_place():
    view = View.aimed(np.zeros(3), np.array([0.0, 1.0, 0.0]), 100, 100, 500.0)
    xy, depth = view.project(np.array([[0.0, -1.0, 0.0], [0.1, 2.0, 0.0]]))
    assert np.all(np.isnan(xy[0]))
    assert depth == pytest.approx([-1.0, 2.0])
    assert xy[1] == pytest.approx([75.0, 50.0])
    with pytest.raises(ValueError, match="aim"):
        View.aimed(np.zeros(3), np.array([0.0, 0.0, -3.0]), 100, 100, 500.0)


@pytest.mark.by_hand
def test_directions():
    assert facing_normal(0.0) == pytest.approx([0.0, -1.0, 0.0])  # back at the camera
    assert facing_normal(90.0) == pytest.approx([1.0, 0.0, 0.0], abs=1e-12)  # to the right
    assert facing_normal(0.0, 90.0) == pytest.approx([0.0, 0.0, 1.0], abs=1e-12)  # upwards
    assert heading_velocity(10.0, 0.0) == pytest.approx([0.0, -10.0, 0.0])


@pytest.mark.by_hand
@pytest.mark.parametrize(("facing_deg", "tilt_deg"), [(0.0, 0.0), (40.0, 20.0), (-75.0, -30.0)])
def test_card_corners(facing_deg, tilt_deg):
    card = upright_card(
        "card",
        np.array([1.0, 5.0, 2.0]),
        0.6,
        0.2,
        np.zeros((1, 1), np.uint8),
        facing_deg=facing_deg,
        tilt_deg=tilt_deg,
    )
    corners = card.corners_m
    assert corners.mean(axis=0) == pytest.approx([1.0, 5.0, 2.0])
    assert np.linalg.norm(corners[1] - corners[0]) == pytest.approx(0.6)
    assert np.linalg.norm(corners[3] - corners[0]) == pytest.approx(0.2)
    assert card.normal == pytest.approx(facing_normal(facing_deg, tilt_deg))
    # upper left as its reader sees it: above, and to the reader's left
    assert corners[0, 2] > corners[3, 2]
    reader_right = np.cross(-card.normal, [0.0, 0.0, 1.0])
    assert (corners[1] - corners[0]) @ reader_right > 0.0


@pytest.mark.by_hand
def test_motion_blur_across(make_in_scene, make_camera, make_scene):
    # 40 km/h across the view, 1/30 s: 11.111 m/s x .03333 s = .37037 m; x 230.04 px/m = 85.20 px
    scene = make_scene(plate={"speed_kmh": 40.0, "heading_deg": 90.0})
    smear = make_in_scene(scene, make_camera(sensor=FULL_HD)).smear_px(1.0 / 30.0)
    assert smear[0] == pytest.approx([0.0, 0.0])
    assert smear[1] == pytest.approx([85.20, 0.0], abs=0.02)


@pytest.mark.by_hand
def test_motion_blur_towards(make_in_scene, make_camera, make_scene):
    # 2 m below the axis at 18 m, coming at 40 km/h for 1/30 s along the axis:
    # y = f h / d, dy = f h dd / d^2 = 4140.69 x 2 x .37037 / 324 = 9.467 px down
    scene = make_scene(
        plate={"position_m": [0.0, 18.0, 1.0], "speed_kmh": 40.0},
        station={"height_m": 3.0, "aim_m": [0.0, 18.0, 3.0]},
    )
    smear = make_in_scene(scene, make_camera(sensor=FULL_HD)).smear_px(1.0 / 30.0)
    assert smear[1] == pytest.approx([0.0, 9.467], abs=0.005)


@pytest.mark.by_hand
@pytest.mark.parametrize(
    ("speed_kmh", "wanted"), [(30.0, 595.0), (50.0, 992.0), (90.0, 1786.0), (130.0, 2579.0)]
)
def test_shutter_that_keeps_strokes(speed_kmh, wanted):
    # Table: shutter for at most half of a 14 mm stroke of movement across, seen at 30 degrees
    # to the travel: 1/595, 1/992, 1/1786, 1/2579 s (computed once as .007/(v sin 30))
    view = View.aimed(np.zeros(3), np.array([0.0, 20.0, 0.0]), 1920, 1080, 4000.0)
    velocity = heading_velocity(kmh_to_m_s(speed_kmh), 30.0)
    flow = view.flow(np.array([0.0, 20.0, 0.0]), velocity)
    smear_m = np.hypot(*flow) / view.pixels_per_m(20.0) / wanted
    assert smear_m == pytest.approx(0.007, rel=2e-3)


@pytest.mark.invariant
def test_flow_is_the_derivative_of_the_projection():
    view = View.aimed(np.array([1.0, 0.0, 4.0]), np.array([0.0, 18.0, 0.5]), 1920, 1080, 4000.0)
    rng = np.random.default_rng(3)
    for _ in range(20):
        point = np.array([0.0, 18.0, 1.0]) + rng.uniform(-4.0, 4.0, 3)
        velocity = rng.uniform(-15.0, 15.0, 3)
        h = 1e-5
        ends, _ = view.project(np.stack([point - h * velocity, point + h * velocity]))
        assert view.flow(point, velocity) == pytest.approx((ends[1] - ends[0]) / (2 * h), rel=1e-5)


@pytest.mark.invariant
def test_cards_are_found_where_they_project(make_in_scene, make_scene):
    # the plane equations of the kernels give each corner its place on the card
    scene = make_scene(plate={"facing_deg": 30.0, "tilt_deg": 15.0, "position_m": [0.2, 12.0, 1.1]})
    in_scene = make_in_scene(scene)
    cards, card = pack_cards(in_scene.world, in_scene.view), in_scene.world.cards[0]
    corners, depth = in_scene.view.project(card.corners_m)
    uv = [(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)]
    for (x, y), d, wanted in zip(corners, depth, uv, strict=True):
        u, v, den = cards.plane[0] @ [x, y, 1.0]
        assert cards.offset[0] / den == pytest.approx(d)
        assert [u / den, v / den] == pytest.approx(wanted, abs=1e-9)
    box = cards.box[0]
    assert box == pytest.approx([*corners.min(axis=0), *corners.max(axis=0)])
