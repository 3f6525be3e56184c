"""Figures of the target as the eight-bit picture shows it: noise, use of the scale, losses."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Annotated

import numpy as np
from numpy.typing import NDArray

from simulator.camera.in_scene import CameraInScene
from simulator.camera.lens import fine_frequencies
from simulator.camera.light_field import add_glare
from simulator.camera.pipeline import State, shoot
from simulator.camera.recording import recorded
from simulator.judge.eye import WHITE_CD_M2, contrast_sensitivity, emitted
from simulator.judge.figures import plate_signal
from simulator.judge.record import Quantity, Record, computed
from simulator.judge.silhouette import Look, Silhouette, look_of, luma_levels
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


@dataclass(frozen=True)
class Measured:
    """The picture of one target, and what is measured on it when a figure first asks for it."""

    in_scene: CameraInScene
    state: State
    target: JudgedTarget
    silhouette: Silhouette
    rates: Sequence[Image]
    """Light of the whole picture, oldest frame first (rows, columns, 3) [e-/s]."""
    stray_light: Image
    """Stray light of the whole picture for a glare share of one, as `Light.stray_light`."""
    frame: NDArray[np.uint8]
    """The whole eight-bit picture (rows, columns, 3)."""
    seed: int

    @cached_property
    def look(self) -> Look:
        """Levels of the target and of the ring around it."""
        return look_of(self.frame, self.silhouette)

    @cached_property
    def box(self) -> tuple[int, int, int, int]:
        """The part of the picture that noise is measured on [px]."""
        return _middle(self.silhouette)

    @cached_property
    def inside(self) -> NDArray[np.bool_]:
        """Pixels of the box that show the target (rows, columns)."""
        (left, top, right, bottom), (x0, y0) = self.box, self.silhouette.window_px[:2]
        return self.silhouette.inside[top - y0 : bottom - y0, left - x0 : right - x0]

    @cached_property
    def cut(self) -> list[Image]:
        """Light of the box, oldest frame first (rows, columns, 3) [e-/s]."""
        left, top, right, bottom = self.box
        return [np.ascontiguousarray(rate[top:bottom, left:right]) for rate in self.rates]

    @cached_property
    def luma(self) -> Image:
        """Luma of the box from several cameras (cameras, repeats, rows, columns) [levels]."""
        pictures = [
            recorded(
                self.in_scene, self.state, self.cut, seed=self.seed + k, first=1, frames=REPEATS,
                origin_px=self.box[:2],
            )
            for k in range(SEEDS)
        ]  # fmt: skip
        return luma_levels(np.stack(pictures))

    @cached_property
    def noise(self) -> tuple[float, float]:
        """Temporal and fixed noise [levels]."""
        return noise_levels(self.luma, self.inside)

    @cached_property
    def codec_loss(self) -> tuple[float | None, float | None]:
        """PSNR [dB] and SSIM of the box behind the codec."""
        return _codec_loss(
            self.in_scene, self.state, self.cut, self.luma[0, 0], self.inside, seed=self.seed,
            origin_px=self.box[:2],
        )  # fmt: skip

    @cached_property
    def modulations(self) -> tuple[float, float]:
        """Modulation of target and ring with stray light and without."""
        return _modulations(
            self.in_scene, self.state, self.silhouette, self.rates[-1], self.stray_light
        )

    @property
    def range_used(self) -> float:
        """Share of the scale between the ends of what the frame shows."""
        ends = np.percentile(luma_levels(self.frame), [CONTENT_TAIL, 100.0 - CONTENT_TAIL])
        return float(ends[1] - ends[0]) / 255.0

    @property
    def glare_loss(self) -> float:
        """Share of the modulation that stray light takes."""
        shown, without = self.modulations
        return max(0.0, 1.0 - shown / without) if without > 0.0 else 0.0


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
    """Temporal and fixed noise of pictures of one scene.

    Temporal is the spread of a pixel over the repeats of one camera; fixed that of the means of
    several cameras of other fixed patterns before the same scene, less what is left of the temporal
    noise in them. Both by variances without bias, over the pixels inside (rows, columns).

    Parameters
    ----------
    luma
        Luma of pictures (cameras, repeats, rows, columns) [levels of 255], two of each or more.
    inside
        Pixels (rows, columns) that count.

    Returns
    -------
    tuple of float
        Temporal and fixed standard deviation [levels of 255].

    References
    ----------
    Variances after EMVA 1288, of repetitions and of their means.

    Examples
    --------
    >>> import numpy as np
    >>> noisy = 100.0 + np.random.default_rng(1).normal(0.0, 3.0, (2, 50, 20, 20))
    >>> temporal, fixed = noise_levels(noisy, np.ones((20, 20), bool))
    >>> round(temporal, 1), fixed < 0.3
    (3.0, True)
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

    Parameters
    ----------
    luma
        Luma of repetitions (n, rows, columns) [levels of 255].
    inside
        Pixels (rows, columns) that count.

    Returns
    -------
    float
        Standard deviation [L*].

    References
    ----------
    ISO 15739 (idea); Barten 1999 (contrast sensitivity).

    Examples
    --------
    >>> import numpy as np
    >>> visual_noise(np.full((4, 32, 32), 120.0, np.float32), np.ones((32, 32), bool))
    0.0
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
    share = in_scene.stray_share
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


