"""What the camera settles on before a scene: mode, exposure, white balance."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from simulator.camera.day_night import choose_mode, estimated_illuminance
from simulator.camera.exposure import ExposureState, settle
from simulator.camera.in_scene import CameraInScene, Mode
from simulator.camera.local_tone import ToneMap, tones_for
from simulator.camera.model import CameraModel
from simulator.camera.processing import ColourPath
from simulator.camera.sensor_readout import Readout, readout
from simulator.camera.small_picture import meter_light
from simulator.camera.white_balance import colour_path
from simulator.camera.wide_range import shown_to_the_loop
from simulator.errors import NoLightError
from simulator.scene.radiosity.field import is_rough
from simulator.units import Image


@dataclass(frozen=True)
class State:
    """What the camera settled on before a scene."""

    mode: Mode
    estimated_lux: float
    """Illuminance that the camera goes by [lx]; nan in searches where it goes by none."""
    exposure: ExposureState
    chain: Readout
    colour: ColourPath
    tones: ToneMap | None = None
    """The tone mapping of a wide range."""
    quantiser: int | None = None
    """Quantiser parameter of the stream; None if the picture is judged before any codec."""


class Meter:
    """The small pictures a camera meters on, each traced once, at the open iris.

    `scale` makes all light stronger by a factor without tracing again.
    """

    def __init__(self, in_scene: CameraInScene, scale: float = 1.0) -> None:
        self.in_scene = in_scene
        self._scale = np.float32(scale)
        self._pictures: dict[Mode, Image] = {}

    def picture(self, mode: Mode) -> Image:
        """Light (rows, columns, 3) [e-/s per pixel] in a mode."""
        if mode not in self._pictures:
            self._pictures[mode] = meter_light(self.in_scene, mode)
        return self._pictures[mode] * self._scale

    def show(self, pictures: dict[Mode, Image]) -> None:
        """Meter on pictures of one's own (rows, columns, 3) [e-/s per pixel], by mode."""
        self._pictures.update(pictures)

    def estimated_lux(self, mode: Mode = "day") -> float:
        """What the camera takes the light for in a mode [lx], see `day_night`."""
        return estimated_illuminance(self.in_scene, self.picture(mode), mode)

    def scaled(self, scale: float) -> Meter:
        """The same pictures under all light stronger by a factor."""
        other = Meter(self.in_scene, scale * float(self._scale))
        other._pictures = self._pictures
        return other


def settle_exposure(
    in_scene: CameraInScene,
    mode: Mode | None = None,
    *,
    before: Mode = "day",
    meter: Meter | None = None,
) -> State:
    """Mode, exposure and white balance of the camera at rest before the scene.

    The state may close an iris or add up frames: take `as_exposed` of the same camera for all that
    comes after.

    Parameters
    ----------
    in_scene
        The camera in its scene.
    mode
        Force a mode; otherwise the profile's thresholds decide.
    before
        The mode in which the camera stays between its thresholds. In night mode it is taken to know
        what infrared adds to its signal (`day_night.mode_path`).
    meter
        Metered pictures to use again.

    Returns
    -------
    State
        Mode, estimated illuminance, exposure, gain chain, colour path and tone mapping.

    Raises
    ------
    NoLightError
        If no light at all reaches the sensor.

    References
    ----------
    Each part names its own: `choose_mode`, `settle`, `readout`, `solve_colour_matrix`.

    Examples
    --------
    >>> from simulator.camera import Camera, place_camera
    >>> from simulator.scene import Scene, build_world
    >>> scene = Scene.load("depot-gate-infrared").model
    >>> camera = Camera.load("fixed-2mp-lowlight").model
    >>> state = settle_exposure(place_camera(build_world(scene), scene.station, camera))
    >>> state.mode, state.exposure.shutter_s
    ('night', 0.04)
    """
    meter = meter or Meter(in_scene)
    held = mode or in_scene.camera.day_night.mode
    # a search does not tell what a camera believes that goes by a mode that is held
    lux = math.nan if held != "auto" and is_rough() else meter.estimated_lux()
    chosen = mode or choose_mode(in_scene.camera.day_night, lux, before)
    metered = meter.picture(chosen)
    if not np.any(metered > 0.0):
        raise NoLightError(
            "No light at all reaches the sensor: there is nothing to expose.",
            key="natural_light.illuminance_lux",
            given=sum(x.illuminance_lux or 0.0 for x in in_scene.world.lights if x.kind == "sky"),
            allowed="some light that the sensor can see in this mode",
            fix="give the natural light a value above 0, or switch on a lamp or illuminator",
        )
    colour = colour_path(in_scene, metered, chosen)
    signal = metered_signal(metered, colour)
    exposure = settle(
        in_scene.camera.exposure,
        shown_to_the_loop(in_scene.camera, signal),
        in_scene.camera.sensor.full_well_e,
        in_scene.camera.lens.f_number,
    )
    chain = readout(in_scene.camera.sensor, exposure.gain_db)
    tones = tones_for(in_scene.camera, signal, exposure, chain)
    return State(chosen, lux, exposure, chain, colour, tones)


