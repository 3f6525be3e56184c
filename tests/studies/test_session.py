"""One opened scene: relit, exposed and drawn anew it answers what a fresh one answers."""

from __future__ import annotations

import numpy as np
import pytest
from bare import bare

from simulator.camera.rolling import row_zero_px
from simulator.errors import InputError
from simulator.studies.overrides import load_pair
from simulator.studies.predict import predict
from simulator.studies.quick import quick, quick_of
from simulator.studies.quick_look import observer_look
from simulator.studies.session import open_session

SMALL = ("sensor.width_px=480", "sensor.height_px=270", "sensor.pixel_pitch_um=11.6")
TRIALS = 16
ALONE = {"remedies": False, "tolerances": False}


def pair(scene, camera="fixed-2mp-lowlight", sets=()):
    return load_pair(scene, camera, [*SMALL, *sets])


def light_of(session):
    """Light of the target's part of the picture [e-]."""
    return session.electrons().electrons


def assert_alike(session, scene, camera, seed=3):
    """A session answers what a fresh one of a changed scene or camera does."""
    fresh = open_session(scene, camera, seed=seed)
    found, wanted = (quick_of(one, trials=TRIALS).row() for one in (session, fresh))
    words = {key: wanted.pop(key) for key in ("verdict", "mode")}
    assert {key: found.pop(key) for key in words} == words
    # light agrees to some 1e-7 (below), and where it stands at the edge of a step of the 8-bit
    # picture the step may fall to the other side: a few of those change P by some 1e-5, most
    # where it is about a half
    chances = [key for key in wanted if key.startswith("probability")]
    told = [found.pop(key) for key in chances]
    assert told == pytest.approx([wanted.pop(key) for key in chances], abs=1e-4)
    assert found == pytest.approx(wanted, rel=1e-4, abs=1e-9)
    # sums of 32-bit floats in another order; transforms round by the brightest of the picture
    found, wanted = light_of(session), light_of(fresh)
    np.testing.assert_allclose(found, wanted, rtol=1e-5, atol=3e-6 * float(wanted.max()))


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("scene", "sets", "lux"),
    [
        (bare("depot-gate-infrared"), (), 0.3),  # rolls in, night, infrared beside the lens
        ("wet-road-headlights", (), 4.0),  # headlights that move, wet ground
        (bare("depot-gate-infrared"), ('air={visibility_m=80.0, kind="fog"}',), 5.0),
        ("doorway-noon", (), 3000.0),  # an opening that keeps its luminance ratio
    ],
)
def test_natural_light_of_another_level(scene, sets, lux):
    base = pair(scene, sets=sets)
    session = open_session(*base, seed=3)
    session.probability(TRIALS)
    there = session.relit(lux=lux)
    assert_alike(there, base[0].set({"natural_light.illuminance_lux": lux}), base[1])


@pytest.mark.invariant
def test_lamps_of_another_strength():
    scene, camera = pair("loading-bay-dusk")
    first, *rest = [lamp for lamp in scene.model.lamp if lamp.on]
    strengths = {first.name: 0.25} | {lamp.name: 0.0 for lamp in rest[:1]}
    session = open_session(scene, camera, seed=3)
    dimmed = {f"lamp.{first.name}.dimming": 0.25 * first.dimming}
    off = {f"lamp.{name}.on": False for name, factor in strengths.items() if factor == 0.0}
    assert_alike(session.relit(lamps=strengths), scene.set(dimmed, off), camera)


@pytest.mark.invariant
def test_relit_sessions_do_not_depend_on_their_order():
    scene, camera = pair(bare("depot-gate-infrared"))
    session = open_session(scene, camera, seed=3)
    written = session.probability(TRIALS)
    for lux in (500.0, 0.001, scene.model.natural_light.illuminance_lux):
        session = session.relit(lux=lux)
    again = session.probability(TRIALS)
    assert (again.value, again.low, again.high) == (written.value, written.low, written.high)


@pytest.mark.invariant
def test_held_exposure_and_other_noise():
    scene, camera = pair(bare("depot-gate-infrared"))
    session = open_session(scene, camera, seed=3)
    session.probability(TRIALS)
    held = {"exposure.shutter_s": 0.002, "exposure.gain_db": 30.0}
    other = session.with_exposure(shutter_s=0.002, gain_db=30.0)
    assert_alike(other, scene, camera.set(held))
    assert_alike(session.with_seed(8), scene, camera, seed=8)
    both = other.relit(lux=2.0)
    assert both.state.exposure.shutter_s == 0.002
    assert_alike(both, scene.set({"natural_light.illuminance_lux": 2.0}), camera.set(held))
    with pytest.raises(InputError):
        session.with_exposure(shutter_s=-1.0)


