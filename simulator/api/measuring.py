"""A camera before charts, as a function."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from simulator.api.shown import Report, Reported
from simulator.camera.load import Camera
from simulator.plain import whole_number
from simulator.studies import measure as study
from simulator.studies.measure import Progress


class Measurement(Reported, study.Measured):
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
        range_found, sharp = self.range_, self.sharp
        rows: list[tuple[str, float | None, str]] = [
            ("dynamic_range", range_found.measured_db, "dB"),
            ("claimed_dynamic_range", range_found.claimed_db, "dB"),
            ("half_transfer", sharp.half_cycles_px, "cycles/px"),
            ("line_widths", sharp.lines, "per picture height"),
        ]
        rows += [
            (f"mean_ciede2000_{name}", float(chart.difference.mean()), "ΔE₀₀")
            for name, chart in self.charts.items()
        ]
        rows += [(f"trail_at_{gain:g}_db", px, "px") for gain, _, px in self.trails]
        return [{"figure": name, "value": value, "unit": unit} for name, value, unit in rows]

    def _report(self) -> Report:
        from simulator.report.measurement import measurement_table, save_measurement

        return Report(measurement_table, save_measurement)


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
