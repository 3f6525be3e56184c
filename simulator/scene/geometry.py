"""Where things are and where they land in the picture: view, cards, projection.

World axes in metres: x right, y away, z up. Picture axes in pixels: x right, y down, the centre
of pixel (i, j) at (i + 0.5, j + 0.5). The projection is that of a pinhole at the lens, with the
image distance v = f s / (s - f) of a lens focused at s (thin lens).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from simulator.domain import require
from simulator.units import FloatArray

WORLD_UP = np.array([0.0, 0.0, 1.0])


def unit(vector: FloatArray) -> FloatArray:
    """Vector of length one; a zero vector stays zero."""
    length = float(np.linalg.norm(vector))
    return vector / length if length > 0.0 else vector


def facing_normal(facing_deg: float, tilt_deg: float = 0.0) -> FloatArray:
    """Outward normal of an upright thing; facing 0 looks back at the camera (-y).

    Facing turns towards +x as it grows, tilt leans back so that the face turns upwards.

    Parameters
    ----------
    facing_deg
        Turn about the vertical [deg].
    tilt_deg
        How far the thing leans back [deg].

    Returns
    -------
    numpy.ndarray
        Unit vector (3,), world axes.

    References
    ----------
    Spherical coordinates; the zero and the sense of turning are this package's convention.

    Examples
    --------
    >>> [round(x) for x in facing_normal(90.0)]
    [1, 0, 0]
    """
    phi, tau = np.radians(facing_deg), np.radians(tilt_deg)
    return np.array([np.sin(phi) * np.cos(tau), -np.cos(phi) * np.cos(tau), np.sin(tau)])


def heading_velocity(speed_m_s: float, heading_deg: float) -> FloatArray:
    """Velocity of what moves over level ground; heading 0 comes towards the camera.

    Parameters
    ----------
    speed_m_s
        Speed, 0 or more [m/s].
    heading_deg
        Where it goes: 0 towards the camera (-y), 90 to the camera's right (+x) [deg].

    Returns
    -------
    numpy.ndarray
        Velocity (3,), world axes [m/s].

    Raises
    ------
    InputError
        For a speed below 0.

    References
    ----------
    As `facing_normal`.

    Examples
    --------
    >>> heading_velocity(10.0, 0.0).tolist()
    [0.0, -10.0, 0.0]
    """
    require("speed_m_s", speed_m_s, least=0.0, unit="m/s")
    return speed_m_s * facing_normal(heading_deg)


def thin_lens_image_distance(focal_length_m: float, object_distance_m: float) -> float:
    """Image distance v = f s / (s - f) of a thin lens; f for a far object.

    Parameters
    ----------
    focal_length_m
        f, above 0 [m].
    object_distance_m
        Distance s of the object from the lens, above f [m].

    Returns
    -------
    float
        Distance of the image from the lens [m].

    Raises
    ------
    ValueError
        If the object lies within the focal length.
    InputError
        For a focal length of 0 or less.

    References
    ----------
    Thin-lens equation 1/f = 1/s + 1/v of Gaussian optics, as in any textbook.

    Examples
    --------
    >>> round(thin_lens_image_distance(0.050, 2.0), 5)
    0.05128
    """
    require("focal_length_m", focal_length_m, above=0.0, unit="m")
    if object_distance_m <= focal_length_m:
        raise ValueError(
            f"object_distance_m must be beyond the focal length {focal_length_m:g} m"
            f" (got {object_distance_m:g})"
        )
    return focal_length_m * object_distance_m / (object_distance_m - focal_length_m)


@dataclass(frozen=True)
class View:
    """A pinhole view, with radial distortion.

    Attributes
    ----------
    width_px, height_px
        Size of the picture [px].
    focal_px
        Image distance of the lens [px]; the principal point is the middle of the picture.
    position_m
        The pinhole (3,), world axes [m].
    axes
        Rows right, down, forward (3, 3): unit vectors, world axes.
    distortion
        Radial distortion b of r_d / r_u - 1 = b r_d^2, 0 for a pinhole [1/px^2].

    Examples
    --------
    >>> view = View.aimed(np.zeros(3), np.array([0.0, 10.0, 0.0]), 1920, 1080, 2000.0)
    >>> place, depth = view.project(np.array([1.0, 10.0, 0.0]))
    >>> place.tolist(), float(depth), view.pixels_per_m(10.0)
    ([1160.0, 540.0], 10.0, 200.0)
    """

    width_px: int
    height_px: int
    focal_px: float
    position_m: FloatArray
    axes: FloatArray
    distortion: float = 0.0

    @classmethod
    def aimed(
        cls,
        position_m: FloatArray,
        aim_m: FloatArray,
        width_px: int,
        height_px: int,
        focal_px: float,
        distortion: float = 0.0,
    ) -> View:
        """View from a position to an aim point with a level horizon.

        Raises
        ------
        ValueError
            If aim and position coincide or the aim is straight up or down.
        """
        forward = unit(np.asarray(aim_m, float) - np.asarray(position_m, float))
        right = np.cross(forward, WORLD_UP)
        if not np.any(forward) or np.linalg.norm(right) < 1e-6:
            raise ValueError("the aim point must not coincide with, or stand above, the camera")
        right = unit(right)
        down = np.cross(forward, right)
        return cls(
            width_px,
            height_px,
            float(focal_px),
            np.asarray(position_m, float),
            np.stack([right, down, forward]),
            distortion,
        )

    @property
    def ray_matrix(self) -> FloatArray:
        """Matrix (3, 3): direction = matrix @ (x_px, y_px, 1), forward component one.

        The place is that of a pinhole picture, see `undistorted`.
        """
        right, down, forward = self.axes
        f = self.focal_px
        cx, cy = self.width_px / 2.0, self.height_px / 2.0
        return np.stack([right / f, down / f, forward - right * (cx / f) - down * (cy / f)], axis=1)

    @property
    def middle_px(self) -> FloatArray:
        """Principal point (2,) [px]."""
        return np.array([self.width_px / 2.0, self.height_px / 2.0])

    def distort(self, undistorted_px: FloatArray) -> FloatArray:
        """Places (..., 2) in the distorted picture of places in a pinhole picture [px].

        NaN where a pincushion distortion has no image of them.
        """
        offset = np.asarray(undistorted_px, float) - self.middle_px
        if self.distortion == 0.0:
            return offset + self.middle_px
        root = 1.0 - 4.0 * self.distortion * np.sum(offset**2, axis=-1, keepdims=True)
        share = 2.0 / (1.0 + np.sqrt(np.where(root >= 0.0, root, np.nan)))
        return np.asarray(offset * share + self.middle_px)

    def undistorted(self, picture_px: FloatArray) -> FloatArray:
        """Places (..., 2) in a pinhole picture of places in the distorted picture [px]."""
        offset = np.asarray(picture_px, float) - self.middle_px
        radius2 = np.sum(offset**2, axis=-1, keepdims=True)
        return np.asarray(offset / (1.0 + self.distortion * radius2) + self.middle_px)

    def direction(self, x_px: float, y_px: float) -> FloatArray:
        """Direction (3,) seen at a place of the picture, its forward component one."""
        x, y = self.undistorted(np.array([x_px, y_px]))
        return np.asarray(self.ray_matrix @ np.array([x, y, 1.0]))

    def project(self, points_m: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Picture positions (..., 2) [px] and depths (...) [m] along the axis.

        Points at or behind the lens plane get NaN positions.
        """
        undistort, depth = self.project_undistorted(points_m)
        return self.distort(undistort), depth

    def project_undistorted(self, points_m: FloatArray) -> tuple[FloatArray, FloatArray]:
        """As `project`, for a lens without distortion."""
        local = (np.asarray(points_m, float) - self.position_m) @ self.axes.T
        depth = local[..., 2]
        safe = np.where(depth > 1e-9, depth, np.nan)
        xy = local[..., :2] / safe[..., None] * self.focal_px
        return xy + np.array([self.width_px / 2.0, self.height_px / 2.0]), depth

    def flow(self, point_m: FloatArray, velocity_m_s: FloatArray) -> FloatArray:
        """Image velocity (2,) [px/s] of a point moving through the world.

        d/dt of the projection: (V_xy - (P_xy / P_z) V_z) f / P_z, all in camera axes.
        """
        local = self.axes @ (np.asarray(point_m, float) - self.position_m)
        speed = self.axes @ np.asarray(velocity_m_s, float)
        z = local[2]
        flow = (speed[:2] - local[:2] / z * speed[2]) * self.focal_px / z
        length = float(np.hypot(*flow))
        if self.distortion == 0.0 or length == 0.0:
            return np.asarray(flow)
        place = local[:2] / z * self.focal_px + self.middle_px
        step = flow / length * 0.01
        moved = self.distort(place + step) - self.distort(place - step)
        return np.asarray(moved / 0.02 * length)

    def pixels_per_m(self, depth_m: float, place_px: FloatArray | None = None) -> float:
        """Pixel density on a plane across the axis at a depth [px/m].

        Distortion changes it over the picture: the root of the ratio of areas at `place_px` (2,),
        without it on the axis.
        """
        density = self.focal_px / depth_m
        if place_px is None or self.distortion == 0.0:
            return density
        share = self.distortion * float(np.sum((np.asarray(place_px, float) - self.middle_px) ** 2))
        return float(density * np.sqrt((1.0 + share) ** 3 / (1.0 - share)))


