"""White balance and colour matrix, solved from the camera's own spectral response."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from simulator import data
from simulator.errors import NoLightError
from simulator.units import WAVELENGTH_NM, FloatArray

XYZ_TO_BT709 = np.array(
    [
        [3.2404542, -1.5371385, -0.4985314],
        [-0.9692660, 1.8760108, 0.0415560],
        [0.0556434, -0.2040259, 1.0572252],
    ]
)
"""CIE XYZ (white Y = 1, D65) to linear BT.709; from the primaries of ITU-R BT.709."""

D65_WHITE_XYZ = np.array([0.95047, 1.0, 1.08883])
"""White of BT.709, CIE D65, 2 degree observer."""

BRADFORD = np.array(
    [[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]]
)
"""Bradford cone-response matrix of the chromatic adaptation (ICC.1:2010, annex E)."""

_RIDGE = 1e-4
"""Pull towards the identity, as a share of the mean squared signal; it only decides where the
light leaves the matrix undetermined, as a single spectral line does."""

_LEAST_VISIBLE = 1e-6
"""Share of the power, weighted with V(lambda), below which a light counts as invisible."""


@lru_cache
def chart_reflectance() -> FloatArray:
    """Spectral reflectance of the 24 patches of the test chart.

    Returns
    -------
    numpy.ndarray
        Reflectance 0 to 1, shape (24, 721), row by row from the upper left; read-only.

    References
    ----------
    Header of the bundled table charts/chart-24, which tells origin and status of the numbers.

    Examples
    --------
    >>> chart_reflectance().shape
    (24, 721)
    """
    table = data.read_table("charts", "chart-24")
    regions = np.stack([table.on_grid(key) for key in table.columns if key != "wavelength_nm"])
    regions.setflags(write=False)
    return regions


@lru_cache
def colour_matching_functions() -> FloatArray:
    """CIE 1931 colour-matching functions of the 2 degree observer.

    Returns
    -------
    numpy.ndarray
        x, y and z on the wavelength grid, shape (3, 721), zero beyond 830 nm; read-only.

    References
    ----------
    CIE 015 (CIE 1931 standard colorimetric observer), bundled table observers/cie-1931-2deg.

    Examples
    --------
    >>> y = colour_matching_functions()[1]
    >>> float(WAVELENGTH_NM[y.argmax()])
    555.0
    """
    table = data.read_table("observers", "cie-1931-2deg")
    functions = np.stack([table.on_grid(key) for key in ("x", "y", "z")])
    functions.setflags(write=False)
    return functions


def chart_linear_rgb(illuminant_power: FloatArray) -> FloatArray:
    """Linear BT.709 RGB of the 24 patches, adapted from the illuminant to D65 (Bradford).

    Parameters
    ----------
    illuminant_power
        Spectral power in any unit, shape (721,).

    Returns
    -------
    numpy.ndarray
        Linear RGB relative to a perfect white, shape (24, 3).

    Raises
    ------
    NoLightError
        If the illuminant holds no visible light.

    References
    ----------
    ITU-R BT.709 (primaries and white); ICC.1:2010, annex E (Bradford adaptation).

    Examples
    --------
    >>> from simulator.light import spectrum
    >>> chart_linear_rgb(spectrum("daylight").power)[18].round(2).tolist()  # white
    [0.89, 0.89, 0.87]
    """
    weighted = colour_matching_functions() * illuminant_power
    white = weighted.sum(axis=1)
    if white[1] <= _LEAST_VISIBLE * np.sum(illuminant_power):
        raise NoLightError("the illuminant holds no visible light, so no colour can be seen")
    xyz = chart_reflectance() @ weighted.T / white[1]
    gain = (BRADFORD @ D65_WHITE_XYZ) / (BRADFORD @ (white / white[1]))
    adapted = (xyz @ BRADFORD.T * gain) @ np.linalg.inv(BRADFORD).T
    return np.asarray(adapted @ XYZ_TO_BT709.T)


def adapted_rgb(power: FloatArray, white_power: FloatArray) -> FloatArray:
    """Linear BT.709 colour (3,) of a light to an eye adapted to another one, of luminance 1.

    Parameters
    ----------
    power, white_power
        Spectral power of the light seen and of the light adapted to, any unit, shape (721,).

    References
    ----------
    ICC.1:2010, annex E (Bradford adaptation to D65).
    """
    seen, white = (colour_matching_functions() @ each for each in (power, white_power))
    gain = (BRADFORD @ D65_WHITE_XYZ) / (BRADFORD @ (white / white[1]))
    adapted = np.linalg.inv(BRADFORD) @ (BRADFORD @ (seen / seen[1]) * gain)
    return np.asarray(XYZ_TO_BT709 @ adapted)


def solve_colour_matrix(
    response: FloatArray, illuminant_power: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """White balance for an illuminant, and the 3x3 matrix from balanced channels to BT.709.

    The matrix minimises the squared error in linear RGB over the 24 patches of the chart, with
    rows that sum to 1 so that neutral stays neutral.

    Parameters
    ----------
    response
        Channel responses R, G, B (quantum efficiency x filter x lens), shape (3, 721).
    illuminant_power
        Spectral power of the light in any unit, shape (721,).

    Returns
    -------
    balance
        Gains that make a white target neutral, green = 1, shape (3,).
    matrix
        RGB_linear = matrix @ (balance * raw), shape (3, 3).

    Raises
    ------
    NoLightError
        If a channel receives nothing or the illuminant holds no visible light.

    References
    ----------
    Constrained least squares (white point preserving), common practice in camera characterisation;
    the pull towards the identity is our own.

    Examples
    --------
    >>> from simulator.camera import infrared_cut_filter, quantum_efficiency
    >>> from simulator.light import spectrum
    >>> response = quantum_efficiency("cmos-standard") * infrared_cut_filter()
    >>> balance, matrix = solve_colour_matrix(response, spectrum("daylight").power)
    >>> float(balance[1]), matrix.sum(axis=1).round(6).tolist()
    (1.0, [1.0, 1.0, 1.0])
    """
    electrons = response * illuminant_power * WAVELENGTH_NM  # per channel, up to a constant
    white = electrons.sum(axis=1)
    if np.any(white <= 0.0):
        raise NoLightError("a colour channel receives no light, so white cannot be balanced")
    wanted = chart_linear_rgb(illuminant_power)
    raw = chart_reflectance() @ electrons.T / white
    # row = (a, b, 1 - a - b): only a and b are free
    basis = raw[:, :2] - raw[:, 2:]
    ridge = _RIDGE * np.mean(raw**2) * len(raw) * np.eye(2)
    start = np.eye(3)[:, :2]
    rest = (wanted - raw[:, 2:]) - basis @ start.T
    free = start + np.linalg.solve(basis.T @ basis + ridge, basis.T @ rest).T
    matrix = np.column_stack([free, 1.0 - free.sum(axis=1)])
    return white[1] / white, matrix
