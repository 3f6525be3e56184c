"""The probability alone, as a function: for loops over many settings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from numpy.typing import NDArray

from simulator.api.shown import Picture, Shown
from simulator.camera.load import Camera
from simulator.report.record import write_record
from simulator.report.wording.verdict import shown_word
from simulator.scene.load import Scene
from simulator.studies import quick as study
from simulator.studies.folder import result_folder
from simulator.studies.overrides import load_pair
from simulator.studies.provenance import input_hash, versions


@dataclass(frozen=True, kw_only=True)
class Quick(Shown, study.Quick):
    """Probability of a task with its sampling interval, and how the camera was set.

    Fields are those of a verdict; `picture` (rows, columns, 3) shows the target with some room,
    None if it was not asked for.
    """

    scene: Scene
    camera: Camera
    seed: int

    def row(self) -> dict[str, Any]:
        """The figures, without pictures and inputs.

        Returns
        -------
        dict
            With the field names of a verdict.
        """
        own = ("scene", "camera", "seed")
        return {key: value for key, value in super().row().items() if key not in own}

    def to_dict(self) -> dict[str, Any]:
        """What verdict.json holds of it: plain numbers and texts.

        Returns
        -------
        dict
            Plain dictionaries, lists, numbers and texts.
        """
        return {
            "schema_version": 1,
            "study": "quick",
            "scene": self.scene.name,
            "camera": self.camera.name,
            "title": self.scene.model.title,
            "question": self.scene.model.question,
            "seed": self.seed,
            "input_hash": input_hash(self.scene, self.camera),
            "versions": versions(),
            "wanted_probability": self.scene.model.task.wanted_probability,
            **self.row(),
        }

    def table(self) -> list[dict[str, Any]]:
        """The figures as a single row, for tables of many.

        Returns
        -------
        Rows that pandas takes.
        """
        return [self.row()]

    def save(self, folder: str | Path) -> Path:
        """Write verdict.json, the inputs and, if it was asked for, target.png, whole or not at all.

        Parameters
        ----------
        folder
            A new folder, an empty one, or an earlier result, whose files are replaced.

        Returns
        -------
        pathlib.Path
            The folder.

        Raises
        ------
        OutputError
            If it cannot be written there.
        """
        from simulator.report.pictures import origin_text, write_png

        record = self.to_dict()
        with result_folder(Path(folder)) as place:
            if self.picture is not None:
                write_png(place / "target.png", self.picture, origin_text(record))
            write_record(place, record, {"scene": self.scene, "camera": self.camera})
        return Path(folder)

    def _said(self) -> tuple[str, str]:
        word = shown_word(self.verdict, self.scene.model.task.name)
        return f"{self.scene.model.title}: {word}", self.scene.model.question

    def _pictures(self) -> Mapping[str, NDArray[Any]]:
        return {} if self.picture is None else {"The target with some room": self.picture}


def quick(
    scene: Scene | str | Path,
    camera: Camera | str | Path,
    *,
    seed: int = 0,
    trials: int = study.TRIALS,
    picture: bool = False,
    proof: bool = False,
) -> Quick:
    """Judge the task of a scene without the whole picture, limits and remedies.

    Parameters
    ----------
    scene, camera
        Objects, or files or bundled names to load them from.
    seed
        Steers every random draw.
    trials
        Repetitions of the camera for a text that is read; other tasks take fewer, see
        `Quick.trials`.
    picture
        Whether a picture of the target is made, too.
    proof
        Whether the task's own reader reads the pictures of a text, as `predict` has it; if not, its
        quick estimate does.

    Returns
    -------
    Quick
        With the field names of a verdict.

    Raises
    ------
    InputError
        For a scene that cannot be built, lit or imaged; it names file and key.

    References
    ----------
    The interval is that of sampling: Jeffreys' for a text (Brown, Cai and DasGupta 2001), the
    middle 95 % over the pictures for other tasks.

    Examples
    --------
    >>> from simulator import Scene, quick
    >>> gate = Scene.load("depot-gate-dark")
    >>> day, night = (
    ...     quick(gate.set({"natural_light.illuminance_lux": lux}), "plate-2mp-infrared", trials=24)
    ...     for lux in (3000, 0.003)
    ... )
    >>> day.probability > night.probability
    True
    """
    loaded = load_pair(scene, camera)
    result = study.quick(*loaded, seed=seed, trials=trials, picture=picture, proof=proof)
    shown = None if result.picture is None else Picture.of(result.picture)
    numbers = {**vars(result), "picture": shown}
    return Quick(**numbers, scene=loaded[0], camera=loaded[1], seed=seed)
