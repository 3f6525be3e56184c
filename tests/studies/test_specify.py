"""Specifications: classes of lamps, closed forms, a gate by night from question to parts list."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace

import pytest

from simulator import data
from simulator.camera.load import Camera
from simulator.errors import InputError
from simulator.report.wording import say_all
from simulator.scene.load import Scene
from simulator.studies import trade
from simulator.studies.lighting.lamp_classes import ChosenLamp, buyable, lamp_classes, smallest
from simulator.studies.remedies.rest_of_picture import BLACKENED, Rest, rest_of_picture
from simulator.studies.session import open_session
from simulator.studies.specify import findings
from simulator.studies.specify.choice import chosen_ways
from simulator.studies.specify.design import Design
from simulator.studies.specify.families import Failed, Point, Solved, solve
from simulator.studies.specify.hours import hard_hours
from simulator.studies.specify.overview import OverviewPoint, overview_of
from simulator.studies.specify.places import Place, moved, other_places
from simulator.studies.specify.result import Ask, Way, parts_of
from simulator.studies.specify.screens import angles_of, lens_choice, lens_range, shutter_for
from simulator.studies.specify.study import First, by_proved_reserve, specify


@pytest.fixture(scope="module")
def dark_gate():
    return Scene.load("depot-gate-dark", ["target.plate.speed_kmh=15"])


@pytest.fixture(scope="module")
def camera():
    return Camera.load("plate-2mp-infrared")


@pytest.mark.by_hand
def test_light_of_a_class():
    """15 W, 20 % out, 30 degrees: m = ln 0.5 / ln cos 15 = 19.99; 3 W (m + 1) / 2 pi = 10 W/sr."""
    found = next(c for c in lamp_classes("infrared-850") if (c.power_w, c.beam_deg) == (15, 30))
    assert found.intensity == pytest.approx(10.0, rel=0.01)
    white = next(c for c in lamp_classes("white") if (c.power_w, c.beam_deg) == (30, 120))
    # a Lambertian lamp: flux / pi
    assert white.intensity == pytest.approx(30 * 110 / math.pi)


@pytest.mark.invariant
def test_classes_are_a_table_with_its_origin():
    header = data.read_table("lamps", "classes").header
    assert "common practice, no source" in header["origin"]
    assert header["status"] == "assumed"
    for lamp in lamp_classes():
        assert 10.0 <= lamp.beam_deg <= 120.0
        assert 0.0 < lamp.least_setting < 1.0
        assert 0.0 < lamp.least_guaranteed < 1.0


@pytest.mark.invariant
def test_a_lamp_that_can_be_bought_keeps_the_reserve_to_its_end_and_washes_nothing_out():
    for chosen in buyable("infrared-850", 2.0, 20.0, 30.0):
        assert chosen.least_guaranteed >= 2.0
        assert chosen.intensity * (1.0 + chosen.lamp.tolerance) <= 30.0
        assert chosen.lamp.beam_deg >= 20.0
    assert buyable("infrared-850", 2.0, 20.0, 2.5) == []
    least = smallest("infrared-850", 30.0)
    assert least.setting == least.lamp.least_setting
    assert all(least.intensity <= ChosenLamp(c, c.least_setting).intensity
               for c in lamp_classes("infrared-850") if c.beam_deg >= 30.0)  # fmt: skip


@pytest.mark.by_hand
def test_lens_and_shutter_by_closed_form(dark_gate, camera):
    session = open_session(dark_gate, camera)
    found = lens_range(session)
    # characters of 75 mm over a depth of 18 m on pixels of 2.9 um: f / depth x 75 mm / 2.9 um
    per_mm = 75.0 / 2.9 / session.target.depth_m * math.cos(math.radians(8.0))
    assert found.character_px_per_mm == pytest.approx(per_mm, rel=0.03)
    assert found.good_mm * found.character_px_per_mm == pytest.approx(28.0, rel=1e-6)
    assert found.least_mm < found.good_mm < found.most_mm
    # a plate that moves gets 1/500 s at most, however slow it is; 400 km/h takes a shorter one
    assert shutter_for(session, 20.0).shutter_s == trade.PLATE_SHUTTER_S
    fast = open_session(dark_gate.set({"target.plate.speed_kmh": 120}), camera)
    assert shutter_for(fast, 40.0).shutter_s < trade.PLATE_SHUTTER_S
    # 3.0 m - 0.55 m over 18 m
    assert angles_of(session).down_deg == pytest.approx(math.degrees(math.atan(2.45 / 18)), abs=0.1)


@pytest.mark.by_hand
def test_how_a_camera_comes_to_a_lens(camera):
    assert lens_choice(camera, 19.7).mm == 20.0
    assert lens_choice(camera, 200.0).mm == 50.0
    small = Camera.load("fixed-4mp-small-pixel")
    assert lens_choice(small, 5.1).mm == 6.0
    assert lens_choice(small, 5.1).other == "the camera with a 6 mm lens"
    wide = Camera.load("doorway-2mp-wide")  # 2.8-12 mm on a CS body
    assert lens_choice(wide, 30.0).changes["lens.use"] == trade.VARIFOCAL
    # nothing shorter is on sale for this body: its own lens at its shortest
    assert lens_choice(wide, 1.2).changes == {"lens.focal_length_mm": 2.8}


@pytest.mark.by_hand
def test_a_face_with_more_pixels_than_it_needs_may_smear_over_as_many_more():
    """4 km/h is 1.11 m/s; twice that over 1/125 s are 18 mm, and 2 px of 125 px/m are 16 mm: one
    who walks across gets 1/250 s, however long the lens is."""
    walks = ["target.visitor.speed_kmh=4", "target.visitor.heading_deg=90"]
    session = open_session(Scene.load("doorway-noon", walks), Camera.load("doorway-2mp-wide"))
    view, head = session.in_scene.view, session.part
    for lens_mm in (5.0, 7.0, 12.0):
        found = shutter_for(session, lens_mm)
        assert found.shutter_s == 1.0 / 250.0
        density = view.pixels_per_m(head.depth_m, head.place_px) * lens_mm / 5.0
        assert found.blur_px == pytest.approx(density * 4 / 3.6 / 250, rel=0.02)


@pytest.mark.by_hand
def test_the_face_of_a_person_is_what_must_be_seen_from_the_front():
    """2.4 m high, 6 m from a face at some 1.65 m: 7 degrees down, and not 14 as to the middle."""
    session = open_session(Scene.load("doorway-noon"), Camera.load("doorway-2mp-wide"))
    face_m = float(session.part.card.centre_m[2])
    assert 1.5 < face_m < 1.75
    expected = math.degrees(math.atan((2.4 - face_m) / 6.0))
    assert angles_of(session).down_deg == pytest.approx(expected, abs=0.3)
    # at 0.4 times the distance a height of 2.4 m is still within 20 degrees of the face
    assert moved(session, Place(0.4, 20.0)).model.station.height_m == pytest.approx(2.4, abs=0.05)


@pytest.mark.invariant
def test_a_way_best_in_reserve_alone_must_be_distinctly_better():
    def way(roles, darker):
        return Way(roles, None, SimpleNamespace(reserve=SimpleNamespace(darker_times=darker)), ())

    first = way(("cheapest", "least visible"), 13.0)
    found = by_proved_reserve([first, way(("most reserve",), 16.0)])
    assert [one.roles for one in found] == [("cheapest", "least visible", "most reserve")]
    found = by_proved_reserve([first, way(("most reserve",), 26.0)])
    assert [one.roles for one in found] == [first.roles, ("most reserve",)]
    assert by_proved_reserve([]) == []
    alone = by_proved_reserve([way(("most reserve",), 4.0)])
    assert [one.roles for one in alone] == [("most reserve",)]


@pytest.mark.invariant
def test_a_gate_by_night_gets_an_infrared_lamp_by_common_practice(dark_gate, camera):
    assert isinstance(solve(Point(dark_gate, camera, "settings", 3.0, None, 0)), Failed)
    found = solve(Point(dark_gate, camera, "infrared-850", 3.0, None, 0))
    assert isinstance(found, Solved)
    design = found.design
    assert design.fixed and design.mode == "night" and not design.wide_range
    assert design.shutter_s == 1.0 / 500.0
    assert design.gain_cap_db <= 12.0
    assert design.lamp.least_guaranteed >= 3.0 * found.window.least
    assert found.light_reserve >= 3.0
    scene, applied = design.applied(dark_gate)
    assert [one.name for one in scene.model.illuminator if one.on] == ["specified lamp"]
    assert applied.model.exposure.shutter_s == 1.0 / 500.0
    # on noise that the search never saw, as given and with the reserve used up
    at = open_session(scene, applied, seed=4242)
    assert at.probability(40, proof=True).value >= 0.9
    # with all light three times weaker, the recogniser has the word
    assert at.relit(every=1.0 / 3.0).probability(40, proof=True).value >= 0.9
    chosen = chosen_ways([found], Ask())
    assert chosen[0].solved.design == design
    assert {"cheapest", "least visible"} <= set(chosen[0].roles)
    for other in chosen[1:]:  # only where there is distinctly more reserve
        assert other.roles == ("most reserve",)
        assert other.solved.light_reserve >= 1.5 * found.light_reserve
    parts = parts_of(design, {"infrared-850": 120.0, camera.name: 400.0})
    assert [(part.kind, part.price) for part in parts] == [("camera", 400.0), ("lamp", 120.0)]
    assert chosen_ways([found], Ask(budget=500.0, prices={"infrared-850": 520.0})) == []


@pytest.mark.by_hand
def test_hard_hours_of_a_year(dark_gate):
    south = dark_gate.set({"natural_light": {
        "date": "2026-03-20", "time": "12:00", "latitude_deg": 48.2, "longitude_deg": 16.4,
        "camera_bearing_deg": 240.0,
    }})  # fmt: skip
    hours = {hour.name: hour for hour in hard_hours(south, (48.2, 16.4), 2026)}
    # a night without moon has a few thousandths of a lux; a clear noon of June 100 000 lx
    assert hours["darkest"].lux < 0.01
    assert hours["brightest"].lux > 90_000.0
    assert hours["brightest"].when[5:7] in ("06", "07")
    # looking west-south-west, it is an afternoon's sun that comes near the line of sight
    assert 13 <= int(hours["low-sun"].when[11:13]) <= 18
    # at 48 degrees north the sun never stands in the north as low as that
    north = south.set({"natural_light.camera_bearing_deg": 0.0})
    assert "low-sun" not in {hour.name for hour in hard_hours(north, (48.2, 16.4), 2026)}


@pytest.mark.by_hand
def test_a_steep_and_slanting_view_is_straightened(dark_gate, camera):
    assert [place.times for place in other_places(open_session(dark_gate, camera))] == [0.6, 0.4]
    aside = dark_gate.set({
        "target.plate.facing_deg": 45.0, "station.height_m": 6.0,
        "target.plate.position_m": [0.4, 9.0, 0.55], "station.aim_m": [0.4, 9.0, 0.6],
    })  # fmt: skip
    session = open_session(aside, camera)
    # 5.45 m over 9 m
    assert angles_of(session).down_deg == pytest.approx(math.degrees(math.atan(5.45 / 9)), abs=0.2)
    assert not angles_of(session).usual
    first = other_places(session)[0]
    assert first == Place(1.0, 20.0)
    scene = moved(session, first)
    there = open_session(scene, camera)
    found = angles_of(there)
    assert abs(found.sideways_deg) == pytest.approx(20.0, abs=0.1)
    assert found.down_deg == pytest.approx(20.0, abs=0.1)
    # 9 m away over the ground, as before: 0.55 m + 9.009 m tan 20
    level = math.dist(scene.model.station.ground_position_m, (0.4, 9.0))
    assert level == pytest.approx(math.hypot(0.4, 9.0), abs=0.01)
    assert scene.model.station.height_m == pytest.approx(0.55 + level * math.tan(math.radians(20)),
                                                         abs=0.02)  # fmt: skip


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("scene", "camera", "why"),
    [
        ("parking-colour", "night-colour-4mp", "no-colour"),
        # a camera in day mode holds its infrared-cut filter before the sensor
        ("doorway-noon", "doorway-2mp-wide", "by-day"),
    ],
)
def test_where_infrared_is_no_way(scene, camera, why):
    point = Point(Scene.load(scene), Camera.load(camera), "infrared-850", 3.0, None, 0)
    found = solve(point)
    assert isinstance(found, Failed)
    assert found.why.id == f"specify-failed.{why}"


@pytest.mark.invariant
def test_what_is_at_fault_is_refused_before_any_work(dark_gate, camera):
    with pytest.raises(InputError, match="A reserve below 1"):
        specify(dark_gate, [camera], Ask(reserve=0.5))
    with pytest.raises(InputError, match="no part of this name"):
        specify(dark_gate, [camera], Ask(prices={"infrared-85": 10.0}))


@pytest.mark.by_hand
def test_a_blackened_picture_is_said_in_the_first_line():
    picture = Rest(mean_level=1.0, white_fraction=0.0, black_fraction=0.89)
    task = SimpleNamespace(name="read", wanted_probability=0.9)
    found = SimpleNamespace(scene=SimpleNamespace(model=SimpleNamespace(task=task)))
    proof = SimpleNamespace(
        rest=picture, probability=1.0, word="legible", distance_m=18.0, height_m=3.0
    )
    lamp = ChosenLamp(lamp_classes("infrared-850")[0], 0.4)
    design = SimpleNamespace(
        lens_mm=20.0, shutter_s=0.002, gain_cap_db=12.0, wide_range=False, lamp=lamp, mount=None
    )
    solved = SimpleNamespace(notes=())
    way = SimpleNamespace(design=design, proof=proof, overview=None, solved=solved)
    said = " ".join(say_all(findings.way_line(found.scene, way)))
    assert said == (
        "20 mm lens, 1/500 s, at most 12 dB of gain, 3 W 850 nm infrared lamp, 60°, dimmed to 40 %,"
        " beside the camera: read correctly in practically every picture. 89 % of the rest of the"
        " picture is black."
    )
    second = SimpleNamespace(lens_mm=5.0, shutter_s=0.04, gain_cap_db=24.0)
    way.overview = SimpleNamespace(design=second, rest=Rest(34.0, 0.0, 0.07))
    assert "".join(say_all(findings.way_line(found.scene, way)[-1:])) == (
        "A second camera beside it, 5 mm, 1/25 s, at most 24 dB of gain, shows the surroundings"
        " (7 % of them black)."
    )


@pytest.mark.invariant
def test_a_second_camera_shows_what_a_plate_camera_leaves_black(dark_gate, camera):
    """20 times the shutter and 4 times the gain, in the light of the same lamp."""
    lamp = ChosenLamp(next(c for c in lamp_classes("infrared-850") if c.power_w == 8.0))
    design = Design(
        camera, {"lens.focal_length_mm": 20.0}, 20.0, 1.0 / 500.0, 12.0, fixed=True,
        wide_range=False, mode="night", focus_m=18.0, moves=True, lamp=lamp,
        lamp_aim_m=(0.4, 18.0, 0.5),
    )  # fmt: skip
    first = rest_of_picture(open_session(*design.applied(dark_gate)))
    assert first.black_fraction > 0.8
    found = overview_of(OverviewPoint(dark_gate, design, 0))
    assert found.rest.black_fraction < BLACKENED
    assert found.design.lens_mm < design.lens_mm
    assert found.design.shutter_s > 10.0 * design.shutter_s
    parts = parts_of(design, {camera.name: 400.0}, found)
    assert [part.kind for part in parts] == ["camera", "lamp", "overview"]
    assert [part.price for part in parts] == [400.0, None, 400.0]
    # without any light the second camera shows nothing either
    out = dark_gate.set({"natural_light.illuminance_lux": 0.0})
    assert overview_of(OverviewPoint(out, replace(design, lamp=None), 0)) is None


@pytest.mark.invariant
def test_the_first_way_is_told_once_and_not_before_those_ahead_of_it():
    def proof(word):
        return SimpleNamespace(word=word)

    def chosen(design):
        return SimpleNamespace(roles=("cheapest",), solved=SimpleNamespace(design=design))

    ways, told = [], []
    for name in ("a", "b", "c"):
        ways.append(chosen(SimpleNamespace(
            name=name, camera=SimpleNamespace(name="x", model=SimpleNamespace(price=None)),
            lens={}, lamp=None, mount=None,
        )))  # fmt: skip
    first = First(None, Ask(), lambda _scene, way: told.append(way.design.name))
    first.tell(ways)
    first.keep(ways[1].solved.design, proof("legible"))
    first.tell(ways)
    assert told == []
    first.keep(ways[0].solved.design, proof("not legible"))
    first.tell(ways)
    assert told == ["b"]
    first.keep(ways[2].solved.design, proof("legible"))
    first.tell(ways)
    assert told == ["b"]
