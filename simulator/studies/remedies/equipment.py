"""Levers on lens, light and place of the camera, and another camera."""

from __future__ import annotations

import math
from collections.abc import Iterator

from simulator.judge.impairments import IMPAIRMENTS
from simulator.judge.target import mean_wavelength_nm
from simulator.judge.verdict import CORNEA_LIMIT_W_M2
from simulator.messages import Message
from simulator.studies.focusing import best_focus_m
from simulator.studies.lighting.lamp_classes import ChosenLamp, lamp_classes, smallest
from simulator.studies.lighting.lamps import KindName, field_angle_deg
from simulator.studies.remedies.lever import (
    Effort,
    LeverKind,
    Site,
    Step,
    Travel,
    focus_sets,
    helping,
    numbers,
    three,
    with_lens,
)

ADDED_INFRARED, ADDED_WHITE = "added infrared", "added white light"
INFRARED_PROFILE, WHITE_PROFILE = "infrared-850-medium", "white-led-flood"
LAMP_STEP = 2.2
"""Lamps whose light is nearer to that of the one before are not tried."""
DIMMED = (0.2, 0.4, 1.0)
"""Settings of the smallest class; larger ones are tried at full light."""


def _focus(site: Site) -> Iterator[Travel]:
    """The focus at which the target is sharp in the light and mode of the picture."""
    lens, depth = site.camera.model.lens, site.target.depth_m
    now = site.in_scene.focus_m
    wavelength = mean_wavelength_nm(site.in_scene, site.state, site.target)
    best = best_focus_m(site.in_scene, depth, wavelength)
    best = three(best)
    side = [Message("effect.sharp-at", {"depth_m": depth})]
    if site.state.mode == "night" and lens.infrared_focus_shift_um != 0.0:
        side.append(Message("effect.focus-at-night"))
    yield Travel(three(now), (Step(best, focus_sets(best)),), side_effects=tuple(side))


def _f_number(site: Site) -> Iterator[Travel]:
    lens = site.camera.model.lens
    now, fastest = lens.f_number, lens.smallest_f_number
    wider = [now / 2 ** (k / 2) for k in (1, 2, 3) if now / 2 ** (k / 2) > fastest * 1.01]
    if now > fastest * 1.05:
        wider.append(math.ceil(fastest * 100) / 100)
    values = [*wider, *(now * 2 ** (k / 2) for k in (1, 2, 4))]
    yield numbers(now, values, lambda v: (f"lens.f_number={three(v):g}",))


def _focal_length(site: Site) -> Iterator[Travel]:
    lens, view = site.camera.model.lens, site.in_scene.view
    x0, y0, x1, y1 = site.target.box_px
    reach = max(
        abs(x0 - view.width_px / 2) / (view.width_px / 2),
        abs(x1 - view.width_px / 2) / (view.width_px / 2),
        abs(y0 - view.height_px / 2) / (view.height_px / 2),
        abs(y1 - view.height_px / 2) / (view.height_px / 2),
    )
    most = min(lens.focal_max_mm, lens.focal_length_mm * 0.92 / max(reach, 1e-3))
    now = lens.focal_length_mm
    values = [v for v in (now * 1.3, now * 1.7, now * 2.4, now * 3.5) if v < most]
    if most > now * 1.05:
        values.append(math.floor(most * 10) / 10)

    def sets(v: float) -> tuple[str, ...]:
        longer = with_lens(site.camera.model, focal_length_mm=v).lens
        f = max(lens.f_number, math.ceil(longer.smallest_f_number * 100) / 100)
        return (f"lens.focal_length_mm={v:g}", f"lens.f_number={f:g}")

    yield numbers(now, values, sets)


def _infrared(site: Site) -> Iterator[Travel]:
    if site.scene.model.task.name == "colour":
        return
    mode = () if site.state.mode == "night" else ("day_night.mode=night",)
    steps = tuple(
        Step(
            f"{lamp_words(one)} at 850 nm ({with_unit(one)})",
            (*_lamp_sets(one, ADDED_INFRARED, INFRARED_PROFILE),
             f"illuminator.{ADDED_INFRARED}.radiant_intensity_w_per_sr={three(one.lamp.intensity):g}",
             *mode),
            one.intensity,
        )
        for one in _lamps(site, "infrared-850")
    )  # fmt: skip
    yield Travel("none", steps)


def _lamps(site: Site, kind: KindName) -> list[ChosenLamp]:
    """Lamps on sale whose beam covers the picture, the weakest light first."""
    beams = sorted({one.beam_deg for one in lamp_classes(kind)})
    field = field_angle_deg(site.in_scene)
    beam = next((one for one in beams if one >= field), beams[-1])
    wide = [one for one in lamp_classes(kind) if one.beam_deg >= beam]
    weakest = smallest(kind, beam).lamp
    every = [ChosenLamp(weakest, setting) for setting in DIMMED]
    every += [ChosenLamp(one) for one in wide if one is not weakest]
    out: list[ChosenLamp] = []
    for one in sorted(every, key=lambda one: one.intensity):
        if not out or one.intensity >= LAMP_STEP * out[-1].intensity:
            out.append(one)
    return out


def lamp_words(chosen: ChosenLamp) -> str:
    """A lamp as it is bought and set: watts, degrees, dimmer."""
    dimmed = f", dimmed to {chosen.setting:.0%}".replace("%", " %") if chosen.setting < 1.0 else ""
    return f"{chosen.lamp.power_w:g} W, {chosen.lamp.beam_deg:g}°{dimmed}"


