"""Lights of a scene: sky, sun and moon, lamps, illuminators."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import numpy as np

from simulator.errors import FileFormatError
from simulator.light import webs
from simulator.light.beams import beam_exponent, beam_flux
from simulator.light.natural import NaturalState, natural_light, sky_state
from simulator.light.photometric_file import read_photometric_file
from simulator.light.photometry import luminous_efficacy
from simulator.light.sources import NATURAL, Emitter, LightSource
from simulator.light.spectra import Spectrum, filtered, gaussian_emitter, spectrum
from simulator.light.spectrum_kinds import lamp_spectrum, sky_name, usual_depth
from simulator.light.sun_moon import cloud_factor
from simulator.messages import Message, Value
from simulator.scene.builder import Builder, named
from simulator.scene.geometry import unit
from simulator.scene.kernels.pack_bodies import pack_bodies
from simulator.scene.model_light import Illuminator, Lamp, NaturalLight
from simulator.units import FloatArray

DEFAULT_SUN_ALTITUDE_DEG = 45.0
HOUSING_M = 0.6
"""A body whose inside a lamp meets within this is its housing [m] (chosen by us: heads of posts and
noses of cars are smaller), in every direction so many times farther than it was met:"""
WIDER = 1.3
LEVEL_LEAST = 1e-3
"""Level part of a beam axis under which it counts as plumb."""


def add_natural_light(b: Builder, ground: int) -> None:
    """Sky, sun and moon, and what the ground throws back of them all."""
    natural = b.scene.natural_light
    if natural.illuminance_lux is None:
        _add_state(b, natural, ground)
        return
    spec = _in_lux(natural.spectrum, "natural_light.spectrum")
    total = natural.illuminance_lux
    # an even light of a lamp's colour is that of a room
    even = "sky" if sky_name(natural.spectrum) or natural.sun_share > 0.0 else "room light"
    b.lights.append(
        LightSource(
            even, "sky", spec, illuminance_lux=total * (1.0 - natural.sun_share), owner=NATURAL
        )
    )
    both = f"{even} and sun" if natural.sun_share > 0.0 else even
    _add_bounce(b, f"{both} off the ground", spec, total, ground)
    if natural.sun_share > 0.0:
        altitude = natural.sun_altitude_deg
        altitude = DEFAULT_SUN_ALTITUDE_DEG if altitude is None else altitude
        towards = _towards(altitude, natural.sun_azimuth_deg)
        facing = total * natural.sun_share / float(towards[2])
        b.lights.append(
            LightSource(
                "sun", "sun", spec, direction=towards, illuminance_lux=facing, owner=NATURAL
            )
        )


def _in_lux(name: str, key: str) -> Spectrum:
    spec = named(key, lambda: spectrum(name))
    if spec.basis != "lux":
        raise FileFormatError(
            "Natural light is given in lux, this spectrum has none.", key=key, given=name
        )
    return spec


def _towards(altitude_deg: float, azimuth_deg: float) -> FloatArray:
    """Unit vector to a place in the sky; azimuth 0 along +y, 90 along +x."""
    alt, az = np.radians(altitude_deg), np.radians(azimuth_deg)
    return np.array([np.sin(az) * np.cos(alt), np.cos(az) * np.cos(alt), np.sin(alt)])


def _add_bounce(b: Builder, name: str, spec: Spectrum, lux: float, ground: int) -> None:
    bounced = filtered(spec, b.materials[ground].reflectance, f"{spec.name} off the ground")
    b.lights.append(LightSource(name, "bounce", bounced, illuminance_lux=lux, owner=NATURAL))


def natural_state(natural: NaturalLight) -> NaturalState:
    """Sky, sun and moon of natural light by altitude or by date; by date, bearings are those of
    the compass.

    Raises
    ------
    InputError
        For a value out of range.
    """
    skyglow = None
    if natural.skyglow_lux > 0.0:
        skyglow = _in_lux(natural.skyglow_spectrum, "natural_light.skyglow_spectrum")
    if natural.date is None:
        assert natural.sun_altitude_deg is not None
        return sky_state(
            natural.sun_altitude_deg,
            natural.sun_azimuth_deg,
            moon_altitude_deg=natural.moon_altitude_deg,
            moon_bearing_deg=natural.moon_azimuth_deg,
            moon_phase_deg=natural.moon_phase_deg or 0.0,
            cloud_cover=natural.cloud_cover,
            skyglow_lux=natural.skyglow_lux,
            skyglow=skyglow,
        )
    assert natural.latitude_deg is not None
    assert natural.longitude_deg is not None
    return natural_light(
        natural.local_time(),
        natural.latitude_deg,
        natural.longitude_deg,
        cloud_cover=natural.cloud_cover,
        skyglow_lux=natural.skyglow_lux,
        skyglow=skyglow,
    )


def _add_state(b: Builder, natural: NaturalLight, ground: int) -> None:
    """Natural light by the altitude of the sun, or by date and place."""
    state = natural_state(natural)
    turn = 0.0 if natural.date is None else natural.camera_bearing_deg or 0.0
    for part in state.parts:
        if part.kind == "sky":
            b.lights.append(
                LightSource(
                    part.name,
                    "sky",
                    part.spectrum,
                    illuminance_lux=part.illuminance_lux,
                    owner=NATURAL,
                )
            )
        else:
            towards = _towards(part.altitude_deg, part.bearing_deg - turn)
            b.lights.append(
                LightSource(
                    part.name,
                    "sun",
                    part.spectrum,
                    direction=towards,
                    illuminance_lux=part.illuminance_lux,
                    owner=NATURAL,
                )
            )
    _add_bounce(b, "natural light off the ground", state.spectrum, state.illuminance_lux, ground)
    b.assumptions += natural_assumptions(natural, state)


def natural_assumptions(natural: NaturalLight, state: NaturalState) -> list[Message]:
    """What was found and assumed of sun, moon, sky, place and time."""
    by_date = natural.date is not None
    moon: dict[str, Value] = {"moon_altitude_deg": state.moon_altitude_deg}
    if state.moon_altitude_deg is not None:
        moon["moon_bearing_deg"] = state.moon_bearing_deg
        moon["moon_lit"] = 0.5 * (1.0 + float(np.cos(np.radians(state.moon_phase_deg))))
    messages = [
        Message(
            "assumption.sun-and-moon",
            {
                "by_date": by_date,
                "sun_altitude_deg": state.sun_altitude_deg,
                "sun_bearing_deg": state.sun_bearing_deg,
                **moon,
                "illuminance_lux": state.illuminance_lux,
            },
        )
    ]
    if state.cloud_cover > 0.0:
        passes = float(cloud_factor(state.cloud_cover))
        messages.append(
            Message("assumption.cloud", {"cover": state.cloud_cover, "transmittance": passes})
        )
    if by_date and natural.utc_offset_h is None:
        messages.append(Message("assumption.local-time", {"offset_h": natural.offset_h}))
    if by_date and natural.camera_bearing_deg is None:
        messages.append(Message("assumption.camera-faces-north"))
    return messages


def add_lamps(b: Builder) -> None:
    """Lamps and illuminators that are switched on."""
    for lamp in b.scene.lamp:
        if lamp.on:
            source = _lamp(lamp)
            b.lights.append(source)
            assert source.position_m is not None
            b.emitters.append(Emitter(len(b.lights) - 1, source.position_m, lamp.diameter_m))
    for light in b.scene.illuminator:
        if light.on:
            b.lights.append(_illuminator(b, light))


def spare_housings(b: Builder) -> None:
    """Lamps that lie in a solid body, such as the head of their post, shine out of it.

    A lamp lies in a body if what it meets first, looking along its beam, is the inside of it; the
    body is then not in its way as far as that.
    """
    boxes = np.array([mesh.bounds_m for mesh in b.meshes]).reshape(-1, 2, 3)
    for i, light in enumerate(b.lights):
        place = light.position_m
        if light.kind != "point" or place is None or light.direction is None:
            continue
        if not np.any(np.all((boxes[:, 0] < place) & (place < boxes[:, 1]), axis=1)):
            continue
        bodies = pack_bodies(b.meshes, b.materials)
        assert bodies is not None
        rays = _beam(light.direction).astype(np.float32)
        met = bodies.thrown(np.broadcast_to(place, rays.shape).astype(np.float32), rays)
        out = met[(met[:, 4] > 0.0) & (met[:, 0] < HOUSING_M), 0]
        if out.size:
            b.lights[i] = replace(light, housing_m=float(WIDER * out.max()))
        elif np.all(met[:, 4] > 0.0):  # deep within: no way out of it
            b.assumptions.append(Message("assumption.light-inside", {"light": light.name}))


def _beam(axis: FloatArray) -> FloatArray:
    """Directions (n, 3) about a beam's axis."""
    side = unit(np.cross(axis, np.eye(3)[int(np.argmin(np.abs(axis)))]))
    up = np.cross(axis, side)
    turn = np.arange(8)[:, None] * np.pi / 4.0
    ring = np.cos(turn) * side + np.sin(turn) * up
    tilts = np.radians([25.0, 55.0])
    return np.concatenate(
        [axis[None], *(np.cos(tilt) * axis + np.sin(tilt) * ring for tilt in tilts)]
    )


