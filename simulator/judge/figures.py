"""Figures of the plate in the picture: signal, noise, contrast, clipping, sharpness."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from simulator.camera.lens import box_otf
from simulator.camera.light_field import meter_light
from simulator.camera.patch import PatchPlan
from simulator.camera.pipeline import State
from simulator.camera.rig import Rig
from simulator.camera.sensor import noise_electrons
from simulator.judge.target import JudgedPlate
from simulator.scene.targets.plate import TEXEL_MM
from simulator.units import FloatArray, Image, ratio_to_db

_FLAT_MM = 1.0
_CLIP_LEVEL = 254
LEAST_SIGNAL_E = 1e-3
"""A difference below this is told as this, so that decibels stay finite [e-]."""


@dataclass(frozen=True)
class Figures:
    """Named figures of the judged plate, as they stand in verdict.json."""

    contrast_ratio: float
    """Mean signal of the picture around over mean signal of the plate."""
    electrons_light: float
    """Electrons in a pixel of the light parts."""
    electrons_dark: float
    """Electrons in a pixel of the dark parts."""
    snr_db: float
    """Difference of light and dark, each cut at white, over the noise of a light pixel [dB]."""
    modulation: float
    """(light - dark) / (light + dark) in the light on the sensor, blur and glare included."""
    clipped_fraction: float
    """Share of the plate's pixels at the top of the eight-bit scale."""
    motion_blur_px: float
    effective_pixels_per_m: float
    """Pixel density times how much of an ideal pixel's sharpness is left (see `sharpness`)."""


def plate_signal(rate: Image, state: State) -> Image:
    """Balanced luma signal of a patch (rows, columns) [e-/s], what the tone curve works on."""
    balance = state.colour.balance
    weights = np.array([0.25, 0.5, 0.25] if state.colour.mono else [0.2126, 0.7152, 0.0722])
    scaled = weights * balance
    return np.asarray(rate @ (scaled / scaled.sum()), dtype=np.float32)


def flattened(picture: Image, target: JudgedPlate, origin_px: tuple[float, float]) -> Image:
    """The plate seen straight on, one sample a millimetre."""
    d = target.design
    wide, high = round(d.width_mm / _FLAT_MM), round(d.height_mm / _FLAT_MM)
    source = (target.corners_px - np.asarray(origin_px) - 0.5).astype(np.float32)
    place = np.array([[0, 0], [wide, 0], [wide, high], [0, high]], np.float32) - 0.5
    matrix = cv2.getPerspectiveTransform(source, place)
    return np.asarray(cv2.warpPerspective(picture, matrix, (wide, high), flags=cv2.INTER_LINEAR))


def _masks(target: JudgedPlate) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Middles of strokes, and background of the characters' band away from strokes (mm grid)."""
    texture = target.card.texture
    top = round(target.cells[0].top_m * 1000)
    bottom = top + round(target.cells[0].height_m * 1000)
    left = round(target.cells[0].left_m * 1000)
    right = round((target.cells[-1].left_m + target.cells[-1].width_m) * 1000)
    edge = round(target.design.border_mm / TEXEL_MM) + 2
    paper = texture[edge, edge]
    ink = cv2.resize(
        (texture != paper).astype(np.float32),
        (round(target.design.width_mm), round(target.design.height_mm)),
        interpolation=cv2.INTER_AREA,
    )
    band = np.zeros(ink.shape, dtype=bool)
    band[top:bottom, left:right] = True
    inner = cv2.erode((ink > 0.5).astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
    away = cv2.dilate((ink > 0.5).astype(np.uint8), np.ones((9, 9), np.uint8)) == 0
    return inner & band, away & band


def levels(
    rate: Image, state: State, target: JudgedPlate, origin_px: tuple[float, float]
) -> tuple[float, float]:
    """Mean signal of light and of dark parts of the plate [e-/s], light first."""
    flat = flattened(plate_signal(rate, state), target, origin_px)
    ink, paper = _masks(target)
    a, b = float(flat[ink].mean()), float(flat[paper].mean())
    return max(a, b), min(a, b)


def sharpness(rig: Rig, state: State, target: JudgedPlate, wavelength_nm: float) -> float:
    """Share of an ideal pixel's sharpness that is left, 0 to 1.

    The frequency at which the mean transfer of lens, defocus, motion and pixel falls to one half,
    over the 0.603 cycles per pixel at which the pixel aperture alone does.
    """
    blur = rig.blur_at(target.depth_m, wavelength_nm)
    smear = rig.smear_px(state.exposure.shutter_s, target.card.centre_m)
    move = np.abs(smear[target.card.group])
    f = np.linspace(0.0, 1.2, 601)
    zero = np.zeros_like(f)
    parts: list[FloatArray] = []
    for fx, fy, axis in ((f, zero, 0), (zero, f, 1)):
        parts.append(np.abs(blur.otf(fx, fy) * box_otf(f, 1.0) * box_otf(f, float(move[axis]))))
    mean = np.sqrt(parts[0] * parts[1])
    below = np.flatnonzero(mean < 0.5)
    half = float(f[below[0]]) if below.size else float(f[-1])
    return min(1.0, half / 0.603)


def plate_figures(
    rig: Rig,
    state: State,
    target: JudgedPlate,
    plan: PatchPlan,
    rate: Image,
    frame: NDArray[np.uint8],
) -> Figures:
    """All figures of one plate.

    Parameters
    ----------
    rate
        Light of the patch (rows, columns, 3) [e-/s per pixel].
    frame
        The whole eight-bit picture (rows, columns, 3).
    """
    shutter = state.exposure.shutter_s
    light, dark = (
        level * shutter for level in levels(rate, state, target, (plan.box_px[0], plan.box_px[1]))
    )
    top = min(state.chain.white_e, rig.camera.sensor.full_well_e)
    seen = min(light, top)
    noise = float(noise_electrons(seen, rig.camera.sensor, state.chain, shutter))
    difference = max(seen - min(dark, top), LEAST_SIGNAL_E)
    around = float(plate_signal(meter_light(rig, state.mode), state).mean()) * shutter
    x0, y0, x1, y1 = target.box_px
    outline = np.zeros((y1 - y0, x1 - x0), np.uint8)
    cv2.fillConvexPoly(
        outline, np.round(target.corners_px - np.array([x0, y0])).astype(np.int32), 1
    )
    box = frame[y0:y1, x0:x1].min(axis=2)
    inside = box[outline > 0] if np.any(outline) else box.ravel()
    density = rig.view.pixels_per_m(target.depth_m)
    smear = rig.smear_px(shutter, target.card.centre_m)[target.card.group]
    return Figures(
        contrast_ratio=around / max((light + dark) / 2.0, 1e-9),
        electrons_light=light,
        electrons_dark=dark,
        snr_db=ratio_to_db(difference / noise),
        modulation=(light - dark) / max(light + dark, 1e-9),
        clipped_fraction=float(np.mean(inside >= _CLIP_LEVEL)),
        motion_blur_px=float(np.hypot(*smear)),
        effective_pixels_per_m=density * sharpness(rig, state, target, plan.wavelength_nm),
    )
