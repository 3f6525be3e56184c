"""Solid bodies beside cards: what is seen of them, and the light they keep away."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from simulator.camera import Camera, place_camera
from simulator.scene import Scene, build_world
from simulator.scene.geometry import Card, unit
from simulator.scene.kernels.light_map import no_map
from simulator.scene.kernels.pack import noise_tile
from simulator.scene.kernels.patterns import field
from simulator.scene.kernels.radiance import STATIC, trace_layer
from simulator.scene.kernels.seen import Sampling
from simulator.scene.mesh import Mesh, box


def _cards_of(crate: Mesh, material: int) -> list[Card]:
    """The sides of a box as six cards."""
    sides = []
    for k in range(6):
        low_left, _, upper_right, corner = crate.vertices_m[4 * k : 4 * k + 4]
        across, down = upper_right - corner, low_left - corner
        width, height = float(np.linalg.norm(across)), float(np.linalg.norm(down))
        texture = np.full((1, 1), material, np.uint8)
        sides.append(Card(f"side {k}", corner, unit(across), unit(down), width, height, texture))
    return sides


@pytest.mark.invariant
def test_a_box_of_triangles_is_the_box_of_cards() -> None:
    """Invariant: light, shadows and picture of the same body told in either way agree."""
    scene, camera = Scene.load("loading-bay-dusk").model, Camera.load("fixed-2mp-lowlight").model
    bare = build_world(scene)
    material = 2
    crate = box("crate", np.array([1.2, 15.0, 0.0]), (1.0, 1.2, 0.8), material=material)
    sides = _cards_of(crate, material)
    solid = replace(crate, card=len(bare.cards))
    worlds = [
        replace(bare, cards=bare.cards + sides),
        replace(bare, cards=[*bare.cards, sides[0]], meshes=(*bare.meshes, solid)),
    ]
    sampling = Sampling(0.0, 0.0, 2.0, 540, 960)
    rates, whole, lux = [], [], []
    for world in worlds:
        at = place_camera(world, scene.station, camera)
        lights = at.lights("day")
        direct = lights._replace(light_map=no_map())
        layer = trace_layer(sampling, at.packed_scene, direct, at.packed_view, mode=STATIC)
        rates.append(layer.rate)
        lux.append(layer.depth)
        whole.append(
            trace_layer(sampling, at.packed_scene, lights, at.packed_view, mode=STATIC).rate
        )
    # sky and bounced light are told at other places of a body than of cards
    apart = np.abs(whole[1] - whole[0]) / np.maximum(whole[0], 1e-9)
    assert np.median(apart) < 0.002
    assert np.percentile(apart, 98) < 0.05
    apart = np.abs(rates[1] - rates[0]) / np.maximum(rates[0], 1e-9)
    assert np.percentile(apart, 99.5) < 1e-3
    assert np.mean(apart > 1e-3) < 0.002  # rays to lamps start 2 mm off a surface
    assert np.allclose(lux[0], lux[1], rtol=1e-4)


@pytest.mark.invariant
@pytest.mark.parametrize("pattern", range(7))
def test_a_pattern_keeps_the_mean_reflectance(pattern: int) -> None:
    """Mean and deviation over many places, seen from near and from far."""
    tile = noise_tile()
    rng = np.random.default_rng(7)
    places = rng.uniform(0.0, 400.0, (40_000, 2))
    for footprint in (0.001, 0.05):
        values = np.array([field(pattern, tile, x, y, 0.2, footprint) for x, y in places])
        assert abs(values.mean()) < 0.05
        assert 0.15 < values.std() < 1.4
