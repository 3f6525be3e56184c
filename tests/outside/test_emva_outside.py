"""The sensor against EMVA 1288: its quantities recovered from flat frames as in a laboratory.

Equations of EMVA 1288 release 4.0 Linear (from memory, symbols as there): photon transfer, SNR,
non-uniformity, dark current. Worked case: K .25 DN/e-, sigma_d 3 e-, eta .6, full well 10 000 e-,
with SNR 1.485, 7.154, 24.29, 77.39 at 10, 100, 1000, 10 000 photons (computed once).
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from simulator.camera.model import Sensor
from simulator.camera.sensor import expose
from simulator.camera.sensor_readout import (
    Readout,
    dark_electrons_per_s,
    noise_electrons,
    read_noise_e,
    readout,
)

SIDE = 400
ETA = 0.6
CHAIN = Readout(gain=1.0, dn_per_e=0.25, black_dn=64.0, white_dn=4095.0)
COUNTING = Readout(gain=1.0, dn_per_e=1.0, black_dn=0.0, white_dn=65535.0)


def sensor(**changes) -> Sensor:
    """The worked case, free of everything else."""
    ideal = {
        "width_px": SIDE,
        "height_px": SIDE,
        "pixel_pitch_um": 3.0,
        "quantum_efficiency": "cmos-standard",
        "full_well_e": 10_000.0,
        "read_noise_e": 3.0,
        "dark_current_e_per_s": 0.0,
        "prnu": 0.0,
        "dsnu_e": 0.0,
        "row_noise_e": 0.0,
    }
    return Sensor.model_validate({**ideal, **changes})


def flat(electrons: float, which: Sensor, *, chain=CHAIN, frames=2, seed=1, side=SIDE, **more):
    """Frames (frames, side, side) [DN] of a flat field of so many electrons, in 10 ms."""
    rate = np.full((side, side, 3), electrons / 0.01, np.float32)
    return expose(rate, 0.01, which, chain, seed=seed, frames=frames, **more).astype(np.float64)


def temporal(frames) -> tuple[float, float]:
    """Mean and temporal variance by the difference of two frames (EMVA 1288, 6.5)."""
    a, b = frames[0], frames[1]
    return float((a + b).mean() / 2.0), float(((a - b) ** 2).mean() / 2.0)


@pytest.fixture(scope="module")
def photon_transfer():
    """Mean and variance [DN] at dark and at 20 levels up to 70 percent of saturation."""
    levels = np.concatenate([[0.0], np.linspace(350.0, 7000.0, 20)])
    points = [temporal(flat(e, sensor(), seed=i)) for i, e in enumerate(levels)]
    return levels, np.array(points)


@pytest.mark.outside
def test_gain_by_photon_transfer(photon_transfer):
    _, points = photon_transfer
    signal, variance = (points - points[0]).T
    slope = float(signal @ variance / (signal @ signal))
    assert slope == pytest.approx(0.25, rel=0.02)


@pytest.mark.outside
def test_read_noise_from_the_dark(photon_transfer):
    _, points = photon_transfer
    # sigma_y^2 = K^2 sigma_d^2 + sigma_q^2, sigma_q^2 = 1/12 DN^2
    found = np.sqrt(points[0, 1] - 1.0 / 12.0) / 0.25
    assert found == pytest.approx(3.0, rel=0.02)


@pytest.mark.outside
def test_responsivity_is_linear(photon_transfer):
    levels, points = photon_transfer
    signal = points[:, 0] - points[0, 0]
    assert signal[1:] == pytest.approx(0.25 * levels[1:], rel=1e-3)


@pytest.mark.by_hand
def test_full_well():
    mean, variance = temporal(flat(20_000.0, sensor()))
    assert (mean - 64.0) / 0.25 == pytest.approx(10_000.0, rel=0.02)
    assert variance == pytest.approx(0.25**2 * 9.0 + 1.0 / 12.0, rel=0.02)  # no shot noise left


@pytest.mark.outside
def test_saturation_by_the_greatest_variance():
    # EMVA takes saturation where the variance is greatest. A hard full well F cuts the Poisson
    # distribution: for a normal one of mean F - k sqrt(F) the variance of min(x, F) is computed
    # here by quadrature, and its maximum lies 3 percent below F for F = 10 000.
    grid = np.linspace(9000.0, 10_200.0, 49)
    z = np.linspace(-8.0, 8.0, 4001)
    weight = stats.norm.pdf(z) * (z[1] - z[0])

    def cut(mean: float) -> float:
        x = np.minimum(mean + np.sqrt(mean) * z, 10_000.0)
        return float(weight @ x**2 - (weight @ x) ** 2)

    wanted = grid[np.argmax([cut(m) for m in grid])]
    found = [temporal(flat(m, sensor(), seed=i))[1] for i, m in enumerate(grid)]
    assert grid[np.argmax(found)] == pytest.approx(wanted, rel=0.01)
    assert wanted == pytest.approx(10_000.0, rel=0.035)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("photons", "wanted"), [(10, 1.485), (100, 7.154), (1000, 24.29), (10_000, 77.39)]
)
def test_signal_to_noise(photons, wanted):
    dark, _ = temporal(flat(0.0, sensor(), frames=4))
    mean, variance = temporal(flat(ETA * photons, sensor(), frames=2, seed=5))
    assert (mean - dark) / np.sqrt(variance) == pytest.approx(wanted, rel=0.01)
    # and the formula that the camera itself reckons with
    signal = ETA * photons
    assert signal / noise_electrons(signal, sensor(), CHAIN, 0.01) == pytest.approx(
        wanted, rel=5e-4
    )


@pytest.mark.outside
def test_least_light():
    # mu_e.min = sqrt(sigma_d^2 + sigma_q^2/K^2 + 1/4) + 1/2 = 3.75 e-, where SNR is one
    dark, _ = temporal(flat(0.0, sensor(), seed=8))
    mean, variance = temporal(flat(3.754, sensor(), seed=9))
    assert (mean - dark) / np.sqrt(variance) == pytest.approx(1.0, rel=0.02)


@pytest.mark.outside
def test_photo_response_non_uniformity():
    # PRNU = sqrt(s_50^2 - s_dark^2) / (mu_50 - mu_dark) with the temporal part taken off
    which = sensor(prnu=0.02, dsnu_e=0.0)
    bright, dark = flat(5000.0, which, frames=8), flat(0.0, which, frames=8)
    found = np.sqrt(spatial(bright) - spatial(dark)) / (bright.mean() - dark.mean())
    assert found == pytest.approx(0.02, rel=0.02)


@pytest.mark.outside
def test_dark_signal_non_uniformity():
    found = np.sqrt(spatial(flat(0.0, sensor(dsnu_e=6.0), frames=8))) / 0.25
    assert found == pytest.approx(6.0, rel=0.02)


def spatial(frames) -> float:
    """Variance from pixel to pixel of the mean of frames, less what temporal noise leaves in it."""
    return float(frames.mean(axis=0).var() - frames.var(axis=0, ddof=1).mean() / len(frames))


@pytest.mark.by_hand
def test_row_noise():
    which = sensor(row_noise_e=8.0)
    rows = flat(0.0, which, frames=8).mean(axis=2) / 0.25  # (frames, rows)
    # 3200 rows: 1.3 percent standard error; the pixels' own noise adds 9/400 to 64
    assert rows.std() == pytest.approx(np.sqrt(64.0 + 9.0 / SIDE), rel=0.04)
    assert abs(np.corrcoef(rows[0], rows[1])[0, 1]) < 4.0 / np.sqrt(SIDE)  # temporal, not fixed


@pytest.mark.by_hand
def test_dark_current_doubles():
    # 500 e-/s at 25 degrees C in 1 s, doubling every 7 K: 500, 1000, 2000 e-
    for temperature_c, wanted in ((25.0, 500.0), (32.0, 1000.0), (39.0, 2000.0)):
        which = sensor(dark_current_e_per_s=500.0, temperature_c=temperature_c)
        assert dark_electrons_per_s(which) == pytest.approx(wanted)
        rate = np.zeros((SIDE, SIDE, 3), np.float32)
        frames = expose(rate, 1.0, which, CHAIN, seed=3, frames=2).astype(np.float64)
        mean, variance = temporal(frames)
        assert (mean - 64.0) / 0.25 == pytest.approx(wanted, rel=0.01)
        # dark current has shot noise of its own
        assert variance / 0.25**2 == pytest.approx(wanted + 9.0 + 16.0 / 12.0, rel=0.02)


@pytest.mark.by_hand
@pytest.mark.parametrize(("bits", "gain_db"), [(8, 0.0), (10, 12.0), (12, 0.0), (12, 30.0)])
def test_gain_chain(bits, gain_db):
    # at 0 dB full well meets white; each 6.02 dB halves the electrons that fill the range
    chain = readout(sensor(bit_depth=bits), gain_db)
    assert chain.white_e == pytest.approx(10_000.0 / 10.0 ** (gain_db / 20.0))
    level = 0.3 * chain.white_e
    mean, variance = temporal(flat(level, sensor(bit_depth=bits), chain=chain))
    assert mean - chain.black_dn == pytest.approx(0.3 * (chain.white_dn - chain.black_dn), rel=2e-3)
    wanted = chain.dn_per_e**2 * (level + 9.0) + 1.0 / 12.0
    assert variance == pytest.approx(wanted, rel=0.02)


@pytest.mark.by_hand
@pytest.mark.parametrize("mean", [0.3, 3.0, 9.9, 10.1, 50.0, 900.0])
def test_counts_are_poisson(mean):
    counts = flat(mean, sensor(read_noise_e=0.0), chain=COUNTING, frames=2, seed=17).ravel()
    top = int(stats.poisson.ppf(1.0 - 2e-4, mean))
    bottom = int(stats.poisson.ppf(2e-4, mean))
    seen = np.array(
        [
            np.sum(counts <= bottom),
            *[np.sum(counts == k) for k in range(bottom + 1, top)],
            np.sum(counts >= top),
        ]
    )
    share = np.array(
        [
            stats.poisson.cdf(bottom, mean),
            *stats.poisson.pmf(np.arange(bottom + 1, top), mean),
            stats.poisson.sf(top - 1, mean),
        ]
    )
    # 320 000 counts; a fixed seed, and a wrong law fails by many orders of magnitude
    assert stats.chisquare(seen, share * counts.size).pvalue > 1e-3


@pytest.mark.invariant
def test_noise_is_independent():
    frames = flat(100.0, sensor(), frames=3, seed=4)
    noise = frames - frames.mean()
    limit = 4.0 / SIDE  # four standard errors of a correlation over 160 000 pairs

    def correlation(a, b) -> float:
        return float(np.corrcoef(a.ravel(), b.ravel())[0, 1])

    assert abs(correlation(noise[0], noise[1])) < limit
    assert abs(correlation(noise[0], noise[2])) < limit
    for shift in (1, 2):
        assert abs(correlation(noise[0, :-shift], noise[0, shift:])) < limit
        assert abs(correlation(noise[0, :, :-shift], noise[0, :, shift:])) < limit
    # frame f row r + 1 must not repeat frame f + 1 row r, nor one seed the next
    assert abs(correlation(noise[0, 1:], noise[1, :-1])) < limit
    other = flat(100.0, sensor(), frames=1, seed=5)
    assert abs(correlation(noise[0], other[0] - other.mean())) < limit


@pytest.mark.invariant
def test_fixed_pattern_is_independent():
    which = sensor(prnu=0.05, dsnu_e=20.0, read_noise_e=0.0)
    dark = flat(0.0, which, frames=1, photon_noise=False)[0]
    bright = flat(2000.0, which, frames=1, photon_noise=False)[0] - dark
    for pattern in (dark, bright):
        for a, b in ((pattern[:-1], pattern[1:]), (pattern[:, :-1], pattern[:, 1:])):
            assert abs(np.corrcoef(a.ravel(), b.ravel())[0, 1]) < 4.0 / SIDE
    assert abs(np.corrcoef(dark.ravel(), bright.ravel())[0, 1]) < 4.0 / SIDE


@pytest.mark.invariant
def test_seed_and_frame_number():
    rate = np.full((64, 64, 3), 1e4, np.float32)
    which = sensor(prnu=0.01, dsnu_e=1.0, row_noise_e=0.5)

    def shot(**how):
        return expose(rate, 0.01, which, CHAIN, **how)

    assert np.array_equal(shot(seed=3), shot(seed=3))
    assert not np.array_equal(shot(seed=3), shot(seed=4))
    # the frame number steers the noise, however the frames are asked for
    assert np.array_equal(shot(seed=3, frame=5, frames=2)[1], shot(seed=3, frame=6)[0])


@pytest.mark.invariant
def test_patch_has_the_pattern_of_the_whole():
    which = sensor(prnu=0.05, dsnu_e=20.0, read_noise_e=0.0)
    rng = np.random.default_rng(2)
    rate = rng.uniform(1e4, 5e5, (SIDE, SIDE, 3)).astype(np.float32)
    whole = expose(rate, 0.01, which, CHAIN, seed=1, photon_noise=False)
    for x, y in ((0, 0), (37, 12), (100, 251)):  # odd corners change the place in the mosaic
        cut = np.ascontiguousarray(rate[y : y + 60, x : x + 90])
        region = expose(cut, 0.01, which, CHAIN, seed=9, origin_px=(x, y), photon_noise=False)
        assert np.array_equal(region[0], whole[0, y : y + 60, x : x + 90])


@pytest.mark.by_hand
def test_mosaic_order():
    rate = np.zeros((4, 4, 3), np.float32) + np.array([1e4, 2e4, 3e4], np.float32)
    shot = expose(rate, 0.01, sensor(read_noise_e=0.0), COUNTING, seed=1, photon_noise=False)[0]
    assert shot[:2, :2].tolist() == [[100, 200], [200, 300]]


TWO_GAINS = {
    "high_gain_from_db": 18.0,
    "high_gain_read_noise_e": 1.2,
    "high_gain_full_well_e": 2500.0,
    "analog_gain_max_db": 24.0,
    "converter_noise_dn": 0.6,
}


@pytest.mark.outside
@pytest.mark.parametrize(
    ("gain_db", "gain", "digital", "read_e"),
    [
        (0.0, 1.0, 1.0, 3.0),
        (12.0, 3.981, 1.0, 3.0),
        (24.0, 15.85, 1.0, 1.2),
        (36.0, 15.85, 3.981, 1.2),
    ],
)
def test_photon_transfer_across_gains(gain_db, gain, digital, read_e):
    """Slope, dark noise and saturation of raw frames at every step of the gain chain.

    4095 - 64 = 4031 DN at 0 dB for 10 000 e-; beyond 24 dB white is told from fewer DN, beyond
    18 dB the small capacitor's read noise counts. Converter noise .6 DN, quantisation 1/12 DN^2.
    """
    which = sensor(**TWO_GAINS)
    chain = readout(which, gain_db)
    white_e = 10_000.0 / gain / digital
    points = np.array(
        [
            temporal(flat(e, which, chain=chain, seed=i))
            for i, e in enumerate(np.linspace(0.0, 0.7 * white_e, 9))
        ]
    )
    signal, variance = (points - points[0]).T
    k = float(signal @ variance / (signal @ signal))
    assert k == pytest.approx(0.4031 * gain, rel=0.02)
    dark = np.sqrt(points[0, 1] - 1.0 / 12.0) / k
    assert dark == pytest.approx(np.hypot(read_e, 0.6 / (0.4031 * gain)), rel=0.03)
    assert dark == pytest.approx(read_noise_e(which, chain), rel=0.03)
    # the picture's noise in its own white, as the camera reckons it
    level = 0.3 * white_e
    _, seen = temporal(flat(level, which, chain=chain, seed=40))
    wanted = noise_electrons(level, which, chain, 0.01) * chain.dn_per_e
    assert np.sqrt(seen) == pytest.approx(float(wanted), rel=0.02)
    # white where the light is too much; at 0 dB the well is full there and read noise remains
    bright = flat(3.0 * white_e, which, chain=chain, frames=1)
    top = np.ceil(64.0 + 4031.0 / digital)
    assert bright.max() == top
    assert bright.min() >= (top if gain > 1.0 else top - 6.0 * np.hypot(read_e * 0.4031, 0.6))


@pytest.mark.by_hand
@pytest.mark.parametrize(("gain_db", "wanted_e"), [(5.9, 5069.9), (6.0, 4000.0)])
def test_full_well_of_the_small_capacitor(gain_db, wanted_e):
    # 10 000 / 10^(5.9/20) = 5070 e- fill the converter; the small well holds 4000 of 5012
    which = sensor(**{**TWO_GAINS, "high_gain_from_db": 6.0, "high_gain_full_well_e": 4000.0})
    chain = readout(which, gain_db)
    mean, variance = temporal(flat(9000.0, which, chain=chain))
    assert (mean - 64.0) / chain.dn_per_e == pytest.approx(wanted_e, rel=1e-3)
    if gain_db == 6.0:  # no shot noise left on the plateau: 1.2 e- and .6 DN at K = .8043
        assert variance == pytest.approx((0.8043 * 1.2) ** 2 + 0.36 + 1.0 / 12.0, rel=0.03)


@pytest.mark.by_hand
def test_dark_current_of_hot_pixels_doubles_too():
    # 1000 e-/s in mean at 25 degrees C, 4000 at 39; exponential: deviation as large as the mean
    for temperature_c, wanted in ((25.0, 1000.0), (39.0, 4000.0)):
        which = sensor(
            hot_pixels_per_million=10_000.0,
            hot_pixel_e_per_s=1000.0,
            temperature_c=temperature_c,
            full_well_e=65_000.0,
            read_noise_e=0.0,
        )
        rate = np.zeros((SIDE, SIDE, 3), np.float32)
        frames = expose(rate, 1.0, which, COUNTING, seed=3, frames=2).astype(np.float64)
        hot = frames[0] > 0.0  # one in e^-1000 of them holds nothing
        n = int(hot.sum())
        assert n == pytest.approx(1600, abs=4 * 40)  # binomial
        assert frames[0][hot].mean() == pytest.approx(wanted, rel=4.0 / np.sqrt(n))
        assert stats.kstest(frames[0][hot] / wanted, "expon").pvalue > 1e-3
        # shot noise of their own: variance of a difference is twice the mean
        difference = (frames[0] - frames[1])[hot]
        assert difference.var() == pytest.approx(2.0 * frames[0][hot].mean(), rel=0.25)
