"""A camera before charts, as a function."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from simulator.api.shown import Shown
from simulator.camera.load import Camera
from simulator.plain import whole_number
from simulator.studies import measure as study
from simulator.studies.measure import Progress


class Measurement(Shown, study.Measured):
    """What a camera profile measures like on the bench.

    Attributes
    ----------
    range_
        Dynamic range, measured and claimed.
    charts
        Colours of the 24 patches under several lights.
    """

    def table(self) -> list[dict[str, Any]]:
        """Figures with their units, one row each.

        Returns
        -------
        Rows that pandas takes.
        """
        found, sharp = self.range_, self.sharp
        rows: list[tuple[str, float | None, str]] = [
            ("dynamic_range", found.measured_db, "dB"),
            ("claimed_dynamic_range", found.claimed_db, "dB"),
            ("half_transfer", sharp.half_cycles_px, "cycles/px"),
            ("line_widths", sharp.lines, "per picture height"),
        ]
        rows += [
            (f"mean_ciede2000_{name}", float(chart.difference.mean()), "ΔE₀₀")
            for name, chart in self.charts.items()
        ]
        rows += [(f"trail_at_{gain:g}_db", px, "px") for gain, _, px in self.trails]
        return [{"figure": name, "value": value, "unit": unit} for name, value, unit in rows]

    def to_dict(self) -> dict[str, Any]:
        """What verdict.json holds of it.

        Returns
        -------
        dict
            Plain dictionaries, lists, numbers and texts.
        """
        from simulator.report.measurement import measurement_table

        return measurement_table(self)

    def save(self, folder: str | Path) -> Path:
        """Write sheet, inputs and verdict.json, whole or not at all.

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
        from simulator.report.measurement import save_measurement

        return save_measurement(Path(folder), self)

    def _said(self) -> tuple[str, str]:
        told = self.to_dict()
        return told["title"], told["answer"]

    def _rows(self) -> Sequence[Mapping[str, Any]]:
        return self.table()


def measure(
    camera: Camera | str | Path, *, seed: int = 0, progress: Progress | None = None
) -> Measurement:
    """Measure a camera profile: dynamic range against its claim, colours, trails, sharpness.

    Parameters
    ----------
    camera
        An object, or a file or bundled name to load it from.
    seed
        Steers every random draw.
    progress
        Called with what is being done and the share done so far, 0 to 1.

    Returns
    -------
    Measurement
        `save(folder)` writes what the command writes.

    Raises
    ------
    InputError
        For a camera that is at fault.

    References
    ----------
    Dynamic range after EMVA 1288 on rendered grey steps; colours by CIEDE2000 (Sharma, Wu and Dalal
    2005).

    Examples
    --------
    >>> from simulator import Camera, measure
    >>> found = measure(Camera.load("fixed-2mp-lowlight"))
    >>> found.table()[0]["figure"]
    'dynamic_range'
    """
    body = Camera.of(camera, "camera")
    seed = whole_number(seed, "seed")
    return Measurement.of(study.measure(body, seed=seed, progress=progress))
