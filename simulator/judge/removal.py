"""How each impairment is taken away in the model (`impairments` says what they are).

Every one is removed by what would remove it in the world: the target held still, more light, a
finer sensor, clear air. A function gives the situation without it, or None where it is not there.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any, NamedTuple

import numpy as np

from simulator.camera.auto_exposure import State, added_up, settle_exposure
from simulator.camera.in_scene import CameraInScene
from simulator.camera.region import region_light
from simulator.camera.sensor_readout import readout
from simulator.camera.wide_range import saturation
from simulator.judge.contrast import bolder
from simulator.judge.cycles import N50_CYCLES
from simulator.judge.face_detail import known_by
from simulator.judge.figures import levels, plate_signal
from simulator.judge.parts import critical_px
from simulator.judge.sight import Sight, View
from simulator.judge.target import JudgedTarget, JudgedText
from simulator.light.spectra import spectrum
from simulator.units import db_to_ratio, ratio_to_db

AMPLE_SHUTTER_S = 0.001
"""With ample light the camera could expose this short at its base gain."""
AMPLE_CHARACTER_PX = 14.0
"""With ample pixels a character is this high: both readers are sure of sharp ones from 10 px on."""
AMPLE_CYCLES = 4.0
"""With ample pixels the Nyquist limit lies at so many times the cycles of an even chance."""
WANTED_LEVEL = 0.5
"""Level of the target's light parts, of what the longest exposure can hold, when it is exposed for
the target alone."""
FINER_SPLIT = 2
"""Samples a side of pixels that are already finer than the camera's own."""
MOST_FINER = 16
WHITE_LIGHT = "daylight"
LEAST_DEFOCUS_PX = 0.1
"""A disc of defocus smaller than this is none."""


class Situation(NamedTuple):
    """A camera before a world, settled, and the target in its picture.

    `tags` name what was changed that needs new tracing.
    """

    in_scene: CameraInScene
    state: State
    target: JudgedTarget
    tags: tuple[str, ...] = ()


def changed(in_scene: CameraInScene, part: str, **values: Any) -> CameraInScene:
    """The camera in its scene with some values of one table changed."""
    table = getattr(in_scene.camera, part).model_copy(update=values)
    return in_scene.with_settings(in_scene.camera.model_copy(update={part: table}))


def view_of(sight: Sight, s: Situation) -> View:
    """Patch and traced layers of a situation."""
    finer = FINER_SPLIT if "pixels" in s.tags else None
    return sight.view(s.in_scene, s.state, s.target, s.tags, finer)


def no_motion(sight: Sight, s: Situation) -> Situation | None:
    if not np.any(s.in_scene.world.velocities):
        return None
    in_scene = s.in_scene.at_rest()
    return s._replace(in_scene=in_scene, target=sight.find(in_scene))


def clear_air(_: Sight, s: Situation) -> Situation | None:
    if s.in_scene.world.air is None:
        return None
    in_scene = replace(s.in_scene, world=replace(s.in_scene.world, air=None))
    return s._replace(in_scene=in_scene, tags=(*s.tags, "haze"))


def more_contrast(sight: Sight, s: Situation) -> Situation | None:
    clean = _sharp(_clean(s.in_scene))
    in_scene = bolder(s.in_scene, s.target, *_signal(sight, s._replace(in_scene=clean)))
    return None if in_scene is None else s._replace(in_scene=in_scene, tags=(*s.tags, "contrast"))


def in_focus(sight: Sight, s: Situation) -> Situation | None:
    wavelength = view_of(sight, s).plan.wavelength_nm
    if (
        abs(float(s.in_scene.defocus_px(np.asarray(s.target.depth_m), wavelength)))
        < LEAST_DEFOCUS_PX
    ):
        return None
    return s._replace(in_scene=s.in_scene.with_switches(defocus=False))


def _clean(in_scene: CameraInScene) -> CameraInScene:
    return changed(
        changed(in_scene, "lens", glare_index=0.0),
        "cover",
        glare_index=0.0,
        obstruction_fraction=0.0,
    )


def no_glare(_: Sight, s: Situation) -> Situation | None:
    return None if s.in_scene.glare_index == 0.0 else s._replace(in_scene=_clean(s.in_scene))


def _sharp(in_scene: CameraInScene) -> CameraInScene:
    sharp = changed(in_scene, "lens", aberration_sigma_um=0.0)
    return sharp.with_switches(diffraction=False)


def sharp_lens(_: Sight, s: Situation) -> Situation | None:
    return s._replace(in_scene=_sharp(s.in_scene))


