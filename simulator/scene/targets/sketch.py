"""Drawing on cards in metres."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from simulator.scene.geometry import CLEAR
from simulator.units import FloatArray

Points = Sequence[tuple[float, float]]


class Sketch:
    """Draws on a card whose lower left corner is (-width/2, base); lengths in metres, up positive.

    Parameters
    ----------
    width_m, height_m
        Size of the card [m].
    base_m
        Height of its lower edge [m].
    texel_m
        Size of a texel [m].
    fill
        Material it starts with; clear unless told.
    """

    def __init__(
        self,
        width_m: float,
        height_m: float,
        base_m: float = 0.0,
        *,
        texel_m: float = 0.005,
        fill: int = CLEAR,
    ) -> None:
        self.width_m, self.height_m, self.base_m, self.texel_m = width_m, height_m, base_m, texel_m
        self.texture: NDArray[np.uint8] = np.full(
            (round(height_m / texel_m), round(width_m / texel_m)), fill, dtype=np.uint8
        )

    def grid(self) -> tuple[FloatArray, FloatArray]:
        """Places x and z of the middles of all texels, each (rows, columns) [m]."""
        rows, columns = self.texture.shape
        x = (np.arange(columns) + 0.5) * self.texel_m - self.width_m / 2.0
        z = self.base_m + self.height_m - (np.arange(rows) + 0.5) * self.texel_m
        gx, gz = np.meshgrid(x, z)
        return gx, gz

    def mask(self, points: Points) -> NDArray[np.bool_]:
        """Texels inside a polygon (rows, columns)."""
        canvas = np.zeros(self.texture.shape, np.uint8)
        cv2.fillPoly(canvas, [self._pixels(points)], 1)
        return canvas > 0

    def polygon(self, points: Points, material: int) -> None:
        cv2.fillPoly(self.texture, [self._pixels(points)], material)

    def _pixels(self, points: Points) -> NDArray[np.int32]:
        places = [
            (
                (x + self.width_m / 2) / self.texel_m - 0.5,
                (self.height_m - (z - self.base_m)) / self.texel_m - 0.5,
            )
            for x, z in points
        ]
        return np.round(np.array(places)).astype(np.int32)

    def box(self, x0: float, z0: float, x1: float, z1: float, material: int) -> None:
        self.polygon([(x0, z0), (x1, z0), (x1, z1), (x0, z1)], material)

    def disc(self, x: float, z: float, radius_m: float, material: int) -> None:
        angle = np.linspace(0.0, 2.0 * np.pi, 73)[:-1]
        ring = [(x + radius_m * np.cos(a), z + radius_m * np.sin(a)) for a in angle]
        self.polygon(ring, material)

    def pair(self, points: Points, material: int) -> None:
        """A shape on the right and its mirror image on the left."""
        self.polygon(points, material)
        self.polygon([(-x, z) for x, z in points], material)


def smooth(points: Points, steps: int = 8, closed: bool = True) -> list[tuple[float, float]]:
    """A Catmull-Rom curve through some points, `steps` points for each of them."""
    p = np.asarray(points, dtype=np.float64)
    n = len(p)
    count = n if closed else n - 1
    out = []
    for i in range(count):
        at = [(i + k) % n if closed else min(max(i + k, 0), n - 1) for k in (-1, 0, 1, 2)]
        a, b, c, d = p[at]
        for t in np.arange(steps) / steps:
            q = 0.5 * (
                2 * b
                + (c - a) * t
                + (2 * a - 5 * b + 4 * c - d) * t**2
                + (3 * b - a - 3 * c + d) * t**3
            )
            out.append((float(q[0]), float(q[1])))
    if not closed:
        out.append((float(p[-1][0]), float(p[-1][1])))
    return out
