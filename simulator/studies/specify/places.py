"""Other places of the camera: more nearly before the target, lower, nearer."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from simulator.scene.load import Scene
from simulator.studies.reserve import BESIDE_M
from simulator.studies.session import Session
from simulator.studies.specify.screens import angles_of

NEARER = (0.6, 0.4)
"""Distances of a nearer place, over that of the scene."""
STRAIGHT_DEG = 20.0
"""Angle to the target's normal, across and down, that another place keeps to where the task needs
its front (chosen by us, well within `trade.MOST_TILT_DEG`)."""
LEAST_HEIGHT_M = 1.0
"""Lowest place that is proposed: below it a camera is in reach and in the dirt (chosen by us)."""
FROM_THE_FRONT = ("read", "recognise", "identify")


class Place(NamedTuple):
    """Level distance over that of the scene, and most angle to the target's normal [deg]."""

    times: float
    most_deg: float


def other_places(session: Session) -> list[Place]:
    """Places to try for the camera, the least change first.

    Where plate or face are seen at too wide an angle, the first is as far away but straighter; the
    others are nearer, and straighter as well.
    """
    front = session.scene.model.task.name in FROM_THE_FRONT
    steepest_deg = STRAIGHT_DEG if front else 90.0
    same = [Place(1.0, steepest_deg)] if front and not angles_of(session).usual else []
    return [*same, *(Place(times, steepest_deg) for times in NEARER)]


def moved(session: Session, place: Place) -> Scene:
    """The scene with its camera at another place; illuminators beside the lens go with it.

    Raises
    ------
    InputError
        For a place that is not possible.
    """
    times, most_deg = place
    station, card = session.scene.model.station, session.part.card
    x, y, z = station.position_m
    target, normal = np.asarray(card.centre_m), np.asarray(card.normal, dtype=np.float64)
    angles = angles_of(session)
    across = max(-most_deg, min(most_deg, angles.sideways_deg))
    turn = math.atan2(normal[0], normal[1]) + math.radians(across)
    level = times * math.hypot(x - target[0], y - target[1])
    lean = math.degrees(math.asin(max(-1.0, min(1.0, float(normal[2])))))
    steepest = math.tan(math.radians(min(89.0, lean + most_deg)))
    height = max(min(z, LEAST_HEIGHT_M), min(z, float(target[2]) + level * steepest))
    foot = (target[0] + level * math.sin(turn), target[1] + level * math.cos(turn))
    reach = math.dist((*foot, height), target) / session.part.distance_m
    changes: dict[str, object] = {
        "station.ground_position_m": [round(float(one), 3) for one in foot],
        "station.height_m": round(height, 2),
        "station.focus_m": round(max(session.in_scene.focus_m * reach, 0.05), 3),
    }
    move = (foot[0] - x, foot[1] - y, height - z)
    for lamp in session.scene.model.illuminator:
        if lamp.position_m is not None and math.dist(lamp.position_m, (x, y, z)) <= BESIDE_M:
            changes[f"illuminator.{lamp.name}.position_m"] = [
                round(a + b, 3) for a, b in zip(lamp.position_m, move, strict=True)
            ]
    return session.scene.set(changes)
