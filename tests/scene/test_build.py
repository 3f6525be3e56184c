from __future__ import annotations

import numpy as np
import pytest

from simulator.errors import FileFormatError
from simulator.messages import Message
from simulator.scene.build import build_world
from simulator.scene.geometry import CLEAR
from simulator.scene.kernels.light_map import no_map
from simulator.scene.kernels.radiance import Sampling, trace_layer

LAMP = {
    "name": "lamp",
    "spectrum": "led-4000k",
    "intensity_cd": 1000.0,
    "beam_deg": 120.0,
    "position_m": [0.0, 10.0, 4.0],
    "aim_m": [0.0, 10.0, 0.0],
}
CAR = {"name": "car", "kind": "vehicle-front", "carries": "plate"}


def rate_at(in_scene, point, mode=0) -> float:
    """Green rate in the day where a world point is seen."""
    xy = in_scene.view.project(np.asarray(point, float))[0]
    layer = trace_layer(
        Sampling(xy[0] - 0.005, xy[1] - 0.005, 0.01, 1, 1),
        in_scene.packed_scene,
        in_scene.lights("day")._replace(light_map=no_map()),  # nothing bounces into shadows
        in_scene.packed_view,
        mode=mode,
        fine=1,
    )
    return float(layer.rate[0, 0, 1])


@pytest.mark.invariant
@pytest.mark.parametrize("style", ["car", "van", "truck"])
def test_vehicle_carries_its_plate(make_scene, style):
    scene = make_scene(
        plate={"speed_kmh": 20.0, "heading_deg": 10.0, "facing_deg": 15.0},
        target=[{**CAR, "style": style}],
    )
    world = build_world(scene)
    groups = {card.name: card.group for card in world.cards}
    assert set(groups.values()) == {1}
    assert np.linalg.norm(world.velocities[1]) == pytest.approx(20.0 / 3.6)
    plate = world.cards[world.plates["plate"]]
    front = world.cards[world.targets["car"][0]]
    assert front.normal == pytest.approx(plate.normal)
    # the plate stands 2 cm before the body's foremost point, over its middle
    assert (plate.centre_m - front.corner_m) @ front.normal == pytest.approx(0.02, abs=1e-3)
    across = (plate.centre_m - front.corner_m) @ front.across
    assert across == pytest.approx(front.width_m / 2, abs=1e-3)
    # it stands on the ground
    assert world.meshes[0].bounds_m[0, 2] == pytest.approx(0.0, abs=0.005)


@pytest.mark.invariant
@pytest.mark.parametrize("tilt_deg", [-60.0, -25.0, 0.0, 30.0, 60.0])
def test_a_tilted_plate_stays_before_its_vehicle(make_scene, tilt_deg):
    world = build_world(make_scene(plate={"tilt_deg": tilt_deg}, target=[CAR]))
    plate = world.cards[world.plates["plate"]]
    body = world.meshes[0].vertices_m
    assert np.all(plate.corners_m[:, 1] < body[:, 1].min())  # it looks along -y


@pytest.mark.invariant
def test_things_of_one_movement_share_a_group(make_scene):
    second = {"name": "other", "kind": "vehicle-front", "position_m": [3.0, 20.0, 0.0],
              "speed_kmh": 30.0}  # fmt: skip
    world = build_world(make_scene(plate={"speed_kmh": 30.0}, target=[CAR, second]))
    assert len(world.velocities) == 2
    third = {**second, "heading_deg": 90.0}
    world = build_world(make_scene(plate={"speed_kmh": 30.0}, target=[CAR, third]))
    assert len(world.velocities) == 3


@pytest.mark.invariant
def test_a_lamp_switched_off_vanishes(make_scene, make_in_scene):
    wall = {"name": "wall", "kind": "wall", "material": "white-90", "position_m": [0.0, 20.0, 0.0],
            "width_m": 9.0, "height_m": 3.0}  # fmt: skip
    on = make_in_scene(make_scene(lamp=[LAMP], surface=[wall]))
    off = make_in_scene(make_scene(lamp=[{**LAMP, "on": False}], surface=[wall]))
    assert (len(on.world.lights), len(on.world.emitters)) == (3, 1)
    assert (len(off.world.lights), len(off.world.emitters)) == (2, 0)
    assert rate_at(on, [0.4, 20.0, 1.2]) > 0.0
    assert rate_at(off, [0.4, 20.0, 1.2]) == 0.0


