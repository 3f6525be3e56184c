"""Rolling shutter: every row of its picture is that row of a picture taken at its own moment."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.camera.light_field import frame_light, frame_series
from simulator.camera.region import region_light, region_series
from simulator.camera.region_plan import RegionPlan
from simulator.camera.region_traces import Traces
from simulator.camera.rolling import (
    Drift,
    bands,
    lamps_by_rows,
    line_time_s,
    row_zero_px,
    with_row_zero,
)
from simulator.judge.target import find_text
from simulator.scene.kernels.radiance import Sampling

LAMP = {
    "name": "lamp",
    "spectrum": "high-pressure-sodium",
    "intensity_cd": 900.0,
    "beam_deg": 60.0,
    "position_m": [0.4, 2.0, 1.8],
    "aim_m": [0.0, 18.0, 1.0],
    "flicker_depth": 0.7,
    "phase_deg": 50.0,
}
OTHER = {**LAMP, "name": "other", "position_m": [-3.0, 4.0, 2.5], "phase_deg": 170.0}
SIXTY = {**OTHER, "name": "sixty", "mains_hz": 60.0, "phase_deg": -80.0}
SEEN = {**OTHER, "name": "seen", "position_m": [0.25, 19.0, 1.15], "aim_m": [0.0, 0.0, 1.0]}
ROLLING = {"sensor": {"shutter": "rolling", "line_time_us": 120.0}}
BOX = (90, 60, 230, 130)
SHORT = 5e-5


@pytest.fixture
def pair(make_in_scene, make_camera):
    """The same scene before a rolling and a global shutter."""

    def make(scene, **table):
        rolling = make_camera(sensor={**ROLLING["sensor"], **table})
        still = make_camera(sensor={"shutter": "global"})
        return with_row_zero(make_in_scene(scene, rolling), "plate"), make_in_scene(scene, still)

    return make


@pytest.mark.by_hand
def test_line_time(make_in_scene, make_camera):
    assert line_time_s(make_in_scene(None, make_camera(sensor={"shutter": "global"}))) == 0.0
    assert line_time_s(make_in_scene(None, make_camera(**ROLLING))) == pytest.approx(120e-6)
    # 25 Hz and 180 rows: 40 ms / 180
    filled = make_camera(sensor={"shutter": "rolling", "line_time_us": None})
    assert line_time_s(make_in_scene(None, filled)) == pytest.approx(222.2e-6, rel=1e-3)


@pytest.mark.by_hand
def test_recorded_place_solves_the_row_equation():
    """y' = y + dy (y' - y0), x' = x + dx (y' - y0), tried by walking down the rows."""
    drift = Drift(np.array([0.3, -0.1]), 90.0)
    x, y = drift.seen(np.array([10.0]), np.array([150.0]))
    late = np.linspace(0.0, 120.0, 1_200_001)  # rows after row 90
    met = late[np.argmin(np.abs(150.0 - 0.1 * late - (90.0 + late)))]
    assert y[0] == pytest.approx(90.0 + met, abs=1e-3)
    assert x[0] == pytest.approx(10.0 + 0.3 * met, abs=1e-3)
    # the grid of the frame's moment holds every place that the rows ask for
    grid = Sampling(5.0, 100.0, 0.5, 80, 60)
    source = drift.source(grid)
    for column, row in ((5.0, 100.0), (35.0, 140.0)):
        back = np.array([column, row]) - drift.step_px * (row - 90.0)
        assert source.x0 <= back[0] <= source.x0 + source.columns * source.step
        assert source.y0 <= back[1] <= source.y0 + source.rows * source.step


@pytest.mark.by_hand
@pytest.mark.parametrize(
    ("lamps", "shutter_s"),
    [([LAMP], SHORT), ([LAMP, OTHER, SEEN], 0.004), ([LAMP, SIXTY], SHORT)],
)
def test_every_row_has_the_light_of_its_moment(pair, make_scene, lamps, shutter_s):
    rolling, still = pair(make_scene(lamp=lamps, natural_light={"illuminance_lux": 0.5}))
    plan = RegionPlan(BOX, 24, 3, rolling.world.cards[0].centre_m, 550.0)
    stray_light = frame_light(still, "day", 0.01).stray_light
    traces = Traces()
    whole = frame_light(rolling, "day", shutter_s).rate
    region = region_light(rolling, "day", shutter_s, plan, stray_light, 0.003, traces)
    for row in (62, 127):
        late = (row + 0.5 - 90.0) * 120e-6
        wanted = frame_series(still, "day", shutter_s, [late])[1].rate[row]
        np.testing.assert_allclose(whole[row], wanted, rtol=0.01, atol=1e-3 * wanted.max())
        wanted = region_light(still, "day", shutter_s, plan, stray_light, late + 0.003, Traces())[
            row - 60
        ]
        # single precision leaves some 1e-7 of a lamp in the picture to its surroundings
        np.testing.assert_allclose(region[row - 60], wanted, rtol=1e-3, atol=1e-3 * wanted.max())


@pytest.mark.invariant
def test_no_bands_where_nothing_is_left_of_them(pair, make_scene):
    rolling, still = pair(make_scene(lamp=[LAMP]))
    assert bands(still, SHORT) is None  # all rows at once
    assert bands(rolling, 0.02) is None  # two whole periods of 10 ms
    assert bands(rolling, SHORT) is not None
    assert np.array_equal(
        frame_light(rolling, "day", 0.02).rate, frame_light(still, "day", 0.02).rate
    )
    steady, _ = pair(make_scene(lamp=[{**LAMP, "flicker_depth": 0.0}]))
    assert bands(steady, SHORT) is None


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("lamps", "pictures"), [([LAMP, SIXTY], 4), ([LAMP, OTHER, SIXTY], 5)], ids=["one", "two"]
)
def test_shares_add_up_and_their_mean_has_no_flicker(pair, make_scene, lamps, pictures):
    """Lamps of one phase need two pictures a frequency, those of several three."""
    rolling, _ = pair(make_scene(lamp=lamps))
    found = bands(rolling, 0.001)
    assert len(found.weights) == pictures
    assert found.weights.min() >= 0.0
    assert found.shares(0.0123, -20, 400).sum(axis=0) == pytest.approx(np.ones(400))
    lights = [np.full((4, 5, 3), w[-1], np.float32) for w in found.weights]
    assert found.mean(lights) == pytest.approx(np.ones((4, 5, 3)))


@pytest.mark.invariant
@pytest.mark.parametrize("heading_deg", [90.0, 40.0])
def test_a_moving_thing_is_where_each_row_finds_it(pair, make_scene, heading_deg):
    """Row by row the same as a global shutter at that row's moment, but for the wall's shadows."""
    scene = make_scene(
        natural_light={"illuminance_lux": 300.0},
        plate={"speed_kmh": 40.0, "heading_deg": heading_deg},
    )
    rolling, still = pair(scene)
    point = rolling.world.cards[rolling.world.plates["plate"]].centre_m
    plan = RegionPlan(BOX, 24, 4, point, 550.0)
    whole = frame_light(rolling, "day", SHORT)
    region = region_light(rolling, "day", SHORT, plan, whole.stray_light)
    frozen = frame_light(still, "day", SHORT)
    contrast = float(np.ptp(frozen.rate[80:100, 100:220, 1]))
    moved = 0.0
    for row in (79, 84, 97):
        late = (row + 0.5 - row_zero_px(rolling)) * 120e-6
        alike = frame_series(still, "day", SHORT, [late])[1].rate[row]
        error = np.abs(whole.rate[row] - alike)[100:220]
        assert error.mean() < 0.02 * contrast
        fine = region_light(still, "day", SHORT, plan, whole.stray_light, late)[row - 60]
        assert np.abs(region[row - 60] - fine).mean() < 0.01 * contrast
        moved = max(moved, float(np.abs(frozen.rate[row] - alike)[100:220].mean()))
    if heading_deg == 90.0:
        assert moved > 0.05 * contrast  # the lean is there to be seen


@pytest.mark.invariant
def test_earlier_frames_of_a_moving_thing(pair, make_scene):
    """An earlier picture of a series is the picture of that moment alone."""
    scene = make_scene(
        natural_light={"illuminance_lux": 300.0}, plate={"speed_kmh": 30.0, "heading_deg": 90.0}
    )
    rolling, _ = pair(scene)
    series, _ = frame_series(rolling, "day", SHORT, [-0.01, 0.0])
    alone, _ = frame_series(rolling, "day", SHORT, [-0.01])
    # what is kept from the last moment (shadows, stray light, blur by depth) is all the difference
    error = np.abs(series[0] - alone[0]) / alone[0].max()
    assert error.max() < 0.02
    assert error.mean() < 5e-4
    assert np.abs(series[1] - alone[0]).max() > 0.3 * alone[0].max()


@pytest.mark.by_hand
def test_a_moving_lamp_is_where_its_row_finds_it(pair, make_scene):
    scene = make_scene(
        target=[
            {
                "name": "car",
                "kind": "vehicle-front",
                "style": "car",
                "carries": "plate",
                "headlights": "dipped",
            }
        ],
        plate={"speed_kmh": 50.0, "heading_deg": 90.0},
    )
    rolling, still = pair(scene)
    assert lamps_by_rows(still) is still.world
    moved = 0
    for seen, was in zip(lamps_by_rows(rolling).emitters, still.world.emitters, strict=True):
        row = rolling.view.project(seen.position_m)[0][1]
        late = (np.clip(row, 0.0, 180.0) - row_zero_px(rolling)) * 120e-6
        speed = still.world.velocities[was.group]
        assert seen.position_m == pytest.approx(was.position_m + speed * late, abs=1e-5)
        moved += late != 0.0
    assert moved


@pytest.mark.invariant
def test_characters_lie_where_they_are_recorded(pair, make_scene):
    scene = make_scene(
        natural_light={"illuminance_lux": 300.0}, plate={"speed_kmh": 60.0, "heading_deg": 90.0}
    )
    rolling, still = pair(scene)
    leaning, upright = (find_text(in_scene, scene.target[0]) for in_scene in (rolling, still))
    speed = still.smear_px(1.0, upright.card.centre_m)[upright.card.group]
    late = (leaning.cells_px[..., 1] - row_zero_px(rolling)) * 120e-6
    assert leaning.cells_px == pytest.approx(upright.cells_px + late[..., None] * speed, abs=1e-6)
    assert np.ptp(leaning.cells_px[0, :, 0]) > np.ptp(upright.cells_px[0, :, 0]) + 2.0


@pytest.mark.invariant
@pytest.mark.parametrize("shutter", ["global", "rolling"])
def test_each_remembered_patch_has_its_own_flicker(make_in_scene, make_scene, make_camera, shutter):
    """30 frames a second under lamps at 100 Hz: the phase comes round after three frames."""
    in_scene = make_in_scene(
        make_scene(lamp=[LAMP]), make_camera(sensor={"shutter": shutter, "line_time_us": 20.0})
    )
    plan = RegionPlan(BOX, 24, 3, in_scene.world.cards[0].centre_m, 550.0)
    stray_light = frame_light(in_scene, "day", 0.01).stray_light
    times = [-3.0 / 30.0, -2.0 / 30.0, -1.0 / 30.0, 0.0]
    series = region_series(in_scene, "day", SHORT, plan, stray_light, times)
    for picture, time_s in zip(series, times, strict=True):
        alone = region_light(in_scene, "day", SHORT, plan, stray_light, time_s)
        np.testing.assert_allclose(picture, alone, rtol=1e-5)
    level = [float(picture.mean()) for picture in series]
    assert level[0] == pytest.approx(level[3], rel=1e-4)
    assert max(level) > 1.5 * min(level)
