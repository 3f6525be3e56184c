"""People and things judged by pictures: what no picture shows is not seen."""

from __future__ import annotations

from functools import lru_cache
from itertools import combinations, pairwise

import cv2
import numpy as np
import pytest
from bare import bare
from skimage import data, feature

from simulator import Camera, Scene
from simulator.judge.parts import critical_px, judged_part
from simulator.judge.people import QUICK, know_face, notice
from simulator.judge.retakes import retakes_of
from simulator.judge.silhouette import seen_silhouette
from simulator.scene.radiosity.field import make
from simulator.scene.variants import strangers, without
from simulator.studies.session import open_session

CAMERA = "fixed-2mp-lowlight"


@lru_cache
def camera() -> Camera:
    return Camera.load(CAMERA)


def face(distance_m, lux=500.0, *, sets=None, **more):
    table = {
        "title": "Face", "question": "Who is it?",
        "natural_light": {"illuminance_lux": lux, "spectrum": "daylight"},
        "station": {"height_m": 1.6, "aim_m": [0.0, distance_m, 1.6], "focus_m": distance_m},
        "surface": [{"name": "floor", "kind": "ground", "material": "concrete"}],
        "target": [
            {"name": "somebody", "kind": "face", "position_m": [0.0, distance_m, 1.6],
             "variant": 3, **more}
        ],
        "task": {"target": "somebody", "name": "recognise"},
    }  # fmt: skip
    scene = Scene.from_dict(table, name="face", folder=".")
    return scene if sets is None else scene.set(sets)


def looked_at(scene, camera_):
    session = open_session(scene, camera_, seed=1)
    part = judged_part(session.in_scene, session.target, "recognise")
    silhouette = seen_silhouette(session.in_scene, part, 0.0)
    return retakes_of(session.in_scene, session.state, part, silhouette, seed=1), part, silhouette


@lru_cache
def known(scene, task="recognise", camera_=None):
    retakes, part, silhouette = looked_at(scene, camera_ or camera())
    value = know_face(retakes, part, silhouette, task, effort=QUICK).value
    return value, critical_px(retakes.in_scene, part, silhouette)


@lru_cache
def fence() -> Scene:
    """The perimeter in fog without trees and bushes, which take most of the time."""
    return Scene.load(bare("perimeter-fog"))


@lru_cache
def coarse() -> Camera:
    """A quarter of the pixels; a walker has enough of them."""
    half = {"sensor.width_px": 960, "sensor.height_px": 540, "sensor.pixel_pitch_um": 5.8}
    return camera().set(half)


def detected(scene, camera_=None):
    session = open_session(scene, camera_ or camera(), seed=1)
    silhouette = seen_silhouette(session.in_scene, session.target, 0.0)
    place = retakes_of(session.in_scene, session.state, session.target, silhouette, seed=1)
    return notice(place, session.target, silhouette, effort=QUICK).value


@pytest.mark.outside
def test_faces_of_thirty_to_forty_pixels_suffice_to_identify_and_eleven_do_not():
    # Keil 2009 (PLoS Comput. Biol. e1000329): about 30 to 40 px ear to ear suffice; Costen: the
    # fall steepens towards 11 px a face
    large, across = known(face(16.0), "identify")
    assert across == pytest.approx(41.0, abs=2.0)
    assert large > 0.9
    coarse, across = known(face(60.0))
    assert across == pytest.approx(11.0, abs=0.5)
    assert coarse < 0.25


@pytest.mark.invariant
def test_a_face_of_three_pixels_is_nobody():
    value, across = known(face(215.0))
    assert across < 3.2
    assert value < 0.05


@pytest.mark.invariant
def test_a_face_in_the_dark_is_nobody():
    # a black picture, and one whose outline alone is seen
    assert known(face(14.0, 0.001))[0] < 0.05
    assert known(face(14.0, 0.03))[0] < 0.1


@pytest.mark.invariant
def test_more_distance_noise_or_defocus_never_helps():
    at = [known(face(d))[0] for d in (16.0, 25.0, 60.0)]
    assert all(b <= a + 0.05 for a, b in pairwise(at))
    lit = [known(face(14.0, lux))[0] for lux in (500.0, 3.0, 0.1)]
    assert lit[0] > 0.95 and lit[-1] < 0.15
    assert lit[1] <= lit[0] + 0.05 and lit[2] <= lit[1] + 0.05
    blurred = [known(face(14.0, sets={"station.focus_m": f}))[0] for f in (14.0, 4.0, 1.5)]
    assert blurred[0] > 0.95 > blurred[2] + 0.5
    assert blurred[2] <= blurred[1] + 0.05


WORSE = {
    "defocus": {"station.focus_m": 4.0},
    "darkness": {"natural_light.illuminance_lux": 3.0},
    "stray light": {"lens.glare_index": 0.5},
}


@pytest.mark.invariant
def test_two_impairments_are_never_better_than_one_for_a_face():
    def value(*names):
        changes = {key: v for name in names for key, v in WORSE[name].items()}
        own = {key: v for key, v in changes.items() if key.startswith("lens.")}
        scene = {key: v for key, v in changes.items() if key not in own}
        return known(face(14.0, sets=scene), camera_=camera().set(own) if own else None)[0]

    alone = {name: value(name) for name in WORSE}
    assert min(alone.values()) < 0.95
    for one, other in combinations(WORSE, 2):
        both = value(one, other)
        assert both <= min(alone[one], alone[other]) + 0.05, (one, other, both, alone)


