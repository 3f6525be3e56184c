"""What else a change does: field, depth of field, smear, gain, colour, the rest of the picture."""

from __future__ import annotations

import numpy as np

from simulator.camera.auto_exposure import State
from simulator.camera.in_scene import CameraInScene
from simulator.judge.target import JudgedTarget, mean_wavelength_nm
from simulator.messages import Message
from simulator.studies.remedies.rest_of_picture import Rest, rest_of_picture
from simulator.studies.session import Session

TELLING = 0.1
"""Changes of less than this share are not worth a word."""
SHARP_PX = 2.0
"""A disc of defocus up to this wide counts as sharp (common practice, no source)."""
NEAREST_M, FARTHEST_M = 0.3, 1000.0
LEAST_LEVELS = 8.0
"""A mean level that changes by less is not worth a word [levels of 255]."""
LEAST_POINTS = 0.05
"""The same of the share of the rest of the picture that is white or black."""


def sharp_range_m(
    in_scene: CameraInScene, state: State, target: JudgedTarget
) -> tuple[float, float] | None:
    """Nearest and farthest depth with a defocus disc of at most `SHARP_PX` [m].

    The far end is infinite from `FARTHEST_M` on; None if nothing is sharp.
    """
    depth = np.geomspace(NEAREST_M, FARTHEST_M, 1500)
    disc = np.abs(in_scene.defocus_px(depth, mean_wavelength_nm(in_scene, state, target)))
    sharp = depth[disc <= SHARP_PX]
    if sharp.size == 0:
        return None
    far = float(sharp[-1])
    return float(sharp[0]), float("inf") if far >= FARTHEST_M * 0.999 else far


def side_effects(before: Session, after: Session, rest: Rest | None = None) -> list[Message]:
    """What differs from before by more than a tenth, with figures.

    Parameters
    ----------
    rest
        The rest of the picture before, where it is known already.
    """
    field = _field(before, after)
    beside = [] if field else _rest(rest or rest_of_picture(before), rest_of_picture(after))
    return [*field, *beside, *_sharpness(before, after), *_exposed(before, after)]


def _field_m(site: Session) -> float:
    place = site.in_scene.view.pixels_per_m(site.part.depth_m, site.part.place_px)
    return site.in_scene.view.width_px / place


def _motion_blur_px(site: Session) -> float:
    shutter = site.state.exposure.shutter_s
    smear = site.in_scene.smear_px(shutter, site.part.card.centre_m)
    return float(np.hypot(*smear[site.part.card.group]))


def _differs(a: float, b: float) -> bool:
    return abs(a - b) > TELLING * max(abs(a), abs(b))


def _field(before: Session, after: Session) -> list[Message]:
    a, b = _field_m(before), _field_m(after)
    if not _differs(a, b):
        return []
    return [Message("effect.field-width", {"before_m": a, "after_m": b})]


def _rest(a: Rest, b: Rest) -> list[Message]:
    """What becomes of the picture beside the target; of the same field of view."""
    messages = []
    if abs(b.mean_level - a.mean_level) >= LEAST_LEVELS and _differs(a.mean_level, b.mean_level):
        levels = {"before": a.mean_level, "after": b.mean_level}
        messages.append(Message("effect.rest-level", levels))
    for name, was, now in (
        ("white", a.white_fraction, b.white_fraction),
        ("black", a.black_fraction, b.black_fraction),
    ):
        if abs(now - was) >= LEAST_POINTS:
            messages.append(Message(f"effect.rest-{name}", {"before": was, "after": now}))
    return messages


def _sharpness(before: Session, after: Session) -> list[Message]:
    a = sharp_range_m(before.in_scene, before.state, before.part)
    b = sharp_range_m(after.in_scene, after.state, after.part)
    if b is None:
        return [Message("effect.nothing-sharp")]
    if a is not None and not _differs(a[0], b[0]) and not _differs(min(a[1], 1e3), min(b[1], 1e3)):
        return []
    ends = {"near_m": b[0], "far_m": _end(b[1])}
    if a is not None:
        ends |= {"before_near_m": a[0], "before_far_m": _end(a[1])}
    return [Message("effect.sharp-range", ends)]


def _end(far_m: float) -> float | None:
    """The far end of what is sharp [m]; None if there is none."""
    return None if np.isinf(far_m) else far_m


def _exposed(before: Session, after: Session) -> list[Message]:
    a, b = before.state, after.state
    out = []
    blur = _motion_blur_px(before), _motion_blur_px(after)
    if blur[1] > blur[0] + 0.3 and _differs(*blur):
        out.append(Message("effect.motion-blur", {"before_px": blur[0], "after_px": blur[1]}))
    if abs(b.exposure.gain_db - a.exposure.gain_db) >= 3.0:
        gains = {"before_db": a.exposure.gain_db, "after_db": b.exposure.gain_db}
        out.append(Message("effect.gain", gains))
    if a.mode != b.mode:
        out.append(Message(f"effect.{b.mode}-mode"))
    return out
