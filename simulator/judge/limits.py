"""What limits the reading: every impairment removed in turn, and left in alone.

For each impairment i two questions are asked of the true model:

    without_i   how surely is the plate read if i alone is removed?
    only_i      how surely is it read if i alone is left and all others are removed?

A single cause shows in the first, several causes that each suffice to spoil the reading only in
the second. The share of the loss laid to i is the mean of its first and last marginal value,

    share_i = 1/2 [(without_i - as_is) + (all_removed - only_i)]

which are the two ends of the Shapley value (Shapley 1953). Where shares tie, the impairment
comes first that needs the least to be changed (order of `FACTORS`).
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from simulator.camera.patch import PatchPlan, Traces, patch_light
from simulator.camera.pipeline import State, settle_camera
from simulator.camera.rig import Rig
from simulator.camera.sensor import readout
from simulator.camera.settling import added_up
from simulator.judge.figures import levels
from simulator.judge.reading import Reader
from simulator.judge.target import JudgedText, find_text, plan_patch
from simulator.judge.trials import quick_veil, read_probability
from simulator.units import db_to_ratio, ratio_to_db

AMPLE_SHUTTER_S = 0.001
"""With ample light the camera could expose this short at its base gain."""
AMPLE_CHARACTER_PX = 24.0
"""With ample pixels a character is this high."""
WANTED_PLATE_LEVEL = 0.5
"""Level of the plate's light parts when the exposure is made for the plate alone."""
TRIALS = 48
FIRST_TRIALS = 16
"""When these agree all or none, the rest is not run: only the ranking hangs on it."""
TIE = 0.05
FINER_SPLIT = 2
"""Samples a side of pixels that are already finer than the camera's own."""


SPOILED_BELOW = 0.5
"""An impairment spoils the reading alone if it leaves less than this."""
NAMED = 3
LEAST_SHARE = 0.02
"""Limits that explain less of the loss are not worth a word."""


@dataclass(frozen=True)
class Limit:
    """One impairment: the probability with it alone removed, with it alone left, its share."""

    factor: str
    probability_without: float
    probability_only: float
    share: float


def _changed(rig: Rig, part: str, **values: Any) -> Rig:
    """The rig with some values of one table of its camera changed."""
    table = getattr(rig.camera, part).model_copy(update=values)
    return replace(rig, camera=rig.camera.model_copy(update={part: table}))


def _no_motion(rig: Rig, state: State, _: JudgedText) -> tuple[Rig, State] | None:
    if not np.any(rig.world.velocities):
        return None
    world = replace(rig.world, velocities=np.zeros_like(rig.world.velocities))
    return replace(rig, world=world), state


def _exposed_for_plate(rig: Rig, state: State, target: JudgedText) -> tuple[Rig, State] | None:
    """The plate at a middle level: more or less gain, and if that is too much less light.

    The shutter stays, so that this asks for the level alone and not for movement or noise.
    """
    plan = plan_patch(rig, state, target)
    still, _ = _no_motion(rig, state, target) or (rig, state)
    shutter = state.exposure.shutter_s
    rate = patch_light(still, state.mode, shutter, plan, quick_veil(rig, state))
    light, _ = levels(rate, state, target, (plan.box_px[0], plan.box_px[1]))
    signal_e = light * shutter * float(state.colour.balance.max())
    if signal_e <= 0.0:
        return None
    wanted = WANTED_PLATE_LEVEL * rig.camera.sensor.full_well_e / signal_e
    gain = float(np.clip(wanted, 1.0, db_to_ratio(rig.camera.exposure.gain_max_db)))
    exposure = replace(state.exposure, gain_db=ratio_to_db(gain))
    state = replace(state, exposure=exposure, chain=readout(rig.camera.sensor, exposure.gain_db))
    scale = rig.switches.light_scale * min(1.0, wanted / gain)
    return replace(rig, switches=replace(rig.switches, light_scale=scale)), state


