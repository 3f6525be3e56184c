"""Frames one after another: exposure that settles, trails, the switch to night, the codec."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from simulator.camera.auto_exposure import State, as_exposed, metered_signal, settle_exposure
from simulator.camera.control import ExposurePath, exposure_path, levers_of
from simulator.camera.day_night import estimated_illuminance, mode_path
from simulator.camera.exposure import ExposureState
from simulator.camera.frame_buffer import exposed_series
from simulator.camera.in_scene import CameraInScene, Mode
from simulator.camera.load import Camera
from simulator.camera.local_tone import tones_for
from simulator.camera.pipeline import next_planes, shown
from simulator.camera.processing import ColourPath, Planes
from simulator.camera.sensor_readout import readout
from simulator.camera.small_picture import meter_light
from simulator.camera.stream import Coded, steady_quantiser
from simulator.camera.white_balance import colour_path
from simulator.camera.wide_range import shown_to_the_loop
from simulator.errors import InputError
from simulator.scene.load import Scene
from simulator.studies.placing import placed
from simulator.studies.provenance import input_hash, versions
from simulator.studies.quick import Quick, quick
from simulator.units import Image, db_to_ratio

Progress = Callable[[str, float], None]
MOST_BYTES = 1_500_000_000
"""Frames that pass a codec are held in memory together; no more than this."""
MODES: tuple[Mode, Mode] = ("day", "night")


@dataclass(frozen=True)
class Frame:
    """One frame of a sequence; `picture` (rows, columns, 3)."""

    time_s: float
    mode: Mode
    exposure: ExposureState
    box_px: tuple[int, int, int, int]
    picture: NDArray[np.uint8]

    def row(self) -> dict[str, Any]:
        """What the table of a sequence says of it."""
        return {
            "time_s": self.time_s,
            "mode": self.mode,
            "shutter_s": self.exposure.shutter_s,
            "gain_db": self.exposure.gain_db,
            "f_number": self.exposure.f_number,
            "accumulated_frames": self.exposure.accumulated,
            "level": self.exposure.level,
            "limited_by": self.exposure.limited_by,
            "box_px": list(self.box_px),
        }


class Begun(NamedTuple):
    """Mode and exposure that the camera had settled on, and whether on the scene itself."""

    mode: Mode
    exposure: ExposureState
    on_scene: bool


@dataclass(frozen=True)
class Sequence:
    """A sequence of frames with what is common to them."""

    scene: Scene
    camera: Camera
    seed: int
    frames: list[Frame]
    path: ExposurePath
    coded: Coded | None
    began: Begun
    """How the camera had settled before the first frame."""
    judged: Quick | None = None
    """The verdict on a picture of the scene with the exposure settled, if it was asked for."""

    @property
    def frame_rate_hz(self) -> float:
        """Rate of the first frames [Hz]."""
        if len(self.frames) < 2:
            return self.camera.model.processing.frame_rate_hz
        return 1.0 / (self.frames[1].time_s - self.frames[0].time_s)

    def to_dict(self) -> dict[str, Any]:
        """What verdict.json holds of a sequence."""
        stream = self.camera.model.stream
        settling = self.path.settling_s()
        out: dict[str, Any] = {
            "schema_version": 1,
            "study": "sequence",
            "scene": self.scene.name,
            "camera": self.camera.name,
            "title": self.scene.model.title,
            "question": self.scene.model.question,
            "seed": self.seed,
            "input_hash": input_hash(self.scene, self.camera),
            "versions": versions(),
            "began": {
                "mode": self.began.mode,
                "shutter_s": self.began.exposure.shutter_s,
                "gain_db": self.began.exposure.gain_db,
                "on_scene": self.began.on_scene,
            },
            "exposure_settles_s": settling,
            "stream": {"codec": stream.codec},
            "frames": [frame.row() for frame in self.frames],
        }
        if self.judged is not None:
            out |= {
                "verdict": self.judged.verdict,
                "settled": self.judged.row(),
                "wanted_probability": self.scene.model.task.wanted_probability,
            }
        if self.coded is not None:
            out["stream"] = {
                "codec": stream.codec,
                "bitrate_kbit_s": stream.bitrate_kbit_s,
                "quantiser": self.coded.qp,
                "bits": [int(b) for b in self.coded.bits],
            }
        return out


@dataclass
class _Lights:
    """What the camera meters at any moment in either mode, traced no oftener than needed."""

    in_scene: CameraInScene
    moving: bool
    start_s: float
    colours: dict[Mode, ColourPath]

    def __post_init__(self) -> None:
        self._kept: dict[tuple[Mode, float], Image] = {}

    def metered(self, mode: Mode, time_s: float) -> Image:
        """Light (rows, columns, 3) [e-/s] on the small metered picture."""
        key = (mode, round(time_s, 6) if self.moving else 0.0)
        if key not in self._kept:
            in_scene = self.in_scene.at(self.start_s + time_s) if self.moving else self.in_scene
            self._kept[key] = meter_light(in_scene, mode)
        return self._kept[key]


def start_time_s(in_scene: CameraInScene, frames: int, start_s: float | None) -> float:
    """Moment of the first frame: as given, else so that things that move pass their place in the
    scene file in the middle of the sequence."""
    if start_s is not None:
        return start_s
    if not np.any(in_scene.world.velocities):
        return 0.0
    return -(frames - 1) / 2.0 / in_scene.camera.processing.frame_rate_hz


def predict_sequence(
    scene: Scene,
    camera: Camera,
    frames: int,
    *,
    seed: int = 0,
    before: Scene | None = None,
    start_s: float | None = None,
    judge: bool = False,
    progress: Progress | None = None,
) -> Sequence:
    """Predict consecutive frames.

    The camera starts settled, on the scene itself or on `before`, and its exposure loop, its mode
    with hysteresis and delay, and its temporal noise reduction run from frame to frame. White
    balance follows the mode at once. Flicker is in the frames but not in what the loop meters.

    Parameters
    ----------
    before
        What the camera had settled on before the first frame, such as the same place under other
        light.
    start_s
        Moment of the first frame, 0 where things stand as the scene file says [s].
    judge
        Whether the task is judged, too, in a settled picture, in the mode that the frames are in:
        at the moment of the scene file, with `before` in the last frame.

    Raises
    ------
    InputError
        For a scene that cannot be built, lit or imaged, or too many frames for a codec.
    """
    say = progress or (lambda text, share: None)
    sensor, stream = camera.model.sensor, camera.model.stream
    if stream.codec != "none" and frames * sensor.width_px * sensor.height_px * 6 > MOST_BYTES:
        raise InputError(
            "So many frames do not fit into memory on their way through the codec.",
            argument="frames",
            given=frames,
            allowed=f"up to {MOST_BYTES // (6 * sensor.width_px * sensor.height_px)} frames of"
            " this size",
            fix="ask for fewer frames",
        )
    in_scene = placed(scene.model, camera.model)
    first_s = start_time_s(in_scene, frames, start_s)
    moving = bool(np.any(in_scene.world.velocities))
    old = in_scene.at(first_s)
    if before is not None:
        old = placed(before.model, camera.model)
    settled = settle_exposure(old)
    modes, path, lights = _course(in_scene, settled, frames, first_s, moving)
    say("tracing", 0.02)
    shots = list(
        _frames(in_scene, modes, path, lights, seed=seed, entry=scene.model.task.target, say=say)
    )
    coded = None
    if stream.codec != "none" and len(shots) > 1:
        say(f"through {stream.codec}", 0.9)
        coded = steady_quantiser(
            np.stack([shot.picture for shot in shots]),
            stream,
            camera.model.processing.frame_rate_hz,
        )
        shots = [replace(s, picture=p) for s, p in zip(shots, coded.frames, strict=True)]
    judged = None
    if judge:
        say("judging a settled picture", 0.95)
        judged = _judged(scene, camera, seed, _shown_mode(shots, before is None))
    say("done", 1.0)
    began = Begun(settled.mode, settled.exposure, before is None)
    return Sequence(scene, camera, seed, shots, path, coded, began, judged)


def _shown_mode(shots: list[Frame], own: bool) -> Mode:
    """The mode that a sequence speaks of: at the moment of the scene file, or, where the light was
    another before, in its last frame."""
    return (min(shots, key=lambda shot: abs(shot.time_s)) if own else shots[-1]).mode


def _judged(scene: Scene, camera: Camera, seed: int, mode: Mode) -> Quick:
    """The verdict on a settled picture in the mode that the frames are in: a camera that has not
    switched yet is not judged as if it had."""
    judged = quick(scene, camera, seed=seed)
    if judged.mode == mode:
        return judged
    return quick(scene, camera.set({"day_night.mode": mode}), seed=seed)


def _course(
    in_scene: CameraInScene, settled: State, frames: int, first_s: float, moving: bool
) -> tuple[list[Mode], ExposurePath, _Lights]:
    """Mode and exposure of every frame, from what the small metered pictures say."""
    settings, rate = in_scene.camera, in_scene.camera.processing.frame_rate_hz
    colours = {
        mode: settled.colour
        if mode == settled.mode
        else colour_path(in_scene, meter_light(in_scene.at(first_s), mode), mode)
        for mode in MODES
    }
    lights = _Lights(in_scene, moving, first_s, colours)
    times = np.arange(frames * max(1, settled.exposure.accumulated) + 1) / rate
    moments = times if moving else times[:1]
    lux = {
        mode: np.array(
            [estimated_illuminance(in_scene, lights.metered(mode, float(t)), mode) for t in moments]
        )
        for mode in MODES
    }
    by_day, by_night = (np.broadcast_to(lux[mode], times.shape) for mode in MODES)
    night = mode_path(settings.day_night, times, by_day, by_night, start=settled.mode).night

    def mode_at(time_s: float) -> Mode:
        return MODES[int(night[min(len(night) - 1, round(time_s * rate))])]

    def signal_at(time_s: float, shutter_s: float) -> Image:
        mode = mode_at(time_s)
        metered = metered_signal(lights.metered(mode, time_s), colours[mode])
        return shown_to_the_loop(settings, metered)

    path = exposure_path(
        settings.exposure,
        signal_at,
        settings.sensor.full_well_e,
        settings.lens.f_number,
        start=levers_of(settled.exposure),
        frame_rate_hz=rate,
        frames=frames,
    )
    return [mode_at(float(t)) for t in path.time_s], path, lights


def _frames(
    in_scene: CameraInScene,
    modes: list[Mode],
    path: ExposurePath,
    lights: _Lights,
    *,
    seed: int,
    entry: str,
    say: Progress,
) -> Iterator[Frame]:
    memory: Planes | None = None
    kept: dict[tuple[Any, ...], Image] = {}
    for k, mode in enumerate(modes):
        state = _state(in_scene, mode, path, k, lights)
        exposed = as_exposed(in_scene, state)
        time_s = lights.start_s + float(path.time_s[k])
        key = (mode, state.exposure.f_number, state.exposure.shutter_s)
        flickers = in_scene.flicker(state.exposure.shutter_s, time_s) is not None
        if lights.moving or flickers or key not in kept:
            series, _ = exposed_series(exposed, mode, state.exposure.shutter_s, [time_s])
            kept = {key: series[-1]}
        memory = next_planes(exposed, state, kept[key], memory, seed=seed, first=k)
        yield Frame(
            time_s,
            mode,
            state.exposure,
            _box(exposed.at(time_s), entry),
            shown(exposed, state, memory)[0],
        )
        say(f"frame {k + 1} of {len(modes)}", 0.05 + 0.85 * (k + 1) / len(modes))


def _box(in_scene: CameraInScene, name: str) -> tuple[int, int, int, int]:
    """Where a thing of the scene is in the picture; the whole picture if it has left."""
    cards = in_scene.world.targets[name]
    corners = np.concatenate(
        [in_scene.view.project(in_scene.world.cards[i].corners_m)[0] for i in cards]
    )
    size = np.array([in_scene.view.width_px, in_scene.view.height_px])
    if np.any(np.isnan(corners)):
        return (0, 0, int(size[0]), int(size[1]))
    low = np.clip(np.floor(corners.min(axis=0)), 0, size).astype(int)
    high = np.clip(np.ceil(corners.max(axis=0)), 0, size).astype(int)
    if np.any(high - low < 2):
        return (0, 0, int(size[0]), int(size[1]))
    return (int(low[0]), int(low[1]), int(high[0]), int(high[1]))


def _state(
    in_scene: CameraInScene, mode: Mode, path: ExposurePath, k: int, lights: _Lights
) -> State:
    """What the camera is set to in frame k."""
    camera = in_scene.camera
    metered = lights.metered(mode, float(path.time_s[k]))
    colour = lights.colours[mode]
    exposure = ExposureState(
        float(path.shutter_s[k]),
        float(path.gain_db[k]),
        camera.exposure.metering,
        path.limited_by[k],
        float(path.level[k]),
        float(path.product_s[k]) * db_to_ratio(float(path.error_db[k])),
        float(path.f_number[k]),
        camera.lens.f_number,
        int(path.accumulated[k]),
    )
    chain = readout(camera.sensor, exposure.gain_db)
    tones = tones_for(camera, metered_signal(metered, colour), exposure, chain)
    return State(
        mode, estimated_illuminance(in_scene, metered, mode), exposure, chain, colour, tones
    )