@pytest.mark.by_hand
def test_all_light_doubled_doubles_the_electrons():
    scene, camera = pair("loading-bay-dusk", sets=("exposure.shutter_s=0.001",))
    session = open_session(scene, camera)
    once, twice = light_of(session), light_of(session.relit(every=2.0))
    np.testing.assert_allclose(twice, 2.0 * once, rtol=1e-5)


@pytest.mark.by_hand
def test_light_of_two_lamps_adds_up():
    """What each of two lamps adds is the same with the other one on or off.

    But for the lens blur, which follows the mean wavelength, and the interpolation of stray light.
    """
    scene, camera = pair("loading-bay-dusk", sets=("exposure.shutter_s=0.001",))
    session = open_session(scene, camera)
    names = [lamp.name for lamp in scene.model.lamp if lamp.on][:2]
    one, other = ({name: 0.0} for name in names)
    dark = light_of(session.relit(lamps={**one, **other}))
    parts = light_of(session.relit(lamps=one)) + light_of(session.relit(lamps=other))
    np.testing.assert_allclose(parts - dark, light_of(session), rtol=1e-3)


def test_pictures_are_delivered_ones_with_their_place():
    scene, camera = pair(bare("depot-gate-infrared"))
    session = open_session(scene, camera, seed=5)
    frames, box, target = session.pictures(3)
    assert frames.dtype == np.uint8
    assert frames.shape == (3, box[3] - box[1], box[2] - box[0], 3)
    assert box[0] <= target[0] < target[2] <= box[2] and box[1] <= target[1] < target[3] <= box[3]
    assert not np.array_equal(frames[0], frames[1])
    # the pictures of `predict` show the same moment: levels agree but for noise
    whole = predict(scene, camera, 5, **ALONE).frame[box[1] : box[3], box[0] : box[2]]
    assert frames.mean() == pytest.approx(whole.mean(), rel=0.05)


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("scene", "given"),
    [
        (bare("depot-gate-infrared"), {"lux": -1.0}),
        (bare("depot-gate-infrared"), {"lux": float("nan")}),
        (bare("depot-gate-infrared"), {"lamps": {"no such lamp": 1.0}}),
        ("loading-bay-dusk", {"every": -0.5}),
    ],
)
def test_impossible_light_is_refused(scene, given):
    with pytest.raises(InputError) as refused:
        open_session(*pair(scene)).relit(**given)
    assert refused.value.argument is not None


@pytest.mark.invariant
def test_studies_judge_the_row_of_the_target():
    """A rolling shutter exposes the target's row at the frame's moment, for all studies alike."""
    scene, camera = pair(bare("yard-noon"))
    session = open_session(scene, camera, seed=3)
    assert camera.model.sensor.shutter == "rolling"
    assert row_zero_px(session.in_scene) == pytest.approx(session.target.place_px[1], abs=1.0)
    row = quick(scene, camera, seed=3, trials=TRIALS).row()
    found = predict(scene, camera, 3, trials=TRIALS, **ALONE).verdict
    assert row["shutter_s"] == found.exposure.shutter_s
    assert row["gain_db"] == found.exposure.gain_db
    assert row["motion_blur_px"] == pytest.approx(found.signal.motion_blur_px)


@pytest.mark.invariant
def test_no_study_mounts_a_camera_by_itself():
    """Whoever mounts one alone may forget the row of the target, and judge another moment."""
    from pathlib import Path

    import simulator.studies

    folder = Path(simulator.studies.__file__).parent
    alone = ("place_camera", "with_row_zero")
    found = [
        file.name
        for file in folder.rglob("*.py")
        if any(word in file.read_text(encoding="utf-8") for word in alone)
    ]
    assert found == ["placing.py"]


@pytest.mark.invariant
@pytest.mark.parametrize("task", ["detect", "recognise"])
def test_a_sure_look_tells_a_face_from_strangers_as_a_judgement_does(task):
    """Kept patches of strangers, of nobody and of the target are kept apart."""
    by_day = (
        "natural_light.illuminance_lux=300", "lens.focal_length_mm=6", f"task.name={task}",
        "sensor.width_px=240", "sensor.height_px=136", "sensor.pixel_pitch_um=23.2",
    )  # fmt: skip
    session = open_session(*pair(bare("entry-panel-face"), sets=by_day), seed=3)
    found = observer_look(session).value
    assert found == pytest.approx(session.probability(proof=True).value, abs=1e-4)
    assert found > 0.5
