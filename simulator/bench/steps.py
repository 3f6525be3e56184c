"""Even grey steps before the whole camera: what most measurements of a camera start from."""

from __future__ import annotations

import numpy as np

from simulator.camera.auto_exposure import State
from simulator.camera.exposure import ExposureState
from simulator.camera.in_scene import CameraInScene
from simulator.camera.local_tone import tone_map
from simulator.camera.model import CameraModel
from simulator.camera.processing import ColourPath
from simulator.camera.sensor_readout import readout
from simulator.camera.wide_range import top_level
from simulator.scene.build import build_world
from simulator.scene.model import SceneModel
from simulator.units import Image


def bench_in_scene(camera: CameraModel) -> CameraInScene:
    """A camera before an empty room; the light of a test is given to it directly."""
    room = SceneModel.model_validate(
        {
            "title": "bench",
            "natural_light": {"illuminance_lux": 1.0},
            "station": {"height_m": 1.0, "aim_m": [0.0, 5.0, 1.0]},
            "target": [{"name": "plate", "kind": "plate", "text": "AA", "position_m": [0, 5, 1]}],
            "task": {"target": "plate"},
        }
    )
    return CameraInScene(build_world(room), room.station, camera)


def fixed_state(
    camera: CameraModel,
    shutter_s: float,
    gain_db: float,
    *,
    colour: ColourPath | None = None,
    light: Image | None = None,
) -> State:
    """A camera set by hand, without balance or matrix unless told otherwise.

    Parameters
    ----------
    light
        Luma (rows, columns) in units of white that the tone mapping of a wide range looks at; grey
        up to the most light it can tell if not given.
    """
    chain = readout(camera.sensor, gain_db)
    f = camera.lens.f_number
    exposure = ExposureState(shutter_s, gain_db, "average", "fixed settings", 0.0, 0.0, f, f, 1)
    tones = None
    if camera.wide_range.method != "off":
        top = top_level(camera.wide_range, camera.sensor, chain)
        if light is None:
            light = np.geomspace(1e-3, top, 96 * 160, dtype=np.float32).reshape(96, 160)
        step = camera.sensor.width_px / light.shape[1]
        tones = tone_map(light, top, camera.wide_range.local_tone, step)
    colour = colour or ColourPath(np.ones(3), np.eye(3), False)
    return State("day", 0.0, exposure, chain, colour, tones)
