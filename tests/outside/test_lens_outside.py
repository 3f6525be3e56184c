"""The lens against published tables, textbook formulas and prysm (wave optics)."""

from __future__ import annotations

import numpy as np
import prysm.otf
import prysm.propagation
import pytest

from simulator.camera.blur import Blur
from simulator.camera.lens import (
    box_otf,
    defocus_blur_m,
    defocus_otf,
    diffraction_mtf,
    gaussian_mtf,
    lens_factor,
    magnification,
)
from simulator.camera.response import coefficients
from simulator.scene.kernels.radiance import STATIC, Sampling, trace_layer
from simulator.units import MAX_LUMINOUS_EFFICACY_LM_W, WAVELENGTH_NM, photon_energy_j


@pytest.mark.outside
def test_diffraction_table():
    # (2/pi)(acos x - x sqrt(1 - x^2)), computed once from the textbook formula
    x = np.arange(0.1, 0.95, 0.1)
    wanted = [0.8729, 0.7471, 0.6238, 0.5046, 0.3910, 0.2848, 0.1881, 0.1041, 0.0374]
    assert diffraction_mtf(x / (550e-9 * 2.0), 550e-9, 2.0) == pytest.approx(wanted, abs=5.1e-5)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("f_number", "cut_off_lp_mm"), [(1.4, 1299), (2.0, 909), (2.8, 649), (4.0, 455), (8.0, 227)]
)
def test_diffraction_cut_off(f_number, cut_off_lp_mm):
    # 1 / (lambda F) at 550 nm, computed once; half a unit of rounding on either side
    below, above = (cut_off_lp_mm - 0.6) * 1e3, (cut_off_lp_mm + 0.6) * 1e3
    assert diffraction_mtf(np.array([below]), 550e-9, f_number)[0] > 0.0
    assert diffraction_mtf(np.array([above]), 550e-9, f_number)[0] == 0.0


@pytest.mark.outside
@pytest.mark.parametrize(("f_number", "wavelength_um"), [(1.6, 0.55), (2.8, 0.85), (8.0, 0.94)])
def test_diffraction_against_prysm(f_number, wavelength_um):
    lp_mm = np.linspace(0.0, 1500.0, 301)
    wanted = prysm.otf.diffraction_limited_mtf(f_number, wavelength_um, frequencies=lp_mm.copy())
    found = diffraction_mtf(lp_mm * 1e3, wavelength_um * 1e-6, f_number)
    assert found == pytest.approx(wanted, abs=1e-9)


