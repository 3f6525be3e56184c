"""Compiled and fast kernels against reference libraries."""

from __future__ import annotations

import warnings

import numpy as np
import pytest
import scipy.ndimage
import skimage.transform

from simulator.camera.blur import Blur, blur_fine, blur_image
from simulator.camera.lens import fine_frequencies, gaussian_mtf
from simulator.camera.motion_blur import line_kernel
from simulator.camera.processing import (
    ColourPath,
    Planes,
    _line_filter,
    demosaic,
    develop,
    encode_tone,
    finish,
)
from simulator.camera.sensor_readout import Readout
from simulator.scene.kernels.radiance import STATIC, Sampling, trace_layer


def _reference_demosaic(mosaic, pattern):
    with warnings.catch_warnings():
        # the library imports from a deprecated namespace of scipy
        warnings.simplefilter("ignore", DeprecationWarning)
        from colour_demosaicing import demosaicing_CFA_Bayer_Malvar2004

        return demosaicing_CFA_Bayer_Malvar2004(mosaic, pattern)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("origin", "pattern"), [((0, 0), "RGGB"), ((1, 0), "GRBG"), ((0, 1), "GBRG"), ((1, 1), "BGGR")]
)
def test_demosaic_against_colour_demosaicing(origin, pattern):
    mosaic = np.random.default_rng(1).random((41, 62)).astype(np.float32)
    wanted = _reference_demosaic(mosaic, pattern)
    found = demosaic(mosaic, origin)
    # borders are extended in different ways
    assert found[2:-2, 2:-2] == pytest.approx(wanted[2:-2, 2:-2], abs=2e-6)


@pytest.mark.outside
def test_monochrome_development_against_colour_demosaicing():
    # night: luma is the mean of the demosaiced R, G, G, B below white
    rng = np.random.default_rng(2)
    mosaic = rng.integers(900, 2200, (1, 40, 60)).astype(np.uint16)
    chain = Readout(1.0, 1.0, 64.0, 4095.0)
    colour = ColourPath(np.ones(3), np.eye(3), True)
    found = develop(mosaic, chain, colour, "linear").luma[0]
    linear = (mosaic[0].astype(np.float64) - 64.0) / 4031.0
    r, g, b = np.moveaxis(_reference_demosaic(linear, "RGGB"), 2, 0)
    wanted = 0.25 * (r + 2.0 * g + b)
    assert found[2:-2, 2:-2] == pytest.approx(wanted[2:-2, 2:-2], abs=1e-5)


@pytest.mark.outside
def test_tone_table():
    # published encodings, computed once from IEC 61966-2-1 and ITU-R BT.709
    x = np.array([0.01, 0.05, 0.18, 0.5, 0.9])
    assert encode_tone(x, "srgb") == pytest.approx(
        [0.0999, 0.2478, 0.4614, 0.7354, 0.9547], abs=6e-5
    )
    assert encode_tone(x, "bt709") == pytest.approx(
        [0.0450, 0.1865, 0.4090, 0.7055, 0.9491], abs=6e-5
    )


@pytest.mark.outside
def test_tone_against_colour_science():
    import colour

    x = np.linspace(0.0, 1.0, 301)
    assert encode_tone(x, "bt709") == pytest.approx(colour.models.oetf_BT709(x), abs=1e-9)
    assert encode_tone(x, "srgb") == pytest.approx(colour.models.eotf_inverse_sRGB(x), abs=1e-9)


@pytest.mark.outside
def test_colour_planes_are_luma_and_colour_differences():
    # ITU-R BT.709 Y'CbCr of a uniform colour, by colour-science
    import colour

    rgb = np.array([0.5, 0.25, 0.1])
    mosaic = np.zeros((1, 16, 16))
    mosaic[0, ::2, ::2], mosaic[0, 1::2, 1::2] = rgb[0], rgb[2]
    mosaic[0, ::2, 1::2] = mosaic[0, 1::2, ::2] = rgb[1]
    chain = Readout(1.0, 1.0, 0.0, 65535.0)
    planes = develop(
        np.round(mosaic * 65535.0).astype(np.uint16),
        chain,
        ColourPath(np.ones(3), np.eye(3), False),
        "bt709",
    )
    encoded = colour.models.oetf_BT709(rgb)
    wanted = colour.RGB_to_YCbCr(encoded, K=colour.WEIGHTS_YCBCR["ITU-R BT.709"], out_legal=False)
    found = [planes.luma[0, 8, 8], planes.blue[0, 8, 8], planes.red[0, 8, 8]]
    assert found == pytest.approx(wanted, abs=2e-4)
    shown = finish(planes, _plain(), 16)[0, 8, 8] / 255.0
    assert shown == pytest.approx(encoded, abs=0.5 / 255 + 3e-4)