def plain_processing(_: Sight, s: Situation) -> Situation | None:
    in_scene = changed(
        s.in_scene,
        "processing",
        noise_reduction=0.0,
        temporal_noise_reduction=0.0,
        sharpening=0.0,
        analogue_tv_lines=None,
    )
    return s._replace(in_scene=in_scene)


def no_codec(_: Sight, s: Situation) -> Situation | None:
    if s.state.quantiser is None:
        return None
    in_scene = changed(s.in_scene, "stream", codec="none")
    return s._replace(in_scene=in_scene, state=replace(s.state, quantiser=None))


def silent_sensor(_: Sight, s: Situation) -> Situation | None:
    sensor = s.in_scene.camera.sensor
    in_scene = changed(
        s.in_scene,
        "sensor",
        read_noise_e=0.0,
        high_gain_read_noise_e=None if sensor.high_gain_read_noise_e is None else 0.0,
        converter_noise_dn=0.0,
        row_noise_e=0.0,
        column_noise_e=0.0,
        hot_pixels_per_million=0.0,
        dsnu_e=0.0,
        prnu=0.0,
        dark_current_e_per_s=0.0,
    )
    return s._replace(in_scene=in_scene)


def ample_light(sight: Sight, s: Situation) -> Situation | None:
    """Every light stronger by one factor, so that base gain and a short shutter suffice.

    The iris stays where it is, and no frames are added up any more. The camera meters anew: where
    metering left the target too bright or too dark, it stays so. A target that was not too bright
    before is brought down to the middle level, so that no new impairment comes in.
    """
    in_scene, exposure = s.in_scene, s.state.exposure
    settings = in_scene.camera.exposure
    shutter = settings.shutter_s or min(AMPLE_SHUTTER_S, settings.shutter_max_s)
    gain = 1.0 if settings.gain_db is None else db_to_ratio(settings.gain_db)
    closed = (exposure.f_number / exposure.f_number_open) ** 2
    factor = exposure.wanted_product_s * closed / (shutter * gain)
    if factor <= 1.0:
        return None
    scale = in_scene.switches.light_scale * factor
    brighter = in_scene.with_switches(light_scale=scale)
    if exposure.accumulated > 1:
        single = added_up(brighter.camera, 1.0 / exposure.accumulated)
        brighter = brighter.with_settings(single)
    brighter = changed(brighter, "exposure", iris="fixed")
    state = replace(settle_exposure(brighter, s.state.mode), quantiser=s.state.quantiser)
    lit = s._replace(in_scene=brighter, state=state)
    level, middle = _level(sight, lit), _middle(s)
    if level <= middle:
        return lit
    dimmed = scale * min(1.0, max(middle, _level(sight, s)) / level)
    return lit._replace(in_scene=brighter.with_switches(light_scale=dimmed))


def _signal(sight: Sight, s: Situation) -> tuple[float, float, float]:
    """Signal of light and dark parts, and of the target as a whole [e-/s], of the target at rest.

    Of a target without text, of the lighter and the darker of target and surround; of a person to
    be known, of the face.
    """
    view = view_of(sight, s)
    still = s.in_scene.at_rest()
    rate = region_light(
        still, s.state.mode, s.state.exposure.shutter_s, view.plan,
        sight.stray_light(still, s.state, view), traces=view.traces,
    )  # fmt: skip
    if isinstance(s.target, JudgedText):
        light, dark = levels(rate, s.state, s.target, (view.plan.box_px[0], view.plan.box_px[1]))
        return light, dark, light
    assert view.silhouette is not None
    signal = plate_signal(rate, s.state)
    face = known_by(s.target, view.silhouette, sight.task)
    own = float(signal[view.silhouette.inside if face is None else face].mean())
    ring = float(signal[view.silhouette.ring].mean()) if np.any(view.silhouette.ring) else own
    return max(own, ring), min(own, ring), own


def _level(sight: Sight, s: Situation) -> float:
    """Level of the target's light parts in units of white, that of the longest exposure."""
    own = _signal(sight, s)[2] * s.state.exposure.shutter_s * float(s.state.colour.balance.max())
    return own / s.state.chain.white_e


def _middle(s: Situation) -> float:
    """Level in units of white at which a target is exposed for itself.

    Of a wide range it is that of the longest exposure: half of all that the range holds lies far
    above it, where a short exposure alone still counts and the tone mapping presses hard.
    """
    return WANTED_LEVEL * saturation(s.in_scene.camera.sensor, s.state.chain)


