"""One design: a camera, how it is set, its lamp and its place; and how it is put into files."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Literal

from simulator.camera.load import Camera
from simulator.scene.load import Scene
from simulator.studies.lighting.lamp_classes import ChosenLamp

LAMP_NAME = "specified lamp"
BESIDE_M = (0.3, 0.0, 0.2)
"""Place of a lamp from the lens: right, forward, up [m] (common practice, no source)."""


@dataclass(frozen=True)
class Mount:
    """Another place of the camera."""

    ground_position_m: tuple[float, float]
    height_m: float
    aim_m: tuple[float, float, float]


@dataclass(frozen=True)
class Design:
    """What is bought, set and mounted; `applied` says it as files."""

    camera: Camera
    """The camera as it is bought."""
    lens: Mapping[str, Any]
    """Keys of its lens that differ from the profile: another lens, a focal length."""
    lens_mm: float
    shutter_s: float
    gain_cap_db: float
    fixed: bool
    """Whether the shutter is fixed; else it is the longest that the automatic takes."""
    wide_range: bool
    mode: Literal["auto", "day", "night"]
    focus_m: float
    moves: bool
    """Whether the target moves: noise reduction over time is then off."""
    lamp: ChosenLamp | None = None
    lamp_beside_m: tuple[float, float, float] = BESIDE_M
    lamp_aim_m: tuple[float, float, float] = (0.0, 0.0, 0.0)
    mount: Mount | None = None

    def with_lamp(self, lamp: ChosenLamp | None) -> Design:
        """The same with another lamp."""
        return replace(self, lamp=lamp)

    @property
    def camera_changes(self) -> dict[str, Any]:
        """What is set in the camera, by dotted key."""
        model = self.camera.model
        e = model.exposure
        changes: dict[str, Any] = dict(self.lens)
        changes |= {
            "exposure.shutter_max_s": self.shutter_s,
            "exposure.shutter_min_s": min(e.shutter_min_s, self.shutter_s),
            "exposure.slow_shutter_max_s": None,
            "exposure.shutter_s": self.shutter_s if self.fixed else None,
            "exposure.gain_db": None,
            "exposure.gain_max_db": self.gain_cap_db,
            "day_night.mode": self.mode,
        }
        if e.metering in ("spot", "backlight"):
            changes["exposure.metering"] = "average"
        own = model.wide_range.method
        if own != "logarithmic":
            changes["wide_range.method"] = "exposures" if self.wide_range else "off"
        if self.moves:
            p = model.processing
            changes["processing.temporal_noise_reduction"] = 0.0
            changes["processing.noise_reduction"] = min(p.noise_reduction, 0.2)
        return changes

    @property
    def scene_changes(self) -> dict[str, Any]:
        """What is set in the scene, by dotted key; a lamp of the design replaces none yet."""
        changes: dict[str, Any] = {"station.focus_m": round(self.focus_m, 3)}
        if self.mount is not None:
            changes |= {
                "station.ground_position_m": list(self.mount.ground_position_m),
                "station.height_m": self.mount.height_m,
                "station.aim_m": list(self.mount.aim_m),
            }
        if self.lamp is not None:
            changes[f"illuminator.{LAMP_NAME}"] = self.lamp.lamp.entry(
                LAMP_NAME, self.lamp_aim_m, setting=self.lamp.setting, beside_m=self.lamp_beside_m
            )
        return changes

    def applied(self, scene: Scene) -> tuple[Scene, Camera]:
        """Scene and camera as specified.

        With a lamp of its own the scene's illuminators are off: it takes their place.

        Raises
        ------
        InputError
            For what the camera or the place does not allow.
        """
        off: dict[str, Any] = {}
        if self.lamp is not None:
            off = {f"illuminator.{one.name}.on": False for one in scene.model.illuminator}
        # the iris as wide as the lens has it at any focal length
        camera = self.camera.set({"lens.f_number": None}, self.camera_changes)
        return scene.set(off, self.scene_changes), camera
