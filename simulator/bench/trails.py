"""How long temporal noise reduction drags something behind itself."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from simulator.bench.steps import bench_in_scene, fixed_state
from simulator.camera.frame_buffer import buffer_length
from simulator.camera.model import CameraModel
from simulator.camera.pipeline import next_planes
from simulator.camera.processing import Planes
from simulator.domain import require
from simulator.units import FloatArray, Image

ROWS, COLUMNS = 24, 176
BAR_PX = 12
LEFT = 0.1
"""A trail ends where this share of the object's own difference from the ground is left."""
REPEATS = 8


@dataclass(frozen=True)
class Trail:
    """What is left behind a bar that moves over even ground.

    Where noise hides the difference, the recursion is open: of a bar that covers a place for m
    frames, (1 - share^m) share^n is left after n.

    Attributes
    ----------
    left
        Share of the bar's difference, as one frame without memory shows it, that is left so many
        frames after the bar's rear edge has passed, from one frame on, shape (n,).
    frames
        How long it stays above `LEFT` [frames].
    length_px
        How long that trail is [px].

    Examples
    --------
    >>> trail = Trail(np.array([0.5, 0.05]), frames=1.7, length_px=5.1)
    >>> trail.left.tolist()
    [0.5, 0.05]
    """

    left: FloatArray
    frames: float
    length_px: float


def measure_trail(
    camera: CameraModel,
    *,
    level: float,
    contrast: float,
    speed_px: int,
    shutter_s: float = 0.01,
    gain_db: float = 0.0,
    seed: int = 0,
) -> Trail:
    """Trail of a bar over even ground, through noise and the camera's whole memory.

    Parameters
    ----------
    camera
        Model of the camera.
    level
        Light of the ground in units of white, above 0.
    contrast
        Light of the bar over that of the ground, less one; -1 or more, but not 0.
    speed_px
        Way from frame to frame [px], 1 or more; the bar is `BAR_PX` wide and is not smeared.
    shutter_s
        Exposure time [s], above 0.
    gain_db
        Gain [dB].
    seed
        Of the noise.

    Returns
    -------
    Trail
        What is left after every frame, and how long the trail is.

    Raises
    ------
    InputError
        For a level, contrast, speed or shutter out of range; the largest speed is that whose trail
        fits the picture of `COLUMNS`.

    References
    ----------
    Measured on a rendered bar, no law; the share that is left follows the first-order recursive
    filter (Oppenheim & Schafer, Discrete-Time Signal Processing; from memory).

    Examples
    --------
    >>> from simulator import Camera
    >>> memory = {"processing.temporal_noise_reduction": 0.7}
    >>> camera = Camera.load("fixed-2mp-lowlight").set(memory).model
    >>> found = measure_trail(camera, level=0.2, contrast=0.2, speed_px=2, gain_db=50.0)
    >>> 4.0 < found.frames < 8.0
    True
    """
    require("level", level, above=0.0, unit="of white")
    require("contrast", contrast, least=-1.0)
    require("contrast", abs(contrast), above=0.0, unit="in size")
    require("shutter_s", shutter_s, above=0.0, unit="s")
    in_scene, state = bench_in_scene(camera), fixed_state(camera, shutter_s, gain_db)
    rate = level * state.chain.white_e / shutter_s
    ago = max(4, 3 * buffer_length(camera.processing.temporal_noise_reduction))
    # the way behind the bar must lie in the picture
    require("speed_px", speed_px, least=1, most=(COLUMNS - BAR_PX - 8) // ago, unit="px")
    count = ago + 6
    start = COLUMNS - BAR_PX - 8 - (count - 1) * speed_px

    def frame(k: int | None) -> Image:
        picture = np.full((ROWS, COLUMNS, 3), rate, np.float32)
        if k is not None:
            left = max(0, start + k * speed_px)
            picture[:, left : max(0, start + k * speed_px + BAR_PX)] *= 1.0 + contrast
        return picture

    with_bar: Planes | None = None
    without: Planes | None = None
    for k in range(count):
        first = k * REPEATS
        with_bar = next_planes(
            in_scene, state, frame(k), with_bar, seed=seed, first=first, frames=REPEATS
        )
        without = next_planes(
            in_scene, state, frame(None), without, seed=seed, first=first, frames=REPEATS
        )
    assert with_bar is not None and without is not None
    alone = next_planes(in_scene, state, frame(count - 1), None, seed=seed, frames=REPEATS)
    ground = next_planes(in_scene, state, frame(None), None, seed=seed, frames=REPEATS)
    # the same noise in both, so that what differs is the bar and what it left
    change = (with_bar.luma - without.luma).mean(axis=(0, 1)).astype(np.float64)
    rear = start + (count - 1) * speed_px
    own = float((alone.luma - ground.luma)[:, :, rear + 2 : rear + BAR_PX - 2].mean())
    left = np.array(
        [
            change[rear - n * speed_px : rear - (n - 1) * speed_px].mean() / own
            for n in range(1, ago + 1)
        ]
    )
    below = np.flatnonzero(np.abs(left) < LEFT)
    frames = _crossing(left, int(below[0])) if below.size else float(ago)
    return Trail(left, frames, frames * speed_px)


def _crossing(left: FloatArray, first: int) -> float:
    """Frames until `LEFT`, between two frames by the law of decay; the bar itself counts as one."""
    above = 1.0 if first == 0 else abs(float(left[first - 1]))
    below = max(abs(float(left[first])), 1e-6)
    return first + float(np.log(LEFT / above) / np.log(below / above))
