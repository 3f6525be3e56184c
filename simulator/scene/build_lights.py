"""Lights of a scene: sky, sun, lamps, illuminators."""

from __future__ import annotations

from functools import partial

import numpy as np

from simulator.errors import FileFormatError
from simulator.light.beams import beam_exponent
from simulator.light.sources import Emitter, LightSource
from simulator.light.spectra import filtered, gaussian_emitter, spectrum
from simulator.scene.builder import Builder, named
from simulator.scene.geometry import unit


def add_natural_light(b: Builder, ground: int) -> None:
    natural = b.scene.natural_light
    spec = named("natural_light.spectrum", lambda: spectrum(natural.spectrum))
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


def add_lamps(b: Builder) -> None:
    for lamp in b.scene.lamp:
        if not lamp.on:
            continue
        spec = named(f"lamp.{lamp.name}.spectrum", partial(spectrum, lamp.spectrum))
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