@pytest.mark.by_hand
def test_illuminator_beside_the_camera(make_scene):
    # the camera at (1, -2, 5) looks along +x: its right is -y
    scene = make_scene(
        station={"height_m": 5.0, "ground_position_m": [1.0, -2.0], "aim_m": [30.0, -2.0, 1.0]},
        illuminator=[
            {"name": "ir", "wavelength_nm": 850.0, "radiant_intensity_w_per_sr": 1.0,
             "beam_deg": 30.0, "beside_camera_m": [0.3, 0.1, -0.2], "aim_m": [30.0, -2.0, 1.0]}
        ],
    )  # fmt: skip
    light = next(x for x in build_world(scene).lights if x.name == "ir")
    assert light.position_m == pytest.approx([1.1, -2.3, 4.8])


@pytest.mark.by_hand
def test_natural_light_is_shared_out(make_scene):
    # 1000 lx, 60 percent from a sun 30 degrees high: 400 lx of sky, 600/sin 30 = 1200 lx facing it
    natural = {"illuminance_lux": 1000.0, "sun_share": 0.6, "sun_altitude_deg": 30.0,
               "sun_azimuth_deg": 90.0}  # fmt: skip
    lights = {x.kind: x for x in build_world(make_scene(natural_light=natural)).lights}
    assert lights["sky"].illuminance_lux == pytest.approx(400.0)
    assert lights["bounce"].illuminance_lux == pytest.approx(1000.0)
    assert lights["sun"].illuminance_lux == pytest.approx(1200.0)
    assert lights["sun"].direction == pytest.approx([np.cos(np.pi / 6), 0.0, 0.5])


@pytest.mark.by_hand
def test_gate_bars(make_scene):
    # bars of 30 mm every 150 mm cover a fifth between the rails
    gate = {"name": "gate", "kind": "gate", "material": "steel-galvanised", "width_m": 3.0,
            "height_m": 2.0, "position_m": [0.0, 15.0, 0.0]}  # fmt: skip
    card = next(c for c in build_world(make_scene(surface=[gate])).cards if c.name == "gate")
    middle = card.texture[card.texture.shape[0] // 2]
    assert np.mean(middle != CLEAR) == pytest.approx(0.2, abs=0.01)
    assert np.all(card.texture[0] != CLEAR)


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("tables", "key"),
    [
        ({"natural_light": {"illuminance_lux": 1.0, "spectrum": "moonlite"}}, "natural_light"),
        ({"lamp": [{**LAMP, "spectrum": "led"}]}, "lamp.lamp.spectrum"),
        ({"plate": {"design": "no"}}, "target.plate.design"),
        ({"target": [{**CAR, "paint": "paint-mauve"}]}, "target.car.paint"),
        ({"surface": [{"name": "g", "kind": "ground", "material": "tar"}]}, "surface.g.material"),
    ],
)
def test_unknown_names_tell_their_key(make_scene, tables, key):
    with pytest.raises(FileFormatError) as caught:
        build_world(make_scene(**tables))
    assert caught.value.key.startswith(key)


@pytest.mark.invariant
def test_unknown_sheeting_tells_its_key(make_scene, make_in_scene):
    from simulator.errors import InputError

    with pytest.raises(InputError):
        make_in_scene(make_scene(plate={"sheeting": "type-xx"})).lights("day")


@pytest.mark.by_hand
def test_shadow_on_the_ground(make_scene, make_in_scene):
    # lamp 4 m up at y = 10; a wall 2 m high at y = 14: shadow to y = 10 + 4 x 4/(4 - 2) = 18
    wall = {"name": "wall", "kind": "wall", "material": "concrete", "width_m": 2.0,
            "height_m": 2.0, "position_m": [0.0, 14.0, 0.0]}  # fmt: skip
    ground = {"name": "ground", "kind": "ground", "material": "concrete"}
    in_scene = make_in_scene(
        make_scene(
            lamp=[{**LAMP, "diameter_m": 0.001}],
            surface=[wall, ground],
            plate={"position_m": [9.0, 40.0, 1.0]},
            station={"height_m": 40.0, "aim_m": [0.0, 16.0, 0.0]},
        )
    )
    assert rate_at(in_scene, [0.0, 17.9, 0.0]) == 0.0
    assert rate_at(in_scene, [0.0, 18.1, 0.0]) > 0.0
    assert rate_at(in_scene, [0.0, 13.5, 0.0]) > 0.0
    # sideways: the wall ends at x = 1, its shadow at the ground y = 16 at x = 1 x 6/4 = 1.5
    assert rate_at(in_scene, [1.45, 16.0, 0.0]) == 0.0
    assert rate_at(in_scene, [1.55, 16.0, 0.0]) > 0.0