def with_unit(chosen: ChosenLamp) -> str:
    """Its light on the axis as set."""
    return f"{three(float(f'{chosen.intensity:.2g}')):g} {chosen.lamp.kind.intensity_unit}"


def _lumens(chosen: ChosenLamp) -> str:
    return f"{three(chosen.lamp.luminous_flux_lm or 0.0):g}"


def _lamp_sets(chosen: ChosenLamp, name: str, profile: str) -> tuple[str, ...]:
    lamp = chosen.lamp
    return (
        f"illuminator.{name}.use={profile}",
        f"illuminator.{name}.beam_deg={lamp.beam_deg:g}",
        f"illuminator.{name}.electrical_power_w={lamp.power_w:g}",
        f"illuminator.{name}.emitter_width_m={lamp.emitter_width_m:g}",
        f"illuminator.{name}.dimming={chosen.setting:g}",
    )


def _infrared_caution(intensity_w_sr: float) -> tuple[Message, ...]:
    near = math.sqrt(intensity_w_sr / CORNEA_LIMIT_W_M2)
    return (Message("caution.added-infrared", {"near_m": near}),)


def _white(site: Site) -> Iterator[Travel]:
    steps = tuple(
        Step(
            f"{lamp_words(one)} ({with_unit(one)})",
            (*_lamp_sets(one, ADDED_WHITE, WHITE_PROFILE),
             f"illuminator.{ADDED_WHITE}.beam_shape=cosine",
             f"illuminator.{ADDED_WHITE}.luminous_flux_lm={_lumens(one)}"),
            one.intensity,
        )
        for one in _lamps(site, "white")
    )  # fmt: skip
    yield Travel("none", steps)


def _dimmed(site: Site) -> Iterator[Travel]:
    for lamp in site.scene.model.illuminator:
        if not lamp.on or lamp.dimming <= 0.0:
            continue

        def sets(v: float, name: str = lamp.name) -> tuple[str, ...]:
            return (f"illuminator.{name}.dimming={three(v):g}",)

        values = [lamp.dimming * f for f in (0.5, 0.2, 0.08, 0.03, 0.01)]
        yield numbers(lamp.dimming, values, sets, lamp.name)


def _distance(site: Site) -> Iterator[Travel]:
    """The camera moved towards the target on level ground, focus on the target."""
    station, card = site.scene.model.station, site.target.card
    x, y, z = station.position_m
    dx, dy = float(card.centre_m[0]) - x, float(card.centre_m[1]) - y
    now = site.target.distance_m
    level = math.hypot(dx, dy)
    rise = float(card.centre_m[2]) - z

    def sets(v: float) -> tuple[str, ...]:
        left = math.sqrt(max(v * v - rise * rise, 0.04))
        share = 1.0 - left / level
        return (
            f"station.ground_position_m=[{x + share * dx:.2f},{y + share * dy:.2f}]",
            *focus_sets(v),
        )

    least = max(1.5 * abs(rise), 1.0)
    yield numbers(now, [now * s for s in (0.8, 0.6, 0.45, 0.3) if now * s > least], sets)


def _height(site: Site) -> Iterator[Travel]:
    now = site.scene.model.station.height_m
    values = [v for v in (now * 0.6, now * 1.5, now * 2.2) if 0.5 <= v <= 8.0]
    yield numbers(now, values, lambda v: (f"station.height_m={three(v):g}",))


EQUIPMENT = (
    LeverKind(
        key="focus",
        name="focus",
        effort=Effort.OPTICS,
        helps=helping("defocus"),
        travel=_focus,
        unit="m",
    ),
    LeverKind(
        key="f-number",
        name="f-number",
        effort=Effort.OPTICS,
        helps=helping("light, sensor noise, defocus, clipping"),
        travel=_f_number,
    ),
    LeverKind(
        key="focal-length",
        name="focal length",
        effort=Effort.OPTICS,
        helps=helping("pixels, lens blur, processing, compression"),
        travel=_focal_length,
        unit="mm",
    ),
    LeverKind(
        key="added-infrared",
        name="infrared light at the camera",
        effort=Effort.LAMP,
        helps=helping("light, sensor noise, crushed shadow"),
        travel=_infrared,
        side_effects=(Message("effect.infrared-beside-camera"),),
        warn=_infrared_caution,
    ),
    LeverKind(
        key="added-white-light",
        name="white light at the camera",
        effort=Effort.LAMP,
        helps=helping("light, sensor noise, crushed shadow, lamp colour"),
        travel=_white,
        side_effects=(Message("effect.white-light-beside-camera"),),
    ),
    LeverKind(
        key="dimmed-lamp",
        name="output of illuminator '{of}'",
        effort=Effort.LAMP,
        helps=helping("clipping"),
        travel=_dimmed,
        unit="of full light",
    ),
    LeverKind(
        key="distance",
        name="distance of the camera",
        effort=Effort.MOUNTING,
        helps=helping("pixels, haze, light, lens blur, defocus"),
        travel=_distance,
        unit="m",
        cautions=(Message("caution.other-mount"),),
    ),
    LeverKind(
        key="height",
        name="height of the camera",
        effort=Effort.MOUNTING,
        helps=helping("clipping, glare, motion"),
        travel=_height,
        unit="m",
        side_effects=(Message("effect.other-angle"),),
        cautions=(Message("caution.other-mount"),),
    ),
    LeverKind(
        key="camera",
        name="camera",
        effort=Effort.EXCHANGE,
        helps=frozenset(IMPAIRMENTS.names()),
        travel=lambda _: (),  # which others there are is asked of the search
        side_effects=(Message("effect.other-camera"),),
    ),
)
