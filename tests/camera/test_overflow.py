"""Blooming and vertical smear."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.camera.light_field import frame_light
from simulator.camera.model import Sensor
from simulator.camera.overflow import bloom, mosaic_light, smear, spill
from simulator.camera.region import region_light
from simulator.camera.region_plan import RegionPlan
from simulator.camera.sensor import expose
from simulator.camera.sensor_readout import readout

FULL = 1000.0
HEADLAMP = {
    "name": "lamp",
    "spectrum": "led-4000k",
    "intensity_cd": 5000.0,
    "beam_deg": 60.0,
    "position_m": [0.1, 19.0, 1.05],
    "aim_m": [0.0, 0.0, 1.0],
    "flicker_depth": 0.0,
}


def sensor(**changes) -> Sensor:
    return Sensor.model_validate(
        {
            "width_px": 64,
            "height_px": 80,
            "pixel_pitch_um": 5.0,
            "quantum_efficiency": "ccd-analogue",
            "full_well_e": FULL,
            "read_noise_e": 0.0,
            "dark_current_e_per_s": 0.0,
            **changes,
        }
    )


@pytest.mark.by_hand
def test_charge_walks_up_and_down_until_it_is_taken():
    """900 e- too many in one pixel, a third spills: 150 up and 150 down, 100 free in each pixel."""
    charge = np.full((9, 3), 900.0, np.float32)
    charge[4, 1] = 1900.0
    got = bloom(charge, FULL, 1.0 / 3.0)
    assert got[:, 1] == pytest.approx([0, 0, 50, 100, 0, 100, 50, 0, 0], abs=1e-3)
    assert not np.any(got[:, [0, 2]])


@pytest.mark.by_hand
def test_full_pixels_pass_it_on():
    charge = np.array([[800.0], [1000.0], [1200.0], [1100.0], [950.0], [0.0]], np.float32)
    # 100 up from the third, 50 up from the fourth; 100 and 50 down, of which 50 fill the fifth
    assert bloom(charge, FULL, 1.0)[:, 0] == pytest.approx([150, 0, 0, 0, 50, 100], abs=1e-3)


@pytest.mark.invariant
def test_charge_is_kept_but_for_what_is_drained():
    rng = np.random.default_rng(4)
    charge = rng.uniform(0.0, 900.0, (400, 50)).astype(np.float32)
    charge[180:200, 10:30] = rng.uniform(500.0, 9000.0, (20, 20))
    over = np.maximum(charge.astype(np.float64) - FULL, 0.0).sum(axis=0)
    for share in (0.0, 0.4, 1.0):
        got = bloom(charge, FULL, share)
        assert not np.any(got[[0, -1]])  # none reached the edge
        assert got.sum(axis=0) == pytest.approx(share * over, rel=1e-5, abs=1e-3)
        assert np.all(np.minimum(charge, FULL) + got <= FULL * (1.0 + 1e-6))


@pytest.mark.invariant
def test_blooming_is_the_same_upside_down():
    charge = np.full((60, 4), 700.0, np.float32)
    charge[25:30] = 5000.0
    assert bloom(charge, FULL, 1.0) == pytest.approx(bloom(charge[::-1], FULL, 1.0)[::-1])


@pytest.mark.by_hand
def test_smear_is_defined_by_a_patch_of_a_tenth():
    """-60 dB: a thousandth of the patch above and below it, in its columns alone."""
    light = np.zeros((200, 10), np.float32)
    light[50:70, 3:5] = 4000.0
    got = smear(light, -60.0, 0.02, 0.02)
    assert got == pytest.approx([0, 0, 0, 4.0, 4.0, 0, 0, 0, 0, 0], rel=1e-5)
    # a patch twice as high smears twice as much; a shutter of a tenth ten times as much
    light[70:90, 3:5] = 4000.0
    assert smear(light, -60.0, 0.02, 0.002)[3] == pytest.approx(80.0, rel=1e-5)


@pytest.mark.by_hand
def test_mosaic_takes_each_pixel_s_own_colour():
    rate = np.arange(4 * 4 * 3, dtype=np.float32).reshape(4, 4, 3)
    wanted = [[rate[j, i, (j & 1) + (i & 1)] for i in range(4)] for j in range(4)]
    assert np.array_equal(mosaic_light(rate), np.array(wanted))


@pytest.mark.by_hand
def test_overfull_pixels_end_full_and_their_neighbours_with_them():
    which = sensor(blooming=1.0, prnu=0.0, dsnu_e=0.0, row_noise_e=0.0)
    rate = np.full((80, 64, 3), 100.0, np.float32)
    rate[40, 20] = 4100.0  # 3100 e- too many: 1550 each way, 900 free in each pixel
    extra = spill(rate, 1.0, which, 1.0)
    chain = readout(which, 0.0)
    shot = expose(rate + extra[:, :, None], 1.0, which, chain, seed=1, photon_noise=False)[0]
    electrons = (shot[:, 20] - chain.black_dn) / chain.dn_per_e
    assert electrons[37:44] == pytest.approx([100, 750, 1000, 1000, 1000, 750, 100], abs=0.3)


@pytest.mark.invariant
def test_nothing_without_the_keys(make_in_scene):
    assert spill(np.full((8, 8, 3), 1e9, np.float32), 0.01, sensor(), 0.02) is None
    assert frame_light(make_in_scene(), "day", 0.01).spill is None


@pytest.mark.invariant
def test_a_lamp_in_the_picture_draws_a_line_that_the_patch_shares(
    make_in_scene, make_scene, make_camera
):
    table = {"sensor": {"blooming": 0.5, "smear_db": -70.0}}
    in_scene = make_in_scene(make_scene(lamp=[HEADLAMP]), make_camera(**table))
    plain = make_in_scene(make_scene(lamp=[HEADLAMP]))
    light, without = (frame_light(r, "day", 0.01) for r in (in_scene, plain))
    np.testing.assert_allclose(light.rate, without.rate + light.spill[:, :, None], rtol=1e-5)
    column = light.spill.sum(axis=0)
    place = in_scene.view.project(np.array(HEADLAMP["position_m"]))[0]
    assert abs(np.average(np.arange(320) + 0.5, weights=column) - place[0]) < 2.0
    assert column.max() > 100.0 * np.median(column)

    box = (100, -6, 220, 80)  # reaches beyond the upper edge
    point = in_scene.world.cards[in_scene.world.plates["plate"]].centre_m
    plan = RegionPlan(box, 24, 3, point, 550.0)
    region, bare = (
        region_light(r, "day", 0.01, plan, without.stray_light) for r in (in_scene, plain)
    )
    added = (region - bare)[:, :, 1]
    assert not np.any(added[:6])
    # float32 beside the lamp leaves a millionth of it
    room = 1e-5 * float(bare.max())
    np.testing.assert_allclose(added[6:], light.spill[0:80, 100:220], rtol=0.01, atol=room)
