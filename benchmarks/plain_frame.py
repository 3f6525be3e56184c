"""A frame as one would compose it from OpenCV, numpy and scipy: the fair opponent.

The same steps at the same size, each by the call that its library offers for it: textured cards
warped into the picture, lit by the inverse square and the lens, blurred and veiled by fast
convolution, Poisson and normal noise, demosaicing, colour matrix, edge-preserving smoothing,
sharpening, tone curve. It knows nothing of layers, movement, depth or the noise it should expect.
"""

from __future__ import annotations

import cv2
import numpy as np
import scipy.signal
from numpy.typing import NDArray

MATRIX = np.array([[1.6, -0.4, -0.2], [-0.3, 1.5, -0.2], [0.0, -0.5, 1.5]], np.float32)
BALANCE = np.array([1.8, 1.0, 1.5], np.float32)
FULL_WELL_E, READ_NOISE_E, LARGEST_DN, BLACK_DN = 12_000.0, 2.2, 4095.0, 64.0


def _texture(rng: np.random.Generator, rows: int, columns: int) -> NDArray[np.float32]:
    level = rng.uniform(0.1, 0.8, (rows // 8, columns // 8, 3)).astype(np.float32)
    return cv2.resize(level, (columns, rows), interpolation=cv2.INTER_NEAREST)


def textures(seed: int = 1, count: int = 6) -> list[NDArray[np.float32]]:
    """Cards of a scene, drawn once."""
    rng = np.random.default_rng(seed)
    return [_texture(rng, 400, 600) for _ in range(count)]


def disc(diameter_px: float, size: int = 21) -> NDArray[np.float32]:
    """Blur disc with a soft rim, sum one."""
    y, x = np.mgrid[:size, :size] - size // 2
    spread = np.clip(diameter_px / 2.0 + 0.5 - np.hypot(x, y), 0.0, 1.0)
    return (spread / spread.sum()).astype(np.float32)


def light(cards: list[NDArray[np.float32]], width: int, height: int) -> NDArray[np.float32]:
    """Electrons a second (rows, columns, 3) on the sensor: warp, shade, blur, glare."""
    picture = np.full((height, width, 3), 0.15, np.float32)
    for k, card in enumerate(cards):
        rows, columns = card.shape[:2]
        x, y, s = width * (0.1 + 0.13 * k), height * (0.2 + 0.08 * k), width * 0.22
        to = np.float32([[x, y], [x + s, y + 0.1 * s], [x + s, y + 0.7 * s], [x, y + 0.6 * s]])
        corners = np.float32([[0, 0], [columns, 0], [columns, rows], [0, rows]])
        how = cv2.getPerspectiveTransform(corners, to)
        cv2.warpPerspective(
            card, how, (width, height), dst=picture, flags=cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_TRANSPARENT,
        )  # fmt: skip
    y, x = np.mgrid[:height, :width].astype(np.float32)
    shade = np.zeros((height, width), np.float32)
    for lx, ly in ((0.3, 0.2), (0.7, 0.4)):
        r2 = ((x - lx * width) / width) ** 2 + ((y - ly * height) / width) ** 2 + 0.1
        shade += 0.1 * np.sqrt(0.1) / (r2 * np.sqrt(r2))
    r2 = ((x - width / 2) ** 2 + (y - height / 2) ** 2) / width**2
    rate = picture * (shade / (1.0 + r2) ** 2 * 20_000.0)[:, :, None]
    psf, out = disc(3.0), np.empty_like(rate)
    for c in range(3):
        sharp = scipy.signal.oaconvolve(rate[:, :, c], psf, mode="same")
        small = cv2.resize(sharp, (width // 8, height // 8), interpolation=cv2.INTER_AREA)
        veil = sum(
            w * cv2.GaussianBlur(small, (0, 0), s * width / 8)
            for s, w in ((0.012, 0.23), (0.05, 0.20), (0.25, 0.57))
        )
        out[:, :, c] = 0.95 * sharp + 0.05 * cv2.resize(veil, (width, height))
    return np.maximum(out, 0.0)


def shot(rate: NDArray[np.float32], rng: np.random.Generator) -> NDArray[np.uint8]:
    """Eight-bit picture of light: noise, demosaic, balance, matrix, smoothing, sharpening, tone."""
    height, width = rate.shape[:2]
    mosaic = np.empty((height, width), np.float32)
    for j in (0, 1):
        for i in (0, 1):
            mosaic[j::2, i::2] = rate[j::2, i::2, j + i]
    gain = 20.0
    electrons = rng.poisson(mosaic * 0.02).astype(np.float32)
    electrons += READ_NOISE_E * rng.standard_normal(mosaic.shape, dtype=np.float32)
    dn = electrons * ((LARGEST_DN - BLACK_DN) / FULL_WELL_E * gain) + BLACK_DN
    raw = np.clip(dn + 0.5, 0.0, LARGEST_DN).astype(np.uint16)
    rgb = cv2.demosaicing(raw, cv2.COLOR_BayerBG2RGB_EA).astype(np.float32)
    rgb = (rgb - BLACK_DN) * (BALANCE / (LARGEST_DN - BLACK_DN))
    rgb = np.clip(cv2.transform(rgb, MATRIX), 0.0, 1.0)
    encoded = np.where(rgb < 0.018, 4.5 * rgb, 1.099 * rgb**0.45 - 0.099).astype(np.float32)
    smooth = cv2.bilateralFilter(encoded, 5, 0.1, 2.0)
    soft = cv2.GaussianBlur(smooth, (0, 0), 1.0)
    sharp = cv2.addWeighted(smooth, 1.3, soft, -0.3, 0.0)
    return (np.clip(sharp, 0.0, 1.0) * 255.0 + 0.5).astype(np.uint8)
