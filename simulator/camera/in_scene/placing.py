"""A camera set up before a world: everything that does not change from exposure to exposure."""

from __future__ import annotations

from simulator.camera.bounds import check_blur, check_memory
from simulator.camera.in_scene.moments import AtMoments
from simulator.camera.model import CameraModel
from simulator.scene.model import Station
from simulator.scene.world import World


class CameraInScene(AtMoments):
    """World, station and camera together.

    Attributes
    ----------
    world
        Cards, materials and lights of the scene.
    station
        Where the camera stands and looks.
    camera
        What the camera profile says.
    switches
        Parts of the physics that are switched off or scaled.
    row_zero_m
        Point (3,) whose row of a rolling shutter is exposed at the moment of a frame [m]; without
        it the middle row is.

    Examples
    --------
    >>> from simulator.camera import Camera, place_camera
    >>> from simulator.scene import Scene, build_world
    >>> scene = Scene.load("depot-gate-infrared").model
    >>> camera = Camera.load("fixed-2mp-lowlight").model
    >>> in_scene = place_camera(build_world(scene), scene.station, camera)
    >>> round(1e6 * in_scene.pitch_m, 2), in_scene.response("night").shape
    (2.9, (3, 721))
    """


def place_camera(world: World, station: Station, camera: CameraModel) -> CameraInScene:
    """A camera mounted at a station: focused as station or profile say, else on the aim point.

    Parameters
    ----------
    world
        The scene as `simulator.scene.build_world` gives it.
    station
        Where the camera stands and looks.
    camera
        What the camera profile says.

    Returns
    -------
    CameraInScene
        View, lights and response of the camera, each computed on first use.

    Raises
    ------
    InputError
        For a picture that does not fit into the memory, or a focus that leaves nothing to be seen.

    References
    ----------
    None of its own: it puts the parts together.

    Examples
    --------
    >>> from simulator.camera import Camera
    >>> from simulator.scene import Scene, build_world
    >>> scene = Scene.load("depot-gate-infrared").model
    >>> camera = Camera.load("fixed-2mp-lowlight").model
    >>> in_scene = place_camera(build_world(scene), scene.station, camera)
    >>> in_scene.view.width_px, in_scene.view.height_px
    (1920, 1080)
    """
    if station.focus_m is not None:
        lens = camera.lens.model_copy(update={"focus_m": station.focus_m})
        camera = camera.model_copy(update={"lens": lens})
    check_memory(camera)
    check_blur(camera)
    return CameraInScene(world, station, camera)
