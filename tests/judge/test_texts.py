"""Signs, labels and plates of two rows are read as plates of one row are."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.camera.in_scene import Switches
from simulator.camera.pipeline import settle_exposure
from simulator.camera.region import region_light
from simulator.camera.region_traces import Traces
from simulator.judge.figures import flattened, levels, text_masks
from simulator.judge.readers.template_reader import inks_lighter, luminance_reflectance
from simulator.judge.target import find_text, plan_region
from simulator.judge.trials import quick_stray_light, read_probability
from simulator.scene.targets.plate import plate_design

AIM = {"height_m": 1.0, "aim_m": [0.0, 8.0, 1.0]}
AWAY = {"position_m": [0.0, 19.0, 60.0]}
SIGN = {"name": "thing", "kind": "sign", "text": "Keep out/at night",
        "position_m": [0.0, 8.0, 1.0], "character_height_m": 0.07}  # fmt: skip
PARCEL = {"name": "thing", "kind": "parcel", "label": "BAY 17/NO 38", "position_m": [0.0, 8.0, 0.8],
          "character_height_m": 0.05, "width_m": 0.5, "height_m": 0.4}  # fmt: skip
TWO_ROWS = {"name": "thing", "kind": "plate", "text": "A1B2 X3Y", "position_m": [0.0, 8.0, 1.0],
            "design": "dark-on-white-340x220-two-row", "sheeting": "none"}  # fmt: skip


@pytest.fixture(scope="module")
def found(make_in_scene, make_scene, make_camera):
    """Rig, state and target of one text 8 m away in good light."""

    def make(entry, lux=2000.0, **tables):
        scene = make_scene(
            plate=AWAY, target=[entry], natural_light={"illuminance_lux": lux}, station=AIM,
            task={"target": "thing"}, **tables,
        )  # fmt: skip
        camera = make_camera(
            lens={"focus_m": 8.0}, processing={"temporal_noise_reduction": 0.0},
            sensor={"width_px": 640, "height_px": 360},
        )  # fmt: skip
        in_scene = make_in_scene(scene, camera)
        return in_scene, settle_exposure(in_scene), find_text(in_scene, scene.target[1])

    return make


@pytest.mark.invariant
@pytest.mark.parametrize(
    "entry",
    [
        SIGN,
        {**SIGN, "background": "sign-blue", "ink": "sign-white"},
        {**SIGN, "background": "ink-carbon", "ink": "sign-yellow", "border": False},
        PARCEL,
        TWO_ROWS,
        {**TWO_ROWS, "design": "light-on-blue-440x140", "text": "K8D 6Q4"},
    ],
    ids=["sign", "white on blue", "yellow on black", "label", "two rows", "plate on blue"],
)
def test_texts_are_read_in_good_light(found, entry):
    in_scene, state, target = found(entry)
    chance = read_probability(in_scene, state, target, seed=2, trials=36, phases=1)
    assert chance.value > 0.9, chance.characters
    assert len(chance.characters) == len(target.cells)
    dark = found(entry, lux=0.002)
    assert read_probability(*dark, seed=2, trials=24, phases=1).value < 0.1


@pytest.mark.by_hand
def test_the_box_is_that_of_the_label(found):
    in_scene, _, target = found(PARCEL)
    x0, y0, x1, y1 = target.box_px
    per_m = in_scene.view.pixels_per_m(8.0)
    d = target.design
    assert x1 - x0 == pytest.approx(d.width_mm / 1000.0 * per_m, abs=2.0)
    assert y1 - y0 == pytest.approx(d.height_mm / 1000.0 * per_m, abs=2.0)
    assert (x0 + x1) / 2.0 == pytest.approx(320.0, abs=1.0)
    assert (y0 + y1) / 2.0 == pytest.approx(180.0, abs=1.0)
    assert target.character_height_px == pytest.approx(0.05 * per_m, rel=1e-6)


@pytest.mark.by_hand
@pytest.mark.parametrize("entry", [SIGN, PARCEL, TWO_ROWS], ids=["sign", "label", "two rows"])
def test_masks_reach_over_every_row(found, entry):
    _, _, target = found(entry)
    ink, paper = text_masks(target)
    d = target.design
    scale = ink.shape[0] / d.height_mm
    # the ground between two rows belongs to the band, the ground above the first does not
    first = min(cell.top_m for cell in target.cells) - target.board_m[1]
    between = (first * 1000.0 + d.character_height_mm + d.row_gap_mm / 2.0) * scale
    assert paper[round(between)].any()
    assert not paper[: round(first * 1000.0 * scale) - 1].any()
    for cell in target.cells:
        top = round((cell.top_m - target.board_m[1]) * 1000.0 * scale)
        left = round((cell.left_m - target.board_m[0]) * 1000.0 * scale)
        high, wide = (round(v * 1000.0 * scale) for v in (cell.height_m, cell.width_m))
        assert ink[top : top + high, left : left + wide].any(), cell.character
    assert not (ink & paper).any()


@pytest.mark.invariant
@pytest.mark.parametrize("label", ["BAY 17/R4K 82", "DEPOT 4/BAY 17", "A/BB/CCC"])
@pytest.mark.parametrize("height_m", [0.012, 0.02, 0.03, 0.033])
def test_masks_and_flattened_board_have_one_size(found, label, height_m):
    _, _, target = found({**PARCEL, "label": label, "character_height_m": height_m})
    ink, paper = text_masks(target)
    flat = flattened(np.zeros((40, 60), np.float32), target, (0.0, 0.0))
    assert ink.shape == paper.shape == flat.shape


@pytest.mark.by_hand
@pytest.mark.parametrize(("height_m", "y"), [(0.035, 3.0), (0.07, 3.0), (0.2, 8.0)])
def test_levels_of_a_sign_by_its_reflectances(found, height_m, y):
    sign = {**SIGN, "text": "H", "character_height_m": height_m, "ink": "grey-04",
            "background": "grey-66", "position_m": [0.0, y, 1.0]}  # fmt: skip
    in_scene, state, target = found(sign)
    in_scene = type(in_scene)(in_scene.world, in_scene.station, in_scene.camera.model_copy(
        update={"lens": in_scene.camera.lens.model_copy(
            update={"aberration_sigma_um": 0.0, "glare_index": 0.0})}
    ), Switches(diffraction=False, defocus=False))  # fmt: skip
    plan = plan_region(in_scene, state, target)
    rate = region_light(
        in_scene,
        state.mode,
        state.exposure.shutter_s,
        plan,
        quick_stray_light(in_scene, state),
        traces=Traces(),
    )
    light, dark = levels(rate, state, target, plan.box_px[:2])
    wanted = luminance_reflectance("grey-66") / luminance_reflectance("grey-04")
    assert light / dark == pytest.approx(wanted, rel=0.05)


@pytest.mark.by_hand
def test_which_inks_are_lighter():
    lighter = {
        name: inks_lighter(plate_design(name))
        for name in (
            "dark-on-white-520x110", "dark-on-yellow-520x110", "light-on-dark-520x110",
            "light-on-blue-440x140",
        )
    }  # fmt: skip
    assert list(lighter.values()) == [False, False, True, True]
    assert luminance_reflectance("grey-18") == pytest.approx(0.18, abs=0.01)


@pytest.mark.invariant
def test_a_small_label_is_not_read_far_away(found):
    entry = {**PARCEL, "character_height_m": 0.006}
    in_scene, state, target = found(entry)
    assert target.character_height_px < 4.0
    chance = read_probability(in_scene, state, target, seed=2, trials=24, phases=1)
    assert chance.value < 0.1
    assert np.isfinite(plan_region(in_scene, state, target).split)
