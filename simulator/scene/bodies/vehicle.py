"""Vehicles as solid bodies: which one belongs to a style, and how a side of it comes to stand."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from simulator.scene.bodies.car import ESTATE, HATCHBACK, car
from simulator.scene.bodies.motorcycle import LENGTH_M as MOTORCYCLE_M, motorcycle
from simulator.scene.bodies.parts import Materials
from simulator.scene.bodies.van import TRUCK_M, VAN_M, truck, van
from simulator.scene.geometry import facing_normal
from simulator.scene.mesh import Mesh
from simulator.units import FloatArray

DRAWN = 4
"""Bodies of each style that are kept once drawn."""


class Vehicle(NamedTuple):
    """A body over the origin that looks along -y, and where its lamps are [m].

    `front_lamp`, `rear_lamp` x and z of the right one of each pair.
    """

    mesh: Mesh
    length_m: float
    half_width_m: float
    front_lamp: tuple[float, float]
    rear_lamp: tuple[float, float]


@lru_cache(maxsize=DRAWN)
def _hatchback(m: Materials) -> Vehicle:
    return Vehicle(car(HATCHBACK, m), HATCHBACK.length, 0.885, (0.66, 0.68), (0.78, 0.84))


@lru_cache(maxsize=DRAWN)
def _estate(m: Materials) -> Vehicle:
    return Vehicle(car(ESTATE, m), ESTATE.length, 0.885, (0.66, 0.68), (0.78, 0.84))


@lru_cache(maxsize=DRAWN)
def _van(m: Materials) -> Vehicle:
    return Vehicle(van(m), VAN_M, 0.985, (0.76, 0.84), (0.92, 0.74))


@lru_cache(maxsize=DRAWN)
def _truck(m: Materials) -> Vehicle:
    return Vehicle(truck(m), TRUCK_M, 1.21, (0.94, 0.61), (1.0, 0.77))


@lru_cache(maxsize=DRAWN)
def _motorcycle(m: Materials) -> Vehicle:
    return Vehicle(motorcycle(m), MOTORCYCLE_M, 0.39, (0.0, 0.90), (0.0, 0.80))


STYLES: dict[str, Callable[[Materials], Vehicle]] = {
    "car": _hatchback,
    "estate": _estate,
    "van": _van,
    "truck": _truck,
    "motorcycle": _motorcycle,
}


class Placed(NamedTuple):
    """A vehicle in its place: the body, its pair of lamps (2, 3) [m], and where they shine."""

    mesh: Mesh
    lamps_m: FloatArray
    axis: FloatArray


def front_of(vehicle: Vehicle, foot_m: FloatArray, facing_deg: float) -> Placed:
    """A vehicle whose foremost point stands over a ground point (3,) and looks a way."""
    normal, across = _axes(facing_deg)
    foot = np.array([foot_m[0], foot_m[1], 0.0])
    x, z = vehicle.front_lamp
    return Placed(
        vehicle.mesh.placed(foot, facing_deg), _pair(foot + 0.02 * normal, across, x, z), normal
    )


def rear_of(vehicle: Vehicle, foot_m: FloatArray, facing_deg: float) -> Placed:
    """A vehicle whose rearmost point stands over a ground point and whose rear looks a way."""
    normal, across = _axes(facing_deg)
    foot = np.array([foot_m[0], foot_m[1], 0.0])
    x, z = vehicle.rear_lamp
    mesh = vehicle.mesh.placed(foot - vehicle.length_m * normal, facing_deg + 180.0)
    return Placed(mesh, _pair(foot + 0.02 * normal, across, x, z), normal)


def side_of(vehicle: Vehicle, foot_m: FloatArray, facing_deg: float, nose: str) -> Mesh:
    """A vehicle whose side, over a ground point, looks a way; its nose points left or right."""
    normal, _ = _axes(facing_deg)
    heading = facing_deg + (-90.0 if nose == "left" else 90.0)
    ahead = facing_normal(heading)
    foot = np.array([foot_m[0], foot_m[1], 0.0])
    origin = foot - vehicle.half_width_m * normal + ahead * (vehicle.length_m / 2.0)
    return vehicle.mesh.placed(origin, heading)


def _axes(facing_deg: float) -> tuple[FloatArray, FloatArray]:
    phi = np.radians(facing_deg)
    return facing_normal(facing_deg), np.array([np.cos(phi), np.sin(phi), 0.0])


def _pair(foot_m: FloatArray, across: FloatArray, x: float, z: float) -> FloatArray:
    up = np.array([0.0, 0.0, z])
    return np.stack([foot_m - across * x + up, foot_m + across * x + up])
