"""Wide blurs on a coarse grid against the plain Gaussian."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from simulator.judge.local_mean import detail, smooth


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