def _ample_light(rig: Rig, state: State, _: JudgedText) -> tuple[Rig, State] | None:
    """Every light stronger by one factor, so that base gain and a short shutter suffice.

    The iris stays where it is, and no frames are added up any more.
    """
    settings, exposure = rig.camera.exposure, state.exposure
    shutter = settings.shutter_s or min(AMPLE_SHUTTER_S, settings.shutter_max_s)
    gain = 1.0 if settings.gain_db is None else db_to_ratio(settings.gain_db)
    closed = (exposure.f_number / exposure.f_number_open) ** 2
    factor = exposure.wanted_product_s * closed / (shutter * gain)
    if factor <= 1.0:
        return None
    scale = rig.switches.light_scale * factor
    brighter = replace(rig, switches=replace(rig.switches, light_scale=scale))
    if exposure.accumulated > 1:
        single = added_up(brighter.camera, 1.0 / exposure.accumulated)
        brighter = replace(brighter, camera=single)
    brighter = _changed(brighter, "exposure", iris="fixed")
    return brighter, settle_camera(brighter, state.mode)


def _ample_pixels(rig: Rig, state: State, target: JudgedText) -> tuple[Rig, State] | None:
    """Finer pixels on the same sensor area, with no more noise for the area."""
    k = int(np.clip(np.ceil(AMPLE_CHARACTER_PX / target.character_height_px), 1, 16))
    if k == 1:
        return None
    s = rig.camera.sensor
    finer = _changed(
        rig,
        "sensor",
        width_px=s.width_px * k,
        height_px=s.height_px * k,
        pixel_pitch_um=s.pixel_pitch_um / k,
        full_well_e=s.full_well_e / k**2,
        read_noise_e=s.read_noise_e / k,
        row_noise_e=s.row_noise_e / k,
        column_noise_e=s.column_noise_e / k,
        dsnu_e=s.dsnu_e / k,
        dark_current_e_per_s=s.dark_current_e_per_s / k**2,
        hot_pixel_e_per_s=s.hot_pixel_e_per_s / k**2,
        prnu=min(0.2, s.prnu * k),
        high_gain_full_well_e=_over(s.high_gain_full_well_e, k**2),
        high_gain_read_noise_e=_over(s.high_gain_read_noise_e, k),
        line_time_us=_over(s.line_time_us, k),
    )
    return finer, replace(state, chain=readout(finer.camera.sensor, state.exposure.gain_db))


def _over(value: float | None, divisor: float) -> float | None:
    return None if value is None else value / divisor


def _in_focus(rig: Rig, state: State, _: JudgedText) -> tuple[Rig, State] | None:
    return replace(rig, switches=replace(rig.switches, defocus=False)), state


def _no_glare(rig: Rig, state: State, _: JudgedText) -> tuple[Rig, State] | None:
    clean = _changed(rig, "lens", glare_index=0.0)
    return _changed(clean, "cover", glare_index=0.0, dirt=0.0), state


def _sharp_lens(rig: Rig, state: State, _: JudgedText) -> tuple[Rig, State] | None:
    sharp = _changed(rig, "lens", aberration_um=0.0)
    return replace(sharp, switches=replace(sharp.switches, diffraction=False)), state


def _plain_processing(rig: Rig, state: State, _: JudgedText) -> tuple[Rig, State] | None:
    return _changed(
        rig,
        "processing",
        noise_reduction=0.0,
        temporal_noise_reduction=0.0,
        sharpening=0.0,
        analogue_tv_lines=None,
    ), state


def _silent_sensor(rig: Rig, state: State, _: JudgedText) -> tuple[Rig, State] | None:
    return _changed(
        rig,
        "sensor",
        read_noise_e=0.0,
        high_gain_read_noise_e=None if rig.camera.sensor.high_gain_read_noise_e is None else 0.0,
        converter_noise_dn=0.0,
        row_noise_e=0.0,
        column_noise_e=0.0,
        hot_pixels_per_million=0.0,
        dsnu_e=0.0,
        prnu=0.0,
        dark_current_e_per_s=0.0,
    ), state


Change = Callable[[Rig, State, JudgedText], tuple[Rig, State] | None]
FACTORS: dict[str, Change] = {
    "motion": _no_motion,
    "exposure": _exposed_for_plate,
    "light": _ample_light,
    "pixels": _ample_pixels,
    "defocus": _in_focus,
    "glare": _no_glare,
    "lens blur": _sharp_lens,
    "processing": _plain_processing,
    "sensor noise": _silent_sensor,
}
"""Impairments and how each is removed."""

