"""Small cameras and scenes that the tests share."""

from __future__ import annotations

from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import pytest

import simulator.app  # noqa: F401  threads as the command sets them, before numpy is loaded
from simulator.camera.load import Camera
from simulator.camera.model import CameraModel
from simulator.camera.patch import Traces, patch_light
from simulator.camera.pipeline import settle_camera
from simulator.camera.rig import Rig, Switches
from simulator.judge.target import find_plate, plan_patch
from simulator.judge.trials import quick_veil
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
def make_rig(make_camera, make_scene) -> Callable[..., Rig]:
    """Camera before a scene; either may be left out."""

    def make(
        scene: SceneModel | None = None,
        camera: CameraModel | None = None,
        switches: Switches | None = None,
    ) -> Rig:
        scene = scene or make_scene()
        return Rig(
            build_world(scene), scene.station, camera or make_camera(), switches or Switches()
        )

    return make


@pytest.fixture(scope="session")
def make_judged(make_rig, make_scene, make_camera) -> Callable[..., SimpleNamespace]:
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
        rig = make_rig(scene, camera or make_camera(), switches)
        target = find_plate(rig, scene.target[0])
        state = settle_camera(rig, mode)
        plan, traces = plan_patch(rig, state, target), Traces()
        veil = quick_veil(rig, state)
        rate = patch_light(rig, state.mode, state.exposure.shutter_s, plan, veil, traces=traces)
        return SimpleNamespace(
            rig=rig,
            state=state,
            target=target,
            plan=plan,
            traces=traces,
            veil=veil,
            rate=rate,
            origin=plan.box_px[:2],
        )

    return make
