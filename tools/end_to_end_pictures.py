"""Pictures of a condition through the whole camera, and who reads them."""

from __future__ import annotations

from typing import Any

from end_to_end_conditions import BASE_CAMERA, TEXT, Condition, merged

from simulator.camera.auto_exposure import as_exposed, settle_exposure
from simulator.camera.frame_buffer import frame_buffer
from simulator.camera.in_scene import place_camera
from simulator.camera.load import Camera
from simulator.camera.model import CameraModel
from simulator.camera.recording import with_quantiser
from simulator.judge.repeats import TextPictures, text_pictures
from simulator.judge.target import find_text
from simulator.scene.build import build_world
from simulator.scene.model import SceneModel

RANDOM_TEXTS, EACH = 56, 2
SEED = 20_260_101


def scene_of(c: Condition) -> SceneModel:
    """The scene of a condition."""
    target = {
        "name": "plate", "kind": "plate", "text": TEXT, "design": c.design,
        "position_m": [0.0, c.distance_m, 1.0], **c.plate,
    }  # fmt: skip
    base: dict[str, Any] = {
        "title": "readers compared",
        "natural_light": {"illuminance_lux": c.lux},
        "station": {"height_m": 1.0, "aim_m": [0.0, c.distance_m, 1.0]},
        "task": {"target": "plate"},
    }
    return SceneModel.model_validate({**merged(base, c.scene), "target": [target]})


def camera_of(c: Condition) -> CameraModel:
    """The camera of a condition."""
    base = Camera.load("fixed-2mp-lowlight").model.model_dump()
    return CameraModel.model_validate(merged(base, BASE_CAMERA, c.camera))


def pictures_of(c: Condition, texts: int = RANDOM_TEXTS, each: int = EACH) -> list[TextPictures]:
    """Delivered pictures of random texts."""
    model = scene_of(c)
    in_scene = place_camera(build_world(model), model.station, camera_of(c))
    target = find_text(in_scene, model.target[0])
    state = settle_exposure(in_scene)
    in_scene = as_exposed(in_scene, state)
    if in_scene.camera.stream.codec != "none":
        state, _ = with_quantiser(in_scene, state, frame_buffer(in_scene, state)[0], seed=SEED)
    return text_pictures(in_scene, state, target, texts * each, texts=texts, seed=SEED + c.number)
