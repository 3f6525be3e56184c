"""The gain chain and the fixed pattern of the sensor."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.camera.fixed_pattern import hot_pixels
from simulator.camera.model import Sensor
from simulator.camera.sensor import expose
from simulator.camera.sensor_readout import (
    clipped_noise_electrons,
    full_well_e,
    noise_electrons,
    read_noise_e,
    readout,
    without_dark_level,
)

BASE = {
    "width_px": 256,
    "height_px": 256,
    "pixel_pitch_um": 3.0,
    "quantum_efficiency": "cmos-standard",
    "full_well_e": 12_000.0,
    "read_noise_e": 4.0,
    "dark_current_e_per_s": 0.0,
    "prnu": 0.0,
    "dsnu_e": 0.0,
    "row_noise_e": 0.0,
}
TWO = {
    "high_gain_from_db": 12.0,
    "high_gain_read_noise_e": 1.0,
    "high_gain_full_well_e": 3500.0,
    "analog_gain_max_db": 30.0,
}


def sensor(**changes) -> Sensor:
    return Sensor.model_validate({**BASE, **changes})


def flat(electrons: float, which: Sensor, chain, **more):
    rate = np.full((64, 96, 3), electrons / 0.01, np.float32)
    return expose(rate, 0.01, which, chain, seed=2, **more)[0].astype(np.float64)


@pytest.mark.by_hand
@pytest.mark.parametrize("two", [{}, TWO])
def test_white_falls_evenly_with_gain(two):
    """12 000 / 10^(dB/20) at every gain, whatever capacitor and whichever side of the converter."""
    for gain_db in (0.0, 11.99, 12.0, 12.01, 29.9, 30.0, 30.1, 60.0):
        chain = readout(sensor(**two), gain_db)
        assert chain.white_e == pytest.approx(12_000.0 / 10.0 ** (gain_db / 20.0))


@pytest.mark.by_hand
def test_level_in_the_picture_does_not_jump():
    which = sensor(**TWO, read_noise_e=0.0)
    which = which.model_copy(update={"high_gain_read_noise_e": 0.0})
    for low, high in ((11.999, 12.0), (29.999, 30.001)):
        shares = []
        for gain_db in (low, high):
            chain = readout(which, gain_db)
            dn = flat(0.4 * chain.white_e, which, chain, photon_noise=False).mean()
            shares.append((dn - chain.black_dn) / (chain.white_dn - chain.black_dn))
        assert shares == pytest.approx([0.4, 0.4], abs=1.0 / 4000.0)


@pytest.mark.by_hand
def test_the_small_capacitor_takes_over():
    which = sensor(**TWO)
    below, above = readout(which, 11.9), readout(which, 12.0)
    assert (below.high_conversion, above.high_conversion) == (False, True)
    assert (full_well_e(which, below), full_well_e(which, above)) == (12_000.0, 3500.0)
    assert (read_noise_e(which, below), read_noise_e(which, above)) == (4.0, 1.0)
    # 12 000 / 3.981 = 3014 electrons make white: the small well does not cut highlights here
    assert above.white_e < full_well_e(which, above)


@pytest.mark.by_hand
def test_digital_gain_amplifies_quantisation():
    """Behind the converter one step of 12 bits becomes 10^(30/20) = 31.6 steps of the picture."""
    which = sensor(analog_gain_max_db=0.0, read_noise_e=0.0)
    chain = readout(which, 30.0)
    assert chain.digital == pytest.approx(31.62, rel=1e-3)
    assert chain.white_dn - chain.black_dn == pytest.approx(4031.0 / 31.62, rel=1e-3)
    # one DN is 12 000 / 4031 = 2.977 e-, its noise 2.977 / sqrt(12) = .859 e-
    assert noise_electrons(0.0, which, chain, 0.01) == pytest.approx(0.859, rel=1e-3)
    ramp = np.broadcast_to(np.linspace(0.0, 370.0, 96), (64, 96))
    rate = np.repeat((ramp / 0.01)[:, :, None], 3, axis=2).astype(np.float32)
    levels = np.unique(expose(rate, 0.01, which, chain, seed=1, photon_noise=False))
    assert np.diff(levels).min() == 1
    assert levels[-1] - 64 == int(370.0 / 2.977 + 0.5)


@pytest.mark.by_hand
def test_converter_noise_counts_less_at_more_analog_gain():
    which = sensor(converter_noise_dn=2.0, read_noise_e=0.0)
    # 2 DN at K = 4031 / 12 000 DN/e-: 5.954 e-; at 20 dB a tenth
    for gain_db, wanted in ((0.0, 5.954), (20.0, 0.5954)):
        chain = readout(which, gain_db)
        assert read_noise_e(which, chain) == pytest.approx(wanted, rel=1e-3)
        seen = flat(0.0, which, chain).std()
        assert seen == pytest.approx(np.hypot(2.0, 12.0**-0.5), rel=0.04)


@pytest.mark.invariant
@pytest.mark.parametrize("gain_db", [0.0, 48.0, 90.0])
@pytest.mark.parametrize("bits", [8, 12, 16])
def test_white_is_white_at_any_gain(gain_db, bits):
    which = sensor(
        bit_depth=bits, analog_gain_max_db=6.0, dark_current_e_per_s=50.0, read_noise_e=0.0
    )
    chain = readout(which, gain_db)
    black = without_dark_level(which, chain, 0.01)
    dn = flat(3.0 * which.full_well_e, which, chain)
    assert 0.0 < black.white_dn - black.black_dn <= chain.white_dn - chain.black_dn
    assert dn.min() >= black.white_dn
    assert dn.max() <= 2**bits - 1


@pytest.mark.by_hand
def test_columns_are_fixed():
    which = sensor(column_noise_e=10.0)
    chain = readout(which, 0.0)
    rate = np.zeros((256, 4000, 3), np.float32)
    one, other = (expose(rate, 0.01, which, chain, seed=s)[0].mean(axis=0) for s in (1, 2))
    assert one.std() / chain.dn_per_e == pytest.approx(10.0, rel=0.05)  # 4000 columns: 1.1 %
    assert np.corrcoef(one, other)[0, 1] > 0.99
    assert abs(np.corrcoef(one[1:], one[:-1])[0, 1]) < 4.0 / np.sqrt(4000)


@pytest.mark.invariant
def test_hot_pixels_have_fixed_places():
    which = sensor(hot_pixels_per_million=5000.0)
    whole = hot_pixels(which, (0, 0), 200, 300)
    rows = np.repeat(np.arange(200), np.diff(whole.first))
    places = {(int(y), int(x)): s for y, x, s in zip(rows, whole.column, whole.share, strict=True)}
    assert len(places) == pytest.approx(300, abs=4 * np.sqrt(300))
    part = hot_pixels(which, (40, 30), 100, 120)
    rows = np.repeat(np.arange(100), np.diff(part.first))
    cut = {
        (int(y) + 30, int(x) + 40): s for y, x, s in zip(rows, part.column, part.share, strict=True)
    }
    inside = {k: s for k, s in places.items() if 30 <= k[0] < 130 and 40 <= k[1] < 160}
    assert cut == inside
    assert hot_pixels(sensor(), (0, 0), 10, 10).column.size == 0


@pytest.mark.invariant
def test_a_patch_has_columns_and_hot_pixels_of_the_whole():
    which = sensor(
        column_noise_e=20.0, hot_pixels_per_million=9000.0, hot_pixel_e_per_s=1e5, read_noise_e=0.0
    )
    rate = np.random.default_rng(1).uniform(1e3, 1e5, (200, 300, 3)).astype(np.float32)
    chain = readout(which, 0.0)
    whole = expose(rate, 0.01, which, chain, seed=1, photon_noise=False)[0]
    assert np.median(whole) > 64
    for x, y in ((0, 0), (33, 18), (120, 77)):
        cut = np.ascontiguousarray(rate[y : y + 70, x : x + 90])
        region = expose(cut, 0.01, which, chain, seed=5, origin_px=(x, y), photon_noise=False)[0]
        assert np.array_equal(region, whole[y : y + 70, x : x + 90])
    # far beside the sensor nothing breaks
    expose(rate[:8, :8], 0.01, which, chain, seed=1, origin_px=(-4, -4))


@pytest.mark.outside
@pytest.mark.parametrize("gain_db", [0.0, 24.0, 42.0, 60.0])
def test_dark_pixels_are_not_cut(gain_db):
    """EMVA 1288 asks for an offset at which no dark pixel reads zero; noise and mean stay whole."""
    which = sensor(read_noise_e=2.2, row_noise_e=0.3)
    chain = readout(which, gain_db)
    dark = np.concatenate([flat(0.0, which, chain, frame=k) for k in range(8)])
    wanted = float(noise_electrons(0.0, which, chain, 0.01))
    assert np.mean(dark <= 0.0) < 1e-5
    assert dark.std() / chain.dn_per_e == pytest.approx(wanted, rel=0.02)
    assert (dark.mean() - chain.black_dn) / chain.dn_per_e == pytest.approx(0.0, abs=0.05)
    assert chain.black_dn >= 5.0 * wanted * chain.dn_per_e - 1.0


@pytest.mark.invariant
def test_least_black_level_at_low_gain():
    assert readout(sensor(read_noise_e=2.2), 0.0).black_dn == 64.0


@pytest.mark.by_hand
def test_noise_of_clipped_numbers():
    """A mean right at white keeps half of a normal law: sd = sigma sqrt(1/2 - 1/(2 pi)).

    Elsewhere against a million draws that are cut.
    """
    which = sensor(read_noise_e=3.0)
    chain = readout(which, 24.0)
    white = chain.white_e
    sigma = float(noise_electrons(white, which, chain, 0.01))
    half = clipped_noise_electrons(np.array([white]), which, chain, 0.01, white)[0]
    assert half == pytest.approx(sigma * np.sqrt(0.5 - 0.5 / np.pi), rel=1e-6)
    rng = np.random.default_rng(8)
    for mean in (0.0, 0.9 * white, white - sigma):
        spread = float(noise_electrons(mean, which, chain, 0.01))
        drawn = np.minimum(rng.normal(mean, spread, 1_000_000), white)
        found = clipped_noise_electrons(np.array([mean]), which, chain, 0.01, white)[0]
        assert found == pytest.approx(drawn.std(), rel=0.005)
