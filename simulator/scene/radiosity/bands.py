"""Spectral bands of bounced light.

What surfaces leave of light after some bounces is told in bands from 380 to 1100 nm: within one the
spectrum keeps the shape of the light's own, between them it changes with the surfaces' colours.
"""

from __future__ import annotations

import numpy as np

from simulator.units import WAVELENGTH_NM, FloatArray

EDGES_NM = (380.0, 450.0, 490.0, 530.0, 570.0, 610.0, 660.0, 720.0, 800.0, 900.0, 1101.0)
"""Narrow where eyes and colour filters part colours, wide in the infrared, where surfaces change
slowly."""
BANDS = len(EDGES_NM) - 1


def band_masks() -> FloatArray:
    """Which wavelengths (bands, 721) belong to which band: ones and zeros, one band each."""
    edges = np.array(EDGES_NM)
    return ((edges[:-1, None] <= WAVELENGTH_NM) & (edges[1:, None] > WAVELENGTH_NM)).astype(float)


def band_power(power: FloatArray) -> FloatArray:
    """Integrals (lights, bands) of spectra (lights, 721) over the bands."""
    return np.asarray(power @ band_masks().T)


def band_reflectance(power: FloatArray, reflectance: FloatArray) -> FloatArray:
    """Reflectances (lights, bands, materials), weighed in a band by each light's own spectrum."""
    masks = band_masks()
    weight = power[:, None, :] * masks
    total = weight.sum(axis=2, keepdims=True)
    even = masks / masks.sum(axis=1, keepdims=True)
    weight = np.where(total > 0.0, weight / np.where(total > 0.0, total, 1.0), even)
    return np.asarray(np.einsum("lbw,mw->lbm", weight, reflectance, optimize=True))