@dataclass(frozen=True)
class Card:
    """A flat rectangle of materials in the world.

    Attributes
    ----------
    name
        What errors and results call it.
    corner_m
        Upper left corner as seen from its front (3,), world axes [m].
    across, down
        Unit vectors along the upper and the left edge (3,).
    width_m, height_m
        Size [m].
    texture
        Indices into the scene's material list (rows, columns); `CLEAR` lets the view through.
    group
        Index of its velocity, 0 for what stands still.
    casts_shadow
        Whether it keeps light from what lies behind it.
    variation, grain_m
        Relative standard deviation of the reflectance, and the size of its patches [m].
    glow
        Index of the light whose luminance the card shows, -1 for none.

    Examples
    --------
    >>> board = upright_card("board", np.zeros(3), 2.0, 1.0, np.zeros((1, 1)))
    >>> board.corner_m.tolist(), [round(x) for x in board.normal]
    ([-1.0, 0.0, 0.5], [0, -1, 0])
    """

    name: str
    corner_m: FloatArray
    across: FloatArray
    down: FloatArray
    width_m: float
    height_m: float
    texture: NDArray[np.uint8]
    group: int = 0
    casts_shadow: bool = True
    variation: float = 0.0
    grain_m: float = 0.05
    glow: int = -1

    @cached_property
    def normal(self) -> FloatArray:
        """Outward unit normal (3,), read-only."""
        normal = np.cross(self.down, self.across)
        normal.setflags(write=False)
        return normal

    @cached_property
    def corners_m(self) -> FloatArray:
        """The four corners (4, 3): upper left, upper right, lower right, lower left [m]; read-only.

        Asked for every light and pair of cards, hence kept.
        """
        a, d = self.across * self.width_m, self.down * self.height_m
        corners = np.stack(
            [self.corner_m, self.corner_m + a, self.corner_m + a + d, self.corner_m + d]
        )
        corners.setflags(write=False)
        return corners

    @property
    def centre_m(self) -> FloatArray:
        """The middle (3,) [m]."""
        return self.point_m(self.width_m / 2.0, self.height_m / 2.0)

    def point_m(self, across_m: float, down_m: float) -> FloatArray:
        """World point (3,) at a place on the card measured from its upper left corner [m]."""
        return self.corner_m + self.across * across_m + self.down * down_m


CLEAR = 255
"""Texture value through which the view passes."""


def upright_card(
    name: str,
    centre_m: FloatArray,
    width_m: float,
    height_m: float,
    texture: NDArray[np.uint8],
    *,
    facing_deg: float = 0.0,
    tilt_deg: float = 0.0,
    group: int = 0,
    casts_shadow: bool = True,
    variation: float = 0.0,
    grain_m: float = 0.05,
) -> Card:
    """A card by its centre, facing and tilt."""
    normal = facing_normal(facing_deg, tilt_deg)
    phi = np.radians(facing_deg)
    across = np.array([np.cos(phi), np.sin(phi), 0.0])
    down = np.cross(across, normal)
    corner = np.asarray(centre_m, float) - across * (width_m / 2.0) - down * (height_m / 2.0)
    return Card(
        name,
        corner,
        across,
        down,
        width_m,
        height_m,
        np.ascontiguousarray(texture, dtype=np.uint8),
        group,
        casts_shadow,
        variation,
        grain_m,
    )
