from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st

from simulator.camera.metering import (
    BACKLIGHT_SHARE,
    HIGHLIGHT_SHARE_MAX,
    metered_level,
    metering_weights,
    wanted_product,
)
from simulator.camera.model import Exposure

FULL_WELL = 10_000.0
PATTERNS = ("average", "centre", "spot", "backlight", "highlight")


def asked(**changes) -> Exposure:
    base = {"shutter_max_s": 0.04, "shutter_min_s": 1e-4, "gain_max_db": 42.0}
    return Exposure.model_validate({**base, **changes})


@pytest.mark.invariant
@pytest.mark.parametrize("pattern", PATTERNS)
def test_weights_sum_to_one_and_are_symmetric(pattern):
    weights = metering_weights((90, 160), pattern)
    assert weights.sum() == pytest.approx(1.0)
    assert np.all(weights >= 0.0)
    # backlight compensation looks at the lower part, the others at the middle or at all
    assert weights == pytest.approx(weights[:: 1 if pattern == "backlight" else -1, ::-1])
    even = weights[45, 80] == pytest.approx(weights[0, 0])
    assert even == (pattern in {"average", "highlight"})


@pytest.mark.by_hand
def test_window_weights():
    # 4 x 4 pixels, window the left upper quarter: 4 of 16
    window = (0.0, 0.0, 0.5, 0.5)
    spot = metering_weights((4, 4), "spot", window)
    assert spot[:2, :2] == pytest.approx(np.full((2, 2), 0.25))
    assert spot.sum() == pytest.approx(spot[:2, :2].sum())
    backlight = metering_weights((4, 4), "backlight", window)
    assert backlight[:2, :2].sum() == pytest.approx(BACKLIGHT_SHARE)
    assert backlight[3, 3] == pytest.approx((1.0 - BACKLIGHT_SHARE) / 12.0)
    # a window over 1.5 columns takes the second by half, one within a pixel still sees it
    part = metering_weights((4, 4), "spot", (0.0, 0.0, 0.375, 0.25))
    assert part[0] == pytest.approx([2 / 3, 1 / 3, 0.0, 0.0])
    tiny = metering_weights((4, 4), "spot", (0.3, 0.3, 0.31, 0.31))
    assert tiny[1, 1] == pytest.approx(1.0)
    # over the whole picture both are the average
    whole = (0.0, 0.0, 1.0, 1.0)
    for pattern in ("spot", "backlight"):
        assert metering_weights((4, 4), pattern, whole) == pytest.approx(np.full((4, 4), 1 / 16))


@pytest.mark.by_hand
def test_each_pattern_exposes_for_what_it_looks_at():
    # 10 x 10, street 100 000 e/s, subject 1000 e/s on the four pixels in the middle; all unclipped
    # at the wanted level .18 x 10 000 e only for the spot on the street
    signal = np.full((10, 10), 1e5, np.float32)
    signal[4:6, 4:6] = 1000.0
    window = (0.4, 0.4, 0.6, 0.6)
    product = {
        m: wanted_product(asked(metering=m, window=window), signal, FULL_WELL) for m in PATTERNS
    }
    assert product["spot"] == pytest.approx(1.8, rel=1e-6)  # 1800 e / 1000 e/s
    # mean (96 x 100 000 + 4 x 1000) / 100 = 96 040 e/s
    assert product["average"] == pytest.approx(1800.0 / 96_040.0, rel=1e-6)
    # .8 x 1000 + .2 x 100 000 = 20 800 e/s
    assert product["backlight"] == pytest.approx(1800.0 / 20_800.0, rel=1e-6)
    assert product["average"] < product["backlight"] < product["spot"]
    # nothing is white at the average's exposure, so nothing is left out
    assert product["highlight"] == product["average"]


@pytest.mark.by_hand
def test_headlights_do_not_darken_the_plate_under_highlight_suppression():
    # 100 pixels: 5 lamps of 1e7 e/s, the rest 1000 e/s
    signal = np.full((10, 10), 1000.0, np.float32)
    signal[0, :5] = 1e7
    # average: lamps are white, .05 + .95 x = .18, x = .1368, 1368 e / 1000 e/s
    average = wanted_product(asked(), signal, FULL_WELL)
    assert average == pytest.approx(0.13 / 0.95 * 10.0, rel=1e-6)
    # lamps left out: 1800 e / 1000 e/s, as if they were not there
    masked = wanted_product(asked(metering="highlight"), signal, FULL_WELL)
    assert masked == pytest.approx(1.8, rel=1e-6)
    # 15 lamps and 10 pixels of lit road, white once the lamps are left out: 25 together are more
    # than may be left out, m = .2, .18 x .8 + .2 = .344 = .25 + .75 x
    signal[:, :] = 1000.0
    signal[:3, :5] = 1e7
    signal[3:5, :5] = 50_000.0
    assert HIGHLIGHT_SHARE_MAX == 0.2
    masked = wanted_product(asked(metering="highlight"), signal, FULL_WELL)
    assert masked == pytest.approx(0.094 / 0.75 * 10.0, rel=1e-6)


@pytest.mark.invariant
@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10_000), st.sampled_from(PATTERNS), st.floats(0.05, 0.5))
def test_the_product_gives_the_level_and_the_least_one_does(seed, pattern, target):
    signal = np.random.default_rng(seed).lognormal(9.0, 2.0, (18, 32)).astype(np.float32)
    wanted = asked(metering=pattern, target_level=target)
    product = wanted_product(wanted, signal, FULL_WELL)
    weights = metering_weights((18, 32), pattern, wanted.window)

    def level(p):
        return metered_level(pattern, p, signal, weights, FULL_WELL)

    assert level(product) == pytest.approx(target, rel=1e-3)
    assert all(level(product * f) < target for f in (0.3, 0.6, 0.9, 0.99))


@pytest.mark.invariant
@given(st.integers(0, 2**32 - 1), st.booleans())
@settings(max_examples=40, deadline=None)
def test_backlight_compensation_never_exposes_less_than_average_metering(seed, written):
    """Whatever lies in its window, a bright door in the middle of it too."""
    rng = np.random.default_rng(seed)
    signal = np.exp(rng.normal(8.0, 2.0, (9, 16))).astype(np.float32)
    window = {"window": (0.4, 0.3, 0.6, 0.8)} if written else {}
    least = wanted_product(asked(metering="average"), signal, FULL_WELL)
    assert wanted_product(asked(metering="backlight", **window), signal, FULL_WELL) >= least
    weights = metering_weights(signal.shape, "backlight", window.get("window"))
    # the loop at work meters no brighter than the average does
    even = metering_weights(signal.shape, "average")
    for product in (1e-4, 1e-2, 1.0):
        assert metered_level("backlight", product, signal, weights, FULL_WELL) <= metered_level(
            "average", product, signal, even, FULL_WELL
        ) * (1.0 + 1e-6)


@pytest.mark.by_hand
def test_backlight_compensation_without_a_window_takes_the_middle_of_the_lower_part():
    weights = metering_weights((10, 10), "backlight")
    assert weights[4:, 3:7].sum() == pytest.approx(BACKLIGHT_SHARE)
