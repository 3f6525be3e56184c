"""The observer against what is published of ideal observers, human efficiency and the eye."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import ndtr

from simulator.judge.eye import WHITE_CD_M2, K, contrast_sensitivity
from simulator.judge.observer import (
    Sight,
    Skill,
    coherence,
    criterion,
    eye_noise,
    share_matched,
    share_noticed,
    templates_of,
)
from simulator.judge.people import FALSE_ALARMS, KNOW, NOTICE

SHAPE = (64, 64)
WHOLE = np.ones(SHAPE, dtype=bool)
SIGHT = Sight(pixel_deg=4.0 / 64, across_px=64.0, level=0.5)


def two_things(signal, sigma, skill, rng, learnt=400):
    """Templates of a signal and of nothing in white noise of a standard deviation."""
    noise = rng.normal(0.0, sigma, (learnt, *SHAPE)).astype(np.float32)
    means = np.stack([signal, np.zeros_like(signal)])
    return templates_of(means, noise, WHOLE, SIGHT, skill, 10**9)


def sensitivity(templates, signal, sigma, rng, frames=400):
    """Index d' of the answers to noisy pictures with and without the signal, own noise in it."""
    noise = rng.normal(0.0, sigma, (2 * frames, *SHAPE)).astype(np.float32)
    noise[:frames] += signal
    apart = templates.answers(noise) @ np.array([1.0, -1.0])
    own = np.array([1.0, -1.0]) @ templates.own @ np.array([1.0, -1.0])
    spread = np.sqrt(0.5 * (apart[:frames].var() + apart[frames:].var()) + own)
    return float((apart[:frames].mean() - apart[frames:].mean()) / spread)


def blob(contrast):
    y, x = np.indices(SHAPE) - 31.5
    signal = contrast * np.exp(-(x**2 + y**2) / (2.0 * 6.0**2))
    return (signal - signal.mean()).astype(np.float32)


@pytest.mark.outside
def test_the_ideal_observer_reaches_the_root_of_signal_energy_over_noise():
    # d' = sqrt(sum s^2) / sigma for a known signal in white noise (Green and Swets 1966; Burgess et
    # al., Science 214, 1981, 93-94)
    rng = np.random.default_rng(3)
    signal, sigma = blob(0.05), 0.3
    wanted = float(np.sqrt(np.sum(signal.astype(np.float64) ** 2)) / sigma)
    found = sensitivity(two_things(signal, sigma, Skill(1.0, 0.0), rng), signal, sigma, rng)
    assert found == pytest.approx(wanted, rel=0.12)


@pytest.mark.outside
@pytest.mark.parametrize("efficiency", [0.1, 0.4])
def test_efficiency_is_the_squared_ratio_of_sensitivities(efficiency):
    # efficiency = (d' of the person / d' of the ideal)^2 (Barlow; Burgess et al. 1981; Pelli et al.
    # 2006: about 10 % for plain letters)
    rng = np.random.default_rng(4)
    signal, sigma = blob(0.3), 0.3
    ideal = float(np.sqrt(np.sum(signal.astype(np.float64) ** 2)) / sigma)
    skill = Skill(efficiency, 0.0)
    found = sensitivity(two_things(signal, sigma, skill, rng), signal, sigma, rng)
    assert (found / ideal) ** 2 == pytest.approx(efficiency, rel=0.15)


@pytest.mark.outside
@pytest.mark.parametrize("cycles", [4, 8, 16])
def test_the_eye_s_noise_gives_its_contrast_sensitivity(cycles):
    # a grating at Barten's threshold 1/S over the field reaches the ratio k = 3 of his model
    # (Barten 1999; the constants of colour-science's documentation)
    u = cycles / 4.0
    threshold = 1.0 / float(contrast_sensitivity(u, 50.0, 4.0))
    x = (np.arange(64) + 0.5) / 64.0
    grating = threshold * np.cos(2.0 * np.pi * cycles * x)[None, :] * np.ones((64, 1))
    power = np.abs(np.fft.rfft2(grating, norm="ortho")) ** 2
    f = np.hypot(np.fft.fftfreq(64)[:, None], np.fft.rfftfreq(64)[None, :])
    weight = np.full(33, 2.0)
    weight[0] = weight[-1] = 1.0
    ratio = float(np.sqrt(np.sum(power * weight / eye_noise(SIGHT, f))))
    # the area that the eye adds up over is smaller than the field by X_max and N_max
    area = 1.0 / (1.0 / 16.0 + 1.0 / 144.0 + (u / 15.0) ** 2)
    assert ratio == pytest.approx(K * np.sqrt(16.0 / area), rel=0.01)


THRESHOLDS = {  # log10 of the contrast of discs of 3.60, 9.68, 18.2, 55.2 and 121 minutes
    171.0: (-1.6851, -2.3140, -2.4572, -2.5481, -2.5615),
    10.8: (-1.4655, -2.1659, -2.3763, -2.5047, -2.5269),
}


