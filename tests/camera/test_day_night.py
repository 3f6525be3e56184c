from __future__ import annotations

import numpy as np
import pytest

from simulator.camera.day_night import choose_mode, estimated_illuminance
from simulator.camera.light_field import meter_light
from simulator.camera.model import DayNight
from simulator.camera.pipeline import settle_camera
from simulator.errors import NoLightError

AUTO = DayNight(mode="auto", to_night_lux=3.0, to_day_lux=8.0)


@pytest.mark.by_hand
@pytest.mark.parametrize(
    ("lux", "before", "after"),
    [
        (2.99, "day", "night"),
        (2.99, "night", "night"),
        (3.01, "day", "day"),
        (3.01, "night", "night"),
        (7.99, "night", "night"),
        (8.01, "night", "day"),
        (8.01, "day", "day"),
    ],
)
def test_thresholds(lux, before, after):
    assert choose_mode(AUTO, lux, before) == after


@pytest.mark.invariant
def test_hysteresis_over_a_night():
    # dusk to dawn and back: it switches once each way, at different light
    lux = np.concatenate([np.geomspace(100.0, 0.1, 200), np.geomspace(0.1, 100.0, 200)])
    modes = ["day"]
    for value in lux:
        modes.append(choose_mode(AUTO, float(value), modes[-1]))
    turns = [i for i in range(1, len(modes)) if modes[i] != modes[i - 1]]
    assert len(turns) == 2
    assert lux[turns[0] - 1] < 3.0
    assert lux[turns[1] - 1] > 8.0
    # trembling between the thresholds never makes it hunt
    mode = "night"
    for value in (3.5, 7.5, 3.1, 7.9) * 5:
        mode = choose_mode(AUTO, value, mode)
        assert mode == "night"


@pytest.mark.invariant
@pytest.mark.parametrize("mode", ["day", "night"])
def test_held_mode(mode):
    held = AUTO.model_copy(update={"mode": mode})
    assert {choose_mode(held, lux) for lux in (0.0, 5.0, 1e5)} == {mode}


@pytest.mark.invariant
def test_estimate_grows_with_light_and_ignores_infrared(make_rig, make_scene):
    def rig(lux: float, watt: float):
        light = {"name": "ir", "wavelength_nm": 940.0, "radiant_intensity_w_per_sr": watt,
                 "beam_deg": 60.0, "beside_camera_m": [0.1, 0.0, 0.0],
                 "aim_m": [0.0, 18.0, 1.0]}  # fmt: skip
        natural = {"illuminance_lux": lux}
        return make_rig(make_scene(natural_light=natural, illuminator=[light]))

    def estimate(of) -> float:
        return estimated_illuminance(of, meter_light(of, "day"))

    base = estimate(rig(1.0, 0.0))
    assert estimate(rig(4.0, 0.0)) == pytest.approx(4.0 * base, rel=1e-4)
    # of what infrared would add without the filter, less than a hundredth is left
    lit = rig(0.0, 10.0)
    assert estimate(lit) < 0.01 * estimated_illuminance(lit, meter_light(lit, "night"))


@pytest.mark.invariant
def test_camera_turns_to_night_by_itself(make_rig, make_scene):
    def mode(lux: float) -> str:
        return settle_camera(make_rig(make_scene(natural_light={"illuminance_lux": lux}))).mode

    assert mode(0.05) == "night"
    assert mode(500.0) == "day"


@pytest.mark.invariant
def test_no_light_at_all(make_rig, make_scene):
    with pytest.raises(NoLightError, match="No light"):
        settle_camera(make_rig(make_scene()))
