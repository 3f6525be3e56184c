"""Tone curves from linear light to code values: ITU-R BT.709, IEC 61966-2-1, gamma, knee."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from simulator.camera.model import Processing
from simulator.kernels import helper
from simulator.units import FloatArray, Image

LUT_SIZE = 4096


@dataclass(frozen=True)
class Tone:
    """A tone curve with its numbers; `gamma` and the knee count for their own curves only."""

    name: str = "bt709"
    gamma: float = 2.2
    knee_point: float = 0.8
    knee_reach: float = 4.0

    @property
    def reach(self) -> float:
        """Linear light that the curve still tells from white, in units of white."""
        return self.knee_reach if self.name == "knee" else 1.0


def tone_of(settings: Processing) -> Tone:
    """The curve that a profile says."""
    return Tone(settings.tone, settings.gamma, settings.knee_point, settings.knee_reach)


def as_tone(tone: Tone | str) -> Tone:
    """A curve by name, with the ordinary numbers, or the curve itself."""
    return tone if isinstance(tone, Tone) else Tone(tone)


def _bt709(x: FloatArray) -> FloatArray:
    return np.where(x < 0.018, 4.5 * x, 1.099 * np.maximum(x, 0.018) ** 0.45 - 0.099)


def encode_tone(linear: FloatArray, tone: Tone | str) -> FloatArray:
    """Encoded value of linear light, 1 = white.

    "bt709" and "srgb" after ITU-R BT.709 and IEC 61966-2-1; "linear" as it is; "gamma"
    light^(1/gamma); "knee" BT.709 up to `knee_point`, then a straight line that reaches white at
    `knee_reach`. Below zero "gamma" is an odd function, so that noise about black keeps its mean.
    """
    curve = as_tone(tone)
    x = np.asarray(linear, dtype=np.float64)
    if curve.name == "bt709":
        return _bt709(x)
    if curve.name == "srgb":
        safe = np.maximum(x, 0.0031308)
        return np.where(x <= 0.0031308, 12.92 * x, 1.055 * safe ** (1 / 2.4) - 0.055)
    if curve.name == "gamma":
        return np.asarray(np.sign(x) * np.abs(x) ** (1.0 / curve.gamma))
    if curve.name == "knee":
        start = float(_bt709(np.asarray(curve.knee_point)))
        slope = (1.0 - start) / (curve.knee_reach - curve.knee_point)
        return np.where(x < curve.knee_point, _bt709(x), start + slope * (x - curve.knee_point))
    return x


@lru_cache(maxsize=8)
def tone_table(tone: Tone) -> Image:
    """The curve at `LUT_SIZE` even steps from nothing to its reach."""
    return encode_tone(np.linspace(0.0, tone.reach, LUT_SIZE), tone).astype(np.float32)


@helper
def look_up(x, table):  # type: ignore[no-untyped-def]
    """Value of a table over 0..1 at x; straight on below 0, constant above 1."""
    if x >= 1.0:
        return table[table.shape[0] - 1]
    if x <= 0.0:
        return x * table[1] * (table.shape[0] - 1)
    p = x * (table.shape[0] - 1)
    i = int(p)
    f = p - i
    return table[i] * (1.0 - f) + table[i + 1] * f
