"""From a scene file to the world the renderer traces: cards, materials, lights, movement."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from simulator.errors import FileFormatError, NightproofError
from simulator.light.beams import beam_exponent
from simulator.light.sources import Emitter, LightSource
from simulator.light.spectra import filtered, gaussian_emitter, spectrum
from simulator.scene.geometry import (
    CLEAR,
    Card,
    facing_normal,
    heading_velocity,
    unit,
    upright_card,
)
from simulator.scene.materials import Material, material
from simulator.scene.model import Gate, Ground, Plate, SceneModel, VehicleFront, Wall
from simulator.scene.targets.plate import plate_card, plate_design
from simulator.scene.targets.vehicle import PLATE_GAP_M, BodyMaterials, vehicle_parts
from simulator.units import WAVELENGTH_NM, FloatArray, kmh_to_m_s

HEADLIGHT_DIAMETER_M = 0.12
DEFAULT_GROUND = "asphalt"


@dataclass(frozen=True)
class World:
    """A scene ready to be traced.

    `materials[0]` is a perfect diffuser (reflectance one), used for luminous surfaces. `velocities`
    (groups, 3) [m/s]; group 0 stands still. `plates` maps a plate's name to the index of its card.
    """

    cards: list[Card]
    materials: list[Material]
    lights: list[LightSource]
    emitters: list[Emitter]
    velocities: FloatArray
    plates: dict[str, int]
    ground_material: int
    ground_variation: float
    ground_grain_m: float
    assumptions: list[str] = field(default_factory=list)

    def light_powers(self) -> FloatArray:
        """Spectral power of one unit of each light (L, 721) [W m^-2 nm^-1]."""
        return np.stack([light.spectrum.power for light in self.lights])

    def reflectances(self) -> FloatArray:
        """Spectral reflectance of each material (M, 721)."""
        return np.stack([m.reflectance for m in self.materials])


class _Builder:
    def __init__(self, scene: SceneModel) -> None:
        self.scene = scene
        self.materials: list[Material] = [
            Material(
                "perfect diffuser",
                np.ones_like(WAVELENGTH_NM),
                sheeting=None,
                status="computed",
                origin="definition",
            )
        ]
        self.index: dict[tuple[str, str | None], int] = {}
        self.cards: list[Card] = []
        self.lights: list[LightSource] = []
        self.emitters: list[Emitter] = []
        self.velocities: list[FloatArray] = [np.zeros(3)]
        self.plates: dict[str, int] = {}
        self.assumptions: list[str] = []

    def material(self, name: str, key: str, sheeting: str | None = None) -> int:
        """Index of a material, with the sheeting it carries here."""
        wanted = (name, sheeting)
        if wanted not in self.index:
            found = _named(key, lambda: material(name))
            self.materials.append(
                Material(found.name, found.reflectance, sheeting, found.status, found.origin)
            )
            self.index[wanted] = len(self.materials) - 1
        return self.index[wanted]

    def group(self, speed_kmh: float, heading_deg: float) -> int:
        """Index of the movement; things of one movement share a group."""
        velocity = heading_velocity(kmh_to_m_s(speed_kmh), heading_deg)
        for i, known in enumerate(self.velocities):
            if np.allclose(known, velocity):
                return i
        self.velocities.append(velocity)
        return len(self.velocities) - 1


def _named(key: str, make):  # type: ignore[no-untyped-def]
    """Run a look-up by name, adding the dotted key to its error."""
    try:
        return make()
    except NightproofError as error:
        if getattr(error, "key", None) in (None, "design") and hasattr(error, "problem"):
            raise FileFormatError(
                error.problem,
                file=getattr(error, "file", None),
                key=key,
                given=getattr(error, "given", None),
                allowed=getattr(error, "allowed", None),
                mend=getattr(error, "mend", None),
            ) from None
        raise


def build_world(scene: SceneModel) -> World:
    """Everything of a scene in world coordinates.

    Raises
    ------
    FileFormatError
        If a spectrum, material, sheeting or plate design does not exist, with its dotted key.
    """
    b = _Builder(scene)
    ground = _ground(b)
    _natural_light(b, ground[0])
    _lamps(b)
    for surface in scene.surface:
        if isinstance(surface, Wall | Gate):
            b.cards.append(_standing(b, surface))
    for target in scene.target:
        if isinstance(target, Plate):
            _plate(b, target)
    for target in scene.target:
        if isinstance(target, VehicleFront):
            _vehicle(b, target)
    return World(
        b.cards,
        b.materials,
        b.lights,
        b.emitters,
        np.stack(b.velocities),
        b.plates,
        *ground,
        assumptions=b.assumptions,
    )


def _ground(b: _Builder) -> tuple[int, float, float]:
    for surface in b.scene.surface:
        if isinstance(surface, Ground):
            index = b.material(surface.material, f"surface.{surface.name}.material")
            return index, surface.variation, surface.grain_m
    b.assumptions.append(f"The scene names no ground; {DEFAULT_GROUND} is assumed.")
    return b.material(DEFAULT_GROUND, "surface"), 0.0, 0.05


def _natural_light(b: _Builder, ground: int) -> None:
    natural = b.scene.natural_light
    spec = _named("natural_light.spectrum", lambda: spectrum(natural.spectrum))
    total = natural.illuminance_lux
    if spec.basis != "lux":
        raise FileFormatError(
            "Natural light is given in lux, this spectrum has none.",
            key="natural_light.spectrum",
            given=natural.spectrum,
        )
    b.lights.append(LightSource("sky", "sky", spec, total * (1.0 - natural.sun_share)))
    bounced = filtered(spec, b.materials[ground].reflectance, f"{spec.name} off the ground")
    b.lights.append(LightSource("sky and sun off the ground", "bounce", bounced, total))
    if natural.sun_share > 0.0:
        alt, az = np.radians(natural.sun_altitude_deg), np.radians(natural.sun_azimuth_deg)
        towards = np.array([np.sin(az) * np.cos(alt), np.cos(az) * np.cos(alt), np.sin(alt)])
        amount = total * natural.sun_share / float(np.sin(alt))
        b.lights.append(LightSource("sun", "sun", spec, amount, direction=towards))


def _lamps(b: _Builder) -> None:
    for lamp in b.scene.lamp:
        if not lamp.on:
            continue
        name = lamp.spectrum
        spec = _named(f"lamp.{lamp.name}.spectrum", lambda name=name: spectrum(name))
        place = np.asarray(lamp.position_m)
        b.lights.append(
            LightSource(
                lamp.name,
                "point",
                spec,
                lamp.intensity_cd,
                place,
                unit(np.asarray(lamp.aim_m) - place),
                exponent=beam_exponent(lamp.beam_deg),
            )
        )
        b.emitters.append(Emitter(len(b.lights) - 1, place, lamp.diameter_m))
    station = np.asarray(b.scene.station.position_m)
    forward = np.asarray(b.scene.station.aim_m) - station
    level = unit(np.array([forward[0], forward[1], 0.0]))
    right = np.array([level[1], -level[0], 0.0])
    for light in b.scene.illuminator:
        if not light.on:
            continue
        if light.position_m is not None:
            place = np.asarray(light.position_m)
        else:
            assert light.beside_camera_m is not None
            dx, dy, dz = light.beside_camera_m
            place = station + right * dx + level * dy + np.array([0.0, 0.0, dz])
        b.lights.append(
            LightSource(
                light.name,
                "point",
                gaussian_emitter(light.wavelength_nm, light.bandwidth_nm),
                light.radiant_intensity_w_per_sr,
                place,
                unit(np.asarray(light.aim_m) - place),
                exponent=beam_exponent(light.beam_deg),
            )
        )


def _standing(b: _Builder, surface: Wall | Gate) -> Card:
    index = b.material(surface.material, f"surface.{surface.name}.material")
    texture: NDArray[np.uint8] = np.full((1, 1), index, dtype=np.uint8)
    variation, grain = 0.0, 0.05
    if isinstance(surface, Gate):
        texture = _bars(surface, index)
    else:
        variation, grain = surface.variation, surface.grain_m
    x, y, z = surface.position_m
    return upright_card(
        surface.name,
        np.array([x, y, z + surface.height_m / 2.0]),
        surface.width_m,
        surface.height_m,
        texture,
        facing_deg=surface.facing_deg,
        variation=variation,
        grain_m=grain,
    )


def _bars(gate: Gate, index: int) -> NDArray[np.uint8]:
    texel = min(0.01, gate.bar_width_m / 3.0)
    rows, columns = round(gate.height_m / texel), round(gate.width_m / texel)
    place = (np.arange(columns) + 0.5) * texel % (gate.bar_width_m + gate.bar_gap_m)
    texture = np.full((rows, columns), CLEAR, dtype=np.uint8)
    texture[:, place < gate.bar_width_m] = index
    rail = max(1, round(0.06 / texel))
    texture[:rail] = index
    texture[-2 * rail : -rail] = index
    return texture


def _plate(b: _Builder, plate: Plate) -> None:
    key = f"target.{plate.name}"
    design = _named(f"{key}.design", lambda: plate_design(plate.design))
    sheeting = plate.sheeting if plate.sheeting is not None else design.sheeting
    layer = None if sheeting == "none" else sheeting
    black = "plate-black-ink"
    background = b.material(
        design.background, f"{key}.design", None if design.background == black else layer
    )
    ink = b.material(design.ink, f"{key}.design", None if design.ink == black else layer)
    group = b.group(plate.speed_kmh, plate.heading_deg)
    b.plates[plate.name] = len(b.cards)
    b.cards.append(plate_card(plate, background, ink, group))


def _vehicle(b: _Builder, vehicle: VehicleFront) -> None:
    key = f"target.{vehicle.name}"
    body = BodyMaterials(
        paint=b.material(vehicle.paint, f"{key}.paint"),
        glass=b.material("glass-dark", key),
        plastic=b.material("plastic-black", key),
        rubber=b.material("rubber", key),
        lamp=b.material("lamp-glass", key),
        chrome=b.material("chrome-dull", key),
    )
    if vehicle.carries is not None:
        plate = next(
            t for t in b.scene.target if isinstance(t, Plate) and t.name == vehicle.carries
        )
        facing, speed, heading = plate.facing_deg, plate.speed_kmh, plate.heading_deg
        # a plate that leans keeps its whole height before the body
        lean = (
            plate_design(plate.design).height_mm / 2000.0 * abs(np.sin(np.radians(plate.tilt_deg)))
        )
        foot = np.asarray(plate.position_m) - facing_normal(facing) * (PLATE_GAP_M + lean)
    else:
        assert vehicle.position_m is not None
        facing, speed, heading = vehicle.facing_deg, vehicle.speed_kmh, vehicle.heading_deg
        foot = np.asarray(vehicle.position_m)
    group = b.group(speed, heading)
    parts = vehicle_parts(vehicle.name, vehicle.style, foot, facing, body, group)
    b.cards.extend(parts.cards)
    if vehicle.headlights == "off":
        return
    spec = _named(f"{key}.headlight_spectrum", lambda: spectrum(vehicle.headlight_spectrum))
    for side, place in zip(("left", "right"), parts.headlights_m, strict=True):
        b.lights.append(
            LightSource(
                f"{vehicle.name} {side} headlight",
                "point",
                spec,
                1.0,
                place,
                parts.axis,
                beam=vehicle.headlights,
                group=group,
            )
        )
        b.emitters.append(Emitter(len(b.lights) - 1, place, HEADLIGHT_DIAMETER_M, group))
