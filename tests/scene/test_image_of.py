"""Where the image of a lamp falls."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.scene.emitters import _image_of
from simulator.scene.geometry import View


@pytest.mark.invariant
def test_a_lamp_that_pincushion_distortion_cannot_place_lies_beside_the_picture():
    view = View.aimed(np.zeros(3), np.array([0.0, 10.0, 0.0]), 640, 360, 500.0, 2e-8)
    near, far = np.array([400.0, 200.0]), np.array([9000.0, 200.0])
    assert np.all(np.isfinite(view.distort(near))) and not np.any(np.isfinite(view.distort(far)))
    assert _image_of(view, near) == pytest.approx(view.distort(near))
    assert _image_of(view, far) == pytest.approx(far)
