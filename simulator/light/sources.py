"""A light as the renderer knows it: a spectrum, how strong it is, a place and a beam."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from simulator.light.spectra import Spectrum
from simulator.units import FloatArray

Kind = Literal["sky", "bounce", "sun", "point", "panel"]
Beam = Literal["cosine-power", "dipped", "main", "web"]
QUANTITIES: dict[Kind, tuple[str, ...]] = {
    "sky": ("illuminance_lux",),
    "bounce": ("illuminance_lux",),
    "sun": ("illuminance_lux",),
    "point": ("intensity_cd", "radiant_intensity_w_per_sr", "beam_factor"),
    "panel": ("luminance_cd_m2",),
}
"""What says how strong a light is, by its kind; exactly one of them is given."""

SUN_DIAMETER_DEG = 0.53
"""Angular diameter of sun and moon, mean of both over the year within 4 % (from memory)."""
NATURAL = "natural_light"
"""Owner of sky, sun, moon and what the ground throws back of them."""


@dataclass(frozen=True)
class LightSource:
    """One light source, with the one quantity that says how strong it is.

    Light flickers as 1 + `flicker_depth` cos(2 pi `flicker_hz` t + `flicker_phase_deg`).

    Attributes
    ----------
    name
        What it is called.
    kind
        "sky", "bounce", "sun", "point" or "panel".
    spectrum
        Spectrum of one unit of its light.
    position_m
        Place (3,) [m] of a point or panel.
    direction
        Unit vector (3,) towards the sun or along the beam axis.
    illuminance_lux
        Of sky and bounce: that of level ground which the sky gives, or which the ground sends back
        times its reflectance (kept in the spectrum); of sun and moon that of a plane facing them
        [lx].
    intensity_cd
        Of a point, on the beam axis [cd].
    radiant_intensity_w_per_sr
        The same of a point without visible light [W/sr].
    beam_factor
        Of a point, factor on the intensities of its own table ("dipped", "main", photometric
        files).
    luminance_cd_m2
        Of a bright panel, which lights other things through points of its own [cd/m2].
    beam
        "cosine-power", "dipped", "main" or "web".
    exponent
        Exponent of a cosine-power beam, see `beam_exponent`.
    group
        Group of what moves with one velocity that it belongs to; 0 stands still.
    web
        Table of a beam "web" (`webs.WEB_SHAPE`, float32) over gamma, the angle from `direction`,
        and C, the angle about it: intensities [cd] where `beam_factor` is given, else shares of the
        intensity on the axis.
    reference
        Unit vector (3,) of C = 0, at right angles to `direction`; C = 90 lies towards the cross
        product reference x direction.
    flicker_depth
        Modulation, 0 to 1; 0 is steady.
    flicker_hz
        Frequency of the light, twice that of the mains [Hz].
    flicker_phase_deg
        Phase at time 0 [deg].
    owner
        What of the scene's file gives the light: the name of a lamp, illuminator, opening or
        vehicle, or `NATURAL`.
    diameter_m
        Of a point, diameter of the luminous face, on which the softness of shadows depends [m]; 0
        throws hard ones.
    housing_m
        Of a point, solid bodies that are met within this of it are its own housing and do not
        shade it [m].

    Raises
    ------
    ValueError
        Unless exactly one quantity of the light's kind is given, [W/sr] with a spectrum per W/m2
        and [cd] with one per lux.

    Examples
    --------
    >>> from simulator.light import spectrum
    >>> lamp = LightSource("lamp", "point", spectrum("led-4000k"), intensity_cd=500.0)
    >>> lamp.quantity, lamp.scaled(0.5).strength
    ('intensity_cd', 250.0)
    """

    name: str
    kind: Kind
    spectrum: Spectrum
    position_m: FloatArray | None = None
    direction: FloatArray | None = None
    illuminance_lux: float | None = None
    intensity_cd: float | None = None
    radiant_intensity_w_per_sr: float | None = None
    beam_factor: float | None = None
    luminance_cd_m2: float | None = None
    beam: Beam = "cosine-power"
    exponent: float = 1.0
    group: int = 0
    web: NDArray[np.float32] | None = None
    reference: FloatArray | None = None
    flicker_depth: float = 0.0
    flicker_hz: float = 100.0
    flicker_phase_deg: float = 0.0
    owner: str = ""
    diameter_m: float = 0.0
    housing_m: float = 0.0

    def __post_init__(self) -> None:
        given = [
            name
            for name in dict.fromkeys(name for names in QUANTITIES.values() for name in names)
            if getattr(self, name) is not None
        ]
        if len(given) != 1 or given[0] not in QUANTITIES[self.kind]:
            allowed = " or ".join(QUANTITIES[self.kind])
            raise ValueError(f"a light of kind {self.kind!r} needs {allowed} (got {given})")
        if (given[0] == "radiant_intensity_w_per_sr") != (self.spectrum.basis == "w_m2"):
            raise ValueError(f"{given[0]} does not go with a spectrum per {self.spectrum.basis}")

    @property
    def quantity(self) -> str:
        """Name of the quantity that is given."""
        return next(n for n in QUANTITIES[self.kind] if getattr(self, n) is not None)

    @property
    def strength(self) -> float:
        """Value of that quantity, in its unit."""
        return float(getattr(self, self.quantity))

    def scaled(self, factor: float) -> LightSource:
        """The same light, dimmed or brightened by a factor."""
        change: Any = {self.quantity: factor * self.strength}
        return replace(self, **change)


@dataclass(frozen=True)
class Emitter:
    """A bright lamp face as the camera sees it.

    `light` indexes the scene's lights; the intensity towards the camera follows that light's beam.
    """

    light: int
    position_m: FloatArray
    diameter_m: float
    group: int = 0