def _plain():
    from simulator.camera.model import Processing

    return Processing(noise_reduction=0.0, sharpening=0.0)


@pytest.mark.outside
def test_blur_fine_against_scipy():
    image = np.random.default_rng(3).random((60, 80, 2)).astype(np.float32)
    step, sigma_px = 0.25, 1.3
    fx, fy = fine_frequencies(60, 80, step)
    found = blur_fine(image, gaussian_mtf(np.hypot(fx, fy), sigma_px))
    for i in range(2):
        wanted = scipy.ndimage.gaussian_filter(
            image[:, :, i].astype(float), sigma_px / step, mode="wrap", truncate=8.0
        )
        assert found[:, :, i] == pytest.approx(wanted, abs=1e-5)


@pytest.mark.outside
@pytest.mark.parametrize("sigma_px", [0.7, 1.5, 3.0])
def test_blur_image_against_scipy(sigma_px):
    # means over pixels hold the aperture: nothing is added to the Gaussian but the box between the
    # samples that a picture is traced at, a third of a pixel wide
    rng = np.random.default_rng(4)
    picture = scipy.ndimage.gaussian_filter(rng.random((80, 90)), 1.5)
    picture = np.repeat(picture[:, :, None], 3, axis=2).astype(np.float32)
    blur = Blur(3e-6, 2.0, 550e-9, sigma_px * 3e-6, diffraction=False)
    found = blur_image(picture, blur)
    wanted = scipy.ndimage.gaussian_filter(
        picture[:, :, 0].astype(float), np.sqrt(sigma_px**2 + 1.0 / 108.0), mode="mirror"
    )
    contrast = float(picture.std())
    assert np.abs(found[:, :, 1] - wanted).max() < 0.02 * contrast


@pytest.mark.by_hand
def test_blur_image_of_a_disc_against_its_transfer_function():
    # an edge spread of defocus, against direct convolution with the analytic disc
    picture = np.zeros((60, 60, 3), np.float32)
    picture[:, 30:] = 1.0
    blur = Blur(3e-6, 2.0, 550e-9, 0.0, 24e-6, diffraction=False)  # disc of 8 px
    found = blur_image(picture, blur)[30, :, 0]
    # share of a disc of radius 4 px right of a line at distance x from its middle
    x = np.clip((np.arange(60) - 29.5) / 4.0, -1.0, 1.0)
    wanted = 0.5 + (x * np.sqrt(1.0 - x * x) + np.arcsin(x)) / np.pi
    assert found == pytest.approx(wanted, abs=0.02)


@pytest.mark.by_hand
@pytest.mark.parametrize("move", [(10.0, 0.0), (0.0, 7.3), (6.0, -8.0), (-3.3, 2.1), (1.0, 0.0)])
def test_line_kernel(move):
    kernel = line_kernel(np.array(move)).astype(np.float64)
    assert kernel.sum() == pytest.approx(1.0, abs=1e-6)
    rows, columns = kernel.shape
    y, x = np.mgrid[:rows, :columns]
    x, y = x - columns // 2, y - rows // 2
    assert [(kernel * x).sum(), (kernel * y).sum()] == pytest.approx([0.0, 0.0], abs=1e-5)
    length = np.hypot(*move)
    along = (x * move[0] + y * move[1]) / length
    across = (x * move[1] - y * move[0]) / length
    # a line has variance L^2/12; spreading each point bilinearly adds f(1 - f), at most 1/4
    assert length**2 / 12.0 - 1e-3 <= (kernel * along**2).sum() <= length**2 / 12.0 + 0.25
    assert (kernel * across**2).sum() <= 0.25 + 1e-6


@pytest.mark.by_hand
def test_line_kernel_against_its_transfer_function():
    # along the movement: sinc of its length, times that of the bilinear spread (a triangle)
    kernel = line_kernel(np.array([9.0, 0.0])).sum(axis=0)
    n = np.arange(kernel.size) - kernel.size // 2
    for frequency in (0.02, 0.05, 0.1):
        found = np.sum(kernel * np.cos(2.0 * np.pi * frequency * n))
        assert found == pytest.approx(np.sinc(9.0 * frequency) * np.sinc(frequency) ** 2, abs=0.01)
    assert line_kernel(np.array([0.01, 0.0])) is None


