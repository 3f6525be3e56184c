"""A camera on the bench: dynamic range, colours, trails and sharpness of a profile, measured."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from simulator.bench.colour_chart import ChartColours, photograph_chart
from simulator.bench.dynamic_range import DynamicRange, measure_dynamic_range
from simulator.bench.steps import bench_in_scene
from simulator.bench.trails import measure_trail
from simulator.camera.lens import box_otf
from simulator.camera.load import Camera
from simulator.light.spectra import spectrum
from simulator.units import FloatArray

Progress = Callable[[str, float], None]
SHUTTER_S = 0.01
LIGHTS = ("daylight", "cie-a", "led-4000k", "high-pressure-sodium")
TRAIL_LEVEL, TRAIL_CONTRAST, TRAIL_SPEED_PX = 0.12, 0.6, 6
GREEN_NM = 550.0
CLAIM_SLACK_DB = 3.0
"""A claim that lies within this of what is measured counts as met (assumed)."""


@dataclass(frozen=True)
class Sharpness:
    """Transfer (n,) by frequency (n,) [cycles/px] in focus on the axis, and where it is a half."""

    frequency: FloatArray
    value: FloatArray
    half_cycles_px: float
    lines: float
    """Line widths (TV lines) per picture height at a transfer of a half."""


@dataclass(frozen=True)
class Measured:
    """What was measured of a camera."""

    camera: Camera
    range_: DynamicRange
    charts: dict[str, ChartColours]
    trails: list[tuple[float, float, float]]
    """Gain [dB], trail [frames], trail [px]."""
    sharp: Sharpness


def measure(camera: Camera, *, seed: int = 0, progress: Progress | None = None) -> Measured:
    """Measure a camera before even steps, the 24-patch chart and a moving bar.

    Raises
    ------
    InputError
        If its signal never equals its noise.
    """
    say = progress or (lambda text, share: None)
    model = camera.model
    say("grey steps", 0.05)
    measured = measure_dynamic_range(model, shutter_s=SHUTTER_S, seed=seed)
    plain = model.model_copy(
        update={
            "processing": model.processing.model_copy(update={"tone": "bt709"}),
            "wide_range": model.wide_range.model_copy(update={"method": "off"}),
        }
    )
    charts = {}
    for k, name in enumerate(LIGHTS):
        say(f"colour chart under {name}", 0.4 + 0.1 * k)
        charts[name] = photograph_chart(plain, spectrum(name), seed=seed)
    trails = []
    top = model.exposure.gain_max_db
    for gain in sorted({0.0, min(24.0, top), top}):
        say(f"moving bar at {gain:g} dB", 0.8)
        if model.processing.temporal_noise_reduction <= 0.0:
            trails.append((gain, 0.0, 0.0))
            continue
        trail = measure_trail(
            model, level=TRAIL_LEVEL, contrast=TRAIL_CONTRAST, speed_px=TRAIL_SPEED_PX,
            shutter_s=SHUTTER_S, gain_db=gain, seed=seed,
        )  # fmt: skip
        trails.append((gain, trail.frames, trail.length_px))
    say("done", 1.0)
    return Measured(camera, measured, charts, trails, _sharpness(camera))


def _sharpness(camera: Camera) -> Sharpness:
    """Transfer of lens and pixel across the picture, with the line limit of an analogue output."""
    in_scene = bench_in_scene(camera.model)
    f = np.linspace(0.0, 1.0, 1001)
    blur = in_scene.blur_at(in_scene.focus_m, GREEN_NM)
    value = np.abs(blur.otf(f, np.zeros_like(f)) * box_otf(f, 1.0))
    limit = camera.model.processing.analogue_tv_lines
    height = camera.model.sensor.height_px
    below = np.flatnonzero(value < 0.5)
    half = float(f[below[0]]) if below.size else float(f[-1])
    if limit is not None:
        half = min(half, limit / (2.0 * height))
    return Sharpness(f, value, half, 2.0 * height * half)
