"""A camera mounted in its scene: focused, and its frames timed by the judged target."""

from __future__ import annotations

from dataclasses import replace

from simulator.camera.bounds import check_blur
from simulator.camera.in_scene import CameraInScene, place_camera
from simulator.camera.model import CameraModel
from simulator.camera.rolling import with_row_zero
from simulator.scene.build import build_world
from simulator.scene.model import SceneModel, Target
from simulator.scene.world import World
from simulator.units import FloatArray


def judged_entry(scene: SceneModel) -> Target:
    """The entry of a scene's file that its task asks about."""
    return next(target for target in scene.target if target.name == scene.task.target)


LEAST_FOCUS_M = 0.05
"""Nearest distance that a lens is focused at [m], as in the files."""


def placed(scene: SceneModel, camera: CameraModel, *, world: World | None = None) -> CameraInScene:
    """A camera mounted in its scene, its iris open, its frames timed by the judged target's row.

    Parameters
    ----------
    world
        The world of this scene, if it is built already.

    Raises
    ------
    InputError
        For a scene that cannot be built.
    """
    world = build_world(scene) if world is None else world
    in_scene = place_camera(world, scene.station, camera)
    if scene.station.focus_m is None and camera.lens.focus_m is None:
        in_scene = _focused(in_scene, world.cards[world.targets[scene.task.target][0]].centre_m)
    return with_row_zero(in_scene, scene.task.target)


def _focused(in_scene: CameraInScene, point_m: FloatArray) -> CameraInScene:
    """The camera focused on the plane through a point before it, as a fitter does by day."""
    depth_m = float(in_scene.view.project(point_m)[1])
    if depth_m < LEAST_FOCUS_M:
        return in_scene  # behind the camera: refused when the target is sought
    lens = in_scene.camera.lens.model_copy(update={"focus_m": depth_m})
    camera = in_scene.camera.model_copy(update={"lens": lens})
    check_blur(camera)
    return replace(in_scene, camera=camera)
