"""Figures of the target as the eight-bit picture shows it: noise, use of the scale, losses."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from simulator.camera.in_scene import CameraInScene
from simulator.camera.lens import fine_frequencies
from simulator.camera.light_field import add_glare
from simulator.camera.pipeline import State, shoot
from simulator.camera.recording import recorded
from simulator.judge.eye import WHITE_CD_M2, contrast_sensitivity, emitted
from simulator.judge.figures import plate_signal
from simulator.judge.result import PictureFigures
from simulator.judge.silhouette import Silhouette, look_of, luma_levels
from simulator.judge.target import JudgedTarget
from simulator.units import Image

SEEDS, REPEATS = 3, 4
"""Cameras of other fixed patterns, and pictures of each."""
MOST_PX = 192
"""Side of the part of a large target that noise is measured on."""
LEFT = 0.1
"""A trail ends where this share of the target's difference is left."""
VIEW_DEG_PX = 1.0 / 42.0
"""A pixel of 0.25 mm from 0.6 m [deg]."""
CONTENT_TAIL = 1.0
"""Per cent of pixels at each end of the scale that do not count as used."""


def picture_figures(
    in_scene: CameraInScene,
    state: State,
    target: JudgedTarget,
    silhouette: Silhouette,
    rates: Sequence[Image],
    stray_light: Image,
    frame: NDArray[np.uint8],
    *,
    seed: int,
) -> PictureFigures:
    """All figures of one target in the picture.

    Parameters
    ----------
    rates
        Light of the whole picture, oldest frame first (rows, columns, 3) [e-/s].
    veil
        Stray light of the whole picture for a glare share of one, as `Light.veil`.
    frame
        The whole eight-bit picture (rows, columns, 3).
    """
    look = look_of(frame, silhouette)
    box = _middle(silhouette)
    cut = [np.ascontiguousarray(r[box[1] : box[3], box[0] : box[2]]) for r in rates]
    x0, y0 = silhouette.window_px[:2]
    part = slice(box[1] - y0, box[3] - y0), slice(box[0] - x0, box[2] - x0)
    inside = silhouette.inside[part]
    pictures = np.stack(
        [
            recorded(
                in_scene, state, cut, seed=seed + k, first=1, frames=REPEATS, origin_px=box[:2]
            )
            for k in range(SEEDS)
        ]
    )
    luma = luma_levels(pictures)
    temporal, fixed = noise_levels(luma, inside)
    psnr, ssim = _codec_loss(in_scene, state, cut, luma[0, 0], inside, seed=seed, origin_px=box[:2])
    shown, without = _modulations(in_scene, state, silhouette, rates[-1], stray_light)
    ends = np.percentile(luma_levels(frame), [CONTENT_TAIL, 100.0 - CONTENT_TAIL])
    return PictureFigures(
        mean_level=look.mean_level,
        contrast_to_surround=look.contrast_to_surround,
        crushed_fraction=look.crushed_fraction,
        noise_temporal_levels=temporal,
        noise_fixed_levels=fixed,
        visual_noise=visual_noise(luma[0], inside),
        dynamic_range_used=float(ends[1] - ends[0]) / 255.0,
        modulation_over_ring=shown,
        modulation_over_ring_without_glare=without,
        glare_loss=max(0.0, 1.0 - shown / without) if without > 0.0 else 0.0,
        trail_px=longest_trail_px(in_scene, target),
        compression_psnr_db=psnr,
        compression_ssim=ssim,
    )


def _middle(silhouette: Silhouette) -> tuple[int, int, int, int]:
    """A part of the window round the middle of the target, `MOST_PX` at most on a side."""
    x0, y0, x1, y1 = silhouette.window_px
    rows, columns = np.nonzero(silhouette.inside)
    out = []
    for low, high, middle in ((x0, x1, columns.mean()), (y0, y1, rows.mean())):
        first = max(low, min(int(low + middle - MOST_PX / 2), high - MOST_PX))
        out.append((first, min(high, first + MOST_PX)))
    (left, right), (top, bottom) = out
    return left, top, right, bottom


def noise_levels(luma: Image, inside: NDArray[np.bool_]) -> tuple[float, float]:
    """Temporal and fixed noise [levels] of pictures (cameras, repeats, rows, columns).

    Temporal is the spread of a pixel over the repeats of one camera; fixed that of the means of
    several cameras of other fixed patterns before the same scene, less what is left of the temporal
    noise in them. Both by variances without bias, over the pixels inside (rows, columns).
    """
    repeats = luma.shape[1]
    one = float(luma.var(axis=1, ddof=1)[:, inside].mean())
    means = float(luma.mean(axis=1).var(axis=0, ddof=1)[inside].mean())
    return float(np.sqrt(one)), float(np.sqrt(max(0.0, means - one / repeats)))


