"""The light budget is the simulator's own chain: its factors give what the picture holds."""

from __future__ import annotations

import csv
import math
from functools import cache

import numpy as np
import pytest

from simulator import Camera, Scene, budget
from simulator.camera import expose, noise_electrons
from simulator.studies.budget.study import budget_of
from simulator.studies.session import open_session

PLACES = {
    # infrared on sheeting; sun and sky through the filter; fog
    "infrared": ("depot-gate-infrared", "plate-2mp-infrared"),
    "sun": ("yard-noon", "fixed-2mp-lowlight"),
    "fog": ("perimeter-fog", "fixed-2mp-lowlight"),
}


@cache
def found(name):
    """The budget of one place, made once."""
    return budget(*PLACES[name])


@pytest.mark.invariant
@pytest.mark.parametrize("name", PLACES)
def test_the_factors_give_the_electrons_of_the_picture(name):
    """Within 1 %: with the light of air and lens, but without what is only told as a difference."""
    one = found(name)
    assert one.electrons == pytest.approx(one.rendered, rel=0.01)


@pytest.mark.invariant
@pytest.mark.parametrize("name", PLACES)
def test_factors_follow_one_another(name):
    """Every count is the one before it times the factor, from the source to electrons."""
    for chain in found(name).chains:
        for before, step in zip(chain.stages, chain.stages[1:], strict=False):
            if step.factor is not None:
                assert step.count == pytest.approx(before.count * step.factor, rel=1e-9)
            elif step.name == "falling":
                assert step.count == pytest.approx(before.count, rel=1e-6)
        assert chain.electrons == pytest.approx(chain.stages[-1].count)


@pytest.mark.by_hand
def test_the_lamp_by_hand():
    """E = I cos(theta) / d^2 from the numbers of the scene file, the beam all but whole."""
    chain = found("infrared").chains[0]
    model = Scene.load("depot-gate-infrared").model
    lamp, plate = model.illuminator[0], model.target[0]
    way = np.array(lamp.position_m) - np.array(plate.position_m)
    distance = float(np.linalg.norm(way))
    cosine = -float(way @ np.array([0.0, 1.0, 0.0])) / distance
    by_hand = 8.0 * cosine / distance**2
    assert chain.stage("lamp").values[0][1:] == (8.0, "W/sr")
    assert chain.stage("inverse-square").values[0][1] == pytest.approx(distance, rel=0.01)
    assert chain.on_target[0] == pytest.approx(by_hand, rel=0.02)


@pytest.mark.outside
def test_the_lens_after_the_exposure_meter_standard():
    """ISO 2720 and ISO 12232: H = q L t / N^2, q = 0.65 = pi/4 T v cos^4(theta) with T = 0.9,
    v = 0.98, theta = 10 degrees (from memory)."""
    aperture = found("sun").chains[0].stage("aperture")
    n, m = (value for _, value, _ in aperture.values)
    assert m < 1e-3
    q = math.pi * float(aperture.factor[1]) * n**2 * 0.9 * 0.98 * math.cos(math.radians(10)) ** 4
    assert q == pytest.approx(0.65, abs=0.005)


@pytest.mark.outside
def test_photons_of_green_light():
    """1 lx of 555 nm is 4.09e15 photons a second and square metre: 1 / 683 W of 3.58e-19 J each
    (handbooks of photometry, e.g. RCA Electro-Optics Handbook; from memory)."""
    from simulator.studies.budget.chain import photons
    from simulator.units import WAVELENGTH_NM

    line = np.where(WAVELENGTH_NM == 555.0, 1.0 / 683.0, 0.0)
    assert photons(line) == pytest.approx(4.09e15, rel=0.002)


@pytest.mark.invariant
@pytest.mark.parametrize("name", PLACES)
def test_noise_is_that_of_the_sensor(name):
    """The terms add up to `noise_electrons`, which is checked against EMVA 1288 elsewhere."""
    one = found(name)
    at = open_session(one.scene, one.camera)
    model = noise_electrons(
        one.signal, at.in_scene.camera.sensor, one.state.chain, one.state.exposure.shutter_s
    )
    assert one.temporal_noise == pytest.approx(float(model), rel=1e-9)
    assert one.snr_db == pytest.approx(20 * math.log10(one.signal / float(model)))


