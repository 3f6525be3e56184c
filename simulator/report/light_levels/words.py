"""What the levels of light say: answer, tables and conditions of verdict.json."""

from __future__ import annotations

from typing import Any

from simulator.messages import Message
from simulator.report.wording import (
    decibels,
    digits,
    entry,
    f_number,
    percent,
    say,
    say_all,
    shutter,
)
from simulator.studies.light_levels.views import (
    TRAIL_CONTRAST,
    TRAIL_SPEED_PX,
    LightLevelViews,
    View,
)
from simulator.studies.placing import judged_entry
from simulator.studies.provenance import versions

REACH_HEAD = ("camera", "works down to", "night mode")
"""Heads of the table of what each camera does."""


def camera_words(camera: str) -> str:
    """The name of a camera with spaces, so that it wraps."""
    return camera.replace("-", " ")


def level_words(lux: float) -> str:
    """A level of light with its unit."""
    return f"{digits(lux)} lx"


def answer(study: LightLevelViews) -> Message:
    """Down to which light the task is done, by the best and by the weakest camera."""
    model = study.scene.model
    reached = [study.least_lux(camera.name) for camera in study.cameras]
    known = sorted(lux for lux in reached if lux is not None)
    values: dict[str, Any] = {
        "target": entry("target", judged_entry(model).kind),
        "able": entry("task", model.task.name)["able"],
        "count": len(reached),
        "fail": len(reached) - len(known),
        "brightest_lx": study.levels_lux[0],
    }
    if not known:
        return Message("light-levels.none", values)
    values |= {"least_lx": known[0], "most_lx": known[-1]}
    if len(reached) == 1:
        return Message("light-levels.one", values)
    if values["fail"]:
        return Message("light-levels.some", values)
    return Message(f"light-levels.{'all' if known[0] == known[-1] else 'range'}", values)


def reach_words(study: LightLevelViews, camera: str) -> str:
    """Down to which light one camera does the task."""
    least = study.least_lux(camera)
    return "at no level" if least is None else level_words(least)


def mode_words(study: LightLevelViews, camera: str) -> str:
    """From which light on one camera is in night mode."""
    night = study.night_lux(camera)
    if night is None:
        return "never"
    return "always" if night == study.levels_lux[0] else f"from {level_words(night)}"


def optics_words(study: LightLevelViews, camera: str) -> str:
    """Pixel, aperture and focal length of one camera, in the brightest light."""
    model = next(one.model for one in study.cameras if one.name == camera)
    return (
        f"{digits(model.sensor.pixel_pitch_um)} µm, {f_number(model.lens.f_number)},"
        f" {digits(model.lens.focal_length_mm)} mm"
    )


def setting_words(view: View) -> str:
    """How the camera was set, in short."""
    added = f" × {view.level.accumulated}" if view.level.accumulated > 1 else ""
    return f"{shutter(view.level.shutter_s)}{added}, {decibels(view.level.gain_db)}"


CONDITIONS = (
    Message("light-levels.dimmed"),
    Message("light-levels.order"),
    Message.of("light-levels.figures", contrast=TRAIL_CONTRAST, speed_px=TRAIL_SPEED_PX),
)
"""How it was found."""


def table(study: LightLevelViews) -> dict[str, Any]:
    """What verdict.json holds of levels of light."""
    model = study.scene.model
    return {
        "schema_version": 1,
        "study": "light levels",
        "scene": study.scene.name,
        "title": model.title,
        "question": model.question,
        "answer": say(answer(study)),
        "seed": study.seed,
        "wanted_probability": model.task.wanted_probability,
        "versions": versions(),
        "conditions": say_all(CONDITIONS),
        "tables": [
            {
                "caption": "How far down",
                "head": [*REACH_HEAD, "pixel, aperture, lens"],
                "rows": [
                    [
                        camera.name, reach_words(study, camera.name),
                        mode_words(study, camera.name), optics_words(study, camera.name),
                    ]
                    for camera in study.cameras
                ],
            },
            {
                "caption": "Levels in figures",
                "head": [
                    "camera", "light [lx]", "success [%]", "mode", "shutter", "gain [dB]",
                    "motion blur [px]", "noise [levels]", "colour C*ab", "trail [frames]",
                ],
                "rows": [_figures(view) for view in study.views.values()],
            },
        ],
        "cameras": [
            {
                "camera": camera.name,
                "least_lux": study.least_lux(camera.name),
                "night_lux": study.night_lux(camera.name),
            }
            for camera in study.cameras
        ],
        "levels": [view.row() for view in study.views.values()],
    }  # fmt: skip


def _figures(view: View) -> list[str]:
    level, judged = view.level, view.judged
    return [
        view.camera, digits(level.lux), percent(judged.probability).removesuffix(" %"), level.mode,
        shutter(level.shutter_s), f"{level.gain_db:.0f}", f"{judged.motion_blur_px:.1f}",
        f"{view.noise_temporal_levels:.1f}", f"{view.chroma:.0f}", f"{view.trail_frames:.1f}",
    ]  # fmt: skip
