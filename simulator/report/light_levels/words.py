"""What the levels of light say: answer, tables and conditions of verdict.json."""

from __future__ import annotations

from typing import Any

from simulator.report.wording import decibels, digits, entry, f_number, percent, shutter
from simulator.studies.light_levels.views import (
    TRAIL_CONTRAST,
    TRAIL_SPEED_PX,
    LightLevelViews,
    View,
)
from simulator.studies.provenance import versions
from simulator.studies.session import judged_entry

REACH_HEAD = ("camera", "works down to", "night mode")
"""Heads of the table of what each camera does."""


def camera_words(camera: str) -> str:
    """The name of a camera with spaces, so that it wraps."""
    return camera.replace("-", " ")


def level_words(lux: float) -> str:
    """A level of light with its unit."""
    return f"{digits(lux)} lx"


def _subject(found: LightLevelViews) -> tuple[str, str]:
    """What the task looks at, and what must be possible with it."""
    model = found.scene.model
    target = judged_entry(model)
    return f"The {entry('target', target.kind)}", entry("task", model.task.name)["able"]


def answer(found: LightLevelViews) -> str:
    """Down to which light the task is done, by the best and by the weakest camera."""
    target, able = _subject(found)
    reached = [found.least_lux(camera.name) for camera in found.cameras]
    known = sorted(lux for lux in reached if lux is not None)
    none = len(reached) - len(known)
    count = len(reached)
    if not known:
        whom = "this camera" if count == 1 else f"any of these {count} cameras"
        return f"{target} cannot reliably {able} with {whom}, not even at {_brightest(found)}."
    if count == 1:
        return f"{target} can {able} down to {level_words(known[0])}."
    text = f"{target} can {able} down to {level_words(known[0])} with the best of {count} cameras"
    if none:
        some = "one of them cannot" if none == 1 else f"{none} of them cannot"
        return f"{text}; {some} even at {_brightest(found)}."
    if known[0] == known[-1]:
        return f"{target} can {able} down to {level_words(known[0])} with all {count} cameras."
    return f"{text} and down to {level_words(known[-1])} with the weakest."


def _brightest(found: LightLevelViews) -> str:
    return level_words(found.levels_lux[0])


def reach_words(found: LightLevelViews, camera: str) -> str:
    """Down to which light one camera does the task."""
    least = found.least_lux(camera)
    return "at no level" if least is None else level_words(least)


def mode_words(found: LightLevelViews, camera: str) -> str:
    """From which light on one camera is in night mode."""
    night = found.night_lux(camera)
    if night is None:
        return "never"
    return "always" if night == found.levels_lux[0] else f"from {level_words(night)}"


def optics_words(found: LightLevelViews, camera: str) -> str:
    """Pixel, aperture and focal length of one camera, in the brightest light."""
    model = next(one.model for one in found.cameras if one.name == camera)
    return (
        f"{digits(model.sensor.pixel_pitch_um)} µm, {f_number(model.lens.f_number)},"
        f" {digits(model.lens.focal_length_mm)} mm"
    )


def setting_words(view: View) -> str:
    """How the camera was set, in short."""
    added = f" × {view.level.accumulated}" if view.level.accumulated > 1 else ""
    return f"{shutter(view.level.shutter_s)}{added}, {decibels(view.level.gain_db)}"


def conditions(found: LightLevelViews) -> list[str]:
    """How it was found."""
    return [
        "All lights of the scene are dimmed together; every level is held until the camera has"
        " settled, coming from the brighter one. Levels are illuminances on the target.",
        "Cameras stand in the order of the light that a pixel gathers: its area, times the lens's"
        " transmittance, over the square of the f-number. Each has its own lens.",
        "Noise: standard deviation of the target's luma between two pictures over the square root"
        " of two. Colour: distance C*ab of the picture's mean colour from grey. Trail: frames until"
        f" less than a tenth is left of a bar of contrast {TRAIL_CONTRAST:g} that moves"
        f" {TRAIL_SPEED_PX} px a frame.",
    ]


def table(found: LightLevelViews) -> dict[str, Any]:
    """What verdict.json holds of levels of light."""
    model = found.scene.model
    return {
        "schema_version": 1,
        "study": "light levels",
        "scene": found.scene.name,
        "title": model.title,
        "question": model.question,
        "answer": answer(found),
        "seed": found.seed,
        "wanted_probability": model.task.wanted_probability,
        "versions": versions(),
        "conditions": conditions(found),
        "tables": [
            {
                "caption": "How far down",
                "head": [*REACH_HEAD, "pixel, aperture, lens"],
                "rows": [
                    [
                        camera.name, reach_words(found, camera.name),
                        mode_words(found, camera.name), optics_words(found, camera.name),
                    ]
                    for camera in found.cameras
                ],
            },
            {
                "caption": "Levels in figures",
                "head": [
                    "camera", "light [lx]", "success [%]", "mode", "shutter", "gain [dB]",
                    "motion blur [px]", "noise [levels]", "colour C*ab", "trail [frames]",
                ],
                "rows": [_figures(view) for view in found.views.values()],
            },
        ],
        "cameras": [
            {
                "camera": camera.name,
                "least_lux": found.least_lux(camera.name),
                "night_lux": found.night_lux(camera.name),
            }
            for camera in found.cameras
        ],
        "levels": [view.row() for view in found.views.values()],
    }  # fmt: skip


def _figures(view: View) -> list[str]:
    level, judged = view.level, view.judged
    return [
        view.camera, digits(level.lux), percent(judged.probability).removesuffix(" %"), level.mode,
        shutter(level.shutter_s), f"{level.gain_db:.0f}", f"{judged.motion_blur_px:.1f}",
        f"{view.noise_temporal_levels:.1f}", f"{view.chroma:.0f}", f"{view.trail_frames:.1f}",
    ]  # fmt: skip
