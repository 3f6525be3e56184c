"""Delivered pictures of a text, again and again: what any reader, ours or yours, is given.

Each is a picture of the part of the frame around the text as it comes out of the camera, behind the
recording where there is one: eight bits, with new photons and new noise, on one sensor with its own
fixed pattern. The pixel grid falls elsewhere on every text.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from simulator.camera.frame_buffer import exposed_regions
from simulator.camera.in_scene import CameraInScene
from simulator.camera.pipeline import State, frame_times
from simulator.camera.recording import recorded
from simulator.camera.region_plan import RegionPlan
from simulator.camera.region_traces import Traces
from simulator.camera.small_picture import small_stray_light
from simulator.judge.target import JudgedText, plan_region
from simulator.judge.texts import own_text, random_texts, with_text
from simulator.units import FloatArray, Image

PHASES = ((0.0, 0.0), (0.5, 0.33), (0.25, 0.67))
"""Where the pixel grid may fall on the characters [px]."""
PIXEL_BUDGET = 20_000_000
"""Pixels of all pictures of one text and of the frames the camera remembers together, about."""


@dataclass(frozen=True, eq=False)
class TextPictures:
    """Pictures of one text at one place on the pixel grid.

    Attributes
    ----------
    text
        What stands there.
    pictures
        Eight-bit levels (n, rows, columns, 3), red, green, blue.
    target
        The text as it lies in the whole picture.
    origin_px
        Left and top of these pictures in the whole picture, with the part of a pixel by which the
        grid is moved.
    """

    text: str
    pictures: NDArray[np.uint8]
    target: JudgedText
    origin_px: tuple[float, float]

    @property
    def cells_px(self) -> FloatArray:
        """Corners (characters, 4, 2) in these pictures: upper left, upper right, lower right, lower
        left, x and y from the upper left corner of the upper left pixel [px]."""
        return self.target.cells_px - np.asarray(self.origin_px)

    @property
    def box_px(self) -> tuple[float, float, float, float]:
        """Left, top, right, bottom of the characters in these pictures [px]."""
        corners = self.cells_px.reshape(-1, 2)
        left, top = corners.min(axis=0)
        right, bottom = corners.max(axis=0)
        return float(left), float(top), float(right), float(bottom)


def text_pictures(
    in_scene: CameraInScene,
    state: State,
    target: JudgedText,
    count: int,
    *,
    texts: Sequence[str] | int | None = None,
    seed: int = 0,
    stray_light: Image | None = None,
    plan: RegionPlan | None = None,
    traces: Traces | None = None,
    phases: int = len(PHASES),
    others: dict[str, Traces] | None = None,
) -> list[TextPictures]:
    """Delivered pictures of the scene's own text or of others on the same board.

    Parameters
    ----------
    in_scene, state
        The camera before the scene, settled.
    target
        The text in the picture.
    count
        Pictures in all; shared out evenly.
    texts
        None for the scene's own text; a number for so many random texts of the same design, grouped
        like the own one; or the texts.
    seed
        Steers noise, places on the pixel grid and random texts.
    stray_light
        Stray light of the whole picture; a quick one is made if it is not given.
    plan, traces
        Region and traced layers of the own text to use again, if world and view are the same.
    phases
        How many of `PHASES` are tried on the own text.
    others
        Where layers of other texts are kept to use again, by text.

    Returns
    -------
    For each text one entry, for the own text one for each of `PHASES`.

    Raises
    ------
    FileFormatError
        If a text cannot be written on that board.
    """
    plan = plan_region(in_scene, state, target) if plan is None else plan
    if stray_light is None:
        stray_light = small_stray_light(in_scene, state.mode)
    if texts is None:
        jobs = [(own_text(target), _on_sample(at, plan.split)) for at in PHASES[:phases]]
    else:
        named = random_texts(target, texts, seed) if isinstance(texts, int) else list(texts)
        places = np.random.default_rng([seed, 5501]).random((len(named), 2))
        jobs = [(text, _on_sample(at, plan.split)) for text, at in zip(named, places, strict=True)]
    kept: dict[str, Traces] = {} if others is None else others
    traces = Traces() if traces is None else traces
    beside = next(iter(kept.values()), traces).of_other_text
    out, first = [], 1
    for n, (text, phase) in enumerate(jobs):
        share = count * (n + 1) // len(jobs) - count * n // len(jobs)
        if share == 0:
            continue
        written, there = with_text(in_scene, target, text)
        moved = replace(plan, phase_px=phase)
        layers = traces if text == own_text(target) else kept.setdefault(text, beside())
        pictures = region_pictures(
            written, state, moved, stray_light, layers, share, seed=seed, first=first
        )
        x, y = plan.box_px[:2]
        out.append(TextPictures(text, pictures, there, (x + phase[0], y + phase[1])))
        first += share
    return out


def _on_sample(phase_px: Sequence[float] | FloatArray, split: int) -> tuple[float, float]:
    """A place of the pixel grid moved back to a fine sample, so that what was traced serves all.

    Places that are even over a pixel stay even over its samples.
    """
    x, y = np.floor(np.asarray(phase_px) * split) / split
    return float(x), float(y)


def region_pictures(
    in_scene: CameraInScene,
    state: State,
    plan: RegionPlan,
    stray_light: Image,
    traces: Traces | None,
    count: int,
    *,
    seed: int,
    first: int,
) -> NDArray[np.uint8]:
    """Delivered pictures (count, rows, columns, 3) of one region; `first` numbers their noise."""
    times = [float(t) for t in frame_times(in_scene)]
    rates = exposed_regions(
        in_scene, state.mode, state.exposure.shutter_s, plan, stray_light, times, traces
    )
    x0, y0, x1, y1 = plan.box_px
    per_run = max(1, PIXEL_BUDGET // ((x1 - x0) * (y1 - y0) * len(times)))
    runs = [
        recorded(
            in_scene, state, rates, seed=seed, first=first + start,
            frames=min(per_run, count - start), origin_px=(x0, y0),
        )
        for start in range(0, count, per_run)
    ]  # fmt: skip
    return np.concatenate(runs)
