"""Closed forms that narrow a design down before any picture: lens, shutter, angles.

The pixels that a target gets grow with the focal length in proportion, and so does its motion blur;
so one look at the scene through the lens as it is tells which lenses and shutters can work.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from simulator.camera.load import Camera
from simulator.judge.density import CLASS_OF_TASK, CLASSES_PX_PER_M
from simulator.judge.target import JudgedText
from simulator.scene.model import Plate
from simulator.scene.model_targets import Face, Person
from simulator.scene.model_things import VehicleFront, VehicleRear, VehicleSide
from simulator.studies import trade
from simulator.studies.session import Session

COLOUR_PX_PER_M = 25.0
"""Density from which a colour is named (common practice, no source: as to detect)."""


@dataclass(frozen=True)
class LensChoice:
    """A focal length and how the camera comes by it."""

    mm: float
    changes: dict[str, Any] = field(hash=False)
    """Keys of the camera to be set."""
    other: str = ""
    """What lens must be bought, if another than the camera's own."""
    free: bool = False
    """Whether it is set by hand within a range."""


@dataclass(frozen=True)
class LensRange:
    """Focal lengths that give enough pixels per metre and a field wide enough [mm]."""

    least_mm: float
    good_mm: float
    most_mm: float
    pixels_per_m_per_mm: float
    """Pixel density at the target over the focal length."""
    character_px_per_mm: float | None
    """Height of characters over the focal length; None without text."""

    @property
    def empty(self) -> bool:
        """Whether no lens has both."""
        return self.least_mm > self.most_mm


def lens_range(session: Session) -> LensRange:
    """Focal lengths for the task of a scene, from the lens as it is."""
    target, view = session.part, session.in_scene.view
    now = session.camera.model.lens.focal_length_mm
    density = view.pixels_per_m(target.depth_m, target.place_px) / now
    task = session.scene.model.task.name
    character = None
    if isinstance(target, JudgedText):
        character = target.character_height_px / now
        _, least, good = (px / character for px in trade.CHARACTER_PX)
    else:
        least = _least_density(task) / density
        good = trade.DENSITY_ROOM * least
    most = view.width_px / (least_field_m(session) * density)
    most = min(most, now * trade.EDGE_SHARE / max(_reach(session), 1e-3))
    return LensRange(least, min(good, max(most, least)), most, density, character)


def _least_density(task: str) -> float:
    if task == "colour":
        return COLOUR_PX_PER_M
    name = CLASS_OF_TASK[task]
    return next(density for density, known in CLASSES_PX_PER_M if known == name)


def least_field_m(session: Session) -> float:
    """Least width of the picture at the target [m]."""
    entry, card = session.entry, session.target.card
    if isinstance(entry, Plate):
        return trade.LEAST_FIELD_M["plate"]
    if isinstance(entry, Face):
        return trade.LEAST_FIELD_M["face"]
    if isinstance(entry, Person):
        return trade.LEAST_FIELD_M["person"]
    if isinstance(entry, VehicleFront | VehicleRear | VehicleSide):
        return max(trade.LEAST_FIELD_M["vehicle"], 1.3 * card.width_m)
    return trade.FIELD_OF_OTHERS * float(card.width_m)


def _reach(session: Session) -> float:
    """How far from the middle of the picture the target reaches, over half the picture."""
    view = session.in_scene.view
    x0, y0, x1, y1 = session.part.box_px
    half = (view.width_px / 2.0, view.height_px / 2.0)
    return max(
        *(abs(x - half[0]) / half[0] for x in (x0, x1)),
        *(abs(y - half[1]) / half[1] for y in (y0, y1)),
    )


