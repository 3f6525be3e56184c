"""The lesson on falling light."""

from __future__ import annotations

import math

from simulator.studies.lessons.lesson import Curve, Equation, Lesson, Question, Step, Steps, Taken
from simulator.studies.lessons.words import (
    CHANCE,
    chance,
    electrons,
    first,
    labels,
    noise,
    served,
    shutter,
)

NOISE = Curve("noise of the target [levels]", noise)


_LADDER = (300.0, 65.0, 10.0, 5.0, 1.0, 0.1)


def _snr(taken: Taken) -> float:
    """Signal over noise of one pixel, from its electrons and the sensor's read noise."""
    n = taken.seen.electrons
    return n / math.sqrt(n + taken.camera.model.sensor.read_noise_e**2)


def _night(steps: Steps) -> Taken | None:
    return first(steps, lambda t: t.found.mode == "night")


def _low_told(steps: Steps) -> list[str]:
    top, last = steps[0], steps[-1]
    kept = served(steps)
    out = [
        f"From {top.step.label} to {last.step.label} the light falls by a factor of"
        f" {top.step.value / last.step.value:.0f}. A pixel of the plate catches"
        f" {top.seen.electrons:.0f} electrons at first and {last.seen.electrons:.1f} at last, and"
        f" its noise in the picture grows from {noise(top):.1f} to {noise(last):.0f} levels.",
        f"The automatic spends the shutter first, then the gain: {shutter(top)} and"
        f" {top.found.gain_db:.0f} dB at {top.step.label}, {shutter(last)} and"
        f" {last.found.gain_db:.0f} dB at {last.step.label}. Gain makes the picture brighter, not"
        " better: it multiplies signal and noise alike.",
    ]
    night = _night(steps)
    if night is not None:
        out.append(
            f"At {night.step.label} the camera takes its infrared-cut filter out: colour is gone,"
            " and the near infrared that daylight brings along counts too."
        )
    out.append(
        f"The plate is read as surely as wanted at {labels(kept)}."
        if kept
        else "The plate is read as surely as wanted nowhere."
    )
    return out


def _filter_effect(steps: Steps) -> str:
    night = _night(steps)
    days = [t for t in steps if t.found.mode == "day"]
    if night is None or not days:
        return "In no step of this lesson did it."
    day = days[-1]
    per_lux = [t.seen.electrons / t.found.shutter_s / t.step.value for t in (day, night)]
    return (
        f"At {night.step.label}. Without the filter a lux of this light gives"
        f" {per_lux[1] / per_lux[0]:.1f} times the electrons, so that the noise goes from"
        f" {noise(day):.1f} levels at {day.step.label} to {noise(night):.1f} at"
        f" {night.step.label}. Light without near infrared, such as that of an LED, gives no such"
        " gift."
    )


LOW_LIGHT = Lesson(
    name="low-light",
    title="What falling light does",
    question="How dark may it get before the plate of a parked car is lost?",
    scene="car-park-led",
    camera="fixed-2mp-lowlight",
    keys=("natural_light.illuminance_lux",),
    changes="the natural light on the ground, from a lit room's 300 lx to a tenth of a lux",
    fixed=(
        "all lamps off; the light keeps the spectrum of daylight, however little it is",
        "lens and processing; exposure and the change to night mode stay automatic",
    ),
    sets=(
        "lamp.mast left.on=false",
        "lamp.mast right.on=false",
        "natural_light.spectrum=daylight",
    ),
    steps=tuple(
        Step(f"{lux:g} lx", lux, (f"natural_light.illuminance_lux={lux!r}",)) for lux in _LADDER
    ),
    axis="natural light on the ground [lx]",
    log=True,
    curves=(CHANCE, NOISE),
    caption=lambda t: (
        f"{chance(t)} read; {t.found.mode} mode, {shutter(t)},"
        f" {t.found.gain_db:.0f} dB; {electrons(t)} e⁻ in a pixel of the plate"
    ),
    told=_low_told,
    equations=(
        Equation(
            "SNR = N / √(N + σ²)",
            (
                ("SNR", "signal over noise of one pixel in one frame"),
                (
                    "N",
                    "electrons that light sets free in it; light comes in grains, so that N"
                    " itself varies by √N (Poisson)",
                ),
                ("σ", "noise of the dark pixel [e⁻]"),
            ),
            "EMVA 1288, linear model, temporal noise in electrons (quantisation left out)",
            lambda s: (
                f"At {s[0].step.label} N = {s[0].seen.electrons:.0f}, SNR ="
                f" {_snr(s[0]):.0f}; at {s[-1].step.label} N = {s[-1].seen.electrons:.1f} against"
                f" σ ="
                f" {s[-1].camera.model.sensor.read_noise_e:.1f}, SNR = {_snr(s[-1]):.2f}."
            ),
        ),
    ),
    questions=(
        Question(
            lambda s: "At which step did the camera give up colour, and did that help?",
            _filter_effect,
        ),
        Question(
            lambda s: (
                f"From {s[0].step.label} to {s[1].step.label}: by how much do light and"
                " electrons fall, and by how much the SNR?"
            ),
            lambda s: (
                f"Light by {s[0].step.value / s[1].step.value:.1f}, electrons by"
                f" {s[0].seen.electrons / s[1].seen.electrons:.1f}, the SNR by"
                f" {_snr(s[0]) / _snr(s[1]):.1f}: about the square root, since here the grains of"
                f" light"
                " make most of the noise."
            ),
        ),
        Question(
            lambda s: (
                f"At {s[-1].step.label} the plate fails. What would help?"
                if s[-1].found.probability < s[-1].scene.model.task.wanted_probability
                else f"At {s[-1].step.label} the plate is still read: what holds it?"
            ),
            lambda s: (
                f"Up to {s[-2].step.label} it was read in {chance(s[-2])}. So ten times the"
                " light, by lamp or infrared, is known to do; a shutter ten times as long would"
                " catch"
                " as much of a car that stands, and smear one that moves. More gain would not help:"
                f" the pixel would still hold {s[-1].seen.electrons:.1f} electrons."
                if s[-1].found.probability < 0.5 <= s[-2].found.probability
                else f"{chance(s[-1])} are read there, with {s[-1].seen.electrons:.1f} electrons"
                " in a pixel."
            ),
        ),
    ),
    cautions=(
        "Real night scenes get darker unevenly, with shadows and glare; a single number of lux"
        " says less there than in this lesson.",
    ),
)
