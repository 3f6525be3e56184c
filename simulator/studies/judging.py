"""Judging one picture: the text read or the target looked at, and what is measured on it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from simulator.camera.frame_buffer import exposed_regions
from simulator.camera.in_scene import CameraInScene
from simulator.camera.light_field import Light
from simulator.camera.pipeline import State, with_region
from simulator.camera.recording import recorded
from simulator.camera.region_plan import RegionPlan
from simulator.camera.region_traces import Traces
from simulator.judge.colour_naming import Naming
from simulator.judge.cycles import Cycles
from simulator.judge.figures import Figures, figures_of_levels, plate_figures, plate_signal
from simulator.judge.parts import judged_part
from simulator.judge.people import FULL, Observed, observed
from simulator.judge.picture_figures import Measured, PictureFigures, picture_figures
from simulator.judge.readers import reader_of
from simulator.judge.result_parts import Confused, Reading
from simulator.judge.retakes import Retakes, retakes_of
from simulator.judge.sight import Sight, View
from simulator.judge.silhouette import Silhouette, seen_silhouette
from simulator.judge.target import JudgedTarget, JudgedText, mean_wavelength_nm, plan_region
from simulator.judge.tasks import judge_task
from simulator.judge.trials import TEXTS, Probability, quick_stray_light, read_probability
from simulator.units import Image

Progress = Callable[[str, float], None]


@dataclass(frozen=True)
class Judged:
    """What judging gave: `region` is the light of the target's part of the picture, `target`
    the part of it that the task looks at, `sight` what it takes to look again."""

    probability: Probability | Cycles | Naming
    target: JudgedTarget
    sight: Sight
    figures: Figures
    picture: PictureFigures
    shown: Image
    region: Image
    frame: NDArray[np.uint8]


def reading_of(judged: Judged) -> Reading | None:
    """How a text was read, as the verdict tells it; None unless one was."""
    reading = judged.probability
    if not isinstance(reading, Probability):
        return None
    return Reading(
        reader=judged.sight.reader.name,
        random_texts=reading.texts,
        named_text_probability=reading.named,
        named_text_probability_low=reading.named_low,
        named_text_probability_high=reading.named_high,
        confused=tuple(Confused(**c._asdict()) for c in reading.confused),
    )


class TextRead(NamedTuple):
    """A text read in its finely traced part of the picture, before the whole picture is known.

    `others` holds layers of the random texts that were read beside it, by text.
    """

    probability: Probability
    plan: RegionPlan
    traces: Traces
    others: dict[str, Traces]
    stray_light: Image


def read_text(
    in_scene: CameraInScene, state: State, target: JudgedText, seed: int, trials: int, reader: str
) -> TextRead:
    """Read the text in the finely traced part of the picture that holds it."""
    plan, traces = plan_region(in_scene, state, target), Traces()
    others: dict[str, Traces] = {}
    stray_light = quick_stray_light(in_scene, state)
    probability = read_probability(
        in_scene, state, target, seed=seed, trials=trials, stray_light=stray_light, plan=plan,
        traces=traces, reader=reader, texts=TEXTS, others=others,
    )  # fmt: skip
    return TextRead(probability, plan, traces, others, stray_light)


def judge_text(
    in_scene: CameraInScene,
    state: State,
    target: JudgedText,
    read: TextRead,
    buffer: list[Image],
    light: Light,
    seed: int,
    say: Progress,
    reader: str,
) -> Judged:
    """Set the finely traced part that was read into the whole picture, and measure it there."""
    plan, shutter = read.plan, state.exposure.shutter_s
    region = exposed_regions(
        in_scene, state.mode, shutter, plan, read.stray_light, [0.0], read.traces
    )[0]
    shown = with_region(light, region, plan.box_px[:2])
    buffer = [shown.rate if rate is light.rate else rate for rate in buffer]
    say("exposing and processing", 0.5)
    frame = recorded(in_scene, state, buffer, seed=seed)[0]
    view = View(plan, read.traces, None, read.others)
    sight = Sight(target.entry, "read", reader_of(reader), seed, {(): view})
    figures = plate_figures(in_scene, state, target, plan, region, frame)
    silhouette = _silhouette(in_scene, state, target)
    picture = picture_figures(
        Measured(in_scene, state, target, silhouette, buffer, light.stray_light, frame, seed)
    )
    return Judged(read.probability, target, sight, figures, picture, buffer[-1], region, frame)


class Looked(NamedTuple):
    """The target looked at in its part of the picture, before the whole picture is known.

    `target` is the part of it that the task looks at; `seen` what the observer says, None for a
    task that needs the whole picture.
    """

    target: JudgedTarget
    silhouette: Silhouette
    place: Retakes
    seen: Observed | None


def look_at_target(
    in_scene: CameraInScene, state: State, target: JudgedTarget, task: str, seed: int
) -> Looked:
    """Look at a person in the part of the picture that shows him; of things, only find it."""
    target = judged_part(in_scene, target, task)
    silhouette = _silhouette(in_scene, state, target)
    place = retakes_of(in_scene, state, target, silhouette, seed=seed)
    seen = None if task == "colour" else observed(place, target, silhouette, task, FULL)
    return Looked(target, silhouette, place, seen)


def judge_cycles(
    in_scene: CameraInScene,
    state: State,
    looked: Looked,
    buffer: list[Image],
    light: Light,
    task: str,
    seed: int,
    say: Progress,
) -> Judged:
    """Ask for the contrast that is left on the target, or for its colour, in the whole picture."""
    say("exposing and processing", 0.5)
    frame = recorded(in_scene, state, buffer, seed=seed)[0]
    target, silhouette, place, seen = looked
    judgement = judge_task(
        in_scene, state, target, silhouette, buffer, task, seed=seed, place=place, seen=seen
    )
    x0, y0, x1, y1 = silhouette.window_px
    region = buffer[-1][y0:y1, x0:x1]
    view = View(place.plan, place.traces(""), silhouette, {}, place.traces)
    sight = Sight(target.entry, task, reader_of("person"), seed, {(): view})
    figures = figures_of_levels(
        in_scene,
        state,
        target,
        _rates(plate_signal(region, state), silhouette),
        silhouette.cut(frame)[silhouette.inside],
        mean_wavelength_nm(in_scene, state, target),
    )
    picture = picture_figures(
        Measured(in_scene, state, target, silhouette, buffer, light.stray_light, frame, seed)
    )
    return Judged(judgement, target, sight, figures, picture, buffer[-1], region, frame)


def _silhouette(in_scene: CameraInScene, state: State, target: JudgedTarget) -> Silhouette:
    """The pixels that show a target."""
    smear = in_scene.smear_px(state.exposure.shutter_s, target.card.centre_m)[target.card.group]
    return seen_silhouette(in_scene, target, float(np.hypot(*smear)))


def _rates(signal: Image, silhouette: Silhouette) -> tuple[float, float, float]:
    """Signal of the lighter and the darker of target and ring, and of the target [e-/s]."""
    own = float(signal[silhouette.inside].mean())
    ring = float(signal[silhouette.ring].mean()) if np.any(silhouette.ring) else own
    return max(own, ring), min(own, ring), own
