"""The lesson on pixels."""

from __future__ import annotations

from simulator.judge.density import EDITION, density_class
from simulator.scene.targets.plate import plate_design
from simulator.studies.lessons.lesson import Curve, Equation, Lesson, Question, Step, Steps, Taken
from simulator.studies.lessons.words import (
    CHANCE,
    chance,
    sensor_scale,
    served,
    target_card,
)

_FOCALS = (5.0, 7.0, 10.0, 14.0, 20.0, 35.0)


def _height(taken: Taken) -> float:
    return taken.seen.character_height_px or 0.0


def _field(taken: Taken) -> float:
    return taken.camera.model.sensor.width_px / taken.seen.pixels_per_m


def _by_formula(taken: Taken) -> float:
    name = taken.scene.model.task.target
    entry = next(t for t in taken.scene.model.target if t.name == name)
    mm = plate_design(entry.design).character_height_mm  # type: ignore[union-attr]
    return sensor_scale(taken) * mm / 1000.0 / target_card(taken)[1]


def _pixels_told(steps: Steps) -> list[str]:
    low, high = steps[0], steps[-1]
    out = [
        f"With {low.step.label} the field is {_field(low):.0f} m wide at the plate and its"
        f" characters are {_height(low):.1f} px high; with {high.step.label} it is"
        f" {_field(high):.1f} m and {_height(high):.0f} px.",
    ]
    kept = served(steps)
    if kept:
        out.append(
            f"What is wanted is reached from {kept[0].step.label} on, at {_height(kept[0]):.1f} px."
            " There is light in plenty and nothing moves: pixels alone decide here, and more of"
            " them than that bring nothing but a narrower field."
        )
    return out


PIXELS = Lesson(
    name="pixels",
    title="What pixels on the target do",
    question="How long must the lens be to read a plate at that distance?",
    scene="yard-noon",
    camera="fixed-2mp-lowlight",
    keys=("lens.focal_length_mm",),
    changes="the focal length of the lens, and with it the width of the field",
    fixed=(
        "full sun; the car stands still, 27 m away",
        "the sensor and its pixels; f/4 at every focal length, focus on the plate; exposure"
        " automatic",
    ),
    sets=(
        "lens.f_number=4.0",
        "lens.focus_m=27.0",
        "target.plate.speed_kmh=0.0",
        "station.ground_position_m=[0.0, -8.0]",
    ),
    steps=tuple(Step(f"{f:g} mm", f, (f"lens.focal_length_mm={f!r}",)) for f in _FOCALS),
    axis="focal length [mm]",
    log=True,
    curves=(CHANCE, Curve("height of the characters [px]", _height, log=True)),
    caption=lambda t: (
        f"{chance(t)} read; characters {_height(t):.1f} px high; field {_field(t):.1f} m wide"
    ),
    told=_pixels_told,
    equations=(
        Equation(
            "h = H · f / (p · d)",
            (
                ("h", "height on the sensor [px]"),
                ("H", "height of the characters [m]"),
                ("f", "focal length [m]"),
                ("p", "pixel pitch [m]"),
                ("d", "distance along the optical axis [m]"),
            ),
            "similar triangles of the pinhole camera",
            lambda s: (
                f"With {s[2].step.label}: {_by_formula(s[2]):.1f} px by the formula,"
                f" {_height(s[2]):.1f} px in the picture, in which the plate is turned and seen"
                f" from"
                " above."
            ),
        ),
        Equation(
            "density = f / (p · d)",
            (("density", "pixels on a metre of the target [px/m]"),),
            f"classes of {EDITION}",
            lambda s: (
                "; ".join(
                    f"{t.step.label}: {t.seen.pixels_per_m:.0f} px/m,"
                    f" {density_class(t.seen.pixels_per_m).density_class}"
                    for t in s
                )
                + "."
            ),
        ),
    ),
    questions=(
        Question(
            lambda s: (
                "Which focal length of this lesson is the shortest that does, and how high"
                " are the characters then?"
            ),
            lambda s: (
                f"{served(s)[0].step.label}, {_height(served(s)[0]):.1f} px."
                if served(s)
                else "None does."
            ),
        ),
        Question(
            lambda s: (
                "The plate is to be read at twice the distance. Which focal length gives the"
                " same characters?"
            ),
            lambda s: (
                f"Twice as long: {2 * served(s)[0].step.value:g} mm; the field at the plate"
                f" stays {_field(served(s)[0]):.1f} m wide."
                if served(s)
                else "Twice that of any step here."
            ),
        ),
        Question(
            lambda s: (
                "Which class of pixel density does that shortest focal length reach, and is"
                " the class a promise?"
            ),
            lambda s: (
                f"{density_class(served(s)[0].seen.pixels_per_m).density_class.capitalize()}"
                f" ({served(s)[0].seen.pixels_per_m:.0f} px/m). No promise: the class counts"
                f" pixels. At"
                " night, in motion or out of focus the same density fails, as the other lessons"
                " show."
                if served(s)
                else "No class is a promise."
            ),
        ),
    ),
    cautions=(
        "How small a text people and programs read is modelled by common practice (half of all"
        " plates at about 8 px of height, without noise) and differs among readers.",
    ),
)
