"""The lesson on backlight."""

from __future__ import annotations

import math

from simulator.studies.lessons.lesson import Curve, Equation, Lesson, Question, Step, Steps, Taken
from simulator.studies.lessons.words import (
    chance,
    exposure,
    level,
    probability,
    shutter,
    white,
)

LEVEL = Curve("mean level of the target [of 255]", level, top=255.0)
WHITE = Curve("share of the picture that is white [%]", white, top=60.0)


def _contrast(taken: Taken) -> float:
    ratios = [getattr(s, "contrast_ratio", None) for s in taken.scene.model.surface]
    return float(next(r for r in ratios if r is not None))


def _range_db(taken: Taken) -> float:
    sensor = taken.camera.model.sensor
    return 20.0 * math.log10(sensor.full_well_e / sensor.read_noise_e)


def _metered(steps: Steps) -> list[Taken]:
    """The steps that change the metering alone."""
    return [t for t in steps if t.camera.model.wide_range.method == "off"]


def _wide(steps: Steps) -> Taken:
    return next(t for t in steps if t.camera.model.wide_range.method != "off")


def _backlight_told(steps: Steps) -> list[str]:
    dark, best, wide = steps[0], max(_metered(steps), key=level), _wide(steps)
    return [
        f"With {dark.step.label} the bright street rules the exposure: the visitor ends at level"
        f" {level(dark):.0f} of 255, a dark figure, and {white(dark):.0f} % of the picture is"
        " white.",
        f"{best.step.label.capitalize()} looks at the visitor: level {level(best):.0f}, and"
        f" {white(best):.0f} % of the picture is washed out to white. What was in the street there"
        " is gone and no later work on the picture brings it back.",
        f"Wide range takes {wide.camera.model.wide_range.exposures} exposures"
        f" {wide.camera.model.wide_range.ratio:g} times apart and joins them: level"
        f" {level(wide):.0f} with {white(wide):.0f} % white.",
    ]


def _highlight(steps: Steps) -> str:
    plain, other = steps[0], next(t for t in steps if "highlight" in t.step.label)
    change = level(other) - level(plain)
    if abs(change) < 1.0:
        return (
            f"Nothing: {level(other):.0f} as with {plain.step.label}. It looks away from what is"
            f" white, and with {white(plain):.1f} % white there was nothing to look away from. It"
            " is made for headlamps and sun glints."
        )
    word = "brighter" if change > 0.0 else "darker"
    return f"The visitor gets {word} by {abs(change):.0f} levels than with {plain.step.label}."


BACKLIGHT = Lesson(
    name="backlight",
    title="What backlight does, and what helps",
    question="A visitor stands in a bright doorway. Why so dark, and which setting helps?",
    scene="doorway-noon",
    camera="fixed-2mp-lowlight",
    keys=("exposure.metering", "wide_range.method"),
    changes="what the camera's exposure looks at; in the last step, instead, its wide range is"
    " switched on",
    fixed=(
        "the street, the lamps of the hall, the visitor",
        "lens, shutter limits and processing; the automatic exposure stays automatic",
    ),
    # the visitor, from head to hands
    sets=("exposure.window=[0.45,0.45,0.55,0.9]",),
    steps=(
        Step("average metering", 0.0, ("exposure.metering=average",)),
        Step("centre metering", 1.0, ("exposure.metering=centre",)),
        Step("backlight compensation", 2.0, ("exposure.metering=backlight",)),
        Step("highlight suppression", 3.0, ("exposure.metering=highlight",)),
        Step("wide range", 4.0, ("exposure.metering=average", "wide_range.method=exposures")),
    ),
    axis="",
    log=False,
    curves=(LEVEL, WHITE),
    caption=lambda t: (
        f"recognised in {chance(t)}; visitor at level {level(t):.0f} of 255;"
        f" {white(t):.0f} % of the picture white; {shutter(t)}"
    ),
    told=_backlight_told,
    equations=(
        Equation(
            "level of the visitor = m · L_visitor / L_metered",
            (
                ("m", "wanted mean of the linear picture as a share of white"),
                ("L_visitor", "luminance of the visitor [cd/m²]"),
                ("L_metered", "mean luminance of what the metering looks at [cd/m²]"),
            ),
            "the law of any loop that holds a mean; a wanted mean of 0.18 is common practice,"
            " no source",
            lambda s: (
                f"From {s[0].step.label} to {max(_metered(s), key=level).step.label} the"
                f" camera takes in {exposure(max(_metered(s), key=level)) / exposure(s[0]):.1f}"
                f" times"
                " the light, and the visitor gets so much brighter in the linear picture; the tone"
                f" curve makes level {level(max(_metered(s), key=level)):.0f} of level"
                f" {level(s[0]):.0f}."
            ),
        ),
        Equation(
            "range of a sensor = 20 · log₁₀(full well / dark noise)",
            (
                ("full well", "electrons that a pixel holds [e⁻]"),
                ("dark noise", "noise of a pixel without light [e⁻]"),
            ),
            "EMVA 1288, dynamic range (its saturation and threshold simplified to full well and"
            " dark noise)",
            lambda s: (
                f"Here {_range_db(s[0]):.0f} dB. The street is {_contrast(s[0]):.0f} times as"
                f" bright as the visitor, 20 · log₁₀({_contrast(s[0]):.0f}) ="
                f" {20.0 * math.log10(_contrast(s[0])):.0f} dB."
            ),
        ),
    ),
    questions=(
        Question(
            lambda s: "Which metering shows the visitor brightest, and what is the price?",
            lambda s: (
                f"{max(_metered(s), key=level).step.label.capitalize()}: level"
                f" {max(map(level, _metered(s))):.0f} against {level(s[0]):.0f}. The price is"
                f" {white(max(_metered(s), key=level)):.0f} % of the picture washed out."
            ),
        ),
        Question(
            lambda s: (
                f"The street is {_contrast(s[0]):.0f} times as bright as the visitor. Is that"
                " too much for this sensor?"
            ),
            lambda s: (
                f"{'No' if _range_db(s[0]) > 20 * math.log10(_contrast(s[0])) else 'Yes'}:"
                f" it spans {_range_db(s[0]):.0f} dB and the scene needs"
                f" {20 * math.log10(_contrast(s[0])):.0f} dB. What is short is the picture of 255"
                " levels: one exposure and one tone curve must place both in it."
            ),
        ),
        Question(
            lambda s: "In which step is the visitor recognised most surely?",
            lambda s: (
                "; ".join(f"{t.step.label}: {chance(t)}" for t in s).capitalize()
                + f". Most surely with {max(s, key=probability).step.label}. A bright picture alone"
                " does not do it: what counts is the contrast within the visitor's own figure,"
                " which a tone curve that presses a wide range together also presses."
            ),
        ),
        Question(
            lambda s: "What did highlight suppression change, and why?",
            _highlight,
        ),
        Question(
            lambda s: "Does backlight compensation widen the range of the camera?",
            lambda s: (
                "No. It is only metering: it moves the whole picture up, street and visitor"
                f" alike, by a factor of {exposure(s[2]) / exposure(s[0]):.1f} here. Only the wide"
                f" range shows both: level {level(_wide(s)):.0f} with {white(_wide(s)):.0f} %"
                f" white,"
                f" against level {level(s[2]):.0f} with {white(s[2]):.0f} % white."
            ),
        ),
    ),
)
