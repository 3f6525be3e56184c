"""Levers that are settings of the camera."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from simulator.judge.target import JudgedText
from simulator.messages import Message
from simulator.studies import trade
from simulator.studies.remedies.lever import (
    Effort,
    LeverKind,
    Site,
    Step,
    Travel,
    helping,
    numbers,
    three,
)

FIXED_FROM_S = 1.0 / 125.0
"""Longest shutter that is held for what moves [s] (common practice, no source)."""


def _metering(site: Site) -> Iterator[Travel]:
    """The window lies on the target."""
    view = site.in_scene.view
    x0, y0, x1, y1 = site.target.box_px
    window = (x0 / view.width_px, y0 / view.height_px, x1 / view.width_px, y1 / view.height_px)
    x0s, y0s, x1s, y1s = (round(float(np.clip(w, 0.0, 1.0)), 4) for w in window)
    if x1s <= x0s or y1s <= y0s:
        return
    place = f"exposure.window=[{x0s}, {y0s}, {x1s}, {y1s}]"
    now = site.camera.model.exposure.metering
    steps = (
        Step("highlight", ("exposure.metering=highlight",)),
        Step("backlight on the target", ("exposure.metering=backlight", place)),
        Step("spot on the target", ("exposure.metering=spot", place)),
    )
    yield Travel(now, tuple(step for step in steps if step.value != now))


def _level(site: Site) -> Iterator[Travel]:
    e = site.camera.model.exposure
    if e.shutter_s is not None and e.gain_db is not None:
        return
    now = e.target_level
    values = [now / 2, now / 4, now / 8, now * 1.8, min(0.8, now * 3.2)]
    kept = [v for v in values if 0.011 < v < 0.89]
    yield numbers(now, kept, lambda v: (f"exposure.target_level={three(v):g}",))


def _frame_shutter_s(site: Site) -> float:
    """The shutter of one of the frames that are added up [s]."""
    return site.state.exposure.shutter_s / site.state.exposure.accumulated


def _fixed_shutter(site: Site) -> Iterator[Travel]:
    """A shutter of the trade held, the gain limited: what the trade does for what moves."""
    e = site.camera.model.exposure
    if e.shutter_s is not None or site.target.entry.speed_kmh == 0.0:
        return
    text = isinstance(site.target, JudgedText)
    cap = min(e.gain_max_db, trade.PLATE_GAIN_DB if text else trade.GAIN_DB)
    now = _frame_shutter_s(site)
    steps = tuple(
        Step(s, (f"exposure.shutter_s={s:g}", f"exposure.gain_max_db={cap:g}"))
        for s in trade.SHUTTERS_S
        if s <= FIXED_FROM_S and s < 0.98 * now
    )
    yield Travel(now, steps, of=f"{cap:g} dB")


def _shorter_limit(site: Site) -> Iterator[Travel]:
    e = site.camera.model.exposure
    if e.shutter_s is not None:
        return
    now = _frame_shutter_s(site)
    slow = () if e.slow_shutter_max_s is None else (f"exposure.slow_shutter_max_s={now:g}",)

    def sets(v: float) -> tuple[str, ...]:
        low = () if v >= e.shutter_min_s else (f"exposure.shutter_min_s={v:g}",)
        return (*low, f"exposure.shutter_max_s={v:g}", *slow)

    yield numbers(now, [now / f for f in (2.0, 4.0, 8.0, 20.0, 50.0) if now / f >= 1e-5], sets)


def _shorter(site: Site) -> Iterator[Travel]:
    if site.camera.model.exposure.shutter_s is None:
        return
    now = _frame_shutter_s(site)
    values = [now / f for f in (2.0, 4.0, 8.0, 20.0, 50.0)]
    yield numbers(now, values, lambda v: (f"exposure.shutter_s={v:g}",))


def _longer(site: Site) -> Iterator[Travel]:
    e = site.camera.model.exposure
    now = _frame_shutter_s(site)
    frame = 1.0 / site.camera.model.processing.frame_rate_hz
    key = "exposure.shutter_max_s" if e.shutter_s is None else "exposure.shutter_s"
    values = {v for v in (now * 2, now * 4, frame) if now * 1.2 < v <= frame}
    slow = () if e.slow_shutter_max_s is None else (f"exposure.slow_shutter_max_s={frame:g}",)
    yield numbers(now, sorted(values), lambda v: (*slow, f"{key}={three(v):g}"))


def _gain_limit(site: Site) -> Iterator[Travel]:
    e = site.camera.model.exposure
    if e.gain_db is None:
        now = e.gain_max_db
        values = [now + d for d in (6.0, 12.0, 18.0) if now + d <= 60.0]
        yield numbers(now, values, lambda v: (f"exposure.gain_max_db={three(v):g}",))


def _gain(site: Site) -> Iterator[Travel]:
    now = site.camera.model.exposure.gain_db
    if now is not None:
        values = [now + d for d in (6.0, 12.0, 18.0) if now + d <= 60.0]
        values += [now - d for d in (6.0, 12.0, 18.0, 24.0) if now - d >= 0.0]
        yield numbers(now, values, lambda v: (f"exposure.gain_db={three(v):g}",))


def _wide_range(site: Site) -> Iterator[Travel]:
    if site.camera.model.wide_range.method == "off":
        yield Travel("off", (Step("two exposures", ("wide_range.method=exposures",)),))


def _noise_reduction(site: Site) -> Iterator[Travel]:
    p = site.camera.model.processing
    now = max(p.noise_reduction, p.temporal_noise_reduction)
    steps = tuple(
        Step(v, (f"processing.noise_reduction={min(v, p.noise_reduction):g}",
                 f"processing.temporal_noise_reduction={min(v, p.temporal_noise_reduction):g}"))
        for v in (0.2, 0.0) if v < now
    )  # fmt: skip
    yield Travel(now, steps)


def _bit_rate(site: Site) -> Iterator[Travel]:
    s = site.camera.model.stream
    if s.codec == "none":
        return
    values = [s.bitrate_kbit_s * f for f in (2.0, 4.0, 8.0) if s.bitrate_kbit_s * f <= 2e5]
    steps = tuple(Step(v, (f"stream.bitrate_kbit_s={v:g}",)) for v in values)
    yield Travel(s.bitrate_kbit_s, steps)


def _colour_mode(site: Site) -> Iterator[Travel]:
    """The camera kept in colour."""
    if site.state.mode != "day":
        yield Travel("night", (Step("day", ("day_night.mode=day",)),))


SETTINGS = (
    LeverKind(
        key="fixed-shutter",
        name="fixed shutter (gain limited to {of})",
        effort=Effort.SETTING,
        helps=helping("motion, clipping"),
        travel=_fixed_shutter,
        unit="s",
        first=True,
    ),
    LeverKind(
        key="metering",
        name="metering",
        effort=Effort.SETTING,
        helps=helping("clipping, crushed shadow, light"),
        travel=_metering,
    ),
    LeverKind(
        key="target-level",
        name="target level of the exposure",
        effort=Effort.SETTING,
        helps=helping("clipping, crushed shadow"),
        travel=_level,
        unit="of white",
    ),
    LeverKind(
        key="shorter-shutter-limit",
        name="longest shutter",
        effort=Effort.SETTING,
        helps=helping("motion"),
        travel=_shorter_limit,
        unit="s",
    ),
    LeverKind(
        key="shorter-shutter",
        name="shutter",
        effort=Effort.SETTING,
        helps=helping("motion, clipping"),
        travel=_shorter,
        unit="s",
    ),
    LeverKind(
        key="longer-shutter",
        name="shutter",
        effort=Effort.SETTING,
        helps=helping("light, sensor noise, crushed shadow"),
        travel=_longer,
        unit="s",
        side_effects=(Message("effect.more-motion-blur"),),
    ),
    LeverKind(
        key="gain-limit",
        name="gain limit",
        effort=Effort.SETTING,
        helps=helping("light, crushed shadow"),
        travel=_gain_limit,
        unit="dB",
        side_effects=(Message("effect.noise-of-gain"),),
    ),
    LeverKind(
        key="gain",
        name="gain",
        effort=Effort.SETTING,
        helps=helping("light, crushed shadow, clipping"),
        travel=_gain,
        unit="dB",
        side_effects=(Message("effect.noise-of-gain"),),
    ),
    LeverKind(
        key="wide-range",
        name="wide dynamic range",
        effort=Effort.SETTING,
        helps=helping("clipping, crushed shadow"),
        travel=_wide_range,
        side_effects=(Message("effect.two-exposures"),),
    ),
    LeverKind(
        key="noise-reduction",
        name="noise reduction",
        effort=Effort.SETTING,
        helps=helping("processing"),
        travel=_noise_reduction,
        side_effects=(Message("effect.less-noise-reduction"),),
    ),
    LeverKind(
        key="bit-rate",
        name="bit rate",
        effort=Effort.SETTING,
        helps=helping("compression"),
        travel=_bit_rate,
        unit="kbit/s",
        side_effects=(Message("effect.more-storage"),),
    ),
    LeverKind(
        key="colour-mode",
        name="mode",
        effort=Effort.SETTING,
        helps=helping("night mode"),
        travel=_colour_mode,
        side_effects=(Message("effect.colour-mode"),),
    ),
)
