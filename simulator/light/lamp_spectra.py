"""Spectra of lamps that are made on demand: white LEDs of any colour temperature, CSV files."""

from __future__ import annotations

from functools import lru_cache
from typing import Final

import numpy as np

from simulator.errors import FileFormatError
from simulator.light.photometry import illuminance_lux
from simulator.light.spectra import Spectrum, _frozen, blackbody_power, spectrum
from simulator.reading import number_of
from simulator.units import WAVELENGTH_NM

WHITE_LEDS: Final = (
    (2733.0, "led-2700k"),
    (2998.0, "led-3000k"),
    (4103.0, "led-4000k"),
    (5109.0, "led-5000k"),
    (6598.0, "led-6500k"),
)
"""Correlated colour temperature [K] (CIE 015:2018) and name of the bundled white LEDs."""
LED_RANGE_K: Final = (2200.0, 6600.0)
MOST_POWER, LEAST_LUX = 1e12, 1e-12
"""Powers stand on any scale, but none that a lamp has reaches this far from one (chosen by us)."""
_HEADER = "a first line 'wavelength_nm,power', then two numbers a line; lines with # are notes"


@lru_cache
def white_led(cct_k: float) -> Spectrum:
    """White LED of a colour temperature, blended from the CIE's LED illuminants, scaled to 1 lx.

    Between two tables both are mixed, each at 1 lx, by their distance in reciprocal temperature,
    along which colours of equal steps look evenly spaced. Below 2733 K the warmest is multiplied
    by the ratio of Planck's law at both temperatures (assumed). A blend differs from a real lamp
    in the shape, little in colour.

    Parameters
    ----------
    cct_k
        Correlated colour temperature [K], 2200 to 6600.

    Returns
    -------
    Spectrum
        On the basis of 1 lx.

    Raises
    ------
    FileFormatError
        If it is out of range.

    References
    ----------
    CIE 015:2018, LED illuminants; the blend is our own (assumed).

    Examples
    --------
    >>> white_led(3500.0).name
    'led-3500k'
    """
    if not LED_RANGE_K[0] <= cct_k <= LED_RANGE_K[1]:
        raise FileFormatError(
            "A white LED of this colour temperature is out of range.",
            given=f"{cct_k:g} K",
            allowed=f"{LED_RANGE_K[0]:g} to {LED_RANGE_K[1]:g} K",
        )
    kelvin = np.array([k for k, _ in WHITE_LEDS])
    name = f"led-{cct_k:g}k"
    if cct_k < kelvin[0]:
        power = spectrum(WHITE_LEDS[0][1]).power * blackbody_power(cct_k)
        power = power / blackbody_power(float(kelvin[0]))
    else:
        i = int(np.clip(np.searchsorted(kelvin, cct_k) - 1, 0, len(kelvin) - 2))
        share = (1 / cct_k - 1 / kelvin[i]) / (1 / kelvin[i + 1] - 1 / kelvin[i])
        share = float(np.clip(share, 0.0, 1.0))
        low, high = spectrum(WHITE_LEDS[i][1]), spectrum(WHITE_LEDS[i + 1][1])
        power = low.power * (1.0 - share) + high.power * share
    return _frozen(name, "lux", power / float(illuminance_lux(power)))


def spectrum_of_text(text: str, file: object = None, name: str = "spectrum") -> Spectrum:
    """Spectrum from the text of a CSV file, scaled to 1 lx; zero outside the rows.

    Parameters
    ----------
    text
        A line of column names, `wavelength_nm` first, then rows of two numbers with rising
        wavelength [nm] and spectral power on any scale. Lines that begin with # are notes, so a
        table of this package is read too.
    file
        Where it comes from, for errors.
    name
        Name of the spectrum.

    Raises
    ------
    FileFormatError
        With the line number, for anything else than that, or light that nobody sees.
    """
    rows: list[tuple[float, float]] = []
    columns: list[str] | None = None
    for number, line in enumerate(text.lstrip("\ufeff").splitlines(), start=1):
        cells = [cell.strip() for cell in line.split(",")]
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        if columns is None:
            columns = cells
            if len(cells) != 2 or cells[0] != "wavelength_nm":
                raise _bad(number, "the first line must name two columns", line, file)
            continue
        try:
            wavelength, power = (number_of(cell) for cell in cells)
        except ValueError:
            raise _bad(number, "a row must be two numbers", line, file) from None
        if not 0.0 <= power <= MOST_POWER:
            raise _bad(number, f"a power must be from 0 to {MOST_POWER:g}", line, file)
        if rows and wavelength <= rows[-1][0]:
            raise _bad(number, "the wavelength must rise", line, file)
        rows.append((wavelength, power))
    if len(rows) < 2:
        raise FileFormatError(
            "A spectrum needs two rows at least.", file=file, given=len(rows), allowed=_HEADER
        )
    x, y = np.array(rows).T
    shape = np.interp(WAVELENGTH_NM, x, y, left=0.0, right=0.0)
    lux = float(illuminance_lux(shape))
    if lux < LEAST_LUX:
        raise FileFormatError(
            "This spectrum holds no visible light.",
            file=file,
            given=f"{x[0]:g} to {x[-1]:g} nm",
            allowed="power between 380 and 780 nm",
        )
    return _frozen(name, "lux", shape / lux)


def _bad(number: int, problem: str, line: str, file: object) -> FileFormatError:
    return FileFormatError(
        f"Line {number}: {problem}.", file=file, given=line.strip()[:80], allowed=_HEADER
    )
