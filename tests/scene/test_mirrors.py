"""What coats mirror, and lamps in their housings."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from simulator.light import spectrum
from simulator.light.sources import NATURAL, LightSource
from simulator.light.spectra import filtered
from simulator.scene.build import build_world
from simulator.scene.geometry import Card, View, unit
from simulator.scene.kernels.irradiance import incident, packed_for_light
from simulator.scene.kernels.pack import pack_lights, pack_scene, pack_view
from simulator.scene.kernels.radiance import Sampling, trace_layer
from simulator.scene.materials import Gloss, Material
from simulator.scene.mesh import Mesh, box
from simulator.scene.radiosity.bands import band_power
from simulator.scene.radiosity.field import light_field
from simulator.scene.radiosity.packed import pack_map
from simulator.scene.world import World
from simulator.units import WAVELENGTH_NM

DAYLIGHT = spectrum("daylight")
GROUND, CRATE = 0.2, 0.6
WIDTH, HEIGHT = 24, 16


def grey(reflectance: float, gloss: Gloss | None = None) -> Material:
    return Material(
        f"grey {reflectance}", np.full_like(WAVELENGTH_NM, reflectance), sheeting=None,
        status="computed", origin="definition", gloss=gloss,
    )  # fmt: skip


def cards_of(crate: Mesh) -> list[Card]:
    """The sides of a box as six cards."""
    out = []
    for k in range(6):
        low_left, _, upper_right, corner = crate.vertices_m[4 * k : 4 * k + 4]
        across, down = upper_right - corner, low_left - corner
        width, height = float(np.linalg.norm(across)), float(np.linalg.norm(down))
        out.append(Card(f"side {k}", corner, unit(across), unit(down), width, height,
                        np.full((1, 1), 2, np.uint8)))  # fmt: skip
    return out


def luminance(world: World) -> np.ndarray:
    """Light of one channel (rows, columns) in arbitrary units."""
    view = View.aimed(np.array([0.0, -2.0, 1.5]), np.array([0.0, 6.0, 0.3]), WIDTH, HEIGHT, 29.0)
    reflectance = np.array([m.reflectance[0] for m in world.materials])
    rates = np.outer([1.0, GROUND], reflectance / np.pi)[..., None].repeat(3, axis=2)
    field = light_field(world)
    power = band_power(np.stack([world.lights[i].spectrum.power for i in field.slots.light]))
    by_band = (power / power.sum(axis=1, keepdims=True))[:, :, None, None]
    by_band = by_band * rates[field.slots.light][:, None]
    lights = pack_lights(
        world, rates.astype(np.float32), np.zeros(rates.shape, np.float32),
        light_map=pack_map(field, world, by_band.astype(np.float32)),
    )  # fmt: skip
    layer = trace_layer(
        Sampling(0.0, 0.0, 1.0, HEIGHT, WIDTH), pack_scene(world, view), lights,
        pack_view(view, 1.0, 1e6), mode=0, fine=1,
    )  # fmt: skip
    return layer.rate[..., 1]


@pytest.mark.invariant
def test_a_body_is_mirrored_as_the_same_box_of_cards() -> None:
    """Wet ground before a crate: what its coat mirrors is the crate, whichever way it is made."""
    bounce = filtered(DAYLIGHT, np.full_like(WAVELENGTH_NM, GROUND), "off the ground")
    lights = [
        LightSource("sky", "sky", DAYLIGHT, illuminance_lux=1000.0, owner=NATURAL),
        LightSource("ground", "bounce", bounce, illuminance_lux=1000.0, owner=NATURAL),
    ]
    materials = [grey(1.0), grey(GROUND, Gloss(1.5, 0.05)), grey(CRATE)]
    bare = World([], materials, lights, [], np.zeros((1, 3)), {}, 1, 0.0, 0.05)
    crate = box("crate", np.array([0.0, 6.0, 0.0]), (1.0, 1.0, 1.0), material=2)
    sides = cards_of(crate)
    of_cards = luminance(replace(bare, cards=sides))
    of_body = luminance(replace(bare, cards=[sides[0]], meshes=(replace(crate, card=0),)))
    matt = [materials[0], grey(GROUND), materials[2]]
    dull = luminance(replace(bare, cards=sides, materials=matt))
    empty = luminance(bare)
    mirror = np.s_[9:13, 11:13]  # the ground that mirrors the crate's front
    assert of_body[mirror] == pytest.approx(of_cards[mirror], rel=0.03)
    # darker than where it mirrors the sky, brighter than without a coat
    assert np.all(of_body[mirror] < 0.8 * empty[mirror])
    assert np.all(of_body[mirror] > 1.05 * dull[mirror])


@pytest.mark.invariant
def test_a_lamp_shines_out_of_its_housing(make_scene) -> None:
    """A lamp in a block that is its housing lights the ground as if the block were not there; one
    on the face of a thin wall stays on its side."""
    lamp = {"name": "lamp", "spectrum": "led-4000k", "intensity_cd": 500.0, "beam_deg": 120.0}
    head = {"name": "head", "kind": "block", "position_m": [0.0, 10.0, 3.9], "width_m": 0.5,
            "depth_m": 0.3, "height_m": 0.2}  # fmt: skip
    down = {**lamp, "position_m": [0.0, 10.0, 4.0], "aim_m": [0.0, 10.0, 0.0]}
    places = np.array([[0.5, 10.0, 0.0], [1.5, 9.0, 0.0]])

    def lux(points: np.ndarray, **tables: object) -> np.ndarray:
        world = build_world(make_scene(**tables))
        scene, lights = packed_for_light(world)
        number = [light.name for light in world.lights].index("lamp")
        return incident(points, np.array([0.0, 0.0, 1.0]), scene, lights)[:, number]

    free = lux(places, lamp=[down])
    assert np.all(free > 1.0)
    assert lux(places, lamp=[down], body=[head]) == pytest.approx(free)
    wall = {"name": "thin wall", "kind": "block", "position_m": [0.0, 10.0, 0.0], "width_m": 8.0,
            "depth_m": 0.2, "height_m": 4.0}  # fmt: skip
    on_wall = {**lamp, "position_m": [0.0, 9.88, 3.0], "aim_m": [0.0, 7.0, 0.0]}
    before, behind = lux(np.array([[0.0, 8.0, 0.0], [0.0, 12.0, 0.0]]), lamp=[on_wall],
                         body=[wall])  # fmt: skip
    assert before > 1.0
    assert behind == 0.0