def visual_noise(luma: Image, inside: NDArray[np.bool_]) -> float:
    """Noise of lightness as an eye sees it, of repetitions (n, rows, columns) [L*].

    Noise of CIE 1976 L* on the display, weighted by the contrast sensitivity of the eye over its
    peak at 42 px/deg, over the pixels inside. After the idea of ISO 15739, whose own weights and
    colour terms are not used: figures compare with each other, not with that standard.
    """
    light = emitted(luma).astype(np.float64)
    lightness = np.where(
        light > (6.0 / 29.0) ** 3, 116.0 * np.cbrt(light) - 16.0, light * (29.0 / 3.0) ** 3
    )
    residual = lightness - lightness.mean(axis=0)
    rows, columns = inside.shape
    fx, fy = fine_frequencies(rows, columns, 1.0)
    u = np.maximum(np.hypot(fx, fy), 0.5 / max(rows, columns)) / VIEW_DEG_PX
    level = max(float(light[:, inside].mean()), 0.01) * WHITE_CD_M2
    weight = contrast_sensitivity(u, level, 4.0)
    seen = np.fft.irfft2(np.fft.rfft2(residual) * weight / weight.max(), s=(rows, columns))
    unbias = len(luma) / (len(luma) - 1.0)
    return float(np.sqrt(unbias * np.square(seen[:, inside]).mean()))


def _modulations(
    in_scene: CameraInScene, state: State, silhouette: Silhouette, rate: Image, stray_light: Image
) -> tuple[float, float]:
    """Modulation between the bright and the dark parts of target and ring, with and without glare.

    Bright and dark are the 95th and the 5th percentile of the signal.
    """
    x0, y0, x1, y1 = silhouette.window_px
    share = in_scene.glare_index
    cut = rate[y0:y1, x0:x1, :3]
    full = (in_scene.view.width_px, in_scene.view.height_px)
    stray = add_glare(np.zeros_like(cut), stray_light, share, (x0, y0), full)
    bare = np.maximum(cut - stray, 0.0) / max(1.0 - share, 1e-6)
    both = silhouette.inside | silhouette.ring
    return _modulation(plate_signal(cut, state)[both]), _modulation(plate_signal(bare, state)[both])


def _modulation(signal: Image) -> float:
    low, high = np.percentile(signal, [5.0, 95.0])
    return float((high - low) / (high + low)) if high + low > 0.0 else 0.0


def longest_trail_px(in_scene: CameraInScene, target: JudgedTarget) -> float:
    """Trail of the open recursion [px]: how far behind the target `LEFT` of it is still shown.

    A target that moves v px from frame to frame covers a place for m = width / v frames; of its
    difference (1 - s^m) s^n is left n frames after it has passed, where s is the share of the last
    output that is kept. Where the camera notices the movement it keeps less and the trail is
    shorter (`bench/trails` measures it).
    """
    share = in_scene.camera.processing.temporal_noise_reduction
    frame_s = 1.0 / in_scene.camera.processing.frame_rate_hz
    step = float(np.hypot(*in_scene.smear_px(frame_s, target.card.centre_m)[target.card.group]))
    if share <= 0.0 or step <= 0.0:
        return 0.0
    wide = float(np.ptp(target.corners_px[:, 0]))
    whole = 1.0 - share ** max(1.0, wide / step)
    return step * max(0.0, float(np.log(LEFT / whole) / np.log(share)))


def _codec_loss(
    in_scene: CameraInScene,
    state: State,
    rates: Sequence[Image],
    behind: Image,
    inside: NDArray[np.bool_],
    *,
    seed: int,
    origin_px: tuple[int, int],
) -> tuple[float | None, float | None]:
    """PSNR [dB] and SSIM of luma (rows, columns) behind the codec to the same picture before it."""
    if state.quantiser is None:
        return None, None
    from skimage.metrics import structural_similarity  # noqa: PLC0415

    before = luma_levels(
        shoot(in_scene, state, rates, seed=seed, first=1, frames=1, origin_px=origin_px)[0]
    )
    error = float(np.square(before - behind)[inside].mean())
    psnr = 10.0 * float(np.log10(255.0**2 / max(error, 1e-3)))
    side = min(7, *(n - 1 + n % 2 for n in before.shape))
    every = structural_similarity(before, behind, data_range=255.0, win_size=side, full=True)[1]
    return psnr, float(every[inside].mean())
