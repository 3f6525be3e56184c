"""The codec against its own standard's numbers and scikit-image's measures."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from simulator.camera.model_processing import Stream
from simulator.camera.stream import (
    coded,
    from_420,
    mean_rate_kbit_s,
    steady_quantiser,
    tiled,
    to_420,
    untiled,
)

av = pytest.importorskip("av")

ROWS, COLUMNS, FRAMES, RATE = 144, 256, 5, 25.0


@pytest.fixture(scope="module")
def pictures():
    """A textured picture that moves on by two pixels a frame, with fresh noise."""
    rng = np.random.default_rng(8)
    field = cv2.GaussianBlur(rng.normal(0, 1, (ROWS, COLUMNS + 40, 3)), (0, 0), 3.0)
    field = 120.0 + field / field.std() * 45.0
    moved = [field[:, 2 * k : 2 * k + COLUMNS] for k in range(FRAMES)]
    noisy = np.stack(moved) + rng.normal(0, 2.0, (FRAMES, ROWS, COLUMNS, 3))
    return np.clip(noisy, 0, 255).astype(np.uint8)


def psnr(a, b) -> float:
    from skimage.metrics import peak_signal_noise_ratio

    return float(peak_signal_noise_ratio(a, b, data_range=255))


def ssim(a, b) -> float:
    from skimage.metrics import structural_similarity

    return float(structural_similarity(a, b, channel_axis=-1, data_range=255))


@pytest.mark.outside
@pytest.mark.parametrize(
    ("rgb", "expected"),
    [
        # ITU-R BT.709-6, narrow range of 8 bits: black 16, white 235, chroma 16..240 about 128
        ((0, 0, 0), (16, 128, 128)),
        ((255, 255, 255), (235, 128, 128)),
        ((255, 0, 0), (16 + 219 * 0.2126, 128 - 224 * 0.2126 / 1.8556, 240)),
        ((0, 0, 255), (16 + 219 * 0.0722, 240, 128 - 224 * 0.0722 / 1.5748)),
    ],
)
def test_narrow_range(rgb, expected):
    planes = to_420(np.full((4, 4, 3), rgb, np.uint8)).reshape(-1)
    np.testing.assert_allclose(planes[[0, 16, 20]], expected, atol=0.51)


@pytest.mark.outside
def test_conversion_there_and_back_costs_only_chroma(pictures):
    """PyAV's own conversion (swscale) is the judge of luma: within two levels of ours."""
    grey = np.repeat(pictures[0][:, :, 1:2], 3, axis=2)
    assert np.abs(from_420(to_420(grey)).astype(int) - grey).max() <= 1
    theirs = av.VideoFrame.from_ndarray(grey, format="rgb24").reformat(
        format="yuv420p", dst_colorspace="ITU709", dst_color_range="MPEG"
    )
    luma = theirs.to_ndarray()[:ROWS].astype(int)
    assert np.abs(luma - to_420(grey)[:ROWS]).max() <= 2


@pytest.mark.outside
@pytest.mark.parametrize("codec", ["h264", "h265"])
def test_quality_falls_as_the_quantiser_grows(pictures, codec):
    """PSNR and SSIM after scikit-image (Wang et al. 2004), and bits, all fall."""
    tried = [coded(pictures, codec, qp) for qp in (16, 28, 40)]
    bits = [t.bits.sum() for t in tried]
    quality = [psnr(pictures[-1], t.frames[-1]) for t in tried]
    likeness = [ssim(pictures[-1], t.frames[-1]) for t in tried]
    for values in (bits, quality, likeness):
        assert values[0] > values[1] > values[2]
    # quantiser steps double every 6 (H.264 and H.265): between 16 and 40 by 16
    luma = [psnr(pictures[0][:, :, 1], t.frames[0][:, :, 1]) for t in tried]
    assert 5.0 < luma[0] - luma[2] < 24.1
    assert tried[0].bits[0] > 1.5 * tried[0].bits[1:].mean()


@pytest.mark.invariant
def test_same_pictures_same_bytes(pictures):
    a, b = (coded(pictures, "h264", 30) for _ in range(2))
    np.testing.assert_array_equal(a.frames, b.frames)
    np.testing.assert_array_equal(a.bits, b.bits)


@pytest.mark.invariant
@pytest.mark.parametrize("kbit", [300.0, 1200.0])
def test_steady_quantiser_spends_the_bit_rate(pictures, kbit):
    stream = Stream(codec="h264", bitrate_kbit_s=kbit, keyframe_interval_s=1.0)
    found = steady_quantiser(pictures, stream, RATE)
    assert mean_rate_kbit_s(found.bits, stream, RATE) <= kbit
    finer = coded(pictures, "h264", found.qp - 1, RATE)
    assert mean_rate_kbit_s(finer.bits, stream, RATE) > kbit


@pytest.mark.by_hand
def test_mean_rate():
    stream = Stream(codec="h264", keyframe_interval_s=0.4)
    bits = np.array([100_000, 10_000, 20_000])
    assert mean_rate_kbit_s(bits, stream, 25.0) == pytest.approx((100 + 9 * 15) / 10 * 25)


@pytest.mark.invariant
def test_tiles_come_back(pictures):
    regions = np.stack([pictures[:, 3 * k : 3 * k + 30, 5 * k : 5 * k + 50] for k in range(11)])
    back = untiled(tiled(regions, 200), (11, 30, 50), 200)
    np.testing.assert_array_equal(back, regions)


@pytest.mark.invariant
def test_tiles_lose_what_the_whole_picture_loses(pictures):
    """A patch coded among tiles is as far from the truth as coded within its picture."""
    y, x = 48, 96
    region = pictures[:, y : y + 48, x : x + 80]
    whole = coded(pictures, "h264", 34).frames[-1, y : y + 48, x : x + 80]
    alone = untiled(coded(tiled(region[None], 200), "h264", 34).frames, (1, 48, 80), 200)[0, -1]
    assert psnr(region[-1], alone) == pytest.approx(psnr(region[-1], whole), abs=1.0)