def _wave_mtf(f_number: float, wavelength_m: float, defocus_m: float, frequency_per_m):
    """MTF of a defocused round pupil, by prysm's Fourier propagation."""
    n, fill = 256, 0.5
    grid = (np.arange(n) - n // 2) / (n / 2 * fill)
    x, y = np.meshgrid(grid, grid)
    rho2 = x * x + y * y
    # longitudinal defocus dz gives a blur disc dz/F and a wavefront error dz/(8 F^2)
    waves = defocus_m / (8.0 * f_number) / wavelength_m
    pupil = (rho2 <= 1.0) * np.exp(2j * np.pi * waves * rho2)
    field = prysm.propagation.focus(pupil, Q=2)
    psf = np.abs(field) ** 2
    step_m = wavelength_m * f_number / (2 / fill)  # sample of the focal plane for this padding
    mtf = prysm.otf.mtf_from_psf(psf, step_m * 1e3)
    values = mtf.data[psf.shape[0] // 2, psf.shape[1] // 2 :]
    frequency = np.arange(values.size) / (psf.shape[1] * step_m)
    return np.interp(frequency_per_m, frequency, values)


@pytest.mark.outside
def test_wave_optics_in_focus():
    f = np.linspace(0.0, 600e3, 25)
    wanted = _wave_mtf(2.0, 550e-9, 0.0, f)
    # the pupil's edge is a staircase of 128 samples across, hence 1 percent
    assert diffraction_mtf(f, 550e-9, 2.0) == pytest.approx(wanted, abs=0.01)


@pytest.mark.outside
@pytest.mark.parametrize("f_number", [1.6, 4.0])
@pytest.mark.parametrize("blur_um", [2.0, 5.0, 10.0, 20.0])
def test_defocus_against_prysm(blur_um, f_number):
    # wave optics, up to the Nyquist frequency of a 2.9 um pixel or just before the first zero
    blur = Blur(2.9e-6, f_number, 550e-9, 0.0, blur_um * 1e-6)
    f = np.linspace(0.0, min(1.0 / (blur_um * 1e-6), 172e3), 40)
    found = blur.otf(f * blur.pitch_m, np.zeros(1))
    wanted = _wave_mtf(f_number, 550e-9, blur_um * 1e-6, f)
    assert found == pytest.approx(wanted, abs=0.015)


@pytest.mark.outside
def test_geometric_defocus_table():
    # 2 J1(pi b nu)/(pi b nu), computed once; first zero at b nu = 1.22
    b = 8e-6
    x = np.array([0.25, 0.5, 0.75, 1.0])
    assert defocus_otf(x / b, b) == pytest.approx([0.9249, 0.7217, 0.4492, 0.1812], abs=5.1e-5)
    low, high = defocus_otf(np.array([1.215, 1.225]) / b, b)
    assert low > 0.0 > high


@pytest.mark.outside
def test_pixel_aperture_table():
    # sinc of a pixel with full fill, computed once
    assert box_otf(np.array([0.1, 0.25, 0.5]), 1.0) == pytest.approx(
        [0.9836, 0.9003, 0.6366], abs=5.1e-5
    )


@pytest.mark.by_hand
def test_transfer_functions_multiply():
    # 2 um Gaussian, 6 um disc, F/2.8, 550 nm at 100 cycles/mm, by hand:
    #   exp(-2 (pi .002 100)^2) = .45404; diffraction x = .154: .80470
    #   disc, pi b f (1 - x) = 1.88496 x .846 = 1.59467: 2 J1(1.59467)/1.59467 = .71408
    blur = Blur(2.9e-6, 2.8, 550e-9, 2e-6, 6e-6)
    assert gaussian_mtf(np.array([1e5]), 2e-6)[0] == pytest.approx(0.45404, abs=1e-4)
    found = blur.otf(np.array([1e5 * 2.9e-6]), np.array([0.0]))[0]
    assert found == pytest.approx(0.45404 * 0.71408 * 0.80470, rel=1e-3)


@pytest.mark.outside
@pytest.mark.parametrize(("f_number", "wanted"), [(1.2, 0.1172), (1.4, 0.0861), (2.0, 0.0422)])
def test_image_plane_illuminance(f_number, wanted):
    # 1 lx on reflectance .75 through transmittance .9: rho E T / (4 F^2), computed once. Electrons
    # at QE 1 in a square metre of one 555 nm line, turned back into lux.
    line = (WAVELENGTH_NM == 555.0) / MAX_LUMINOUS_EFFICACY_LM_W
    rate = coefficients(line, np.full(721, 0.75), np.full(721, 0.9), 1.0).item()
    photons_per_lux = 1.0 / (MAX_LUMINOUS_EFFICACY_LM_W * float(photon_energy_j(555.0)))
    assert rate * lens_factor(f_number, 0.0) / photons_per_lux == pytest.approx(wanted, abs=5.1e-5)


@pytest.mark.by_hand
def test_close_up_loses_light():
    # at life size (s = 2 f) m = 1 and the light falls to a quarter, two stops (photographers' rule)
    assert magnification(0.05, 0.1) == pytest.approx(1.0)
    assert lens_factor(2.0, 1.0) / lens_factor(2.0, 0.0) == pytest.approx(0.25)


@pytest.mark.outside
def test_cos4_table(make_in_scene, make_camera, make_scene):
    # published cos^4 at 10 to 45 degrees, read off a uniform sky by the renderer
    camera = make_camera(lens={"relative_illumination_corner": 1.0})
    scene = make_scene(
        natural_light={"illuminance_lux": 1.0},
        station={"height_m": 1.0, "aim_m": [0.0, 10.0, 11.0]},  # 45 degrees up
    )
    in_scene = make_in_scene(scene, camera)
    lights, view = in_scene.lights("day"), in_scene.packed_view

    def rate(angle_deg: float) -> float:
        x = view.centre[0] + view.focal_px * np.tan(np.radians(angle_deg))
        sampling = Sampling(x - 0.5, view.centre[1] - 0.5, 1.0, 1, 1)
        layer = trace_layer(sampling, in_scene.packed_scene, lights, view, mode=STATIC)
        assert np.isinf(layer.depth[0, 0])
        return float(layer.rate[0, 0, 1])

    found = [rate(a) / rate(0.0) for a in (10, 20, 30, 40, 45)]
    assert found == pytest.approx([0.9406, 0.7797, 0.5625, 0.3444, 0.2500], abs=6e-5)


@pytest.mark.by_hand
@pytest.mark.parametrize(
    ("focal_mm", "f_number", "focus_m", "circle_um"),
    [(12.0, 1.6, 18.0, 4.0), (50.0, 2.8, 30.0, 5.8), (2.8, 2.0, 0.5, 3.0)],
)
def test_depth_of_field(focal_mm, f_number, focus_m, circle_um):
    # Textbook: H = f^2/(F c) + f, near = s (H - f)/(H + s - 2 f), far = s (H - f)/(H - s)
    f, c = focal_mm * 1e-3, circle_um * 1e-6
    hyperfocal = f * f / (f_number * c) + f
    assert hyperfocal > focus_m
    near = focus_m * (hyperfocal - f) / (hyperfocal + focus_m - 2.0 * f)
    far = focus_m * (hyperfocal - f) / (hyperfocal - focus_m)
    found = defocus_blur_m(f, f_number, focus_m, np.array([near, far, focus_m]))
    assert found == pytest.approx([c, c, 0.0], rel=1e-9, abs=1e-15)
    # focused at the hyperfocal distance, infinity is blurred by just the circle
    assert defocus_blur_m(f, f_number, hyperfocal, np.inf) == pytest.approx(c, rel=1e-9)


@pytest.mark.by_hand
def test_focus_shift_by_similar_triangles():
    # f 8 mm, F/2, far object in focus; infrared focuses .2 mm behind: the cone of diameter 4 mm and
    # length 8.2 mm is cut .2 mm before its tip: 4 x .2/8.2 = 97.56 um
    found = defocus_blur_m(0.008, 2.0, 100_000.0, 100_000.0, 200e-6)
    assert found == pytest.approx(97.56e-6, rel=1e-4)
