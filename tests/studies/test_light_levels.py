from __future__ import annotations

import pytest

from simulator import Camera, Scene
from simulator.errors import InputError
from simulator.studies.light_levels.study import LEVELS_LUX, settled_levels
from simulator.studies.overrides import load_pair

pytestmark = pytest.mark.invariant


def test_profiles_switch_at_different_levels_and_come_back_later():
    scene = Scene.load("colour-chart-bench")
    night = {}
    for name in ("fixed-2mp-lowlight", "overview-8mp"):
        # 7 lx lies between the thresholds of both: 3 and 8 lx, 6 and 14 lx
        levels = settled_levels(scene, Camera.load(name), (*LEVELS_LUX, 7.0))
        count = len(LEVELS_LUX) + 1
        assert [r.lux for r in levels[:count]] == sorted((*LEVELS_LUX, 7.0), reverse=True)
        assert [r.lux for r in levels[count:]] == sorted((*LEVELS_LUX, 7.0))
        down, up = (
            {r.lux for r in levels if r.mode == "night" and r.falling is f} for f in (True, False)
        )
        assert down < up, (
            name
        )  # the hysteresis: night on the way up where it was day on the way down
        night[name] = down
        falling = [r.shutter_s * 10 ** (r.gain_db / 20) for r in levels[:5]]
        assert falling == sorted(falling)
        assert levels[count - 1].limited_by == "largest gain"
        # the settings of one mode do not depend on the way there
        assert levels[0].gain_db == pytest.approx(levels[-1].gain_db)
    assert night["fixed-2mp-lowlight"] == {3.0, 1.0, 0.3, 0.1}
    assert night["overview-8mp"] == {3.0, 1.0, 0.3, 0.1}


def test_slow_shutter_and_iris():
    pair = load_pair(
        "colour-chart-bench",
        "fixed-2mp-lowlight",
        ["exposure.slow_shutter_max_s=0.5", "exposure.iris=automatic", "day_night.mode=day"],
    )
    levels = settled_levels(*pair, levels_lux=(20_000.0, 300.0, 1.0, 0.1), up=False)
    assert levels[0].f_number > 10.0
    assert levels[1].f_number > 1.7
    assert levels[2].f_number == pytest.approx(1.6)
    assert levels[2].accumulated > 1
    assert (levels[3].accumulated, levels[3].limited_by) == (12, "slowest accumulation")
    assert levels[2].limited_by == "nothing"


def test_levels_need_light():
    with pytest.raises(InputError, match="not possible"):
        settled_levels(*load_pair("colour-chart-bench", "overview-8mp", []), levels_lux=(0.0,))
