"""Every fault in a file becomes one message that says where and how to fix it."""

from __future__ import annotations

import copy
from typing import Any

import pytest

from simulator.camera.load import LensFile
from simulator.camera.model import CameraModel, Cover, Lens
from simulator.errors import FileFormatError
from simulator.files import json_schema, validate
from simulator.scene.load import LightFile
from simulator.scene.model import SceneModel, Station
from simulator.scene.model_things import Opening

SCENE: dict[str, Any] = {
    "title": "yard",
    "natural_light": {"illuminance_lux": 5.0},
    "station": {"height_m": 3.0, "aim_m": [0, 18.0, 0.5]},
    "lamp": [
        {
            "name": "gate lamp",
            "spectrum": "led-3000k",
            "intensity_cd": 900,
            "position_m": [0.0, 20.0, 5.0],
            "aim_m": [0.0, 18.0, 0.0],
        }
    ],
    "surface": [{"kind": "ground", "name": "road", "material": "asphalt"}],
    "target": [{"kind": "plate", "name": "plate", "text": "A1", "position_m": [0.0, 18.0, 0.5]}],
    "task": {"target": "plate"},
}


def fault(change: dict[tuple[Any, ...], Any]) -> FileFormatError:
    raw = copy.deepcopy(SCENE)
    for path, value in change.items():
        node: Any = raw
        for step in path[:-1]:
            node = node[step]
        if value is ...:
            del node[path[-1]]
        else:
            node[path[-1]] = value
    with pytest.raises(FileFormatError) as caught:
        validate(SceneModel, raw, "scene.toml")
    assert caught.value.file == "scene.toml"
    return caught.value


@pytest.mark.by_hand
def test_the_sound_scene_is_accepted() -> None:
    assert validate(SceneModel, SCENE, "scene.toml").lamp[0].intensity_cd == 900.0


@pytest.mark.by_hand
@pytest.mark.parametrize(
    ("change", "key", "given", "allowed", "fix"),
    [
        (
            {("natural_light", "iluminance_lux"): 3.0},
            "natural_light.iluminance_lux",
            3.0,
            "illuminance_lux, spectrum",
            "did you mean illuminance_lux?",
        ),
        (
            {("station", "height_ft"): 10.0, ("station", "height_m"): ...},
            "station.height_ft",
            10.0,
            "height_m",
            "write height_m = 3.048",
        ),
        (
            {("target", 0, "speed_mph"): 10},
            "target.plate.speed_mph",
            10,
            "speed_kmh",
            "write speed_kmh = 16.0934",
        ),
        (
            {("height_m",): 3.0},
            "height_m",
            3.0,
            "title, question",
            "height_m belongs under [station]",
        ),
        (
            {("natural_light", "illuminance_lux"): -1.0},
            "natural_light.illuminance_lux",
            -1.0,
            "a number from 0 to 200000",
            "illuminance_lux is in lux",
        ),
        (
            {("natural_light", "illuminance_lux"): float("nan")},
            "natural_light.illuminance_lux",
            None,
            "a number from 0 to 200000",
            "finite",
        ),
        (
            {("lamp", 0, "position_m"): [0.0, float("inf"), 1.0]},
            "lamp.gate lamp.position_m[1]",
            float("inf"),
            "a number from -10000 to 10000",
            "finite",
        ),
        (
            {("station", "height_m"): "3.0"},
            "station.height_m",
            "3.0",
            "a number from 0.05 to 200",
            "without quotation marks",
        ),
        (
            {("station", "height_m"): True},
            "station.height_m",
            True,
            "a number from 0.05 to 200",
            None,
        ),
        (
            {("station", "aim_m"): [1.0, 2.0]},
            "station.aim_m",
            [1.0, 2.0],
            "a list of 3 entries",
            None,
        ),
        (
            {("target", 0, "kind"): "plat"},
            "target.plate.kind",
            "plat",
            '"plate", "vehicle-front"',
            'did you mean "plate"?',
        ),
        ({("target", 0, "kind"): ...}, "target.plate.kind", "nothing", '"plate"', None),
        ({("target",): []}, "target", [], "not empty", None),
        ({("lamp",): 5}, "lamp", 5, "a list, each entry a table", None),
        (
            {("task", "wanted_probability"): 1.0},
            "task.wanted_probability",
            1.0,
            "a number above 0 and below 1",
            None,
        ),
        (
            {("target", 0, "text"): ""},
            "target.plate.text",
            "",
            "text of 1 to 12 characters",
            None,
        ),
        ({("title",): ...}, "title", "nothing", "text of 1 to 120", "add title = ..."),
        ({("lamp", 0, "on"): "yes"}, "lamp.gate lamp.on", "yes", "true or false", None),
    ],
)
def test_message_says_where_what_and_how(
    change: dict[tuple[Any, ...], Any], key: str, given: Any, allowed: str, fix: str | None
) -> None:
    error = fault(change)
    assert error.key == key
    if given is not None:  # NaN equals nothing
        assert error.given == given
    assert allowed in (error.allowed or "")
    if fix is not None:
        assert fix in (error.fix or "")


@pytest.mark.by_hand
def test_rules_across_values_name_their_key() -> None:
    error = fault({("task", "target"): "plat"})
    assert (error.key, error.given) == ("task.target", "plat")
    assert "is not a plate" in error.problem
    error = fault({("lamp",): [SCENE["lamp"][0]] * 2})
    assert error.key == "lamp"
    assert "more than once" in error.problem


@pytest.mark.invariant
def test_whole_numbers_beyond_any_range_are_refused() -> None:
    assert fault({("station", "height_m"): 10**400}).key == "station.height_m"


@pytest.mark.invariant
@pytest.mark.parametrize("model", [SceneModel, CameraModel, LensFile, LightFile])
def test_schema_lets_every_number_carry_its_tolerance(model: Any) -> None:
    plain = 0

    def walk(node: Any) -> None:
        nonlocal plain
        if isinstance(node, list):
            for item in node:
                walk(item)
        elif isinstance(node, dict):
            options = node.get("anyOf")
            if options and options[0].get("type") in ("number", "integer"):
                plain += 1
                assert options[1]["properties"]["value"] == options[0]
                assert options[1]["required"] == ["value", "tolerance", "source"]
                walk(options[2:])
                return
            assert node.get("type") not in ("number", "integer")
            for item in node.values():
                walk(item)

    walk(json_schema(model))
    assert plain >= 5


@pytest.mark.by_hand
@pytest.mark.parametrize(
    ("model", "old", "new"),
    [
        (Lens, "aberration_um", "aberration_sigma_um"),
        (Lens, "distortion", "distortion_coefficient"),
        (LensFile, "corner_light", "relative_illumination_corner"),
        (Cover, "dirt", "obstruction_fraction"),
        (Opening, "contrast_ratio", "luminance_ratio"),
        (Station, "sideways_m", "ground_position_m = [x, y], with x = sideways_m"),
        (Station, "setback_m", "ground_position_m = [x, y], with y = -setback_m"),
    ],
)
def test_a_former_key_is_refused_with_its_new_name(model: Any, old: str, new: str) -> None:
    with pytest.raises(FileFormatError, match="has a new name") as caught:
        validate(model, {old: 0.1}, "some.toml")
    assert (caught.value.key, caught.value.given, caught.value.file) == (old, 0.1, "some.toml")
    assert caught.value.fix == f"write {new}"
    assert old not in model.model_fields
    assert new.split(" ", maxsplit=1)[0] in model.model_fields