def not_washed_out(sight: Sight, s: Situation) -> Situation | None:
    """A target above the middle level brought down to it, by gain and then by less light.

    The shutter stays, so that this asks for the level alone and not for movement or noise.
    """
    factor = _middle(s) / max(_level(sight, s), 1e-12)
    if factor >= 1.0:
        return None
    gain = max(1.0, db_to_ratio(s.state.exposure.gain_db) * factor)
    state = _with_gain(s.in_scene, s.state, gain)
    scale = (
        s.in_scene.switches.light_scale * factor / (gain / db_to_ratio(s.state.exposure.gain_db))
    )
    return s._replace(
        in_scene=s.in_scene.with_switches(light_scale=scale),
        state=state,
    )


def not_crushed(sight: Sight, s: Situation) -> Situation | None:
    """A target below the middle level brought up to it by gain, within the camera's limit."""
    gain, most = (
        db_to_ratio(s.state.exposure.gain_db), db_to_ratio(s.in_scene.camera.exposure.gain_max_db)
    )  # fmt: skip
    if gain >= most:
        return None
    factor = min(_middle(s) / max(_level(sight, s), 1e-12), most / gain)
    return (
        None if factor <= 1.0 else s._replace(state=_with_gain(s.in_scene, s.state, gain * factor))
    )


def _with_gain(in_scene: CameraInScene, state: State, gain: float) -> State:
    exposure = replace(state.exposure, gain_db=ratio_to_db(gain))
    return replace(
        state, exposure=exposure, chain=readout(in_scene.camera.sensor, exposure.gain_db)
    )


def other_pixels(
    in_scene: CameraInScene, width_px: int, height_px: int, side: float
) -> CameraInScene:
    """The camera with so many pixels, each `side` times as wide as now, on a sensor that has as
    much light, well and noise for its area, and reads its rows out in the same time."""
    c = in_scene.camera.sensor

    def times(value: float | None, factor: float) -> float | None:
        return None if value is None else value * factor

    return changed(
        in_scene,
        "sensor",
        width_px=width_px,
        height_px=height_px,
        pixel_pitch_um=c.pixel_pitch_um * side,
        full_well_e=c.full_well_e * side**2,
        read_noise_e=c.read_noise_e * side,
        row_noise_e=c.row_noise_e * side,
        column_noise_e=c.column_noise_e * side,
        dsnu_e=c.dsnu_e * side,
        dark_current_e_per_s=c.dark_current_e_per_s * side**2,
        hot_pixel_e_per_s=c.hot_pixel_e_per_s * side**2,
        prnu=min(0.2, c.prnu / side),
        high_gain_full_well_e=times(c.high_gain_full_well_e, side**2),
        high_gain_read_noise_e=times(c.high_gain_read_noise_e, side),
        line_time_us=times(c.line_time_us, side),
    )


def ample_pixels(sight: Sight, s: Situation) -> Situation | None:
    """Finer pixels on the same sensor area, with no more noise for the area."""
    k = int(np.clip(np.ceil(_lacking_pixels(sight, s)), 1, MOST_FINER))
    if k == 1:
        return None
    c = s.in_scene.camera.sensor
    finer = other_pixels(s.in_scene, c.width_px * k, c.height_px * k, 1.0 / k)
    state = replace(s.state, chain=readout(finer.camera.sensor, s.state.exposure.gain_db))
    return Situation(finer, state, sight.find(finer), (*s.tags, "pixels"))


def _lacking_pixels(sight: Sight, s: Situation) -> float:
    """By how much pixels must become finer, each way."""
    if isinstance(s.target, JudgedText):
        return AMPLE_CHARACTER_PX / s.target.character_height_px
    silhouette = view_of(sight, s).silhouette
    assert silhouette is not None
    across = critical_px(s.in_scene, s.target, silhouette)
    return 2.0 * AMPLE_CYCLES * N50_CYCLES.get(sight.task, N50_CYCLES["detect"]) / max(across, 0.1)


def white_light(_: Sight, s: Situation) -> Situation | None:
    """Every lamp with the spectrum of daylight, as many lux as before; infrared stays."""
    day = spectrum(WHITE_LIGHT)
    lights = [
        replace(light, spectrum=day)
        if light.spectrum.basis == "lux" and light.spectrum.name != day.name
        else light
        for light in s.in_scene.world.lights
    ]
    in_scene = replace(s.in_scene, world=replace(s.in_scene.world, lights=lights))
    state = replace(settle_exposure(in_scene, s.state.mode), quantiser=s.state.quantiser)
    return s._replace(in_scene=in_scene, state=state, tags=(*s.tags, "lamp colour"))


def by_day(_: Sight, s: Situation) -> Situation | None:
    if s.state.mode == "day":
        return None
    state = replace(settle_exposure(s.in_scene, "day"), quantiser=s.state.quantiser)
    return s._replace(state=state)
