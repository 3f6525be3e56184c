"""Frames one after another, as a function."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from numpy.typing import NDArray

from simulator.api.shown import Picture, Report, Reported
from simulator.camera.load import Camera
from simulator.scene.load import Scene
from simulator.studies import sequence as study
from simulator.studies.overrides import load_pair
from simulator.studies.sequence import Progress


class Film(Reported, study.Sequence):
    """Consecutive frames with the course of the exposure.

    Attributes
    ----------
    frames
        Every frame with its moment, mode, exposure and picture (rows, columns, 3).
    judged
        The verdict on a settled picture; None if it was not asked for.
    """

    @property
    def pictures(self) -> list[Picture]:
        """Every frame (rows, columns, 3) as a picture that shows itself."""
        return [Picture.of(frame.picture) for frame in self.frames]

    def table(self) -> list[dict[str, Any]]:
        """One row for every frame: moment, mode and exposure.

        Returns
        -------
        Rows that pandas takes.
        """
        return [frame.row() for frame in self.frames]

    def _report(self) -> Report:
        from simulator.report.sequence_files import film_table, save_sequence

        return Report(film_table, save_sequence)

    def _said(self) -> tuple[str, str]:
        first, last = self.frames[0], self.frames[-1]
        count = f"{len(self.frames)} frames from {first.time_s:+.2f} s to {last.time_s:+.2f} s"
        from simulator.report.sequence_files import began_words

        return self.scene.model.title, f"{count}; at first {began_words(self)}"

    def _pictures(self) -> Mapping[str, NDArray[Any]]:
        last = self.frames[-1]
        return {f"The last frame, at {last.time_s:+.2f} s": last.picture}


def film(
    scene: Scene | str | Path,
    camera: Camera | str | Path,
    frames: int,
    *,
    before: Scene | None = None,
    start_s: float | None = None,
    judge: bool = True,
    seed: int = 0,
    progress: Progress | None = None,
) -> Film:
    """Predict consecutive frames: exposure that settles, trails, the switch to night, the codec.

    Parameters
    ----------
    scene, camera
        Objects, or files or bundled names to load them from.
    frames
        How many, 2 or more.
    before
        The scene that the camera had settled on before the first frame, such as the same place
        under other light; the scene itself if not given.
    start_s
        Moment of the first frame [s], 0 where things stand as the scene says; if not given, what
        moves passes that place in the middle of the film.
    judge
        Whether the task is judged, too, in a settled picture.
    seed
        Steers every random draw.
    progress
        Called with what is being done and the share done so far, 0 to 1.

    Returns
    -------
    Film
        `save(folder)` writes what the command writes.

    Raises
    ------
    InputError
        For a scene that cannot be built, lit or imaged, or too many frames for a codec.

    References
    ----------
    The exposure loop, its limits and the switch to night are those of the camera profile.

    Examples
    --------
    >>> from simulator import Camera, film
    >>> small = Camera.load("fixed-2mp-lowlight").set(
    ...     {"sensor.width_px": 480, "sensor.height_px": 270, "sensor.pixel_pitch_um": 11.6}
    ... )
    >>> [frame.mode for frame in film("yard-noon", small, 2, judge=False).frames]
    ['day', 'day']
    """
    frames_made = study.predict_sequence(
        *load_pair(scene, camera), frames, seed=seed, before=before, start_s=start_s, judge=judge,
        progress=progress,
    )  # fmt: skip
    return Film.of(frames_made)
