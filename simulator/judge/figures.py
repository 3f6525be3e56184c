"""Figures of the target in the picture: signal, noise, contrast, clipping, sharpness."""

from __future__ import annotations

from typing import Annotated, NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from simulator.camera.in_scene import CameraInScene
from simulator.camera.lens import box_otf
from simulator.camera.pipeline import State
from simulator.camera.region_plan import RegionPlan
from simulator.camera.sensor_readout import full_well_e, noise_electrons
from simulator.camera.small_picture import meter_light
from simulator.judge.record import BEHIND, FRONT, Quantity, Record
from simulator.judge.target import JudgedTarget, JudgedText, plate_scale
from simulator.scene.targets.lettering import PlateDesign
from simulator.units import FloatArray, Image, ratio_to_db

_FLAT_MM = 1.0
"""Sample of a flattened plate [mm]; other lettering in proportion to its stroke."""
CLIP_LEVEL, CRUSH_LEVEL = 254, 1
"""From here up a pixel is white, up to here it is black [levels of 255]."""
LEAST_SIGNAL_E = 1e-3
"""A difference below this is told as this, so that decibels stay finite [e-]."""


class Figures(Record):
    """The target as light, electrons and levels."""

    contrast_ratio: Annotated[
        float, Quantity("Surroundings over target", "judge/figures", digits=2, places=("back",)),
    ]  # fmt: skip
    """Mean signal of the whole picture over that of the target: above 1 the surroundings are
    brighter"""
    electrons_light: Annotated[
        float,
        Quantity(
            "Electrons in light parts", "judge/figures", "e⁻", "μ_e", places=BEHIND,
            beside=("signal.electrons_dark",),
        ),
    ]  # fmt: skip
    """Electrons that light makes in a pixel of the light parts of the text during one exposure, as
    if nothing could overflow; for other tasks, of the lighter of target and ring"""
    electrons_dark: Annotated[
        float,
        Quantity("Electrons in dark parts", "judge/figures", "e⁻", "μ_e", aside="{} in dark parts"),
    ]
    """The same of the dark parts of the text, or of the darker of target and ring"""
    snr_db: Annotated[
        float, Quantity("Signal to noise", "judge/figures", "dB", "SNR", "snr", places=FRONT),
    ]  # fmt: skip
    """Light minus dark, each cut at white, over the temporal noise of a light pixel (EMVA 1288)"""
    modulation: Annotated[
        float, Quantity("Modulation", "judge/figures", "1", "M", digits=2, places=BEHIND),
    ]  # fmt: skip
    """(light − dark) / (light + dark) of the light on the sensor, blur and stray light included"""
    clipped_fraction: Annotated[
        float,
        Quantity(
            "Clipped to white", "judge/figures", form="percent", idle=0.0,
            places=("sheet", "back", "document"),
        ),
    ]  # fmt: skip
    """Share of the target's pixels at the top of the eight-bit scale in every channel"""
    motion_blur_px: Annotated[
        float,
        Quantity("Motion blur", "judge/figures", "px", digits=2, idle=0.0, places=FRONT),
    ]
    """How far the target moves on the picture while the shutter is open"""
    effective_pixels_per_m: Annotated[
        float, Quantity("Pixel density left after blur", "judge/figures", "px/m", places=BEHIND),
    ]  # fmt: skip
    """Pixel density times sharpness (see below)"""


def plate_signal(rate: Image, state: State) -> Image:
    """Balanced luma signal of a patch (rows, columns) [e-/s], what the tone curve works on."""
    balance = state.colour.balance
    weights = np.array([0.25, 0.5, 0.25] if state.colour.mono else [0.2126, 0.7152, 0.0722])
    scaled = weights * balance
    # of the exposures of a wide range the longest
    return np.asarray(rate[:, :, :3] @ (scaled / scaled.sum()), dtype=np.float32)


def _flat_size(design: PlateDesign) -> tuple[int, int]:
    """Samples across and down of a board seen straight on."""
    flat_mm = _FLAT_MM * plate_scale(design)
    return round(design.width_mm / flat_mm), round(design.height_mm / flat_mm)


def flattened(picture: Image, target: JudgedText, origin_px: tuple[float, float]) -> Image:
    """The board seen straight on; a sample is a millimetre for the strokes of plates."""
    wide, high = _flat_size(target.design)
    source = (target.corners_px - np.asarray(origin_px) - 0.5).astype(np.float32)
    place = np.array([[0, 0], [wide, 0], [wide, high], [0, high]], np.float32) - 0.5
    matrix = cv2.getPerspectiveTransform(source, place)
    return np.asarray(cv2.warpPerspective(picture, matrix, (wide, high), flags=cv2.INTER_LINEAR))


def _board_texture(target: JudgedText) -> NDArray[np.uint8]:
    """The part of the card's texture that is the board with the text."""
    texture, card = target.card.texture, target.card
    down, across = texture.shape[0] / card.height_m, texture.shape[1] / card.width_m
    left, top, wide, high = target.board_m
    return texture[
        round(top * down) : round((top + high) * down),
        round(left * across) : round((left + wide) * across),
    ]


