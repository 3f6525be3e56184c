"""Photometry of types A and B, as floodlights and vehicle lamps are measured, and tilt files.

Both have horizontal angles H and vertical angles V about an axis that looks forwards, where
H = V = 0; H grows to the right as seen along that axis, V upwards. Type A: planes of H turn about
the upright axis, V is the height in such a plane (like azimuth and altitude). Type B: planes of V
turn about the level axis, H is the angle in such a plane. (IES LM-75 and LM-63, from memory; the
sense of H as most floodlight files have it, assumed.)
"""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np

from simulator.errors import FileFormatError
from simulator.light import webs
from simulator.reading import text_of
from simulator.units import FloatArray

ENDS = ((-90.0, 90.0), (0.0, 90.0))
"""First and last angle that LM-63 allows for types A and B; from 0 on both sides are alike."""
TILT_LINE = re.compile(r"^[ \t]*TILT[ \t]*=[ \t]*(.*?)[ \t]*$", re.IGNORECASE | re.MULTILINE)


def horizontal_vertical(
    kind: str, c_deg: FloatArray, gamma_deg: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """H and V of directions.

    Parameters
    ----------
    kind
        "A" or "B".
    c_deg
        Angle about the axis [deg], 0 to the right, 90 upwards, any shape.
    gamma_deg
        Angle from the axis [deg], the same shape.

    Returns
    -------
    H and V [deg], -180 to 180, in that shape.

    Examples
    --------
    >>> h, v = horizontal_vertical("B", np.array(90.0), np.array(30.0))  # 30 degrees upwards
    >>> round(float(h), 6), round(float(v), 6)
    (0.0, 30.0)
    """
    c, g = np.radians(c_deg), np.radians(gamma_deg)
    right, up, forward = np.sin(g) * np.cos(c), np.sin(g) * np.sin(c), np.cos(g)
    if kind == "A":
        return np.degrees(np.arctan2(right, forward)), np.degrees(np.arcsin(up))
    return np.degrees(np.arcsin(right)), np.degrees(np.arctan2(up, forward))


def lumens(kind: str, h_deg: FloatArray, v_deg: FloatArray, candela: FloatArray) -> float:
    """Luminous flux of a table, exact for what is linear between its angles.

    With the angle in the turning plane measured from its pole, both are tables of an angle from an
    axis and one about it: solid angle cos(V) dV dH for type A, cos(H) dH dV for type B.

    Parameters
    ----------
    kind
        "A" or "B".
    h_deg, v_deg
        Angles of the table [deg], as written.
    candela
        Intensity [cd], shape (V, H).

    Returns
    -------
    Flux [lm], of both sides where the table holds one.

    Examples
    --------
    >>> whole = np.array([-90.0, 90.0])
    >>> round(lumens("A", whole, whole, np.ones((2, 2))), 4)  # half a sphere of 1 cd, 2 pi
    6.2832
    """
    if kind == "A":
        flux_lm = webs.flux(90.0 + v_deg, h_deg, candela)
    else:
        flux_lm = webs.flux(90.0 + h_deg, v_deg, candela.T)
    return flux_lm * 2.0 ** sum(bool(angles[0] == 0.0) for angles in (h_deg, v_deg))


def with_tilt(text: str, folder: Path, file: object = None) -> str:
    """Text of a photometric file with the tilt of another file in its place.

    Parameters
    ----------
    text
        The file; TILT=NONE and TILT=INCLUDE stay as they are.
    folder
        Where it lies.
    file
        Where the text comes from, for messages.

    Returns
    -------
    The text, which needs no other file.

    Raises
    ------
    FileFormatError
        If the tilt file is not there, or is named by more than a name: it lies beside the
        photometric file.
    """
    tilt_line = TILT_LINE.search(text)
    if tilt_line is None or tilt_line[1].upper() in ("NONE", "INCLUDE"):
        return text
    name = tilt_line[1]
    if Path(name).name != name or "\\" in name:
        raise FileFormatError(
            "The tilt file must lie beside the photometric file.",
            file=file,
            given=name,
            allowed="TILT=NONE, TILT=INCLUDE, or TILT= and the name of a file without a folder",
            fix="copy it there and write its name alone",
        )
    tilt = text_of(folder / name, "tilt file")
    return f"{text[: tilt_line.start()]}TILT=INCLUDE\n{tilt.strip()}{text[tilt_line.end() :]}"