def lens_choice(camera: Camera, mm: float) -> LensChoice:
    """How a camera comes to a focal length, or the nearest that it can have.

    Its own lens where that reaches; a varifocal lens of 5 to 50 mm on a CS body; else another lens
    of one focal length of the trade, of 8 to 50 mm on a C body and of 2.8 to 16 mm on a small one.
    """
    lens, mount = camera.model.lens, camera.model.mount
    low, high = lens.focal_min_mm, lens.focal_max_mm
    if high > low * 1.01:
        inside = min(max(mm, low), high)
        if inside == mm or mount != "cs" or mm < low <= 5.0:
            value = _round(inside, low, high)
            return LensChoice(value, {"lens.focal_length_mm": value}, free=True)
    if mount == "cs":
        value = _round(min(max(mm, 5.0), 50.0), 5.0, 50.0)
        return LensChoice(
            value, {"lens.use": trade.VARIFOCAL, "lens.focal_length_mm": value},
            "varifocal lens 5-50 mm", free=True,
        )  # fmt: skip
    if mount == "fixed":
        return LensChoice(lens.focal_length_mm, {})
    least, longest = (8.0, 50.0) if mount == "c" else (2.8, 16.0)
    offered = [f for f in trade.FOCAL_LENGTHS_MM if least <= f <= longest]
    at_least = [f for f in offered if f >= 0.97 * mm]
    value = min(at_least, default=offered[-1])
    if math.isclose(value, lens.focal_length_mm, rel_tol=0.05):
        return LensChoice(lens.focal_length_mm, {})
    f_number = max(lens.f_number_wide, 2.0 if value >= 6.0 else lens.f_number_wide)
    return LensChoice(
        value,
        {
            "lens.focal_length_mm": value, "lens.focal_min_mm": value, "lens.focal_max_mm": value,
            "lens.f_number_wide": f_number, "lens.f_number_tele": f_number,
        },
        f"the camera with a {value:g} mm lens",
    )  # fmt: skip


def _round(mm: float, low: float, high: float) -> float:
    """As a lens is set by hand: to a millimetre, below 10 mm to half of one, or to its end."""
    if not low < mm < high:
        return min(max(mm, low), high)
    step = 0.5 if mm < 10.0 else 1.0
    near = round(mm / step) * step
    return float(min(max(near, low), high))


@dataclass(frozen=True)
class ShutterChoice:
    """A shutter and what it does to what moves."""

    shutter_s: float
    blur_px: float
    """Motion blur at the speed of the scene [px]."""


def shutter_for(session: Session, lens_mm: float) -> ShutterChoice:
    """The longest shutter of the trade that keeps `FASTER` times the speed sharp enough.

    Plates of vehicles that move get 1/500 s at most, people 1/100 s, all else 1/50 s; 1/2000 s is
    the shortest that is proposed. What is sharp enough is a length on the target: through a longer
    lens a face has more pixels, and may smear over as many more.
    """
    entry, task = session.entry, session.scene.model.task.name
    card = session.target.card
    a_second = 1000.0 * session.in_scene.smear_px(1e-3, card.centre_m)[card.group]
    growth = lens_mm / session.camera.model.lens.focal_length_mm
    px_per_s = float(np.hypot(*a_second)) * growth
    longest = trade.STANDING_SHUTTER_S
    if moves(session):
        people = isinstance(entry, Person | Face)
        longest = trade.WALKING_SHUTTER_S if people else longest
        longest = trade.PLATE_SHUTTER_S if isinstance(entry, Plate) else longest
    most = trade.MOST_BLUR_PX[task]
    if not isinstance(session.part, JudgedText):
        target, view = session.part, session.in_scene.view
        density = growth * view.pixels_per_m(target.depth_m, target.place_px)
        most *= max(1.0, density / _least_density(task))
    fit = [
        s for s in trade.SHUTTERS_S
        if s <= longest * 1.001 and trade.FASTER * px_per_s * s <= most
    ]  # fmt: skip
    shutter = max(fit, default=trade.SHUTTERS_S[-1])
    return ShutterChoice(shutter, px_per_s * shutter)


def moves(session: Session) -> bool:
    """Whether the target of the task moves."""
    return session.entry.speed_kmh > 0.0


@dataclass(frozen=True)
class Angles:
    """Angles between the line of sight and the normal of the target [deg]."""

    sideways_deg: float
    down_deg: float
    """Positive where the camera looks down."""

    @property
    def usual(self) -> bool:
        """Whether both are within what the trade takes for plates and faces."""
        return max(abs(self.sideways_deg), abs(self.down_deg)) <= trade.MOST_TILT_DEG


def angles_of(session: Session) -> Angles:
    """Angles under which what the task looks at is seen: of a person to be known the head."""
    card = session.part.card
    sight = np.asarray(session.in_scene.view.position_m) - card.centre_m
    normal = np.asarray(card.normal, dtype=np.float64)
    across = math.degrees(
        math.atan2(sight[0], sight[1]) - math.atan2(float(normal[0]), float(normal[1]))
    )
    across = (across + 180.0) % 360.0 - 180.0
    rise = math.degrees(math.asin(sight[2] / float(np.linalg.norm(sight))))
    lean = math.degrees(math.asin(max(-1.0, min(1.0, float(normal[2])))))
    return Angles(across, rise - lean)
