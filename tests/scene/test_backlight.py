"""Openings: their light against the analytic rectangle, wanted contrast, holes in walls."""

from __future__ import annotations

import math

import numpy as np
import pytest

from simulator.errors import FileFormatError, InputError
from simulator.light.photometry import illuminance_lux
from simulator.scene.build import build_world
from simulator.scene.build_backlight import rectangle_parts
from simulator.scene.geometry import CLEAR
from simulator.scene.kernels.irradiance import incident, packed_for_light
from simulator.scene.kernels.radiance import STATIC, Sampling, trace_layer
from simulator.scene.load import Scene
from simulator.scene.model_things import Opening, Wall
from simulator.scene.radiosity.field import light_field
from simulator.scene.world import Backlight, World
from simulator.validation import validate

DOOR = {
    "name": "doorway",
    "kind": "opening",
    "position_m": [0.0, 20.0, 0.0],
    "width_m": 0.9,
    "height_m": 2.1,
}
BOARD = {"name": "board", "kind": "grey-chart", "position_m": [0.0, 18.0, 1.0]}
LAMP = {
    "name": "lamp",
    "spectrum": "led-4000k",
    "intensity_cd": 500.0,
    "beam_deg": 120.0,
    "position_m": [1.0, 14.0, 3.0],
    "aim_m": [0.0, 18.0, 1.0],
}


def door(**changes):
    return {**DOOR, **changes}


def lux_on(world: World, point, normal) -> float:
    """Illuminance of everything but the open sky's light."""
    cards, lights = packed_for_light(world)
    amounts = incident(np.asarray(point, float), np.asarray(normal, float), cards, lights)[0]
    return float(sum(amounts[i] for i, x in enumerate(world.lights) if x.kind == "point"))


def seen(in_scene, point):
    """The layer of one sample where a world point is seen."""
    xy = in_scene.view.project(np.asarray(point, float))[0]
    one = Sampling(xy[0] - 0.005, xy[1] - 0.005, 0.01, 1, 1)
    return trace_layer(
        one,
        in_scene.packed_scene,
        in_scene.lights("day"),
        in_scene.packed_view,
        mode=STATIC,
        fine=1,
    )


def rectangle_lux(corners, point, normal) -> float:
    """Illuminance of a polygon of luminance 1 that stands wholly over the horizon.

    E = 1/2 |sum of the angles of its edges x their planes' normals . n| (Lambert 1760).
    """
    to = np.asarray(corners) - np.asarray(point)
    to = to / np.linalg.norm(to, axis=1)[:, None]
    total = 0.0
    for a, b in zip(to, np.roll(to, -1, axis=0), strict=True):
        cross = np.cross(a, b)
        angle = np.arccos(np.clip(a @ b, -1.0, 1.0))
        total += angle * float(cross @ normal) / np.linalg.norm(cross)
    return abs(total) / 2.0


def face_on_lux(a_m: float, b_m: float, d_m: float) -> float:
    """Illuminance of a rectangle of luminance 1 over a parallel place opposite its corner.

    pi F with F = 1/(2 pi) [X/sqrt(1+X2) atan(Y/sqrt(1+X2)) + Y/sqrt(1+Y2) atan(X/sqrt(1+Y2))],
    X = a/d, Y = b/d (textbooks of radiative heat transfer; also the daylight factor of a window).
    """
    x, y = a_m / d_m, b_m / d_m
    sx, sy = math.sqrt(1 + x * x), math.sqrt(1 + y * y)
    return 0.5 * (x / sx * math.atan(y / sx) + y / sy * math.atan(x / sy))


@pytest.mark.by_hand
@pytest.mark.parametrize("distance_m", [0.9, 2.0, 6.0])
def test_light_before_a_door_is_that_of_the_rectangle(make_scene, distance_m):
    world = build_world(make_scene(surface=[door(luminance_cd_m2=1000.0)]))
    expected = 1000.0 * 4.0 * face_on_lux(0.45, 1.05, distance_m)
    found = lux_on(world, [0.0, 20.0 - distance_m, 1.05], [0.0, 1.0, 0.0])
    assert found == pytest.approx(expected, rel=0.03)


