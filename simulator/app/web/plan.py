"""Where everything stands, for the plan and the side view of the page: plain places in metres."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from simulator.camera.load import Camera
from simulator.scene.load import Scene
from simulator.scene.model import SceneModel
from simulator.scene.model_light import Illuminator, Lamp
from simulator.studies.session import Session

FAR_M = 80.0


def things(scene: SceneModel) -> list[dict[str, Any]]:
    """Everything with a place of its own: kind, name, place, aim, and the keys that move them."""
    station = scene.station
    out: list[dict[str, Any]] = [
        {
            "kind": "camera", "name": "camera", "at": list(station.position_m),
            "aim": list(station.aim_m), "key": "station.ground_position_m", "flat": True,
            "aim_key": "station.aim_m",
        }
    ]  # fmt: skip
    lights: tuple[tuple[str, Sequence[Lamp | Illuminator]], ...] = (
        ("lamp", scene.lamp), ("illuminator", scene.illuminator),
    )  # fmt: skip
    for table, entries in lights:
        for light in entries:
            place = light.position_m or station.position_m  # or an illuminator beside the camera
            out.append(
                {"kind": table, "name": light.name, "at": list(place),
                 "aim": None if light.aim_m is None else list(light.aim_m),
                 "on": light.on, "key": f"{table}.{light.name}.position_m",
                 "aim_key": f"{table}.{light.name}.aim_m"}
            )  # fmt: skip
    for entry in scene.target:
        stands = getattr(entry, "position_m", None)
        if stands is not None:
            out.append(
                {"kind": "target", "name": entry.name, "at": list(stands), "aim": None,
                 "what": entry.kind, "judged": entry.name == scene.task.target,
                 "facing": getattr(entry, "facing_deg", 0.0),
                 "key": f"target.{entry.name}.position_m"}
            )  # fmt: skip
    for surface in scene.surface:
        stands = getattr(surface, "position_m", None)
        if stands is not None:
            out.append(
                {"kind": surface.kind, "name": surface.name, "at": list(stands), "aim": None,
                 "width": getattr(surface, "width_m", 1.0),
                 "height": getattr(surface, "height_m", 1.0),
                 "facing": getattr(surface, "facing_deg", 0.0),
                 "key": f"surface.{surface.name}.position_m"}
            )  # fmt: skip
    return out


def seen_ground(session: Session) -> list[list[float]]:
    """The ground that the picture shows: corners of a polygon on the plan [m]."""
    view = session.in_scene.view
    out = []
    for across, down in ((0.0, 1.0), (1.0, 1.0), (1.0, 0.0), (0.0, 0.0)):
        ray = view.direction(across * view.width_px, down * view.height_px)
        away = -view.position_m[2] / ray[2] if ray[2] < -1e-6 else FAR_M
        flat = float(np.hypot(ray[0], ray[1]))
        away = min(away, FAR_M / max(flat, 1e-6))
        out.append([round(float(v), 2) for v in (view.position_m + away * ray)[:2]])
    return out


def described(scene: Scene, camera: Camera) -> dict[str, Any]:
    """Title, question and place of everything."""
    model = scene.model
    return {
        "title": model.title,
        "question": model.question,
        "camera_title": camera.model.title,
        "things": things(model),
        "task": {"name": model.task.name, "target": model.task.target,
                 "wanted_probability": model.task.wanted_probability},
    }  # fmt: skip
