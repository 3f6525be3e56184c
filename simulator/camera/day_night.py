"""Day or night: what the camera itself believes the light to be, and what it then does."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from simulator.camera.in_scene import REFERENCE_LIGHT, CameraInScene, Mode
from simulator.camera.model import DayNight
from simulator.camera.response import coefficients
from simulator.domain import require
from simulator.light.spectra import spectrum
from simulator.units import WAVELENGTH_NM, FloatArray, Image

REFERENCE_REFLECTANCE = 0.18


def estimated_illuminance(in_scene: CameraInScene, metered: Image, mode: Mode = "day") -> float:
    """Illuminance that would give this mean signal on an 18 % grey scene in daylight [lx].

    This is how a camera without a light sensor judges the light: it knows only its own signal,
    shutter and gain. By day it is the green channel, and infrared does not count, since the filter
    is in when it looks. By night the filter is out: near infrared counts as if it were daylight
    (with daylight's own share of it), and an infrared lamp makes the scene seem bright.

    Parameters
    ----------
    in_scene
        The camera in its scene.
    metered
        Light (rows, columns, 3) in the mode [e-/s per pixel].
    mode
        "day" with the infrared-cut filter, or "night" without it.

    Returns
    -------
    float
        Illuminance that the camera goes by [lx].

    References
    ----------
    Reflected-light metering on a mean reflectance of 18 % (common practice, no source).

    Examples
    --------
    >>> from simulator.camera import Camera, place_camera
    >>> from simulator.scene import Scene, build_world
    >>> scene = Scene.load("depot-gate-infrared").model
    >>> camera = Camera.load("fixed-2mp-lowlight").model
    >>> in_scene = place_camera(build_world(scene), scene.station, camera)
    >>> round(estimated_illuminance(in_scene, np.full((9, 16, 3), 100.0)), 3)
    0.28
    """
    grey = np.full_like(WAVELENGTH_NM, REFERENCE_REFLECTANCE)
    one_lux = coefficients(
        spectrum(REFERENCE_LIGHT).power[None],
        grey[None],
        in_scene.response(mode),
        in_scene.pitch_m**2,
    )
    return float(metered[:, :, 1].mean() / (one_lux[0, 0, 1] * in_scene.image_factor))


def choose_mode(settings: DayNight, estimated_lux: float, before: Mode = "day") -> Mode:
    """Mode after the thresholds; between the two the camera stays as it was before.

    Parameters
    ----------
    settings
        Thresholds, or a mode that is held.
    estimated_lux
        Illuminance that the camera goes by [lx].
    before
        Mode up to now.

    Returns
    -------
    str
        "day" or "night".

    References
    ----------
    Two thresholds with hysteresis between them (common practice, no source).

    Examples
    --------
    >>> settings = DayNight(to_night_lux=3.0, to_day_lux=8.0)
    >>> [choose_mode(settings, lux, before="night") for lux in (1.0, 5.0, 10.0)]
    ['night', 'night', 'day']
    """
    if settings.mode != "auto":
        return settings.mode
    if estimated_lux < settings.to_night_lux:
        return "night"
    if estimated_lux > settings.to_day_lux:
        return "day"
    return before


@dataclass(frozen=True)
class ModePath:
    """Mode over time; all arrays (n,).

    Attributes
    ----------
    time_s
        Moments [s].
    night
        Whether the camera is in night mode after looking at that moment.
    believed_lux
        Illuminance the camera goes by at that moment [lx].

    Examples
    --------
    >>> path = mode_path(DayNight(delay_s=2.0), np.arange(6.0), 0.5)
    >>> path.night.tolist(), path.switches
    ([False, False, True, True, True, True], 1)
    """

    time_s: FloatArray
    night: NDArray[np.bool_]
    believed_lux: FloatArray

    @property
    def switches(self) -> int:
        """How often the filter moved."""
        return int(np.count_nonzero(np.diff(self.night)))


def mode_path(
    settings: DayNight,
    time_s: ArrayLike,
    day_lux: ArrayLike,
    night_lux: ArrayLike | None = None,
    *,
    start: Mode = "day",
    knows_infrared: bool = True,
) -> ModePath:
    """Mode of the camera as the light changes, with thresholds, hysteresis and delay.

    The camera switches once its belief has lain beyond the threshold for `delay_s`. By day it
    believes `day_lux`. By night it sees `night_lux`, in which infrared counts. A camera that takes
    this at its word hunts under an infrared lamp: it believes in day, puts the filter in, finds the
    dark, and so on, once every two delays. One that `knows_infrared` compares what it saw just
    before the filter left with what it sees just after, lays the difference to infrared, and takes
    it off from then on. That holds while the infrared stays as it was; if the lamp goes out at
    night, such a camera waits longer for day than it should.

    Parameters
    ----------
    settings
        Thresholds and delay, or a mode that is held.
    time_s
        Moments (n,) in order [s].
    day_lux, night_lux
        What the camera would estimate with the filter in and out (n,), or one number, 0 or more
        [lx]; without `night_lux` infrared adds nothing.
    start
        Mode before the first moment. A camera that starts at night and knows infrared knows it from
        the first moment on.
    knows_infrared
        Whether the camera takes infrared off what it sees at night.

    Returns
    -------
    ModePath
        Mode and belief at every moment.

    Raises
    ------
    ValueError
        If times do not grow.
    InputError
        For an illuminance below 0.

    References
    ----------
    Thresholds with delay are common practice; how a camera learns its infrared is a rule of
    our own.

    Examples
    --------
    Under an infrared lamp a camera that believes its signal hunts; the other goes to night once:

    >>> minute = np.arange(0.0, 60.0)
    >>> mode_path(DayNight(), minute, 1.0, 21.0, knows_infrared=False).switches
    10
    >>> mode_path(DayNight(), minute, 1.0, 21.0).switches
    1
    """
    require("day_lux", day_lux, least=0.0, unit="lx")
    if night_lux is not None:
        require("night_lux", night_lux, least=0.0, unit="lx")
    time = np.asarray(time_s, dtype=np.float64)
    if np.any(np.diff(time) <= 0.0):
        raise ValueError("time_s must grow from moment to moment")
    by_day = np.broadcast_to(np.asarray(day_lux, dtype=np.float64), time.shape)
    by_night = np.broadcast_to(
        by_day if night_lux is None else np.asarray(night_lux, dtype=np.float64), time.shape
    )
    mode: Mode = start if settings.mode == "auto" else settings.mode
    infrared = max(0.0, float(by_night[0] - by_day[0])) if mode == "night" else 0.0
    since: float | None = None
    night = np.zeros(time.shape, dtype=np.bool_)
    believed = np.zeros(time.shape)
    for i, now in enumerate(time):
        seen = by_day[i] if mode == "day" else by_night[i]
        if mode == "night" and knows_infrared:
            seen -= infrared
        believed[i] = seen
        wanted = choose_mode(settings, float(seen), mode)
        if wanted == mode:
            since = None
        else:
            since = float(now) if since is None else since
            if now - since >= settings.delay_s:
                mode, since = wanted, None
                infrared = max(0.0, float(by_night[i] - by_day[i]))
        night[i] = mode == "night"
    return ModePath(time, night, believed)
