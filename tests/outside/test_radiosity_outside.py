"""Form factors, furnace, energy and penumbras against closed forms."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.light import spectrum
from simulator.light.sources import NATURAL, LightSource
from simulator.light.spectra import filtered
from simulator.scene.geometry import Card, upright_card
from simulator.scene.kernels.irradiance import incident, packed_for_light
from simulator.scene.materials import Material
from simulator.scene.radiosity.field import light_field
from simulator.scene.radiosity.leaves import cut
from simulator.scene.radiosity.solve import views
from simulator.scene.rays import RayCaster
from simulator.scene.world import World
from simulator.units import WAVELENGTH_NM

DAYLIGHT = spectrum("daylight")
UP = np.array([0.0, 0.0, 1.0])


def grey(reflectance: float) -> Material:
    flat = np.full_like(WAVELENGTH_NM, reflectance)
    return Material("grey", flat, sheeting=None, status="computed", origin="definition")


def world_of(
    cards: list[Card], lights: list[LightSource], greys: tuple[float, ...] = (0.0,)
) -> World:
    """A world whose ground has the first grey; textures of cards count greys from 1."""
    materials = [grey(1.0), *(grey(r) for r in greys)]
    return World(cards, materials, lights, [], np.zeros((1, 3)), {}, 1, 0.0, 0.05)


def sky(lux: float, ground: float) -> list[LightSource]:
    bounce = filtered(DAYLIGHT, np.full_like(WAVELENGTH_NM, ground), "off the ground")
    return [
        LightSource("sky", "sky", DAYLIGHT, illuminance_lux=lux, owner=NATURAL),
        LightSource("ground", "bounce", bounce, illuminance_lux=lux, owner=NATURAL),
    ]


def square(
    name: str,
    corner: tuple[float, float, float],
    across: tuple[float, float, float],
    down: tuple[float, float, float],
    number: int = 1,
) -> Card:
    texture = np.full((1, 1), number, np.uint8)
    return Card(name, np.array(corner), np.array(across), np.array(down), 1.0, 1.0, texture)


PARALLEL = [
    square("low", (0.0, 5.0, 2.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0)),
    square("high", (0.0, 5.0, 3.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0)),
]
CORNER = [
    square("floor", (0.0, 5.0, 2.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0)),
    square("wall", (0.0, 6.0, 3.0), (1.0, 0.0, 0.0), (0.0, 0.0, -1.0)),
]


@pytest.mark.outside
@pytest.mark.parametrize(
    ("cards", "published"),
    # Howell, A Catalog of Radiation Heat Transfer Configuration Factors, C-11 and C-14
    [(PARALLEL, 0.1998), (CORNER, 0.2000)],
)
def test_form_factors_of_unit_squares(cards: list[Card], published: float) -> None:
    """Both squares look at each other with one of their sides; the others see nothing of them."""
    world = world_of(cards, [])
    leaves = cut(world)
    seen = views(RayCaster.of(world), leaves).patch
    area = leaves.area_m2
    facing = {0: [2, 3], 1: [2, 3]}[0]
    factors = []
    for one in (0, 1):
        mine = np.flatnonzero(leaves.side == one)
        other = np.flatnonzero(np.isin(leaves.side, facing))
        share = (np.isin(seen.what[mine], other) * seen.weights[mine]).sum(axis=1)
        factors.append(float(share @ area[mine] / area[mine].sum()))
    assert max(factors) == pytest.approx(published, rel=0.01)
    assert min(factors) == pytest.approx(0.0, abs=1e-12)


@pytest.mark.outside
def test_furnace_is_flat() -> None:
    """Everything of albedo one under an even sky is as bright as the sky, however it stands."""
    cards = [
        upright_card("a", np.array([0.0, 5.0, 1.0]), 2.0, 2.0, np.full((1, 1), 1, np.uint8)),
        upright_card("b", np.array([0.5, 6.0, 0.5]), 1.0, 1.0, np.full((1, 1), 1, np.uint8),
                     facing_deg=70.0, tilt_deg=30.0),
        upright_card("c", np.array([-0.5, 4.0, 0.4]), 1.0, 0.8, np.full((1, 1), 1, np.uint8),
                     facing_deg=-30.0),
    ]  # fmt: skip
    field = light_field(world_of(cards, sky(100.0, 1.0), (1.0,)))
    total = field.sky + field.indirect[:, 0].mean(axis=1)
    assert total == pytest.approx(np.ones_like(total), abs=0.005)


@pytest.mark.outside
def test_energy_is_conserved() -> None:
    """What a lamp in a closed box sends is what its walls take up: sum of (1 - rho) E A."""
    one = np.full((1, 1), 2, np.uint8)
    size, middle = 4.0, np.array([0.0, 8.0, 4.5])
    walls = []
    for axis in range(3):
        for way in (-1.0, 1.0):
            normal = np.zeros(3)
            normal[axis] = -way
            across = np.eye(3)[(axis + 1) % 3]
            down = np.cross(across, normal)
            corner = middle - normal * size / 2.0 - (across + down) * size / 2.0
            walls.append(Card(f"{axis} {way}", corner, across, down, size, size, one))
    lamp = LightSource(
        "lamp", "point", DAYLIGHT, middle, np.array([0.0, 0.0, -1.0]), intensity_cd=100.0,
        owner="lamp",
    )  # fmt: skip
    rho = 0.5
    world = world_of(walls, [lamp], (0.0, rho))
    field = light_field(world)
    leaves = field.leaves
    # a leaf sends rho X, so that it takes up (1 - rho) / rho of that
    inside = leaves.side < 12
    taken = field.sent[: len(leaves.box), 0].mean(axis=1) * (1.0 - rho) / rho
    area = leaves.area_m2
    # a Lambertian beam of 1 cd on its axis sends pi lm
    assert float((taken * area)[inside].sum()) == pytest.approx(np.pi, rel=0.01)


@pytest.mark.outside
@pytest.mark.parametrize(("height_m", "diameter_m"), [(8.0, 1.2), (5.0, 0.3)])
def test_width_of_a_penumbra(height_m: float, diameter_m: float) -> None:
    """Similar triangles: an edge h over the ground under a lamp of diameter D at height H throws a
    penumbra of D h / (H - h); light there follows the circular segment that is seen."""
    edge = 1.5
    screen = Card(
        "screen", np.array([-5.0, 0.0, edge]), np.array([1.0, 0.0, 0.0]), np.array([0.0, 1.0, 0.0]),
        5.0, 10.0, np.ones((1, 1), np.uint8),
    )  # fmt: skip
    lamp = LightSource(
        "lamp", "point", DAYLIGHT, np.array([0.0, 5.0, height_m]), np.array([0.0, 0.0, -1.0]),
        intensity_cd=100.0, owner="lamp", diameter_m=diameter_m,
    )  # fmt: skip
    scene, lights = packed_for_light(world_of([screen], [lamp]))
    x = np.linspace(-1.0, 1.0, 4001)
    points = np.stack([x, np.full_like(x, 5.0), np.zeros_like(x)], axis=1)
    lit = incident(points, UP, scene, lights)[:, 0]
    free = incident(points, UP, scene._replace(cards=scene.cards), lights._replace(
        blockers=np.zeros_like(lights.blockers)))[:, 0]  # fmt: skip
    share = lit / free
    width = diameter_m * edge / (height_m - edge)
    found = x[np.searchsorted(share, 0.999)] - x[np.searchsorted(share, 0.001)]
    assert found == pytest.approx(width, rel=0.10)
    # the share of a disc on one side of a chord at t radii from its middle
    t = np.clip(2.0 * x / width, -1.0, 1.0)
    segment = (np.arccos(-t) + t * np.sqrt(1.0 - t * t)) / np.pi
    assert share == pytest.approx(segment, abs=0.01)


@pytest.mark.outside
def test_sky_before_a_long_wall() -> None:
    """At a distance d before an endless wall of height h, level ground sees (1 + cos a)/2 of the
    sky, a = atan(h/d): the view factor of a plane strip (Howell, C-2)."""
    wall = upright_card(
        "wall", np.array([0.0, 10.0, 1.5]), 400.0, 3.0, np.full((1, 1), 1, np.uint8)
    )
    field = light_field(world_of([wall], sky(1.0, 0.0)))
    away = np.array([0.05, 0.3, 1.0, 3.0, 8.0])
    points = np.stack([np.zeros(5), 10.0 - away, np.zeros(5)], axis=1)
    seen, _ = field.at(points, np.tile(UP, (5, 1)))
    wanted = 0.5 * (1.0 + away / np.hypot(away, 3.0))
    assert seen == pytest.approx(wanted, abs=0.006)


@pytest.mark.invariant
def test_an_open_yard_is_as_before() -> None:
    """With nothing in it, ground and cards far from it get what an open horizon gives."""
    field = light_field(world_of([], sky(50.0, 0.3), (0.3,)))
    normals = np.array([[0.0, 0.0, 1.0], [0.0, -1.0, 0.0], [0.6, 0.0, 0.8], [0.0, 0.0, -1.0]])
    points = np.tile(np.array([1.0, 2.0, 1.5]), (4, 1))
    units = field.units(points, normals, np.array([50.0, 50.0]))
    assert units[:, 0] == pytest.approx(25.0 * (1.0 + normals[:, 2]), rel=1e-6)
    # told before the ground's reflectance
    assert units[:, 1] == pytest.approx(25.0 * (1.0 - normals[:, 2]), rel=1e-3, abs=1e-9)
