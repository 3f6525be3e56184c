"""Charge that runs over: blooming along the column, and vertical smear of charge-coupled sensors.

Both are worked out once on the noise-free light of a whole picture, as light that is added [e-/s],
so that a patch can take its part of it.
"""

from __future__ import annotations

import numpy as np

from simulator.camera.model import Sensor
from simulator.camera.sensor_readout import dark_electrons_per_s
from simulator.kernels import kernel, over_rows
from simulator.units import Image

BLOCK = 64
"""Columns that are worked through together."""
SMEAR_PATCH = 0.1
"""Height of the bright patch that smear is measured with, as a share of the picture's."""


def mosaic_light(rate: Image) -> Image:
    """What each pixel of an RGGB mosaic takes of light (rows, columns, 3): (rows, columns)."""
    out = np.empty(rate.shape[:2], np.float32)
    for j in (0, 1):
        for i in (0, 1):
            out[j::2, i::2] = rate[j::2, i::2, j + i]
    return out


@kernel(allocates=True)
def _pour(first, last, charge, full_well, share, extra, rows):  # type: ignore[no-untyped-def]
    """Half of what runs over, carried along the rows in their order until pixels take it up."""
    columns = charge.shape[1]
    flow = np.empty(BLOCK)
    for block in range(first, last):
        left, right = block * BLOCK, min(columns, (block + 1) * BLOCK)
        for i in range(BLOCK):
            flow[i] = 0.0
        for j in rows:
            for i in range(left, right):
                over = charge[j, i] - full_well
                if over > 0.0:
                    flow[i - left] += 0.5 * share * over
                elif flow[i - left] > 0.0:
                    taken = min(flow[i - left], -over - extra[j, i])
                    extra[j, i] += taken
                    flow[i - left] -= taken


def bloom(charge_e: Image, full_well_e: float, share: float) -> Image:
    """Charge that neighbours in the column take up from overfull pixels [e-].

    Parameters
    ----------
    charge_e
        (rows, columns) charge of an exposure without any limit [e-].
    share
        Part of the charge above full well that spills, half up and half down, from neighbour to
        neighbour until it is taken up; at the edge it is lost. The rest is drained.

    Returns
    -------
    (rows, columns) [e-]; no pixel takes more than its full well still holds.
    """
    extra = np.zeros(charge_e.shape)
    rows = np.arange(charge_e.shape[0])
    charge = np.ascontiguousarray(charge_e, dtype=np.float32)
    blocks = -(-charge.shape[1] // BLOCK)
    for order in (rows, rows[::-1].copy()):
        over_rows(_pour, blocks, charge, float(full_well_e), float(share), extra, order, least=1)
    return extra.astype(np.float32)


def smear(mosaic: Image, smear_db: float, longest_s: float, shutter_s: float) -> Image:
    """Vertical smear (columns,) [e-/s]: light that leaks into charge on its way down the column.

    A packet passes every place of its column once in a frame's readout, for a line's time each, so
    that it gathers a share of the column's sum, whatever the shutter. `smear_db` is the ratio for
    a patch of a tenth of the height that is exposed for the whole time between two readouts,

        added = 10^(dB / 20) x sum over column / (H / 10) x longest shutter / shutter,

    as data sheets of interline sensors put it (from memory, no standard at hand); a short
    electronic shutter makes smear stronger beside the picture, as it is known to.
    """
    ratio = 10.0 ** (smear_db / 20.0)
    region_rows = SMEAR_PATCH * mosaic.shape[0]
    total = mosaic.sum(axis=0, dtype=np.float64)
    return np.asarray(ratio * total / region_rows * longest_s / shutter_s, dtype=np.float32)


def overflows(sensor: Sensor) -> bool:
    """Whether a sensor has blooming or smear at all."""
    return sensor.blooming > 0.0 or sensor.smear_db is not None


def spill(rate: Image, shutter_s: float, sensor: Sensor, longest_s: float) -> Image | None:
    """Light (rows, columns) [e-/s] that blooming and smear add to a whole picture.

    Parameters
    ----------
    rate
        Light on the sensor (rows, columns, 3) [e-/s per pixel].
    longest_s
        Shutter that fills the time between two readouts [s].

    Returns
    -------
    None for a sensor without either. Charge spills from the photodiode, whose full well does not
    change with the conversion capacitor.
    """
    if not overflows(sensor):
        return None
    mosaic = mosaic_light(rate)
    out = np.zeros_like(mosaic)
    if sensor.smear_db is not None:
        out += smear(mosaic, sensor.smear_db, longest_s, shutter_s)
    if sensor.blooming > 0.0:
        charge = (mosaic + out + np.float32(dark_electrons_per_s(sensor))) * np.float32(shutter_s)
        out += bloom(charge, sensor.full_well_e, sensor.blooming) / np.float32(shutter_s)
    return out