@pytest.mark.outside
@pytest.mark.parametrize("facing_deg", [0.0, 35.0])
def test_projection_against_skimage_warp(make_in_scene, make_scene, facing_deg):
    # the same texture drawn by a ProjectiveTransform of its four projected corners
    scene = make_scene(
        natural_light={"illuminance_lux": 10.0},
        plate={
            "position_m": [0.1, 8.0, 1.1],
            "facing_deg": facing_deg,
            "tilt_deg": 8.0,
            "sheeting": "none",
        },
        station={"height_m": 2.0, "aim_m": [0.0, 8.0, 1.0]},
    )
    in_scene = make_in_scene(scene)
    card = in_scene.world.cards[0]
    # four samples a pixel as around a target: a sliver thinner than a sample may be missed
    sampling = Sampling(0.0, 0.0, 0.25, 180 * 4, 320 * 4)
    layer = trace_layer(
        sampling,
        in_scene.packed_scene,
        in_scene.lights("night"),
        in_scene.packed_view,
        mode=STATIC,
        fine=2,
    )
    rate = layer.rate[:, :, 1].reshape(180, 4, 320, 4).mean(axis=(1, 3))
    ink = float(card.texture[0, 0])  # the border
    sharp = (card.texture == ink).astype(float)
    rows, columns = sharp.shape
    corners = in_scene.view.project(card.corners_m)[0]
    source = np.array([[0, 0], [columns, 0], [columns, rows], [0, rows]], float)
    over = 4
    # skimage puts the centre of pixel (0, 0) at 0
    transform = skimage.transform.ProjectiveTransform.from_estimate(
        corners * over - 0.5, source - 0.5
    )
    drawn = skimage.transform.warp(
        sharp, transform, output_shape=(180 * over, 320 * over), order=1, cval=-1.0
    )
    lowest = drawn.reshape(180, over, 320, over).min(axis=(1, 3))
    wanted = drawn.reshape(180, over, 320, over).mean(axis=(1, 3))
    inside = lowest >= 0.0
    inside = scipy.ndimage.binary_erosion(inside, iterations=1)
    assert inside.sum() > 5000
    # ink share of each pixel from the two rates, after taking the lens fall-off away
    y, x = np.mgrid[:180, :320] + 0.5
    radius2 = (x - 160.0) ** 2 + (y - 90.0) ** 2
    f2 = in_scene.packed_view.focal_px**2
    fall = (f2 / (f2 + radius2)) ** 2 * (
        1.0
        - (1.0 - in_scene.packed_view.corner_illumination)
        * radius2
        / in_scene.packed_view.circle_px**2
    )
    level = rate / fall
    dark, bright = level[inside].min(), level[inside].max()
    found = (bright - level) / (bright - dark)
    difference = np.abs(found - wanted)[inside]
    flat = scipy.ndimage.maximum_filter(wanted, 3) - scipy.ndimage.minimum_filter(wanted, 3) < 1e-6
    assert difference[flat[inside]].max() < 1e-3  # away from edges
    # on edges 8 x 8 point samples against 4 x 4 bilinear ones of texels of a quarter pixel
    assert difference.max() < 0.15
    assert difference.mean() < 0.005
    # and in place: a shift of a tenth of a pixel would show in the gradient
    gy, gx = np.gradient(wanted)
    for slope in (gx, gy):
        weight = slope[inside]
        shift = np.sum((found - wanted)[inside] * weight) / np.sum(weight**2)
        assert abs(shift) < 0.05


@pytest.mark.outside
@pytest.mark.parametrize(("lines", "height"), [(300.0, 720), (480.0, 720), (650.0, 720)])
def test_analogue_line_limit(lines, height):
    # Poynton: one cycle is two TV lines, so n lines a picture height end at n/(2H) cycles/px;
    # response half there, whole well below
    taps = _line_filter(lines / (2.0 * height)).astype(np.float64)
    n = np.arange(taps.size) - taps.size // 2

    def response(tv_lines: float) -> float:
        return float(np.sum(taps * np.cos(2.0 * np.pi * tv_lines / (2.0 * height) * n)))

    assert response(lines) == pytest.approx(0.5, abs=0.05)
    assert response(lines * 0.4) == pytest.approx(1.0, abs=0.02)
    assert response(0.0) == pytest.approx(1.0, abs=1e-6)
    if lines < 500:
        assert abs(response(lines * 1.6)) < 0.02


@pytest.mark.invariant
def test_line_limit_beyond_the_pixels_changes_nothing():
    # 800 TV lines on 720 rows lie beyond what the pixels hold (480 rows -> 480 lines, Poynton)
    plane = np.random.default_rng(5).random((1, 720, 64)).astype(np.float32)
    limited = _plain().model_copy(update={"analogue_tv_lines": 800.0})
    planes = Planes(plane, None, None)
    assert np.array_equal(finish(planes, limited, 720), finish(planes, _plain(), 720))
