"""The lesson on temporal noise reduction."""

from __future__ import annotations

import math

from simulator.bench.trails import measure_trail
from simulator.camera.load import Camera
from simulator.camera.sensor import readout
from simulator.scene.load import Scene
from simulator.studies.lessons.lesson import Curve, Equation, Lesson, Question, Step, Steps, Taken
from simulator.studies.lessons.words import (
    noise,
)
from simulator.studies.quick import Quick

_SHARES = (0.0, 0.3, 0.5, 0.6, 0.7)
BAR_CONTRAST = 1.0
"""The measured bar is twice as bright as its ground."""
FASTEST_PX = 8
FACE_M = 0.15
"""Width of a face [m], about (common knowledge)."""


def _measure(scene: Scene, camera: Camera, found: Quick) -> dict[str, float]:
    """Trail of a bar at the walker's pace, level, shutter and gain."""
    assert found.seen is not None
    white_e = readout(camera.model.sensor, found.gain_db).white_e
    pace = found.motion_blur_px / found.shutter_s / camera.model.processing.frame_rate_hz
    trail = measure_trail(
        camera.model,
        level=max(1e-4, found.seen.electrons / white_e / (1.0 + BAR_CONTRAST)),
        contrast=BAR_CONTRAST,
        speed_px=min(FASTEST_PX, max(1, round(pace))),
        shutter_s=found.shutter_s,
        gain_db=found.gain_db,
    )
    return {"trail_px": trail.length_px, "trail_frames": trail.frames}


def _trail(taken: Taken) -> float:
    return taken.extra["trail_px"]


def _share(taken: Taken) -> float:
    return taken.step.value


def _recursion(share: float) -> float:
    return math.sqrt((1.0 - share) / (1.0 + share))


def _tenth(taken: Taken) -> float:
    """Pictures until a tenth is left of what has vanished, by the filter alone."""
    return math.log(0.1) / math.log(_share(taken))


def _noise_told(steps: Steps) -> list[str]:
    off, last = steps[0], steps[-1]
    return [
        "Temporal noise reduction keeps a share of the last output picture and adds the new one to"
        f" it. From none to {_share(last):.1f} the noise goes from {noise(off):.1f} to"
        f" {noise(last):.1f} levels.",
        "What moves was elsewhere in the last picture. Where noise hides the difference, the camera"
        f" takes it for noise and keeps it: a trail of {_trail(off):.0f} px without, of"
        f" {_trail(last):.0f} px at {_share(last):.1f} behind a bar at the walker's pace.",
        "A still picture of the empty yard gets finer and finer; the walker, for whom the camera is"
        " there, gets a ghost.",
    ]


def _half_face(steps: Steps) -> float:
    """Half the width of a face [px]."""
    return FACE_M * steps[0].seen.pixels_per_m / 2.0


def _allowed(steps: Steps) -> list[Taken]:
    return [t for t in steps if _trail(t) <= _half_face(steps)]


NOISE_REDUCTION = Lesson(
    name="noise-reduction",
    title="What temporal noise reduction gives and takes",
    question="The picture of the dark yard is full of noise. May the noise reduction be turned up?",
    scene="car-park-led",
    camera="fixed-2mp-lowlight",
    keys=("processing.temporal_noise_reduction",),
    changes="the share of the last picture that temporal noise reduction keeps",
    fixed=(
        "one dimmed lamp, the walker at 3 km/h",
        "lens, a shutter of 1/100 s, and the noise reduction within each picture",
        "a middle part of the sensor of 960 x 540 pixels, so that the lesson is quick",
    ),
    sets=(
        "task.target=passer-by",
        "task.name=recognise",
        "target.passer-by.speed_kmh=3.0",
        "target.passer-by.heading_deg=90.0",
        "lamp.mast left.on=false",
        "lamp.mast right.dimming=0.12",
        "sensor.width_px=960",
        "sensor.height_px=540",
        "station.aim_m=[2.5, 17.0, 0.9]",
        "exposure.shutter_s=0.01",
    ),
    steps=tuple(
        Step(
            "none" if share == 0.0 else f"share {share:g}",
            share,
            (f"processing.temporal_noise_reduction={share!r}",),
        )
        for share in _SHARES
    ),
    axis="share of the last picture that is kept",
    log=False,
    curves=(
        Curve("noise of the picture [levels]", noise),
        Curve("length of the trail [px]", _trail),
    ),
    caption=lambda t: f"noise {noise(t):.1f} levels; trail {_trail(t):.0f} px",
    told=_noise_told,
    equations=(
        Equation(
            "y(k) = a · y(k−1) + (1 − a) · x(k)",
            (
                ("y", "shown picture"),
                ("x", "new picture"),
                ("a", "share of the last picture that is kept, where nothing seems to move"),
            ),
            "first-order recursive filter (Oppenheim and Schafer, Discrete-Time Signal Processing)",
            lambda s: (
                "Independent noise of standard deviation σ is left at"
                f" σ · √((1 − a)/(1 + a)): for a = {_share(s[-1]):.1f} that is"
                f" {_recursion(_share(s[-1])):.2f} σ. The lesson finds"
                f" {noise(s[-1]) / noise(s[0]):.2f} σ on the walker, who moves, and for whom the"
                f" camera"
                " takes less of the last picture."
            ),
        ),
        Equation(
            "left after n pictures = aⁿ",
            (("n", "pictures since something has left a place"),),
            "the same filter, answer to something that vanishes",
            lambda s: (
                f"For a = {_share(s[-1]):.1f} a tenth is left after {_tenth(s[-1]):.1f} pictures,"
                f" {_tenth(s[-1]) / s[-1].camera.model.processing.frame_rate_hz:.2f}"
                f" s; measured, with the camera's guard against movement:"
                f" {s[-1].extra['trail_frames']:.1f}"
                " pictures."
            ),
        ),
    ),
    questions=(
        Question(
            lambda s: (
                "By which factor did the strongest step lower the noise, and how long is the"
                " trail it made?"
            ),
            lambda s: (
                f"By {noise(s[0]) / noise(s[-1]):.1f}; {_trail(s[-1]):.0f} px, against"
                f" {_trail(s[0]):.0f} px without."
            ),
        ),
        Question(
            lambda s: (
                "Which step would you take if the trail may be no longer than half a face"
                f" ({_half_face(s):.0f} px)?"
            ),
            lambda s: (
                f"{_allowed(s)[-1].step.label.capitalize()}: noise"
                f" {noise(_allowed(s)[-1]):.1f} levels, trail {_trail(_allowed(s)[-1]):.0f} px."
                f" {'Every step does.' if len(_allowed(s)) == len(s) else ''}".strip()
                if _allowed(s)
                else "None: even without it the trail is longer."
            ),
        ),
        Question(
            lambda s: "Does it bring back what the dark has taken?",
            lambda s: (
                f"No. In each picture a pixel of the walker holds {s[0].seen.electrons:.1f}"
                " electrons; keeping old pictures adds electrons of places that have stood still,"
                " and"
                " smears those that have not. Light, or a faster lens, serves both."
            ),
        ),
    ),
    cautions=(
        "The camera is followed over the last seven pictures; with stronger settings than these"
        " trails grow longer than the pictures here would show.",
    ),
    measure=_measure,
    judged=False,
)