SELF = "judge/picture_figures"
LEVELS = "levels of 255"


class PictureFigures(Record):
    """The target as the eight-bit frame shows it.

    A new figure is a field here: what it is, what computes it from `Measured`, and its meaning.
    """

    mean_level: Annotated[
        float,
        Quantity(
            "Mean level", "judge/silhouette", LEVELS, places=("back",),
            of=lambda m: m.look.mean_level,
        ),
    ]  # fmt: skip
    """Mean luma of its pixels in the eight-bit frame"""
    contrast_to_surround: Annotated[
        float | None,
        Quantity(
            "Contrast to its surround", "judge/silhouette", digits=2, places=("back",),
            of=lambda m: m.look.contrast_to_surround,
        ),
    ]  # fmt: skip
    """(target − ring) / (target + ring) of the mean levels in the frame; null without a ring"""
    crushed_fraction: Annotated[
        float,
        Quantity(
            "Lost in black", "judge/silhouette", form="percent", places=("back",),
            of=lambda m: m.look.crushed_fraction,
        ),
    ]  # fmt: skip
    """Share of its pixels at level 0 or 1 in every channel"""
    noise_temporal_levels: Annotated[
        float,
        Quantity(
            "Noise from picture to picture", SELF, LEVELS, digits=2, places=("back",),
            of=lambda m: m.noise[0],
        ),
    ]  # fmt: skip
    """Standard deviation of a pixel of the target from picture to picture"""
    noise_fixed_levels: Annotated[
        float,
        Quantity(
            "Fixed noise", SELF, LEVELS, digits=2, places=("back",), of=lambda m: m.noise[1],
        ),
    ]  # fmt: skip
    """The same from pixel to pixel of what stays: between cameras of other fixed patterns before
    the same scene"""
    visual_noise: Annotated[
        float,
        Quantity(
            "Noise to the eye", SELF, "L*", digits=2, places=("back",),
            of=lambda m: visual_noise(m.luma[0], m.inside),
        ),
    ]  # fmt: skip
    """Noise of lightness after the eye's contrast sensitivity at 42 px/deg (idea of ISO 15739, not
    its weights)"""
    dynamic_range_used: Annotated[
        float,
        Quantity(
            "Share of the scale in use", SELF, form="percent", places=("back",),
            of=lambda m: m.range_used,
        ),
    ]  # fmt: skip
    """Share of the eight-bit scale between the darkest and the brightest per cent of the frame"""
    modulation_over_ring: Annotated[
        float,
        Quantity(
            "Modulation of target and ring", SELF, digits=2, of=lambda m: m.modulations[0],
        ),
    ]  # fmt: skip
    """(high − low) / (high + low) of the 95th and 5th percentile of the light on target and ring"""
    modulation_over_ring_without_glare: Annotated[
        float,
        Quantity(
            "The same without stray light", SELF, digits=2, of=lambda m: m.modulations[1],
        ),
    ]  # fmt: skip
    """The same with no stray light"""
    glare_loss: Annotated[
        float,
        Quantity(
            "Modulation lost to stray light", SELF, form="percent", places=("back",),
            of=lambda m: m.glare_loss,
        ),
    ]  # fmt: skip
    """Share of that modulation that stray light takes"""
    trail_px: Annotated[
        float,
        Quantity(
            "Longest trail", SELF, "px", digits=2, places=("back",),
            of=lambda m: longest_trail_px(m.in_scene, m.target),
        ),
    ]  # fmt: skip
    """Longest trail (a tenth of the difference left) that temporal noise reduction can leave;
    shorter where the camera notices the movement"""
    compression_psnr_db: Annotated[
        float | None,
        Quantity(
            "PSNR behind the codec", SELF, "dB", places=("back",), of=lambda m: m.codec_loss[0],
        ),
    ]  # fmt: skip
    """Peak signal to noise of the target's luma behind the codec to before it; null without a
    codec"""
    compression_ssim: Annotated[
        float | None,
        Quantity(
            "SSIM behind the codec", SELF, digits=2, of=lambda m: m.codec_loss[1],
        ),
    ]  # fmt: skip
    """Structural similarity of the same"""


def picture_figures(measured: Measured) -> PictureFigures:
    """All figures of one target in the picture."""
    return PictureFigures.model_validate(computed(PictureFigures, measured))