@pytest.mark.by_hand
def test_shadow_on_a_wall_and_through_a_gate(make_scene, make_in_scene):
    # lamp at y = 10, z = 4; a gate at y = 14 before a wall at y = 18: bars throw shadows twice
    # their size on the wall; a gap lets light through
    gate = {"name": "gate", "kind": "gate", "material": "steel-galvanised", "width_m": 3.0,
            "height_m": 3.0, "position_m": [0.0, 14.0, 2.0], "bar_width_m": 0.5,
            "bar_gap_m": 0.5}  # fmt: skip
    wall = {"name": "wall", "kind": "wall", "material": "white-90", "width_m": 20.0,
            "height_m": 9.0, "position_m": [0.0, 18.0, 0.0]}  # fmt: skip
    in_scene = make_in_scene(
        make_scene(
            lamp=[{**LAMP, "aim_m": [0.0, 18.0, 4.0]}],
            surface=[gate, wall],
            plate={"position_m": [9.0, 17.0, 1.0]},
            station={"height_m": 12.0, "aim_m": [0.0, 18.0, 4.0]},
        )
    )
    # bars at x -1.5..-1, -.5..0, .5..1 on the gate; at z 4 the shadow lies at twice x
    assert rate_at(in_scene, [-0.5, 18.0, 4.2]) == 0.0
    assert rate_at(in_scene, [0.5, 18.0, 4.2]) > 0.0
    assert rate_at(in_scene, [1.5, 18.0, 4.2]) == 0.0
    assert rate_at(in_scene, [3.5, 18.0, 4.2]) > 0.0


@pytest.mark.by_hand
def test_sun_shadow(make_scene, make_in_scene):
    # sun 45 degrees high behind the camera: a wall 2 m high throws a shadow of 2 m away from it
    natural = {"illuminance_lux": 1000.0, "sun_share": 1.0, "sun_altitude_deg": 45.0,
               "sun_azimuth_deg": 180.0}  # fmt: skip
    wall = {"name": "wall", "kind": "wall", "material": "concrete", "width_m": 3.0,
            "height_m": 2.0, "position_m": [0.0, 14.0, 0.0]}  # fmt: skip
    in_scene = make_in_scene(
        make_scene(
            natural_light=natural,
            surface=[wall],
            plate={"position_m": [9.0, 40.0, 1.0]},
            station={"height_m": 30.0, "aim_m": [0.0, 15.0, 0.0]},
        )
    )
    assert rate_at(in_scene, [0.0, 15.9, 0.0]) == 0.0
    assert rate_at(in_scene, [0.0, 16.1, 0.0]) > 0.0
    assert rate_at(in_scene, [0.0, 13.9, 0.0]) > 0.0


@pytest.mark.invariant
def test_nearer_things_hide_farther_ones(make_scene, make_in_scene):
    # a wall before the plate hides it; behind it, it does not
    def picture(y: float):
        wall = {"name": "wall", "kind": "wall", "material": "black-4", "width_m": 3.0,
                "height_m": 3.0, "position_m": [0.0, y, 0.0]}  # fmt: skip
        scene = make_scene(natural_light={"illuminance_lux": 9.0}, surface=[wall],
                           plate={"sheeting": "none"})  # fmt: skip
        return make_in_scene(scene)

    before, behind = picture(17.0), picture(19.0)
    white = before.world.cards[before.world.plates["plate"]].point_m(0.5, 0.01)
    assert rate_at(before, white) < 0.2 * rate_at(behind, white)


@pytest.mark.invariant
def test_moving_layer_is_cut_by_what_stands_before_it(make_scene, make_in_scene):
    gate = {"name": "gate", "kind": "gate", "material": "steel-galvanised", "width_m": 3.0,
            "height_m": 2.0, "position_m": [0.0, 17.0, 0.0]}  # fmt: skip
    scene = make_scene(natural_light={"illuminance_lux": 9.0}, plate={"speed_kmh": 10.0},
                       surface=[gate])  # fmt: skip
    in_scene = make_in_scene(scene)
    free = make_in_scene(
        make_scene(natural_light={"illuminance_lux": 9.0}, plate={"speed_kmh": 10.0})
    )
    whole = Sampling(0.0, 0.0, 1.0, 180, 320)

    def cover(of):
        return trace_layer(
            whole, of.packed_scene, of.lights("day"), of.packed_view, mode=1
        ).cover.astype(np.float64)

    plate_px = 0.52 * 0.11 * in_scene.view.pixels_per_m(18.0) ** 2
    assert cover(free).sum() == pytest.approx(plate_px, rel=0.01)
    # bars of 30 mm every 150 mm, nearer by 17/18, hide about a fifth
    assert 0.7 < cover(in_scene).sum() / plate_px < 0.87


@pytest.mark.invariant
def test_what_a_wet_road_does_not_mirror_is_told(make_scene):
    def told(material):
        ground = {"name": "road", "kind": "ground", "material": material}
        return build_world(make_scene(surface=[ground])).assumptions

    glossy = Message("assumption.glossy-ground")
    assert glossy in told("asphalt-wet") and glossy not in told("asphalt")
