"""Where the patch around a target lies, and how finely it is traced."""

from __future__ import annotations

from dataclasses import dataclass

from simulator.scene.kernels.radiance import Sampling
from simulator.units import FloatArray


@dataclass(frozen=True)
class RegionPlan:
    """Where the patch around a target lies and how finely it is traced.

    `box_px` x0, y0, x1, y1 in whole pixels of the picture; `margin_px` is traced around it and
    takes up what the blur wraps; `split` samples a pixel each way; `point_m` the target's centre,
    `wavelength_nm` what its light is made of; `phase_px` shifts the pixel grid over the scene by
    part of a pixel (x, y).
    """

    box_px: tuple[int, int, int, int]
    margin_px: int
    split: int
    point_m: FloatArray
    wavelength_nm: float
    phase_px: tuple[float, float] = (0.0, 0.0)

    @property
    def sampling(self) -> Sampling:
        """Grid of the patch with its margin."""
        x0, y0, x1, y1 = self.box_px
        m, s = self.margin_px, self.split
        return Sampling(
            x0 - m + self.phase_px[0],
            y0 - m + self.phase_px[1],
            1.0 / s,
            (y1 - y0 + 2 * m) * s,
            (x1 - x0 + 2 * m) * s,
        )
