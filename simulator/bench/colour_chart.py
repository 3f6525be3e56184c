"""The 24-patch chart before the whole camera, and how far its colours end from the wanted ones."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simulator.bench.steps import bench_in_scene, fixed_state
from simulator.camera.colour_matrix import chart_linear_rgb, chart_reflectance, solve_colour_matrix
from simulator.camera.model import CameraModel
from simulator.camera.pipeline import shoot
from simulator.camera.processing import ColourPath
from simulator.domain import require
from simulator.errors import InputError
from simulator.light.spectra import Spectrum
from simulator.units import WAVELENGTH_NM, FloatArray

PATCH_PX = 24
WHITE_LEVEL = 0.9
"""Level of a perfect white, as a share of the sensor's white."""


@dataclass(frozen=True)
class ChartColours:
    """Colours of the 24 patches as the camera shows them and as they should be.

    Attributes
    ----------
    shown
        Mean levels, 0 to 1, shape (24, 3).
    linear
        The same in linear BT.709 relative to a perfect white, shape (24, 3).
    wanted
        Linear BT.709 by the standard observer, adapted to D65, shape (24, 3).

    Examples
    --------
    >>> grey = np.full((24, 3), 0.18)
    >>> bool(ChartColours(grey, grey, grey).difference.max() < 1e-9)
    True
    """

    shown: FloatArray
    linear: FloatArray
    wanted: FloatArray

    @property
    def difference(self) -> FloatArray:
        """CIEDE2000 of each patch (24,)."""
        import colour  # noqa: PLC0415

        lab = [_lab(rgb) for rgb in (self.linear, self.wanted)]
        return np.asarray(colour.delta_E(lab[0], lab[1], method="CIE 2000"))


def _lab(linear: FloatArray) -> NDArray[np.float64]:
    """CIELAB of linear BT.709 (n, 3) against D65."""
    import colour  # noqa: PLC0415

    space = colour.RGB_COLOURSPACES["ITU-R BT.709"]
    xyz = linear @ space.matrix_RGB_to_XYZ.T
    white = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D65"]
    return np.asarray(colour.XYZ_to_Lab(xyz, white))


def photograph_chart(
    camera: CameraModel,
    light: Spectrum,
    *,
    gain_db: float = 0.0,
    solved_for_light: bool = True,
    frames: int = 4,
    seed: int = 0,
) -> ChartColours:
    """The chart through mosaic, noise, processing and eight bits, each patch even and alone.

    Parameters
    ----------
    camera
        Model of the camera, by day.
    light
        What lights the chart, as bright as it needs to be for white to be `WHITE_LEVEL`.
    gain_db
        Gain [dB].
    solved_for_light
        Balance and matrix solved for this light; else those of daylight, as a fixed balance has.
    frames
        Frames that are averaged, 1 or more.
    seed
        Of the noise.

    Returns
    -------
    ChartColours
        Colours of the patches, shape (24, 3) each, and their CIEDE2000.

    Raises
    ------
    InputError
        If the tone curve is not one that can be undone exactly: "bt709", "srgb" or "linear"; for
        less than one frame.

    References
    ----------
    Reflectances of the patches: the source stands in the head of the chart's table, see
    `simulator/data/README.md`. BT.709 and IEC 61966-2-1 for the tone curves (from memory);
    ICC.1:2010, annex E for the adaptation to D65 (Bradford); CIEDE2000 by colour-science.

    Examples
    --------
    >>> from simulator import Camera
    >>> small = {"sensor.width_px": 64, "sensor.height_px": 64}
    >>> camera = Camera.load("fixed-2mp-lowlight").set(small).model
    >>> from simulator.light import spectrum
    >>> found = photograph_chart(camera, spectrum("daylight"))
    >>> found.shown.shape, bool(found.difference.mean() < 5.0)
    ((24, 3), True)
    """
    require("frames", frames, least=1)
    in_scene = bench_in_scene(camera)
    response = in_scene.response("day")
    if solved_for_light:
        balance, matrix = solve_colour_matrix(response, light.power)
    else:
        balance, matrix = in_scene.daylight_colour
    colour = ColourPath(balance / balance.min(), matrix, False)
    state = fixed_state(camera, 0.01, gain_db, colour=colour)
    electrons = response * light.power * WAVELENGTH_NM
    white = electrons.sum(axis=1)
    regions = chart_reflectance() @ electrons.T
    # white is bright enough for its strongest balanced channel to stay below saturation
    scale = WHITE_LEVEL * state.chain.white_e / 0.01 / (white * colour.balance).max()
    picture = np.repeat(np.repeat((regions * scale).reshape(4, 6, 3), PATCH_PX, 0), PATCH_PX, 1)
    rate = picture.astype(np.float32)
    levels = shoot(in_scene, state, [rate], seed=seed, frames=frames).mean(axis=0) / 255.0
    cells = levels.reshape(4, PATCH_PX, 6, PATCH_PX, 3)[:, 6:-6, :, 6:-6]
    shown = cells.mean(axis=(1, 3)).reshape(24, 3)
    return ChartColours(
        shown, _decoded(shown, camera.processing.tone) / WHITE_LEVEL, chart_linear_rgb(light.power)
    )


def _decoded(shown: FloatArray, tone: str) -> FloatArray:
    """Linear light of encoded levels."""
    if tone == "bt709":
        return np.where(shown < 0.081, shown / 4.5, ((shown + 0.099) / 1.099) ** (1.0 / 0.45))
    if tone == "srgb":
        return np.where(shown <= 0.04045, shown / 12.92, ((shown + 0.055) / 1.055) ** 2.4)
    if tone == "linear":
        return shown
    raise InputError(
        "The colours of the chart can only be measured behind a tone curve that can be undone.",
        key="processing.tone",
        given=tone,
        allowed='"bt709", "srgb" or "linear"',
        fix="set processing.tone to one of them for this measurement",
    )
