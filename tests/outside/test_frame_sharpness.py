"""Sharpness of whole picture and judged region on a slanted edge, after ISO 12233's method."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.camera.in_scene import Switches
from simulator.camera.lens import box_otf
from simulator.camera.light_field import frame_light
from simulator.camera.region import region_light
from simulator.camera.region_plan import RegionPlan
from simulator.camera.small_picture import small_stray_light

WALL = {
    "name": "wall", "kind": "wall", "material": "black-4", "position_m": [0.0, 18.0, -6.0],
    "width_m": 8.0, "height_m": 7.2, "facing_deg": 60.0,
}  # fmt: skip
PER_PX = 8
FREQUENCIES = np.array([0.1, 0.2, 0.25, 0.3, 0.4, 0.5])


def edge_mtf(picture, line, frequencies):
    """MTF down the picture: samples by their distance from a known edge, binned, differentiated.

    `line` (intercept, slope) of the edge. Means over bins and differences of them each lose
    sinc(f / bins a pixel), which is put back.
    """
    rows, columns = picture.shape
    y, x = np.mgrid[:rows, :columns] + 0.5
    away = y - line[0] - line[1] * x
    reach = 38
    bins = np.floor(away * PER_PX).astype(int) + reach * PER_PX
    inside = (bins >= 0) & (bins < 2 * reach * PER_PX)
    total = np.bincount(bins[inside], picture[inside], 2 * reach * PER_PX)
    count = np.bincount(bins[inside], minlength=2 * reach * PER_PX)
    assert count.min() > 3
    spread = np.diff(total / count)
    place = np.arange(spread.size) / PER_PX
    wave = np.exp(-2j * np.pi * frequencies[:, None] * place)
    return np.abs(wave @ spread / spread.sum()) / np.sinc(frequencies / PER_PX) ** 2


@pytest.fixture(scope="module")
def edge(make_in_scene, make_scene, make_camera):
    def make(f_number, aberration_um=1.2):
        camera = make_camera(
            lens={
                "f_number": f_number, "glare_index": 0.0, "aberration_sigma_um": aberration_um,
                "relative_illumination_corner": 1.0,
            },
            sensor={"width_px": 320, "height_px": 200},
        )  # fmt: skip
        scene = make_scene(
            natural_light={"illuminance_lux": 1000.0},
            surface=[WALL],
            plate={"position_m": [0.0, 30.0, 1.0]},
        )
        in_scene = make_in_scene(scene, camera, Switches(defocus=False))
        top = next(c for c in in_scene.world.cards if c.height_m == 7.2)
        ends = in_scene.view.project(top.corners_m)[0]
        a, b = ends[np.argsort(ends[:, 1])[:2]]
        slope = (b[1] - a[1]) / (b[0] - a[0])
        return in_scene, (float(a[1] - slope * a[0]), float(slope))

    return make


@pytest.mark.outside
@pytest.mark.parametrize("f_number", [1.6, 4.0, 8.0])
def test_frame_and_region_have_the_mtf_of_lens_and_one_aperture(edge, f_number):
    """Diffraction (Goodman) x aberration x one pixel aperture, at every frequency to 0.5."""
    in_scene, line = edge(f_number)
    blur = in_scene.blur_at(18.0, 550.0)
    wanted = blur.otf(0.0 * FREQUENCIES, FREQUENCIES) * box_otf(FREQUENCIES, 1.0)
    light = frame_light(in_scene, "day", 0.01)
    whole = edge_mtf(
        light.rate[:, 60:260, 1].astype(float), (line[0] + 60 * line[1], line[1]), FREQUENCIES
    )
    plan = RegionPlan((60, 10, 260, 110), 24, 4, np.array([0.0, 18.0, 1.2]), 550.0)
    part = region_light(in_scene, "day", 0.01, plan, small_stray_light(in_scene, "day"))
    there = (line[0] - 10.0 + 60.0 * line[1], line[1])
    fine = edge_mtf(part[:, :, 1].astype(float), there, FREQUENCIES)

    assert whole[:-1] == pytest.approx(wanted[:-1], abs=0.01)
    # at half a cycle a pixel a kernel of whole pixels has no slope, but the transfer function has
    assert whole[-1] == pytest.approx(wanted[-1], abs=0.02)
    assert fine == pytest.approx(wanted, abs=0.01)
