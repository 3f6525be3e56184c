"""Exposure control against mains arithmetic, the law of a first-order loop, and exposure value."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.camera.control import exposure_path
from simulator.camera.exposure import allocate, settle
from simulator.camera.model import Exposure
from simulator.light.flicker import mean_over_exposure

FULL_WELL = 10_000.0


def asked(**changes) -> Exposure:
    base = {"shutter_max_s": 0.04, "shutter_min_s": 1e-4, "gain_max_db": 40.0}
    return Exposure.model_validate({**base, **changes})


@pytest.mark.by_hand
@pytest.mark.parametrize("hz", [50, 60])
def test_flicker_safe_shutters_are_the_well_known_fractions(hz):
    # mains arithmetic: light swings at 100 or 120 Hz, so shutters of 1/100, 1/50, 3/100, 1/25 s
    # (50 Hz) and 1/120, 1/60, 1/40, 1/30 s (60 Hz) see whole swings
    known = {50: [1 / 100, 1 / 50, 3 / 100, 1 / 25], 60: [1 / 120, 1 / 60, 1 / 40, 1 / 30]}[hz]
    found = {
        round(allocate(asked(flicker_safe_hz=hz), p, 2.0).shutter_s, 9)
        for p in np.geomspace(1.0 / hz, 1.0, 300)
    }
    assert sorted(found) == pytest.approx([t for t in known if t >= 1.0 / hz - 1e-6])
    # and indeed the light they gather does not depend on the phase
    for shutter in known:
        factors = mean_over_exposure(0.9, hz, np.arange(0.0, 360.0, 10.0), 0.0, shutter)
        assert factors == pytest.approx(np.ones(36), abs=1e-9)


@pytest.mark.by_hand
@pytest.mark.parametrize("share", [0.1, 0.3, 0.7])
def test_error_falls_geometrically(share):
    # an integrating loop that corrects a share k of its error each step: e_n = (1 - k)^n e_0
    # (discrete first-order step response, e.g. Franklin, Powell and Workman, Digital Control of
    # Dynamic Systems; the law is elementary)
    settings = asked(step_share=share, hysteresis_db=0.0)
    signal = np.full((9, 16), 2000.0, np.float32)  # .9 s in all, inside the range of gain
    path = exposure_path(
        settings, lambda t, s: signal, FULL_WELL, 2.0,
        start=allocate(settings, 0.9 / 10.0, 2.0), frame_rate_hz=25.0, frames=12,
    )  # fmt: skip
    law = 20.0 * (1.0 - share) ** np.arange(12)
    assert path.error_db == pytest.approx(law, rel=1e-4, abs=1e-4)
    # time to come within 1 dB: the first n with (1 - k)^n 20 <= 1, less what is left at the end
    n = int(np.ceil(np.log(1.0 / 20.0) / np.log(1.0 - share)))
    long = exposure_path(
        settings, lambda t, s: signal, FULL_WELL, 2.0,
        start=allocate(settings, 0.9 / 10.0, 2.0), frame_rate_hz=25.0, frames=300,
    )  # fmt: skip
    assert long.settling_s(1.0) == pytest.approx(n / 25.0)


@pytest.mark.outside
def test_equal_exposures_have_equal_exposure_value():
    # EV = log2(N^2 / t) and, with sensitivity, Ev = Av + Tv - Sv (APEX; ISO 2720): all ways of
    # reaching the same level in the same light have the same log2(N^2 / (t g))
    signal = np.full((9, 16), 40_000.0, np.float32)  # .045 s in all at f/2
    ways = [
        asked(),
        asked(priority="gain"),
        asked(iris="automatic", f_number_max=11.0),
        asked(iris="automatic", shutter_s=0.04, gain_db=20.0),
        asked(shutter_s=0.0005),
        asked(gain_db=12.0),
        asked(flicker_safe_hz=60),
        asked(shutter_max_s=0.002, gain_max_db=0.0, slow_shutter_max_s=0.1),
    ]
    states = [settle(way, signal, FULL_WELL, 2.0) for way in ways]
    values = [np.log2(s.f_number**2 / (s.shutter_s * 10.0 ** (s.gain_db / 20.0))) for s in states]
    assert len({(round(s.shutter_s, 6), round(s.gain_db, 3)) for s in states}) >= 6
    assert {s.limited_by for s in states} == {"nothing"}
    assert values[:-1] == pytest.approx([np.log2(4.0 / 0.045)] * (len(ways) - 1), abs=1e-3)
    # whole frames without gain to make up: 45 ms within half a frame of 2 ms
    assert states[-1].shutter_s == pytest.approx(0.045, abs=0.00101)
    assert states[-1].shutter_s == pytest.approx(0.002 * states[-1].accumulated)


@pytest.mark.outside
def test_one_stop_of_iris_is_one_stop_of_time():
    # marked f-numbers go in steps of sqrt 2, times in steps of 2, so that f/8 at 1/60 s and f/5.6
    # at 1/125 s are both EV 12 (published tables of exposure value; the marks are rounded)
    iris = asked(iris="automatic", f_number_max=32.0, gain_db=0.0)
    signal = np.full((9, 16), 1e4 * 0.18 * 2.0**12, np.float32)  # 2^-12 s at f/1: EV 12
    for time_s, marked in ((1 / 32, 11.3), (1 / 64, 8.0), (1 / 128, 5.657), (1 / 256, 4.0)):
        settings = iris.model_copy(update={"shutter_s": time_s})
        state = settle(settings, signal, FULL_WELL, 1.0)
        assert np.log2(state.f_number**2 / state.shutter_s) == pytest.approx(12.0, abs=0.01)
        assert state.f_number == pytest.approx(marked, rel=0.003)
