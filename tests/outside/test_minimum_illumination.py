"""A datasheet's figures come back from the picture of the profile built from them.

The figure is rendered as a laboratory would take it: a grey card that fills the picture, lit by a
lamp of known intensity at a known distance (E = I / d^2), the stated f-number, shutter and gain;
the whole pipeline; the level, noise and range measured on what comes out. The datasheet's own
figure is the value from outside; agreement within 25 percent is asked.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from simulator import data
from simulator.camera.in_scene import Switches, place_camera
from simulator.camera.load import Camera
from simulator.camera.pipeline import frame_buffer, mosaic_of, settle_exposure, shoot
from simulator.report.profile import text
from simulator.scene.build import build_world
from simulator.scene.load import Scene
from simulator.studies.new.camera import new_camera

pytestmark = pytest.mark.outside

WITHIN = 0.25
CARD = "grey-90"
CARD_M, LAMP_M = 10.0, 100.0
"""Distance of the card from the camera, and of the lamp from the card [m]."""

PIXELS = {"width_px": 192, "height_px": 108}
CMOS = {**PIXELS, "pixel_pitch_um": 2.9, "lens": "varifocal-2.8-12"}
CCD = {**PIXELS, "pixel_pitch_um": 6.5, "technology": "ccd", "lens": "varifocal-5-50"}
MINIMUM = {
    "minimum_lux": 0.2,
    "minimum_f_number": 1.4,
    "minimum_shutter_s": "1/25",
    "minimum_gain_db": "max",
    "minimum_level_percent": 50,
    "minimum_reflectance": 0.9,
    "minimum_picture": "colour",
}
MONO = {"minimum_picture": "monochrome", "minimum_light": "cie-a"}
RATIO = {"snr_db": 44, "snr_level_percent": 80, "snr_gain_db": 0, "snr_measured_on": "picture"}


def card_reflectance() -> float:
    values = data.read_table("reflectance", CARD).on_grid("reflectance")
    assert np.ptp(values) < 0.05  # a grey card is grey
    return float(values.mean())


def laboratory(camera: Camera, lux: float, light: str, **changes):
    """Rig before a grey card under so many lux, and its state; `changes` by dotted key."""
    scene = Scene.from_dict(
        {
            "title": "Laboratory",
            "question": "What level does the card reach?",
            "natural_light": {"illuminance_lux": 0.0, "spectrum": "cie-a"},
            "station": {"height_m": 20.0, "aim_m": [0.0, CARD_M, 20.0], "focus_m": CARD_M},
            "lamp": [
                {
                    "name": "lamp",
                    "spectrum": light,
                    "intensity_cd": lux * LAMP_M**2,
                    "beam_deg": 60.0,
                    "position_m": [0.0, CARD_M - LAMP_M, 20.0],
                    "aim_m": [0.0, CARD_M, 20.0],
                }
            ],
            "surface": [
                {
                    "name": "card",
                    "kind": "wall",
                    "material": CARD,
                    "position_m": [0.0, CARD_M, 0.0],
                    "width_m": 40.0,
                    "height_m": 40.0,
                }
            ],
            "target": [
                {"name": "chart", "kind": "grey-chart", "position_m": [0.0, CARD_M - 0.1, 1.0]}
            ],
            "task": {"target": "chart", "name": "detect", "wanted_probability": 0.9},
        },
        name="laboratory",
    )
    model = camera.set(changes).model
    in_scene = place_camera(build_world(scene.model), scene.model.station, model)
    return in_scene, settle_exposure(in_scene)


def middle(frames):
    rows, columns = frames.shape[1:3]
    return frames[:, rows // 2 - 20 : rows // 2 + 20, columns // 2 - 20 : columns // 2 + 20]


def luma(frames):
    return middle(frames).astype(np.float64) @ [0.2126, 0.7152, 0.0722]


CASES = {
    "colour at the largest gain": ({**CMOS, **MINIMUM}, 0.0),
    "colour at a stated gain": ({**CMOS, **MINIMUM, "minimum_gain_db": 42}, 42.0),
    "monochrome under a filament lamp": (
        {**CMOS, **MINIMUM, **MONO, "minimum_lux": 0.02, "minimum_level_percent": 30}, 0.0
    ),
    "efficiency from full well and gain": (
        {**CMOS, **MINIMUM, "minimum_gain_db": 45, "full_well_e": 9000}, 45.0
    ),
    "full well from noise, gain from light": ({**CMOS, **MINIMUM, **RATIO}, 0.0),
    "charge-coupled, slow lens": (
        {**CCD, **MINIMUM, "minimum_lux": 1, "minimum_f_number": 2, "minimum_shutter_s": "1/50"},
        0.0,
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_minimum_illumination_comes_back(case: str, tmp_path):
    given, gain_db = CASES[case]
    given = {**given, "minimum_reflectance": card_reflectance()}
    path = tmp_path / "made.toml"
    path.write_text(text(new_camera(given)), encoding="utf-8")
    camera = Camera.load(path)
    night = given["minimum_picture"] == "monochrome"
    shutter = {"1/25": 0.04, "1/50": 0.02}[given["minimum_shutter_s"]]
    changes = {
        "exposure.shutter_s": shutter,
        "exposure.gain_db": gain_db or camera.model.exposure.gain_max_db,
        "lens.f_number": float(given["minimum_f_number"]),
        "day_night.mode": "night" if night else "day",
    }
    in_scene, state = laboratory(camera, given["minimum_lux"], "cie-a", **changes)
    frame = shoot(in_scene, state, frame_buffer(in_scene, state)[0], seed=3)
    found = luma(frame).mean() / 255.0
    assert found == pytest.approx(given["minimum_level_percent"] / 100.0, rel=WITHIN)
    # a quarter of the light must not do: the check can fail
    in_scene = replace(in_scene, switches=Switches(light_scale=0.25))
    dim = shoot(in_scene, state, frame_buffer(in_scene, state)[0], seed=3)
    assert luma(dim).mean() / 255.0 < (1.0 - WITHIN) * given["minimum_level_percent"] / 100.0


def at_level(camera: Camera, share: float, **changes):
    """Rig and state in daylight with the strongest channel at a share of white [linear]."""
    plain = {
        "day_night.mode": "day",
        "exposure.shutter_s": 0.04,
        "exposure.gain_db": 0.0,
        "processing.noise_reduction": 0.0,
        "processing.temporal_noise_reduction": 0.0,
        "processing.sharpening": 0.0,
    }
    in_scene, state = laboratory(camera, 100.0, "daylight", **{**plain, **changes})
    rate = frame_buffer(in_scene, state)[1].rate
    strongest = middle(rate[None]).mean(axis=(0, 1, 2)).max() * 0.04
    scale = share * state.chain.white_e / float(strongest)
    return replace(in_scene, switches=Switches(light_scale=scale)), state


@pytest.mark.parametrize(("db", "level"), [(44.0, 80.0), (40.0, 50.0), (36.0, 30.0)])
def test_signal_to_noise_comes_back_from_the_picture(db: float, level: float):
    made = new_camera({**CMOS, **RATIO, "snr_db": db, "snr_level_percent": level})
    linear = ((level / 100.0 + 0.099) / 1.099) ** (1.0 / 0.45)  # inverse of ITU-R BT.709
    in_scene, state = at_level(made.camera, linear)
    frames = luma(shoot(in_scene, state, frame_buffer(in_scene, state)[0], seed=5, frames=12))
    assert frames.mean() / 255.0 == pytest.approx(level / 100.0, rel=0.05)
    found = frames.mean() / np.sqrt(frames.var(axis=0, ddof=1).mean())
    assert found == pytest.approx(10.0 ** (db / 20.0), rel=WITHIN)


def test_signal_to_noise_comes_back_from_raw():
    made = new_camera(
        {**CMOS, **RATIO, "snr_db": 32, "snr_gain_db": 6, "snr_measured_on": "raw"}
    )  # fmt: skip
    in_scene, state = at_level(made.camera, 0.8, **{"exposure.gain_db": 6.0})
    light = frame_buffer(in_scene, state)[1].rate
    raw = mosaic_of(in_scene, state, light, seed=1, frames=12).astype(np.float64)
    dark = mosaic_of(in_scene, state, np.zeros_like(light), seed=2, frames=4).astype(np.float64)
    means = middle(light[None]).mean(axis=(0, 1, 2))
    y, x = ((0, 0), (0, 1), (1, 1))[int(means.argmax())]  # RGGB
    signal = middle(raw)[:, y::2, x::2]
    lift = signal.mean() - middle(dark)[:, y::2, x::2].mean()
    found = lift / np.sqrt(signal.var(axis=0, ddof=1).mean())
    assert found == pytest.approx(10.0 ** (32.0 / 20.0), rel=WITHIN)


@pytest.mark.parametrize("db", [58.0, 66.0, 70.0])
def test_dynamic_range_comes_back(db: float):
    # after ISO 15739 (from memory): saturation over the signal whose signal-to-noise ratio is one
    made = new_camera({**CMOS, "dynamic_range_db": db, "dynamic_range_kind": "linear"})

    def raw(scale: float, seed: int):
        in_scene, state = at_level(made.camera, scale)
        light = frame_buffer(in_scene, state)[1].rate
        strongest = int(middle(light[None]).mean(axis=(0, 1, 2)).argmax())
        y, x = ((0, 0), (0, 1), (1, 1))[strongest]
        frames = mosaic_of(in_scene, state, light, seed=seed, frames=16)
        return middle(frames.astype(np.float64))[:, y::2, x::2]

    least = 10.0 ** (-db / 20.0)
    dark, full = raw(1e-9, 1).mean(), raw(3.0, 2).mean()
    steps = least * np.array([0.5, 0.7, 1.0, 1.4, 2.0])
    ratios = []
    for i, step in enumerate(steps):
        shot = raw(float(step), 3 + i)
        ratios.append((shot.mean() - dark) / np.sqrt(shot.var(axis=0, ddof=1).mean()))
    found = np.exp(np.interp(0.0, np.log(ratios), np.log(steps)))
    signal_at_full = (full - dark) / (raw(0.5, 9).mean() - dark) * 0.5
    assert signal_at_full == pytest.approx(1.0, rel=0.02)
    assert 1.0 / found == pytest.approx(10.0 ** (db / 20.0), rel=WITHIN)
