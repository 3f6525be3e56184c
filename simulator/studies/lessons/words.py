"""Small helpers of the lessons: numbers as people say them, and steps found by what they show."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from simulator.camera.in_scene import place_camera
from simulator.judge.words import listed
from simulator.scene.build import build_world
from simulator.studies.lessons.lesson import PROBABILITY, Curve, Steps, Taken, shutter_words


def shutter(taken: Taken) -> str:
    """The shutter as people say it."""
    return shutter_words(taken.found.shutter_s)


def chance(taken: Taken) -> str:
    """The probability as a share of pictures."""
    return f"{100.0 * taken.found.probability:.0f} of 100 pictures"


def level(taken: Taken) -> float:
    """Mean level of the target [levels of 255]."""
    return taken.seen.mean_level


def noise(taken: Taken) -> float:
    """Noise of the target [levels of 255]."""
    return taken.seen.noise_temporal_levels


def probability(taken: Taken) -> float:
    """Probability of the task."""
    return taken.found.probability


def white(taken: Taken) -> float:
    """Share of the picture that is white [%]."""
    return 100.0 * taken.seen.white_fraction


def exposure(taken: Taken) -> float:
    """How much the camera makes of the light: shutter times linear gain [s]."""
    return float(taken.found.shutter_s * 10.0 ** (taken.found.gain_db / 20.0))


def electrons(taken: Taken) -> str:
    """Electrons in a pixel of the target, as people write them."""
    n = taken.seen.electrons
    return f"{n:.0f}" if n >= 10.0 else f"{n:.1f}"


def served(steps: Steps) -> list[Taken]:
    """Steps that reach the wanted probability."""
    return [t for t in steps if t.found.probability >= t.scene.model.task.wanted_probability]


def first(steps: Steps, wanted: Callable[[Taken], bool]) -> Taken | None:
    """The first step of a kind; None if there is none."""
    return next((t for t in steps if wanted(t)), None)


def labels(steps: Steps) -> str:
    """The labels of steps as a list in words."""
    return listed([t.step.label for t in steps])


def target_card(taken: Taken) -> tuple[float, float]:
    """Straight distance from the lens to the task's target, and its depth along the optical axis
    [m]."""
    model = taken.scene.model
    in_scene = place_camera(build_world(model), model.station, taken.camera.model)
    card = in_scene.world.cards[in_scene.world.targets[model.task.target][0]]
    depth = float(in_scene.view.project(card.centre_m)[1])
    return float(np.linalg.norm(in_scene.view.position_m - card.centre_m)), depth


def sensor_scale(taken: Taken) -> float:
    """Focal length over pixel pitch [px]."""
    camera = taken.camera.model
    return camera.lens.focal_length_mm * 1e3 / camera.sensor.pixel_pitch_um


CHANCE = Curve(PROBABILITY, probability, top=1.0)
