"""What a camera's metering tells of a target before anything is traced."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from bare import bare

from simulator.judge.target import mean_wavelength_nm
from simulator.studies.overrides import load_pair
from simulator.studies.quick_look import observer_look
from simulator.studies.session import open_session
from simulator.studies.specify.design import Design
from simulator.studies.specify.exposing import (
    AIM,
    WHOLE,
    backlit,
    drowned,
    electrons_of,
    exposure_of,
    held_back,
    overexposed,
)
from simulator.studies.specify.screens import lens_choice, moves

SETS = (
    "sensor.width_px=480", "sensor.height_px=270", "sensor.pixel_pitch_um=11.6",
    "natural_light.illuminance_lux=300", "lens.focal_length_mm=6", "task.name=recognise",
)  # fmt: skip


@pytest.fixture(scope="module")
def face():
    session = open_session(*load_pair(bare("entry-panel-face"), "fixed-2mp-lowlight", SETS), seed=3)
    session.settle()
    return session


def design_of(session):
    choice = lens_choice(session.camera, 6.0)
    return Design(
        session.camera, choice.changes, choice.mm, 0.02, 24.0, fixed=False, wide_range=False,
        mode="auto", focus_m=1.2, moves=moves(session),
    )  # fmt: skip


@pytest.mark.invariant
def test_metered_light_is_that_of_the_traced_face(face):
    found = face.electrons()
    x0, y0, x1, y1 = found.target_box_px
    left, top = found.box_px[:2]
    traced = np.median(found.electrons[y0 - top : y1 - top, x0 - left : x1 - left, 1])
    assert electrons_of(face) == pytest.approx(float(traced), rel=0.15)


@pytest.mark.by_hand
def test_what_is_overexposed_is_held_back_by_gain_first(face):
    """20 dB are ten times the signal; a cap takes the target back to between half and all of AIM
    where gain reaches, and by the shutter beyond."""
    plain = face.with_exposure(shutter_s=0.02, gain_db=0.0)
    bright = face.with_exposure(shutter_s=0.02, gain_db=20.0)
    assert exposure_of(bright) == pytest.approx(10.0 * exposure_of(plain), rel=1e-6)
    assert overexposed(bright)
    design = design_of(face)
    held = held_back(bright, design)
    assert held.gain_cap_db < 20.0 and held.shutter_s <= design.shutter_s
    at = face.with_exposure(shutter_s=held.shutter_s, gain_db=held.gain_cap_db)
    assert exposure_of(at) <= WHOLE
    assert exposure_of(at) >= 0.4 * AIM
    dim = face.with_exposure(shutter_s=1e-4, gain_db=0.0)
    assert held_back(dim, design) == design


@pytest.mark.by_hand
def test_noise_alone_rules_a_face_out_in_hardly_any_light(face):
    """At a millionth of the light less than an electron falls on the whole face."""
    assert not drowned(face)
    assert drowned(face.relit(every=1e-6))
    other = replace(face, scene=face.scene.set({"task.name": "detect"}))
    assert not drowned(other.relit(every=1e-6))


@pytest.mark.invariant
def test_a_colour_looked_at_in_dimmer_light_is_not_traced_again():
    small = (
        "sensor.width_px=384", "sensor.height_px=216", "sensor.pixel_pitch_um=14",
        "processing.temporal_noise_reduction=0", "exposure.shutter_s=0.04",
    )  # fmt: skip
    session = open_session(*load_pair(bare("parking-colour"), "night-colour-4mp", small))
    first = observer_look(session)
    kept = len(session.layers.pixels)
    assert kept > 0

    def mean_nm(at):
        return mean_wavelength_nm(at.in_scene, at.state, at.target)

    # a light whose mean wavelength is the same but for the rounding of a sum
    dimmer = next(
        x for k in range(2, 40) if mean_nm(x := session.relit(every=1 / k)) != mean_nm(session)
    )
    assert mean_nm(dimmer) == pytest.approx(mean_nm(session), abs=1e-9)
    assert observer_look(dimmer).value == pytest.approx(first.value, abs=0.3)
    assert len(session.layers.pixels) == kept


@pytest.mark.by_hand
@pytest.mark.parametrize(
    ("sets", "expected"),
    [
        (("surface.doorway.luminance_ratio=40",), True),
        # a white wall has no more than about 0.9 / 0.2 over a person in the same light
        (("surface.doorway.luminance_ratio=4.5",), False),
        # a door onto the night
        (("surface.doorway.luminance_ratio=0.02",), False),
        # without a subject named: 3000 cd/m2 before some 10 cd/m2 of a person at 100 to 200 lx
        ({"surface.doorway.luminance_ratio": None, "surface.doorway.against": None,
          "surface.doorway.luminance_cd_m2": 3000.0}, True),
        ({"surface.doorway.luminance_ratio": None, "surface.doorway.against": None,
          "surface.doorway.luminance_cd_m2": 0.5}, False),
        # an opening behind the camera lights the face
        ({"surface.doorway.luminance_ratio": None, "surface.doorway.against": None,
          "surface.doorway.luminance_cd_m2": 3000.0, "surface.doorway.position_m": [0, -1.9, 0],
          "surface.doorway.facing_deg": 180.0}, False),
    ],
)  # fmt: skip
def test_only_an_opening_much_brighter_than_the_target_is_backlight(sets, expected):
    scene, camera = load_pair(bare("doorway-noon"), "doorway-2mp-wide", ())
    scene = scene.set(sets) if isinstance(sets, dict) else load_pair(scene, camera, sets)[0]
    assert backlit(open_session(scene, camera)) is expected
