"""A prediction that can show and save itself: the result folder."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cached_property
from pathlib import Path

import numpy as np
import tifffile
from numpy.typing import NDArray

from simulator.camera.load import Camera
from simulator.report.pictures import enlarged, origin_text, write_png
from simulator.scene.load import Scene
from simulator.studies import predict as study
from simulator.studies.folder import result_folder


class Prediction(study.Result):
    """A result with its pictures and its folder."""

    @cached_property
    def target_picture(self) -> NDArray[np.uint8]:
        """The target cut out with some room and enlarged (rows, columns, 3)."""
        return enlarged(self.frame, self.target.box_px)

    def save(self, folder: str | Path, raw: bool = False) -> Path:
        """Write the result folder, whole or not at all.

        Parameters
        ----------
        raw
            Write raw.tiff (16-bit mosaic, DN) and electrons-per-second.tiff (light on the sensor
            before noise, e-/s and pixel by channel, float32) too.

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
                self.target_picture,
                self.stages["lights"][0],
                self.camera.model.title,
            )
            inputs = place / "inputs"
            inputs.mkdir()
            self.scene.save(inputs / "scene.toml")
            self.camera.save(inputs / "camera.toml")
            if raw:
                self._write_raw(place, text["Comment"])
            (place / "verdict.json").write_text(self.verdict_json(), encoding="utf-8")
        return Path(folder)

    def verdict_json(self) -> str:
        """The verdict as JSON text, keys in a stable order."""
        return self.verdict.to_json()

    def _write_raw(self, place: Path, origin: str) -> None:
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


def predict(
    scene: Scene,
    camera: Camera,
    seed: int = 0,
    progress: Callable[[str, float], None] | None = None,
    *,
    remedies: bool = True,
    cameras: Sequence[Camera] | None = None,
    tolerances: bool = True,
) -> Prediction:
    """Predict the picture of a scene through a camera, and judge it; see `studies.predict`."""
    result = study.predict(
        scene,
        camera,
        seed=seed,
        progress=progress,
        remedies=remedies,
        cameras=cameras,
        tolerances=tolerances,
    )
    return Prediction(**vars(result))
