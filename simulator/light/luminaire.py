"""A luminaire as its photometric file gives it: intensity by direction, flux, tilt.

Type C photometry: gamma from straight down (0) to straight up (180), C around the vertical,
counterclockwise seen from above, C = 0 along the luminaire's length. Types A and B: see
`photometric_types`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simulator.light import photometric_types, webs
from simulator.units import FloatArray


@dataclass(frozen=True)
class PhotometricFile:
    """A luminaire as LM-63 gives it; intensities with every factor of the file applied.

    Attributes
    ----------
    form
        Year of the standard's form.
    keywords
        Text by keyword, such as `LUMINAIRE`, without brackets; continued lines joined.
    absolute
        Whether the file is of absolute photometry (lumens per lamp -1).
    rated_lumens
        Number of lamps x lumens a lamp [lm]; None with absolute photometry.
    gamma_deg, c_deg
        Vertical and horizontal angles of the table [deg] as written, before symmetry: gamma and C
        of type C, V and H of types A and B.
    candela
        Luminous intensity [cd], shape (vertical, horizontal), read-only.
    size_m
        Width, length, height of the luminous opening [m]; negative as written means round.
    input_watts
        Electrical power [W].
    tilt_deg, tilt_factor
        Factor on the light by the tilt of the lamp [deg]; empty for TILT=NONE.
    kind
        Photometric type, "A", "B" or "C".

    References
    ----------
    ANSI/IES LM-63-19 and its forerunners, see `photometric_file`.

    Examples
    --------
    >>> cone = '''IES:LM-63-2019
    ... TILT=NONE
    ... 1 -1 1 3 1 1 2 0.1 0.1 0.1
    ... 1 1 50
    ... 0 45 90
    ... 0
    ... 300 150 0'''
    >>> from simulator.light import parse_photometric_file
    >>> found = parse_photometric_file(cone)
    >>> found.candela.shape, round(found.lumens())  # 2 pi 300 (1 - 2 / pi)
    ((3, 1), 685)
    """

    form: str
    keywords: dict[str, str]
    absolute: bool
    rated_lumens: float | None
    gamma_deg: FloatArray
    c_deg: FloatArray
    candela: FloatArray
    size_m: tuple[float, float, float]
    input_watts: float
    tilt_deg: FloatArray
    tilt_factor: FloatArray
    kind: str = "C"

    def intensity(self, c_deg: FloatArray | float, gamma_deg: FloatArray | float) -> FloatArray:
        """Luminous intensity [cd] towards directions, bilinear; 0 beyond the table's gamma.

        Parameters
        ----------
        c_deg
            Angle about the axis [deg], any; what the file leaves out follows from its symmetry. For
            types A and B 0 is to the right and 90 up.
        gamma_deg
            Angle from the axis [deg], 0 to 180.
        """
        c, g = np.broadcast_arrays(np.asarray(c_deg, dtype=np.float64), gamma_deg)
        g = np.asarray(g, dtype=np.float64)
        if self.kind == "C":
            return self._table(self._folded(c), g)
        h, v = photometric_types.horizontal_vertical(self.kind, c, g)
        ahead = g <= 90.0 + 1e-9
        h = np.abs(h) if self.c_deg[0] == 0.0 else h
        v = np.abs(v) if self.gamma_deg[0] == 0.0 else v
        return np.where(ahead, self._table(h, v), 0.0)

    def _table(self, c: FloatArray, g: FloatArray) -> FloatArray:
        """Bilinear between the angles of the table; 0 beyond those of its rows."""
        i, a = _between(self.gamma_deg, g)
        if len(self.c_deg) == 1:
            value = self.candela[i, 0] * (1.0 - a) + self.candela[i + 1, 0] * a
        else:
            j, b = _between(self.c_deg, c)
            low = self.candela[i, j] * (1.0 - b) + self.candela[i, j + 1] * b
            high = self.candela[i + 1, j] * (1.0 - b) + self.candela[i + 1, j + 1] * b
            value = low * (1.0 - a) + high * a
        inside = (g >= self.gamma_deg[0] - 1e-9) & (g <= self.gamma_deg[-1] + 1e-9)
        return np.where(inside, value, 0.0)

    def _folded(self, c: FloatArray) -> FloatArray:
        """C brought into the part of the circle that the file gives."""
        c = np.mod(c, 360.0)
        first, last = self.c_deg[0], self.c_deg[-1]
        if first == 90.0:  # symmetric about the plane 90-270
            return np.where((c < 90.0) | (c > 270.0), np.mod(180.0 - c, 360.0), c)
        if last in (90.0, 180.0):
            c = np.where(c > 180.0, 360.0 - c, c)
        if last == 90.0:
            c = np.where(c > 90.0, 180.0 - c, c)
        return np.asarray(c)

    def lumens(self) -> float:
        """Luminous flux [lm], integral of I sin(gamma) dgamma dC, exact for the bilinear table."""
        if self.kind != "C":
            return photometric_types.lumens(self.kind, self.c_deg, self.gamma_deg, self.candela)
        part = float(self.c_deg[-1] - self.c_deg[0])
        if part == 0.0:
            return webs.flux(self.gamma_deg, np.array([0.0, 360.0]), self.candela[:, [0, 0]])
        return webs.flux(self.gamma_deg, self.c_deg, self.candela) * 360.0 / part

    def dense_table(self) -> NDArray[np.float32]:
        """Intensity [cd] on the grid of `webs`, gamma by C, both ends included."""
        table = self.intensity(webs.C_DEG[None, :], webs.GAMMA_DEG[:, None])
        return np.ascontiguousarray(table, dtype=np.float32)

    def factor_at_tilt(self, tilt_deg: float) -> float:
        """Factor on the light with the luminaire's axis this far from straight down [deg]."""
        if len(self.tilt_deg) == 0:
            return 1.0
        return float(np.interp(tilt_deg, self.tilt_deg, self.tilt_factor))


def _between(angles: FloatArray, at: FloatArray) -> tuple[NDArray[np.int64], FloatArray]:
    """Index of the interval and the place in it, 0 to 1; held at the ends."""
    i = np.clip(np.searchsorted(angles, at, side="right") - 1, 0, len(angles) - 2)
    share = np.clip((at - angles[i]) / (angles[i + 1] - angles[i]), 0.0, 1.0)
    return np.asarray(i), np.asarray(share)
