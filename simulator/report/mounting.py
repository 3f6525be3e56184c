"""What a customer buys, sets and mounts, from the inputs of a prediction: plan, parts, settings."""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np

from simulator.camera.load import Camera
from simulator.errors import InputError
from simulator.judge.result import Verdict
from simulator.report.section import Picture, Table, data_uri
from simulator.report.site import draw_mounting
from simulator.report.wording import decibels, digits, f_number, shutter
from simulator.scene.load import Scene
from simulator.scene.model_light import Illuminator, Lamp
from simulator.studies.survey.site import Site, survey_site

PLAN_PX = 1400


def site_of(folder: Path) -> Site | None:
    """The site of a prediction's result folder; None where its inputs cannot be read any more."""
    inner = folder / "inputs"
    if inner.is_symlink() or not inner.is_dir():
        return None
    try:
        return survey_site(Scene.load(inner / "scene.toml"), Camera.load(inner / "camera.toml"))
    except InputError:
        return None


def plan_picture(site: Site) -> Picture:
    """Plan and side view of a site."""
    with tempfile.TemporaryDirectory() as place:
        path = Path(place) / "plan.png"
        draw_mounting(path, site)
        uri = data_uri(path, PLAN_PX)
    height_m = site.scene.model.station.height_m
    away_m = float(np.linalg.norm(site.target.centre_m - site.in_scene.view.position_m))
    about = f"Lens {height_m:g} m above ground, target {digits(away_m)} m from it"
    return Picture(uri, f"Plan and side view: {about}", f"Where it is mounted. {about}.", True)


def parts_table(site: Site) -> Table:
    """What is needed: camera, lens and the lamps that are on."""
    model, camera = site.scene.model, site.in_scene.camera
    rows = [
        ["1", "camera", camera.title],
        ["1", "lens", f"{camera.lens.focal_length_mm:g} mm, {f_number(camera.lens.f_number)}"],
    ]
    rows += [["1", one.name, _illuminator(one)] for one in model.illuminator if one.on]
    rows += [["1", one.name, _strength(one)] for one in model.lamp if one.on]
    return Table("What is needed", ["quantity", "part", "description"], rows)


def _illuminator(light: Illuminator) -> str:
    parts = [light.title] if light.title else []
    parts.append(f"{light.wavelength_nm:g} nm" if light.wavelength_nm else "white light")
    if light.electrical_power_w is not None:
        parts.append(f"{digits(light.electrical_power_w)} W drawn")
    if light.radiant_intensity_w_per_sr is not None:
        parts.append(f"{digits(light.radiant_intensity_w_per_sr)} W/sr on its axis")
    return ", ".join([*parts, _strength(light)])


def _strength(light: Illuminator | Lamp) -> str:
    """Visible light and beam."""
    parts = []
    if light.luminous_flux_lm is not None:
        parts.append(f"{digits(light.luminous_flux_lm)} lm")
    if light.intensity_cd is not None:
        parts.append(f"{digits(light.intensity_cd)} cd on its axis")
    return ", ".join([*parts, f"beam {light.beam_deg:g}°"])


def settings_table(site: Site, verdict: Verdict) -> Table:
    """How camera and lens are set and mounted, as they were judged."""
    e, camera, station = verdict.exposure, site.in_scene.camera, site.scene.model.station
    held = camera.exposure.shutter_s is not None
    rows = [
        ["shutter", f"{shutter(e.shutter_s)}, {'held' if held else 'as the camera chose it'}"],
        ["gain", f"{decibels(e.gain_db)} then; cap {decibels(camera.exposure.gain_max_db)}"],
        ["aperture", f_number(e.f_number)],
        ["day or night", f"{e.mode} mode"],
        ["metering", str(e.metering)],
        ["focus", f"at {digits(site.in_scene.focus_m)} m, set by day on the target"],
        ["height of the lens", f"{station.height_m:g} m"],
        ["distance to the target", f"{digits(verdict.geometry.distance_m)} m"],
        ["picture at the target", f"{digits(verdict.geometry.field_width_m)} m wide"],
    ]
    return Table("Settings and mounting", ["setting", "value"], rows)
