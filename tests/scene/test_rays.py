"""Rays cast at cards and ground, against plain geometry."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from simulator.scene import Scene, build_world
from simulator.scene.geometry import CLEAR, Card, upright_card
from simulator.scene.rays import (
    NOTHING,
    RayCaster,
    Triangles,
    blocks,
    card_triangles,
    opaque_rectangles,
)
from simulator.scene.world import World


@pytest.fixture(scope="module")
def world() -> World:
    return replace(build_world(Scene.load("car-park-led").model), meshes=())


@pytest.fixture
def rays() -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(1)
    origins = rng.uniform([-5.0, 2.0, 0.01], [5.0, 20.0, 4.0], (4000, 3))
    directions = rng.standard_normal((4000, 3))
    return origins, directions / np.linalg.norm(directions, axis=1)[:, None]


def plainly(world: World, origins: np.ndarray, directions: np.ndarray) -> tuple[np.ndarray, ...]:
    """Nearest thing and distance in float64, card by card."""
    with np.errstate(divide="ignore", invalid="ignore"):
        best = np.where(directions[:, 2] < 0.0, -origins[:, 2] / directions[:, 2], np.inf)
        thing = np.where(np.isfinite(best), len(world.cards), NOTHING)
        for i, card in enumerate(world.cards):
            if not blocks(card):
                continue
            t = ((card.corner_m - origins) @ card.normal) / (directions @ card.normal)
            place = origins + t[:, None] * directions - card.corner_m
            u, v = place @ card.across / card.width_m, place @ card.down / card.height_m
            hit = (t > 0.0) & (t < best) & (u >= 0.0) & (u < 1.0) & (v >= 0.0) & (v < 1.0)
            rows, columns = card.texture.shape
            column = np.where(hit, u * columns, 0.0).astype(int)
            row = np.where(hit, v * rows, 0.0).astype(int)
            hit &= card.texture[row, column] != CLEAR
            best, thing = np.where(hit, t, best), np.where(hit, i, thing)
    return thing, best


@pytest.mark.invariant
def test_nearest_agrees_with_plain_geometry(
    world: World, rays: tuple[np.ndarray, np.ndarray]
) -> None:
    hits = RayCaster.of(world).nearest(*rays)
    thing, distance = plainly(world, *rays)
    assert np.array_equal(hits.surface, thing)
    met = thing >= 0
    assert np.allclose(hits.distance_m[met], distance[met], atol=1e-5)
    place = rays[0] + np.where(met, hits.distance_m, 0.0)[:, None] * rays[1]
    ground = hits.surface == len(world.cards)
    assert np.allclose(hits.u[ground], place[ground, 0])
    on_card = met & ~ground
    for k in np.flatnonzero(on_card)[:200]:
        card = world.cards[hits.surface[k]]
        point = card.point_m(hits.u[k] * card.width_m, hits.v[k] * card.height_m)
        assert np.allclose(point, rays[0][k] + hits.distance_m[k] * rays[1][k], atol=1e-4)
        assert hits.front[k] == (rays[1][k] @ card.normal < 0.0)


@pytest.mark.invariant
def test_blocked_agrees_with_nearest(world: World, rays: tuple[np.ndarray, np.ndarray]) -> None:
    caster = RayCaster.of(world)
    end = np.array([2.0, 12.0, 6.0])
    hits = caster.nearest(rays[0], end - rays[0])
    assert np.array_equal(caster.blocked(rays[0], end), hits.distance_m < 1.0 - 1e-4)


@pytest.mark.by_hand
def test_holes_stay_open_and_ends_on_a_surface_are_seen(world: World) -> None:
    texture = np.zeros((4, 6), np.uint8)
    texture[1:3, 2:4] = CLEAR
    gate = upright_card("gate", np.array([0.0, 5.0, 1.0]), 3.0, 2.0, texture)
    caster = RayCaster.of(replace(world, cards=[gate]))
    origins = np.array([[0.0, 0.0, 1.0], [1.0, 0.0, 1.0], [0.0, 0.0, 3.0]])
    hits = caster.nearest(origins, np.array([[0.0, 1.0, 0.0]] * 3))
    assert hits.surface.tolist() == [NOTHING, 0, NOTHING]
    behind = origins + np.array([0.0, 10.0, 0.0])
    assert caster.blocked(origins, behind).tolist() == [False, True, False]
    on_it = origins + np.array([0.0, 5.0, 0.0])
    assert not np.any(caster.blocked(origins, on_it))
    below = np.array([[0.0, 1.0, -0.5]] * 3)
    assert np.all(caster.blocked(origins, below))


@pytest.mark.by_hand
def test_rectangles_cover_just_what_is_opaque() -> None:
    rng = np.random.default_rng(3)
    for share in (0.0, 0.3, 0.9, 1.0):
        texture = np.where(rng.random((13, 17)) < share, 1, CLEAR).astype(np.uint8)
        count = np.zeros(texture.shape, int)
        for top, left, end, right in opaque_rectangles(texture):
            count[top:end, left:right] += 1
        assert np.array_equal(count == 1, texture != CLEAR)
        assert count.max() <= 1
    assert len(opaque_rectangles(np.zeros((50, 60), np.uint8))) == 1


@pytest.mark.invariant
def test_a_mesh_of_a_card_is_met_where_the_card_is(
    world: World, rays: tuple[np.ndarray, np.ndarray]
) -> None:
    card: Card = world.cards[0]
    alone = replace(world, cards=[card])
    mesh = Triangles(card_triangles(card), 0)
    a = RayCaster.of(alone).nearest(*rays)
    b = RayCaster.made([], [mesh], 1).nearest(*rays)
    assert np.array_equal(a.surface, b.surface)
    assert np.array_equal(a.distance_m, b.distance_m)
    assert np.array_equal(b.triangle >= 0, (b.surface == 0))


@pytest.mark.invariant
def test_rays_give_the_same_bytes_on_any_number_of_threads(
    world: World, rays: tuple[np.ndarray, np.ndarray], monkeypatch: pytest.MonkeyPatch
) -> None:
    caster = RayCaster.of(world)
    many = [np.tile(part, (5, 1)) for part in rays]
    one = caster.nearest(*many)
    monkeypatch.setenv("NUMBA_NUM_THREADS", "1")
    other = caster.nearest(*many)
    assert all(np.array_equal(a, b) for a, b in zip(one, other, strict=True))
