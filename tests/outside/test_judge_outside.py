"""Judge against published values: classes of density, interval of a proportion, EMVA 1288."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.stats import beta

from simulator.camera.sensor_readout import dark_electrons_per_s, noise_electrons, readout
from simulator.judge.density import EDITION, density_class, density_class_2025
from simulator.judge.figures import sharpness
from simulator.judge.trials import jeffreys_interval

# IEC 62676-4:2014 as a notice of DIN reports it: least pixels per metre of each class
CLASSES_2014 = {
    "monitor": 12.5,
    "detect": 25.0,
    "observe": 62.5,
    "recognise": 125.0,
    "identify": 250.0,
    "inspect": 1000.0,
}


@pytest.mark.outside
@pytest.mark.parametrize(("name", "least"), CLASSES_2014.items())
def test_class_begins_at_its_density(name, least):
    assert EDITION == "IEC 62676-4:2014"
    assert density_class(least).density_class == name
    assert density_class(math.nextafter(least, 0.0)).density_class != name
    order = ["below monitor", *CLASSES_2014]
    assert density_class(0.999 * least).density_class == order[order.index(name) - 1]


@pytest.mark.outside
def test_class_by_millimetres_and_face():
    # the same table in millimetres a pixel and in pixels over a face of 16 cm
    for name, mm, face_px in (
        ("monitor", 80, 2),
        ("detect", 40, 4),
        ("observe", 16, 10),
        ("recognise", 8, 20),
        ("identify", 4, 40),
        ("inspect", 1, 160),
    ):
        assert density_class(1000.0 / mm).density_class == name
        assert density_class(face_px / 0.16).density_class == name


# Brown, Cai and DasGupta, Statistical Science 16 (2001) 101, table of the 95 % Jeffreys interval
# for n = 7: values from memory, so compared to 0.002
@pytest.mark.outside
@pytest.mark.parametrize(
    ("successes", "low", "high"),
    [(0, 0.0, 0.292), (1, 0.016, 0.501), (2, 0.065, 0.648), (3, 0.139, 0.766)],
)
def test_interval_published(successes, low, high):
    assert jeffreys_interval(successes, 7) == pytest.approx((low, high), abs=0.002)
    assert jeffreys_interval(7 - successes, 7) == pytest.approx((1 - high, 1 - low), abs=0.002)


@pytest.mark.outside
@pytest.mark.parametrize(("successes", "trials"), [(1, 180), (90, 180), (179, 180), (5, 24)])
def test_interval_is_that_of_scipy(successes, trials):
    expected = beta(successes + 0.5, trials - successes + 0.5).interval(0.95)
    assert jeffreys_interval(successes, trials) == pytest.approx(expected, rel=1e-9)


@pytest.mark.outside
@pytest.mark.parametrize("p", [0.3, 0.7, 0.9])
def test_interval_covers_as_published(p):
    # the paper's point: coverage of the 95 % interval swings around .95; .92 to .98 at n = 180
    k = np.arange(181)
    chance = np.array([math.comb(180, int(i)) * p**i * (1 - p) ** (180 - i) for i in k])
    ends = np.array([jeffreys_interval(int(i), 180) for i in k])
    covered = chance[(ends[:, 0] <= p) & (p <= ends[:, 1])].sum()
    assert 0.92 < covered < 0.98


@pytest.mark.outside
def test_noise_gives_the_worked_emva_case(make_camera):
    # EMVA 1288 with K = .25 DN/e-, sigma_d = 3 e-, eta = .6: SNR at 10 ... 10 000 photons
    sensor = make_camera(
        sensor={"read_noise_e": 3.0, "row_noise_e": 0.0, "dark_current_e_per_s": 0.0}
    ).sensor
    wanted = 4095.0 - 64.0
    chain = readout(sensor.model_copy(update={"full_well_e": wanted / 0.25}), 0.0)
    assert chain.dn_per_e == pytest.approx(0.25)
    for photons, snr in ((10, 1.485), (100, 7.154), (1000, 24.29), (10_000, 77.39)):
        electrons = 0.6 * photons
        found = electrons / noise_electrons(electrons, sensor, chain, 0.01)
        assert found == pytest.approx(snr, rel=5e-4)


@pytest.mark.by_hand
def test_dark_current_and_row_noise_add_in_quadrature(make_camera):
    sensor = make_camera().sensor
    chain = readout(sensor, 12.0)
    dark = dark_electrons_per_s(sensor) * 0.04
    # doubling law of EMVA 1288: 10 e-/s at 25 degrees is 10 x 2^(15/7) at 40
    assert dark == pytest.approx(0.04 * 10.0 * 2.0 ** (15.0 / 7.0))
    expected = 2.2**2 + 0.2**2 + 1.0 / 12.0 / chain.dn_per_e**2 + 50.0 + dark
    assert noise_electrons(50.0, sensor, chain, 0.04) == pytest.approx(math.sqrt(expected))


@pytest.mark.outside
def test_sharpness_follows_published_transfer(make_judged, make_camera):
    # pixel aperture sinc(f): .6366 at .5 cycles/pixel, half at .6034. Straight motion of one pixel
    # along x squares it there: sinc^2 = 1/2 at .4429 (tables of sinc^2)
    perfect = make_camera(lens={"aberration_sigma_um": 0.0})
    still = make_judged(camera=perfect, ideal=True)
    assert sharpness(still.in_scene, still.state, still.target, 550.0) == pytest.approx(
        1.0, abs=0.004
    )
    speed = make_judged(camera=perfect, ideal=True, plate={"speed_kmh": 18.0, "heading_deg": 90.0})
    shutter = speed.state.exposure.shutter_s
    smear = 5.0 * shutter * speed.in_scene.view.pixels_per_m(speed.target.depth_m)
    f = np.linspace(0.0, 1.0, 100_001)
    along = np.abs(np.sinc(f) * np.sinc(smear * f))
    half = f[np.argmax(np.sqrt(along * np.sinc(f)) < 0.5)]
    found = sharpness(speed.in_scene, speed.state, speed.target, 550.0)
    assert smear > 1.0
    assert found == pytest.approx(half / 0.6034, abs=0.006)


# IEC 62676-4:2025, densities as a notice of DIN on its final draft reports them; names of validate,
# scrutinise, perceive and characterise from secondary sources, the other three from memory
CLASSES_2025 = {
    "overview": 20.0,
    "outline": 40.0,
    "discern": 80.0,
    "perceive": 125.0,
    "characterise": 250.0,
    "validate": 500.0,
    "scrutinise": 1500.0,
}


@pytest.mark.outside
def test_classes_of_2025_begin_at_their_densities():
    order = ["below overview", *CLASSES_2025]
    for k, (name, least) in enumerate(CLASSES_2025.items()):
        assert density_class_2025(least) == name
        assert density_class_2025(math.nextafter(least, 0.0)) == order[k]
    assert density_class_2025(0.0) == "below overview"
