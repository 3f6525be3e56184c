"""Stored layers of single lights, weighed, against tracing the same setting anew."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from simulator.camera.light_field import lit_by
from simulator.camera.pipeline import settle_exposure
from simulator.errors import InputError
from simulator.studies.relight import light_layers

pytestmark = pytest.mark.invariant

LAMPS = [
    {"name": f"lamp {i}", "spectrum": spectrum, "intensity_cd": 200.0 * (i + 1), "beam_deg": 80.0,
     "position_m": [1.2 * i - 1.2, 12.0, 3.0], "aim_m": [0.0, 18.0, 1.0], "flicker_depth": 0.0}
    for i, spectrum in enumerate(("led-3000k", "high-pressure-sodium", "led-5000k"))
]  # fmt: skip
CAR = {"name": "car", "kind": "vehicle-front", "carries": "plate", "headlights": "dipped"}


@pytest.fixture(scope="module", params=["clear", "fog"])
def lit(request, make_in_scene, make_scene):
    """A rig of a car that rolls in under three lamps, with its lights on, and its state."""
    air = {"visibility_m": 80.0} if request.param == "fog" else None
    in_scene = make_in_scene(
        make_scene(
            natural_light={"illuminance_lux": 0.2}, lamp=LAMPS, target=[CAR],
            plate={"speed_kmh": 10.0}, air=air,
        )
    )  # fmt: skip
    return in_scene, settle_exposure(in_scene)


def traced(in_scene, state, names, weights, split=1):
    lights = in_scene.lights_at(state.mode, state.exposure.shutter_s)
    factors = np.array([weights.get(name, 1.0) for name in names])
    dimmed = lights._replace(amount=lights.amount * factors)
    return lit_by(in_scene, state.mode, dimmed, state.exposure.shutter_s, split).rate


def off(found, wanted):
    """Largest difference in shares of the value, or of the mean where that is larger."""
    return float((np.abs(found - wanted) / np.maximum(wanted, wanted.mean())).max())


def test_layers_add_up_to_the_traced_picture(lit):
    in_scene, state = lit
    layers = light_layers(in_scene, state, split=1)
    assert {f"lamp {i}" for i in range(3)} < set(layers.names)
    settings = [
        {},
        {"lamp 0": 0.0},
        {"lamp 0": 0.0, "lamp 1": 0.0},
        {"lamp 0": 0.0, "lamp 1": 0.0, "lamp 2": 0.0},
        {"lamp 0": 0.3, "lamp 1": 2.5},
    ]
    for weights in settings:
        wanted = traced(in_scene, state, layers.names, weights)
        assert off(layers.picture(weights), wanted) < 1e-5


def test_lamps_going_off_one_by_one_darken(lit):
    in_scene, state = lit
    layers = light_layers(in_scene, state)
    means, weights = [float(layers.picture().mean())], {}
    for i in range(3):
        weights[f"lamp {i}"] = 0.0
        means.append(float(layers.picture(weights).mean()))
    assert all(after < before for before, after in itertools.pairwise(means))
    assert np.all(layers.picture(dict.fromkeys(layers.names, 0.0)) == 0.0)


def test_the_quick_layers_are_near_enough(lit):
    in_scene, state = lit
    layers = light_layers(in_scene, state)
    wanted = traced(in_scene, state, layers.names, {"lamp 1": 0.0}, split=3)
    assert off(layers.picture({"lamp 1": 0.0}), wanted) < 0.01


@pytest.mark.parametrize("weights", [{"lamp 9": 0.0}, {"lamp 0": -0.1}, {"lamp 0": float("nan")}])
def test_impossible_settings_are_refused(lit, weights):
    in_scene, state = lit
    layers = light_layers(in_scene, state)
    with pytest.raises(InputError):
        layers.picture(weights)