def _lamp(lamp: Lamp) -> LightSource:
    """One lamp as a light source."""
    key = f"lamp.{lamp.name}"
    spec = named(f"{key}.spectrum", partial(lamp_spectrum, lamp.spectrum))
    place = np.asarray(lamp.position_m)
    axis = unit(np.asarray(lamp.aim_m) - place)
    whole = partial(
        LightSource,
        lamp.name,
        "point",
        spec,
        place,
        axis,
        flicker_depth=usual_depth(lamp.spectrum)
        if lamp.flicker_depth is None
        else lamp.flicker_depth,
        flicker_hz=2.0 * lamp.mains_hz,
        flicker_phase_deg=lamp.phase_deg,
        owner=lamp.name,
        diameter_m=lamp.diameter_m,
    )
    if lamp.photometry is not None:
        file = named(f"{key}.photometry", partial(read_photometric_file, lamp.photometry))
        tilt = float(np.degrees(np.arccos(np.clip(-axis[2], -1.0, 1.0))))
        return whole(
            beam_factor=lamp.dimming * file.factor_at_tilt(tilt),
            beam="web",
            web=file.dense_table(),
            reference=named(
                f"{key}.c0_azimuth_deg",
                partial(webs.reference_direction, axis, _c0_azimuth(lamp, file.kind, axis)),
            ),
        )
    exponent = beam_exponent(lamp.beam_deg)
    peak = lamp.intensity_cd
    if peak is None:
        assert lamp.luminous_flux_lm is not None
        peak = lamp.luminous_flux_lm / beam_flux(1.0, exponent)
    return whole(intensity_cd=peak * lamp.dimming, exponent=exponent)


