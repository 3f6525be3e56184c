"""The factors of a light budget: from what falls on the target to electrons in a pixel.

Every stage is a count of photons, and from the quantum efficiency on of electrons, for one pixel
and one exposure: what would arrive if all that follows were perfect. Stages follow one another by
factors, each a mean over the photons that are left, so that their product is exact at every
wavelength:

    mu_e = t A / (h c) x integral of E(lambda) beta(lambda) T(lambda) lambda dlambda
           x exp(-sigma s) cos^4(theta) / (4 F^2 (1 + m)^2) x vignetting

the camera equation with the radiance factor beta = pi L / E (CIE 17) of the target and the photon
energy h c / lambda.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from simulator.camera.auto_exposure import State
from simulator.camera.in_scene import CameraInScene
from simulator.camera.lens import magnification
from simulator.camera.response import (
    infrared_cut_filter,
    lens_transmittance,
    quantum_efficiency,
)
from simulator.light.photometry import illuminance_lux
from simulator.scene.air import Air
from simulator.scene.kernels.irradiance import unshaded
from simulator.studies.budget.falling import Asked, Falling, tint
from simulator.studies.budget.place import Place
from simulator.units import STEP_NM, WAVELENGTH_NM, FloatArray, photon_energy_j

CHANNELS = ("red", "green", "blue")


@dataclass(frozen=True)
class Factor:
    """One stage: by what it multiplies, and how many photons or electrons are left.

    Attributes
    ----------
    name
        Identity of the stage, as `wording` has its words, equation and source.
    factor
        What it multiplies by; None where the chain begins.
    count
        Photons, or electrons, of one pixel in one exposure after it; (3,) by channel.
    values
        Quantities that its equation names, with their units.
    """

    name: str
    factor: FloatArray | None
    count: FloatArray
    values: tuple[tuple[str, float, str], ...] = ()

    @property
    def unit(self) -> str:
        """What is counted."""
        return "electrons" if self.name in ELECTRONS else "photons"


ELECTRONS = ("quantum-efficiency", "kept")
"""Stages after which electrons are counted."""


@dataclass(frozen=True)
class Chain:
    """All stages of one light, directly or bounced, in their order.

    Attributes
    ----------
    light
        Its name in the scene.
    kind
        "sky", "bounce", "sun", "point" or "panel".
    bounced
        Whether it reaches the target after bounces.
    on_target
        What falls on the plane of the target [lx, or W/m2 of infrared], and its unit.
    stages
        From the source to electrons.
    """

    light: str
    kind: str
    bounced: bool
    on_target: tuple[float, str]
    stages: tuple[Factor, ...]

    @property
    def electrons(self) -> FloatArray:
        """Electrons of one exposure (3,) by channel."""
        return self.stages[-1].count

    def stage(self, name: str) -> Factor:
        """A stage by name."""
        return next(one for one in self.stages if one.name == name)


class Optics(NamedTuple):
    """What the way from target to pixel does, the same for every light."""

    air: float
    extinction_per_m: float
    aperture: float
    f_number: float
    magnification: float
    cosine4: float
    field: float
    stray_share: float

    @property
    def fall_off(self) -> float:
        """cos^4, vignetting and distortion together, as the renderer applies them."""
        return self.cosine4 * self.field


def optics_at(in_scene: CameraInScene, state: State, place: Place) -> Optics:
    """Factors of air and lens for one place of the picture."""
    lens, view = in_scene.camera.lens, in_scene.packed_view
    m = magnification(lens.focal_length_mm * 1e-3, in_scene.focus_m)
    middle = np.array(place.pixel) + 0.5
    offset = middle - view.centre
    share = view.distortion * float(offset @ offset)
    denser = (1.0 - share) / (1.0 + share) ** 3
    radius2 = float(np.sum((offset / (1.0 + share)) ** 2))
    cosine2 = view.focal_px**2 / (view.focal_px**2 + radius2)
    corner = min(1.0, radius2 / view.circle_px**2)
    air = in_scene.air(state.mode) or Air(0.0)
    return Optics(
        math.exp(-air.extinction_per_m * place.distance_m),
        air.extinction_per_m,
        1.0 / (4.0 * lens.f_number**2 * (1.0 + m) ** 2),
        lens.f_number,
        m,
        cosine2**2,
        denser * (1.0 - (1.0 - view.corner_illumination) * corner),
        in_scene.stray_share,
    )


def photons(power: FloatArray) -> float:
    """Photons [m^-2 s^-1] of a spectral irradiance (721,): integral of E lambda / (h c).

    Parameters
    ----------
    power
        Spectral irradiance [W m^-2 nm^-1].

    References
    ----------
    Photon energy h c / lambda with constants of CODATA.

    Examples
    --------
    A watt of infrared of 850 nm is 4.28e18 photons a second:

    >>> line = np.where(WAVELENGTH_NM == 850.0, 1.0, 0.0)
    >>> round(photons(line) / 1e18, 2)
    4.28
    """
    return float(np.sum(power / photon_energy_j(WAVELENGTH_NM)) * STEP_NM)


def chain_of(asked: Asked, state: State, optics: Optics, one: Falling, grain: float) -> Chain:
    """The stages of one light."""
    in_scene, place = asked.in_scene, asked.place
    shutter, area = state.exposure.shutter_s, in_scene.pitch_m**2
    falls = one.on_plane.spectrum(one.source)
    material = in_scene.world.materials[place.material]
    leaves = falls * material.reflectance + one.mirrored.spectrum(one.source)
    leaves = leaves + one.returned * one.source.spectrum.power * tint(asked)
    steps = _Steps(np.full(3, shutter * area * photons(falls)))
    stages = [] if one.bounced else _source_stages(asked, one, steps.count)
    stages.append(
        Factor("falling", None, steps.count, (("E", *amount_of(one)), ("t", shutter, "s"),
               ("A", area * 1e12, "µm²"))),
    )  # fmt: skip
    beta = photons(leaves) / photons(falls) if photons(falls) > 0.0 else None
    if beta is None:
        steps.count = np.full(3, shutter * area * photons(leaves))
        stages.append(Factor("reflected", None, steps.count))
    else:
        stages.append(steps.by("reflected", beta, _surface_values(one, material.reflectance)))
    stages += [
        steps.by("patches", grain),
        steps.by("air", optics.air, (("σ", optics.extinction_per_m, "1/m"),
                 ("s", place.distance_m, "m"))),
        steps.by("aperture", optics.aperture, (("F", optics.f_number, ""),
                 ("m", optics.magnification, ""))),
        steps.by("cosine-fourth", optics.cosine4, (("θ", place.field_deg, "°"),)),
        steps.by("vignetting", optics.field),
    ]  # fmt: skip
    stages += _passed(in_scene, state, leaves, steps)
    stages.append(steps.by("kept", 1.0 - optics.stray_share))
    return Chain(one.source.name, one.source.kind, one.bounced, amount_of(one), tuple(stages))


class _Steps:
    """Counts as stage follows stage."""

    def __init__(self, count: FloatArray) -> None:
        self.count = count

    def by(
        self, name: str, factor: FloatArray | float, values: tuple[tuple[str, float, str], ...] = ()
    ) -> Factor:
        each = np.broadcast_to(np.asarray(factor, dtype=np.float64), (3,))
        self.count = self.count * each
        return Factor(name, each, self.count, values)


def amount_of(one: Falling) -> tuple[float, str]:
    """What falls on the plane [lx], or without visible light [W/m2], with its unit."""
    power = one.on_plane.spectrum(one.source)
    if one.source.spectrum.basis == "lux":
        return float(illuminance_lux(power)), "lx"
    return float(power.sum() * STEP_NM), "W/m²"


def _surface_values(one: Falling, reflectance: FloatArray) -> tuple[tuple[str, float, str], ...]:
    """Parts of the radiance factor: matt, mirrored by a coat, returned by sheeting."""
    falls = one.on_plane.spectrum(one.source)
    total = photons(falls)
    parts = [("ρ", photons(falls * reflectance) / total, "")]
    if one.mirrored.any:
        parts.append(("coat", photons(one.mirrored.spectrum(one.source)) / total, ""))
    if one.returned > 0.0:
        parts.append(("sheeting", one.returned * photons(one.source.spectrum.power) / total, ""))
    return tuple(parts)


def _passed(
    in_scene: CameraInScene, state: State, leaves: FloatArray, steps: _Steps
) -> list[Factor]:
    """Lens, cover, filter and quantum efficiency: each a mean over the photons that are left."""
    camera = in_scene.camera
    lens = lens_transmittance(camera.lens.transmittance, camera.lens.transmittance_infrared)
    out = [_mean(steps, "lens", leaves, lens)]
    left = leaves * lens
    if camera.cover.passed < 1.0:
        out.append(steps.by("cover", camera.cover.passed))
    if state.mode == "day":
        out.append(_mean(steps, "filter", left, infrared_cut_filter()))
        left = left * infrared_cut_filter()
    efficiency = quantum_efficiency(camera.sensor.quantum_efficiency)
    out.append(_mean(steps, "quantum-efficiency", left, efficiency))
    return out


def _mean(steps: _Steps, name: str, power: FloatArray, through: FloatArray) -> Factor:
    """Mean of what passes over the photons of a spectrum (721,); `through` (..., 721)."""
    weight = power * WAVELENGTH_NM
    total = float(weight.sum())
    return steps.by(name, (through @ weight) / total if total > 0.0 else 0.0)


def _source_stages(asked: Asked, one: Falling, count: FloatArray) -> list[Factor]:
    """From the source to the plane of the target, `count` what falls there."""
    if one.source.kind == "point":
        return _lamp_stages(asked, one, count)
    strength = float(asked.lights.amount[one.light])
    place = asked.place
    if one.source.kind == "sun":
        assert one.source.direction is not None
        cosine = float(place.normal @ one.source.direction)
        seen = one.on_plane.even / (strength * cosine) if cosine > 0.0 else 0.0
        return _backwards(
            count, "sun", (("E₀", strength, "lx"),),
            [("cosine", cosine, (("θ", math.degrees(math.acos(min(1.0, cosine))), "°"),)),
             ("unshaded", seen, ())],
        )  # fmt: skip
    if one.source.kind == "sky" and strength > 0.0:
        share = one.on_plane.even / strength
        return _backwards(count, "sky", (("E₀", strength, "lx"),), [("sky-share", share, ())])
    return []


def _lamp_stages(asked: Asked, one: Falling, count: FloatArray) -> list[Factor]:
    """Intensity, beam, inverse square, cosine, air and shadow of a lamp."""
    source, place = one.source, asked.place
    assert source.position_m is not None
    way = source.position_m - place.point_m
    distance = float(np.linalg.norm(way))
    cosine = float(place.normal @ way) / distance
    lights = asked.lights
    facing = unshaded(
        place.point_m[None], (way / distance)[None], asked.in_scene.packed_scene.cards, lights
    )[0, one.light]
    through = math.exp(-lights.extinction * distance)
    towards = float(facing) * distance**2 / through
    seen = one.on_plane.even / (facing * cosine) if facing * cosine > 0.0 else 0.0
    unit = "W/sr" if source.quantity == "radiant_intensity_w_per_sr" else "cd"
    steps: list[tuple[str, float, tuple[tuple[str, float, str], ...]]] = []
    first: tuple[tuple[str, float, str], ...] = (("I", towards, unit),)
    if source.quantity != "beam_factor" and source.beam == "cosine-power":
        own = float(lights.amount[one.light])
        first = (("I₀", own, unit),)
        steps.append(("beam", towards / own, (("I", towards, unit),)))
    steps += [
        ("inverse-square", 1.0 / distance**2, (("d", distance, "m"),)),
        ("cosine", cosine, (("θ", math.degrees(math.acos(min(1.0, cosine))), "°"),)),
        ("air-before", through, (("σ", float(lights.extinction), "1/m"), ("d", distance, "m"))),
        ("unshaded", float(seen), ()),
    ]
    return _backwards(count, "lamp", first, steps)


def _backwards(
    count: FloatArray,
    first: str,
    values: tuple[tuple[str, float, str], ...],
    steps: list[tuple[str, float, tuple[tuple[str, float, str], ...]]],
) -> list[Factor]:
    """Stages before the target, of which the last one leaves `count`."""
    product = math.prod(factor for _, factor, _ in steps)
    begun = _Steps(count / product if product > 0.0 else count)
    return [
        Factor(first, None, begun.count, values),
        *(begun.by(name, factor, equation) for name, factor, equation in steps),
    ]
