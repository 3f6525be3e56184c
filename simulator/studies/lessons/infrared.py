"""The lesson on infrared: too little, enough, too much."""

from __future__ import annotations

from simulator.studies.lessons.lesson import Curve, Equation, Lesson, Question, Step, Steps, Taken
from simulator.studies.lessons.words import (
    CHANCE,
    chance,
    electrons,
    labels,
    served,
    target_card,
)

_INTENSITIES = (0.03, 0.1, 0.3, 3.0, 30.0, 100.0)


def _clipped(taken: Taken) -> float:
    return 100.0 * taken.seen.clipped_fraction


def _infrared_told(steps: Steps) -> list[str]:
    kept, low, high = served(steps), steps[0], steps[-1]
    out = [
        f"At {low.step.label} a pixel of the plate catches {low.seen.electrons:.1f} electrons, and"
        f" the plate is read in {chance(low)}.",
    ]
    if kept:
        out.append(f"What is wanted is reached at {labels(kept)}.")
    out.append(
        f"At {high.step.label}, {high.step.value / low.step.value:.0f} times the first,"
        f" {_clipped(high):.0f} % of the plate is pure white and it is read in {chance(high)}: a"
        " retroreflective plate sends infrared straight back to a camera beside the lamp, while the"
        " exposure looks at far more than the plate and sees mostly what is dark."
    )
    return out


def _irradiance(taken: Taken) -> float:
    return taken.step.value / target_card(taken)[0] ** 2


def _upper(steps: Steps) -> str:
    kept = served(steps)
    if not kept or kept[-1] is steps[-1]:
        return "Within this lesson it did no harm."
    after = steps[list(steps).index(kept[-1]) + 1]
    return (
        f"From {after.step.label} on the plate fails again ({chance(after)}), with"
        f" {_clipped(after):.0f} % of it white. More light is no remedy there: meter on the plate,"
        " take a shorter shutter, or less infrared."
    )


INFRARED = Lesson(
    name="infrared",
    title="Infrared: too little, enough, too much",
    question="How strong must the infrared lamp be to read a plate at night, and can it be too"
    " strong?",
    scene="depot-gate-infrared",
    camera="plate-2mp-infrared",
    keys=("illuminator.mast infrared.radiant_intensity_w_per_sr",),
    changes="the radiant intensity of the infrared lamp beside the camera",
    fixed=(
        "lamp's place, beam and wavelength; plate, truck and its 15 km/h",
        "lens and processing; longest shutter 1/1000 s, exposure automatic within its limits",
    ),
    sets=(),
    steps=tuple(
        Step(
            f"{value:g} W/sr",
            value,
            (f"illuminator.mast infrared.radiant_intensity_w_per_sr={value!r}",),
        )
        for value in _INTENSITIES
    ),
    axis="radiant intensity of the lamp [W/sr]",
    log=True,
    curves=(CHANCE, Curve("share of the plate that is white [%]", _clipped, top=100.0)),
    caption=lambda t: (
        f"{chance(t)} read; {electrons(t)} e⁻ in a pixel of the plate;"
        f" {_clipped(t):.0f} % of it white"
    ),
    told=_infrared_told,
    equations=(
        Equation(
            "E = I / d²",
            (
                ("E", "irradiance at the plate, square to the beam [W/m²]"),
                ("I", "radiant intensity of the lamp in that direction [W/sr]"),
                ("d", "distance from lamp to plate [m]"),
            ),
            "inverse square law (CIE International Lighting Vocabulary, radiant intensity and"
            " irradiance)",
            lambda s: (
                f"Here d is about {target_card(s[0])[0]:.1f} m, so that {s[3].step.label} give"
                f" {_irradiance(s[3]):.2g} W/m² on the axis of the beam; the tool finds"
                f" {s[3].seen.irradiance_w_m2:.2g} W/m² on the plate, which lies a little off"
                f" that axis"
                " and is tilted to it."
            ),
        ),
    ),
    questions=(
        Question(
            lambda s: "Which is the least intensity of this lesson that does?",
            lambda s: (
                f"{served(s)[0].step.label}, read in {chance(served(s)[0])}."
                if served(s)
                else "None of them."
            ),
        ),
        Question(
            lambda s: (
                "The gate moves twice as far away. How much intensity keeps the light on the"
                " plate, and is that enough?"
            ),
            lambda s: (
                "Four times as much, by the inverse square law. The sensor then gets as much"
                " from each part of the plate as before, but the characters shrink from"
                f" {s[0].seen.character_height_px:.0f} to"
                f" {(s[0].seen.character_height_px or 0.0) / 2:.0f} pixels:"
                " see the lesson on pixels."
            ),
        ),
        Question(lambda s: "From where on is there too much of it?", _upper),
    ),
    cautions=(
        "Infrared is not seen and the eye does not turn away from it: keep the maker's distance,"
        " and leave the classification by IEC 62471 to the maker and a competent person.",
    ),
)
