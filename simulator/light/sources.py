"""A light as the renderer knows it: a spectrum, an amount, a place and a beam."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from simulator.light.spectra import Spectrum
from simulator.units import FloatArray

Kind = Literal["sky", "bounce", "sun", "point"]
Beam = Literal["cosine-power", "dipped", "main"]


@dataclass(frozen=True)
class LightSource:
    """One light source.

    `amount` is, by kind: sky and bounce, the illuminance of level ground [lx] that the sky gives or
    that the ground sends back times its reflectance (kept in the spectrum); sun, the illuminance
    on a plane facing it [lx]; point, the intensity on the beam axis [cd or W/sr, after the basis
    of the spectrum]. `direction` is the unit vector towards the sun or along the beam axis.
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


@dataclass(frozen=True)
class Emitter:
    """A bright lamp face as the camera sees it.

    `light` indexes the scene's lights; the intensity towards the camera follows that light's beam.
    """

    light: int
    position_m: FloatArray
    diameter_m: float
    group: int = 0
