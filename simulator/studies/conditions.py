"""What a prediction assumed, in plain sentences."""

from __future__ import annotations

import numpy as np

from simulator.camera.frame_buffer import CODED_FRAMES
from simulator.camera.in_scene import CameraInScene
from simulator.camera.load import Camera
from simulator.camera.pipeline import State
from simulator.judge.readers import reader_of
from simulator.scene.model import SceneModel
from simulator.scene.model_targets import Face, Person


def conditions(
    in_scene: CameraInScene,
    state: State,
    camera: Camera,
    model: SceneModel,
    trials: int,
    draws: int = 0,
) -> list[str]:
    """What was assumed, in plain sentences."""
    assumed = sum(t.source == "assumed" for t in camera.tolerances.values())
    out = [
        "The camera is a generic archetype, not a product; "
        f"{assumed} of its numbers are marked assumed.",
        f"Focus stands at {in_scene.camera.lens.focus_m:g} m; lens and dome are clean and dry"
        + ("." if in_scene.world.air is not None else "; the air is clear."),
        "Exposure, white balance and mode have settled before the picture is taken.",
        *_task_conditions(model, trials, draws),
        _recording(in_scene, state),
        *in_scene.world.assumptions,
    ]
    exposure = state.exposure
    if exposure.accumulated > 1:
        rate_hz = in_scene.camera.processing.frame_rate_hz
        out.append(
            f"The camera adds up {exposure.accumulated} frames for each picture, without gaps"
            f" between them; it shows {rate_hz:.2g} pictures a second."
        )
    if in_scene.camera.day_night.mode == "auto":
        out.append(
            f"The camera takes the scene for {state.estimated_lux:.2g} lx by its own signal and"
            f" chose {state.mode} mode; between its two thresholds it would stay as it was, here"
            " day."
        )
    if np.any(in_scene.world.velocities):
        out.append("Everything that moves together smears as its judged target does.")
    return out


def _recording(in_scene: CameraInScene, state: State) -> str:
    stream = in_scene.camera.stream
    if state.quantiser is None:
        return "No loss to recording: the picture is judged before any compression."
    return (
        f"The picture is judged behind {stream.codec} at {stream.bitrate_kbit_s:g} kbit/s, which"
        f" this scene fills at quantiser {state.quantiser}: the steady quantiser that keeps the bit"
        f" rate; the shown picture is the {CODED_FRAMES}th after a key picture or later."
    )


def _task_conditions(model: SceneModel, trials: int, draws: int) -> list[str]:
    held = "it does not hold the tolerances of the profile and the scene"
    if draws > 0:
        held = f"the tolerances of the profile and the scene are in it by {draws} draws"
    if model.task.name == "read":
        return [
            f"The interval is that of {trials} trials; {held}.",
            reader_of(model.task.reader).assumption,
        ]
    if model.task.name == "colour":
        return [
            f"The interval is the spread over {trials} noisy pictures, not that among viewers;"
            f" {held}.",
            "Viewers give one of eleven colour names under the display's white."
            " A lamp that makes everything of one colour gets that colour right by luck.",
            "Panels that face the sky are left out; a monochrome picture is named by luck.",
        ]
    return [
        f"The interval is the spread over {trials} noisy pictures, not that among viewers; {held}.",
        "Probability by the contrast that an eye at a display has left across the target (TTP"
        " metric, anchored at Johnson's criteria; from memory), not checked against viewers.",
        *_of_people(model),
    ]


def _of_people(model: SceneModel) -> list[str]:
    entry = next(t for t in model.target if t.name == model.task.target)
    if model.task.name == "detect" or not isinstance(entry, Face | Person):
        return []
    out = [
        "A person is recognised and identified by the detail of the face alone; an outline or"
        " clothing does not count."
    ]
    if isinstance(entry, Person) and entry.seen_from == "back":
        out.append("The person is seen from behind: there is no face to know him by.")
    return out
