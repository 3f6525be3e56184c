"""A fair side-by-side: lens, framing, focus, ranks and ties."""

from __future__ import annotations

import json

import pytest
from bare import bare

from simulator.errors import InputError
from simulator.files import find, read_toml
from simulator.judge.result import Reserve
from simulator.scene.load import Scene
from simulator.studies.compare import (
    cheapest,
    compare,
    load_cameras,
    parse_variant,
    ranked,
    variant_of,
)
from simulator.studies.placing import placed

SMALL = ("sensor.width_px=960", "sensor.height_px=540", "sensor.pixel_pitch_um=5.8",
         "processing.temporal_noise_reduction=0.0")  # fmt: skip


@pytest.mark.by_hand
def test_ranks_and_ties(make_verdict):
    """0.90 - 0.84 = 0.06 < hypot(0.05, 0.06): a tie; 0.90 - 0.5 is not."""

    def verdict(value, low, high, word="marginal"):
        return make_verdict(
            probability=value, probability_low=low, probability_high=high, verdict=word
        )

    rows = ranked([
        ("c", verdict(0.5, 0.4, 0.6), 10.0),
        ("a", verdict(0.9, 0.85, 0.95, "legible"), 300.0),
        ("b", verdict(0.84, 0.8, 0.9, "legible"), 200.0),
    ])  # fmt: skip
    assert [(r.camera, r.rank, r.tied) for r in rows] == [
        ("a", 1, True), ("b", 1, True), ("c", 3, False),
    ]  # fmt: skip
    assert cheapest(rows) == "b"
    assert cheapest(rows[2:]) is None


@pytest.mark.invariant
def test_one_lens_and_one_framing():
    cameras = load_cameras(
        ["fixed-2mp-lowlight", "analogue-4by3"], lens="varifocal-5-50", same_framing=True
    )
    fields = [
        c.model.sensor.width_px * c.model.sensor.pixel_pitch_um / c.model.lens.focal_length_mm
        for c in cameras
    ]
    assert fields[0] == pytest.approx(fields[1], rel=1e-3)
    assert {c.model.lens.title for c in cameras} == {
        read_toml(find("lenses", "varifocal-5-50"))["title"]
    }
    for camera in cameras:
        lens = camera.model.lens
        assert lens.f_number == pytest.approx(lens.smallest_f_number)


@pytest.mark.invariant
def test_what_cannot_be_is_refused():
    with pytest.raises(InputError, match="does not fit"):
        load_cameras(["body-worn-2mp"], lens="varifocal-5-50")
    with pytest.raises(InputError, match="cannot frame"):
        load_cameras(["fixed-2mp-lowlight", "fixed-4mp-small-pixel"], same_framing=True)
    with pytest.raises(InputError, match="same name"):
        load_cameras(["fixed-2mp-lowlight", "fixed-2mp-lowlight"])
    camera = load_cameras(["fixed-2mp-lowlight"])[0]
    for text in ("no colon", "name:", "name: nonsense", ": a=1"):
        with pytest.raises(InputError, match="not a variant"):
            parse_variant(text)
    with pytest.raises(InputError):
        variant_of(camera, *parse_variant("bad: lens.nonsense=3"))


@pytest.mark.by_hand
def test_focus_goes_to_the_target():
    """The depot's plate stands 18 m ahead, 2.4 m below a camera that looks a little down."""
    scene, camera = Scene.load(bare("depot-gate-infrared")), load_cameras(["fixed-2mp-lowlight"])[0]
    assert placed(scene.model, camera.model).focus_m == pytest.approx(18.1, abs=0.15)
    # a profile that is focused for good, and a scene that says where, stand
    own = camera.set({"lens.focus_m": 5.0})
    assert placed(scene.model, own.model).focus_m == 5.0
    assert placed(scene.set({"station.focus_m": 9.0}).model, own.model).focus_m == 9.0


@pytest.mark.invariant
def test_table_and_files(tmp_path):
    scene = Scene.load(bare("depot-gate-infrared"), ["target.plate.speed_kmh=0.0"])
    cameras = load_cameras(["plate-2mp-infrared"], sets=SMALL)
    cameras.append(variant_of(cameras[0], "blurred", ["lens.aberration_sigma_um=60.0"]))
    found = compare([scene], cameras, seed=3)
    rows = found.standings[scene.name]
    assert [r.camera for r in rows] == ["plate-2mp-infrared", "blurred"]
    assert rows[0].probability > rows[1].probability
    from simulator.report.compare_sheet import save_comparison

    folder = save_comparison(tmp_path / "side", found)
    told = json.loads((folder / "verdict.json").read_text())
    assert told["study"] == "comparison"
    assert len(told["verdicts"]) == 2
    assert (folder / "depot-gate-infrared.png").stat().st_size > 20_000
    assert len(list((folder / "pictures").rglob("*.png"))) == 2


@pytest.mark.by_hand
def test_cameras_of_equal_probability_stand_in_the_order_of_their_reserve(make_verdict):
    def verdict(**reserve):
        sure = {"probability": 1.0, "probability_low": 0.95, "probability_high": 1.0}
        return make_verdict(**sure, verdict="legible").model_copy(
            update={"reserve": Reserve(**reserve)}
        )

    rows = ranked([
        ("dim", verdict(darker_times=2.0, farther_to_m=30.0), None),
        ("bright", verdict(darker_times=9.0, farther_to_m=20.0), None),
        ("far", verdict(darker_times=2.02, farther_to_m=50.0), None),
        ("same", verdict(darker_times=2.0, farther_to_m=50.5), None),
    ])  # fmt: skip
    assert [(r.camera, r.rank, r.tied) for r in rows] == [
        ("bright", 1, False), ("far", 2, True), ("same", 2, True), ("dim", 4, False),
    ]  # fmt: skip
