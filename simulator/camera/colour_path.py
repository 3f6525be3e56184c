"""How camera channels become colours: gains, matrix, and the weights of luma."""

from __future__ import annotations

from dataclasses import dataclass

from simulator.units import FloatArray

LUMA = (0.2126, 0.7152, 0.0722)
"""BT.709 weights of red, green and blue."""
MONO = (0.25, 0.5, 0.25)
"""Weights of the channels in a monochrome picture: every pixel of the pattern counts alike."""


@dataclass(frozen=True)
class ColourPath:
    """Balance (3,) and matrix (3, 3) from camera channels to linear BT.709; `mono` for night."""

    balance: FloatArray
    matrix: FloatArray
    mono: bool
