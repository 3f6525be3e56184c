"""Judging one picture: the text read or the target looked at, and what is measured on it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simulator.camera.history import exposed_patches
from simulator.camera.light_field import Light
from simulator.camera.patch import Traces
from simulator.camera.pipeline import (
    State,
    with_patch,
)
from simulator.camera.recording import recorded
from simulator.camera.rig import Rig
from simulator.judge.colour_naming import Naming
from simulator.judge.cycles import Cycles
from simulator.judge.figures import Figures, figures_of_levels, plate_figures, plate_signal
from simulator.judge.parts import judged_part
from simulator.judge.picture_figures import PictureFigures, picture_figures
from simulator.judge.readers import reader_of
from simulator.judge.sight import Sight, View
from simulator.judge.silhouette import Silhouette, seen_silhouette
from simulator.judge.target import (
    JudgedTarget,
    JudgedText,
    mean_wavelength_nm,
    plan_patch,
)
from simulator.judge.tasks import judge_task
from simulator.judge.trials import Probability, read_probability
from simulator.units import Image

Progress = Callable[[str, float], None]


@dataclass(frozen=True)
class Judged:
    """What judging gave: `patch` is the light of the target's part of the picture, `target`
    the part of it that the task looks at, `sight` what it takes to look again."""

    probability: Probability | Cycles | Naming
    target: JudgedTarget
    sight: Sight
    figures: Figures
    picture: PictureFigures
    shown: Image
    patch: Image
    frame: NDArray[np.uint8]


def judge_text(
    rig: Rig,
    state: State,
    target: JudgedText,
    history: list[Image],
    light: Light,
    seed: int,
    say: Progress,
    trials: int,
    reader: str,
) -> Judged:
    """Read the text in the finely traced picture."""
    plan, traces = plan_patch(rig, state, target), Traces()
    shutter = state.exposure.shutter_s
    patch = exposed_patches(rig, state.mode, shutter, plan, light.veil, [0.0], traces)[0]
    shown = with_patch(light, patch, plan.box_px[:2])
    history = [shown.rate if rate is light.rate else rate for rate in history]
    say("exposing and processing", 0.4)
    frame = recorded(rig, state, history, seed=seed)[0]
    say("reading the text", 0.5)
    probability = read_probability(
        rig, state, target, seed=seed, trials=trials, veil=light.veil, plan=plan, traces=traces,
        reader=reader,
    )  # fmt: skip
    sight = Sight(target.thing, "read", reader_of(reader), seed, {(): View(plan, traces, None)})
    figures = plate_figures(rig, state, target, plan, patch, frame)
    picture = picture_figures(
        rig, state, target, _silhouette(rig, state, target), history, light.veil, frame, seed=seed
    )
    return Judged(probability, target, sight, figures, picture, history[-1], patch, frame)


def judge_cycles(
    rig: Rig,
    state: State,
    target: JudgedTarget,
    history: list[Image],
    light: Light,
    task: str,
    seed: int,
    say: Progress,
) -> Judged:
    """Ask for the contrast that is left on the target, or for its colour."""
    say("exposing and processing", 0.4)
    frame = recorded(rig, state, history, seed=seed)[0]
    target = judged_part(rig, target, task)
    silhouette = _silhouette(rig, state, target)
    say("looking at the target", 0.6)
    found = judge_task(rig, state, target, silhouette, history, task, seed=seed)
    x0, y0, x1, y1 = silhouette.window_px
    patch = history[-1][y0:y1, x0:x1]
    sight = Sight(target.thing, task, reader_of("person"), seed)
    figures = figures_of_levels(
        rig,
        state,
        target,
        _rates(plate_signal(patch, state), silhouette),
        silhouette.cut(frame)[silhouette.inside],
        mean_wavelength_nm(rig, state, target),
    )
    picture = picture_figures(rig, state, target, silhouette, history, light.veil, frame, seed=seed)
    return Judged(found, target, sight, figures, picture, history[-1], patch, frame)


def _silhouette(rig: Rig, state: State, target: JudgedTarget) -> Silhouette:
    """The pixels that show a target."""
    smear = rig.smear_px(state.exposure.shutter_s, target.card.centre_m)[target.card.group]
    return seen_silhouette(rig, target, float(np.hypot(*smear)))


def _rates(signal: Image, silhouette: Silhouette) -> tuple[float, float, float]:
    """Signal of the lighter and the darker of target and ring, and of the target [e-/s]."""
    own = float(signal[silhouette.inside].mean())
    ring = float(signal[silhouette.ring].mean()) if np.any(silhouette.ring) else own
    return max(own, ring), min(own, ring), own
