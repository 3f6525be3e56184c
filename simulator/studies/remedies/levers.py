"""The levers of a site: what can be turned, moved or added, from the least change to the largest.

Every step of a lever is a list of `key=value` texts as `--set` takes them, so that what is found
can be applied as it stands.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from simulator.camera.in_scene import CameraInScene
from simulator.judge.target import mean_wavelength_nm
from simulator.judge.verdict import CORNEA_LIMIT_W_M2
from simulator.studies.remedies.lever import (
    EXCHANGE,
    LIGHTS,
    MOUNTING,
    OPTICS,
    SETTINGS,
    Lever,
    Site,
    Step,
    focus_sets,
    numbers,
    three,
    with_lens,
)

__all__ = [
    "EXCHANGE",
    "LIGHTS",
    "MOUNTING",
    "OPTICS",
    "SETTINGS",
    "Lever",
    "Site",
    "Step",
    "focus_sets",
    "levers",
    "with_lens",
]

ADDED_INFRARED, ADDED_WHITE = "added infrared", "added white light"
INFRARED_PROFILE, WHITE_PROFILE = "infrared-850-medium", "white-led-spot"
INFRARED_W_SR = (0.25, 1.0, 4.0, 16.0, 64.0)
WHITE_W = (1.0, 4.0, 16.0, 60.0, 250.0)


def _metering(site: Site) -> Lever | None:
    """The window lies on the target."""
    view = site.in_scene.view
    x0, y0, x1, y1 = site.target.box_px
    window = (x0 / view.width_px, y0 / view.height_px, x1 / view.width_px, y1 / view.height_px)
    x0s, y0s, x1s, y1s = (round(float(np.clip(w, 0.0, 1.0)), 4) for w in window)
    if x1s <= x0s or y1s <= y0s:
        return None
    place = f"exposure.window=[{x0s}, {y0s}, {x1s}, {y1s}]"
    steps = [
        Step("highlight", ("exposure.metering=highlight",)),
        Step("backlight on the target", ("exposure.metering=backlight", place)),
        Step("spot on the target", ("exposure.metering=spot", place)),
    ]
    kept = tuple(s for s in steps if s.value != site.camera.model.exposure.metering)
    return Lever(
        "metering", "", site.camera.model.exposure.metering, SETTINGS,
        frozenset({"clipping", "crushed shadow", "light"}), kept, None,
    )  # fmt: skip


def _level(site: Site) -> Lever | None:
    e = site.camera.model.exposure
    if e.shutter_s is not None and e.gain_db is not None:
        return None
    now = e.target_level
    values = [now / 2, now / 4, now / 8, now * 1.8, min(0.8, now * 3.2)]
    kept = [v for v in values if 0.011 < v < 0.89]
    return numbers(
        "wanted level of the exposure", "of white", now, SETTINGS, "clipping, crushed shadow",
        kept, lambda v: (f"exposure.target_level={three(v):g}",), (),
    )  # fmt: skip


def _shutter(site: Site) -> Lever | None:
    e = site.camera.model.exposure
    now = site.state.exposure.shutter_s / site.state.exposure.accumulated
    fixed = e.shutter_s is not None
    values = [now / f for f in (2.0, 4.0, 8.0, 20.0, 50.0) if now / f >= (0 if fixed else 1e-5)]

    def sets(v: float) -> tuple[str, ...]:
        if fixed:
            return (f"exposure.shutter_s={v:g}",)
        low = () if v >= e.shutter_min_s else (f"exposure.shutter_min_s={v:g}",)
        return (*low, f"exposure.shutter_max_s={v:g}", *slow)

    slow = () if e.slow_shutter_max_s is None else (f"exposure.slow_shutter_max_s={now:g}",)
    return numbers(
        "longest shutter", "s", now, SETTINGS, "motion", values, sets, ()
    ) if not fixed else numbers(
        "shutter", "s", now, SETTINGS, "motion, clipping", values, sets, ()
    )  # fmt: skip


def _longer(site: Site) -> Lever | None:
    e = site.camera.model.exposure
    now = site.state.exposure.shutter_s / site.state.exposure.accumulated
    frame = 1.0 / site.camera.model.processing.frame_rate_hz
    key = "exposure.shutter_max_s" if e.shutter_s is None else "exposure.shutter_s"
    values = [v for v in (now * 2, now * 4, frame) if now * 1.2 < v <= frame]
    slow = "" if e.slow_shutter_max_s is None else f"exposure.slow_shutter_max_s={frame:g}"
    side = ("everything that moves smears more, and may leave trails",)
    return numbers(
        "shutter", "s", now, SETTINGS, "light, sensor noise, crushed shadow", sorted(set(values)),
        lambda v: (*((slow,) if slow else ()), f"{key}={three(v):g}"), side,
    )  # fmt: skip


def _gain(site: Site) -> Lever | None:
    e = site.camera.model.exposure
    key, now = ("gain_max_db", e.gain_max_db) if e.gain_db is None else ("gain_db", e.gain_db)
    values = [now + d for d in (6.0, 12.0, 18.0) if now + d <= 60.0]
    if e.gain_db is not None:
        values += [now - d for d in (6.0, 12.0, 18.0, 24.0) if now - d >= 0.0]
    return numbers(
        "gain limit" if e.gain_db is None else "gain", "dB", now, SETTINGS,
        "light, crushed shadow" + ("" if e.gain_db is None else ", clipping"), values,
        lambda v: (f"exposure.{key}={three(v):g}",), ("more gain shows more noise",),
    )  # fmt: skip


def _wide(site: Site) -> Lever | None:
    if site.camera.model.wide_range.method != "off":
        return None
    step = Step("two exposures", ("wide_range.method=exposures",))
    side = ("moving things may show double edges; noise rises where the exposures meet",)
    return Lever(
        "wide range", "", "off", SETTINGS, frozenset({"clipping", "crushed shadow"}), (step,),
        None, side,
    )  # fmt: skip


def _noise_reduction(site: Site) -> Lever | None:
    p = site.camera.model.processing
    now = max(p.noise_reduction, p.temporal_noise_reduction)
    steps = tuple(
        Step(v, (f"processing.noise_reduction={min(v, p.noise_reduction):g}",
                 f"processing.temporal_noise_reduction={min(v, p.temporal_noise_reduction):g}"))
        for v in (0.2, 0.0) if v < now
    )  # fmt: skip
    side = ("more noise in the picture, and a larger stream",)
    return Lever("noise reduction", "", now, SETTINGS, frozenset({"processing"}), steps, None, side)


def _bit_rate(site: Site) -> Lever | None:
    s = site.camera.model.stream
    if s.codec == "none":
        return None
    values = [s.bitrate_kbit_s * f for f in (2.0, 4.0, 8.0) if s.bitrate_kbit_s * f <= 2e5]
    steps = tuple(Step(v, (f"stream.bitrate_kbit_s={v:g}",)) for v in values)
    return Lever(
        "bit rate", "kbit/s", s.bitrate_kbit_s, SETTINGS, frozenset({"compression"}), steps, None,
        ("storage and network carry as much more",),
    )  # fmt: skip


def _focus(site: Site) -> Lever | None:
    """The focus at which the target is sharp in the light and mode of the picture."""
    lens, depth = site.camera.model.lens, site.target.depth_m
    now = site.in_scene.camera.lens.focus_m
    wavelength = mean_wavelength_nm(site.in_scene, site.state, site.target)
    best, least = now, math.inf
    for f in np.geomspace(max(0.4 * depth, 2.5e-3 * lens.focal_length_mm), 40.0 * depth, 400):
        in_scene = CameraInScene(
            site.in_scene.world,
            site.in_scene.station,
            with_lens(site.in_scene.camera, focus_m=float(f)),
        )
        blur = abs(float(in_scene.defocus_px(np.asarray(depth), wavelength)))
        if blur < least:
            best, least = float(f), blur
    best = three(best)
    side: tuple[str, ...] = (
        f"sharp at the target's {depth:.3g} m; what is much nearer or farther softens",
    )
    if site.state.mode == "night" and lens.infrared_focus_shift_um != 0.0:
        side = (*side, "set it at night under the light in use: by day the lens then is off")
    return Lever(
        "focus", "m", three(now), OPTICS, frozenset({"defocus"}), (Step(best, focus_sets(best)),),
        None, side,
    )  # fmt: skip


def _f_number(site: Site) -> Lever | None:
    lens = site.camera.model.lens
    now, fastest = lens.f_number, lens.smallest_f_number
    wider = [now / 2 ** (k / 2) for k in (1, 2, 3) if now / 2 ** (k / 2) > fastest * 1.01]
    if now > fastest * 1.05:
        wider.append(math.ceil(fastest * 100) / 100)
    values = [*wider, *(now * 2 ** (k / 2) for k in (1, 2, 4))]
    return numbers(
        "f-number", "", now, OPTICS, "light, sensor noise, defocus, clipping", values,
        lambda v: (f"lens.f_number={three(v):g}",),
        (),
    )  # fmt: skip


def _focal_length(site: Site) -> Lever | None:
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

    return numbers(
        "focal length", "mm", now, OPTICS, "pixels, lens blur, processing, compression", values,
        sets, (),
    )  # fmt: skip


def _colour_mode(site: Site) -> Lever | None:
    """The camera kept in colour."""
    if site.state.mode == "day":
        return None
    return Lever(
        "mode", "", "night", SETTINGS, frozenset({"night mode"}),
        (Step("day", ("day_night.mode=day",)),), None,
        ("infrared no longer helps it, and more gain shows more noise",),
    )  # fmt: skip


def _infrared(site: Site) -> Lever | None:
    if site.scene.model.task.name == "colour":
        return None
    mode = () if site.state.mode == "night" else ("day_night.mode=night",)
    side: tuple[str, ...] = (
        "power on the mast; things near the camera turn white, insects and rain shine",
    )

    def sets(v: float) -> tuple[str, ...]:
        return (
            f"illuminator.{ADDED_INFRARED}.use={INFRARED_PROFILE}",
            f"illuminator.{ADDED_INFRARED}.radiant_intensity_w_per_sr={three(v):g}",
            *mode,
        )

    lever = numbers(
        "infrared light at the camera", "W/sr", 0.0, LIGHTS, "light, sensor noise, crushed shadow",
        list(INFRARED_W_SR), sets, side,
    )  # fmt: skip
    return None if lever is None else replace(lever, warn=_infrared_caution)


def _infrared_caution(intensity_w_sr: float) -> tuple[str, ...]:
    near = math.sqrt(intensity_w_sr / CORNEA_LIMIT_W_M2)
    return (
        "Infrared cannot be seen and does not make one look away: keep eyes off the lamp within"
        f" about {near:.2g} m on its axis and go by the maker's classification after IEC 62471 and"
        " a competent person.",
    )


def _white(site: Site) -> Lever | None:
    def sets(v: float) -> tuple[str, ...]:
        return (
            f"illuminator.{ADDED_WHITE}.use={WHITE_PROFILE}",
            f"illuminator.{ADDED_WHITE}.electrical_power_w={three(v):g}",
        )

    return numbers(
        "white light at the camera", "W", 0.0, LIGHTS,
        "light, sensor noise, crushed shadow, lamp colour",
        list(WHITE_W), sets,
        ("power on the mast; it is seen, and may dazzle drivers and disturb neighbours",),
    )  # fmt: skip


def _dimmed(site: Site) -> Iterator[Lever | None]:
    for lamp in site.scene.model.illuminator:
        if not lamp.on or lamp.dimming <= 0.0:
            continue

        def sets(v: float, name: str = lamp.name) -> tuple[str, ...]:
            return (f"illuminator.{name}.dimming={three(v):g}",)

        values = [lamp.dimming * f for f in (0.5, 0.2, 0.08, 0.03, 0.01)]
        yield numbers(
            f"illuminator '{lamp.name}' dimmed", "of full light", lamp.dimming, LIGHTS, "clipping",
            values, sets, (),
        )  # fmt: skip


def _distance(site: Site) -> Lever | None:
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
    values = [now * s for s in (0.8, 0.6, 0.45, 0.3) if now * s > least]
    return numbers(
        "distance of the camera", "m", now, MOUNTING, "pixels, haze, light, lens blur, defocus",
        values, sets, (),
        ("Another mount: work at height and wiring are for trained people.",),
    )  # fmt: skip


def _height(site: Site) -> Lever | None:
    now = site.scene.model.station.height_m
    values = [v for v in (now * 0.6, now * 1.5, now * 2.2) if 0.5 <= v <= 8.0]
    return numbers(
        "height of the camera", "m", now, MOUNTING, "clipping, glare, motion", values,
        lambda v: (f"station.height_m={three(v):g}",), ("the target is seen at another angle",),
        ("Another mount: work at height and wiring are for trained people.",),
    )  # fmt: skip


def levers(site: Site) -> list[Lever]:
    """All levers that this scene and camera have, in the order of effort."""
    found = [
        make(site)
        for make in (
            _metering, _level, _shutter, _longer, _gain, _wide, _noise_reduction, _bit_rate, _focus,
            _colour_mode, _f_number, _focal_length, _infrared, _white, _distance, _height,
        )
    ]  # fmt: skip
    kept = [lever for lever in (*found, *_dimmed(site)) if lever is not None and lever.steps]
    return sorted(kept, key=lambda lever: lever.effort)