@pytest.mark.by_hand
@pytest.mark.parametrize("height_m", [0.4, 0.9, 2.1, 3.6, 9.0])
def test_light_anywhere_a_width_away_is_within_three_percent(height_m):
    width = 0.9
    places, areas = rectangle_parts(width, height_m)
    half = np.array([width, height_m]) / 2.0
    corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * half
    corners = np.column_stack([corners[:, 0], np.zeros(4), corners[:, 1]])
    parts = np.column_stack([places[:, 0], np.zeros(len(places)), places[:, 1]])
    rng = np.random.default_rng(7)
    tried = 0
    while tried < 400:
        point = np.array([rng.uniform(-3, 3), -rng.uniform(0.1, 4), rng.uniform(-1, 1) * height_m])
        nearest = np.clip(point[[0, 2]], -half, half)
        gap = np.linalg.norm(point - [nearest[0], 0.0, nearest[1]])
        normal = rng.normal(size=3)
        normal /= np.linalg.norm(normal)
        if gap < width or ((corners - point) @ normal).min() <= 0.0:
            continue
        tried += 1
        to = parts - point
        r = np.linalg.norm(to, axis=1)
        lux = float((areas * -point[1] * (to @ normal) / r**4).sum())
        assert lux == pytest.approx(rectangle_lux(corners, point, normal), rel=0.03)


@pytest.mark.invariant
def test_parts_add_up_to_the_whole_rectangle(make_scene):
    places, areas = rectangle_parts(0.9, 2.1)
    assert areas.sum() == pytest.approx(0.9 * 2.1)
    assert np.all(np.abs(places) < [0.45, 1.05])
    world = build_world(make_scene(surface=[door(luminance_cd_m2=1000.0)]))
    parts = [x for x in world.lights if x.name.startswith("doorway (part")]
    assert sum(x.intensity_cd for x in parts) == pytest.approx(1000.0 * 0.9 * 2.1)
    assert len(parts) == len(places) <= 12


@pytest.mark.invariant
def test_an_opening_gives_no_light_backwards(make_scene):
    world = build_world(make_scene(surface=[door(luminance_cd_m2=1000.0)]))
    assert lux_on(world, [0.0, 22.0, 1.0], [0.0, -1.0, 0.0]) == 0.0


@pytest.mark.by_hand
def test_a_sky_behind_shows_its_illuminance_over_pi(make_scene):
    world = build_world(make_scene(surface=[door(illuminance_lux=10_000.0)]))
    panel = next(x for x in world.lights if x.kind == "panel")
    assert panel.luminance_cd_m2 == pytest.approx(3183.1, abs=0.1)
    assert world.backlights == []


@pytest.mark.by_hand
def test_the_picture_shows_the_luminance(make_in_scene, make_scene):
    """A doorway of 100 cd/m2 is as bright as a white diffuser under 100 pi lux."""
    dark = {"illuminance_lux": 0.0}
    in_scene = make_in_scene(make_scene(surface=[door(luminance_cd_m2=100.0)], natural_light=dark))
    k = next(i for i, x in enumerate(in_scene.world.lights) if x.kind == "panel")
    per_lux = float(in_scene.lights("day").coefficient[k, 0, 1])
    shown = float(seen(in_scene, [0.0, 20.0, 1.8]).rate[0, 0, 1])
    assert shown == pytest.approx(100.0 * math.pi * per_lux, rel=0.02)


@pytest.mark.by_hand
def test_named_contrast_is_background_over_subject(make_scene):
    """One lamp straight before a plate-sized board: L = E rho / pi by hand, and what bounces."""
    scene = make_scene(lamp=[LAMP], surface=[door(luminance_cd_m2=500.0, against="plate")])
    world = build_world(scene)
    (found,) = world.backlights
    card = world.cards[world.plates["plate"]]
    to = np.array(LAMP["position_m"]) - card.centre_m
    d = float(np.linalg.norm(to))
    lamp = next(x for x in world.lights if x.name == "lamp")
    off_axis = float(-to @ lamp.direction / d)
    lux = 500.0 * off_axis**lamp.exponent * float(to @ card.normal) / d**3
    share = np.bincount(card.texture.ravel()) / card.texture.size
    white = illuminance_lux(lamp.spectrum.power * world.reflectances()[: len(share)])
    by_lamp = lux * float(share @ white) / math.pi
    field = light_field(world)
    amount = np.array([x.strength for x in world.lights])
    bounced = field.units(card.centre_m[None], card.normal[None], amount, world.plates["plate"])
    # the ground throws a few percent of the lamp's light on the board, and of the door's
    off_ground = float(bounced.sum()) / lux
    assert 0.02 < off_ground < 0.10
    assert found.subject_cd_m2 == pytest.approx(by_lamp * (1.0 + off_ground), rel=0.01)
    assert found.ratio == pytest.approx(500.0 / found.subject_cd_m2)