@pytest.mark.invariant
def test_two_impairments_are_never_better_than_one_for_a_walker():
    worse = {
        "fog": {"air.visibility_m": 300.0},
        "defocus": {"station.focus_m": 1.5},
    }

    def value(*names):
        changes = {key: v for name in names for key, v in worse[name].items()}
        return detected(fence().set({"air.visibility_m": 900.0, **changes}), coarse())

    alone = {name: value(name) for name in worse}
    assert min(alone.values()) < 0.95
    for one, other in combinations(worse, 2):
        assert value(one, other) <= min(alone[one], alone[other]) + 0.05, (one, other, alone)


@pytest.mark.invariant
def test_to_identify_is_harder_than_to_recognise():
    scene = face(25.0)
    assert known(scene, "identify")[0] <= known(scene)[0]


@pytest.mark.invariant
def test_from_behind_nobody_is_known():
    scene = face(14.0).set({"target.somebody.kind": "face"})
    assert known(scene)[0] > 0.9
    person = Scene.from_dict(
        {
            **scene.table(),
            "target": [{"name": "somebody", "kind": "person", "position_m": [0.0, 14.0, 0.0],
                        "seen_from": "back"}],
        }, name="back", folder=".",
    )  # fmt: skip
    assert known(person)[0] == 0.0


@pytest.mark.invariant
def test_a_brighter_background_does_not_help_a_dark_face():
    """Light that leaks over the rim of the head tells nothing about who it is."""

    def before_a_door(ratio):
        table = Scene.load(bare("doorway-noon")).set({"task.name": "recognise"})
        return known(table.set({"surface.doorway.luminance_ratio": ratio}))[0]

    dim, bright = before_a_door(10.0), before_a_door(300.0)
    assert bright <= dim + 0.05


@pytest.mark.invariant
def test_thick_fog_hides_a_walker_and_clear_air_shows_him():
    fog = fence()
    assert detected(fog.set({"air.visibility_m": 60.0}), coarse()) < 0.05
    assert detected(fog.set({"air.visibility_m": 5000.0}), coarse()) > 0.95


@pytest.mark.invariant
def test_nothing_is_detected_as_rarely_as_stated():
    """A target without contrast: the viewer is fooled in one picture of a hundred, all places of
    the picture together, and so hardly ever at this one."""
    scene = face(16.0)
    session = open_session(scene, camera(), seed=1)
    silhouette = seen_silhouette(session.in_scene, session.target, 0.0)
    place = retakes_of(session.in_scene, session.state, session.target, silhouette, seed=1)
    bare = without(session.in_scene.world, ["somebody"])
    nowhere = type(place)(
        type(session.in_scene)(
            bare, session.in_scene.station, session.in_scene.camera,
            session.in_scene.switches, session.in_scene.row_zero_m,
        ),
        place.state, place.plan, place.stray_light, place.seed,
    )  # fmt: skip
    assert notice(nowhere, session.target, silhouette, effort=QUICK).value < 0.02


@pytest.mark.invariant
def test_strangers_share_the_outline_and_differ_inside():
    world = open_session(face(5.0), camera(), seed=1).in_scene.world
    index = world.targets["somebody"][-1]
    own = world.cards[index].texture
    for alike in (False, True):
        others = [w.cards[index].texture for w in strangers(world, "somebody", 3, look_alike=alike)]
        for other in others:
            assert other.shape == own.shape
            assert 0.002 < np.mean(other != own) < 0.5
    alike = strangers(world, "somebody", 1, look_alike=True)[0].cards[index].texture
    assert np.array_equal(alike == 255, own == 255)


@pytest.mark.invariant
def test_a_stranger_s_head_gets_the_light_it_gets_in_a_world_made_anew():
    in_scene = open_session(face(16.0), camera(), seed=1).in_scene
    (other,) = strangers(in_scene.world, "somebody", 1)
    quick, anew = in_scene.before_other(other).light_field, make(other)
    head = slice(len(anew.leaves.place), None)
    np.testing.assert_array_equal(quick.sky[head], anew.sky[head])
    off = np.abs(quick.indirect - anew.indirect)[head]
    # what the head throws on itself and the floor and gets back is that of the first head
    assert off.mean() < 0.01 * anew.indirect[head].mean()
    assert np.quantile(off, 0.99) < 0.05 * anew.indirect[head].max()


@pytest.mark.outside
def test_a_face_detector_that_a_package_ships_finds_our_faces():
    """scikit-image's local-binary-pattern cascade, trained on photographs, as a weak witness: a
    face of 47 px is found in every picture, and never where there is none or no light."""
    cascade = feature.Cascade(data.lbp_frontal_face_cascade_filename())

    def found(scene, present=True):
        retakes, part, silhouette = looked_at(scene, camera())
        across = critical_px(retakes.in_scene, part, silhouette)
        near, _ = retakes.around(silhouette.inside, 40, retakes.plan.split)
        world = retakes.in_scene.world
        shown = world if present else without(world, ["somebody"])
        scale = 120.0 / across
        return [
            len(cascade.detect_multi_scale(
                cv2.resize(p, None, fx=scale, fy=scale, interpolation=cv2.INTER_CUBIC),
                scale_factor=1.1, step_ratio=1, min_size=(60, 60), max_size=(240, 240),
            )) > 0
            for p in near.pictures(shown, [4], 0, "" if present else "nobody")
        ]  # fmt: skip

    assert all(found(face(14.0)))
    assert not any(found(face(14.0), present=False))
    assert not any(found(face(14.0, 0.001)))
