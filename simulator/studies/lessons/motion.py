"""The lesson on movement."""

from __future__ import annotations

from simulator.scene.targets.plate import plate_design
from simulator.studies.lessons.lesson import Curve, Equation, Lesson, Question, Step, Steps, Taken
from simulator.studies.lessons.words import (
    CHANCE,
    chance,
    first,
    noise,
    sensor_scale,
    served,
    target_card,
)

_SHUTTERS = (1000, 500, 250, 125, 60, 30)


def _blur(taken: Taken) -> float:
    return taken.found.motion_blur_px


def _speed(taken: Taken) -> float:
    """Speed of the task's target [m/s]."""
    name = taken.scene.model.task.target
    entry = next(t for t in taken.scene.model.target if t.name == name)
    return float(getattr(entry, "speed_kmh")) / 3.6  # noqa: B009  only some targets have it


def _drop(taken: Taken) -> float:
    """Height of the lens above the target [m]."""
    name = taken.scene.model.task.target
    entry = next(t for t in taken.scene.model.target if t.name == name)
    return taken.scene.model.station.height_m - float(entry.position_m[2])  # type: ignore[index]


def _towards(taken: Taken) -> float:
    d = target_card(taken)[1]
    return sensor_scale(taken) * _drop(taken) * _speed(taken) * taken.found.shutter_s / d**2


def _across(taken: Taken) -> float:
    d = target_card(taken)[1]
    return sensor_scale(taken) * _speed(taken) * taken.found.shutter_s / d


def _as_short_us(taken: Taken) -> float:
    """Shutter that crosswise smears as little as this step does head on [us]."""
    return 1e6 * taken.found.shutter_s * _towards(taken) / _across(taken)


def _motion_told(steps: Steps) -> list[str]:
    kept, last = served(steps), steps[-1]
    out = [
        f"The truck comes at {3.6 * _speed(last):.0f} km/h. While the shutter is open the picture"
        f" of its plate moves: {_blur(steps[0]):.2f} px at {steps[0].step.label},"
        f" {_blur(last):.1f} px at {last.step.label}.",
    ]
    if kept:
        slow = kept[-1]
        out.append(
            f"It is read as surely as wanted up to {slow.step.label}, where it moves by"
            f" {_blur(slow):.2f} px; a stroke of its letters is"
            f" {_stroke(slow):.1f} px wide."
        )
    out.append(
        "The gain falls as the shutter gets longer, since the exposure holds the picture equally"
        f" bright: {steps[0].found.gain_db:.0f} dB at {steps[0].step.label},"
        f" {last.found.gain_db:.0f} dB at {last.step.label}. The noise gets less"
        f" ({noise(steps[0]):.1f} to {noise(last):.1f} levels), and yet the text is lost."
    )
    return out


def _stroke(taken: Taken) -> float:
    name = taken.scene.model.task.target
    entry = next(t for t in taken.scene.model.target if t.name == name)
    return plate_design(entry.design).stroke_mm / 1000.0 * taken.seen.pixels_per_m  # type: ignore[union-attr]


def _limit(steps: Steps) -> str:
    kept = served(steps)
    if not kept:
        return "No shutter of this lesson served."
    slow = kept[-1]
    after = first(steps, lambda t: t.step.value > slow.step.value)
    text = f"{slow.step.label}: {_blur(slow):.2f} px of movement, {chance(slow)} read."
    if after is not None:
        text += f" At {after.step.label} it is {_blur(after):.2f} px and {chance(after)}."
    return text


MOTION = Lesson(
    name="motion",
    title="What movement does, and how short the shutter must be",
    question="A truck rolls to the gate. Which shutter still shows its plate?",
    scene="depot-gate-infrared",
    camera="plate-2mp-infrared",
    keys=("exposure.shutter_s",),
    changes="how long the shutter is open",
    fixed=(
        "the truck and its 30 km/h, the light of dusk: 100 lx on level ground, no lamp",
        "lens and processing; the exposure meters the whole picture, so that the gain keeps it"
        " equally bright where it can",
    ),
    sets=(
        "target.plate.speed_kmh=30.0",
        "scene.title=Fruit depot gate at dusk, no lamp",
        "natural_light.illuminance_lux=100.0",
        "natural_light.spectrum=daylight",
        "illuminator.mast infrared.on=false",
        "exposure.metering=average",
    ),
    steps=tuple(
        Step(f"1/{n} s", 1.0 / n, (f"exposure.shutter_s={1.0 / n:.7f}",)) for n in _SHUTTERS
    ),
    axis="shutter [s]",
    log=True,
    curves=(CHANCE, Curve("movement during the exposure [px]", _blur, log=True)),
    caption=lambda t: f"{chance(t)} read; moved by {_blur(t):.2g} px; {t.found.gain_db:.0f} dB",
    told=_motion_told,
    equations=(
        Equation(
            "b = v · t · (f / p) · h / d²   (coming straight on)",
            (
                ("b", "movement on the sensor during the exposure [px]"),
                ("v", "speed [m/s]"),
                ("t", "shutter [s]"),
                ("f / p", "focal length over pixel pitch [px]"),
                ("h", "height of the camera above the plate [m]"),
                ("d", "distance along the optical axis [m]"),
            ),
            "similar triangles: y = (f/p) · h/d, differentiated by time; camera nearly level",
            lambda s: (
                f"At {s[3].step.label}: {_speed(s[3]):.2f} m/s · {s[3].found.shutter_s:.4f} s"
                f" · {sensor_scale(s[3]):.0f} px · {_drop(s[3]):.2f} m /"
                f" ({target_card(s[3])[1]:.1f} m)² ="
                f" {_towards(s[3]):.2f} px; the tool finds {_blur(s[3]):.2f} px."
            ),
        ),
        Equation(
            "b = v · t · (f / p) / d   (crossing the view)",
            (("", "as above"),),
            "similar triangles: x = (f/p) · X/d, differentiated by time",
            lambda s: (
                f"The same truck crossing the view would move by {_across(s[3]):.1f} px at"
                f" {s[3].step.label}, {_across(s[3]) / _towards(s[3]):.0f} times as much."
            ),
        ),
    ),
    questions=(
        Question(lambda s: "Which is the longest shutter of this lesson that does?", _limit),
        Question(
            lambda s: (
                "The truck crosses the view instead. Which shutter gives as little movement"
                " as the one just found?"
            ),
            lambda s: (
                f"{_across(served(s)[-1]) / _towards(served(s)[-1]):.0f} times as short:"
                f" {_as_short_us(served(s)[-1]):.0f} microseconds. Better: look along the way of"
                " the truck, not across it."
                if served(s)
                else "None was found."
            ),
        ),
        Question(
            lambda s: "Why does a shorter shutter cost light, and who pays?",
            lambda s: (
                f"Half the time is half the electrons: {s[2].seen.electrons:.0f} at"
                f" {s[2].step.label}, {s[1].seen.electrons:.0f} at {s[1].step.label},"
                f" {s[0].seen.electrons:.0f} at {s[0].step.label} in a pixel of the plate. The"
                f" noise"
                f" pays ({noise(s[2]):.1f}, {noise(s[1]):.1f}, {noise(s[0]):.1f} levels), or"
                " whoever brings more light."
            ),
        ),
    ),
)
