"""Lens blur that follows depth, over a whole picture: a few blurred copies, blended."""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np

from simulator.camera.blur import Blur, add_far_diffraction, blur_image, spread_kernel
from simulator.camera.in_scene import CameraInScene, Mode
from simulator.units import FloatArray, Image

DEFOCUS_STEP_PX = 0.6
DEPTH_SHRINK = 8
MAX_DEPTH_LEVELS = 3


@dataclass(frozen=True)
class DefocusLevels:
    """Blurs that stand for the depths of a picture, from the sharpest on; diameters [px]."""

    low_px: float
    high_px: float
    blurs: tuple[Blur, ...]


def defocus_levels(in_scene: CameraInScene, mode: Mode, depth: Image) -> DefocusLevels:
    """Blurs for the depths (rows, columns) [m] of a picture."""
    wavelength = in_scene.mean_wavelength_nm(mode)
    spans = _spans(in_scene, mode, depth)
    low, high = float(spans.min()), float(np.percentile(spans, 98))
    count = int(np.clip(np.ceil((high - low) / DEFOCUS_STEP_PX), 1, MAX_DEPTH_LEVELS))
    diameters = [(low + high) / 2.0] if count == 1 else list(np.linspace(low, high, count))
    base = in_scene.blur_at(in_scene.focus_m, wavelength)
    return DefocusLevels(
        low, high, tuple(replace(base, defocus_m=float(d) * in_scene.pitch_m) for d in diameters)
    )


def _spans(in_scene: CameraInScene, mode: Mode, depth: Image) -> FloatArray:
    """Diameter of the blur disc on a coarse grid [px]."""
    coarse = depth[::DEPTH_SHRINK, ::DEPTH_SHRINK].astype(np.float64)
    if not in_scene.switches.defocus:
        return np.zeros_like(coarse)
    return in_scene.defocus_px(coarse, in_scene.mean_wavelength_nm(mode))


def blur_by_depth(
    in_scene: CameraInScene, mode: Mode, rate: Image, depth: Image, levels: DefocusLevels
) -> Image:
    """Lens blur that follows depth: a few blurred copies, blended by the size of the blur disc."""
    count = len(levels.blurs)
    if count == 1:
        return add_far_diffraction(rate, blur_image(rate, levels.blurs[0]), levels.blurs[0])
    spans = _spans(in_scene, mode, depth).astype(np.float32)
    size = cv2.resize(spans, (rate.shape[1], rate.shape[0]))
    place = (size - np.float32(levels.low_px)) * np.float32(
        (count - 1) / (levels.high_px - levels.low_px)
    )
    out = np.zeros_like(rate)
    highest, lowest = place.max(axis=1), place.min(axis=1)
    # each level over the rows that take part of it
    for i, blur in enumerate(levels.blurs):
        rows = np.flatnonzero((highest > i - 1) & (lowest < i + 1))
        if i == 0:
            rows = np.flatnonzero(lowest < 1)
        elif i == count - 1:
            rows = np.flatnonzero(highest > i - 1)
        if rows.size == 0:
            continue
        first, last = int(rows[0]), int(rows[-1]) + 1
        room = spread_kernel(blur).shape[0] // 2
        top, end = max(0, first - room), min(len(rate), last + room)
        copy = blur_image(rate[top:end], blur)[first - top : last - top]
        if i == 0:
            out[first:last] = copy
            continue
        share = np.clip(place[first:last] - np.float32(i - 1), 0.0, 1.0)
        whole = share.min(axis=1) >= 1.0
        if np.all(whole):
            out[first:last] = copy
        else:
            out[first:last] = cv2.blendLinear(copy, out[first:last], share, np.float32(1.0) - share)
    return add_far_diffraction(rate, out, levels.blurs[0])
