"""What limits the reading: every impairment removed in turn, all else held.

The probability without an impairment says what mending it alone could bring at best. Several may
reach as high; then the one comes first that needs the least to be changed (order of `FACTORS`).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from simulator.camera.exposure import settle
from simulator.camera.patch import PatchPlan, Traces, patch_light
from simulator.camera.pipeline import State, settle_camera
from simulator.camera.rig import Rig
from simulator.camera.sensor import readout
from simulator.judge.figures import levels
from simulator.judge.target import JudgedPlate, find_plate, plan_patch
from simulator.judge.trials import quick_veil, read_probability

AMPLE_SHUTTER_S = 0.001
"""With ample light the camera could expose this short at its base gain."""
AMPLE_CHARACTER_PX = 32.0
"""With ample pixels a character is this high."""
WANTED_PLATE_LEVEL = 0.5
"""Level of the plate's light parts when the exposure is made for the plate alone."""
TRIALS = 48
TIE = 0.05


@dataclass(frozen=True)
class Limit:
    """One impairment and the probability with it alone removed."""

    factor: str
    probability_without: float


def _changed(rig: Rig, part: str, **values: Any) -> Rig:
    """The rig with some values of one table of its camera changed."""
    table = getattr(rig.camera, part).model_copy(update=values)
    return replace(rig, camera=rig.camera.model_copy(update={part: table}))


def _no_motion(rig: Rig, state: State, _: JudgedPlate) -> tuple[Rig, State] | None:
    if not np.any(rig.world.velocities):
        return None
    world = replace(rig.world, velocities=np.zeros_like(rig.world.velocities))
    return replace(rig, world=world), state


def _exposed_for_plate(rig: Rig, state: State, target: JudgedPlate) -> tuple[Rig, State] | None:
    """Shutter and gain set for the plate itself, within the profile's limits."""
    plan = plan_patch(rig, state, target)
    still, _ = _no_motion(rig, state, target) or (rig, state)
    rate = patch_light(still, state.mode, state.exposure.shutter_s, plan, quick_veil(rig, state))
    light, _ = levels(rate, state, target, (plan.box_px[0], plan.box_px[1]))
    share = state.colour.balance.max()
    signal = np.full((1, 1), light * share, dtype=np.float32)
    wanted = rig.camera.exposure.model_copy(
        update={"target_level": WANTED_PLATE_LEVEL, "shutter_s": None, "gain_db": None}
    )
    exposure = settle(wanted, signal, rig.camera.sensor.full_well_e)
    chain = readout(rig.camera.sensor, exposure.gain_db)
    return rig, replace(state, exposure=exposure, chain=chain)


def _ample_light(rig: Rig, state: State, _: JudgedPlate) -> tuple[Rig, State] | None:
    """Every light stronger by one factor, so that base gain and a short shutter suffice."""
    settings = rig.camera.exposure
    shutter = settings.shutter_s or min(AMPLE_SHUTTER_S, settings.shutter_max_s)
    gain = 1.0 if settings.gain_db is None else 10.0 ** (settings.gain_db / 20.0)
    factor = state.exposure.wanted_product_s / (shutter * gain)
    if factor <= 1.0:
        return None
    brighter = replace(rig, switches=replace(rig.switches, light_scale=factor))
    return brighter, settle_camera(brighter, state.mode)


def _ample_pixels(rig: Rig, state: State, target: JudgedPlate) -> tuple[Rig, State] | None:
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
        dsnu_e=s.dsnu_e / k,
        dark_current_e_per_s=s.dark_current_e_per_s / k**2,
        prnu=min(0.2, s.prnu * k),
    )
    return finer, replace(state, chain=readout(finer.camera.sensor, state.exposure.gain_db))


def _in_focus(rig: Rig, state: State, _: JudgedPlate) -> tuple[Rig, State] | None:
    return replace(rig, switches=replace(rig.switches, defocus=False)), state


def _no_glare(rig: Rig, state: State, _: JudgedPlate) -> tuple[Rig, State] | None:
    return _changed(rig, "lens", glare_index=0.0), state


def _sharp_lens(rig: Rig, state: State, _: JudgedPlate) -> tuple[Rig, State] | None:
    sharp = _changed(rig, "lens", aberration_um=0.0)
    return replace(sharp, switches=replace(sharp.switches, diffraction=False)), state


def _plain_processing(rig: Rig, state: State, _: JudgedPlate) -> tuple[Rig, State] | None:
    return _changed(
        rig,
        "processing",
        noise_reduction=0.0,
        temporal_noise_reduction=0.0,
        sharpening=0.0,
        analogue_tv_lines=None,
    ), state


def _silent_sensor(rig: Rig, state: State, _: JudgedPlate) -> tuple[Rig, State] | None:
    return _changed(
        rig,
        "sensor",
        read_noise_e=0.0,
        row_noise_e=0.0,
        dsnu_e=0.0,
        prnu=0.0,
        dark_current_e_per_s=0.0,
    ), state


Change = Callable[[Rig, State, JudgedPlate], tuple[Rig, State] | None]
FACTORS: dict[str, Change] = {
    "motion": _no_motion,
    "exposure": _exposed_for_plate,
    "defocus": _in_focus,
    "glare": _no_glare,
    "light": _ample_light,
    "pixels": _ample_pixels,
    "lens blur": _sharp_lens,
    "processing": _plain_processing,
    "sensor noise": _silent_sensor,
}
"""Impairments and how each is removed."""

MEANINGS = {
    "motion": "the target held still",
    "exposure": "shutter and gain set for the plate itself",
    "defocus": "the target in perfect focus",
    "glare": "no stray light in the lens",
    "light": "so much light that base gain and a short shutter suffice",
    "pixels": "pixels fine enough for characters 32 px high",
    "lens blur": "a lens without aberration and diffraction",
    "processing": "no noise reduction, sharpening or line limit",
    "sensor noise": "a sensor without noise of its own; photon noise stays",
}


def find_limits(
    rig: Rig,
    state: State,
    target: JudgedPlate,
    probability: float,
    *,
    plan: PatchPlan,
    traces: Traces,
    seed: int,
    trials: int = TRIALS,
) -> list[Limit]:
    """Impairments, the one whose removal alone helps most first.

    An impairment that is not there (nothing moves, pixels are ample) keeps the probability as it
    is.

    Parameters
    ----------
    plan, traces
        Patch and traced layers of the unchanged camera, used again where the view is the same.
    """
    rows = []
    for factor, change in FACTORS.items():
        changed = change(rig, state, target)
        value = probability
        if changed is not None:
            new_rig, new_state = changed
            same_view = new_rig.view.focal_px == rig.view.focal_px
            value = read_probability(
                new_rig,
                new_state,
                target if same_view else find_plate(new_rig, target.plate),
                seed=seed,
                trials=trials,
                plan=plan if same_view else None,
                traces=traces if same_view else None,
                phases=1,
            ).value
        rows.append(Limit(factor, value))
    order = list(FACTORS)
    return sorted(
        rows,
        key=lambda row: (-round(row.probability_without / TIE), order.index(row.factor)),
    )
