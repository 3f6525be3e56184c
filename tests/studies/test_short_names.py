"""Short names in the words of the trade stand for the keys they say."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

import simulator
from simulator.errors import InputError
from simulator.studies.axes import parse_axis
from simulator.studies.overrides import load_camera, load_pair, load_scene
from simulator.studies.short_names import SHORT_NAMES

PAIR = ("depot-gate-infrared", "plate-2mp-infrared")
VALUES = {
    "shutter": ("1/500", "camera.exposure.shutter_s", 0.002),
    "gain": ("12", "camera.exposure.gain_max_db", 12.0),
    "lens": ("25", "camera.lens.focal_length_mm", 25.0),
    "iris": ("4", "camera.lens.f_number", 4.0),
    "focus": ("9", "scene.station.focus_m", 9.0),
    "height": ("4", "scene.station.height_m", 4.0),
    "lux": ("3", "scene.natural_light.illuminance_lux", 3.0),
    "speed": ("30", "scene.target.plate.speed_kmh", 30.0),
    "text": ("A1B2 C3D", "scene.target.plate.text", "A1B2 C3D"),
    "mode": ("day", "camera.day_night.mode", "day"),
    "probability": ("0.8", "scene.task.wanted_probability", 0.8),
}


@pytest.mark.by_hand
@pytest.mark.parametrize("name", VALUES)
def test_a_short_name_sets_the_key_it_stands_for(name):
    text, key, value = VALUES[name]
    side, _, rest = key.partition(".")
    loaded = dict(zip(("scene", "camera"), load_pair(*PAIR, [f"{name}={text}"]), strict=True))
    assert loaded[side] == loaded[side].set({rest: value})
    assert loaded[side] != dict(zip(("scene", "camera"), load_pair(*PAIR), strict=True))[side]


@pytest.mark.by_hand
def test_distance_moves_target_and_aim_on_their_line():
    """Ground distance from the point below the lens; directions and heights stay."""
    before, after = load_pair(*PAIR)[0].model, load_pair(*PAIR, ["distance=30"])[0].model
    foot = before.station.ground_position_m
    (old,), (new,) = (
        [t.position_m for t in m.target if t.name == m.task.target] for m in (before, after)
    )
    assert math.dist(new[:2], foot) == pytest.approx(30.0, abs=1e-5)
    assert new[2] == old[2] and after.station.aim_m[2] == before.station.aim_m[2]
    way = [math.atan2(p[0] - foot[0], p[1] - foot[1]) for p in (old, new)]
    assert way[0] == pytest.approx(way[1], abs=1e-6)
    share = math.dist(after.station.aim_m[:2], foot) / math.dist(before.station.aim_m[:2], foot)
    assert share == pytest.approx(30.0 / math.dist(old[:2], foot), rel=1e-5)


@pytest.mark.by_hand
def test_lamps_and_the_sky():
    scene = load_scene("drive-mixed-lamps", ["lamp=off"]).model
    assert not any(light.on for light in (*scene.lamp, *scene.illuminator))
    with pytest.raises(InputError, match="several lamps"):
        load_scene("drive-mixed-lamps", ["lamp=5"])
    by_date = load_scene("yard-noon").set(
        {"natural_light": {"date": "2026-06-01", "time": "12:00", "latitude_deg": 48.0,
                           "longitude_deg": 16.0}}
    )  # fmt: skip
    dim = load_scene(by_date, ["lux=2"]).model.natural_light
    assert dim.illuminance_lux == 2.0 and dim.date is None


@pytest.mark.by_hand
def test_bad_values_are_refused_with_the_short_name():
    for text in ("distance=near", "distance=-4", "distance=true"):
        with pytest.raises(InputError, match="not a distance"):
            load_pair(*PAIR, [text])
    assert load_camera("plate-2mp-infrared", ["shutter=1/250"]).model.exposure.shutter_s == 0.004
    assert parse_axis("shutter=1/1000,1/500").values == (0.001, 0.002)


@pytest.mark.invariant
def test_the_page_names_every_short_name():
    text = (Path(simulator.__file__).parents[1] / "docs" / "short-names.md").read_text("utf-8")
    rows = [line.split("|")[1].strip(" `") for line in text.splitlines() if line.startswith("| `")]
    assert rows == list(SHORT_NAMES)
    assert all(one.meaning in text for one in SHORT_NAMES.values())
