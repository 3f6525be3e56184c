"""Foliage and dyed cloth beside a grey card, by day and by night, through the whole camera."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.camera.light_field import frame_light
from simulator.camera.pipeline import frame_buffer, settle_exposure, shoot

CARDS = ("grey-18", "leaves", "grass", "cotton-dyed-dark", "fabric-carbon-black")
WIDTH_M = 0.22


def cards():
    return [
        {
            "name": material,
            "kind": "wall",
            "material": material,
            "position_m": [(k - 2) * WIDTH_M, 18.0, 0.0],
            "width_m": WIDTH_M,
            "height_m": 2.0,
        }
        for k, material in enumerate(CARDS)
    ]


@pytest.fixture(scope="module")
def seen(make_in_scene, make_scene):
    """Mean level of the frame and mean signal of every card, by mode."""
    scene = make_scene(
        natural_light={"illuminance_lux": 200.0},
        surface=cards(),
        plate={"position_m": [0.0, 30.0, 1.0]},
    )
    in_scene = make_in_scene(scene)
    out = {}
    for mode in ("day", "night"):
        state = settle_exposure(in_scene, mode)
        frame = shoot(in_scene, state, frame_buffer(in_scene, state)[0], seed=4)[0].astype(float)
        light = frame_light(in_scene, mode, state.exposure.shutter_s).rate.sum(axis=2)
        px = in_scene.view.pixels_per_m(18.0)
        middle = [160.0 + (k - 2) * WIDTH_M * px for k in range(len(CARDS))]
        parts = [np.s_[60:120, round(x) - 12 : round(x) + 12] for x in middle]
        out[mode] = {
            name: (float(frame[part].mean()), float(light[part].mean()))
            for name, part in zip(CARDS, parts, strict=True)
        }
    return out


def ratio(seen, mode, name, what):
    return seen[mode][name][what] / seen[mode]["grey-18"][what]


@pytest.mark.invariant
@pytest.mark.parametrize("name", ["leaves", "grass", "cotton-dyed-dark"])
def test_darker_than_the_grey_card_by_day_and_paler_by_night(seen, name):
    assert ratio(seen, "day", name, 0) < 0.9
    assert ratio(seen, "night", name, 0) > 1.1
    assert ratio(seen, "night", name, 1) > 1.8 * ratio(seen, "day", name, 1)


@pytest.mark.invariant
def test_cloth_dyed_with_carbon_stays_dark(seen):
    assert ratio(seen, "night", "fabric-carbon-black", 0) < 0.6
    assert ratio(seen, "night", "fabric-carbon-black", 1) < 0.5
