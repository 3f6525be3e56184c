"""Which hours of a year are judged, and how the others follow from them.

Every hour is a point in a space where near points look alike to the camera: the logarithm of the
natural light on the ground, the direction of the sun as far as it casts a beam, that of the moon as
far as it gives a part of the light; hours of other lamp settings are infinitely far. Hours far from
all judged ones are judged first, then those where the probability changes most. Between them the
logit of the probability is interpolated by radial basis functions of the plain distance, which in
one dimension are straight lines from node to node (Fasshauer, Meshfree Approximation Methods with
MATLAB, 2007, from memory).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import RBFInterpolator
from scipy.special import expit, logit

from simulator.light.sky_spectra import direct_share
from simulator.light.sun_moon import SkyPosition, moon_illuminance_lux
from simulator.units import FloatArray

LEAST_LUX = 3e-4
"""Natural light below this counts alike [lx]; chosen by us, a third of a clear night sky."""
LAMP_SHARE = 0.1
"""Natural light below this share of the lamps' on the target counts alike (chosen by us)."""
BEAM_DEG = 3.0
"""Altitude over which the sun's beam becomes as important as its direction (chosen by us) [deg]."""
MOON_WEIGHT = 0.5
NEIGHBOURS = 3
LEAST_CHANGE = 0.12
"""Change of probability that every gap between nodes is taken to hide (chosen by us)."""


@dataclass(frozen=True)
class Space:
    """Points (n, d) of the hours, and the number (n,) of their lamp setting."""

    points: FloatArray
    group: NDArray[np.int64]


def features(
    at: SkyPosition,
    level_lux: FloatArray,
    lamps: NDArray[np.bool_],
    bearing_deg: float,
    cloud_cover: float,
    lamp_lux: Sequence[float],
) -> Space:
    """The space of the hours.

    Parameters
    ----------
    level_lux
        Natural illuminance (n,) of level ground [lx].
    lamps
        Which lamp is on (n, lamps).
    bearing_deg
        Compass bearing of the camera's view [deg].
    lamp_lux
        Illuminance of the target by each lamp [lx].
    """
    group = np.unique(lamps, axis=0, return_inverse=True)[1].reshape(-1)
    floor = LEAST_LUX + LAMP_SHARE * (lamps @ np.asarray(lamp_lux, dtype=float))
    open_share = 1.0 - cloud_cover
    sun = np.asarray(at.sun_altitude_deg)
    weight = np.where(sun > 0.0, 1.0 - np.exp(-np.maximum(sun, 0.0) / BEAM_DEG), 0.0)
    weight = weight * open_share
    moon_lux = moon_illuminance_lux(
        at.moon_altitude_deg, at.moon_phase_deg, at.moon_parallax_deg
    )  # fmt: skip
    heights = np.linspace(0.0, 90.0, 31)
    shares = np.interp(at.moon_altitude_deg, heights, [direct_share(float(h)) for h in heights])
    share = np.minimum(1.0, moon_lux * shares * open_share / (level_lux + floor))
    points = np.column_stack(
        [
            np.log10(level_lux + floor),
            weight[:, None] * _towards(sun, at.sun_bearing_deg - bearing_deg),
            MOON_WEIGHT
            * share[:, None]
            * _towards(np.asarray(at.moon_altitude_deg), at.moon_bearing_deg - bearing_deg),
        ]
    )
    return Space(points, np.asarray(group, dtype=np.int64))


def _towards(altitude_deg: FloatArray, azimuth_deg: FloatArray) -> FloatArray:
    """Unit vectors (n, 3) of places in the sky: right, ahead, up."""
    alt, az = np.radians(altitude_deg), np.radians(azimuth_deg)
    return np.column_stack([np.sin(az) * np.cos(alt), np.cos(az) * np.cos(alt), np.sin(alt)])


def _distances(space: Space, to: int) -> FloatArray:
    """Distance (n,) of every point to one; infinite to other lamp settings."""
    d = np.linalg.norm(space.points - space.points[to], axis=1)
    return np.where(space.group == space.group[to], d, np.inf)


def first_nodes(space: Space, count: int) -> list[int]:
    """Hours spread over the space, one of each lamp setting first.

    Each next one is the farthest from those already chosen (Gonzalez, Theoretical Computer Science
    38 (1985) 293, from memory).
    """
    chosen: list[int] = []
    nearest = np.full(len(space.points), np.inf)
    for g in np.unique(space.group):
        inside = np.flatnonzero(space.group == g)
        # the darkest hour of each setting
        chosen.append(int(inside[np.argmin(space.points[inside, 0])]))
        nearest = np.minimum(nearest, _distances(space, chosen[-1]))
    while len(chosen) < min(count, len(space.points)):
        far = int(np.argmax(nearest))
        if nearest[far] <= 0.0:
            break
        chosen.append(far)
        nearest = np.minimum(nearest, _distances(space, far))
    return chosen


def next_nodes(space: Space, value: Mapping[int, float], count: int) -> list[int]:
    """Hours that are far from the judged ones, the more where the probability changes.

    Parameters
    ----------
    value
        Probability by index of the judged hours.
    """
    nodes = np.array(list(value))
    known = np.array([value[int(i)] for i in nodes])
    distance = np.column_stack([_distances(space, int(i)) for i in nodes])
    order = np.argsort(distance, axis=1)[:, :NEIGHBOURS]
    reached = np.isfinite(np.take_along_axis(distance, order, axis=1))
    near = np.where(reached, known[order], np.nan)
    change = np.nanmax(near, axis=1) - np.nanmin(near, axis=1)
    nearest = distance.min(axis=1)
    chosen: list[int] = []
    while len(chosen) < count:
        best = int(np.argmax(nearest * (LEAST_CHANGE + change)))
        if nearest[best] <= 1e-9:
            break
        chosen.append(best)
        nearest = np.minimum(nearest, _distances(space, best))
    return chosen


def interpolated(space: Space, value: Mapping[int, float], trials: int) -> FloatArray:
    """Probability (n,) of every hour from that of the judged ones.

    Probabilities are drawn towards one half by half a trial, (p T + 1/2)/(T + 1), so that their
    logits are finite, and back again. Nothing leaves the range of the nodes of a lamp setting.
    """
    out = np.empty(len(space.points))
    nodes = np.array(list(value))
    known = logit((np.array([value[int(i)] for i in nodes]) * trials + 0.5) / (trials + 1.0))
    for g in np.unique(space.group):
        inside = np.flatnonzero(space.group == g)
        own = space.group[nodes] == g
        if np.count_nonzero(own) == 1:
            out[inside] = known[own][0]
            continue
        surface = RBFInterpolator(space.points[nodes[own]], known[own], kernel="linear", degree=0)
        values = surface(space.points[inside])
        out[inside] = np.clip(values, known[own].min(), known[own].max())
    return np.asarray(np.clip((expit(out) * (trials + 1.0) - 0.5) / trials, 0.0, 1.0))
