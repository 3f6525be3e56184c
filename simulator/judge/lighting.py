"""Who lights the target, and by how much."""

from __future__ import annotations

from typing import NamedTuple

from simulator.camera.in_scene import CameraInScene, Mode
from simulator.light.photometry import illuminance_lux
from simulator.light.sources import LightSource
from simulator.scene.kernels.irradiance import incident
from simulator.units import FloatArray


class Contribution(NamedTuple):
    """One light on one point: what falls on its plane, and the signal."""

    light: int
    name: str
    illuminance_lux: float | None
    """Visible light on the plane [lx], bounced light after the ground's reflectance, what the air
    takes on the way left out; None of a light without visible light."""
    irradiance_w_m2: float | None
    """Infrared on the plane [W/m2]; None of a visible light."""
    electrons_per_s: float
    """Rate of the green channel on a diffuse surface of that material [e-/s per pixel]."""

    @property
    def quantity(self) -> tuple[float, str]:
        """What falls on the plane, with its unit: [lx], or [W/m²] without visible light."""
        return light_quantity(self.illuminance_lux, self.irradiance_w_m2)

    def with_part(self, other: Contribution) -> Contribution:
        """This light and another part of it together."""
        return self._replace(
            illuminance_lux=_sum(self.illuminance_lux, other.illuminance_lux),
            irradiance_w_m2=_sum(self.irradiance_w_m2, other.irradiance_w_m2),
            electrons_per_s=self.electrons_per_s + other.electrons_per_s,
        )


def light_quantity(
    illuminance_lux: float | None, irradiance_w_m2: float | None
) -> tuple[float, str]:
    """Value and unit of what falls on a plane, of which one is known."""
    if illuminance_lux is not None:
        return illuminance_lux, "lx"
    return irradiance_w_m2 or 0.0, "W/m²"


def _sum(a: float | None, b: float | None) -> float | None:
    return b if a is None else a + (b or 0.0)


def contributions(
    in_scene: CameraInScene,
    mode: Mode,
    point_m: FloatArray,
    normal: FloatArray,
    material: int,
    card: int | None = None,
) -> list[Contribution]:
    """Every light's share at a point with a normal: shadows, bounced light and air included,
    retroreflection not.

    Rates are on axis, without vignetting.

    Parameters
    ----------
    in_scene
        The camera in its scene.
    mode
        "day" or "night".
    point_m
        The point (3,) in the world [m].
    normal
        Unit normal (3,) of the plane.
    material
        Number of its material in the world.
    card
        Number of the card the point lies on, which throws no shadow on itself.

    Returns
    -------
    list of Contribution
        One for every light of the world, in its order.

    References
    ----------
    Inverse square and cosine laws; air by Koschmieder's law (`simulator.scene`).

    Examples
    --------
    >>> import numpy as np
    >>> from simulator import Camera, Scene, open_session
    >>> at = open_session(Scene.load("yard-noon"), Camera.load("fixed-2mp-lowlight"))
    >>> point, facing = np.array([0.0, 5.0, 1.0]), np.array([0.0, -1.0, 0.0])
    >>> any(row.name == "sun" for row in contributions(at.mounted, "day", point, facing, 0))
    True
    """
    packed = in_scene.lights(mode)
    units = incident(
        point_m, normal, in_scene.packed_scene, packed, card, field=in_scene.light_field
    )[0]
    return [
        Contribution(
            i,
            light.name,
            *on_plane(light, float(units[i])),
            float(units[i]) * float(packed.coefficient[i, material, 1]),
        )
        for i, light in enumerate(in_scene.world.lights)
    ]


def on_plane(light: LightSource, units: float) -> tuple[float | None, float | None]:
    """Illuminance [lx] and irradiance [W/m2] of so many units of a light's spectrum; one is None.

    Of bounced light a unit is less than a lux: its spectrum holds the ground's reflectance.
    """
    if light.spectrum.basis == "lux":
        return units * float(illuminance_lux(light.spectrum.power)), None
    return None, units


def totals(rows: list[Contribution]) -> tuple[float, float]:
    """Sums of what several lights bring.

    Parameters
    ----------
    rows
        Contributions at one point.

    Returns
    -------
    tuple of float
        Illuminance [lx] and infrared irradiance [W/m2].

    References
    ----------
    Incoherent light adds up.

    Examples
    --------
    >>> totals([Contribution(0, "sky", 20.0, None, 5e3), Contribution(1, "lamp", 10.0, None, 2e3)])
    (30.0, 0.0)
    """
    lux = sum(row.illuminance_lux or 0.0 for row in rows)
    irradiance = sum(row.irradiance_w_m2 or 0.0 for row in rows)
    return float(lux), float(irradiance)
