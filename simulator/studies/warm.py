"""Compiling ahead: every kernel that a prediction needs, in several processes.

A kernel is compiled by its first call and kept on disk (`kernels`). Each task here calls other
kernels than the rest, on tiny pictures, so that processes share the work; the last one runs the
whole way and finds all but everything compiled.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from simulator.camera.auto_exposure import Meter, as_exposed, settle_exposure
from simulator.camera.in_scene import CameraInScene, Mode
from simulator.camera.load import Camera
from simulator.camera.pipeline import shoot
from simulator.judge.readers.matching import add_noise, sample_windows
from simulator.judge.target import JudgedText
from simulator.kernels import cache_folder
from simulator.scene.load import Scene
from simulator.studies.runner import Progress, open_pool
from simulator.studies.session import Session, open_session

SCENE = "depot-gate-infrared"
CAMERA, WIDE_CAMERA = "fixed-2mp-lowlight", "doorway-2mp-wide"
DONE = "warmed"
"""File beside the compiled kernels that tells that all of them are there."""
COLUMNS, ROWS = 192, 108
"""Pixels of the tiny camera."""


def small_scene() -> Scene:
    """The scene with the plate and one body alone: the same kernels, little to compute."""
    table = Scene.load(SCENE).table()
    table["target"] = [target for target in table["target"] if target["kind"] == "plate"]
    table["body"] = table["body"][:1]
    return Scene.from_dict(table)


def tiny_session(camera: str = CAMERA) -> Session:
    """The small scene before a camera whose pixels are so large that a picture has few of them."""
    loaded = Camera.load(camera)
    sensor = loaded.model.sensor
    pitch_um = sensor.pixel_pitch_um * sensor.width_px / COLUMNS
    changes = {
        "sensor.width_px": COLUMNS,
        "sensor.height_px": ROWS,
        "sensor.pixel_pitch_um": pitch_um,
    }
    return open_session(small_scene(), loaded.set(changes))


def light_kernels() -> None:
    """Rays, light and shade."""
    session = tiny_session()
    _ = session.whole, session.traces


def sensor_kernels() -> None:
    """Noise and processing, by day and by night, of even light that nothing traced."""
    in_scene = tiny_session().mounted
    modes: tuple[Mode, ...] = ("day", "night")
    for mode in modes:
        _shot(in_scene, mode)


def other_kernels() -> None:
    """Wide range, and readers."""
    _shot(tiny_session(WIDE_CAMERA).mounted, "day")
    windows = np.zeros((2, 1, 8, 8), np.float32)
    add_noise(windows, np.ones(1), np.uint64(1), 0)
    sample_windows(np.zeros((2, 8, 8), np.float32), np.eye(3)[None], 4, 4)


def _shot(in_scene: CameraInScene, mode: Mode) -> None:
    even = np.full((ROWS // 4, COLUMNS // 4, 3), 1000.0, np.float32)
    meter = Meter(in_scene)
    meter.show({"day": even, "night": even})
    state = settle_exposure(in_scene, mode, meter=meter)
    shoot(as_exposed(in_scene, state), state, [even, even], seed=0, frames=2)


def whole_way() -> None:
    """All that is left."""
    session = tiny_session()
    if isinstance(session.target, JudgedText):
        session.probability(8)


TASKS: dict[str, Callable[[], None]] = {
    task.__name__: task for task in (light_kernels, sensor_kernels, other_kernels)
}


def do_task(name: str) -> None:
    """Compile what one task needs; another process can call it."""
    TASKS[name]()


def warm_up(workers: int | None = None, progress: Progress | None = None) -> None:
    """Compile all that predictions need; what is compiled already takes no time.

    Parameters
    ----------
    workers
        Processes, by default one for each processor.
    progress
        Called with what is being done and the share done so far.
    """
    say = progress or (lambda text, share: None)
    done_before = cache_folder() / DONE
    if done_before.exists():
        return
    with open_pool(len(TASKS), workers=workers) as pool:
        for done, _ in enumerate(pool.each(do_task, list(TASKS)), 1):
            say("compiling", done / (len(TASKS) + 1))
    whole_way()
    done_before.touch()
    say("compiled", 1.0)