def _c0_azimuth(lamp: Lamp, kind: str, axis: FloatArray) -> float:
    """Where C = 0 points [deg]; H of types A and B grows to the right of a beam axis."""
    if kind == "C" or np.hypot(axis[0], axis[1]) < LEVEL_LEAST:
        return lamp.c0_azimuth_deg
    return float(np.degrees(np.arctan2(axis[0], axis[1]))) + 90.0


def _illuminator(b: Builder, light: Illuminator) -> LightSource:
    """One illuminator as a light source."""
    if light.spectrum is not None:
        key = f"illuminator.{light.name}.spectrum"
        spec = named(key, partial(lamp_spectrum, light.spectrum))
    else:
        assert light.wavelength_nm is not None
        spec = gaussian_emitter(light.wavelength_nm, light.bandwidth_nm)
    place = _place(b, light)
    axis = unit(np.asarray(light.aim_m) - place)
    exponent = beam_exponent(light.beam_deg)
    whole = partial(
        LightSource, light.name, "point", spec, place, axis, exponent=exponent, owner=light.name,
        diameter_m=light.emitter_width_m,
    )  # fmt: skip
    if light.beam_shape == "flat":
        web = webs.flat_beam(light.beam_deg)
        # the shape is round, so that any direction square to the axis serves
        about = unit(np.cross(axis, np.eye(3)[int(np.argmin(np.abs(axis)))]))
        whole = partial(whole, beam="web", web=web, reference=about)
        flux_of_one = webs.flux(webs.GAMMA_DEG, webs.C_DEG, web.astype(np.float64))
    else:
        flux_of_one = beam_flux(1.0, exponent)
    peak = light.dimming * _peak(light, spec, flux_of_one)
    if spec.basis == "lux":
        return whole(intensity_cd=peak)
    return whole(radiant_intensity_w_per_sr=peak)


def _peak(light: Illuminator, spec: Spectrum, flux_of_one: float) -> float:
    """Intensity on the axis [cd] or [W/sr]; `flux_of_one` is the beam's flux at 1 of it."""
    for peak in (light.radiant_intensity_w_per_sr, light.intensity_cd):
        if peak is not None:
            return peak
    if light.luminous_flux_lm is not None:
        return light.luminous_flux_lm / flux_of_one
    assert light.electrical_power_w is not None
    assert light.efficiency is not None
    watt = light.electrical_power_w * light.efficiency
    if spec.basis == "lux":
        watt *= float(luminous_efficacy(spec.power))  # lumens now
    return watt / flux_of_one


def _place(b: Builder, light: Illuminator) -> FloatArray:
    """World position of an illuminator, which may be told from the lens."""
    if light.position_m is not None:
        return np.asarray(light.position_m)
    assert light.beside_camera_m is not None
    station = np.asarray(b.scene.station.position_m)
    forward = np.asarray(b.scene.station.aim_m) - station
    level = unit(np.array([forward[0], forward[1], 0.0]))
    right = np.array([level[1], -level[0], 0.0])
    dx, dy, dz = light.beside_camera_m
    place = np.asarray(station + right * dx + level * dy + np.array([0.0, 0.0, dz]))
    if place[2] < 0.0:
        raise FileFormatError(
            "This light lies below the ground.",
            key=f"illuminator.{light.name}.beside_camera_m", given=list(light.beside_camera_m),
            allowed=f"at most {station[2]:g} m below the lens",
            fix="beside_camera_m is told from the lens: right, forward, up",
        )  # fmt: skip
    return place
