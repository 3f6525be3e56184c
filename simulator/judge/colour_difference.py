"""Colours as a display shows them: CIELAB of eight-bit levels, and CIEDE2000."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from simulator.camera.colour_matrix import D65_WHITE_XYZ, XYZ_TO_BT709, colour_matching_functions
from simulator.light.spectra import spectrum
from simulator.units import FloatArray

FAR = 25.0**7


def linear_of(levels: FloatArray | NDArray[np.uint8]) -> FloatArray:
    """Linear light 0..1 of levels 0..255 of any shape on an sRGB display (IEC 61966-2-1)."""
    v = np.asarray(levels, dtype=np.float64) / 255.0
    return np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4)


def lab_of_xyz(xyz: FloatArray) -> FloatArray:
    """CIELAB of XYZ.

    Parameters
    ----------
    xyz
        Tristimulus values (..., 3) for the 2 degree observer, white D65 at Y = 1.

    Returns
    -------
    numpy.ndarray
        L*, a*, b* (..., 3).

    References
    ----------
    CIE 15 (CIELAB with its linear part near black).

    Examples
    --------
    >>> import numpy as np
    >>> abs(lab_of_xyz(np.array([0.9505, 1.0, 1.0891])).round(1)).tolist()
    [100.0, 0.0, 0.0]
    """
    t = xyz / D65_WHITE_XYZ
    f = np.where(t > (6.0 / 29.0) ** 3, np.cbrt(t), t * (29.0 / 6.0) ** 2 / 3.0 + 4.0 / 29.0)
    x, y, z = f[..., 0], f[..., 1], f[..., 2]
    return np.stack([116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)], axis=-1)


def lab_of_linear(linear: FloatArray) -> FloatArray:
    """CIELAB of light on a display, under the display's own white.

    Parameters
    ----------
    linear
        Linear BT.709 red, green, blue (..., 3), 1 for white.

    Returns
    -------
    numpy.ndarray
        L*, a*, b* (..., 3).

    References
    ----------
    ITU-R BT.709 (primaries); CIE 15.

    Examples
    --------
    >>> import numpy as np
    >>> abs(lab_of_linear(np.array([0.18, 0.18, 0.18])).round(1)).tolist()
    [49.5, 0.0, 0.0]
    """
    return lab_of_xyz(np.asarray(linear) @ np.linalg.inv(XYZ_TO_BT709).T)


def lab_of_reflectance(reflectance: FloatArray) -> FloatArray:
    """CIELAB of matt surfaces by daylight, D65, for the 2 degree observer.

    Parameters
    ----------
    reflectance
        Spectral reflectance (..., 721) on the grid of 380 to 1100 nm, 0 to 1.

    Returns
    -------
    numpy.ndarray
        L*, a*, b* (..., 3).

    References
    ----------
    CIE 15; ISO/CIE 11664-2 (D65).

    Examples
    --------
    >>> import numpy as np
    >>> abs(lab_of_reflectance(np.full(721, 1.0)).round(1)).tolist()
    [100.0, 0.0, 0.0]
    """
    weighted = colour_matching_functions() * spectrum("cie-d65").power
    white = weighted.sum(axis=1)
    # the table's own white is D65 by definition, whatever its steps
    return lab_of_xyz(np.asarray(reflectance) @ weighted.T / white * D65_WHITE_XYZ)


def ciede2000(one: FloatArray, other: FloatArray) -> FloatArray:
    """Colour difference CIEDE2000, all weights k 1; hues of greys count as 0.

    Parameters
    ----------
    one, other
        L*, a*, b* (..., 3); they broadcast.

    Returns
    -------
    numpy.ndarray
        Differences (...); about 1 is just seen side by side.

    References
    ----------
    Sharma, Wu and Dalal 2005, "The CIEDE2000 color-difference formula", whose test data it meets;
    ISO/CIE 11664-6.

    Examples
    --------
    >>> import numpy as np
    >>> one, other = np.array([50.0, 2.6772, -79.7751]), np.array([50.0, 0.0, -82.7485])
    >>> round(float(ciede2000(one, other)), 4)
    2.0425
    """
    l1, a1, b1 = np.moveaxis(np.asarray(one, dtype=np.float64), -1, 0)
    l2, a2, b2 = np.moveaxis(np.asarray(other, dtype=np.float64), -1, 0)
    mean = 0.5 * (np.hypot(a1, b1) + np.hypot(a2, b2))
    g = 1.0 + 0.5 * (1.0 - np.sqrt(mean**7 / (mean**7 + FAR)))
    c1, c2 = np.hypot(g * a1, b1), np.hypot(g * a2, b2)
    h1 = np.degrees(np.arctan2(b1, g * a1)) % 360.0
    h2 = np.degrees(np.arctan2(b2, g * a2)) % 360.0
    grey = c1 * c2 == 0.0
    turn = (h2 - h1 + 180.0) % 360.0 - 180.0
    # exactly opposite hues: the sign is that of h2 - h1
    turn = np.where((np.abs(turn) == 180.0) & (h2 > h1), 180.0, turn)
    turn = np.where(grey, 0.0, turn)
    dh = 2.0 * np.sqrt(c1 * c2) * np.sin(np.radians(turn) / 2.0)
    dl, dc = l2 - l1, c2 - c1
    lm, cm = 0.5 * (l1 + l2), 0.5 * (c1 + c2)
    far = np.abs(h1 - h2) > 180.0
    hm = 0.5 * (h1 + h2 + np.where(far, np.where(h1 + h2 < 360.0, 360.0, -360.0), 0.0))
    hm = np.where(grey, h1 + h2, hm)
    t = (
        1.0
        - 0.17 * np.cos(np.radians(hm - 30.0))
        + 0.24 * np.cos(np.radians(2.0 * hm))
        + 0.32 * np.cos(np.radians(3.0 * hm + 6.0))
        - 0.20 * np.cos(np.radians(4.0 * hm - 63.0))
    )
    sl = 1.0 + 0.015 * (lm - 50.0) ** 2 / np.sqrt(20.0 + (lm - 50.0) ** 2)
    sc, sh = 1.0 + 0.045 * cm, 1.0 + 0.015 * cm * t
    turned = 60.0 * np.exp(-(((hm - 275.0) / 25.0) ** 2))
    rt = -2.0 * np.sqrt(cm**7 / (cm**7 + FAR)) * np.sin(np.radians(turned))
    square = (dl / sl) ** 2 + (dc / sc) ** 2 + (dh / sh) ** 2 + rt * (dc / sc) * (dh / sh)
    return np.asarray(np.sqrt(np.maximum(square, 0.0)))
