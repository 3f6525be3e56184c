"""Cycles across targets that are not read: the curve, the count, and what clipping does."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad

from simulator.camera.pipeline import frame_buffer, settle_exposure, shoot
from simulator.judge.cycles import (
    N50_CYCLES,
    contrast_left,
    judge_cycles,
    metric_50,
    noise_of_regions,
    task_probability,
)
from simulator.judge.eye import contrast_sensitivity
from simulator.judge.figures import Transfer
from simulator.judge.parts import critical_px, judged_part
from simulator.judge.silhouette import find_silhouette, look_of
from simulator.judge.target import find_target

PERFECT = Transfer(np.linspace(0.0, 1.0, 101), np.ones(101))
SIDES = np.array([2.0, 4.0, 8.0, 16.0, 32.0])
WALL = {"name": "wall", "kind": "wall", "position_m": [0, 20, -40], "width_m": 100.0,
        "height_m": 90.0}  # fmt: skip
FACE = {"name": "face", "kind": "face", "position_m": [0.0, 10.0, 1.0]}
AIM = {"height_m": 1.0, "aim_m": [0.0, 10.0, 1.0]}
FAR_PLATE = {"position_m": [0.0, 19.0, 60.0]}


@pytest.fixture(scope="module")
def seen(make_in_scene, make_scene, make_camera):
    """Rig, state, target, silhouette, light and judge of one target before a wall."""

    def make(entry, *, lux=2000.0, wall="grey-18", camera=None, mode=None, **tables):
        tables = {"station": AIM, "surface": [{**WALL, "material": wall}], **tables}
        scene = make_scene(
            plate=FAR_PLATE, target=[entry], natural_light={"illuminance_lux": lux}, **tables
        )
        in_scene = make_in_scene(scene, camera or make_camera())
        state = settle_exposure(in_scene, mode)
        target = find_target(in_scene, scene.target[1])
        silhouette = find_silhouette(in_scene, target)
        rates, _ = frame_buffer(in_scene, state)

        def judge(task, seed=5):
            return judge_cycles(in_scene, state, target, silhouette, rates, task, seed=seed)

        return in_scene, state, target, silhouette, rates, judge

    return make


@pytest.mark.by_hand
def test_an_ideal_picture_of_so_many_cycles_is_an_even_chance():
    """Pixel alone, no noise, Nyquist at N50: half of all looks succeed, and at 1 pixel/4 none."""
    f = np.linspace(0.0, 0.5, 400)
    for task, n50 in N50_CYCLES.items():
        for share, low, high in ((1.0, 0.49, 0.51), (2.5, 0.93, 1.0), (0.5, 0.05, 0.3)):
            left = contrast_left(
                0.12, SIDES, np.full(5, 1e-12), Transfer(f, np.sinc(f)), 2.0 * share * n50, 0.2
            )
            assert left.cycles == pytest.approx(share * n50, rel=0.01)
            assert low < float(task_probability(left.metric / metric_50(task))) < high


@pytest.mark.by_hand
def test_metric_of_white_noise():
    # noise n a pixel is n / side in a patch, n f at f: above threshold up to f = 2 L C / 5 n = 0.2,
    # and the integral of sqrt(0.2 / f) over it is 2 x 0.2; the eye takes a little of it
    n = 2.0 * 0.5 * 1.0 / (5.0 * 0.2)
    sides = np.geomspace(2.0, 200.0, 12)
    left = contrast_left(1.0, sides, n / sides, PERFECT, 200.0, 0.5)
    assert left.cycles == pytest.approx(0.2 * 200.0, rel=0.02)

    def root(f):
        # 200 px of 42 a degree are 200 / 42 degrees wide
        eye = contrast_sensitivity(f * 42.0, 50.0, 200.0 / 42.0)
        return np.sqrt(1.0 / np.hypot(1.0 / eye, f / 0.2))

    assert left.metric == pytest.approx(200.0 * quad(root, 1e-6, 0.2)[0], rel=0.03)
    assert 0.85 * 2.0 * 0.2 * 200.0 < left.metric < 2.0 * 0.2 * 200.0
    # half the contrast, half the cycles and half the metric
    half = contrast_left(0.5, sides, n / sides, PERFECT, 200.0, 0.5)
    assert half.cycles == pytest.approx(0.5 * left.cycles, rel=0.02)
    assert half.metric == pytest.approx(0.5 * left.metric, rel=0.1)
    assert contrast_left(0.0, sides, n / sides, PERFECT, 200.0, 0.5) == (0.0, 0.0)


@pytest.mark.by_hand
def test_transfer_limits_the_cycles():
    # transfer falls in a line to nothing at 0.25: 0.5 (1 - 4 f) = 5 x 0.1 f / (2 x 0.25), f = 1/6
    curve = Transfer(np.array([0.0, 0.25, 1.0]), np.array([1.0, 0.0, 0.0]))
    sides = np.geomspace(2.0, 200.0, 12)
    left = contrast_left(0.5, sides, 0.1 / sides, curve, 200.0, 0.25)
    assert left.cycles == pytest.approx(200.0 / 6.0, rel=0.02)


@pytest.mark.invariant
def test_a_darker_display_and_more_noise_leave_less():
    f = np.linspace(0.0, 0.5, 400)
    curve = Transfer(f, np.sinc(f))

    def metric(noise, level):
        return contrast_left(0.05, SIDES, noise / SIDES, curve, 30.0, level).metric

    quiet = [metric(1e-9, level) for level in (0.02, 0.1, 0.5)]
    assert quiet[0] < quiet[1] < quiet[2]
    assert metric(0.01, 0.1) < metric(0.002, 0.1) < quiet[1]


@pytest.mark.by_hand
def test_noise_of_means_falls_with_the_side():
    residual = np.random.default_rng(1).normal(0.0, 8.0, (400, 400)).astype(np.float32)
    found = noise_of_regions(residual, np.ones((400, 400), np.float32), SIDES[:3])
    assert found == pytest.approx(8.0 / SIDES[:3], rel=0.05)


@pytest.mark.by_hand
def test_critical_dimensions(seen):
    in_scene, _, target, silhouette, _, _ = seen(FACE)
    per_m = in_scene.view.pixels_per_m(target.depth_m)
    assert critical_px(in_scene, target, silhouette) == pytest.approx(0.16 * per_m, rel=0.05)
    turned = seen({**FACE, "facing_deg": 60.0})
    assert critical_px(turned[0], turned[2], turned[3]) == pytest.approx(0.08 * per_m, rel=0.1)
    chart = {"name": "chart", "kind": "edge-chart", "position_m": [0.0, 10.0, 1.0], "width_m": 0.3}
    in_scene, _, target, silhouette, _, _ = seen(chart)
    assert critical_px(in_scene, target, silhouette) == pytest.approx(0.3 * per_m, rel=0.03)
    assert silhouette.area_px == pytest.approx((0.3 * per_m) ** 2, rel=0.02)


@pytest.mark.invariant
def test_hidden_parts_count_for_less(seen):
    chart = {"name": "chart", "kind": "edge-chart", "position_m": [0.0, 10.0, 1.0], "width_m": 0.3}
    whole = seen(chart)
    post = {"name": "post", "kind": "wall", "material": "concrete", "position_m": [1.0, 5, 0],
            "width_m": 2.0, "height_m": 3.0}  # fmt: skip
    half = seen(chart, surface=[{**WALL, "material": "grey-18"}, post])
    assert half[3].area_px == pytest.approx(whole[3].area_px / 2.0, rel=0.05)
    ratio = critical_px(half[0], half[2], half[3]) / critical_px(whole[0], whole[2], whole[3])
    assert ratio == pytest.approx(np.sqrt(0.5), rel=0.03)


@pytest.mark.invariant
def test_harder_tasks_succeed_less(seen):
    judge = seen({**FACE, "position_m": [0.0, 18.0, 1.0]}, lux=0.3, mode="night")[-1]
    found = {task: judge(task) for task in N50_CYCLES}
    assert found["identify"].value <= found["recognise"].value <= found["detect"].value
    for one in found.values():
        assert 0.0 <= one.low <= one.value <= one.high <= 1.0


@pytest.mark.invariant
def test_more_light_resolves_more(seen, make_camera):
    camera = make_camera(exposure={"shutter_max_s": 0.01}, day_night={"mode": "night"})
    counts = [seen(FACE, lux=lux, camera=camera)[-1]("identify").cycles for lux in (0.3, 1, 10)]
    assert counts[0] < counts[1] < counts[2]
    assert counts[0] < 0.5 * counts[2]


@pytest.mark.invariant
def test_clipping_and_crushing_take_the_face(seen, make_camera):
    """A fixed exposure that crushes or clips the face leaves little to tell it by."""
    fixed = {"gain_db": 0.0}
    values = {}
    for name, shutter in (("dark", 2e-5), ("fair", 1.5e-3), ("white", 0.04)):
        camera = make_camera(
            exposure={**fixed, "shutter_s": shutter, "shutter_min_s": 1e-5, "shutter_max_s": 0.5},
            day_night={"mode": "day"},
        )
        in_scene, state, _, silhouette, rates, judge = seen(FACE, lux=4000.0, camera=camera)
        frame = shoot(in_scene, state, rates, seed=1)[0]
        values[name] = (judge("identify"), look_of(frame, silhouette))
    assert values["dark"][1].mean_level < 8.0
    assert 50.0 < values["fair"][1].mean_level < 220.0
    assert values["white"][1].clipped_fraction > 0.6
    fair = values["fair"][0].cycles
    assert fair > 5.0
    assert values["dark"][0].cycles < 0.5 * fair
    assert values["fair"][0].kept > 0.9
    assert values["white"][0].kept < 0.1
    assert values["white"][0].cycles < 0.5 * fair


@pytest.mark.invariant
def test_a_washed_out_person_is_seen_but_not_identified(make_in_scene, make_scene, make_camera):
    """A white figure before a dark wall: its outline is plain, its face is gone."""
    person = {"name": "guard", "kind": "person", "position_m": [0.0, 10.0, 0.0],
              "upper": "cotton-white", "lower": "cotton-white"}  # fmt: skip
    scene = make_scene(
        plate=FAR_PLATE, target=[person], natural_light={"illuminance_lux": 4000.0},
        station=AIM, surface=[{**WALL, "material": "black-4"}],
    )  # fmt: skip
    found = {}
    for name, shutter in (("fair", 1e-3), ("white", 0.03)):
        exposure = {"gain_db": 0.0, "shutter_s": shutter, "shutter_min_s": 1e-5}
        camera = make_camera(
            exposure=exposure, day_night={"mode": "day"}, lens={"focal_length_mm": 5.0},
            sensor={"width_px": 960, "height_px": 540}, processing={"temporal_noise_reduction": 0},
        )  # fmt: skip
        in_scene = make_in_scene(scene, camera)
        state = settle_exposure(in_scene)
        target = find_target(in_scene, scene.target[1])
        rates, _ = frame_buffer(in_scene, state)
        for task in ("detect", "identify"):
            part = judged_part(in_scene, target, task)
            silhouette = find_silhouette(in_scene, part)
            found[name, task] = judge_cycles(in_scene, state, part, silhouette, rates, task, seed=2)
    assert found["white", "detect"].value > 0.95
    assert found["fair", "identify"].cycles > 3.0
    assert found["white", "identify"].cycles < 0.5 * found["fair", "identify"].cycles
    # the head of a person is 0.16 m wide as a face is
    per_m = in_scene.view.pixels_per_m(part.depth_m)
    assert found["fair", "identify"].critical_px == pytest.approx(0.16 * per_m, rel=0.1)


@pytest.mark.by_hand
def test_look_counts_its_own_pixels(seen):
    _, _, _, silhouette, _, _ = seen(FACE)
    frame = np.full((180, 320, 3), 40, np.uint8)
    x0, y0, _, _ = silhouette.window_px
    rows, columns = np.nonzero(silhouette.inside)
    frame[rows + y0, columns + x0] = 120
    look = look_of(frame, silhouette)
    assert look.mean_level == pytest.approx(120.0, abs=0.01)
    assert look.contrast_to_surround == pytest.approx(0.5, abs=1e-3)
    assert (look.clipped_fraction, look.crushed_fraction) == (0.0, 0.0)
    frame[rows + y0, columns + x0] = 255
    assert look_of(frame, silhouette).clipped_fraction == 1.0
    frame[:] = 0
    dark = look_of(frame, silhouette)
    assert (dark.crushed_fraction, dark.contrast_to_surround) == (1.0, 0.0)


@pytest.mark.invariant
def test_the_seed_steers_the_patches(seen):
    judge = seen(FACE, lux=0.2, mode="night")[-1]
    one, same, other = judge("recognise", 1), judge("recognise", 1), judge("recognise", 99)
    assert one == same
    assert one.contrast != other.contrast