@pytest.mark.by_hand
def test_ratio_stops_and_decibel():
    found = Backlight("doorway", "visitor", 2400.0, 60.0)
    assert found.ratio == pytest.approx(40.0)
    assert found.stops == pytest.approx(math.log(40.0) / math.log(2.0))
    assert found.decibel == pytest.approx(32.04, abs=0.01)
    said = found.message()
    assert said.id == "assumption.backlight"
    assert (said.values["ratio"], said.values["against"]) == (pytest.approx(40.0), "visitor")


def told_by_luminance(make_scene, lamps, surfaces):
    """The contrast told when the found luminances are written into the scene."""
    solved = build_world(make_scene(lamp=lamps, surface=surfaces, target=[BOARD]))
    fixed = []
    for surface in surfaces:
        panel = next(x for x in solved.lights if x.name == surface["name"])
        plain = {k: v for k, v in surface.items() if k != "luminance_ratio"}
        fixed.append({**plain, "luminance_cd_m2": panel.luminance_cd_m2})
    again = build_world(make_scene(lamp=lamps, surface=fixed, target=[BOARD]))
    return solved, again


@pytest.mark.invariant
@pytest.mark.parametrize("place", [[0.0, 20.0, 0.0], [-3.0, 15.0, 0.0]])
def test_wanted_ratio_is_met(make_scene, place):
    """Behind the subject, and beside it, where its own light counts."""
    facing = 0.0 if place[0] == 0.0 else 145.0
    surface = door(luminance_ratio=6.0, against="board", position_m=place, facing_deg=facing)
    solved, again = told_by_luminance(make_scene, [LAMP], [surface])
    assert solved.backlights[0].ratio == pytest.approx(6.0, rel=1e-9)
    assert again.backlights[0].ratio == pytest.approx(6.0, rel=1e-9)
    assert solved.assumptions[-1] == solved.backlights[0].message()
    lit = lux_on(solved, [0.0, 17.9, 1.0], [0.0, -1.0, 0.0])
    bare = build_world(make_scene(lamp=[LAMP], target=[BOARD]))
    alone = lux_on(bare, [0.0, 17.9, 1.0], [0.0, -1.0, 0.0])
    assert (lit > 1.01 * alone) == (facing != 0.0)


@pytest.mark.invariant
def test_two_openings_that_light_each_others_subject(make_scene):
    one = door(luminance_ratio=4.0, against="board", position_m=[-3.0, 15.0, 0.0], facing_deg=145.0)
    two = door(
        name="window", luminance_ratio=9.0, against="plate", position_m=[3.0, 15.0, 0.0],
        facing_deg=-145.0,
    )  # fmt: skip
    solved, again = told_by_luminance(make_scene, [LAMP], [one, two])
    for world in (solved, again):
        assert [x.ratio for x in world.backlights] == pytest.approx([4.0, 9.0], rel=1e-9)


@pytest.mark.invariant
def test_a_ratio_out_of_reach_is_refused(make_scene):
    beside = {"position_m": [-1.2, 17.0, 0.0], "facing_deg": 125.0}
    surface = door(luminance_ratio=1000.0, against="board", **beside)
    with pytest.raises(InputError, match="own light brightens") as caught:
        build_world(make_scene(lamp=[LAMP], surface=[surface], target=[BOARD]))
    assert caught.value.key == "surface.doorway.luminance_ratio"
    limit = float(caught.value.allowed.split()[1].rstrip(","))
    near = door(luminance_ratio=0.98 * limit, against="board", **beside)
    world = build_world(make_scene(lamp=[LAMP], surface=[near], target=[BOARD]))
    assert world.backlights[0].ratio == pytest.approx(0.98 * limit)


@pytest.mark.invariant
def test_a_subject_in_the_dark_is_refused_or_told(make_scene):
    with pytest.raises(InputError, match="nothing but the opening"):
        build_world(make_scene(surface=[door(luminance_ratio=10.0, against="plate")]))
    # no lamp: just what the ground throws back of the door's light
    world = build_world(make_scene(surface=[door(luminance_cd_m2=10.0, against="plate")]))
    assert 40.0 < world.backlights[0].decibel < math.inf
    unlit = Backlight("doorway", "plate", 10.0, 0.0)
    assert math.isinf(unlit.decibel)
    assert unlit.message().id == "assumption.backlight-of-unlit"


@pytest.mark.invariant
def test_bad_openings_are_refused(make_scene, tmp_path):
    with pytest.raises(InputError, match="no such target") as caught:
        build_world(make_scene(surface=[door(luminance_cd_m2=1.0, against="nobody")]))
    assert caught.value.key == "surface.doorway.against"
    for table in (
        door(),
        door(luminance_cd_m2=1.0, illuminance_lux=1.0),
        door(luminance_ratio=4.0),
    ):
        with pytest.raises(FileFormatError):
            validate(Opening, table, tmp_path / "scene.toml")
    with pytest.raises(InputError) as caught:
        build_world(make_scene(surface=[door(luminance_cd_m2=1.0, spectrum="daylite")]))
    assert caught.value.key == "surface.doorway.spectrum"


