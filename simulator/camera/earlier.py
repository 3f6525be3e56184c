"""Earlier moments of what moves, from the shown one: for searches.

A thing that moves on by a frame or a few looks as it did, somewhat elsewhere and nearer or farther:

    x(t) = p(t) + z(0) / z(t) (x(0) - p(0))

about the place p and depth z of a point of it. What turning of its sides to the camera, and other
light on its way, change within the frames that a camera remembers is left out.
"""

from __future__ import annotations

import numpy as np

from simulator.camera.in_scene import CameraInScene
from simulator.scene.kernels.radiance import Sampling
from simulator.units import FloatArray

ROOM = 2
"""Samples around a grid that resampling looks at."""


def earlier_grid(
    in_scene: CameraInScene, point_m: FloatArray, move_m: FloatArray, grid: Sampling
) -> tuple[Sampling, FloatArray, float]:
    """What shows something that moves, at another moment, on a grid.

    Parameters
    ----------
    in_scene
        The camera at the shown moment.
    point_m
        A point (3,) of the thing then.
    move_m
        How far it has moved at the other moment (3,) [m].

    Returns
    -------
    The grid of the shown moment that holds it, and the given one as well, so that what is made for
    the earliest moment serves all later ones; the matrix (2, 3) that leads from samples of the
    given grid to samples of that; and how much farther the thing is [m].
    """
    place, depth = in_scene.view.project(point_m)
    then, far = in_scene.view.project(point_m + move_m)
    grown = float(far / depth)
    # samples of the grid in samples of the shown moment, on the same lattice
    shift = np.array(
        [
            (place[k] + (first - then[k]) * grown - first) / grid.step + 0.5 * (grown - 1.0)
            for k, first in enumerate((grid.x0, grid.y0))
        ]
    )
    size = np.array([grid.columns, grid.rows])
    low = np.minimum(np.floor(np.minimum(shift, 0.0)).astype(int) - ROOM, 0)
    ends = np.maximum(np.ceil(shift + grown * size).astype(int) + ROOM, size)
    columns, rows = (int(n) for n in ends - low)
    wide = Sampling(
        grid.x0 + low[0] * grid.step, grid.y0 + low[1] * grid.step, grid.step, rows, columns
    )
    back = np.array([[grown, 0.0, shift[0] - low[0]], [0.0, grown, shift[1] - low[1]]])
    return wide, back, float(far - depth)