def text_masks(target: JudgedText) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Middles of strokes, and ground between the rows' ends away from strokes (flattened grid).

    The band of the characters reaches over all rows, from the leftmost to the rightmost character.
    """
    d, texture = target.design, _board_texture(target)
    sample_m = _FLAT_MM * plate_scale(d) / 1000.0
    left_m, top_m = target.board_m[:2]
    top = min(c.top_m for c in target.cells) - top_m
    bottom = max(c.top_m + c.height_m for c in target.cells) - top_m
    left = min(c.left_m for c in target.cells) - left_m
    right = max(c.left_m + c.width_m for c in target.cells) - left_m
    edge = round(d.border_mm * texture.shape[1] / d.width_mm) + 2
    paper = texture[edge, edge]
    ink = cv2.resize(
        (texture != paper).astype(np.float32),
        _flat_size(d),
        interpolation=cv2.INTER_AREA,
    )
    band = np.zeros(ink.shape, dtype=bool)
    band[
        round(top / sample_m) : round(bottom / sample_m),
        round(left / sample_m) : round(right / sample_m),
    ] = True
    inner = cv2.erode((ink > 0.5).astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
    away = cv2.dilate((ink > 0.5).astype(np.uint8), np.ones((9, 9), np.uint8)) == 0
    return inner & band, away & band


def levels(
    rate: Image, state: State, target: JudgedText, origin_px: tuple[float, float]
) -> tuple[float, float]:
    """Mean signal of light and of dark parts of the text [e-/s], light first.

    A text whose ink is its paper has no strokes to tell apart: both are the mean of the ground.
    """
    flat = flattened(plate_signal(rate, state), target, origin_px)
    ink, paper = text_masks(target)
    ground = float((flat[paper] if np.any(paper) else flat).mean())
    strokes = float(flat[ink].mean()) if np.any(ink) else ground
    return max(strokes, ground), min(strokes, ground)


class Transfer(NamedTuple):
    """Mean transfer (n,) of lens, defocus, motion and pixel by frequency (n,) [cycles/px]."""

    frequency: FloatArray
    value: FloatArray


def transfer(
    in_scene: CameraInScene, state: State, target: JudgedTarget, wavelength_nm: float
) -> Transfer:
    """Geometric mean over both axes of the transfer up to 1.2 cycles a pixel."""
    blur = in_scene.blur_at(target.depth_m, wavelength_nm)
    smear = in_scene.smear_px(state.exposure.shutter_s, target.card.centre_m)
    move = np.abs(smear[target.card.group])
    f = np.linspace(0.0, 1.2, 601)
    zero = np.zeros_like(f)
    parts: list[FloatArray] = []
    for fx, fy, axis in ((f, zero, 0), (zero, f, 1)):
        parts.append(np.abs(blur.otf(fx, fy) * box_otf(f, 1.0) * box_otf(f, float(move[axis]))))
    return Transfer(f, np.sqrt(parts[0] * parts[1]))


def sharpness(
    in_scene: CameraInScene, state: State, target: JudgedTarget, wavelength_nm: float
) -> float:
    """Share of an ideal pixel's sharpness that is left, 0 to 1.

    The frequency at which the mean transfer of lens, defocus, motion and pixel falls to one half,
    over the 0.603 cycles per pixel at which the pixel aperture alone does.
    """
    f, mean = transfer(in_scene, state, target, wavelength_nm)
    below = np.flatnonzero(mean < 0.5)
    half = float(f[below[0]]) if below.size else float(f[-1])
    return min(1.0, half / 0.603)


def plate_figures(
    in_scene: CameraInScene,
    state: State,
    target: JudgedText,
    plan: RegionPlan,
    rate: Image,
    frame: NDArray[np.uint8],
) -> Figures:
    """All figures of one text.

    Parameters
    ----------
    rate
        Light of the patch (rows, columns, 3) [e-/s per pixel].
    frame
        The whole eight-bit picture (rows, columns, 3).
    """
    light, dark = levels(rate, state, target, (plan.box_px[0], plan.box_px[1]))
    x0, y0, x1, y1 = target.box_px
    outline = np.zeros((y1 - y0, x1 - x0), np.uint8)
    cv2.fillConvexPoly(
        outline, np.round(target.corners_px - np.array([x0, y0])).astype(np.int32), 1
    )
    box = frame[y0:y1, x0:x1]
    inside = box[outline > 0] if np.any(outline) else box.reshape(-1, 3)
    return figures_of_levels(
        in_scene, state, target, (light, dark, (light + dark) / 2.0), inside, plan.wavelength_nm
    )


def figures_of_levels(
    in_scene: CameraInScene,
    state: State,
    target: JudgedTarget,
    rates: tuple[float, float, float],
    inside: NDArray[np.uint8],
    wavelength_nm: float,
) -> Figures:
    """All figures of a target from its signal.

    Parameters
    ----------
    rates
        Signal of the light parts, of the dark parts and of the target as a whole [e-/s per pixel].
    inside
        Eight-bit pixels (n, 3) of the target.
    """
    shutter = state.exposure.shutter_s
    light, dark, whole = (rate * shutter for rate in rates)
    top = min(state.chain.white_e, full_well_e(in_scene.camera.sensor, state.chain))
    seen = min(light, top)
    noise = float(noise_electrons(seen, in_scene.camera.sensor, state.chain, shutter))
    difference = max(seen - min(dark, top), LEAST_SIGNAL_E)
    around = float(plate_signal(meter_light(in_scene, state.mode), state).mean()) * shutter
    density = in_scene.view.pixels_per_m(target.depth_m, target.place_px)
    smear = in_scene.smear_px(shutter, target.card.centre_m)[target.card.group]
    return Figures(
        contrast_ratio=around / max(whole, 1e-9),
        electrons_light=light,
        electrons_dark=dark,
        snr_db=ratio_to_db(difference / noise),
        modulation=(light - dark) / max(light + dark, 1e-9),
        clipped_fraction=float(np.mean(inside.min(axis=1) >= CLIP_LEVEL)),
        motion_blur_px=float(np.hypot(*smear)),
        effective_pixels_per_m=density * sharpness(in_scene, state, target, wavelength_nm),
    )
