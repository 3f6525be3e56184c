"""Wide blurs on a coarse grid against the plain Gaussian."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from simulator.judge.local_mean import detail, levelled, smooth


@pytest.mark.outside
@pytest.mark.parametrize("sigma", [3.0, 9.0, 21.5, 60.0])
def test_a_wide_blur_is_a_gaussian(sigma):
    # the truth is OpenCV's GaussianBlur in full; an edge is the hardest step
    rows, columns = 403, 517
    picture = np.zeros((rows, columns), np.float32)
    picture[137:, 201:] = 1.0
    truth = cv2.GaussianBlur(picture, (0, 0), sigma)
    inner = (slice(60, -60), slice(60, -60))
    assert np.abs(smooth(picture, sigma) - truth)[inner].max() < 0.01


@pytest.mark.by_hand
def test_a_plain_face_has_no_detail():
    drawn = np.zeros((90, 80), np.bool_)
    drawn[10:80, 15:60] = True
    plain = np.where(drawn, 7.0, 250.0).astype(np.float32)
    assert np.abs(detail(plain, drawn, 12.0)[drawn]).max() < 1e-3


@pytest.mark.by_hand
def test_a_glow_over_all_is_taken_off_and_a_target_stays():
    y, x = np.mgrid[:80, :60]
    glow = 100.0 + 0.2 * x - 0.1 * y + 0.004 * (x - 20.0) ** 2 - 0.003 * (y - 30.0) * (x - 5.0)
    inside = np.zeros(glow.shape, np.bool_)
    inside[20:60, 15:45] = True
    picture = (glow + 3.0 * inside).astype(np.float32)
    even = levelled(picture, ~inside)
    assert even[~inside].std() < 1e-3
    assert even[inside].mean() - even[~inside].mean() == pytest.approx(3.0, abs=1e-3)