@pytest.mark.outside
@pytest.mark.parametrize("luminance_cd_m2", THRESHOLDS)
def test_discs_are_seen_from_one_to_two_and_a_half_times_blackwell_s_contrast(luminance_cd_m2):
    """Blackwell, J. Opt. Soc. Am. 36 (1946) 624: thresholds of trained observers who chose one of
    four intervals, half right above chance, which is d' = 1.2 (both from memory); the figures as
    tabulated over background brightness by Clark (Visual Astronomy of the Deep Sky, 1990), in
    magnitudes per square second of arc, 7 and 10: 171 and 10.8 cd/m2.

    Barten's eye, whose threshold is that of somebody who says yes or no, may need more, but not
    less, and no size may be far off.
    """
    for minutes, log_contrast in zip(
        (3.6, 9.68, 18.2, 55.2, 121.0), THRESHOLDS[luminance_cd_m2], strict=True
    ):
        n, field = 256, 4.0 * minutes / 60.0
        y, x = np.indices((n, n)) - (n - 1) / 2.0
        disc = (x**2 + y**2 < (n / 8.0) ** 2) - np.pi / 64.0
        sight = Sight(field / n, n / 4.0, luminance_cd_m2 / WHITE_CD_M2)
        f = np.hypot(np.fft.fftfreq(n)[:, None], np.fft.rfftfreq(n)[None, :])
        weight = np.full(n // 2 + 1, 2.0)
        weight[0] = weight[-1] = 1.0
        power = np.abs(np.fft.rfft2(disc, norm="ortho")) ** 2 * weight
        at_one = float(np.sqrt(np.sum(power / eye_noise(sight, f))))
        assert 0.9 < 1.2 / at_one / 10.0**log_contrast < 2.7, minutes


@pytest.mark.outside
def test_search_needs_about_the_ratio_of_rose():
    # Rose 1948: a ratio of signal to noise of about 5 to see something for certain among many
    # places; 3 is not enough
    beyond = criterion(FALSE_ALARMS, 1000.0)
    assert ndtr(5.5 - beyond) > 0.85
    assert ndtr(3.0 - beyond) < 0.15


@pytest.mark.by_hand
def test_false_alarms_of_all_places_together_are_as_stated():
    for places in (1.0, 30.0, 2000.0):
        z = criterion(0.01, places)
        assert 1.0 - float(ndtr(z)) ** places == pytest.approx(0.01, rel=1e-6)


@pytest.mark.by_hand
def test_pictures_without_anything_are_reported_as_often_as_stated():
    rng = np.random.default_rng(5)
    nothing = rng.normal(0.0, 1.0, 4000)
    shares = share_noticed(nothing, nothing, 1.0, criterion(0.05, 1.0))
    # the criterion counts the spread of pictures and the viewer's own noise together
    assert shares.mean() == pytest.approx(0.05, abs=0.01)


@pytest.mark.by_hand
def test_strangers_are_taken_for_him_as_often_as_stated():
    strangers = np.random.default_rng(6).normal(0.0, 3.0, 500)
    assert share_matched(strangers, strangers, 1.0, 0.01).mean() == pytest.approx(0.01, abs=1e-6)


@pytest.mark.outside
def test_faces_are_used_best_near_ten_cycles_in_two_octaves():
    # Nasanen 1999: 8-13 cycles a face width, just under two octaves; Parker and Costen 1999: best
    # 11.1; Gold, Bennett and Sekuler 1999: one-octave faces near 8.8
    cycles = np.geomspace(1.0, 60.0, 4000)
    used = KNOW.used(cycles)
    assert 8.0 <= cycles[used.argmax()] <= 13.0
    half = cycles[used >= 0.5]
    assert np.log2(half[-1] / half[0]) == pytest.approx(2.0, abs=0.1)


@pytest.mark.outside
def test_a_person_at_work_needs_a_multiple_of_the_laboratory_s_contrast():
    # contrast threshold 0.05 in the field against 0.02 in the laboratory (basis of meteorological
    # optical range); unalerted observers need five times the contrast or more
    assert pytest.approx(0.05 / 0.02) == KNOW.field_factor
    assert NOTICE.field_factor >= 5.0


@pytest.mark.by_hand
def test_what_does_not_follow_its_light_is_strange():
    rng = np.random.default_rng(8)
    light = rng.normal(0.0, 1.0, (6, *SHAPE)).astype(np.float32)
    f = np.hypot(np.fft.fftfreq(64)[:, None], np.fft.rfftfreq(64)[None, :])

    def followed(pictures):
        drawn, true = (np.fft.rfft2(x - x.mean(axis=0), norm="ortho") for x in (pictures, light))
        return float(np.median(coherence(drawn, np.zeros(f.shape), true, f)))

    # any linear filter follows; a quarter of the power in something else leaves 3 / 4; of what only
    # the brightest tenth shows little follows
    assert followed(0.1 * light) == pytest.approx(1.0, abs=1e-6)
    other = rng.normal(0.0, np.sqrt(1.0 / 3.0), light.shape)
    assert followed(light + other) == pytest.approx(0.75, abs=0.03)
    assert followed(np.maximum(light, 1.28)) < 0.6
