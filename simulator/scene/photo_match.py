"""Where a photograph of the site was taken from: its camera matched from what is known of it.

A pinhole camera with square pixels, its axis through the middle of the picture, over level ground
at z = 0; it stands above the origin and looks along y. With the focal length f [px], tilt t and the
height h, the ray of a place (x, y) from the middle is d = F + (x R + y D) / f, and meets the ground
at h / -d_z (Hartley and Zisserman, Multiple View Geometry, 2nd ed., ch. 6 and 8). Unknown figures
are found by least squares from the horizon and from known lengths.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from simulator.errors import InputError
from simulator.scene.model_photo import KnownLength, SitePhoto
from simulator.units import FloatArray

PICK_PX = 1.0
"""How well places are picked in the photograph [px] (common practice, no source)."""
MOST_SPREAD = 0.1
"""Relative uncertainty of focal length and height from which a match is refused (chosen by us)."""
MOST_MISFIT = 0.25
"""Relative misfit of a known length from which a match is refused (chosen by us)."""
ALIKE = 1.0
"""Answers whose misfit differs by less than this, in squared picks of one pixel, fit as well."""
STARTS_DEG = ((30.0, 5.0), (60.0, 10.0), (60.0, 35.0), (95.0, 20.0))
"""Angles of view and tilts from which the match starts."""
LEVEL_LEAST = 1e-6
AIM_M = 15.0


@dataclass(frozen=True)
class PhotoCamera:
    """The camera of a photograph.

    Attributes
    ----------
    size_px
        Width and height of the picture [px].
    height_m
        Of the lens above the ground [m].
    focal_px
        Focal length [px].
    tilt_rad, roll_rad
        How far it looked down, and how far the picture's left side hangs lower than the right.
    """

    size_px: tuple[int, int]
    height_m: float
    focal_px: float
    tilt_rad: float
    roll_rad: float = 0.0

    @property
    def view_deg(self) -> float:
        """Angle of view across the picture [deg]."""
        return float(np.degrees(2.0 * np.arctan(0.5 * self.size_px[0] / self.focal_px)))

    @property
    def position_m(self) -> FloatArray:
        """The lens (3,) [m]."""
        return np.array([0.0, 0.0, self.height_m])

    @property
    def axes(self) -> FloatArray:
        """Rows right, down and forward (3, 3) of the picture as it was taken."""
        s, c = np.sin(self.tilt_rad), np.cos(self.tilt_rad)
        right, down = np.array([1.0, 0.0, 0.0]), np.array([0.0, -s, -c])
        a, b = np.cos(self.roll_rad), np.sin(self.roll_rad)
        return np.stack([a * right - b * down, b * right + a * down, np.array([0.0, c, -s])])

    def rays(self, places_px: FloatArray) -> FloatArray:
        """Directions (n, 3) of places (n, 2) [px], their component along the axis one."""
        flat = (np.atleast_2d(places_px) - 0.5 * np.array(self.size_px)) / self.focal_px
        return np.asarray(np.concatenate([flat, np.ones((len(flat), 1))], axis=1) @ self.axes)

    def ground_at(self, places_px: FloatArray) -> FloatArray:
        """Places of the ground (n, 3) [m] that are seen at places (n, 2) [px]; infinite above the
        horizon."""
        rays = self.rays(places_px)
        with np.errstate(divide="ignore", invalid="ignore"):
            far = np.where(rays[:, 2] < -LEVEL_LEAST, self.height_m / -rays[:, 2], np.inf)
            return np.asarray(self.position_m + far[:, None] * rays)

    def project(self, points_m: FloatArray) -> FloatArray:
        """Places (n, 2) [px] of points (n, 3) [m]; NaN behind the lens."""
        seen = (points_m - self.position_m) @ self.axes.T
        depth = np.where(seen[:, 2] > LEVEL_LEAST, seen[:, 2], np.nan)
        return np.asarray(
            0.5 * np.array(self.size_px) + self.focal_px * seen[:, :2] / depth[:, None]
        )

    def length_m(self, known: KnownLength) -> float:
        """The length as this camera sees it [m]; NaN where an end lies above the horizon."""
        ends = np.array([known.from_px, known.to_px])
        foot = self.ground_at(ends[:1])[0]
        if not np.all(np.isfinite(foot)):
            return float("nan")
        if known.upright:
            # the place on the plumb line over the foot that is nearest to the ray of the top
            ray = self.rays(ends[1:])[0]
            level = ray[:2] @ ray[:2]
            far = (foot[:2] @ ray[:2]) / max(level, LEVEL_LEAST)
            return float(self.height_m + far * ray[2])
        other = self.ground_at(ends[1:])[0]
        return float(np.linalg.norm(other - foot)) if np.all(np.isfinite(other)) else float("nan")


@dataclass(frozen=True)
class Match:
    """A matched camera, how far known lengths are off it (relative, the worst), and the relative
    uncertainty of its focal length and height if places were picked to one pixel."""

    camera: PhotoCamera
    misfit: float
    focal_spread: float
    height_spread: float


@lru_cache(maxsize=32)
def match(photo: SitePhoto) -> Match:
    """The camera of a photograph from what is known of it.

    Parameters
    ----------
    photo
        What the scene file says of it.

    Returns
    -------
    Match
        The camera and how sure it is.

    Raises
    ------
    InputError
        If what is given does not tell the camera, or contradicts itself.

    Examples
    --------
    >>> photo = SitePhoto(file="site.jpg", size_px=(1600, 900), view_deg=60.0, tilt_deg=10.0,
    ...                   height_m=4.0, illuminance_lux=10_000.0)
    >>> camera = match(photo).camera
    >>> np.round(camera.ground_at(np.array([[800.0, 450.0]])), 2).tolist()
    [[0.0, 22.69, 0.0]]
    """
    width = photo.size_px[0]
    given = {
        "focal": None if photo.view_deg is None
        else np.log(0.5 * width / np.tan(np.radians(photo.view_deg / 2.0))),
        "tilt": None if photo.tilt_deg is None else np.radians(photo.tilt_deg),
        "height": None if photo.height_m is None else np.log(photo.height_m),
        "roll": None if photo.horizon_px is not None else 0.0,
    }  # fmt: skip
    free = [name for name, value in given.items() if value is None]
    equations = len(photo.length) + 2 * (photo.horizon_px is not None)
    if len(free) > equations:
        raise _short(photo, free)

    def camera(x: Sequence[float] | FloatArray) -> PhotoCamera:
        values = {**given, **dict(zip(free, x, strict=True))}
        return PhotoCamera(
            photo.size_px, float(np.exp(values["height"])), float(np.exp(values["focal"])),
            float(values["tilt"]), float(values["roll"]),
        )  # fmt: skip

    if not free:
        return _judged(photo, camera([]), dict.fromkeys(("focal", "height"), 0.0))

    def off(x: FloatArray) -> FloatArray:
        return _residuals(photo, camera(x))

    fits = []
    for view, tilt in STARTS_DEG:
        start = {"focal": np.log(0.5 * width / np.tan(np.radians(view / 2.0))),
                 "tilt": np.radians(tilt), "height": np.log(3.0), "roll": 0.0}  # fmt: skip
        fits.append(least_squares(off, [start[name] for name in free], x_scale="jac", max_nfev=400))
    best = min(fits, key=lambda one: one.cost)
    # others that fit as well within what a pick of one pixel makes
    apart = {
        name: max(abs(one.x[k] - best.x[k]) for one in fits if one.cost <= best.cost + ALIKE)
        for k, name in enumerate(free)
    }
    return _judged(photo, camera(best.x), _spread(free, best.jac, apart))


def _spread(
    free: list[str], slope: NDArray[np.float64], apart: dict[str, float]
) -> dict[str, float]:
    """Uncertainty of every figure: from picks of one pixel, or from other answers that fit too."""
    out = dict.fromkeys(("focal", "tilt", "height", "roll"), 0.0)
    weak = np.linalg.matrix_rank(slope) < len(free)
    deviation = np.sqrt(np.diag(np.linalg.pinv(slope.T @ slope)))
    for name, one in zip(free, deviation, strict=True):
        out[name] = np.inf if weak else max(float(one), apart[name])
    return out


def _residuals(photo: SitePhoto, camera: PhotoCamera) -> FloatArray:
    """How far horizon and lengths are off, in units of what a pick of one pixel makes."""
    out = []
    if photo.horizon_px is not None:
        rays = camera.rays(np.array(photo.horizon_px))
        out += list(camera.focal_px * rays[:, 2] / np.hypot(rays[:, 0], rays[:, 1]) / PICK_PX)
    for known in photo.length:
        seen = camera.length_m(known)
        pixels = float(np.hypot(*np.subtract(known.to_px, known.from_px)))
        share = np.log(seen / known.length_m) if seen > 0.0 else 5.0
        out.append(share * pixels / (np.sqrt(2.0) * PICK_PX))
    return np.array(out)


def _judged(photo: SitePhoto, camera: PhotoCamera, spread: dict[str, float]) -> Match:
    """The match, refused where it is unsure or contradicts what was given."""
    off = [abs(camera.length_m(one) / one.length_m - 1.0) for one in photo.length]
    if off and not max(off) <= MOST_MISFIT:
        worst = photo.length[int(np.argmax(np.nan_to_num(off, nan=np.inf)))]
        raise InputError(
            "What is known of the photograph contradicts itself.",
            key=f"site_photo.length.{worst.name}",
            given=f"{worst.length_m:g} m, where the rest says {camera.length_m(worst):.3g} m",
            allowed=f"lengths that agree within {MOST_MISFIT:.0%}",
            fix="check its ends in pixels, whether it lies on the ground, and the other figures",
        )
    for name, key in (("focal", "view_deg"), ("height", "height_m")):
        if not spread[name] <= MOST_SPREAD:
            raise InputError(
                "The photograph's camera cannot be told from what is given.",
                key=f"site_photo.{key}",
                given="a pixel more or less at the picked places changes it by over"
                f" {MOST_SPREAD:.0%}",
                allowed=key,
                fix=f"give {key}, or a longer length; of two lengths one should run along the view",
            )
    return Match(camera, max(off, default=0.0), spread["focal"], spread["height"])


def _short(photo: SitePhoto, free: list[str]) -> InputError:
    names = {"focal": "view_deg", "tilt": "tilt_deg", "height": "height_m", "roll": "horizon_px"}
    known = len(photo.length)
    return InputError(
        "The photograph's camera cannot be told from what is given.",
        key="site_photo",
        given=f"{known} known length{'' if known == 1 else 's'},"
        f" {'a' if photo.horizon_px else 'no'} horizon; missing:"
        f" {', '.join(names[name] for name in free if name != 'roll')}",
        allowed="height_m, view_deg and tilt_deg; or horizon_px and two known lengths; or as many"
        " of them as tell the three figures",
        fix="add one of them",
    )


def station_of(photo: SitePhoto) -> dict[str, object]:
    """The place of the photograph's camera as a table `station` of a scene file."""
    camera = match(photo).camera
    forward = camera.axes[2]
    far = AIM_M
    if forward[2] < -LEVEL_LEAST:
        far = min(far, camera.height_m / -float(forward[2]))
    aim = camera.position_m + far * forward
    aim[2] = max(aim[2], 0.0)
    return {"height_m": round(camera.height_m, 4), "aim_m": [round(float(v), 4) for v in aim]}
