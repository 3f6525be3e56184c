from __future__ import annotations

import numpy as np
import pytest

from simulator.camera.auto_exposure import Meter
from simulator.camera.day_night import choose_mode, estimated_illuminance, mode_path
from simulator.camera.model import DayNight
from simulator.camera.pipeline import settle_exposure
from simulator.camera.small_picture import meter_light
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
def test_estimate_grows_with_light_and_ignores_infrared(make_in_scene, make_scene):
    def in_scene(lux: float, watt: float):
        light = {"name": "ir", "wavelength_nm": 940.0, "radiant_intensity_w_per_sr": watt,
                 "beam_deg": 60.0, "beside_camera_m": [0.1, 0.0, 0.0],
                 "aim_m": [0.0, 18.0, 1.0]}  # fmt: skip
        natural = {"illuminance_lux": lux}
        return make_in_scene(make_scene(natural_light=natural, illuminator=[light]))

    def estimate(of) -> float:
        return estimated_illuminance(of, meter_light(of, "day"))

    base = estimate(in_scene(1.0, 0.0))
    assert estimate(in_scene(4.0, 0.0)) == pytest.approx(4.0 * base, rel=1e-4)
    # of what infrared would add without the filter, less than a hundredth is left
    lit = in_scene(0.0, 10.0)
    assert estimate(lit) < 0.01 * estimated_illuminance(lit, meter_light(lit, "night"))


@pytest.mark.invariant
def test_camera_turns_to_night_by_itself(make_in_scene, make_scene):
    def mode(lux: float) -> str:
        return settle_exposure(
            make_in_scene(make_scene(natural_light={"illuminance_lux": lux}))
        ).mode

    assert mode(0.05) == "night"
    assert mode(500.0) == "day"


@pytest.mark.invariant
def test_no_light_at_all(make_in_scene, make_scene):
    with pytest.raises(NoLightError, match="No light"):
        settle_exposure(make_in_scene(make_scene()))


SECONDS = np.arange(0.0, 120.0, 0.5)


@pytest.mark.by_hand
def test_delay():
    settings = AUTO.model_copy(update={"delay_s": 5.0})
    # dark for 4 s only: nothing; dark from 20 s on: night at 25 s
    lux = np.where((SECONDS >= 10.0) & (SECONDS < 14.0), 1.0, 50.0)
    lux = np.where(SECONDS >= 20.0, 1.0, lux)
    path = mode_path(settings, SECONDS, lux)
    assert path.switches == 1
    assert SECONDS[np.flatnonzero(path.night)[0]] == 25.0
    # without delay it follows at once
    fast = mode_path(AUTO.model_copy(update={"delay_s": 0.0}), SECONDS, lux)
    assert fast.switches == 3
    assert fast.night[20]


@pytest.mark.invariant
def test_passing_headlights_do_not_bring_day():
    lux = np.full(SECONDS.shape, 0.5)
    lux[(SECONDS > 40.0) & (SECONDS < 43.0)] = 100.0
    path = mode_path(AUTO, SECONDS, lux, start="night")
    assert path.switches == 0


@pytest.mark.by_hand
def test_infrared_makes_a_naive_camera_hunt():
    # 1 lx, and an infrared lamp that looks like 20 lx once the filter is out: after 5 s to night,
    # after 5 s more back to day, and so on
    naive = mode_path(AUTO, SECONDS, 1.0, 21.0, knows_infrared=False)
    turns = SECONDS[1:][np.diff(naive.night)]
    assert naive.switches > 15
    # each look takes one step of .5 s to come and 5 s to be believed
    assert np.diff(turns) == pytest.approx(np.full(len(turns) - 1, 5.5))
    # one that knows its infrared goes to night once
    wise = mode_path(AUTO, SECONDS, 1.0, 21.0)
    assert wise.switches == 1
    assert wise.believed_lux[-1] == pytest.approx(1.0)
    # and finds the day again, at the threshold of the light itself: 8 lx
    rising = np.interp(SECONDS, [0.0, 20.0, 100.0], [1.0, 1.0, 41.0])
    dawn = mode_path(AUTO.model_copy(update={"delay_s": 1.0}), SECONDS, rising, rising + 20.0)
    assert dawn.switches == 2
    back = SECONDS[np.flatnonzero(np.diff(dawn.night))[-1] + 1]
    assert 35.5 <= back <= 36.0  # 8 lx at 34 s, passed at 34.5 s, believed for 1 s


@pytest.mark.by_hand
def test_a_lamp_that_goes_out_keeps_a_wise_camera_at_night_too_long():
    # 20 lx of infrared are taken off for good: day is believed from 28 lx instead of 8
    rising = np.interp(SECONDS, [0.0, 20.0, 100.0], [1.0, 1.0, 41.0])
    seen = np.where(SECONDS < 20.0, rising + 20.0, rising)
    path = mode_path(AUTO.model_copy(update={"delay_s": 0.0}), SECONDS, rising, seen)
    back = SECONDS[np.flatnonzero(np.diff(path.night))[-1] + 1]
    assert rising[back == SECONDS][0] == pytest.approx(28.0, abs=0.51)


@pytest.mark.invariant
@pytest.mark.parametrize("mode", ["day", "night"])
def test_held_mode_over_time(mode):
    held = AUTO.model_copy(update={"mode": mode})
    path = mode_path(held, SECONDS, np.geomspace(1e4, 1e-3, len(SECONDS)))
    assert path.switches == 0
    assert path.night.all() == (mode == "night")


@pytest.mark.invariant
def test_time_must_grow():
    with pytest.raises(ValueError, match="grow"):
        mode_path(AUTO, [0.0, 0.0], 1.0)


@pytest.mark.invariant
def test_estimates_by_day_and_night_agree_in_daylight_and_part_under_infrared(
    make_in_scene, make_scene
):
    light = {"name": "ir", "wavelength_nm": 850.0, "radiant_intensity_w_per_sr": 3.0,
             "beam_deg": 60.0, "beside_camera_m": [0.1, 0.0, 0.0],
             "aim_m": [0.0, 18.0, 1.0]}  # fmt: skip
    wall = {"name": "wall", "kind": "wall", "material": "grey-18", "position_m": [0, 19, -5],
            "width_m": 40.0, "height_m": 20.0}  # fmt: skip

    def meter(**tables):
        return Meter(make_in_scene(make_scene(surface=[wall], **tables)))

    day = meter(natural_light={"illuminance_lux": 100.0, "spectrum": "daylight"})
    assert day.estimated_lux("night") == pytest.approx(day.estimated_lux("day"), rel=0.02)
    lit = meter(natural_light={"illuminance_lux": 1.0, "spectrum": "daylight"}, illuminator=[light])
    assert lit.estimated_lux("day") < 3.0
    assert lit.estimated_lux("night") > 8.0
    # which is what makes a naive camera hunt before this very scene
    both = [lit.estimated_lux(mode) for mode in ("day", "night")]
    assert mode_path(AUTO, SECONDS, *both, knows_infrared=False).switches > 10
    assert mode_path(AUTO, SECONDS, *both).switches == 1
