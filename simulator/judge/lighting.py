"""Who lights the target, and by how much."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from simulator.camera.rig import Mode, Rig
from simulator.light.photometry import illuminance_lux
from simulator.scene.radiance import beam_intensity
from simulator.units import FloatArray


class Contribution(NamedTuple):
    """One light on one point: amount on its plane in the light's own unit, and the signal."""

    light: int
    name: str
    basis: str
    amount: float
    """Illuminance [lx] or irradiance [W/m2] on the plane."""
    electrons_per_s: float
    """Rate of the green channel on a diffuse surface of that material [e-/s per pixel]."""


def contributions(
    rig: Rig, mode: Mode, point_m: FloatArray, normal: FloatArray, material: int
) -> list[Contribution]:
    """Every light's share at a point with a normal, without shadows and retroreflection.

    Inverse square, cosine and beam for lamps; view factors of the open horizon for sky and bounced
    light. Rates are on axis, without vignetting.
    """
    packed = rig.lights(mode)
    rows = []
    for i, light in enumerate(rig.world.lights):
        if light.kind == "sky":
            amount = light.amount * 0.5 * (1.0 + normal[2])
        elif light.kind == "bounce":
            amount = light.amount * 0.5 * (1.0 - normal[2])
        elif light.kind == "sun":
            assert light.direction is not None
            amount = light.amount * max(0.0, float(light.direction @ normal))
        else:
            assert light.position_m is not None
            to_light = light.position_m - point_m
            d = float(np.linalg.norm(to_light))
            u = -to_light / d
            cosine = max(0.0, float(to_light @ normal) / d)
            amount = beam_intensity(i, u[0], u[1], u[2], packed) * cosine / d**2
        rate = amount * float(packed.coefficient[i, material, 1])
        rows.append(Contribution(i, light.name, light.spectrum.basis, float(amount), rate))
    return rows


def totals(rig: Rig, rows: list[Contribution]) -> tuple[float, float]:
    """Illuminance [lx] and infrared irradiance [W/m2] of a list of contributions.

    Bounced light is told as the light that falls on the ground; what arrives is times the ground's
    reflectance, taken from its filtered spectrum.
    """
    lux = sum(
        row.amount * float(illuminance_lux(rig.world.lights[row.light].spectrum.power))
        for row in rows
        if row.basis == "lux"
    )
    irradiance = sum(row.amount for row in rows if row.basis == "w_m2")
    return float(lux), float(irradiance)
