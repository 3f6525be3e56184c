"""Small cameras and scenes that the tests share."""

from __future__ import annotations

from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import pytest

import simulator.app  # noqa: F401  threads as the command sets them, before numpy is loaded
from simulator.camera.in_scene import CameraInScene, Switches
from simulator.camera.load import Camera
from simulator.camera.model import CameraModel
from simulator.camera.pipeline import settle_exposure
from simulator.camera.region import Traces, region_light
from simulator.judge.target import find_plate, plan_region
from simulator.judge.trials import quick_stray_light
from simulator.scene.build import build_world
from simulator.scene.model import SceneModel

PLATE = {
    "name": "plate",
    "kind": "plate",
    "text": "AB12 XYZ",
    "position_m": [0.0, 18.0, 1.0],
}


@pytest.fixture(scope="session")
def make_camera() -> Callable[..., CameraModel]:
    """A camera of 320 x 180 px, all rows at once; keyword tables change what is said of it."""
    base = Camera.load("fixed-2mp-lowlight").model

    def make(**tables: dict[str, Any]) -> CameraModel:
        changes = {"sensor": {"width_px": 320, "height_px": 180, "shutter": "global"}}
        for name, table in tables.items():
            changes[name] = {**changes.get(name, {}), **table}
        whole = base.model_dump()
        for name, table in changes.items():
            whole[name] = {**whole[name], **table}
        return CameraModel.model_validate(whole)

    return make


@pytest.fixture(scope="session")
def make_scene() -> Callable[..., SceneModel]:
    """A plate 18 m in front of a camera at its own height, in the dark unless told otherwise."""

    def make(*, plate: dict[str, Any] | None = None, **tables: Any) -> SceneModel:
        whole: dict[str, Any] = {
            "title": "test",
            "natural_light": {"illuminance_lux": 0.0},
            "station": {"height_m": 1.0, "aim_m": [0.0, 18.0, 1.0]},
            "target": [{**PLATE, **(plate or {})}],
            "task": {"target": "plate"},
        }
        for name, table in tables.items():
            if name == "target":
                whole["target"] = [*whole["target"], *table]
            elif isinstance(table, dict):
                whole[name] = {**whole.get(name, {}), **table}
            else:
                whole[name] = table
        return SceneModel.model_validate(whole)

    return make


@pytest.fixture(scope="session")
def make_in_scene(make_camera, make_scene) -> Callable[..., CameraInScene]:
    """Camera before a scene; either may be left out."""

    def make(
        scene: SceneModel | None = None,
        camera: CameraModel | None = None,
        switches: Switches | None = None,
    ) -> CameraInScene:
        scene = scene or make_scene()
        return CameraInScene(
            build_world(scene), scene.station, camera or make_camera(), switches or Switches()
        )

    return make


@pytest.fixture(scope="session")
def make_judged(make_in_scene, make_scene, make_camera) -> Callable[..., SimpleNamespace]:
    """A plate as the judge has it before reading: rig, state, target, plan, traces, veil, rate.

    `lux` of daylight from the whole sky unless tables say otherwise; with `ideal` the lens neither
    diffracts nor defocuses. `mode` forces day or night.
    """

    def make(
        *,
        camera: CameraModel | None = None,
        lux: float = 200.0,
        ideal: bool = False,
        mode: Any = None,
        plate: dict[str, Any] | None = None,
        **tables: Any,
    ) -> SimpleNamespace:
        tables.setdefault("natural_light", {"illuminance_lux": lux})
        switches = Switches(diffraction=not ideal, defocus=not ideal)
        scene = make_scene(plate=plate, **tables)
        in_scene = make_in_scene(scene, camera or make_camera(), switches)
        target = find_plate(in_scene, scene.target[0])
        state = settle_exposure(in_scene, mode)
        plan, traces = plan_region(in_scene, state, target), Traces()
        stray_light = quick_stray_light(in_scene, state)
        rate = region_light(
            in_scene, state.mode, state.exposure.shutter_s, plan, stray_light, traces=traces
        )
        return SimpleNamespace(
            in_scene=in_scene,
            state=state,
            target=target,
            plan=plan,
            traces=traces,
            stray_light=stray_light,
            rate=rate,
            origin=plan.box_px[:2],
        )

    return make