def with_iris(in_scene: CameraInScene, exposure: ExposureState) -> CameraInScene:
    """The camera with its iris where an exposure has it; the same if it stands there already.

    Light on the sensor, diffraction and depth of field follow the f-number. The edge of the lens
    barrel cuts off less of a smaller pupil: vignetting shrinks evenly to nothing two stops down
    (common practice, no source).
    """
    lens = in_scene.camera.lens
    if lens.f_number == exposure.f_number:
        return in_scene
    stops = 2.0 * math.log2(exposure.f_number / lens.f_number)
    left = float(np.clip(1.0 - stops / 2.0, 0.0, 1.0))
    lens = lens.model_copy(
        update={
            "f_number": exposure.f_number,
            "relative_illumination_corner": 1.0 - (1.0 - lens.relative_illumination_corner) * left,
        }
    )
    return replace(in_scene, camera=in_scene.camera.model_copy(update={"lens": lens}))


def as_exposed(in_scene: CameraInScene, state: State) -> CameraInScene:
    """The camera as it takes the picture: iris where it stands, frames added up in noise and rate.

    To be taken once of the camera that was settled. n frames added up are one long exposure whose
    dark noise is drawn n times: temporal noise grows by sqrt(n), fixed offsets by n, frames come n
    times slower. Taken as without a gap between the frames, so that movement smears evenly;
    quantisation of each frame is left out, as the gain is near its largest there.
    """
    in_scene = with_iris(in_scene, state.exposure)
    n = state.exposure.accumulated
    return in_scene if n == 1 else in_scene.with_settings(added_up(in_scene.camera, n))


def added_up(camera: CameraModel, frames: float) -> CameraModel:
    """The camera whose every frame is the sum of several; 1 / n undoes the sum of n."""
    s, root = camera.sensor, math.sqrt(frames)
    high = s.high_gain_read_noise_e
    sensor = s.model_copy(
        update={
            "read_noise_e": s.read_noise_e * root,
            "high_gain_read_noise_e": None if high is None else high * root,
            "row_noise_e": s.row_noise_e * root,
            "converter_noise_dn": s.converter_noise_dn * root,
            "dsnu_e": s.dsnu_e * frames,
            "column_noise_e": s.column_noise_e * frames,
            "line_time_us": s.line_time_us or 1e6 / (camera.processing.frame_rate_hz * s.height_px),
        }
    )
    processing = camera.processing.model_copy(
        update={"frame_rate_hz": camera.processing.frame_rate_hz / frames}
    )
    return camera.model_copy(update={"sensor": sensor, "processing": processing})


def metered_signal(metered: Image, colour: ColourPath) -> Image:
    """What the exposure loop looks at: balanced luma [e-/s]."""
    weights = np.array([0.25, 0.5, 0.25]) if colour.mono else np.array([0.2126, 0.7152, 0.0722])
    return np.asarray(metered @ (weights * colour.balance), dtype=np.float32)
