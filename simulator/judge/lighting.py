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
    basis: str
    amount: float
    """Illuminance [lx] or irradiance [W/m2] on the plane; bounced light after the ground's
    reflectance, what the air takes on the way left out."""
    electrons_per_s: float
    """Rate of the green channel on a diffuse surface of that material [e-/s per pixel]."""


def contributions(
    in_scene: CameraInScene,
    mode: Mode,
    point_m: FloatArray,
    normal: FloatArray,
    material: int,
    card: int | None = None,
) -> list[Contribution]:
    """Every light's share at a point with a normal, shadows and air included, retroreflection not.

    Rates are on axis, without vignetting. `card` is the index of the card the point lies on.
    """
    packed = in_scene.lights(mode)
    amounts = incident(point_m, normal, in_scene.packed_cards, packed, card)[0]
    return [
        Contribution(
            i,
            light.name,
            light.spectrum.basis,
            float(amounts[i]) * _arrives(light),
            float(amounts[i]) * float(packed.coefficient[i, material, 1]),
        )
        for i, light in enumerate(in_scene.world.lights)
    ]


def _arrives(light: LightSource) -> float:
    """Lux, or W/m2, of one unit of a light; for bounced light the ground's reflectance."""
    if light.spectrum.basis != "lux":
        return 1.0
    return float(illuminance_lux(light.spectrum.power))


def totals(rows: list[Contribution]) -> tuple[float, float]:
    """Illuminance [lx] and infrared irradiance [W/m2] of a list of contributions."""
    lux = sum(row.amount for row in rows if row.basis == "lux")
    irradiance = sum(row.amount for row in rows if row.basis == "w_m2")
    return float(lux), float(irradiance)
