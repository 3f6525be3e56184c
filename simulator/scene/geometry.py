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

from simulator.units import FloatArray

WORLD_UP = np.array([0.0, 0.0, 1.0])


def unit(vector: FloatArray) -> FloatArray:
    """Vector of length one; a zero vector stays zero."""
    length = float(np.linalg.norm(vector))
    return vector / length if length > 0.0 else vector


def facing_normal(facing_deg: float, tilt_deg: float = 0.0) -> FloatArray:
    """Outward normal (3,) of an upright thing; facing 0 looks back at the camera (-y).

    Facing turns towards +x as it grows, tilt leans back so that the face turns upwards.
    """
    phi, tau = np.radians(facing_deg), np.radians(tilt_deg)
    return np.array([np.sin(phi) * np.cos(tau), -np.cos(phi) * np.cos(tau), np.sin(tau)])


def heading_velocity(speed_m_s: float, heading_deg: float) -> FloatArray:
    """Velocity (3,) [m/s]; heading 0 comes towards the camera."""
    return speed_m_s * facing_normal(heading_deg)


def thin_lens_image_distance(focal_length_m: float, object_distance_m: float) -> float:
    """Image distance v = f s / (s - f) [m] of a thin lens; f for a far object.

    Raises
    ------
    ValueError
        If the object lies within the focal length.
    """
    if object_distance_m <= focal_length_m:
        raise ValueError(
            f"object_distance_m must be beyond the focal length {focal_length_m:g} m"
            f" (got {object_distance_m:g})"
        )
    return focal_length_m * object_distance_m / (object_distance_m - focal_length_m)


@dataclass(frozen=True)
class View:
    """A pinhole view.

    `axes` holds the rows right, down, forward (unit vectors, world axes); `focal_px` is the image
    distance in pixels; the principal point is the middle of the picture. `bend` b [1/px^2] is the
    radial distortion r_d / r_u - 1 = b r_d^2 of `scene.straight`, 0 for a pinhole.
    """

    width_px: int
    height_px: int
    focal_px: float
    position_m: FloatArray
    axes: FloatArray
    bend: float = 0.0

    @classmethod
    def aimed(
        cls,
        position_m: FloatArray,
        aim_m: FloatArray,
        width_px: int,
        height_px: int,
        focal_px: float,
        bend: float = 0.0,
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
            bend,
        )

    @property
    def ray_matrix(self) -> FloatArray:
        """Matrix (3, 3): direction = matrix @ (x_px, y_px, 1), forward component one.

        The place is that of a pinhole picture, see `straightened`.
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
        if self.bend == 0.0:
            return offset + self.middle_px
        root = 1.0 - 4.0 * self.bend * np.sum(offset**2, axis=-1, keepdims=True)
        share = 2.0 / (1.0 + np.sqrt(np.where(root >= 0.0, root, np.nan)))
        return np.asarray(offset * share + self.middle_px)

    def straightened(self, picture_px: FloatArray) -> FloatArray:
        """Places (..., 2) in a pinhole picture of places in the distorted picture [px]."""
        offset = np.asarray(picture_px, float) - self.middle_px
        radius2 = np.sum(offset**2, axis=-1, keepdims=True)
        return np.asarray(offset / (1.0 + self.bend * radius2) + self.middle_px)

    def direction(self, x_px: float, y_px: float) -> FloatArray:
        """Direction (3,) seen at a place of the picture, its forward component one."""
        x, y = self.straightened(np.array([x_px, y_px]))
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
        if self.bend == 0.0 or length == 0.0:
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
        if place_px is None or self.bend == 0.0:
            return density
        share = self.bend * float(np.sum((np.asarray(place_px, float) - self.middle_px) ** 2))
        return float(density * np.sqrt((1.0 + share) ** 3 / (1.0 - share)))


@dataclass(frozen=True)
class Card:
    """A flat rectangle of materials in the world.

    `corner_m` is the upper left corner as seen from its front, `across` and `down` are unit
    vectors along the upper and left edges. `texture` (rows, columns) holds indices into the scene's
    material list; `CLEAR` lets the view through. `group` is 0 for what stands still.
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
    """Index of the light whose luminance the card shows, -1 for none."""

    @cached_property
    def normal(self) -> FloatArray:
        """Outward unit normal (3,), read-only."""
        found = np.cross(self.down, self.across)
        found.setflags(write=False)
        return found

    @cached_property
    def corners_m(self) -> FloatArray:
        """The four corners (4, 3): upper left, upper right, lower right, lower left [m]; read-only.

        Asked for every light and pair of cards, hence kept.
        """
        a, d = self.across * self.width_m, self.down * self.height_m
        found = np.stack(
            [self.corner_m, self.corner_m + a, self.corner_m + a + d, self.corner_m + d]
        )
        found.setflags(write=False)
        return found

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
