"""The intensity of headlamps in the kernels is that of their formula, on all sides."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.light.beams import headlamp_intensity_cd
from simulator.scene.kernels.beams import beam_intensity

CAR = {
    "name": "car", "kind": "vehicle-front", "position_m": [0.0, 20.0, 0.0],
    "headlights": "dipped",
}  # fmt: skip


@pytest.fixture(scope="module")
def towards(make_in_scene, make_scene):
    lights = make_in_scene(make_scene(target=[CAR])).lights("day")
    k = int(np.flatnonzero(lights.web >= 0)[0])
    ax, ay = lights.direction[k, :2] / np.hypot(*lights.direction[k, :2])

    def intensity(h_deg, v_deg):
        h, v = np.radians(h_deg), np.radians(v_deg)
        ahead, right, up = np.cos(v) * np.cos(h), np.cos(v) * np.sin(h), np.sin(v)
        return beam_intensity(k, ax * ahead + ay * right, ay * ahead - ax * right, up, lights)

    return intensity


@pytest.mark.by_hand
@pytest.mark.parametrize("v_deg", [-60.0, -20.0, -5.0, -1.0, 3.0])
def test_table_is_the_formula_to_the_sides(towards, v_deg):
    for h_deg in (-85.0, -60.0, -45.1, -44.9, -10.0, 0.0, 30.0, 50.0, 80.0):
        wanted = float(headlamp_intensity_cd(h_deg, v_deg, "dipped"))
        assert towards(h_deg, v_deg) == pytest.approx(wanted, rel=0.02, abs=0.2)


@pytest.mark.invariant
def test_no_step_on_the_way_to_the_sides(towards):
    """The step of a lit road is a V: 60 cd and more ended at 45 degrees."""
    angles = np.arange(20.0, 90.5, 0.5)
    level = np.array([towards(a, -4.0) for a in angles])
    assert np.abs(np.diff(level)).max() < 0.08 * level[0]
    assert level[-1] < 0.5