MEANINGS = {
    "motion": "the target held still",
    "exposure": "the plate at a middle level of the picture",
    "defocus": "the target in perfect focus",
    "glare": "no stray light in the lens",
    "light": "so much light that base gain and a short shutter suffice",
    "pixels": "pixels fine enough for characters 24 px high",
    "lens blur": "a lens without aberration and diffraction",
    "processing": "no noise reduction, sharpening or line limit",
    "sensor noise": "a sensor without noise of its own; photon noise stays",
}


COMPOSED = (
    "pixels",
    "motion",
    "defocus",
    "glare",
    "lens blur",
    "processing",
    "sensor noise",
    "light",
    "exposure",
)
"""Order in which several impairments are removed together: the level is set last."""


def without(
    rig: Rig, state: State, target: JudgedText, factors: Collection[str]
) -> tuple[Rig, State, JudgedText] | None:
    """Camera, state and target with some impairments removed; None if none of them is there."""
    touched = False
    for factor in COMPOSED:
        if factor not in factors:
            continue
        changed = FACTORS[factor](rig, state, target)
        if changed is None:
            continue
        touched = True
        new_rig, state = changed
        stopped = np.any(new_rig.world.velocities) != np.any(rig.world.velocities)
        if stopped or new_rig.view.focal_px != rig.view.focal_px:
            target = find_text(new_rig, target.thing)
        rig = new_rig
    return (rig, state, target) if touched else None


def find_limits(
    rig: Rig,
    state: State,
    target: JudgedText,
    probability: float,
    *,
    plan: PatchPlan,
    traces: Traces,
    seed: int,
    trials: int = TRIALS,
    reader: str | Reader = "person",
) -> list[Limit]:
    """Impairments, the one with the largest share of the loss first.

    An impairment that is not there (nothing moves, pixels are ample) keeps the probability as it
    is when removed.

    Parameters
    ----------
    plan, traces
        Patch and traced layers of the unchanged camera, used again where the view is the same.
    """
    kept: dict[float, tuple[PatchPlan, Traces]] = {rig.view.focal_px: (plan, traces)}

    def chance(factors: Collection[str]) -> float | None:
        changed = without(rig, state, target, factors)
        if changed is None:
            return None
        new_rig, new_state, found = changed
        key = new_rig.view.focal_px
        if key not in kept:
            kept[key] = (plan_patch(new_rig, state, found, FINER_SPLIT), Traces())
        plan_, traces_ = kept[key]
        for count in (min(FIRST_TRIALS, trials), trials):
            value = read_probability(
                new_rig, new_state, found, seed=seed, trials=count, plan=plan_, traces=traces_,
                phases=1, reader=reader,
            ).value  # fmt: skip
            if value in {0.0, 1.0}:
                break
        return value

    ideal = chance(FACTORS)
    if ideal is None:
        return []
    rows = []
    for factor in FACTORS:
        removed = chance([factor])
        if removed is None:
            rows.append(Limit(factor, probability, ideal, 0.0))
            continue
        only = chance([other for other in FACTORS if other != factor])
        only = probability if only is None else only
        share = 0.5 * ((removed - probability) + (ideal - only))
        rows.append(Limit(factor, removed, only, share))
    order = list(FACTORS)
    return sorted(rows, key=lambda row: (-round(row.share / TIE), order.index(row.factor)))


def no_single_mending(limits: Sequence[Mapping[str, Any]]) -> str | None:
    """A sentence where no impairment, removed alone, brings the reading to an even chance.

    Parameters
    ----------
    limits
        Rows as in verdict.json.
    """
    rows = [row for row in limits if row["share"] > LEAST_SHARE]
    if not rows or max(row["probability_without"] for row in limits) >= SPOILED_BELOW:
        return None
    alone = [row["factor"] for row in rows if row["probability_only"] < SPOILED_BELOW]
    if len(alone) < 2:
        return "No single mending suffices: several impairments add up."
    if len(alone) > NAMED:
        alone = [*alone[:NAMED], "more"]
    names = ", ".join(alone[:-1]) + f" and {alone[-1]}"
    return f"No single mending suffices: {names} each spoil the reading alone."
