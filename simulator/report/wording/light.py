"""What light a scene stands in, in plain words: sky, sun and moon, and the lamps that are on."""

from __future__ import annotations

import math

from simulator.light.natural import NaturalState
from simulator.light.spectrum_kinds import sky_name
from simulator.report.wording.numbers import lux, percent
from simulator.scene.build_lights import natural_state
from simulator.scene.model import SceneModel
from simulator.scene.model_light import Illuminator, Lamp, NaturalLight

ON_GROUND = "on level ground"


def natural_words(natural: NaturalLight) -> str:
    """The natural light of a scene: its kind or moment, and its illuminance on level ground."""
    if natural.illuminance_lux is not None:
        name = sky_name(natural.spectrum) or f"even light ({natural.spectrum})"
        if natural.sun_share > 0.0:
            name += f" with sun ({percent(natural.sun_share)} of it)"
        return f"{name}, {lux(natural.illuminance_lux)} {ON_GROUND}"
    state = natural_state(natural)
    sky = f"{_sun_and_moon(state)}, {lux(state.illuminance_lux)} {ON_GROUND}"
    if natural.date is None:
        return sky
    hours = f"{natural.offset_h:+g}" if natural.offset_h else ""
    return (
        f"{natural.date}, {natural.time} (UTC{hours}) at {natural.latitude_deg:g},"
        f" {natural.longitude_deg:g}: {sky}"
    )


def short_words(natural: NaturalLight) -> str:
    """As `natural_words` in a few words."""
    if natural.illuminance_lux is not None:
        name = sky_name(natural.spectrum) or "even light"
        return f"{name}, {lux(natural.illuminance_lux)}"
    state = natural_state(natural)
    level = lux(state.illuminance_lux)
    if natural.date is not None:
        return f"{natural.date} {natural.time}, {level}"
    return f"{_height('sun', state.sun_altitude_deg)}, {level}"


def _height(name: str, altitude_deg: float) -> str:
    side = "above" if altitude_deg >= 0.0 else "below"
    return f"{name} {abs(altitude_deg):.0f}° {side} the horizon"


def _moon(altitude_deg: float, state: NaturalState) -> str:
    lit = 0.5 * (1.0 + math.cos(math.radians(state.moon_phase_deg)))
    return f"{_height('moon', altitude_deg)} ({percent(lit)} lit)"


def _sun_and_moon(state: NaturalState) -> str:
    parts = [_height("sun", state.sun_altitude_deg)]
    moon = state.moon_altitude_deg
    if state.sun_altitude_deg < 0.0:  # by day the moon adds nothing that counts
        parts.append("no moon" if moon is None or moon < 0.0 else _moon(moon, state))
    if state.cloud_cover > 0.0:
        parts.append(f"cloud over {percent(state.cloud_cover)} of the sky")
    return ", ".join(parts)


def lamp_words(model: SceneModel) -> str:
    """Which lamps and illuminators of a scene are on."""
    every: list[Lamp | Illuminator] = [*model.lamp, *model.illuminator]
    on = [light.name for light in every if light.on]
    return f"on: {', '.join(on)}" if on else "no lamp on"


def light_words(model: SceneModel) -> str:
    """Natural light and lamps of a scene in one line."""
    return f"{natural_words(model.natural_light)}; {lamp_words(model)}"