@pytest.mark.invariant
def test_a_spectrum_of_ones_own_is_read_beside_the_scene(tmp_path, make_scene):
    table = "wavelength_nm,relative_power\n" + "".join(f"{w},1\n" for w in range(380, 1101, 10))
    (tmp_path / "panel.csv").write_text(table)
    raw = make_scene().model_dump(exclude_none=True, exclude_defaults=True)
    raw["surface"] = [door(luminance_cd_m2=5.0, spectrum="panel.csv")]
    scene = Scene.from_dict(raw, name="s", folder=tmp_path)
    world = build_world(scene.model)
    panel = next(x for x in world.lights if x.kind == "panel")
    assert float(np.ptp(panel.spectrum.power)) < 1e-9 * float(panel.spectrum.power.max())


WALL = {
    "name": "wall",
    "kind": "wall",
    "material": "concrete",
    "position_m": [0.0, 19.0, 0.0],
    "width_m": 6.0,
    "height_m": 3.0,
}


@pytest.mark.by_hand
def test_hole_lies_where_it_was_asked_for(make_scene):
    hole = [1.37, 0.0, 0.9, 2.1]
    world = build_world(make_scene(surface=[{**WALL, "opening_m": hole}]))
    card = next(c for c in world.cards if c.name == "wall")
    clear = card.texture == CLEAR
    rows, columns = card.texture.shape
    x = np.flatnonzero(clear.any(axis=0))
    y = np.flatnonzero(clear.any(axis=1))
    assert x[0] * 6.0 / columns == pytest.approx(1.37, abs=6e-4)
    assert (x[-1] + 1) * 6.0 / columns == pytest.approx(2.27, abs=6e-4)
    assert y[0] * 3.0 / rows == pytest.approx(0.9, abs=6e-4)
    assert y[-1] == rows - 1


@pytest.mark.invariant
def test_a_hole_shows_and_lets_through_what_is_behind(make_scene, make_in_scene):
    """The doorway stands behind its wall: seen and felt through the hole only."""
    surfaces = [{**WALL, "opening_m": [2.5, 0.0, 1.0, 2.2]}, door(luminance_cd_m2=800.0)]
    with_hole = build_world(make_scene(surface=surfaces))
    closed = build_world(make_scene(surface=[WALL, surfaces[1]]))
    place = [0.0, 15.0, 1.0]
    free = build_world(make_scene(surface=[surfaces[1]]))
    assert lux_on(closed, place, [0.0, 1.0, 0.0]) == 0.0
    assert lux_on(with_hole, place, [0.0, 1.0, 0.0]) == lux_on(free, place, [0.0, 1.0, 0.0]) > 0.0
    assert lux_on(with_hole, [2.9, 18.7, 1.0], [0.0, 1.0, 0.0]) == 0.0
    in_scene = make_in_scene(make_scene(surface=surfaces))

    assert float(seen(in_scene, [0.2, 19.0, 1.6]).depth[0, 0]) == pytest.approx(20.0, abs=0.01)
    assert float(seen(in_scene, [1.0, 19.0, 1.6]).depth[0, 0]) == pytest.approx(19.0, abs=0.01)
    assert float(seen(in_scene, [0.2, 19.0, 1.6]).rate[0, 0, 1]) > 0.0


@pytest.mark.invariant
def test_a_door_in_the_plane_of_a_wall_is_seen_and_spills_no_light_on_it(make_scene, make_in_scene):
    flush = door(luminance_cd_m2=800.0, position_m=WALL["position_m"])
    in_scene = make_in_scene(make_scene(surface=[WALL, flush]))

    def green(x):
        return float(seen(in_scene, [x, 19.0, 1.6]).rate[0, 0, 1])

    assert green(0.0) > 0.0
    for x in (0.46, 0.5, 0.7):
        assert green(x) < 0.002 * green(0.0)


@pytest.mark.invariant
@pytest.mark.parametrize(
    "hole", [[5.5, 0.0, 1.0, 2.0], [0.0, 2.0, 1.0, 2.0], [0.0, 0.0, 0.01, 1.0], [-1.0, 0, 2, 2]]
)
def test_a_hole_outside_its_wall_is_refused(hole, tmp_path):
    with pytest.raises(FileFormatError):
        validate(Wall, {**WALL, "opening_m": [float(x) for x in hole]}, tmp_path / "scene.toml")
