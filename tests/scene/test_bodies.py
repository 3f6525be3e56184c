"""Solid bodies beside cards: what is seen of them, and the light they keep away."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import trimesh

from simulator.camera import Camera, place_camera
from simulator.camera.light_field import frame_light
from simulator.errors import FileFormatError
from simulator.scene import Scene, build_world
from simulator.scene.bodies.head import head_of
from simulator.scene.geometry import Card, unit
from simulator.scene.kernels.light_map import no_map
from simulator.scene.kernels.pack import noise_tile
from simulator.scene.kernels.patterns import field
from simulator.scene.kernels.radiance import STATIC, trace_layer
from simulator.scene.kernels.seen import Sampling
from simulator.scene.mesh import Mesh, box
from simulator.scene.targets.head import DrawnHead, FaceMaterials, look_of


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
    scene = scene.model_copy(update={"body": ()})
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
    assert np.median(apart) < 0.006
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


BODY = {"name": "thing", "position_m": [0.0, 12.0, 0.0]}


@pytest.mark.invariant
@pytest.mark.parametrize("kind", [
    "block", "bollard", "lamp-post", "fence", "tree", "hedge", "window", "door", "shutter",
])  # fmt: skip
def test_what_stands_about_has_sound_triangles(make_scene, kind) -> None:
    """Normals of unit length, places that are numbers, nothing under the ground."""
    world = build_world(make_scene(body=[{**BODY, "kind": kind}]))
    (mesh,) = world.meshes
    assert np.linalg.norm(mesh.normals, axis=1) == pytest.approx(1.0, abs=1e-6)
    assert np.all(np.isfinite(mesh.vertices_m))
    assert mesh.bounds_m[0, 2] > -0.06  # a sill hangs 5 cm under its window


@pytest.mark.invariant
@pytest.mark.parametrize("style", ["car", "estate", "van", "truck", "motorcycle"])
def test_vehicles_stand_on_the_ground_with_sound_normals(make_scene, style) -> None:
    vehicle = {"name": "it", "kind": "vehicle-front", "style": style, "position_m": [0, 12, 0]}
    (mesh,) = build_world(make_scene(target=[vehicle])).meshes
    assert mesh.bounds_m[0, 2] == pytest.approx(0.0, abs=0.005)
    assert mesh.bounds_m[0, 1] == pytest.approx(12.0, abs=0.02)
    length = np.linalg.norm(mesh.normals, axis=1)
    assert np.mean(np.abs(length - 1.0) > 1e-6) < 1e-3


@pytest.mark.by_hand
def test_a_room_is_floor_walls_and_ceiling(make_scene) -> None:
    room = {
        "name": "hall", "position_m": [0.0, 10.0, 0.0], "width_m": 6.0, "depth_m": 8.0,
        "height_m": 3.0, "floor_material": "wood",
        "gap": [{"wall": "back", "left_m": 1.0, "width_m": 1.0, "height_m": 2.0}],
    }  # fmt: skip
    world = build_world(make_scene(room=[room]))
    sides = {c.name: c for c in world.cards if c.name.startswith("hall")}
    assert len(sides) == 6
    middle = np.array([0.0, 10.0, 1.5])
    for card in sides.values():  # all look inwards
        assert (middle - card.centre_m) @ card.normal > 0.0
    back = sides["hall back wall"]
    assert back.centre_m == pytest.approx([0.0, 14.0, 1.5])
    assert np.mean(back.texture == 255) == pytest.approx(2.0 / 18.0, abs=0.002)


WALL = {"name": "house", "kind": "wall", "material": "brick", "position_m": [0.0, 12.05, 0.0],
        "width_m": 8.0, "height_m": 4.0, "variation": 0.0}  # fmt: skip
PANE = {"kind": "window", "width_m": 1.4, "height_m": 1.3, "material": "glass-pane"}


@pytest.mark.by_hand
def test_windows_open_their_wall_onto_rooms(make_scene) -> None:
    """Two windows, two holes the size within their frames; opaque glass opens none."""
    two = [
        {**PANE, "name": name, "position_m": [x, 12.0, 1.0]}
        for name, x in (("left", -2.0), ("right", 2.0))
    ]
    share = 2 * 1.34 * 1.24 / (8.0 * 4.0)
    for pane, clear in (("glass-pane", share), ("glass-window", 0.0)):
        world = build_world(
            make_scene(surface=[WALL], body=[{**one, "material": pane} for one in two])
        )
        (card,) = (c for c in world.cards if c.name == "house")
        assert np.mean(card.texture == 255) == pytest.approx(clear, abs=0.01 * share)
        deep = max(mesh.bounds_m[1, 1] for mesh in world.meshes)
        assert (deep > 14.4) == (clear > 0.0)
    plain = build_world(make_scene(surface=[WALL], body=[{**two[0], "room_depth_m": 0}]))
    assert all(np.all(card.texture != 255) for card in plain.cards if card.name == "house")


@pytest.mark.invariant
def test_a_lamp_in_the_room_is_seen_by_what_it_lights(make_scene, make_in_scene) -> None:
    """The back wall of a lit room shows through the pane, and no light comes without a pane."""
    lamp = {"name": "bulb", "spectrum": "led-4000k", "intensity_cd": 60.0, "beam_deg": 160.0,
            "position_m": [0.0, 12.4, 1.9], "aim_m": [0.0, 14.5, 1.6]}  # fmt: skip
    window = {**PANE, "name": "window", "position_m": [0.0, 12.0, 1.0]}

    def seen(body, surface) -> float:
        scene = make_scene(
            surface=surface,
            body=body,
            lamp=[lamp],
            station={"aim_m": [0.0, 12.0, 1.65]},
            natural_light={"illuminance_lux": 0.0},
        )
        rate = frame_light(make_in_scene(scene), "day", 0.01).rate
        rows, columns = (n // 2 for n in rate.shape[:2])
        return float(rate[rows - 3 : rows + 3, columns - 3 : columns + 3].mean())

    pane, none = ([{**window, "room_depth_m": 2.5, "material": m}] for m in (
        "glass-pane", "glass-window"))  # fmt: skip
    assert seen(none, [WALL]) < 0.02 * seen(pane, [WALL])


@pytest.mark.by_hand
def test_what_runs_through_a_wall_is_told(make_scene) -> None:
    wall = {"name": "wall", "kind": "wall", "material": "brick", "position_m": [0.0, 12.3, 0.0],
            "width_m": 6.0, "height_m": 3.0}  # fmt: skip
    through = {**BODY, "kind": "block"}
    before = {**through, "position_m": [0.0, 11.7, 0.0]}
    told = [
        [m.values for m in build_world(make_scene(surface=[wall], body=[one])).assumptions
         if m.id == "assumption.runs-through"]
        for one in (through, before)
    ]  # fmt: skip
    assert told == [[{"first": "thing", "second": "wall"}], []]


@pytest.mark.outside
def test_a_mesh_of_ones_own(make_scene, tmp_path) -> None:
    """Written by trimesh, read back: the same box at its place, in the unit told."""
    path = tmp_path / "crate.obj"
    trimesh.creation.box((1000.0, 500.0, 800.0)).export(path)
    given = {**BODY, "kind": "mesh", "file": str(path), "scale": 0.001}
    (mesh,) = build_world(make_scene(body=[given])).meshes
    assert np.ptp(mesh.vertices_m, axis=0) == pytest.approx([1.0, 0.5, 0.8])
    path.write_text("v 1 2\nf 1 2 nothing\n", encoding="utf-8")
    with pytest.raises(FileFormatError, match="mesh"):
        build_world(make_scene(body=[given]))


@pytest.mark.invariant
def test_a_lamp_at_the_side_lights_one_half_of_a_face(make_scene) -> None:
    """The other half gets what the shape lets past; nothing of it is drawn."""
    head = head_of(
        DrawnHead(look_of(3, "light"), _materials(), glasses=False, headwear="none", back=False,
                  collar=False)
    )  # fmt: skip
    front = head.vertices_m[:, 1] < -0.01
    towards = np.array([1.0, -0.2, 0.1]) / np.linalg.norm([1.0, -0.2, 0.1])
    light = np.clip(head.normals @ towards, 0.0, None)
    right, left = (front & (side * head.vertices_m[:, 0] > 0.02) for side in (1.0, -1.0))
    assert light[right].mean() > 4.0 * light[left].mean()


def _materials() -> FaceMaterials:
    row = np.zeros(5, np.uint8)
    return FaceMaterials(row, row, row, row, 0, 0, 0)
