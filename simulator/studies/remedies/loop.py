"""Whether the camera's own loop gets to an exposure while the target passes.

A window that meters the target asks for the exposure that the camera would settle on if the target
stood there. What moves is in the window for a moment only; the loop corrects a share of its error
from frame to frame, one frame late (`camera.control`). So the loop is followed from the rest it had
before the target came, frame by frame, and what it has got to at the judged moment is compared with
where it would settle.
"""

from __future__ import annotations

import numpy as np

from simulator.camera.auto_exposure import metered_signal, settle_exposure
from simulator.camera.control import WITHIN_DB, exposure_path, levers_of
from simulator.camera.small_picture import meter_light
from simulator.camera.wide_range import shown_to_the_loop
from simulator.studies.session import Session
from simulator.units import Image, ratio_to_db

APPROACH_S = 1.0
"""Time before the judged moment from which the loop is followed [s]."""
WINDOWED = ("spot", "backlight")


def needs_loop(session: Session) -> bool:
    """Whether an exposure rests on a target that passes through a metering window."""
    exposure = session.camera.model.exposure
    held = exposure.shutter_s is not None and exposure.gain_db is not None
    return exposure.metering in WINDOWED and session.entry.speed_kmh > 0.0 and not held


def off_by_db(session: Session, metered: dict[float, Image] | None = None) -> float:
    """How far the loop is from where it would settle, at the judged moment of a pass [dB].

    Positive where it exposes more.

    Parameters
    ----------
    metered
        Light that is metered, by the moment [s], where it is kept for other settings of the camera.
    """
    kept: dict[float, Image] = {} if metered is None else metered
    in_scene, state = session.mounted, session.state
    camera = in_scene.camera
    rate = camera.processing.frame_rate_hz

    def signal_at(time_s: float, shutter_s: float) -> Image:
        if time_s not in kept:
            kept[time_s] = meter_light(in_scene.at(time_s - APPROACH_S), state.mode)
        return shown_to_the_loop(camera, metered_signal(kept[time_s], state.colour))

    before = settle_exposure(in_scene.at(-APPROACH_S), state.mode)
    path = exposure_path(
        camera.exposure, signal_at, camera.sensor.full_well_e, camera.lens.f_number,
        start=levers_of(before.exposure), frame_rate_hz=rate, frames=round(APPROACH_S * rate) + 1,
    )  # fmt: skip
    return ratio_to_db(float(path.product_s[-1]) / levers_of(state.exposure).product_s)


def gets_there(session: Session, metered: dict[float, Image] | None = None) -> bool:
    """Whether the loop is within `WITHIN_DB` of where it would settle when the target is judged."""
    return bool(np.abs(off_by_db(session, metered)) <= WITHIN_DB)
