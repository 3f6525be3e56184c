"""Eye and display against published values, and the curve of the targeting task."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.judge.cycles import N50_CYCLES, task_probability
from simulator.judge.eye import contrast_sensitivity, emitted

pytestmark = pytest.mark.outside

CYCLES_PER_DEG = np.array([0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 32.0])
# Barten's model for a field of 60 degrees, computed with colour-science 0.4.7
BARTEN = {
    100.0: (335, 556, 713, 657, 416, 163, 23),
    10.0: (327, 513, 559, 396, 205, 74, 9.3),
    1.0: (289, 365, 298, 174, 83, 28, 2.8),
}


@pytest.mark.parametrize("luminance", list(BARTEN))
def test_sensitivity_is_that_of_the_table(luminance):
    found = contrast_sensitivity(CYCLES_PER_DEG, luminance, 60.0)
    assert found == pytest.approx(np.array(BARTEN[luminance]), rel=0.012)


@pytest.mark.parametrize(("luminance", "size_deg"), [(18.0, 4.0), (2.0, 1.0), (100.0, 10.0)])
def test_sensitivity_is_that_of_colour_science(luminance, size_deg):
    """colour-science: contrast_sensitivity_function_Barten1999, and its parts."""
    from colour.contrast.barten1999 import (
        contrast_sensitivity_function_Barten1999,
        pupil_diameter_Barten1999,
        retinal_illuminance_Barten1999,
        sigma_Barten1999,
    )

    pupil = pupil_diameter_Barten1999(luminance, size_deg)
    expected = contrast_sensitivity_function_Barten1999(
        CYCLES_PER_DEG,
        sigma=sigma_Barten1999(0.5 / 60.0, 0.08 / 60.0, pupil),
        X_0=size_deg,
        E=retinal_illuminance_Barten1999(luminance, pupil, True),
    )
    assert contrast_sensitivity(CYCLES_PER_DEG, luminance, size_deg) == pytest.approx(
        expected, rel=1e-6
    )


@pytest.mark.parametrize(("level", "share"), [(255.0, 1.0), (128.0, 0.1912), (0.0, 0.0)])
def test_display_follows_bt1886(level, share):
    """ITU-R BT.1886: (128 / 255)^2.4 by a pocket calculator."""
    assert float(emitted(np.float32(level))) == pytest.approx(share, abs=2e-4)


# Vollmerhausen and Jacobs, AMSEL-NV-TR-230 (2004): P = r^E / (1 + r^E), E = 1.51 + 0.24 r; formula
# from memory, values computed from it
@pytest.mark.parametrize(
    ("ratio", "p"), [(0.0, 0.0), (0.5, 0.244), (1, 0.5), (2, 0.799), (3, 0.921)]
)
def test_curve_of_the_targeting_task(ratio, p):
    assert float(task_probability(ratio)) == pytest.approx(p, abs=6e-4)


def test_cycles_of_johnson():
    """Johnson 1958: line pairs on the critical dimension at even chance."""
    assert N50_CYCLES == {"detect": 1.0, "recognise": 4.0, "identify": 6.4}
