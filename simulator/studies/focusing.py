"""Where a lens is focused so that a depth is sharp in the light and mode of the picture."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from simulator.camera.in_scene import CameraInScene

TRIES = 400


def best_focus_m(in_scene: CameraInScene, depth_m: float, wavelength_nm: float) -> float:
    """Focus, as in visible light, at which a depth is sharp in another [m].

    Parameters
    ----------
    depth_m
        Depth of the target along the axis [m].
    wavelength_nm
        Mean wavelength of its light on the sensor [nm].
    """
    lens = in_scene.camera.lens
    best, least = in_scene.focus_m, math.inf
    shortest = max(0.4 * depth_m, 2.5e-3 * lens.focal_length_mm)
    for focus in np.geomspace(shortest, 40.0 * depth_m, TRIES):
        refocused = lens.model_copy(update={"focus_m": float(focus)})
        camera = in_scene.camera.model_copy(update={"lens": refocused})
        there = replace(in_scene, camera=camera)
        blur = abs(float(there.defocus_px(np.asarray(depth_m), wavelength_nm)))
        if blur < least:
            best, least = float(focus), blur
    return best
