"""The main job as a function, and its result with its folder."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import cached_property
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from simulator.api.shown import Picture, Shown
from simulator.camera.load import Camera
from simulator.judge.result import Verdict
from simulator.report.figure_rows import figure_rows
from simulator.report.pictures import enlarged, origin_text, write_png
from simulator.report.record import json_text, write_record
from simulator.report.wording.verdict import shown_word, worded
from simulator.scene.load import Scene
from simulator.studies import predict as study
from simulator.studies.folder import result_folder
from simulator.studies.overrides import load_pair
from simulator.studies.provenance import RUN


class Prediction(Shown, study.Result):
    """A prediction: its verdict, its frame, every intermediate, and the folder that it writes.

    Attributes
    ----------
    verdict
        The answer with its figures, as verdict.json holds it.
    frame
        What the camera shows (rows, columns, 3) [8-bit levels].
    stages
        Every intermediate by name, each with its unit; see `studies.predict.Result`.
    asked
        What was asked beside scene, camera and seed; `rerun` asks the same again.
    """

    asked: Mapping[str, Any] = MappingProxyType(
        {"remedies": True, "tolerances": True, "reserve": True, "cameras": None}
    )

    @cached_property
    def picture(self) -> Picture:
        """The frame (rows, columns, 3) as a picture that shows itself."""
        return Picture.of(self.frame)

    @cached_property
    def target_picture(self) -> Picture:
        """The target cut out with some room and enlarged (rows, columns, 3)."""
        return Picture.of(enlarged(self.frame, self.target.box_px))

    def to_dict(self) -> dict[str, Any]:
        """The table of verdict.json.

        Returns
        -------
        dict
            Plain dictionaries, lists, numbers and texts.
        """
        return self.verdict.to_dict()

    def table(self) -> list[dict[str, Any]]:
        """Every target of the scene in a row: size, light and levels in the frame.

        Returns
        -------
        Rows that pandas takes, with the keys of `targets` in verdict.json.
        """
        return [row.model_dump() for row in self.verdict.targets]

    def save(self, folder: str | Path, raw: bool = False) -> Path:
        """Write the result folder, whole or not at all.

        Parameters
        ----------
        folder
            A new folder, an empty one, or an earlier result, whose files are replaced.
        raw
            Write raw.tiff (16-bit mosaic, DN) and electrons-per-second.tiff (light on the sensor
            before noise, e-/s and pixel by channel, float32) too.

        Returns
        -------
        pathlib.Path
            The folder.

        Raises
        ------
        OutputError
            If it cannot be written there.
        """
        from simulator.report.sheet import draw_sheet

        text = origin_text(self.verdict)
        with result_folder(Path(folder)) as place:
            write_png(place / "frame.png", self.frame, text)
            write_png(place / "target.png", self.target_picture, text)
            draw_sheet(
                place / "sheet.png",
                self.verdict,
                self.frame,
                self.stages["lights"][0],
                self.camera.model.title,
            )
            if raw:
                self._write_raw(place, text["Comment"])
            write_record(place, self.to_dict(), {"scene": self.scene, "camera": self.camera})
            run = json_text({**self.asked, "raw": raw})
            (place / "inputs" / RUN).write_text(run, encoding="utf-8")
        return Path(folder)

    def _write_raw(self, place: Path, origin: str) -> None:
        import tifffile

        mosaic, unit = self.stages["mosaic"]
        tifffile.imwrite(
            place / "raw.tiff", mosaic, description=f"RGGB mosaic [{unit}]; {origin}", metadata=None
        )
        rate, unit = self.stages["rate"]
        tifffile.imwrite(
            place / "electrons-per-second.tiff",
            rate,
            photometric="rgb",
            description=f"light on the sensor [{unit}]; {origin}",
            metadata=None,
        )

    def _said(self) -> tuple[str, str]:
        v = self.verdict
        word = shown_word(v.verdict, v.task.name)
        sentences = v.sentences
        return f"{v.title}: {word}", "" if sentences is None else sentences.customer

    def _rows(self) -> list[dict[str, Any]]:
        return [{"figure": k, "value": x} for k, x in figure_rows(self.verdict, "document")]

    def _pictures(self) -> dict[str, NDArray[np.uint8]]:
        return {f"The {self.verdict.target.kind}, pixel by pixel": self.target_picture}


def predict(
    scene: Scene | str | Path,
    camera: Camera | str | Path,
    seed: int = 0,
    progress: Callable[[str, float], None] | None = None,
    *,
    remedies: bool = True,
    cameras: Sequence[Camera] | None = None,
    tolerances: bool = True,
    reserve: bool = True,
    answered: Callable[[Verdict], None] | None = None,
    counted: Callable[[study.Count], None] | None = None,
) -> Prediction:
    """Predict the picture of a scene through a camera, and judge it.

    Parameters
    ----------
    scene, camera
        Objects, or files or bundled names to load them from.
    seed
        Steers every random draw; the same inputs and seed give the same bytes.
    progress
        Called with what is being done and the share done so far, 0 to 1.
    remedies
        Whether to search for what would fix a verdict that is not legible, which takes longer than
        all the rest.
    cameras
        Other cameras that the search may propose; every bundled one if not given.
    tolerances
        Whether the interval of the probability holds the tolerances of scene and camera, which
        takes several times as long as the prediction itself.
    reserve
        Whether it is sought, for a verdict that is legible, how much darker, faster, farther and
        dirtier it may get before the task fails.
    answered
        Called with the verdict as soon as it stands, before its reserve is sought.
    counted
        Called as soon as it is known how often the task succeeds, before limits, tolerances and
        remedies are looked for, for a text or a person before the picture is made: with `value`,
        its interval `low` to `high` from the pictures alone, and `word`, what a verdict of that
        would be.

    Returns
    -------
    Prediction
        Verdict, frame and every intermediate; `save(folder)` writes what the command writes.

    Raises
    ------
    InputError
        For a scene that cannot be built, lit or imaged; it names file and key.

    References
    ----------
    The models and their sources are listed in docs/physics.md; the reading of text, people and
    colours in the modules of `simulator.judge`.

    Examples
    --------
    >>> from simulator import predict
    >>> found = predict("parcel-shelf", "fixed-2mp-lowlight", remedies=False, tolerances=False,
    ...                 reserve=False)
    >>> found.verdict.task.name
    'read'
    """
    loaded = load_pair(scene, camera)
    result = study.predict(
        *loaded,
        seed=seed,
        progress=progress,
        remedies=remedies,
        cameras=cameras,
        tolerances=tolerances,
        reserve=reserve,
        answered=None if answered is None else lambda verdict: answered(worded(verdict)),
        counted=counted,
    )
    prediction = Prediction.of(replace(result, verdict=worded(result.verdict)))
    names = None if cameras is None else [camera.name for camera in cameras]
    asked = {
        "remedies": remedies, "tolerances": tolerances, "reserve": reserve, "cameras": names
    }  # fmt: skip
    object.__setattr__(prediction, "asked", MappingProxyType(asked))  # beside the frozen result
    return prediction
