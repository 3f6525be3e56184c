"""What a prediction assumed."""

from __future__ import annotations

import numpy as np

from simulator.camera.frame_buffer import CODED_FRAMES
from simulator.camera.in_scene import CameraInScene
from simulator.camera.load import Camera
from simulator.camera.pipeline import State
from simulator.judge.people import FALSE_ALARMS, FALSE_MATCHES
from simulator.judge.readers import reader_of
from simulator.messages import Message
from simulator.scene.model import SceneModel
from simulator.scene.model_targets import Face, Person
from simulator.studies.placing import judged_entry


def conditions(
    in_scene: CameraInScene,
    state: State,
    camera: Camera,
    model: SceneModel,
    trials: int,
    draws: int = 0,
) -> list[Message]:
    """What was assumed.

    Parameters
    ----------
    trials
        Independent repetitions, or pictures, behind the probability.
    draws
        Cameras and scenes drawn from the tolerances; 0 without them.
    """
    assumed = sum(t.source == "assumed" for t in camera.tolerances.values())
    return [
        Message("condition.archetype", {"assumed": assumed}),
        Message("condition.focus", {"focus_m": in_scene.focus_m}),
        _optics(in_scene),
        *([] if in_scene.world.air is not None else [Message("condition.clear-air")]),
        Message("condition.settled"),
        *_task_conditions(model, trials, draws),
        _recording(in_scene, state),
        *in_scene.world.assumptions,
        *_camera_state(in_scene, state),
    ]


def _optics(in_scene: CameraInScene) -> Message:
    """How clean lens and dome are."""
    blocked = in_scene.camera.cover.obstruction_fraction
    if blocked == 0.0:
        return Message("condition.clean")
    return Message("condition.dirt", {"obstruction_fraction": blocked})


def _camera_state(in_scene: CameraInScene, state: State) -> list[Message]:
    out = []
    if state.exposure.accumulated > 1:
        values = {
            "frames": state.exposure.accumulated,
            "rate_hz": in_scene.camera.processing.frame_rate_hz,
        }
        out.append(Message("condition.added-frames", values))
    if in_scene.camera.day_night.mode == "auto":
        lux = {"estimated_lux": state.estimated_lux, "mode": state.mode}
        out.append(Message("condition.day-night", lux))
    if np.any(in_scene.world.velocities):
        out.append(Message("condition.one-motion"))
    return out


def _recording(in_scene: CameraInScene, state: State) -> Message:
    stream = in_scene.camera.stream
    if state.quantiser is None:
        return Message("condition.not-recorded")
    return Message(
        "condition.recorded",
        {
            "codec": stream.codec,
            "bitrate_kbit_s": stream.bitrate_kbit_s,
            "quantiser": state.quantiser,
            "frames": CODED_FRAMES,
        },
    )


def _task_conditions(model: SceneModel, trials: int, draws: int) -> list[Message]:
    task = model.task.name
    counted = {"trials": trials, "draws": draws}
    if task == "read":
        return [
            Message("condition.interval-of-trials", counted),
            reader_of(model.task.reader).assumption,
        ]
    interval = Message("condition.interval-of-pictures", counted)
    if task == "colour":
        return [interval, Message("condition.colour-names"), Message("condition.colour-panels")]
    if task == "detect":
        noticed = Message("condition.noticed", {"false_alarms": FALSE_ALARMS})
        return [interval, Message("condition.observer"), noticed]
    entry = judged_entry(model)
    if not isinstance(entry, Face | Person):
        return [interval, Message("condition.target-metric")]
    matched = {"task": task, "false_matches": FALSE_MATCHES[task]}
    behind = isinstance(entry, Person) and entry.seen_from == "back"
    return [
        interval,
        Message("condition.observer"),
        Message("condition.face-matched", matched),
        Message("condition.known-by-face"),
        *([Message("condition.from-behind")] if behind else []),
    ]
