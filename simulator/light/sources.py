"""A light as the renderer knows it: a spectrum, an amount, a place and a beam."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from simulator.light.spectra import Spectrum
from simulator.units import FloatArray

Kind = Literal["sky", "bounce", "sun", "point", "panel"]
Beam = Literal["cosine-power", "dipped", "main", "web"]


@dataclass(frozen=True)
class LightSource:
    """One light source.

    `amount` is, by kind: sky and bounce, the illuminance of level ground [lx] that the sky gives or
    that the ground sends back times its reflectance (kept in the spectrum); sun (and moon), the
    illuminance on a plane facing it [lx]; point, the intensity on the beam axis [cd or W/sr, after
    the basis of the spectrum], but for a web the factor on the table; panel, the luminance of a
    bright surface [cd/m2], which lights other things through point lights of its own. `direction`
    is the unit vector towards the sun or along the beam axis.

    A beam "web" is the table `web` (`webs.WEB_SHAPE`, float32) [cd or W/sr] over gamma, the angle
    from `direction`, and C, the angle about it: C = 0 lies towards `reference`, a unit vector at
    right angles to `direction`, and C = 90 towards the cross product reference x direction.

    Light flickers as 1 + `flicker_depth` cos(2 pi `flicker_hz` t + `flicker_phase_deg`); a depth
    of 0 is steady.
    """

    name: str
    kind: Kind
    spectrum: Spectrum
    amount: float
    position_m: FloatArray | None = None
    direction: FloatArray | None = None
    beam: Beam = "cosine-power"
    exponent: float = 1.0
    group: int = 0
    web: NDArray[np.float32] | None = None
    reference: FloatArray | None = None
    flicker_depth: float = 0.0
    flicker_hz: float = 100.0
    flicker_phase_deg: float = 0.0


@dataclass(frozen=True)
class Emitter:
    """A bright lamp face as the camera sees it.

    `light` indexes the scene's lights; the intensity towards the camera follows that light's beam.
    """

    light: int
    position_m: FloatArray
    diameter_m: float
    group: int = 0
