"""Small cameras and scenes that the tests share."""

from __future__ import annotations

import copy
from collections.abc import Callable
from functools import cache
from types import SimpleNamespace
from typing import Any

import pytest

import simulator.app  # noqa: F401  threads as the command sets them, before numpy is loaded
from simulator.camera.in_scene import CameraInScene, Switches
from simulator.camera.load import Camera
from simulator.camera.model import CameraModel
from simulator.camera.pipeline import settle_exposure
from simulator.camera.region import region_light
from simulator.camera.region_traces import Traces
from simulator.judge.result import SCHEMA_VERSION, Verdict
from simulator.judge.target import find_text, plan_region
from simulator.judge.trials import quick_stray_light
from simulator.scene.build import build_world
from simulator.scene.load import Scene
from simulator.scene.model import SceneModel

PLATE = {
    "name": "plate",
    "kind": "plate",
    "text": "A1B2 X3Y",
    "position_m": [0.0, 18.0, 1.0],
}


VERDICT: dict[str, Any] = {
    "schema_version": SCHEMA_VERSION,
    "scene": "gate", "camera": "fixed", "title": "A gate by night", "question": "Is it read?",
    "seed": 0, "input_hash": "0123456789abcdef", "versions": {"nightproof": "0"},
    "exposure": {
        "mode": "night", "shutter_s": 0.04, "gain_db": 12.34, "f_number": 1.6,
        "metering": "average", "limited_by": "largest gain", "accumulated_frames": 1,
        "estimated_lux": 0.03,
    },
    "stream": {"codec": "none", "bitrate_kbit_s": None, "quantiser": None},
    "geometry": {
        "distance_m": 18.2, "pixels_per_m": 227.4, "field_width_m": 8.4,
        "density_class": "recognise", "density_edition": "IEC 62676-4:2014",
        "density_class_2025": "perceive", "density_edition_2025": "IEC 62676-4:2025",
    },
    "signal": {
        "illuminance_lux": 0.03, "irradiance_w_m2": 0.0, "contrast_ratio": 0.9,
        "electrons_light": 4.0, "electrons_dark": 1.5, "snr_db": -2.1, "modulation": 0.46,
        "clipped_fraction": 0.0, "motion_blur_px": 1.7, "effective_pixels_per_m": 70.0,
        "mean_level": 39.0, "contrast_to_surround": 0.5, "crushed_fraction": 0.02,
        "noise_temporal_levels": 11.8, "noise_fixed_levels": 0.0, "visual_noise": 2.1,
        "dynamic_range_used": 0.34, "modulation_over_ring": 0.76,
        "modulation_over_ring_without_glare": 0.77, "glare_loss": 0.02, "trail_px": 5.7,
        "compression_psnr_db": None, "compression_ssim": None,
    },
    "target": {
        "name": "plate", "kind": "plate", "text": "T8Z4 R6V", "box_px": [900, 606, 1020, 632],
        "character_height_px": 17.04, "cycles": None, "drawing_kept": None, "colour": None,
    },
    "targets": [],
    "task": {"name": "read", "wanted_probability": 0.9},
    "verdict": "not legible",
    "probability": 0.2, "probability_low": 0.1, "probability_high": 0.3,
    "probability_sampling_low": 0.1, "probability_sampling_high": 0.3,
    "tolerance_draws": 0, "sensitivity": [], "to_settle": None, "trials": 180,
    "limits": [
        {"factor": "light", "probability_without": 0.95, "probability_only": 0.6, "share": 0.7},
    ],
    "probability_all_fixed": 0.99, "remedies": [], "cautions": [], "conditions": [],
}  # fmt: skip


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
def car_alone() -> Callable[[str], Scene]:
    """A bundled car park with its light and the car in question, and nothing else: a tenth of the
    time of the whole scene."""

    @cache
    def emptied(name: str) -> Scene:
        table = Scene.load(name).table()
        table["target"] = [one for one in table["target"] if one["name"] in ("plate", "car")]
        return Scene.from_dict({**table, "body": []}, name=name, folder=".")

    return emptied


@pytest.fixture(scope="session")
def make_verdict() -> Callable[..., Verdict]:
    """A plate that is not read for want of light; keyword tables change what is said of it.

    With `of` another verdict is changed.
    """

    def make(of: Verdict | None = None, **tables: Any) -> Verdict:
        whole = copy.deepcopy(VERDICT) if of is None else of.to_dict()
        for name, table in tables.items():
            inner = isinstance(table, dict) and isinstance(whole.get(name), dict)
            whole[name] = {**whole[name], **table} if inner else table
        return Verdict.model_validate(whole)

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
    """A plate as the judge has it before reading: camera in its scene, state, target, plan, traces,
    stray light and rate.

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
        target = find_text(in_scene, scene.target[0])
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
