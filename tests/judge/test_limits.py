"""Limits: cases made by hand whose first cause is plain."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.judge.limits import FACTORS, MEANINGS, find_limits, no_single_mending, without
from simulator.judge.trials import read_probability

HEADLIGHTS = {"name": "car", "kind": "vehicle-front", "carries": "plate", "headlights": "main"}
WALL = {"name": "wall", "kind": "wall", "material": "concrete", "position_m": [0, 22, -40],
        "width_m": 120.0, "height_m": 90.0}  # fmt: skip


def limits_of(made, trials=8):
    found = read_probability(
        made.rig, made.state, made.target, seed=5, trials=24, plan=made.plan, traces=made.traces,
        phases=1,
    )  # fmt: skip
    rows = find_limits(
        made.rig, made.state, made.target, found.value,
        plan=made.plan, traces=made.traces, seed=5, trials=trials,
    )  # fmt: skip
    return found.value, rows


def _dark(judged, camera):
    return judged(camera=camera(), lux=0.01, surface=[WALL])


def _fast(judged, camera):
    return judged(
        camera=camera(exposure={"shutter_s": 1.0 / 30.0}),
        lux=20.0,
        surface=[WALL],
        plate={"speed_kmh": 40.0, "heading_deg": 90.0},
    )


def _far(judged, camera):
    # 3.4 px high; a lens far sharper than the pixel, ample light
    return judged(
        camera=camera(lens={"aberration_um": 0.2, "focus_m": 90.0, "glare_index": 0.0}),
        lux=20_000.0,
        surface=[{**WALL, "position_m": [0, 95, -40]}],
        plate={"position_m": [0.0, 90.0, 1.0]},
        station={"height_m": 1.0, "aim_m": [0.0, 90.0, 1.0]},
    )


def _own_infrared(judged, camera):
    infrared = {"name": "beside the lens", "wavelength_nm": 850.0, "beam_deg": 20.0,
                "radiant_intensity_w_per_sr": 60.0, "beside_camera_m": [0.08, 0.0, 0.0],
                "aim_m": [0.0, 18.0, 1.0]}  # fmt: skip
    return judged(
        camera=camera(day_night={"mode": "night"}, lens={"glare_index": 0.0}),
        lux=0.01,
        illuminator=[infrared],
    )


def _defocused(judged, camera):
    return judged(camera=camera(lens={"focus_m": 2.0}), lux=500.0, surface=[WALL])


def _glare(judged, camera):
    # the plate sits between main beams in the dark; stray light buries it. The exposure is fixed:
    # an automatic one sees the stray light, too, and leaves the plate dark without it
    return judged(
        camera=camera(
            lens={"glare_index": 0.4},
            exposure={"shutter_s": 0.01, "gain_db": 20.0},
            processing={"noise_reduction": 0.0},
            sensor={"width_px": 320, "height_px": 180},
        ),
        lux=5.0,
        plate={"position_m": [0.0, 18.0, 0.6]},
        station={"height_m": 1.0, "aim_m": [0.0, 18.0, 0.7]},
        target=[HEADLIGHTS],
    )


CASES = {
    "light": _dark,
    "motion": _fast,
    "pixels": _far,
    "exposure": _own_infrared,
    "defocus": _defocused,
    "glare": _glare,
}


@pytest.mark.by_hand
@pytest.mark.parametrize("cause", CASES)
def test_the_plain_cause_comes_first(make_judged, make_camera, cause):

    def small_camera(**tables):
        """Few pixels and no memory of earlier frames: quick."""
        tables["processing"] = {"temporal_noise_reduction": 0.0, **tables.get("processing", {})}
        tables.setdefault("sensor", {"width_px": 200, "height_px": 96})
        return make_camera(**tables)

    made = CASES[cause](make_judged, small_camera)
    value, rows = limits_of(made)
    told = [(r.factor, r.probability_without, r.probability_only, round(r.share, 2)) for r in rows]
    assert value < 0.3, told
    assert rows[0].factor == cause, told
    assert rows[0].share > 0.3, told
    assert {row.factor for row in rows} == set(FACTORS) == set(MEANINGS)
    for row in rows:
        assert 0.0 <= row.probability_without <= 1.0
        assert 0.0 <= row.probability_only <= 1.0


@pytest.mark.invariant
def test_what_is_not_there_costs_nothing(make_judged, make_camera):
    # nothing moves, characters are 34 px high, the light is ample
    made = make_judged(
        camera=make_camera(
            sensor={"width_px": 300, "height_px": 100},
            lens={"focus_m": 9.0, "aberration_um": 12.0},
            processing={"temporal_noise_reduction": 0.0},
        ),
        lux=60_000.0,
        plate={"position_m": [0.0, 9.0, 1.0]},
        station={"height_m": 1.0, "aim_m": [0.0, 9.0, 1.0]},
    )
    for absent in ("motion", "pixels", "light"):
        assert without(made.rig, made.state, made.target, [absent]) is None
    rows = find_limits(
        made.rig, made.state, made.target, 0.625,
        plan=made.plan, traces=made.traces, seed=5, trials=8,
    )  # fmt: skip
    by_name = {row.factor: row for row in rows}
    for absent in ("motion", "pixels", "light"):
        assert by_name[absent].probability_without == 0.625
        assert by_name[absent].share == 0.0


@pytest.mark.invariant
def test_removing_leaves_the_rest_alone(make_judged, make_camera):
    made = make_judged(
        camera=make_camera(exposure={"shutter_s": 0.02}),
        plate={"speed_kmh": 20.0, "heading_deg": 90.0},
    )
    before = made.rig.camera.model_dump(), made.rig.world.velocities.copy(), made.rig.switches
    rig, state, _ = without(made.rig, made.state, made.target, ["motion"])
    assert not np.any(rig.world.velocities)
    assert rig.camera is made.rig.camera and state is made.state
    rig, state, _ = without(made.rig, made.state, made.target, ["defocus"])
    assert not rig.switches.defocus and rig.switches.diffraction
    rig, state, target = without(made.rig, made.state, made.target, list(FACTORS))
    assert target.character_height_px >= 24.0
    assert rig.camera.sensor.read_noise_e == 0.0
    assert made.rig.camera.model_dump() == before[0]
    assert np.array_equal(made.rig.world.velocities, before[1])
    assert made.rig.switches is before[2]


@pytest.mark.by_hand
def test_finer_pixels_keep_the_noise_of_an_area(make_judged, make_camera):
    made = make_judged(camera=make_camera(), lux=10.0)
    rig, _, target = without(made.rig, made.state, made.target, ["pixels"])
    k = round(target.character_height_px / made.target.character_height_px)
    old, new = made.rig.camera.sensor, rig.camera.sensor
    assert k >= 2
    assert target.character_height_px == pytest.approx(k * made.target.character_height_px)
    # k x k fine pixels together: the same well, read noise variance, dark current
    assert k**2 * new.full_well_e == pytest.approx(old.full_well_e)
    assert k**2 * new.read_noise_e**2 == pytest.approx(old.read_noise_e**2)
    assert k**2 * new.dark_current_e_per_s == pytest.approx(old.dark_current_e_per_s)
    assert new.width_px * new.pixel_pitch_um == pytest.approx(old.width_px * old.pixel_pitch_um)
    assert rig.view.focal_px == pytest.approx(k * made.rig.view.focal_px)


@pytest.mark.by_hand
def test_the_plate_exposed_for_itself_lies_at_half(make_judged, make_camera):
    from simulator.camera.patch import patch_light
    from simulator.judge.figures import levels

    made = _own_infrared(make_judged, make_camera)
    light, _ = levels(made.rate, made.state, made.target, made.origin)
    white = made.rig.camera.sensor.full_well_e / made.state.chain.gain
    assert light * made.state.exposure.shutter_s > 2.0 * white  # washed out as it was
    rig, state, target = without(made.rig, made.state, made.target, ["exposure"])
    rate = patch_light(rig, state.mode, state.exposure.shutter_s, made.plan, made.veil)
    light, _ = levels(rate, state, target, made.origin)
    white = rig.camera.sensor.full_well_e / state.chain.gain
    level = light * state.exposure.shutter_s * state.colour.balance.max() / white
    assert level == pytest.approx(0.5, rel=0.05)


def _row(factor, without, only, share=0.2):
    return {"factor": factor, "probability_without": without, "probability_only": only,
            "share": share}  # fmt: skip


@pytest.mark.by_hand
def test_sentence_where_several_each_suffice():
    both = [_row("motion", 0.1, 0.0), _row("exposure", 0.0, 0.2), _row("glare", 0.0, 1.0, 0.0)]
    text = "No single mending suffices: motion and exposure each spoil the reading alone."
    assert no_single_mending(both) == text
    assert no_single_mending([_row("motion", 0.9, 0.0), *both[1:]]) is None
    assert no_single_mending([]) is None
    added = no_single_mending([_row("motion", 0.1, 0.8), _row("light", 0.2, 0.7)])
    assert added == "No single mending suffices: several impairments add up."
    many = no_single_mending([_row(name, 0.0, 0.0) for name in ("motion", "light", "pixels", "x")])
    assert "motion, light, pixels and more each spoil" in many