@pytest.mark.invariant
@pytest.mark.parametrize("name", ["sun", "fog"])
def test_the_digital_number_is_what_the_sensor_reads_out(name):
    one = found(name)
    sensor = open_session(one.scene, one.camera).in_scene.camera.sensor
    sensor = sensor.model_copy(update={"hot_pixels_per_million": 0.0})
    shutter = one.state.exposure.shutter_s
    even = np.full((96, 96, 3), one.signal / shutter, np.float32)
    mosaic = expose(even, shutter, sensor, one.state.chain, seed=3)
    black = one.level.black_dn
    assert float(mosaic.mean()) - black == pytest.approx(one.level.digital_number - black, rel=0.01)


@pytest.mark.invariant
@pytest.mark.parametrize("name", ["sun", "fog"])
def test_the_display_level_is_that_of_the_delivered_pictures(name):
    """On an even place, where sharpening and noise reduction change little."""
    one = found(name).level
    assert one.display_level == pytest.approx(one.delivered_level, abs=3.0)


@pytest.mark.invariant
def test_half_the_lamp_is_half_the_light():
    """Held exposure: every count of the lamp halves, no factor changes."""
    held = Camera.load("plate-2mp-infrared").set({"exposure.shutter_s": 0.001})
    at = open_session(Scene.load("depot-gate-infrared"), held)
    lamps = [at.relit(lamps={"mast infrared": strength}) for strength in (1.0, 0.5)]
    whole, half = (budget_of(one).chains[0] for one in lamps)
    assert half.electrons == pytest.approx(whole.electrons / 2.0, rel=1e-5)
    for a, b in zip(whole.stages, half.stages, strict=True):
        assert (a.factor is None) == (b.factor is None)
        if a.factor is not None:
            assert a.factor == pytest.approx(b.factor, rel=1e-5)


@pytest.mark.invariant
def test_it_writes_figure_and_table(tmp_path):
    one = found("fog")
    one.save(tmp_path / "fog")
    names = {path.name for path in (tmp_path / "fog").iterdir()}
    assert {"budget.png", "budget.svg", "budget.csv", "verdict.json", "inputs"} <= names
    with (tmp_path / "fog" / "budget.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    kept = [float(r["count_green"]) for r in rows if r["step"] == "Not scattered by the lens"]
    assert sum(kept) == pytest.approx(float(one.from_target[1]), rel=1e-9)
    assert all(row["equation"] and row["source"] for row in rows if row["part"] == "light")
    svg = (tmp_path / "fog" / "budget.svg").read_text(encoding="utf-8")
    assert svg.startswith("<?xml") and "</svg>" in svg


@pytest.mark.invariant
def test_what_lies_near_a_pixel_is_the_same_as_in_the_whole_target():
    """A target that fills the picture is rendered about the pixel alone: the same light, and
    levels within what noise makes of eight pictures."""
    session = open_session(Scene.load("yard-noon"), Camera.load("fixed-2mp-lowlight"))
    place = found("sun").place
    near = session.near(place.pixel, 12)
    whole, part = session.electrons(), near.electrons()
    assert part.electrons.shape[:2] == (25, 25)
    x, y = (p - q for p, q in zip(place.pixel, whole.box_px[:2], strict=True))
    there = whole.electrons[y - 6 : y + 7, x - 6 : x + 7]
    np.testing.assert_allclose(part.electrons[6:-6, 6:-6], there, rtol=0.002)
    u, v = (p - q for p, q in zip(place.pixel, part.box_px[:2], strict=True))
    levels = [
        one.frames[:, r, c].astype(float)
        for one, r, c in ((session.pictures(8), y, x), (near.pictures(8), v, u))
    ]
    spread = np.std(levels[0]) + 1.0
    assert abs(levels[0].mean() - levels[1].mean()) < 3.0 * spread / math.sqrt(8)
