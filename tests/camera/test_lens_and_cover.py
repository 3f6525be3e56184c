"""Distortion, the window before the lens, and whether a lens fits."""

from __future__ import annotations

import numpy as np
import pytest
from pydantic import ValidationError

from simulator.camera.light_field import frame_light
from simulator.scene.geometry import View
from simulator.scene.kernels.radiance import surfaces_at

BARREL, PINCUSHION = -0.25, 0.1


def view_of(distortion: float) -> View:
    """320 x 180 px with the image circle at the corner."""
    view = View.aimed(np.zeros(3), np.array([0.0, 10.0, 0.0]), 320, 180, 200.0)
    radius2 = 160.0**2 + 90.0**2
    return View(320, 180, 200.0, view.position_m, view.axes, distortion / radius2)


@pytest.mark.by_hand
@pytest.mark.parametrize("distortion", [BARREL, PINCUSHION])
def test_distortion_at_the_edge_of_the_circle_is_what_the_file_says(distortion):
    view = view_of(distortion)
    corner = np.array([320.0, 180.0])
    pinhole = view.undistorted(corner) - view.middle_px
    assert np.hypot(*(corner - view.middle_px)) / np.hypot(*pinhole) - 1.0 == pytest.approx(
        distortion
    )


@pytest.mark.invariant
@pytest.mark.parametrize("distortion", [BARREL, 0.0, PINCUSHION])
def test_there_and_back(distortion):
    view = view_of(distortion)
    places = np.random.default_rng(3).uniform([0, 0], [320, 180], (200, 2))
    np.testing.assert_allclose(view.distort(view.undistorted(places)), places, atol=1e-9)


@pytest.mark.invariant
def test_pincushion_has_no_image_of_what_lies_far_outside():
    assert np.all(np.isnan(view_of(PINCUSHION).distort(np.array([1e5, 90.0]))))


@pytest.mark.by_hand
@pytest.mark.parametrize("distortion", [BARREL, 0.0, PINCUSHION])
def test_flow_is_the_derivative_of_the_projection(distortion):
    view = view_of(distortion)
    point, velocity = np.array([4.0, 10.0, 1.0]), np.array([3.0, -5.0, 0.2])
    step = 1e-5
    there, _ = view.project(np.stack([point - velocity * step, point + velocity * step]))
    np.testing.assert_allclose(
        view.flow(point, velocity), (there[1] - there[0]) / (2 * step), rtol=1e-5
    )


def wide_lens(distortion: float) -> dict:
    """The image circle just reaches the corners of a 320 x 180 px sensor of 2.9 um pixels."""
    return {
        "distortion_coefficient": distortion,
        "image_circle_mm": np.hypot(320, 180) * 2.9e-3,
        "glare_index": 0.0,
        "focal_length_mm": 5.0,
        "f_number": 2.0,
    }


@pytest.mark.invariant
def test_kernels_and_projection_agree(make_in_scene, make_scene, make_camera):
    scene = make_scene(plate={"position_m": [0.85, 12.0, 1.4]})
    in_scene = make_in_scene(scene, make_camera(lens=wide_lens(BARREL)))
    card = in_scene.world.cards[in_scene.world.targets["plate"][0]]
    corners = in_scene.view.project(card.corners_m)[0]
    middle = corners.mean(axis=0)
    straight = in_scene.view.project_undistorted(card.corners_m)[0]
    assert np.abs(corners - straight).max() > 2.0
    inside = surfaces_at(
        corners + 0.02 * (middle - corners), in_scene.packed_scene, in_scene.packed_view
    )
    outside = surfaces_at(
        corners - 0.02 * (middle - corners), in_scene.packed_scene, in_scene.packed_view
    )
    number = in_scene.world.targets["plate"][0]
    assert np.all(inside == number)
    assert not np.any(outside == number)


@pytest.mark.by_hand
def test_even_sky_is_as_bright_as_area_and_cosine_say(make_in_scene, make_scene, make_camera):
    """E ~ cos^4(angle) x vignetting x (area of the pinhole picture per area of this one)."""
    camera = make_camera(
        lens={**wide_lens(BARREL), "relative_illumination_corner": 1.0, "aberration_sigma_um": 0.0}
    )
    scene = make_scene(
        plate={"position_m": [0.0, 18.0, 1.0]},
        natural_light={"illuminance_lux": 1000.0},
        station={"height_m": 2.0, "aim_m": [0.0, 10.0, 9.0]},
    )
    in_scene = make_in_scene(scene, camera)
    rate = frame_light(in_scene, "day", 0.001).rate[:, :, 1].astype(float)
    view, step = in_scene.view, 0.01
    for x, y in ((310, 10), (160, 90), (300, 160), (20, 90)):
        place = np.array([x + 0.5, y + 0.5])
        along, down = np.array([step, 0.0]), np.array([0.0, step])
        a = view.undistorted(place + along) - view.undistorted(place - along)
        b = view.undistorted(place + down) - view.undistorted(place - down)
        area = abs(a[0] * b[1] - a[1] * b[0]) / (4 * step**2)
        radius = np.hypot(*(view.undistorted(place) - view.middle_px))
        cosine = np.cos(np.arctan(radius / view.focal_px))
        assert rate[y, x] / rate[90, 160] == pytest.approx(area * cosine**4, rel=2e-3)


@pytest.mark.by_hand
def test_density_shrinks_with_the_picture():
    view = view_of(BARREL)
    place = np.array([300.0, 20.0])
    right, up = np.array([0.05, 0.0, 0.0]), np.array([0.0, 0.0, 0.05])
    x, y = view.undistorted(place) - view.middle_px
    point = np.array([x, 200.0, -y]) * 10.0 / 200.0
    a = view.project(np.stack([point - right, point + right]))[0]
    b = view.project(np.stack([point - up, point + up]))[0]
    area = abs(np.linalg.det(np.stack([a[1] - a[0], b[1] - b[0]]))) / 0.1**2
    assert view.pixels_per_m(10.0, place) == pytest.approx(np.sqrt(area), rel=1e-3)
    assert view.pixels_per_m(10.0) == pytest.approx(20.0)


@pytest.mark.by_hand
def test_dirt_takes_light_and_throws_some_of_it_about(make_in_scene, make_camera):
    clean = make_in_scene(camera=make_camera(lens={"glare_index": 0.02}))
    dirty = make_in_scene(
        camera=make_camera(
            lens={"glare_index": 0.02},
            cover={"transmittance": 0.9, "glare_index": 0.01, "obstruction_fraction": 0.1},
        )
    )
    assert dirty.glare_index == pytest.approx(1.0 - 0.98 * 0.99 * 0.9)
    np.testing.assert_allclose(dirty.response("day"), clean.response("day") * 0.9 * 0.9)


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("body", "lens", "fits"),
    [("cs", "c", True), ("c", "cs", False), ("s", "cs", False), ("fixed", "fixed", True)],
)
def test_mounts(make_camera, body, lens, fits):
    def made():
        whole = make_camera(lens={"mount": "cs"}).model_dump()
        whole["mount"], whole["lens"]["mount"] = body, lens
        return type(make_camera()).model_validate(whole)

    if fits:
        assert made().mount == body
    else:
        with pytest.raises(ValidationError, match="does not fit"):
            made()


@pytest.mark.invariant
def test_image_circle_must_reach_the_corners(make_camera):
    with pytest.raises(ValidationError, match="corners would stay dark"):
        make_camera(sensor={"width_px": 1920, "height_px": 1080}, lens={"image_circle_mm": 6.0})
